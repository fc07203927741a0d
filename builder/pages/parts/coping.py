"""Who coped with a workload, of whom it is too close to say, and who did not, in words."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from builder import wording
from builder.bench.naming import device_name
from builder.pages.contents import Results
from builder.pages.parts.role_words import machines_words
from builder.under_load.coping import FROM_WORST, Coping, open_roles, worst_coping
from builder.under_load.role_names import count_words, role_name
from builder.under_load.roles import RoleResult
from builder.under_load.workloads import Placed, Standing, WorkloadResult

MOST_NAMED = 12
MOST_COPED = 6  # by name beside their count


@dataclass(frozen=True, slots=True)
class _Device:
    """A device over the arrangements of one workload: how it coped at worst, and the roles that say so, with counts."""

    name: str
    coping: Coping
    reasons: tuple[str, ...]

    @property
    def with_reasons(self) -> str:
        return f"{self.name} ({'; '.join(self.reasons)})" if self.reasons else self.name


def coping_verdict(results: Results, outcomes: Sequence[WorkloadResult]) -> str:
    """Which devices coped with a workload, of which it is too close to say, and which did not; how many were set alike."""
    counts = {len(seats) for result in outcomes for seats in result.seats}
    lead = (
        f"With {wording.count(counts.pop(), 'machine')} at once"
        if len(counts) == 1
        else "With several machines at once"
    )
    every, alike = _tested(results, outcomes), _tested(results, outcomes[:1])
    sentences = [_sentence(lead, every.values(), "with a run that counts")]
    if every.keys() - alike.keys() and len(alike) > 1:
        sentences.append(f"{len(alike)} of the {len(every)} were tested with the same machines in the same places.")
    elsewhere = {one.subject.device for result in outcomes for one in result.not_ranked} - every.keys()
    if every and elsewhere:
        sentences.append(_unfinished(len(elsewhere)))
    return " ".join(sentences)


def coping_overall(
    results: Results, outcomes_of: Mapping[str, Sequence[WorkloadResult]], titles: Mapping[str, str]
) -> tuple[str, ...]:
    """Over all workloads: how many devices coped with each they did, and which was hardest; then who failed how often.

    outcomes_of  workload -> what it came to, arrangement by arrangement
    titles       of workloads, by id
    """
    tested = {workload: _tested(results, outcomes) for workload, outcomes in outcomes_of.items()}
    devices: dict[str, list[_Device]] = defaultdict(list)
    for of_workload in tested.values():
        for device, one in of_workload.items():
            devices[device].append(one)
    if not devices:
        return ("No run with several people at once counts yet.",)
    worst = {device: worst_coping(one.coping for one in runs) for device, runs in devices.items()}
    if set(worst.values()) == {"coped"}:
        return (f"{wording.capital(_all_of(len(devices)))} coped with every busy hour they were tested in.",)
    named: dict[Coping, list[str]] = {kind: [] for kind in FROM_WORST}
    for device, kind in worst.items():
        times = sum(one.coping == kind for one in devices[device])
        count = "" if kind == "coped" else f" ({times} of {len(devices[device])})"
        named[kind].append(f"{devices[device][0].name}{count}")
    answer = (
        f"{_coped_of(named['coped'], len(devices), 'tested', bool(named['too-close']))} with every busy hour they were "
        f"tested in{_names(named['coped'])}."
    )
    details = []
    if named["did-not-cope"]:
        hardest = max(tested, key=lambda workload: (_failing(tested[workload].values()), workload))
        answer += f" Hardest was “{titles[hardest]}”: {_briefly(tested[hardest].values())}."
        details.append(f"Failed in at least one busy hour: {_listed(named['did-not-cope'])}.")
    if named["too-close"]:
        details.append(f"Never failed, but some were too close to say: {_listed(named['too-close'])}.")
    return wording.capital(answer), *details


def coping_sentences(results: Results, result: WorkloadResult) -> tuple[str, ...]:
    """Of one arrangement the same with the roles that say so, and whether some were met by too few requests."""
    unsure = sum(bool(standing.unsure) for standing in result.standings)
    devices = _tested(results, [result])
    sentences = [_sentence(_machines(result), devices.values(), "in this arrangement", reasons=True)]
    if unsure:
        sentences.append(
            f"On {wording.count(unsure, 'device')} in this arrangement some roles were met, but by too few requests to be "
            "sure of it: the table says which."
        )
    unfinished = [one for one in result.not_ranked if one.coping is None]
    if unfinished:
        sentences.append(_unfinished(len(unfinished)))
    return tuple(sentences)


def coping_alone(results: Results, outcomes: Sequence[WorkloadResult]) -> str:
    """The same of arrangements that one device each did."""
    return _sentence("By themselves", _tested(results, outcomes).values(), "with machines elsewhere", reasons=True)


def coping_counts(result: WorkloadResult) -> str:
    """ "2 of 7 devices in this arrangement coped, 1 did not, 4 are too close to say.": the counts alone."""
    kinds = Counter(one.coping for one in result.placed if one.coping)
    if not kinds.total():
        return "No run counts yet."
    others = [(kinds["did-not-cope"], "did not"), (kinds["too-close"], "too close to say")]
    text = f"{kinds['coped'] or 'None'} of {wording.count(kinds.total(), 'device')} in this arrangement coped"
    return ", ".join([text, *(f"{n} {words}" for n, words in others if n)]) + "."


def _machines(result: WorkloadResult) -> str:
    return f"With {wording.listing([machines_words(seats) for seats in result.seats], 'or')}"


def _unfinished(devices: int) -> str:
    return f"{wording.count(devices, 'more device has', 'more devices have')} no whole run."


def _sentence(lead: str, tested: Collection[_Device], subset: str, *, reasons: bool = False) -> str:
    """Who coped, of whom it is too close to say, who did not. tested: all that have a run that counts, *subset* in words."""
    kinds = {kind: [one for one in tested if one.coping == kind] for kind in FROM_WORST}
    texts = {
        kind: [one.with_reasons if reasons and kind != "coped" else one.name for one in members]
        for kind, members in kinds.items()
    }
    coped, close, failed = texts["coped"], texts["too-close"], texts["did-not-cope"]
    if not tested:
        return f"{lead}: no run counts yet."
    if len(coped) == len(tested):
        which = f" {subset}" if len(tested) > 1 else ""
        return f"{lead}, every role was met in these runs on {_all_of(len(tested))}{which}."
    if len(tested) == 1:
        words = f"{failed[0]} did not cope" if failed else f"it is too close to say whether {close[0]} coped"
        return f"{lead}, {words}; nobody else was tested."
    parts = [f"{lead}, {_coped_of(coped, len(tested), subset, bool(close))}{_names(coped)}."]
    if close:
        parts.append(f"Too close to say: {_listed(close)}.")
    if failed:
        parts.append(f"Did not cope: {_listed(failed)}.")
    return " ".join(parts)


def _coped_of(coped: Sequence[str], total: int, subset: str, close: bool) -> str:
    """ "2 of the 7 devices tested coped"; of none that some are too close to say is part of it."""
    text = f"{len(coped) or 'none'} of the {total} devices {subset} coped"
    return text if coped or not close else f"{text} for certain"


def _names(coped: Sequence[str]) -> str:
    """Their names where they are few."""
    return f": {wording.listing(coped)}" if 0 < len(coped) <= MOST_COPED else ""


def _listed(names: Sequence[str]) -> str:
    return wording.listing_of_many(names, MOST_NAMED)


def _failing(tested: Collection[_Device]) -> tuple[float, float]:
    """The share that did not cope, then of those that it is too close to say of."""
    kinds = Counter(one.coping for one in tested)
    return kinds["did-not-cope"] / max(len(tested), 1), kinds["too-close"] / max(len(tested), 1)


def _briefly(tested: Collection[_Device]) -> str:
    """ "4 of the 6 devices tested did not cope, 1 is too close to say, only Aldous coped"."""
    kinds = Counter(one.coping for one in tested)
    parts = [f"{kinds['did-not-cope']} of the {len(tested)} devices tested in it did not cope"]
    if close := kinds["too-close"]:
        parts.append(f"{close} {'is' if close == 1 else 'are'} too close to say")
    if coped := [one.name for one in tested if one.coping == "coped"]:
        parts.append(f"only {coped[0]} coped" if len(coped) == 1 else f"{len(coped)} coped")
    return ", ".join(parts)


def _tested(results: Results, outcomes: Sequence[WorkloadResult]) -> dict[str, _Device]:
    """Each device with a run that counts, over all its arrangements."""
    placed: dict[str, list[tuple[WorkloadResult, Placed, Coping]]] = defaultdict(list)
    for result in outcomes:
        for one in result.placed:
            if one.coping is not None:
                placed[one.subject.device].append((result, one, one.coping))
    devices = {}
    for device, times in placed.items():
        worst = worst_coping(kind for *_, kind in times)
        reasons = [text for result, one, kind in times if kind == worst for text in _reasons(result, one)]
        devices[device] = _Device(device_name(results.bench, device), worst, tuple(reasons))
    return devices


def _reasons(result: WorkloadResult, one: Placed) -> list[str]:
    """What keeps a device from having coped: runs that broke off, roles not met, and where that is open, roles too close."""
    if one.coping == "too-close":
        unsure = one.unsure if isinstance(one, Standing) else {}
        near = open_roles(one.unmet.values(), unsure.values())
        return _counts(result, {key: run for key, run in {**one.unmet, **unsure}.items() if run in near})
    return [
        *([one.collapses.sentence] if one.collapses.collapsed else []),
        *(_counts(result, one.unmet) if one.coping == "did-not-cope" else []),
    ]


def _counts(result: WorkloadResult, runs: Mapping[str, RoleResult]) -> list[str]:
    """The roles that were not met: one with its count, several by name, which the tables count."""
    if len(runs) == 1:
        return [f"{result.part(key).name}: {count_words(run)}" for key, run in runs.items()]
    machines = Counter(role_name(result.part(key).role) for key in runs)
    names = [f"{name} on {wording.in_words(n)} machines" if n > 1 else name for name, n in machines.items()]
    return [wording.listing(names)] if names else []


def _all_of(total: int) -> str:
    return "the only device" if total == 1 else f"all {total} devices"
