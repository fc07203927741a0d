"""The background of a run: its mean periodogram by matrices and by scipy, its fit by statsmodels' likelihood."""

import numpy as np
import pytest
from scipy import linalg, signal
from statsmodels.tsa.arima.model import ARIMA

from catalog.digesting.background import Background, fitted_background
from catalog.digesting.drift import lagged_products


def pairs_of(known: np.ndarray) -> np.ndarray:
    return np.rint(lagged_products(known.astype(float)))


def everything(power: np.ndarray) -> np.ndarray:
    return np.ones(len(power), dtype=np.bool_)


def periodogram(values: np.ndarray) -> np.ndarray:
    return np.abs(np.fft.rfft(values)[1:]) ** 2


@pytest.mark.parametrize("background", [Background(0.9, 0.0), Background(0.5, 2.0), Background(-0.6, 0.3)])
@pytest.mark.parametrize("hole", [[], [3], [0, 4, 5, 6]])
@pytest.mark.parametrize("n", [7, 12])
def test_the_mean_periodogram_is_that_of_the_covariance_matrix(background: Background, hole: list[int], n: int) -> None:
    # By matrices: the mean of |f x|^2 is f C f*, with 0 where nothing was logged.
    known = np.ones(n, dtype=np.bool_)
    known[hole] = False
    column = background.memory ** np.arange(n) / (1 - background.memory**2)
    covariance = linalg.toeplitz(column) + background.white * np.eye(n)
    waves = linalg.dft(n)[1 : n // 2 + 1] * known
    expected = np.einsum("ij,jk,ik->i", waves, covariance, waves.conj()).real
    assert background.power(pairs_of(known)) == pytest.approx(expected, rel=1e-9)


def test_a_long_run_has_the_spectrum_of_an_endless_one() -> None:
    # Reference library: scipy.signal.freqz gives the response of the recursive filter.
    n = 20_000
    frequencies = 2 * np.pi * np.arange(1, n // 2 + 1) / n
    _, response = signal.freqz([1.0], [1.0, -0.8], worN=frequencies)
    power = Background(0.8, 1.5).power(pairs_of(np.ones(n))) / n
    assert power == pytest.approx(np.abs(response) ** 2 + 1.5, rel=2e-3)


@pytest.mark.parametrize("background", [Background(0.95, 0.0), Background(0.9, 5.0), Background(-0.5, 0.0)])
def test_surrogates_have_the_mean_periodogram(background: Background) -> None:
    # By hand: a mean of 2,000 periodograms is good to 1 / sqrt(2,000), 2.2 %, or 3.2 % at two samples a cycle; five of
    # those at each of 50 frequencies.
    generator = np.random.default_rng(1)
    mean = np.mean([periodogram(background.surrogate(100, generator)) for _ in range(2000)], axis=0)
    assert mean == pytest.approx(background.power(pairs_of(np.ones(100))), rel=0.16)
    first = np.mean([background.surrogate(2, generator)[0] ** 2 for _ in range(2000)])
    assert first == pytest.approx(1 / (1 - background.memory**2) + background.white, rel=0.16)


@pytest.mark.parametrize(
    "background", [Background(0.9, 3.0), Background(0.97, 40.0), Background(0.6, 0.0), Background(-0.7, 0.5)]
)
def test_the_fit_is_that_of_the_exact_likelihood(background: Background) -> None:
    # Reference library: an autoregressive process plus white noise is an ARMA(1, 1) with the same memory; statsmodels
    # maximises its exact likelihood. Both are as good; over 4,000 values they differ by a fraction of their error.
    values = background.surrogate(4000, np.random.default_rng(2))
    power = periodogram(values - values.mean())
    fitted = fitted_background(power, pairs_of(np.ones(4000)), everything(power))
    exact = ARIMA(values, order=(1, 0, 1)).fit()
    names = dict(zip(exact.model.param_names, exact.params, strict=True))
    error = dict(zip(exact.model.param_names, exact.bse, strict=True))["ar.L1"]
    assert fitted.memory == pytest.approx(names["ar.L1"], abs=error / 2)
    # Autocovariance at one sample over that at none is the same in both writings.
    memory, moving = names["ar.L1"], names["ma.L1"]
    lag_one = (memory + moving) * (1 + memory * moving) / (1 + 2 * memory * moving + moving**2)
    slow = 1 / (1 - fitted.memory**2)
    assert fitted.memory * slow / (slow + fitted.white) == pytest.approx(lag_one, abs=0.02)


@pytest.mark.parametrize("seed", range(8))
def test_no_other_background_is_more_likely(seed: int) -> None:
    # By trying 4,000 others; runs this short have likelihoods of more than one peak. The bands of the fit cost up to 0.1.
    pairs = pairs_of(np.ones(60))
    values = Background(0.99, 50.0).surrogate(60, np.random.default_rng(seed))
    power = periodogram(signal.detrend(values))

    def misfit(background: Background) -> float:
        expected = background.power(pairs)
        return float(len(power) * np.log((power / expected).sum()) + np.log(expected).sum())

    others = [
        misfit(Background(np.tanh(reach), white))
        for reach in np.linspace(np.arctanh(-0.9), np.arctanh(1 - 1 / 60), 80)
        for white in np.geomspace(0.01, 1e5, 50)
    ]
    assert misfit(fitted_background(power, pairs, everything(power))) <= min(others) + 0.1


def test_gaps_do_not_change_the_fit() -> None:
    # By hand: the same process with a sixth of every minute not logged; without its gaps 0.95 is good to some 0.01.
    known = np.arange(6000) % 60 >= 10
    values = Background(0.95, 2.0).surrogate(6000, np.random.default_rng(3)) * known
    power = periodogram(values)
    fitted = fitted_background(power, pairs_of(known), everything(power))
    assert fitted.memory == pytest.approx(0.95, abs=0.02)
    assert fitted.white == pytest.approx(2.0, abs=0.4)


def test_a_wave_that_is_left_out_does_not_enter() -> None:
    values = np.random.default_rng(4).standard_normal(3600)
    power = periodogram(values)
    quiet = fitted_background(power, pairs_of(np.ones(3600)), everything(power))
    power[9] = 1000 * power.mean()
    counted = everything(power)
    counted[9] = False
    pairs = pairs_of(np.ones(3600))
    plain = quiet.power(pairs)
    assert fitted_background(power, pairs, counted).power(pairs)[9] / plain[9] < 3
    taken = fitted_background(power, pairs, everything(power)).power(pairs)
    assert taken[9] / taken[-1] > 10 * plain[9] / plain[-1]
    assert fitted_background(power, pairs, np.zeros_like(counted)) == fitted_background(power, pairs, everything(power))


def test_exact_zeros_beside_a_wave_are_rounding_noise() -> None:
    power = np.zeros(8)
    power[3] = 5.0
    pairs = pairs_of(np.ones(16))
    beside = fitted_background(power, pairs, power == 0).power(pairs)
    assert beside == pytest.approx(np.full(8, beside.mean()), rel=0.1)
