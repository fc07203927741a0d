"""What every kind of log file gives: its columns, a piece of the file at a time."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from catalog.errors import InputRefused
from catalog.reading.log_numbers import Mask, Numbers
from catalog.reading.logs import Words

Role = Literal["number", "word", "time"]
Raw = Numbers | Words | Sequence[str]
"""A piece of a column: numbers, words of which there are few, or times as texts."""

SAMPLE_ROWS = 2000


class BadLine(InputRefused):
    """A line of the file cannot be read: its number, counted from 1, and why."""

    def __init__(self, line: int, sentence: str, remedy: str, code: str) -> None:
        super().__init__(sentence)
        self.line, self.remedy, self.code = line, remedy, code


@dataclass(frozen=True)
class Piece:
    """Some rows of a file.

    rows     how many the file has here
    keep     those that are rows of the log; None for all
    columns  by what was asked for, cut down to *keep*
    """

    rows: int
    keep: Mask | None
    columns: Mapping[tuple[str, Role], Raw]


class ColumnSource(Protocol):
    """A file that is read in columns. A column is named by a heading or a path."""

    @property
    def one_mark(self) -> bool:
        """Whether the decimal mark is a point because nothing else can be."""

    @property
    def units(self) -> Mapping[str, str]:
        """Units that stand in a row of their own, by column, once the first piece was read."""

    def require(self, names: Sequence[str]) -> None:
        """Raises InputRefused for a column that is not there."""

    def sample(self, name: str) -> list[str]:
        """What the first rows say in a column, as far as that is text."""

    def pieces(self, wanted: Collection[tuple[str, Role]], decimal: str | None) -> Iterator[Piece]:
        """The rows in pieces, numbers read by a decimal mark; None leaves them as text."""

    def line(self, row: int) -> int:
        """The line or element of a row, counted from 1."""


def kept(raw: Raw, mask: Mask) -> Raw:
    """Some rows of a piece of a column."""
    if isinstance(raw, Numbers):
        return raw.kept(mask)
    if isinstance(raw, Words):
        return Words(raw.texts, raw.place[mask])
    return [text for text, stays in zip(raw, mask.tolist(), strict=True) if stays]


def piece_of(columns: Mapping[tuple[str, Role], Raw], rows: int, keep: Mask | None) -> Piece:
    """A piece, its columns cut down to the rows that are kept."""
    if keep is not None:
        columns = {name: kept(raw, keep) for name, raw in columns.items()}
    return Piece(rows, keep, columns)
