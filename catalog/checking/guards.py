"""Impossible or implausible values: each guard detects one kind of mistake that really happens."""

from __future__ import annotations

from statistics import median

from catalog.checking.known import Client, Device
from catalog.checking.troubles import AS_TYPED, Trouble
from catalog.reading.format import DID_NOT_FINISH
from catalog.standards import BANDS, PHYS, has_width, is_channel, phy_ceiling_mbit_s

FACTOR_8 = (7.5, 8.6)  # bits for bytes, or MB for MiB on top
FACTOR_1000 = (900.0, 1100.0)
ODD_SHARE = 0.25
PLACES_APART_DB = 6.0
MANY_REPEATS = 20


def named(value: float, typed: str) -> str:
    """How a sentence names a throughput: as it was typed, else as the mean of its log. [Mbit/s]"""
    return typed or f"{value:.1f} Mbit/s, the mean of its log,"


def against_siblings(value: float, siblings: list[float], *, typed: str) -> Trouble | None:
    """A repeat a factor 8 or 1000 off the median of the other repeats of its cell. All in Mbit/s.

    typed  "" for a value that came from a log
    """
    if not siblings or value <= 0:
        return None
    middle = median(siblings)
    if middle <= 0:
        return None
    factor, side = (middle / value, "below") if value < middle else (value / middle, "above")
    for low, high, unit in ((*FACTOR_8, "MB/s"), (*FACTOR_1000, "Gbit/s")):
        if low <= factor <= high:
            if side == "below":
                scale = 8 if unit == "MB/s" else 1000
                reading = f" {typed or f'{value:.1f}'} {unit} would be {value * scale:.1f} Mbit/s."
            else:
                reading = f" Was it {'typed' if typed else 'logged'} in another unit?"
            return Trouble(
                f"{named(value, typed)} is {factor:.1f} times {side} the other repeats (their median is {middle:g} Mbit/s).{reading}",
                "Correct the cell, or answer it once in answers.toml.",
                "factor-8" if low < 100 else "factor-1000",
                askable=True,
            )
    return None


def odd_repeat(value: float, siblings: list[float], *, typed: str) -> Trouble | None:
    """A repeat 25 % or more off the median of the other repeats: listed, not held. typed as `against_siblings`."""
    if not siblings or (middle := median(siblings)) <= 0:
        return None
    share = value / middle - 1
    if abs(share) < ODD_SHARE:
        return None
    off = f"{100 * abs(share):.1f} % {'above' if share > 0 else 'below'}" if share < 10 else f"{share + 1:.3g} times"
    return Trouble(
        f"{named(value, typed)} is {off} {middle:g}, the median of the other repeats.",
        "Look at it while the bench still stands.",
        "odd-repeat",
    )


def phy_ceiling(device: Device, client: Client, band: str, width_mhz: int) -> float | None:
    """Most a link can carry, by what both sides have in common; links of several bands are added. [Mbit/s]

    None where neither side's radio is registered for a band, or the pair has no such width.
    """
    bands = band.split("+")
    total = 0.0
    for part in bands:
        sides = [(side.amendment, *side.radios[part]) for side in (device, client) if part in side.radios]
        if not sides or any(amendment not in PHYS for amendment, _, _ in sides):
            return None
        amendment = min((amendment for amendment, _, _ in sides), key=list(PHYS).index)
        width = min(widest for _, _, widest in sides)
        try:
            total += phy_ceiling_mbit_s(
                amendment,
                min(streams for _, streams, _ in sides),
                width if len(bands) > 1 else min(width, width_mhz),
            )
        except ValueError:  # reported elsewhere: the amendment has no such width or number of streams
            return None
    return total


def above_phy(value: float, ceiling: float | None, *, typed: str, band: str, width_mhz: int) -> Trouble | None:
    """A throughput above what the PHY can carry at all. typed as `against_siblings`."""
    if ceiling is None or value <= ceiling:
        return None
    return Trouble(
        f"{named(value, typed)} is above {ceiling:.2f} Mbit/s, the most that this pair's radios can carry at {band} GHz "
        f"and {width_mhz} MHz.",
        "Check the unit, the width, and whether a cable was left in.",
        "above-phy",
        if_entered=True,
    )


def off_band(channel: int, band: str, width_mhz: int | None) -> Trouble | None:
    """A channel that the band does not have, or not at this width. Of several links it may be that of any."""
    bands = [part for part in band.split("+") if is_channel(part, channel)]
    if not bands:
        others = [f"{other} GHz" for other in BANDS if is_channel(other, channel)]
        where = f" It is one of {' and of '.join(others)}." if others else ""
        return Trouble(
            f"The {' and '.join(band.split('+'))} GHz band has no channel {channel}.{where}",
            "Correct the channel or the band; leave the channel empty if nobody knows it.",
            "channel-not-in-band",
            if_entered=True,
        )
    if width_mhz is None or any(has_width(part, channel, width_mhz) for part in bands):
        return None
    return Trouble(
        f"Channel {channel} of the {bands[0]} GHz band belongs to no channel that is {width_mhz} MHz wide.",
        "Correct the channel or the width; the channel is that of 20 MHz or the middle of the wide one.",
        "channel-not-in-band",
        options=(AS_TYPED,),
    )


def apart(spot: str, read_db: float, typed_db: float) -> Trouble | None:
    """A loss that contradicts the readings of the spot in the same row. [dB]"""
    if abs(read_db - typed_db) <= PLACES_APART_DB:
        return None
    return Trouble(
        f"{spot} loses {read_db:.1f} dB by its readings, but attenuation_db says {typed_db:g} dB.",
        "Correct one of them, or leave one empty. If both are right, the spot places the run.",
        "place-differs",
        options=(AS_TYPED,),
    )


def loss_for_repeat(loss_db: float, repeat: int) -> Trouble | None:
    """A loss that no room has beside an improbably high repeat number: the cells may be swapped."""
    if 20 <= loss_db <= 130 or repeat <= MANY_REPEATS:
        return None
    return Trouble(
        f"A loss of {loss_db:g} dB in repeat {repeat}: are the two columns swapped?",
        "Correct the headers or the cells.",
        "loss-and-repeat-swapped",
        options=(AS_TYPED,),
    )


def value_and_outcome(outcome: str) -> Trouble:
    """A throughput beside an outcome that has none."""
    lived = " An average over the time it lived would hide the collapse." if outcome == DID_NOT_FINISH else ""
    return Trouble(
        f"A run that ended as {outcome!r} has no throughput.{lived}",
        "Leave the throughput empty, or correct the outcome.",
        "value-and-outcome",
    )


def zero(typed: str) -> Trouble:
    """A typed 0 without an outcome."""
    return Trouble(
        f"{typed} Mbit/s: did the run fail (write DNF), or was zero really measured (write finished as its outcome)?",
        "Correct the cell or answer it once in answers.toml.",
        "zero",
        askable=True,
    )
