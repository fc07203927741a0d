"""Standard deviations, degrees of freedom, half-widths and step-down verdicts: from an uncertainty to a statement.

Nothing here depends on where a variance comes from; `bench.uncertainty` puts the terms of method section 3 together.
scipy is imported inside the functions because it costs more start-up time than most commands take.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

TWO_SIDED_LEVEL = 0.95
"""Coverage of every printed interval. [1]"""

_ROOT_BITS = 110  # the root of this many bits has the 53 of a float and two more, which say how to round


def standard_deviation(values: Sequence[float]) -> float:
    """Sample standard deviation, divisor n - 1: the float nearest to the exact one. [unit of the values]

    Worked out in whole numbers, because floats are integer multiples of powers of 2.

    values   shape (n,), n at least 2, finite. [any]
    Raises   ValueError for fewer than two values.
    Source   JCGM 100:2008, 4.2.2.
    """
    n = len(values)
    if n < 2:
        raise ValueError("one value has no spread")
    ratios = [value.as_integer_ratio() for value in values]
    unit = max(below for _, below in ratios)
    whole = [above * (unit // below) for above, below in ratios]
    # The variance is squares / (n * (n - 1) * unit**2), exactly.
    squares, divisor = n * sum(x * x for x in whole) - sum(whole) ** 2, n * (n - 1)
    shift = max(0, (_ROOT_BITS + 1 + divisor.bit_length() - squares.bit_length()) // 2)
    squares <<= 2 * shift
    root = math.isqrt(squares // divisor)
    root |= root * root * divisor != squares  # a last bit for what was cut off, so that the division rounds rightly
    return root / (unit << shift)


def effective_df(components: Sequence[tuple[float, float]]) -> float:
    """Effective degrees of freedom of a sum of independent variance components. [1]

    nu = (sum of v)^2 / sum of (v^2 / nu_v); not rounded. A component with infinitely many degrees of freedom
    adds to the variance only. Where all are infinite, or every variance is zero, the answer is infinite.

    components  pairs (variance, degrees of freedom); math.inf allowed for the latter. [unit squared, 1]
    Raises      ValueError for a variance below 0, or degrees of freedom not above 0 on a variance above 0.
    Source      JCGM 100:2008, G.4.1, equation (G.2b) (Welch-Satterthwaite).
    """
    total = 0.0
    for variance, df in components:
        if not variance >= 0:
            raise ValueError(f"a variance must be at least 0, got {variance}")
        if variance > 0 and not df > 0:
            raise ValueError(f"degrees of freedom must be above 0, got {df}")
        total += variance
    # Shares of the total keep the fourth powers of very small or large units from under- or overflowing.
    weight = sum((variance / total) ** 2 / df for variance, df in components if variance > 0)
    return 1 / weight if weight > 0 else math.inf


def half_width(u: ArrayLike, df: ArrayLike) -> Floats:
    """Half-width of the two-sided 95 % interval: t(0.975, df) times *u*; the normal quantile for infinite df.

    u        standard uncertainty, at least 0; any shape. [unit of the figure]
    df       degrees of freedom above 0, need not be whole; math.inf allowed; the same shape. [1]
    Raises   ValueError for u below 0 or df not above 0.
    Source   JCGM 100:2008, 6.2 and G.3.
    """
    from scipy.special import ndtri, stdtrit

    u, df = _uncertainties(u, df)
    upper = (1 + TWO_SIDED_LEVEL) / 2
    finite = np.isfinite(df)
    quantile = np.where(finite, stdtrit(np.where(finite, df, 1.0), upper), ndtri(upper))
    return np.asarray(quantile * u, dtype=np.float64)


def two_sided_p(difference: ArrayLike, u: ArrayLike, df: ArrayLike) -> Floats:
    """Two-sided p-value of *difference* against zero on Student's t. [1]

    With u = 0 nothing is uncertain: 1 for a difference of exactly 0, else 0.

    difference  any shape. [unit of the figure]
    u           its standard uncertainty, at least 0; the same shape. [unit of the figure]
    df          degrees of freedom above 0; math.inf allowed; the same shape. [1]
    Raises      ValueError for u below 0 or df not above 0.
    Source      Student's t; the counterpart of `half_width`: p < 0.05 where 0 lies outside the interval.
    """
    from scipy.special import ndtr, stdtr

    difference = np.asarray(difference, dtype=np.float64)
    u, df = _uncertainties(u, df)
    certain = u == 0
    size = np.abs(difference) / np.where(certain, 1.0, u)
    finite = np.isfinite(df)
    tail = np.where(finite, stdtr(np.where(finite, df, 1.0), -size), ndtr(-size))
    return np.asarray(np.where(certain, (difference == 0) * 1.0, 2 * tail), dtype=np.float64)


def holm_separated(p_values: ArrayLike, alpha: float = 0.05) -> NDArray[np.bool_]:
    """Which of several comparisons stay separated when all of a table are judged together.

    The smallest p-value is multiplied by the number of comparisons, the next by one less, and so on; the first product
    above *alpha* ends it. Equal p-values pass or fail together.

    p_values  shape (n,) of one table, or (tables, n), a table per row; each in 0..1. [1]
    alpha     chance of one or more false separations in a whole table. [1]
    Returns   the same shape.
    Raises    ValueError for a p-value outside 0..1.
    Source    Holm 1979, Scandinavian Journal of Statistics 6, 65-70.
    """
    p_values = np.asarray(p_values, dtype=np.float64)
    outside = p_values[~((p_values >= 0) & (p_values <= 1))]
    if outside.size:
        raise ValueError(f"a p-value must lie in 0..1, got {outside[0]}")
    ordered = np.sort(p_values, axis=-1)
    fails = np.arange(p_values.shape[-1], 0, -1) * ordered > alpha
    first_failing = np.where(fails, ordered, np.inf).min(axis=-1, keepdims=True, initial=np.inf)
    return np.asarray(p_values < first_failing)


def _uncertainties(u: ArrayLike, df: ArrayLike) -> tuple[Floats, Floats]:
    u, df = np.asarray(u, dtype=np.float64), np.asarray(df, dtype=np.float64)
    if not np.all(u >= 0):
        raise ValueError(f"a standard uncertainty must be at least 0, got {np.min(u)}")
    if not np.all(df > 0):
        raise ValueError(f"degrees of freedom must be above 0, got {np.min(df)}")
    return u, df
