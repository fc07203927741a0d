"""Degrees of freedom, half-widths and Holm's procedure against scipy, statsmodels and printed tables."""

import math
import statistics
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from builder.metrics.intervals import (
    effective_df,
    half_width,
    holm_separated,
    standard_deviation,
    two_sided_p,
)

Published = Callable[[str], list[dict[str, str]]]

RATES = st.floats(min_value=0, max_value=1e6) | st.decimals(0, 99999, places=2).map(float)


@given(st.lists(RATES, min_size=2, max_size=40))
def test_standard_deviation_is_the_float_nearest_to_the_exact_one(values: list[float]) -> None:
    # Reference library: Python's own statistics.stdev, which works in fractions and rounds once.
    assert standard_deviation(values) == statistics.stdev(values)


def test_standard_deviation_by_hand() -> None:
    # By hand: 2, 4, 4, 4, 5, 5, 7, 9 have a sum of squared deviations of 32, so s^2 = 32 / 7; 1 and 3 have s^2 = 2.
    assert standard_deviation([2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]) == pytest.approx((32 / 7) ** 0.5, rel=1e-15)
    assert standard_deviation([1.0, 3.0]) == 2**0.5
    assert standard_deviation([743.1] * 3) == 0.0
    with pytest.raises(ValueError, match="no spread"):
        standard_deviation([1.0])


@pytest.mark.parametrize("sizes", [(3, 3), (3, 8), (2, 30)])
def test_welch_t_test(sizes: tuple[int, int]) -> None:
    # Reference library: scipy's t-test with unequal variances (Welch 1947), its df, p and interval.
    rng = np.random.default_rng(20)
    a, b = rng.normal(700, 10, sizes[0]), rng.normal(720, 40, sizes[1])
    components = [(float(x.var(ddof=1)) / len(x), len(x) - 1) for x in (a, b)]
    u, df = math.sqrt(sum(v for v, _ in components)), effective_df(components)
    reference = stats.ttest_ind(a, b, equal_var=False)
    assert df == pytest.approx(reference.df, rel=1e-12)
    difference = float(a.mean() - b.mean())
    assert two_sided_p(difference, u, df) == pytest.approx(reference.pvalue, rel=1e-9)
    interval = reference.confidence_interval(0.95)
    assert difference - half_width(u, df) == pytest.approx(interval.low, rel=1e-9)
    assert difference + half_width(u, df) == pytest.approx(interval.high, rel=1e-9)


def test_infinite_degrees_of_freedom_add_variance_only() -> None:
    # By hand from JCGM 100:2008 (G.2b): (3 + 1)^2 / (3^2 / 4) = 64/9.
    assert effective_df([(3.0, 4), (1.0, math.inf)]) == pytest.approx(64 / 9, rel=1e-15)
    assert effective_df([(3.0, math.inf), (1.0, math.inf)]) == math.inf


def test_zero_variances_are_ignored() -> None:
    assert effective_df([(2.0, 5), (0.0, 1), (0.0, 0)]) == pytest.approx(5, rel=1e-15)
    assert effective_df([(0.0, 3)]) == math.inf
    assert effective_df([]) == math.inf


def test_units_do_not_move_degrees_of_freedom() -> None:
    # By hand: df has no unit, so a factor on every variance changes nothing, however small or large.
    components = [(2.0, 2), (3.0, 7)]
    for factor in (1e-200, 1e200):
        scaled = [(v * factor, df) for v, df in components]
        assert effective_df(scaled) == pytest.approx(effective_df(components), rel=1e-12)


def test_wrong_components_are_refused() -> None:
    with pytest.raises(ValueError, match=r"a variance must be at least 0, got -1\.0"):
        effective_df([(-1.0, 3)])
    with pytest.raises(ValueError, match="degrees of freedom must be above 0, got 0"):
        effective_df([(1.0, 0)])
    with pytest.raises(ValueError, match="a variance must be at least 0, got nan"):
        effective_df([(math.nan, 3)])


@pytest.mark.parametrize(
    ("df", "quantile"),
    # Source: printed tables of Student's t, 97.5 % (any handbook, e.g. JCGM 100:2008 table G.2 at 95 %).
    [(1, 12.71), (2, 4.30), (4, 2.78), (10, 2.23), (20, 2.09), (50, 2.01), (math.inf, 1.960)],
)
def test_half_width_uses_student_t(df: float, quantile: float) -> None:
    assert half_width(1.0, df) == pytest.approx(quantile, abs=0.005)
    assert half_width(7.0, df) == pytest.approx(7 * half_width(1.0, df), rel=1e-15)


def test_half_width_of_the_worked_examples() -> None:
    # Source: worked stories of the job analysis: n = 3 and s = 20 twice gives 45.34; story 8 gives 61.67.
    assert half_width(20 * math.sqrt(2 / 3), 4) == pytest.approx(45.34, abs=0.005)
    assert half_width(31.421, 877) == pytest.approx(61.67, abs=0.005)
    assert half_width(17.5, math.inf) == pytest.approx(34.30, abs=0.005)


