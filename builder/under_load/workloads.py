"""What a workload shows about several devices: by roles met, then by the hardest-pressed role (method, section 6).

Only runs of one version whose machines are alike, with the same clients in the same places, are compared.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from builder import wording
from builder.bench.bench import Bench, Subject
from builder.metrics.proportions import Requests, least_told_apart, share_difference
from builder.under_load.arrangements import Arrangement, sections
from builder.under_load.collapses import Count, count
from builder.under_load.mixes import MixResult, mix_subject, mixes_of
from builder.under_load.roles import RoleResult
from catalog.figure_names import subject_id

RUNS_TO_ASK_FOR = 3

ClientMap = tuple[tuple[str, str], ...]  # (role, client series), by role


@dataclass(frozen=True, slots=True)
class Standing:
    """One device in a workload.

    met        roles met in every run that counts
    unmet      of every role that was not met in one of them, the run with the lowest on-time share
    incomplete runs that count but lack a role, and so are not among *runs* [1]
    hardest    the role with the lowest on-time share, a mean over those runs; "" where no role has a target
    share      that share [1]
    on_time, planned   requests of that role over those runs [1]
    requests   role -> its requests in each of those runs, where they can be judged
    apart      separated from the row above in the role that is hardest here; True for the first
    """

    subject: Subject
    runs: int
    collapses: Count
    met: tuple[str, ...]
    unmet: tuple[RoleResult, ...]
    incomplete: int
    roles: int
    hardest: str
    share: float
    on_time: int
    planned: int
    requests: Mapping[str, tuple[Requests, ...]]
    apart: bool = True


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A device without a whole run: why it is not ranked, and how its runs ended."""

    subject: Subject
    sentence: str
    collapses: Count


@dataclass(frozen=True, slots=True)
class WorkloadResult:
    """All devices that did one workload in one arrangement: with alike machines in alike places.

    arrangement that of the first run, which all others are alike to
    mixes       ids of its runs
    not_ranked  devices without a whole run
    seats       machines at once, by the number of roles each played, most first; one for each way it was done
    """

    workload: str
    version: int
    clients: ClientMap
    arrangement: Arrangement
    mixes: tuple[str, ...]
    standings: tuple[Standing, ...]
    not_ranked: tuple[LeftOut, ...]
    seats: tuple[tuple[int, ...], ...]

    @property
    def note(self) -> str:
        """The caveat that belongs to the order; "" where every device has several runs."""
        single = [standing for standing in self.standings if standing.runs == 1]
        if not single:
            return ""
        text = (
            f"With one run each, shares less than {wording.points(least_told_apart())} apart can never be told apart; "
            f"{RUNS_TO_ASK_FOR} runs of a device show how much runs differ."
        )
        if len(single) < len(self.standings):
            return f"{text} Devices with one run stand by that run."
        return f"{text} This is the order of these runs, one each."


def workload_results(bench: Bench, results: Sequence[MixResult]) -> list[WorkloadResult]:
    """Every workload in every arrangement, by id, the one with most devices first, then in the order of entry.

    Each device is represented by its latest public firmware that ran it.
    """
    grouped: dict[tuple[str, int], list[MixResult]] = defaultdict(list)
    for result in sorted(results, key=lambda r: (r.entered, r.mix.mix)):
        grouped[result.mix.workload, result.mix.version].append(result)
    workloads: list[WorkloadResult] = []
    for key, entered in sorted(grouped.items()):
        by_id = {result.mix.mix: result for result in entered}
        groups = [[by_id[mix] for mix in s] for s in sections({m: r.arrangement for m, r in by_id.items()})]
        groups.sort(key=lambda members: -len({m.mix.device for m in members}))
        workloads += [
            _result(bench, *key, sorted(members, key=lambda m: (m.mix.date, m.mix.mix))) for members in groups
        ]
    return workloads


def client_map(result: MixResult) -> ClientMap:
    """Which client series played which role."""
    return tuple(sorted((r.role.role_id, r.series) for r in result.roles))


