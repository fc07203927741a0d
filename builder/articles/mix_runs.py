"""From the names in a binding to runs with several clients: which device, workload, run, role and client are meant.

Nothing is ever chosen silently: where several runs or clients fit, the build asks for what tells them apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from builder import wording
from builder.articles.bindings import KINDS, Binding, NotBound
from builder.articles.evidence import UNSEEN, Evidence, named_parts, refuse_withdrawn, subject_of
from builder.bench.bench import Subject
from builder.under_load.mixes import MixResult, mix_subject, mixes_of
from builder.under_load.roles import RoleResult
from catalog.records import Role

T = TypeVar("T")
_MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class Played:
    """One role of one run, as one client played it."""

    run: MixResult
    role: RoleResult

    @property
    def client(self) -> str:
        """The id of its client; "" where nobody played the role."""
        return self.role.station.client if self.role.station else ""


def workload_named(evidence: Evidence, text: str) -> tuple[str, int | None]:
    """The workload that ID or ID~VERSION names: its id, and its version where one is named. Raises NotBound: unknown."""
    workload, _, version = text.partition("~")
    versions = [number for name, number in evidence.workloads if name == workload]
    if not versions:
        known = sorted({name for name, _ in evidence.workloads})
        there = f"There {'is' if len(known) == 1 else 'are'} {wording.listing(known)}." if known else "None is known."
        raise NotBound(f"There is no workload {workload!r}. {there} {UNSEEN}")
    if not version:
        return workload, None
    if version not in map(str, versions):
        raise NotBound(f"{workload} has no version {version!r}; it has {wording.listing(list(map(str, versions)))}.")
    return workload, int(version)


def plan_text(evidence: Evidence, run: MixResult) -> str:
    """ "Calls over a backup, version 1"."""
    plan = evidence.workloads[run.mix.workload, run.mix.version]
    return f"{plan.title}, version {plan.version}"


def runs_of(evidence: Evidence, binding: Binding, typed: str) -> tuple[Subject, list[MixResult]]:
    """A device's runs of a binding's workload, by date and id, at least one.

    Raises  NotBound: the device is unknown or withdrawn, or there is no such run.
    """
    workload, version = workload_named(evidence, binding.required("workload"))
    if "mix" in binding.options:
        refuse_withdrawn(evidence, "mix", binding.options["mix"])
    every = evidence.mixes.get(named_parts(evidence, typed)[0], ())
    subject = subject_of(evidence, typed, lambda name, unit: mix_subject(evidence.bench, every, name, unit=unit))
    done = [m for m in mixes_of(every, subject, workload=workload) if version in (None, m.mix.version)]
    if not done:
        named = [m for m in every if m.mix.workload == workload and version in (None, m.mix.version)]
        raise NotBound(_never_done(subject, every, binding.required("workload"), named))
    day, mix = binding.options.get("on"), binding.options.get("mix")
    runs = [m for m in done if day in (None, m.mix.date[:10]) and mix in (None, m.mix.mix)]
    if not runs:
        there = named_apart([f"on {m.mix.date[:10]}, mix {m.mix.mix}" for m in done])
        raise NotBound(f"{subject.model} has no such run of {workload}. Its runs are: {there}.")
    return subject, runs


def _never_done(subject: Subject, every: Sequence[MixResult], workload: str, elsewhere: Sequence[MixResult]) -> str:
    """every: all runs of the device; elsewhere: those of the workload, which another unit or firmware did."""
    tested = list(dict.fromkeys(f"{m.mix.device}/{m.mix.unit}@{m.mix.firmware}" for m in elsewhere))
    named = f" Tested with it is {wording.listing(tested, 'or')}." if tested else ""
    done = sorted(
        {f"{m.mix.workload}~{m.mix.version}" if "~" in workload else m.mix.workload for m in mixes_of(every, subject)}
    )
    did = wording.listing(done) or "no workload"
    return f"{subject.maker} {subject.model} {subject.firmware} never did {workload}; it did {did}.{named} {UNSEEN}"


def played_once(evidence: Evidence, binding: Binding) -> tuple[Subject, Played]:
    """The one run and client that a binding of a role means. Raises NotBound: none with figures, or several."""
    subject, fitting = played(evidence, binding)
    if len(fitting) > 1:
        more = " “runs all” adds their requests." if "runs" in KINDS[binding.kind].names else ""
        raise NotBound(f"There is more than one run, so one must be named: {_named(fitting)}.{more}")
    return subject, fitting[0]


def played(evidence: Evidence, binding: Binding) -> tuple[Subject, list[Played]]:
    """Every run in which one client played a binding's role, with figures, at least one.

    Raises  NotBound: no such role or client, several clients played it, or none of its logs has figures.
    """
    subject, runs = runs_of(evidence, binding, binding.subjects[0])
    name, client = binding.required("role"), binding.options.get("client")
    if client is not None:
        refuse_withdrawn(evidence, "client", client)
    every = [(one.role.role, one.client, one) for one in (Played(run, role) for run in runs for role in run.roles)]
    of_client = of_role(runs[0].mix.workload, name, client, every)
    fitting = [one for one in of_client if one.role.planned]
    if not fitting:
        raise NotBound(of_client[-1].role.sentence)
    if len({one.client for one in fitting}) > 1:
        raise NotBound(f"More than one client played {name}, so one must be named: {_named(fitting)}.")
    return subject, fitting


def is_role(role: Role, name: str) -> bool:
    """Whether an author's name means this role: what its workload calls it, or its id in the catalogue."""
    return name in (role.role_id, role.definition)


