"""Shares and percentiles of a role as they were noted then, where no log was kept: shown as such, hardly ever judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from builder import wording
from catalog.records import Role, Station

WITHOUT_LOG = "as noted then, without a log"


@dataclass(frozen=True, slots=True)
class Noted:
    """What a row of stations says of a role itself.

    on_time_share  of its requests; None where no share was noted. [1]
    mark_ms        within which those were answered; None where nobody noted it. [ms]
    planned        requests the plan asked for; None where that is not known. [1]
    percentiles    percent -> within how many ms so many were answered
    """

    on_time_share: float | None
    mark_ms: float | None
    planned: int | None
    percentiles: Mapping[int, float]

    @property
    def text(self) -> str:
        """ "97.0 % of 300 planned requests came within 150 ms; 90 % within 84.2 ms"."""
        parts = []
        if self.on_time_share is not None:
            of = f" of {self.planned} planned requests" if self.planned else ""
            within = f"within {wording.milliseconds(self.mark_ms)} ms" if self.mark_ms else "in time"
            parts.append(f"{wording.percent(self.on_time_share)}{of} came {within}")
        if self.percentiles:
            parts.append(
                ", ".join(
                    f"{percent}{wording.PERCENT} within {wording.milliseconds(ms)} ms"
                    for percent, ms in self.percentiles.items()
                )
            )
        return "; ".join(parts)

    def unjudged(self, role: Role) -> str:
        """Why the share is not held against the mark of the role; "" where it is."""
        if role.target_ms is None or role.target_share is None:
            return "the workload sets no target for this role"
        if self.on_time_share is None:
            return "no share of requests in time was noted"
        if self.mark_ms is None:
            return "what mark the share was counted for was not noted"
        if self.mark_ms != role.target_ms:
            counted, asked = (wording.milliseconds(ms) for ms in (self.mark_ms, role.target_ms))
            return f"the share was counted for {counted} ms, and {asked} ms are asked for"
        return "" if self.planned else "how many requests were planned was not noted"

    def meets(self, role: Role) -> bool:
        """Whether a share that is judged reaches what is asked for, as both were typed."""
        assert self.on_time_share is not None
        assert role.target_share is not None
        return Fraction(str(self.on_time_share)) >= Fraction(str(role.target_share))


def noted_of(station: Station) -> Noted | None:
    """What a row without a log says itself; None where it says nothing."""
    values = {
        50: station.p50_ms,
        75: station.p75_ms,
        90: station.p90_ms,
        95: station.p95_ms,
        99: station.p99_ms,
    }
    percentiles = {percent: ms for percent, ms in values.items() if ms is not None}
    if station.log_path is not None or (station.on_time_share is None and not percentiles):
        return None
    return Noted(station.on_time_share, station.mark_ms, station.planned_requests or None, percentiles)
