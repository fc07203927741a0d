"""The rows of one mix as machines in their seats: one place each, and all their roles in one seat of the workload."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from catalog.checking.known import Known, Row
from catalog.checking.registering import twin
from catalog.checking.results import Pairs
from catalog.checking.rows import TypedTable
from catalog.checking.troubles import Trouble
from catalog.marks import in_workload

# What one machine has only one of in a run -> the column of the batch format, and how a value is told.
_OF_A_MACHINE = {
    "band": ("band", "in the {} GHz band"),
    "width_mhz": ("width_mhz", "at {} MHz"),
    "channel": ("channel", "on channel {}"),
    "spot": ("spot", "at spot {}"),
    "attenuation_db": ("attenuation_db", "at {:g} dB"),
}
_Problem = tuple[int, str, Trouble]  # number of the row, column, what is wrong


def hold_misplaced(pairs: Iterable[tuple[TypedTable, Pairs]], there: Iterable[Row], known: Known) -> None:
    """Hold the rows of a batch that put one machine into two places or two seats.

    there  stations of the catalogue, which may belong to the same mixes
    """
    typed = {id(row): (table, one) for table, rows in pairs for one, row in rows if not one.held}
    rows = [row for _, members in pairs for one, row in members if not one.held]
    keys = {_key(row) for row in rows}
    mixes: dict[str, list[Row]] = {}
    for row in [*(old for old in there if _key(old) not in keys), *rows]:
        mixes.setdefault(row["mix_id"], []).append(row)
    for members in mixes.values():
        for number, column, trouble in seat_troubles(members, known):
            if (place := typed.get(id(members[number]))) is not None:
                place[0].hold(place[1], column, trouble)


def hold_twin_mixes(pairs: Iterable[tuple[TypedTable, Pairs]], there: Iterable[Row]) -> None:
    """Ask once about a run of several clients whose id differs from another's only by case or separators.

    there  stations of the catalogue
    """
    known = {row["mix_id"] for row in there}
    for table, rows in pairs:
        for typed, row in rows:
            mix = row["mix_id"]
            if mix is None or mix in known:
                continue
            if (like := twin(mix, "run", known)) is not None:
                table.settle(typed, "mix", like)
            known.add(mix)


def seat_troubles(rows: Sequence[Row], known: Known) -> Iterator[_Problem]:
    """What is wrong with the machines of one mix, whose *rows* are given in the order of entry."""
    first: dict[str, Row] = {}
    for number, row in enumerate(rows):
        one = first.setdefault(row["client_id"], row)
        for name, (column, words) in _OF_A_MACHINE.items():
            if None not in (one[name], row[name]) and one[name] != row[name]:
                yield (
                    number,
                    column,
                    Trouble(
                        f"{row['client_id']} is {words.format(row[name])} here and {words.format(one[name])} as "
                        f"{one['role_id']} of the same run.",
                        "One client is one machine, in one place and on one link. Correct one of them; a second machine "
                        "is a client of its own.",
                        "place-differs",
                        if_entered=True,
                    ),
                )
                break
    yield from _unseated(rows, known)


def _unseated(rows: Sequence[Row], known: Known) -> Iterator[_Problem]:
    workload, version = rows[-1]["workload_id"], rows[-1]["workload_version"]
    if workload is None or version is None:
        return
    roles = known.roles.get((workload, version), {})
    if all(in_workload(role["role_id"]) for role in roles.values()):
        return  # from before there were seats: who played what together was not stated
    seats = known.seats_of(workload, version)
    machines: dict[str, set[str]] = {}
    last: dict[str, int] = {}
    for number, row in enumerate(rows):
        if row["role_id"] in roles:
            machines.setdefault(row["client_id"], set()).add(row["role_id"])
            last[row["client_id"]] = number
    called = f"{workload} version {version}"
    sound = True
    for client, played in machines.items():
        if not any(played <= seat for seat in seats):
            sound = False
            yield (
                last[client],
                "client",
                Trouble(
                    f"{client} plays {' and '.join(sorted(played))} in {rows[0]['mix_id']}, and no seat of {called} has "
                    f"{'both' if len(played) == 2 else 'all of them'}.",
                    "One machine sits in one seat. Give the row of the other seat the client that sat there, or write a "
                    "version of the workload with such a seat.",
                    "two-seats-one-client",
                    if_entered=True,
                ),
            )
    if sound and machines and not _fit(machines, seats):
        players = "; ".join(
            f"{client} plays {' and '.join(sorted(played))}" for client, played in sorted(machines.items())
        )
        yield (
            max(last.values()),
            "client",
            Trouble(
                f"The machines of {rows[0]['mix_id']} do not fit the seats of {called} one to one: {players}.",
                "A seat is one machine. Correct a client or a role, or write a version of the workload with these seats.",
                "two-seats-one-client",
                if_entered=True,
            ),
        )


def _fit(machines: Mapping[str, set[str]], seats: Sequence[frozenset[str]]) -> bool:
    """Whether every machine finds a seat of its own that has all its roles."""
    from scipy.optimize import linear_sum_assignment  # only where mixes are entered

    if len(machines) > len(seats):
        return False
    unfit = [[not played <= seat for seat in seats] for played in machines.values()]
    return not any(unfit[one][seat] for one, seat in zip(*linear_sum_assignment(unfit), strict=True))


def _key(row: Row) -> tuple[str, str, str]:
    return row["mix_id"], row["client_id"], row["role_id"]
