"""Everything a batch may name: what the catalogue holds, and what the batch's own batch.toml adds."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from sqlite_utils import Database

from catalog.checking.names import Register
from catalog.marks import Marks, marks_in_force
from catalog.queries.known import named_spots, next_id, spellings, table_rows
from catalog.records import CONDITIONS

Row = dict[str, Any]
"""One row of a table of schema.py, by column."""

EVER = "0001-01-01"
"""Since when a spot is where it is that was named without a day."""


THING_TABLES = (
    "device",
    "device_alias",
    "device_radio",
    "device_port",
    "unit",
    "firmware",
    "client",
    "client_radio",
    "client_driver",
    "house",
    "session",
    "settings",
    "workload",
    "role",
    "role_declaration",
    "workload_role",
    "workload_seat",
    "epoch",
    "embargo",
    "article",
    "site",
    "method",
    "batch",
)


@dataclass(frozen=True)
class Device:
    """What a row may say about a device: radios are band -> (streams, widest channel [MHz]), ports name -> [Mbit/s]."""

    amendment: str
    radios: Mapping[str, tuple[int, int]]
    ports: Mapping[str, float]
    units: tuple[str, ...]
    firmware: tuple[str, ...]


@dataclass(frozen=True)
class Client:
    """What a row may say about a client setup."""

    amendment: str
    radios: Mapping[str, tuple[int, int]]
    drivers: tuple[str, ...]


@dataclass(frozen=True)
class Epoch:
    """When a spot's attenuation is valid from, and the row that holds it."""

    valid_from: str
    epoch_id: int | None  # None: the spot was named then, and nobody read there


