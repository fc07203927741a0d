"""Which runs with several clients may be compared: machines paired one to one, each alike (method.md, section 6)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from builder import wording
from builder.under_load.role_names import role_words

PLACE_DB = 3.0
"""Places this close together are alike (practice). [dB]"""

ANCHOR_DB = 1.5
"""How far a run may lie from the first run of its section. [dB]"""

DURATION_SHARE = 0.1
"""Runs whose planned times differ by more than this share of the longer one are not alike. [1]"""

_ROUNDING_DB = 1e-9  # what a difference of two losses with decimals may be off by

_ALIKE, _REPLACED, _UNLIKE = 0, 1, 10_000

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
            return abs(self.loss_db - other.loss_db) <= within_db + _ROUNDING_DB
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
    def words(self) -> str:
        """ "Wrenlet U2 at 79.1 dB, 5 GHz"."""
        return f"{self.name} {self.place.words}, {wording.band(self.band)}"

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
    parts       the first difference: one sentence, or what it was here and what it was there; () where they are alike
    """

    verdict: Literal["alike", "replaced", "differs"]
    pairs: tuple[tuple[int, int], ...] = ()
    odd: tuple[int, int] | None = None
    parts: tuple[str, ...] = ()

    @property
    def difference(self) -> str:
        """The first difference, with "here" and "there"; "" where they are alike."""
        return self.difference_between("here", "there")

    def difference_between(self, here: str, there: str) -> str:
        """The first difference. here, there: what the first and the second one are called: "on Cupola"."""
        if len(self.parts) == 2:
            return f"{self.parts[0]} {here} and {self.parts[1]} {there}"
        return "".join(self.parts)


@lru_cache(maxsize=1 << 14)
def likeness(a: Arrangement, b: Arrangement, *, within_db: float = PLACE_DB) -> Likeness:
    """Whether the machines of two runs can be paired one to one so that all are alike, or all but one.

    Of several ways to pair them that with the nearest places holds, then that with the same roles and clients by name.

    within_db  how far apart alike places may lie. [dB]
    """
    if len(a.seats) != len(b.seats):
        first, second = (wording.count(len(one.seats), "machine") for one in (a, b))
        return Likeness("differs", parts=(f"{first} played", second))
    if not _as_long(a.planned_s, b.planned_s):
        return Likeness("differs", parts=(f"it was to last {wording.clock(a.planned_s)}", wording.clock(b.planned_s)))
    costs = np.array([[_cost(one, other, within_db) for other in b.seats] for one in a.seats])
    nearness = np.array([[_distance(one, other) for other in b.seats] for one in a.seats])
    from scipy.optimize import linear_sum_assignment  # only where runs are compared

    rows, columns = linear_sum_assignment(costs + nearness)
    pairs = tuple(zip(rows.tolist(), columns.tolist(), strict=True))
    chosen = costs[rows, columns]
    alike = tuple(pair for pair, cost in zip(pairs, chosen, strict=True) if cost == _ALIKE)
    if chosen.sum() == _ALIKE:
        return Likeness("alike", alike)
    unlike = [pair for pair in pairs if pair not in alike]
    one, other = a.seats[unlike[0][0]], b.seats[unlike[0][1]]
    if chosen.sum() == _REPLACED:
        return Likeness(
            "replaced", alike, unlike[0], (f"with {_named(other, one)} in the place of {_named(one, other)}",)
        )
    what = next(what for what, differs in _differences(one, other, within_db).items() if differs)
    return Likeness("differs", parts=_WORDS[what](one, other))


def sections(arrangements: Mapping[str, Arrangement]) -> list[list[str]]:
    """Which runs share a table: groups of ids, in the order of their first runs.

    A run joins the first section whose runs are all alike with it, and whose first run is so within ANCHOR_DB.

    arrangements  id of each run -> its machines, in the order of entry
    """
    made: list[list[str]] = []
    groups: dict[int, _Section] = {}
    placed: dict[Arrangement, int] = {}
    for mix, arrangement in arrangements.items():
        number = placed.get(arrangement)
        if number is None:
            number = next((n for n, group in groups.items() if group.takes(arrangement)), len(made))
            if number == len(made):
                made.append([])
            # With a place that nobody wrote down it is like no other, not even one that says the same.
            if likeness(arrangement, arrangement).verdict == "alike":
                groups.setdefault(number, _Section(arrangement)).add(arrangement)
                placed[arrangement] = number
        made[number].append(mix)
    return made


