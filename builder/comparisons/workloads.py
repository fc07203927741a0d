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
from builder.comparisons.bench import Bench, Subject
from builder.comparisons.collapses import Count, count
from builder.comparisons.mixes import MixResult, mix_subject, mixes_of

RUNS_FOR_SPREAD = 3
PRACTICE_SHARE_SPREAD = 0.05  # practice

ClientMap = tuple[tuple[str, str], ...]  # (role, client series), by role


@dataclass(frozen=True, slots=True)
class Standing:
    """One device in a workload.

    met        roles met in every run that counts
    hardest    the role with the lowest on-time share, a mean over those runs; "" where no role has a target
    share      that share [1]
    apart      separated from the row above; True for the first
    """

    who: Subject
    runs: int
    collapses: Count
    met: tuple[str, ...]
    roles: int
    hardest: str
    share: float
    apart: bool = True


@dataclass(frozen=True, slots=True)
class WorkloadResult:
    """All devices that did one workload with one set of clients.

    spread      shares closer than this are not separated [1]
    not_ranked  devices without a whole run, and why
    """

    workload: str
    version: int
    clients: ClientMap
    standings: tuple[Standing, ...]
    not_ranked: tuple[tuple[Subject, str], ...]
    spread: float
    spread_source: Literal["measured", "practice"]

    @property
    def note(self) -> str:
        """What must be said beside the order."""
        single = [s for s in self.standings if s.runs == 1]
        text = f"Shares closer than {wording.percent(self.spread)} are not separated"
        text += (
            ", the run-to-run spread of this workload."
            if self.spread_source == "measured"
            else f" (practice: no device has {RUNS_FOR_SPREAD} runs of it)."
        )
        return f"{text} This is the order of these runs, one each." if single and len(single) == len(self.standings) \
            else f"{text} Devices with one run stand by that run." if single else text  # fmt: skip


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
    left_out: list[tuple[Subject, str]] = []
    by_device: dict[str, list[MixResult]] = defaultdict(list)
    for member in members:
        by_device[member.mix.device].append(member)
    for device, tests in sorted(by_device.items()):
        who = mix_subject(bench, tests, device)
        own = [m for m in mixes_of(tests, who) if not m.excluded]
        whole = [m for m in own if not m.incomplete]
        if whole:
            ranked.append((_standing(who, whole, count(m.mix for m in own)), whole))
        else:
            why = "every run is incomplete" if own else "no run of it counts"
            left_out.append((who, f"Not ranked: {why}."))
    spread = _run_to_run([(s.hardest, runs) for s, runs in ranked])
    source: Literal["measured", "practice"] = "practice" if spread is None else "measured"
    spread = PRACTICE_SHARE_SPREAD if spread is None else spread
    order = sorted((s for s, _ in ranked), key=_order)
    apart = [_apart(above, below, spread) for above, below in pairwise(order)]
    standings = tuple(replace(s, apart=yes) for s, yes in zip(order, [True, *apart], strict=False))
    return WorkloadResult(workload, version, clients, standings, tuple(left_out), spread, source)


def _standing(who: Subject, runs: Sequence[MixResult], collapses: Count) -> Standing:
    roles = [r.role.role_id for r in runs[0].roles if not r.without_target]
    shares = {role: _share(runs, role) for role in roles}
    judged = {role: share for role, share in shares.items() if share is not None}
    hardest = min(judged, key=lambda role: (judged[role], role)) if judged else ""
    met = tuple(
        role for role in roles if all(r.verdict == "met" for run in runs for r in run.roles if r.role.role_id == role)
    )
    return Standing(who, len(runs), collapses, met, len(roles), hardest, judged.get(hardest, 0.0))


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
    who = standing.who
    return standing.collapses.collapsed > 0, -len(standing.met), -standing.share, who.maker, who.model, who.device


def _apart(above: Standing, below: Standing, spread: float) -> bool:
    """Finishing tells two apart whatever their shares; otherwise the hardest-pressed roles must differ enough."""
    if (above.collapses.collapsed > 0) != (below.collapses.collapsed > 0):
        return True
    return abs(above.share - below.share) > spread
