"""Every piece of data that scripts read when a reader asks for it, each a script of its own."""

from __future__ import annotations

from typing import Any

from builder import addresses
from builder.comparisons.pair_parts import PAIR_WORDS
from builder.pages.device_card import card_key, device_card
from builder.pages.material import Material
from builder.pages.search import DATA_KEY, everything_named
from builder.publishing.assets import Asset
from builder.publishing.pair_data import pair_data, pair_words
from builder.publishing.room_data import room_data
from builder.publishing.scripts import data_script


def script_data(material: Material) -> list[Asset]:
    """All of it, in order of address."""
    found: dict[str, Any] = {f"rooms/{group}": room for group, room in room_data(material).items()}
    found |= {PAIR_WORDS: pair_words()} | pair_data(material)
    found |= {card_key(device): _card(material, device) for device in material.bench.devices}
    found[DATA_KEY] = [
        {"kind": named.kind, "href": named.address, "names": named.names} for named in everything_named(material)
    ]
    return [Asset(addresses.script_data(key), data_script(key, value)) for key, value in sorted(found.items())]


def _card(material: Material, device_id: str) -> list[list[str]]:
    """(term, text, address of a page or "") of a device's card."""
    return [[fact.term, fact.text, fact.href] for fact in device_card(material, device_id)]
