"""Whether a long run repeats itself, told apart from the slow swings every link has.

A link remembers its last second, so its spectrum is not flat, and a test against white noise would find waves
everywhere. Here the background is an autoregressive process plus white noise, fitted to the run itself, and a
wave has to show in both halves of the run.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.background import Background, fitted_background
from catalog.digesting.drift import detrended, lagged_products

FloatArray = NDArray[np.float64]
Truths = NDArray[np.bool_]
Whole = NDArray[np.int_]

SURROGATES = 199
"""Runs of the background that are drawn to compare with. [1]"""

SURROGATES_TO_EXCEED = 198
"""Of those, how many the run must exceed: a false wave in about 1 run of 100. [1]"""

LEAST_CYCLES = 6
"""A period is claimed only if it was seen so many whole times (practice). [1]"""

LEAST_SAMPLES = 2
"""A period shorter than so many samples cannot be seen. Source: sampling theorem. [1]"""

LARGEST_OF_HALF = 3
"""In each half of the run, the period is among so many largest ratios (own rule). [1]"""

_AS_STRONG = 0.25
"""A slower wave is the base of a faster one if it carries at least so much of its power (own rule). [1]"""


@dataclass(frozen=True)
class Period:
    """A wave that stands out from its background. What causes it cannot be told from one client.

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
    """The wave whose periodogram stands highest above the background, if it is real.

    The background is fitted to the periodogram of the detrended run without the wave that stands out most, which
    would otherwise lift it. The largest ratio of the two must exceed that of at least 198 of 199 surrogates drawn from
    the background and treated alike, and the wave must be among the three largest ratios of each half of the run by
    itself. A short dip that returns every minute is as strong at a third or a fifth of a minute, so a slower wave that
    stands out as clearly, and of which the strongest is a whole fraction, is the one given. Where the run has gaps, the
    surrogates have the same, and only cycles outside them count as seen.

    values   shape (n,), evenly spaced, finite. [any]
    step_s   from one value to the next. [s]
    rng      source of the surrogates; the same state gives the same answer.
    known    shape (n,), which values were logged; None for all of them.
    Returns  None where nothing stands out, or the run is too short for 6 cycles of 2 samples.
    Source   Percival & Walden 1993, chapter 10 (tests against a coloured background); method section 7.
    """
    n = len(values)
    if known is None:
        known = np.ones(n, dtype=np.bool_)
    if n < LEAST_CYCLES * LEAST_SAMPLES or not known.any():
        return None
    seen = float(known.mean())
    least = math.ceil(LEAST_CYCLES / seen - 1e-9)
    if least * LEAST_SAMPLES > n:
        return None
    values = np.ldexp(values, -math.frexp(float(np.abs(values).max()))[1])  # so that no square leaves the range
    spectrum = _spectrum(values, known)
    if spectrum is None:
        return None
    # What stands out is not part of the background, or a slow wave would be taken for wander.
    spectrum = replace(spectrum, wave=least + int(spectrum.ratios[least - 1 :].argmax()))
    largest = spectrum.ratios[least - 1 :].max()
    highest = np.empty(SURROGATES)
    reached = 0
    for i in range(SURROGATES):
        surrogate = spectrum.background.surrogate(n, rng)
        highest[i] = spectrum.ratios_of(_power(detrended(surrogate, known)))[least - 1 :].max()
        reached += highest[i] >= largest
        if reached > SURROGATES - SURROGATES_TO_EXCEED:
            return None  # the other surrogates could not change that
    strongest = least + int(spectrum.ratios[least - 1 :].argmax())
    to_exceed = np.sort(highest)[SURROGATES_TO_EXCEED - 1]
    standing_out = least + np.flatnonzero(spectrum.ratios[least - 1 :] > to_exceed)
    wave = _Wave(values, known, least)
    base = wave.refined(strongest) / _fraction(spectrum.power, strongest, standing_out, least)
    multiples = standing_out[np.abs(standing_out - base * np.rint(standing_out / base)) <= 1]
    if not _in_both_halves(multiples, values, known, strongest=strongest):
        return None
    best = wave.refined(base)
    return Period(
        period_s=n * step_s / best,
        cycles=best * seen,
        step_s=step_s,
        exceeded=SURROGATES - int(reached),
        share=wave.explained(best),
    )


