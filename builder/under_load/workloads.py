"""What a workload shows about several devices: by roles met, then by the hardest-pressed role (method, section 6).

Only runs whose machines are alike, with the same clients in the same places, are compared; those of several versions
of a workload, too, where the marks are the same.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from builder import wording
from builder.bench.bench import Bench, Subject
from builder.metrics.intervals import holm_separated
from builder.metrics.proportions import Requests, least_told_apart, share_lead_p
from builder.under_load.arrangements import Arrangement
from builder.under_load.collapses import Count, count
from builder.under_load.coping import Coping, coping
from builder.under_load.mixes import MixResult, alike_runs, mix_subject, mixes_of, recipe_of
from builder.under_load.roles import RoleResult
from builder.under_load.seat_roles import Part, parts_of
from catalog.figure_names import subject_id

RUNS_TO_ASK_FOR = 3

Plays = Mapping[str, Mapping[str, RoleResult]]  # id of a run -> key of a part -> how it went


@dataclass(frozen=True, slots=True)
class Standing:
    """One device in a workload.

    met        keys of the parts met in every run that counts and has them
    unmet      key of every part that was not met in one of them -> the run with the lowest on-time share, of those that
               show it where there are any
    unsure     key of every met part that no run shows to be met -> likewise
    incomplete runs that count but lack a role, and so are not among *runs* [1]
    roles      parts that have a target [1]
    hardest    key of the part with the lowest on-time share, a mean over those runs; "" where none has a target
    share      that share [1]
    on_time, planned   requests of that part over those runs [1]
    requests   key of a part -> its requests in each of those runs, where they can be judged
    apart      separated from the row above, as far as all rows of the table together allow; True for the first
    """

    subject: Subject
    runs: int
    collapses: Count
    met: tuple[str, ...]
    unmet: Mapping[str, RoleResult]
    unsure: Mapping[str, RoleResult]
    incomplete: int
    roles: int
    hardest: str
    share: float
    on_time: int
    planned: int
    requests: Mapping[str, tuple[Requests, ...]]
    apart: bool = True

    @property
    def coping(self) -> Coping:
        """Whether the device coped, as far as these runs show it."""
        return coping(self.collapses.collapsed > 0, self.unmet.values(), self.unsure.values())


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A device without a whole run: why it is not ranked, how its runs ended, and what was not met in one, as in Standing."""

    subject: Subject
    sentence: str
    collapses: Count
    unmet: Mapping[str, RoleResult]

    @property
    def coping(self) -> Coping | None:
        """As of a standing; None where nothing that was tested speaks against the device."""
        result = coping(self.collapses.collapsed > 0, self.unmet.values(), ())
        return None if result == "coped" else result


Placed = Standing | LeftOut


@dataclass(frozen=True, slots=True)
class WorkloadResult:
    """All devices that did one workload in one arrangement: with alike machines in alike places.

    versions    of the workload, that runs here are of
    arrangement that of the first run, which all others are alike to
    parts       its roles, machine by machine
    plays       what each run came to in each of them
    mixes       ids of its runs
    not_ranked  devices without a whole run
    seats       machines at once, by the number of roles each played, most first; one for each way it was done
    """

    workload: str
    versions: tuple[int, ...]
    arrangement: Arrangement
    parts: tuple[Part, ...]
    plays: Plays
    mixes: tuple[str, ...]
    standings: tuple[Standing, ...]
    not_ranked: tuple[LeftOut, ...]
    seats: tuple[tuple[int, ...], ...]

    @property
    def placed(self) -> list[Placed]:
        """The devices in their order, then those that are not ranked."""
        return [*self.standings, *self.not_ranked]

    @property
    def subjects(self) -> list[Subject]:
        """The devices of `placed`, each as it was tested."""
        return [one.subject for one in self.placed]

    def part(self, key: str) -> Part:
        """The part with that key."""
        return next(part for part in self.parts if part.key == key)

    @property
    def note(self) -> str:
        """The caveat that belongs to the order; "" where every device has several runs."""
        single = [standing for standing in self.standings if standing.runs == 1]
        if not single:
            return ""
        text = one_run_note("a device")
        if len(single) < len(self.standings):
            return f"{text} Devices with one run stand by that run."
        return f"{text} This is the order of these runs, one each."


