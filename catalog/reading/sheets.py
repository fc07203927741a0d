"""The sheets of an .xlsx workbook, cell by cell: what a cell holds, and which rows and columns do not show.

Only cells that hold something are looked at: neither a format nor a gap costs anything.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import IO, Any

from openpyxl.styles.numbers import BUILTIN_FORMATS, is_datetime
from openpyxl.utils.cell import coordinate_to_tuple, range_boundaries
from openpyxl.worksheet._reader import FORMULA_TAG, VALUE_TAG, WorkSheetParser

from catalog.reading.rawtable import LAST_ROW, MAX_COLUMNS, Formula, TooLarge
from catalog.reading.workbooks import cell_text, require_few_rows

_PIECE = 2**20
_BLANK = re.compile(rb"""<c r="[A-Z]{1,3}[0-9]+"(?: s="[0-9]+")? ?/>""")


class Sheet:
    """One sheet of an open workbook; what is hidden or merged is known once its rows were read.

    merged  first row, first column, last row, last column of each merged cell, counted from 1
    """

    def __init__(self, book: Any, sheet: Any) -> None:
        self._book = book
        self._sheet = sheet
        self.hidden_rows: set[int] = set()
        self.hidden_columns: set[int] = set()
        self.widths: dict[int, float] = {}  # by column, the first being 1; known with the first row [characters]
        self.merged: list[tuple[int, int, int, int]] = []

    def rows(self) -> Iterator[tuple[int, Sequence[str]]]:
        """Rows with text. Raises TooLarge for text beyond the limits, ValueError for rows out of order."""
        self._require_few()
        timed = _styles_with_time(self._book)
        for number, cells in self.cells():
            texts = [""] * max(cell["column"] for cell in cells)
            for cell in cells:
                texts[cell["column"] - 1] = cell_text(cell["value"], timed=cell["style_id"] in timed)
            yield number, texts

    def cells(self) -> Iterator[tuple[int, list[dict[str, Any]]]]:
        """Cells with something in them as the library parses them, by row. Raises as `rows`."""
        last = 0
        with self._open() as source:
            parser = _Parser(
                _WithoutBlanks(source),
                self._sheet._shared_strings,
                data_only=True,
                epoch=self._book.epoch,
                date_formats=self._book._date_formats,
                timedelta_formats=self._book._timedelta_formats,
            )
            parser.widths = self.widths
            for number, cells in parser.parse():
                if not cells:
                    continue
                if number <= last:
                    raise ValueError(f"its rows are not in order: row {number:,} follows row {last:,}")
                if len({cell["column"] for cell in cells}) < len(cells):
                    raise ValueError(f"row {number:,} has two cells in one place")
                if number > LAST_ROW:
                    raise TooLarge.row(number)
                if max(cell["column"] for cell in cells) > MAX_COLUMNS:
                    raise TooLarge.column(number)
                last = number
                if number in parser.hidden_rows:
                    self.hidden_rows.add(number)
                yield number, cells
        self.hidden_columns |= parser.hidden_columns
        if parser.merged_cells is not None:
            for cell in parser.merged_cells.mergeCell:
                left, top, right, bottom = (bound or 1 for bound in range_boundaries(cell.ref))
                self.merged.append((top, left, bottom, right))

    def _require_few(self) -> None:
        """Raises TooLarge for more filled rows than a table may have, counted without reading them."""
        with self._open() as source:
            require_few_rows(source, b"<row ", (b"<v>", b"<is>"))

    def _open(self) -> Any:
        return self._book._archive.open(self._sheet._worksheet_path)


class _WithoutBlanks:
    """The XML of a sheet without its cells that hold nothing: to parse sixteen thousand in a row takes its time."""

    def __init__(self, source: IO[bytes]) -> None:
        self._source = source
        self._rest = b""

    def read(self, size: int = _PIECE) -> bytes:
        """The next bytes; none at the end."""
        while piece := self._source.read(max(size, _PIECE)):
            whole, tag, rest = (self._rest + piece).rpartition(b"<")
            self._rest = tag + rest
            if kept := _BLANK.sub(b"", whole):
                return kept
        last, self._rest = self._rest, b""
        return last


class _Parser(WorkSheetParser):
    """The library's parser, except that cells without a value are left out and formulas are not blank."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.widths: dict[int, float] = {}
        self.hidden_rows: set[int] = set()
        self.hidden_columns: set[int] = set()

    def parse_row(self, row: Any) -> tuple[int, list[dict[str, Any]]]:
        number, cells = super().parse_row(row)
        kept = [cell for cell in cells if cell]
        attributes = self.row_dimensions.pop(str(number), {})
        if kept and _hides(attributes, "ht"):
            self.hidden_rows.add(number)
        return number, kept

    def parse_cell(self, element: Any) -> dict[str, Any]:
        """The cell; empty for one without a value."""
        if not len(element):
            place = element.get("r")
            self.col_counter = coordinate_to_tuple(place)[1] if place else self.col_counter + 1
            return {}
        cell: dict[str, Any] = super().parse_cell(element)
        formula = element.find(FORMULA_TAG) if cell["value"] is None else None
        # A formula whose result is an empty text has stored it.
        if formula is not None and (element.get("t") != "str" or element.find(VALUE_TAG) is None):
            cell["value"] = Formula(f"={formula.text or ''}")
        return {} if cell["value"] in (None, "") else cell

    def parse_column_dimensions(self, col: Any) -> None:
        width = float(col.get("width") or 0)
        if 0 < width <= 255:
            self.widths.update(
                dict.fromkeys(range(int(col.get("min")), min(int(col.get("max")), MAX_COLUMNS) + 1), width)
            )
        if _hides(col.attrib, "width"):
            first, last = int(col.get("min")), int(col.get("max"))
            self.hidden_columns.update(range(first - 1, min(last, MAX_COLUMNS)))


def _hides(attributes: Any, size: str) -> bool:
    """Whether a row or column is hidden, filtered out, or too small to be seen."""
    return attributes.get("hidden") in ("1", "true") or attributes.get(size) in ("0", "0.0")


def _styles_with_time(book: Any) -> frozenset[int]:
    """Numbers of the cell formats that show a time of day."""
    timed = set()
    for number, style in enumerate(book._cell_styles):
        code = style.numFmtId
        shown = BUILTIN_FORMATS.get(code, "") if code < 164 else book._number_formats[code - 164]
        if is_datetime(shown) in ("datetime", "time"):
            timed.add(number)
    return frozenset(timed)
