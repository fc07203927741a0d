"""A file of corrections as lines: table, key, column, was, now, reason, noticed_by, date."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePath

from catalog.checking.hidden import unreadable_text
from catalog.checking.times import read_date
from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.batch import READERS
from catalog.reading.format import TABLES
from catalog.reading.rawtable import Exact, RawTable

COLUMNS = ("table", "key", "column", "was", "now", "reason", "noticed_by", "date")
_VERSIONS = frozenset({"version"}) | {
    column.name for table in TABLES.values() for column in table.columns if column.as_number == "none"
}
_MAY_BE_BLANK = frozenset({"key", "was", "now"})  # a value may have been missing, or go; there is one site


@dataclass(frozen=True)
class Line:
    """One value to replace. *row* counts as a spreadsheet does; *key* is column -> text, *key_text* as typed."""

    file: str
    row: int
    table: str
    key: Mapping[str, str]
    key_text: str
    column: str
    was: str
    now: str
    reason: str
    noticed_by: str
    date: str

    def problem(self, trouble: Trouble, column: str = "now") -> Problem:
        """A trouble with one cell of this line."""
        value = self.key_text if column == "key" else getattr(self, column)
        return trouble.at(self.file, self.row, column, value)


def read_lines(file: str, content: bytes, *, today: dt.date) -> tuple[list[Line], list[Problem]]:
    """All lines that can be read, and what is wrong with the others."""
    reader = READERS.get(PurePath(file).suffix.casefold())
    if reader is None:
        kinds = Trouble("Corrections stand in a table.", f"Save it as {', '.join(READERS)}.", "unknown-table")
        return [], [kinds.at(file, 1, "", file)]
    table = reader(file, content)
    problems = [*table.problems, *_not_shown(table)]
    places = {header.strip().casefold().replace(" ", "_"): place for place, header in enumerate(table.headers)}
    problems += _numbers(table, places)
    for column in COLUMNS:
        if column not in places and not problems:
            missing = Trouble(
                f"The column {column} is missing.", f"Columns are {', '.join(COLUMNS)}.", "missing-column"
            )
            problems.append(missing.at(file, table.header_row, column, ""))
    if problems:
        return [], problems
    lines = []
    for number, cells in _rows(table, places):
        line = _line(file, number, cells, problems, today)
        if line is not None:
            lines.append(line)
    return lines, problems


def _not_shown(table: RawTable) -> Iterator[Problem]:
    """What a workbook hides or lost: a correction is one act, so nothing can be answered later."""
    hidden = len(table.hidden_rows) + len(table.hidden_columns) + (table.hidden_sheet is not None)
    if hidden:
        shown = Trouble("Parts of the workbook are hidden or filtered out.", "Unhide or delete them.", "hidden-rows")
        yield shown.at(table.file, min(table.hidden_rows, default=table.header_row), "", "")
    for row in table.rows:
        for place, cell in enumerate(row.cells):
            if (trouble := unreadable_text(table, row.number, place, cell)) is not None:
                yield trouble.at(table.file, row.number, table.headers[place], ascii(cell))


def _numbers(table: RawTable, places: Mapping[str, int]) -> Iterator[Problem]:
    """New texts that the sheet holds as numbers, which lose their last zeros."""
    if not {"column", "now"} <= places.keys():
        return
    for row in table.rows:
        now, name = row.cells[places["now"]], row.cells[places["column"]]
        if type(now) is Exact and name.strip().casefold() in _VERSIONS:
            place = table.cell(row.number, places["now"])
            number = Trouble(f"{place} holds the number {now}.", "Format the cell as text.", "number-for-text")
            yield number.at(table.file, row.number, "now", now)


def _rows(table: RawTable, places: Mapping[str, int]) -> list[tuple[int, dict[str, str]]]:
    return [(row.number, {column: str(row.cells[places[column]]) for column in COLUMNS}) for row in table.rows]


def _line(file: str, row: int, cells: dict[str, str], problems: list[Problem], today: dt.date) -> Line | None:
    before = len(problems)
    for column in COLUMNS:
        if not cells[column] and column not in _MAY_BE_BLANK:
            blank = Trouble("The cell is empty.", "A correction says what, why, who and when.", "blank")
            problems.append(blank.at(file, row, column, ""))
    key: dict[str, str] = {}
    for pair in filter(None, (part.strip() for part in cells["key"].split(";"))):
        name, equals, value = (part.strip() for part in pair.partition("="))
        if not (name and equals and value):
            shape = Trouble(f"{pair!r} is no key.", "Write column=value, joined by semicolons.", "wrong-shape")
            problems.append(shape.at(file, row, "key", cells["key"]))
        key[name.casefold().replace(" ", "_")] = value
    date = read_date(cells["date"]) if cells["date"] else None
    if isinstance(date, Trouble):
        problems.append(date.at(file, row, "date", cells["date"]))
    elif date is not None and date > today + dt.timedelta(days=1):  # a day ahead somewhere is today elsewhere
        future = Trouble(f"{cells['date']} has not come yet.", "Write the day of the correction.", "future")
        problems.append(future.at(file, row, "date", cells["date"]))
    if len(problems) > before or not isinstance(date, dt.date):
        return None
    texts = {name: cells[name] for name in ("table", "column", "was", "now", "reason", "noticed_by")}
    return Line(file=file, row=row, key=key, key_text=cells["key"], date=date.isoformat(), **texts)
