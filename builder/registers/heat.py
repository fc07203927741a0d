"""Surface temperatures as rises above the room, and the caution a hot surface carries."""

from __future__ import annotations

from typing import cast

from builder import wording
from builder.metrics.heat import rise_k, rises_separated, touch_caution
from builder.pairs import refusals
from builder.pairs.refusals import Refusal
from builder.windows.claims import Claim
from catalog.records import Heat
from catalog.standards import Material


def rise_of(result: Heat) -> float | None:
    """The rise [K]; None where the room's temperature was not read."""
    return None if result.ambient_c is None else rise_k(result.reading_c, result.ambient_c)


def caution_sentence(result: Heat) -> str:
    """The caution of a surface above its touch limit; "" for one below."""
    limit = touch_caution(result.reading_c, cast(Material, result.material))
    if limit is None:
        return ""
    source = limit.source
    memory = ", from memory, check" if source.status == "memory" else ""
    return (
        f"Hot: the {result.face} read {wording.celsius(result.reading_c)}, above "
        f"{wording.trimmed(limit.limit_c[cast(Material, result.material)], 1)} °C, the limit for {result.material} "
        f"that is {limit.contact} ({source.document}, {source.clause}{memory})."
    )


def hotter_claim(a: Heat, b: Heat, *, name_a: str, name_b: str) -> Claim | Refusal:
    """Which of two surfaces rises more above its room, at one load after equal minutes on one material."""
    unlike = [
        what
        for what, differs in (
            ("load", a.load != b.load),
            ("minutes", a.minutes != b.minutes),
            ("material", a.material != b.material),
            ("mount", a.mount != b.mount),
            ("settings", a.settings != b.settings),
        )
        if differs
    ]
    if unlike:
        return Refusal("unequal-conditions", refusals.heat_unlike(name_a, name_b, wording.listing(unlike)))
    rise_a, rise_b = rise_of(a), rise_of(b)
    if rise_a is None or rise_b is None:
        return Refusal("unequal-conditions", refusals.heat_without_room(name_a if rise_a is None else name_b))
    if not rises_separated(rise_a, rise_b):
        texts = name_a, wording.kelvin(rise_a), name_b, wording.kelvin(rise_b)
        return Refusal("heat-within-reading", refusals.heat_within_reading(*texts))
    hot, cool = (name_a, name_b) if rise_a > rise_b else (name_b, name_a)
    return Claim(f"{hot} rises {wording.kelvin(abs(rise_a - rise_b))} more above the room than {cool}.", ())
