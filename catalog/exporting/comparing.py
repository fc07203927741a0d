"""Two catalogues held against each other, but for where their rows stood."""

from __future__ import annotations

from collections import Counter

from sqlite_utils import Database

from catalog import schema

_FILES = frozenset({"raw_file", "raw_content"})
_PLACES = frozenset({"source_file", "source_row", "first_file", "first_row"})


def differences(one: Database, other: Database) -> list[str]:
    """What two catalogues say differently, a sentence a table; none where they say the same.

    Raw files do not count, nor the columns that name a file, a sheet, or a row of them: a folder and a workbook with
    the same content are equal.
    """
    result = []
    for table in schema.TABLES:
        if table in _FILES:
            continue
        here, there = _rows(one, table), _rows(other, table)
        if here != there:
            only_here, only_there = here - there, there - here
            example = next(iter((only_here or only_there).items()))[0]
            result.append(
                f"{table}: {only_here.total()} rows only in the first and {only_there.total()} only in the second, "
                f"such as {dict(example)}"
            )
    return result


def _rows(db: Database, table: str) -> Counter[tuple[tuple[str, object], ...]]:
    names = [name for name in db.table(table).columns_dict if name not in _PLACES]
    rows = db.execute(f"SELECT {', '.join(names)} FROM {table}").fetchall()
    return Counter(tuple(zip(names, row, strict=True)) for row in rows)
