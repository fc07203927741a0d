"""The names in a row as ids: device, unit, firmware, client, driver, session, and the spot's epoch."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from catalog.checking.known import EVER, Epoch, Known, Row
from catalog.checking.names import Register, unknown, unknown_version
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble
from catalog.dates import earliest_instant, is_month

_REGISTER = "Register it in batch.toml, correct the cell, or answer it once in answers.toml."


class Resolver:
    """Looks names up once each; a name that means nothing holds its row."""

    def __init__(self, known: Known) -> None:
        self._known = known
        self._cache: dict[tuple[Any, ...], str | Trouble | None] = {}

    def device(self, table: TypedTable, row: TypedRow) -> Row:
        """device_id, and unit_id and firmware where the table has such columns."""
        ids: Row = {"device_id": self._named(table, row, "device", "device", self._known.device_names)}
        device_id = ids["device_id"]
        names = {column.name for column in table.table.columns}
        if "unit" in names:
            ids["unit_id"] = device_id and self._unit(table, row, device_id)
        if "firmware" in names:
            versions = self._known.devices[device_id].firmware if device_id else ()
            ids["firmware"] = device_id and self._version(table, row, "firmware", device_id, versions)
        return ids

    def client(self, table: TypedTable, row: TypedRow, column: str = "client", driver: str = "driver") -> Row:
        """client_id and driver; the one registered driver where none is named."""
        client_id = self._named(table, row, column, "client", self._known.client_names)
        drivers = self._known.clients[client_id].drivers if client_id else ()
        typed = row.values.get(driver)
        if client_id is None or (typed is None and not drivers):
            return {"client_id": client_id, "driver": None}
        if typed is None and len(drivers) == 1:
            return {"client_id": client_id, "driver": drivers[0]}
        if typed is None:
            which = f"{client_id} has several drivers: {', '.join(drivers)}."
            table.hold(row, driver, Trouble(which, "Name the one that was used.", "which-driver"))
            return {"client_id": client_id, "driver": None}
        return {"client_id": client_id, "driver": self._version(table, row, driver, client_id, drivers)}

    def session(self, table: TypedTable, row: TypedRow) -> str | None:
        """session_id."""
        return self._named(table, row, "session", "session", self._known.session_names)

    def settings(self, table: TypedTable, row: TypedRow) -> str | None:
        """settings_id; None where the bench tested as always."""
        return self._named(table, row, "settings", "setting", self._known.settings_names)

    def house(self, table: TypedTable, row: TypedRow) -> str | None:
        """house_id."""
        return self._named(table, row, "house", "house", self._known.house_names)

    def epoch(self, table: TypedTable, row: TypedRow, session: str | None, band: str | None) -> Row:
        """spot, spot_since and epoch_id by the session's house and day; all None where no spot is named.

        Several links at once: spot_since is the latest of their epochs, and no single epoch describes them.
        """
        nothing: Row = {"spot": None, "spot_since": None, "epoch_id": None}
        if row.values.get("spot") is None or session is None or band is None:
            return nothing
        house, date = self._known.sessions[session]
        spot = self._spot(table, row, [house])
        if spot is None or not date:
            return nothing
        in_use: list[Epoch] = []
        never: list[str] = []
        for part in band.split("+"):
            epochs = self._known.epochs.get((house, spot, part), [])
            if began := [epoch.valid_from for epoch in epochs if _within_month(epoch.valid_from, date)]:
                within = Trouble(
                    f"The {part} GHz readings of {spot} begin on {began[-1]}, within {date}, the month of the session: "
                    "was it measured before or after?",
                    "Give attenuation_db instead of the spot, or the days sessions of their own.",
                    "epoch-in-month",
                )
                table.hold(row, "spot", within)
                return nothing
            in_force = [epoch for epoch in epochs if epoch.valid_from[: len(date)] <= date]
            if in_force:
                in_use.append(in_force[-1])
            elif epochs:
                early = Trouble(
                    f"{spot} has no {part} GHz reading before {epochs[0].valid_from}, but the session is of {date}.",
                    "Enter the readings that were valid then, or give attenuation_db instead of the spot.",
                    "spot-not-read-then",
                )
                table.hold(row, "spot", early)
                return nothing
            else:
                never.append(part)
        if never and not in_use:
            unread = Trouble(
                f"{spot} was never read at {' and '.join(never)} GHz.",
                "Enter its readings in spots, or give attenuation_db instead of the spot.",
                "spot-not-read",
            )
            table.hold(row, "spot", unread)
            return nothing
        one = in_use[0].epoch_id if "+" not in band else None
        since = max(epoch.valid_from for epoch in in_use)
        return {"spot": spot, "spot_since": None if since == EVER else since, "epoch_id": one}

    def spot_anywhere(self, table: TypedTable, row: TypedRow) -> str | None:
        """The spot, in any house that has one of this name."""
        return self._spot(table, row, sorted(self._known.spots))

    def _spot(self, table: TypedTable, row: TypedRow, houses: Iterable[str]) -> str | None:
        typed = row.values["spot"]
        near: list[str] = []
        for house in houses:
            register = self._known.spots.get(house)
            if register is None:
                continue
            if (spot := register.find(typed)) is not None:
                return spot
            near += register.spellings()
        trouble = unknown("spot", typed, near, register="Enter its readings in spots, or correct the cell.")
        table.hold(row, "spot", trouble)
        return None

    def _unit(self, table: TypedTable, row: TypedRow, device_id: str) -> str | None:
        typed, units = row.values.get("unit"), self._known.devices[device_id].units
        if typed is None and len(units) == 1:
            return units[0]
        if typed is None:
            which = f"{device_id} has several units: {', '.join(units)}." if units else f"{device_id} has no unit."
            table.hold(row, "unit", Trouble(which, "Name the one that was tested.", "which-unit"))
            return None
        if typed in units:
            return str(typed)
        table.hold(row, "unit", unknown("unit", typed, units, register=_REGISTER))
        return None

    def _version(self, table: TypedTable, row: TypedRow, column: str, of: str, versions: Iterable[str]) -> str | None:
        typed = row.values.get(column)
        if typed is None:
            return None
        key = (column, of, typed)
        if key not in self._cache:
            known = tuple(versions)
            kind = "firmware" if column == "firmware" else "driver"
            self._cache[key] = typed if typed in known else unknown_version(kind, typed, of, known)
        return self._settled(table, row, column, self._cache[key])

    def _named(self, table: TypedTable, row: TypedRow, column: str, kind: str, register: Register) -> str | None:
        typed = row.values.get(column)
        if typed is None:
            return None
        key = (kind, typed)
        if key not in self._cache:
            known_id = register.find(typed)
            shared = register.shared_by(typed)
            if known_id is not None:
                self._cache[key] = known_id
            elif len(shared) > 1:
                several = f"{typed!r} is a name of {' and of '.join(shared)}."
                self._cache[key] = Trouble(
                    several, "Write the id of the one that is meant.", "shared-name", proposals=tuple(shared)
                )
            else:
                self._cache[key] = unknown(kind, typed, register.spellings(), register=_REGISTER)
        return self._settled(table, row, column, self._cache[key])

    def _settled(self, table: TypedTable, row: TypedRow, column: str, result: str | Trouble | None) -> str | None:
        if isinstance(result, Trouble):
            table.hold(row, column, result)
            return None
        return result


def _within_month(day: str, date: str) -> bool:
    """Whether a day is one of the month *date*, and not its first."""
    return is_month(date) and day.startswith(date) and day != earliest_instant(date).date().isoformat()
