"""Subjects as verbs print them: what a comparison or a question is about."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from builder.bench.bench import Subject


def side_json(side: Subject) -> dict[str, str | None]:
    """Device, unit, firmware and settings, null for none."""
    return {"device": side.device, "unit": side.unit, "firmware": side.firmware, "settings": side.settings or None}


def side_name(side: Subject) -> str:
    """ "Tessarik Cupola with one link at a time"."""
    return f"{side.maker} {side.model}{f' with {side.under}' if side.under else ''}"


def side_text(side: Subject) -> str:
    """The name, with the unit and the firmware that was tested."""
    return f"{side_name(side)} (unit {side.unit}, firmware {side.firmware or 'none with results'})"
