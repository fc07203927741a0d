"""Roles of a workload as played in one arrangement, over every device that ran it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.naming import device_name, series_name
from builder.pages.contents import Results
from builder.under_load.arrangements import ANCHOR_DB, likeness
from builder.under_load.mixes import MixResult, mixes_of
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import LeftOut, Standing, WorkloadResult
from catalog.figure_names import joined_id
from catalog.records import Role, Workload

Placed = Standing | LeftOut


@dataclass(frozen=True, slots=True)
class PlayedRole:
    """One role as played in one arrangement, over every device that ran the workload in it.

    runs    device -> its runs, in the order of the devices
    client  the client series that played it, in words
    tail    suffix of its fragments, which differs between arrangements
    """

    role: Role
    runs: Mapping[Subject, list[RoleResult]]
    client: str
    address: str
    tail: str

    @property
    def key(self) -> str:
        """Its fragment on a page."""
        return f"role-{joined_id(self.role.role_id)}{self.tail}"

    @property
    def worst(self) -> dict[Subject, RoleResult]:
        """Device -> its run with the lowest on-time share; without those whose runs have no figures."""
        return {subject: run for subject, runs in self.runs.items() if (run := _worst_run(runs)) is not None}

    @property
    def least_share(self) -> float:
        """The lowest on-time share of any run; 2 where no run has one, so that the role comes last. [1]"""
        shares = (run.on_time_share for runs in self.runs.values() for run in runs)
        return min((share for share in shares if share is not None), default=2.0)

    def sentence(self, results: Results) -> str:
        """On which device it suffered most, or that it was met everywhere."""
        worst = self.worst
        least = min(worst.values(), key=lambda r: r.on_time_share or 0.0, default=None)
        if least is None or least.station is None:
            return "No log of this role holds requests."
        if all(run.verdict == "met" for runs in self.runs.values() for run in runs if run.planned):
            return f"Met in every run by {wording.count(len(worst), 'device')}."
        return f"It suffered most on {device_name(results.bench, least.station.device)}. {least.sentence}"


def _worst_run(runs: Sequence[RoleResult]) -> RoleResult | None:
    """The run with the lowest on-time share, of equals the one with most unanswered; None where none has figures."""
    judged = [run for run in runs if run.planned]
    if not judged:
        return None
    return min(judged, key=lambda r: (r.on_time_share or 0.0, -(r.failed or 0) / (r.planned or 1), r.mix))


def results_of(results: Results, plan: Workload) -> list[WorkloadResult]:
    """The results of one version of a workload, one per arrangement."""
    return [r for r in results.workload_results if (r.workload, r.version) == (plan.workload_id, plan.version)]


def shared_arrangements(outcomes: Sequence[WorkloadResult]) -> list[WorkloadResult]:
    """The arrangements that several devices did, and the first of all; they stand before the others."""
    return [result for place, result in enumerate(outcomes) if not place or len(subjects_of(result)) > 1]


def unlike_words(first: WorkloadResult, result: WorkloadResult) -> str:
    """Why an arrangement is not compared with the first one."""
    unlike = likeness(
        result.arrangement, first.arrangement, within_db=ANCHOR_DB, there="in the first arrangement"
    ).difference
    return f"Not compared with the first arrangement: {unlike or 'some of its runs are unlike'}."


def runs_with(results: Results, result: WorkloadResult) -> list[MixResult]:
    """The runs in one arrangement."""
    return [m for m in results.mix_results if m.mix.mix in result.mixes]


def placed_in(result: WorkloadResult) -> list[Placed]:
    """The devices in their order, then those that are not ranked."""
    return [*result.standings, *result.not_ranked]


def subjects_of(result: WorkloadResult) -> list[Subject]:
    """The devices of `placed_in`, each as it was tested."""
    return [placed.subject for placed in placed_in(result)]


def client_words(results: Results, series: str) -> str:
    """The name of the client series that played a role. series: "" for none."""
    return series_name(results.bench, series) if series else "nobody"


def tail_of(place: int) -> str:
    """Suffix of the fragments of an arrangement; "" for the first."""
    return f"-{place + 1}" if place else ""


def played_roles(results: Results, plan: Workload, result: WorkloadResult, place: int) -> list[PlayedRole]:
    """Every role, the hardest-pressed first. place: number of the arrangement among those of the plan, from 0."""
    runs, clients = runs_with(results, result), dict(result.clients)
    played = [
        PlayedRole(
            role=role,
            runs={subject: _runs_of(runs, subject, role.role_id) for subject in subjects_of(result)},
            client=client_words(results, clients.get(role.role_id, "")),
            address=addresses.role(plan.workload_id, plan.version, role.role_id, place),
            tail=tail_of(place),
        )
        for role in plan.roles
    ]
    return sorted(played, key=lambda one: one.least_share)


def _runs_of(runs: Sequence[MixResult], subject: Subject, role_id: str) -> list[RoleResult]:
    return [r for m in mixes_of(runs, subject) for r in m.roles if r.role.role_id == role_id]


def worst_runs(results: Results, result: WorkloadResult, role_id: str) -> dict[Subject, RoleResult]:
    """Device -> of its runs of one role in this arrangement the one with the lowest on-time share, in the order."""
    runs: dict[tuple[str, str, str], list[RoleResult]] = defaultdict(list)
    for member in runs_with(results, result):
        tested = (member.mix.device, member.mix.unit, member.mix.firmware)
        runs[tested] += [r for r in member.roles if r.role.role_id == role_id]
    worst = {s: _worst_run(runs[s.device, s.unit, s.firmware]) for s in subjects_of(result)}
    return {subject: run for subject, run in worst.items() if run is not None}
