"""Surface temperature and drawn power. °C, differences in K, power in W; nothing here rounds."""

from dataclasses import dataclass

from catalog.standards import HELD, POE_CLASSES, Material, PoeClass, Side, TouchLimit

READING_K = 2.0
"""What one reading of a surface or a room is good to (practice). [K]"""

SEPARATED_FROM_K = 3.0
"""Two rises closer than this are not separated: each reading is good to about 2 K (practice). [K]"""


def rise_k(reading_c: float, ambient_c: float) -> float:
    """How much warmer a surface is than the room. [K]

    reading_c  surface. [°C]
    ambient_c  room, read at the same time. [°C]
    Source     method section 10.
    """
    return reading_c - ambient_c


def rises_separated(rise_a_k: float, rise_b_k: float) -> bool:
    """Whether two rises are at least 3 K apart; closer ones are "not separated". [K]

    Only rises at the same load, after the same minutes and on the same material may be asked about.

    Source  method section 10: ± 2 K a reading (practice).
    """
    # Readings in tenths of a degree differ by 2.9999999999999996 K where they differ by 3.
    return abs(rise_a_k - rise_b_k) >= SEPARATED_FROM_K - 1e-9


def touch_caution(reading_c: float, material: Material, *, limit: TouchLimit = HELD) -> TouchLimit | None:
    """The touch limit that a surface is above, or None. A caution, never a statement about safety.

    The reading is compared as it was read: limits hold at 25 °C and are not moved to another room.

    reading_c  surface. [°C]
    material   a material nobody named is judged like metal.
    limit      row of the limits to judge by; the default is the one for a thing that is taken down.
    Source     IEC 62368-1:2018, table 38 (from memory, check).
    """
    return limit if reading_c > limit.limit_c[material] else None


def least_poe_class(watts: float, side: Side) -> PoeClass | None:
    """The smallest power class that allows a measured power; None where even the largest does not.

    watts   measured, at least 0. [W]
    side    where it was read; the cable between may take the difference.
    Raises  ValueError for a negative power.
    Source  IEEE 802.3-2022, 33 and 145.
    """
    if watts < 0:
        raise ValueError(f"watts must be at least 0, got {watts}")
    # Class 0 is class 3 for a device that does not say its class, so it is never the answer.
    classes = sorted((c for c in POE_CLASSES.values() if c.number), key=lambda c: c.device_w)
    return next((c for c in classes if watts <= c.limit_w(side)), None)


@dataclass(frozen=True)
class PowerContradiction:
    """A measured power that the promised class does not allow.

    limit_w      of the promised class on the side that was measured. [W]
    needed       smallest class that allows it; None: none does
    """

    watts: float
    side: Side
    promised: PoeClass
    limit_w: float
    needed: PoeClass | None


def power_contradiction(watts: float, side: Side, promised_class: int) -> PowerContradiction | None:
    """Whether a measured power exceeds the limit of the promised class on the side it was read on.

    watts           measured, at least 0. [W]
    side            where it was read.
    promised_class  0 to 8. [1]
    Returns         None where the class allows it.
    Raises          ValueError for a negative power or a class that does not exist.
    Source          IEEE 802.3-2022, 33 and 145.
    """
    if promised_class not in POE_CLASSES:
        raise ValueError(f"a power class is 0 to 8, got {promised_class}")
    needed = least_poe_class(watts, side)
    promised = POE_CLASSES[promised_class]
    limit_w = promised.limit_w(side)
    if watts <= limit_w:
        return None
    return PowerContradiction(
        watts=watts,
        side=side,
        promised=promised,
        limit_w=limit_w,
        needed=needed,
    )
