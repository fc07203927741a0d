"""Whether a long run grew faster or slower: Theil-Sen slope and Mann-Kendall test on block means."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

LEAST_BLOCK_S = 300.0
"""Shortest block whose mean enters the trend (practice). [s]"""

BLOCK_PER_MEMORY = 10
"""A block is at least so many times as long as the run remembers itself (practice). [1]"""

FORGOTTEN_BELOW = 0.1
"""Autocorrelation below which a run no longer remembers itself (practice). [1]"""

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


def drift(mbit_s: FloatArray, step_s: float) -> Drift | None:
    """Theil-Sen slope per hour and Mann-Kendall test on the means of equal blocks.

    Blocks last at least 5 minutes and ten times `memory_samples`, so that neighbours are independent.

    mbit_s   shape (n,), evenly spaced. [Mbit/s]
    step_s   from one value to the next, above 0. [s]
    Returns  None where the run is too short for 10 blocks.
    Source   Sen 1968; Mann 1945, Kendall 1975; the block rules are method section 7.
    """
    block_samples = max(math.ceil(LEAST_BLOCK_S / step_s - 1e-9), BLOCK_PER_MEMORY * memory_samples(mbit_s))
    count = len(mbit_s) // block_samples
    if count < LEAST_BLOCKS:
        return None
    # Blocks share out what is left over, so every sample counts and none is shorter than it must be.
    blocks = np.array_split(mbit_s, count)
    means = np.array([block.mean() for block in blocks])
    lengths = np.array([len(block) for block in blocks])
    middle_h = (np.cumsum(lengths) - lengths / 2) * step_s / 3600
    per_hour, low, high = theil_sen(means, middle_h)
    return Drift(
        per_hour=per_hour,
        low=low,
        high=high,
        p=mann_kendall(means).p,
        blocks=count,
        block_s=float(lengths.min() * step_s),
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


def memory_samples(values: FloatArray) -> int:
    """Lag at which the autocorrelation of the detrended values first falls below 0.1. [samples]

    values   shape (n,), evenly spaced. [any]
    Returns  1 for values that do not vary; n where it never falls below.
    """
    correlation = autocorrelation(detrended(values))
    below = np.flatnonzero(correlation < FORGOTTEN_BELOW)
    return int(below[0]) if len(below) else len(values)


def autocorrelation(values: FloatArray) -> FloatArray:
    """Autocorrelation at every lag, 1 at lag 0, of values with mean 0; sums over n, so it fades with the lag.

    values   shape (n,). [any]
    Returns  shape (n,); 1 and zeros where nothing varies. [1]
    Source   Box & Jenkins, estimator c_k / c_0; by way of the power spectrum (Wiener-Khinchin).
    """
    n = len(values)
    power = np.abs(np.fft.rfft(values, 2 * n)) ** 2
    covariance = np.fft.irfft(power, 2 * n)[:n]
    if covariance[0] <= 0:
        return np.concatenate([np.ones(1), np.zeros(n - 1)])
    return np.asarray(covariance / covariance[0], dtype=np.float64)


def detrended(values: FloatArray) -> FloatArray:
    """Values less their least-squares line; exactly 0 where only rounding noise is left.

    values  shape (n,), evenly spaced. [any]
    """
    time = np.arange(len(values)) - (len(values) - 1) / 2
    level = values - values.mean()
    rest = level - time * (np.dot(time, level) / max(np.dot(time, time), 1.0))
    noise = 1e-12 * np.abs(values).max()
    return np.zeros_like(rest) if np.abs(rest).max() <= noise else rest


def _pairs_variance(counts: NDArray[np.int_]) -> float:
    """Sum of n (n - 1) (2n + 5) / 18."""
    return float((counts * (counts - 1) * (2 * counts + 5)).sum() / 18)
