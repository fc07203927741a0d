"""From the rows of a SELECT to records, by position and checked by name."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from itertools import groupby
from operator import itemgetter
from typing import Any, TypeVar

from sqlite_utils import Database

from catalog.records import CONDITIONS

Record = TypeVar("Record")
Row = tuple[Any, ...]

# The columns of records.Sourced, first in every record that has them.
ORIGIN = "batch_id, source_file, source_row"


def first_settings(column: str) -> str:
    """SQL: the first settings entered that are equal to those that *column* names; NULL where it names none."""
    equal = " AND ".join(f"o.{name} IS n.{name}" for name in CONDITIONS)
    return (
        f"(SELECT o.settings_id FROM settings AS n JOIN settings AS o ON {equal} "
        f"WHERE n.settings_id = {column} ORDER BY o.number LIMIT 1)"
    )


def select(
    db: Database, sql: str, kind: type[Record], *, values: Sequence[Any] = (), **parts: Mapping[Any, tuple[Any, ...]]
) -> list[Record]:
    """One *kind* a row. The SELECT names its columns as the record names its attributes, in that order.

    The last attributes may be *parts* instead: tuples by the record's id, the first column after ORIGIN.
    SQLite has no truth values, so attributes typed bool are made from 0 and 1.
    values  of the SELECT's question marks
    """
    cursor = db.execute(sql, values)
    names = [column[0] for column in cursor.description]
    truths = _check(kind, names, len(parts))
    owner = 3 if names[:3] == ORIGIN.split(", ") else 0
    return [
        kind(*_with_truths(row, truths), *(by_id.get(row[owner], ()) for by_id in parts.values())) for row in cursor
    ]


def select_rows(db: Database, sql: str, kind: type[Record]) -> tuple[list[Row], Callable[[Row], Record]]:
    """The rows of a SELECT, and what makes one *kind* of each, as `select` does."""
    cursor = db.execute(sql)
    truths = _check(kind, [column[0] for column in cursor.description], 0)
    return cursor.fetchall(), lambda row: kind(*_with_truths(row, truths))


def select_parts(db: Database, sql: str, kind: type[Record]) -> dict[Any, tuple[Record, ...]]:
    """Records by their owner, the first column of the SELECT and its order; the others are the record's attributes."""
    cursor = db.execute(sql)
    truths = _check(kind, [column[0] for column in cursor.description][1:], 0)
    return {
        owner: tuple(kind(*_with_truths(values, truths)) for _, *values in rows)
        for owner, rows in groupby(cursor, itemgetter(0))
    }


def select_names(db: Database, sql: str) -> dict[Any, tuple[Any, ...]]:
    """The second column's values by the first, by which the SELECT is ordered."""
    return {owner: tuple(value for _, value in rows) for owner, rows in groupby(db.execute(sql), itemgetter(0))}


def _check(kind: type[Any], names: list[str], parts: int) -> list[int]:
    """Places of the truth values, once the columns were seen to be the attributes."""
    attributes = fields(kind)
    wanted = [attribute.name for attribute in attributes][: len(attributes) - parts]
    assert names == wanted, f"{kind.__name__}: the SELECT gives {names}, the record holds {wanted}"
    return [place for place, attribute in enumerate(attributes) if str(attribute.type).startswith("bool")]


def _with_truths(row: Iterable[Any], places: list[int]) -> list[Any]:
    values = list(row)
    for place in places:
        if values[place] is not None:
            values[place] = bool(values[place])
    return values
