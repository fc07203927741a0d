"""Columns that batch.toml gives once for a whole table."""

from __future__ import annotations

import datetime as dt

from catalog.checking.headers import heading_of
from catalog.checking.keys import IGNORE_COLUMNS, ON_TOP
from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.documents import TomlFile
from catalog.reading.format import Table
from catalog.reading.rawtable import Exact


def defaults_of(table: Table, document: TomlFile, problems: list[Problem]) -> dict[str, str]:
    """Column -> text from [defaults.NAME]; a version written as a number is one of the *problems* there, too."""
    given = document.values.get("defaults", {})
    section = given.get(table.stem, {}) if isinstance(given, dict) else {}
    texts: dict[str, str] = {}
    if not isinstance(section, dict):
        return texts
    for key, value in section.items():
        place = document.place("defaults", table.stem, key)
        heading = heading_of(key, table.stem)
        if not isinstance(heading, tuple):
            remedy = ON_TOP if key == IGNORE_COLUMNS else "Correct the name."
            unknown = Trouble(f"{table.stem} has no column {key!r}.", remedy, "unknown-key")
            problems.append(unknown.at(*place, key, value))
            continue
        column = heading[0]
        if isinstance(value, float) and column.kind == "text":
            text_wanted = Trouble(
                f"{value!r} is a number; {column.name} is text, and a number loses its last zeros.",
                f'Write it in quotes: {key} = "{value}".',
                "not-text",
            )
            problems.append(text_wanted.at(*place, key, value))
            continue
        text = default_text(value)
        if text is None:
            problems.append(
                Trouble("A default is one value.", "Write text, a number, a date, true or false.", "wrong-shape").at(
                    *place, key, value
                )
            )
        else:
            texts[column.name] = text
    return texts


def default_text(value: object) -> str | None:
    """A TOML value as the text a cell would hold."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return Exact(value)
    if isinstance(value, dt.datetime):
        return value.isoformat(" ")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return value.strip() if isinstance(value, str) else None
