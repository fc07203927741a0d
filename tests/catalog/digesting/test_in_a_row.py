"""Requests in a row against the check values and another library's ranks and autocorrelations."""

import math

import numpy as np
import pytest
from scipy.stats import rankdata
from statsmodels.tsa.stattools import acf

from catalog.digesting.in_a_row import lag_one, mean_ranks


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
