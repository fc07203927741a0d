"""Tables in .ods spreadsheets (ISO/IEC 26300): content.xml read as a stream, one sheet of each.

Repeated rows and cells are written once with a count; a count of blanks costs nothing here.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import IO
from xml.etree.ElementTree import Element

from catalog.errors import Problem
from catalog.reading.rawtable import LAST_ROW, MAX_COLUMNS, Exact, Formula, RawTable, TooLarge, problem_in
from catalog.reading.workbooks import (
    SourceOf,
    cell_text,
    chosen_sheet,
    left_alone,
    refused_archive,
    require_few_rows,
    sheet_table,
    unread,
    unreadable,
)

MAX_COPIES = 10_000  # rows that are written once with a count; no bench measures the same thing so often
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_REPEATED = re.compile(rb'[^>]*table:number-rows-repeated="([0-9]+)"')
_HIDDEN = frozenset({"collapse", "filter"})
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def read_opendocument(file: str, content: bytes) -> RawTable:
    """An .ods file as a table: values as stored, dates as ISO 8601, the results of formulas."""
    sheets = opendocument_sheets(file, content, lambda title: file)
    return chosen_sheet(file, sheets) if isinstance(sheets, list) else unread(file, sheets)


def opendocument_sheets(file: str, content: bytes, source_of: SourceOf) -> list[tuple[RawTable, bool]] | Problem:
    """Every sheet of an .ods file, and whether it shows; or why the file cannot be read.

    source_of  title -> source of its rows; None for a sheet that is not read: only whether there is anything in it
    """
    if (refusal := refused_archive(file, content)) is not None:
        return refusal
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if "content.xml" not in archive.namelist():
                return problem_in(file, 1, "The file is no .ods spreadsheet.", "Save it again.", "unreadable")
            sheets = open_sheets(archive)
        return [(_table(file, sheet, source_of(sheet.title)), sheet.shows) for sheet in sheets]
    except TooLarge as limit:
        return limit.problem(file)
    except Exception as failure:  # damaged archives and XML raise whatever their layer raises
        return unreadable(file, "an .ods spreadsheet", failure)


def _table(file: str, sheet: OpenSheet, source: str | None) -> RawTable:
    if source is None:
        return left_alone(file, sheet.title, sheet.rows)
    return sheet_table(source, sheet.title, sheet.rows, sheet.hidden_rows, sheet.hidden_columns)


def open_sheets(archive: zipfile.ZipFile) -> list[OpenSheet]:
    """Every sheet of a spreadsheet. Raises TooLarge, and whatever damaged archives and XML raise."""
    with archive.open("content.xml") as stream:
        filled = (b"office:value", b"<text:p")
        require_few_rows(stream, b"<table:table-row", filled, repeated=_REPEATED)
    with archive.open("content.xml") as stream:
        return _sheets(stream)


@dataclass
class OpenSheet:
    """One sheet while it is read. *number* and *column* are of the last row and column so far, *copies* of rows.

    merged    first row, first column, last row, last column of each merged cell, counted from 1
    day_zero  the day that its day numbers count from
    """

    title: str
    shows: bool
    day_zero: str = "1899-12-30"
    rows: list[tuple[int, Sequence[str]]] = field(default_factory=list)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    number: int = 0
    column: int = 0
    copies: int = 0

    def add_column(self, element: Element) -> None:
        repeated = count_of(element, "columns")
        if element.get(f"{_TABLE}visibility") in _HIDDEN:
            self.hidden_columns.update(range(self.column, min(self.column + repeated, MAX_COLUMNS)))
        self.column += repeated

    def add_row(self, element: Element) -> None:
        """Raises TooLarge for text beyond the limits."""
        repeated = count_of(element, "rows")
        cells = list(_cells(element, self.number + 1))
        if any(cells):
            self.copies += repeated - 1
            if self.copies > MAX_COPIES:
                many = f"Row {self.number + 1:,} brings the rows that repeat the one above to {self.copies:,}."
                raise TooLarge(many, "too-long")
            if self.number + repeated > LAST_ROW:
                raise TooLarge.row(self.number + repeated)
            numbers = range(self.number + 1, self.number + 1 + repeated)
            self.rows.extend((number, cells) for number in numbers)
            self.merged.extend(_merged(element, self.number + 1))
            if element.get(f"{_TABLE}visibility") in _HIDDEN:
                self.hidden_rows.update(numbers)
        self.number += repeated


def _sheets(content: IO[bytes]) -> list[OpenSheet]:
    """Every sheet; entities and external references in the XML are refused."""
    from defusedxml.ElementTree import iterparse

    sheets: list[OpenSheet] = []
    unseen: set[str] = set()  # styles of sheets that do not show; they stand before the sheets
    style, day_zero = "", "1899-12-30"
    for event, element in iterparse(content, events=("start", "end")):
        if event == "start":
            if element.tag == f"{_TABLE}table":
                shows = element.get(f"{_TABLE}style-name") not in unseen
                sheets.append(OpenSheet(element.get(f"{_TABLE}name", ""), shows, day_zero))
            elif element.tag == f"{_STYLE}style":
                style = element.get(f"{_STYLE}name", "")
            elif element.tag == f"{_STYLE}table-properties" and element.get(f"{_TABLE}display") == "false":
                unseen.add(style)
        elif element.tag == f"{_TABLE}null-date":
            day_zero = element.get(f"{_TABLE}date-value", day_zero)
        elif element.tag == f"{_TABLE}table-column" and sheets:
            sheets[-1].add_column(element)
        elif element.tag == f"{_TABLE}table-row" and sheets:
            sheets[-1].add_row(element)
            element.clear()
    return sheets


def _cells(row: Element, number: int) -> Iterator[str]:
    width = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        text = cell_value_text(cell)
        width += (repeated := count_of(cell, "columns"))
        if width > MAX_COLUMNS:
            if text:
                raise TooLarge.column(number)
            continue
        for _ in range(repeated):
            yield text


def _merged(row: Element, number: int) -> Iterator[tuple[int, int, int, int]]:
    column = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        over, down = (cell.get(f"{_TABLE}number-{what}-spanned", "1") for what in ("columns", "rows"))
        if over.isdecimal() and down.isdecimal() and (int(over[:6]), int(down[:8])) != (1, 1):
            yield number, column + 1, number + int(down[:8]) - 1, column + int(over[:6])
        column += count_of(cell, "columns")


def count_of(element: Element, what: str) -> int:
    """How often a row, column or cell is repeated; more than any sheet has is as good as endless."""
    repeated = element.get(f"{_TABLE}number-{what}-repeated", "1")
    if not (repeated.isascii() and repeated.isdigit()):
        return 1
    return max(1, int(repeated)) if len(repeated) < 10 else 10**9


def cell_value_text(cell: Element) -> str:
    """The stored value, not what the cell's format shows of it."""
    kind = cell.get(f"{_OFFICE}value-type")
    if kind in ("float", "percentage", "currency"):
        try:
            number = cell_text(float(cell.get(f"{_OFFICE}value", "")))
        except ValueError:
            return cell.get(f"{_OFFICE}value", "")  # no number, whatever it is called
        return f"{number} %" if kind == "percentage" else Exact(number)
    if kind == "date":
        return cell.get(f"{_OFFICE}date-value", "").replace("T", " ")
    if kind == "boolean":
        return "yes" if cell.get(f"{_OFFICE}boolean-value") == "true" else "no"
    if kind is None and (formula := cell.get(f"{_TABLE}formula")) is not None:
        return Formula(formula)
    return "\n".join("".join(_texts(part)) for part in cell if part.tag == f"{_TEXT}p")


def _texts(element: Element) -> Iterator[str]:
    """Text of a paragraph; runs of spaces and tabs are elements of their own."""
    yield element.text or ""
    for part in element:
        if part.tag == f"{_TEXT}s":
            spaces = part.get(f"{_TEXT}c", "1")
            yield " " * min(int(spaces), 1000) if spaces.isdigit() and len(spaces) < 6 else " "
        elif part.tag == f"{_TEXT}tab":
            yield "\t"
        else:
            yield from _texts(part)
        yield part.tail or ""