class _Section:
    """The different arrangements of one section, the first one's as its anchor."""

    def __init__(self, anchor: Arrangement) -> None:
        self.anchor = anchor
        self._plain: set[float] = set()  # how long those that state all widths and losses were planned to last [s]
        self._others: list[Arrangement] = []
        self._all: list[Arrangement] = []

    def add(self, arrangement: Arrangement) -> None:
        self._all.append(arrangement)
        if _plain(arrangement):
            self._plain.add(arrangement.planned_s)
        else:
            self._others.append(arrangement)

    def takes(self, arrangement: Arrangement) -> bool:
        """Whether it is alike to the anchor within ANCHOR_DB, and to all others.

        Where both state every width and loss, what is alike to the anchor is alike to each other, for twice ANCHOR_DB is
        PLACE_DB; then only the times are left to be looked at, which spares pairing every two runs of a workload.
        """
        if _widths(arrangement) != _widths(self.anchor):
            return False
        if likeness(self.anchor, arrangement, within_db=ANCHOR_DB).verdict != "alike":
            return False
        rest = self._others if _plain(arrangement) and _plain(self.anchor) else self._all
        return all(_as_long(planned_s, arrangement.planned_s) for planned_s in self._plain) and all(
            likeness(other, arrangement).verdict == "alike" for other in rest
        )


def _plain(arrangement: Arrangement) -> bool:
    return all(seat.width_mhz is not None and seat.place.loss_db is not None for seat in arrangement.seats)


def _as_long(a: float, b: float) -> bool:
    return abs(a - b) <= DURATION_SHARE * max(a, b)


def _widths(arrangement: Arrangement) -> list[tuple[str, bool]]:
    """Within a section an omitted width counts as a separate width, so that likeness is transitive."""
    return sorted((seat.series, seat.width_mhz is None) for seat in arrangement.seats)


def _cost(a: Seat, b: Seat, within_db: float) -> int:
    """What pairing two machines costs; unlike ones the more, the earlier their first difference is named."""
    differs = _differences(a, b, within_db)
    if not any(differs.values()):
        return _ALIKE
    if [what for what, yes in differs.items() if yes] == ["client"] and a.build == b.build:
        return _REPLACED
    return _UNLIKE + sum(yes << place for place, yes in enumerate(reversed(differs.values())))


def _distance(a: Seat, b: Seat) -> float:
    """How far from each other two machines are otherwise; all of them together less than the least cost."""
    losses = a.place.loss_db, b.place.loss_db
    apart = 0.0 if losses[0] is None or losses[1] is None else min(abs(losses[0] - losses[1]) / PLACE_DB, 1)
    return 1e-3 * apart + 1e-5 * (a.roles != b.roles) + 1e-6 * (a.client != b.client)


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


def _roles(a: Seat, b: Seat) -> tuple[str, str]:
    names = [_listed(seat) for seat in (a, b)]
    if names[0] == names[1]:
        return f"{a.name} played {names[0]} with one recipe", "with another"
    return f"{a.name} played {names[0]}", names[1]


def _listed(seat: Seat) -> str:
    return wording.listing([role_words(role) for role in seat.roles])


def _place(a: Seat, b: Seat) -> tuple[str, str]:
    """A spot that moved, or that another house has, is named with what tells the two apart."""
    words = [seat.place.words for seat in (a, b)]
    if words[0] == words[1] and a.place.spot and b.place.spot:
        words = [f"at spot {spot} of {house} as of {since}" for house, spot, since in (a.place.spot, b.place.spot)]
    return f"{a.name} stood {words[0]}", words[1]


def _named(seat: Seat, other: Seat) -> str:
    """Its name; with its series where the other one has the same, as after a new driver."""
    return f"{seat.name} (series {seat.series})" if seat.name == other.name else seat.name


_WORDS: Mapping[str, Callable[[Seat, Seat], tuple[str, str]]] = {
    "roles": _roles,
    "client": lambda a, b: (
        f"{_listed(a)} {'was' if len(a.roles) == 1 else 'were'} played by {_named(a, b)}",
        f"by {_named(b, a)}",
    ),
    "band": lambda a, b: (f"{a.name} was on {a.band} GHz", f"on {b.band} GHz"),
    "width": lambda a, b: (f"{a.name} used {a.width_mhz} MHz", f"{b.width_mhz} MHz"),
    "settings": lambda a, b: (f"{a.name} was set to {_settings(a)}", f"to {_settings(b)}"),
    "place": _place,
}


def _settings(seat: Seat) -> str:
    return seat.settings_words or "what the bench always has"
