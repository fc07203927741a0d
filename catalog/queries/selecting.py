"""From the rows of a SELECT to records, by position and checked by name."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, TypeVar

from sqlite_utils import Database

Record = TypeVar("Record")


def select(db: Database, sql: str, kind: type[Record]) -> list[Record]:
    """One *kind* a row. The SELECT names its columns as the record names its attributes, in that order.

    SQLite has no truth values, so attributes typed bool are made from 0 and 1.
    """
    cursor = db.execute(sql)
    names = tuple(column[0] for column in cursor.description)
    wanted = tuple(field.name for field in fields(kind))  # type: ignore[arg-type]
    assert names == wanted, f"{kind.__name__}: the SELECT gives {names}, the record holds {wanted}"
    truths = [place for place, field in enumerate(fields(kind)) if str(field.type).startswith("bool")]  # type: ignore[arg-type]
    return [kind(*(_with_truths(row, truths) if truths else row)) for row in cursor]


def _with_truths(row: tuple[Any, ...], places: list[int]) -> list[Any]:
    values = list(row)
    for place in places:
        if values[place] is not None:
            values[place] = bool(values[place])
    return values
