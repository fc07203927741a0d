"""Shares against check values, published examples and another library; differences against a simulation of their own."""

import math

import numpy as np
import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from builder.metrics.proportions import (
    Requests,
    effective_requests,
    one_sided_bounds,
    share_difference,
    share_interval,
    share_lead_p,
    share_shown,
)
from catalog.marks import requests_to_show


def alone(on_time, planned):
    """Requests that each came by themselves."""
    return Requests(on_time, planned, planned)


@pytest.fixture
def checks(published):
    """Source: tests/published/SOURCES.md, method2_share.csv."""
    return {row["what"]: (float(row["expected"]), float(row["tolerance"])) for row in published("method2_share")}


@pytest.mark.parametrize(
    ("name", "requests"),
    [
        ("12 of 13", alone(12, 13)),
        ("44 of 44", alone(44, 44)),
        ("291 of 300, n_eff 120", Requests(291, 300, 120)),
        ("276 of 300, n_eff 120", Requests(276, 300, 120)),
    ],
)
def test_bounds_and_interval_of_one_share(checks, name, requests):
    bounds = dict(zip(("one-sided lower", "one-sided upper"), one_sided_bounds(requests), strict=True))
    bounds |= dict(zip(("Wilson low", "Wilson high"), share_interval(requests), strict=True))
    tried = 0
    for what, value in bounds.items():
        if f"{what}, {name}" in checks:
            expected, tolerance = checks[f"{what}, {name}"]
            assert value == pytest.approx(expected, abs=tolerance), what
            tried += 1
    assert tried >= 2
    assert not share_shown(requests, 0.95)


def test_bounds_as_published(published):
    # Source: tests/published/SOURCES.md, shares.csv.
    for row in published("shares"):
        bounds = one_sided_bounds(alone(int(row["on_time"]), int(row["planned"])))
        assert bounds[row["what"] == "one-sided upper"] == pytest.approx(
            float(row["expected"]), abs=float(row["tolerance"])
        ), row


@pytest.mark.parametrize(
    ("on_time", "planned"), [(0, 1), (1, 1), (0, 40), (7, 40), (12, 13), (2980, 3000), (3000, 3000)]
)
def test_bounds_and_interval_as_other_libraries_have_them(on_time, planned):
    low, high = one_sided_bounds(alone(on_time, planned))
    exact = binomtest(on_time, planned, alternative="greater").proportion_ci(0.95, method="exact")
    assert low == pytest.approx(exact.low, abs=1e-9)
    exact = binomtest(on_time, planned, alternative="less").proportion_ci(0.95, method="exact")
    assert high == pytest.approx(exact.high, abs=1e-9)
    assert share_interval(alone(on_time, planned)) == pytest.approx(
        proportion_confint(on_time, planned, method="wilson"), abs=1e-12
    )


def test_the_interval_of_wilsons_method_as_published():
    # Source: Newcombe 1998 (Statistics in Medicine 17:857), table I, method 3, from memory; statsmodels agrees (above).
    for counts, interval in (
        ((81, 263), (0.2553, 0.3662)),
        ((15, 148), (0.0624, 0.1605)),
        ((1, 29), (0.0061, 0.1718)),
    ):
        assert share_interval(alone(*counts)) == pytest.approx(interval, abs=5e-5)


@pytest.mark.parametrize(
    ("first", "second", "interval"),
    [
        ((56, 70), (48, 80), (0.0524, 0.3339)),
        ((9, 10), (3, 10), (0.1705, 0.8090)),
        ((5, 56), (0, 29), (-0.0381, 0.1926)),
    ],
)
def test_newcombes_interval_without_a_spread_between_runs(monkeypatch, first, second, interval):
    # Source: Newcombe 1998 (Statistics in Medicine 17:873), table II, method 10, examples a, b and e, from memory; the
    # same values from statsmodels below.
    monkeypatch.setattr("builder.metrics.proportions.PRACTICE_RUN_SPREAD", 0.0)
    result = share_difference([alone(*first)], [alone(*second)])
    assert (result.low, result.high) == pytest.approx(interval, abs=5e-5)
    assert (result.low, result.high) == pytest.approx(
        confint_proportions_2indep(*first, *second, method="newcomb"), abs=1e-9
    )


def test_one_run_each_takes_the_practice_spread(checks):
    sides = [Requests(291, 300, 120)], [Requests(240, 300, 120)]
    result = share_difference(*sides)
    for what, value in (
        ("difference low, one run each", result.low),
        ("difference high, one run each", result.high),
        ("p", share_lead_p(*sides)),
    ):
        assert value == pytest.approx(checks[what][0], abs=checks[what][1])
    assert result.assumed
    assert result.separated


