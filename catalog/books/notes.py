"""What a new workbook says at its headings: what stands in a column, in a line."""

from __future__ import annotations

from collections.abc import Mapping

from catalog.reading.columns import Column
from catalog.reading.thing_sheets import Kind, ThingSheet
from catalog.standards import BANDS, PHYS

BATCH_NOTE = (
    "One name and one value a row. A value that is the same in every row of a table stands here once: "
    "defaults.runs.firmware. Names with a blank value say nothing. Also: site.author, site.contact, site.language, "
    "site.licence, embargo.until, embargo.timezone, method.session_spread, tables.runs."
)
ANSWERS_NOTE = "What `likeloss check` asks is answered here, once: it writes the row to add."

_OF_COLUMNS: Mapping[str, str] = {
    "device": "A device of the catalogue or of the sheet Devices.",
    "unit": "Which piece of the device; blank where there is one.",
    "firmware": "Its firmware, as text: 7.10 and 7.1 are two.",
    "client": "A client setup of the catalogue or of the sheet Clients.",
    "driver": "Its driver, as text; blank where there is one.",
    "session": "The bench day, of the catalogue or of the sheet Sessions.",
    "spot": "A place of the catalogue or of the sheet Spots.",
    "settings": "What was set otherwise than always, of the sheet Settings.",
    "role": "What the client did, of the sheet Roles.",
    "log": "A log beside this workbook, such as logs/a.csv, or MAP:logs/a.json.",
    "outcome": "finished, did not finish, client fault, aborted or not possible; blank where there is a number.",
    "repeat": "1, 2, 3 for attempts at the same.",
    "what": "What is withdrawn: device, unit, firmware, client, session, mix, batch, article, image, run and others.",
}
_OF_THINGS: Mapping[str, str] = {
    "amendment": f"{', '.join(PHYS)}.",
    "band": f"{', '.join(BANDS)}.",
    "origin": "bought, loaned or given.",
    "by": "Who lent or gave it.",
    "public": "yes or no; blank is yes.",
    "covers": "existence or results.",
    "until": "Such as 2025-06-10T09:00; it needs a timezone or an offset.",
    "timezone": "Such as America/New_York.",
    "run": "The run that shows it: batch/runs/row, such as 2025-05-shale-2/runs/14.",
    "direction": "down or up.",
    "reference_device": "The device that is measured again on every bench day.",
    "roles": "The roles that one machine plays at the same time, with ; between them.",
    "seat": "1, 2, 3: a row for each machine.",
    "pause_s": "The shortest and the longest, such as 5;20.",
    "target_share": "From 0 to 1.",
    "good_share": "From 0 to 1.",
    "workload": "Of which workload. In the sheet Roles only for a role that no other has.",
    "aliases": "Other names, with ; between them.",
    "devices": "Ids of devices, with ; between them.",
    "standard": "n, ac, ax or be.",
    "multi_link": "on or off.",
    "backhaul": "wired or wireless.",
}
_OF_KINDS: Mapping[Kind, str] = {
    "version": "Text: 7.10 and 7.1 are two.",
    "number": "A number.",
    "date": "A day, such as 2025-05-12.",
    "truth": "yes or no.",
    "texts": "Several with ; between them.",
}
_IN_SHEETS: Mapping[tuple[str, str], str] = {
    ("Ports", "power"): "in, out or none.",
    ("Ports", "power_class"): "Of IEEE 802.3, 0 to 8.",
    ("Roles", "kind"): "stream, pages, voice, game, fetch or upload.",
    ("Images", "kind"): "case, ports, teardown, thermal or other.",
    ("Articles", "published"): "An instant, such as 2025-06-10T15:00:00+02:00.",
    ("Articles", "file"): "A text beside this workbook, such as articles/review.md.",
    ("Images", "file"): "A picture beside this workbook, such as images/inside.jpg.",
    ("Embargoes", "device"): "Of a device, or of one unit or firmware of it; without any of them: of this batch.",
}
_REQUIRED_THINGS: Mapping[str, frozenset[str]] = {
    "Devices": frozenset({"id", "maker", "model", "amendment"}),
    "Units": frozenset({"id", "origin"}),
    "Firmware": frozenset({"version"}),
    "Clients": frozenset({"id", "name", "amendment"}),
    "Houses": frozenset({"id", "name"}),
    "Sessions": frozenset({"id", "house", "date"}),
}


def note_of_column(column: Column) -> str:
    """What stands in a column of a table."""
    return " ".join(filter(None, ("Required." if column.required else "", _meaning(column))))


def note_of_key(sheet: ThingSheet, name: str) -> str:
    """What stands in a column of a sheet of things."""
    needed = name in _REQUIRED_THINGS.get(sheet.title, ())
    if name in sheet.parents and (sheet.title, name) not in _IN_SHEETS and name not in _OF_THINGS:
        meaning = f"Of which {name}."
    else:
        meaning = _IN_SHEETS.get((sheet.title, name)) or _OF_THINGS.get(name) or _OF_KINDS.get(sheet.columns[name], "")
    return " ".join(filter(None, ("Required." if needed else "", meaning)))


def _meaning(column: Column) -> str:
    if (words := _OF_COLUMNS.get(column.name)) is not None:
        return words
    match column.kind:
        case "choice":
            return f"{', '.join(dict.fromkeys(column.choices.values()))}."
        case "when":
            return "Date and time, such as 2025-05-12 10:04."
        case "date":
            return "A day, such as 2025-05-12."
        case "yesno":
            return "yes or no."
        case "band":
            return f"{', '.join(BANDS)}, or 5+6 and the like for several at once."
        case "throughput":
            return "A number in the unit of the heading, or how it ended: did not finish."
        case "level":
            return "A received level in dBm, below 0."
        case "count" | "number":
            return _bounds(column)
    return ""


def _bounds(column: Column) -> str:
    number = "A whole number" if column.kind == "count" else "A number"
    unit = f" in {column.unit.name}" if column.unit else ""
    if column.low is not None and column.high is not None and column.high < 1e9:
        return f"{number}{unit}, {column.low:g} to {column.high:g}."
    return f"{number}{unit}."
