"""One device's line at any covered place: the value, its interval, and samples from which a page can do the same.

The value between two knots is a straight line, so a script draws it from the knots alone. The interval is not: its
squared half-width changes between two knots as a quadratic does, but for the degrees of freedom, which change slowly.
Three samples a piece give it back to well within one part in a hundred.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from builder import wording
from builder.comparisons.bench import Bench
from builder.comparisons.judging import difference_uncertainty
from builder.comparisons.tracks import Track
from builder.comparisons.uncertainty import Weighted

# Places between two knots at which the interval is sampled, as shares of the way. Never a knot itself: there the
# slope is that of both neighbours, and the interval another.
SAMPLED_AT = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True)
class LinePoint:
    """The line at one place.

    value       [Mbit/s]
    half_width  of the 95 % interval; None for a bound and for a single run without a spread [Mbit/s]
    bound       a cell behind it is held back by the client or the lab
    """

    value: float
    half_width: float | None
    bound: bool


def line_point(bench: Bench, track: Track, x: float) -> LinePoint | None:
    """One device at a loss of *x* dB, with the terms of method section 3; None where it was not tested."""
    if not track.line.covers(x, x):
        return None
    weighted = track.at(x)
    bound = any(cell.bound for cell, _, _ in weighted.entries())
    return LinePoint(weighted.mean, None if bound else _half_width(bench, track, weighted), bound)


def sampled_half_widths(bench: Bench, track: Track) -> tuple[tuple[float, ...] | None, ...]:
    """Half-widths at SAMPLED_AT between each two neighbouring knots; None where there is no line or no interval."""
    x = [float(v) for v in track.line.x]
    found: list[tuple[float, ...] | None] = []
    for left, right in pairwise(x):
        points = [line_point(bench, track, left + share * (right - left)) for share in SAMPLED_AT]
        halves = [point.half_width for point in points if point is not None and point.half_width is not None]
        found.append(tuple(halves) if len(halves) == len(SAMPLED_AT) else None)
    return tuple(found)


def tested_text(track: Track) -> str:
    """Where a line runs: "45–60 dB", or its stretches, "45–50 and 65–80 dB"."""
    return f"{wording.listing([wording.db_range(*piece) for piece in track.line.pieces()])} dB"


def _half_width(bench: Bench, track: Track, weighted: Weighted) -> float | None:
    spread = difference_uncertainty(bench, (weighted,), match="attenuation", pool=track.cells)
    return None if spread is None else spread.half_width
