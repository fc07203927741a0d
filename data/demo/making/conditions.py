"""The settings under which the bench measured a device otherwise than always."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Settings:
    """Named conditions of a test.

    conditions  the keys of batch.toml
    lower_db    how much less the device sends [dB]
    """

    id: str
    title: str
    batch: str
    conditions: dict[str, object]
    lower_db: float = 0.0


SETTINGS = (
    Settings(
        id="links-on",
        title="Both links at once",
        batch="2025-06-full-house",
        conditions={"multi_link": "on", "links": ["5", "6"]},
    ),
    Settings(
        id="links-off",
        title="One link at a time",
        batch="2025-06-full-house",
        conditions={"multi_link": "off"},
    ),
    Settings(
        id="low-power",
        title="Power at its lowest step",
        batch="2025-06-full-house",
        conditions={"power": "low"},
        lower_db=9.0,
    ),
)
BY_ID = {settings.id: settings for settings in SETTINGS}


def lower_db(settings: str) -> float:
    """How much less the device sends under *settings*; "" is as always. [dB]"""
    return BY_ID[settings].lower_db if settings else 0.0
