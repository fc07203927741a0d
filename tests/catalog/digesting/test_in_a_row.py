"""Requests in a row against the check values and another library's ranks and autocorrelations."""

import math

import numpy as np
import pytest
from scipy.stats import rankdata
from statsmodels.tsa.stattools import acf

from catalog.digesting.in_a_row import correlation_time, lag_one, mean_ranks


def test_twenty_requests(published):
    # Source: tests/published/SOURCES.md, method2_share.csv: late 0.502381, ranks 0.631500; the larger counts.
    row = published("method2_share")[0]
    waits, mark = row["inputs"].split("; mark ")
    waits = np.array([math.inf if wait == "failed" else float(wait) for wait in waits.split()])
    late = lag_one((waits > float(mark.split()[0])).astype(float))
    ranks = lag_one(mean_ranks(waits))
    assert late == pytest.approx(0.502381, abs=1e-6)
    assert ranks == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_another_library_ranks_and_correlates_alike():
    rng = np.random.default_rng(4)
    for n in (2, 3, 40, 900):
        values = np.round(rng.gamma(2.0, 20.0, n), 0)
        values[rng.random(n) < 0.1] = np.inf
        assert mean_ranks(values) == pytest.approx(rankdata(values))
        ranks = mean_ranks(values)
        if len(set(ranks)) > 1:
            assert lag_one(ranks) == pytest.approx(acf(ranks, nlags=1, fft=False)[1], abs=1e-12)


def test_requests_that_are_all_alike_say_nothing_of_the_next():
    assert lag_one(np.ones(30)) == 0.0
    assert lag_one(np.array([3.0])) == 0.0
    assert mean_ranks(np.full(4, np.inf)).tolist() == [2.5] * 4


def test_what_follows_counts_as_if_it_were_there():
    rng = np.random.default_rng(5)
    for n, times in ((1, 1), (1, 40), (30, 1), (30, 200)):
        values = rng.random(n)
        written_out = np.concatenate([values, np.full(times, 2.5)])
        assert lag_one(values, then=2.5, times=times) == pytest.approx(lag_one(written_out), abs=1e-12)


def geyer(values):
    """The initial monotone sequence by the book: another library's correlations, pair by pair."""
    correlations = acf(values, nlags=len(values) - 1, fft=False, adjusted=False)
    total, least = 0.0, math.inf
    for k in range(len(values) // 2):
        pair = correlations[2 * k] + correlations[2 * k + 1]
        if pair <= 0:
            break
        least = min(least, pair)
        total += least
    return max(1.0, 2 * total - 1)


def slow_swing(rng, n):
    swing = np.zeros(n)
    for k in range(1, n):
        swing[k] = 0.98 * swing[k - 1] + rng.normal()
    return swing


def test_how_many_requests_say_as_much_as_one_by_the_book():
    # Source: Geyer 1992, section 3.3, written out; correlations by statsmodels.
    rng = np.random.default_rng(6)
    for n in (2, 3, 31, 33, 40, 900):
        for values in (rng.random(n), slow_swing(rng, n), np.sin(np.arange(n) / 30)):
            assert correlation_time(values) == pytest.approx(geyer(values), rel=1e-9)


def test_the_time_of_a_series_whose_time_is_known():
    # Source: 1 + 2 (r + r^2 + ...) = (1 + r) / (1 - r) of a first-order autoregressive series.
    rng = np.random.default_rng(7)
    swing = slow_swing(rng, 400_000)
    assert correlation_time(swing) == pytest.approx(1.98 / 0.02, rel=0.1)
    assert correlation_time(rng.random(400_000)) == pytest.approx(1, abs=0.02)
    noise = rng.normal(0, swing.std(), 400_000)  # half of the spread is noise: 1 + 2 * 0.5 * 0.98 / 0.02
    assert correlation_time(swing + noise) == pytest.approx(50, rel=0.1)
    assert lag_one(swing + noise) < 0.5


def test_equal_and_single_requests_come_by_themselves():
    assert correlation_time(np.ones(30)) == 1.0
    assert correlation_time(np.array([3.0])) == 1.0
    assert correlation_time(np.array([3.0]), then=4.0, times=1) == 1.0


def test_what_follows_counts_in_the_time_as_if_it_were_there():
    rng = np.random.default_rng(8)
    for n, times in ((40, 1), (300, 7), (300, 299), (300, 900)):
        values = slow_swing(rng, n) if n > 40 else rng.random(n)
        written_out = np.concatenate([values, np.full(times, 2.5)])
        known = correlation_time(values, then=2.5, times=times)
        whole = correlation_time(written_out)
        assert known == pytest.approx(whole, rel=1e-9) or (times > n // 2 and known < whole)