def test_fractional_degrees_of_freedom_are_not_rounded() -> None:
    # Reference library: scipy.stats.t.
    assert half_width(1.0, 3.7) == pytest.approx(stats.t.ppf(0.975, 3.7), rel=1e-12)
    assert half_width(1.0, 4) < half_width(1.0, 3.7) < half_width(1.0, 3)


def test_arrays_agree_with_single_figures() -> None:
    u = np.array([0.0, 2.0, 3.0])
    df = np.array([3.0, math.inf, 2.5])
    difference = np.array([1.0, -4.0, 2.0])
    assert half_width(u, df).tolist() == [half_width(*pair) for pair in zip(u, df, strict=True)]
    expected = [two_sided_p(*three) for three in zip(difference, u, df, strict=True)]
    assert two_sided_p(difference, u, df).tolist() == expected


def test_p_and_interval_say_the_same() -> None:
    # By hand: a difference just inside its half-width has p above 0.05, just outside below.
    for df in (2.0, 5.5, math.inf):
        edge = half_width(3.0, df)
        assert two_sided_p(0.999 * edge, 3.0, df) > 0.05 > two_sided_p(-1.001 * edge, 3.0, df)
        assert two_sided_p(edge, 3.0, df) == pytest.approx(0.05, rel=1e-9)


def test_p_without_uncertainty() -> None:
    assert two_sided_p(0.0, 0.0, math.inf) == 1.0
    assert two_sided_p(0.1, 0.0, math.inf) == 0.0
    with pytest.raises(ValueError, match=r"a standard uncertainty must be at least 0, got -1\.0"):
        two_sided_p(1.0, -1.0, 3)
    with pytest.raises(ValueError, match=r"degrees of freedom must be above 0, got 0\.0"):
        half_width(1.0, 0.0)


def test_holm_on_published_p_values(published: Published) -> None:
    # Source: data of Benjamini & Hochberg 1995, section 3.2; adjusted by statsmodels and scipy. With the fourth
    # p-value Holm stops, although an unadjusted reading would go on.
    rows = [row for row in published("multiple_testing") if row["method"].startswith("holm")]
    groups = {method: [row for row in rows if row["method"] == method] for method in {r["method"] for r in rows}}
    assert sum(len(group) for group in groups.values()) >= 15
    for group in groups.values():
        p_values = [float(row["p"]) for row in group]
        expected = [float(row["expected_adjusted_p"]) for row in group]
        assert holm_separated(p_values).tolist() == [row["reject_at_0_05"] == "1" for row in group]
        # An adjusted p-value is the smallest alpha at which the comparison is separated; one of 1 was cut to that.
        for place, adjusted in enumerate(expected):
            assert not holm_separated(p_values, adjusted - 1e-9)[place]
            assert adjusted == 1 or holm_separated(p_values, adjusted + 1e-9)[place]


@pytest.mark.parametrize("seed", range(5))
def test_holm_against_statsmodels(seed: int) -> None:
    # Reference library: statsmodels, on p-values with ties, in no order.
    rng = np.random.default_rng(seed)
    p_values = np.round(rng.beta(0.3, 3, 12), 3).tolist()
    for alpha in (0.05, 0.2):
        assert holm_separated(p_values, alpha).tolist() == multipletests(p_values, alpha, method="holm")[0].tolist()


def test_holm_stops_at_the_first_that_fails() -> None:
    # By hand: 0.03 * 3 > 0.05 stops; 0.04 alone would pass at its own step (0.04 * 1).
    assert holm_separated([0.04, 0.001, 0.035, 0.03]).tolist() == [False, True, False, False]
    assert holm_separated([]).tolist() == []
    assert holm_separated([0.05])[0]
    assert not holm_separated([0.0501])[0]
    with pytest.raises(ValueError, match=r"a p-value must lie in 0\.\.1, got 1\.2"):
        holm_separated([0.5, 1.2])


@given(
    st.integers(0, 6).flatmap(
        lambda n: st.lists(
            st.lists(
                st.sampled_from([0.0, 0.001, 0.0084, 0.01, 0.0125, 0.02, 0.025, 0.05, 0.051, 0.3, 1.0]),
                min_size=n,
                max_size=n,
            ),
            min_size=1,
            max_size=5,
        )
    )
)
def test_holm_of_many_tables_is_holm_table_by_table(rows: list[list[float]]) -> None:
    # Reference library: statsmodels, a table at a time.
    found = holm_separated(np.array(rows, dtype=np.float64).reshape(len(rows), -1))
    assert found.shape == (len(rows), len(rows[0]))
    for row, own in zip(rows, found.tolist(), strict=True):
        assert own == (multipletests(row, alpha=0.05, method="holm")[0].tolist() if row else [])
