"""What must hold of figures whatever was measured (method.md, sections 2 to 6)."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.bench.bench import subject_named
from builder.pairs.compare import compare
from builder.pairs.verdicts import to_json
from builder.registers.eirp import implied_eirps
from builder.under_load.roles import role_result
from builder.windows.indirect import links
from builder.windows.ranking import rank, ranking_groups
from builder.windows.reach import reaches
from catalog.digesting.digests import request_digest
from catalog.digesting.logs import FAILED, FINISHED, NOT_MADE, Log
from catalog.records import Role
from tests.builder.conftest import Lab
from tests.builder.under_load.test_workloads import STATION

MATCHES = ("attenuation", "level", "spot")
RATES = st.floats(20, 1200).map(lambda v: round(v, 1))

# One place: its attenuation [dB], repeats [Mbit/s], session, and whether it is a marked spot.
PLACE = st.tuples(
    st.integers(46, 90), st.lists(RATES, min_size=1, max_size=3), st.sampled_from(("s1", "s2")), st.booleans()
)
LINE = st.lists(PLACE, min_size=2, max_size=6, unique_by=lambda p: p[0])
DECLARED = st.sampled_from(
    (
        {},
        {"attenuation_sigma_db": 0.5, "calibration_sigma_db": 0.0, "level_sigma_db": 2.0, "session_spread": 0.02},
        {"house_spread_mbit_s": 20.0},
        {"house_spread_percent": 4.0, "session_spread": 0.0},
    )
)


def bench_of(lines, declared=None, *, shift=0, ceiling=None):
    """A bench of devices with their lines; every level is 20 dBm minus the attenuation."""
    lab = Lab(declared=dict(declared or {}))
    for device, line in lines.items():
        for loss, values, session, marked in line:
            fields = {"session": session, "level_dbm": 20.0 - loss - 60}
            if marked:
                fields |= {
                    "spot": f"S{loss}",
                    "spot_since": "2025-01-01",
                    "attenuation_typed": False,
                    "readings": 5,
                    "readings_sd_db": 1.5,
                    "kit": "kit",
                }
            lab.add(device, [(float(loss + shift), values)], **fields)
    if ceiling is not None:
        lab.ceiling("wrenlet-u2", ceiling)
    return lab.bench()


def capped_at(line, ceiling):
    """The line as a client sees it that carries no more than its ceiling."""
    return [(loss, [min(v, ceiling) for v in values], session, marked) for loss, values, session, marked in line]


def figures(bench, a="A", b="B"):
    return [
        figure
        for match in MATCHES
        for figure in compare(bench, subject_named(bench, a), subject_named(bench, b), match=match)
    ]


def close(one, other):
    return one == pytest.approx(other, rel=1e-9, abs=1e-9)


@settings(deadline=None, max_examples=40)
@given(LINE, LINE, LINE, DECLARED)
def test_adding_a_device_changes_no_other_figure(a, b, added, declared):
    before = bench_of({"A": a, "B": b}, declared)
    after = bench_of({"A": a, "B": b, "C": added}, declared)
    assert [to_json(f) for f in figures(before)] == [to_json(f) for f in figures(after)]
    for device in ("A", "B"):
        found = [reaches(bench, subject_named(bench, device), [100.0, 500.0]) for bench in (before, after)]
        assert [r.reach for r in found[0]] == [r.reach for r in found[1]]
        heard = [implied_eirps(bench, subject_named(bench, device)) for bench in (before, after)]
        assert [(e.mean, e.sd, e.figure) for e in heard[0]] == [(e.mean, e.sd, e.figure) for e in heard[1]]
    for group in ranking_groups(before):
        for window in ("near", "middle", "far"):
            rows = [
                {r.subject.device: (r.value, r.bound, r.low, r.high) for r in rank(bench, group, window).ranked}
                for bench in (before, after)
            ]
            assert all(rows[1][device] == value for device, value in rows[0].items())


@settings(deadline=None, max_examples=40)
@given(LINE, LINE, DECLARED, st.sampled_from((None, 700.0, 1000.0)))
def test_swapping_a_and_b_mirrors_everything(a, b, declared, ceiling):
    bench = bench_of({"A": a, "B": b}, declared, ceiling=ceiling)
    for one, other in zip(figures(bench), figures(bench, "B", "A"), strict=True):
        assert (one.verdict, one.code, one.range, one.spot) == (other.verdict, other.code, other.range, other.spot)
        assert (one.tested_a, one.tested_b, one.bound_a, one.bound_b, one.n_a, one.n_b) == (
            other.tested_b,
            other.tested_a,
            other.bound_b,
            other.bound_a,
            other.n_b,
            other.n_a,
        )
        assert (one.mean_a, one.mean_b) == (other.mean_b, other.mean_a)
        assert close(one.crossings, other.crossings)
        assert {one.leader, other.leader} in ({None}, {"a", "b"})
        for name in ("half_width", "standard_uncertainty", "effective_df", "p"):
            assert (getattr(one, name) is None) == (getattr(other, name) is None)
            if getattr(one, name) is not None:
                assert close(getattr(one, name), getattr(other, name))
        if one.difference is not None:
            assert close(one.difference, other.difference if one.verdict == "at-least" else -other.difference)
        if one.interval is not None:
            assert close(one.interval, (-other.interval[1], -other.interval[0]))
        if one.ratio:
            assert close(one.ratio, 1 / other.ratio)


@settings(deadline=None, max_examples=40)
@given(LINE, LINE, DECLARED, st.integers(-20, 20))
def test_shifting_all_spots_changes_no_matched_figure(a, b, declared, shift):
    # Every spot read with a kit that is off by so much: the places are the same, only their names on the axis differ.
    still, moved = (bench_of({"A": a, "B": b}, declared, shift=s) for s in (0, shift))
    pairs = zip(
        *(compare(x, subject_named(x, "A"), subject_named(x, "B"), match="attenuation") for x in (still, moved)),
        strict=True,
    )
    for one, other in pairs:
        assert (one.verdict, one.code) == (other.verdict, other.code)
        for name in ("mean_a", "mean_b", "difference", "half_width", "effective_df", "ratio"):
            assert (getattr(one, name) is None) == (getattr(other, name) is None)
            if getattr(one, name) is not None:
                assert close(getattr(one, name), getattr(other, name))
        if one.range is not None:
            assert close([x + shift for x in one.range], other.range)
            assert close([x + shift for x in one.crossings], other.crossings)


@settings(deadline=None, max_examples=60)
@given(LINE, LINE, st.sampled_from((300.0, 700.0, 1000.0)))
def test_a_bound_is_never_averaged_as_exact(a, b, ceiling):
    """The same air twice: once as it was, once with a client that carries no more than its ceiling."""
    free = bench_of({"A": a, "B": b}, {"house_spread_mbit_s": 1.0})
    lines = {"A": capped_at(a, ceiling), "B": capped_at(b, ceiling)}
    capped = bench_of(lines, {"house_spread_mbit_s": 1.0}, ceiling=ceiling)
    for real, seen in zip(figures(free), figures(capped), strict=True):
        if seen.mean_a is None or seen.mean_b is None:
            continue
        for name in ("a", "b"):
            truth, shown = getattr(real, f"mean_{name}"), getattr(seen, f"mean_{name}")
            assert shown <= truth + 1e-9
            if not getattr(seen, f"bound_{name}"):
                assert close(shown, truth)
        if seen.bound_a or seen.bound_b:
            assert seen.verdict in ("at-least", "undecided", "no-verdict")
            assert seen.interval is None
            assert seen.ratio is None
        if seen.verdict == "at-least":
            lead = real.mean_a - real.mean_b if seen.leader == "a" else real.mean_b - real.mean_a
            assert lead >= seen.difference - 1e-9 > 0


@settings(deadline=None, max_examples=40)
@given(LINE, LINE, st.sampled_from((300.0, 700.0)))
def test_windows_and_reaches_hold_bounds_too(a, b, ceiling):
    lines = {"A": capped_at(a, ceiling), "B": capped_at(b, ceiling)}
    bench = bench_of(lines, {"house_spread_mbit_s": 1.0}, ceiling=ceiling)
    capped = {c.device for c in bench.cells if c.bound}
    for group in ranking_groups(bench):
        for window in ("near", "middle", "far"):
            for row in rank(bench, group, window).ranked:
                assert not row.bound or row.subject.device in capped
                if row.bound:
                    assert (row.low, row.high) == (None, None)
    for device in ("A", "B"):
        for found in reaches(bench, subject_named(bench, device), [ceiling * 1.05]):
            # Above what the client can carry nothing is lost, and nothing is shown to be held.
            first = min(bench.cells_of[device], key=lambda c: c.attenuation_db)
            if first.bound:
                assert found.reach.relation == "undecided"


@settings(deadline=None, max_examples=40)
@given(*[RATES] * 4, st.floats(0.01, 0.1))
def test_a_link_seen_from_the_other_side_is_its_inverse(d1, r_p, r_q, d2, spread):
    lab = Lab(declared={"session_spread": spread, "attenuation_sigma_db": 0.0, "calibration_sigma_db": 0.0})
    for device, series, value in (("A", "P", d1), ("R", "P", r_p), ("R", "Q", r_q), ("B", "Q", d2)):
        cells = [(x, [value, value]) for x in (60, 68, 75)]
        lab.add(device, cells, client=series, series=series, session=device + series)
    bench = lab.bench()
    a, b = subject_named(bench, "A"), subject_named(bench, "B")
    (one,), (other,) = links(bench, a, b), links(bench, b, a)
    assert close(one.joint.ratio * other.joint.ratio, 1)
    assert close((one.joint.low, one.joint.high), (1 / other.joint.high, 1 / other.joint.low))
    assert close(one.joint.ratio, (d1 / r_p) * (r_q / d2))


ROLES = st.sampled_from(
    (
        Role("pages", "pages", 1000.0, 0.95, {}),
        Role("stream", "stream", 4000.0, 0.9, {"segment_s": 4, "start_buffer_s": 8}),
        Role("talk", "voice", 150.0, 0.99, {"packet_ms": 20, "codec": "G.711"}),
    )
)
LATENCIES = st.lists(st.integers(1, 9000), min_size=1, max_size=80)
ORDER = {"met": 0, "not-met": 1, "did-not-finish": 2}


def judged(role, latencies, outcomes, planned):
    log = Log(
        "requests",
        t_us=np.arange(len(latencies), dtype=np.int64) * 4_000_000,
        latency_us=np.where(np.array(outcomes) == FINISHED, np.array(latencies) * 1000, -1),
        outcome=np.array(outcomes, dtype=np.int64),
    )
    row = {"kind": role.kind, "target_ms": role.target_ms, "recipe": json.dumps(role.recipe)}
    digest = request_digest(log, planned=planned, role=row)
    station = replace(STATION, role=role.role_id, kind=role.kind)
    return role_result("m", role, station, digest, series="u2", excluded="")


@settings(deadline=None, max_examples=120)
@given(ROLES, LATENCIES, st.data())
def test_more_failures_never_improve_a_role(role, latencies, data):
    outcomes = data.draw(
        st.lists(
            st.sampled_from((FINISHED, FINISHED, FAILED, NOT_MADE)), min_size=len(latencies), max_size=len(latencies)
        )
    )
    planned = len(latencies) + data.draw(st.integers(0, 20))
    worse = list(outcomes)
    for place in data.draw(st.sets(st.integers(0, len(latencies) - 1))):
        worse[place] = FAILED
    before = judged(role, latencies, outcomes, planned)
    after = judged(role, latencies, worse, planned + data.draw(st.integers(0, 5)))
    assert ORDER[after.verdict] >= ORDER[before.verdict]
    assert after.on_time_share <= before.on_time_share
    assert after.failed >= before.failed
    for one, other in zip(before.percentiles, after.percentiles, strict=True):
        assert (math.inf if other.ms is None else other.ms) >= (math.inf if one.ms is None else one.ms)
    if before.apdex is not None:
        assert after.apdex.score <= before.apdex.score + 1e-12
        assert after.page_mos <= before.page_mos + 1e-12
    if before.voice is not None:
        assert after.voice.loss >= before.voice.loss
    if before.shown is not None:
        assert after.shown.shown_s <= before.shown.shown_s
