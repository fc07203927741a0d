"""Traces of figures made of a log: a role under load, and a long run."""

from __future__ import annotations

from dataclasses import asdict

from builder.traces.ids import FigureId
from builder.traces.inputs import Json, Sources, log_place, place_of_row
from builder.traces.lines import Traced
from builder.under_load.documents import role_json
from builder.under_load.longruns import (
    LongRunResult,
    load_longruns,
    longrun_json,
    sentences,
)
from builder.under_load.mixes import MixResult, load_mixes
from builder.under_load.roles import RoleResult
from catalog.digesting.answers import LONGEST_WAIT_US, OFTEN, UNEVEN
from catalog.digesting.coverage import MOST_STEPS
from catalog.digesting.drift import BLOCK_PER_MEMORY, FORGOTTEN_BELOW, LEAST_BLOCK_S
from catalog.digesting.latency import APDEX_TOLERATED, PAGE_FASTEST_S, PAGE_SLOWEST_S
from catalog.digesting.longrun import STALLED_SHARE
from catalog.digesting.period import LARGEST_OF_HALF, LEAST_CYCLES, SURROGATES, SURROGATES_TO_EXCEED
from catalog.marks import MARKS

_WAITS = (
    "Percentile p = the finished wait of rank ⌈p · requests / 100⌉, requests without an answer last; of the run, and of each "
    "hour from its first request on; thin if requests · (100 − p) < 500.",
    "Late = requests − finished within mark_ms.",
    "A request covers time until the next one, or the usual step before a gap of more than "
    f"{MOST_STEPS} of them; at least until its answer, and without one until the next, if that is made within "
    f"{LONGEST_WAIT_US // 1_000_000} s. The usual step is the least of: the step up to which half of the time lies (three "
    f"quarters where the upper quartile of steps is above {UNEVEN:g} times the lower), and that which {OFTEN:.0%} of the steps "
    "do not exceed.",
    "Longest outage: from the first of several requests in a row without an answer to the next that was answered, or to a gap.",
)


def trace_role(sources: Sources, figure: FigureId) -> Traced | None:
    """One role of one run with several clients."""
    result = next(
        ((mix, role) for mix in load_mixes(sources.db) for role in mix.roles if role.figure == figure.text), None
    )
    if result is None:
        return None
    mix, role = result
    return Traced(
        result=role_json(role),
        sentence=role.sentence,
        formula=_role_formula(role),
        inputs=[_station_input(sources, role)] if role.station is not None else [],
        excluded=_role_exclusions(mix, role),
        details={"target": _target_input(sources, mix, role)},
    )


def trace_longrun(sources: Sources, figure: FigureId) -> Traced | None:
    """The figures of one long run."""
    result = next((one for one in load_longruns(sources.db) if one.figure == figure.text), None)
    if result is None:
        return None
    run = result.run
    row = place_of_row(sources, run.batch_id, run.source_file, run.source_row)
    log = log_place(sources, run.batch_id, run.log_path, owner=("longrun", run.longrun_id))
    return Traced(
        result=longrun_json(result),
        sentence=" ".join(sentences(result)),
        formula=_WAITS
        if run.kind == "requests"
        else (
            "Mean, median and 5th percentile are weighted by the time of each interval; evenness = 5th percentile / "
            f"median; a stall is unbroken time at no more than {STALLED_SHARE:g} of the median. Time that no interval "
            "covers is in none of them.",
            "Drift: Theil-Sen slope and Mann-Kendall test on means of equal blocks of at least "
            f"{LEAST_BLOCK_S:g} s and {BLOCK_PER_MEMORY} times the lag at which the autocorrelation falls below "
            f"{FORGOTTEN_BELOW:g}.",
            "Period: the largest ratio of the detrended run's periodogram to a background of first-order autoregressive "
            f"and white noise, if it exceeds that of {SURROGATES_TO_EXCEED} of {SURROGATES} surrogates of the background, "
            f"is among the {LARGEST_OF_HALF} largest of each half of the run, and was seen {LEAST_CYCLES} times; the "
            "surrogates' seed is the SHA-256 of the run's key.",
        ),
        inputs=[
            {"side": "a", "row": row, "log": log, "key": _longrun_key(result)}
            | ({"mark_ms": run.mark_ms} if run.kind == "requests" else {})
        ],
        excluded=[] if result.counted else [{**row, "why": f"the run ended as {run.outcome}; it counts neither way"}],
    )


