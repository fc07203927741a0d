"""The files readers may take away: results as CSV and JSON, the whole public copy as SQLite, and their checksums."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from builder import wording
from builder.comparisons.cells import Cell
from builder.comparisons.showing import cell_json
from builder.pages.data import CHECKSUMS, Download
from builder.pages.material import Material
from builder.publishing.datapackage import NAME as PACKAGE
from builder.publishing.datapackage import data_package
from catalog.records import Run

DATABASE = "likeloss.db"

# A spreadsheet runs a cell that begins like this; a number may.
_RUNS_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")

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
    "at_least",
    "limit",
    "did_not_finish",
    "figure",
)

Value = str | int | float | bool | None


def write_downloads(
    material: Material, database: Path, folder: Path, *, more: Mapping[str, tuple[str, bytes]]
) -> list[Download]:
    """Write every download but the database, which lies in *folder* already, and the checksums of all.

    more  further files: name -> what it holds, and its bytes
    """
    runs = [_run_row(run) for run in material.runs.values()]
    cells = [_cell_row(cell) for cell in material.bench.cells]
    contents: dict[str, tuple[str, bytes]] = {
        "runs.csv": ("Every run as it was entered, decimal point, commas between", _csv(_RUN_COLUMNS, runs, ",")),
        "runs-semicolon.csv": ("The same with decimal commas, semicolons between", _csv(_RUN_COLUMNS, runs, ";")),
        "runs.json": ("The same as JSON, full precision", _json(material, [asdict(r) for r in material.runs.values()])),
        "cells.csv": ("Every cell, in the digits of the pages", _csv(_CELL_COLUMNS, cells, ",")),
        "cells-semicolon.csv": ("The same with decimal commas, semicolons between", _csv(_CELL_COLUMNS, cells, ";")),
        "cells.json": (
            "Every cell as JSON, full precision",
            _json(material, [{"device": c.device, **cell_json(c)} for c in material.bench.cells]),
        ),
        **more,
    }
    whole = "The whole public copy as one SQLite file; its views are named below", database.read_bytes()
    columns = {name: _RUN_COLUMNS if name.startswith("runs") else _CELL_COLUMNS for name in contents if ".csv" in name}
    package = data_package(material, contents | {database.name: whole}, columns)
    contents[PACKAGE] = "What these files are, for programs: a Data Package descriptor", package
    for name, (_, content) in contents.items():
        (folder / name).write_bytes(content)
    found = [_download(name, what, content) for name, (what, content) in {**contents, database.name: whole}.items()]
    sums = "".join(f"{d.sha256}  {d.name}\n" for d in sorted(found, key=lambda d: d.name))
    (folder / CHECKSUMS).write_text(sums, encoding="utf-8")
    return found


def _download(name: str, what: str, content: bytes) -> Download:
    return Download(name, what, f"{wording.number(len(content) / 1000, 0)} kB", hashlib.sha256(content).hexdigest())


def _run_row(run: Run) -> list[Value]:
    return [getattr(run, column) for column in _RUN_COLUMNS]


def _cell_row(cell: Cell) -> list[Value]:
    """A cell in the digits that pages print."""
    document = cell_json(cell)
    rounded: Mapping[str, Value] = {
        "attenuation_db": None if cell.attenuation_db is None else _digits(cell.attenuation_db, 1),
        "level_dbm": None if cell.level_dbm is None else _digits(cell.level_dbm, 1),
        "mean_mbit_s": None if cell.mean is None else _digits(cell.mean, wording.rate_decimals(cell.mean)),
        "sd_mbit_s": None if cell.sd is None else _digits(cell.sd, wording.rate_decimals(cell.sd)),
        "at_least": cell.bound,
    }
    return [
        document["device"]
        if c == "device" and "device" in document
        else cell.device
        if c == "device"
        else rounded.get(c, document.get(c))
        for c in _CELL_COLUMNS
    ]


def _digits(value: float, decimals: int) -> float:
    return float(wording.rounded(value, decimals))


def _csv(columns: Sequence[str], rows: Iterable[Sequence[Value]], separator: str) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_typed(value, comma=separator == ";") for value in row] for row in rows)
    return text.getvalue().encode()


def _typed(value: Value, *, comma: bool) -> str:
    """A value as a spreadsheet takes it: numbers plainly, text never as a formula."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        text = f"{value:g}" if isinstance(value, float) and value.is_integer() and abs(value) < 1e15 else repr(value)
        return text.replace(".", ",") if comma else text
    return f"'{value}" if value.startswith(_RUNS_AS_FORMULA) else value


def _json(material: Material, rows: Sequence[Mapping[str, Any]]) -> bytes:
    document = {
        "as_of": material.as_of.isoformat().replace("+00:00", "Z"),
        "licence": material.site.licence,
        "rows": rows,
    }
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False).encode()
