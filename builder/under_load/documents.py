"""Runs with several clients as the roles document of commands.md."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from builder.bench.bench import Subject
from builder.metrics.proportions import share_interval
from builder.under_load.collapses import count
from builder.under_load.mixes import MixResult
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import WorkloadResult
from catalog.digesting.latency import Percentile


def roles_json(subject: Subject, found: Sequence[MixResult], workloads: Sequence[WorkloadResult]) -> dict[str, Any]:
    """Every run of one subject, how many did not finish, and where it stands in the workloads it did.

    Ends of an interval: a number, "failed" where it falls among the failed, null where no rank bounds it. Shares
    are fractions, times in ms and s as named. What a role has none of is null.
    """
    tally = count(m.mix for m in found)
    return {
        "device": subject.device,
        "unit": subject.unit,
        "firmware": subject.firmware,
        "note": subject.note,
        "collapses": {"did_not_finish": tally.collapsed, "runs": tally.runs, "sentence": tally.sentence},
        "mixes": [mix_json(m) for m in found],
        "workloads": [workload_json(w) for w in workloads],
    }


def mix_json(found: MixResult) -> dict[str, Any]:
    """One run."""
    mix = found.mix
    return {
        "mix": mix.mix,
        "workload": mix.workload,
        "version": mix.version,
        "date": mix.date,
        "outcome": mix.outcome,
        "counted": not found.excluded,
        "incomplete": found.incomplete,
        "survived_s": mix.survived_s,
        "planned_s": mix.planned_s,
        "ended_by": mix.ended_by,
        "common_s": found.common_s,
        "sentence": found.sentence,
        "stations": [role_json(r) for r in found.roles],
        "fairness": [{"kind": f.kind, "roles": list(f.roles), "jain": f.index} for f in found.fairness],
    }


def role_json(found: RoleResult) -> dict[str, Any]:
    """One role of one run."""
    station, voice, apdex = found.station, found.voice, found.apdex
    shown, until = found.shown, found.until
    return {
        "client": station.client if station else None,
        "spot": station.spot if station else None,
        "attenuation_db": station.attenuation_db if station else None,
        "band": station.band if station else None,
        "width_mhz": station.width_mhz if station else None,
        "role": found.role.role_id,
        "kind": found.role.kind,
        "verdict": found.verdict,
        "shown": found.certain if found.verdict in ("met", "not-met") else None,
        "sentence": found.sentence,
        "target_ms": found.role.target_ms,
        "target_share": found.role.target_share,
        "planned": found.planned,
        "made": found.made,
        "finished": found.finished,
        "failed": found.failed,
        "on_time_share": found.on_time_share,
        "share_interval": None if found.requests is None else list(share_interval(found.requests)),
        "requests_effective": found.effective,
        "percentiles": {str(p.percent): _percentile_json(p) for p in found.percentiles},
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
        "page_mos": found.page_mos,
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
        "survived_s": found.survived_s,
        "until_the_collapse": None
        if until is None
        else {
            "made": until.made,
            "on_time_share": until.on_time_share,
            "percentiles": {str(p): ms for p, ms in until.percentiles.items()},
        },
        "figure": found.figure,
    }


def workload_json(found: WorkloadResult) -> dict[str, Any]:
    """One workload over devices."""
    return {
        "workload": found.workload,
        "version": found.version,
        "clients": dict(found.clients),
        "mixes": list(found.mixes),
        "note": found.note,
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
            for s in found.standings
        ],
        "not_ranked": [{"device": one.subject.device, "sentence": one.sentence} for one in found.not_ranked],
    }


def _percentile_json(found: Percentile) -> dict[str, Any]:
    return {
        "ms": found.ms,
        "failed": found.failed,
        "thin": found.thin,
        "interval": [_end(found.low_ms), _end(found.high_ms)],
    }


def _end(ms: float | None) -> float | str | None:
    return "failed" if ms == math.inf else ms
