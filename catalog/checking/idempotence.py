"""Whether a row is new, there already with the same values, or there with others.

The key of a row is what makes it one attempt or observation; its values are the results. The
place where it was typed (batch, file, row) belongs to neither.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from catalog.checking.known import Row
from catalog.checking.noted_figures import FIGURES
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble


@dataclass(frozen=True)
class Identity:
    """Key and values of a table.

    key     what identifies a row, as a function of the row
    values  columns that are compared, and the column of the batch format that the message names
    title   what messages call the row
    """

    key: Callable[[Row], tuple[Any, ...]]
    values: Mapping[str, str]
    title: Callable[[Row], str]


def _columns(*names: str) -> Callable[[Row], tuple[Any, ...]]:
    return lambda row: tuple(row[name] for name in names)


def run_cell(row: Row) -> tuple[Any, ...]:
    """The cell of a run: everything that its repeats share (method.md, section 1)."""
    place: tuple[Any, ...]
    if row["spot"] is not None:
        place = (row["spot"], row["spot_since"])
    elif row["attenuation_db"] is not None:
        place = (row["attenuation_db"],)
    else:
        place = (None, _rounded(row["level_dbm"]))
    return (
        row["device_id"],
        row["unit_id"],
        row["firmware"],
        row["client_id"],
        row["driver"],
        row["band"],
        row["width_mhz"],
        row["direction"],
        row["protocol"],
        row["flows"],
        row["security"],
        row["method"],
        row["session_id"],
        row["settings_id"],
        *place,
    )


def _rounded(level: float | None) -> float | None:
    """To 1 dB as SQLite's round() does it, half away from zero."""
    return None if level is None else math.copysign(math.floor(abs(level) + 0.5), level)


def _same_names(*names: str) -> dict[str, str]:
    return {name: name for name in names}


