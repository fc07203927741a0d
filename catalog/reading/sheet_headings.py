"""The headings of a sheet that is read through a map: where its columns stand, and where the next heading begins."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from catalog.errors import Problem
from catalog.reading.decimal_marks import plain, readings, unit_text
from catalog.reading.grids import Grid
from catalog.reading.header_units import stated_units
from catalog.reading.table_maps import TableColumn, TableMap, folded
from catalog.row_numbers import column_of, letters, row_of
from catalog.units import Unit, possible_units

_UNNAMED = re.compile(r"column (\d{1,3})")
_IN_BRACKETS = re.compile(r"[(\[]([^()\[\]]+)[)\]]")


class NoHeading(ValueError):
    """Why the columns of a map are not found under a heading: a problem with its cell."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.expected)
        self.problem = problem


@dataclass(frozen=True)
class Block:
    """A heading and where, under it, the columns of the map stand.

    top      first row of the heading
    first    first row below it
    sources  name of a column -> columns of the sheet that make its value
    rest     columns of the sheet that no other takes, in order
    """

    top: int
    first: int
    sources: Mapping[str, Sequence[int]]
    rest: Sequence[int]


@dataclass(frozen=True)
class Heading:
    """The first heading of a sheet, by which later ones are recognised.

    marks  (offset of its row, folded text) of every heading that the map names
    texts  folded texts of its last row
    numbers  numbers that stand in each of its rows, such as those of repeats
    """

    block: Block
    marks: frozenset[tuple[int, str]]
    texts: frozenset[str]
    numbers: Sequence[frozenset[str]]


def first_heading(grid: Grid, plan: TableMap) -> Heading:
    """Raises NoHeading for a column that is not there, or twice."""
    block = _block(grid, plan, plan.heading[0])
    marks = set()
    for column in plan.columns:
        for name, place in zip(column.sources, block.sources.get(column.column.name, ()), strict=True):
            called = (row for row in plan.heading if folded(grid.text(row, place)) == folded(name))
            if (row := next(called, None)) is not None:
                marks.add((row - plan.heading[0], folded(name)))
    last = grid.rows.get(plan.heading[-1], ())
    rows = range(plan.heading[0], plan.heading[-1] + 1)
    numbers = [frozenset(filter(_is_number, map(folded, grid.rows.get(row, ())))) for row in rows]
    return Heading(block, frozenset(marks), frozenset(folded(text) for text in last if text), numbers)


def next_heading(grid: Grid, plan: TableMap, heading: Heading, row: int) -> Block | None:
    """The heading that begins in *row*, with an order of its own; None for a row of values.

    Raises  NoHeading where it names some columns of the map, but not all of them.
    """
    height = plan.heading[-1] - plan.heading[0]
    texts = [{folded(text) for text in grid.rows.get(row + offset, ()) if text} for offset in range(height + 1)]
    if heading.marks:
        missing = [mark for mark in heading.marks if mark[1] not in texts[mark[0]]]
        if not missing:
            return None if _holds_values(texts, heading) else _block(grid, plan, row)
        lowest = max(offset for offset, _ in heading.marks)
        if lowest == 0 and len(missing) < len(heading.marks) and not _any_digit(texts[0]):
            name = min(text for _, text in missing)
            raise NoHeading(
                _problem(grid, row, 0, f"This looks like another heading, but it has no {name!r}.", _same(plan))
            )
        return None
    again = len(texts[-1]) > 1 and texts[-1] <= heading.texts and not _any_digit(texts[-1] - heading.texts)
    return _block(grid, plan, row) if again else None


def text_above(grid: Grid, plan: TableMap, block: Block, offset: int, column: int) -> tuple[str, int]:
    """What stands in a row of the heading above a cell, and in which column.

    A text reaches over the blank cells right of it, unless its row has merged cells, which say how far they reach,
    or is the last one.
    """
    return reaching_text(grid, block.top + offset, column, last=offset == plan.heading[-1] - plan.heading[0])


def reaching_text(grid: Grid, row: int, column: int, *, last: bool) -> tuple[str, int]:
    """The same for a row of the sheet. last: it is the last row of its heading."""
    if (text := grid.text(row, column)) or last or row in grid.merged_rows:
        return text, column
    for left in range(column - 1, 0, -1):
        if text := grid.text(row, left):
            return text, left
    return "", column


def cell_finder(
    grid: Grid,
    plan: TableMap,
    blocks: Sequence[Block],
    columns: Sequence[TableColumn],
    notes: Sequence[str],
    note_places: Mapping[int, Mapping[str, int]],
) -> Callable[[int, int], str]:
    """In which cell the value at a row's number and a column's place of the raw table stands; "" for one of the map.

    columns, notes  of the raw table, in order
    note_places     top of a block -> columns of the sheet by the note they hold
    """
    firsts = [block.first for block in blocks]

    def cell(number: int, place: int) -> str:
        row, own = row_of(number), column_of(number)
        block = blocks[max(0, bisect_right(firsts, row) - 1)]
        if place >= len(columns):
            return grid.origin(row, note_places[block.top].get(notes[place - len(columns)], 1))
        column = columns[place]
        if column.constant is not None:
            return ""
        if column.heading_row is not None:
            _, at = text_above(grid, plan, block, column.heading_row, own)
            return grid.origin(block.top + column.heading_row, at)
        return grid.origin(row, own if column.rest else block.sources[column.column.name][0])

    return cell


