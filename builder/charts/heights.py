"""Between values on y and px from the top of a plot."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Heights:
    """A plot *height* px high from *low* at its foot to *high* at its top. [unit of y]"""

    low: float
    high: float
    height: int

    def px(self, value: float) -> float:
        """From the top of the plot. [px]"""
        return (self.high - value) / (self.high - self.low) * self.height

    def value(self, px: float) -> float:
        """Cut to a hundredth of a px, so that the specification stays short."""
        span = self.high - self.low
        return round(self.high - px / self.height * span, 2 + max(0, 2 - math.ceil(math.log10(span))))
