"""Touch limits of IEC 62368-1 and burn thresholds of ISO 13732-1, all from memory: cautions only."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from catalog.standards.sources import Source

Material = Literal["metal", "glass", "plastic", "other"]


@dataclass(frozen=True)
class TouchLimit:
    """Temperature of a surface above which a caution is printed; never a statement that something is unsafe.

    contact  how long it is touched
    limit_c  by material, as measured at 25 °C ambient. [°C]
    """

    contact: str
    limit_c: Mapping[Material, float]
    source: Source


_IEC_TOUCH = Source("IEC 62368-1:2018", "table 38, TS1", "memory")
_ISO_BURN = Source("ISO 13732-1:2006", "table 1", "memory")


def _limits(metal: float, glass: float, plastic: float) -> Mapping[Material, float]:
    """Metal has the lowest limit at every contact time, so a material that is not named is judged by it."""
    return MappingProxyType({"metal": metal, "glass": glass, "plastic": plastic, "other": metal})


HELD = TouchLimit("held, 1 min and more", _limits(48, 48, 48), _IEC_TOUCH)
"""The row that fits an access point: whoever takes it down holds it until it is off its mount and its cable."""

TOUCH_LIMITS: tuple[TouchLimit, ...] = (
    HELD,
    TouchLimit("held for short periods, 10 s to 1 min", _limits(51, 56, 60), _IEC_TOUCH),
    TouchLimit("touched occasionally, 1 to 10 s", _limits(60, 71, 77), _IEC_TOUCH),
    TouchLimit("need not be touched to operate, under 1 s", _limits(70, 85, 94), _IEC_TOUCH),
)
"""Touch limits by contact time, longest first. Not read in the standard: they only ever produce a caution."""

BURN_THRESHOLDS: tuple[TouchLimit, ...] = (
    TouchLimit("burn threshold, contact of 8 h and longer", _limits(43, 43, 43), _ISO_BURN),
    TouchLimit("burn threshold, contact of 10 min", _limits(48, 48, 48), _ISO_BURN),
    TouchLimit("burn threshold, contact of 1 min", _limits(51, 56, 60), _ISO_BURN),
)
"""Burn thresholds of ergonomics, longest contact first; data for a caution, not a pass mark."""
