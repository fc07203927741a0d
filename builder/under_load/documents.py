"""Runs with several clients as the roles document of commands.md."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from builder.bench.bench import Subject
from builder.metrics.proportions import share_interval
from builder.under_load.collapses import count
from builder.under_load.mix_comparisons import MixComparison, RoleComparison
from builder.under_load.mixes import MixResult
from builder.under_load.noted import Noted
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import WorkloadResult
from catalog.digesting.latency import Percentile


def roles_json(
    subject: Subject,
    results: Sequence[MixResult],
    compared: Sequence[MixComparison],
    workloads: Sequence[WorkloadResult],
    *,
    current: Mapping[str, str | None],
) -> dict[str, Any]:
    """Every run of one subject, how many did not finish, its comparisons, and its place in the workloads it ran.

    Ends of an interval: a number, "failed" where it falls among the failed, null where no rank bounds it. Shares
    are fractions, times in ms and s as named. A figure that a role lacks is null.

    current  device -> its current firmware, for every device it is compared with
    """
    tally = count(m.mix for m in results)
    return {
        "device": subject.device,
        "unit": subject.unit,
        "firmware": subject.firmware,
        "settings": subject.settings or None,
        "note": subject.note,
        "collapses": {"did_not_finish": tally.collapsed, "runs": tally.runs, "sentence": tally.sentence},
        "mixes": [mix_json(m) for m in results],
        "compared": [comparison_json(c, current=current[c.subjects[1].device]) for c in compared],
        "workloads": [workload_json(w) for w in workloads],
    }


def comparison_json(comparison: MixComparison, *, current: str | None) -> dict[str, Any]:
    """One arrangement against one other device. current: that device's current firmware.

    Keys that a verdict forbids are absent, and so are the roles of runs that are not compared.
    """
    other = comparison.subjects[1]
    document: dict[str, Any] = {
        "workload": comparison.workload,
        "mixes": list(comparison.mixes[0]),
        "with": {
            "device": other.device,
            "firmware": other.firmware,
            "current": other.firmware == current,
            "mixes": list(comparison.mixes[1]),
        },
        "arrangement": comparison.kind,
        "code": comparison.code,
        "sentence": comparison.sentence,
    }
    if comparison.kind != "company-differs":
        document["roles"] = [_compared_role_json(role) for role in comparison.roles]
    return document


def _compared_role_json(role: RoleComparison) -> dict[str, Any]:
    document: dict[str, Any] = {
        "role": role.role.role_id,
        "client": role.clients[0],
        "client_other": role.clients[1],
        "share": role.shares[0],
        "share_other": role.shares[1],
        "verdict": role.verdict,
        "code": role.code,
    }
    if (difference := role.difference) is not None:
        document["difference"] = difference.difference
        document["interval"] = [difference.low, difference.high]
        document["assumed"] = ["run_share_spread"] if difference.assumed else []
    return {**document, "sentence": role.sentence}


def mix_json(result: MixResult) -> dict[str, Any]:
    """One run."""
    mix = result.mix
    return {
        "mix": mix.mix,
        "workload": mix.workload,
        "version": mix.version,
        "date": mix.date,
        "outcome": mix.outcome,
        "counted": not result.excluded,
        "incomplete": result.incomplete,
        "survived_s": mix.survived_s,
        "planned_s": mix.planned_s,
        "ended_by": mix.ended_by,
        "common_s": result.common_s,
        "sentence": result.sentence,
        "stations": [role_json(r) for r in result.roles],
        "fairness": [{"kind": f.kind, "roles": list(f.roles), "jain": f.index} for f in result.fairness],
    }


def role_json(result: RoleResult) -> dict[str, Any]:
    """One role of one run."""
    station, voice, apdex = result.station, result.voice, result.apdex
    shown, until = result.shown, result.until
    return {
        "client": station.client if station else None,
        "spot": station.spot if station else None,
        "attenuation_db": station.attenuation_db if station else None,
        "band": station.band if station else None,
        "width_mhz": station.width_mhz if station else None,
        "settings": station.settings if station else None,
        "role": result.role.role_id,
        "kind": result.role.kind,
        "verdict": result.verdict,
        "shown": result.certain if result.verdict in ("met", "not-met") else None,
        "sentence": result.sentence,
        "target_ms": result.role.target_ms,
        "target_share": result.role.target_share,
        "good_ms": result.role.good_ms,
        "good_share": result.role.good_share,
        "planned": result.planned,
        "made": result.made,
        "finished": result.finished,
        "failed": result.failed,
        "on_time_share": result.on_time_share,
        "good_on_time_share": result.good_on_time_share,
        "good_verdict": result.good_verdict,
        "share_interval": None if result.requests is None else list(share_interval(result.requests)),
        "requests_effective": result.effective,
        "percentiles": {str(p.percent): _percentile_json(p) for p in result.percentiles},
        "voice": None
        if voice is None
        else {
            "one_way_ms": voice.one_way_ms,
            "loss": voice.loss,
            "r": voice.r,
            "mos": voice.mos,
        },
        "apdex": None
        if apdex is None
        else {
            "score": apdex.score,
            "target_ms": apdex.target_ms,
            "small_group": apdex.small_group,
        },
        "page_mos": result.page_mos,
        "stalls": None
        if shown is None
        else {
            "start_delay_s": shown.start_delay_s,
            "stalls": shown.stalls,
            "stalled_s": shown.stalled_s,
            "shown_s": shown.shown_s,
            "late_segments": shown.late_segments,
            "lost_segments": shown.lost_segments,
            "stalling_quality": shown.stalling_quality,
        },
        "survived_s": result.survived_s,
        **({} if result.noted is None else {"as_noted": _noted_json(result.noted)}),
        "until_the_collapse": None
        if until is None
        else {
            "made": until.made,
            "on_time_share": until.on_time_share,
            "percentiles": {str(p): ms for p, ms in until.percentiles.items()},
        },
        "figure": result.figure,
    }


def _noted_json(noted: Noted) -> dict[str, Any]:
    """What a row says itself, where no log was kept."""
    return {
        "on_time_share": noted.on_time_share,
        "mark_ms": noted.mark_ms,
        "planned": noted.planned,
        "percentiles": {str(percent): ms for percent, ms in noted.percentiles.items()},
    }


def workload_json(result: WorkloadResult) -> dict[str, Any]:
    """One workload over devices."""
    return {
        "workload": result.workload,
        "versions": list(result.versions),
        "clients": {part.key: part.seat.series if part.seat else "" for part in result.parts},
        "mixes": list(result.mixes),
        "note": result.note,
        "ranked": [
            {
                "device": s.subject.device,
                "unit": s.subject.unit,
                "firmware": s.subject.firmware,
                "runs": s.runs,
                "incomplete_runs": s.incomplete,
                "did_not_finish": s.collapses.collapsed,
                "roles_met": list(s.met),
                "roles": s.roles,
                "hardest_pressed": s.hardest or None,
                "on_time_share": s.share if s.hardest else None,
                "separated_from_above": s.apart,
            }
            for s in result.standings
        ],
        "not_ranked": [{"device": one.subject.device, "sentence": one.sentence} for one in result.not_ranked],
    }


def _percentile_json(percentile: Percentile) -> dict[str, Any]:
    return {
        "ms": percentile.ms,
        "failed": percentile.failed,
        "thin": percentile.thin,
        "interval": [_end(percentile.low_ms), _end(percentile.high_ms)],
    }


def _end(ms: float | None) -> float | str | None:
    return "failed" if ms == math.inf else ms
