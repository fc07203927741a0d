"""How a sheet is laid out, as far as it shows: where its heading is, where results stand, what stands beside them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from catalog.checking.headers import heading_of
from catalog.checking.heading_words import HeadingWords, are_results, heading_words, is_number
from catalog.reading.columns import Column
from catalog.reading.format import TABLES
from catalog.reading.grids import Grid
from catalog.reading.sheet_headings import reaching_text
from catalog.reading.table_maps import folded
from catalog.units import possible_units

LOOKED_AT = 2_000  # rows of values
MOST_HEADING_ROWS = 3
_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")
_DAY = re.compile(r"(\d{4}-\d{1,2}-\d{1,2}|\d{1,2}([./-])\d{1,2}\2\d{4})([ T]00:00(:00)?)?")
_MONTH = re.compile(r"\d{4}-\d{2}")
_COUNTS = frozenset(
    {"run", "repetition", "rep", "try", "no", "no.", "nr", "nr.", "lauf", "messung"}
)  # with numbers below
_SMALL = re.compile(r"\d{1,2}")


@dataclass(frozen=True)
class ColumnLook:
    """A column of the sheet. Columns count from 1.

    own      what stands in it in each row of the heading
    above    the same, with texts that reach over it
    texts    its cells below, blanks included
    meaning  the column of the table that its heading names
    """

    place: int
    own: tuple[str, ...]
    above: tuple[str, ...]
    texts: tuple[str, ...]
    meaning: Column | None

    @cached_property
    def holds_results(self) -> bool:
        """Whether its cells can be throughputs and its heading says nothing else."""
        if not are_results(self.texts) or (self.meaning is not None and self.meaning.name != "throughput"):
            return False
        if any(words.loss_db for words in self.words):
            return True
        units = [unit for text in self.own for unit in possible_units(text.split()[-1].strip("()[]") if text else "")]
        return not units or any(unit.quantity == "rate" for unit in units)

    @cached_property
    def words(self) -> tuple[HeadingWords, ...]:
        """What each row of the heading says above it."""
        return tuple(map(heading_words, self.above))

    def all(self, test: Callable[[str], bool]) -> bool:
        """Whether every filled cell passes."""
        filled = [text for text in self.texts if text]
        return bool(filled) and all(map(test, filled))


@dataclass(frozen=True)
class SheetLook:
    """A sheet as far as it shows.

    heading  rows of the first heading; with stacked tables that have a title each, the title's too
    titled   whether the first of them is such a title
    again    rows in which a heading begins again
    above    texts above the heading, which nothing reads
    """

    grid: Grid
    heading: tuple[int, ...]
    titled: bool
    again: tuple[int, ...]
    above: tuple[str, ...]
    columns: Sequence[ColumnLook] = field(default_factory=tuple)

    @cached_property
    def results(self) -> list[ColumnLook]:
        """The columns that hold results."""
        return [column for column in self.columns if column.holds_results]

    @cached_property
    def beside(self) -> list[ColumnLook]:
        """The other columns with a heading or values."""
        others = [column for column in self.columns if not column.holds_results]
        return [column for column in others if any(column.texts) or any(column.own)]

    @cached_property
    def crossed(self) -> bool:
        """Whether one row holds several results, told apart by the heading above them."""
        return len([column for column in self.results if not any(words.total for words in column.words)]) > 1

    def apart(self) -> tuple[ColumnLook, ColumnLook] | None:
        """Columns of the date and of the time of day, where they stand apart."""
        days = [column for column in self.columns if column.all(is_day)]
        clocks = [column for column in self.columns if column.all(is_clock)]
        return (days[0], clocks[0]) if days and clocks else None


def is_clock(text: str) -> bool:
    """Whether a cell holds a time of day alone."""
    return _CLOCK.fullmatch(text.strip()) is not None


def is_day(text: str) -> bool:
    """Whether a cell holds a date alone."""
    return _DAY.fullmatch(text.strip()) is not None


def is_month_or_day(text: str) -> bool:
    """Whether a cell holds a date, or a month without a day."""
    return is_day(text) or _MONTH.fullmatch(text.strip()) is not None


def look_at(grid: Grid, stem: str) -> SheetLook | None:
    """The layout of a sheet; None where no row of it could be a heading with values below."""
    numbers = sorted(grid.rows)
    top = next((row for row in numbers if _filled(grid, row) > 1), None)
    if top is None:
        return None
    heading = [top]
    while len(heading) < MOST_HEADING_ROWS and _goes_on(grid, heading, numbers):
        heading.append(heading[-1] + 1)
    again = _again(grid, heading, numbers)
    titles = [row - 1 for row in (top, *again)]
    titled = bool(again) and all(_is_title(grid, row) for row in titles)
    skipped = {row + offset for row in again for offset in range(len(heading))} | (set(titles) if titled else set())
    below = [row for row in numbers if row > heading[-1] and row not in skipped][:LOOKED_AT]
    if not below:
        return None
    rows = [top - 1, *heading] if titled else heading
    columns = []
    for place in range(1, grid.width + 1):
        own = tuple(grid.text(row, place) for row in heading)
        columns.append(
            ColumnLook(
                place,
                own,
                tuple(reaching_text(grid, row, place, last=row == rows[-1])[0] for row in rows),
                tuple(grid.text(row, place) for row in below),
                _meaning(own, stem, [grid.text(row, place) for row in below]),
            )
        )
    above = tuple(text for row in numbers if row < rows[0] for text in grid.rows[row] if text)
    return SheetLook(grid, tuple(rows), titled, tuple(again), above, columns)


def _filled(grid: Grid, row: int) -> int:
    return sum(bool(text) for text in grid.rows.get(row, ()))


def _is_title(grid: Grid, row: int) -> bool:
    return _filled(grid, row) == 1 and not any(map(is_number, filter(None, grid.rows[row])))


def _goes_on(grid: Grid, heading: Sequence[int], numbers: Sequence[int]) -> bool:
    """Whether the row below the heading belongs to it: no number stands in it, or only the numbers of repeats."""
    row = heading[-1] + 1
    if row not in grid.rows or row == numbers[-1]:
        return False
    texts = [text for text in grid.rows[row] if text]
    if all(possible_units(text.strip("()[] ")) for text in texts):
        return True
    if all(_SMALL.fullmatch(text) for text in texts) and not grid.text(row, 1) and len(texts) > 1:
        return True
    if any(is_number(text) or is_clock(text) or is_day(text) for text in texts) or len(texts) < 2:
        return False
    below = next((other for other in numbers if other > row), row)
    upper = [grid.text(heading[-1], place) for place in range(1, grid.width + 1)]
    wide = any(not text for text in upper) or len(set(upper)) < len(upper)
    return wide and any(map(is_number, filter(None, grid.rows[below])))


def _again(grid: Grid, heading: Sequence[int], numbers: Sequence[int]) -> list[int]:
    """Rows in which the heading comes again, in any order of its texts, or most of it."""
    height = len(heading)
    marks = {folded(text) for text in grid.rows[heading[-1]] if text and not is_number(text)}
    rows = []
    for row in numbers:
        texts = {folded(text) for text in grid.rows[row] if text}
        if row > heading[-1] and len(marks) > 1 and len(texts & marks) * 2 > max(len(texts), len(marks)):
            rows.append(row - height + 1)
    return rows


def _meaning(own: Sequence[str], stem: str, below: Sequence[str]) -> Column | None:
    """What a heading names: all its rows in one, else the lowest that names something."""
    texts = [text for text in own if text]
    small = all(_SMALL.fullmatch(text) for text in below if text) and any(below)
    if stem == "runs" and small and texts and folded(texts[-1]) in _COUNTS:
        return next(column for column in TABLES[stem].columns if column.name == "repeat")
    for text in (" ".join(texts), *reversed(texts)):
        match = heading_of(text, stem)
        if isinstance(match, tuple):
            return match[0]
    return None
