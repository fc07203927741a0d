"""Surface temperatures as rises above the room, and the caution a hot surface carries."""

from __future__ import annotations

from typing import cast

from builder import wording
from builder.metrics.heat import rise_k, touch_caution
from catalog.records import Heat
from catalog.standards import Material


def rise_of(found: Heat) -> float | None:
    """The rise [K]; None where the room's temperature was not read."""
    return None if found.ambient_c is None else rise_k(found.reading_c, found.ambient_c)


def caution_sentence(found: Heat) -> str:
    """The caution of a surface above its touch limit; "" for one below."""
    limit = touch_caution(found.reading_c, cast(Material, found.material))
    if limit is None:
        return ""
    source = limit.source
    memory = ", from memory, check" if source.status == "memory" else ""
    return (
        f"Hot: the {found.face} read {wording.celsius(found.reading_c)}, above "
        f"{wording.trimmed(limit.limit_c[cast(Material, found.material)], 1)} °C, the limit for {found.material} "
        f"that is {limit.contact} ({source.document}, {source.clause}{memory})."
    )
