"""Rows that are still to be measured: left out and counted, held where something has come of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import PurePosixPath

from catalog.checking.defaults import defaults_of
from catalog.checking.headers import Heading, read_headings
from catalog.checking.logfiles import map_and_path
from catalog.checking.rows import TypedTable
from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.documents import TomlFile
from catalog.reading.folder import Folder
from catalog.reading.format import PLANNED, TABLES, Table
from catalog.reading.rawtable import RawRow, RawTable
from catalog.reading.sources import DESK, file_of

# Columns that a row of the desk shares with the planned row that it fills; an outcome or a value is what it adds.
_SAME: Mapping[str, tuple[str, ...]] = {
    "runs": (
        "device", "unit", "firmware", "client", "driver", "session", "settings", "band", "width_mhz", "direction",
        "protocol", "flows", "security", "spot", "attenuation_db", "repeat",
    ),
    "stations": ("mix", "client", "role"),
    "longruns": ("device", "unit", "firmware", "client", "session", "settings", "band", "direction", "spot", "kind"),
}  # fmt: skip
# Columns that only a measurement fills.
_MEASURED: Mapping[str, tuple[str, ...]] = {
    "runs": ("throughput", "spread", "link_rate_mbit_s"),
    "stations": ("on_time_share", "p50_ms", "p75_ms", "p90_ms", "p95_ms", "p99_ms", "ended_at_s", "ended_by"),
    "longruns": (),
}


@dataclass(frozen=True, slots=True)
class PlannedRow:
    """One such row, or one that is told from them: its place, and its texts by column, after defaults.

    headings  of its table
    """

    stem: str
    source: str
    number: int
    texts: Mapping[str, str]
    headings: Mapping[str, Heading]


def without_planned(raw: RawTable, table: Table, document: TomlFile) -> tuple[RawTable, list[PlannedRow]]:
    """A table without the rows whose outcome is `planned`, and these."""
    if table.stem not in _SAME or not raw.rows:
        return raw, []
    defaults = defaults_of(table, document, [])
    headings = read_headings(raw, table).known
    outcome, otherwise = headings.get("outcome"), defaults.get("outcome", "")
    kept, planned = [], []
    for row in raw.rows:
        if is_planned((row.cells[outcome.place] if outcome else "") or otherwise):
            planned.append(_with_texts(raw, row, headings, defaults))
        else:
            kept.append(row)
    return (replace(raw, rows=tuple(kept)) if planned else raw), planned


def rows_with_texts(raw: RawTable, table: Table, document: TomlFile) -> list[PlannedRow]:
    """Every row of a table that may have planned ones, planned or not."""
    if table.stem not in _SAME or not raw.rows:
        return []
    headings, defaults = read_headings(raw, table).known, defaults_of(table, document, [])
    return [_with_texts(raw, row, headings, defaults) for row in raw.rows]


def _with_texts(raw: RawTable, row: RawRow, headings: Mapping[str, Heading], defaults: Mapping[str, str]) -> PlannedRow:
    cells = {name: text for name, heading in headings.items() if (text := row.cells[heading.place].strip())}
    return PlannedRow(raw.stem, raw.file, row.number, {**defaults, **cells}, headings)


def key_of(stem: str, texts: Mapping[str, str]) -> tuple[str, ...]:
    """What a row of the desk shares with the planned row that it fills."""
    return tuple(texts.get(name, "") for name in _SAME[stem])


def counted(tables: Iterable[RawTable], document: TomlFile) -> tuple[int, int]:
    """Rows of a batch, and those that are still to be measured."""
    read, planned, desk = 0, [], []
    for raw in tables:
        if raw.stem in TABLES:
            measured, of_table = without_planned(raw, TABLES[raw.stem], document)
            read += len(measured.rows)
            planned += of_table
            if is_of_desk(raw.file):
                desk += [(raw.stem, row.texts) for row in rows_with_texts(measured, TABLES[raw.stem], document)]
    return read, len(unfilled(planned, desk))


def unfilled(planned: Iterable[PlannedRow], desk: Iterable[tuple[str, Mapping[str, str]]]) -> list[PlannedRow]:
    """The planned rows that no row of the desk fills, by its log or by what it is about.

    desk  stem of the table and texts by column of each of its rows
    """
    rows = [(stem, texts) for stem, texts in desk if stem in _SAME]
    by_log = {(stem, texts["log"]) for stem, texts in rows if texts.get("log")}
    by_key = {(stem, key_of(stem, texts)) for stem, texts in rows}
    return [
        row
        for row in planned
        if (row.stem, row.texts.get("log", "")) not in by_log and (row.stem, key_of(row.stem, row.texts)) not in by_key
    ]


def rows_of_desk(tables: Iterable[TypedTable]) -> Iterator[tuple[str, Mapping[str, str]]]:
    """Stem of the table and texts by column of each row that was noted beside the bench."""
    for table in tables:
        if is_of_desk(table.file):
            yield from ((table.table.stem, row.typed) for row in table.rows)


def held_planned(still_open: Iterable[PlannedRow], folder: Folder) -> Iterator[Problem]:
    """A problem for every planned row whose log is there, or that has a value, of those that no row of the desk fills."""
    for row in still_open:
        log = row.texts.get("log", "")
        column, value = next(
            ((name, row.texts[name]) for name in _MEASURED[row.stem] if row.texts.get(name)), ("log", "")
        )
        there = bool(log) and folder.refusal(map_and_path(log)[1]) is None
        if not there and not value:
            continue
        come = f"has the value {value}" if value else f"has its log, {log}, in the batch"
        trouble = Trouble(
            f"The row is planned, and {come}.",
            "Fill in when, and take planned out of the outcome; or take the "
            f"{'value' if value else 'file'} away if it belongs to another row.",
            "planned-with-log",
        )
        header = row.headings[column].text if column in row.headings else column
        yield trouble.at(row.source, row.number, header, value or log)


def is_planned(text: str) -> bool:
    """Whether an outcome says that the row is still to be measured."""
    return text.strip().casefold() == PLANNED


def is_of_desk(source: str) -> bool:
    """Whether rows were noted beside the bench: in desk/, of a workbook STEM.desk/."""
    folder = PurePosixPath(file_of(source)).parts[0]
    return folder == DESK or folder.endswith(f".{DESK}")
