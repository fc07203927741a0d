"""Bounds of shares against a published table, and the test of two shares against another implementation and a published example."""

import pytest
from scipy.stats import binomtest, fisher_exact

from builder.metrics.proportions import (
    one_sided_bounds,
    requests_to_show,
    same_share_p,
    share_shown,
)


def test_bounds_as_published(published):
    # Source: tests/published/SOURCES.md, shares.csv.
    for row in published("shares"):
        found = one_sided_bounds(int(row["on_time"]), int(row["planned"]))
        assert found[row["what"] == "one-sided upper"] == pytest.approx(
            float(row["expected"]), abs=float(row["tolerance"])
        ), row


@pytest.mark.parametrize(
    ("on_time", "planned"), [(0, 1), (1, 1), (0, 40), (7, 40), (12, 13), (2980, 3000), (3000, 3000)]
)
def test_bounds_as_another_library_has_them(on_time, planned):
    low, high = one_sided_bounds(on_time, planned)
    found = binomtest(on_time, planned, alternative="greater").proportion_ci(0.95, method="exact")
    assert low == pytest.approx(found.low, abs=1e-9)
    found = binomtest(on_time, planned, alternative="less").proportion_ci(0.95, method="exact")
    assert high == pytest.approx(found.high, abs=1e-9)


def test_the_published_example_of_the_exact_test():
    # Source: Fisher 1935, The Design of Experiments, the lady tasting tea: 3 of 4 right, two-sided p = 34/70.
    assert same_share_p(3, 4, 1, 4) == pytest.approx(34 / 70, abs=1e-12)


@pytest.mark.parametrize(
    "counts",
    [
        (12, 13, 8937, 9000),
        (99, 100, 291, 300),
        (2979, 3000, 2982, 3000),
        (0, 5, 5, 5),
        (7, 7, 9, 9),
        (2722, 3000, 12, 13),
    ],
)
def test_exact_test_as_another_library_has_it(counts):
    a, n_a, b, n_b = counts
    wanted = fisher_exact([[a, n_a - a], [b, n_b - b]]).pvalue
    assert same_share_p(*counts) == pytest.approx(wanted, rel=1e-6, abs=1e-12)


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
            same_share_p(1, 2, on_time, planned)
