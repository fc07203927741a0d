"""A new workbook ready to fill: every sheet with its headings, notes, and lists of what the catalogue knows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path

import openpyxl
from openpyxl.comments import Comment
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet
from sqlite_utils import Database

from catalog import queries
from catalog.beginning.cells_to_measure import reference_device
from catalog.beginning.planned_batches import PlannedBatch
from catalog.beginning.skeletons import HEADER, batch_id_of, house_of, planned_rows, slug_of
from catalog.books.cells import AS_TEXT, put_number, put_text
from catalog.books.notes import ANSWERS_NOTE, BATCH_NOTE, note_of_column, note_of_key
from catalog.errors import InputRefused
from catalog.reading.columns import Column
from catalog.reading.format import PLANNED, TABLES
from catalog.reading.thing_sheets import ANSWER_COLUMNS, ANSWERS, BATCH, LISTS, TABLE_SHEETS, THING_SHEETS, Kind
from catalog.whole_files import whole_file

_LAST = 10_000  # row down to which a column offers its list
_FORMATS: Mapping[str, str] = {"when": "yyyy-mm-dd hh:mm", "date": "yyyy-mm-dd"}
_AS_TEXT: frozenset[Kind] = frozenset({"text", "version", "any", "texts", "numbers", "date", "listed"})
_NUMERIC = frozenset({"count", "number", "level", "throughput", "yesno"})
# Column of a table or of things -> the list it offers.
_OFFERS: Mapping[str, str] = {
    "device": "device",
    "reference_device": "device",
    "client": "client",
    "old_client": "client",
    "new_client": "client",
    "session": "session",
    "house": "house",
    "spot": "spot",
    "role": "role",
    "workload": "workload",
    "settings": "settings",
}


def begin_workbook(path: Path, *, catalog: Database | None, like: str | None, plan: bool, today: date) -> int:
    """Write a workbook to fill at *path*. Returns the planned rows.

    catalog  None for a first batch
    like     the device whose radios and cells are taken over; for a plan the reference device where None
    plan     the sheet Runs holds a row for every repeat of every cell
    Raises   InputRefused where something is at *path* already, or there is nothing to plan by; UnknownName for a
             device that is not in the catalogue; WriteRefused.
    """
    if path.exists():
        raise InputRefused(f"{path} is there already. A new workbook wants a name of its own.")
    if plan and catalog is None:
        raise InputRefused("A plan is made from what was measured before, and there is no catalogue yet.")
    if plan and catalog is not None:
        like = like or reference_device(catalog)
    rows = planned_rows(catalog, like) if plan and catalog is not None and like is not None else []
    device = slug_of(path.stem)
    book = _book(_batch(device, catalog, today), _filled(device, catalog, like, today), {"runs": (HEADER, rows)})
    _save(book, path, _known(catalog, device, today))
    return len(rows)


def write_planned_workbook(path: Path, batch: PlannedBatch, *, catalog: Database, today: date) -> None:
    """Write planned rows as a workbook at *path*, with every sheet that they may need.

    Raises  InputRefused where something is at *path* already; WriteRefused.
    """
    if path.exists():
        raise InputRefused(f"{path} is there already. A plan wants a name of its own.")
    keys = {**batch.keys, **{f"bench.{key}": value for key, value in batch.purpose.items()}}
    book = _book(keys, {"Sessions": batch.sessions}, batch.tables)
    _save(book, path, _known(catalog, None, today, sessions=[session for session, *_ in batch.sessions]))


def _book(
    keys: Mapping[str, str],
    filled: Mapping[str, Sequence[Sequence[str | int]]],
    tables: Mapping[str, tuple[Sequence[str], Sequence[Sequence[str]]]],
) -> openpyxl.Workbook:
    """A workbook with every sheet: the batch's keys, things and tables as far as there are rows of them."""
    book = openpyxl.Workbook()
    del book["Sheet"]
    _things(book, keys, filled)
    for stem, title in TABLE_SHEETS.items():
        sheet = book.create_sheet(title)
        columns = TABLES[stem].columns
        for place, column in enumerate(columns, start=1):
            _head(sheet, place, heading_of(column), note_of_column(column), bold=column.required)
            _format(sheet, place, _FORMATS.get(column.kind) or (None if column.kind in _NUMERIC else AS_TEXT))
        if stem in tables:
            _fill(sheet, columns, *tables[stem])
    sheet = book.create_sheet(ANSWERS)
    for place, (name, kind) in enumerate(ANSWER_COLUMNS.items(), start=1):
        _head(sheet, place, name, ANSWERS_NOTE if place == 1 else "", bold=name in ("table", "means"))
        _format(sheet, place, AS_TEXT if kind in _AS_TEXT else None)
    return book


