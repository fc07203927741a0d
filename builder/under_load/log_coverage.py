"""How much of a run its log covers, in words: nothing is filled in where nothing was logged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlite_utils import Database

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import cell_figure
from catalog import queries


@dataclass(frozen=True, slots=True)
class LogCoverage:
    """How much of the duration of a run its log covers. [s]

    longest_gap_s  None where the log was digested before gaps were recorded
    step_s         average length of its rows
    """

    duration_s: float
    logged_s: float
    longest_gap_s: float | None
    step_s: float

    @property
    def whole(self) -> bool:
        """Whether less than a row is missing."""
        return self.duration_s - self.logged_s < self.step_s

    @property
    def text(self) -> str:
        """ "longest gap 60 s (10 of 11 minutes logged)"; "" where nothing is missing."""
        if self.whole:
            return ""
        logged = f"{wording.part_of_time(self.logged_s, self.duration_s)} logged"
        if self.longest_gap_s is None:
            return logged
        return f"longest gap {wording.trimmed(self.longest_gap_s, 1)} s ({logged})"


def log_coverage(digest: Mapping[str, float]) -> LogCoverage | None:
    """The coverage in a digest; None where it is not that of a throughput log."""
    if "logged_s" not in digest:
        return None
    return LogCoverage(
        duration_s=digest["duration_s"],
        logged_s=digest["logged_s"],
        longest_gap_s=digest.get("longest_gap_s"),
        step_s=digest["logged_s"] / digest["samples"],
    )


def cells_with_gaps(db: Database, bench: Bench) -> dict[str, dict[str, str]]:
    """Device -> figure of each of its cells with a run whose log has gaps -> its gaps in words."""
    partly = {
        number: coverage
        for (owner, number), digest in queries.digests(db).items()
        if owner == "run" and (coverage := log_coverage(digest)) is not None and not coverage.whole
    }
    gaps: dict[str, dict[str, str]] = {}
    if not partly:
        return gaps
    for cell in (*bench.cells, *bench.cells_under):
        if texts := [partly[number].text for number in cell.run_ids if number in partly]:
            gaps.setdefault(cell.device, {})[cell_figure(cell)] = f"log: {wording.listing(texts)}"
    return gaps
