"""Sheets of an .ods file (ISO/IEC 26300) as they look: formats, bold text and widths from its automatic styles."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any
from xml.etree.ElementTree import Element

from openpyxl.styles import Font

from catalog.books.looks import Look, Page
from catalog.reading.opendocument import cell_value_text, count_of
from catalog.reading.rawtable import LAST_ROW, MAX_COLUMNS

_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_NUMBER = "{urn:oasis:names:tc:opendocument:xmlns:datastyle:1.0}"
_FO = "{urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0}"
_CHARACTER_IN = 0.085  # (practice) width of a digit and its share of the margin, at 10 points
_INCHES = {"in": 1.0, "cm": 1 / 2.54, "mm": 1 / 25.4, "pt": 1 / 72}
_LENGTH = re.compile(r"([0-9.]+)(in|cm|mm|pt)")
_DURATION = re.compile(r"PT(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)(?:[.,]\d+)?S)?")
_TWO_LENGTHS = {  # element -> code when it is short, when it is long
    "year": ("yy", "yyyy"),
    "month": ("m", "mm"),
    "day": ("d", "dd"),
    "hours": ("h", "hh"),
    "minutes": ("m", "mm"),
    "seconds": ("s", "ss"),
}
# How a value is shown that has no format of its own.
_BY_KIND = {"date": "yyyy-mm-dd", "time": "hh:mm:ss", "percentage": "0.00%"}


@dataclass
class _Sheet:
    title: str
    widths: dict[int, float] = field(default_factory=dict)
    styles: list[str] = field(default_factory=list)  # of cells without one, by column
    rows: list[tuple[int, list[tuple[int, Any, Look]]]] = field(default_factory=list)
    number: int = 0


def opendocument_pages(content: bytes, titles: Sequence[str]) -> Iterator[Page]:
    """The sheets of these titles."""
    from defusedxml.ElementTree import iterparse

    styles = _Styles()
    sheets: list[_Sheet] = []
    with zipfile.ZipFile(io.BytesIO(content)) as archive, archive.open("content.xml") as stream:
        for event, element in iterparse(stream, events=("start", "end")):
            if event == "start":
                if element.tag == f"{_TABLE}table":
                    sheets.append(_Sheet(element.get(f"{_TABLE}name", "")))
            elif not sheets:
                styles.add(element)
            elif element.tag == f"{_TABLE}table-column":
                _add_column(sheets[-1], element, styles)
            elif element.tag == f"{_TABLE}table-row":
                if sheets[-1].title in titles:
                    _add_row(sheets[-1], element, styles)
                element.clear()
    for sheet in sheets:
        if sheet.title in titles:
            yield Page(sheet.title, sheet.widths, iter(sheet.rows))


def _add_column(sheet: _Sheet, element: Element, styles: _Styles) -> None:
    first = len(sheet.styles) + 1
    repeated = min(count_of(element, "columns"), MAX_COLUMNS - len(sheet.styles))
    sheet.styles += [element.get(f"{_TABLE}default-cell-style-name", "")] * repeated
    if (width := styles.widths.get(element.get(f"{_TABLE}style-name", ""))) is not None:
        sheet.widths.update(dict.fromkeys(range(first, first + repeated), width))


def _add_row(sheet: _Sheet, element: Element, styles: _Styles) -> None:
    repeated = count_of(element, "rows")
    row: list[tuple[int, Any, Look]] = []
    column = 1
    for cell in element:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        copies = min(count_of(cell, "columns"), MAX_COLUMNS + 1 - column)
        if (value := _value(cell)) not in (None, ""):
            default = sheet.styles[column - 1] if column <= len(sheet.styles) else ""
            look = styles.look(cell.get(f"{_TABLE}style-name", default), cell.get(f"{_OFFICE}value-type", ""))
            row += [(column + place, value, look) for place in range(copies)]
        column += copies
    if row:
        last = min(sheet.number + repeated, LAST_ROW)
        sheet.rows += [(number, row) for number in range(sheet.number + 1, last + 1)]
    sheet.number += repeated


def _value(cell: Element) -> Any:
    """The value as its type; where it is not written as its type should be, its text."""
    kind = cell.get(f"{_OFFICE}value-type")
    try:
        if kind in ("float", "percentage", "currency"):
            number = float(cell.get(f"{_OFFICE}value", ""))
            return int(number) if number.is_integer() and abs(number) < 1e15 else number
        if kind == "date":
            moment = dt.datetime.fromisoformat(cell.get(f"{_OFFICE}date-value", ""))
            return moment.replace(tzinfo=None)
        if kind == "time" and (match := _DURATION.fullmatch(cell.get(f"{_OFFICE}time-value", ""))):
            hours, minutes, seconds = (int(part or 0) for part in match.groups())
            return dt.timedelta(hours=hours, minutes=minutes, seconds=seconds)
    except (ValueError, OverflowError):
        pass
    return cell_value_text(cell)


class _Styles:
    """The automatic styles of a document, which stand before its sheets."""

    def __init__(self) -> None:
        self.widths: dict[str, float] = {}
        self._formats: dict[str, str] = {}
        self._cells: dict[str, tuple[str, bool]] = {}
        self._looks: dict[tuple[str, str], Look] = {}

    def add(self, element: Element) -> None:
        """Note a style. Parts of it come first, and say nothing by themselves."""
        if element.tag.startswith(_NUMBER) and (name := element.get(f"{_STYLE}name")) is not None:
            self._formats[name] = _format(element)
        elif element.tag == f"{_STYLE}style":
            name = element.get(f"{_STYLE}name", "")
            if element.get(f"{_STYLE}family") == "table-column":
                for part in element.iter(f"{_STYLE}table-column-properties"):
                    if match := _LENGTH.fullmatch(part.get(f"{_STYLE}column-width", "")):
                        self.widths[name] = round(float(match[1]) * _INCHES[match[2]] / _CHARACTER_IN, 2)
            elif element.get(f"{_STYLE}family") == "table-cell":
                texts = element.iter(f"{_STYLE}text-properties")
                bold = any(part.get(f"{_FO}font-weight") == "bold" for part in texts)
                self._cells[name] = (element.get(f"{_STYLE}data-style-name", ""), bold)

    def look(self, name: str, kind: str) -> Look:
        """How a cell of this style and type of value is shown."""
        key = (name, kind)
        if key not in self._looks:
            data_style, bold = self._cells.get(name, ("", False))
            shown = self._formats.get(data_style) or _BY_KIND.get(kind, "General")
            self._looks[key] = Look(shown, {"font": Font(bold=True)} if bold else {})
        return self._looks[key]


def _format(style: Element) -> str:
    """A data style as a code of ISO/IEC 29500-1, 18.8.31; "" for one that says nothing."""
    code = ""
    for part in style:
        name = part.tag.removeprefix(_NUMBER)
        if name in _TWO_LENGTHS:
            if name == "month" and part.get(f"{_NUMBER}textual") == "true":
                code += "mmmm" if part.get(f"{_NUMBER}style") == "long" else "mmm"
            else:
                code += _TWO_LENGTHS[name][part.get(f"{_NUMBER}style") == "long"]
        elif name in ("number", "scientific-number"):
            places = part.get(f"{_NUMBER}decimal-places", "")
            if not places.isdigit():
                continue
            grouped = part.get(f"{_NUMBER}grouping") == "true"
            code += ("#,##0" if grouped else "0") + ("." + "0" * min(int(places), 30) if int(places) else "")
            code += "E+00" if name == "scientific-number" else ""
        elif name in ("text", "currency-symbol") and (text := part.text or ""):
            code += text if text in ("%", "-", "/", ":", " ", ".", ", ") else f'"{text.replace(chr(34), "")}"'
    return code if any(letter in code for letter in "0#ymdhs@") else ""
