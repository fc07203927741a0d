"""Runs of a workload on one device against those on another, role by role (method.md, section 6).

Compared are only runs whose machines are alike, and the other machines where one was replaced; of all other runs the
first difference is named.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from builder import wording
from builder.bench.bench import Bench, Subject, labels
from builder.metrics.proportions import PRACTICE_RUN_SPREAD, Requests, ShareDifference, share_difference
from builder.pairs import refusals
from builder.under_load.arrangements import Arrangement, Likeness, likeness
from builder.under_load.collapses import count
from builder.under_load.mixes import MixResult, alike_runs, mix_subject, mixes_of
from builder.under_load.role_names import role_name
from builder.under_load.roles import FEWEST_COMPARED, RoleResult
from builder.under_load.seat_roles import roles_at, seat_pairs, seated_name
from builder.under_load.workloads import RUNS_TO_ASK_FOR, one_run_note
from catalog.figure_names import subject_id
from catalog.records import Role, Station

Kind = Literal["alike", "one-seat-replaced", "company-differs"]
RoleVerdict = Literal["separated", "not-separated", "no-verdict"]
_KINDS: Mapping[str, Kind] = {"alike": "alike", "replaced": "one-seat-replaced", "differs": "company-differs"}
_NO_MARK = "no mark is set for this role"


@dataclass(frozen=True, slots=True)
class RoleComparison:
    """One role of one machine on both devices.

    role        as the first device's first run has it
    name        in words, with the machine where several play it
    stations    its machine on each side, in the first run
    shares      requests in time / planned ones over all runs of each side; None where nothing can be said. [1]
    good        the same of those within what is good; None without such a mark. [1]
    difference  the first device's share less the other's; None without a verdict
    """

    role: Role
    name: str
    stations: tuple[Station, Station]
    shares: tuple[float | None, float | None]
    good: tuple[float | None, float | None]
    verdict: RoleVerdict
    code: str | None
    difference: ShareDifference | None
    sentence: str

    @property
    def clients(self) -> tuple[str, str]:
        """The client on each side."""
        return self.stations[0].client, self.stations[1].client


@dataclass(frozen=True, slots=True)
class MixComparison:
    """What one device did in one arrangement of a workload, against another device.

    subjects  each device as it was tested
    mixes     ids of the runs on each side
    roles     () where the runs are not compared; that of a machine that was replaced is shown without a verdict
    """

    workload: str
    subjects: tuple[Subject, Subject]
    mixes: tuple[tuple[str, ...], tuple[str, ...]]
    kind: Kind
    sentence: str
    roles: tuple[RoleComparison, ...] = ()

    @property
    def code(self) -> str | None:
        return None if self.kind == "alike" else self.kind

    @property
    def judged(self) -> bool:
        """Whether some role has a verdict."""
        return any(role.verdict != "no-verdict" for role in self.roles)

    @property
    def leading(self) -> tuple[str, ...]:
        """The devices on which a role is shown to have come in time more often."""
        leads = {role.difference.low > 0 for role in self.roles if role.difference and role.difference.separated}
        return tuple(side.device for side, first in zip(self.subjects, (True, False), strict=True) if first in leads)

    @property
    def note(self) -> str:
        """What so few runs can never show; "" where they measure how much runs differ, or where nothing is judged."""
        assumed = any(role.difference.assumed for role in self.roles if role.difference is not None)
        if not assumed:
            return ""
        if all(len(runs) == 1 for runs in self.mixes):
            return one_run_note("each")
        return (
            f"Too few runs to measure how much runs differ: {wording.points(PRACTICE_RUN_SPREAD)} are assumed. "
            f"{RUNS_TO_ASK_FOR} runs of each would show it."
        )


def mix_comparisons(
    bench: Bench, subject: Subject, mixes: Sequence[MixResult], others: Mapping[str, Sequence[MixResult]]
) -> list[MixComparison]:
    """One subject against other devices: by workload, by arrangement of the subject, then by device.

    Of another device the runs that are alike count, else those with one machine replaced, else any of that workload;
    of these the latest public firmware, and of its arrangements the one with most runs.

    mixes   the subject's runs
    others  device -> its runs, of any firmware
    """
    workloads: dict[str, list[MixResult]] = defaultdict(list)
    for mix in _counted(mixes):
        workloads[mix.mix.workload].append(mix)
    return [
        _comparison(bench, subject, group, same)
        for workload, members in sorted(workloads.items())
        for group in _arranged(members)
        for _, runs in sorted(others.items())
        if (same := [r for r in _counted(runs) if (r.mix.workload, r.settings) == (workload, subject.settings)])
    ]


def pair_comparisons(bench: Bench, a: Sequence[MixResult], b: Sequence[MixResult]) -> list[MixComparison]:
    """Two devices against each other: of each workload with the latest public firmware that did it alike with the other.

    Where none did, with the latest public firmware that did it at all.

    a, b  the runs of each, of any firmware; those under settings are left out
    """
    compared: list[MixComparison] = []
    a, b = ([m for m in _counted(side) if not m.settings] for side in (a, b))
    for workload in sorted({m.mix.workload for m in a} & {m.mix.workload for m in b}):
        left = [m for m in a if m.mix.workload == workload]
        tries: list[list[MixComparison]] = []
        while left and not any(one.kind != "company-differs" for one in (tries[-1] if tries else ())):
            subject = mix_subject(bench, left, left[0].mix.device)
            runs = mixes_of(left, subject)
            tries.append(mix_comparisons(bench, subject, runs, {b[0].mix.device: b}))
            left = [m for m in left if m not in runs]
        alike = [one for one in tries[-1] if one.kind != "company-differs"]
        compared += tries[-1] if alike else tries[0]
    return compared


def _counted(mixes: Iterable[MixResult]) -> list[MixResult]:
    return sorted((m for m in mixes if not m.excluded), key=lambda m: (m.entered, m.mix.mix))


def _arranged(mixes: Sequence[MixResult]) -> list[list[MixResult]]:
    """Runs in groups that are alike, the largest first. mixes: in the order of entry."""
    return sorted(alike_runs(mixes), key=lambda group: -len(group))


def _comparison(
    bench: Bench, subject: Subject, group: Sequence[MixResult], others: Sequence[MixResult]
) -> MixComparison:
    apart = {mix.mix.mix: _least_alike(group, mix.arrangement) for mix in others}
    best = next(v for v in _KINDS if any(like.verdict == v for like in apart.values()))
    like = [mix for mix in others if apart[mix.mix.mix].verdict == best]
    other = mix_subject(bench, like, subject_id(like[0].mix.device, subject.settings))
    runs = _arranged([mix for mix in like if mix in mixes_of(like, other)])[0]
    names = labels(subject, other)
    anchors = group[0], runs[0]
    result = apart[runs[0].mix.mix]
    return MixComparison(
        group[0].mix.workload,
        (subject, other),
        (tuple(m.mix.mix for m in group), tuple(m.mix.mix for m in runs)),
        _KINDS[best],
        " ".join([_sentence(anchors, result, names), *_broke_off(names, (group, runs))]),
        () if best == "differs" else tuple(_roles(group, runs, likeness(*(m.arrangement for m in anchors)), names)),
    )


def _least_alike(group: Sequence[MixResult], other: Arrangement) -> Likeness:
    """Of the arrangements of a group the one that is least alike to another; they may differ by what is still alike."""
    order = list(_KINDS)
    results = [likeness(one, other) for one in dict.fromkeys(m.arrangement for m in group)]
    return max(results, key=lambda like: order.index(like.verdict))


def _sentence(anchors: tuple[MixResult, MixResult], like: Likeness, names: tuple[str, str]) -> str:
    if like.verdict == "alike":
        machines = wording.count(len(anchors[0].arrangement.seats), "machine")
        return f"Both did the same run, with {machines} of the same kinds in like places."
    if like.verdict == "replaced":
        return f"Compared {like.difference}."
    return f"Not compared: {like.difference_between(*(f'on {name}' for name in names))}."


def _broke_off(names: tuple[str, str], sides: tuple[Sequence[MixResult], Sequence[MixResult]]) -> list[str]:
    """What is said of runs that broke off: the requests that were never made count as late."""
    counts = [(name, count(m.mix for m in runs)) for name, runs in zip(names, sides, strict=True)]
    fell = [f"on {name} {c.collapsed} of {wording.count(c.runs, 'run')}" for name, c in counts if c.collapsed]
    return [f"Broke off {wording.listing(fell)}; what was never asked for counts as late."] if fell else []


def _roles(
    group: Sequence[MixResult], runs: Sequence[MixResult], like: Likeness, names: tuple[str, str]
) -> Iterable[RoleComparison]:
    """Each role of each machine, in the order of the first device's machines. like: of the first runs of both sides."""
    partner = dict(like.pairs) | (dict([like.odd]) if like.odd else {})
    seats = group[0].arrangement.seats
    several = [role for seat in seats for role in seat.roles]
    for number, seat in enumerate(seats):
        sides = _played(group, number), _played(runs, partner[number])
        for of_a, of_b in zip(*sides, strict=True):
            role = of_a[0].role
            name = role_name(role) if several.count(role.role_id) == 1 else seated_name(role, seat)
            yield _role(name, of_a, of_b, names, replaced=like if like.odd and like.odd[0] == number else None)


