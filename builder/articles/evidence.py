"""What articles may quote: one public copy's results, and the way from a name in a text to them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.bench.bench import Bench, Subject, cells_of_subject, subject_named
from builder.bench.cells import Cell, Group
from builder.bench.naming import GroupName
from builder.bench.tracks import GroupFilter, Track, track
from builder.bench.weighted import Match
from builder.pairs.compare import compare
from builder.pairs.verdicts import PairFigure
from builder.under_load.longruns import LongRunResult
from builder.under_load.mixes import MixResult
from builder.under_load.workloads import WorkloadResult
from builder.windows.ranking import Ranking
from catalog.errors import UnknownName
from catalog.figure_names import split_settings, subject_id
from catalog.records import Ceiling, Feature, Heat, Part, Power, Price, Withdrawal, Workload

UNSEEN = "Whatever is unknown, hidden or withdrawn at the build instant cannot be quoted."
Naming = Callable[[str, str | None], Subject]
MATCHES: tuple[Match, ...] = ("attenuation", "level", "spot")
_MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class Evidence:
    """One public copy as articles see it.

    names    group -> its short name
    ranked   the ranking of a group over a window; KeyError or ValueError where its band has none
    prices   device -> its observations, as are heat, power, features and parts
    ceilings what a client setup can do at most
    mixes    device -> its runs with several clients
    longruns device -> its runs over hours
    workloads    every version of every workload
    arrangements a workload over devices, one result an arrangement of machines
    old      day on which a price was seen -> whether that is so long ago that a reader had better look again
    disputed whether a dispute is open about one of some devices, or of some figures of theirs
    """

    bench: Bench
    names: Mapping[Group, GroupName]
    ranked: Callable[[Group, str], Ranking]
    withdrawals: Sequence[Withdrawal]
    prices: Mapping[str, Sequence[Price]]
    heat: Mapping[str, Sequence[Heat]]
    power: Mapping[str, Sequence[Power]]
    features: Mapping[str, Sequence[Feature]]
    parts: Mapping[str, Sequence[Part]]
    ceilings: Callable[[str], Sequence[Ceiling]]
    mixes: Mapping[str, Sequence[MixResult]]
    longruns: Mapping[str, Sequence[LongRunResult]]
    workloads: Mapping[tuple[str, int], Workload]
    arrangements: Callable[[str], Sequence[WorkloadResult]]
    old: Mapping[str, bool]
    disputed: Callable[[Sequence[str], Sequence[str]], bool]


def named_parts(evidence: Evidence, text: str) -> tuple[str, str, str, str]:
    """Device, unit, firmware and settings of what an author typed; "" for what was left out."""
    plain, settings = split_settings(text, evidence.bench.settings)
    place, _, firmware = plain.partition("@")
    device, _, unit = place.partition("/")
    return device, unit, firmware, evidence.bench.settings[settings].settings_id if settings else ""


def subject_of(evidence: Evidence, text: str, named: Naming | None = None) -> Subject:
    """The subject that DEVICE, DEVICE/UNIT or DEVICE/UNIT@FIRMWARE names, or one of them with +SETTINGS. Raises NotBound.

    named  what "device" or "device@firmware" and a unit name, for tests that are not runs with one client
    """
    device, unit, firmware, settings = named_parts(evidence, text)
    for what, name in (
        ("device", device),
        ("unit", f"{device}/{unit}"),
        ("firmware", f"{device}@{firmware}"),
    ):
        refuse_withdrawn(evidence, what, name)
    name = subject_id(f"{device}@{firmware}" if firmware else device, settings)
    try:
        subject = named(name, unit or None) if named else subject_named(evidence.bench, name, unit=unit or None)
    except UnknownName as failure:
        raise NotBound(f"{failure} {UNSEEN}") from failure
    refuse_withdrawn(evidence, "unit", f"{subject.device}/{subject.unit}")
    refuse_withdrawn(evidence, "firmware", f"{subject.device}@{subject.firmware}")
    return subject


def refuse_withdrawn(evidence: Evidence, what: str, name: str) -> None:
    """Raises NotBound where a thing of a kind is withdrawn."""
    for withdrawal in evidence.withdrawals:
        if (withdrawal.what, withdrawal.id) == (what, name):
            raise NotBound(
                f"{wording.capital(what)} {name} was withdrawn on {wording.date(withdrawal.from_date)}: "
                f"{withdrawal.reason.rstrip('.')}. It cannot be quoted."
            )


def group_of(evidence: Evidence, binding: Binding, whose: Sequence[Subject]) -> Group:
    """The one group under the binding's conditions in which every subject has results.

    Raises  NotBound: none, or several. Nothing is chosen silently, so that new results never change what is quoted.
    """
    wanted = binding.conditions
    if "client" in wanted:
        refuse_withdrawn(evidence, "client", wanted["client"])
    groups = [{c.group for c in cells_of_subject(evidence.bench, side) if takes(wanted, c)} for side in whose]
    if not groups:
        fitting = [group for group in evidence.bench.cells_in if fits(wanted, group)]
        groups = [{c.group for group in fitting for c in evidence.bench.cells_in_group(group) if takes(wanted, c)}]
    common = sorted(set.intersection(*groups), key=lambda g: g.sort_key)
    if not common:
        names = wording.listing([f"{side.maker} {side.model} {side.firmware}" for side in whose])
        none = "have no results in common" if len(whose) > 1 else "has no results"
        raise NotBound(f"{names or 'The catalogue'} {none} under {_conditions_text(wanted)}.")
    if len(common) > 1:
        named = "; ".join(spelled(evidence, group) for group in common[:_MOST_NAMED])
        more = f"; and {len(common) - _MOST_NAMED} more" if len(common) > _MOST_NAMED else ""
        raise NotBound(f"Several groups fit, so one must be named: {named}{more}.")
    return common[0]


def takes(wanted: Mapping[str, str], cell: Cell) -> bool:
    """Whether a cell with a value meets the conditions of a binding."""
    client = wanted.get("client")
    return cell.mean is not None and client in (None, cell.client, cell.group.series) and fits(wanted, cell.group)


def fits(wanted: Mapping[str, str], group: Group) -> bool:
    """Whether a group meets the conditions of a binding, but for the client."""
    conditions = {
        "band": group.band,
        "width": str(group.width_mhz),
        "direction": group.direction,
        "protocol": group.protocol or "",
        "flows": "" if group.flows is None else str(group.flows),
        "security": group.security or "",
    }
    return all(conditions[name] == value for name, value in wanted.items() if name != "client")


def _conditions_text(wanted: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {value}" for name, value in wanted.items()) or "any conditions"


def spelled(evidence: Evidence, group: Group) -> str:
    """The conditions that name a group among all others, as an author writes them."""
    alike = [other for other in evidence.names if _plain(other) == _plain(group)]
    parts = [f"client {group.series}", f"band {group.band}", f"width {group.width_mhz}", f"direction {group.direction}"]
    for name in ("protocol", "flows", "security"):
        value = getattr(group, name)
        if value is not None and len({getattr(other, name) for other in alike}) > 1:
            parts.append(f"{name} {value}")
    return ", ".join(parts)


def _plain(group: Group) -> Group:
    return replace(group, protocol=None, flows=None, security=None)


def _meets(evidence: Evidence, binding: Binding, figure: PairFigure) -> bool:
    """Whether the single link of a comparison with several links is under the binding's conditions."""
    group = _one_link(figure)
    side = figure.a if group == figure.group else figure.b
    return any(takes(binding.conditions, cell) for cell in cells_of_subject(evidence.bench, side, group))


