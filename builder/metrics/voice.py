"""Quality of a call after the E-model. Delays are milliseconds, loss is a share; nothing here rounds.

The symbols are those of ITU-T G.107 so that a reader can lay the recommendation beside the code. Everything
about the telephones stays at its default: the network under test changes only the delay and the loss.
Clause and equation numbers are from memory.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Codec:
    """How much a codec costs by itself, and how it bears loss.

    ie   equipment impairment factor. [R]
    bpl  packet-loss robustness factor. [1]
    """

    name: str
    ie: float
    bpl: float


CODECS: Mapping[str, Codec] = MappingProxyType(
    {codec.name: codec for codec in (Codec("G.711", 0.0, 25.1), Codec("G.729", 10.0, 19.0))}
)
"""Codecs with verified factors; G.711 is the one with loss concealment. Source: ITU-T G.113 Appendix I."""


def known_codec(text: str) -> Codec | None:
    """The codec a reviewer wrote ("g711", "G.711 with concealment"); None where its factors are not known."""
    folded = "".join(sign for sign in text.casefold() if sign.isalnum())
    names = {"g711": "G.711", "g711withconcealment": "G.711", "g729": "G.729"}
    return CODECS[names[folded]] if folded in names else None


# Default parameters, ITU-T G.107 table 2. Loudness ratings and levels in dB, dBm0p or dB(A).
_SLR, _RLR, _STMR, _DS, _DR = 8.0, 2.0, 15.0, 3.0, 3.0
_TELR, _WEPL, _QDU = 65.0, 110.0, 1.0
_NC, _NFOR, _PS, _PR = -70.0, -64.0, 35.0, 35.0
_DELAY_SENSITIVITY, _LEAST_PERCEIVED_MS = 1.0, 100.0  # sT and mT of the default class


def _noise_dbm0p() -> float:
    """No: all noise sources together. Clause 7.2."""
    olr = _SLR + _RLR
    nos = _PS - _SLR - _DS - 100 + 0.004 * (_PS - olr - _DS - 14) ** 2
    pre = _PR + 10 * math.log10(1 + 10 ** ((10 - _STMR - _DR) / 10))
    nor = _RLR - 121 + pre + 0.008 * (pre - 35) ** 2
    return 10 * math.log10(sum(10 ** (level / 10) for level in (_NC, nos, nor, _NFOR + _RLR)))


_NO = _noise_dbm0p()
_RO = 15 - 1.5 * (_SLR + _NO)  # basic signal-to-noise ratio, clause 7.2


def _simultaneous_impairment(t_ms: float) -> float:
    """Is: too loud a connection, sidetone and quantising, clause 7.3."""
    olr = _SLR + _RLR
    xolr = olr + 0.2 * (64 + _NO - _RLR)
    iolr = 20 * (_norm(1, xolr / 8, power=8) - xolr / 8)
    stmro = -10 * math.log10(10 ** (-_STMR / 10) + math.exp(-t_ms / 4) * 10 ** (-_TELR / 10))
    ist = (
        12 * _norm(1, (stmro - 13) / 6, power=8)
        - 28 * _norm(1, (stmro + 1) / 19.4, power=35)
        - 13 * _norm(1, (stmro - 3) / 33, power=13)
        + 29
    )
    q = 37 - 15 * math.log10(_QDU)
    g = 1.07 + 0.258 * q + 0.0602 * q**2
    iq = 15 * math.log10(1 + 10 ** ((_RO - 100) / 15 + 46 / 8.4 - g / 9) + 10 ** (46 / 30 - g / 40))
    return iolr + ist + iq


def _delay_impairment(ta_ms: float) -> float:
    """Id: talker echo, listener echo and too long a delay, clause 7.4; T = Ta and Tr = 2 Ta."""
    t_ms, tr_ms = ta_ms, 2 * ta_ms
    idte = 0.0
    if t_ms >= 1:
        roe = -1.5 * (_NO - _RLR)
        terv = _TELR - 40 * math.log10((1 + t_ms / 10) / (1 + t_ms / 150)) + 6 * math.exp(-0.3 * t_ms**2)
        re = 80 + 2.5 * (terv - 14)
        idte = ((roe - re) / 2 + math.sqrt((roe - re) ** 2 / 4 + 100) - 1) * (1 - math.exp(-t_ms))
    rle = 10.5 * (_WEPL + 7) * math.pow(tr_ms + 1, -0.25)
    idle = (_RO - rle) / 2 + math.sqrt((_RO - rle) ** 2 / 4 + 169)
    idd = 0.0
    if ta_ms > _LEAST_PERCEIVED_MS:
        x = math.log2(ta_ms / _LEAST_PERCEIVED_MS)
        power = 6 * _DELAY_SENSITIVITY
        idd = 25 * (_norm(1, x, power=power) - 3 * _norm(1, x / 3, power=power) + 2)
    return idte + idle + idd


def _norm(*parts: float, power: float) -> float:
    """(sum of x^power)^(1/power), the soft maximum that the recommendation uses throughout."""
    total = math.fsum(math.pow(part, power) for part in parts)
    return math.pow(total, 1 / power)


def effective_impairment(loss: float, codec: Codec) -> float:
    """Ie,eff: what the codec and random packet loss cost together. [R]

    loss    share of packets lost, 0 to 1. [1]
    Raises  ValueError for a loss outside 0..1.
    Source  ITU-T G.107 (06/2015), equation 7-29, with BurstR = 1: losses taken as independent.
    """
    if not 0 <= loss <= 1:
        raise ValueError(f"loss must lie in 0..1, got {loss}")
    percent = 100 * loss
    return codec.ie + (95 - codec.ie) * percent / (percent + codec.bpl)


def transmission_rating(one_way_ms: float, loss: float, codec: Codec) -> float:
    """R of the E-model with default telephones: 93.2 without delay and loss, below 0 at its worst. [R]

    one_way_ms  mouth-to-ear delay, at least 0. [ms]
    loss        share of packets lost, 0 to 1. [1]
    Raises      ValueError for a negative delay or a loss outside 0..1.
    Source      ITU-T G.107 (06/2015), clause 7.1: R = Ro - Is - Id - Ie,eff + A, A = 0.
    """
    if not one_way_ms >= 0:
        raise ValueError(f"one_way_ms must be at least 0, got {one_way_ms}")
    return (
        _RO - _simultaneous_impairment(one_way_ms) - _delay_impairment(one_way_ms) - effective_impairment(loss, codec)
    )


def voice_mos(r: float) -> float:
    """Estimated opinion score of a rating. [MOS]

    r       rating; below 0 and above 100 the score stays at 1 and 4.5. [R]
    Source  ITU-T G.107 Annex B; held at 1 where the cubic dips below it (0 < R < 6.5).
    """
    if r <= 0:
        return 1.0
    if r >= 100:
        return 4.5
    return max(1.0, 1 + 0.035 * r + r * (r - 60) * (100 - r) * 7e-6)


@dataclass(frozen=True)
class CallQuality:
    """A call as the network left it.

    one_way_ms  half the mean round trip of answered packets + one packet; None: nothing was answered. [ms]
    loss        failed / planned. [1]
    r, mos      None where nothing was answered or the codec's factors are not known. [R, MOS]
    """

    one_way_ms: float | None
    loss: float
    r: float | None
    mos: float | None


def call_quality(
    mean_round_trip_ms: float | None, *, answered: int, planned: int, packet_ms: float, codec: Codec | None
) -> CallQuality:
    """Delay, loss and E-model score of one talk role.

    mean_round_trip_ms  arithmetic mean over the packets that were answered; None: none was. [ms]
    answered            packets that were answered. [1]
    planned             packets the plan asked for, at least answered and at least 1. [1]
    packet_ms           speech in one packet, which has to be collected before it leaves. [ms]
    codec               None where its factors are not known.
    Raises              ValueError for planned < answered, planned < 1, a packet_ms below 0, or a mean of nothing.
    Source              ITU-T G.107; half the round trip as one way, and no jitter buffer, are own rules.
    """
    if planned < answered or planned < 1:
        raise ValueError(f"planned is {planned}, but {answered} packets were answered")
    if packet_ms < 0:
        raise ValueError(f"packet_ms must be at least 0, got {packet_ms}")
    if (mean_round_trip_ms is None) != (answered == 0):
        raise ValueError(f"{answered} packets were answered, but their mean is {mean_round_trip_ms}")
    loss = (planned - answered) / planned
    if mean_round_trip_ms is None:
        return CallQuality(None, loss, None, None)
    one_way_ms = mean_round_trip_ms / 2 + packet_ms
    if codec is None:
        return CallQuality(one_way_ms, loss, None, None)
    r = transmission_rating(one_way_ms, loss, codec)
    return CallQuality(one_way_ms, loss, r, voice_mos(r))
