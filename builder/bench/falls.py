"""How steeply a device's values fall at one spot: what an error of placement costs there (method.md, section 3)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.bench.bench import Bench
from builder.bench.cells import Cell
from builder.bench.reference import slope_around
from builder.bench.tracks import Track
from catalog.method import PRACTICE_SLOPE_PER_DB


@dataclass(frozen=True, slots=True)
class Fall:
    """slope [Mbit/s per dB]; assumed: by practice, because neither the device's line nor a reference device shows it."""

    slope: float
    assumed: bool = False


def fall_at(bench: Bench, cells: Sequence[Cell], line: Track | None) -> Fall:
    """The fall of one device at a spot.

    cells  its cells there
    line   of all its cells of the group: its slope, by least squares over the knots within 12 dB; without two of them
           the reference device's median relative slope in that group, else practice
    """
    total = sum(cell.n for cell in cells)
    if not total:
        return Fall(0.0)
    losses = [cell.attenuation_db for cell in cells if cell.attenuation_db is not None]
    if line is not None and losses:
        slope = slope_around(losses[0], line.line.x, line.line.y)
        if slope is not None:
            return Fall(slope)
    mean = sum(cell.n * (cell.mean or 0.0) for cell in cells) / total
    relative = bench.relative_slope(cells[0].group)
    return Fall(mean * relative) if relative is not None else Fall(-mean * PRACTICE_SLOPE_PER_DB, assumed=True)
