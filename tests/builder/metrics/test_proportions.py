"""Bounds of shares against a published table, and differences against another implementation and a published example."""

import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep

from builder.metrics.proportions import (
    one_sided_bounds,
    requests_to_show,
    share_difference,
    share_interval,
    share_shown,
)


def test_bounds_as_published(published):
    # Source: tests/published/SOURCES.md, shares.csv.
    of = {"one-sided": one_sided_bounds, "Wilson": share_interval}
    for row in published("shares"):
        bound, side = row["what"].split()
        found = of[bound](int(row["on_time"]), int(row["planned"]))
        assert found[side in ("upper", "high")] == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row


@pytest.mark.parametrize(("on_time", "planned"), [(0, 1), (1, 1), (0, 40), (7, 40), (12, 13), (2980, 3000), (3000, 3000)])
def test_bounds_as_another_library_has_them(on_time, planned):
    low, high = one_sided_bounds(on_time, planned)
    found = binomtest(on_time, planned, alternative="greater").proportion_ci(0.95, method="exact")
    assert low == pytest.approx(found.low, abs=1e-9)
    found = binomtest(on_time, planned, alternative="less").proportion_ci(0.95, method="exact")
    assert high == pytest.approx(found.high, abs=1e-9)


def test_difference_of_the_published_example():
    # Source: Newcombe 1998, Statistics in Medicine 17, table II, (a) 56/70 - 48/80, method 10: 0.0524 to 0.3339.
    low, high = share_difference(56, 70, 48, 80)
    assert (low, high) == (pytest.approx(0.0524, abs=5e-5), pytest.approx(0.3339, abs=5e-5))


@pytest.mark.parametrize("counts", [(56, 70, 48, 80), (12, 13, 40, 40), (2979, 3000, 2982, 3000), (0, 5, 5, 5)])
def test_difference_as_another_library_has_it(counts):
    found = confint_proportions_2indep(*counts, compare="diff", method="newcomb")
    assert share_difference(*counts) == pytest.approx(found, abs=1e-9)


def test_twelve_of_thirteen_show_nothing_of_95_percent():
    assert not share_shown(12, 13, 0.95)
    assert not share_shown(44, 44, 0.95)
    assert not share_shown(58, 58, 0.95)
    assert share_shown(59, 59, 0.95)  # 0.95^59 = 0.0485
    assert share_shown(240, 300, 0.95)
    assert (requests_to_show(0.95), requests_to_show(0.99), requests_to_show(1.0)) == (59, 299, None)


def test_counts_of_no_share_are_refused():
    for on_time, planned in ((1, 0), (-1, 5), (6, 5)):
        with pytest.raises(ValueError, match="is not a share of requests"):
            one_sided_bounds(on_time, planned)
        with pytest.raises(ValueError, match="is not a share of requests"):
            share_interval(on_time, planned)
