"""Sheets of a workbook as they look: values, how they are shown, widths. For copies that a person reads."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from copy import copy
from typing import Any

from openpyxl.cell.read_only import ReadOnlyCell

from catalog.books.looks import Look, Page
from catalog.books.opendocument_pages import opendocument_pages
from catalog.reading.sheets import Sheet


def pages_of(file: str, content: bytes, titles: Sequence[str]) -> Iterator[Page]:
    """The sheets of these titles, in the order of the workbook. Each is read while its rows are taken.

    content  a workbook that was read before, so it is sound and within the limits
    """
    if file.casefold().endswith(".ods"):
        yield from opendocument_pages(content, titles)
        return
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
    for worksheet in book.worksheets:
        if worksheet.title in titles:
            sheet = Sheet(book, worksheet)
            yield Page(worksheet.title, sheet.widths, _rows(sheet, worksheet))
    book.close()


def _rows(sheet: Sheet, worksheet: Any) -> Iterator[tuple[int, list[tuple[int, Any, Look]]]]:
    looks: dict[int, Look] = {}
    for number, cells in sheet.cells():
        row = []
        for cell in cells:
            style = cell["style_id"]
            if style not in looks:
                looks[style] = _look(ReadOnlyCell(worksheet, 1, 1, None, "n", style))
            row.append((cell["column"], cell["value"], looks[style]))
        yield number, row


def _look(cell: Any) -> Look:
    return Look(
        number_format=cell.number_format,
        parts={name: copy(getattr(cell, name)) for name in ("font", "fill", "border", "alignment")},
    )
