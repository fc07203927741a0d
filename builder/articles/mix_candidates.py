"""What could be bound of a device's runs with several clients, and how its numbers may have been typed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from builder import wording
from builder.articles.evidence import Evidence
from builder.articles.mix_runs import Played, apart
from builder.under_load.mixes import MixResult, mix_subject
from builder.under_load.roles import RoleResult

Candidate = tuple[str, tuple[str, ...]]  # a binding, and the ways to type its number


def candidates(evidence: Evidence, device: str) -> Iterator[Candidate]:
    """Shares, waiting times, stalls and ends of all runs; shares once more by their mark, after everything else."""
    runs = evidence.mixes.get(device, ())
    marks: list[Candidate] = []
    for names, same in _by_workload(evidence, device, runs).items():
        for role, played in _by_role(same).items():
            first = f"{names}, role {role}"
            for one in played:
                options = ", ".join([first, *apart(one, played)])
                yield from _of_role(one.role, options)
                marks += _by_mark(one.role, options)
            yield from _added(played, first)
        for run in same:
            if run.mix.outcome == "did not finish" and run.mix.survived_s is not None:
                yield (
                    f"brokeoff {names}{f', mix {run.mix.mix}' if len(same) > 1 else ''}",
                    _durations(run.mix.survived_s),
                )
    yield from marks


def _by_workload(evidence: Evidence, device: str, runs: Sequence[MixResult]) -> dict[str, list[MixResult]]:
    """Device and workload as an author names them -> their runs."""
    groups: dict[str, list[MixResult]] = defaultdict(list)
    usual = mix_subject(evidence.bench, runs, device) if runs else None
    for run in runs:
        mix = run.mix
        as_usual = usual is not None and (mix.unit, mix.firmware) == (usual.unit, usual.firmware)
        name = device if as_usual else f"{device}/{mix.unit}@{mix.firmware}"
        groups[f"{name}, workload {mix.workload}"].append(run)
    return groups


def _by_role(runs: Sequence[MixResult]) -> dict[str, list[Played]]:
    groups: dict[str, list[Played]] = defaultdict(list)
    for run in runs:
        for role in run.roles:
            if role.planned:
                groups[role.role.role_id].append(Played(run, role))
    return groups


def _of_role(role: RoleResult, options: str) -> Iterator[Candidate]:
    if role.on_time_share is not None:
        yield f"share {options}", _share(role.on_time_share)
    for percentile in role.percentiles:
        if percentile.ms is not None and not percentile.thin:
            typed = (f"{wording.milliseconds(percentile.ms)} ms", f"{wording.number(percentile.ms, 0)} ms")
            yield f"waits {options}, at {percentile.percent}", typed
    if role.shown is not None and role.shown.stalls:
        yield f"stalls {options}", (wording.count(role.shown.stalls, "stall"),)


def _by_mark(role: RoleResult, options: str) -> Iterator[Candidate]:
    target_ms = role.role.target_ms
    if role.on_time_share is not None and target_ms is not None:
        yield f"share {options}", (f"{wording.milliseconds(target_ms)} ms", f"{wording.trimmed(target_ms, 1)} ms")


def _added(played: Sequence[Played], first: str) -> Iterator[Candidate]:
    """Shares and stalls over all runs of each client."""
    of_client: dict[str, list[RoleResult]] = defaultdict(list)
    for one in played:
        of_client[one.client].append(one.role)
    for client, roles in of_client.items():
        options = f"{first}{f', client {client}' if len(of_client) > 1 else ''}, runs all"
        if len(roles) > 1 and all(role.on_time is not None for role in roles):
            yield f"share {options}", _share(sum(r.on_time or 0 for r in roles) / sum(r.planned or 0 for r in roles))
        stalls = sum(role.shown.stalls for role in roles if role.shown is not None)
        if len(roles) > 1 and stalls:
            yield f"stalls {options}", (wording.count(stalls, "stall"),)


def _share(share: float) -> tuple[str, ...]:
    return wording.percent(share), f"{wording.number(share * 100, 0)} %"


def _durations(seconds: float) -> tuple[str, ...]:
    """A time until a run broke off, as it may be typed: "41:00", "41 min", "2460 s"."""
    minutes = dict.fromkeys([wording.trimmed(seconds / 60, 1), wording.number(seconds / 60, 0)])
    named = [f"{number} {unit}" for number in minutes for unit in ("min", "minutes")]
    whole = wording.trimmed(seconds, 0)
    return wording.clock(seconds), *named, f"{whole} s", f"{whole} seconds"
