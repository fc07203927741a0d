"""How much each of a row of requests is like the one before it: what makes a run worth fewer independent ones."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def mean_ranks(values: Floats) -> Floats:
    """Rank of each value from 1, equal ones at the mean of their ranks; infinite ones last. [1]

    values  shape (n,)
    Returns shape (n,).
    """
    _, inverse, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    ranks: Floats = (last - (counts - 1) / 2)[inverse]
    return ranks


def lag_one(values: Floats, *, then: float = 0.0, times: int = 0) -> float:
    """Correlation of each value with the next; 0 where all are the same, or there is only one. [1]

    values  shape (n,), n at least 1
    then    a value that follows them, so many *times*: a plan may be much longer than its log
    Source  Box & Jenkins 1976, section 2.1.5: sum of products of neighbours about the mean over the sum of squares.
    """
    about, beyond, squares = _centred(values, then, times)
    products = float(about[:-1] @ about[1:])
    if times:
        products += float(about[-1]) * beyond + (times - 1) * beyond**2
    return products / squares if squares else 0.0


def correlation_time(values: Floats, *, then: float = 0.0, times: int = 0) -> float:
    """How many values in a row say as much of their mean as one that comes by itself; at least 1. [1]

    1 + 2 times the sum of the correlations at all distances, as far as they can be told from noise: neighbouring
    distances are added in pairs, until the first pair that is not above 0; no pair counts more than the one before it.
    Unlike what the lag-one correlation tells alone, noise on a slow swing does not hide the swing.

    values  shape (n,), n at least 1
    then    a value that follows them, so many *times*; distances end with the values
    Source  Geyer 1992, "Practical Markov chain Monte Carlo", section 3.3: the initial monotone sequence estimator.
    """
    about, beyond, squares = _centred(values, then, times)
    if not squares:
        return 1.0
    n = len(values)
    pairs = n // 2
    for some in _PAIRS:
        some = min(some, pairs)
        products = np.array([float(about[: n - k] @ about[k:]) for k in range(2 * some)])
        total = _positive_pairs(_with_tail(products, about, beyond, times) / squares, to_end=some == pairs)
        if total is not None:
            break
    else:
        products = _products(about)[: 2 * pairs]
        total = _positive_pairs(_with_tail(products, about, beyond, times) / squares, to_end=True)
    return max(1.0, 2 * (total or 0.0) - 1.0)


def _centred(values: Floats, then: float, times: int) -> tuple[Floats, float, float]:
    """Values about the mean of all, shape (n,), the value that follows them about it, and the sum of all squares."""
    mean = (float(values.sum()) + times * then) / (len(values) + times)
    about, beyond = values - mean, then - mean
    return about, beyond, float(about @ about) + times * beyond**2


_PAIRS = (2, 16)  # for so many, plain products are quicker than a transform; few logs need more than the first


def _products(about: Floats) -> Floats:
    """Sum of products of values so far apart, shape (n,)."""
    from scipy.fft import irfft, next_fast_len, rfft  # only for the few logs that swing slowly

    length = next_fast_len(2 * len(about), real=True)
    spectrum = rfft(about, length)
    products: Floats = irfft(spectrum.real**2 + spectrum.imag**2, length)[: len(about)]
    return products


def _with_tail(products: Floats, about: Floats, beyond: float, times: int) -> Floats:
    """The products, with those of *times* equal values after the others. Shapes (k,), (n,); Returns (k,)."""
    if not times:
        return products
    n, apart = len(about), np.arange(len(products))
    until = np.concatenate([[0.0], np.cumsum(about)])
    across = until[np.minimum(n, n + times - apart)] - until[n - apart]
    return products + beyond * np.where(apart <= n + times, across, 0.0) + beyond**2 * np.maximum(times - apart, 0)


def _positive_pairs(correlations: Floats, *, to_end: bool = False) -> float | None:
    """Sum of the pairs before the first that is not above 0; None where all are, unless they go *to_end*."""
    pairs = correlations[0::2] + correlations[1::2]
    ended = np.flatnonzero(pairs <= 0)
    if not len(ended) and not to_end:
        return None
    return float(np.minimum.accumulate(pairs[: ended[0]] if len(ended) else pairs).sum())
