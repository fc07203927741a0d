"""What a workload says of several devices: order by roles met, then by the hardest-pressed role (method, section 6).

Only runs with the same workload version and the same client series in every role are set beside each other.
"""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from builder import wording
from builder.bench.bench import Bench, Subject
from builder.metrics.proportions import same_share_p
from builder.under_load.collapses import Count, count
from builder.under_load.mixes import MixResult, mix_subject, mixes_of
from builder.under_load.roles import RoleResult

RUNS_FOR_SPREAD = 3
PRACTICE_SHARE_SPREAD = 0.05  # practice
CHANCE = 0.05  # of calling equal shares separated

ClientMap = tuple[tuple[str, str], ...]  # (role, client series), by role


@dataclass(frozen=True, slots=True)
class Standing:
    """One device in a workload.

    met        roles met in every run that counts
    unmet      of every role that was not met in one of them, the run with the lowest on-time share
    incomplete runs that count but lack a role, and so are not among *runs* [1]
    hardest    the role with the lowest on-time share, a mean over those runs; "" where no role has a target
    share      that share [1]
    on_time, planned   its requests over those runs [1]
    apart      separated from the row above; True for the first
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
    apart: bool = True


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A device without a whole run: why it is not ranked, and how its runs ended."""

    subject: Subject
    sentence: str
    collapses: Count


@dataclass(frozen=True, slots=True)
class WorkloadResult:
    """All devices that did one workload with one set of clients.

    spread      shares closer than this are not separated, nor those that their requests are too few to tell apart [1]
    not_ranked  devices without a whole run
    seats       machines at once, by the number of roles each played, most first; one for each way it was done
    """

    workload: str
    version: int
    clients: ClientMap
    standings: tuple[Standing, ...]
    not_ranked: tuple[LeftOut, ...]
    spread: float
    spread_source: Literal["measured", "practice"]
    seats: tuple[tuple[int, ...], ...]

    @property
    def note(self) -> str:
        """What must be said beside the order."""
        single = [s for s in self.standings if s.runs == 1]
        text = f"Shares closer than {wording.percent(self.spread)} are not separated"
        text += (
            ", the run-to-run spread of this workload."
            if self.spread_source == "measured"
            else f" (practice: no device has {RUNS_FOR_SPREAD} runs of it that differ)."
        )
        text += " Nor are those whose requests are too few to tell them apart."
        return (
            f"{text} This is the order of these runs, one each."
            if single and len(single) == len(self.standings)
            else f"{text} Devices with one run stand by that run."
            if single
            else text
        )


def workload_results(bench: Bench, results: Sequence[MixResult]) -> list[WorkloadResult]:
    """Every workload with every set of clients, by id; each device with its latest public firmware that ran it."""
    grouped: dict[tuple[str, int, ClientMap], list[MixResult]] = defaultdict(list)
    for result in results:
        grouped[result.mix.workload, result.mix.version, client_map(result)].append(result)
    return [_result(bench, *key, members) for key, members in sorted(grouped.items(), key=lambda item: item[0])]


def client_map(result: MixResult) -> ClientMap:
    """Which client series played which role."""
    return tuple(sorted((r.role.role_id, r.series) for r in result.roles))


def _result(
    bench: Bench, workload: str, version: int, clients: ClientMap, members: Sequence[MixResult]
) -> WorkloadResult:
    ranked: list[tuple[Standing, list[MixResult]]] = []
    left_out: list[LeftOut] = []
    by_device: dict[str, list[MixResult]] = defaultdict(list)
    for member in members:
        by_device[member.mix.device].append(member)
    for device, tests in sorted(by_device.items()):
        subject = mix_subject(bench, tests, device)
        own = [m for m in mixes_of(tests, subject) if not m.excluded]
        whole = [m for m in own if not m.incomplete]
        if whole:
            ranked.append((_standing(subject, whole, count(m.mix for m in own), len(own) - len(whole)), whole))
        else:
            why = "every run is incomplete" if own else "no run of it counts"
            left_out.append(LeftOut(subject, f"Not ranked: {why}.", count(m.mix for m in own)))
    spread = _run_to_run([(s.hardest, runs) for s, runs in ranked])
    source: Literal["measured", "practice"] = "practice" if spread is None else "measured"
    spread = PRACTICE_SHARE_SPREAD if spread is None else spread
    order = sorted((s for s, _ in ranked), key=_order)
    apart = [_apart(above, below, spread) for above, below in pairwise(order)]
    standings = tuple(replace(s, apart=yes) for s, yes in zip(order, [True, *apart], strict=False))
    seats = tuple(dict.fromkeys(member.seats for member in members))
    return WorkloadResult(workload, version, clients, standings, tuple(left_out), spread, source, seats)


def _standing(subject: Subject, runs: Sequence[MixResult], collapses: Count, incomplete: int) -> Standing:
    roles = [r.role.role_id for r in runs[0].roles if not r.without_target]
    shares = {role: _share(runs, role) for role in roles}
    judged = {role: share for role, share in shares.items() if share is not None}
    hardest = min(judged, key=lambda role: (judged[role], role)) if judged else ""
    met = tuple(
        role for role in roles if all(r.verdict == "met" for run in runs for r in run.roles if r.role.role_id == role)
    )
    unmet = [_lowest(runs, role) for role in roles]
    own = [r for run in runs for r in run.roles if r.role.role_id == hardest]
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
        sum(r.on_time or 0 for r in own),
        sum(r.planned or 0 for r in own),
    )


def _lowest(runs: Sequence[MixResult], role: str) -> RoleResult | None:
    """Of the runs that did not meet a role, the one with the lowest on-time share; None where all met it."""
    found = [r for run in runs for r in run.roles if r.role.role_id == role and r.verdict == "not-met"]
    return min(found, key=lambda r: (r.on_time_share or 0.0, r.mix), default=None)


def _share(runs: Sequence[MixResult], role: str) -> float | None:
    found = [r.on_time_share for run in runs for r in run.roles if r.role.role_id == role]
    known = [share for share in found if share is not None]
    return statistics.fmean(known) if known and len(known) == len(found) else None


def _run_to_run(devices: Sequence[tuple[str, Sequence[MixResult]]]) -> float | None:
    """Pooled standard deviation of the hardest-pressed role's share over runs of one device; None with too few."""
    squares, df = 0.0, 0
    for hardest, runs in devices:
        shares = [s for run in runs if (s := _share([run], hardest)) is not None]
        if len(shares) >= RUNS_FOR_SPREAD:
            squares += statistics.variance(shares) * (len(shares) - 1)
            df += len(shares) - 1
    return math.sqrt(squares / df) if squares else None  # runs all alike: chance, not a spread of 0


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


def _apart(above: Standing, below: Standing, spread: float) -> bool:
    """Finishing tells two apart whatever their shares; otherwise the hardest-pressed roles must differ by more than the
    spread from run to run, and by more than so many requests leave open.
    """
    if (above.collapses.collapsed > 0) != (below.collapses.collapsed > 0):
        return True
    if not (above.planned and below.planned) or abs(above.share - below.share) <= spread:
        return False
    return same_share_p(above.on_time, above.planned, below.on_time, below.planned) <= CHANCE
