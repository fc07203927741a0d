"""Reading maps for sheets: which cells of a sheet are which columns of a table, written as `maps/NAME.toml`.

A value stands in a cell of its row (`from`), in the heading above it (`heading_row`), in every other filled cell
(`cells = "rest"`), or only in the map (`constant`). Sheets are read through a map in mapped_tables.py.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from catalog.errors import Problem
from catalog.reading.characters import odd_character, texts_in
from catalog.reading.columns import Column
from catalog.reading.format import TABLES
from catalog.reading.maps import MapProblems, given
from catalog.reading.toml_lines import index_lines, parse_toml
from catalog.reading.workbooks import cell_text
from catalog.units import Unit, parse_unit

REST = "rest"
MOST_HEADING_ROWS = 5
_KEYS = frozenset({"kind", "sheet", "heading", "leave_out", "column"})
_COLUMN_KEYS = frozenset({"from", "heading_row", "cells", "constant", "unit", "words", "missing", "day_first"})
_SOURCES = ("from", "heading_row", "cells", "constant")
_EXAMPLE = "See the example of a map for a sheet in the README, under Maps of sheets."


@dataclass(frozen=True)
class TableColumn:
    """Where the values of one column stand; exactly one of the first four says it.

    sources      headings of the cells of its row, joined by a space
    heading_row  offset of the heading row whose text above the cell is the value
    rest         every filled cell that no other column takes is a row of its own
    constant     the same text for all rows
    unit         as the map states it
    words        folded text of a cell -> what it means
    missing      what means "not measured": texts and numbers
    day_first    whether written days with the year last begin with the day; None: as the file shows
    """

    column: Column
    sources: tuple[str, ...]
    heading_row: int | None
    rest: bool
    constant: str | None
    unit: Unit | None
    words: Mapping[str, str]
    missing: frozenset[str | float]
    day_first: bool | None

    @cached_property
    def missing_numbers(self) -> frozenset[float]:
        """Numbers that mean "not measured", however they are written."""
        return frozenset(item for item in self.missing if isinstance(item, float))


@dataclass(frozen=True)
class TableMap:
    """How one kind of sheet is read.

    stem       the table it becomes
    sheet      title of the sheet, None for the only one
    heading    rows that make the first heading, in order
    leave_out  folded headings of columns, and texts that stand alone in a row, that are not read
    """

    file: str
    stem: str
    sheet: str | None
    heading: tuple[int, ...]
    columns: Sequence[TableColumn]
    leave_out: frozenset[str]

    @property
    def crossed(self) -> bool:
        """Whether one row of the sheet holds several rows of the table."""
        return any(column.rest for column in self.columns)


@lru_cache(maxsize=65536)
def folded(text: str) -> str:
    """A heading or word without its case and with single spaces."""
    return " ".join(text.split()).casefold()


def read_table_map(file: str, content: bytes) -> TableMap | list[Problem]:
    """The map in a TOML file, or everything that is wrong with it."""
    try:
        text = content.decode("utf-8-sig")
        values = parse_toml(text)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as failure:
        return MapProblems.of_toml(file, failure)
    wrong = MapProblems(file, index_lines(text), _EXAMPLE)
    for place, typed in texts_in(values):
        if (odd := odd_character(typed)) is not None:
            wrong.note(f"The text {typed!r} holds the character {odd}.", *place, remedy="Type the text again.")
            return wrong.problems
    stem = values.get("kind")
    if not isinstance(stem, str) or stem not in TABLES:
        tables = ", ".join(TABLES)
        wrong.note(f"kind is {given(stem)}, but a map for a sheet is for {tables}.", "kind")
        return wrong.problems
    for key in sorted(set(values) - _KEYS)[:1]:
        wrong.note(f"{key!r} is not known in a map for a sheet; it has {', '.join(sorted(_KEYS))}.", key)
    sheet = values.get("sheet")
    if sheet is not None and not isinstance(sheet, str):
        wrong.note("sheet is the title of one, as text.", "sheet")
    heading = _heading(values.get("heading", [1]), wrong)
    leave_out = values.get("leave_out", [])
    if not isinstance(leave_out, list) or not all(isinstance(item, str) for item in leave_out):
        wrong.note("leave_out is a list of headings.", "leave_out")
        leave_out = []
    columns = _columns(values.get("column"), stem, heading, wrong)
    if wrong.problems:
        return wrong.problems
    return TableMap(file, stem, sheet, heading, columns, frozenset(map(folded, leave_out)))


def _heading(value: Any, wrong: MapProblems) -> tuple[int, ...]:
    whole = isinstance(value, list) and all(isinstance(row, int) and not isinstance(row, bool) for row in value)
    if not whole or not value or value != sorted(set(value)) or value[0] < 1:
        wrong.note("heading lists the rows that make the heading, such as [1, 2].", "heading")
        return (1,)
    if value[-1] - value[0] >= MOST_HEADING_ROWS:
        wrong.note(f"A heading is at most {MOST_HEADING_ROWS} rows high.", "heading")
        return (1,)
    return tuple(value)


def _columns(value: Any, stem: str, heading: tuple[int, ...], wrong: MapProblems) -> list[TableColumn]:
    columns: list[TableColumn] = []
    if not isinstance(value, dict) or not value:
        wrong.note("The map names no column.", "column")
        return columns
    names = {column.name: column for column in TABLES[stem].columns}
    for name, entry in value.items():
        if name not in names:
            wrong.note(f"{stem} has no column {name!r}; it has {', '.join(names)}.", "column", name)
        elif not isinstance(entry, dict):
            wrong.note(f"The column {name} is written as [column.{name}].", "column", name)
        else:
            column = _column(names[name], entry, heading)
            if isinstance(column, str):
                wrong.note(column, "column", name)
            else:
                columns.append(column)
    rest = [column.column.name for column in columns if column.rest]
    if len(rest) > 1:
        wrong.note(f"{' and '.join(rest)} both take every other cell.", "column", rest[1], remedy="Keep one of them.")
    above = next((column.column.name for column in columns if column.heading_row is not None), None)
    if above is not None and not rest and not wrong.problems:
        wrong.note(
            f'{above} stands in the heading above a cell, but no column has cells = "rest".',
            "column",
            above,
            remedy='Write it for the column whose values stand there, such as [column.throughput] cells = "rest".',
        )
    return columns


def _column(column: Column, entry: Mapping[str, Any], heading: tuple[int, ...]) -> TableColumn | str:
    name = column.name
    if unknown := sorted(set(entry) - _COLUMN_KEYS):
        return f"{unknown[0]!r} is not known in [column.{name}]; it has {', '.join(sorted(_COLUMN_KEYS))}."
    if len([key for key in _SOURCES if key in entry]) != 1:
        return f"[column.{name}] needs one of from, heading_row, cells and constant."
    sources = entry.get("from", [])
    sources = [sources] if isinstance(sources, str) else sources
    if not isinstance(sources, list) or not all(isinstance(item, str) and item.strip() for item in sources):
        return f"from in [column.{name}] is a heading, or a list of headings."
    if "from" in entry and not sources:
        return f"from in [column.{name}] names no heading."
    row = entry.get("heading_row")
    if row is not None and (isinstance(row, bool) or row not in heading):
        return (
            f"heading_row in [column.{name}] is {row!r}, but the heading has the rows {', '.join(map(str, heading))}."
        )
    if entry.get("cells", REST) != REST:
        return f'cells in [column.{name}] is "{REST}".'
    constant = _constant(column, entry["constant"]) if "constant" in entry else None
    if constant is not None and not constant:
        return _wrong_constant(column, entry["constant"])
    unit = None
    if "unit" in entry:
        unit = parse_unit(str(entry["unit"]))
        if unit is None or column.unit is None or unit.quantity != column.unit.quantity:
            wanted = column.unit.name if column.unit else "none"
            return f"The unit {entry['unit']!r} of {name} is unknown or of another quantity; it becomes {wanted}."
    missing, words = entry.get("missing", []), entry.get("words", {})
    if not isinstance(missing, list) or not all(isinstance(item, str | int | float) for item in missing):
        return f"missing in [column.{name}] is a list of texts and numbers."
    if not isinstance(words, dict) or not all(isinstance(means, str | int | float) for means in words.values()):
        return f"words in [column.{name}] is a table, typed = meant."
    day_first = entry.get("day_first")
    if day_first is not None and (not isinstance(day_first, bool) or column.kind not in ("when", "date")):
        return f"day_first in [column.{name}] is true or false, for a time or a date."
    return TableColumn(
        column,
        tuple(sources),
        None if row is None else row - heading[0],
        "cells" in entry,
        constant,
        unit,
        {folded(typed): cell_text(meant) for typed, meant in words.items()},
        frozenset(folded(item) if isinstance(item, str) else float(item) for item in missing),
        day_first,
    )


def _constant(column: Column, value: Any) -> str:
    """The text that a cell would hold; "" for what none would."""
    if isinstance(value, float) and column.kind == "text":
        return ""
    return cell_text(value).strip() if isinstance(value, str | int | float | dt.date | dt.time) else ""


def _wrong_constant(column: Column, value: Any) -> str:
    if isinstance(value, float) and column.kind == "text":
        return f'{value!r} is a number; {column.name} is text, and a number loses its last zeros: write "{value}".'
    return f"constant in [column.{column.name}] is one value."
