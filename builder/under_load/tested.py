"""Subjects of tests that are not cells: the firmware and unit that have runs of their kind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from builder import wording
from builder.bench.bench import Bench, Subject, firmware_by_date, subject_named
from catalog.figure_names import split_settings, subject_id


def tested_subject(
    bench: Bench, text: str, tests: Iterable[tuple[str, str, str]], *, unit: str | None, what: str
) -> Subject:
    """The subject that "device", "device@firmware" or one of them with "+settings" names.

    Without a firmware the latest public one that has such tests; without a unit the first that has any. The note also
    names other firmware that has such tests.

    tests   (device or subject under settings, unit, firmware) of every test of the kind
    what    the tests in a note: "runs with several clients"
    Raises  UnknownName as `subject` does.
    """
    plain, named = split_settings(text, bench.settings)
    device = plain.partition("@")[0]
    identifier = subject_id(device, bench.settings[named].settings_id if named else None)
    tested = {(u, firmware) for name, u, firmware in tests if name == identifier}
    result = subject_named(bench, text, unit=unit, tests=tested, what=what)
    versions = {firmware for _, firmware in tested} - {result.firmware}
    others = [f.version for f in firmware_by_date(bench.devices[device]) if f.version in versions]
    if "@" in plain or not others:
        return result
    note = f"Firmware {wording.listing(others)} has {what}, too; ask for it by name."
    return replace(result, note=f"{note} {result.note}".rstrip())