def of_role(workload: str, name: str, client: str | None, played: Sequence[tuple[Role, str, T]]) -> list[T]:
    """What belongs to a role by an author's name, and to a client where one is named; at least one.

    played  a role, the client that played it ("" for nobody), and what is looked for
    Raises  NotBound: no such role, or the client did not play it.
    """
    named = [(one, has) for role, has, one in played if is_role(role, name)]
    if not named:
        known = wording.listing(list(dict.fromkeys(role.role_id for role, _, _ in played)))
        raise NotBound(f"{workload} has no role {name!r}; it has {known}.")
    fitting = [one for one, has in named if client in (None, has)]
    if not fitting:
        clients = wording.listing(sorted({has for _, has in named if has})) or "nobody"
        raise NotBound(f"{client!r} did not play {name}; {clients} did.")
    return fitting


def only_of_role(workload: str, name: str, client: str | None, played: Sequence[tuple[Role, str, T]]) -> T:
    """The one of `of_role`. Raises NotBound as it does, and where several clients played the role."""
    fitting = of_role(workload, name, client, played)
    if len(fitting) > 1:
        named = "; ".join(f"client {has}" for role, has, _ in played if is_role(role, name))
        raise NotBound(f"More than one client played {name}, so one must be named: {named}.")
    return fitting[0]


def _named(fitting: Sequence[Played]) -> str:
    return named_apart([", ".join(apart(one, fitting)) for one in fitting])


def named_apart(options: Sequence[str]) -> str:
    """Different options that an author may choose from, as many as can be read."""
    named = list(dict.fromkeys(options))
    more = f"; and {len(named) - _MOST_NAMED} more" if len(named) > _MOST_NAMED else ""
    return "; ".join(named[:_MOST_NAMED]) + more


def apart(one: Played, others: Sequence[Played]) -> list[str]:
    """The options that tell one run and client from the others, as an author writes them."""
    several = len({other.client for other in others}) > 1
    return [*([f"client {one.client}"] if several else []), *run_apart(one.run, [other.run for other in others])]


def run_apart(run: MixResult, others: Sequence[MixResult]) -> list[str]:
    """The options that tell a run from the others: its day, and where that is not enough its id."""
    day = run.mix.date[:10]
    options = [f"on {day}"] if len({other.mix.date[:10] for other in others}) > 1 else []
    same_day = {other.mix.mix for other in others if other.mix.date[:10] == day}
    return [*options, f"mix {run.mix.mix}"] if len(same_day) > 1 else options
