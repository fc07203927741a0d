"""What a sheet looks like that was refused as one row a run, and the command that proposes how to read it."""

from __future__ import annotations

from pathlib import PurePosixPath

from catalog.checking.sheet_looks import ColumnLook, SheetLook, look_at
from catalog.checking.troubles import Trouble
from catalog.errors import InputRefused, Problem
from catalog.reading.batch import TABLE_SUFFIXES
from catalog.reading.folder import MAX_TEXT_BYTES, Folder
from catalog.reading.format import TABLES
from catalog.reading.grids import read_grids
from catalog.reading.sources import file_of, place_of

CODE = "needs-a-map"


def needs_map(folder: Folder, file: str, stem: str) -> Trouble | None:
    """Why a table that was refused cannot be one row a run; None where it does not look so.

    stem  of the table it was taken for
    """
    if place_of(file).table != file_of(file):
        return None  # a sheet of the workbook that is the batch has the columns of its table
    file = file_of(file)
    if PurePosixPath(file).suffix.casefold() not in TABLE_SUFFIXES or folder.refusal(file) is not None:
        return None
    try:
        grids = read_grids(file, folder.read(file, limit=MAX_TEXT_BYTES))
    except InputRefused:  # larger than anything typed by hand
        return None
    if isinstance(grids, Problem):
        return None
    for grid in grids:
        look = look_at(grid, stem) if grid.shows else None
        shape = _shape(look, stem) if look is not None else None
        if shape is not None:
            name = PurePosixPath(file).stem.casefold()
            command = f"`likeloss map {file} --write {'NAME' if name == stem else name}`, in the folder of the batch,"
            where = f"The sheet {grid.sheet}" if len(grids) > 1 else "This"
            return Trouble(f"{where} looks like {shape}.", f"{command} proposes how to read it.", CODE)
    return None


def left_out(folder: Folder, file: str) -> Trouble:
    """That a file is no table of the format, and what it looks like."""
    if (shape := needs_map(folder, file, "runs")) is not None:
        return Trouble(f"The file is left out. {shape.expected}", shape.remedy, "unknown-table")
    return Trouble(
        "The file is none of the tables, and no row names it as a log.",
        f"It is left out. Tables are {', '.join(TABLES)}.",
        "unknown-table",
    )


def _shape(look: SheetLook, stem: str) -> str | None:
    if stem == "runs" and look.crossed and _told_apart(look):
        names = dict.fromkeys(" ".join(dict.fromkeys(filter(None, column.above))) for column in look.results)
        shown = " and ".join(f'"{name}"' for name in list(names)[:2])
        return f"a cross table: results stand below {shown}"
    if look.again:
        return f"several tables below each other: a heading begins again in row {look.again[0]}"
    timed = any(column.meaning is not None and column.meaning.name == "when" for column in look.columns)
    if (apart := look.apart()) is not None and (not timed or _means(apart[1], "when")):
        day, clock = (" ".join(filter(None, column.own)) for column in apart)
        return f'a table with date and time apart, below "{day}" and "{clock}"'
    return None


def _means(column: ColumnLook, name: str) -> bool:
    return column.meaning is not None and column.meaning.name == name


def _told_apart(look: SheetLook) -> bool:
    """Whether headings above the results are words for what tells results apart, or differ under one above."""
    words = [one for column in look.results for one in column.words]
    return (
        sum(bool(one.direction or one.repeat or one.loss_db or one.total) for one in words) > 1 or len(look.heading) > 1
    )
