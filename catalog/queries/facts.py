"""What figures rest on and what readers see, row by row: a key that stays, the values, what the row is about.

Two copies of a catalogue are compared by these. Row numbers, places in files and names of batches are left out: they
may differ between copies that say the same.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from sqlite_utils import Database

from catalog.queries.known import numbered_rows

_LINK = ("client_id", "driver", "band", "width_mhz", "direction")

# Table -> columns that make its key, and what a row is about: kind -> columns of its id.
_FACTS: Mapping[str, tuple[tuple[str, ...], Mapping[str, tuple[str, ...]]]] = {
    "method": (("version",), {"method": ()}),
    "device": (("device_id",), {"device": ("device_id",)}),
    "device_alias": (("device_id", "alias"), {"device": ("device_id",)}),
    "device_radio": (("device_id", "band"), {"device": ("device_id",)}),
    "device_port": (("device_id", "name"), {"device": ("device_id",)}),
    "unit": (("device_id", "unit_id"), {"device": ("device_id",)}),
    "firmware": (("device_id", "version"), {"device": ("device_id",)}),
    "client": (("client_id",), {"client": ("client_id",)}),
    "client_radio": (("client_id", "band"), {"client": ("client_id",)}),
    "client_driver": (("client_id", "version"), {"client": ("client_id",)}),
    "house": (("house_id",), {"house": ("house_id",)}),
    "spot_reading": (
        ("house_id", "spot", "band", "valid_from", "reading_number"),
        {
            "spot": ("house_id", "spot"),
        },
    ),
    "session": (("session_id",), {"session": ("session_id",)}),
    "settings": (("settings_id",), {"settings": ("settings_id",)}),
    "run": (
        (
            "device_id",
            "unit_id",
            "firmware",
            *_LINK,
            "protocol",
            "flows",
            "security",
            "method",
            "session_id",
            "spot",
            "spot_since",
            "attenuation_db",
            "repeat",
            "at_utc",
            "settings_id",
        ),
        {"device": ("device_id",)},
    ),
    "workload": (("workload_id", "version"), {"workload": ("workload_id", "version")}),
    "role": (("role_id",), {"role": ("role_id",)}),
    "workload_role": (("workload_id", "version", "role_id"), {"workload": ("workload_id", "version")}),
    "workload_seat": (("workload_id", "version", "seat", "role_id"), {"workload": ("workload_id", "version")}),
    "station": (("mix_id", "client_id", "role_id"), {"device": ("device_id",)}),
    "longrun": (
        (
            "device_id",
            "unit_id",
            "firmware",
            "client_id",
            "session_id",
            "kind",
            "band",
            "width_mhz",
            "direction",
            "at_utc",
        ),
        {"device": ("device_id",)},
    ),
    "feature": (("device_id", "feature", "step", "firmware", "date"), {"device": ("device_id",)}),
    "heat": (
        ("device_id", "unit_id", "face", "load", "minutes", "mount", "session_id", "settings_id"),
        {"device": ("device_id",)},
    ),
    "power": (
        ("device_id", "unit_id", "state", "side", "source_class", "cable_m", "settings_id"),
        {"device": ("device_id",)},
    ),
    "part": (("device_id", "revision", "block", "marking"), {"device": ("device_id",)}),
    "price": (("device_id", "date", "region", "condition"), {"device": ("device_id",)}),
    "bridge": (
        (
            "old_client",
            "old_driver",
            "new_client",
            "new_driver",
            "device_id",
            "band",
            "width_mhz",
            "direction",
            "spot",
            "side",
            "repeat",
        ),
        {"client": ("old_client", "new_client")},
    ),
    "article": (("article_id",), {"article": ("article_id",)}),
    "image": (("path", "sha256"), {}),
    "dispute": (("figure", "device_id", "date", "raised_by", "claim"), {}),
}

# Not values: where a row came from, numbers that copies give anew, and text that no figure rests on.
_NOT_VALUES = frozenset(
    {
        "batch_id",
        "marks_batch_id",
        "source_file",
        "source_row",
        "run_id",
        "station_id",
        "longrun_id",
        "heat_id",
        "power_id",
        "part_id",
        "price_id",
        "epoch_id",
        "number",
        "image_id",
        "dispute_id",
        "at_typed",
        "throughput_typed",
        "note",
        "text",
        "path",
        "log_path",
        "photo",
    }
)


@dataclass(frozen=True, slots=True)
class Fact:
    """One row.

    row       its number in its table, which tells it from others of the same database only
    about     tags of what figures it bears on, "device:quillmast-sill" and the like; of a spot "spot:house/spot"
    device    the device it is about, with unit and firmware where it is about one; None for none
    origin    batch, file and row it came from, where the table knows them
    """

    table: str
    row: int
    values: tuple[object, ...]
    about: tuple[str, ...]
    device: str | None
    unit: str | None
    firmware: str | None
    origin: tuple[str, str, int | None] | None


def facts(db: Database) -> dict[str, Fact]:
    """Every fact of a catalogue or a copy of one, by its key as text: table and key columns as JSON."""
    result: dict[str, Fact] = {}
    for table, (keys, about) in _FACTS.items():
        left_out = _NOT_VALUES.union(keys)
        for number, row in numbered_rows(db, table):
            key = json.dumps([table, *(row[column] for column in keys)], ensure_ascii=False)
            result[key] = Fact(
                table=table,
                row=number,
                values=tuple(value for column, value in row.items() if column not in left_out),
                about=_about(row, about),
                device=row.get("device_id"),
                unit=row.get("unit_id"),
                firmware=row.get("version") if table == "firmware" else row.get("firmware"),
                origin=(row["batch_id"], row["source_file"], row["source_row"]) if "source_row" in row else None,
            )
    result |= _ceilings(db)
    return result


def _about(row: Mapping[str, object], about: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    tags: list[str] = []
    for kind, columns in about.items():
        if kind == "client" and len(columns) > 1:
            tags += [f"client:{row[column]}" for column in columns]
        else:
            tags.append(":".join([kind, "/".join(str(row[column]) for column in columns)]).rstrip(":"))
    return tuple(tags)


def _ceilings(db: Database) -> dict[str, Fact]:
    """Evidence by the run that it is, not by that run's number."""
    rows = db.execute(
        """SELECT c.rowid, c.client_id, c.band, c.width_mhz, c.direction, r.device_id, r.unit_id, r.firmware, r.at_utc,
                  r.throughput_mbit_s, c.batch_id, c.source_file, c.source_row
           FROM ceiling AS c JOIN run AS r USING (run_id)
           ORDER BY c.client_id, c.band, c.width_mhz, c.direction, r.device_id, r.at_utc, c.run_id"""
    )
    result: dict[str, Fact] = {}
    for row, client, band, width, direction, device, unit, firmware, at, rate, *origin in rows:
        key = json.dumps(["ceiling", client, band, width, direction, device, at], ensure_ascii=False)
        result[key] = Fact(
            "ceiling", row, (rate,), (f"client:{client}",), device, unit, firmware, (origin[0], origin[1], origin[2])
        )
    return result
