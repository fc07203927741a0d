"""Quotes of runs with several clients at once: shares in time, waiting times, stalls, and what broke off or coped."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from itertools import combinations

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import Evidence
from builder.articles.mix_runs import Played, plan_text, played, played_once, runs_of
from builder.articles.quotes import Quote, unbroken, whose
from builder.bench.bench import Subject
from builder.pairs.refusals import Refusal
from builder.under_load.arrangements import likeness
from builder.under_load.collapses import Mix, count
from builder.under_load.coping import Coping, coping
from builder.under_load.mixes import MixResult
from builder.under_load.role_names import count_words, role_name, stalled_text
from builder.under_load.roles import RoleResult, Shown, percentile_claim
from catalog.digesting.latency import PERCENTS, is_thin

_OF = ("planned", "finished", "made")


def _share(evidence: Evidence, binding: Binding) -> Quote:
    """Requests in time, of one run or added over all. Raises NotBound: the role has no target."""
    subject, runs = _one_or_all(evidence, binding)
    if any(one.role.on_time is None for one in runs):
        raise NotBound(runs[0].role.sentence)
    role = runs[0].role
    what = role.sentence
    if len(runs) > 1:
        what = f"{role_name(role.role)}: requests in time over {len(runs)} runs"
    return _quote(evidence, subject, runs, _share_text([one.role for one in runs]), what)


def _share_text(roles: Sequence[RoleResult]) -> str:
    on_time, planned = sum(role.on_time or 0 for role in roles), sum(role.planned or 0 for role in roles)
    target_ms = roles[0].role.target_ms
    within = "in time" if target_ms is None else f"within {wording.milliseconds(target_ms)} ms"
    runs = f", in {len(roles)} runs" if len(roles) > 1 else ""
    return (
        f"{unbroken(wording.percent(on_time / planned))} in time ({unbroken(f'{on_time} of {planned} {within}')}{runs})"
    )


def _waits(evidence: Evidence, binding: Binding) -> Quote:
    """A waiting time. Raises NotBound: refused (under_load.roles.percentile_claim), or so many were never answered."""
    of = binding.options.get("of", "planned")
    if of not in _OF:
        raise NotBound(f"of is {wording.listing(_OF, 'or')}.")
    percent = _percent(binding)
    subject, one = played_once(evidence, binding)
    if of == "made":
        return _made_by_the_collapse(evidence, subject, one, percent)
    role = one.role
    claim = percentile_claim(role, percent, finished_only=of == "finished")
    if isinstance(claim, Refusal):
        raise NotBound(claim.sentence)
    if of == "finished" and role.failed:
        raise NotBound(
            f"{role.failed} of {role.planned} planned requests were never answered, and a percentile of the others alone "
            "leaves them out."
        )
    if claim.ms is None:
        raise NotBound(
            f"{role.failed} of {role.planned} planned requests were never answered, so there is no time that {percent} % "
            "of them kept to; “share” says how many were in time."
        )
    interval = ""
    if claim.low_ms is not None and claim.high_ms is not None:
        ends = wording.ends(_milliseconds(claim.low_ms), _milliseconds(claim.high_ms))
        interval = f" ({wording.likely(ends)})"
    what = f"{role_name(role.role)}: waiting time that {percent} % of {role.planned} planned requests kept to"
    text = f"{unbroken(f'{_milliseconds(claim.ms)} ms')}{interval}"
    return _quote(evidence, subject, [one], text, f"{what}{', with its interval' if interval else ''}")


def _made_by_the_collapse(evidence: Evidence, subject: Subject, one: Played, percent: int) -> Quote:
    until = one.role.until
    if until is None:
        raise NotBound("“of made” is for a run that broke off: its requests made by then.")
    ms = until.percentiles.get(percent)
    if ms is None or is_thin(percent, planned=until.made):
        raise NotBound(f"Of {until.made} requests made until it broke off nothing can be said of {percent} %.")
    what = f"{role_name(one.role.role)}: waiting time that {percent} % of {until.made} requests made by then kept to"
    return _quote(evidence, subject, [one], f"{unbroken(f'{_milliseconds(ms)} ms')} until it broke off", what)


def _milliseconds(ms: float) -> str:
    return "failed" if ms == float("inf") else wording.milliseconds(ms)


def _percent(binding: Binding) -> int:
    typed = binding.required("at")
    if typed not in map(str, PERCENTS):
        raise NotBound(f"{typed!r} is not kept; at takes {wording.listing(list(map(str, PERCENTS)), 'or')}.")
    return int(typed)


def _stalls(evidence: Evidence, binding: Binding) -> Quote:
    """How often a stream stood still. Raises NotBound: no such stream was replayed."""
    subject, runs = _one_or_all(evidence, binding)
    shown = [one.role.shown for one in runs if one.role.shown is not None]
    if len(shown) < len(runs):
        name = role_name(runs[0].role.role)
        raise NotBound(f"{name} was not replayed: only a stream with a start_buffer_s is, and only from its log.")
    runs_text = f" in {len(runs)} runs" if len(runs) > 1 else ""
    what = f"{role_name(runs[0].role.role)}: stalls in {_shown_time(shown)} of playback"
    return _quote(evidence, subject, runs, _stalls_text(shown) + runs_text, what)


def _stalls_text(shown: Sequence[Shown]) -> str:
    return unbroken(stalled_text(sum(one.stalls for one in shown), sum(one.stalled_s for one in shown)))


def _shown_time(shown: Sequence[Shown]) -> str:
    return wording.clock(sum(one.shown_s for one in shown))


def _brokeoff(evidence: Evidence, binding: Binding) -> Quote:
    """Whether the runs of a workload broke off, and when."""
    subject, runs = _counted(evidence, binding)
    return _of_runs(evidence, subject, runs, broke_off_text([run.mix for run in runs]), "how its runs ended")


def broke_off_text(mixes: Sequence[Mix]) -> str:
    """ "broke off after 6:20 of 10:00 (power cycle)", "finished all 3 runs", "broke off in 1 of 3 runs, after ..."."""
    tally = count(mixes)
    if not tally.collapsed:
        return f"finished {_all_runs(tally.runs)}"
    ends = wording.listing([m.ended for m in mixes if m.outcome == "did not finish" and m.ended])
    if tally.runs == 1:
        return f"broke off {ends}".rstrip()
    text = f"broke off in {tally.collapsed} of {tally.runs} runs"
    return f"{text}, {ends}" if ends else text


def _all_runs(runs: int) -> str:
    return {1: "its only run", 2: "both runs"}.get(runs, f"all {runs} runs")


def _coped(evidence: Evidence, binding: Binding) -> Quote:
    """Whether every role was met in every run, or which were not: of each the run with the lowest share."""
    subject, runs = _counted(evidence, binding)
    mixes = [run.mix for run in runs]
    roles = [role for run in runs for role in run.roles if not role.without_target]
    missed: dict[tuple[str, str], RoleResult] = {}
    for role in sorted((r for r in roles if r.verdict == "not-met"), key=lambda r: (r.on_time_share or 0.0, r.mix)):
        missed.setdefault((role.role.role_id, role.station.client if role.station else ""), role)
    untested = list(dict.fromkeys(role_name(r.role) for r in roles if r.verdict == "not-tested"))
    parts = [broke_off_text(mixes)] if count(mixes).collapsed else []
    if missed:
        parts.append(
            f"did not cope with {wording.listing([_missed(role, missed.values()) for role in missed.values()])}"
        )
    elif not parts and any(role.verdict == "met" for role in roles):
        tested = "every role that was tested" if untested else "every role"
        parts.append(f"coped with {tested} in {_all_runs(len(runs))}")
    if untested:
        where = "" if len(runs) == 1 else " in every run"
        parts.append(f"{wording.listing(untested)} {'was' if len(untested) == 1 else 'were'} not tested{where}")
    return _of_runs(evidence, subject, runs, "; ".join(parts), "roles met in its runs, by count")


def coping_quoted(evidence: Evidence, binding: Binding) -> Coping | None:
    """Whether the device of a `coped` quote coped, as far as its runs show it; None where no role of theirs is judged."""
    _, runs = _counted(evidence, binding)
    collapsed = count([run.mix for run in runs]).collapsed > 0
    played: dict[tuple[str, str], list[RoleResult]] = defaultdict(list)
    for role in (role for run in runs for role in run.roles if role.verdict in ("met", "not-met")):
        played[role.role.role_id, role.station.client if role.station else ""].append(role)
    if not played and not collapsed:
        return None
    groups = played.values()
    unmet = [role for group in groups for role in group if role.verdict == "not-met"]
    unsure = [
        role
        for group in groups
        if all(role.verdict == "met" for role in group) and not any(role.certain for role in group)
        for role in group
    ]
    return coping(collapsed, unmet, unsure)


def _missed(role: RoleResult, others: Collection[RoleResult]) -> str:
    """ "call window (2730 of 3000 in time)"; with its client where others missed the same role."""
    same = sum(other.role.role_id == role.role.role_id for other in others)
    client = f" on {role.station.client}" if same > 1 and role.station else ""
    return f"{role_name(role.role)}{client} ({count_words(role)})"


def _counted(evidence: Evidence, binding: Binding) -> tuple[Subject, list[MixResult]]:
    subject, runs = runs_of(evidence, binding, binding.subjects[0])
    counted = [run for run in runs if not run.excluded]
    if not counted:
        raise NotBound(f"No such run of {subject.model} counts: {runs[-1].excluded}.")
    return subject, counted


def _one_or_all(evidence: Evidence, binding: Binding) -> tuple[Subject, list[Played]]:
    """The run that is meant, or with “runs all” every one of them, which must be alike."""
    runs = binding.options.get("runs")
    if runs is None:
        subject, one = played_once(evidence, binding)
        return subject, [one]
    if runs != "all":
        raise NotBound("runs is written “runs all”; one run is named by on or mix.")
    subject, every = played(evidence, binding)
    for a, b in combinations([one.run for one in every], 2):
        unlike = likeness(a.arrangement, b.arrangement).difference
        if unlike:
            raise NotBound(
                f"The runs were not alike, so they are not added: {unlike} ({a.mix.mix} and {b.mix.mix}). Name one by mix."
            )
    return subject, every


def _quote(evidence: Evidence, subject: Subject, runs: Sequence[Played], text: str, what: str) -> Quote:
    first = runs[0]
    seat = next(seat for seat in first.run.arrangement.seats if seat.client == first.client)
    collapsed = count(one.run.mix for one in runs).collapsed
    figures = tuple(one.role.figure for one in runs)
    return Quote(
        text,
        what,
        whose(subject),
        f"{seat.words}; {plan_text(evidence, first.run)}",
        _days([one.run for one in runs]),
        len(runs),
        (subject.device,),
        figures=figures,
        mark=broke_off_text([one.run.mix for one in runs]) if collapsed else "",
    )


def _of_runs(evidence: Evidence, subject: Subject, runs: Sequence[MixResult], text: str, what: str) -> Quote:
    figures = tuple(role.figure for run in runs for role in run.roles)
    plans = wording.listing(list(dict.fromkeys(plan_text(evidence, run) for run in runs)))
    return Quote(text, what, whose(subject), plans, _days(runs), len(runs), (subject.device,), figures=figures)


def _days(runs: Sequence[MixResult]) -> str:
    days = sorted(run.mix.date[:10] for run in runs)
    return wording.date_range(days[0], days[-1])


QUOTED: Mapping[str, Callable[[Evidence, Binding], Quote]] = {
    "share": _share,
    "waits": _waits,
    "stalls": _stalls,
    "brokeoff": _brokeoff,
    "coped": _coped,
}
