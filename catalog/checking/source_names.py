"""Sources whose rows would go by one name, or of which no list says that they are one table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from catalog.checking.answers import Answers
from catalog.checking.rows import TypedTable
from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.format import Table
from catalog.reading.rawtable import RawTable, table_stem


def same_name(raw: RawTable, tables: Iterable[TypedTable], batch_id: str) -> Problem | None:
    """A second file of this name. Batch, file name and number identify a row, so its rows would be ambiguous."""
    names = [table.file for table in tables if table.headings]
    other = next((name for name in names if table_stem(name) == table_stem(raw.file)), None)
    if other is None or not raw.headers:
        return None
    place = f"{batch_id}/{table_stem(raw.file)}/{raw.header_row + 1}"
    two = Trouble(
        f"{other} and {raw.file} go by one name, so {place} would be two rows.",
        "Keep one of the two files, or put the rows of both into one.",
        "two-sources",
    )
    return two.at(raw.file, 1, "", raw.file)


def without_list(
    raw: RawTable, table: Table, others: Sequence[str], *, listed: bool, answers: Answers
) -> Problem | None:
    """Why a file that is a table by its columns is not read: the table has another source, or a list without it.

    others  sources of the table that were read
    listed  whether the batch lists them
    """
    if listed:
        beside = f"{raw.file} is not in the list of [tables], which says where the rows of {table.stem} are."
        return Trouble(beside, "List it, or take it away.", "unlisted").at(raw.file, 1, "", raw.file)
    if not others or not raw.headers:
        return None
    both = f'{table.stem} = ["{others[0]}", "{table_stem(raw.file)}={raw.file}"]'
    two = Trouble(
        f"{others[0]} and {raw.file} are both {table.stem}, and no list says so.",
        f"Keep one of them, or list both under [tables]: {both}.",
        "two-sources",
        if_entered=True,
    )
    if answers.as_entered(two, (raw.file, table_stem(raw.file)), row=1):
        return None
    return two.at(raw.file, 1, "", raw.file)