def test_three_runs_each_measure_their_spread(checks):
    a = [Requests(k, 300, n) for k, n in ((290, 120), (284, 100), (292, 150))]
    b = [Requests(k, 300, n) for k, n in ((270, 110), (276, 120), (261, 90))]
    result = share_difference(a, b)
    assert result.run_spread == pytest.approx(checks["s_run of 3 and 3 runs"][0], abs=1e-12)
    for what, value in (
        ("difference low, 3 runs each", result.low),
        ("difference high, 3 runs each", result.high),
    ):
        assert value == pytest.approx(checks[what][0], abs=checks[what][1])
    assert not result.assumed
    swapped = share_difference(b, a)
    assert (swapped.low, swapped.high) == pytest.approx((-result.high, -result.low), abs=1e-12)
    assert share_lead_p(a, b) < share_lead_p(b, a) == 1


def test_p_agrees_with_the_interval():
    # By the definition: the interval at the level 1 - p ends at 0.
    for k in range(200, 300, 7):
        sides = [Requests(291, 300, 150)], [Requests(k, 300, 150)]
        assert (min(share_lead_p(*sides), share_lead_p(*sides[::-1])) < 0.05) == share_difference(*sides).separated


def test_one_run_each_cannot_tell_shares_apart_that_lie_closer_than_eight_points():
    # By hand: 1.96 * 0.03 * sqrt(2) = 0.083, however many requests were made.
    many = 10**7
    assert not share_difference([alone(many, many)], [alone(many * 92 // 100, many)]).separated
    assert share_difference([alone(many, many)], [alone(many * 91 // 100, many)]).separated


def test_requests_in_a_row_are_worth_less(checks):
    expected, tolerance = checks["n_eff"]
    r = checks["r of 20 requests"][0]
    assert effective_requests(20, r) == pytest.approx(expected, abs=tolerance)
    assert effective_requests(300, -0.4) == 300
    assert effective_requests(199, 1.0) == pytest.approx(199 * 0.01 / 1.99)


def test_twelve_of_thirteen_show_nothing_of_95_percent(checks):
    assert not share_shown(alone(58, 58), 0.95)
    assert share_shown(alone(59, 59), 0.95)  # 0.95^59 = 0.0485
    assert share_shown(alone(240, 300), 0.95)
    for mark in (0.95, 0.99):
        assert requests_to_show(mark) == checks[f"requests needed for {mark:.0%}".replace("%", " %")][0]
    assert requests_to_show(1.0) is None


@pytest.mark.parametrize("counts", [(1, 0, 1.0), (-1, 5, 5.0), (6, 5, 5.0), (1, 5, 0.0), (1, 5, math.nan)])
def test_counts_that_are_not_a_share_are_refused(counts):
    with pytest.raises(ValueError, match="is not a share of requests"):
        Requests(*counts)


def test_a_device_that_nobody_ran_differs_from_nothing():
    with pytest.raises(ValueError, match="nobody measured"):
        share_difference([], [alone(1, 2)])


@pytest.mark.parametrize("scatter", [0.0, 0.03])
@pytest.mark.parametrize("runs", [1, 3])
def test_equal_devices_are_seldom_told_apart(scatter, runs):
    """The truth is not the method's: waiting times of a log-normal AR(1) series whose mean wanders from run to run."""
    rng = np.random.default_rng(8)
    told_apart = trials = 0
    for _ in range(120):
        devices = [[_simulated(rng, scatter) for _ in range(runs)] for _ in range(2)]
        told_apart += share_difference(*devices).separated
        trials += 1
    # 6.5 % are allowed; three standard errors of 120 trials are 6.8 %.
    assert told_apart / trials <= 0.065 + 0.068


def _simulated(rng, scatter, n=200, r=0.5, share=0.9):
    from scipy.stats import norm

    wanted = min(0.995, max(0.5, share + scatter * rng.standard_normal()))
    noise = rng.standard_normal(n)
    series = np.empty(n)
    series[0] = noise[0]
    for i in range(1, n):
        series[i] = r * series[i - 1] + math.sqrt(1 - r * r) * noise[i]
    late = (series > norm.ppf(wanted)).astype(float)
    ranks = series.argsort().argsort().astype(float)
    lag = max(_lag_one(late), _lag_one(ranks))
    return Requests(int(n - late.sum()), n, effective_requests(n, lag))


def _lag_one(values):
    d = values - values.mean()
    square = float(d @ d)
    return float(d[:-1] @ d[1:]) / square if square else 0.0
