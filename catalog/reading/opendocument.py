"""Tables in .ods spreadsheets (ISO/IEC 26300): content.xml read as a stream, one sheet of each.

Repeated rows and cells are written once with a count; a count of blanks costs nothing here.
"""

from __future__ import annotations

import io
import zipfile
from collections import Counter
from collections.abc import Iterator, Sequence
from xml.etree.ElementTree import Element

from catalog.reading.rawtable import (
    MAX_COLUMNS,
    MAX_ROWS,
    Exact,
    RawTable,
    problem_in,
    table_from_rows,
    table_stem,
)
from catalog.reading.workbooks import cell_text, chosen_sheet, refused_archive, unreadable

MAX_COPIES = 10_000  # rows that are written once with a count; no bench measures the same thing so often
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def read_opendocument(file: str, content: bytes) -> RawTable:
    """An .ods file as a table: values as stored, dates as ISO 8601, the results of formulas."""
    if (refusal := refused_archive(file, content)) is not None:
        return RawTable(file, table_stem(file), problems=[refusal])
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            names = set(archive.namelist())
            if "content.xml" not in names:
                missing = problem_in(file, 1, "The file is no .ods spreadsheet.", "Save it again.", "unreadable")
                return RawTable(file, table_stem(file), problems=[missing])
            sheets = _sheets(archive.read("content.xml"))
        tables = [(title, table_from_rows(file, rows, Counter())) for title, rows in sheets]
    except Exception as failure:  # damaged archives and XML raise whatever their layer raises
        return RawTable(file, table_stem(file), problems=[unreadable(file, "an .ods spreadsheet", failure)])
    return chosen_sheet(file, tables, Counter())


def _sheets(content: bytes) -> list[tuple[str, list[tuple[int, Sequence[str]]]]]:
    """Title and rows of every sheet; entities and external references in the XML are refused."""
    from defusedxml.ElementTree import iterparse

    sheets: list[tuple[str, list[tuple[int, Sequence[str]]]]] = []
    rows: list[tuple[int, Sequence[str]]] = []
    number = copies = blanks = 0
    for event, element in iterparse(io.BytesIO(content), events=("start", "end")):
        if event == "start":
            if element.tag == f"{_TABLE}table":
                rows, number = [], 0
                sheets.append((element.get(f"{_TABLE}name", ""), rows))
        elif element.tag == f"{_TABLE}table-row":
            repeated = _count(element, "rows")
            cells = list(_cells(element))
            if any(cells):
                copies += repeated - 1
                if copies > MAX_COPIES:
                    raise ValueError(f"row {number + 1} brings the rows that repeat the one above to {copies:,}")
                rows.extend((number + 1 + step, cells) for step in range(repeated))
                if len(rows) > MAX_ROWS + 1:
                    break
            elif rows and blanks < MAX_COPIES:  # blank rows between others are counted as repairs
                blanks += (counted := min(repeated, 1000))
                rows.extend((number + 1 + step, ()) for step in range(counted))
            number += repeated
            element.clear()
    return sheets


def _cells(row: Element) -> Iterator[str]:
    width = 0
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        text = _value(cell)
        width += (repeated := _count(cell, "columns"))
        if width > MAX_COLUMNS:
            if text:
                raise ValueError(f"a table has at most {MAX_COLUMNS} columns, and a row has text beyond them")
            continue
        for _ in range(repeated):
            yield text


def _count(element: Element, what: str) -> int:
    repeated = element.get(f"{_TABLE}number-{what}-repeated", "1")
    return max(1, int(repeated)) if repeated.isdigit() and len(repeated) < 10 else 1


def _value(cell: Element) -> str:
    """The stored value, not what the cell's format shows of it."""
    kind = cell.get(f"{_OFFICE}value-type")
    if kind in ("float", "percentage", "currency"):
        try:
            number = cell_text(float(cell.get(f"{_OFFICE}value", "")))
        except ValueError:
            number = cell.get(f"{_OFFICE}value", "")
        return f"{number} %" if kind == "percentage" else Exact(number)
    if kind == "date":
        return cell.get(f"{_OFFICE}date-value", "").replace("T", " ")
    if kind == "boolean":
        return "yes" if cell.get(f"{_OFFICE}boolean-value") == "true" else "no"
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
