"""Where rows came from, what was hidden or corrected about them, and the notes they carry."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePosixPath

from catalog.row_numbers import place_text

_SUFFIXES = (".csv", ".tsv", ".xlsx", ".ods")


@dataclass(frozen=True, slots=True)
class Sourced:
    """Where a row came from: batch, file in its folder, row of that file (of batch.toml: its line).

    A sheet of a workbook, and a file under another name, are the file and the name behind it: "bench.xlsx/runs".
    """

    batch_id: str
    source_file: str
    source_row: int | None


@dataclass(frozen=True, slots=True)
class BatchInfo:
    """One folder that was entered. The clock columns are None in a public copy."""

    batch_id: str
    title: str
    timezone: str | None
    licence: str
    entered_utc: str | None
    published_utc: str | None


@dataclass(frozen=True, slots=True)
class RawFile:
    """One file of a batch, as it was entered."""

    batch_id: str
    path: str
    sha256: str
    size_bytes: int


@dataclass(frozen=True, slots=True)
class Extra(Sourced):
    """A cell of an unknown column, kept as a note to its row."""

    header: str
    typed: str


@dataclass(frozen=True, slots=True)
class Embargo(Sourced):
    """Until when something was hidden: a device, one of its units or firmwares, or the rows of a batch."""

    subject: str
    device: str | None
    unit: str | None
    version: str | None
    until_utc: str
    until_typed: str
    covers: str


@dataclass(frozen=True, slots=True)
class Hidden:
    """What a preview shows although the public may not see it yet.

    what  device, unit, firmware, batch or article
    id    its id; "device/unit" for a unit, "device@version" for a firmware
    """

    what: str
    id: str
    covers: str
    until_utc: str


@dataclass(frozen=True, slots=True)
class Correction(Sourced):
    """One value that was replaced. Batch, file and row are those of the row that shows the new value."""

    correction_id: int
    table: str
    row_key: str
    column: str
    was: str
    now: str
    reason: str
    noticed_by: str
    date: str
    device: str | None
    run_id: int | None


@dataclass(frozen=True, slots=True)
class Source:
    """A sheet that was read through a reading map. *sheet* is its title, "" for a text file."""

    batch_id: str
    source_file: str
    sheet: str
    map_path: str


def source_name(source: str) -> str:
    """How "batch/name/row" names a source: "runs" for "runs.csv" and for "bench.xlsx/runs"."""
    return PurePosixPath(source).stem


def names_file(name: str, file: str) -> bool:
    """Whether *name* in "batch/name/row" means rows of *file*: its name, with or without suffix, in any case.

    "runs.csv" is the sheet Runs of a workbook, too: the same content as a folder has that file. "more/runs.csv" means
    "more/runs.csv/late".
    """
    typed, path = name.casefold(), PurePosixPath(file.casefold())
    if typed in (str(path), path.stem) or (path.parent.suffix in _SUFFIXES and typed == str(path.parent)):
        return True
    return len(path.parts) > 1 and PurePosixPath(typed).stem == path.stem


def names_row(name: str, row: str, file: str, number: int | None) -> bool:
    """Whether "batch/name/row" means the row of *file* that goes by *number*; *row* as `typed_place` gives it."""
    return number is not None and place_text(number) == row and names_file(name, file)


def row_id(batch: str, file: str, number: int) -> str:
    """ "2025-05-shale-2/runs/14", as withdrawals and ceilings name a row."""
    return f"{batch}/{source_name(file).casefold()}/{place_text(number)}"
