"""The things of batch.toml as rows: devices, clients, houses, sessions, workloads, and all that hangs on them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from catalog.checking import keys
from catalog.checking.answers import Answers
from catalog.checking.conditions import read_settings
from catalog.checking.keys import Key, Section
from catalog.checking.known import Known, Row, came_again
from catalog.checking.registering import registration_troubles
from catalog.checking.roles import read_role, read_workload
from catalog.checking.thing_keys import (
    CLIENT,
    CLIENT_RADIO,
    DEVICE,
    DEVICE_RADIO,
    DRIVER,
    FIRMWARE,
    HOUSE,
    PORT,
    SESSION,
    UNIT,
    toml_key,
)
from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.documents import TomlFile
from catalog.reading.sources import place_of


class Things:
    """Reads the things of one batch.toml; new rows go into *rows*, in the order in which they can be stored."""

    def __init__(self, file: TomlFile, known: Known, batch_id: str) -> None:
        self.file = file
        self.known = known
        self.batch_id = batch_id
        self.rows: dict[str, list[Row]] = {}
        self.root = Section(file, (), file.values, [])
        self.problems = self.root.problems
        self.warnings: list[Problem] = []
        self.repairs: Counter[str] = Counter()
        self.embargoes: list[tuple[Section, Row]] = []
        self.again: list[Row] = []
        # Pictures that are known, as this batch has them, for its articles and parts; and where they came before.
        self.pictures_again: list[tuple[Row, Row]] = []
        self.answers = Answers()
        self._indexes: dict[tuple[str, tuple[str, ...]], dict[tuple[Any, ...], Row]] = {}

    def read(self) -> None:
        """All of them, in the order in which they refer to each other."""
        for section in self.root.children("device"):
            self._device(section)
        for section in self.root.children("client"):
            self._client(section)
        for section in self.root.children("house"):
            self._house(section)
        for section in self.root.children("session"):
            self._session(section)
        for section in self.root.children("role"):
            read_role(self, section)
        for section in self.root.children("settings"):
            self._settings(section)
        for section in self.root.children("workload"):
            read_workload(self, section)

    def add(self, table: str, key: tuple[str, ...], row: Row, section: Section) -> bool:
        """Add a row unless it is there already; True when the thing stands in the catalogue or the batch so far.

        A value that differs from the one that is there is a problem. Values left out never differ.
        """
        there = self.find(table, key, row)
        if there is not None:
            brought = self.brings(table, there)
            for column, value in row.items():
                if there.get(column) != value:
                    where = "further up in this file" if brought else "in the catalogue"
                    remedy = "Name it once." if brought else "Use a correction."
                    was = "not stated" if there.get(column) is None else f"{there[column]!r}"
                    shown = toml_key(column)
                    conflict = Trouble(f"{section.name}: {shown} is {was} {where}.", remedy, "conflict")
                    section.refuse(shown if shown in section.values else "", conflict, value)
            if not brought:
                self.again.append(came_again(table, there, self.origin(section), stated=row))
            return True
        self.judge(table, row, section)
        self.store(table, {**row, **self.origin(section)})
        return False

    def judge(self, table: str, row: Row, section: Section) -> None:
        """Ask about, or refuse, what is odd about a new row; it is kept because other rows may name it."""
        for key, trouble in registration_troubles(table, row, self.known):
            source, line = self.file.place(*section.path, key)
            table = place_of(source).table
            if trouble.options and self.answers.to_cause(
                trouble.code, ("batch.toml", table), row=line, columns={key}, options=trouble.options
            ):
                continue
            if self.answers.as_entered(trouble, ("batch.toml", table), row=line, columns={key}):
                continue
            asked = trouble.with_answers(table, line, trouble.options) if trouble.options else trouble
            section.refuse(key, asked, section.values.get(key, ""))

    def store(self, table: str, row: Row) -> None:
        """Keep a new row."""
        self.rows.setdefault(table, []).append(row)
        self.known.rows.setdefault(table, []).append(row)
        for (indexed, key), index in self._indexes.items():
            if indexed == table:
                index.setdefault(tuple(row.get(column) for column in key), row)

    def origin(self, section: Section) -> Row:
        """Where a thing stands."""
        source, line = self.file.place(*section.path)
        return {"batch_id": self.batch_id, "source_file": source, "source_row": line}

    def exists(self, table: str, **key: str) -> bool:
        """Whether a thing stands in the catalogue or in the batch so far."""
        return self.stored(table, **key) is not None

    def brings(self, table: str, there: Row) -> bool:
        """Whether this batch adds a row."""
        return any(there is row for row in self.rows.get(table, ()))

    def stored(self, table: str, **key: str) -> Row | None:
        """The row of a thing in the catalogue or in the batch so far."""
        return self.find(table, tuple(key), dict(key))

    def find(self, table: str, key: tuple[str, ...], row: Mapping[str, Any]) -> Row | None:
        """The row with the key that *row* has, in the catalogue or in the batch so far."""
        index = self._indexes.get((table, key))
        if index is None:
            index = self._indexes[table, key] = {}
            for there in self.known.of(table):
                index.setdefault(tuple(there.get(column) for column in key), there)
        return index.get(tuple(row.get(column) for column in key))

    def _device(self, section: Section) -> None:
        device_id = section.values.get("id")
        known = isinstance(device_id, str) and self.exists("device", device_id=device_id)
        others = frozenset({"aliases", "radio", "port", "unit", "firmware", "embargo"})
        row = section.read(DEVICE, known=known, others=others)
        if "device_id" not in row:
            return
        device = {"device_id": row["device_id"]}
        self.add("device", ("device_id",), row, section)
        if "aliases" in section.values:
            aliases = keys.texts(section.values["aliases"])
            if isinstance(aliases, Trouble):
                section.refuse("aliases", aliases, section.values["aliases"])
            else:
                for alias in dict.fromkeys(aliases):
                    self.add("device_alias", ("device_id", "alias"), {**device, "alias": alias}, section)
        for radio in section.children("radio"):
            self._child(radio, "device_radio", device, "band", DEVICE_RADIO)
        for port in section.children("port"):
            self._child(port, "device_port", device, "name", PORT)
        units = [self._child(unit, "unit", device, "unit_id", UNIT) for unit in section.children("unit")]
        if not known and not units:
            origin = Trouble(f"{section.name} has no unit.", "Add [[device.unit]] with id and origin.", "missing")
            section.refuse("", origin)
        for firmware in section.children("firmware"):
            self._child(firmware, "firmware", device, "version", FIRMWARE)
        if (embargo := section.child("embargo")) is not None:
            self.embargoes.append((embargo, {"subject": "device", **device}))

    def _child(self, section: Section, table: str, owner: Row, key: str, spec: Mapping[str, Key]) -> Row:
        """A part of a thing; its embargo, where it has one, is kept for later."""
        toml_key = next(name for name, item in spec.items() if item.column == key)
        typed = spec[toml_key].read(section.values.get(toml_key))
        owner_id, value = next(iter(owner.items()))
        known = not isinstance(typed, Trouble) and self.exists(table, **{owner_id: value, key: typed})
        others = frozenset({"embargo"}) if table in ("unit", "firmware") else frozenset()
        row = section.read(spec, known=known, others=others)
        if key not in row or any(name not in row for item, name in _required(spec) if not known):
            return row
        self.add(table, (owner_id, key), {**owner, **row}, section)
        if "embargo" in others and (embargo := section.child("embargo")) is not None:
            self.embargoes.append((embargo, {"subject": table, **owner, key: row[key]}))
        return row

    def _client(self, section: Section) -> None:
        client_id = section.values.get("id")
        known = isinstance(client_id, str) and self.exists("client", client_id=client_id)
        row = section.read(CLIENT, known=known, others=frozenset({"radio", "driver", "ceiling"}))
        if "client_id" not in row:
            return
        client = {"client_id": row["client_id"]}
        if not known:
            row.setdefault("series", row["client_id"])
        self.add("client", ("client_id",), row, section)
        radios = section.children("radio")
        for radio in radios:
            self._child(radio, "client_radio", client, "band", CLIENT_RADIO)
        if not known and not radios:
            section.refuse("", Trouble(f"{section.name} has no radio.", "Add [[client.radio]].", "missing"))
        for driver in section.children("driver"):
            self._driver(driver, client)

    def _driver(self, section: Section, client: Row) -> None:
        """The first driver continues the client's series; a later one starts a new series until a bridge joins the two."""
        row = section.read(DRIVER)
        if "version" not in row:
            return
        if "series" not in row and not self.exists("client_driver", **client, version=row["version"]):
            first = not self.exists("client_driver", **client)
            thing = self.find("client", ("client_id",), client)
            series = thing["series"] if thing is not None else client["client_id"]
            row["series"] = series if first else f"{series} {row['version']}"
        self.add("client_driver", ("client_id", "version"), {**client, **row}, section)

    def _house(self, section: Section) -> None:
        row = section.read(HOUSE, known=self.exists("house", house_id=str(section.values.get("id"))))
        if "house_id" not in row:
            return
        reference = row.get("reference_device")
        if reference is not None and not self.exists("device", device_id=reference):
            section.refuse("reference_device", self.unknown_device(reference), reference)
            return
        self.add("house", ("house_id",), row, section)

    def unknown_device(self, typed: str) -> Trouble:
        """A key names a device that is not registered."""
        from catalog.checking.names import unknown

        return unknown("device", typed, self.known.device_names.spellings(), register="Register it in batch.toml.")

    def _session(self, section: Section) -> None:
        if "decision" in section.values:
            later = Trouble(
                "A decision on a session is made by a correction, with a reason, a name and a day.",
                "Remove the key, and write it into a file of corrections.",
                "unknown-key",
            )
            section.refuse("decision", later, str(section.values["decision"]))
        row = section.read(
            SESSION,
            others=frozenset({"decision"}),
            known=self.exists("session", session_id=str(section.values.get("id"))),
        )
        if "session_id" not in row:
            return
        house = row.get("house_id")
        if house is not None and not self.exists("house", house_id=house):
            from catalog.checking.names import unknown

            known = self.known.house_names.spellings()
            section.refuse("house", unknown("house", house, known, register="Register it in batch.toml."), house)
            return
        self.add("session", ("session_id",), row, section)

    def _settings(self, section: Section) -> None:
        known = isinstance(section.values.get("id"), str) and self.exists("settings", settings_id=section.values["id"])
        row = read_settings(section, known=known)
        if "settings_id" not in row:
            return
        if known:
            self.add("settings", ("settings_id",), row, section)
        else:
            self.add("settings", ("settings_id",), {**row, "number": self.known.new_id("settings", "number")}, section)


def _required(spec: Mapping[str, Key]) -> list[tuple[str, str]]:
    return [(name, key.column) for name, key in spec.items() if key.required]
