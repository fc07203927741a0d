"""Patterns on a sheet of runs that suggest a mistake, though each row alone could be true.

Held: a copy of the row above, three values copied to another place. Listed: a cable left in, directions swapped, a level far off its cell, a run
not on its session's day, two runs of one client at once.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from statistics import fmean, median
from typing import Any

from catalog.checking.ceilings import limiting_port
from catalog.checking.idempotence import IDENTITIES, run_cell
from catalog.checking.known import Known, Row
from catalog.checking.results import Pairs
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import AS_TYPED, Trouble
from catalog.dates import has_clock, is_month
from catalog.row_numbers import column_of, same_row
from catalog.standards import tcp_port_limit_with_timestamps_mbit_s

WIRED_SHARE = 0.015  # (practice) all values this near to what a 1 Gbit/s cable carries
WIRED_PLACES = 3
SWAPPED_RATIO = 1.25  # (practice)
LEVEL_OFF_DB = 6.0
DIGITS_OF_A_BLOCK = 6  # of three values together; 3, 2, 3 Mbit/s come again by chance

_Item = tuple[TypedTable, TypedRow, Row]


def hold_copied_rows(tables: Iterable[tuple[TypedTable, Pairs]], there: Mapping[tuple[Any, ...], Row]) -> None:
    """A row that repeats the one above in every cell but its repeat number, the time included.

    there  rows in the catalogue by key: what was entered once needs no second question
    """
    key = IDENTITIES["run"].key
    for table, pairs in tables:
        timed = "when" in table.file_columns
        for (above, _), (typed, row) in pairwise(pairs):
            if row["throughput_mbit_s"] is None or not timed or key(row) in there or not _clocked(row):
                continue
            column = "repeat" if "repeat" in table.file_columns else "when"
            # Cells of one row of a cross table share their time, so equal values there are no copy.
            crossed = column_of(typed.number) and same_row(above.number, typed.number)
            if crossed or column in typed.sure or not _same_but_repeat(table, above, typed):
                continue
            copied = Trouble(
                f"The row is a copy of row {above.number}, the time included.",
                "Correct what should differ. If both are true, answer the repeat with itself in answers.toml.",
                "copied-row",
                askable=True,
            )
            table.hold(typed, column, copied)


def _same_but_repeat(table: TypedTable, above: TypedRow, row: TypedRow) -> bool:
    return all(above.typed.get(name) == row.typed.get(name) for name in table.file_columns if name != "repeat")


def hold_copied_blocks(tables: Iterable[tuple[TypedTable, Pairs]], known: Known, there: Collection[Any]) -> None:
    """Three typed values in a row at one place that stand at another place, too: two rooms do not agree to the digit.

    Equal values, values at a port's limit and values of few digits prove nothing.
    there  keys of the rows in the catalogue: what was entered once needs no second question
    """
    key = IDENTITIES["run"].key
    items = [(table, typed, row) for table, pairs in tables for typed, row in pairs]
    items = [item for item in items if item[2]["throughput_mbit_s"] and "throughput" in item[1].typed]
    for group in _grouped(items, lambda row: (*_link(row), row["direction"])):
        first: dict[tuple[float, ...], _Item] = {}
        for members in _grouped(group, _place):
            for three in zip(members, members[1:], members[2:], strict=False):
                values = tuple(row["throughput_mbit_s"] for _, _, row in three)
                if not _tells(three, values, known):
                    continue
                (table, typed, row), (_, other, other_row) = three[0], first.setdefault(values, three[0])
                if _place(other_row) == _place(row) or key(row) in there:
                    continue
                copied = Trouble(
                    f"{', '.join(one.typed['throughput'] for _, one, _ in three)}: the same three values in a row "
                    f"stand at another place, from {other.file} row {other.number} on.",
                    "Was a block copied and not typed over?",
                    "copied-block",
                    options=(AS_TYPED,),
                )
                table.settle(typed, "throughput", copied)
                break  # one question per place


def _tells(three: Sequence[_Item], values: Sequence[float], known: Known) -> bool:
    digits = sum(character.isdigit() for _, typed, _ in three for character in typed.typed["throughput"])
    if len(set(values)) == 1 or digits < DIGITS_OF_A_BLOCK or any(map(_like_a_cable, values)):
        return False
    device = known.devices.get(three[0][2]["device_id"])
    return device is None or all(limiting_port(device, value) is None for value in values)


def check_runs(tables: Iterable[tuple[TypedTable, Pairs]], known: Known) -> None:
    """List suspicious patterns in the runs of one batch."""
    items = [(table, typed, row) for table, pairs in tables for typed, row in pairs if not typed.held]
    _wired(items)
    _swapped(items)
    _levels(items)
    _days(items, known)
    _at_once(items)


def _wired(items: list[_Item]) -> None:
    for group in _grouped(items, lambda row: (*_link(row), row["direction"])):
        finished = [row for _, _, row in group if row["throughput_mbit_s"] is not None]
        places = {_place(row) for row in finished}
        values = [row["throughput_mbit_s"] for row in finished]
        if len(places) >= WIRED_PLACES and all(_like_a_cable(value) for value in values):
            table, typed, row = group[0]
            wired = Trouble(
                f"All {len(values)} runs of {row['client_id']} {row['direction']} lie at {fmean(values):.0f} Mbit/s, "
                f"at {len(places)} places alike: that is what a 1 Gbit/s cable carries.",
                "Was a cable left in, or a port the limit?",
                "like-a-cable",
            )
            table.warn(typed, "throughput", wired)


def _like_a_cable(value: float) -> bool:
    limit = tcp_port_limit_with_timestamps_mbit_s(1000)
    return abs(value - limit) <= WIRED_SHARE * limit


def _swapped(items: list[_Item]) -> None:
    """One place at which up beats down, where down beats up at all others, or the other way round."""
    for group in _grouped(items, _link):
        by_place: dict[Any, dict[str, list[_Item]]] = {}
        for item in group:
            if item[2]["throughput_mbit_s"]:
                by_place.setdefault(_place(item[2]), {}).setdefault(item[2]["direction"], []).append(item)
        leans: list[tuple[float, _Item]] = []
        for sides in by_place.values():
            if len(sides) == 2:
                down, up = (fmean(row["throughput_mbit_s"] for _, _, row in sides[side]) for side in ("down", "up"))
                leans.append((math.log(down / up), sides["down"][0]))
        clear = math.log(SWAPPED_RATIO)
        if len(leans) < 3 or any(abs(lean) < clear for lean, _ in leans):
            continue
        for sign in (1, -1):
            odd = [item for lean, item in leans if lean * sign > 0]
            if len(odd) == 1:
                table, typed, _ = odd[0]
                more, less = ("Down", "up") if sign > 0 else ("Up", "down")
                swapped = Trouble(
                    f"{more} is higher than {less} here, at the other {len(leans) - 1} places it is the reverse.",
                    "Were the directions swapped?",
                    "swapped-directions",
                )
                table.warn(typed, "direction", swapped)


def _levels(items: list[_Item]) -> None:
    for group in _grouped(items, run_cell):
        levels = [(item, item[2]["level_dbm"]) for item in group if item[2]["level_dbm"] is not None]
        for place, ((table, typed, _), level) in enumerate(levels):
            others = [other for _, other in levels[:place] + levels[place + 1 :]]
            if others and abs(level - median(others)) > LEVEL_OFF_DB:
                off = Trouble(
                    f"{level:g} dBm is {abs(level - median(others)):.1f} dB off the other repeats of its cell "
                    f"(their median is {median(others):g} dBm).",
                    "Did something move, or was it read without load?",
                    "level-off",
                )
                table.warn(typed, "level_dbm", off)


def _days(items: list[_Item], known: Known) -> None:
    for table, typed, row in items:
        day = known.sessions.get(row["session_id"], ("", ""))[1]
        local = typed.values["when"].local_date
        if day and local != day and not (is_month(day) and local.startswith(day)):
            other = Trouble(f"The run is of {local}, its session of {day}.", "Correct one of them.", "other-day")
            table.warn(typed, "when", other)


def _at_once(items: list[_Item]) -> None:
    first: dict[tuple[str, str], TypedRow] = {}
    for table, typed, row in items:
        if "when" not in table.file_columns or row["throughput_mbit_s"] is None or not _clocked(row):
            continue
        if column_of(typed.number):  # a time that a whole row or sheet shares is not the instant of each cell
            continue
        other = first.setdefault((row["client_id"], row["at_utc"]), typed)
        if other is not typed:
            both = Trouble(
                f"{row['client_id']} has another run at this instant, {other.file} row {other.number}.",
                "One client does one run at a time; copy the times from the log.",
                "two-at-once",
            )
            table.warn(typed, "when", both)


def _clocked(row: Row) -> bool:
    """Whether the row has a clock time; equal days say nothing of two rows."""
    return row["at_utc"] is not None and has_clock(row["at_utc"])


def _link(row: Row) -> tuple[Any, ...]:
    return (
        row["device_id"],
        row["unit_id"],
        row["firmware"],
        row["client_id"],
        row["settings_id"],
        row["band"],
        row["width_mhz"],
    )


def _place(row: Row) -> tuple[Any, ...]:
    return (row["spot"], row["spot_since"], row["attenuation_db"], None if row["spot"] else row["level_dbm"])


def _grouped(items: Iterable[_Item], key: Any) -> Iterator[list[_Item]]:
    groups: dict[Any, list[_Item]] = {}
    for item in items:
        groups.setdefault(key(item[2]), []).append(item)
    yield from groups.values()
