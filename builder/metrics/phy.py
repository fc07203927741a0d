"""Figures of the radio path: noise floor, free-space loss, implied EIRP. dB, dBm, MHz, metres.

PHY rates themselves are facts that entry needs too; they live in `catalog.standards`.
"""

import math

BOLTZMANN_J_K = 1.380649e-23
"""Exact by definition. Source: SI brochure, 9th edition (2019). [J/K]"""

LIGHT_SPEED_M_S = 299_792_458.0
"""Exact by definition. Source: SI brochure. [m/s]"""

ROOM_TEMPERATURE_K = 290.0
"""Reference temperature of noise figures. Source: IEEE definition of noise figure. [K]"""


def noise_floor_dbm(
    width_mhz: float, *, noise_figure_db: float = 0.0, temperature_k: float = ROOM_TEMPERATURE_K
) -> float:
    """Thermal noise in a channel as a receiver sees it: k * T * B and its noise figure. [dBm]

    width_mhz        channel width, above 0. [MHz]
    noise_figure_db  of the receiver; 0 is the physical limit. [dB]
    temperature_k    above 0. [K]
    Raises           ValueError for a width or temperature not above 0.
    Source           k * T * B (Nyquist 1928) with the constants of the SI.
    """
    if not (width_mhz > 0 and temperature_k > 0):
        raise ValueError(f"width and temperature must be above 0, got {width_mhz} MHz and {temperature_k} K")
    watts = BOLTZMANN_J_K * temperature_k * width_mhz * 1e6
    return 10 * math.log10(watts * 1000) + noise_figure_db


def free_space_loss_db(frequency_mhz: float, distance_m: float) -> float:
    """Loss between isotropic antennas with nothing in between: 20 log10(4 pi d / lambda). [dB]

    frequency_mhz  above 0. [MHz]
    distance_m     above 0; below about a wavelength the formula does not hold. [m]
    Raises         ValueError for a frequency or distance not above 0.
    Source         ITU-R P.525, free-space basic transmission loss.
    """
    if not (frequency_mhz > 0 and distance_m > 0):
        raise ValueError(f"both must be above 0, got {frequency_mhz} MHz and {distance_m} m")
    return 20 * math.log10(4 * math.pi * distance_m * frequency_mhz * 1e6 / LIGHT_SPEED_M_S)


def implied_eirp_dbm(level_dbm: float, attenuation_db: float) -> float:
    """EIRP that explains a level read at a place of known attenuation. [dBm]

    Includes the error of the client's own reading, so it compares devices through one client only.

    level_dbm       level at the client, under load. [dBm]
    attenuation_db  attenuation of the place, positive. [dB]
    Source          definition of EIRP: received level + path loss.
    """
    return level_dbm + attenuation_db
