"""The sheets of a workbook that hold what batch.toml holds: their columns, and what each of them means there.

A sheet is known by its name in any case, with or without blanks. What a column may hold is decided where batch.toml
is checked; here stands only what a cell has to become for that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from catalog.reading.format import TABLES

Kind = Literal["text", "version", "any", "number", "date", "truth", "texts", "numbers", "typed", "listed"]
"""What a cell becomes: text that names something; text in which 7 and 7.0 are two; text, also of a number; a number;
a day or an instant; yes or no; a list of texts or numbers; what the cell itself is; one text or, with ;, several."""


@dataclass(frozen=True)
class ThingSheet:
    """One sheet.

    title    as a new workbook has it
    path     where its rows stand in batch.toml: ("device", "radio") for [[device.radio]]
    columns  name -> kind, the parents' included, in the order of a new workbook
    parents  columns that name the thing a row belongs to, and are no key of its own
    """

    title: str
    path: tuple[str, ...]
    columns: Mapping[str, Kind]
    parents: tuple[str, ...] = ()


def _sheet(
    title: str, path: str, columns: Mapping[str, Kind], parents: Mapping[str, Kind] = MappingProxyType({})
) -> ThingSheet:
    return ThingSheet(title, tuple(path.split(".")), {**parents, **columns}, tuple(parents))


_RADIO: Mapping[str, Kind] = {"band": "any", "streams": "number", "max_width_mhz": "number"}
_MARKS: Mapping[str, Kind] = {
    "target_ms": "number",
    "target_share": "number",
    "good_ms": "number",
    "good_share": "number",
    "supersedes": "truth",
}
_RECIPE: Mapping[str, Kind] = {
    "resources": "number",
    "resource_kib": "number",
    "pause_s": "numbers",
    "rate_mbit_s": "number",
    "segment_s": "number",
    "start_buffer_s": "number",
    "packet_ms": "number",
    "codec": "text",
    "file_mib": "number",
    "at_once": "number",
}

THING_SHEETS: Mapping[str, ThingSheet] = MappingProxyType(
    {
        sheet.title: sheet
        for sheet in (
            _sheet(
                "Devices",
                "device",
                {
                    "id": "text",
                    "maker": "text",
                    "model": "text",
                    "kind": "text",
                    "amendment": "text",
                    "revision": "version",
                    "aliases": "texts",
                },
            ),
            _sheet("Device radios", "device.radio", {**_RADIO, "eirp_dbm": "number"}, {"device": "text"}),
            _sheet(
                "Ports",
                "device.port",
                {"name": "text", "speed_mbit_s": "number", "power": "text", "power_class": "number"},
                {"device": "text"},
            ),
            _sheet(
                "Units",
                "device.unit",
                {"id": "text", "origin": "text", "by": "text", "received": "date", "returned": "date"},
                {"device": "text"},
            ),
            _sheet(
                "Firmware",
                "device.firmware",
                {"version": "version", "released": "date", "public": "truth"},
                {"device": "text"},
            ),
            _sheet(
                "Embargoes",
                "embargo",
                {"until": "date", "timezone": "text", "covers": "text"},
                {"device": "text", "unit": "text", "firmware": "version"},
            ),
            _sheet(
                "Clients",
                "client",
                {
                    "id": "text",
                    "name": "text",
                    "machine": "text",
                    "adapter": "text",
                    "amendment": "text",
                    "bus": "text",
                    "series": "text",
                    "level_of": "text",
                },
            ),
            _sheet("Client radios", "client.radio", _RADIO, {"client": "text"}),
            _sheet("Drivers", "client.driver", {"version": "version", "series": "text"}, {"client": "text"}),
            _sheet(
                "Ceilings",
                "client.ceiling",
                {"band": "any", "width_mhz": "number", "direction": "text", "run": "text"},
                {"client": "text"},
            ),
            _sheet(
                "Houses",
                "house",
                {"id": "text", "name": "text", "reference_device": "text", "lab_limit_mbit_s": "number"},
            ),
            _sheet("Sessions", "session", {"id": "text", "house": "text", "date": "date", "note": "text"}),
            _sheet(
                "Settings",
                "settings",
                {
                    "id": "text",
                    "title": "text",
                    "standard": "text",
                    "multi_link": "text",
                    "links": "texts",
                    "power": "text",
                    "power_dbm": "number",
                    "country": "text",
                    "backhaul": "text",
                    "hops": "number",
                    "punctured_mhz": "any",
                    "airtime": "text",
                    "queueing": "text",
                },
            ),
            # With a workload, the role is one that only this workload has: [[workload.role]].
            _sheet(
                "Roles",
                "role",
                {"id": "text", "kind": "text", **_RECIPE, **_MARKS},
                {"workload": "text", "workload_version": "number"},
            ),
            _sheet(
                "Workloads",
                "workload",
                {"id": "text", "version": "number", "title": "text", "duration_s": "number"},
            ),
            _sheet(
                "Seats",
                "workload.seats",
                {"roles": "texts"},
                {"workload": "text", "version": "number", "seat": "number"},
            ),
            _sheet(
                "Articles",
                "article",
                {"id": "text", "title": "text", "published": "date", "file": "text", "devices": "texts"},
            ),
            _sheet(
                "Images",
                "image",
                {"file": "text", "device": "text", "kind": "text", "alt": "text", "credit": "text"},
            ),
        )
    }
)
"""Every sheet of things by its title, in the order of a new workbook; a thing stands before what hangs on it."""

BATCH, ANSWERS = "Batch", "Answers"
ANSWER_COLUMNS: Mapping[str, Kind] = MappingProxyType(
    {"cause": "text", "table": "text", "row": "number", "column": "text", "typed": "any", "means": "any", "by": "text"}
)
TABLE_SHEETS: Mapping[str, str] = MappingProxyType(
    {stem: "Long runs" if stem == "longruns" else stem.capitalize() for stem in TABLES}
)
"""Table by its stem -> title of its sheet."""

LISTS = "Lists"
"""A hidden sheet of a new workbook with what its drop-down lists offer; never read."""


def folded(title: str) -> str:
    """A sheet's title as it is compared: "Long runs" and "longruns" are one."""
    return "".join(character for character in title.casefold() if character.isalnum())


_NAMES: Mapping[str, str] = {
    **{folded(title): title for title in (BATCH, ANSWERS, *THING_SHEETS)},
    **{folded(title): stem for stem, title in TABLE_SHEETS.items()},
}


def sheet_called(title: str) -> str | None:
    """What a sheet of this title holds: "Devices", or the stem of a table; None for a sheet nobody knows."""
    return _NAMES.get(folded(title))
