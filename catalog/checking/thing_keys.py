"""The things of batch.toml: the keys of each, where they are stored, and how they are read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from catalog.checking import keys
from catalog.checking.keys import Key
from catalog.checking.troubles import Trouble

DEVICE = {
    "id": Key(keys.slug, "device_id", True),
    "maker": Key(keys.text, "maker", True),
    "model": Key(keys.text, "model", True),
    "kind": Key(keys.text, "kind"),
    "amendment": Key(keys.amendment, "amendment", True),
    "revision": Key(keys.text, "revision"),
}
DEVICE_RADIO = {
    "band": Key(keys.band, "band", True),
    "streams": Key(keys.whole(1, 16), "streams", True),
    "max_width_mhz": Key(keys.whole(20, 320), "max_width_mhz", True),
    "eirp_dbm": Key(keys.number(-40, 60), "eirp_dbm"),
}
PORT = {
    "name": Key(keys.text, "name", True),
    "speed_mbit_s": Key(keys.number(1, 1e6), "speed_mbit_s", True),
    "power": Key(keys.one_of("in", "out", "none"), "power", default="none"),
    "power_class": Key(keys.whole(0, 8), "power_class"),
}
UNIT = {
    "id": Key(keys.text, "unit_id", True),
    "origin": Key(keys.one_of("bought", "loaned", "given"), "origin", True),
    "by": Key(keys.text, "given_by"),
    "received": Key(keys.date, "received"),
    "returned": Key(keys.date, "returned"),
}
FIRMWARE = {
    "version": Key(keys.text, "version", True),
    "released": Key(keys.date, "released"),
    "public": Key(keys.truth, "public", default=1),
}
CLIENT = {
    "id": Key(keys.slug, "client_id", True),
    "name": Key(keys.text, "name", True),
    "machine": Key(keys.text, "machine"),
    "adapter": Key(keys.text, "adapter"),
    "amendment": Key(keys.amendment, "amendment", True),
    "bus": Key(keys.text, "bus"),
    "series": Key(keys.text, "series"),
    "level_of": Key(keys.text, "level_of"),
}
CLIENT_RADIO = {name: key for name, key in DEVICE_RADIO.items() if name != "eirp_dbm"}
DRIVER = {"version": Key(keys.text, "version", True), "series": Key(keys.text, "series")}
HOUSE = {
    "id": Key(keys.slug, "house_id", True),
    "name": Key(keys.text, "name", True),
    "reference_device": Key(keys.slug, "reference_device"),
    "lab_limit_mbit_s": Key(keys.number(1, 1e6), "lab_limit_mbit_s"),
}
SESSION = {
    "id": Key(keys.slug, "session_id", True),
    "house": Key(keys.slug, "house_id", True),
    "date": Key(keys.day_or_month, "date", True),
    "note": Key(keys.text, "note"),
}
# Set only by a correction, so that it has a reason, a name and a day.
SESSION_LATER = {"decision": Key(keys.one_of("in force", "set aside"), "decision")}
# What may differ from how a bench always tests; `checking.conditions` says what is wrong with others.
SETTINGS = {
    "id": Key(keys.slug, "settings_id", True),
    "title": Key(keys.text, "title"),
    "standard": Key(keys.one_of("n", "ac", "ax", "be"), "standard"),
    "multi_link": Key(keys.one_of("on", "off"), "multi_link"),
    "links": Key(keys.links, "links"),
    "power": Key(keys.text, "power"),
    "power_dbm": Key(keys.number(-40, 60), "power_dbm"),
    "country": Key(keys.text, "country"),
    "backhaul": Key(keys.one_of("wired", "wireless"), "backhaul"),
    "hops": Key(keys.whole(0, 100), "hops"),
    "punctured_mhz": Key(keys.text_or_whole(20, 300), "punctured_mhz"),
    "airtime": Key(keys.text, "airtime"),
    "queueing": Key(keys.text, "queueing"),
}
WORKLOAD = {
    "id": Key(keys.slug, "workload_id", True),
    "version": Key(keys.whole(1), "version", default=1),
    "title": Key(keys.text, "title", True),
    "duration_s": Key(keys.number(1, 1e7), "duration_s", True),
}


def _pause(value: Any) -> list[float] | Trouble:
    if isinstance(value, list) and len(value) == 2 and all(isinstance(item, int | float) for item in value):
        low, high = value
        if 0 <= low <= high <= 86_400:
            return [float(low), float(high)]
    return Trouble(f"{value!r} is no pause.", "Write the shortest and the longest, such as [5, 20].", "wrong-shape")


KINDS = keys.one_of("stream", "pages", "voice", "fetch", "upload", "game")
ROLE = {
    "id": Key(keys.slug, "role_id", True),
    "kind": Key(KINDS, "kind", True),
    "target_ms": Key(keys.number(0), "target_ms"),
    "target_share": Key(keys.number(0, 1), "target_share"),
    "good_ms": Key(keys.number(0), "good_ms"),
    "good_share": Key(keys.number(0, 1), "good_share"),
}
SUPERSEDES = {"supersedes": Key(keys.truth, "supersedes")}
_FILES = {
    "file_mib": Key(keys.number(0), "file_mib"),
    "rate_mbit_s": Key(keys.number(0), "rate_mbit_s"),
    "at_once": Key(keys.whole(1, 1000), "at_once"),
}
# What a role of each kind does; kept together as its recipe.
RECIPES: Mapping[str, Mapping[str, Key]] = {
    "pages": {
        "resources": Key(keys.whole(1), "resources"),
        "resource_kib": Key(keys.number(0), "resource_kib"),
        "pause_s": Key(_pause, "pause_s"),
    },
    "stream": {
        "rate_mbit_s": Key(keys.number(0), "rate_mbit_s"),
        "segment_s": Key(keys.number(0), "segment_s"),
        "start_buffer_s": Key(keys.number(0), "start_buffer_s"),
    },
    "voice": {"packet_ms": Key(keys.number(0), "packet_ms"), "codec": Key(keys.text, "codec")},
    "fetch": _FILES,
    "upload": _FILES,
    "game": {"packet_ms": Key(keys.number(0), "packet_ms")},
}

# Kind of thing -> its table and its keys, for callers that change a thing later.
SPECS: Mapping[str, tuple[str, Mapping[str, Key]]] = {
    "device": ("device", DEVICE),
    "device.radio": ("device_radio", DEVICE_RADIO),
    "device.port": ("device_port", PORT),
    "device.unit": ("unit", UNIT),
    "device.firmware": ("firmware", FIRMWARE),
    "client": ("client", CLIENT),
    "client.radio": ("client_radio", CLIENT_RADIO),
    "client.driver": ("client_driver", DRIVER),
    "house": ("house", HOUSE),
    "session": ("session", SESSION | SESSION_LATER),
    "role": ("role", ROLE),
    "settings": ("settings", SETTINGS),
    "workload": ("workload", WORKLOAD),
    "workload.role": ("role", ROLE),
}


def toml_key(column: str) -> str:
    """The key behind a column, as messages name it."""
    for _, spec in SPECS.values():
        for name, key in spec.items():
            if key.column == column:
                return name
    return column
