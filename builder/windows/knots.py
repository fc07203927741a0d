"""The knots of a joined line with their intervals: what a range chart draws and its table says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from builder import wording
from builder.bench.bench import Bench
from builder.bench.bounds import Limit
from builder.bench.tracks import Track
from builder.bench.weighted import Match
from builder.windows.line_points import knot_half_widths


@dataclass(frozen=True, slots=True)
class Knot:
    """One knot of a line.

    x          attenuation [dB], or the received level [dBm] for level match
    value      mean of its cells [Mbit/s]
    low, high  95 % interval of one value; None for a single run and for a bound [Mbit/s]
    limit      what held it back, if anything did
    n          finished runs behind it [1]
    """

    x: float
    value: float
    low: float | None
    high: float | None
    bound: bool
    limit: Limit | None
    n: int
    spots: tuple[str, ...]


def knots(bench: Bench, tracks: Sequence[Track], *, match: Match) -> list[tuple[Knot, ...]]:
    """The knots of each line, nearest first; the interval of each has the terms of method section 3."""
    half_widths = knot_half_widths(bench, tracks, match=match).T.tolist()
    return [_knots(track, of_track, match) for track, of_track in zip(tracks, half_widths, strict=True)]


def _knots(track: Track, half_widths: Sequence[float], match: Match) -> tuple[Knot, ...]:
    results: list[Knot] = []
    for index, x in enumerate(map(float, track.line.x)):
        members = track.cells_of_knot(index)
        bound = bool(track.line.bound[index])
        half = half_widths[index]
        value = float(track.line.y[index])
        results.append(
            Knot(
                x=-x if match == "level" else x,
                value=value,
                low=None if math.isnan(half) else value - half,
                high=None if math.isnan(half) else value + half,
                bound=bound,
                limit=next((c.limit for c in members if c.limit), None),
                n=sum(c.n for c in members),
                spots=tuple(dict.fromkeys(c.spot for c in members if c.spot)),
            )
        )
    return tuple(results)


def fade_sentence(results: tuple[Knot, ...], *, match: Match) -> str:
    """How a line falls, from its nearest knot to its farthest."""
    first, last = results[0], results[-1]
    unit = "dBm" if match == "level" else "dB"
    ends = [f"{wording.rate(k.value, bound=k.bound)} Mbit/s at {wording.decibels(k.x)} {unit}" for k in (first, last)]
    if len(results) == 1:
        return f"It was measured at one place: {ends[0]}."
    return f"It goes from {ends[0]} to {ends[1]}, over {len(results)} measured places."
