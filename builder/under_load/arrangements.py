"""Which runs with several clients may be compared: machines paired one to one, each alike (method.md, section 6)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from builder import wording

PLACE_DB = 3.0
"""Places this close together are alike (practice). [dB]"""

ANCHOR_DB = 1.5
"""How far a run may lie from the first run of its section. [dB]"""

DURATION_SHARE = 0.1
"""Runs whose planned times differ by more than this share of the longer one are not alike. [1]"""

_ALIKE, _REPLACED, _UNLIKE = 0, 1, 1000

Recipe = tuple[str, tuple[tuple[str, str], ...]]
"""What a role asks for, whatever its name: its kind, and its keys with their values as text."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a machine stood.

    spot     house, spot and the date since which the spot is there; None where it stood at no spot
    loss_db  that spot's loss, else the typed one; None where neither is known
    """

    spot: tuple[str, str, str] | None
    loss_db: float | None

    def like(self, other: Place, *, within_db: float) -> bool:
        """A spot without a loss is alike only with itself. A place that nobody recorded is alike with none."""
        if self.loss_db is not None and other.loss_db is not None:
            return abs(self.loss_db - other.loss_db) <= within_db
        return self.spot is not None and self.spot == other.spot

    @property
    def words(self) -> str:
        """ "at 48 dB", "at spot 3", "at a place that nobody wrote down"."""
        if self.loss_db is not None:
            return f"at {wording.trimmed(self.loss_db, 1)} dB"
        return f"at spot {self.spot[1]}" if self.spot else "at a place that nobody wrote down"


@dataclass(frozen=True, slots=True)
class Seat:
    """One machine in one run, with all the roles it played.

    client    its id; two machines of one series are alike
    name      the one readers know it by
    series    client series
    build     generation, streams and largest width in this band: what another client must share to take its place
    settings  what was set differently from the bench's usual settings
    recipes   of its roles, in order
    roles     their ids, for sentences
    """

    client: str
    name: str
    series: str
    build: tuple[str, ...]
    band: str
    width_mhz: int | None
    settings: tuple[tuple[str, str], ...]
    place: Place
    recipes: tuple[Recipe, ...]
    roles: tuple[str, ...]

    @property
    def settings_words(self) -> str:
        """What was set differently, "multi link off"; "" where nothing was."""
        return wording.listing([f"{key} {value}" for key, value in self.settings])


@dataclass(frozen=True, slots=True)
class Arrangement:
    """The machines of one run, in the order of its workload, and how long the run was planned to last. [s]"""

    seats: tuple[Seat, ...]
    planned_s: float


@dataclass(frozen=True, slots=True)
class Likeness:
    """What two arrangements have in common.

    verdict     alike: all machines; replaced: all but one; differs: no verdict at all
    pairs       numbers of the machines that are alike, of the first and the second arrangement
    odd         of the machine that was replaced, likewise
    difference  the first difference in words; "" where they are alike
    """

    verdict: Literal["alike", "replaced", "differs"]
    pairs: tuple[tuple[int, int], ...] = ()
    odd: tuple[int, int] | None = None
    difference: str = ""


def likeness(a: Arrangement, b: Arrangement, *, within_db: float = PLACE_DB, there: str = "there") -> Likeness:
    """Whether the machines of two runs can be paired one to one so that all are alike, or all but one.

    within_db  how far apart alike places may lie. [dB]
    there      what the second one is called in the difference; the first is "here"
    """
    if len(a.seats) != len(b.seats):
        counts = [wording.count(len(one.seats), "machine") for one in (a, b)]
        return Likeness("differs", difference=f"{counts[0]} played here and {counts[1]} {there}")
    if abs(a.planned_s - b.planned_s) > DURATION_SHARE * max(a.planned_s, b.planned_s):
        times = [wording.clock(one.planned_s) for one in (a, b)]
        return Likeness("differs", difference=f"it was to last {times[0]} here and {times[1]} {there}")
    costs = np.array([[_cost(one, other, within_db) for other in b.seats] for one in a.seats])
    from scipy.optimize import linear_sum_assignment  # only where runs are compared

    first, second = linear_sum_assignment(costs)
    pairs = tuple(zip(first.tolist(), second.tolist(), strict=True))
    chosen = costs[first, second]
    alike = tuple(pair for pair, cost in zip(pairs, chosen, strict=True) if cost == _ALIKE)
    if chosen.sum() == _ALIKE:
        return Likeness("alike", alike)
    if chosen.sum() == _REPLACED:
        (odd,) = set(pairs) - set(alike)
        words = f"with {b.seats[odd[1]].name} in the place of {a.seats[odd[0]].name}"
        return Likeness("replaced", alike, odd, words)
    return Likeness("differs", difference=_first_difference(a, b, within_db, there))


def sections(arrangements: Mapping[str, Arrangement]) -> list[list[str]]:
    """Which runs share a table: groups of ids, in the order of their first runs.

    A run joins the first section whose runs are all alike with it, and whose first run is so within ANCHOR_DB.

    arrangements  id of each run -> its machines, in the order of entry
    """
    made: list[list[str]] = []
    groups: dict[int, list[Arrangement]] = {}  # number of a section -> its different arrangements, the anchor's first
    placed: dict[Arrangement, int] = {}
    for mix, arrangement in arrangements.items():
        number = placed.get(arrangement)
        if number is None:
            number = next((n for n, others in groups.items() if _fits(arrangement, others)), len(made))
            if number == len(made):
                made.append([])
            # With a place that nobody wrote down it is like no other, not even one that says the same.
            if likeness(arrangement, arrangement).verdict == "alike":
                groups.setdefault(number, []).append(arrangement)
                placed[arrangement] = number
        made[number].append(mix)
    return made


def _fits(arrangement: Arrangement, others: Sequence[Arrangement]) -> bool:
    if _widths(arrangement) != _widths(others[0]):
        return False
    if likeness(others[0], arrangement, within_db=ANCHOR_DB).verdict != "alike":
        return False
    return all(likeness(other, arrangement).verdict == "alike" for other in others[1:])


def _widths(arrangement: Arrangement) -> list[tuple[str, bool]]:
    """Within a section an omitted width counts as a separate width, so that likeness is transitive."""
    return sorted((seat.series, seat.width_mhz is None) for seat in arrangement.seats)


def _cost(a: Seat, b: Seat, within_db: float) -> int:
    if any(differs for what, differs in _differences(a, b, within_db).items() if what != "client"):
        return _UNLIKE
    if a.series == b.series:
        return _ALIKE
    return _REPLACED if a.build == b.build else _UNLIKE


def _differences(a: Seat, b: Seat, within_db: float) -> dict[str, bool]:
    """Each property of a seat -> whether two seats differ in it, in the order in which differences are named."""
    return {
        "roles": a.recipes != b.recipes,
        "client": a.series != b.series,
        "band": a.band != b.band,
        "width": None not in (a.width_mhz, b.width_mhz) and a.width_mhz != b.width_mhz,
        "settings": a.settings != b.settings,
        "place": not a.place.like(b.place, within_db=within_db),
    }


def _first_difference(a: Arrangement, b: Arrangement, within_db: float, there: str) -> str:
    """The first thing that differs, machine by machine in the order of the workload."""
    for one, other in zip(a.seats, b.seats, strict=True):
        what = next((what for what, differs in _differences(one, other, within_db).items() if differs), None)
        if what is not None:
            return f"{_WORDS[what](one, other)} {there}"
    return "the machines stood in each other's places"


_WORDS = {
    "roles": lambda a, b: f"{a.name} played {wording.listing(a.roles)} here and {wording.listing(b.roles)}",
    "client": lambda a, b: f"{a.name} played here and {b.name}",
    "band": lambda a, b: f"{a.name} was on {a.band} GHz here and on {b.band} GHz",
    "width": lambda a, b: f"{a.name} used {a.width_mhz} MHz here and {b.width_mhz} MHz",
    "settings": lambda a, b: f"{a.name} was set to {_settings(a)} here and to {_settings(b)}",
    "place": lambda a, b: f"{a.name} stood {a.place.words} here and {b.place.words}",
}


def _settings(seat: Seat) -> str:
    return seat.settings_words or "what the bench always has"
