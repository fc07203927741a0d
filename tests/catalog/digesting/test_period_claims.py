"""How often noise without a period is taken for one, and how many waves are found: method section 7, simulated.

Each run is an hour at one value a second. LIKELOSS_PERIOD_RUNS sets the noise runs a process (60 without it; 200 or
more by hand: the figures, shown with --log-cli-level=INFO, stand in DEVELOPERS.md). There are a tenth as many waves,
at least 12 and at most 40.
"""

import logging
import os
from collections.abc import Callable

import numpy as np
import pytest
from scipy import signal, stats

from catalog.digesting.period import LEAST_CYCLES, find_period

LOG = logging.getLogger(__name__)
RUNS = int(os.environ.get("LIKELOSS_PERIOD_RUNS", "60"))
WAVES = min(max(RUNS // 10, 12), 40)
SAMPLES = 3600
SLACK = 0.01
"""A test fails where a rate at its limit would do so less often than this (binomial)."""

Array = np.ndarray


def autoregressive(generator: np.random.Generator, memory: float) -> Array:
    """First-order process of variance 1, settled before it is used."""
    innovations = generator.standard_normal(SAMPLES + 3000)
    return signal.lfilter([1.0], [1.0, -memory], innovations)[3000:] * np.sqrt(1 - memory**2)


def two_rates(generator: np.random.Generator, noise: float) -> Array:
    """Two rates in turn, 1 above and below the mean, each kept for 60 s on average, plus white noise."""
    ends = np.cumsum(generator.exponential(60, SAMPLES))
    place = np.searchsorted(ends, np.arange(SAMPLES) + 1000)
    return 1.0 - 2 * (place % 2) + noise * generator.standard_normal(SAMPLES)


def one_over_f(generator: np.random.Generator, hours: int = 4) -> Array:
    """An hour cut from as many of noise whose power falls as 1/f."""
    count = hours * SAMPLES // 2
    spectrum = generator.standard_normal(count) + 1j * generator.standard_normal(count)
    return np.fft.irfft(np.concatenate([[0], spectrum / np.sqrt(np.arange(1, count + 1))]))[:SAMPLES]


PROCESSES: dict[str, Callable[[np.random.Generator], Array]] = {
    "white": lambda g: g.standard_normal(SAMPLES),
    "autoregressive 0.5": lambda g: autoregressive(g, 0.5),
    "autoregressive 0.9": lambda g: autoregressive(g, 0.9),
    "autoregressive 0.99": lambda g: autoregressive(g, 0.99),
    "autoregressive 0.95 and as much white": lambda g: autoregressive(g, 0.95) + g.standard_normal(SAMPLES),
    "two rates and as much white": lambda g: two_rates(g, 1.0),
    "two rates and a little white": lambda g: two_rates(g, 0.3),
    "1/f": one_over_f,
    "1/f of 24 hours": lambda g: one_over_f(g, 24),
}


def rate(process: str, generator: np.random.Generator) -> Array:
    """An hour with a mean of 500 Mbit/s and noise of 5 % of it."""
    noise = PROCESSES[process](generator)
    return 500 + 25 * noise / noise.std()


@pytest.mark.parametrize("process", PROCESSES)
def test_noise_without_a_period_is_seldom_taken_for_one(process: str) -> None:
    allowed = 0.10 if process.startswith("1/f") else 0.02
    claims = 0
    for run in range(RUNS):
        values = rate(process, np.random.default_rng([1, run]))
        claims += find_period(values, 1.0, rng=np.random.default_rng(run)) is not None
    LOG.info("%s: %d of %d claimed", process, claims, RUNS)
    assert stats.binom.sf(claims - 1, RUNS, allowed) > SLACK


@pytest.mark.parametrize(
    ("process", "percent"),
    [("white", 5), ("autoregressive 0.5", 5), *((process, 10) for process in PROCESSES)],
)
def test_waves_are_found(process: str, percent: int) -> None:
    count = 0
    for run in range(WAVES):
        generator = np.random.default_rng([2, run])
        values = rate(process, generator)
        # From two to three samples on up to hardly more than the least number of cycles.
        period = np.exp(generator.uniform(np.log(2.5), np.log(SAMPLES / (LEAST_CYCLES + 0.5))))
        values += 5 * percent * np.cos(2 * np.pi * np.arange(SAMPLES) / period + generator.uniform(0, 2 * np.pi))
        wave = find_period(values, 1.0, rng=np.random.default_rng(run))
        count += wave is not None and abs(SAMPLES / wave.period_s - SAMPLES / period) <= 1
    LOG.info("%s, wave of %d %%: %d of %d found", process, percent, count, WAVES)
    assert stats.binom.cdf(count, WAVES, 30 / 40) > SLACK