def _one_link(figure: PairFigure) -> Group:
    return next(group for group in (figure.group, figure.group_b) if group is not None and not group.several_links)


def line_of(evidence: Evidence, side: Subject, group: Group) -> Track:
    """A subject's joined line in a group. Raises NotBound where no place has a measured attenuation."""
    line = track(cells_of_subject(evidence.bench, side, group), match="attenuation")
    if line is None:
        raise NotBound(f"{side.maker} {side.model} has no place with a measured attenuation in this group.")
    return line


def window_of(evidence: Evidence, group: Group, name: str) -> tuple[float, float]:
    """The ends of a window [dB]. Raises NotBound for a band or a name without one."""
    low_high = evidence.bench.constants.window(group.band, name)
    if low_high is None:
        raise NotBound(f"There is no window {name!r} at {wording.band(group.band)}; there are near, middle and far.")
    return low_high


def _narrowed(a: Subject, b: Subject, wanted: Mapping[str, str]) -> GroupFilter:
    """The groups that a comparison under these conditions is among, so that the others need not be compared.

    Under settings a link may meet one of several links, whose band is another.
    """
    client, width = wanted.get("client"), wanted.get("width", "")
    if a.settings or b.settings:
        return GroupFilter(client=client)
    return GroupFilter(client, wanted.get("band"), int(width) if width.isdecimal() else None, wanted.get("direction"))


def pair_of(evidence: Evidence, binding: Binding) -> PairFigure:
    """The comparison that a binding of two subjects asks for.

    Raises  NotBound: it is refused, with the refusal's own sentence, or there is none, or more than one.
    """
    match = binding.options.get("match", "spot" if "spot" in binding.options else "attenuation")
    if match not in MATCHES:
        raise NotBound(f"There is no match {match!r}; there are {wording.listing(MATCHES)}.")
    a, b = (subject_of(evidence, text) for text in binding.subjects)
    if (a.id, a.unit, a.firmware) == (b.id, b.unit, b.firmware):
        raise NotBound("Both sides are the same unit with the same firmware.")
    one_level = next(m for m in MATCHES if m == match)
    figures = compare(evidence.bench, a, b, match=one_level, only=_narrowed(a, b, binding.conditions))
    if figures[0].group is None:  # where that is so of all groups, its sentence is about all of them
        figures = compare(evidence.bench, a, b, match=one_level, only=GroupFilter(client=binding.options.get("client")))
    if figures[0].group is None:
        raise NotBound(figures[0].sentence)
    spot = binding.options.get("spot")
    if any(figure.group_b is None for figure in figures):
        group = group_of(evidence, binding, (a, b))
        fitting = [figure for figure in figures if figure.group == group]
    else:
        fitting = [figure for figure in figures if _meets(evidence, binding, figure)]
    chosen = [figure for figure in fitting if spot is None or figure.spot == spot]
    if spot is not None and match != "spot":
        raise NotBound("A spot is named, but the match is not spot.")
    if not fitting:
        raise NotBound(f"They meet in no group under {_conditions_text(binding.conditions)}.")
    if not chosen:
        raise NotBound(f"{spot} is not a spot at which both were measured in this group.")
    if len({figure.group_b for figure in chosen}) > 1:
        bands = wording.listing(list(dict.fromkeys(_one_link(figure).band for figure in chosen)), "or")
        raise NotBound(f"One side used several links at once; name the band of the other: {bands}.")
    if len(chosen) > 1:
        which = "spot" if match == "spot" else "client"
        raise NotBound(f"There are {len(chosen)} such comparisons; name the {which}.")
    if chosen[0].verdict == "refused":
        raise NotBound(chosen[0].sentence)
    return chosen[0]
