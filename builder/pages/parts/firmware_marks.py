"""Which firmware gave a value, with a mark where a later one is current for the device."""

from __future__ import annotations

from builder.bench.bench import Subject
from builder.bench.cells import Cell
from builder.pages.contents import Results
from builder.pages.parts.blocks import Entry
from builder.under_load.broken_runs import firmware_state
from builder.under_load.collapses import Mix
from catalog.records import LongRun

Tested = Subject | Cell | Mix | LongRun  # each is of one unit with one firmware


def older_mark(results: Results, device: str, firmware: str) -> str:
    """ "older: 6.1.0 is current"; "" for the current firmware, and for one that is newer and not public."""
    current = results.current_firmware(device)
    if firmware_state(results.bench, device, firmware, current=current) != "older":
        return ""
    return f"older: {current} is current"


def firmware_words(results: Results, tested: Tested) -> str:
    """ "6.0.4, unit A (older: 6.1.0 is current)"."""
    mark = older_mark(results, tested.device, tested.firmware)
    return f"{tested.firmware}, unit {tested.unit}{f' ({mark})' if mark else ''}"


def firmware_entry(results: Results, tested: Tested) -> Entry:
    """ "6.0.4, A", with the mark below it."""
    return Entry(text=f"{tested.firmware}, {tested.unit}", note=older_mark(results, tested.device, tested.firmware))
