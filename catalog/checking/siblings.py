"""Runs beside the other repeats of their cell: what is a factor off is held, what is odd is listed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from catalog.checking import guards
from catalog.checking.idempotence import run_cell
from catalog.checking.known import Row
from catalog.checking.results import Pairs
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble

AS_LOGGED = "as logged"


def check_siblings(tables: Iterable[tuple[TypedTable, Pairs]], known: Iterable[Row]) -> None:
    """Hold or list runs that stand apart from the median of their siblings.

    Siblings are the other repeats of the cell as typed, held ones too, and those in the catalogue. A row
    whose cell is not settled (an unknown firmware, say) is not a sibling of any row yet; a typed 0 is not a value.
    """
    cells: dict[tuple[Any, ...], list[tuple[TypedTable, TypedRow, Row]]] = {}
    for table, pairs in tables:
        for typed, row in pairs:
            if row["throughput_mbit_s"] and row["of_runs"] is None and _settled(row):
                cells.setdefault(run_cell(row), []).append((table, typed, row))
    entered: dict[tuple[Any, ...], dict[int, float]] = {}
    for row in known:
        if row["throughput_mbit_s"] and row["of_runs"] is None and (key := run_cell(row)) in cells:
            entered.setdefault(key, {})[row["repeat"]] = row["throughput_mbit_s"]
    for key, members in cells.items():
        old = entered.get(key, {})
        again = {row["repeat"] for _, _, row in members}
        others = [value for repeat, value in old.items() if repeat not in again]
        if len(members) + len(others) < 2:
            continue
        values = [row["throughput_mbit_s"] for _, _, row in members]
        for place, (table, typed, row) in enumerate(members):
            if old.get(row["repeat"]) == row["throughput_mbit_s"]:
                continue
            siblings = values[:place] + values[place + 1 :] + others
            text = typed.typed.get("throughput", "")
            factor = guards.against_siblings(values[place], siblings, typed=text)
            if factor is not None and not text:
                table.ask(typed, "log", factor, options=[AS_LOGGED])
            elif factor is not None and "throughput" not in typed.sure:
                table.hold(typed, "throughput", factor)
            elif factor is None and (odd := guards.odd_repeat(values[place], siblings, typed=text)) is not None:
                table.warn(typed, "throughput", odd)


def hold_summaries_beside_runs(tables: Iterable[tuple[TypedTable, Pairs]], known: Iterable[Row]) -> None:
    """Hold a summary whose cell also has runs, in the batch or in the catalogue, and a run whose cell was entered as
    a summary: the summary may be of these very runs.
    """
    tables = list(tables)
    runs: dict[tuple[Any, ...], str] = {}
    summaries: dict[tuple[Any, ...], str] = {}
    for row in known:
        place = f"{row['source_file']} row {row['source_row']} in batch {row['batch_id']}"
        (runs if row["of_runs"] is None else summaries).setdefault(run_cell(row), place)
    for table, pairs in tables:
        for typed, row in pairs:
            if row["of_runs"] is None and _settled(row):
                runs.setdefault(run_cell(row), f"{table.file} row {typed.number}")
    for table, pairs in tables:
        for typed, row in pairs:
            if not _settled(row):
                continue
            single = row["of_runs"] is None
            other = (summaries if single else runs).get(run_cell(row))
            if other is not None:
                what, of_other = ("A run", "a summary") if single else ("A summary", "runs")
                both = Trouble(
                    f"{what} of a cell that has {of_other}, too: {other}. Is it a summary of the same runs?",
                    "Keep one of the two: the runs, if they are known.",
                    "summary-and-runs",
                )
                table.hold(typed, "of_runs" if not single else "repeat", both)


def _settled(row: Row) -> bool:
    """Whether the row's cell is known: only its value or level may be in question."""
    names = ("device_id", "unit_id", "firmware", "client_id", "session_id", "band", "width_mhz", "direction")
    if any(row[name] is None for name in names):
        return False
    return row["spot"] is not None or row["attenuation_db"] is not None or row["level_dbm"] is not None
