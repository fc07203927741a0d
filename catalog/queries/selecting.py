"""From the rows of a SELECT to records, by position and checked by name."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any, TypeVar

from sqlite_utils import Database

Record = TypeVar("Record")

# The columns of records.Sourced, first in every record that has them.
ORIGIN = "batch_id, source_file, source_row"


def select(db: Database, sql: str, kind: type[Record], **parts: Mapping[Any, tuple[Any, ...]]) -> list[Record]:
    """One *kind* a row. The SELECT names its columns as the record names its attributes, in that order.

    The last attributes may be *parts* instead: tuples by the record's id, the first column after ORIGIN.
    SQLite has no truth values, so attributes typed bool are made from 0 and 1.
    """
    cursor = db.execute(sql)
    names = [column[0] for column in cursor.description]
    truths = _check(kind, names, len(parts))
    rows = cursor.fetchall()
    columns: list[Iterable[Any]] = list(zip(*rows, strict=True)) or [()] * len(names)
    for place in truths:
        columns[place] = [None if value is None else bool(value) for value in columns[place]]
    owners = columns[3 if names[:3] == ORIGIN.split(", ") else 0]
    columns += [[by_id.get(owner, ()) for owner in owners] for by_id in parts.values()]
    found = [kind.__new__(kind) for _ in rows]
    # Attribute by attribute: a frozen record sets them one at a time when it is made, at twice the cost.
    for attribute, column in zip([*names, *parts], columns, strict=True):
        deque(map(getattr(kind, attribute).__set__, found, column), maxlen=0)
    return found


def select_parts(db: Database, sql: str, kind: type[Record]) -> dict[Any, tuple[Record, ...]]:
    """Records by their owner, the first column of the SELECT; the others are the record's attributes."""
    found: dict[Any, list[Record]] = defaultdict(list)
    cursor = db.execute(sql)
    truths = _check(kind, [column[0] for column in cursor.description][1:], 0)
    for owner, *values in cursor:
        found[owner].append(kind(*_with_truths(values, truths)))
    return {owner: tuple(records) for owner, records in found.items()}


def select_names(db: Database, sql: str) -> dict[Any, tuple[Any, ...]]:
    """The second column's values by the first."""
    found: dict[Any, list[Any]] = defaultdict(list)
    for owner, value in db.execute(sql):
        found[owner].append(value)
    return {owner: tuple(values) for owner, values in found.items()}


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