def _result(bench: Bench, workload: str, version: int, members: Sequence[MixResult]) -> WorkloadResult:
    first = min(members, key=lambda m: (m.entered, m.mix.mix))
    ranked: list[Standing] = []
    left_out: list[LeftOut] = []
    by_device: dict[str, list[MixResult]] = defaultdict(list)
    for member in members:
        by_device[subject_id(member.mix.device, member.settings)].append(member)
    for device, tests in sorted(by_device.items()):
        subject = mix_subject(bench, tests, device)
        counted = [m for m in mixes_of(tests, subject) if not m.excluded]
        whole = [m for m in counted if not m.incomplete]
        if whole:
            ranked.append(_standing(subject, whole, count(m.mix for m in counted), len(counted) - len(whole)))
        else:
            why = "every run is incomplete" if counted else "no run of it counts"
            left_out.append(LeftOut(subject, f"Not ranked: {why}.", count(m.mix for m in counted)))
    order = sorted(ranked, key=_order)
    apart = [_apart(above, below) for above, below in pairwise(order)]
    standings = tuple(replace(s, apart=yes) for s, yes in zip(order, [True, *apart], strict=False))
    seats = tuple(dict.fromkeys(member.seats for member in members))
    return WorkloadResult(
        workload,
        version,
        client_map(first),
        first.arrangement,
        tuple(m.mix.mix for m in members),
        standings,
        tuple(left_out),
        seats,
    )


def _standing(subject: Subject, runs: Sequence[MixResult], collapses: Count, incomplete: int) -> Standing:
    roles = [r.role.role_id for r in runs[0].roles if not r.without_target]
    shares = {role: _share(runs, role) for role in roles}
    judged = {role: share for role, share in shares.items() if share is not None}
    hardest = min(judged, key=lambda role: (judged[role], role)) if judged else ""
    met = tuple(
        role for role in roles if all(r.verdict == "met" for run in runs for r in run.roles if r.role.role_id == role)
    )
    unmet = [_lowest(runs, role) for role in roles]
    hard = [r for run in runs for r in run.roles if r.role.role_id == hardest]
    return Standing(
        subject,
        len(runs),
        collapses,
        met,
        tuple(r for r in unmet if r is not None),
        incomplete,
        len(roles),
        hardest,
        judged.get(hardest, 0.0),
        sum(r.on_time or 0 for r in hard),
        sum(r.planned or 0 for r in hard),
        {role: _requests(runs, role) for role in roles},
    )


def _requests(runs: Sequence[MixResult], role: str) -> tuple[Requests, ...]:
    """The requests of a role in each run; () where one of them cannot be judged."""
    played = [r.requests for run in runs for r in run.roles if r.role.role_id == role]
    return tuple(one for one in played if one is not None) if None not in played else ()


def _lowest(runs: Sequence[MixResult], role: str) -> RoleResult | None:
    """Of the runs that did not meet a role, the one with the lowest on-time share; None where all met it."""
    missed = [r for run in runs for r in run.roles if r.role.role_id == role and r.verdict == "not-met"]
    return min(missed, key=lambda r: (r.on_time_share or 0.0, r.mix), default=None)


def _share(runs: Sequence[MixResult], role: str) -> float | None:
    shares = [r.on_time_share for run in runs for r in run.roles if r.role.role_id == role]
    known = [share for share in shares if share is not None]
    return statistics.fmean(known) if known and len(known) == len(shares) else None


def _order(standing: Standing) -> tuple[object, ...]:
    subject = standing.subject
    return (
        standing.collapses.collapsed > 0,
        -len(standing.met),
        -standing.share,
        subject.maker,
        subject.model,
        subject.device,
    )


def _apart(above: Standing, below: Standing) -> bool:
    """Finishing separates two devices whatever their shares; otherwise the hardest role of the lower one must."""
    if (above.collapses.collapsed > 0) != (below.collapses.collapsed > 0):
        return True
    a, b = above.requests.get(below.hardest, ()), below.requests.get(below.hardest, ())
    return bool(a and b) and share_difference(a, b).separated
