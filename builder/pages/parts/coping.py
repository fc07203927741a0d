"""Who coped with a workload and who did not, in words."""

from __future__ import annotations

from collections.abc import Mapping

from builder import wording
from builder.bench.naming import device_name
from builder.pages.contents import Results
from builder.pages.parts.role_words import machines_words
from builder.under_load.role_names import count_words
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import WorkloadResult

MOST_NAMED = 12


def coping_verdict(results: Results, result: WorkloadResult) -> str:
    """Which devices did not cope in one arrangement, and how many did, in one sentence."""
    failed = [device_name(results.bench, device) for device in _failed(result)]
    return _sentence(result, failed)


def coping_sentences(results: Results, result: WorkloadResult) -> tuple[str, ...]:
    """The same with every role that was not met and its count, and what so few requests do not show."""
    failed = [f"{device_name(results.bench, device)} ({'; '.join(why)})" for device, why in _failed(result).items()]
    unsure = [
        f"{device_name(results.bench, s.subject.device)} ({'; '.join(_counts(result, s.unsure))})"
        for s in result.standings
        if s.unsure
    ]
    sentences = [_sentence(result, failed)]
    if unsure:
        sentences.append(f"Met, but too few requests to be sure of it: {wording.listing_of_many(unsure, MOST_NAMED)}.")
    unfinished = [one for one in result.not_ranked if not one.collapses.collapsed]
    if unfinished:
        sentences.append(f"{wording.count(len(unfinished), 'more device has', 'more devices have')} no whole run.")
    return tuple(sentences)


def _sentence(result: WorkloadResult, failed: list[str]) -> str:
    machines = wording.listing([machines_words(seats) for seats in result.seats], "or")
    total = len(result.standings) + sum(1 for one in result.not_ranked if one.collapses.collapsed)
    if not total:
        return f"With {machines}: no run counts yet."
    coped = total - len(failed)
    if not failed:
        return f"With {machines}, every role was met in these runs on {_so_many(total, total)}."
    others = f"{_so_many(coped, total)} did" if total > 1 else "nobody else was tested"
    return f"With {machines}, {wording.listing_of_many(failed, MOST_NAMED)} did not cope; {others}."


def _failed(result: WorkloadResult) -> dict[str, list[str]]:
    """Each device that did not cope -> why: runs that broke off, then roles that were not met, with their counts."""
    failed = {
        s.subject.device: [
            *([s.collapses.sentence] if s.collapses.collapsed else []),
            *_counts(result, s.unmet),
        ]
        for s in result.standings
        if not s.coped
    }
    return failed | {
        one.subject.device: [one.collapses.sentence] for one in result.not_ranked if one.collapses.collapsed
    }


def _counts(result: WorkloadResult, runs: Mapping[str, RoleResult]) -> list[str]:
    return [f"{result.part(key).name}: {count_words(run)}" for key, run in runs.items()]


def _so_many(coped: int, total: int) -> str:
    if coped == total:
        return "the only device" if total == 1 else f"all {total} devices"
    return f"{coped or 'none'} of {wording.count(total, 'device')}"
