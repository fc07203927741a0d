"""Runs that did not finish: counted, never averaged away, and a rate only from 20 runs on (method section 6)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Cell
from builder.pairs import refusals
from builder.pairs.refusals import Refusal
from catalog.records import LongRun, Station

RATE_FROM_RUNS = 20


@dataclass(frozen=True, slots=True)
class Mix:
    """One run with several clients at once.

    outcome     "did not finish" if that is how any of its stations ended, else the worst of theirs
    survived_s  when the first station ended early; None where the run finished or no time was recorded [s]
    """

    mix: str
    workload: str
    version: int
    device: str
    unit: str
    firmware: str
    date: str
    client_ids: tuple[str, ...]
    outcome: str
    planned_s: float
    survived_s: float | None
    ended_by: str | None
    not_tested: tuple[str, ...]

    @property
    def clients(self) -> int:
        """How many machines played at once. [1]"""
        return len(self.client_ids)

    @property
    def ended(self) -> str:
        """When and by what it broke off: "after 6:20 of 10:00 (power cycle)"; "" for what nobody noted."""
        parts = [f"({self.ended_by})"] if self.ended_by else []
        if self.survived_s is not None:
            parts.insert(0, f"after {wording.clock(self.survived_s)} of {wording.clock(self.planned_s)}")
        return " ".join(parts)


# How runs ended, as people say it.
OUTCOME_WORDS: Mapping[str, str] = {
    "finished": "finished",
    "did not finish": "broke off",
    "client fault": "client fault",
    "aborted": "ended by a person",
    "not possible": "not possible",
}
# Worst first: a collapse is the device's fault. A client fault is not, so it does not count against the device.
_OUTCOMES = ("did not finish", "client fault", "aborted", "not possible", "finished")


def mixes(stations: Iterable[Station]) -> list[Mix]:
    """All multi-client runs by date and id."""
    grouped: dict[str, list[Station]] = defaultdict(list)
    for station in stations:
        grouped[station.mix].append(station)
    return sorted((_mix(members) for members in grouped.values()), key=lambda m: (m.date, m.mix))


def _mix(members: Sequence[Station]) -> Mix:
    outcome = next(o for o in _OUTCOMES if any(s.outcome == o for s in members))
    ended = [s for s in members if s.outcome == outcome and outcome != "finished"]
    times = [s.ended_at_s for s in ended if s.ended_at_s is not None]
    first = members[0]
    return Mix(
        mix=first.mix,
        workload=first.workload,
        version=first.workload_version,
        device=first.device,
        unit=first.unit,
        firmware=first.firmware,
        date=first.date,
        client_ids=tuple(dict.fromkeys(s.client for s in members)),
        outcome=outcome,
        planned_s=first.planned_s,
        survived_s=min(times, default=None),
        ended_by=next((s.ended_by for s in ended if s.ended_by), None),
        not_tested=tuple(s.role for s in members if s.log_path is None),
    )


@dataclass(frozen=True, slots=True)
class Count:
    """How many runs counted, and how many of them did not finish."""

    collapsed: int
    runs: int

    @property
    def sentence(self) -> str:
        """ "1 of 2 runs broke off"; a rate only from 20 runs on."""
        if self.runs == 0:
            return "not tested"
        if self.collapsed == 0:
            return "the only run finished" if self.runs == 1 else f"all {self.runs} runs finished"
        text = f"{self.collapsed} of {wording.count(self.runs, 'run')} broke off"
        if self.runs >= RATE_FROM_RUNS:
            text += f" ({wording.percent(self.collapsed / self.runs)})"
        return text


def count(runs: Iterable[Mix]) -> Count:
    """The count over multi-client runs: those that a client, a person or the house ended are left out."""
    counted = [m for m in runs if m.outcome in ("did not finish", "finished")]
    return Count(sum(m.outcome == "did not finish" for m in counted), len(counted))


def count_single(cells: Iterable[Cell]) -> Count:
    """The count over single-client runs."""
    counted = list(cells)
    collapsed = sum(c.did_not_finish for c in counted)
    return Count(collapsed, collapsed + sum(c.n for c in counted))


def count_long(runs: Iterable[LongRun]) -> Count:
    """The count over long runs."""
    counted = [run for run in runs if run.outcome in ("did not finish", "finished")]
    return Count(sum(run.outcome == "did not finish" for run in counted), len(counted))


def count_all(bench: Bench, device: str, mix_runs: Sequence[Mix], long_runs: Sequence[LongRun]) -> Count:
    """The count over all runs of a device, of whatever kind."""
    parts = _by_kind(bench, device, mix_runs, long_runs)
    return Count(sum(c.collapsed for _, c in parts), sum(c.runs for _, c in parts))


def collapse_sentence(bench: Bench, device: str, mix_runs: Sequence[Mix], long_runs: Sequence[LongRun]) -> str:
    """Runs that broke off, over all firmware: "1 of 2 runs with several clients at once, 0 of 361 with one"."""
    parts = [
        f"{tally.collapsed} of {wording.count(tally.runs, *kind)}"
        for kind, tally in _by_kind(bench, device, mix_runs, long_runs)
        if tally.runs
    ]
    return ", ".join(parts) or "no runs yet"


def _by_kind(
    bench: Bench, device: str, mix_runs: Sequence[Mix], long_runs: Sequence[LongRun]
) -> tuple[tuple[tuple[str, str], Count], ...]:
    return (
        (
            ("run with several clients at once", "runs with several clients at once"),
            count(m for m in mix_runs if m.device == device),
        ),
        (("run with one client", "runs with one client"), count_single(bench.cells_of.get(device, ()))),
        (("long run", "long runs"), count_long(run for run in long_runs if run.device == device)),
    )


def collapse_rate(count: Count) -> float | Refusal:
    """Share of runs that did not finish, from 20 runs on; below that there are only counts. [1]"""
    if count.runs < RATE_FROM_RUNS:
        return Refusal("too-few-runs", refusals.too_few_runs(count.sentence, RATE_FROM_RUNS))
    return count.collapsed / count.runs
