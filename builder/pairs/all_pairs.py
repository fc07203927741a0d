"""The verdicts of many pairs of one group at once: what `compare.compare` says of one pair, for all of them.

Pairs are worked through in blocks, so that memory stays bounded however many there are. Only crossings and sentences are left to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from builder.bench.bench import Bench
from builder.bench.cells import Cell
from builder.bench.falls import fall_at
from builder.bench.sides import (
    Flags,
    Floats,
    PaddedCells,
    PaddedLines,
    Whole,
    padded_cells,
    padded_lines,
)
from builder.bench.tracks import Track, track
from builder.bench.uncertainty import SideSums, side_sums, uncertainties
from builder.bench.weighted import Match
from builder.pairs.judging import JUDGED_CODES, judge, place_of
from builder.pairs.ranges import RANGE_CODES, ranges, weights_over

PAIR_CODES = (*RANGE_CODES, *JUDGED_CODES[1:])

_SLOTS_AT_ONCE = 1 << 16  # pairs times slots of one block: a few arrays of a megabyte each


@dataclass(frozen=True, slots=True)
class PairTable:
    """Pairs of sides and the result of each, all of shape (p,); nan where the verdict forbids a figure.

    a, b          numbers of the sides
    verdict, code places in VERDICTS and PAIR_CODES; code 0: none
    low, high     shared range; where it is refused, what the two tested ranges have in common [dB]
    few, few_is_b knots inside of the line with too few, -1 where neither has; whether that line is b's
    once_is_b     of a single run, or a summary, without a spread: whether it is b's
    no_spread     whether that one has only summaries without a spread
    mean_a, mean_b, difference, standard_uncertainty, half_width   [Mbit/s]
    port_a, port_b   whether a value was held back by the device's own port
    b_leads       of separated pairs and of "at least": whether b is ahead
    """

    a: Whole
    b: Whole
    verdict: Whole
    code: Whole
    low: Floats
    high: Floats
    few: Whole
    few_is_b: Flags
    once_is_b: Flags
    no_spread: Flags
    mean_a: Floats
    mean_b: Floats
    bound_a: Flags
    bound_b: Flags
    port_a: Flags
    port_b: Flags
    n_a: Whole
    n_b: Whole
    difference: Floats
    ratio: Floats
    standard_uncertainty: Floats
    half_width: Floats
    df: Floats
    p: Floats
    b_leads: Flags

    def __len__(self) -> int:
        return len(self.a)


def line_pairs(
    bench: Bench, tracks: Sequence[Track | None], a: Whole, b: Whole, *, match: Match, lines: PaddedLines | None = None
) -> PairTable:
    """Pairs (a, b) of lines of one group, by attenuation or by level.

    tracks  of every side; None is a side without a place on the axis
    a, b    which of them, shape (p,)
    lines   the same as arrays, where a caller has them
    """
    lines = padded_lines(tracks, bench.scatter) if lines is None else lines
    step = max(1, _SLOTS_AT_ONCE // max(len(lines.x), len(lines.member)))
    return _joined([_line_block(bench, lines, a[i : i + step], b[i : i + step], match) for i in _starts(len(a), step)])


def place_pairs(
    bench: Bench, sides: Sequence[Sequence[Cell]], a: Whole, b: Whole, *, pools: Sequence[Sequence[Cell]]
) -> PairTable:
    """Pairs (a, b) of cells at one spot in one epoch; *pools* are each side's cells of the whole group."""
    cells = padded_cells(sides, bench.scatter, pools=pools)
    weights = cells.n / np.maximum(cells.n.sum(axis=0), 1)
    every = np.arange(len(sides))
    lines = {id(pool): track(pool, match="attenuation") for pool in pools}  # many sides have one pool
    falls = [fall_at(bench, cells, lines[id(pool)]) for cells, pool in zip(sides, pools, strict=True)]
    slopes = np.array([fall.slope for fall in falls])
    sums = side_sums(cells, every, weights, slopes, match="spot", scatter=bench.scatter)
    step = max(1, _SLOTS_AT_ONCE // len(cells.n))
    blocks = []
    for i in _starts(len(a), step):
        one, other = a[i : i + step], b[i : i + step]
        blocks.append(PairTable(**_unjudged(one, other) | _judged(bench, cells, sums, one, other)))
    return _joined(blocks)


def _line_block(bench: Bench, lines: PaddedLines, a: Whole, b: Whole, match: Match) -> PairTable:
    result = ranges(lines, a, b)
    block = _unjudged(a, b) | {
        "code": result.refused,
        "low": result.low,
        "high": result.high,
        "few": result.few,
        "few_is_b": result.few_is_b,
    }
    fit = np.flatnonzero(result.refused == 0)
    side, low, high, of_a, of_b = _ranged(a[fit], b[fit], result.low[fit], result.high[fit])
    weights, slopes = weights_over(lines, side, low, high)
    sums = side_sums(lines.cells, side, weights, slopes, match=match, scatter=bench.scatter)
    judged = _judged(bench, lines.cells, sums, of_a, of_b)
    if len(fit) == len(a):
        return PairTable(**block | judged)
    for name, values in judged.items():
        block[name] = block[name].copy()
        block[name][fit] = values
    return PairTable(**block)


def _ranged(a: Whole, b: Whole, low: Floats, high: Floats) -> tuple[Whole, Floats, Floats, Whole, Whole]:
    """Every side with every range it is compared over, once, shape (r,); and which of them a pair's two sides are."""
    lows, of_low = np.unique(low, return_inverse=True)
    highs, of_high = np.unique(high, return_inverse=True)
    place = of_low * len(highs) + of_high
    several = len(lows) * len(highs)
    keys, number = np.unique(np.concatenate([a * several + place, b * several + place]), return_inverse=True)
    side, place = np.divmod(keys, several) if several else (keys, keys)
    of_low, of_high = np.divmod(place, len(highs)) if several else (place, place)
    return side, lows[of_low], highs[of_high], number[: len(a)], number[len(a) :]


def _judged(bench: Bench, cells: PaddedCells, sums: SideSums, a: Whole, b: Whole) -> dict[str, Any]:
    """Verdicts of the pairs (a, b), places in *sums*, with codes as places in PAIR_CODES."""
    uncertainty = uncertainties(cells, sums, a, b, scatter=bench.scatter)
    row = judge(sums, uncertainty, a, b)
    return row | {"code": np.where(row["code"] > 0, row["code"] + len(RANGE_CODES) - 1, 0)}


def _unjudged(a: Whole, b: Whole) -> dict[str, Any]:
    unknown, no, none = np.full(len(a), np.nan), np.zeros(len(a), np.bool_), np.zeros(len(a), np.intp)
    return {
        "a": a,
        "b": b,
        "verdict": np.full(len(a), place_of("refused")),
        "code": none,
        "few": none - 1,
        "few_is_b": no,
        "once_is_b": no,
        "no_spread": no,
        "bound_a": no,
        "bound_b": no,
        "port_a": no,
        "port_b": no,
        "n_a": none,
        "n_b": none,
        "p": np.ones(len(a)),
        "b_leads": no,
        **dict.fromkeys(
            ("low", "high", "mean_a", "mean_b", "difference", "ratio", "standard_uncertainty", "half_width", "df"),
            unknown,
        ),
    }


def _starts(length: int, step: int) -> range:
    return range(0, max(length, 1), step)


def _joined(blocks: Sequence[PairTable]) -> PairTable:
    if len(blocks) == 1:
        return blocks[0]
    return PairTable(
        **{f.name: np.concatenate([getattr(block, f.name) for block in blocks]) for f in fields(PairTable)}
    )
