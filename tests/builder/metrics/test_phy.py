"""Noise floor and free-space loss against ITU-R P.525 and the constants of the SI."""

import math
from collections.abc import Callable

import pytest
from scipy import constants

from builder.metrics.phy import (
    BOLTZMANN_J_K,
    LIGHT_SPEED_M_S,
    free_space_loss_db,
    implied_eirp_dbm,
    noise_floor_dbm,
)

Published = Callable[[str], list[dict[str, str]]]


def test_constants_of_the_si() -> None:
    # Reference library: scipy.constants (CODATA).
    assert constants.k == BOLTZMANN_J_K
    assert constants.c == LIGHT_SPEED_M_S


def test_noise_floor_of_the_table(published: Published) -> None:
    # Source: k * T * B, made with the constants of two libraries. The -174 dBm/Hz of handbooks is 0.025 dB low.
    for row in published("thermal_noise"):
        found = noise_floor_dbm(float(row["bandwidth_mhz"]), temperature_k=float(row["temp_k"]))
        assert found == pytest.approx(float(row["expected"]), abs=1e-6)
        if row["temp_k"] == "290.0":
            assert found == pytest.approx(float(row["shorthand_minus174"]), abs=0.026)
            assert noise_floor_dbm(float(row["bandwidth_mhz"])) == found


def test_noise_figure_and_width_add_up() -> None:
    # By hand: 10 log10(2) a doubling of the width; the noise figure is added as it is.
    assert noise_floor_dbm(160) - noise_floor_dbm(80) == pytest.approx(3.0103, abs=1e-5)
    assert noise_floor_dbm(80, noise_figure_db=6) - noise_floor_dbm(80) == pytest.approx(6, abs=1e-12)


def test_free_space_loss_of_p_525(published: Published) -> None:
    # Source: ITU-R P.525 by an astronomy library; the editions that print rounded constants lie up to 0.048 dB
    # lower.
    for row in published("fspl"):
        found = free_space_loss_db(float(row["freq_mhz"]), float(row["distance_m"]))
        assert found == pytest.approx(float(row["expected"]), abs=1e-6)
        assert 0.04 < found - float(row["p525_const_32_4"]) < 0.05
        assert 0 < found - float(row["const_32_44"]) < 0.01


def test_attenuation_differs_by_band() -> None:
    # Source: job analysis b1: 7.1 dB between 2437 and 5500 MHz at any distance.
    for distance_m in (1, 30):
        difference = free_space_loss_db(5500, distance_m) - free_space_loss_db(2437, distance_m)
        assert difference == pytest.approx(7.1, abs=0.05)


def test_narrow_cold_and_close() -> None:
    # By hand: a tenth is 10 dB of noise and 20 dB of loss.
    assert noise_floor_dbm(0.1) - noise_floor_dbm(1) == pytest.approx(-10, abs=1e-9)
    assert noise_floor_dbm(1, temperature_k=1) - noise_floor_dbm(1, temperature_k=0.1) == pytest.approx(10)
    assert free_space_loss_db(2437, 0.1) - free_space_loss_db(2437, 1) == pytest.approx(-20, abs=1e-9)
    assert free_space_loss_db(0.1, 10) - free_space_loss_db(1, 10) == pytest.approx(-20, abs=1e-9)


def test_implied_eirp() -> None:
    # Source: worked story 2: the louder device implies 23 dBm at every spot, the other 17.
    assert [implied_eirp_dbm(level, loss) for level, loss in ((-37, 60), (-47, 70), (-57, 80))] == [23, 23, 23]
    assert implied_eirp_dbm(-43, 60) == 17


@pytest.mark.parametrize(
    "call",
    [
        lambda: noise_floor_dbm(0),
        lambda: noise_floor_dbm(20, temperature_k=0),
        lambda: free_space_loss_db(0, 1),
        lambda: free_space_loss_db(5500, 0),
        lambda: noise_floor_dbm(math.nan),
    ],
)
def test_impossible_quantities_are_refused(call: Callable[[], float]) -> None:
    with pytest.raises(ValueError, match="must be above 0"):
        call()
