"""A device against its own past: each tested firmware against the tested one before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from builder.bench.bench import Bench, firmware_by_date, subject_named
from builder.bench.cells import Group, natural
from builder.pairs.pairing import Pairing, pairing


@dataclass(frozen=True, slots=True)
class Step:
    """A tested firmware and the tested one before it, on the same unit.

    pairing  None where no unit was tested with both
    """

    newer: str
    older: str
    pairing: Pairing | None


def firmware_steps(bench: Bench, device_id: str, *, company: Mapping[Group, int]) -> list[Step]:
    """One entry for each tested firmware but the first, oldest first. *company* as in `pairing`."""
    device = bench.devices[device_id]
    tested = {c.firmware for c in bench.cells_of.get(device_id, ()) if c.mean is not None}
    order = [f.version for f in firmware_by_date(device) if f.version in tested]
    return [_step(bench, device_id, older, newer, company) for older, newer in pairwise(order)]


def _step(bench: Bench, device_id: str, older: str, newer: str, company: Mapping[Group, int]) -> Step:
    units = [
        {c.unit for c in bench.cells_of[device_id] if c.firmware == version and c.mean is not None}
        for version in (older, newer)
    ]
    common = sorted(units[0] & units[1], key=natural)
    if not common:
        return Step(newer, older, None)
    after, before = (subject_named(bench, f"{device_id}@{version}", unit=common[0]) for version in (newer, older))
    return Step(newer, older, pairing(bench, after, before, company=company))


def step_key(step: Step) -> str:
    """Fragment of a step on the device's page."""
    return f"firmware~{step.older}~{step.newer}"
