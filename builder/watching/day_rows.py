"""The rows of a day in running order: planned ones, and those that were filled or noted."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from builder import wording
from builder.watching.states import Place
from catalog.checking.logfiles import map_and_path
from catalog.checking.planned import PlannedRow, is_of_desk, is_planned, key_of, rows_with_texts
from catalog.reading.batch import RawBatch
from catalog.reading.format import TABLES
from catalog.reading.sources import file_of

_NUMBER = re.compile(r"(\d{1,6})(?!\d)")


@dataclass(frozen=True, slots=True)
class Row:
    """A row of the day.

    place   of its planned row, or of the row that was filled
    order   from 1 on
    row     as it stands in the table of the plan, or filled
    filled  the row that was measured: of the desk, or the same; None while it is open
    """

    place: Place
    order: int
    row: PlannedRow
    filled: PlannedRow | None = None

    @property
    def stem(self) -> str:
        """Its table."""
        return self.row.stem

    @property
    def log(self) -> str:
        """The path of the log that it, or the row that fills it, names; "" for none."""
        return path_of((self.filled or self.row).texts.get("log", ""))


def place_of_row(row: PlannedRow) -> Place:
    """Where a row stands."""
    return file_of(row.source), row.stem, int(row.number)


def path_of(cell: str) -> str:
    """The path in a cell that names a log."""
    return map_and_path(cell)[1]


def day_rows(raw: RawBatch) -> list[Row]:
    """All rows of runs, stations and long runs, those of the desk at the place of the planned rows that they fill."""
    planned: list[tuple[tuple[int, int, int], PlannedRow]] = []
    desk: list[PlannedRow] = []
    for number, table in enumerate(raw.tables):
        before = 0
        for row in rows_with_texts(table, TABLES[table.stem], raw.document) if table.stem in TABLES else ():
            before = _number(row.texts.get("log", ""), otherwise=before)
            if is_of_desk(table.file):
                desk.append(row)
            else:
                planned.append(((before, number, int(row.number)), row))
    listed = [row for _, row in sorted(planned, key=lambda one: one[0])]
    filling, rest = _filling(listed, desk)
    rows: list[Row] = []
    for row in (*listed, *rest):
        place = place_of_row(row)
        filled = filling.get(place) if is_planned(row.texts.get("outcome", "")) else row
        rows.append(Row(place, len(rows) + 1, row, filled))
    return rows


def _number(cell: str, *, otherwise: int) -> int:
    """The number that the name of a log begins with."""
    match = _NUMBER.match(PurePosixPath(path_of(cell)).name)
    return int(match[1]) if match else otherwise


def _filling(
    rows: Iterable[PlannedRow], desk: Iterable[PlannedRow]
) -> tuple[dict[Place, PlannedRow], list[PlannedRow]]:
    """The row of the desk that fills each planned row, and those that fill none; by log before by what they share."""
    remaining = list(desk)
    filling: dict[Place, PlannedRow] = {}
    open_rows = [row for row in rows if is_planned(row.texts.get("outcome", ""))]
    for by in (_log_key, _row_key):
        there: dict[tuple[str, ...], PlannedRow] = {}
        for row in remaining:
            if (key := by(row)) is not None:
                there.setdefault(key, row)
        for row in open_rows:
            place = place_of_row(row)
            key = by(row)
            if place not in filling and key is not None and key in there:
                filling[place] = there.pop(key)
        used = {id(row) for row in filling.values()}
        remaining = [row for row in remaining if id(row) not in used]
    return filling, remaining


def _log_key(row: PlannedRow) -> tuple[str, ...] | None:
    """A row's log by its name, whatever its ending."""
    log = row.texts.get("log", "")
    return (row.stem, name_of(path_of(log))) if log else None


def _row_key(row: PlannedRow) -> tuple[str, ...]:
    return (row.stem, *key_of(row.stem, row.texts))


def name_of(path: str) -> str:
    """What ties a log to a planned row: its path without the ending, in any case of letters."""
    place = PurePosixPath(path)
    return str(place.parent / place.stem).casefold()


def what_is(row: PlannedRow, models: Mapping[str, str], *, with_band: bool) -> str:
    """A row in words: "Rondel 6, S4, download, repeat 2", with_band "Rondel 6, S4, 5 GHz, download, repeat 2".

    models  device -> the name of its model
    """
    texts = row.texts
    device = texts.get("device", "")
    loss = texts.get("attenuation_db", "")
    place = texts.get("spot", "") or (f"{loss} dB" if loss else "")
    parts = [models.get(device, device)]
    if row.stem == "stations":
        parts += [texts.get("workload", "") or texts.get("mix", ""), texts.get("role", ""), texts.get("client", "")]
        return ", ".join(part for part in (*parts, place) if part)
    band = texts.get("band", "")
    parts += [place, wording.band(band) if band and with_band else "", wording.way(texts.get("direction", ""))]
    if row.stem == "longruns":
        parts.append("long run")
    if repeat := texts.get("repeat", ""):
        parts.append(f"repeat {repeat}")
    return ", ".join(part for part in parts if part)
