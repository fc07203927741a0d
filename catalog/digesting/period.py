"""Whether a long run repeats itself, told apart from the slow swings every link has.

A link remembers its last second, so its spectrum is not flat, and a test against white noise would find waves
everywhere. Here the background is a first-order autoregressive process fitted to the run itself.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.drift import autocorrelation, detrended

FloatArray = NDArray[np.float64]

SURROGATES = 199
"""Runs of the background that are drawn to compare with. [1]"""

SURROGATES_TO_EXCEED = 198
"""Of those, how many the run must exceed: a false wave in about 1 run of 100. [1]"""

LEAST_CYCLES = 4
"""A period is claimed only if it was seen so many whole times (practice). [1]"""

LEAST_SAMPLES = 2
"""A period shorter than so many samples cannot be seen. Source: sampling theorem. [1]"""

_AS_STRONG = 0.25
"""A slower wave is the base of a faster one if it carries at least so much of its power (own rule). [1]"""


@dataclass(frozen=True)
class Period:
    """A wave that stands out of its background. What causes it cannot be told from one client.

    period_s  [s]
    cycles    how often it was seen. [1]
    step_s    sampling of the run: nothing faster than two of these can be seen. [s]
    exceeded  surrogates it exceeds, of 199. [1]
    share     share of the variance about the trend that a sine of this period explains. [1]
    """

    period_s: float
    cycles: float
    step_s: float
    exceeded: int
    share: float


def find_period(values: FloatArray, step_s: float, *, rng: np.random.Generator) -> Period | None:
    """The wave whose periodogram stands highest above a first-order autoregressive background, if it is real.

    The background has the lag-one correlation of the detrended run. The largest ratio must exceed that of at
    least 198 of 199 surrogates drawn from the background and treated alike, each spectrum scaled to its own
    total. A short dip that returns every minute is as strong at a third or a fifth of a minute, so a slower
    wave that stands out as clearly, and of which the strongest is a whole fraction, is the one given.

    values   shape (n,), evenly spaced. [any]
    step_s   from one value to the next. [s]
    rng      source of the surrogates; the same state gives the same answer.
    Returns  None where nothing stands out, or the run is too short for 4 cycles of 2 samples.
    Source   Percival & Walden 1993, chapter 10 (tests against a coloured background); method section 7.
    """
    from scipy.signal import lfilter

    n = len(values)
    if n < LEAST_CYCLES * LEAST_SAMPLES:
        return None
    rest = detrended(values)
    if not rest.any():
        return None
    memory = autocorrelation(rest)[1]
    cycles = np.arange(n // LEAST_SAMPLES + 1)
    background = 1 / (1 + memory**2 - 2 * memory * np.cos(2 * np.pi * cycles / n))

    def ratios(series: FloatArray) -> FloatArray:
        """Periodogram over background, from the slowest wave that is seen often enough."""
        power = np.abs(np.fft.rfft(series)) ** 2
        return np.asarray(power[LEAST_CYCLES:] / (background[LEAST_CYCLES:] * power[1:].sum()))

    found = ratios(rest)
    highest = np.empty(SURROGATES)
    reached = 0
    for i in range(SURROGATES):
        noise = rng.standard_normal(n)
        noise[0] /= np.sqrt(1 - memory**2)  # so that the surrogate does not have to settle first
        highest[i] = ratios(detrended(lfilter([1.0], [1.0, -memory], noise))).max()
        reached += highest[i] >= found.max()
        if reached > SURROGATES - SURROGATES_TO_EXCEED:
            return None  # the other surrogates could not change that
    exceeded = SURROGATES - reached
    strongest = LEAST_CYCLES + int(found.argmax())
    standing_out = LEAST_CYCLES + np.flatnonzero(found > np.sort(highest)[SURROGATES_TO_EXCEED - 1])
    fraction = _fraction(found * background[LEAST_CYCLES:], strongest, standing_out)
    best = _refined(values, _refined(values, strongest) / fraction)
    return Period(
        period_s=n * step_s / best,
        cycles=best,
        step_s=step_s,
        exceeded=int(exceeded),
        share=_explained(values, best),
    )


def _fraction(power: FloatArray, strongest: int, standing_out: NDArray[np.int_]) -> int:
    """How many cycles of the strongest wave fit one of the slowest wave it may be a part of. [1]

    power         of every wave from `LEAST_CYCLES` on. [any]
    strongest     cycles of the strongest wave in the run. [1]
    standing_out  cycles of the waves above the background, rising. [1]
    """
    slower = standing_out[standing_out <= strongest]
    fractions = np.rint(strongest / slower).astype(int)
    fits = np.abs(strongest / fractions - slower) <= 1  # the periodogram cannot tell closer ones apart
    as_strong = power[slower - LEAST_CYCLES] >= _AS_STRONG * power[strongest - LEAST_CYCLES]
    return int(fractions[fits & as_strong][0])


def _refined(values: FloatArray, cycles: float) -> float:
    """Cycles in the run, between the frequencies of the periodogram, that explain most. [1]"""
    from scipy.optimize import minimize_scalar

    lowest = max(cycles - 1, LEAST_CYCLES)
    highest = min(cycles + 1, len(values) / LEAST_SAMPLES)
    cycles = min(max(cycles, lowest), highest)
    fit = minimize_scalar(lambda c: -_explained(values, c), bounds=(lowest, highest), method="bounded")
    return float(fit.x) if -fit.fun > _explained(values, cycles) else float(cycles)


def _explained(values: FloatArray, cycles: float) -> float:
    """Share of the variance about the trend that a sine of so many cycles explains. [1]"""
    n = len(values)
    time = np.arange(n) - (n - 1) / 2
    angle = 2 * np.pi * cycles * time / n
    model = np.column_stack([np.ones(n), time / n, np.cos(angle), np.sin(angle)])
    # At two samples a period one of the two waves is 0 everywhere; least squares copes with that.
    coefficients, *_ = np.linalg.lstsq(model, values, rcond=None)
    left = float(np.square(values - model @ coefficients).sum())
    return 1 - left / float(np.square(detrended(values)).sum())
