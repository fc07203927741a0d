"""A log as CSV, read in columns by pandas' C reader, a few megabytes at a time.

The C reader drops what a row has beyond the columns asked for, so the cells of every row are counted: a decimal comma
between commas would else shift what follows it.
"""

from __future__ import annotations

import csv
import io
import itertools
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from catalog.errors import InputRefused, Problem
from catalog.reading.delimited import lines, separator_of, too_wide, utf_8
from catalog.reading.log_columns import SAMPLE_ROWS, BadLine, Piece, Raw, Role, piece_of
from catalog.reading.log_numbers import Numbers, only_texts
from catalog.reading.logs import MAX_SAMPLES, Words, words_of
from catalog.reading.rawtable import MAX_COLUMNS, problem_in
from catalog.units import possible_units

_PIECE = 1 << 21  # bytes
_LINE_END = re.compile(rb"\r\n|\n|\r")
_BLANK = b" \t\r\n"


@dataclass
class CsvColumns:
    """A CSV file whose columns are named by their headings.

    begin  where the rows begin in *body*
    above  lines above the first row
    units  a row of units under the heading, by heading, once the first rows are read
    """

    body: bytes
    separator: str
    headers: Sequence[str]
    begin: int
    above: int
    units: dict[str, str] = field(default_factory=dict)
    _rows: int = 0

    @property
    def one_mark(self) -> bool:
        """Whether no number can hold a comma, because it separates and nothing is quoted."""
        return self.separator == "," and self.body.find(b'"', self.begin) < 0

    def require(self, names: Sequence[str]) -> None:
        """Raises InputRefused: a column of this name is not there, or twice."""
        for name in names:
            if (count := self.headers.count(name)) != 1:
                what = "has no column" if count == 0 else f"has {count} columns called"
                raise InputRefused(f"The file {what} {name!r}.")

    def sample(self, name: str) -> list[str]:
        """What the first rows say in a column."""
        place = self.headers.index(name)
        records = self.records(self.begin, self._cut(self.begin, 100 * SAMPLE_ROWS))
        return [row[place] for _, row in itertools.islice(records, SAMPLE_ROWS) if len(row) > place]

    def line(self, row: int) -> int:
        """The line of a row, counted from 1."""
        end = len(self.body)
        while end > self.begin and self.body[end - 1] in _BLANK:
            end -= 1
        if self.body.count(b"\n", self.begin, end) + 1 == self._rows:  # no blank line, no line end in quotes
            return self.above + row + 1
        records = self.records(self.begin, len(self.body))
        return next((self.above + line for line, _ in itertools.islice(records, row, None)), 1)

    def pieces(self, wanted: Collection[tuple[str, Role]], decimal: str | None) -> Iterator[Piece]:
        """The rows in pieces.

        decimal  the mark by which numbers are read; None leaves every number as text
        Raises   BadLine: a row has more cells than there are headings, or cannot be read at all.
        """
        self._rows = 0
        self.units.clear()
        begin = self.begin
        while begin < len(self.body):
            end = self._cut(begin, _PIECE)
            self._count_cells(begin, end)
            columns, rows = self._columns(begin, end, wanted, decimal)
            keep = self._without_headings(columns, rows, begin) if rows else None
            self._rows += rows
            yield piece_of(columns, rows, keep)
            begin = end

    def _cut(self, begin: int, size: int) -> int:
        """The end of a line about *size* bytes on, outside quotation marks."""
        end = begin + size
        while (end := self.body.find(b"\n", end) + 1) > 0:
            if self.body.count(b'"', begin, end) % 2 == 0:
                return end
        return len(self.body)

    def records(self, begin: int, end: int) -> Iterator[tuple[int, list[str]]]:
        """Records between two places, each with the line, from *begin* on, on which it ends. Blank lines are none."""
        reader = csv.reader(lines(str(self.body[begin:end], "utf-8")), delimiter=self.separator)
        try:
            for record in reader:
                if len(record) > 1 or (record and record[0].strip(" \t")):
                    yield reader.line_num, record
        except csv.Error as failure:
            number = self._line_at(begin) + reader.line_num
            raise BadLine(number, f"The line cannot be read: {failure}.", "Write the log again.", "quotes") from None

    def _line_at(self, place: int) -> int:
        """Lines of the file that end before a place in it."""
        return sum(1 for _ in _LINE_END.finditer(self.body, 0, place))

    def _count_cells(self, begin: int, end: int) -> None:
        width, mark = len(self.headers), self.separator.encode()
        if self.body.find(b'"', begin, end) >= 0:
            for line, record in self.records(begin, end):
                if len(record) > width and any(cell.strip() for cell in record[width:]):
                    raise self._too_many(self._line_at(begin) + line, len(record))
            return
        letters = np.frombuffer(self.body, dtype=np.uint8, count=end - begin, offset=begin)
        line_end = "\n" if self.body.find(b"\n", begin, end) >= 0 else "\r"
        ends = np.flatnonzero(letters == ord(line_end))
        if not len(ends) or ends[-1] != len(letters) - 1:
            ends = np.append(ends, len(letters))
        marks = np.flatnonzero(letters == ord(self.separator))
        if width > 1 and len(marks) == len(ends) * (width - 1):
            grid = marks.reshape(len(ends), width - 1)
            if (grid[:, -1] < ends).all() and (grid[1:, 0] > ends[:-1]).all():
                return
        counts = np.diff(np.searchsorted(marks, ends), prepend=0)
        for row in np.flatnonzero(counts >= width).tolist():
            start = begin + (int(ends[row - 1]) + 1 if row else 0)
            cells = self.body[start : begin + int(ends[row])].split(mark)
            if any(cell.strip() for cell in cells[width:]):
                raise self._too_many(self._line_at(start) + 1, len(cells))

    def _too_many(self, line: int, cells: int) -> BadLine:
        return BadLine(
            line,
            f"The row has {cells} cells, but the heading names {len(self.headers)} columns.",
            "Is a decimal comma being read as a separator? Quote the cells, or separate them by semicolons.",
            "too-many-cells",
        )

    def _columns(
        self, begin: int, end: int, wanted: Collection[tuple[str, Role]], decimal: str | None
    ) -> tuple[dict[tuple[str, Role], Raw], int]:
        """Columns of a piece, and how many rows it has."""
        import pandas as pd

        roles: dict[int, set[Role]] = {}
        for name, role in wanted:
            roles.setdefault(self.headers.index(name), set()).add(role)
        kinds: dict[int, Any] = {}
        for place, asked in roles.items():
            if asked == {"word"}:
                kinds[place] = "category"
            elif asked != {"number"} or decimal is None:
                kinds[place] = object
        frame = self._frame(begin, end, sorted(roles), kinds, decimal or ".")
        if frame is None:
            records = [record for _, record in self.records(begin, end)]
            texts = {p: [record[p] if p < len(record) else "" for record in records] for p in roles}
            return {(name, role): _as(role, texts[self.headers.index(name)]) for name, role in wanted}, len(records)
        numbers = {p: _numbers(frame[p].to_numpy()) for p in roles if p not in kinds}
        words = {place: frame[place].cat for place, kind in kinds.items() if kind == "category"}
        # The C reader makes numbers of "007" and "80.0", and bools of "true"; as words they are what was typed.
        words = {
            place: column for place, column in words.items() if isinstance(column.categories.dtype, pd.StringDtype)
        }
        unread = [place for place in sorted(roles) if place not in words and kinds.get(place) in (None, "category")]
        unread = [place for place in unread if numbers.get(place) is None]
        again = self._frame(begin, end, unread, dict.fromkeys(unread, object), ".") if unread else None
        columns: dict[tuple[str, Role], Raw] = {}
        for name, role in wanted:
            place = self.headers.index(name)
            if (read := numbers.get(place)) is not None:
                columns[name, role] = read
            elif place in words:
                texts_of = [str(text) for text in words[place].categories]
                columns[name, role] = Words([*texts_of, ""], words[place].codes.to_numpy())  # blank is -1, the last
            else:
                column = (again if place in unread and again is not None else frame)[place]
                columns[name, role] = _as(role, column.fillna("").tolist())
        return columns, len(frame)

    def _frame(self, begin: int, end: int, places: Sequence[int], kinds: Mapping[int, Any], decimal: str) -> Any:
        """Some columns by the C reader; None where it gives up."""
        import pandas as pd

        try:
            return pd.read_csv(  # type: ignore[call-overload]
                io.BytesIO(memoryview(self.body)[begin:end]),
                header=None,
                names=range(len(self.headers)),
                index_col=False,
                sep=self.separator,
                decimal=decimal,
                usecols=places,
                dtype=kinds,
                na_values=[""],
                keep_default_na=False,
                engine="c",
                low_memory=False,
            )
        except (ValueError, OverflowError, pd.errors.ParserError):
            return None

    def _without_headings(self, columns: Mapping[tuple[str, Role], Raw], rows: int, begin: int) -> Any:
        """Which rows are no row of units under the heading and no heading again; None where all are.

        Raises  BadLine for a heading in another order: what follows it would be read in the wrong columns.
        """
        unread = {
            name: raw for (name, role), raw in columns.items() if isinstance(raw, Numbers) and len(raw.at) == rows
        }
        if not unread:
            return None
        dropped: set[int] = set()
        if begin == self.begin:
            first = {name: raw.texts[0].strip() for name, raw in unread.items()}
            numeric = sum(role == "number" for _, role in columns)
            if len(unread) == numeric and any(first.values()) and all(map(_may_be_unit, first.values())):
                self.units |= first
                dropped.add(0)
        names = set(self.headers)
        for raw in unread.values():
            for row in [row for row, text in enumerate(raw.texts) if text.strip() in names]:
                cells = {name: _cell(column, row).strip() for (name, _), column in columns.items()}
                if all(name == cell for name, cell in cells.items()):
                    dropped.add(row)
                elif all(cell in names for cell in cells.values()):
                    line = (
                        self.above
                        + next(itertools.islice(self.records(self.begin, len(self.body)), self._rows + row, None))[0]
                    )
                    raise BadLine(
                        line,
                        "The line is a second heading, in another order than the first.",
                        "Cut the log there, and read each piece through a map.",
                        "second-heading",
                    )
        if not dropped:
            return None
        keep = np.ones(rows, dtype=np.bool_)
        keep[sorted(dropped)] = False
        return keep