def one_run_note(of: str) -> str:
    """What one run each can never show. of: what more runs are asked of."""
    return (
        f"With one run each, shares less than {wording.points(least_told_apart())} apart can never be told apart; "
        f"{RUNS_TO_ASK_FOR} runs of {of} show how much runs differ."
    )


def workload_results(bench: Bench, results: Sequence[MixResult]) -> list[WorkloadResult]:
    """Every workload in every arrangement, by id, the one with most devices first, then in the order of entry.

    Each device is represented by its latest public firmware that ran it.
    """
    workloads: dict[str, list[MixResult]] = defaultdict(list)
    for result in sorted(results, key=lambda r: (r.entered, r.mix.mix)):
        workloads[result.mix.workload].append(result)
    return [
        _result(bench, workload, members)
        for workload, entered in sorted(workloads.items())
        for members in sorted(_arranged(entered), key=lambda members: -len({m.mix.device for m in members}))
    ]


def shared_arrangements(outcomes: Sequence[WorkloadResult]) -> list[WorkloadResult]:
    """Of one workload the arrangements that several devices did, and the first of all; they stand before the others."""
    return [r for place, r in enumerate(outcomes) if not place or len(r.subjects) > 1]


def arrangement_places(outcomes: Sequence[WorkloadResult]) -> dict[str, int | None]:
    """Each run -> the place of its arrangement among those of its workload, from 0; None for one that stands alone."""
    by_workload: dict[str, list[WorkloadResult]] = defaultdict(list)
    for result in outcomes:
        by_workload[result.workload].append(result)
    places: dict[str, int | None] = {mix: None for result in outcomes for mix in result.mixes}
    for results in by_workload.values():
        for place, result in enumerate(shared_arrangements(results)):
            places |= dict.fromkeys(result.mixes, place)
    return places


def _arranged(entered: Sequence[MixResult]) -> list[list[MixResult]]:
    """Runs in groups that may be ranked together: by their marks, then by their arrangement, in the order of entry."""
    by_marks: dict[object, list[MixResult]] = defaultdict(list)
    for mix in entered:
        marks = sorted(
            (recipe_of(r.role), str(r.role.target_ms), str(r.role.target_share)) for r in mix.roles if r.station
        )
        by_marks[tuple(marks)].append(mix)
    groups = [group for members in by_marks.values() for group in alike_runs(members)]
    return sorted(groups, key=lambda members: (members[0].entered, members[0].mix.mix))


def _result(bench: Bench, workload: str, entered: Sequence[MixResult]) -> WorkloadResult:
    """One arrangement. entered: its runs, in the order of entry."""
    parts, plays = parts_of(entered[0], entered)
    members = sorted(entered, key=lambda m: (m.mix.date, m.mix.mix))
    ranked: list[Standing] = []
    left_out: list[LeftOut] = []
    by_device: dict[str, list[MixResult]] = defaultdict(list)
    for member in members:
        by_device[subject_id(member.mix.device, member.settings)].append(member)
    for device, tests in sorted(by_device.items()):
        subject = mix_subject(bench, tests, device)
        counted = [m for m in mixes_of(tests, subject) if not m.excluded]
        whole = [m for m in counted if not m.incomplete]
        tally, unmet = count(m.mix for m in counted), _unmet(parts, plays, counted)
        if whole:
            results = {p.key: [plays[m.mix.mix][p.key] for m in whole if p.key in plays[m.mix.mix]] for p in parts}
            few = len(counted) - len(whole)
            ranked.append(_standing(subject, results, tally, unmet, runs=len(whole), incomplete=few))
        else:
            why = "every run is incomplete" if counted else "no run of it counts"
            left_out.append(LeftOut(subject, f"Not ranked: {why}.", tally, unmet))
    return WorkloadResult(
        workload,
        tuple(sorted({m.mix.version for m in members})),
        entered[0].arrangement,
        parts,
        plays,
        tuple(m.mix.mix for m in members),
        tuple(_told_apart(sorted(ranked, key=_order))),
        tuple(left_out),
        tuple(dict.fromkeys(member.seats for member in members)),
    )


