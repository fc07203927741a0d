"""Every row of a catalogue as seen or hidden at an instant, by the embargoes alone.

A second statement of what embargoes hide, on purpose and in other code than catalog.visibility: what checks the public
copy must not share its faults. It is kept simple; where it calls a row seen that the copy leaves out, nothing is lost.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from sqlite_utils import Database

from catalog.marks import in_workload
from catalog.queries.known import table_rows

Row = dict[str, Any]
Thing = tuple[str, ...]  # ("device", id), ("unit", device, unit), ("firmware", device, version), ("batch", id)

_RESULTS = ("run", "station", "longrun", "feature", "heat", "power", "part", "price", "bridge", "image", "dispute")
_OF_A_DEVICE = ("device", "device_alias", "device_radio", "device_port", "unit", "firmware", "price")
# Tables of what others use -> its id, and where else that id stands.
_REGISTERS = {
    "client": ("client_id", ("client_id", "old_client", "new_client")),
    "client_driver": ("version", ("driver", "old_driver", "new_driver")),
    "settings": ("settings_id", ("settings_id",)),
    "workload": ("workload_id", ("workload_id",)),
    "session": ("session_id", ("session_id",)),
    "spot_reading": ("spot", ("spot",)),
    "house": ("house_id", ("house_id",)),
    "role": ("role_id", ("role_id",)),
}


@dataclass(frozen=True)
class Seen:
    """Rows by table: those that may be seen, and those that may not."""

    shown: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))
    hidden: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))


def rows_seen(db: Database, as_of: str) -> Seen:
    """Sort the rows of a whole catalogue at the instant *as_of* (UTC text)."""
    return _Sorting(db, as_of).seen


class _Sorting:
    def __init__(self, db: Database, as_of: str) -> None:
        self.seen = Seen()
        self._db, self._as_of = db, as_of
        running = [row for row in self._rows("embargo") if row["until_utc"] > as_of]
        self._secret: set[Thing] = {_subject(row) for row in running if row["covers"] == "existence"}
        self._mute: set[Thing] = {_subject(row) for row in running}
        self._again: dict[tuple[Any, ...], set[str]] = defaultdict(set)
        for row in self._rows("row_again"):
            self._again[row["table_name"], row["first_batch"], row["first_file"], row["first_row"]].add(row["batch_id"])
        for table in ("device", "unit", "firmware"):
            for row in self._rows(table):
                if self._only_from(table, row, self._secret):
                    self._secret.add(_thing(table, row))
        for table in dict.fromkeys((*_OF_A_DEVICE, *_RESULTS)):
            for row in self._rows(table):
                self._put(table, row, hidden=self._is_hidden(table, row))
        self._stained = self._batches(self.seen.hidden) | {thing[1] for thing in self._secret if thing[0] == "batch"}
        for table, (name, elsewhere) in _REGISTERS.items():
            used = {row.get(column) for rows in self.seen.shown.values() for row in rows for column in elsewhere}
            for row in self._rows(table):
                own = in_workload(row[name]) if table == "role" else None
                called = own.role if own else row[name]
                self._put(table, row, hidden=not self._clean(table, row) and called not in used)
        self._sort_texts()

    def _rows(self, table: str) -> list[Row]:
        return table_rows(self._db, table)

    def _put(self, table: str, row: Row, *, hidden: bool) -> None:
        (self.seen.hidden if hidden else self.seen.shown)[table].append(row)

    def _is_hidden(self, table: str, row: Row) -> bool:
        device = row.get("device_id")
        things: set[Thing] = {("device", device)} if device else set()
        if device and row.get("unit_id"):
            things.add(("unit", device, row["unit_id"]))
        version = row.get("version") if table == "firmware" else row.get("firmware")
        if device and version:
            things.add(("firmware", device, version))
        if table in _OF_A_DEVICE and things & self._secret:
            return True
        if table not in _RESULTS:
            return False
        return (table != "price" and bool(things & self._mute)) or self._only_from(table, row, self._mute)

    def _origins(self, table: str, row: Row) -> set[str]:
        place = (table, row["batch_id"], row.get("source_file"), row.get("source_row"))
        return {row["batch_id"]} | self._again.get(place, set())

    def _only_from(self, table: str, row: Row, hidden: set[Thing]) -> bool:
        return all(("batch", batch) in hidden for batch in self._origins(table, row))

    def _clean(self, table: str, row: Row) -> bool:
        return bool(self._origins(table, row) - self._stained)

    def _batches(self, rows: dict[str, list[Row]]) -> set[str]:
        return {batch for table, members in rows.items() for row in members for batch in self._origins(table, row)}

    def _sort_texts(self) -> None:
        """Articles, notes and names of batches, once it is known what they are about."""
        about: dict[str, set[Thing]] = defaultdict(set)
        for row in self._rows("article_device"):
            about[row["article_id"]].add(("device", row["device_id"]))
        for row in self._rows("article"):
            waits = row["published_utc"] > self._as_of or bool(about[row["article_id"]] & self._secret)
            self._put("article", row, hidden=waits or self._only_from("article", row, self._secret))
        for row in self._rows("withdrawal"):
            hidden = self._only_from("withdrawal", row, self._secret) or bool(_named_by(row) & self._mute)
            self._put("withdrawal", row, hidden=hidden)
        places = self._places(self.seen.hidden) - self._places(self.seen.shown)
        for row in self._rows("correction"):
            # Of an embargo even after its end; what else the copy leaves out does not matter here.
            hidden = row["table_name"].endswith("embargo") or _place(row) in places
            self._put("correction", row, hidden=hidden)
        for row in self._rows("extra"):
            self._put("extra", row, hidden=_place(row) in places)
        for row in self._rows("embargo"):
            gone = row["until_utc"] > self._as_of or _subject(row) in self._secret
            self._put("embargo", row, hidden=gone)
        named = self._batches({t: r for t, r in self.seen.shown.items() if t not in ("correction", "extra", "embargo")})
        naming = self._batches({t: r for t, r in self.seen.hidden.items() if t in ("device", "unit", "firmware")})
        naming |= self._batches({t: self._of_secret(r) for t, r in self.seen.hidden.items()})
        naming |= {r["batch_id"] for r in self.seen.hidden["article"] if about[r["article_id"]] & self._secret}
        for row in self._rows("batch"):
            name = row["batch_id"]
            quiet = ("batch", name) in self._secret or name in naming or (name in self._stained and name not in named)
            self._put("batch", row, hidden=quiet)

    def _of_secret(self, rows: Iterable[Row]) -> list[Row]:
        """Those of things whose existence is hidden."""
        return [
            row
            for row in rows
            if {
                ("device", row.get("device_id")),
                ("unit", row.get("device_id"), row.get("unit_id")),
                ("firmware", row.get("device_id"), row.get("firmware")),
            }
            & self._secret
        ]

    def _places(self, rows: dict[str, list[Row]]) -> set[tuple[Any, ...]]:
        return {_place(row) for members in rows.values() for row in members if row.get("source_row") is not None}


def _place(row: Row) -> tuple[Any, ...]:
    return row["batch_id"], row.get("source_file"), row.get("source_row")


def _named_by(withdrawal: Row) -> set[Thing]:
    """What a withdrawal is about, and the device or batch of that."""
    name = withdrawal["id"]
    device, slash, unit = name.partition("/")
    owner, at, version = name.partition("@")
    things: set[Thing] = {("device", device), ("device", owner), ("batch", device)}
    return things | ({("unit", device, unit)} if slash else set()) | ({("firmware", owner, version)} if at else set())


def _subject(row: Row) -> Thing:
    return ("batch", row["batch_id"]) if row["subject"] == "batch" else _thing(row["subject"], row)


def _thing(table: str, row: Row) -> Thing:
    part = {"device": (), "unit": (row.get("unit_id"),), "firmware": (row.get("version"),)}[table]
    return (table, row["device_id"], *(str(one) for one in part))
