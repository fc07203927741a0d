"""Fewer points: extremes stay, ranks stay honest. Expected values follow from the definitions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.thinning import kept_points, spread_ranks


def test_a_single_stall_in_a_day_of_seconds_stays():
    rate = np.full(86_400, 500, dtype=np.int64)
    rate[40_001] = 0
    places = kept_points(rate)
    assert len(places) <= 2000
    assert 40_001 in places


@given(st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=300), st.integers(4, 50))
def test_first_last_and_extremes_stay(values, at_most):
    samples = np.array(values, dtype=np.int64)
    places = kept_points(samples, at_most=at_most)
    assert len(places) <= max(at_most, 4)
    assert (np.diff(places) > 0).all()
    kept = samples[places]
    assert (kept.min(), kept.max()) == (min(values), max(values))
    assert (places[0], places[-1]) == (0, len(values) - 1)


@given(st.integers(0, 100_000), st.integers(2, 2000))
def test_ranks_are_spread_evenly(count, at_most):
    ranks = spread_ranks(count, at_most=at_most)
    assert len(ranks) == min(count, at_most)
    if count:
        assert (ranks[0], ranks[-1]) == (1, count)
        steps = np.diff(ranks)
        assert (steps >= 1).all()
        assert not len(steps) or steps.max() - steps.min() <= 1


def test_too_few_points_are_refused():
    with pytest.raises(ValueError, match="at least 4"):
        kept_points(np.arange(9), at_most=3)
    with pytest.raises(ValueError, match="at least 2"):
        spread_ranks(9, at_most=1)
