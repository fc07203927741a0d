"""Cells of a sheet that read back as what was meant: text stays text, and a number is one that loses nothing."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from openpyxl.cell.cell import TYPE_STRING
from openpyxl.worksheet.worksheet import Worksheet

from catalog.reading.rawtable import Exact
from catalog.reading.workbooks import cell_text

LONGEST = 32_767  # characters in a cell (ISO/IEC 29500)
AS_TEXT = "@"
_NUMBER = re.compile(r"-?[0-9]{1,15}(\.[0-9]{1,15})?")


class NoCell(ValueError):
    """What no cell of a sheet can hold, in words."""


def put_text(sheet: Worksheet, row: int, column: int, text: str) -> None:
    """A text as it is, even one that looks like a number or a formula. Raises NoCell."""
    from openpyxl.utils.exceptions import IllegalCharacterError

    if len(text) > LONGEST or "\r" in text or re.search(r"_x[0-9A-Fa-f]{4}_", text):
        raise NoCell(f"the text {text[:40]!r} does not fit into a cell")
    try:
        cell = sheet.cell(row, column, text)
    except IllegalCharacterError as failure:
        raise NoCell(f"the text {text[:40]!r} holds a character that no sheet can hold") from failure
    cell.data_type = TYPE_STRING
    cell.number_format = AS_TEXT


def put_number(sheet: Worksheet, row: int, column: int, number: float) -> None:
    """A number."""
    sheet.cell(row, column, number)


def put_cell(sheet: Worksheet, row: int, column: int, text: str) -> None:
    """The text of a cell that was read: a number where it was one. Raises NoCell."""
    if type(text) is Exact:
        put_number(sheet, row, column, exact_number(text))
    elif text:
        put_text(sheet, row, column, text)


def exact_number(text: str) -> float:
    """The number that is read back as *text*. Raises NoCell where there is none."""
    if _NUMBER.fullmatch(text):
        number = float(text) if "." in text else int(text)
        if cell_text(number) == text and cell_text(float(number)) == text:
            return number
    raise NoCell(f"{text[:40]!r} is no number that a sheet gives back as it was")


def plain_text(value: Any) -> str:
    """A value of TOML as a cell would say it. Raises NoCell for tables, and lists within lists."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.isoformat(" ")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, str | int | float):
        return str(value)
    raise NoCell(f"{value!r} does not fit into a cell")


def list_text(values: list[Any]) -> str:
    """A list in one cell. Raises NoCell."""
    texts = [plain_text(value) for value in values]
    if any(";" in text or text != text.strip() or not text for text in texts):
        raise NoCell(f"the list {values!r} does not fit into a cell")
    return ";".join(texts)
