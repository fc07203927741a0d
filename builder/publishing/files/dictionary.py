"""The data dictionary, from the comments in catalog/schema.py: what one row is, and what each column means."""

from __future__ import annotations

import inspect
import re

from sqlite_utils import Database
from sqlite_utils.db import Column

from builder.pages.data import ColumnMeaning
from catalog import schema

_SOURCES = re.compile(r"\s*\((?:\w+\.(?:md|py))\)")
_UNITS = {
    "_mbit_s": "Mbit/s",
    "_db": "dB",
    "_dbm": "dBm",
    "_mhz": "MHz",
    "_ms": "ms",
    "_s": "seconds",
    "_c": "°C",
    "_m": "metres",
    "_kib": "KiB",
    "_bytes": "bytes",
    "_utc": "instant in UTC",
}


def dictionary(copy: Database) -> dict[str, tuple[str, list[ColumnMeaning]]]:
    """Table -> what one row is, and its columns in order; of those tables in which a public copy has rows."""
    source = inspect.getsource(schema)
    return {
        name: (_row_comment(source, sql), [_meaning(column, sql) for column in copy.table(name).columns])
        for name, sql in schema.TABLES.items()
        if copy.table(name).count
    }


def _meaning(column: Column, sql: str) -> ColumnMeaning:
    needed = "always given" if column.notnull or column.is_pk else "may be unknown"
    comment = re.search(rf"^ *{column.name} [^\n]*--\s*(.+)$", sql, re.MULTILINE)
    what = _plain(comment[1]) if comment else _unit(column.name)
    return ColumnMeaning(column.name, f"{column.type.lower()}, {needed}", what)


def _unit(name: str) -> str:
    """The unit a column's name ends in; "" where it ends in none."""
    endings = [ending for ending in _UNITS if name.endswith(ending)]
    return f"in {_UNITS[max(endings, key=len)]}" if endings else ""


def _row_comment(source: str, sql: str) -> str:
    """The comment above a table's definition."""
    name = re.search(r"CREATE TABLE (\w+)", sql)
    assert name is not None
    match = re.search(rf"((?:^# [^\n]*\n)+)^\w+ = f?\"\"\"\nCREATE TABLE {name[1]} \(", source, re.MULTILINE)
    if match is None:
        return ""
    return _plain(" ".join(line.removeprefix("# ") for line in match[1].strip().splitlines()))


def _plain(comment: str) -> str:
    """A comment without what only readers of the program need: names of modules and documents, code marks."""
    return _SOURCES.sub("", comment).replace("`", "")