IDENTITIES: Mapping[str, Identity] = {
    "spot_reading": Identity(
        _columns("house_id", "spot", "band", "valid_from", "reading_number"),
        _same_names(
            "reference_eirp_dbm",
            "reading_dbm",
            "reference_source",
            "reference_receiver",
            "channel",
            "distance_m",
            "obstacles",
        ),
        lambda row: f"reading {row['reading_number']} of {row['spot']} from {row['valid_from']}",
    ),
    "run": Identity(
        lambda row: (*run_cell(row), row["repeat"]),
        {
            "throughput_mbit_s": "throughput",
            "outcome": "outcome",
            "at_utc": "when",
            "level_dbm": "level_dbm",
            "attenuation_db": "attenuation_db",
            "channel": "channel",
            "seconds": "seconds",
            "link_rate_mbit_s": "link_rate_mbit_s",
            "dfs_event": "dfs_event",
            "of_runs": "of_runs",
            "spread_mbit_s": "spread",
            "statistic": "statistic",
        },
        lambda row: f"rep {row['repeat']}" if row["of_runs"] is None else "the summary",
    ),
    "station": Identity(
        _columns("mix_id", "client_id", "role_id"),
        {
            "workload_id": "workload",
            "workload_version": "workload_version",
            "device_id": "device",
            "unit_id": "unit",
            "firmware": "firmware",
            "driver": "driver",
            "session_id": "session",
            "settings_id": "settings",
            "band": "band",
            "channel": "channel",
            "width_mhz": "width_mhz",
            "spot": "spot",
            "attenuation_db": "attenuation_db",
            "level_dbm": "level_dbm",
            "at_utc": "when",
            "planned_s": "planned_s",
            "planned_requests": "planned_requests",
            **_same_names(*FIGURES),
            "outcome": "outcome",
            "ended_at_s": "ended_at_s",
            "ended_by": "ended_by",
        },
        lambda row: f"{row['client_id']} as {row['role_id']} in {row['mix_id']}",
    ),
    "longrun": Identity(
        _columns(
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
        {"driver": "driver", "settings_id": "settings", "spot": "spot", "mark_ms": "mark_ms", "outcome": "outcome"},
        lambda row: f"the long run of {row['at_utc']}",
    ),
    "feature": Identity(
        _columns("device_id", "feature", "step", "firmware", "date"),
        {"licence": "licence", "how": "method", "evidence": "evidence"},
        lambda row: f"{row['feature']} ({row['step']})",
    ),
    "heat": Identity(
        _columns("device_id", "unit_id", "face", "load", "minutes", "mount", "session_id", "settings_id"),
        _same_names("reading_c", "ambient_c", "material", "emissivity"),
        lambda row: f"the reading of the {row['face']} after {row['minutes']:g} min",
    ),
    "power": Identity(
        _columns("device_id", "unit_id", "state", "side", "source_class", "cable_m", "settings_id"),
        _same_names("watts"),
        lambda row: f"the power in state {row['state']}",
    ),
    "part": Identity(
        _columns("device_id", "revision", "block", "marking"),
        _same_names("count", "read", "photo"),
        lambda row: f"{row['block']} {row['marking']}",
    ),
    "price": Identity(
        _columns("device_id", "date", "region", "condition"),
        _same_names("amount", "currency", "tax_included", "licence_per_year"),
        lambda row: f"the price of {row['date']}",
    ),
    "bridge": Identity(
        _columns(
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
        {"throughput_mbit_s": "throughput", "at_utc": "when"},
        lambda row: f"rep {row['repeat']} ({row['side']})",
    ),
    "withdrawal": Identity(
        _columns("what", "id"),
        {"from_date": "from", "reason": "reason"},
        lambda row: f"the withdrawal of {row['what']} {row['id']}",
    ),
    "dispute": Identity(
        _columns("figure", "device_id", "date", "raised_by", "claim"),
        _same_names("state", "evidence", "retest"),
        lambda row: f"the dispute of {row['date']}",
    ),
}


_SAID_BY_BLANK = frozenset({"throughput_mbit_s", "settings_id"})


@dataclass
class Sieve:
    """Lets through the rows of one table that are neither in the catalogue nor earlier in the batch.

    again          rows that are in the catalogue with equal values: as typed, as read from this batch, as stored
    same_settings  settings -> the first ones entered that are equal to them
    """

    identity: Identity
    there: Mapping[tuple[Any, ...], Row]
    first: dict[tuple[Any, ...], TypedRow]
    earlier: dict[tuple[Any, ...], Row]
    again: list[tuple[TypedRow, Row, Row]]
    same_settings: Mapping[str, str]

    def fresh(self, table: TypedTable, rows: Iterable[tuple[TypedRow, Row]]) -> list[tuple[TypedRow, Row]]:
        """The new rows of one file. The same key with equal values is left out, with others it is a problem."""
        new_rows: list[tuple[TypedRow, Row]] = []
        for typed, row in rows:
            if typed.held:
                continue
            key = self.identity.key(_settled(row, self.same_settings))
            if (old := self.there.get(key)) is not None:
                if table.entered_in is None and (column := self._difference(row, old)) is not None:
                    table.hold(typed, self.identity.values[column], _conflict(self.identity, column, row, old))
                else:
                    self.again.append((typed, row, old))
            elif key in self.first:
                self._repeated(table, typed, row, key)
            else:
                self.first[key], self.earlier[key] = typed, row
                new_rows.append((typed, row))
        return new_rows

    def _difference(self, row: Row, old: Row) -> str | None:
        """The first compared column in which two rows contradict each other; what is left out contradicts nothing.

        A blank throughput is an outcome, and blank settings are those that the bench always tests under.
        """
        row, old = _settled(row, self.same_settings), _settled(old, self.same_settings)
        for column in self.identity.values:
            new, was = row[column], old[column]
            if new == was or (new is None and column not in _SAID_BY_BLANK):
                continue
            if isinstance(new, float) and isinstance(was, float) and math.isclose(new, was, rel_tol=1e-12):
                continue
            return column
        return None

    def _repeated(self, table: TypedTable, typed: TypedRow, row: Row, key: tuple[Any, ...]) -> None:
        other = self.first[key]
        column = self._difference(row, self.earlier[key])
        if column is None:
            same = Trouble(
                f"The row says the same as {other.file} row {other.number}.",
                "It is entered once.",
                "same-row",
            )
            table.warn(typed, "", same)
            return
        name = self.identity.values[column]
        twice = Trouble(
            f"{other.file} row {other.number} is {self.identity.title(row)} of the same thing, with another {name}.",
            "Number the repeats apart, or correct what makes the two rows alike.",
            "key-twice",
        )
        table.hold(typed, name, twice)


def sieve(db_table: str, known: Iterable[Row], *, same_settings: Mapping[str, str]) -> Sieve:
    """A sieve for one table of the catalogue. known: the rows it holds already; same_settings as in `Sieve`."""
    identity = IDENTITIES[db_table]
    there: dict[tuple[Any, ...], Row] = {}
    for row in known:
        there.setdefault(identity.key(_settled(row, same_settings)), row)
    return Sieve(identity, there, {}, {}, [], same_settings)


def _settled(row: Row, same_settings: Mapping[str, str]) -> Row:
    """The row, by the first of equal settings where it has any."""
    named = row.get("settings_id")
    return row if named is None else {**row, "settings_id": same_settings.get(named, named)}


def _conflict(identity: Identity, column: str, row: Row, old: Row) -> Trouble:
    was = old[column]
    shown = "not stated" if was is None else f"{was:g}" if isinstance(was, float) else was
    if column == "throughput_mbit_s":
        shown = old["outcome"] if was is None else shown
    what = "" if column == "throughput_mbit_s" else f"{identity.values[column]} of "
    return Trouble(f"{what}{identity.title(row)} is {shown} in the catalogue; use a correction.", "", "conflict")
