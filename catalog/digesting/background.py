"""What the spectrum of a run looks like without a period: slow wander plus white noise."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Truths = NDArray[np.bool_]

LEAST_MEMORY = -0.9
"""A process that alternates for longer would be taken for a wave of two samples, and the other way round. [1]"""

_LOG_WHITE = (-6.0, 16.0)
"""Natural logarithm of the least and most white noise that a fit tries; beyond them nothing changes. [1]"""

_MEMORIES = 13
"""Memories that a fit tries before it searches between the best of them, because it may have several minima. [1]"""

_BANDS = 120
"""Bands in which the fit sums the spectrum where it is smooth, so that long runs take no longer. [1]"""

_ROUNDING = 1e-12
"""Share of the largest power below which there is only rounding noise. [1]"""


@dataclass(frozen=True)
class Background:
    """A first-order autoregressive process whose innovations have the variance 1, plus white noise.

    memory  lag-one correlation of the autoregressive process, between -1 and 1. [1]
    white   variance of the white noise. [1]
    """

    memory: float
    white: float

    def power(self, pairs: FloatArray) -> FloatArray:
        """The periodogram it has on average, from one cycle in the run on, up to two samples a cycle.

        This is the exact mean for so many values and these gaps, not the spectrum of an endless run.

        pairs    shape (n,), pairs of logged values so many samples apart. [1]
        Returns  shape (n // 2,).
        Source   Sykulski et al. 2019, Biometrika 106, 251-266 (from memory).
        """
        n = len(pairs)
        covariance = self.memory ** np.arange(n) / (1 - self.memory**2) * pairs
        covariance[0] += self.white * pairs[0]
        covariance[1:] += covariance[:0:-1].copy()  # lags either way fall on the same frequencies
        return np.asarray(np.fft.rfft(covariance).real[1:])

    def surrogate(self, n: int, rng: np.random.Generator) -> FloatArray:
        """One run of it, shape (n,)."""
        from scipy.signal import lfilter

        slow, white = rng.standard_normal((2, n))
        slow[0] /= math.sqrt(1 - self.memory**2)  # so that it does not have to settle first
        return np.asarray(lfilter([1.0], [1.0, -self.memory], slow) + math.sqrt(self.white) * white)


def fitted_background(power: FloatArray, pairs: FloatArray, counted: Truths) -> Background:
    """The background under which the counted part of a periodogram is most likely, whatever its level.

    The level is the third parameter; its best value makes the mean ratio of periodogram to background 1.

    power    shape (n // 2,), periodogram of the detrended run from one cycle on, not 0 everywhere. [any]
    pairs    shape (n,), pairs of logged values so many samples apart. [1]
    counted  shape (n // 2,), which waves belong to the background; all do if none would be left.
    Source   Whittle 1953; with the mean periodogram in place of the spectrum, Sykulski et al. 2019 (from memory).
    """
    from scipy.optimize import minimize_scalar

    counted = counted if counted.any() else np.ones_like(counted)
    starts = _band_starts(len(power))
    widths = np.diff(starts, append=len(power))
    sizes = np.add.reduceat(counted.astype(np.float64), starts)
    total = sizes.sum()
    # A wave without any noise leaves exact zeros beside it, which have no logarithm.
    floored = np.maximum(power, _ROUNDING * power.max())
    banded = np.add.reduceat(np.where(counted, floored, 0.0), starts)

    def misfit(expected: FloatArray) -> float:
        """Minus the log-likelihood at the best level, but for a constant."""
        return float(total * math.log((banded / expected).sum()) + np.dot(sizes, np.log(expected)))

    def best(reach: float) -> tuple[float, float]:
        """Least misfit at a memory of tanh(reach), and the logarithm of the white noise it takes."""
        slow = np.add.reduceat(Background(math.tanh(reach), 0.0).power(pairs), starts) / widths
        fit = minimize_scalar(
            lambda log_white: misfit(slow + math.exp(log_white) * pairs[0]),
            bounds=_LOG_WHITE,
            method="bounded",
            options={"xatol": 0.01},
        )
        return float(fit.fun), float(fit.x)

    # A memory longer than the run is a trend.
    reaches = np.linspace(math.atanh(LEAST_MEMORY), math.atanh(1 - 1 / len(pairs)), _MEMORIES)
    nearest = int(np.argmin([best(reach)[0] for reach in reaches]))
    between = (reaches[max(nearest - 1, 0)], reaches[min(nearest + 1, _MEMORIES - 1)])
    fit = minimize_scalar(lambda reach: best(reach)[0], bounds=between, method="bounded", options={"xatol": 0.01})
    return Background(memory=math.tanh(fit.x), white=math.exp(best(fit.x)[1]))


def _band_starts(count: int) -> NDArray[np.int_]:
    """Where each band of the fit begins: one frequency each among the slow ones, where the spectrum is steep."""
    edges = np.geomspace(1, count + 1, _BANDS)
    return np.unique(edges.astype(int))[:-1] - 1 if count > 1 else np.zeros(1, dtype=int)
