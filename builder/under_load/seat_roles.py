"""Roles of runs that are alike, seat by seat: whatever a version of the workload calls them, they pair by recipe."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder.under_load.arrangements import Seat, likeness
from builder.under_load.mixes import MixResult, recipe_of
from builder.under_load.role_names import role_name
from builder.under_load.roles import RoleResult
from catalog.figure_names import joined_id
from catalog.records import Role


@dataclass(frozen=True, slots=True)
class Part:
    """A role as one machine of an arrangement plays it.

    role    as the newest version of the workload among the runs has it
    number  1, or 2 and more for further machines with the same role
    seat    the machine in the first of the runs; None where nobody played the role
    alone   no other machine plays this role
    """

    role: Role
    number: int
    seat: Seat | None
    alone: bool

    @property
    def key(self) -> str:
        """Distinguishes it within its arrangement; safe in an address and a fragment."""
        more = () if self.number == 1 else (str(self.number),)
        return joined_id(self.role.role_id, *more)

    @property
    def name(self) -> str:
        """The role in words; where several machines play it, with the machine: "film with Wrenlet U2 at 48 dB"."""
        return role_name(self.role) if self.alone or self.seat is None else seated_name(self.role, self.seat)


def seated_name(role: Role, seat: Seat) -> str:
    """A role that several machines play: "film with Wrenlet U2 at 48 dB"."""
    return f"{role_name(role)} with {seat.name} {seat.place.words}"


def roles_at(mix: MixResult, seat: int) -> list[RoleResult]:
    """The roles of one machine of a run, by recipe; those of two machines that are alike correspond one to one."""
    client = mix.arrangement.seats[seat].client
    played = (r for r in mix.roles if r.station is not None and r.station.client == client)
    return sorted(played, key=lambda r: (recipe_of(r.role), r.role.role_id))


def seat_pairs(anchor: MixResult, mix: MixResult) -> Sequence[tuple[int, int]]:
    """Machines of two runs that are alike, by number. A run is paired with itself even where a place is not known."""
    if mix is anchor:
        return [(seat, seat) for seat in range(len(mix.arrangement.seats))]
    return likeness(anchor.arrangement, mix.arrangement).pairs


def parts_of(
    anchor: MixResult, mixes: Iterable[MixResult]
) -> tuple[tuple[Part, ...], dict[str, dict[str, RoleResult]]]:
    """The parts of an arrangement in the order of its machines, and what each run came to: mix -> part's key -> result.

    anchor  one of the runs, which all others are alike to
    """
    slots: dict[tuple[int, object], dict[str, RoleResult]] = defaultdict(dict)
    versions: dict[str, int] = {}
    nobody = len(anchor.arrangement.seats)
    for mix in mixes:
        versions[mix.mix.mix] = mix.mix.version
        for here, there in seat_pairs(anchor, mix):
            for place, result in enumerate(roles_at(mix, there)):
                slots[here, place][mix.mix.mix] = result
        for result in mix.roles:
            if result.station is None:
                slots[nobody, (recipe_of(result.role), result.role.role_id)][mix.mix.mix] = result
    newest = {
        slot: played[max(played, key=lambda mix: (versions[mix], mix))].role
        for slot, played in sorted(slots.items(), key=lambda one: (one[0][0], str(one[0][1])))
    }
    machines, seen = Counter(role.role_id for role in newest.values()), Counter[str]()
    parts: list[Part] = []
    results: dict[str, dict[str, RoleResult]] = {mix: {} for mix in versions}
    for slot, role in newest.items():
        seen[role.role_id] += 1
        seat = anchor.arrangement.seats[slot[0]] if slot[0] < nobody else None
        part = Part(role, seen[role.role_id], seat, machines[role.role_id] == 1)
        parts.append(part)
        for mix_id, result in slots[slot].items():
            results[mix_id][part.key] = result
    return tuple(parts), results