def _unmet(parts: Sequence[Part], plays: Plays, counted: Sequence[MixResult]) -> dict[str, RoleResult]:
    """Key of each part that was not met in a run, even an incomplete one -> its run, as in Standing."""
    missed: dict[str, list[RoleResult]] = {}
    for part in parts:
        played = [run for m in counted if (run := plays[m.mix.mix].get(part.key)) is not None]
        missed[part.key] = [run for run in played if run.verdict == "not-met"]
    return {key: _lowest([r for r in runs if r.certain] or runs) for key, runs in missed.items() if runs}


def _standing(
    subject: Subject,
    results: Mapping[str, Sequence[RoleResult]],
    collapses: Count,
    unmet: Mapping[str, RoleResult],
    *,
    runs: int,
    incomplete: int,
) -> Standing:
    """results: key of each part -> how it went in each of the device's whole runs."""
    asked = {key: played for key, played in results.items() if any(not r.without_target for r in played)}
    shares = {key: share for key, played in asked.items() if (share := _share(played)) is not None}
    hardest = min(shares, key=lambda key: (shares[key], key)) if shares else ""
    met = tuple(k for k, played in asked.items() if k not in unmet and all(r.verdict == "met" for r in played))
    unsure = [key for key in met if not any(r.certain for r in asked[key])]
    return Standing(
        subject,
        runs,
        collapses,
        met,
        unmet,
        {key: _lowest(asked[key]) for key in unsure},
        incomplete,
        len(asked),
        hardest,
        shares.get(hardest, 0.0),
        sum(r.on_time or 0 for r in asked.get(hardest, ())),
        sum(r.planned or 0 for r in asked.get(hardest, ())),
        {key: _requests(played) for key, played in asked.items()},
    )


def _requests(played: Sequence[RoleResult]) -> tuple[Requests, ...]:
    """The requests of a part in each run; () where one of them cannot be judged."""
    requests = [r.requests for r in played]
    return tuple(one for one in requests if one is not None) if None not in requests else ()


def _lowest(played: Sequence[RoleResult]) -> RoleResult:
    """The run with the lowest on-time share."""
    return min(played, key=lambda r: (r.on_time_share or 0.0, r.mix))


def _share(played: Sequence[RoleResult]) -> float | None:
    shares = [r.on_time_share for r in played]
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


def _told_apart(order: Sequence[Standing]) -> list[Standing]:
    """Each row with whether it is separated from the one above: by finishing, or in the hardest role of the lower one.

    The comparisons of shares in one table are judged together (Holm), so that a long one separates no more by chance
    than a short one.
    """
    chances: dict[int, float] = {}
    apart = [True] * len(order)
    for row, (above, below) in enumerate(pairwise(order), start=1):
        if (above.collapses.collapsed > 0) == (below.collapses.collapsed > 0):
            apart[row] = False
            if (chance := _chance(above, below)) is not None:
                chances[row] = chance
    for row, yes in zip(chances, holm_separated(list(chances.values())), strict=True):
        apart[row] = bool(yes)
    return [replace(standing, apart=yes) for standing, yes in zip(order, apart, strict=True)]


def _chance(above: Standing, below: Standing) -> float | None:
    """p of the lead in the hardest role of the lower row; 1 where there is none, None where it cannot be judged."""
    a, b = above.requests.get(below.hardest, ()), below.requests.get(below.hardest, ())
    return share_lead_p(a, b) if a and b else None
