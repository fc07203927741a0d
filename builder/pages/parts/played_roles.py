"""Roles of a workload as played in one arrangement, over every device that ran it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder import addresses, wording
from builder.bench.bench import Subject
from builder.bench.naming import device_name, series_name
from builder.pages.contents import Catalogue, Results
from builder.under_load.arrangements import ANCHOR_DB, Seat, likeness
from builder.under_load.mixes import MixResult, mixes_of
from builder.under_load.roles import RoleResult
from builder.under_load.seat_roles import Part
from builder.under_load.workloads import WorkloadResult, shared_arrangements
from catalog.records import Role, Workload


@dataclass(frozen=True, slots=True)
class PlayedRole:
    """One role as played in one arrangement, over every device that ran the workload in it.

    runs    device -> its runs, in the order of the devices
    client  the client series that played it, in words
    tail    suffix of its fragments, which differs between arrangements
    """

    part: Part
    runs: Mapping[Subject, list[RoleResult]]
    client: str
    address: str
    tail: str

    @property
    def role(self) -> Role:
        """The role, with the marks of the newest version among the runs."""
        return self.part.role

    @property
    def key(self) -> str:
        """Its fragment on a page."""
        return f"role-{self.part.key}{self.tail}"

    @property
    def worst(self) -> dict[Subject, RoleResult]:
        """Device -> its run with the lowest on-time share; without those whose runs have no figures."""
        return _worst_of_each(self.runs)

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
            return f"{wording.count(len(worst), 'device')} met it in every run."
        return f"It suffered most on {device_name(results.bench, least.station.device)}. {least.sentence}"


def _worst_run(runs: Sequence[RoleResult]) -> RoleResult | None:
    """The run with the lowest on-time share, of equals the one with most unanswered; None where none has figures."""
    judged = [run for run in runs if run.planned]
    if not judged:
        return None
    return min(judged, key=lambda r: (r.on_time_share or 0.0, -(r.failed or 0) / (r.planned or 1), r.mix))


def versions_of(catalogue: Catalogue, workload_id: str) -> list[Workload]:
    """Every version of a workload, the newest first."""
    keys = sorted((key for key in catalogue.workloads if key[0] == workload_id), reverse=True)
    return [catalogue.workloads[key] for key in keys]


def results_of(results: Results, workload_id: str) -> list[WorkloadResult]:
    """The results of a workload, one per arrangement."""
    return [r for r in results.workload_results if r.workload == workload_id]


def unlike_words(first: WorkloadResult, result: WorkloadResult) -> str:
    """Why an arrangement is not ranked with the first one."""
    unlike = likeness(result.arrangement, first.arrangement, within_db=ANCHOR_DB)
    if unlike.verdict == "replaced":
        replaced = likeness(first.arrangement, result.arrangement, within_db=ANCHOR_DB).difference
        return f"Done {replaced}, so not ranked with the first arrangement. The pages of two devices compare the other machines."
    if unlike.verdict == "alike":
        other = "its roles have other marks" if _marks(first) != _marks(result) else "some of its runs are unlike"
        return f"Not compared with the first arrangement: {other}."
    words = unlike.difference_between("here", "in the first arrangement")
    return f"Not compared with the first arrangement: {words}."


def _marks(result: WorkloadResult) -> list[tuple[str, str, str]]:
    return sorted((part.role.kind, str(part.role.target_ms), str(part.role.target_share)) for part in result.parts)


def section_of(place: int | None) -> str:
    """Fragment of an arrangement on its workload's page. place: None for one that stands alone."""
    return "others" if place is None else f"order{tail_of(place)}"


def runs_with(results: Results, result: WorkloadResult) -> list[MixResult]:
    """The runs in one arrangement."""
    return [m for m in results.mix_results if m.mix.mix in result.plays]


def client_words(results: Results, series: str) -> str:
    """The name of the client series that played a role. series: "" for none."""
    return series_name(results.bench, series) if series else "nobody"


def tail_of(place: int) -> str:
    """Suffix of the fragments of an arrangement; "" for the first."""
    return f"-{place + 1}" if place else ""


def played_roles(results: Results, result: WorkloadResult, place: int) -> list[PlayedRole]:
    """Every role, the hardest-pressed first. place: number of the arrangement among those of the workload, from 0."""
    played = [
        PlayedRole(
            part=part,
            runs=_runs_of(results, result, part),
            client=client_words(results, part.seat.series if part.seat else ""),
            address=addresses.role(result.workload, part.role.role_id, part.number, place),
            tail=f"~in{tail_of(place)}" if place else "",
        )
        for part in result.parts
    ]
    return sorted(played, key=lambda one: one.least_share)


def role_keys(results: Results) -> list[tuple[str, str, int, int]]:
    """(workload, role, which of several machines with it, place of the arrangement) of every role with a separate page."""
    return [
        (workload_id, played.role.role_id, played.part.number, place)
        for workload_id in dict.fromkeys(r.workload for r in results.workload_results)
        for place, result in enumerate(shared_arrangements(results_of(results, workload_id)))
        for played in played_roles(results, result, place)[0 if place else 1 :]
    ]


def levels_at(result: WorkloadResult, seat: Seat) -> list[float]:
    """The levels that a machine read over the runs of an arrangement, lowest first. [dBm]"""
    keys = [part.key for part in result.parts if part.seat == seat]
    stations = [run.station for played in result.plays.values() for key, run in played.items() if key in keys]
    return sorted({s.level_dbm for s in stations if s is not None and s.level_dbm is not None})


def worst_runs(results: Results, result: WorkloadResult, part: Part) -> dict[Subject, RoleResult]:
    """Device -> of its runs of one role in this arrangement the one with the lowest on-time share, in the order."""
    return _worst_of_each(_runs_of(results, result, part))


def _runs_of(results: Results, result: WorkloadResult, part: Part) -> dict[Subject, list[RoleResult]]:
    """Device -> its runs of one role in this arrangement, in the order of the devices."""
    members = runs_with(results, result)
    return {
        subject: [r for m in mixes_of(members, subject) if (r := result.plays[m.mix.mix].get(part.key)) is not None]
        for subject in result.subjects
    }


def _worst_of_each(runs: Mapping[Subject, Sequence[RoleResult]]) -> dict[Subject, RoleResult]:
    return {subject: run for subject, of_one in runs.items() if (run := _worst_run(of_one)) is not None}
