"""Whether a long run grew faster or slower: Theil-Sen slope and Mann-Kendall test on block means."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Truths = NDArray[np.bool_]

LEAST_BLOCK_S = 300.0
"""Shortest block whose mean enters the trend (practice). [s]"""

BLOCK_PER_MEMORY = 10
"""A block is at least so many times as long as the run remembers itself (practice). [1]"""

FORGOTTEN_BELOW = 0.1
"""Autocorrelation below which a run no longer remembers itself (practice). [1]"""

LEAST_KNOWN = 0.5
"""A block of which less was logged is left out (practice). [1]"""

LEAST_BLOCKS = 10
"""Fewer blocks say nothing about a trend (practice). [1]"""


@dataclass(frozen=True)
class Drift:
    """Trend over a long run.

    per_hour    Theil-Sen slope of the block means. [Mbit/s per hour]
    low, high   95 % interval of the slope. [Mbit/s per hour]
    p           two-sided p-value of the Mann-Kendall test on the same blocks. [1]
    blocks      how many. [1]
    block_s     length of the shortest. [s]
    """

    per_hour: float
    low: float
    high: float
    p: float
    blocks: int
    block_s: float

    @property
    def found(self) -> bool:
        """Whether the run drifted at all, at 5 %."""
        return self.p < 0.05


@dataclass(frozen=True)
class MannKendall:
    """Kendall's rank test against time.

    s         pairs that rise minus pairs that fall. [1]
    variance  of s without a trend, ties taken into account. [1]
    z         normal score with continuity correction. [1]
    p         two-sided; exact without ties up to 40 values, else from z. [1]
    """

    s: int
    variance: float
    z: float
    p: float


def drift(mbit_s: FloatArray, step_s: float, *, known: Truths | None = None) -> Drift | None:
    """Theil-Sen slope per hour and Mann-Kendall test on the means of equal blocks.

    Blocks last at least 5 minutes and ten times `memory_samples`, so that neighbours are independent. A block
    is the mean of what was logged in it, at the middle of that; one that is mostly a gap is left out.

    mbit_s   shape (n,), evenly spaced. [Mbit/s]
    step_s   from one value to the next, above 0. [s]
    known    shape (n,), which values were logged; None for all of them.
    Returns  None where the run is too short for 10 blocks.
    Source   Sen 1968; Mann 1945, Kendall 1975; the block rules are method section 7.
    """
    if known is None:
        known = np.ones(len(mbit_s), dtype=np.bool_)
    block_samples = max(math.ceil(LEAST_BLOCK_S / step_s - 1e-9), BLOCK_PER_MEMORY * memory_samples(mbit_s, known))
    count = len(mbit_s) // block_samples
    if count < LEAST_BLOCKS:
        return None
    # Blocks share out what is left over, so every sample counts and none is shorter than it must be.
    stretches = np.array_split(np.arange(len(mbit_s)), count)
    blocks = [stretch for stretch in stretches if known[stretch].mean() >= LEAST_KNOWN]
    if len(blocks) < LEAST_BLOCKS:
        return None
    logged = [block[known[block]] for block in blocks]
    means = np.array([mbit_s[places].mean() for places in logged])
    middle_h = np.array([places.mean() + 0.5 for places in logged]) * step_s / 3600
    per_hour, low, high = theil_sen(means, middle_h)
    return Drift(
        per_hour=per_hour,
        low=low,
        high=high,
        p=mann_kendall(means).p,
        blocks=len(blocks),
        block_s=float(min(map(len, blocks)) * step_s),
    )


def theil_sen(values: FloatArray, at: FloatArray, *, level: float = 0.95) -> tuple[float, float, float]:
    """Median of the slopes through every two points, and both ends of its interval. [unit of values per at]

    values  shape (n,), n at least 2. [any]
    at      shape (n,), not all equal. [any]
    level   coverage of the interval. [1]
    Source  Sen 1968, Journal of the American Statistical Association 63, 1379-1389.
    """
    from scipy.stats import theilslopes

    slope, _, low, high = theilslopes(values, at, alpha=level)
    return float(slope), float(low), float(high)


def mann_kendall(values: FloatArray) -> MannKendall:
    """Mann-Kendall test for a trend in values that are independent of each other.

    values  shape (n,), n at least 2, in order of time. [any]
    Raises  ValueError for fewer than two values.
    Source  Kendall 1975; exact null distribution from scipy, normal form as in Gilbert 1987, section 16.4.
    """
    from scipy.special import ndtr
    from scipy.stats import kendalltau

    n = len(values)
    if n < 2:
        raise ValueError(f"a trend needs at least two values, got {n}")
    s = int(sum(np.sign(values[i + 1 :] - values[i]).sum() for i in range(n - 1)))
    _, ties = np.unique(values, return_counts=True)
    variance = float(_pairs_variance(np.array([n])) - _pairs_variance(ties))
    z = (s - np.sign(s)) / math.sqrt(variance) if variance > 0 else 0.0
    p = 2 * float(ndtr(-abs(z)))
    if n <= 40 and ties.max() == 1:
        p = float(kendalltau(np.arange(n), values, method="exact").pvalue)
    return MannKendall(s=s, variance=variance, z=float(z), p=p)


def memory_samples(values: FloatArray, known: Truths | None = None) -> int:
    """Lag at which the autocorrelation of the detrended values first falls below 0.1. [samples]

    values   shape (n,), evenly spaced. [any]
    known    shape (n,), which of them count; None for all.
    Returns  1 for values that do not vary; n where it never falls below.
    """
    correlation = autocorrelation(detrended(values, known), known)
    below = np.flatnonzero(correlation < FORGOTTEN_BELOW)
    return int(below[0]) if len(below) else len(values)


def autocorrelation(values: FloatArray, known: Truths | None = None) -> FloatArray:
    """Autocorrelation at every lag, 1 at lag 0, of values with mean 0; sums over n, so it fades with the lag.

    values   shape (n,), 0 where not known. [any]
    known    shape (n,), which of them count; None for all. A lag is judged by its pairs of known values.
    Returns  shape (n,); 1 and zeros where nothing varies. [1]
    Source   Box & Jenkins, estimator c_k / c_0; by way of the power spectrum (Wiener-Khinchin). With gaps each c_k
             is scaled to as many pairs as there would be without (Parzen 1963, amplitude modulated series).
    """
    n = len(values)
    covariance = lagged_products(values)
    if covariance[0] <= 0:
        return np.concatenate([np.ones(1), np.zeros(n - 1)])
    if known is not None and not known.all():
        pairs = np.rint(lagged_products(known.astype(np.float64)))
        covariance = np.where(pairs > 0, covariance * np.arange(n, 0, -1) / np.maximum(pairs, 1), 0.0)
    return np.asarray(covariance / covariance[0], dtype=np.float64)


def lagged_products(values: FloatArray) -> FloatArray:
    """Sum of each value times the one *lag* later, for every lag."""
    n = len(values)
    power = np.abs(np.fft.rfft(values, 2 * n)) ** 2
    return np.asarray(np.fft.irfft(power, 2 * n)[:n])


def detrended(values: FloatArray, known: Truths | None = None) -> FloatArray:
    """Values less their least-squares line; exactly 0 where only rounding noise is left, and where not known.

    values  shape (n,), evenly spaced. [any]
    known   shape (n,), which of them count, at least one; None for all.
    """
    time = np.asarray(np.arange(len(values)) - (len(values) - 1) / 2, dtype=np.float64)
    if known is not None and not known.all():
        rest = np.zeros_like(values)
        rest[known] = _less_line(values[known], time[known] - float(time[known].mean()))
        return rest
    return _less_line(values, time)


def _less_line(values: FloatArray, time: FloatArray) -> FloatArray:
    """Values less their least-squares line over *time*, whose mean is 0."""
    level = values - values.mean()
    # Not np.dot: on long runs its threads cost five times as much as the sum itself.
    rest = level - time * ((time * level).sum() / max(float(np.square(time).sum()), 1.0))
    noise = 1e-12 * np.abs(values).max()
    return np.zeros_like(rest) if np.abs(rest).max() <= noise else rest


def _pairs_variance(counts: NDArray[np.int_]) -> float:
    """Sum of n (n - 1) (2n + 5) / 18."""
    return float((counts * (counts - 1) * (2 * counts + 5)).sum() / 18)
