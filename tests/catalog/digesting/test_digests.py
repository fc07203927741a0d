"""What a log comes to at entry: worked by hand, and against scipy where a library knows it."""

import math

import numpy as np
import pytest
from scipy import stats

from catalog.digesting.digests import longrun_digest, request_digest, throughput_digest
from catalog.digesting.logs import FAILED, FINISHED, NOT_MADE, Log

PAGES = {"kind": "pages", "target_ms": 1000.0, "recipe": "{}"}


def requests(*latencies_ms, step_s=10.0):
    """A request log: a latency, None for a failed request, "not made" for one that was never made."""
    words = {None: FAILED, "not made": NOT_MADE}
    return Log(
        "requests",
        t_us=np.array([round(i * step_s * 1e6) for i in range(len(latencies_ms))], dtype=np.int64),
        latency_us=np.array([-1 if ms in words else round(ms * 1000) for ms in latencies_ms], dtype=np.int64),
        outcome=np.array([words.get(ms, FINISHED) for ms in latencies_ms], dtype=np.int64),
    )


def rates(values, *, step_s=10.0, spans_s=None):
    return Log(
        "throughput",
        t_us=np.arange(len(values), dtype=np.int64) * round(step_s * 1e6),
        rate_bit_s=np.array(values, dtype=np.int64) * 1_000_000,
        span_us=None if spans_s is None else (np.array(spans_s) * 1e6).astype(np.int64),
    )


def test_a_collapsed_run_ranks_what_was_never_made_last():
    # Source: worked story 5: 30 x 300 ms, 6 x 800, 2 x 2400 of 60 planned; ranks 30, 54 and 57.
    found = request_digest(requests(*[300] * 30, *[800] * 6, *[2400] * 2), planned=60, role=PAGES)
    assert (found["made"], found["finished"], found["planned"]) == (38, 38, 60)
    assert (found["on_time"], found["tolerated"]) == (36, 38)
    assert found["p50_ms"] == 300
    assert not {"p75_ms", "p90_ms", "p95_ms", "p99_ms"} & found.keys()
    assert found["until_p90_ms"] == 800  # rank 35 of the 38 that were made


def test_requests_that_failed_and_those_never_made_are_told_apart():
    found = request_digest(requests(100, None, "not made", 200), planned=0, role=PAGES)
    assert [found[k] for k in ("rows", "made", "finished", "failed", "not_made", "planned")] == [4, 3, 2, 1, 1, 4]


def test_ends_of_the_percentile_interval():
    # Reference library: scipy.stats.quantile_test, order statistics of 200 values.
    values = np.random.default_rng(1).exponential(100, 200).round(3)
    found = request_digest(requests(*values), planned=200, role=PAGES)
    for percent in (50, 75, 90, 95):
        reference = stats.quantile_test(values, p=percent / 100).confidence_interval(0.95)
        assert found[f"p{percent}_low_ms"] == pytest.approx(reference.low, abs=1e-9)
        if math.isnan(reference.high):
            assert f"p{percent}_high_ms" not in found
        else:
            assert found[f"p{percent}_high_ms"] == pytest.approx(reference.high, abs=1e-9)


def test_a_late_segment_stalls_the_picture_and_one_nobody_asked_for_does_not():
    # By hand: 4 s segments asked for every 4 s; two are there at 4.5 s, when playback starts. The third, due at
    # 12.5 s, is there at 15 s: a stall of 2.5 s.
    stream = {"kind": "stream", "target_ms": 4000.0, "recipe": '{"segment_s": 4, "start_buffer_s": 8}'}
    found = request_digest(requests(500, 500, 7000, 500, step_s=4.0), planned=4, role=stream)
    assert (found["start_delay_s"], found["stalls"], found["stalled_s"], found["shown_s"]) == (4.5, 1, 2.5, 16)
    # Two more were planned and nobody asked for them: they are lost, and nothing is waited for.
    longer = request_digest(requests(500, 500, 7000, 500, step_s=4.0), planned=6, role=stream)
    assert (longer["stalls"], longer["stalled_s"], longer["late_segments"], longer["lost_segments"]) == (1, 2.5, 1, 2)
    assert longer["stalling_quality"] == found["stalling_quality"] < 5


