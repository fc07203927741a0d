"""From transmit power and attenuation to the throughput of one link.

level = EIRP - attenuation [dBm]; noise = kTB + noise figure; their difference less the price of more
streams decides the MCS; the MCS, streams and width decide the PHY rate; an efficiency turns it into
TCP payload. PHY rates follow IEEE 802.11 (HT, VHT, HE, EHT). The signal-to-noise steps, losses and
efficiencies are common practice, chosen so that the curves look like those of a bench.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

AMENDMENTS = ("802.11n", "802.11ac", "802.11ax", "802.11be")  # oldest first
HIGHEST_MCS = {"802.11n": 7, "802.11ac": 9, "802.11ax": 11, "802.11be": 13}
# Data bits a subcarrier carries at each MCS of one stream: N_BPSCS times the coding rate.
BITS = (
    1 / 2,
    1,
    3 / 2,
    2,
    3,
    4,
    9 / 2,
    5,
    6,
    20 / 3,
    15 / 2,
    25 / 3,
    9,
    10,
)
DATA_SUBCARRIERS = {
    "802.11n": {20: 52, 40: 108},
    "802.11ac": {20: 52, 40: 108, 80: 234, 160: 468},
    "802.11ax": {20: 234, 40: 468, 80: 980, 160: 1960},
    "802.11be": {20: 234, 40: 468, 80: 980, 160: 1960, 320: 3920},
}
SYMBOL_US = {"802.11n": 3.6, "802.11ac": 3.6, "802.11ax": 13.6, "802.11be": 13.6}  # short guard interval
SNR_FOR_MCS_DB = (5, 8, 11, 14, 17.5, 21.5, 23, 25, 29, 31, 34.5, 37, 40.5, 43.5)
IMPLEMENTATION_LOSS_DB = 6.0
STREAM_SPLIT_DB = 3.2  # for each doubling of the streams
SPARE_ANTENNA_GAIN_DB = 1.6  # for each doubling of antennas over streams
# A link sweeps its fading during a run; five points of a normal distribution, weights add to 1.
FADING_DB = ((-4.5, 0.07), (-2.2, 0.24), (0.0, 0.38), (2.2, 0.24), (4.5, 0.07))
EFFICIENCY = {"802.11n": 0.66, "802.11ac": 0.66, "802.11ax": 0.72, "802.11be": 0.735}
WIDTH_PENALTY = {20: 0.0, 40: 0.0, 80: 0.0, 160: 0.05, 320: 0.13}
STRONG_DBM = -25.0  # below this level every dB costs a few retries
RETRIES_PER_DB = 0.0015
TCP_SHARE_OF_PORT = 0.9414824  # 1448/1538 of the Ethernet rate: 1500-byte packets with timestamps


@dataclass(frozen=True, kw_only=True)
class Link:
    """What both ends agreed on.

    amendment  the older one of both ends
    streams    the smaller number of both ends
    antennas   transmit chains of the sending end
    width_mhz  channel width [MHz]
    level_dbm  EIRP less attenuation, all chains together [dBm]
    noise_figure_db  of the receiving end [dB]
    """

    amendment: str
    streams: int
    antennas: int
    width_mhz: int
    level_dbm: float
    noise_figure_db: float


def older(first: str, second: str) -> str:
    """The amendment that both ends speak."""
    return min(first, second, key=AMENDMENTS.index)


def phy_rate_mbit_s(amendment: str, *, width_mhz: int, streams: int, mcs: int) -> float:
    """PHY rate with the shortest guard interval. [Mbit/s]

    Source  IEEE 802.11-2020 clauses 19.5 and 21.5, 802.11ax-2021 27.5, 802.11be-2024 36.5.
    """
    return DATA_SUBCARRIERS[amendment][width_mhz] * BITS[mcs] * streams / SYMBOL_US[amendment]


def noise_dbm(width_mhz: int, *, noise_figure_db: float) -> float:
    """Thermal noise kTB at 290 K plus the receiver's noise figure. [dBm]"""
    watts = 1.380649e-23 * 290 * width_mhz * 1e6
    return 10 * math.log10(watts * 1000) + noise_figure_db


def _best(link: Link, *, fade_db: float) -> tuple[float, int, int]:
    """The best PHY rate at one moment, with its streams and MCS; 0 when nothing gets through."""
    at_one_stream = (
        link.level_dbm
        - noise_dbm(link.width_mhz, noise_figure_db=link.noise_figure_db)
        - IMPLEMENTATION_LOSS_DB
        + fade_db
    )
    best = (0.0, 1, 0)
    for streams in range(1, link.streams + 1):
        gain = SPARE_ANTENNA_GAIN_DB * max(0.0, math.log2(link.antennas / streams))
        snr = at_one_stream - STREAM_SPLIT_DB * math.log2(streams) + gain
        for mcs in range(HIGHEST_MCS[link.amendment], -1, -1):
            if snr >= SNR_FOR_MCS_DB[mcs]:
                rate = phy_rate_mbit_s(link.amendment, width_mhz=link.width_mhz, streams=streams, mcs=mcs)
                best = max(best, (rate, streams, mcs))
                break
    return best


def link_rate_mbit_s(link: Link) -> float:
    """The PHY rate a client would report at the middle of its fading. [Mbit/s]"""
    return _best(link, fade_db=0.0)[0]


def goodput_mbit_s(link: Link, *, direction: str) -> float:
    """Mean TCP payload of the radio link alone, before any cap or noise. [Mbit/s]"""
    phy = sum(weight * _best(link, fade_db=fade)[0] for fade, weight in FADING_DB)
    efficiency = EFFICIENCY[link.amendment] - WIDTH_PENALTY[link.width_mhz]
    efficiency -= RETRIES_PER_DB * max(0.0, STRONG_DBM - link.level_dbm)
    return phy * efficiency * (0.93 if direction == "up" else 1.0)


def port_limit_mbit_s(speed_mbit_s: float) -> float:
    """TCP payload that an Ethernet port carries. [Mbit/s]"""
    return TCP_SHARE_OF_PORT * speed_mbit_s


def below_cap(rate_mbit_s: float, cap_mbit_s: float) -> float:
    """A rate that meets a cap bends into it over the last tenth instead of stopping dead. [Mbit/s]"""
    knee = 0.9 * cap_mbit_s
    if rate_mbit_s <= knee:
        return rate_mbit_s
    room = cap_mbit_s - knee
    return knee + room * (1 - math.exp(-(rate_mbit_s - knee) / room))
