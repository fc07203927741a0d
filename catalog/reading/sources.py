"""Where the rows of a batch stand: a file, a sheet of a workbook, or a file whose rows go by another name."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import PurePosixPath

CHECKED = ".checked.xlsx"
"""How the marked copy of a workbook ends, which is never read."""

DESK = "desk"
"""The folder of a batch with rows that were noted beside the bench; of a workbook STEM.desk."""


class SourcePath(str):
    """A place that is more than a file. As text the file and, behind it, the name that the ids of its rows have.

    "bench.xlsx/runs" is the sheet Runs of a workbook, "more/runs.csv/late" a file that is listed as late=more/runs.csv.
    No file lies in another, so the file is known from the text and the files of the batch.

    name   in the ids of its rows
    file   path in the folder
    table  how a problem names it: "runs" or "Devices" for a sheet of the batch's own workbook, else the file
    sheet  the title as typed, "" for a text file
    mapped  read through a reading map
    """

    __slots__ = ("file", "mapped", "name", "sheet", "table")

    name: str
    file: str
    table: str
    sheet: str
    mapped: bool

    def __new__(cls, file: str, name: str, *, sheet: str = "", mapped: bool = False) -> SourcePath:
        """Rows of *file* under the name *name*."""
        self = super().__new__(cls, f"{file}/{name}")
        self.name = name
        self.file = file
        self.table = name if sheet and not mapped else file
        self.sheet = sheet
        self.mapped = mapped
        return self


@dataclass(frozen=True)
class Place:
    """A source as a problem names it; of one that was read through a map people find a value by its cell."""

    table: str
    file: str
    sheet: str
    mapped: bool = False


def place_of(source: str) -> Place:
    """How a problem names a source; of a plain file the table is the file."""
    if isinstance(source, SourcePath):
        return Place(source.table, source.file, source.sheet, source.mapped)
    return Place(source, source, "")


def answered_as(source: str, stem: str) -> str:
    """How an answer about one row names a source of the table *stem*: by its name, where it has one of its own."""
    return source.name if isinstance(source, SourcePath) else stem


def file_of(source: str) -> str:
    """The file behind a source while its batch is read."""
    return source.file if isinstance(source, SourcePath) else source


def is_checked_copy(name: str) -> bool:
    """Whether a file is the marked copy that a check left beside a workbook."""
    return name.casefold().endswith(CHECKED)


@dataclass(frozen=True)
class Listed:
    """One entry of `[tables]`: "runs.csv", "late=more/runs.csv", "old5:2019.xlsx" or "name=map:path".

    name  as typed, "" where none is
    map   name of a reading map, "" for none
    """

    name: str
    map: str
    path: str


_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,99}")


def parse_listed(text: str) -> Listed:
    """The parts of one entry; nothing of it is judged yet."""
    name, equals, rest = text.partition("=")
    if not equals or "/" in name or ":" in name:
        name, rest = "", text
    map_name, colon, path = rest.partition(":")
    if not colon or "/" in map_name:
        map_name, path = "", rest
    return Listed(name.strip(), map_name.strip(), path.strip())


def name_trouble(name: str, taken: dict[str, str], tables: Iterator[str]) -> str | None:
    """Why a source may not be called *name*, as a sentence; None where it may. taken: name -> its source."""
    if not _NAME.fullmatch(name):
        return f"{name!r} is no name for the rows of a source: it has letters, digits, - and _."
    if name.casefold() in set(tables):
        return f"{name!r} is the name of a table, which only the table's own file has."
    if (other := taken.get(name.casefold())) is not None:
        return f"{name!r} is the name of {other} already."
    return None


def is_own_file(path: str, stem: str) -> bool:
    """Whether a file is the table's own: it lies on top of the batch and is called like the table."""
    return "/" not in path and PurePosixPath(path).stem.casefold() == stem