@dataclass
class Known:
    """Rows by table, the catalogue's first and then the batch's; names are looked up in both."""

    db: Database | None
    rows: dict[str, list[Row]] = field(default_factory=dict)
    _next: dict[str, int] = field(default_factory=dict)
    _spellings: dict[tuple[str, str], dict[str, list[str]]] = field(default_factory=dict)

    def of(self, table: str) -> list[Row]:
        """All rows of a table of things."""
        return self.rows.get(table, [])

    def measured(self, table: str, *, devices: Iterable[str] | None = None) -> list[Row]:
        """Rows of a table of measurements that the catalogue holds already."""
        return [] if self.db is None else table_rows(self.db, table, devices=devices)

    def other_spelling(self, table: str, column: str, typed: str) -> str | None:
        """How *typed* was spelt first, where that differs by case only; None where it is the first or known as it is."""
        key = (table, column)
        if key not in self._spellings:
            there = set() if self.db is None else spellings(self.db, table, column)
            self._spellings[key] = {}
            for text in sorted(there):
                self._spellings[key].setdefault(text.casefold(), []).append(text)
        alike = self._spellings[key].setdefault(typed.casefold(), [typed])
        return None if typed in alike else alike[0]

    def new_id(self, table: str, column: str) -> int:
        """An unused number; each call gives the next one."""
        if table not in self._next:
            self._next[table] = 1 if self.db is None else next_id(self.db, table, column)
        self._next[table] += 1
        return self._next[table] - 1

    @cached_property
    def devices(self) -> dict[str, Device]:
        """By id."""
        radios, ports = (
            _grouped(self.of("device_radio"), "device_id"),
            _grouped(self.of("device_port"), "device_id"),
        )
        units, firmware = _grouped(self.of("unit"), "device_id"), _grouped(self.of("firmware"), "device_id")
        return {
            row["device_id"]: Device(
                amendment=row.get("amendment") or "",
                radios=_radios(radios.get(row["device_id"], [])),
                ports={port["name"]: port.get("speed_mbit_s", 0.0) for port in ports.get(row["device_id"], [])},
                units=tuple(unit["unit_id"] for unit in units.get(row["device_id"], [])),
                firmware=tuple(item["version"] for item in firmware.get(row["device_id"], [])),
            )
            for row in self.of("device")
        }

    @cached_property
    def clients(self) -> dict[str, Client]:
        """By id."""
        radios = _grouped(self.of("client_radio"), "client_id")
        drivers = _grouped(self.of("client_driver"), "client_id")
        return {
            row["client_id"]: Client(
                amendment=row.get("amendment") or "",
                radios=_radios(radios.get(row["client_id"], [])),
                drivers=tuple(driver["version"] for driver in drivers.get(row["client_id"], [])),
            )
            for row in self.of("client")
        }

    @cached_property
    def device_names(self) -> Register:
        """Ids, models, "maker model" and aliases."""
        aliases = _grouped(self.of("device_alias"), "device_id")
        return Register(
            {
                row["device_id"]: [
                    row.get("model", ""),
                    f"{row.get('maker', '')} {row.get('model', '')}",
                    *(alias["alias"] for alias in aliases.get(row["device_id"], [])),
                ]
                for row in self.of("device")
            }
        )

    @cached_property
    def client_names(self) -> Register:
        """Ids and names."""
        return Register({row["client_id"]: [row.get("name", "")] for row in self.of("client")})

    @cached_property
    def house_names(self) -> Register:
        """Ids and names."""
        return Register({row["house_id"]: [row.get("name", "")] for row in self.of("house")})

    @cached_property
    def sessions(self) -> dict[str, tuple[str, str]]:
        """House and date by session; "" where batch.toml left them out, which is reported as a separate problem."""
        return {row["session_id"]: (row.get("house_id", ""), row.get("date", "")) for row in self.of("session")}

    @cached_property
    def session_names(self) -> Register:
        """Ids."""
        return Register(dict.fromkeys(self.sessions, ()))

    @cached_property
    def settings_names(self) -> Register:
        """Ids and titles."""
        return Register({row["settings_id"]: [row.get("title") or ""] for row in self.of("settings")})

    @cached_property
    def first_settings(self) -> dict[str, str]:
        """Settings -> the first ones entered that are equal to them, which may be themselves."""
        firsts: dict[tuple[Any, ...], str] = {}
        return {
            row["settings_id"]: firsts.setdefault(tuple(row.get(column) for column in CONDITIONS), row["settings_id"])
            for row in sorted(self.of("settings"), key=lambda row: row["number"])
        }

    @cached_property
    def epochs(self) -> dict[tuple[str, str, str], list[Epoch]]:
        """By house, spot and band, oldest first."""
        by_place: dict[tuple[str, str, str], list[Epoch]] = {}
        for row in self.of("epoch"):
            key = (row["house_id"], row["spot"], row["band"])
            by_place.setdefault(key, []).append(Epoch(row["valid_from"], row["epoch_id"]))
        for row in self.of("named_spot"):
            key = (row["house_id"], row["spot"], row["band"])
            if row["valid_from"] not in {epoch.valid_from for epoch in by_place.get(key, ())}:
                by_place.setdefault(key, []).append(Epoch(row["valid_from"], None))
        for epochs in by_place.values():
            epochs.sort(key=lambda epoch: epoch.valid_from)
        return by_place

    @cached_property
    def losses(self) -> dict[int, float]:
        """Attenuation by epoch. [dB]"""
        return {row["epoch_id"]: row["attenuation_db"] for row in self.of("epoch")}

    @cached_property
    def spots(self) -> dict[str, Register]:
        """Spot names by house."""
        by_house: dict[str, set[str]] = {}
        for house, spot, _ in self.epochs:
            by_house.setdefault(house, set()).add(spot)
        return {house: Register(dict.fromkeys(sorted(spots), ())) for house, spots in by_house.items()}

    @cached_property
    def roles(self) -> dict[tuple[str, int], dict[str, Row]]:
        """Roles by workload and version, each by the name it has there: its definition, with the marks in force."""
        by_workload: dict[tuple[str, int], dict[str, Row]] = {
            (row["workload_id"], row["version"]): {} for row in self.of("workload")
        }
        definitions = {row["role_id"]: row for row in self.of("role")}
        for row in self.of("workload_role"):
            definition = definitions[row["definition"]] | self.marks[row["definition"]].values()
            by_workload[row["workload_id"], row["version"]][row["role_id"]] = definition
        return by_workload

    def seats_of(self, workload: str, version: int) -> list[frozenset[str]]:
        """The roles of each seat of a workload, in the order of the seats."""
        seats: dict[int, set[str]] = {}
        for row in self.of("workload_seat"):
            if (row["workload_id"], row["version"]) == (workload, version):
                seats.setdefault(row["seat"], set()).add(row["role_id"])
        return [frozenset(seats[seat]) for seat in sorted(seats)]

    @cached_property
    def marks(self) -> dict[str, Marks]:
        """The marks in force of each role, by its id in the catalogue."""
        return marks_in_force(
            ((row["role_id"], row["kind"], row["recipe"]) for row in self.of("role")), self.declarations()
        )

    def declarations(self, role_id: str | None = None) -> list[tuple[str, str, str]]:
        """(role, batch, what it said) of every mark, or those of one role, in the order of entry; this batch's last."""
        order = {row["batch_id"]: row["sequence"] for row in self.of("batch")}
        rows = [row for row in self.of("role_declaration") if role_id in (None, row["role_id"])]
        rows.sort(key=lambda row: order.get(row["batch_id"], math.inf))
        return [(row["role_id"], row["batch_id"], row["said"]) for row in rows]

    def forget(self) -> None:
        """Rows were added: look names up afresh."""
        for name, value in type(self).__dict__.items():
            if isinstance(value, cached_property):
                self.__dict__.pop(name, None)


def known_from(db: Database | None) -> Known:
    """What the catalogue *db* knows; nothing for None."""
    if db is None:
        return Known(None)
    rows = {table: table_rows(db, table) for table in THING_TABLES}
    return Known(db, {**rows, "named_spot": named_spots(db)})


def came_again(table: str, there: Row, origin: Row, *, stated: Row | None = None) -> Row:
    """A row of `row_again`: what stands at *origin* is in *table* already. stated: the row as given there."""
    return {
        **origin,
        "table_name": table,
        "first_batch": there["batch_id"],
        "first_file": there.get("source_file", "batch.toml"),
        "first_row": there.get("source_row"),
        "said": None if stated is None else json.dumps(stated, sort_keys=True),
    }


def _grouped(rows: Iterable[Row], column: str) -> dict[str, list[Row]]:
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(row[column], []).append(row)
    return groups


def _radios(rows: Iterable[Row]) -> dict[str, tuple[int, int]]:
    return {
        row["band"]: (row["streams"], row["max_width_mhz"])
        for row in rows
        if {"streams", "max_width_mhz"} <= row.keys()
    }
