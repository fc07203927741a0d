"""Reach at a rate: the attenuation at which a joined line first falls below it (method.md, section 5)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject
from builder.bench.cells import Group
from builder.bench.joined_line import SAME_X_DB, JoinedLine
from builder.bench.summed_up import NO_SPREAD, summaries_of, why_no_interval
from builder.bench.tracks import EVERYTHING, GroupFilter, Track, track
from builder.windows.line_band import band_crossings
from builder.windows.line_points import line_point
from catalog.figure_names import joined_id
from catalog.method import MAX_GAP_DB

Relation = Literal["=", ">=", "<", "between", "undecided"]

FASTEST_MBIT_S = 1e6  # what a batch may say of a port or a lab; no line reaches it


@dataclass(frozen=True, slots=True)
class Reach:
    """Where a rate is lost.

    relation  "=" at db; ">=" not lost up to db; "<" lost already at db, the first knot;
              "between" the two values of db, in a gap; "undecided" (db None): held back by the client
    recovers  the line is at or above the rate again further out
    interval  where the lower and the upper end of the line's band fall below the rate, None for an end that is open;
              None for all where the line has no band up to there: single runs, a bound, a gap. [dB]
    no_spread whether what has no spread are summaries, not single runs
    """

    relation: Relation
    db: float | tuple[float, float] | None
    recovers: bool = False
    interval: tuple[float | None, float | None] | None = None
    no_spread: bool = False


@dataclass(frozen=True, slots=True)
class GroupReach:
    """The reach of one subject in one group at one rate [Mbit/s]."""

    subject: Subject
    group: Group
    client: str
    at: float
    reach: Reach
    summaries: tuple[str, ...] = ()  # what of its line rests on summaries: "mean of 3"

    @property
    def figure(self) -> str:
        rate = wording.trimmed(self.at, 6)
        return "~".join(
            [
                joined_id("reach", self.subject.id, self.subject.unit, self.subject.firmware),
                self.group.slug,
                joined_id(rate),
            ]
        )


def is_rate(value: float) -> bool:
    """Whether *value* [Mbit/s] can be asked for: above 0, and no faster than any port."""
    return 0 < value <= FASTEST_MBIT_S


def reach(line: JoinedLine, rate: float) -> Reach:
    """Where *line* first falls below *rate* [Mbit/s]; a value equal to the rate counts as not below."""
    below = [i for i, value in enumerate(line.y) if value < rate]
    if not below:
        return Reach(">=", float(line.x[-1]))
    first = below[0]
    if line.bound[first]:
        return Reach("undecided", None)
    recovers = any(value >= rate for value in line.y[first + 1 :])
    if first == 0:
        return Reach("<", float(line.x[0]), recovers)
    left, right = float(line.x[first - 1]), float(line.x[first])
    if right - left > MAX_GAP_DB + SAME_X_DB:
        return Reach("between", (left, right), recovers)
    high, low = float(line.y[first - 1]), float(line.y[first])
    crossing = left + (right - left) * (high - rate) / (high - low)
    return Reach(">=" if line.bound[first - 1] else "=", crossing, recovers)


def reach_of(bench: Bench, one: Track, rate: float) -> Reach:
    """The reach of a track at *rate* [Mbit/s], with its interval."""
    result = reach(one.line, rate)
    if not isinstance(result.db, float):
        return result
    ends = band_crossings(bench, one, rate, until=result.db)
    if ends is None:
        return replace(result, no_spread=why_no_interval(one.cells) == NO_SPREAD)
    low, high = ends
    # Where the line itself was never below, or always, the tested range is the end that is known.
    if result.relation == ">=" and low is None:
        low = result.db
    if result.relation == "<" and high is None and _below_with_its_band(bench, one, rate):
        high = result.db
    return replace(result, interval=(low, high))


def _below_with_its_band(bench: Bench, one: Track, rate: float) -> bool:
    """Whether even the upper end of the band is below the rate at the first knot."""
    point = line_point(bench, one, float(one.line.x[0]))
    return point is not None and point.half_width is not None and point.value + point.half_width < rate


def reaches(
    bench: Bench, subject: Subject, rates: Sequence[float], *, only: GroupFilter = EVERYTHING
) -> list[GroupReach]:
    """The subject's reach at each rate in each group with a measured attenuation."""
    cells = only.cells(cells_of_subject(bench, subject))
    results: list[GroupReach] = []
    for group in sorted({c.group for c in cells}, key=lambda g: g.sort_key):
        one = track([c for c in cells if c.group == group], match="attenuation")
        if one is None:
            continue
        client = ", ".join(sorted({c.client for c in one.cells}))
        rests = summaries_of(one.cells)
        results += [GroupReach(subject, group, client, rate, reach_of(bench, one, rate), rests) for rate in rates]
    return results


def reach_text(result: Reach) -> str:
    """The reach as it is printed, in dB: its interval in whole dB ("64–71", "at least 84"), "about 67" without one."""
    if result.db is None:
        return "undecided, limited by the client"
    if isinstance(result.db, tuple):
        return f"between {wording.decibels(result.db[0])} and {wording.decibels(result.db[1])}"
    if result.interval is None or result.interval == (None, None):
        before = {"=": "about ", ">=": "at least ", "<": "below "}[result.relation]
        return before + wording.number(result.db, 0)
    low, high = (None if end is None else end for end in result.interval)
    if high is None:
        assert low is not None
        return f"at least {math.floor(low + SAME_X_DB)}"
    if low is None:
        return f"{'below' if result.relation == '<' else 'at most'} {math.ceil(high - SAME_X_DB)}"
    return wording.db_range(math.floor(low + SAME_X_DB), math.ceil(high - SAME_X_DB))


def reach_remark(result: Reach) -> str:
    """Remarks on a reach: why it has no interval, and that the line recovers; "" for neither."""
    remarks = []
    if result.relation == "=" and result.interval is None:
        remarks.append(f"{NO_SPREAD if result.no_spread else 'single runs'}, no interval")
    if result.relation == "=" and result.interval == (None, None):
        remarks.append("the interval is wider than what was tested")
    if result.recovers:
        remarks.append("comes back further out")
    return "; ".join(remarks)


def reach_json(result: GroupReach) -> dict[str, Any]:
    """One entry of the reach document of commands.md."""
    group = result.group
    return {
        "client": result.client,
        "series": group.series,
        "band": group.band,
        "width_mhz": group.width_mhz,
        "direction": group.direction,
        "protocol": group.protocol,
        "flows": group.flows,
        "security": group.security,
        "at": result.at,
        "relation": result.reach.relation,
        "db": list(result.reach.db) if isinstance(result.reach.db, tuple) else result.reach.db,
        **({} if result.reach.interval is None else {"interval": list(result.reach.interval)}),
        "recovers": result.reach.recovers,
        **({"summaries": list(result.summaries)} if result.summaries else {}),
        "figure": result.figure,
    }
