"""The pair verdicts, of one pair and of all at once, beside an oracle that works out one pair in plain loops.

Neither is the other's source: what `compare` says is held against worked figures, the standards' tables and a
simulation elsewhere (test_matched.py, test_edges.py, test_coverage.py). Here the ways must only agree, over all
pairs of the demo and the stories, and over benches that hypothesis makes of the awkward things there are.
"""

import math
from contextlib import closing, suppress
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from builder.bench.bench import cells_of_subject, load_bench, subject_named
from builder.bench.tracks import track
from builder.pairs.all_pairs import PAIR_CODES, line_pairs, place_pairs
from builder.pairs.compare import compare
from builder.pairs.judging import VERDICTS
from builder.pairs.verdicts import PairFigure
from catalog.entering import enter_batch
from catalog.errors import CatalogError
from catalog.visibility import public_copy
from tests.builder.bench import one_by_one
from tests.builder.conftest import Lab

STORIES = Path(__file__).parents[2] / "stories"
FIGURES = ("difference", "ratio", "standard_uncertainty", "mean_a", "mean_b", "p")


def agree(bench, table, k, figure, tracks):
    """One row of a table against the figure of the one-pair function."""
    where = f"{figure.a.device} and {figure.b.device}, {figure.match}, {figure.group}"
    assert VERDICTS[table.verdict[k]] == figure.verdict, where
    assert (PAIR_CODES[table.code[k]] or None) == figure.code, where
    for name in FIGURES:
        near(getattr(table, name)[k], getattr(figure, name), where, name, scale=figure)
    refused = figure.verdict == "refused"
    if figure.match != "spot":
        ends = sorted((table.low[k], table.high[k])) if figure.match != "level" else (-table.high[k], -table.low[k])
        for own, end in zip(ends, (None, None) if refused else figure.range, strict=True):
            assert refused or own == pytest.approx(end, abs=1e-9), where
        for who, tested in ((table.a[k], figure.tested_a), (table.b[k], figure.tested_b)):
            assert (tracks[who] is None) == (tested is None), where
    if figure.half_width is not None:
        near(table.half_width[k], figure.half_width, where, "half width", scale=figure)
        assert table.df[k] == pytest.approx(figure.effective_df, rel=1e-9), where
    if figure.interval is not None:
        near(table.difference[k] - table.half_width[k], figure.interval[0], where, "low", scale=figure)
        near(table.difference[k] + table.half_width[k], figure.interval[1], where, "high", scale=figure)
    if not refused:
        assert (table.bound_a[k], table.bound_b[k]) == (figure.bound_a, figure.bound_b), where
        assert (table.port_a[k], table.port_b[k]) == (figure.port_a is not None, figure.port_b is not None), where
        assert (table.n_a[k], table.n_b[k]) == (figure.n_a, figure.n_b), where
    if figure.verdict in ("separated", "at-least"):
        ahead = figure.leader or ("a" if figure.difference > 0 else "b")
        assert table.b_leads[k] == (ahead == "b"), where


def near(found, wanted, where, name, *, scale: PairFigure):
    if wanted is None:
        assert math.isnan(found), f"{name}: {where}"
        return
    # 1e-9 of the figure; a difference of nearly equal means keeps only what the means' own digits leave it.
    floor = 1e-12 * max(scale.mean_a or 0.0, scale.mean_b or 0.0)
    if name == "p":
        floor = 1e-9
    assert found == pytest.approx(wanted, rel=1e-9, abs=floor or 1e-12), f"{name}: {where}"


def each_alone(bench, every):
    return [one_by_one.judged(bench, one.base, one.a, one.b, pools=one.pools) for one in every]


def by_oracle(bench, a, b, match):
    """What the oracle finds of a pair, after `compare` was seen to find the same."""
    found = compare(bench, a, b, match=match)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("builder.pairs.compare.judged", each_alone)
        wanted = compare(bench, a, b, match=match)
    for one, other in zip(found, wanted, strict=True):
        for field in fields(PairFigure):
            if field.name not in ("sentence", *FIGURES, "half_width", "interval", "effective_df"):
                assert getattr(one, field.name) == getattr(other, field.name), (field.name, one)
        for name in FIGURES:
            near(
                math.nan if (value := getattr(one, name)) is None else value,
                getattr(other, name),
                str(one),
                name,
                scale=other,
            )
        assert (one.half_width is None) == (other.half_width is None)
        if other.half_width is not None:
            near(one.half_width, other.half_width, str(one), "half width", scale=other)
            assert one.effective_df == pytest.approx(other.effective_df, rel=1e-9)
    return wanted


