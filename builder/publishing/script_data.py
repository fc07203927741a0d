"""Every piece of data that scripts read when a reader asks for it, each a script of its own."""

from __future__ import annotations

from builder import addresses
from builder.pages.material import Material
from builder.pages.my_room import room_groups
from builder.publishing.assets import Asset
from builder.publishing.room_data import room_data
from builder.publishing.scripts import data_script


def script_data(material: Material) -> list[Asset]:
    """All of it, in order of address."""
    found = {f"rooms/{group.slug}": room_data(material, group) for group in room_groups(material)}
    return [Asset(addresses.script_data(key), data_script(key, value)) for key, value in sorted(found.items())]
