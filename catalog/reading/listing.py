"""Which sources a table has: its own file, those that the batch lists under [tables], and the desk's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from catalog.errors import Problem
from catalog.reading.documents import TomlFile
from catalog.reading.folder import Folder
from catalog.reading.format import TABLES
from catalog.reading.rawtable import problem_in, table_stem
from catalog.reading.sources import (
    Listed,
    SourcePath,
    file_of,
    is_checked_copy,
    is_own_file,
    name_trouble,
    parse_listed,
    place_of,
)
from catalog.reading.thing_sheets import sheet_called

_SUFFIXES = (".csv", ".tsv", ".xlsx", ".ods")
_REMEDY = "Correct the list."


@dataclass(frozen=True)
class Source:
    """Where rows of a table come from.

    name    in the ids of its rows
    source  a file, a sheet of a workbook, or a file under its name
    map     the reading map it is read through, "" for none
    """

    stem: str
    name: str
    source: str
    map: str = ""


def listed_sources(document: TomlFile, own: Sequence[Source]) -> tuple[dict[str, list[Source]], list[Problem]]:
    """The sources of every table that is listed under [tables], and what is wrong with the lists.

    own  files and sheets that are there and called like their table
    """
    problems: list[Problem] = []
    stated = document.values.get("tables")
    if stated is None:
        return {}, []
    if not isinstance(stated, dict):
        return {}, [_problem(document, ("tables",), "The sources of tables are written as [tables].", "wrong-shape")]
    result: dict[str, list[Source]] = {}
    taken: dict[str, str] = {}
    for stem, value in stated.items():
        path = ("tables", stem)
        if stem not in TABLES:
            sentence = f"There is no table {stem!r}."
            problems.append(_problem(document, path, sentence, "unknown-key", f"Tables are {', '.join(TABLES)}."))
            continue
        entries = [value] if isinstance(value, str) else value
        if not isinstance(entries, list) or not entries or not all(isinstance(one, str) and one for one in entries):
            shape = 'Write a file, or a list such as ["runs.csv", "late=more/runs.csv"].'
            problems.append(_problem(document, path, f"{stem} is no list of sources.", "wrong-shape", shape))
            continue
        of_table = [source for source in own if source.stem == stem]
        alone = len(entries) == 1
        result[stem] = []
        for text in entries:
            source = _source(stem, parse_listed(text), of_table, alone=alone)
            if isinstance(source, str):
                problems.append(_problem(document, path, source, "source", _REMEDY, text))
                continue
            wrong = None if source.name == stem else name_trouble(source.name, taken, iter(TABLES))
            if wrong is None and source.source in {other.source for other in result[stem]}:
                wrong = f"{text!r} stands twice in the list."
            if wrong is not None:
                problems.append(_problem(document, path, wrong, "source", _REMEDY, text))
                continue
            taken[source.name.casefold()] = file_of(source.source)
            result[stem].append(source)
        listed = {file_of(source.source) if source.map else source.source for source in result[stem]}
        problems += [
            _problem(
                document,
                path,
                f"{_shown(source.source)} is not in the list, which says where the rows of {stem} are.",
                "unlisted",
                "List it, or take it away.",
                _shown(source.source),
            )
            for source in of_table
            if source.source not in listed
        ]
    return result, problems


def _source(stem: str, entry: Listed, own: Sequence[Source], *, alone: bool) -> Source | str:
    """The source that an entry means, or why it means none."""
    if not entry.name and not entry.map:
        for source in own:
            sheet = isinstance(source.source, SourcePath)
            if entry.path == source.source or (sheet and sheet_called(entry.path) == stem):
                return source
    if Path(entry.path).suffix.casefold() not in _SUFFIXES and not entry.map:
        return f"{entry.path!r} is no table: a table is a .csv, .tsv, .xlsx or .ods file."
    name = entry.name or entry.map
    if alone and not entry.name:
        name = stem
    if not name:
        return f"{entry.path!r} has no name, and the ids of its rows need one: write late={entry.path} or the like."
    if name == stem and not entry.map and is_own_file(entry.path, stem):
        return Source(stem, name, entry.path)
    return Source(stem, name, SourcePath(entry.path, name, mapped=bool(entry.map)), entry.map)


def desk_sources(folder: Folder, desk: str) -> list[Source]:
    """Tables that lie in the folder *desk*, in the order of their names: "desk/runs.csv" as desk-runs."""
    place = folder.root / desk
    if not place.is_dir():
        return []
    names = [name for name in Folder(place).names() if Path(name).suffix.casefold() in _SUFFIXES]
    tables = [name for name in names if table_stem(name) in TABLES and not is_checked_copy(name)]
    return [
        Source(table_stem(name), f"desk-{table_stem(name)}", SourcePath(f"{desk}/{name}", f"desk-{table_stem(name)}"))
        for name in tables
    ]


def _shown(source: str) -> str:
    place = place_of(source)
    return f"The sheet {place.sheet}" if place.sheet else place.file


def _problem(
    document: TomlFile, path: tuple[Any, ...], sentence: str, code: str, remedy: str = _REMEDY, value: str = ""
) -> Problem:
    source, line = document.place(*path)
    return problem_in(source, line, sentence, remedy, code, value=value, column=str(path[-1]))