def _save(book: openpyxl.Workbook, path: Path, known: Mapping[str, Sequence[str]]) -> None:
    _offer(book, known)
    with whole_file(path, new=True) as file:
        book.save(file)


def heading_of(column: Column) -> str:
    """The heading of a column: its name, with the unit where the name does not end in it."""
    return f"{column.name} ({column.unit.name})" if column.kind == "throughput" and column.unit else column.name


def _filled(
    device: str, db: Database | None, like: str | None, today: date
) -> Mapping[str, Sequence[Sequence[str | int]]]:
    """Title of a sheet of things -> the rows it begins with."""
    house = house_of(db, like)
    radios = next((one.radios for one in queries.devices(db) if one.device_id == like), ()) if db is not None else ()
    return {
        "Devices": [[device]],
        "Device radios": [[device, radio.band, radio.streams, radio.max_width_mhz] for radio in radios],
        "Units": [[device, "A"]],
        "Firmware": [[device]],
        "Sessions": [[today.isoformat(), house, today.isoformat()]],
        "Houses": [] if db is not None and queries.houses(db) else [[house]],
    }


def _things(
    book: openpyxl.Workbook, keys: Mapping[str, str], filled: Mapping[str, Sequence[Sequence[str | int]]]
) -> None:
    """The sheet Batch and the sheets of things."""
    sheet = book.create_sheet(BATCH)
    _head(sheet, 1, "name", BATCH_NOTE, bold=True)
    _head(sheet, 2, "value", "Several values of a list stand in one cell, with ; between them.", bold=True)
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 30, 50
    for number, (name, value) in enumerate(keys.items(), start=2):
        put_text(sheet, number, 1, name)
        if value:
            put_text(sheet, number, 2, value)
    _format(sheet, 2, AS_TEXT)
    for title, things in THING_SHEETS.items():
        sheet = book.create_sheet(title)
        for place, (name, kind) in enumerate(things.columns.items(), start=1):
            note = note_of_key(things, name)
            _head(sheet, place, name, note, bold=note.startswith("Required.") or name in things.parents)
            _format(sheet, place, AS_TEXT if kind in _AS_TEXT else None)
        for number, row in enumerate(filled.get(title, ()), start=2):
            for place, cell in enumerate(row, start=1):
                if isinstance(cell, int):
                    put_number(sheet, number, place, cell)
                else:
                    put_text(sheet, number, place, cell)


def _batch(device: str, db: Database | None, today: date) -> dict[str, str]:
    """Names of the sheet Batch, with the values that can be known."""
    named = db is not None and queries.site(db) is not None
    return {
        "id": batch_id_of(device, today),
        "title": "Say in a few words what was tested",
        "timezone": "Europe/Berlin",
        "licence": "CC-BY-4.0",
        "ignore_columns": "",
        **({} if named else dict.fromkeys(("site.title", "site.author", "site.contact", "site.address"), "")),
        "defaults.runs.device": device,
        "defaults.runs.firmware": "",
        "defaults.runs.session": today.isoformat(),
        "defaults.runs.protocol": "",
        "defaults.runs.flows": "",
        "defaults.runs.security": "",
        "defaults.runs.seconds": "",
    }


