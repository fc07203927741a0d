"""What is listed of a device and not measured like a rate: heat, power, parts, features, prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

import numpy as np

from tests.benchmarks.generated.subjects import Device

Row = tuple[object, ...]
HEADERS: Mapping[str, Row] = {
    "heat": (
        "device",
        "face",
        "material",
        "reading_c",
        "ambient_c",
        "load",
        "minutes",
        "emissivity",
        "mount",
        "session",
    ),
    "power": ("device", "state", "watts", "side", "source_class"),
    "parts": ("device", "revision", "block", "marking", "count", "read"),
    "features": ("device", "feature", "step", "firmware", "date", "licence", "method", "evidence"),
    "prices": ("device", "date", "amount", "currency", "region", "tax_included", "condition", "licence_per_year"),
}
FEATURES = (
    "guest network",
    "local management",
    "fair sharing of the air",
    "beamforming",
    "fast roaming",
    "radar channels",
    "mesh uplink",
    "parental rules",
    "several links at once",
    "punctured channels",
    "schedule for the lights",
    "power for a phone",
)
_STEPS = ("promised", "present", "switchable", "on from the box", "works", "works", "fails")
_PARTS = (
    ("main processor", "Ombrel OX-"),
    ("5 GHz radio", "Castrane CR"),
    ("memory", "Transom M"),
    ("wired socket", "Quoin Q"),
)


def has_heat(device: Device) -> bool:
    return device.number % 5 != 4


def rows_of(device: Device, *, seed: int) -> dict[str, Sequence[Row]]:
    """Rows of every list, by its table."""
    rng = np.random.default_rng([seed, device.number, 5])
    version, session = device.versions[0], device.sessions[0]
    mount = "under the ceiling" if device.kind == "ceiling access point" else "on a desk"
    ambient = round(float(rng.normal(22, 1.5)), 1)
    faces = (
        (("cover", "plastic", 17.0), ("back plate", "metal", 24.0))[: 1 + device.number % 2] if has_heat(device) else ()
    )
    watts = 5 + 6 * float(rng.beta(2, 4))
    new = 60 + 10 * float(rng.pareto(3.0)) * 20
    dates = [device.day + timedelta(days=days) for days in (0, 240, 700)[: device.number % 4]]
    features = [FEATURES[(device.number * 5 + i * 7) % len(FEATURES)] for i in range(3 + device.number % 4)]
    return {
        "heat": [
            (
                device.id,
                face,
                stuff,
                round(ambient + rise * float(rng.uniform(0.5, 1.5)), 1),
                ambient,
                "all radios loaded",
                60,
                0.95,
                mount,
                session,
            )
            for face, stuff, rise in faces
        ],
        "power": [
            (device.id, state, round(watts * times, 1), "supply", 4 if mount == "under the ceiling" else "")
            for state, times in (("idle", 1.0), ("all radios loaded", 1.7), ("starting", 1.3))[: 2 + device.number % 2]
        ],
        "parts": [
            (
                device.id,
                f"{1 + device.number % 3}.0",
                block,
                f"{mark}{100 + device.number * 3 % 40}",
                1,
                "read" if i else "inferred",
            )
            for i, (block, mark) in enumerate(_PARTS)
            if device.number % 5 in (1, 2)  # those that were bought and opened
        ],
        "features": [
            (
                device.id,
                feature,
                step,
                version,
                device.day,
                "Plus" if i == 3 else "",
                "tried at the bench" if step == "works" else "menu",
                f"note {device.number}",
            )
            for i, feature in enumerate(features)
            for step in (_STEPS[int(rng.integers(len(_STEPS)))],)
        ],
        "prices": [
            (
                device.id,
                day,
                f"{new * (1 - 0.12 * i):.2f}",
                "USD" if device.number % 10 == 9 else "EUR",
                "DE",
                "yes",
                "new" if i < 2 else "used",
                24 if device.number % 8 == 5 else 0,
            )
            for i, day in enumerate(dates)
        ],
    }
