"""The rows that downloads have of one device, as text: kept from build to build, and joined.

No row has a number of this copy of the catalogue: another copy would number it otherwise. A run is named by its batch,
its file or sheet and its row there; a cell by its figure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from operator import attrgetter
from typing import Any

from builder import wording
from builder.bench.cells import Cell
from builder.pages.contents import Catalogue, Results
from builder.publishing.files.assets import Asset
from builder.publishing.files.table_texts import Value, csv_head, csv_rows, json_rows
from builder.traces.showing import cell_json
from catalog.dates import is_month
from catalog.records import Run
from catalog.row_numbers import row_of as sheet_row

RUNS, CELLS = "runs", "cells"
IN_PART = "known in part"  # beside the rows: columns of runs, with a space between
FORMS = (".csv", "-semicolon.csv", ".json")

SETTINGS = "settings"  # a column only where anything was tested under settings
SUMMARY = "summary"  # of cells; and those of runs: only where any is a summary
_OF_SUMMARIES = ("of_runs", "spread_mbit_s", "statistic")
_NUMBERS = ("run_id", "epoch_id")  # of rows in this copy; an epoch is named by its house, spot, band and start
_RUN_COLUMNS = (
    "at_utc",
    "device",
    "unit",
    "firmware",
    "client",
    "driver",
    "session",
    "date",
    "house",
    SETTINGS,
    "band",
    "channel",
    "width_mhz",
    "direction",
    "protocol",
    "flows",
    "security",
    "method",
    "spot",
    "attenuation_db",
    "level_dbm",
    "repeat",
    "throughput_mbit_s",
    *_OF_SUMMARIES,
    "seconds",
    "link_rate_mbit_s",
    "dfs_event",
    "outcome",
    "note",
    "batch_id",
    "source_file",
    "source_row",
)

_CELL_COLUMNS = (
    "device",
    "unit",
    "firmware",
    "client",
    "driver",
    "session",
    SETTINGS,
    "band",
    "width_mhz",
    "direction",
    "protocol",
    "flows",
    "security",
    "spot",
    "spot_since",
    "attenuation_db",
    "level_dbm",
    "n",
    "mean_mbit_s",
    "sd_mbit_s",
    SUMMARY,
    "at_least",
    "limit",
    "did_not_finish",
    "figure",
)


def left_out(results: Results) -> tuple[str, ...]:
    """Columns that no row of this site has."""
    bench = results.bench
    without = set() if bench.cells_under else {SETTINGS}
    if not any(cell.summary for cell in (*bench.cells, *bench.cells_under)):
        without |= {SUMMARY, *_OF_SUMMARIES}
    return tuple(sorted(without))


def columns_of(table: str, without: Sequence[str]) -> list[str]:
    """The headings of a table; *without* as left_out gives it."""
    return [name for name in {RUNS: _RUN_COLUMNS, CELLS: _CELL_COLUMNS}[table] if name not in without]


def heads(without: Sequence[str]) -> dict[str, bytes]:
    """Name of each CSV -> its first line."""
    return {
        f"{table}{form}": line
        for table in (RUNS, CELLS)
        for form, line in zip(FORMS, csv_head(columns_of(table, without)), strict=False)
    }


def device_rows(catalogue: Catalogue, results: Results, device: str, without: Sequence[str]) -> list[Asset]:
    """The rows of a device: of each download what it has of them, under its name, and what is IN_PART."""
    runs = list(catalogue.runs_of[device].values())
    cells = results.bench.every_cell(device)
    documents = [cell_json(cell) for cell in cells]
    table: dict[str, list[Value]] = {name: [getattr(run, name) for run in runs] for name in columns_of(RUNS, without)}
    table["source_row"] = [_row(run) for run in runs]
    names = [field.name for field in fields(Run) if field.name not in (*_NUMBERS, *without)]
    row_of = attrgetter(*names)
    run_rows = ({**dict(zip(names, row_of(run), strict=True)), "source_row": _row(run)} for run in runs)
    cell_rows = ({"device": cell.device, **one} for cell, one in zip(cells, documents, strict=True))
    texts = {
        RUNS: (*csv_rows(table), json_rows(run_rows)),
        CELLS: (*csv_rows(_cell_table(cells, documents, without)), json_rows(cell_rows)),
    }
    return [
        Asset(IN_PART, " ".join(_known_in_part(runs)).encode()),
        *(
            Asset(f"{name}{form}", text)
            for name, of_forms in texts.items()
            for form, text in zip(FORMS, of_forms, strict=True)
        ),
    ]


def _known_in_part(runs: Sequence[Run]) -> list[str]:
    """Which columns hold a day where others hold an instant, or a month where others hold a day."""
    whole = {"at_utc": all(run.clocked for run in runs), "date": not any(is_month(run.date) for run in runs)}
    return [name for name, always in whole.items() if not always]


def _row(run: Run) -> int | None:
    """The row of the sheet, also for a run that a reading map read from one cell of it."""
    return None if run.source_row is None else sheet_row(run.source_row)


def _cell_table(
    cells: Sequence[Cell], documents: Sequence[Mapping[str, Any]], without: Sequence[str]
) -> dict[str, list[Value]]:
    """Cells in the digits that pages print."""
    table: dict[str, list[Value]] = {
        name: [one.get(name) for one in documents] for name in _CELL_COLUMNS if name not in without
    }
    table["device"] = [cell.device for cell in cells]
    table["at_least"] = [cell.bound for cell in cells]
    for name in ("attenuation_db", "level_dbm"):
        table[name] = [None if value is None else _digits(value, 1) for value in map(attrgetter(name), cells)]
    for name, of in (("mean_mbit_s", attrgetter("mean")), ("sd_mbit_s", attrgetter("sd"))):
        table[name] = [
            None if value is None else _digits(value, wording.rate_decimals(value)) for value in map(of, cells)
        ]
    return table


def _digits(value: float, decimals: int) -> float:
    return float(wording.rounded(value, decimals))