def _played(runs: Sequence[MixResult], seat: int) -> list[list[RoleResult]]:
    """The roles of a machine of the first run, each over all runs."""
    by_run = [roles_at(run, dict(seat_pairs(runs[0], run))[seat]) for run in runs]
    return [list(results) for results in zip(*by_run, strict=True)]


def _role(
    name: str, a: Sequence[RoleResult], b: Sequence[RoleResult], names: tuple[str, str], *, replaced: Likeness | None
) -> RoleComparison:
    stations = _station(a[0]), _station(b[0])
    judged = tuple([r.requests for r in side if r.requests is not None] for side in (a, b))
    marked = [r for r in (*a, *b) if r.on_time_share is not None]
    good = _good(a), _good(b)
    shares = tuple(_share(requests) if requests else _seen(side) for requests, side in zip(judged, (a, b), strict=True))

    def unjudged(code: str | None, why: str) -> RoleComparison:
        sentence = f"Not compared: {why}."
        return RoleComparison(
            a[0].role, name, stations, (shares[0], shares[1]), good, "no-verdict", code, None, sentence
        )

    if replaced is not None:
        seen = "" if None in shares else f"; {_against(shares)} came in time"
        return unjudged("one-seat-replaced", f"{replaced.difference}{seen}")
    if any(r.role.target_ms is None or r.role.target_share is None for r in (*a, *b)):
        return unjudged(None, _NO_MARK)
    if len({r.role.target_ms for r in marked}) > 1:
        marks = [wording.listing(_marks(side), "or") for side in (a, b)]
        return unjudged(
            "unequal-conditions", f"in time means within {marks[0]} ms on one side and {marks[1]} ms on the other"
        )
    for side, requests, device in zip((a, b), judged, names, strict=True):
        if not requests:
            return unjudged("too-few-requests", refusals.too_few_requests(device, _most(side), FEWEST_COMPARED))
    difference = share_difference(*judged)
    text = f"{_against(shares)} ({wording.points_apart(difference.low, difference.high)})"
    if difference.low > 0:
        sentence = f"{wording.capital(name)} came in time more often on {names[0]}: {text}."
    elif difference.high < 0:
        text = f"{_against(shares[::-1])} ({wording.points_apart(-difference.high, -difference.low)})"
        sentence = f"{wording.capital(name)} came in time more often on {names[1]}: {text}."
    else:
        text = _undecided(shares, difference)
        sentence = f"These runs cannot tell {names[0]} and {names[1]} apart: {text}."
    verdict: RoleVerdict = "separated" if difference.separated else "not-separated"
    return RoleComparison(a[0].role, name, stations, (shares[0], shares[1]), good, verdict, None, difference, sentence)


