"""Who coped with a workload and who did not, in words."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence, Set

from builder import wording
from builder.bench.naming import device_name
from builder.pages.contents import Results
from builder.pages.parts.role_words import machines_words
from builder.under_load.role_names import count_words, role_name
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import WorkloadResult

MOST_NAMED = 12
MOST_WORST = 4  # in the sentence over all workloads


def coping_verdict(results: Results, outcomes: Sequence[WorkloadResult]) -> str:
    """Which devices did not cope with a workload and how many did, and how many of all are set beside each other."""
    counts = {len(seats) for result in outcomes for seats in result.seats}
    lead = (
        f"With {wording.count(counts.pop(), 'machine')} at once"
        if len(counts) == 1
        else "With several machines at once"
    )
    every, alike = _tested(outcomes), _tested(outcomes[:1])
    text = _sentence(lead, [*_named(results, outcomes)], every)
    if not every - alike or len(alike) < 2:
        return text
    return f"{text} {len(alike)} of the {len(every)} were tested with the same machines in the same places."


def coping_overall(
    results: Results, outcomes_of: Mapping[str, Sequence[WorkloadResult]], titles: Mapping[str, str]
) -> str:
    """Over all workloads: how many devices coped with each they did, which did not, and the workload that was hardest.

    outcomes_of  workload -> what it came to, arrangement by arrangement
    titles       of workloads, by id
    """
    tested = {workload: _tested(outcomes) for workload, outcomes in outcomes_of.items()}
    failed = {workload: {*_named(results, outcomes).values()} for workload, outcomes in outcomes_of.items()}
    every = set().union(*tested.values())
    if not every:
        return "No run with several people at once counts yet."
    times = Counter(device for devices in failed.values() for device in devices)
    if not times:
        return f"{wording.capital(_so_many(len(every), len(every)))} coped with every busy hour they were tested in."
    did_any = Counter(device for devices in tested.values() for device in devices)
    worst = [
        f"{device_name(results.bench, device)} {times[device]} of {did_any[device]}"
        for device in sorted(times, key=lambda d: (-times[d] / did_any[d], -times[d], d))
    ]
    coped = wording.capital(_so_many(len(every) - len(times), len(every)))
    hardest = max(failed, key=lambda workload: (len(failed[workload]) / max(len(tested[workload]), 1), workload))
    did = len(tested[hardest]) - len(failed[hardest])
    return (
        f"{coped} coped with every busy hour they were tested in. The others failed at least one: "
        f"{wording.listing_of_many(worst, MOST_WORST)}. Hardest was “{titles[hardest]}”: "
        f"{_so_many(did, len(tested[hardest]))} coped."
    )


def coping_sentences(results: Results, result: WorkloadResult) -> tuple[str, ...]:
    """Of one arrangement the same with the roles that were not met, and whether some were met by too few requests."""
    unsure = sum(bool(standing.unsure) for standing in result.standings)
    sentences = [_sentence(_machines(result), _reasons(results, [result]), _tested([result]))]
    if unsure:
        sentences.append(
            f"On {wording.count(unsure, 'device')} some roles were met, but by too few requests to be sure of it: the table "
            "says which."
        )
    unfinished = [one for one in result.not_ranked if one.coped]
    if unfinished:
        sentences.append(f"{wording.count(len(unfinished), 'more device has', 'more devices have')} no whole run.")
    return tuple(sentences)


def coping_alone(results: Results, outcomes: Sequence[WorkloadResult]) -> str:
    """The same of arrangements that one device each did."""
    return _sentence("By themselves", _reasons(results, outcomes), _tested(outcomes))


def _machines(result: WorkloadResult) -> str:
    return f"With {wording.listing([machines_words(seats) for seats in result.seats], 'or')}"


def _sentence(lead: str, failed: Sequence[str], tested: Set[str]) -> str:
    """failed: the devices that did not cope; tested: all that have a run that counts."""
    total = len(tested)
    if not total:
        return f"{lead}: no run counts yet."
    if not failed:
        return f"{lead}, every role was met in these runs on {_so_many(total, total)}."
    others = f"{_so_many(total - len(failed), total)} did" if total > 1 else "nobody else was tested"
    return f"{lead}, {wording.listing_of_many(failed, MOST_NAMED)} did not cope; {others}."


def _tested(outcomes: Sequence[WorkloadResult]) -> Set[str]:
    ranked = {s.subject.device for result in outcomes for s in result.standings}
    return ranked | {one.subject.device for r in outcomes for one in r.not_ranked if not one.coped}


def _named(results: Results, outcomes: Sequence[WorkloadResult]) -> dict[str, str]:
    """The name of each device that did not cope -> its id."""
    failed = dict.fromkeys(device for result in outcomes for device in _failed(result))
    return {device_name(results.bench, device): device for device in failed}


def _reasons(results: Results, outcomes: Sequence[WorkloadResult]) -> list[str]:
    """Each device that did not cope, with why."""
    why: dict[str, list[str]] = defaultdict(list)
    for result in outcomes:
        for device, reasons in _failed(result).items():
            why[device] += reasons
    return [f"{device_name(results.bench, device)} ({'; '.join(reasons)})" for device, reasons in why.items()]


def _failed(result: WorkloadResult) -> dict[str, list[str]]:
    """Each device that did not cope -> why: runs that broke off, then roles that were not met, with their counts."""
    return {
        one.subject.device: [
            *([one.collapses.sentence] if one.collapses.collapsed else []),
            *_counts(result, one.unmet),
        ]
        for one in result.placed
        if not one.coped
    }


def _counts(result: WorkloadResult, runs: Mapping[str, RoleResult]) -> list[str]:
    """The roles that were not met: one with its count, several by name, which the tables count."""
    if len(runs) == 1:
        return [f"{result.part(key).name}: {count_words(run)}" for key, run in runs.items()]
    machines = Counter(role_name(result.part(key).role) for key in runs)
    names = [f"{name} on {wording.in_words(n)} machines" if n > 1 else name for name, n in machines.items()]
    return [wording.listing(names)] if names else []


def _so_many(coped: int, total: int) -> str:
    if coped == total:
        return "the only device" if total == 1 else f"all {total} devices"
    return f"{coped or 'none'} of {wording.count(total, 'device')}"