@dataclass(frozen=True)
class _Spectrum:
    """A run as waves of 1, 2, ... n // 2 cycles.

    power  periodogram of the detrended run, shape (n // 2,). [any]
    pairs  pairs of logged values at every lag, shape (n,). [1]
    wave   cycles of the wave that the background is fitted without, and without what leaks beside it. [1]
    """

    power: FloatArray
    pairs: FloatArray
    wave: float | None

    @cached_property
    def background(self) -> Background:
        """The process that the run is held against."""
        counted = np.ones(len(self.power), dtype=np.bool_)
        if self.wave is not None:
            counted = np.abs(1 + np.arange(len(self.power)) - self.wave) > 1
        return fitted_background(self.power, self.pairs, counted)

    @cached_property
    def ratios(self) -> FloatArray:
        """Periodogram over background."""
        return self.ratios_of(self.power)

    def ratios_of(self, power: FloatArray) -> FloatArray:
        """A periodogram over this background, at the level that makes the mean ratio 1."""
        ratios = power / self._expected
        return np.asarray(ratios / ratios.mean())

    @cached_property
    def _expected(self) -> FloatArray:
        return self.background.power(self.pairs)


def _spectrum(values: FloatArray, known: Truths, *, wave: float | None = None) -> _Spectrum | None:
    """The waves of a run; None where nothing is left without the trend."""
    rest = detrended(values, known)
    if len(values) < LEAST_SAMPLES or not rest.any():
        return None
    return _Spectrum(_power(rest), np.rint(lagged_products(known.astype(np.float64))), wave)


def _power(values: FloatArray) -> FloatArray:
    """Periodogram of values whose mean is 0, from one cycle on. [square of their unit]"""
    return np.asarray(np.abs(np.fft.rfft(values)[1:]) ** 2)


def _in_both_halves(multiples: Whole, values: FloatArray, known: Truths, *, strongest: int) -> bool:
    """Whether a period is among the largest ratios of each half of what was logged, within one frequency step of it.

    A short dip is as strong at many fractions of its period, and each half may show another of them most.

    multiples  cycles of the period, and of its fractions, that stand out of the whole run. [1]
    strongest  the strongest of them. [1]
    """
    n = len(values)
    middle = 1 + int(np.searchsorted(np.cumsum(known), known.sum() / 2))
    for part in (slice(0, middle), slice(middle, n)):
        length = len(values[part])
        spectrum = _spectrum(values[part], known[part], wave=strongest * length / n)
        if spectrum is None:
            return False
        largest = 1 + np.argsort(spectrum.ratios, kind="stable")[-LARGEST_OF_HALF:]
        if np.abs(largest[:, np.newaxis] - multiples * length / n).min() > 1:
            return False
    return True


def _fraction(power: FloatArray, strongest: int, standing_out: Whole, least: int) -> int:
    """How many cycles of the strongest wave fit one of the slowest wave it may be a part of. [1]

    power         of every wave from one cycle on. [any]
    strongest     cycles of the strongest wave in the run, at least *least*. [1]
    standing_out  cycles of the waves above the background, rising. [1]
    """
    slower = standing_out[standing_out <= strongest]
    fractions = np.rint(strongest / slower).astype(int)
    often = strongest >= least * fractions  # a base that was seen too seldom does not count
    fits = np.abs(strongest / fractions - slower) <= 1  # the periodogram cannot tell closer ones apart
    as_strong = power[slower - 1] >= _AS_STRONG * power[strongest - 1]
    return int(fractions[often & fits & as_strong][0])


class _Wave:
    """Sines of any number of cycles, held against one run by least squares, gaps left out."""

    def __init__(self, values: FloatArray, known: Truths, least: int) -> None:
        n = len(values)
        self._values = values[known]
        self._time = (np.arange(n) - (n - 1) / 2)[known] / n
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