def stated_unit(grid: Grid, plan: TableMap, block: Block, column: TableColumn) -> tuple[Unit, ...]:
    """Units that the heading states for a column of the map; several where it is ambiguous or says several."""
    quantity = column.column.unit.quantity if column.column.unit else ""
    places = block.rest if column.rest else block.sources.get(column.column.name, ())
    result: dict[str, Unit] = {}
    for place in places:
        for offset in (row - plan.heading[0] for row in plan.heading):
            text, _ = text_above(grid, plan, block, offset, place)
            result |= {unit.name: unit for unit in units_in(text, quantity)}
    return tuple(result.values())


def units_in(text: str, quantity: str) -> tuple[Unit, ...]:
    """Units of *quantity* that a text of a heading states."""
    candidates = [*_IN_BRACKETS.findall(text), text, *text.split()[-1:]]
    for candidate in candidates:
        units = tuple(unit for unit in possible_units(candidate.strip()) if unit.quantity == quantity)
        if units:
            return units
    return stated_units(text, quantity) if quantity == "rate" and "/" in text else ()


def _block(grid: Grid, plan: TableMap, top: int) -> Block:
    rows = [top + row - plan.heading[0] for row in plan.heading]
    sources: dict[str, list[int]] = {}
    for column in plan.columns:
        if column.sources:
            sources[column.column.name] = [_column_called(grid, rows, name, plan) for name in column.sources]
    taken = {place for places in sources.values() for place in places}
    width = max((len(grid.rows.get(row, ())) for row in rows), default=0)
    rest = [
        place
        for place in range(1, max(width, grid.width) + 1)
        if place not in taken and not plan.leave_out & _names(grid, rows, place)
    ]
    return Block(top, rows[-1] + 1, sources, rest)


def _column_called(grid: Grid, rows: Sequence[int], name: str, plan: TableMap) -> int:
    wanted = folded(name)
    matching = [place for place in range(1, grid.width + 1) if wanted in _names(grid, rows, place)]
    if len(matching) == 1:
        return matching[0]
    if len(matching) > 1:
        both = " and ".join(f"{letters(place)}{rows[-1]}" for place in matching[:2])
        sentence = f"{name!r} is the heading of {both}, so it names no one column."
        raise NoHeading(_problem(grid, rows[0], matching[1], sentence, "Give them headings that differ."))
    if (unnamed := _UNNAMED.fullmatch(wanted)) is not None:
        place = int(unnamed[1])
        if 1 <= place <= grid.width and not _names(grid, rows, place):
            return place
    present = ", ".join(list(dict.fromkeys(_every_name(grid, rows)))[:8])
    where = f"row {rows[0]}" if len(rows) == 1 else f"rows {rows[0]} to {rows[-1]}"
    sentence = (
        f"There is no heading {name!r} in {where}; there {'is' if present else 'are no texts'} {present}".rstrip()
    )
    raise NoHeading(_problem(grid, rows[0], 0, f"{sentence}.", _same(plan), value=name))


def _names(grid: Grid, rows: Sequence[int], place: int) -> set[str]:
    """What a column may be called by: each text of its heading, and all of them in one."""
    texts = [folded(text) for row in rows if (text := grid.text(row, place))]
    return {*texts, " ".join(texts)} if texts else set()


def _every_name(grid: Grid, rows: Sequence[int]) -> Iterator[str]:
    for row in rows:
        yield from (text for text in grid.rows.get(row, ()) if text)


def _holds_values(texts: Sequence[set[str]], heading: Heading) -> bool:
    """Whether numbers stand in the rows that the first heading does not have there."""
    pairs = zip(texts, heading.numbers, strict=True)
    return any(_is_number(text) and text not in numbers for row, numbers in pairs for text in row)


def _is_number(text: str) -> bool:
    return bool(readings(plain(text))) and not unit_text(text)


def _any_digit(texts: set[str]) -> bool:
    return any(character.isdigit() for text in texts for character in text)


def _same(plan: TableMap) -> str:
    return f"Correct it, or {plan.file}: heading, and from of its columns."


def _problem(grid: Grid, row: int, column: int, sentence: str, remedy: str, value: str = "") -> Problem:
    return Problem(
        table=grid.file,
        row=row,
        column="",
        value=value,
        expected=sentence,
        remedy=remedy,
        code="map-heading",
        sheet=grid.sheet,
        cell=f"{letters(column)}{row}" if column else "",
    )
