"""Every piece of data that scripts read when a reader asks for it, each a script of its own."""

from __future__ import annotations

from typing import Any

from builder import addresses
from builder.pages.contents import Contents, Results
from builder.pages.my_room import room_groups, room_key
from builder.pages.parts.device_card import card_key, device_card
from builder.pages.search import DATA_KEY, everything_named
from builder.pairs.pair_parts import PAIR_WORDS
from builder.publishing.files.assets import Asset
from builder.publishing.files.pair_data import pair_data, pair_devices, pair_files, pair_words
from builder.publishing.files.room_data import room_data
from builder.publishing.files.script_inputs import script_inputs
from builder.publishing.files.scripts import data_script

# Key of a file of data -> digest of what it was made from, and the file.
Kept = dict[str, tuple[str, bytes]]


def script_data(contents: Contents, *, kept: Kept | None = None) -> list[Asset]:
    """All of it, in order of address.

    kept  as compared_data takes it; None keeps nothing
    """
    found: dict[str, Any] = {PAIR_WORDS: pair_words()}
    found |= {card_key(device): _card(contents, device) for device in contents.results.bench.devices}
    found[DATA_KEY] = [
        {"kind": named.kind, "href": named.address, "names": named.names}
        for named in everything_named(contents.catalogue, contents.results)
    ]
    files = {key: data_script(key, value) for key, value in found.items()}
    files |= compared_data(contents.results, {} if kept is None else kept)
    return [Asset(addresses.script_data(key), content) for key, content in sorted(files.items())]


def compared_data(results: Results, kept: Kept) -> dict[str, bytes]:
    """The files of pairs and of my room, by key.

    kept  what was made before: taken where its inputs are the same, and brought up to date
    """
    rooms = {room_key(group): group for group in room_groups(results)}
    devices = pair_devices(results)
    files = pair_files(devices)
    inputs = script_inputs(results, files, devices, list(rooms.values()))
    stale = {key for key, digest in inputs.items() if key not in kept or kept[key][0] != digest}
    made: dict[str, Any] = room_data(results, [group for key, group in rooms.items() if key in stale])
    made |= pair_data(results, [file for file in files if file.key in stale])
    for key in [key for key in kept if key not in inputs]:
        del kept[key]
    kept.update((key, (inputs[key], data_script(key, value))) for key, value in made.items())
    return {key: content for key, (_, content) in kept.items()}


def _card(contents: Contents, device_id: str) -> list[list[str]]:
    """(term, text, address of a page or "") of a device's card."""
    return [[fact.term, fact.text, fact.href] for fact in device_card(*contents, device_id)]
