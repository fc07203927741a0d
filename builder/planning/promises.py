"""What a plan will find: the median of drawn benches, and the range in which nine of ten lie."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.bench.sides import Whole
from builder.planning.lattices import Drawn, Lattice

DRAWS = 400
LIKELY = (5.0, 95.0)  # percentiles
LEAST_KIN = 6  # devices of a group from which on one of them is drawn
# How far off the level may be, standard deviations (practice): of a device nobody measured here, and of one whose line,
# or that of a device like it, is known as well as days and places allow.
LEVEL, LEVEL_OF_A_LINE = 0.10, 0.04

_SEED = 20251


@dataclass(frozen=True, slots=True)
class Promise:
    """Half-width that a plan promises, and the range it is likely in. [Mbit/s]"""

    half: float
    low: float
    high: float


def promise(lattice: Lattice, repeats: Whole) -> Promise:
    """Of one plan, shape (cells,)."""
    rng = np.random.default_rng(_SEED)
    forecast = lattice.device.forecast
    assert forecast is not None
    kin = forecast.kin
    if len(kin) >= LEAST_KIN:
        drawn = rng.integers(len(kin), size=DRAWS)
        level = np.array([one.level for one in kin])[drawn] * (1 + LEVEL_OF_A_LINE * rng.standard_normal(DRAWS))
        spread = np.array([one.spread for one in kin])[drawn]
    else:
        level = 1 + LEVEL * rng.standard_normal(DRAWS)
        df = float(forecast.spread_df.min())
        spread = np.sqrt(df / rng.chisquare(df, DRAWS)) if math.isfinite(df) else np.ones(DRAWS)
    if forecast.own_line:
        level = 1 + LEVEL_OF_A_LINE * rng.standard_normal(DRAWS)
    degrees = np.maximum(repeats - 1, 1)
    squares = spread[:, np.newaxis] ** 2 * rng.chisquare(degrees, (DRAWS, len(repeats))) / degrees
    half = lattice.expected(np.tile(repeats, (DRAWS, 1)), Drawn(np.maximum(level, 0.05), squares)).half
    low, middle, high = np.percentile(half, [LIKELY[0], 50.0, LIKELY[1]])
    return Promise(float(middle), float(low), float(high))
