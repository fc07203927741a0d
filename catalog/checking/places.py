"""Where problems stand for whoever opens the file, and which of them only follow from others.

A thing that batch.toml or a table of spots brings, and that is refused there, is unknown to every row that names it:
those rows are right, and there is nothing to do about them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from catalog.checking.names import fold
from catalog.checking.rows import TypedRow, TypedTable
from catalog.errors import Problem
from catalog.problems import located
from catalog.reading.documents import TomlFile
from catalog.reading.rawtable import RawTable
from catalog.reading.sources import place_of
from catalog.row_numbers import letters, row_of

Place = tuple[str, int]

# Code of an unknown name -> the kind of thing it is the name of.
_UNKNOWN: Mapping[str, str] = {
    "unknown-device": "device",
    "unknown-client": "client",
    "unknown-house": "house",
    "unknown-session": "session",
    "unknown-setting": "settings",
    "unknown-workload": "workload",
    "unknown-role": "role",
    "unknown-unit": "unit",
    "unknown-firmware": "firmware",
    "unknown-driver": "driver",
    "lost-zero": "firmware",
    "which-unit": "device",
    "unknown-spot": "spot",
    "spot-not-read": "spot",
    "spot-not-read-then": "spot",
}
_KINDS = ("device", "client", "house", "session", "settings", "workload", "role")
# Part of a thing -> the key of its name.
_PARTS = {"unit": "id", "firmware": "version", "driver": "version", "role": "id"}


def in_files(problems: Iterable[Problem], sheets: Iterable[RawTable]) -> Iterator[Problem]:
    """The same problems, with file, sheet and cell; what was read through a map has them. sheets: as they were read."""
    columns: dict[tuple[str, str], int] = {}
    titles: dict[str, str] = {}
    for raw in sheets:
        if raw.map_file:
            continue
        table = place_of(raw.file).table
        titles[table] = raw.sheet
        for place, header in enumerate(raw.headers):
            columns.setdefault((table, header), place)
    for problem in problems:
        if problem.by_cell:
            yield problem
            continue
        column = columns.get((problem.table, problem.column))
        cell = "" if column is None else f"{letters(column + 1)}{problem.row}"
        sheet = problem.sheet or titles.get(problem.table, "")
        yield located(problem, file=problem.file or problem.table, sheet=sheet, cell=cell)


def with_origins(problems: Iterable[Problem], document: TomlFile, tables: Iterable[TypedTable]) -> list[Problem]:
    """The same problems; each that another one brings about says which."""
    listed = list(problems)
    typed = list(tables)
    refused = _refused_things(listed, document) | _refused_spots(listed, typed)
    rows = {_place(row): row for table in typed for row in table.rows} if refused else {}
    head = place_of(document.place()[0]).table
    zone = next((p for p in listed if p.table == head and p.column == "timezone"), None)
    return [_with_origin(problem, refused, rows, zone) for problem in listed]


def _with_origin(
    problem: Problem, refused: Mapping[tuple[str, str], Place], rows: Mapping[Place, TypedRow], zone: Problem | None
) -> Problem:
    here = (problem.table, problem.row)
    origin: Place | None = None
    if problem.code == "no-zone" and zone is not None:
        origin = (zone.table, zone.row)
    elif (kind := _UNKNOWN.get(problem.code)) is not None:
        name = problem.value
        if problem.code == "which-unit" and here in rows:
            name = rows[here].typed.get("device", "")
        origin = refused.get((kind, fold(name)))
    return problem if origin in (None, here) else replace(problem, follows=origin)


def _place(row: TypedRow) -> Place:
    return place_of(row.file).table, row_of(row.number)


def _refused_spots(problems: Iterable[Problem], tables: Iterable[TypedTable]) -> dict[tuple[str, str], Place]:
    """(spot, its name) -> the problem of the readings that were to make it known."""
    first: dict[str, Place] = {}
    there: set[Place] = set()
    for problem in problems:
        first.setdefault(problem.table, (problem.table, problem.row))
        there.add((problem.table, problem.row))
    refused: dict[tuple[str, str], Place] = {}
    for table in tables:
        if table.table.stem != "spots":
            continue
        for row in table.rows:
            if row.held and (name := row.typed.get("spot")):
                key, place = ("spot", fold(name)), _place(row)
                if place in there:
                    refused.setdefault(key, place)
        for row in table.rows:  # held together with another row, or for a heading that is missing
            if row.held and (name := row.typed.get("spot")) and (there_first := first.get(_place(row)[0])):
                refused.setdefault(("spot", fold(name)), there_first)
    return refused


def _refused_things(problems: Iterable[Problem], document: TomlFile) -> dict[tuple[str, str], Place]:
    """(kind, name) -> the problem inside the section of batch.toml, or the rows of sheets, that brings the thing."""
    sections = [
        (kind, section, [_line(document, one) for one in paths]) for kind, section, paths in _sections(document)
    ]
    tables = {table for _, _, places in sections for table, _ in places}
    lines = sorted({(problem.table, problem.row) for problem in problems if problem.table in tables})
    if not lines:
        return {}
    starts = sorted({place for _, _, places in sections for place in places})
    refused: dict[tuple[str, str], Place] = {}
    for kind, section, places in sections:
        inside = next((line for start in places for line in lines if start <= line < _end(start, starts)), None)
        if inside is None or kind not in _KINDS:
            continue
        for name in _names(kind, section):
            refused.setdefault((kind, fold(name)), inside)
        for part, key in _PARTS.items():
            for item in _tables(section.get(part)):
                refused.setdefault((part, fold(str(item.get(key, "")))), inside)
    return refused


def _end(start: Place, starts: Iterable[Place]) -> Place:
    """Where the next section of the same file or sheet begins."""
    return next((other for other in starts if other > start and other[0] == start[0]), (start[0], 10**9))


def _sections(document: TomlFile) -> Iterator[tuple[str, Mapping[str, Any], list[tuple[str | int, ...]]]]:
    """Every table of a document that is in no other, with its path and those of its parts that have names."""
    for key, value in document.values.items():
        if isinstance(value, dict):
            yield key, value, [(key,)]
        for place, item in enumerate(_tables(value)):
            parts = [(key, place, part, n) for part in _PARTS for n, _ in enumerate(_tables(item.get(part)))]
            yield key, item, [(key, place), *parts]


def _line(document: TomlFile, path: tuple[str | int, ...]) -> Place:
    source, line = document.place(*path)
    return place_of(source).table, line


def _tables(value: object) -> list[Mapping[str, Any]]:
    return [item for item in value if isinstance(item, dict)] if isinstance(value, list) else []


def _names(kind: str, section: Mapping[str, Any]) -> Iterator[str]:
    keys = ("id", "model") if kind == "device" else ("id", "name", "title")
    yield from (str(section[key]) for key in keys if key in section)
    if kind == "device":
        yield f"{section.get('maker', '')} {section.get('model', '')}"
        aliases = section.get("aliases")
        yield from map(str, aliases if isinstance(aliases, list) else ())
