"""One device's line at any covered place: the value, its interval, and samples from which a page can draw the same.

The value between two knots is a straight line, so a script draws it from the knots alone. The interval is not: its
squared half-width changes between two knots as a quadratic does, but for the degrees of freedom, which change slowly.
Three samples per piece reproduce it to well within one part in a hundred.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.bench.bench import Bench
from builder.bench.joined_line import joined, point_weights
from builder.bench.sides import Floats, PaddedLines, Whole, padded_lines
from builder.bench.tracks import Track
from builder.bench.uncertainty import side_sums, uncertainties, value_uncertainty
from builder.bench.weighted import Match
from builder.metrics.intervals import half_width

# Places between two knots at which the interval is sampled, as shares of the way. Never a knot itself: there the
# slope is that of both neighbours, and the interval another.
SAMPLED_AT = (0.05, 0.5, 0.95)


@dataclass(frozen=True, slots=True)
class LinePoint:
    """The line at one place.

    value       [Mbit/s]
    half_width  of the 95 % interval; None for a bound and for a single run without a spread [Mbit/s]
    bound       a cell behind it is held back by the client or the lab
    at_port     a cell behind it is held back by the device's own port
    """

    value: float
    half_width: float | None
    bound: bool
    at_port: bool


def line_point(bench: Bench, track: Track, x: float) -> LinePoint | None:
    """One device at a loss of *x* dB, with the terms of method section 3; None where it was not tested."""
    if not track.line.covers(x, x):
        return None
    weighted = track.at(x)
    uncertainty = None if weighted.bound else value_uncertainty(bench, weighted, match="attenuation")
    half_width = None if uncertainty is None else uncertainty.half_width
    return LinePoint(weighted.mean, half_width, weighted.bound, weighted.at_port)


@dataclass(frozen=True, slots=True)
class LineIntervals:
    """Half-widths of the 95 % intervals along one line; nan where there is none. [Mbit/s]

    at_knots  shape (k,)
    between   at SAMPLED_AT between each two neighbouring knots, shape (k - 1, samples)
    """

    at_knots: Floats
    between: Floats


def line_intervals(bench: Bench, tracks: Sequence[Track]) -> list[LineIntervals]:
    """The intervals along the lines of one group, of all devices at once: what `line_point` gives, place by place."""
    if not tracks:
        return []
    lines = padded_lines(tracks, bench.scatter)
    at_knots = _at_knots(bench, lines, "attenuation")
    drawn = joined(lines.x)
    piece, side = np.nonzero(drawn)
    between = np.full((len(SAMPLED_AT), *drawn.shape), np.nan)
    for sample, share in enumerate(SAMPLED_AT):
        between[sample, piece, side] = _half_widths(
            bench, lines, side, (piece, piece + 1), (piece, np.full(len(piece), share)), "attenuation"
        )
    return [
        LineIntervals(at_knots[:count, number], between[:, : max(count - 1, 0), number].T)
        for number, count in enumerate(lines.knots.tolist())
    ]


def knot_half_widths(bench: Bench, tracks: Sequence[Track], *, match: Match) -> Floats:
    """Half-widths of the 95 % intervals at the knots of lines, shape (k, s); nan where there is none. [Mbit/s]"""
    return _at_knots(bench, padded_lines(tracks, bench.scatter), match)


def _at_knots(bench: Bench, lines: PaddedLines, match: Match) -> Floats:
    """Half-widths at all knots of all lines, shape (k, s); at a knot the slope is that between both neighbours."""
    drawn, edge = joined(lines.x), np.zeros((1, lines.x.shape[1]), dtype=np.bool_)
    knot, side = np.nonzero(~np.isnan(lines.x))
    around = knot - np.vstack([edge, drawn])[knot, side], knot + np.vstack([drawn, edge])[knot, side]
    at_knots = np.full(lines.x.shape, np.nan)
    at_knots[knot, side] = _half_widths(bench, lines, side, around, (knot, np.zeros(len(knot))), match)
    return at_knots


def _half_widths(
    bench: Bench, lines: PaddedLines, side: Whole, around: tuple[Whole, Whole], at: tuple[Whole, Floats], match: Match
) -> Floats:
    """Half-widths at r places, shape (r,); nan for a bound and for a single run without a spread.

    around  knots between which the slope is taken
    at      the knot before the place, and the share of the way to the next one
    """
    x, y = lines.x, lines.y
    left, right = around
    length = x[right, side] - x[left, side]
    slope = np.divide(y[right, side] - y[left, side], length, out=np.zeros(len(side)), where=length > 0)
    weights = lines.cell_weights(point_weights(*at, len(x)), side)
    sums = side_sums(lines.cells, side, weights, slope, match=match, scatter=bench.scatter)
    uncertainty = uncertainties(lines.cells, sums, np.arange(len(side)), scatter=bench.scatter)
    return np.where(sums.bound | ~uncertainty.known, np.nan, half_width(uncertainty.u, uncertainty.df))
