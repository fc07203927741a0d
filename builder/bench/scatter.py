"""What is known of how a bench scatters: declared, learnt from its reference device, or assumed (method.md, section 3)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from catalog.method import PRACTICE_SESSION_SPREAD, PRACTICE_SIGMA_DB, Constants

Source = Literal["measured", "declared", "assumed"]


@dataclass(frozen=True, slots=True)
class DaySpread:
    """Day-to-day spread of one house as a fraction, over how many sessions it was seen, and where it comes from."""

    fraction: float
    df: float
    source: Source
    sessions: int = 0


@dataclass(frozen=True, slots=True)
class Placement:
    """Scatter of standing at a spot again, in one house. [dB]"""

    sigma_db: float
    df: float
    source: Source
    sessions: int = 0


ASSUMED_SPREAD = DaySpread(PRACTICE_SESSION_SPREAD, math.inf, "assumed")
ASSUMED_PLACEMENT = Placement(PRACTICE_SIGMA_DB, math.inf, "assumed")


@dataclass(frozen=True, slots=True)
class Scatter:
    """Everything that the terms of section 3 take beside the measured cells.

    days, placements  by house
    """

    constants: Constants
    days: Mapping[str, DaySpread] = field(default_factory=dict)
    placements: Mapping[str, Placement] = field(default_factory=dict)

    def day(self, house: str) -> DaySpread:
        """Day-to-day spread of a house."""
        return self.days.get(house, ASSUMED_SPREAD)

    def placement(self, house: str) -> Placement:
        """Scatter of standing at a spot of a house again."""
        return self.placements.get(house, ASSUMED_PLACEMENT)

    def with_days_doubled(self) -> Scatter:
        """The same, were days to scatter twice as much wherever that is only assumed."""
        doubled = replace(ASSUMED_SPREAD, fraction=2 * ASSUMED_SPREAD.fraction)
        return replace(
            self, days={house: doubled if day.source == "assumed" else day for house, day in self.days.items()}
        )

    @property
    def kit_sigma_db(self) -> float:
        """Offset of one reference source and receiver."""
        return _declared_or_practice(self.constants.calibration_sigma_db)

    @property
    def level_sigma_db(self) -> float:
        """Error of one received level."""
        return _declared_or_practice(self.constants.level_sigma_db)


def _declared_or_practice(value: float | None) -> float:
    return PRACTICE_SIGMA_DB if value is None else value
