"""One device's share in a figure: a weighted mean of its cells, for which method section 3 gives the uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Cell

Match = Literal["attenuation", "level", "spot"]


@dataclass(frozen=True, slots=True)
class Weighted:
    """The cells of one device, their weights (adding to 1) and the slope of its line.

    cells  those that lend a spread to single runs, too; of them the ones with a weight make the mean
    slope  used by the terms along the axis. [Mbit/s per dB]
    slope_assumed  it is one by practice
    sign   +1 or -1: how the mean enters the figure
    """

    cells: tuple[Cell, ...]
    weights: tuple[float, ...]
    slope: float
    sign: int = 1
    slope_assumed: bool = False

    @property
    def used(self) -> list[Cell]:
        """The cells that take part; one of weight 0 plays no part."""
        return [cell for cell, weight in zip(self.cells, self.weights, strict=True) if weight and cell.mean is not None]

    @property
    def mean(self) -> float:
        """Weighted mean, without its sign. [Mbit/s]"""
        return sum(weight * (cell.mean or 0.0) for cell, weight in zip(self.cells, self.weights, strict=True))

    @property
    def bound(self) -> bool:
        """Whether the mean is only a lower bound: a cell in it is one."""
        return any(cell.bound for cell in self.used)

    @property
    def at_port(self) -> bool:
        """Whether a cell that takes part was held back by the device's own port."""
        return any(cell.limit in PORT_LIMITS for cell in self.used)

    @property
    def runs(self) -> int:
        """Finished runs behind the mean."""
        return sum(cell.n for cell in self.used)
