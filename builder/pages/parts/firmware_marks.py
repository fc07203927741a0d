"""The mark of a value that was measured with an older firmware than the device's current one."""

from __future__ import annotations

from builder.pages.contents import Results
from builder.under_load.broken_runs import firmware_state


def older_mark(results: Results, device: str, firmware: str) -> str:
    """ "older: 6.1.0 is current"; "" for the current firmware, and for one that is newer and not public."""
    current = results.current_firmware(device)
    if firmware_state(results.bench, device, firmware, current=current) != "older":
        return ""
    return f"older: {current} is current"


def firmware_words(results: Results, device: str, firmware: str, unit: str) -> str:
    """ "6.0.4, unit A (older: 6.1.0 is current)"."""
    mark = older_mark(results, device, firmware)
    return f"{firmware}, unit {unit}{f' ({mark})' if mark else ''}"
