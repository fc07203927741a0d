"""Where the 95 % band of a line crosses a rate: the interval of a reach (method.md, section 5)."""

from __future__ import annotations

import numpy as np

from builder.bench.bench import Bench
from builder.bench.joined_line import SAME_X_DB, joined, places_on, point_weights, slopes_through
from builder.bench.sides import Floats, PaddedLines, padded_lines
from builder.bench.tracks import Track
from builder.bench.uncertainty import side_sums, uncertainties
from builder.metrics.intervals import half_width
from catalog.method import SLOPE_WITHIN_DB

_COARSE_DB = 0.25  # steps in which the first crossing is looked for
_FINE = 64  # steps of a coarse one, between which the band is straight to 1e-5 dB


def band_crossings(
    bench: Bench, track: Track, rate: float, *, until: float
) -> tuple[float | None, float | None] | None:
    """Losses at which the lower and the upper end of a line's band first fall below *rate*; None for an end that does
    not within the tested range. None for both where the line has no band at its own reach: single runs. [dB]

    until  the line's own reach, where the band has to be known from the knot before it. [dB]
    """
    lines = padded_lines([track], bench.scatter)
    x = track.line.x
    steps = max(2, int(np.ceil((x[-1] - x[0]) / _COARSE_DB)) + 1)
    coarse = np.unique(np.concatenate([np.linspace(x[0], x[-1], steps), x]))
    ends = _band(bench, lines, coarse)
    piece = x[max(0, int(np.searchsorted(x, until - SAME_X_DB)) - 1)]
    if np.isnan(ends[:, (coarse >= piece - SAME_X_DB) & (coarse <= until + SAME_X_DB)]).any():
        return None
    crossings: list[float | None] = []
    for end, values in enumerate(ends):
        below = np.flatnonzero(values < rate)
        if not len(below):
            crossings.append(None)
            continue
        first = int(below[0])
        if first == 0 or np.isnan(values[first - 1]):
            crossings.append(None if first == 0 else float(coarse[first]))
            continue
        crossings.append(_refined(bench, lines, coarse[first - 1], coarse[first], rate, end))
    return crossings[0], crossings[1]


def _refined(bench: Bench, lines: PaddedLines, left: float, right: float, rate: float, end: int) -> float:
    """The crossing between two places a coarse step apart, on the lower (0) or the upper end (1) of the band."""
    fine = np.linspace(left, right, _FINE + 1)
    values = _band(bench, lines, fine)[end]
    first = int(np.flatnonzero(values < rate)[0])
    if first == 0:
        return float(fine[0])
    high, low = values[first - 1], values[first]
    return float(fine[first - 1] + (fine[first] - fine[first - 1]) * (high - rate) / (high - low))


def _band(bench: Bench, lines: PaddedLines, at: Floats) -> Floats:
    """Lower and upper end of the band at r places of the one line, shape (2, r); nan in gaps and where there is none.

    The slope that the terms along the axis take is that of all knots within 12 dB.
    """
    x, one = lines.x, np.zeros(len(at), dtype=np.intp)
    slopes = slopes_through(x, lines.y, np.abs(x - at) <= SLOPE_WITHIN_DB + SAME_X_DB)
    knot, share = places_on(x, at)
    weights = lines.cell_weights(point_weights(knot, share, len(x)), one)
    sums = side_sums(lines.cells, one, weights, slopes, match="attenuation", scatter=bench.scatter)
    uncertainty = uncertainties(lines.cells, sums, np.arange(len(at)), scatter=bench.scatter)
    drawn = (share == 0) | (share == 1) | np.append(joined(x)[:, 0], False)[knot]
    half = np.where(uncertainty.known & ~sums.bound & drawn, half_width(uncertainty.u, uncertainty.df), np.nan)
    return np.stack([sums.mean - half, sums.mean + half])