def _undecided(shares: Sequence[float | None], difference: ShareDifference) -> str:
    """What was counted where neither side leads. Where all came in time an interval would go beyond all of them."""
    if all(share == 1 for share in shares):
        hidden = wording.points(max(-difference.low, difference.high))
        return f"both 100{wording.PERCENT} in time; so few runs and requests could hide a difference of up to {hidden}"
    return f"{_against(shares)} in time ({wording.points_apart(difference.low, difference.high)})"


def _against(shares: Sequence[float | None]) -> str:
    """ "98.7 against 91.2 %"."""
    one, other = (wording.number(100 * (share or 0.0), 1) for share in shares)
    return f"{one} against {other}{wording.PERCENT}"


def _share(requests: Sequence[Requests]) -> float:
    return sum(r.on_time for r in requests) / sum(r.planned for r in requests)


def _good(side: Sequence[RoleResult]) -> float | None:
    """The share of good requests over all runs; None where a log or such a mark is missing."""
    counts = [(r.good_on_time, r.planned) for r in side if r.good_on_time is not None and r.planned]
    return sum(good for good, _ in counts) / sum(planned for _, planned in counts) if counts else None


def _seen(side: Sequence[RoleResult]) -> float | None:
    """The share over runs that are too short to be judged; None where no log tells."""
    logged = [(r.on_time, r.planned) for r in side if r.on_time is not None and r.planned]
    return sum(on_time for on_time, _ in logged) / sum(planned for _, planned in logged) if logged else None


def _most(side: Sequence[RoleResult]) -> int | None:
    """Requests of the longest log; None without any log."""
    return max((r.planned for r in side if r.planned is not None), default=None)


def _marks(side: Sequence[RoleResult]) -> list[str]:
    return sorted({wording.milliseconds(r.role.target_ms) for r in side if r.role.target_ms is not None})


def _station(result: RoleResult) -> Station:
    assert result.station is not None, "roles are paired by the machines that played them"
    return result.station
