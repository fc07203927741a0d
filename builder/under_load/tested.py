"""Subjects of tests that are no cells: the firmware and unit that have runs of their kind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from builder import wording
from builder.bench.bench import Bench, Subject, firmware_by_date, subject
from builder.bench.cells import natural


def tested_subject(
    bench: Bench, text: str, tests: Iterable[tuple[str, str, str]], *, unit: str | None, what: str
) -> Subject:
    """The subject that "device" or "device@firmware" names.

    Without a firmware the latest public one that has such tests; without a unit the first that has. The note says
    what was chosen, and names history.

    tests   (device, unit, firmware) of every test of the kind
    what    the tests in a note: "runs with several clients"
    Raises  UnknownName as `subject` does.
    """
    who = subject(bench, text, unit=unit)
    own = [(u, firmware) for device, u, firmware in tests if device == who.device]
    notes: list[str] = []
    firmware = who.firmware
    if "@" not in text:
        tested = {version for _, version in own}
        order = [f for f in firmware_by_date(bench.devices[who.device]) if f.version in tested]
        chosen = [f for f in order if f.public] or order
        firmware = chosen[-1].version if chosen else firmware
        if others := [f.version for f in order if f.version != firmware]:
            notes.append(f"Firmware {wording.listing(others)} has {what}, too; ask for it by name.")
    if unit is None:
        units = sorted({u for u, version in own if version == firmware}, key=natural)
        unit = units[0] if units else who.unit
        if len(units) > 1:
            notes.append(f"Several units have {what} ({', '.join(units)}); unit {unit} was taken.")
    return replace(who, firmware=firmware, unit=unit, note=" ".join(notes))