def _may_be_unit(cell: str) -> bool:
    return not cell or bool(possible_units(cell.strip("()[] ")))


def _cell(column: Raw, row: int) -> str:
    if isinstance(column, Words):
        return str(column.texts[column.place[row]])
    if isinstance(column, Numbers):
        return column.texts[row] if len(column.at) == len(column.values) else "0"
    return column[row]


def _as(role: Role, texts: list[str]) -> Raw:
    return only_texts(texts) if role == "number" else words_of(texts) if role == "word" else texts


def _numbers(values: Any) -> Numbers | None:
    """A column that the C reader took for numbers; None for any other, and for infinity."""
    if values.dtype.kind == "u":
        values = values.astype(np.float64)
    if values.dtype.kind not in "if" or (values.dtype.kind == "f" and np.isinf(values).any()):
        return None
    return Numbers(values, marked=True)


def open_csv(file: str, content: bytes) -> CsvColumns | Problem:
    """A CSV file with its heading: the first line that is not blank, after a line such as `sep=;`."""
    body = utf_8(file, content)
    if isinstance(body, Problem):
        return body
    if body.count(b"\n") > MAX_SAMPLES + 1:
        limit = f"A log has at most {MAX_SAMPLES:,} rows; this one is longer."
        return problem_in(file, MAX_SAMPLES, limit, "Split the run.", "too-long")
    begin, above, stated = 0, 0, ""
    text = ""
    while begin < len(body) and not text:
        end = _LINE_END.search(body, begin)
        after = end.end() if end else len(body)
        while end and body.count(b'"', begin, after) % 2:  # a heading of several lines
            end = _LINE_END.search(body, after)
            after, above = (end.end() if end else len(body)), above + 1
        text = body[begin:after].decode().rstrip("\r\n")
        begin, above = after, above + 1
        if text[:4].casefold() == "sep=" and len(text) == 5:
            stated, text = text[4], ""
        text = text if text.strip(" \t,;") else ""
    separator = stated or separator_of(text)
    if (count := text.count(separator) + 1) > MAX_COLUMNS:
        return problem_in(file, above, too_wide(count), "Is a line end missing?", "too-wide")
    try:
        headers = [name.strip() for name in next(csv.reader(lines(text), delimiter=separator), [])]
    except csv.Error as failure:
        return problem_in(file, above, f"The header cannot be read: {failure}.", "Write the log again.", "quotes")
    return CsvColumns(body, separator, headers, begin, above)
