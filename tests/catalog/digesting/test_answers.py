"""Requests over hours: worked by hand, and against numpy where a library knows it."""

import numpy as np
import pytest

from catalog.digesting.answers import Answers, answers_digest, answers_of, usual_pace
from catalog.digesting.logs import FAILED, FINISHED, Log


def answers(starts_s, waits_ms):
    """Requests at *starts_s*; None for one without an answer."""
    waits = [-1 if ms is None else round(ms * 1000) for ms in waits_ms]
    return Answers(np.rint(np.array(starts_s) * 1e6).astype(np.int64), np.array(waits, dtype=np.int64))


def log(starts_s, waits_ms):
    one = answers(starts_s, waits_ms)
    outcome = np.where(one.answered, FINISHED, FAILED).astype(np.int8)
    return Log("requests", one.starts, latency_us=one.waits, outcome=outcome)


def s(us):
    return us / 1e6


def test_the_usual_pace_of_a_steady_log_is_its_step():
    # By hand: 100 steps of 1 s, and one of 10 h that holds nearly all of the time.
    steady = [*range(101), 36_100]
    assert usual_pace(answers(steady, [1] * 102).starts) == 1_000_000
    # Ten requests in a tenth of a second, every 5 s: nine of ten steps are short, and the long ones hold the time.
    bursts = [5 * n + k / 100 for n in range(50) for k in range(10)]
    assert s(usual_pace(answers(bursts, [1] * 500).starts)) == pytest.approx(4.91)
    with pytest.raises(ValueError, match="one request has no pace"):
        usual_pace(answers([0], [1]).starts)


@pytest.mark.parametrize("seed", range(20))
def test_requests_at_random_leave_hardly_any_time_uncovered(seed):
    starts = np.cumsum(np.random.default_rng(seed).exponential(10, 1000))
    one = answers(starts, [5] * 1000)
    assert one.covered > 0.95 * one.duration


def test_a_gap_of_more_than_three_steps_is_not_covered():
    # By hand: a step of 1 s. Three steps are no gap, four are; the row before one covers a second.
    one = answers([*range(40), 42, 43, 47, 48], [10] * 44)
    assert s(one.gaps).tolist() == [0] * 42 + [3, 0]
    assert (s(one.duration), s(one.covered)) == (49, 46)


def test_a_slow_answer_covers_its_wait_and_so_does_a_request_that_failed():
    # By hand: 20 s until an answer, 30 s until the next after a failure, and a failure with nothing after it for 10 min.
    assert s(answers([*range(10), 29], [10] * 9 + [20_000, 10]).covered) == 30
    assert s(answers([*range(10), 39], [10] * 9 + [None, 10]).covered) == 40
    one = answers([*range(10), 609], [10] * 9 + [None, 10])
    assert (s(one.duration), s(one.gaps.max())) == (610, 599)


def test_the_longest_outage_goes_on_to_the_next_answer():
    # By hand: one request a second; two fail at 3, four at 10, to the one that is made at 14.
    waits = [None if t in (3, 4, 10, 11, 12, 13) else 8 for t in range(20)]
    assert tuple(map(s, answers(range(20), waits).longest_outage())) == (4, 10)
    assert answers(range(20), [8] * 20).longest_outage() == (0, 0)
    # To the end of the log, whose last request lasts the usual step.
    assert tuple(map(s, answers(range(20), [8] * 15 + [None] * 5).longest_outage())) == (5, 15)


def test_a_gap_ends_an_outage():
    # By hand: failures at 8, 9 and, after 2000 s without a log, at 2009: what happened between nobody knows.
    starts = [*range(10), *range(2009, 2030)]
    waits = [8.0] * 8 + [None, None, None] + [8.0] * 20
    assert tuple(map(s, answers(starts, waits).longest_outage())) == (2, 8)


def test_an_hour_ranks_what_was_not_answered_last():
    # By hand: 10 requests in the first hour, 4 not answered: half within the 5th of 6; 95 % were not answered.
    starts = [*(n * 360 for n in range(10)), 3600, 3960]
    waits = [None] * 4 + [1, 2, 3, 4, 5, 6, 50, 60]
    first, second = answers(starts, waits).hours()
    assert (first.number, first.requests, first.percentile_ms(50), first.percentile_ms(95)) == (0, 10, 5, None)
    assert (second.number, second.requests, second.percentile_ms(95), second.late(50)) == (1, 2, 60, 1)
    assert (first.late(3), first.late(0.5)) == (7, 10)


def test_hours_without_a_request_are_left_out_and_each_knows_how_much_was_logged():
    # By hand: a request a minute for 90 minutes, nothing for two hours and a half, then 30 minutes.
    starts = [60 * n for n in range(90)] + [14_400 + 60 * n for n in range(30)]
    hours = answers(starts, [5] * 120).hours()
    assert [(hour.number, hour.requests, s(hour.logged_us)) for hour in hours] == [
        (0, 60, 3600),
        (1, 30, 1800),
        (4, 30, 1800),
    ]


def test_percentiles_of_a_day_are_numpys():
    # Reference library: numpy's inverted_cdf, which is type 1 of Hyndman & Fan, hour by hour; the times are random.
    rng = np.random.default_rng(8)
    starts = np.sort(rng.uniform(0, 26 * 3600, 40_000))
    starts -= starts[0]
    waits = rng.lognormal(2.5, 1, 40_000).round(3)
    digest = answers_digest(log(starts, waits), mark_ms=30)
    hours = (np.rint(starts * 1e6).astype(np.int64) // 3_600_000_000).astype(int)
    for hour in range(26):
        of = waits[hours == hour]
        assert digest[f"hour_{hour}_requests"] == len(of)
        assert digest[f"hour_{hour}_late"] == (of > 30).sum()
        for percent in (50, 95, 99):
            reference = np.quantile(of, percent / 100, method="inverted_cdf")
            assert digest[f"hour_{hour}_p{percent}_ms"] == pytest.approx(reference, abs=1e-9)
    for percent in (50, 95, 99):
        assert digest[f"p{percent}_ms"] == np.quantile(waits, percent / 100, method="inverted_cdf")
    assert digest["late"] == (waits > 30).sum()


def test_one_request_has_figures():
    digest = answers_digest(log([0], [12]), mark_ms=None)
    assert (digest["rows"], digest["p50_ms"], digest["hour_0_requests"]) == (1, 12, 1)
    assert digest["duration_s"] == 0.012
    assert "late" not in digest
    lost = answers_digest(log([0], [None]), mark_ms=10)
    assert (lost["late"], lost["longest_outage_s"], lost["duration_s"]) == (1, 1, 1)
    assert "hour_0_p50_ms" not in lost


def test_requests_at_one_instant_and_in_parallel():
    one = answers_of(log([0, 0, 0, 1, 1, 1, 2, 2, 2], [5, None, 2500, 5, 5, 5, 5, 5, 5]))
    assert one.covered == one.duration
    assert [hour.requests for hour in one.hours()] == [9]


@pytest.mark.parametrize("count", [2, 3, 50])
def test_all_at_one_instant(count):
    digest = answers_digest(log([0] * count, [5] * count), mark_ms=5)
    assert digest["late"] == 0
    assert digest["duration_s"] == pytest.approx(0.005)
