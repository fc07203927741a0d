"""Long runs with one client: how steady a device is (method.md, section 7).

Figures come from the digest of the run's log, made at entry from every sample (catalog.digesting.digests).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from builder import wording
from builder.bench.bench import Bench, Subject
from builder.bench.bounds import Limits, is_bound, limits
from builder.under_load.collapses import count_long
from builder.under_load.log_coverage import LogCoverage, log_coverage
from builder.under_load.long_waits import (
    LongWaits,
    hours_sentence,
    long_waits,
    untold_sentence,
    waits_json,
    waits_sentence,
)
from builder.under_load.tested import tested_subject
from catalog import queries
from catalog.digesting.drift import LEAST_BLOCK_S, LEAST_BLOCKS, Drift
from catalog.digesting.period import LEAST_CYCLES, LEAST_SAMPLES, SURROGATES, Period
from catalog.figure_names import joined_id, subject_id
from catalog.records import LongRun

KIND_OF_FIGURE = {"throughput": "longrun", "requests": "longwaits"}
"""Kind of a long run -> how the ids of its figures begin."""


@dataclass(frozen=True, slots=True)
class Steadiness:
    """Figures of one log: rates in Mbit/s, times in s.

    evenness  fifth percentile / median; None where the median is 0. [1]
    coverage  of the time from the first to the last row of the log
    step_s    sampling step of the search for drift and period; None for a log not digested as a long run's
    drift     None: too short to tell
    period    None: none detected
    """

    samples: int
    duration_s: float
    logged_s: float
    coverage: LogCoverage
    mean: float
    median: float
    fifth_percentile: float
    evenness: float | None
    longest_stall_s: float
    step_s: float | None
    drift: Drift | None
    period: Period | None


@dataclass(frozen=True, slots=True)
class LongRunResult:
    """One long run and its figures; None where its log has no digest.

    A run that did not finish has figures for the time until it ended, and its sentence says so.

    waits      of a run whose log holds requests; figures are of a throughput
    held_back  of the mean, the median and the fifth percentile, in this order: whether it lies at the client's ceiling
               or the lab's limit, and so is only a lower bound
    """

    run: LongRun
    figures: Steadiness | None
    held_back: tuple[bool, bool, bool] = (False, False, False)
    waits: LongWaits | None = None

    @property
    def duration_s(self) -> float | None:
        """How long its log is; None where it gave no figures. [s]"""
        figures = self.waits if self.run.kind == "requests" else self.figures
        return None if figures is None else figures.duration_s

    @property
    def counted(self) -> bool:
        """Whether the run says something about the device: a client fault or an abort does not."""
        return self.run.outcome in ("finished", "did not finish")

    @property
    def figure(self) -> str:
        """Id of the figure: what distinguishes the run from every other."""
        run = self.run
        return joined_id(
            KIND_OF_FIGURE[run.kind],
            subject_id(run.device, run.settings),
            run.unit,
            run.firmware,
            run.client,
            run.session,
            run.band,
            str(run.width_mhz),
            run.direction or "",
            run.at_utc,
        )


def load_longruns(db: Database) -> list[LongRunResult]:
    """Every long run of a copy of a catalogue, by device, unit, firmware, client, session, link and time."""
    digests = queries.digests(db)
    caps = limits(queries.ceilings(db), queries.devices(db), queries.houses(db))
    results = []
    for run in queries.longruns(db):
        if run.kind == "requests":
            waits = long_waits(digests.get(("longrun", run.longrun_id), {}), mark_ms=run.mark_ms)
            results.append(LongRunResult(run, None, waits=waits))
            continue
        figures = steadiness(digests.get(("longrun", run.longrun_id), {}))
        results.append(LongRunResult(run, figures, _held_back(run, figures, caps)))
    return results


def _held_back(run: LongRun, figures: Steadiness | None, caps: Limits) -> tuple[bool, bool, bool]:
    if figures is None or run.direction is None:
        return (False, False, False)
    mean, median, low = caps.limits_of(
        [figures.mean, figures.median, figures.fifth_percentile],
        device=run.device,
        client=run.client,
        house=run.house,
        band=run.band,
        width_mhz=run.width_mhz,
        direction=run.direction,
    )
    return is_bound(mean), is_bound(median), is_bound(low)


def longrun_subject(bench: Bench, results: Sequence[LongRunResult], text: str, *, unit: str | None = None) -> Subject:
    """The subject that "device" or "device@firmware" names, by its long runs.

    Raises  UnknownName as `subject` does.
    """
    tests = [(subject_id(r.run.device, r.run.settings), r.run.unit, r.run.firmware) for r in results]
    return tested_subject(bench, text, tests, unit=unit, what="long runs")


def longruns_of(results: Sequence[LongRunResult], subject: Subject) -> list[LongRunResult]:
    """The subject's long runs, by client, session, link and time."""
    return [
        r
        for r in results
        if (r.run.device, r.run.unit, r.run.firmware) == (subject.device, subject.unit, subject.firmware)
        and (r.run.settings or "") == subject.settings
    ]