def every_pair_agrees(bench, subjects):
    """All pairs of the subjects, in every group, at like loss, at like level and at each spot; how many there were."""
    seen = {"attenuation": 0, "level": 0, "spot": 0}
    codes = set()
    a, b = np.triu_indices(len(subjects), 1)
    said = {
        match: [by_oracle(bench, subjects[i], subjects[j], match) for i, j in zip(a, b, strict=True)] for match in seen
    }
    places = {}  # what each table is about -> the sides' cells, and their cells of the group

    def place(figure, cells):
        if figure.match == "spot":
            return [
                c
                for c in cells
                if (c.house, c.spot) == (figure.house, figure.spot) and (c.spot_since or None) == figure.epoch
            ]
        if figure.match == "level":
            return [c for c in cells if (c.client, c.driver or "") == (figure.client, figure.driver)]
        return cells

    for match, figures_of in said.items():
        for k, figures in enumerate(figures_of):
            for figure in figures:
                codes.add(figure.code or figure.verdict)
                judged = figure.verdict != "refused" or figure.code in PAIR_CODES[1:]
                if figure.group is None or not judged or (match == "spot" and figure.verdict == "refused"):
                    continue
                about = (match, figure.group, figure.house, figure.spot, figure.epoch)
                about += (figure.client, figure.driver) if match == "level" else ()
                if about not in places:
                    pools = [
                        [c for c in cells_of_subject(bench, who, figure.group) if c.mean is not None]
                        for who in subjects
                    ]
                    sides = [place(figure, cells) for cells in pools]
                    if match == "spot":
                        places[about] = place_pairs(bench, sides, a, b, pools=pools), sides
                    else:
                        tracks = [track(cells, match=match) for cells in sides]
                        places[about] = line_pairs(bench, tracks, a, b, match=match), tracks
                agree(bench, places[about][0], k, figure, places[about][1])
                seen[match] += 1
    return seen, codes


def test_every_pair_of_the_demo(demo_file, demo_instant, tmp_path):
    with closing(public_copy(demo_file, as_of=demo_instant, to=tmp_path / "public.db")) as copy:
        bench = load_bench(copy)
    named = [subject_named(bench, device) for device in sorted(bench.cells_of)]
    subjects = [subject for subject in named if not subject.settings]  # all at once, settings are left out
    seen, codes = every_pair_agrees(bench, subjects)
    assert seen["attenuation"] > 200
    assert seen["level"] > 100
    assert seen["spot"] > 50
    assert {"separated", "not-separated", "no-shared-range"} <= codes


def test_every_pair_of_the_stories(tmp_path):
    seen = 0
    for story in sorted({p.name[:2] for p in STORIES.iterdir() if (p / "batch.toml").is_file()}):
        catalog = tmp_path / f"{story}.db"
        for batch in sorted(STORIES.glob(f"{story}-*")):
            with suppress(CatalogError):  # a few of a story's batches are there to be refused
                enter_batch(batch, into=catalog, now=datetime(2026, 1, 1, tzinfo=UTC))
        if catalog.is_file():
            with closing(public_copy(catalog, as_of=datetime(2026, 6, 30, tzinfo=UTC))) as copy:
                bench = load_bench(copy)
            subjects = [subject_named(bench, device) for device in sorted(bench.cells_of)]
            seen += sum(every_pair_agrees(bench, subjects)[0].values())
    assert seen > 10


# Losses on a coarse grid, so that gaps of more than 12 dB, ranges of just 6 dB and knots at one place all come about.
LOSSES = st.sampled_from([46.0, 50.0, 52.0, 56.0, 58.0, 58.3, 62.0, 64.0, 64.0 + 1e-12, 70.0, 77.0, 83.0])
# Values of some ten Mbit/s beside values near the ceiling of 800 and equal ones; 0 is what a dead run gives.
VALUES = st.one_of(st.sampled_from([0.0, 0.5, 99.95, 500.0, 780.0, 800.0]), st.floats(1, 790))
REPEATS = st.one_of(st.lists(VALUES, min_size=1, max_size=4), st.builds(lambda v: [v] * 3, VALUES))
PLACES = st.lists(st.tuples(LOSSES, REPEATS), min_size=1, max_size=6)
SINGLE = st.lists(st.tuples(LOSSES, st.lists(VALUES, min_size=1, max_size=1)), min_size=2, max_size=6)
CAPPED = st.lists(st.tuples(LOSSES, st.just([795.0, 800.0])), min_size=2, max_size=6)
CONSTANTS = st.fixed_dictionaries(
    {},
    optional={
        "attenuation_sigma_db": st.sampled_from([0.0, 0.7]),
        "calibration_sigma_db": st.sampled_from([0.0, 0.7]),
        "level_sigma_db": st.sampled_from([0.0, 1.3]),
        "session_spread": st.sampled_from([0.0, 0.02]),
        "house_spread_mbit_s": st.just(12.0),
        "house_spread_percent": st.just(4.0),
    },
)


