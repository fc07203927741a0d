"""Whether a long run repeats itself, told apart from the slow swings every link has.

A link remembers its last second, so its spectrum is not flat, and a test against white noise would find waves
everywhere. Here the background is a first-order autoregressive process fitted to the run itself.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.drift import autocorrelation, detrended

FloatArray = NDArray[np.float64]
Truths = NDArray[np.bool_]

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
    cycles    how often it was seen, in the time that was logged. [1]
    step_s    sampling of the run: nothing faster than two of these can be seen. [s]
    exceeded  surrogates it exceeds, of 199. [1]
    share     share of the variance about the trend that a sine of this period explains. [1]
    """

    period_s: float
    cycles: float
    step_s: float
    exceeded: int
    share: float


def find_period(
    values: FloatArray, step_s: float, *, rng: np.random.Generator, known: Truths | None = None
) -> Period | None:
    """The wave whose periodogram stands highest above a first-order autoregressive background, if it is real.

    The background has the lag-one correlation of the detrended run. The largest ratio must exceed that of at
    least 198 of 199 surrogates drawn from the background and treated alike, each spectrum scaled to its own
    total. A short dip that returns every minute is as strong at a third or a fifth of a minute, so a slower
    wave that stands out as clearly, and of which the strongest is a whole fraction, is the one given. Where the
    run has gaps, the surrogates have the same, and only cycles outside them count as seen.

    values   shape (n,), evenly spaced, finite. [any]
    step_s   from one value to the next. [s]
    rng      source of the surrogates; the same state gives the same answer.
    known    shape (n,), which values were logged; None for all of them.
    Returns  None where nothing stands out, or the run is too short for 4 cycles of 2 samples.
    Source   Percival & Walden 1993, chapter 10 (tests against a coloured background); method section 7.
    """
    from scipy.signal import lfilter

    n = len(values)
    if n < LEAST_CYCLES * LEAST_SAMPLES:
        return None
    if known is not None and known.all():
        known = None
    seen = 1.0 if known is None else float(known.mean())
    least = math.ceil(LEAST_CYCLES / seen - 1e-9) if seen else n
    if least * LEAST_SAMPLES > n:
        return None
    values = np.ldexp(values, -math.frexp(float(np.abs(values).max()))[1])  # so that no square leaves the range
    rest = detrended(values, known)
    if not rest.any():
        return None
    # No series of n values has a larger one; with gaps its estimate may.
    most = math.cos(math.pi / (n + 1))
    memory = min(max(float(autocorrelation(rest, known)[1]), -most), most)
    cycles = np.arange(n // LEAST_SAMPLES + 1)
    background = 1 / (1 + memory**2 - 2 * memory * np.cos(2 * np.pi * cycles / n))

    def ratios(series: FloatArray) -> FloatArray:
        """Periodogram over background, from the slowest wave that is seen often enough."""
        power = np.abs(np.fft.rfft(series)) ** 2
        return np.asarray(power[least:] / (background[least:] * power[1:].sum()))

    found = ratios(rest)
    highest = np.empty(SURROGATES)
    reached = 0
    for i in range(SURROGATES):
        noise = rng.standard_normal(n)
        noise[0] /= np.sqrt(1 - memory**2)  # so that the surrogate does not have to settle first
        highest[i] = ratios(detrended(lfilter([1.0], [1.0, -memory], noise), known)).max()
        reached += highest[i] >= found.max()
        if reached > SURROGATES - SURROGATES_TO_EXCEED:
            return None  # the other surrogates could not change that
    exceeded = SURROGATES - reached
    strongest = least + int(found.argmax())
    standing_out = least + np.flatnonzero(found > np.sort(highest)[SURROGATES_TO_EXCEED - 1])
    fraction = _fraction(found * background[least:], strongest, standing_out, least)
    wave = _Wave(values, known, least)
    best = wave.refined(wave.refined(strongest) / fraction)
    return Period(
        period_s=n * step_s / best,
        cycles=best * seen,
        step_s=step_s,
        exceeded=int(exceeded),
        share=wave.explained(best),
    )


def _fraction(power: FloatArray, strongest: int, standing_out: NDArray[np.int_], least: int) -> int:
    """How many cycles of the strongest wave fit one of the slowest wave it may be a part of. [1]

    power         of every wave from *least* cycles on. [any]
    strongest     cycles of the strongest wave in the run, at least *least*. [1]
    standing_out  cycles of the waves above the background, rising. [1]
    """
    slower = standing_out[standing_out <= strongest]
    fractions = np.rint(strongest / slower).astype(int)
    often = strongest >= least * fractions  # a base that was seen too seldom is no base
    fits = np.abs(strongest / fractions - slower) <= 1  # the periodogram cannot tell closer ones apart
    as_strong = power[slower - least] >= _AS_STRONG * power[strongest - least]
    return int(fractions[often & fits & as_strong][0])


class _Wave:
    """Sines of any number of cycles, held against one run by least squares, gaps left out."""

    def __init__(self, values: FloatArray, known: Truths | None, least: int) -> None:
        n = len(values)
        places = slice(None) if known is None else known
        self._values = values[places]
        self._time = (np.arange(n) - (n - 1) / 2)[places] / n
        self._line = np.column_stack([np.ones(len(self._values)), self._time])
        self._variance = float(np.square(detrended(values, known)).sum())
        self._bounds = (float(least), n / LEAST_SAMPLES)

    def refined(self, cycles: float) -> float:
        """Cycles in the run, between the frequencies of the periodogram, that explain most. [1]"""
        from scipy.optimize import minimize_scalar

        least, most = self._bounds
        cycles = min(max(cycles, least), most)
        around = (max(cycles - 1, least), min(cycles + 1, most))
        fit = minimize_scalar(lambda c: -self.explained(c), bounds=around, method="bounded")
        return float(fit.x) if -fit.fun > self.explained(cycles) else float(cycles)

    def explained(self, cycles: float) -> float:
        """Share of the variance about the trend that a sine of so many cycles explains. [1]"""
        angle = 2 * np.pi * cycles * self._time
        model = np.column_stack([self._line, np.cos(angle), np.sin(angle)])
        # At two samples a period one of the two waves is 0 everywhere; least squares copes with that.
        coefficients, *_ = np.linalg.lstsq(model, self._values, rcond=None)
        left = float(np.square(self._values - model @ coefficients).sum())
        return 1 - left / self._variance
