"""Rankings worked out for a whole table at once, against the verdict on one pair after the other."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.bench.bench import load_bench
from builder.metrics.intervals import holm_separated
from builder.pairs.verdicts import PairFigure
from builder.windows.ranking import rank, ranking_groups
from catalog.entering import enter_batch
from catalog.method import WINDOW_NAMES
from catalog.visibility import public_copy
from tests.builder.bench.one_by_one import judged, value_uncertainty
from tests.builder.conftest import Lab
from tests.conftest import SMALL_INSTANT
from tests.stories.test_stories import STORIES

RATES = st.floats(20, 1200).map(lambda v: round(v, 1))
# Cells of one device: loss [dB], what each repeat adds to the line [Mbit/s], session, house, and how the loss is known.
CELL = st.tuples(
    st.sampled_from((49, 50, 55, 60, 62, 66, 70, 75, 80, 90)),
    st.lists(st.sampled_from((-20.0, -3.0, -0.1, 0.0, 0.1, 5.0, 30.0)), min_size=1, max_size=3),
    st.sampled_from(("s1", "s2", "s3")),
    st.sampled_from(("house-a", "house-b")),
    st.sampled_from(("spot", "spot", "typed")),
    st.sampled_from(("kit", "other kit")),
)
DEVICE = st.tuples(st.sampled_from((300.0, 301.0, 330.0, 500.0, 700.0, 0.0)), st.lists(CELL, min_size=2, max_size=8))
BENCH = st.fixed_dictionaries(
    {
        "devices": st.lists(DEVICE, min_size=1, max_size=5),
        "twin": st.booleans(),
        "ceiling": st.sampled_from((None, 310.0, 600.0)),
        "declared": st.sampled_from(
            (
                {},
                {"attenuation_sigma_db": 0.0, "calibration_sigma_db": 0.0, "session_spread": 0.0},
                {"attenuation_sigma_db": 0.3, "calibration_sigma_db": 2.0, "session_spread": 0.01},
                {"house_spread_mbit_s": 12.0},
                {"house_spread_percent": 4.0, "session_spread": 0.0},
            )
        ),
    }
)


def bench_of(drawn):
    """A bench of devices that fall by 3 Mbit/s a dB; a twin is the first device once more under another name."""
    lab = Lab(declared=dict(drawn["declared"]))
    devices = [*drawn["devices"], *(drawn["devices"][:1] if drawn["twin"] else ())]
    for number, (level, cells) in enumerate(devices):
        for loss, noise, session, house, known, kit in cells:
            fields = {"session": f"{house}-{session}", "house": house, "kit": kit}
            if known == "spot":
                fields |= {
                    "spot": f"S{loss}",
                    "spot_since": "2025-01-01",
                    "attenuation_typed": False,
                    "readings": 5,
                    "readings_sd_db": 0.5 + loss / 100,
                }
            values = [max(0.0, level + one - 3 * (loss - 50)) for one in noise]
            lab.add(f"Device {number}", [(float(loss), values)], **fields)
    if drawn["ceiling"] is not None:
        lab.ceiling("wrenlet-u2", drawn["ceiling"])
    return lab.bench()


def one_by_one(bench, ranking):
    """Each row of a ranking by the one-value and the one-pair function: value, interval, ranks, apart from above."""
    group, low_high = ranking.group, ranking.range
    whose = [entry.subject for entry in ranking.ranked]
    tracks = [bench.line(who, group, "attenuation") for who in whose]
    figures = [
        {
            j: judged(
                bench,
                PairFigure(
                    a=who,
                    b=whose[j],
                    match="attenuation",
                    group=group,
                    client="",
                    verdict="refused",
                    sentence="",
                    range=low_high,
                ),
                one.over(*low_high),
                other.over(*low_high, sign=-1),
                pools=[one.cells, other.cells],
            )
            for j, other in enumerate(tracks)
            if j != i
        }
        for i, (who, one) in enumerate(zip(whose, tracks, strict=True))
    ]
    families = [holm_separated([figure.p for figure in own.values()]) for own in figures]
    kept = [
        {j for j, yes in zip(own, family, strict=True) if yes} for own, family in zip(figures, families, strict=True)
    ]
    rows = []
    for i, one in enumerate(tracks):
        weighted = one.over(*low_high)
        spread = value_uncertainty(bench, weighted, match="attenuation")
        leads = {j: lead_of(figures[i][j]) for j in kept[i] if i in kept[j]}
        known = spread is not None and not weighted.bound
        rows.append(
            {
                "value": weighted.mean,
                "bound": weighted.bound,
                "low": weighted.mean - spread.half_width if known else None,
                "high": weighted.mean + spread.half_width if known else None,
                "best": 1 + sum(lead == "b" for lead in leads.values()),
                "worst": len(whose) - sum(lead == "a" for lead in leads.values()),
                "apart_from_above": i == 0 or leads.get(i - 1) is not None,
                "apart_from_first": leads.get(0) is not None,
                **behind_of(figures[i][0] if i else None),
                "n": weighted.runs,
                "assumed": spread.assumed if spread else (),
            }
        )
    return rows


def behind_of(figure):
    """What a row gives less than the first, out of its comparison with it."""
    if figure is None or figure.verdict in ("undecided", "no-verdict"):
        return {"behind": None, "behind_low": None, "behind_high": None}
    if figure.verdict == "at-least":
        return {"behind": figure.difference, "behind_low": None, "behind_high": None}
    low, high = figure.interval
    return {"behind": -figure.difference, "behind_low": -high, "behind_high": -low}


def lead_of(figure):
    if figure.verdict == "at-least":
        return figure.leader
    if figure.verdict == "separated":
        return "a" if figure.difference > 0 else "b"
    return None


def as_found(ranking):
    names = ("value", "bound", "low", "high", "best", "worst", "apart_from_above", "apart_from_first", "n", "assumed")
    return [{name: getattr(entry, name) for name in names} | behind_as_found(entry.behind) for entry in ranking.ranked]


def behind_as_found(behind):
    low, high = (None, None) if behind is None or behind.interval is None else behind.interval
    return {"behind": None if behind is None else behind.value, "behind_low": low, "behind_high": high}


def require_equal(bench):
    """Every ranking of a bench, field by field; how many devices were ranked in all."""
    ranked = 0
    for group, window in product(ranking_groups(bench), WINDOW_NAMES):
        found = rank(bench, group, window)
        for row, wanted in zip(as_found(found), one_by_one(bench, found), strict=True):
            assert row == {
                n: v if n == "assumed" or v is None else pytest.approx(v, rel=1e-9) for n, v in wanted.items()
            }
        assert list(found.ranked) == sorted(found.ranked, key=lambda entry: (-entry.value, entry.subject.device))
        ranked += len(found.ranked)
    return ranked


@settings(deadline=None, max_examples=300)
@given(BENCH)
def test_a_table_equals_its_pairs_one_by_one(drawn):
    require_equal(bench_of(drawn))


def test_the_demo(demo_file, demo_instant):
    assert require_equal(load_bench(public_copy(demo_file, as_of=demo_instant))) > 50


@pytest.mark.parametrize("story", ["01-partial-overlap", "02-match-decides", "04-capped-client", "08-two-sessions"])
def test_the_stories(story, tmp_path):
    enter_batch(STORIES / story, into=tmp_path / "catalog.db", now=SMALL_INSTANT)
    require_equal(load_bench(public_copy(tmp_path / "catalog.db", as_of=SMALL_INSTANT)))


def test_blocks_make_no_difference(demo_file, demo_instant, monkeypatch):
    bench = load_bench(public_copy(demo_file, as_of=demo_instant))
    wanted = [as_found(rank(bench, group, "middle")) for group in ranking_groups(bench)]
    monkeypatch.setattr("builder.windows.window_means._PAIRS_AT_ONCE", 7)
    assert [as_found(rank(bench, group, "middle")) for group in ranking_groups(bench)] == wanted
