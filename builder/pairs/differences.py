"""The difference of two joined lines place by place, each with its interval (method.md, sections 2 and 3).

At every knot of either line inside of the shared range: at a spot where both were measured the difference of the two,
elsewhere that of one and the other's joined line. Each place is judged by itself, as any pair is, and never pooled.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from builder.bench.bench import Bench
from builder.bench.joined_line import SAME_X_DB
from builder.bench.tracks import Track
from builder.bench.uncertainty import summed, uncertainties
from builder.pairs.judging import judge
from builder.pairs.pairing import tracks
from builder.pairs.verdicts import PairFigure, Range
from builder.wording import rate_decimals


@dataclass(frozen=True, slots=True)
class PlaceDifference:
    """a - b at one place.

    x          attenuation [dB], or received level [dBm] of a level match
    value      [Mbit/s]; where one side is only a lower bound, the difference of the two values
    interval   of 95 %; None for a bound, and where a single run has no spread to take
    bound      which way a bound leaves it open: at least so much, or at most
    measured   whether both were measured there
    decimals   of what is printed of it: those of the smaller value
    """

    x: float
    value: float
    interval: Range | None
    bound: Literal["least", "most"] | None
    measured: bool
    decimals: int


def place_differences(bench: Bench, figure: PairFigure) -> tuple[PlaceDifference, ...]:
    """The differences behind a match by attenuation or level, ascending by loss; none where the pair is refused.

    A place where both sides are lower bounds has no difference.
    """
    if figure.match == "spot" or figure.range is None or figure.verdict == "refused":
        return ()
    a, b = tracks(bench, figure, match=figure.match)
    if a is None or b is None:
        return ()
    ends = figure.range if figure.match == "attenuation" else (-figure.range[1], -figure.range[0])
    places = _places(a, b, *ends)
    sides = [track.at(x, sign=sign) for track, sign in ((a, 1), (b, -1)) for x in places]
    pools = [track.cells for track in (a, b) for _ in places]
    cells, sums = summed(bench, sides, match=figure.match, pools=pools)
    of_a, of_b = np.arange(len(places)), np.arange(len(places)) + len(places)
    unsure = uncertainties(cells, sums, of_a, of_b, scatter=bench.scatter)
    verdicts = judge(sums, unsure, of_a, of_b)
    results: list[PlaceDifference] = []
    both = [one.line.x.tolist() for one in (a, b)]
    for i, x in enumerate(places):
        mean_a, mean_b = float(verdicts["mean_a"][i]), float(verdicts["mean_b"][i])
        bound_a, bound_b = bool(verdicts["bound_a"][i]), bool(verdicts["bound_b"][i])
        if bound_a and bound_b:
            continue
        value, half = mean_a - mean_b, float(verdicts["half_width"][i])
        exact = not (bound_a or bound_b) and bool(unsure.known[i])
        results.append(
            PlaceDifference(
                x=-x if figure.match == "level" else x,
                value=value,
                interval=(value - half, value + half) if exact else None,
                bound="least" if bound_a else "most" if bound_b else None,
                measured=all(any(abs(knot - x) <= SAME_X_DB for knot in knots) for knots in both),
                decimals=rate_decimals(mean_a, mean_b),
            )
        )
    return tuple(results)


def _places(a: Track, b: Track, low: float, high: float) -> list[float]:
    """Knots of both lines inside of a range, each once. [dB]"""
    inside = sorted(x for one in (a, b) for x in one.line.x.tolist() if low - SAME_X_DB <= x <= high + SAME_X_DB)
    apart = [x for before, x in pairwise(inside) if x - before > SAME_X_DB]
    return [*inside[:1], *apart]
