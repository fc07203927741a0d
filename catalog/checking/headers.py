"""Which column a header means: by name or synonym, with or without a unit, in any case."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any

from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.columns import Column
from catalog.reading.format import TABLES, Table
from catalog.reading.rawtable import RawTable
from catalog.units import Unit, possible_units, without_unit


@dataclass(frozen=True)
class Heading:
    """One header of a file: the column it means, None for a note, and the unit it states."""

    text: str
    place: int
    column: Column | None
    unit: Unit | None


@dataclass(frozen=True)
class Headings:
    """All headers of one file."""

    known: Mapping[str, Heading]
    notes: Sequence[Heading]
    problems: Sequence[Problem]
    warnings: Sequence[Problem]


def read_headings(raw: RawTable, table: Table) -> Headings:
    """Find the column of every header; a column named twice is a problem, an unknown header a warning."""
    known: dict[str, Heading] = {}
    notes: list[Heading] = []
    problems: list[Problem] = []
    warnings: list[Problem] = []
    for place, text in enumerate(raw.headers):
        match = heading_of(text, table.stem)
        if raw.lower_headers and not isinstance(match, tuple):  # a merged cell above may only be a title
            below = heading_of(raw.lower_headers[place], table.stem)
            match = below if isinstance(below, tuple) else match
        if isinstance(match, Trouble):
            problems.append(match.at(raw.file, raw.header_row, text, text))
            continue
        column, unit = match if match is not None else (None, None)
        heading = Heading(text or f"column {place + 1}", place, column, unit)
        if column is None:
            if text or any(row.cells[place] for row in raw.rows):
                if any(other.text == heading.text for other in notes):
                    heading = replace(heading, text=f"{heading.text} (column {place + 1})")
                notes.append(heading)
                unknown = Trouble("This column is not known.", "It is kept as a note to its rows.", "unknown-column")
                warnings.append(unknown.at(raw.file, raw.header_row, heading.text, heading.text))
        elif column.name in known:
            other = known[column.name].text
            twice = Trouble(f'"{other}" and "{text}" both mean {column.name}.', "Keep one of them.", "column-twice")
            problems.append(twice.at(raw.file, raw.header_row, text, text))
        else:
            known[column.name] = heading
    return Headings(known, notes, problems, warnings)


def heading_of(text: str, stem: str) -> tuple[Column, Unit | None] | Trouble | None:
    """The column of table *stem* that a header means and the unit it states; None for an unknown one."""
    names = _names(stem)
    words = _words(text)
    joined = " ".join(words).casefold()
    if not joined:
        return None
    if (column := names.get(joined)) is not None:
        return column, column.unit if _states_unit(joined, column) else None
    for length in (1, 2, 3):
        if length >= len(words):
            break
        base, unit_words = " ".join(words[:-length]).casefold(), words[-length:]
        column, units = names.get(base), _units("_".join(unit_words))
        if column is not None and units:
            return _fitting(text, column, units)
    for length in range(1, len(words) + 1):
        if length == len(words) and (units := _units("_".join(words))):
            return _by_unit(text, stem, units)
    return None


def _by_unit(text: str, stem: str, units: Sequence[Unit]) -> tuple[Column, Unit | None] | Trouble | None:
    """A header that is nothing but a unit names the one column it can belong to; results go before the rest."""
    fitting = [c for c in TABLES[stem].columns if c.unit is not None and c.unit.quantity == units[0].quantity]
    results = [column for column in fitting if column.kind == "throughput"]
    fitting = results or fitting
    return _fitting(text, fitting[0], units) if len(fitting) == 1 else None


def _fitting(text: str, column: Column, units: Sequence[Unit]) -> tuple[Column, Unit] | Trouble:
    if column.unit is None:
        return Trouble(f"{column.name} has no unit, but the header states one.", "Leave it out.", "unit")
    fitting = [unit for unit in units if unit.quantity == column.unit.quantity]
    if not fitting:
        return Trouble(
            f'The header "{text}" states a unit of {units[0].quantity}, but {column.name} is a {column.unit.quantity}.',
            f"Write it in {column.unit.name}.",
            "wrong-unit",
        )
    if len(fitting) > 1:
        choices = " or ".join(unit.name for unit in fitting)
        return Trouble(f'The unit in "{text}" can mean {choices}.', "Write one of the two.", "two-units")
    return column, fitting[0]


def in_map(heading: str, map_file: str) -> str:
    """How a problem names a column whose values stand in a reading map and in no cell."""
    return f"{heading} of {map_file}"


def names_of(column: str, headings: Mapping[str, Heading], map_file: str) -> set[str]:
    """All names that an answer may give a column: its own, its heading, and as a problem names one of a reading map."""
    if column not in headings:
        return {column}
    text = headings[column].text
    return {column, text, in_map(text, map_file)} if map_file else {column, text}


def table_of(raw: RawTable, defaults: Mapping[str, Any]) -> Table | None:
    """The table a file is: by its name, else the one table whose required columns it has; None for none or several."""
    if (named := TABLES.get(raw.stem)) is not None:
        return named
    fitting = []
    for table in TABLES.values():
        given = {name.casefold() for name in defaults.get(table.stem, {})}
        headings = [heading_of(text, table.stem) for text in (*raw.headers, *raw.lower_headers)]
        present = {heading[0].name for heading in headings if isinstance(heading, tuple)}
        wanted = {column.name for column in table.columns if column.required and column.unless not in present}
        enough = "throughput" in present if table.stem == "runs" else True
        if present and enough and wanted <= present | given:
            fitting.append(table)
    return fitting[0] if len(fitting) == 1 else None


@cache
def _names(stem: str) -> Mapping[str, Column]:
    """Every spelling of every column, in small letters with spaces; a unit at the end may be left out."""
    names: dict[str, Column] = {}
    for column in TABLES[stem].columns:
        spaced = column.name.replace("_", " ")
        for name in (spaced, without_unit(spaced, column.unit), *column.synonyms):
            assert names.setdefault(name, column) is column, f"{stem}: {name!r} names two columns"
    return names


def _states_unit(name: str, column: Column) -> bool:
    return column.unit is not None and name != without_unit(name, column.unit)


def _words(text: str) -> list[str]:
    """The words of a header: "width (MHz)", "Attenuation_dB" and "level [dBm]" in the same form."""
    folded = unicodedata.normalize("NFKC", text).replace("\u00a0", " ")
    return re.sub(r"[_\s()\[\]{},:;#'\"“”‘’-]+|\.(?!\d)", " ", folded).split()


@lru_cache(maxsize=4096)
def _units(text: str) -> tuple[Unit, ...]:
    return possible_units(text) or possible_units(text.replace("_", ""))
