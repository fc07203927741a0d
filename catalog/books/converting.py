"""A batch folder as a workbook that says the same: what does not fit into a sheet stays a file, and is listed."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from catalog.books.cells import NoCell, exact_number, plain_text, put_cell, put_number, put_text
from catalog.books.sheets import answer_rows, batch_rows, cell_of, thing_rows
from catalog.checking.headers import read_headings, table_of
from catalog.errors import CatalogError
from catalog.reading.batch import RawBatch, read_batch, read_table
from catalog.reading.documents import TomlFile
from catalog.reading.format import TABLES
from catalog.reading.rawtable import RawRow, RawTable, table_stem
from catalog.reading.sources import DESK, SourcePath, file_of
from catalog.reading.thing_sheets import ANSWER_COLUMNS, ANSWERS, BATCH, TABLE_SHEETS, THING_SHEETS, Kind
from catalog.reading.toml_lines import Path as KeyPath

_NUMERIC = frozenset({"count", "number", "level", "throughput"})
_NUMBERS: frozenset[Kind] = frozenset({"number", "typed"})


def turn_into_workbook(folder: Path, name: str) -> bool:
    """Make the batch folder *folder* a workbook *name* with its logs and pictures beside it.

    Returns  whether it was done; where it cannot be said in sheets, the folder stays as it is
    """
    try:
        raw = read_batch(folder)
        if raw.things:
            return False
        content, written = _workbook(raw)
    except (NoCell, CatalogError):
        return False
    book = folder / f"{name}.xlsx"
    if book.exists() or (folder / f"{name}.{DESK}").exists():
        return False
    book.write_bytes(content)
    desk = folder / DESK
    if desk.is_dir():
        desk.rename(folder / f"{name}.{DESK}")
    moved = {path: (folder / path).read_bytes() for path in written}
    for path in written:
        (folder / path).unlink()
    if _says_the_same(raw, book, written):
        return True
    book.unlink()
    if (renamed := folder / f"{name}.{DESK}").is_dir():
        renamed.rename(desk)
    for path, bytes_of in moved.items():
        (folder / path).write_bytes(bytes_of)
    return False


def _workbook(raw: RawBatch) -> tuple[bytes, list[str]]:
    """The workbook, and the files whose content is in it. Raises NoCell."""
    book = openpyxl.Workbook()
    del book["Sheet"]
    as_sheets = [table for table in raw.tables if _fits(table)]
    batch = {key: value for key, value in raw.document.values.items() if key != "tables"}
    rows = [*batch_rows(batch), *(("tables." + stem, value) for stem, value in _lists(raw, as_sheets).items())]
    _write(book.create_sheet(BATCH), ("name", "value"), [{"name": key, "value": value} for key, value in rows], {})
    moved: dict[tuple[int, str], tuple[str, int]] = {}
    for title, sheet in THING_SHEETS.items():
        things = thing_rows(raw.document.values, sheet)
        if not things:
            continue
        others = {key: None for _, row in things for key in row if key not in sheet.columns}
        _write(book.create_sheet(title), (*sheet.columns, *others), [row for _, row in things], sheet.columns)
        for number, (path, row) in enumerate(things, start=2):
            _remember(moved, raw.document, path, row, (title, number))
    for table in as_sheets:
        _write_table(book.create_sheet(TABLE_SHEETS[table.stem]), table)
    files = ["batch.toml", *(table.file for table in as_sheets)]
    own = [document for document in raw.answers if "/" not in document.name]
    if answers := answer_rows(own, moved):
        _write(book.create_sheet(ANSWERS), tuple(ANSWER_COLUMNS), answers, ANSWER_COLUMNS)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue(), [*files, *(document.name for document in own)]


def _fits(table: RawTable) -> bool:
    """Whether a table file can be a sheet: its rows are all there is to it."""
    hidden = table.hidden_rows or table.hidden_columns or table.hidden_sheet
    odd = table.problems or table.notices or table.lower_headers or not table.headers
    if isinstance(table.file, SourcePath) or hidden or odd:
        return False
    try:
        _write_table(openpyxl.Workbook().create_sheet(), table)
    except NoCell:
        return False
    return True


def _lists(raw: RawBatch, as_sheets: Sequence[RawTable]) -> dict[str, Any]:
    """[tables] as it has to be where some sources are sheets now. Raises NoCell."""
    sheets = {table.file for table in as_sheets}
    stated = raw.document.values.get("tables", {})
    result: dict[str, Any] = {}
    for stem in TABLES:
        if stem in stated:
            entries = [stated[stem]] if isinstance(stated[stem], str) else list(stated[stem])
            if entries != [file for file in entries if file in sheets]:
                result[stem] = [TABLE_SHEETS[stem] if file in sheets else file for file in entries]
            continue
        files = [table for table in raw.tables if table.stem == stem and not isinstance(table.file, SourcePath)]
        if left := [table.file for table in files if table.file not in sheets and table.headers]:
            result[stem] = left
    defaults = raw.document.values.get("defaults", {})
    for name in raw.strays:
        table = read_table(replace(raw, hashes={}), name)
        if (of := table_of(table, defaults)) is not None and of.stem not in stated:
            result.setdefault(of.stem, []).append(f"{table_stem(name)}={name}")
    return {stem: files[0] if len(files) == 1 else files for stem, files in result.items()}


def _write(
    sheet: Worksheet, headings: Sequence[str], rows: Sequence[Mapping[str, Any]], kinds: Mapping[str, Kind]
) -> None:
    for column, heading in enumerate(headings, start=1):
        put_text(sheet, 1, column, heading)
        for number, row in enumerate(rows, start=2):
            if heading not in row:
                continue
            cell = cell_of(row[heading])
            if isinstance(cell, str):
                put_text(sheet, number, column, cell)
            elif kinds and kinds.get(heading, "typed") not in _NUMBERS:
                put_text(sheet, number, column, str(cell))
            else:
                put_number(sheet, number, column, cell)
    sheet.freeze_panes = "A2"


def _write_table(sheet: Worksheet, table: RawTable) -> None:
    """Row n of the file as row n of the sheet. Raises NoCell."""
    for column, heading in enumerate(table.headers, start=1):
        put_text(sheet, table.header_row, column, heading)
    numeric = _numeric(table)
    for row in table.rows:
        for place, cell in enumerate(row.cells):
            if cell and place in numeric and type(cell) is str:
                put_number(sheet, row.number, place + 1, exact_number(cell))
            else:
                put_cell(sheet, row.number, place + 1, cell)
    sheet.freeze_panes = f"A{table.header_row + 1}"


def _numeric(table: RawTable) -> frozenset[int]:
    """Places of the columns whose texts can be numbers of a sheet: all of the table's, or none.

    Decimal marks are settled by the evidence of all cells of a table, so what is no plain number keeps the others text.
    """
    known = read_headings(table, TABLES[table.stem]).known.values()
    places = {heading.place for heading in known if heading.column is not None and heading.column.kind in _NUMERIC}
    try:
        for row in table.rows:
            for place in places:
                if cell := row.cells[place]:
                    exact_number(cell)
    except NoCell:
        return frozenset()
    return frozenset(places)


def _remember(
    moved: dict[tuple[int, str], tuple[str, int]],
    document: TomlFile,
    path: KeyPath,
    row: Mapping[str, Any],
    place: tuple[str, int],
) -> None:
    """Which sheet and row the keys of a thing stand in now."""
    for key in ("", *row):
        moved.setdefault((document.lines.of(*path, key) if key else document.lines.of(*path), key), place)


def _says_the_same(raw: RawBatch, book: Path, files: Sequence[str]) -> bool:
    """Whether the workbook is read as the folder was."""
    try:
        again = read_batch(book)
    except CatalogError:
        return False
    if again.thing_problems or again.problems or again.notices:
        return False
    was, now = ({key: value for key, value in one.document.values.items() if key != "tables"} for one in (raw, again))
    if _normal(was) != _normal(now):
        return False
    sheets = {table.stem: table for table in again.tables if isinstance(table.file, SourcePath) and table.file.sheet}
    return all(
        _rows(table) == _rows(sheets.get(table.stem))
        for table in raw.tables
        if file_of(table.file) in files and table.rows
    )


def _rows(table: RawTable | None) -> tuple[list[str], list[tuple[int, list[str]]]]:
    if table is None:
        return [], []
    return list(map(str, table.headers)), [(row.number, _cells(row)) for row in table.rows]


def _cells(row: RawRow) -> list[str]:
    return [str(cell) for cell in row.cells]


def _normal(value: Any) -> Any:
    """A document with what batch.toml can say in several ways said in one."""
    if isinstance(value, dict):
        return {key: inside for key, item in value.items() if (inside := _normal(item)) not in ({}, [])}
    if isinstance(value, list):
        items = [_normal(item) for item in value]
        return items[0] if len(items) == 1 and not isinstance(items[0], dict | list) else items
    return str(int(value)) if isinstance(value, float) and value.is_integer() else plain_text(value)