def _fill(sheet: Worksheet, columns: Sequence[Column], header: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    places = {column.name: place for place, column in enumerate(columns, start=1)}
    if "throughput" in places:
        places["throughput_mbit_s"] = places["throughput"]
    kinds = {column.name: column.kind for column in columns}
    for number, row in enumerate(rows, start=2):
        for name, text in zip(header, row, strict=True):
            if text and kinds.get(name) in _NUMERIC:
                put_number(sheet, number, places[name], float(text) if "." in text else int(text))
            elif text:
                put_text(sheet, number, places[name], text)


def _head(sheet: Worksheet, place: int, heading: str, note: str, *, bold: bool) -> None:
    put_text(sheet, 1, place, heading)
    cell = sheet.cell(1, place)
    cell.font = Font(bold=bold)
    if note:
        cell.comment = Comment(note, "Likeloss", width=320, height=40 + 20 * (len(note) // 40))
    sheet.column_dimensions[get_column_letter(place)].width = max(12, len(heading) + 3)
    sheet.freeze_panes = "A2"


def _format(sheet: Worksheet, place: int, number_format: str | None) -> None:
    """The format of a whole column, for what will be typed into it."""
    if number_format is not None:
        sheet.column_dimensions[get_column_letter(place)].number_format = number_format


def _known(
    db: Database | None, device: str | None, today: date, *, sessions: Sequence[str] = ()
) -> dict[str, list[str]]:
    """What each list offers: what the catalogue knows, and what the workbook begins with."""
    devices, sessions = [] if device is None else [device], sessions or [today.isoformat()]
    if db is None:
        return {"device": devices, "session": [*sessions], "house": [house_of(None, None)]}
    gone = {(one.what, one.id) for one in queries.withdrawals(db)}
    names = {
        "device": [*devices, *(one.device_id for one in queries.devices(db))],
        "client": [one.client_id for one in queries.clients(db)],
        "session": [*sessions, *(one.session_id for one in reversed(queries.sessions(db)))],
        "house": [one.house_id for one in queries.houses(db)],
        "spot": sorted({one.spot for one in queries.epochs(db)}),
        "role": sorted({role.role_id for one in queries.workloads(db) for role in one.roles}),
        "workload": sorted({one.workload_id for one in queries.workloads(db)}),
        "settings": [one.settings_id for one in queries.settings(db)],
    }
    return {
        kind: list(dict.fromkeys(name for name in of_kind if (kind, name) not in gone))
        for kind, of_kind in names.items()
    }


def _offer(book: openpyxl.Workbook, known: Mapping[str, Sequence[str]]) -> None:
    """Drop-down lists, from which anybody may depart: what is new stands in its own sheet."""
    lists = book.create_sheet(LISTS)
    lists.sheet_state = "hidden"
    ranges: dict[str, str] = {}
    for place, (kind, names) in enumerate(known.items(), start=1):
        put_text(lists, 1, place, kind)
        for number, name in enumerate(names, start=2):
            put_text(lists, number, place, name)
        letter = get_column_letter(place)
        if names:
            ranges[kind] = f"{LISTS}!${letter}$2:${letter}${len(names) + 1}"
    for title, columns in _offered().items():
        sheet = book[title]
        for place, formula in columns:
            if (source := ranges.get(formula, formula if formula.startswith('"') else None)) is None:
                continue
            offer = DataValidation(type="list", formula1=source, allow_blank=True, showErrorMessage=False)
            letter = get_column_letter(place)
            offer.add(f"{letter}2:{letter}{_LAST}")
            sheet.add_data_validation(offer)


def _offered() -> dict[str, list[tuple[int, str]]]:
    """Title of a sheet -> places of columns with a list, and its kind, or its words as a formula has them."""
    result: dict[str, list[tuple[int, str]]] = {}
    for title, things in THING_SHEETS.items():
        places = {name: place for place, name in enumerate(things.columns, start=1)}
        result[title] = [(place, _OFFERS[name]) for name, place in places.items() if name in _OFFERS]
    for stem, title in TABLE_SHEETS.items():
        result[title] = [
            (place, _OFFERS.get(column.name) or _words(column))
            for place, column in enumerate(TABLES[stem].columns, start=1)
            if column.name in _OFFERS or column.kind in ("choice", "yesno")
        ]
    return result


def _words(column: Column) -> str:
    words = ("yes", "no") if column.kind == "yesno" else tuple(dict.fromkeys(column.choices.values()))
    if column.name == "outcome":
        words = (*words, PLANNED)
    return f'"{",".join(words)}"'
