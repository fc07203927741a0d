"""Jain's index against published values and its identity with the coefficient of variation."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from builder.metrics.fairness import jain_index

Published = Callable[[str], list[dict[str, str]]]


def test_published_allocations(published: Published) -> None:
    # Source: Jain, Chiu & Hawe 1984, DEC-TR-301.
    rows = published("jain")
    for row in rows:
        words = row["allocations"]
        rates = [20.0] * 20 + [100.0] * 80 if "twenty" in words else [float(x) for x in words.split()]
        assert jain_index(rates) == pytest.approx(float(row["expected"]), abs=1e-9)


def test_k_of_n_served_alike() -> None:
    # Source: Jain, Chiu & Hawe 1984: k of n users served alike gives k/n.
    for k in (1, 20, 100):
        assert jain_index([3.7] * k + [0.0] * (100 - k)) == pytest.approx(k / 100, abs=1e-12)


def test_identity_with_the_coefficient_of_variation() -> None:
    # Reference library: scipy.stats.variation (population): J = 1 / (1 + CV^2).
    rates = np.random.default_rng(4).gamma(2, 50, 9).tolist()
    assert jain_index(rates) == pytest.approx(1 / (1 + stats.variation(rates) ** 2), rel=1e-12)


@pytest.mark.parametrize("factor", [1e-200, 1.0, 1e200])
def test_the_unit_does_not_matter(factor: float) -> None:
    assert jain_index([10 * factor, 10 * factor, 10 * factor, factor]) == pytest.approx(0.798173, abs=5e-7)


def test_no_traffic_is_not_fair() -> None:
    assert jain_index([0.0, 0.0]) is None
    with pytest.raises(ValueError, match="at least one client"):
        jain_index([])
    with pytest.raises(ValueError, match=r"a rate must be at least 0, got -1\.0"):
        jain_index([2.0, -1.0])
