"""Shared ranges of many pairs of lines at once, and what each line's cells weigh over them (method.md, section 2).

The set-wise twin of `joined_line` and of the refusals of `compare`: one step here does for p pairs what those do for
one, in the same order.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from builder.bench.joined_line import SAME_X_DB, places_on, point_weights, range_weights, slopes_through
from builder.bench.sides import Flags, Floats, PaddedLines, Whole, columns
from catalog.method import MIN_KNOTS, MIN_RANGE_DB

RANGE_CODES = ("", "distance-only", "no-shared-range", "gap", "range-too-short", "too-few-spots")
_FEW = RANGE_CODES.index("too-few-spots")


@dataclass(frozen=True, slots=True)
class Ranges:
    """The longest stretches p pairs of lines share, and the reason where there is none to compare over.

    low, high  shape (p,); where there is none, what the two tested ranges have in common; nan without a line. [dB]
    refused    place of the refusal's code in RANGE_CODES, 0 where there is none, shape (p,)
    few        knots inside the range of the line with too few, -1 where neither has, shape (p,)
    few_is_b   whether that line is b's
    """

    low: Floats
    high: Floats
    refused: Whole
    few: Whole
    few_is_b: Flags


def ranges(lines: PaddedLines, a: Whole, b: Whole) -> Ranges:
    """Shared ranges of the pairs (a, b), numbers of sides, shape (p,)."""
    low, high, length = (np.full(len(a), value) for value in (np.nan, np.nan, -np.inf))
    for a_low, a_high in zip(columns(lines.low, a), columns(lines.high, a), strict=True):
        for b_low, b_high in zip(columns(lines.low, b), columns(lines.high, b), strict=True):
            start, end = np.maximum(a_low, b_low), np.minimum(a_high, b_high)
            better = (start <= end) & (end - start > length + SAME_X_DB)
            low, high = np.where(better, start, low), np.where(better, end, high)
            length = np.where(better, end - start, length)
    first, last = np.maximum(lines.first[a], lines.first[b]), np.minimum(lines.last[a], lines.last[b])
    none = np.isnan(low)
    low, high = np.where(none, first, low), np.where(none, last, high)
    in_a, in_b = (_within(columns(lines.x, side), low, high).sum(axis=0) for side in (a, b))
    least = MIN_RANGE_DB - SAME_X_DB
    refused = np.select(
        [
            np.isnan(first) | np.isnan(last),
            last < first,
            (length < least) & (last - first >= least),
            length < least,
            (in_a < MIN_KNOTS) | (in_b < MIN_KNOTS),
        ],
        range(1, len(RANGE_CODES)),
        0,
    )
    few_is_b = in_a >= MIN_KNOTS
    few = np.where(refused == _FEW, np.where(few_is_b, in_b, in_a), -1)
    return Ranges(low, high, refused, few, few_is_b)


def weights_over(lines: PaddedLines, side: Whole, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Weights of the cells in the mean over covered ranges, shape (c, p), and slopes of the lines there, shape (p,).

    The slope is that of the knots inside, or between the two ends where fewer than two are. [Mbit/s per dB]

    low, high  ranges of some length that each line covers, shape (p,). [dB]
    """
    x, y = columns(lines.x, side), columns(lines.y, side)
    inside = _within(x, low, high)
    slopes = slopes_through(x, y, inside)
    few = inside.sum(axis=0) < MIN_KNOTS
    if few.any():
        at_low, at_high = (
            (point_weights(*places_on(x[:, few], end[few]), len(x)) * y[:, few]).sum(axis=0) for end in (low, high)
        )
        slopes[few] = (at_high - at_low) / (high[few] - low[few])
    return lines.cell_weights(range_weights(x, low, high), side), slopes


def _within(x: Floats, low: Floats, high: Floats) -> Flags:
    return np.asarray((x >= low - SAME_X_DB) & (x <= high + SAME_X_DB))