def test_without_a_declared_buffer_no_stall_is_claimed():
    stream = {"kind": "stream", "target_ms": 4000.0, "recipe": '{"segment_s": 4}'}
    found = request_digest(requests(500, 500, 9000, 500, step_s=4.0), planned=4, role=stream)
    assert "stalls" not in found
    assert "shown_s" not in found


def test_page_score_counts_every_planned_page():
    # Source: ITU-T G.1030: 5 up to 0.67 s, 4.269281 (published) for 1 s; a page never made scores 1 (own rule).
    found = request_digest(requests(500, 1000), planned=3, role=PAGES)
    assert found["page_mos"] == pytest.approx((5 + 4.269281 + 1) / 3, abs=1e-6)


def test_rates_are_weighted_by_time():
    # By hand: 30 s at 100, 60 s at 400, 10 s at 900: mean 360, half the time within the 400s.
    log = Log(
        "throughput",
        t_us=np.array([0, 30, 90], dtype=np.int64) * 1_000_000,
        rate_bit_s=np.array([100, 400, 900], dtype=np.int64) * 1_000_000,
        span_us=np.array([30, 60, 10], dtype=np.int64) * 1_000_000,
    )
    found = throughput_digest(log)
    assert (found["mean_mbit_s"], found["median_mbit_s"], found["p05_mbit_s"]) == (360, 400, 100)
    assert (found["duration_s"], found["logged_s"], found["evenness"]) == (100, 100, 0.25)


def test_a_long_run_keeps_its_period_and_its_sampling():
    # Source: check C11, its four and three cycles made six and five, which method section 7 asks for.
    found = longrun_digest(rates([500, 500, 200] * 6), key=["a"])
    assert found["period_s"] == pytest.approx(30, rel=1e-6)
    assert (found["mean_mbit_s"], found["step_s"], found["period_cycles"]) == (400, 10, pytest.approx(6, rel=1e-6))
    short = longrun_digest(rates([500, 500, 200] * 5), key=["a"])
    assert short["step_s"] == 10
    assert not any(figure.startswith(("period", "drift")) for figure in short)


def test_surrogates_follow_from_the_key_alone():
    values = np.random.default_rng(2).normal(500, 20, 400).round() + 12 * np.sin(np.arange(400) / 3)
    once, again = (longrun_digest(rates(values), key=["night", "1"]) for _ in range(2))
    assert once == again


def test_a_gap_belongs_to_no_figure():
    # By hand: 15 rows of 500, ten minutes without one, 15 rows of 100: 30 of 630 s are logged, and their mean is 300.
    log = rates([500] * 15 + [100] * 15, step_s=1.0)
    log.t_us[15:] += 600_000_000
    found = throughput_digest(log)
    assert (found["mean_mbit_s"], found["median_mbit_s"], found["p05_mbit_s"]) == (300, 100, 100)
    assert (found["duration_s"], found["logged_s"], found["longest_gap_s"]) == (630, 30, 600)
    assert found["longest_stall_s"] == 0
    night = longrun_digest(log, key=["a"])
    assert {figure: night[figure] for figure in found} == found


def test_requests_that_were_never_made_wait_longest():
    # By the ranks of another library, over the log and as many infinite waits as are missing from the plan.
    found = request_digest(requests(300, 900, 200, 500), planned=9, role={"kind": "fetch", "target_ms": 400.0})
    ranks = stats.rankdata([300, 900, 200, 500, *[math.inf] * 5])
    late = np.array([0, 1, 0, 1, 1, 1, 1, 1, 1], dtype=float)
    for figure, values in (("waits_lag_one", ranks), ("late_lag_one", late)):
        about = values - values.mean()
        assert found[figure] == pytest.approx(about[:-1] @ about[1:] / (about @ about), abs=1e-12)


def test_a_plan_of_a_billion_requests_takes_no_more_room_than_its_log():
    found = request_digest(requests(300, 900, 200, 500), planned=10**9, role={"kind": "fetch", "target_ms": 400.0})
    assert found["planned"] == 10**9
    assert 0 <= found["waits_lag_one"] <= 1
