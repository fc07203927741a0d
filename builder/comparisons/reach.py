"""Reach at a rate: the attenuation at which a joined line first falls below it (method.md, section 5)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from builder import wording
from builder.comparisons.bench import Bench, Subject, cells_of_subject
from builder.comparisons.cells import Group
from builder.comparisons.joined_line import SAME_X_DB, JoinedLine
from builder.comparisons.tracks import EVERYTHING, Filter, track
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
    """

    relation: Relation
    db: float | tuple[float, float] | None
    recovers: bool = False


@dataclass(frozen=True, slots=True)
class GroupReach:
    """The reach of one subject in one group at one rate [Mbit/s]."""

    who: Subject
    group: Group
    client: str
    at: float
    reach: Reach

    @property
    def figure(self) -> str:
        rate = wording.trimmed(self.at, 6)
        return "~".join(
            [joined_id("reach", self.who.device, self.who.unit, self.who.firmware), self.group.slug, joined_id(rate)]
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


def reaches(bench: Bench, who: Subject, rates: Sequence[float], *, only: Filter = EVERYTHING) -> list[GroupReach]:
    """The subject's reach at each rate in each group with a measured attenuation."""
    own = only.cells(cells_of_subject(bench, who))
    found: list[GroupReach] = []
    for group in sorted({c.group for c in own}, key=lambda g: g.sort_key):
        one = track([c for c in own if c.group == group], match="attenuation")
        if one is None:
            continue
        client = ", ".join(sorted({c.client for c in one.cells}))
        found += [GroupReach(who, group, client, rate, reach(one.line, rate)) for rate in rates]
    return found


def reach_text(found: Reach) -> str:
    """The reach as it is printed, in dB: "75", "≥ 80", "< 50", "between 62 and 75"."""
    if found.db is None:
        return "undecided, limited by the client"
    if isinstance(found.db, tuple):
        return f"between {wording.decibels(found.db[0])} and {wording.decibels(found.db[1])}"
    sign = {"=": "", ">=": f"{wording.AT_LEAST} ", "<": "< "}[found.relation]
    return sign + wording.decibels(found.db)


def reach_remark(found: Reach) -> str:
    """What must be said beside a reach: that the line comes back; "" where it does not."""
    return "comes back further out" if found.recovers else ""


def reach_json(found: GroupReach) -> dict[str, Any]:
    """One entry of the reach document of commands.md."""
    group = found.group
    return {
        "client": found.client,
        "series": group.series,
        "band": group.band,
        "width_mhz": group.width_mhz,
        "direction": group.direction,
        "protocol": group.protocol,
        "flows": group.flows,
        "security": group.security,
        "at": found.at,
        "relation": found.reach.relation,
        "db": list(found.reach.db) if isinstance(found.reach.db, tuple) else found.reach.db,
        "recovers": found.reach.recovers,
        "figure": found.figure,
    }