def steadiness(digest: Mapping[str, float]) -> Steadiness | None:
    """The figures in a digest; None where it is not that of a throughput log."""
    coverage = log_coverage(digest)
    if coverage is None:
        return None
    return Steadiness(
        samples=int(digest["samples"]),
        duration_s=digest["duration_s"],
        logged_s=digest["logged_s"],
        coverage=coverage,
        mean=digest["mean_mbit_s"],
        median=digest["median_mbit_s"],
        fifth_percentile=digest["p05_mbit_s"],
        evenness=digest.get("evenness"),
        longest_stall_s=digest["longest_stall_s"],
        step_s=digest.get("step_s"),
        drift=None
        if "drift_p" not in digest
        else Drift(
            per_hour=digest["drift_mbit_s_per_h"],
            low=digest["drift_low_mbit_s_per_h"],
            high=digest["drift_high_mbit_s_per_h"],
            p=digest["drift_p"],
            blocks=int(digest["drift_blocks"]),
            block_s=digest["drift_block_s"],
        ),
        period=None
        if "period_s" not in digest
        else Period(
            period_s=digest["period_s"],
            cycles=digest["period_cycles"],
            step_s=digest["step_s"],
            exceeded=int(digest["period_exceeded"]),
            share=digest["period_share"],
        ),
    )


def sentences(result: LongRunResult) -> tuple[str, ...]:
    """All that is said of a long run: its figures first, then what it is too short or too thin to show."""
    first = steady_sentence(result)
    if not result.counted:
        return (first,)
    if result.waits is not None:
        return (first, hours_sentence(result.waits), untold_sentence(result.run, result.waits))
    if result.figures is not None:
        return (first, drift_sentence(result.figures), period_sentence(result.figures))
    return (first,)


def steady_sentence(result: LongRunResult) -> str:
    """How much it carried and how evenly, over what time; of requests, how long they waited."""
    figures = result.figures
    if not result.counted:
        return f"The run ended as {result.run.outcome}; it counts neither way."
    if result.waits is not None:
        return waits_sentence(result.run, result.waits)
    if figures is None:
        return "Its log gave no figures."
    lived = " until it broke off" if result.run.outcome == "did not finish" else ""
    rates = (figures.mean, figures.median, figures.fifth_percentile)
    decimals = wording.rate_decimals(*rates)
    mean, median, low = (
        wording.rate(rate, bound=held, decimals=decimals) for rate, held in zip(rates, result.held_back, strict=True)
    )
    most = "at most " if result.held_back[1] and not result.held_back[2] else ""
    even = "" if figures.evenness is None else f" (evenness {most}{wording.ratio(figures.evenness)})"
    limited = ", held back by the client or the lab" if any(result.held_back) else ""
    gap = figures.coverage.text and f", {figures.coverage.text}"
    return (
        f"Over {wording.hours(figures.duration_s)}{lived}: mean {mean} Mbit/s, median {median}, 5th percentile "
        f"{low}{even}; longest stall {wording.trimmed(figures.longest_stall_s, 1)} s{gap}{limited}."
    )


