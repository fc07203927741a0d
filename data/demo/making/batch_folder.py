"""Writes one batch folder: batch.toml, tables as CSV, logs, articles, images. Same input, same bytes."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

Row = dict[str, object]

# Column order of every table, as batch-format lists them. A column nobody filled is left out.
COLUMNS = {
    "runs": (
        "when",
        "device",
        "unit",
        "firmware",
        "client",
        "driver",
        "session",
        "settings",
        "band",
        "channel",
        "width_mhz",
        "direction",
        "protocol",
        "spot",
        "attenuation_db",
        "level_dbm",
        "repeat",
        "throughput (Mbit/s)",
        "link_rate_mbit_s",
        "dfs_event",
        "log",
        "outcome",
        "note",
    ),
    "spots": (
        "house",
        "spot",
        "band",
        "valid_from",
        "reference_eirp_dbm",
        "reading_dbm",
        "reference_source",
        "reference_receiver",
        "channel",
        "distance_m",
        "obstacles",
    ),
    "stations": (
        "mix",
        "workload",
        "workload_version",
        "when",
        "device",
        "unit",
        "firmware",
        "client",
        "driver",
        "session",
        "role",
        "band",
        "channel",
        "width_mhz",
        "spot",
        "level_dbm",
        "planned_s",
        "planned_requests",
        "outcome",
        "ended_at_s",
        "ended_by",
        "log",
        "note",
    ),
    "longruns": (
        "when",
        "device",
        "unit",
        "firmware",
        "client",
        "driver",
        "session",
        "band",
        "width_mhz",
        "direction",
        "spot",
        "log",
        "outcome",
        "note",
    ),
    "features": ("device", "feature", "step", "firmware", "date", "licence", "method", "evidence"),
    "heat": (
        "device",
        "unit",
        "face",
        "material",
        "reading_c",
        "ambient_c",
        "load",
        "minutes",
        "emissivity",
        "mount",
        "session",
    ),
    "power": ("device", "unit", "state", "watts", "side", "source_class", "cable_m"),
    "parts": ("device", "revision", "block", "marking", "count", "read", "photo"),
    "prices": (
        "device",
        "date",
        "amount",
        "currency",
        "region",
        "tax_included",
        "condition",
        "licence_per_year",
    ),
    "bridges": (
        "old_client",
        "old_driver",
        "new_client",
        "new_driver",
        "device",
        "band",
        "width_mhz",
        "direction",
        "spot",
        "when",
        "side",
        "repeat",
        "throughput (Mbit/s)",
    ),
    "withdrawals": ("what", "id", "from", "reason"),
    "disputes": ("device", "date", "by", "claim", "state", "evidence", "retest"),
}


@dataclass
class BatchFolder:
    """One batch before it is written: settings, tables by stem, further files by path."""

    settings: dict[str, object]
    tables: dict[str, list[Row]] = field(default_factory=dict)
    files: dict[str, str | bytes] = field(default_factory=dict)

    @property
    def id(self) -> str:
        """The batch id."""
        return str(self.settings["id"])

    def add(self, stem: str, rows: Iterable[Row]) -> None:
        """Append rows to a table."""
        self.tables.setdefault(stem, []).extend(rows)

    def write(self, folder: Path) -> None:
        """Write everything below *folder*/<batch id>."""
        base = folder / self.id
        base.mkdir(parents=True)
        (base / "batch.toml").write_text(toml_text(self.settings), encoding="utf-8", newline="\n")
        for stem, rows in self.tables.items():
            if rows:
                (base / f"{stem}.csv").write_text(csv_text(COLUMNS[stem], rows), encoding="utf-8", newline="\n")
        for path, content in self.files.items():
            target = base / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content.encode() if isinstance(content, str) else content)


def csv_text(columns: Iterable[str], rows: list[Row]) -> str:
    """The rows as CSV with a header; a column that is empty in every row is left out."""
    used = [name for name in columns if any(row.get(name, "") != "" for row in rows)]
    unknown = {name for row in rows for name in row} - set(columns)
    assert not unknown, f"no such column: {sorted(unknown)}"
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(used)
    writer.writerows([[row.get(name, "") for name in used] for row in rows])
    return out.getvalue()


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str) and "\n" in value and not set(value) & {'"', "\\"}:
        return f'"""\n{value}"""'
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)  # a JSON string is a TOML basic string
    if isinstance(value, list | tuple):
        items = [_value(item) for item in value]
        line = "[" + ", ".join(items) + "]"
        return line if len(line) <= 100 else "[\n" + "".join(f"  {item},\n" for item in items) + "]"
    raise TypeError(f"cannot write {value!r} as TOML")


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _lines(table: Mapping[str, object], path: tuple[str, ...], indent: str) -> list[str]:
    lines = [
        f"{indent}{key} = {_value(value)}"
        for key, value in table.items()
        if not isinstance(value, dict) and not _is_tables(value)
    ]
    for key, value in table.items():
        inner = (*path, key)
        deeper = "  " * (len(inner) - 1)
        if isinstance(value, dict):
            lines += ["", f"{deeper}[{'.'.join(inner)}]", *_lines(value, inner, deeper)]
        elif _is_tables(value):
            assert isinstance(value, list)
            for item in value:
                lines += ["", f"{deeper}[[{'.'.join(inner)}]]", *_lines(item, inner, deeper)]
    return lines


def toml_text(settings: Mapping[str, object]) -> str:
    """Nested mappings and lists as TOML; None values must not occur, empty lists are left out by the caller."""
    return "\n".join(_lines(settings, (), "")) + "\n"