def _longrun_key(result: LongRunResult) -> list[str]:
    run = result.run
    return [
        run.device,
        run.unit,
        run.firmware,
        run.client,
        run.session,
        run.band,
        str(run.width_mhz),
        run.direction or "",
        run.at_utc,
    ]


def _role_formula(role: RoleResult) -> tuple[str, ...]:
    if role.noted is not None:
        return (
            "On-time share and percentiles as the row states them, for no log was kept; met if the share is at least "
            "target_share, where mark_ms is target_ms and planned_requests is known.",
        )
    planned = (
        "planned as typed"
        if role.station and role.station.planned_requests is not None
        else (
            "planned = requests made before ended_at_s / ended_at_s · planned_s, to the nearest whole number, never fewer "
            "than the log holds"
        )
    )
    lines = [
        f"{planned}; failed = planned − finished.",
        "On-time share = finished within target_ms / planned; met if it is at least target_share.",
        "Percentile p = the finished latency of rank ⌈p · planned / 100⌉, failures last; its interval from order "
        "statistics (binomial, 95 %), within this run as if requests were independent; thin if planned · (100 − p) < 500.",
    ]
    if role.voice is not None:
        lines.append(
            "One way = half the mean round trip of answered packets + packet_ms; loss = failed / planned; R and "
            "MOS by ITU-T G.107."
        )
    if role.apdex is not None:
        lines.append(
            f"Apdex = (within the target + half of those within {APDEX_TOLERATED} times it) / planned; page score by "
            f"ITU-T G.1030 with {PAGE_FASTEST_S:g} and {PAGE_SLOWEST_S:g} s, 1 for a page that failed."
        )
    if role.shown is not None:
        lines.append(
            "Playout: segment k is asked for at k · segment_s, or, where the log shows that the generator waited for the "
            "one before, when that is there; it takes as long as it took. Started once start_buffer_s have arrived; one "
            "that is late stalls the picture, one that failed is skipped. Stalling quality by ITU-T P.1203.3, this term only."
        )
    return tuple(lines)


def _station_input(sources: Sources, role: RoleResult) -> Json:
    station = role.station
    assert station is not None
    log = None
    if station.log_path is not None:
        log = log_place(sources, station.batch_id, station.log_path, owner=("station", station.station_id))
    return {
        "side": "a",
        "row": place_of_row(sources, station.batch_id, station.source_file, station.source_row),
        "log": log,
        "outcome": station.outcome,
        "planned_s": station.planned_s,
        "planned_requests": station.planned_requests,
        "ended_at_s": station.ended_at_s,
        "ended_by": station.ended_by,
        "made": role.made,
        "planned": role.planned,
        **({} if role.noted is None else {"as_noted": asdict(role.noted)}),
    }


def _target_input(sources: Sources, mix: MixResult, role: RoleResult) -> Json:
    """What was asked of a role, and where that stands: with the role, or in the batch that set its marks later."""
    place = sources.db.table("role").get(role.role.definition)
    if role.role.marks_by not in (None, place["batch_id"]):
        place = {"batch_id": role.role.marks_by, "source_file": "batch.toml", "source_row": None}
    return {
        **place_of_row(sources, place["batch_id"], place["source_file"], place["source_row"]),
        "workload": mix.mix.workload,
        "version": mix.mix.version,
        "role": role.role.role_id,
        "kind": role.role.kind,
        **{name: getattr(role.role, name) for name in MARKS},
        "recipe": dict(role.role.recipe),
    }


def _role_exclusions(mix: MixResult, role: RoleResult) -> list[Json]:
    if mix.excluded:
        return [{"what": f"the run {mix.mix.mix}", "why": mix.excluded}]
    return [{"what": f"the role {role.role.role_id}", "why": role.sentence}] if role.verdict == "not-tested" else []