def drift_sentence(figures: Steadiness) -> str:
    """Whether it grew faster or slower by more than chance."""
    drift = figures.drift
    if drift is None:
        return (
            f"Too short to tell a drift: {LEAST_BLOCKS} blocks are needed, each of "
            f"{wording.trimmed(LEAST_BLOCK_S / 60, 0)} minutes or ten times as long as the run remembers itself."
        )
    ends = wording.between(drift.low, drift.high, 1, signed=True)
    blocks = f"from {drift.blocks} blocks of {wording.trimmed(drift.block_s / 60, 1)} minutes"
    if not drift.found:
        slope = wording.number(drift.per_hour, 1, signed=True)
        return f"No drift beyond chance: {slope} Mbit/s an hour, {wording.likely(ends)}, {blocks}."
    way = "faster" if drift.per_hour > 0 else "slower"
    slope = wording.number(abs(drift.per_hour), 1)
    return f"It grew {way} by {slope} Mbit/s an hour ({wording.likely(ends)}), more than chance, {blocks}."


def period_sentence(figures: Steadiness) -> str:
    """Whether it repeats itself, how often that was seen, and what may look the same or go unseen; never why."""
    period = figures.period
    if period is not None:
        return (
            f"It repeats every {wording.trimmed(period.period_s, 1)} s, seen {wording.number(period.cycles, 1)} times "
            f"with one value every {wording.trimmed(period.step_s, 1)} s. Wander on all time scales can look the same, "
            "and one client alone cannot show the cause."
        )
    if figures.step_s is None:
        return "No period was looked for."
    fastest, slowest = LEAST_SAMPLES * figures.step_s, figures.logged_s / LEAST_CYCLES
    if slowest < fastest:
        return f"Too short to tell a period: {LEAST_CYCLES} whole cycles are needed."
    return (
        f"No period found between {wording.trimmed(fastest, 1)} s (two values) and {wording.trimmed(slowest, 1)} s "
        f"({LEAST_CYCLES} cycles)."
    )


def longruns_json(subject: Subject, results: Sequence[LongRunResult]) -> dict[str, Any]:
    """The longrun document: rates in Mbit/s, times in s, waits in ms."""
    tally = count_long(r.run for r in results)
    return {
        "device": subject.device,
        "unit": subject.unit,
        "firmware": subject.firmware,
        "note": subject.note,
        "collapses": {"did_not_finish": tally.collapsed, "runs": tally.runs, "sentence": tally.sentence},
        "longruns": [longrun_json(r) for r in results],
    }


def longrun_json(result: LongRunResult) -> dict[str, Any]:
    """One long run; figures is null where there are none, drift where too short, period where none was detected."""
    run, figures = result.run, result.figures
    return {
        "client": run.client,
        "driver": run.driver,
        "session": run.session,
        "date": run.date,
        "at_utc": run.at_utc,
        "kind": run.kind,
        "band": run.band,
        "width_mhz": run.width_mhz,
        "direction": run.direction,
        "spot": run.spot,
        "outcome": run.outcome,
        "counted": result.counted,
        "sentence": steady_sentence(result),
        "figures": waits_json(run, result.waits)
        if result.waits is not None and result.counted
        else None
        if figures is None or not result.counted
        else {
            "until_the_collapse": run.outcome == "did not finish",
            "samples": figures.samples,
            "duration_s": figures.duration_s,
            "logged_s": figures.logged_s,
            "mean": figures.mean,
            "median": figures.median,
            "bounds": dict(zip(("mean", "median", "p05"), result.held_back, strict=True)),
            "p05": figures.fifth_percentile,
            "evenness": figures.evenness,
            "longest_stall_s": figures.longest_stall_s,
            "longest_gap_s": figures.coverage.longest_gap_s,
            "step_s": figures.step_s,
            "drift": _drift_json(figures.drift),
            "drift_sentence": drift_sentence(figures),
            "period": _period_json(figures.period),
            "period_sentence": period_sentence(figures),
        },
        "figure": result.figure,
    }


def _drift_json(drift: Drift | None) -> dict[str, Any] | None:
    if drift is None:
        return None
    return {
        "found": drift.found,
        "per_hour": drift.per_hour,
        "interval": [drift.low, drift.high],
        "p": drift.p,
        "blocks": drift.blocks,
        "block_s": drift.block_s,
    }


def _period_json(period: Period | None) -> dict[str, Any] | None:
    if period is None:
        return None
    return {
        "period_s": period.period_s,
        "cycles": period.cycles,
        "step_s": period.step_s,
        "share": period.share,
        "surrogates": SURROGATES,
        "exceeded": period.exceeded,
    }
