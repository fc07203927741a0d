"""The files readers may take away: results as CSV and JSON, the whole public copy as SQLite, and their checksums."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from operator import attrgetter
from pathlib import Path
from typing import Any

from builder import wording
from builder.bench.cells import Cell
from builder.pages.contents import Contents
from builder.pages.data import CHECKSUMS, Download
from builder.publishing.files.datapackage import NAME as PACKAGE
from builder.publishing.files.datapackage import Written, data_package
from builder.publishing.files.longrun_table import longrun_table, longruns_text
from builder.publishing.files.table_texts import Value, csv_texts, json_text
from builder.traces.showing import cell_json
from catalog.dates import is_month
from catalog.records import Run
from catalog.row_numbers import row_of as sheet_row

DATABASE = "likeloss.db"

SETTINGS = "settings"  # a column only where anything was tested under settings
SUMMARY = "summary"  # of cells; and those of runs: only where any is a summary
_OF_SUMMARIES = ("of_runs", "spread_mbit_s", "statistic")
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


def write_downloads(
    contents: Contents, database: Path, folder: Path, *, more: Mapping[str, tuple[str, bytes]]
) -> list[Download]:
    """Write every download except the database, which is in *folder* already, and the checksums of all.

    more  further files: name -> what it holds, and its bytes
    """
    runs = list(contents.catalogue.runs.values())
    bench = contents.results.bench
    measured = [*bench.cells, *bench.cells_under]
    cells = [cell_json(cell) for cell in measured]
    left_out = frozenset() if bench.cells_under else frozenset({SETTINGS})
    if not any(cell.summary for cell in measured):
        left_out |= {SUMMARY, *_OF_SUMMARIES}
    run_table: dict[str, list[Value]] = {
        name: [getattr(run, name) for run in runs] for name in _RUN_COLUMNS if name not in left_out
    }
    cell_table = _cell_table(measured, cells, left_out)
    run_table["source_row"] = [_row(run) for run in runs]
    head = {"as_of": contents.site.as_of.isoformat().replace("+00:00", "Z"), "licence": contents.site.licence}
    names = [attribute.name for attribute in fields(Run) if attribute.name not in left_out]
    row_of = attrgetter(*names)
    with_device = ({"device": c.device, **document} for c, document in zip(measured, cells, strict=True))

    plain, semicolon = csv_texts(run_table)
    files = [
        _written(folder, "runs.csv", "Every run as it was entered, decimal point, commas between", [plain]),
        _written(folder, "runs-semicolon.csv", "The same with decimal commas, semicolons between", [semicolon]),
        _written(
            folder,
            "runs.json",
            "The same as JSON, full precision",
            json_text(head, ({**dict(zip(names, row_of(run), strict=True)), "source_row": _row(run)} for run in runs)),
        ),
    ]
    plain, semicolon = csv_texts(cell_table)
    files += [
        _written(folder, "cells.csv", "Every cell, in the digits of the pages", [plain]),
        _written(folder, "cells-semicolon.csv", "The same with decimal commas, semicolons between", [semicolon]),
        _written(folder, "cells.json", "Every cell as JSON, full precision", json_text(head, with_device)),
    ]
    tables = {"runs": run_table, "cells": cell_table}
    if long := contents.results.longrun_results:
        tables["longruns"] = longrun_table(long)
        plain, semicolon = csv_texts(tables["longruns"])
        files += [
            _written(folder, "longruns.csv", "Every run over hours, in the digits of the pages", [plain]),
            _written(folder, "longruns-semicolon.csv", "The same with decimal commas, semicolons between", [semicolon]),
            _written(
                folder, "longruns.json", "Every run over hours as JSON, hour by hour", [longruns_text(head, long)]
            ),
        ]
    files += [_written(folder, name, what, [content]) for name, (what, content) in more.items()]
    whole = _read(database, "The whole public copy as one SQLite file; its views are named below")
    columns = {f"{name}{twin}.csv": list(table) for name, table in tables.items() for twin in ("", "-semicolon")}
    package = data_package(contents.site, [*files, whole], columns, in_part=_known_in_part(runs))
    files.append(_written(folder, PACKAGE, "What these files are, for programs: a Data Package descriptor", [package]))
    sums = "".join(f"{file.sha256}  {file.name}\n" for file in sorted([*files, whole], key=lambda file: file.name))
    (folder / CHECKSUMS).write_text(sums, encoding="utf-8")
    return [
        Download(file.name, file.what, f"{wording.number(file.size / 1000, 0)} kB", file.sha256)
        for file in [*files, whole]
    ]


def _row(run: Run) -> int | None:
    """The row of the sheet, also for a run that a reading map read from one cell of it."""
    return None if run.source_row is None else sheet_row(run.source_row)


def as_published(folder: Path, name: str) -> bool:
    """Whether a download in *folder* is there and is what its checksums say."""
    file, sums = folder / name, folder / CHECKSUMS
    if not (file.is_file() and sums.is_file()):
        return False
    return f"{_read(file, '').sha256}  {name}".encode() in sums.read_bytes().splitlines()


def _written(folder: Path, name: str, what: str, parts: Iterable[bytes]) -> Written:
    digest, size = hashlib.sha256(), 0
    with (folder / name).open("wb") as file:
        for part in parts:
            file.write(part)
            digest.update(part)
            size += len(part)
    return Written(name, what, size, digest.hexdigest())


def _read(path: Path, what: str) -> Written:
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256")
    return Written(path.name, what, path.stat().st_size, digest.hexdigest())


def _cell_table(
    cells: Sequence[Cell], documents: Sequence[Mapping[str, Any]], left_out: frozenset[str]
) -> dict[str, list[Value]]:
    """Cells in the digits that pages print."""
    table: dict[str, list[Value]] = {
        name: [one.get(name) for one in documents] for name in _CELL_COLUMNS if name not in left_out
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


def _known_in_part(runs: Iterable[Run]) -> frozenset[str]:
    """Which columns of the runs hold a day where others hold an instant, or a month where others hold a day."""
    runs = list(runs)
    in_part = {"at_utc": all(run.clocked for run in runs), "date": not any(is_month(run.date) for run in runs)}
    return frozenset(name for name, whole in in_part.items() if not whole)


def _digits(value: float, decimals: int) -> float:
    return float(wording.rounded(value, decimals))
