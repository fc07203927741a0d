"""Charts and tables that other pages have too, asked for by an article: checked here, and left to the page to draw."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import UNSEEN, Evidence, named_parts, refuse_withdrawn, subject_of
from builder.articles.mix_runs import named_apart, only_of_role, run_apart, runs_of, workload_named
from builder.bench.bench import unknown_name
from builder.bench.naming import device_name
from builder.under_load.longruns import LongRunResult, longrun_subject, longruns_of, steady_sentence
from builder.under_load.mixes import MixResult
from builder.under_load.seat_roles import Part
from builder.under_load.workloads import WorkloadResult
from catalog.figure_names import joined_id, subject_id
from catalog.records import Ceiling, LongRun


@dataclass(frozen=True, slots=True)
class Ports:
    """The wired ports of a device."""

    device: str


@dataclass(frozen=True, slots=True)
class Inside:
    """What is inside of a device, or of two."""

    devices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ceilings:
    """What a client setup can do at most, on the links that were named."""

    client: str
    ceilings: tuple[Ceiling, ...]


@dataclass(frozen=True, slots=True)
class RoleOver:
    """One role of one machine, over the devices that did the workload in one arrangement."""

    result: WorkloadResult
    part: Part


About = LongRunResult | Ports | Inside | Ceilings | MixResult | RoleOver


@dataclass(frozen=True, slots=True)
class BlockOrder:
    """A chart or a table of an article that another page has, too.

    key    what it is about, unique among the figures of an article
    title  the author's question; "" for the one that the other page asks
    line   of the article's file where it is asked for, and how it was typed there
    """

    key: str
    title: str
    line: int
    typed: str
    about: About = field(hash=False)


def ordered_block(evidence: Evidence, binding: Binding) -> BlockOrder:
    """The chart or table a binding asks for. Raises NotBound as quotes do."""
    key, about = _ORDERED[binding.kind](evidence, binding)
    return BlockOrder(key, binding.words, binding.line, binding.typed, about)


def _longrun(evidence: Evidence, binding: Binding) -> tuple[str, LongRunResult]:
    typed = binding.subjects[0]
    device, _, _, settings = named_parts(evidence, typed)
    every = evidence.longruns.get(subject_id(device, settings), ())
    subject = subject_of(evidence, typed, lambda name, unit: longrun_subject(evidence.bench, every, name, unit=unit))
    if "client" in binding.options:
        refuse_withdrawn(evidence, "client", binding.options["client"])
    runs = [one for one in longruns_of(every, subject) if _as_named(one.run, binding.options)]
    if not runs:
        there = named_apart([f"{r.run.device}@{r.run.firmware}, {_link(r.run)}" for r in every]) or "none"
        raise NotBound(f"There is no such long run of {subject.maker} {subject.model}. There is: {there}. {UNSEEN}")
    if len(runs) > 1:
        named = named_apart([_link(one.run) for one in runs])
        raise NotBound(f"There is more than one long run of {subject.model}, so one must be named: {named}.")
    if (runs[0].figures is None and runs[0].waits is None) or not runs[0].counted:
        raise NotBound(steady_sentence(runs[0]))
    return runs[0].figure, runs[0]


def _options(run: LongRun) -> dict[str, str]:
    return {
        "client": run.client,
        "band": run.band,
        "width": str(run.width_mhz),
        "direction": run.direction or "",
        "kind": run.kind,
        "spot": run.spot or "",
        "session": run.session,
        "on": run.date[:10],
    }


def _as_named(run: LongRun, named: Mapping[str, str]) -> bool:
    has = _options(run)
    return all(has[name] == value for name, value in named.items())


def _link(run: LongRun) -> str:
    named = _options(run) | {"kind": "" if run.kind == "throughput" else run.kind}
    return ", ".join(f"{name} {value}" for name, value in named.items() if value)


def _ports(evidence: Evidence, binding: Binding) -> tuple[str, Ports]:
    device = subject_of(evidence, binding.subjects[0]).device
    if not evidence.bench.devices[device].ports:
        raise NotBound(f"No port of {device_name(evidence.bench, device)} is registered.")
    return joined_id("ports", device), Ports(device)


def _parts(evidence: Evidence, binding: Binding) -> tuple[str, Inside]:
    devices = tuple(subject_of(evidence, text).device for text in binding.subjects)
    if len(set(devices)) < len(devices):
        raise NotBound("Both sides are the same device.")
    for device in devices:
        if not evidence.parts.get(device):
            raise NotBound(
                f"{device_name(evidence.bench, device)} was not opened, or nothing could be read inside of it."
            )
    return joined_id("parts", *devices), Inside(devices)


def _ceiling(evidence: Evidence, binding: Binding) -> tuple[str, Ceilings]:
    client = binding.subjects[0]
    refuse_withdrawn(evidence, "client", client)
    setup = evidence.bench.clients.get(client)
    if setup is None:
        raise NotBound(f"{unknown_name(f'There is no client {client!r}', client, evidence.bench.clients)} {UNSEEN}")
    ceilings = tuple(c for c in evidence.ceilings(client) if _on_link(c, binding.options))
    if not ceilings:
        where = ", ".join(f"{name} {value}" for name, value in binding.options.items()) or "any link"
        raise NotBound(
            f"No run shows a ceiling of {setup.name} on {where}, so nothing is known to be limited by it there."
        )
    link = [f"{name}-{value}" for name, value in sorted(binding.options.items())]
    return joined_id("ceiling", client, *link), Ceilings(client, ceilings)


def _on_link(ceiling: Ceiling, named: Mapping[str, str]) -> bool:
    has = {"band": ceiling.band, "width": str(ceiling.width_mhz), "direction": ceiling.direction}
    return all(has[name] == value for name, value in named.items())


def _mix(evidence: Evidence, binding: Binding) -> tuple[str, MixResult]:
    subject, runs = runs_of(evidence, binding, binding.subjects[0])
    if len(runs) > 1:
        named = named_apart([", ".join(run_apart(run, runs)) for run in runs])
        raise NotBound(f"There is more than one run of {subject.model}, so one must be named: {named}.")
    if not any(role.planned for role in runs[0].roles):
        raise NotBound(f"There is nothing to draw: {runs[0].sentence}")
    return joined_id("mix", runs[0].mix.mix), runs[0]


def _role(evidence: Evidence, binding: Binding) -> tuple[str, RoleOver]:
    workload, version = workload_named(evidence, binding.subjects[0])
    if "mix" in binding.options:
        refuse_withdrawn(evidence, "mix", binding.options["mix"])
    every = [r for r in evidence.arrangements(workload) if version is None or version in r.versions]
    if not every:
        raise NotBound(f"Nobody has done {binding.subjects[0]} yet. {UNSEEN}")
    mix = binding.options.get("mix")
    fitting = [result for result in every if mix is None or mix in result.mixes]
    if len(fitting) != 1:
        named = named_apart([_arrangement(result) for result in every])
        raise NotBound(
            f"{workload} was done with machines in {wording.count(len(every), 'arrangement')}, so a run of one must be named: "
            f"{named}."
        )
    part = _part(fitting[0], binding.required("role"), binding.options.get("client"))
    drawn = {(s.device, s.unit, s.firmware) for s in fitting[0].subjects}
    runs = [played[part.key] for played in fitting[0].plays.values() if part.key in played]
    if not any(
        r.planned and r.station and (r.station.device, r.station.unit, r.station.firmware) in drawn for r in runs
    ):
        raise NotBound("There is nothing to draw: no log of this role holds requests.")
    return "~".join([joined_id("role", workload), part.key, joined_id(fitting[0].mixes[0])]), RoleOver(fitting[0], part)


def _arrangement(result: WorkloadResult) -> str:
    return f"mix {result.mixes[0]} ({wording.count(len(result.subjects), 'device')})"


def _part(result: WorkloadResult, name: str, client: str | None) -> Part:
    """One role of one machine. Raises NotBound: none, or several machines played it."""
    parts = [(part.role, part.seat.client if part.seat else "", part) for part in result.parts]
    return only_of_role(result.workload, name, client, parts)


_ORDERED: Mapping[str, Callable[[Evidence, Binding], tuple[str, About]]] = {
    "mix": _mix,
    "role": _role,
    "longrun": _longrun,
    "ports": _ports,
    "parts": _parts,
    "ceiling": _ceiling,
}
