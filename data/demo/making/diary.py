"""What the bench did on which day: the measured blocks, the runs with several clients, the nights.

The days themselves stand in diary.toml, in the order of the batches they came in. Every line there begins with
DEVICE/UNIT@FIRMWARE and a colon; unit A and the device's first firmware are left out. Walks may name +SETTINGS behind it.

    walks     CLIENT BAND/WIDTH DIRECTIONS SPOTS; ...  spots are digits, "1" the nearest, left out for all; after
              "once" each is run once, not three times
    ceilings  CLIENT BAND/WIDTH; ...                   "foreign" behind it: logged by another program
    mixes     WORKLOAD TIMES CHANGES; ...              once where no times are given; CLIENT@SPOT stood elsewhere,
                                                       CLIENT>OTHER had another client in its place
    night     CLIENT BAND/WIDTH SPOT SHAPE HOURS       shape is steady, wave, fading or stalls

What went wrong on a day is in accidents.py.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from making.houses import HOUSES, House

ALL = "12345678"


@dataclass(frozen=True, kw_only=True)
class Block:
    """One client's walk: *directions* is "d", "u" or "du"."""

    device: str
    client: str
    band: str
    width_mhz: int
    directions: str
    spots: str
    firmware: str  # empty: the device's first
    unit: str
    settings: str  # empty: as always
    repeats: int


@dataclass(frozen=True, kw_only=True)
class Ceiling:
    """A bench-top run, taken as evidence for what a client can do at most."""

    device: str
    client: str
    band: str
    width_mhz: int
    direction: str = "down"
    foreign_log: bool = False  # written by another program, read through a reading map


@dataclass(frozen=True, kw_only=True)
class Mix:
    """*times* runs of one workload on a device.

    moved     client -> number of the spot where it stood instead of its own
    replaced  client of the plan -> the one that took its place
    """

    device: str
    workload: str
    times: int = 1
    firmware: str = ""
    unit: str = "A"
    moved: dict[str, str] = field(default_factory=dict)
    replaced: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Night:
    """One long run: *shape* is "steady", "wave", "fading" or "stalls"."""

    device: str
    client: str
    band: str
    width_mhz: int
    spot: str
    shape: str
    hours: float
    firmware: str = ""


@dataclass(frozen=True, kw_only=True)
class Day:
    """One session."""

    house: House
    date: date
    note: str
    blocks: tuple[Block, ...] = ()
    ceilings: tuple[Ceiling, ...] = ()
    mixes: tuple[Mix, ...] = ()
    night: Night | None = None
    reference_first: bool = True

    @property
    def id(self) -> str:
        """House and date: unique, because the bench works in one house at a time."""
        return f"{self.house.id}-{self.date.isoformat()}"


def reference_check(house: House) -> tuple[Block, ...]:
    """What every session starts with: the reference device at two spots that never moved."""
    return tuple(_blocks(f"{house.reference_device}: wrenlet-u2 5/80 d 24"))


def _parts(line: str) -> tuple[dict[str, str], bool, list[list[str]]]:
    """A line's device with what else was named of it, whether it says "once", and the words of each of its parts."""
    head, plan = line.split(": ")
    named, *once = head.split()
    tested, _, settings = named.partition("+")
    place, _, firmware = tested.partition("@")
    device, _, unit = place.partition("/")
    return (
        {"device": device, "firmware": firmware, "unit": unit or "A", "settings": settings},
        bool(once),
        [p.split() for p in plan.split("; ")],
    )


def _channel(text: str) -> dict[str, Any]:
    band, width = text.split("/")
    return {"band": band, "width_mhz": int(width)}


def _blocks(line: str) -> Iterator[Block]:
    tested, once, parts = _parts(line)
    for client, channel, directions, *spots in parts:
        yield Block(
            **tested,
            client=client,
            **_channel(channel),
            directions=directions,
            spots=spots[0] if spots else ALL,
            repeats=1 if once else 3,
        )


def _ceilings(line: str) -> Iterator[Ceiling]:
    tested, _, parts = _parts(line)
    for client, channel, *foreign in parts:
        yield Ceiling(device=tested["device"], client=client, **_channel(channel), foreign_log=bool(foreign))


def _mixes(line: str) -> Iterator[Mix]:
    tested, _, parts = _parts(line)
    for workload, *words in parts:
        yield Mix(
            device=tested["device"],
            firmware=tested["firmware"],
            unit=tested["unit"],
            workload=workload,
            times=next((int(word) for word in words if word.isdigit()), 1),
            moved=dict(word.split("@") for word in words if "@" in word),
            replaced=dict(word.split(">") for word in words if ">" in word),
        )


def _night(line: str) -> Night:
    tested, _, ((client, channel, spot, shape, hours),) = _parts(line)
    return Night(
        device=tested["device"], client=client, **_channel(channel), spot=spot, shape=shape, hours=float(hours)
    )


def _days() -> dict[str, tuple[Day, ...]]:
    houses = {house.id: house for house in HOUSES}
    days: dict[str, tuple[Day, ...]] = {}
    for row in tomllib.loads(Path(__file__).with_name("diary.toml").read_text(encoding="utf-8"))["day"]:
        day = Day(
            house=houses[row["house"]],
            date=row["date"],
            note=row.get("note", ""),
            blocks=tuple(block for line in row.get("walks", ()) for block in _blocks(line)),
            ceilings=tuple(ceiling for line in row.get("ceilings", ()) for ceiling in _ceilings(line)),
            mixes=tuple(mix for line in row.get("mixes", ()) for mix in _mixes(line)),
            night=_night(row["night"]) if "night" in row else None,
            reference_first=row.get("reference_first", True),
        )
        days[row["batch"]] = (*days.get(row["batch"], ()), day)
    return days


DAYS = _days()