SUMMARIES = st.fixed_dictionaries(
    {"of_runs": st.integers(2, 5), "statistic": st.sampled_from(["mean", "median"])},
    optional={"spread_mbit_s": st.sampled_from([0.0, 7.5])},
)
DEAD = st.lists(st.tuples(LOSSES, st.just([0.0, 0.0])), min_size=2, max_size=6)


def days(series, directions, bands, places):
    """What one day's runs have in common."""
    return st.fixed_dictionaries(
        {
            "series": st.sampled_from(series),
            "direction": st.sampled_from(directions),
            "band": st.sampled_from(bands),
            "channel": st.sampled_from([36, 36, 100, 6]),
            "house": st.sampled_from(["birch", "alder"]),
        }
    ), st.sampled_from(places)


# Mostly one group, so that there is something to compare.
USUAL = days(["one"], ["down"], ["5"], ["typed", "calibrated"])
UNUSUAL = days(["one", "two"], ["down", "up"], ["5", "5", "5+6"], ["typed", "calibrated", "distance"])


@st.composite
def labs(draw):
    lab = Lab()
    lab.declared = draw(CONSTANTS)
    if draw(st.booleans()):
        lab.ceiling("one setup", 800.0)
    if draw(st.booleans()):
        lab.ports["B"] = 850.0  # TCP carries 800 or 806 Mbit/s through it (RFC 6349)
    reference = draw(st.booleans())
    kinds = draw(st.sampled_from([[PLACES, PLACES, CAPPED], [CAPPED, DEAD], [SINGLE]]))
    day_kinds, place_kinds = draw(st.sampled_from([USUAL, USUAL, UNUSUAL]))
    for name in ("A", "B", "C", "D"):
        cells = draw(st.sampled_from(kinds))
        for _ in range(draw(st.integers(1, 3))):
            day = draw(day_kinds)
            at_spots = draw(place_kinds)
            summary = draw(st.one_of(st.just({}), st.just({}), SUMMARIES))
            when = {"at_utc": "2025-05", "date": "2025-05"} if summary and draw(st.booleans()) else {}
            for loss, values in draw(cells):
                spot = {
                    "spot": f"S{loss:g}",
                    "attenuation_typed": False,
                    "readings": 4,
                    "readings_sd_db": 0.8,
                    "spot_since": draw(st.sampled_from(["2025-01-01", "2025-03-01"])),
                }
                lab.add(
                    name,
                    [(None if at_spots == "distance" else loss, values[:1] if summary else values)],
                    kit=f"kit of {day['house']}",
                    session=f"{day['house']} {draw(st.integers(1, 2))}",
                    client=day["series"] + draw(st.sampled_from([" setup", " twin"])),
                    level_dbm=draw(st.sampled_from([None, 20 - loss, 23.5 - loss])),
                    **day,
                    **summary,
                    **when,
                    **({} if at_spots == "typed" else spot),
                )
    if reference:  # nine sessions of one reference device: birch's day-to-day spread is measured
        lab.houses["birch"] = "R"
        for day in range(9):
            lab.add("R", [(58.0, [400.0 + 3 * (day * 5 % 9)])], house="birch", session=f"birch {day}", series="one")
    return lab


def test_every_pair_of_any_bench():
    met = set()

    @settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(labs())
    def any_bench(lab):
        bench, subjects = lab.subjects(*sorted({run.device for run in lab.runs}))
        met.update(every_pair_agrees(bench, subjects)[1])

    any_bench()
    # The benches are only worth as much as the branches they reach.
    assert {
        *PAIR_CODES[1:],
        "separated",
        "not-separated",
        "at-least",
        "spot-moved",
        "level-across-setups",
    } - met == set()
