"""The mark of a value that an older firmware gave than the one that is current for the device."""

from __future__ import annotations

from builder.pages.material import Material
from builder.under_load.broken_runs import firmware_state


def older_mark(material: Material, device: str, firmware: str) -> str:
    """ "older: 6.1.0 is current"; "" for the current firmware, and for one that is newer and not public."""
    current = material.current_firmware(device)
    if firmware_state(material.bench, device, firmware, current=current) != "older":
        return ""
    return f"older: {current} is current"


def firmware_words(material: Material, device: str, firmware: str, unit: str) -> str:
    """ "6.0.4, unit A (older: 6.1.0 is current)"."""
    mark = older_mark(material, device, firmware)
    return f"{firmware}, unit {unit}{f' ({mark})' if mark else ''}"
