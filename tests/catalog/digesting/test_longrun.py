"""Figures of a long run, worked by hand, and the pattern of the acceptance checks."""

from collections.abc import Callable

import numpy as np
import pytest

from catalog.digesting.longrun import (
    LongRun,
    even_grid,
    evenness,
    longest_stall_s,
    summarise,
    time_quantile,
)
from catalog.thinning import kept_points

Published = Callable[[str], list[dict[str, str]]]


def array(*values: float) -> np.ndarray:
    return np.array(values, dtype=np.float64)


def regular(values: list[float] | np.ndarray, step_s: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Starts, lengths and rates of a log without gaps."""
    rates = np.asarray(values, dtype=np.float64)
    return np.arange(len(rates)) * step_s, np.full(len(rates), step_s), rates


def summary(values: list[float] | np.ndarray, step_s: float) -> LongRun:
    return summarise(*regular(values, step_s), rng=np.random.default_rng(1))


def test_the_pattern_of_the_acceptance_check() -> None:
    # Source: check C11 of the job analysis: 500, 500, 200 at 10 s: mean 400, period 30 s; its four and three cycles
    # made six and five, which method section 7 asks for. By hand: median 500, 5th percentile 200, evenness 0.4.
    found = summary([500, 500, 200] * 6, 10.0)
    assert found.mean == pytest.approx(400, rel=1e-15)
    assert (found.median, found.fifth_percentile, found.evenness) == (500, 200, 0.4)
    assert found.period is not None
    assert found.period.period_s == pytest.approx(30, rel=1e-6)
    assert found.drift is None
    assert (found.longest_stall_s, found.duration_s, found.logged_s) == (0.0, 180.0, 180.0)
    assert found.longest_gap_s == 0.0
    assert summary([500, 500, 200] * 5, 10.0).period is None


def test_figures_are_weighted_by_time() -> None:
    # By hand: 30 s at 100, 60 s at 400, 10 s at 900: mean 360; half the time is reached within the 400s, a
    # twentieth within the 100s. Unweighted the mean would be 466.7.
    found = summarise(array(0, 30, 90), array(30, 60, 10), array(100, 400, 900), rng=np.random.default_rng(1))
    assert found.mean == pytest.approx(360, rel=1e-15)
    assert (found.median, found.fifth_percentile, found.evenness) == (400, 100, 0.25)
    # By hand: 60 s at 100, 20 s at 400 and at 900: half of the time is within the first, though one interval of three.
    longer = array(900, 100, 400), array(20, 60, 20)
    assert [time_quantile(*longer, percent) for percent in (5, 50, 60, 61, 80, 81)] == [100, 100, 100, 400, 400, 900]
    assert evenness(*longer) == 1.0


def test_quantile_of_equal_intervals_is_the_nearest_rank(published: Published) -> None:
    # Source: Hyndman & Fan 1996, type 1.
    rows = [row for row in published("hyndman_fan") if row["hf_type"] == "1"]
    for row in rows:
        values = np.array(row["data"].split(), dtype=float)[::-1]
        for length_s in (1.0, 0.1, 7.3):
            found = time_quantile(values, np.full(len(values), length_s), round(100 * float(row["p"])))
            assert found == float(row["expected"])


@pytest.mark.parametrize("n", [20, 100, 1000])
def test_quantile_against_numpy(n: int) -> None:
    # Reference library: numpy's inverted_cdf; intervals of 0.1 s, whose sums miss whole seconds by a hair.
    values = np.random.default_rng(n).exponential(100, n)
    for percent in (1, 5, 25, 50, 95, 99):
        expected = np.quantile(values, percent / 100 - 1e-12, method="inverted_cdf")
        assert time_quantile(values, np.full(n, 0.1), percent) == expected


def test_half_and_a_twentieth_of_the_time() -> None:
    # By hand: of 0 to 99 Mbit/s, a second each, 50 are at or below 49 and 5 at or below 4.
    found = summary(np.arange(100.0), 1.0)
    assert (found.median, found.fifth_percentile, found.evenness) == (49, 4, 4 / 49)
    assert (time_quantile(np.arange(100.0), np.ones(100), 1), time_quantile(array(7), array(1), 99)) == (0, 7)


def test_evenness_without_a_median() -> None:
    assert evenness(array(0, 0, 900), array(1, 1, 1)) is None
    assert evenness(array(500, 500), array(1, 1)) == 1.0


def test_longest_stall() -> None:
    # By hand: as good as nothing is at most 1 % of the median of 500, so 5.0 stands still and 5.1 does not.
    values = [500, 0, 500, 5.0, 0, 3, 500, 0, 0, 5.1, 0, 0, *[500] * 13]
    assert longest_stall_s(*regular(values, 2.0)) == 6.0
    assert longest_stall_s(*regular([500, 0, 0], 2.0)) == 4.0
    assert longest_stall_s(*regular([0.0] * 5, 2.0)) == 10.0
    assert longest_stall_s(*regular([500.0] * 5, 2.0)) == 0.0
    # By hand: the median of four is the second, 100 of (5, 100, 900, 900), and 5 is more than 1 % of that.
    assert longest_stall_s(*regular([5, 100, 900, 900], 2.0)) == 0.0


def test_a_gap_in_the_log_ends_a_stall() -> None:
    # By hand: two stalls of 1 and 2 s with 10 s nobody logged in between; a tenth of a second is no gap.
    seconds, rates = np.ones(6), array(500, 0, 0, 0, 500, 500)
    assert longest_stall_s(array(0, 1, 12, 13, 14, 15), seconds, rates) == 2.0
    assert longest_stall_s(array(0, 1, 2.1, 3.1, 4.1, 5.1), seconds, rates) == 3.0
    # By hand: more than half an interval is a gap, half of one is none.
    assert longest_stall_s(array(0, 1, 2.6, 3.6, 4.6, 5.6), seconds, rates) == 2.0
    assert longest_stall_s(array(0, 1, 2.5, 3.5, 4.5, 5.5), seconds, rates) == 3.0


def test_one_second_in_a_day_is_not_lost() -> None:
    # Source: requirement T08: a single 1 s stall in 24 h stays visible in the figure and in the thinned chart.
    rates = np.full(86_400, 500.0)
    rates[40_001] = 0.0
    start_s, seconds, rates = regular(rates, 1.0)
    assert longest_stall_s(start_s, seconds, rates) == 1.0
    assert 40_001 in kept_points(rates.astype(np.int64), at_most=360)


def test_even_grid_of_an_even_log_changes_nothing() -> None:
    values = np.random.default_rng(2).exponential(100, 500)
    step_s, even, known = even_grid(*regular(values, 0.25))
    assert step_s == 0.25
    assert even == pytest.approx(values, rel=1e-9)
    assert known.all()


def test_even_grid_keeps_what_was_carried() -> None:
    # By hand: starts wander by a tenth; what was carried in all stays what it was.
    generator = np.random.default_rng(3)
    seconds = 1 + generator.uniform(-0.1, 0.1, 300)
    start_s = np.concatenate([[5.0], 5.0 + np.cumsum(seconds)[:-1]])
    rates = generator.uniform(100, 900, 300)
    step_s, even, known = even_grid(start_s, seconds, rates)
    assert step_s == np.median(seconds)
    assert known.all()
    assert np.sum(even) * step_s == pytest.approx(np.dot(rates, seconds), rel=0.005)


def test_even_grid_marks_gaps_and_crosses_them_along_a_line() -> None:
    # By hand: seconds 0 to 3 at 100, nothing logged for 2 s, then 400: 200 and 300 between them.
    step_s, even, known = even_grid(array(0, 1, 2, 5, 6), np.ones(5), array(100, 100, 100, 400, 400))
    assert step_s == 1.0
    assert even == pytest.approx([100, 100, 100, 200, 300, 400, 400])
    assert known.tolist() == [True, True, True, False, False, True, True]


def test_a_log_that_looks_at_half_of_each_second_has_a_value_a_second() -> None:
    step_s, even, known = even_grid(np.arange(60.0), np.full(60, 0.5), np.full(60, 300.0))
    assert (step_s, len(even)) == (1.0, 60)
    assert known.all()


def test_even_grid_of_a_log_shorter_than_its_usual_step_is_one_step() -> None:
    # By hand: a badly kept clock gives intervals of 10, 10 and 1 s a second apart; the first fills the one step of 10 s.
    step_s, even, known = even_grid(array(0, 1, 2), array(10, 10, 1), array(100, 200, 300))
    assert (step_s, even.tolist(), known.tolist()) == (10.0, [100.0], [True])


def test_even_grid_averages_very_long_logs() -> None:
    # By hand: 2^18 seconds become 2^17 steps of 2 s, each the mean of two.
    values = np.random.default_rng(4).uniform(0, 900, 2**18)
    step_s, even, known = even_grid(*regular(values, 1.0))
    assert step_s == 2.0
    assert known.all()
    assert np.abs(even - values.reshape(-1, 2).mean(axis=1)).max() < 1e-6


def test_drift_and_period_come_from_the_log() -> None:
    # By hand: 5 hours at 10 s, 6 Mbit/s an hour more, a wave of 240 s with an amplitude of 5.
    time_s = np.arange(1800) * 10.0
    noise = np.random.default_rng(5).standard_normal(1800)
    wave = 5 * np.sin(2 * np.pi * time_s / 240)
    found = summary(500 + 6 * time_s / 3600 + wave + noise, 10.0)
    assert found.drift is not None
    assert found.drift.found
    assert found.drift.per_hour == pytest.approx(6, abs=0.3)
    assert found.period is not None
    assert found.period.period_s == pytest.approx(240, rel=0.002)


def test_a_run_of_one_interval() -> None:
    found = summary([812.5], 30.0)
    assert (found.mean, found.median, found.fifth_percentile, found.evenness) == (812.5, 812.5, 812.5, 1.0)
    assert (found.drift, found.period, found.duration_s) == (None, None, 30.0)


@pytest.mark.parametrize(
    ("log", "message"),
    [
        ((array(), array(), array()), "a log needs as many starts as lengths and rates, got 0, 0 and 0"),
        ((array(0, 1), array(1, 1), array(5)), "got 2, 2 and 1"),
        ((array(0, 0), array(1, 1), array(5, 5)), "the start times of a log must rise"),
        ((array(0, 1), array(1, 1), array(5, -1)), r"a rate must be at least 0, got -1\.0"),
        ((array(0, 1), array(1, 0), array(5, 5)), r"an interval must be longer than 0 s, got 0\.0"),
    ],
)
def test_impossible_logs_are_refused(log: tuple[np.ndarray, ...], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        summarise(*log, rng=np.random.default_rng(1))
    with pytest.raises(ValueError, match=r"percent must lie in 1\.\.99, got 0"):
        time_quantile(array(1), array(1), 0)
