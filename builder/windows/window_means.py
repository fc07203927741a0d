"""All devices of one window: their means with intervals, and which are separated (method.md, sections 3 to 5).

A window is a range that every device covers, so its means are weighted means like those of any pair, and its pairs are
judged by the same rules; only Holm's adjustment is the table's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from builder.bench.scatter import Scatter
from builder.bench.sides import Flags, Floats, PaddedCells, Whole, padded_lines
from builder.bench.tracks import Track
from builder.bench.uncertainty import SideSums, side_sums, uncertainties
from builder.metrics.intervals import half_width, holm_separated
from builder.pairs.judging import judge
from builder.pairs.ranges import weights_over

_PAIRS_AT_ONCE = 1 << 15  # some fifty arrays of a quarter megabyte


@dataclass(frozen=True, slots=True)
class WindowMeans:
    """The means of n devices over one window; arrays have shape (n,).

    mean        [Mbit/s]
    bound       whether a cell behind it is only a lower bound
    runs        finished runs behind it [1]
    half_width  of its 95 % interval; nan for a single run without a spread [Mbit/s]
    assumed     constants that each had to assume
    """

    scatter: Scatter
    cells: PaddedCells
    sums: SideSums
    half_width: Floats
    assumed: tuple[tuple[str, ...], ...]

    @property
    def mean(self) -> Floats:
        return self.sums.mean

    @property
    def bound(self) -> Flags:
        return self.sums.bound

    @property
    def runs(self) -> Whole:
        return self.sums.n


def window_means(scatter: Scatter, tracks: Sequence[Track], low_high: tuple[float, float]) -> WindowMeans:
    """The means of lines of one group over a window that each of them covers. [dB]"""
    lines, every = padded_lines(tracks, scatter), np.arange(len(tracks))
    low, high = (np.full(len(tracks), end) for end in low_high)
    weights, slopes = weights_over(lines, every, low, high)
    sums = side_sums(lines.cells, every, weights, slopes, match="attenuation", scatter=scatter)
    uncertainty = uncertainties(lines.cells, sums, every, scatter=scatter)
    half = np.where(uncertainty.known, half_width(uncertainty.u, uncertainty.df), np.nan)
    return WindowMeans(scatter, lines.cells, sums, half, tuple(uncertainty.assumed_by(i) for i in range(len(tracks))))


def first_against(means: WindowMeans, first: int) -> dict[str, np.ndarray[Any, Any]]:
    """The verdicts on one device's mean less that of each, alone, as of any pair; arrays of shape (n,) (judging.judge)."""
    others = np.arange(len(means.mean))
    one = np.full(len(others), first)
    return judge(means.sums, uncertainties(means.cells, means.sums, one, others, scatter=means.scatter), one, others)


def separated_pairs(means: WindowMeans) -> Flags:
    """Which devices are separated, shape (n, n), symmetric; at-least leads count.

    Holm goes over each device's own comparisons. Two devices are separated where that of both keeps them apart: were
    one enough, a ranking could say of one pair that it is told apart and that it is not.
    """
    n = len(means.mean)
    p = np.ones((n, n))
    a, b = np.triu_indices(n, 1)
    for start in range(0, len(a), _PAIRS_AT_ONCE):
        one, other = a[start : start + _PAIRS_AT_ONCE], b[start : start + _PAIRS_AT_ONCE]
        uncertainty = uncertainties(means.cells, means.sums, one, other, scatter=means.scatter)
        p[one, other] = p[other, one] = judge(means.sums, uncertainty, one, other)["p"]
    separated = np.zeros((n, n), dtype=np.bool_)
    others = ~np.eye(n, dtype=np.bool_)
    if n > 1:
        separated[others] = holm_separated(p[others].reshape(n, n - 1)).ravel()
    return np.asarray(separated & separated.T)
