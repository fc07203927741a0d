"""What can be corrected: the tables and the things of a batch, their columns, and how a typed value is read.

The words are those of the batch format: "runs" with its columns, "device.unit" with its keys.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from catalog.checking import settings, thing_keys
from catalog.checking.cells import Attempt, Instant, read_cell
from catalog.checking.headers import heading_of
from catalog.checking.keys import Key
from catalog.checking.keys import one_of as one_of_words
from catalog.checking.known import Known, Row
from catalog.checking.names import nearest
from catalog.checking.results import BUILDERS
from catalog.checking.times import read_instant, utc_text, zone_called
from catalog.checking.troubles import Trouble
from catalog.marks import in_workload
from catalog.reading.decimal_marks import Marks
from catalog.reading.format import TABLES
from catalog.reading.toml_lines import parse_toml
from catalog.row_numbers import place_text, typed_place

POINT = Marks(".")  # a file of corrections is written with decimal points
_COLUMNS = {
    "device": "device_id",
    "unit": "unit_id",
    "client": "client_id",
    "session": "session_id",
    "settings": "settings_id",
    "house": "house_id",
    "mix": "mix_id",
    "workload": "workload_id",
    "role": "role_id",
    "throughput": "throughput_mbit_s",
    "spread": "spread_mbit_s",
    "when": "at_utc",
    "log": "log_path",
    "from": "from_date",
    "by": "raised_by",
    "method": "how",
}
_ID = "An id never changes."
_FIXED_IN_TABLES = {
    "log": "A log and its figures come with a batch.",
    "timezone": "The zone is not kept: correct the time, with an offset.",
    "mix": _ID,
}
_FIXED_IN_SPOTS = dict.fromkeys(("house", "spot", "band", "reading_number"), _ID)
_FIXED_IN_LONGRUNS = {"kind": "It is what the log holds, and a log comes with a batch."}
_FIXED = {
    "timezone": "It has settled times already.",
    "kind": "It belongs to the recipe, which never changes: another recipe is another role.",
}
_PLACE = {"batch": "batch_id", "file": "source_file", "row": "source_row"}
_OWNERS = {
    "device": {"device": "device_id"},
    "client": {"client": "client_id"},
    "workload": {"workload": "workload_id", "version": "version"},
}
_NAMED_BY = {
    "device": ("id",),
    "device.radio": ("band",),
    "device.port": ("name",),
    "device.unit": ("id",),
    "device.firmware": ("version",),
    "client": ("id",),
    "client.radio": ("band",),
    "client.driver": ("version",),
    "house": ("id",),
    "session": ("id",),
    "settings": ("id",),
    "workload": ("id", "version"),
    "role": ("id", "kind"),
    "workload.role": ("id", "kind"),
    "batch": ("format", "id", "timezone"),
    "site": (),
    "article": ("id",),
    "image": (),
}
_EMBARGO = {
    "until": Key(lambda value: value, "until_utc", True),
    "covers": Key(one_of_words("existence", "results"), "covers", True),
}


@dataclass(frozen=True)
class Subject:
    """A table or a kind of thing.

    table    of the catalogue
    stem     table of the batch format; None for a thing of batch.toml
    columns  name -> column of the catalogue, of values that may be corrected or named in a key
    address  further names that only a key may use
    keys     of a thing: name -> how it is read
    fixed    name -> why it is not corrected
    """

    name: str
    table: str
    stem: str | None
    columns: Mapping[str, str]
    address: Mapping[str, str]
    keys: Mapping[str, Key] = field(default_factory=dict)
    fixed: Mapping[str, str] = field(default_factory=dict)

    def name_of(self, typed: str) -> str | Trouble:
        """The column that *typed* means."""
        name = typed.strip().casefold().replace(" ", "_")
        if name in self.columns or name in self.address:
            return name
        if self.stem is not None and isinstance(heading := heading_of(typed, self.stem), tuple):
            return heading[0].name
        names = [*self.columns, *self.address]
        near = nearest(name, names)
        meant = f" Did you mean {near[0]}?" if near else ""
        return Trouble(f"{self.name} has no column {typed!r}.{meant}", f"It has {', '.join(names)}.", "unknown-column")

    def read(self, name: str, text: str, *, zone: str | None, known: Known) -> Any:
        """A typed value as the catalogue keeps it, None for a blank one, or the Trouble with it.

        Times are an Instant, throughputs an Attempt; names are ids where they are known.
        """
        if text == "":
            return None
        if name in self.address and name not in self.columns:
            if name == "row":
                return typed_place(text) or text
            return int(text) if name == "version" and text.isdecimal() else _id_of(name, text, known)
        if self.stem is not None:
            column = TABLES[self.stem].column(name)
            value = read_cell(text, column, marks=POINT, header=column.unit, zone=zone, sure=False)
            return _id_of(name, value, known) if column.kind == "text" else value
        if name in ("until", "published"):
            return read_until(text)
        return _read_key(self.keys[name], text)

    def present(self, name: str, row: Row) -> Any:
        """What *row* says now, to be held against what `read` gives."""
        if self.name == "workload.role" and name in ("workload", "version", "id"):
            names = in_workload(row["role_id"])
            return None if names is None else getattr(names, "role" if name == "id" else name)
        column = self.columns.get(name) or self.address[name]
        if name == "throughput" and self.table == "run":
            value = row["throughput_mbit_s"]
            return Attempt(value, None if value is not None else row["outcome"])
        if name == "throughput":
            return Attempt(row["throughput_mbit_s"], None)
        if name == "when":
            return Instant(row["at_utc"], row["at_typed"], "")
        if name in ("until", "published"):
            return Instant(row[column], row.get("until_typed", ""), "")
        if column == "source_row":
            return "" if row[column] is None else place_text(row[column])
        return row[column]


def _tables() -> dict[str, Subject]:
    stems = {"spots": "spot_reading"} | {stem: table for stem, (table, _, _) in BUILDERS.items()}
    subjects = {}
    for stem, table in stems.items():
        names = [column.name for column in TABLES[stem].columns]
        subjects[stem] = Subject(
            name=stem,
            table=table,
            stem=stem,
            columns={name: _COLUMNS.get(name, name) for name in names},
            address=_PLACE,
            fixed=_FIXED_IN_TABLES | {"spots": _FIXED_IN_SPOTS, "longruns": _FIXED_IN_LONGRUNS}.get(stem, {}),
        )
    return subjects


def _things() -> dict[str, Subject]:
    subjects = {}
    for name, (table, keys) in {**thing_keys.SPECS, **settings.SPECS}.items():
        columns = {key: spec.column for key, spec in keys.items() if key not in ("format", "devices")}
        if name == "article":
            columns["published"] = "published_utc"
        owner = name.partition(".")[0]
        subjects[name] = Subject(
            name=name,
            table=table,
            stem=None,
            columns=columns,
            address=(_OWNERS[owner] if "." in name else {}) | ({} if name == "site" else {"batch": "batch_id"}),
            keys=keys,
            fixed={key: _FIXED.get(key, _ID) for key in _NAMED_BY[name]},
        )
    subjects["embargo"] = Subject(
        name="embargo",
        table="embargo",
        stem=None,
        columns={name: key.column for name, key in _EMBARGO.items()},
        address={"device": "device_id", "unit": "unit_id", "firmware": "version", "batch": "batch_id"},
        keys=_EMBARGO,
    )
    return subjects


SUBJECTS: Mapping[str, Subject] = {**_tables(), **_things()}
_OTHER_NAMES = {
    "unit": "device.unit",
    "firmware": "device.firmware",
    "port": "device.port",
    "driver": "client.driver",
    "device.embargo": "embargo",
    "device.unit.embargo": "embargo",
    "device.firmware.embargo": "embargo",
}


def subject_called(typed: str, key: Iterable[str] = ()) -> Subject | Trouble:
    """The table or thing that *typed* means: "runs", "runs.csv", "device.unit".

    key  the names in the key of its row: a role with a workload is that workload's own
    """
    name = typed.strip().casefold()
    name = name.rsplit(".", 1)[0] if name.endswith((".csv", ".tsv", ".xlsx", ".ods")) else name
    if name == "role" and "workload" in (one.strip().casefold() for one in key):
        name = "workload.role"
    subject = SUBJECTS.get(_OTHER_NAMES.get(name, name))
    if subject is not None:
        return subject
    near = nearest(name, SUBJECTS)
    meant = f" Did you mean {near[0]}?" if near else ""
    return Trouble(f"There is no table {typed!r}.{meant}", f"Tables are {', '.join(SUBJECTS)}.", "unknown-table")


def equal(typed: Any, present: Any) -> bool:
    """Whether a value as read is the one that is there, in the column's own type."""
    if isinstance(typed, Instant) and isinstance(present, Instant):
        return typed.utc == present.utc
    if isinstance(present, Attempt):
        if typed is None or present.mbit_s is None:  # an empty cell says as little as the outcome beside it
            return present.mbit_s is None and (typed is None or bool(typed == present))
        return equal(typed.mbit_s, present.mbit_s)
    if isinstance(typed, int | float) and isinstance(present, int | float):
        return math.isclose(typed, present, rel_tol=1e-9, abs_tol=1e-12)
    return bool(typed == present)


def read_until(text: str) -> Instant | Trouble:
    """An instant as text with its zone: "2025-06-10T09:00 America/New_York", or with an offset."""
    moment, _, zone = text.strip().rpartition(" ")
    named = bool(moment) and not isinstance(zone_called(zone), Trouble)
    instant = read_instant(moment, zone) if named else read_instant(text, None)
    if isinstance(instant, Trouble):
        return instant
    return Instant(utc_text(instant), text.strip(), "")


def _read_key(key: Key, text: str) -> Any:
    """A value of batch.toml typed in a cell: text as it stands, else what TOML would make of it."""
    value = key.read(text)
    if not isinstance(value, Trouble):
        return value
    try:
        parsed = parse_toml(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return value
    return key.read(parsed)


def _id_of(name: str, value: str, known: Known) -> str:
    registers = {
        "device": known.device_names,
        "client": known.client_names,
        "old_client": known.client_names,
        "new_client": known.client_names,
        "session": known.session_names,
        "settings": known.settings_names,
        "house": known.house_names,
    }
    register = registers.get(name)
    return (register.find(value) if register else None) or value
