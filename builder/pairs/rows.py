"""Sentences of many pairs as numbers: which sentence, which side it is about, and its figures as they are printed.

A figure is a whole number of its last printed digit, rounded by `wording`; so pages and
scripts that fill the sentence print the same digits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder import wording
from builder.bench.bounds import apart
from builder.bench.sides import Flags, Floats, PaddedLines, Whole
from builder.pairs.all_pairs import PAIR_CODES, PairTable
from builder.pairs.judging import VERDICTS
from builder.pairs.sentences import PAIR_SENTENCES, TWO_ENDS, Verdict

SENTENCES = tuple(PAIR_SENTENCES)
_COLUMNS = max(
    sum(2 if figure.kind in TWO_ENDS else 1 for figure in sentence.figures) for sentence in PAIR_SENTENCES.values()
)
_CHANCE = 0.05
_MOST_COMPARISONS = 6  # of four devices

Units = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class PairRows:
    """Sentences of p pairs.

    sentence  place in SENTENCES, shape (p,)
    about_b   whether the sentence is about b first
    decimals  of the pair's rates
    figures   whole numbers of the last printed digit, in the sentence's order, shape (columns, p)
    passes    how many comparisons a lead may be judged among and still pass (Holm 1979): the largest m of 0 to 6 for
              which p <= 0.05 / m; more are never judged together
    remark    whether a remark on channels follows
    port_a, port_b   whether it follows that a value was held back by the device's own port
    """

    sentence: Whole
    about_b: Flags
    decimals: Whole
    figures: Units
    passes: Whole
    remark: Flags
    port_a: Flags
    port_b: Flags


def same_for_all(name: str, pairs: int) -> PairRows:
    """A sentence without figures, the same for every pair."""
    return PairRows(
        sentence=np.full(pairs, SENTENCES.index(name)),
        about_b=np.zeros(pairs, dtype=np.bool_),
        decimals=np.zeros(pairs, dtype=np.intp),
        figures=np.zeros((_COLUMNS, pairs), dtype=np.int64),
        passes=np.zeros(pairs, dtype=np.intp),
        remark=np.zeros(pairs, dtype=np.bool_),
        port_a=np.zeros(pairs, dtype=np.bool_),
        port_b=np.zeros(pairs, dtype=np.bool_),
    )


def moved_rows(before: Floats, after: Floats) -> PairRows:
    """Spots that changed between two tests, shape (p,); nan where a loss is not known. [dB]"""
    rows = same_for_all("read anew", len(before))
    known = np.flatnonzero(~np.isnan(before + after))
    tenths = [wording.rounded_many(values[known], 1) for values in (before, after)]
    changed = tenths[0] != tenths[1]
    _fill(rows, "moved", known[changed], *(t[changed] for t in tenths))
    return rows


def rows_of(table: PairTable, *, classes: Whole, lines: PaddedLines | None = None, level: bool = False) -> PairRows:
    """Sentences of a table's pairs.

    classes  number of the power classes of each side's channels, 0 where none is known
    lines    of a table of lines
    level    whether they are matched by level: ranges are printed as levels
    """
    judged = table.verdict != VERDICTS.index("refused")
    class_a, class_b = classes[table.a], classes[table.b]
    rows = same_for_all(SENTENCES[0], len(table))
    rows.decimals[:] = np.where(judged, wording.rate_decimals_many(table.mean_a, table.mean_b), 0)
    rows.remark[:] = judged & (class_a > 0) & (class_b > 0) & (class_a != class_b)
    rows.port_a[:], rows.port_b[:] = table.port_a, table.port_b
    rows.passes[:] = sum(table.p <= _CHANCE / m for m in range(1, _MOST_COMPARISONS + 1))
    rows.about_b[:] = table.b_leads
    _leads(rows, table)
    _without_lead(rows, table)
    if lines is not None:
        _refused(rows, table, lines, level=level)
    return rows


def _leads(rows: PairRows, table: PairTable) -> None:
    behind = np.where(table.b_leads, table.mean_a, table.mean_b)
    more, from_nothing = _split(_are(table, "separated"), behind != 0)
    least, over_nothing = _split(_are(table, "at-least"), behind != 0)
    for name, where in (
        ("separated", more),
        ("separated from nothing", from_nothing),
        ("at least", least),
        ("at least over nothing", over_nothing),
    ):
        gain, half, base = np.abs(table.difference[where]), table.half_width[where], behind[where]
        ends = (gain - half, gain + half) if name.startswith("separated") else ()
        figures = [wording.rounded_many(value, rows.decimals[where]) for value in (gain, *ends)]
        share = [] if name.endswith("nothing") else [wording.rounded_many(gain / base * 100, 1)]
        _fill(rows, name, where, *figures, *share)


def _without_lead(rows: PairRows, table: PairTable) -> None:
    where = _are(table, "not-separated")
    difference, half = table.difference[where], table.half_width[where]
    values = [difference, difference - half, difference + half, half]
    figures = np.array([wording.rounded_many(value, rows.decimals[where]) for value in values]).reshape(4, -1)
    rows.about_b[where] = figures[0] < 0
    for name, which in (("not separated", figures[0] != 0), ("not separated, even", figures[0] == 0)):
        _fill(rows, name, where[which], *figures[:, which])
    _fill(rows, "two bounds", _coded(table, "two-bounds"))
    where = _coded(table, "bound-within-noise")
    rows.about_b[where] = table.bound_b[where]
    lead = apart(table.mean_a[where], table.mean_b[where]) * np.where(table.bound_a[where], 1, -1)
    values = [lead, table.half_width[where]]
    _fill(rows, "bound within noise", where, *(wording.rounded_many(value, rows.decimals[where]) for value in values))
    where = _coded(table, "single-run")
    rows.about_b[where] = table.once_is_b[where]
    capped = table.bound_a | table.bound_b
    for name, which in zip(("no spread", "single run"), _split(where, table.no_spread), strict=True):
        held, other_held = _split(which[capped[which]], table.bound_b == table.once_is_b)
        _fill(rows, name, which[~capped[which]])
        _fill(rows, f"{name}, held", held)
        _fill(rows, f"{name}, other held", other_held)


def _refused(rows: PairRows, table: PairTable, lines: PaddedLines, *, level: bool) -> None:
    ends = (-table.high, -table.low) if level else (table.low, table.high)
    length = table.high - table.low

    def tenths(where: Whole, *values: Floats) -> list[Units]:
        return [wording.rounded_many(value[where], 1) for value in values]

    where = _coded(table, "distance-only")
    lacks_a, lacks_b = lines.knots[table.a] == 0, lines.knots[table.b] == 0
    both, one = _split(where, lacks_a & lacks_b)
    rows.about_b[one] = lacks_b[one]
    which = "no levels" if level else "distance only"
    _fill(rows, f"{which}, both", both)
    _fill(rows, which, one)
    where = _coded(table, "no-shared-range")
    _fill(rows, "no shared range", where, *tenths(where, -length))
    _fill(rows, "gap", _coded(table, "gap"))
    longer, point = _split(_coded(table, "range-too-short"), length != 0)
    _fill(rows, "range too short", longer, *tenths(longer, *ends, length))
    _fill(rows, "single point", point, *tenths(point, *ends))
    few = _coded(table, "too-few-spots")
    rows.about_b[few] = table.few_is_b[few]
    for result in np.unique(table.few[few]).tolist():
        where = few[table.few[few] == result]
        _fill(rows, f"too few spots {result}", where, *tenths(where, *ends))


def _fill(rows: PairRows, name: str, where: Whole, *figures: Units) -> None:
    rows.sentence[where] = SENTENCES.index(name)
    for column, values in zip(rows.figures, figures, strict=False):
        column[where] = values


def _are(table: PairTable, verdict: Verdict) -> Whole:
    return np.flatnonzero(table.verdict == VERDICTS.index(verdict))


def _coded(table: PairTable, code: str) -> Whole:
    return np.flatnonzero(table.code == PAIR_CODES.index(code))


def _split(where: Whole, by: Flags) -> Sequence[Whole]:
    """Those for which it holds, and the others."""
    return where[by[where]], where[~by[where]]
