"""Sheets read through a reading map (table_maps.py): the same raw table that the plain form gives, row by row or cell by cell.

Nothing is judged here that the plain form judges: numbers, names, times and outcomes stay the texts they are. Each
value keeps the cell it stands in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from catalog.errors import Problem
from catalog.reading.columns import Column
from catalog.reading.decimal_marks import plain, readings, unit_text
from catalog.reading.grids import Grid
from catalog.reading.rawtable import MAX_ROWS, TOTALS, RawRow, RawTable, problem_in, too_long
from catalog.reading.sheet_headings import (
    Block,
    Heading,
    NoHeading,
    cell_finder,
    first_heading,
    next_heading,
    stated_unit,
    text_above,
)
from catalog.reading.sheet_times import joined_time
from catalog.reading.sources import SourcePath
from catalog.reading.table_maps import TableColumn, TableMap, folded
from catalog.row_numbers import RowNumber, letters, row_of
from catalog.units import without_unit

_NUMERIC = frozenset({"count", "number", "level", "throughput"})


def read_mapped_table(grids: Sequence[Grid] | Problem, plan: TableMap, *, name: str = "") -> RawTable:
    """The table that *plan* reads from the sheets of a file. What cannot be read is among its problems.

    name  in the ids of its rows, that of the table where none is given
    """
    grid = grids if isinstance(grids, Problem) else _chosen(grids, plan)
    if isinstance(grid, Problem):
        source = SourcePath(grid.file, name or plan.stem, mapped=True)
        return RawTable(source, plan.stem, problems=[grid], map_file=plan.file)
    source = SourcePath(grid.file, name or plan.stem, sheet=grid.sheet, mapped=True)
    table = _Reading(grid, plan, source).table()
    if grid.shows:
        return table
    return RawTable(source, plan.stem, sheet="", hidden_sheet=table, map_file=plan.file)


def _chosen(grids: Sequence[Grid], plan: TableMap) -> Grid | Problem:
    filled = [grid for grid in grids if grid.rows]
    if plan.sheet is not None:
        called = [grid for grid in filled if folded(grid.sheet) == folded(plan.sheet)]
        if len(called) == 1:
            return called[0]
        if len(filled) == 1 and not filled[0].sheet:
            return filled[0]  # a text file has no title
    elif len(shown := [grid for grid in filled if grid.shows]) == 1:
        return shown[0]
    file = grids[0].file if grids else plan.file
    if not filled:
        return problem_in(file, 1, "There is no text in the file.", "Is it the right one?", "no-header")
    titles = ", ".join(grid.sheet for grid in filled)
    wanted = f"There is no sheet {plan.sheet!r}" if plan.sheet is not None else "Several sheets hold something"
    return problem_in(file, 1, f"{wanted}: {titles}.", f"Write sheet = in {plan.file}.", "map-sheet")


class _Reading:
    """One sheet while it is read."""

    def __init__(self, grid: Grid, plan: TableMap, source: SourcePath) -> None:
        self.grid, self.plan, self.source = grid, plan, source
        self.rows: list[RawRow] = []
        self.blocks: list[Block] = []
        self.problems: list[Problem] = []
        self.repairs: Counter[str] = Counter(grid.repairs)
        self.hidden: set[int] = set()
        self.named = [column for column in plan.columns if not column.rest]
        self.measured = next((column for column in plan.columns if column.rest), None)
        self.columns = [*self.named, *([self.measured] if self.measured else [])]
        self.notes: dict[str, None] = {}
        self.note_places: dict[int, dict[str, int]] = {}  # by the top of the block
        self.merged = frozenset(grid.covered.values())
        self.bare: set[tuple[int, int]] = set()

    def table(self) -> RawTable:
        """The sheet as a raw table."""
        plan, grid = self.plan, self.grid
        empty = RawTable(self.source, plan.stem, sheet=grid.sheet, map_file=plan.file)
        try:
            below = self._headings(first_heading(grid, plan))
        except NoHeading as failure:
            return replace(empty, problems=[failure.problem])
        for block, number in below:
            self._row(block, number)
            if len(self.rows) > MAX_ROWS:
                break
        if len(self.rows) > MAX_ROWS:
            return replace(empty, problems=[too_long(self.source, row_of(self.rows[MAX_ROWS].number))])
        headers = [self._header(column) for column in self.columns]
        if not self.rows and not self.problems:
            nothing = "Read through the map, the sheet has no row."
            self._refuse(self.blocks[0].first, 0, nothing, f"Correct {plan.file}.", "map-empty")
        hidden = {place for place, column in enumerate(self.columns) if self._is_hidden(column)}
        return replace(
            empty,
            headers=[*headers, *self.notes],
            header_row=self.blocks[0].top,
            rows=self.rows,
            problems=self.problems,
            repairs=+self.repairs,
            hidden_rows=frozenset(self.hidden),
            hidden_columns=frozenset(hidden),
            cells_of=cell_finder(grid, plan, self.blocks, self.columns, list(self.notes), self.note_places),
        )

    def _begin(self, block: Block) -> None:
        self.blocks.append(block)
        for column in self.columns:
            stated = stated_unit(self.grid, self.plan, block, column)
            if column.unit is not None and stated and column.unit not in stated:
                place = (block.rest if column.rest else block.sources.get(column.column.name, ()))[0]
                says = f"The heading says {stated[0].name} for {column.column.name}, the map {column.unit.name}."
                self._refuse(block.top, place, says, f"Correct the unit in {self.plan.file}.", "map-unit")
        if self.measured is None:
            self._note(block)

    def _note(self, block: Block) -> None:
        """Columns that the map does not name: known headings are read as such, others are kept as notes."""
        places: dict[str, int] = {}
        for place in block.rest:
            texts = [self.grid.text(row, place) for row in range(block.top, block.first)]
            name = " ".join(dict.fromkeys(filter(None, texts)))
            if name and name not in places:
                places[name] = place
                self.notes.setdefault(name)
        self.note_places[block.top] = places

    def _headings(self, heading: Heading) -> list[tuple[Block, int]]:
        """Every row of values with the heading it stands under."""
        block = heading.block
        self._begin(block)
        below = []
        for number in sorted(row for row in self.grid.rows if row >= block.first):
            if number < block.first:
                continue
            if (other := next_heading(self.grid, self.plan, heading, number)) is not None:
                block = other
                self._begin(block)
                self.repairs["further heading"] += 1
            else:
                below.append((block, number))
        return below

    def _row(self, block: Block, number: int) -> None:
        cells = self.grid.rows[number]
        filled = [(place, text) for place, text in enumerate(cells, start=1) if text]
        if all(folded(text) in self.plan.leave_out for _, text in filled):
            return
        if self._is_totals(block, number, filled):
            self.repairs["totals row"] += 1
            return
        text_of = {c.column.name: self._text(block, number, c) for c in self.named if c.heading_row is None}
        if self.measured is None:
            texts = [text_of[column.column.name] for column in self.columns]
            places = self.note_places[block.top]
            texts += [self.grid.text(number, places[name]) if name in places else "" for name in self.notes]
            self._keep(block, number, 0, texts)
            return
        self._cells(block, number, filled, text_of)

    def _cells(self, block: Block, number: int, filled: Sequence[tuple[int, str]], text_of: dict[str, str]) -> None:
        """Every filled cell that no other column takes, as a row of its own."""
        assert self.measured is not None
        rest = set(block.rest)
        taken = 0
        for place, text in filled:
            if place not in rest:
                continue
            if (number, place) in self.grid.covered:
                continue
            taken += 1
            result = self._meant(self.measured, text)
            if not result:
                self.repairs["cell that means not measured"] += 1
                continue
            own = [
                text_of[column.column.name] if column.heading_row is None else self._above(block, column, place)
                for column in self.named
            ]
            if (bare := self._bare(own)) is not None:
                self._refuse_bare(block, number, place, bare)
                continue
            if (number, place) in self.merged:
                self._refuse(
                    number,
                    place,
                    f"The merged cell {letters(place)}{number} holds {text!r} for several places of the table.",
                    "Split it, and type what was measured in each.",
                    "merged-value",
                )
                continue
            self._keep(block, number, place, [*own, result])
        if not taken:
            self._without_values(block, number, filled)

    def _refuse_bare(self, block: Block, number: int, place: int, bare: TableColumn) -> None:
        """Values below a heading that does not say what they are: once a column."""
        if (block.top, place) in self.bare:
            return
        self.bare.add((block.top, place))
        row = block.top + (bare.heading_row or 0)
        text, name = self.grid.text(number, place), bare.column.name
        self._refuse(
            row,
            place,
            f"{letters(place)}{number} holds {text!r}, but no {name} stands above it in row {row}.",
            f"Fill it in, or list the column under leave_out in {self.plan.file}.",
            "map-heading",
        )

    def _without_values(self, block: Block, number: int, filled: Sequence[tuple[int, str]]) -> None:
        """A row that gives no result: a place that was not measured, or a text that says something else."""
        numeric = {at for c in self.named if c.column.kind in _NUMERIC for at in self._places(block, c)}
        counted = [text for place, text in filled if place in numeric and readings(plain(text))]
        if counted or (len(filled) > 1 and not numeric):
            self.repairs["row without a result"] += 1
            return
        place, text = filled[0]
        self._refuse(
            number,
            place,
            f"{text!r} stands in a row without a result.",
            f"If it says what the rows below it are, make its row part of heading in {self.plan.file}; if it says "
            "nothing, list it under leave_out.",
            "lone-text",
            value=text,
        )

    def _keep(self, block: Block, number: int, place: int, texts: list[str]) -> None:
        at = RowNumber.of(number, place)
        hides = self.grid.hidden_rows
        over = range(block.top, block.first)
        if number in hides or place in self.grid.hidden_columns or any(row in hides for row in over):
            self.hidden.add(at)
        self.rows.append(RawRow(at, texts))

    def _text(self, block: Block, number: int, column: TableColumn) -> str:
        """What a column says of a row of the sheet."""
        if column.constant is not None:
            return column.constant
        texts = [self.grid.text(number, at) for at in block.sources[column.column.name]]
        if column.column.kind not in ("when", "date"):
            return self._meant(column, texts[0] if len(texts) == 1 else " ".join(filter(None, texts)))
        typed = self._meant(column, " ".join(texts).strip())
        if typed != " ".join(texts).strip():
            return typed
        return joined_time(texts, day_zero=self.grid.day_zero, day_first=column.day_first)

    def _above(self, block: Block, column: TableColumn, place: int) -> str:
        """What a column says of a cell, from the heading above it."""
        assert column.heading_row is not None
        text, _ = text_above(self.grid, self.plan, block, column.heading_row, place)
        return self._meant(column, text)

    def _bare(self, own: Sequence[str]) -> TableColumn | None:
        """The first column that should stand above a cell and does not."""
        pairs = zip(self.named, own, strict=True)
        return next((column for column, text in pairs if column.heading_row is not None and not text), None)

    def _meant(self, column: TableColumn, text: str) -> str:
        """A text after the map's words; blank for one that means not measured."""
        key = folded(text)
        if not key or key in column.missing:
            return ""
        numbers = column.missing_numbers
        if numbers and any(value in numbers for value in readings(plain(text)).values()) and not unit_text(text):
            return ""
        return column.words.get(key, text)

    def _is_totals(self, block: Block, number: int, filled: Sequence[tuple[int, str]]) -> bool:
        """Whether the row opens with a word such as "Mean" where a number, or nothing, belongs."""
        place, text = filled[0]
        if folded(text).rstrip(":") not in TOTALS:
            return False
        takers = [column for column in self.named if place in self._places(block, column)]
        return not takers or any(column.column.kind in _NUMERIC | {"when", "date"} for column in takers)

    def _places(self, block: Block, column: TableColumn) -> Sequence[int]:
        return block.sources.get(column.column.name, ())

    def _header(self, column: TableColumn) -> str:
        """The name of a column with its unit, as the plain form writes it."""
        if column.column.unit is None:
            return column.column.name
        stated = {unit.name for block in self.blocks for unit in stated_unit(self.grid, self.plan, block, column)}
        if column.unit is not None or len(stated) == 1:
            return f"{_unitless(column.column)} {column.unit.name if column.unit else stated.pop()}"
        if len(stated) > 1:
            place = (self.blocks[0].rest if column.rest else self._places(self.blocks[0], column))[0]
            can = f"The unit of {column.column.name} can be {' or '.join(sorted(stated))}."
            self._refuse(self.blocks[0].top, place, can, self._unit_remedy(column), "two-units")
            return column.column.name
        if column.column.kind == "throughput" and self._bare_numbers(column):
            none = f"Nothing says the unit of {column.column.name}."
            self._refuse(self.blocks[0].top, 0, none, self._unit_remedy(column), "no-unit")
            return f"{column.column.name} {column.column.unit.name}"  # one problem, not one a row
        return _unitless(column.column)

    def _bare_numbers(self, column: TableColumn) -> bool:
        place = self.columns.index(column)
        return any(readings(plain(row.cells[place])) and not unit_text(row.cells[place]) for row in self.rows)

    def _unit_remedy(self, column: TableColumn) -> str:
        assert column.column.unit is not None
        return f'Write it in [column.{column.column.name}] of {self.plan.file}, such as unit = "{column.column.unit.name}".'

    def _is_hidden(self, column: TableColumn) -> bool:
        hidden = self.grid.hidden_columns
        return any(place in hidden for block in self.blocks for place in self._places(block, column))

    def _refuse(self, row: int, column: int, sentence: str, remedy: str, code: str, *, value: str = "") -> None:
        self.problems.append(
            Problem(
                table=self.grid.file,
                row=row,
                column="",
                value=value,
                expected=sentence,
                remedy=remedy,
                code=code,
                file=self.grid.file,
                sheet=self.grid.sheet,
                cell=f"{letters(column)}{row}" if column else "",
                by_cell=True,
            )
        )


def _unitless(column: Column) -> str:
    return without_unit(column.name.replace("_", " "), column.unit)
