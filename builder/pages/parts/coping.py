"""Who coped with a workload and who did not, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence, Set

from builder import wording
from builder.bench.naming import device_name
from builder.pages.contents import Results
from builder.pages.parts.role_words import machines_words
from builder.under_load.role_names import count_words
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import WorkloadResult

MOST_NAMED = 12


def coping_verdict(results: Results, outcomes: Sequence[WorkloadResult]) -> str:
    """Which devices did not cope in the first arrangement of a workload and how many did; then the same of the others."""
    text = _sentence(_machines(outcomes[0]), [*_named(results, outcomes[:1])], _tested(outcomes[:1]))
    others = _tested(outcomes[1:]) - _tested(outcomes[:1])
    if not others:
        return text
    failed = [name for name, device in _named(results, outcomes[1:]).items() if device in others]
    count = wording.count(len(others), "more device")
    then = f"; of these {wording.listing_of_many(failed, MOST_NAMED)} did not cope" if failed else ", and coped"
    return f"{text} {count} did it with other machines or in other places{then}."


def coping_sentences(results: Results, result: WorkloadResult) -> tuple[str, ...]:
    """Of one arrangement the same with every role that was not met and its count, and which of those met so few requests do not show."""
    unsure = [
        f"{device_name(results.bench, s.subject.device)} ({', '.join(result.part(key).name for key in s.unsure)})"
        for s in result.standings
        if s.unsure
    ]
    sentences = [_sentence(_machines(result), _reasons(results, [result]), _tested([result]))]
    if unsure:
        sentences.append(f"Met, but too few requests to be sure of it: {wording.listing_of_many(unsure, MOST_NAMED)}.")
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
    return [f"{result.part(key).name}: {count_words(run)}" for key, run in runs.items()]


def _so_many(coped: int, total: int) -> str:
    if coped == total:
        return "the only device" if total == 1 else f"all {total} devices"
    return f"{coped or 'none'} of {wording.count(total, 'device')}"
