"""The sheets of things of a workbook as the document that batch.toml would give.

A row is a table of its own: of the list it belongs to, or of the list inside the thing that its first columns name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from catalog.errors import Problem
from catalog.reading.documents import SheetDocument, SheetPlaces
from catalog.reading.format import TABLES
from catalog.reading.rawtable import Formula, RawRow, RawTable, problem_in
from catalog.reading.sheet_values import NumberForText, longer, value_of
from catalog.reading.thing_sheets import ANSWER_COLUMNS, BATCH, THING_SHEETS, Kind, ThingSheet
from catalog.reading.toml_lines import MAX_DEPTH, Path

_BAND_OR_PART = re.compile(r"2\.4(?=\.|$)|[^.]+")
_BATCH_KINDS: Mapping[str, Kind] = {
    "format": "number",
    "ignore_columns": "texts",
    "supersedes": "truth",
    "against": "text",
    "window": "text",
}
_LISTS = frozenset(sheet.path[0] for sheet in THING_SHEETS.values()) - {"embargo"}


def document_of(book: str, sheets: Iterable[RawTable]) -> tuple[SheetDocument, list[Problem]]:
    """The sheet Batch and all sheets of things as one document, and what is wrong with their cells.

    book    name of the workbook
    sheets  by `stem`: Batch and titles of THING_SHEETS
    """
    by_title = {sheet.stem: sheet for sheet in sheets}
    made = _Document(book)
    if (batch := by_title.get(BATCH)) is not None:
        made.read_batch(batch)
    # A thing is read before what hangs on it.
    for title, sheet in sorted(THING_SHEETS.items(), key=lambda item: bool(item[1].parents)):
        if (raw := by_title.get(title)) is not None:
            made.read_things(raw, sheet)
    made.seat()
    root = by_title[BATCH].file if BATCH in by_title else book
    return SheetDocument(made.values, SheetPlaces(made.places, root), book), made.problems


def answers_of(book: str, raw: RawTable) -> tuple[SheetDocument, list[Problem]]:
    """The sheet Answers as the document that answers.toml would give."""
    made = _Document(book)
    entries = made.values["answer"] = []
    for row, cells in made.rows(raw, ANSWER_COLUMNS):
        entry: dict[str, Any] = {}
        path = ("answer", len(entries))
        entries.append(entry)
        made.places[path] = (raw.file, row.number)
        made.fill(entry, path, raw, row, cells, ANSWER_COLUMNS)
        if "cause" not in entry:
            entry.setdefault("typed", "")
    return SheetDocument(made.values, SheetPlaces(made.places, raw.file), book), made.problems


class _Document:
    """The values so far, and where each of them stands."""

    def __init__(self, book: str) -> None:
        self.book = book
        self.values: dict[str, Any] = {}
        self.places: dict[Path, tuple[str, int]] = {}
        self.problems: list[Problem] = []
        self._seats: dict[int, dict[int, tuple[Any, str, int]]] = {}

    def read_batch(self, raw: RawTable) -> None:
        """The sheet Batch: a name and a value a row."""
        self.problems += raw.problems
        if raw.headers and [header.casefold() for header in raw.headers] != ["name", "value"]:
            self.refuse(raw, raw.header_row, "", "The sheet Batch has two columns, name and value.", "Name them so.")
            return
        for row in raw.rows:
            name, value = row.cells[0], row.cells[1]
            if not name or not value:
                if value:
                    self.refuse(raw, row.number, "name", f"{value!r} has no name.", "Write what it is.")
                continue
            path = tuple(_BAND_OR_PART.findall(name.replace(" ", "")))
            if not path or path[0] in _LISTS:
                other = f"{name!r} does not stand in the sheet Batch."
                self.refuse(raw, row.number, "name", other, "It has a sheet of its own.", name)
                continue
            if (text := self.value(raw, row.number, 1, name, value, _batch_kind(path))) is not None:
                self.put(raw, row.number, self.values, (), path, text)

    def read_things(self, raw: RawTable, sheet: ThingSheet) -> None:
        """A row a thing."""
        self.problems += raw.problems
        for row, cells in self.rows(raw, sheet.columns):
            parents = {}
            for name in sheet.parents:
                if name in cells:
                    place, cell = cells.pop(name)
                    parents[name] = self.value(raw, row.number, place, name, cell, sheet.columns[name])
            if None in parents.values():
                continue
            at = (raw.file, row.number)
            match sheet.title:
                case "Embargoes":
                    owner = self._under_embargo(raw, row, parents)
                case "Seats":
                    self._seat(raw, row, parents, cells)
                    continue
                case "Roles" if parents:
                    owner = self._workload(raw, row, parents.get("workload"), parents.get("workload_version", 1))
                case _ if sheet.parents and sheet.title != "Roles":
                    owner = self._owner(raw, row, sheet, parents)
                case _:
                    owner = (self.values, ())
            if owner is None:
                continue
            holder, path = owner
            if sheet.title == "Embargoes":
                if "embargo" in holder:
                    twice = "There are two embargoes of one thing."
                    self.refuse(raw, row.number, "", twice, "Keep one of them.", code="row-twice")
                    continue
                thing = holder["embargo"] = {}
                path = (*path, "embargo")
            else:
                key = "role" if sheet.title == "Roles" else sheet.path[-1]
                things = holder.setdefault(key, [])
                if not isinstance(things, list):
                    self._typed_across(raw, row, key)
                    continue
                thing, path = {}, (*path, key, len(things))
                things.append(thing)
            self.places[path] = at
            self.fill(thing, path, raw, row, cells, sheet.columns)

    def _typed_across(self, raw: RawTable, row: RawRow, key: str) -> None:
        """Refuse a row of what the sheet that it hangs on has in a column, as one text."""
        said = f"What this row belongs to has a column {key!r}, which has rows of its own here."
        self.refuse(raw, row.number, "", said, "Take away that column, or these rows.", code="row-twice")

    def seat(self) -> None:
        """Give every workload its seats, in the order of their numbers."""
        for number, seats in self._seats.items():
            workload = self.values["workload"][number]
            if not seats:
                continue
            ordered = [seats[seat] for seat in sorted(seats)]
            workload["seats"] = [roles for roles, _, _ in ordered]
            _, source, row = ordered[0]
            self.places["workload", number, "seats"] = (source, row)

    def rows(self, raw: RawTable, columns: Mapping[str, Kind]) -> Iterable[tuple[RawRow, dict[str, tuple[int, str]]]]:
        """Every row with its filled cells: name of the column -> place and text."""
        names: list[str] = []
        for header in raw.headers:
            name = re.sub(r"[\s_()\[\]]+", "_", header.casefold()).strip("_")
            if name and name in names:
                twice = f'"{header}" stands twice in the heading.'
                self.refuse(raw, raw.header_row, header, twice, "Keep one of them.", code="column-twice")
                name = ""
            names.append(name)
        for row in raw.rows:
            cells: dict[str, tuple[int, str]] = {}
            for place, cell in enumerate(row.cells):
                if cell and names[place]:
                    cells[names[place]] = (place, cell)
                elif cell and not raw.headers[place]:
                    nameless = f"{_capital(raw.cell(row.number, place))} stands under no heading."
                    self.refuse(raw, row.number, "", nameless, "Name the column, or clear the cell.", cell)
            if cells:
                yield row, cells

    def fill(
        self,
        thing: dict[str, Any],
        path: Path,
        raw: RawTable,
        row: RawRow,
        cells: Mapping[str, tuple[int, str]],
        columns: Mapping[str, Kind],
    ) -> None:
        """The cells of a row as keys of *thing*; a heading with dots is a key inside a key."""
        for name, (place, cell) in cells.items():
            value = self.value(raw, row.number, place, raw.headers[place], cell, columns.get(name, "any"))
            if value is not None:
                parts = (name,) if name in columns else tuple(_BAND_OR_PART.findall(name))
                self.put(raw, row.number, thing, path, parts, value)

    def put(
        self, raw: RawTable, number: int, thing: dict[str, Any], path: Path, parts: Sequence[str], value: Any
    ) -> None:
        """Set a key inside *thing*, with its place."""
        if len(parts) > MAX_DEPTH:
            deep = f"A name has at most {MAX_DEPTH} parts."
            self.refuse(raw, number, parts[0], deep, "Correct the name.", ".".join(parts)[:100])
            return
        for part in parts[:-1]:
            path = (*path, part)
            self.places.setdefault(path, (raw.file, number))
            inside = thing.setdefault(part, {})
            if not isinstance(inside, dict):
                break
            thing = inside
        else:
            if parts and parts[-1] not in thing:
                thing[parts[-1]] = value
                self.places[*path, parts[-1]] = (raw.file, number)
                return
        twice = f"{'.'.join(parts)!r} is said twice."
        self.refuse(raw, number, ".".join(parts), twice, "Keep one of them.", code="row-twice")

    def value(self, raw: RawTable, number: int, place: int, name: str, cell: str, kind: Kind) -> Any:
        """The value of a cell; None, with a problem, for one that cannot be read."""
        if type(cell) is Formula:
            formula = f"{_capital(raw.cell(number, place))} holds a formula without a stored value."
            remedy = "Open the file in the program it was made with and save it again, or type the value."
            self.refuse(raw, number, name, formula, remedy, ascii(str(cell)), "no-stored-value")
            return None
        try:
            return value_of(cell, kind)
        except NumberForText as wrong:
            sentence = f"{_capital(raw.cell(number, place))} holds the number {wrong}; typed {longer(str(wrong))}?"
            remedy = "Format the column as text and type it again."
            self.refuse(raw, number, name, sentence, remedy, str(cell), "number-for-text")
            return None

    def refuse(
        self,
        raw: RawTable,
        number: int,
        column: str,
        sentence: str,
        remedy: str,
        value: str = "",
        code: str = "unknown-key",
    ) -> None:
        """Note a problem with a row."""
        self.problems.append(problem_in(raw.file, number, sentence, remedy, code, value=value, column=column))

    def _owner(
        self, raw: RawTable, row: RawRow, sheet: ThingSheet, parents: Mapping[str, Any]
    ) -> tuple[dict[str, Any], Path] | None:
        """The thing that a row belongs to; one that has no row in this workbook is named by its id alone."""
        kind = sheet.path[0]
        if not (name := parents.get(kind)):
            self._orphan(raw, row, kind)
            return None
        return self._named(raw, row, self.values, (), kind, {"id": name})

    def _named(
        self, raw: RawTable, row: RawRow, holder: dict[str, Any], path: Path, kind: str, keys: Mapping[str, Any]
    ) -> tuple[dict[str, Any], Path] | None:
        things = holder.setdefault(kind, [])
        if not isinstance(things, list):
            self._typed_across(raw, row, kind)
            return None
        for place, thing in enumerate(things):
            if all(thing.get(key, 1 if key == "version" else None) == value for key, value in keys.items()):
                return thing, (*path, kind, place)
        things.append(dict(keys))
        path = (*path, kind, len(things) - 1)
        self.places[path] = (raw.file, row.number)
        return things[-1], path

    def _under_embargo(
        self, raw: RawTable, row: RawRow, parents: Mapping[str, Any]
    ) -> tuple[dict[str, Any], Path] | None:
        parts = [name for name in ("unit", "firmware") if name in parents]
        if not parents:
            return self.values, ()
        if "device" not in parents:
            self._orphan(raw, row, "device")
            return None
        if len(parts) > 1:
            both = "An embargo is of a unit or of a firmware."
            self.refuse(raw, row.number, "unit", both, "Write two rows.", code="wrong-shape")
            return None
        owner = self._named(raw, row, self.values, (), "device", {"id": parents["device"]})
        if owner is None or not parts:
            return owner
        device, path = owner
        key = "id" if parts == ["unit"] else "version"
        return self._named(raw, row, device, path, parts[0], {key: parents[parts[0]]})

    def _workload(self, raw: RawTable, row: RawRow, name: Any, version: Any) -> tuple[dict[str, Any], Path] | None:
        if not name:
            self._orphan(raw, row, "workload")
            return None
        return self._named(raw, row, self.values, (), "workload", {"id": name, "version": version})

    def _seat(self, raw: RawTable, row: RawRow, parents: Mapping[str, Any], cells: Mapping[str, Any]) -> None:
        owner = self._workload(raw, row, parents.get("workload"), parents.get("version", 1))
        if owner is None:
            return
        unknown = [name for name in cells if name != "roles"]
        if unknown or "roles" not in cells:
            wrong = f"The key {unknown[0]!r} is not known here." if unknown else "The seat has no roles."
            self.refuse(raw, row.number, "roles", wrong, "A seat has roles, with ; between them.", code="missing")
            return
        place, cell = cells["roles"]
        roles = self.value(raw, row.number, place, "roles", cell, "texts")
        seats = self._seats.setdefault(int(owner[1][1]), {})
        seat = parents.get("seat", len(seats) + 1)
        if not isinstance(seat, int) or seat < 1:
            self.refuse(raw, row.number, "seat", f"{seat!r} is no number of a seat.", "Count from 1.", str(seat))
        elif seat in seats:
            twice = f"Seat {seat} stands twice."
            self.refuse(raw, row.number, "seat", twice, "Write the roles of one machine in one cell, with ;.")
        elif roles is not None:
            seats[seat] = (roles, raw.file, row.number)

    def _orphan(self, raw: RawTable, row: RawRow, kind: str) -> None:
        self.refuse(raw, row.number, kind, f"{kind} is empty.", f"Name the {kind} it belongs to.", code="missing")


def _batch_kind(path: Sequence[str]) -> Kind:
    match path:
        case ["defaults", stem, name]:
            return _default_kind(stem, name)
        case ["tables", *_]:
            return "listed"
        case ["method", "windows", *_]:
            return "numbers"
        case ["method" | "bench", last]:
            return _BATCH_KINDS.get(last, "number")
        case ["method" | "bench", *_]:
            return "number"
        case [name]:
            return _BATCH_KINDS.get(name, "text")
    return "text"


def _default_kind(stem: str, name: str) -> Kind:
    """The kind of a column of a table, as far as a number in it is concerned."""
    table = TABLES.get(stem)
    column = next((column for column in table.columns if column.name == name), None) if table else None
    if column is None or column.kind != "text":
        return "typed"
    return {"none": "version", "whole": "text", "any": "any"}[column.as_number]  # type: ignore[return-value]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
