"""Devices that never met the same client, linked over bridge devices that met both (method.md, section 8).

D2/D1 = (D2_Q / R_Q) * (R_P / D1_P) on the log scale, where R is a bridge, P and Q the two client series.
Variances add; no value may be a bound; two or more bridges must agree within their error (Bucher 1997).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any, Literal

from builder import wording
from builder.comparisons.bench import Bench, Subject, cells_of_subject, labels, subject
from builder.comparisons.cells import Cell, Group, joined_id
from builder.comparisons.ranking import window_value
from builder.comparisons.refusals import Refusal
from builder.comparisons.tracks import EVERYTHING, Filter, track
from builder.metrics.intervals import effective_df, half_width
from catalog.method import WINDOW_NAMES

AGREE_Z = 1.96  # two bridge parts further apart than this do not agree


@dataclass(frozen=True, slots=True)
class LogValue:
    """A positive value on the log scale.

    variance  squared relative standard uncertainty. [1]
    """

    log: float
    variance: float
    df: float = math.inf


@dataclass(frozen=True, slots=True)
class BridgePart:
    """What one bridge device says of the two series: R_P / R_Q on the log scale."""

    device: str
    log: float
    variance: float
    components: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Indirect:
    """A joint ratio over bridges, or the reason there is none.

    ratio, low, high  a / b and its 95 % interval. [1]
    z                 largest disagreement between two bridge parts; 0 with one bridge. [1]
    """

    verdict: Literal["indirect", "refused"]
    code: str | None
    ratio: float | None
    low: float | None
    high: float | None
    bridges: tuple[str, ...]
    z: float
    each: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Link:
    """An indirect comparison of two subjects in one window of one kind of link."""

    a: Subject
    b: Subject
    group_a: Group
    group_b: Group
    window: str
    found: Indirect
    sentence: str

    @property
    def figure(self) -> str:
        ends = ["link", self.a.device, self.a.unit, self.a.firmware, self.b.device, self.b.unit, self.b.firmware]
        return "~".join([joined_id(*ends), self.group_a.slug, self.group_b.slug, self.window])


def bridge_part(device: str, on_a: LogValue, on_b: LogValue) -> BridgePart:
    """The part of one bridge: its value with a's client over its value with b's; a/b is the measured ratio over it."""
    return BridgePart(
        device,
        on_a.log - on_b.log,
        on_a.variance + on_b.variance,
        ((on_a.variance, on_a.df), (on_b.variance, on_b.df)),
    )


def indirect(a: LogValue, b: LogValue, parts: Sequence[BridgePart]) -> Indirect:
    """The joint ratio a / b over bridges; the noise of a and b enters once.

    Raises  ValueError without a bridge.
    Source  Bucher 1997; the joint bridge part is the inverse-variance mean.
    """
    if not parts:
        raise ValueError("a link needs a bridge")
    z = max((_disagreement(p, q) for p, q in combinations(parts, 2)), default=0.0)
    names = tuple(p.device for p in parts)
    each = tuple(math.exp(a.log - b.log - p.log) for p in parts)
    if z > AGREE_Z:
        return Indirect("refused", "bridges-disagree", None, None, None, names, z, each)
    weights = _weights(parts)
    joint = sum(w * p.log for w, p in zip(weights, parts, strict=True))
    components = [(a.variance, a.df), (b.variance, b.df)]
    for weight, part in zip(weights, parts, strict=True):
        components += [(weight**2 * v, df) for v, df in part.components]
    u = math.sqrt(sum(v for v, _ in components))
    half = half_width(u, effective_df(components))
    log = a.log - b.log - joint
    return Indirect("indirect", None, math.exp(log), math.exp(log - half), math.exp(log + half), names, z, each)


def links(bench: Bench, a: Subject, b: Subject, *, only: Filter = EVERYTHING) -> list[Link]:
    """Every indirect comparison of two subjects: per pair of unlike series with equal link, and per window."""
    groups_a, groups_b = (_groups(bench, who, only) for who in (a, b))
    found: list[Link] = []
    for group_a in groups_a:
        for group_b in groups_b:
            if group_a == group_b or replace(group_a, series="") != replace(group_b, series=""):
                continue
            for window in WINDOW_NAMES:
                one = _link(bench, a, b, group_a, group_b, window)
                if one is not None:
                    found.append(one)
    return found


def no_link(a: Subject, b: Subject) -> Refusal:
    """What is said where no bridge leads from the one to the other."""
    name_a, name_b = labels(a, b)
    return Refusal(
        "nothing-in-common",
        f"No link: no device was measured over a whole window, with repeats or a declared spread, both with a client of "
        f"{name_a} and with another of {name_b}, on the same band, width and direction and with equally many streams.",
    )


def link_json(link: Link) -> dict[str, Any]:
    """One entry of the link document: a refused link has no figure in it."""
    entry: dict[str, Any] = {
        "series_a": link.group_a.series,
        "series_b": link.group_b.series,
        "band": link.group_a.band,
        "width_mhz": link.group_a.width_mhz,
        "direction": link.group_a.direction,
        "window": link.window,
        "verdict": link.found.verdict,
        "code": link.found.code,
        "sentence": link.sentence,
        "bridges": list(link.found.bridges),
    }
    if link.found.verdict == "refused":
        return entry
    assert link.found.low is not None
    assert link.found.high is not None
    return entry | {
        "ratio": link.found.ratio,
        "interval": [link.found.low, link.found.high],
        "by_bridge": dict(zip(link.found.bridges, link.found.each, strict=True)),
        "z": link.found.z,
        "figure": link.figure,
    }


def _link(bench: Bench, a: Subject, b: Subject, group_a: Group, group_b: Group, window: str) -> Link | None:
    """One window's link; None where a or b does not cover the window or no bridge does."""
    value_a, value_b = _value(bench, a, group_a, window), _value(bench, b, group_b, window)
    if value_a is None or value_b is None:
        return None
    name_a, name_b = labels(a, b)
    parts: list[BridgePart] = []
    capped: list[str] = [name for name, v in ((name_a, value_a), (name_b, value_b)) if v == "bound"]
    for device in sorted(bench.devices):
        if device in (a.device, b.device):
            continue
        who = subject(bench, device)
        on_a, on_b = _value(bench, who, group_a, window), _value(bench, who, group_b, window)
        if on_a is None or on_b is None or not _equal_streams(bench, (a, who, b), group_a, group_b):
            continue
        if isinstance(on_a, str) or isinstance(on_b, str):
            capped.append(who.model)
            continue
        parts.append(bridge_part(who.device, on_a, on_b))
    if isinstance(value_a, str) or isinstance(value_b, str) or (capped and not parts):
        refused = Indirect("refused", "link-through-bound", None, None, None, (), 0.0)
        return Link(a, b, group_a, group_b, window, refused, _bound_sentence(capped))
    if not parts:
        return None
    found = indirect(value_a, value_b, parts)
    return Link(a, b, group_a, group_b, window, found, _sentence(bench, found, name_a, name_b, window))


def _sentence(bench: Bench, found: Indirect, name_a: str, name_b: str, window: str) -> str:
    over = wording.listing([bench.devices[d].model for d in found.bridges])
    if found.verdict == "refused":
        return (
            f"Bridges disagree; withheld: over {over} the link between {name_a} and {name_b} comes out too differently "
            f"(z {wording.number(found.z, 2)}, above {AGREE_Z})."
        )
    assert found.ratio is not None
    assert found.low is not None
    assert found.high is not None
    many = "one bridge" if len(found.bridges) == 1 else wording.count(len(found.bridges), "bridge")
    ends = wording.between(found.low, found.high, 3)
    return (
        f"Indirect, {many} ({over}): in the {window} window {name_a} gives {wording.ratio(found.ratio)} times what "
        f"{name_b} gives, {ends}."
    )


def _bound_sentence(capped: Sequence[str]) -> str:
    held = wording.listing(list(dict.fromkeys(capped)))
    return f"No link: {held} {'was' if len(set(capped)) == 1 else 'were'} limited by the client or the lab."


def _value(bench: Bench, who: Subject, group: Group, window: str) -> LogValue | Literal["bound"] | None:
    """A subject's window mean on the log scale, "bound", or None where it cannot be had."""
    low_high = bench.constants.window(group.band, window)
    own: list[Cell] = cells_of_subject(bench, who, group)
    one = track(own, match="attenuation")
    if one is None or low_high is None or not one.line.covers(*low_high):
        return None
    weighted, spread = window_value(bench, one, low_high)
    if weighted.bound:
        return "bound"
    if spread is None or weighted.mean <= 0:
        return None
    return LogValue(math.log(weighted.mean), (spread.u / weighted.mean) ** 2, spread.df)


def _equal_streams(bench: Bench, devices: Sequence[Subject], group_a: Group, group_b: Group) -> bool:
    """Whether all devices in the link work with equally many streams; two bridged to four would tell of both."""
    used = {
        min(device, client)
        for who in devices
        for group in (group_a, group_b)
        if (device := _device_streams(bench, who, group.band)) and (client := _series_streams(bench, group))
    }
    return len(used) <= 1


def _device_streams(bench: Bench, who: Subject, band: str) -> int | None:
    return next((r.streams for r in bench.devices[who.device].radios if r.band == band), None)


def _series_streams(bench: Bench, group: Group) -> int | None:
    setups = {c.client for own in bench.cells_in.get(group, {}).values() for c in own}
    found = {r.streams for s in sorted(setups) for r in bench.clients[s].radios if r.band == group.band}
    return found.pop() if len(found) == 1 else None


def _groups(bench: Bench, who: Subject, only: Filter) -> list[Group]:
    own = {c.group for c in cells_of_subject(bench, who) if only.takes(c) and c.mean is not None}
    return sorted((g for g in own if not g.several_links), key=lambda g: g.sort_key)


def _weights(parts: Sequence[BridgePart]) -> list[float]:
    """Inverse-variance weights adding to 1; equal where a variance is 0."""
    if any(p.variance == 0 for p in parts):
        return [1 / len(parts)] * len(parts)
    total = sum(1 / p.variance for p in parts)
    return [1 / p.variance / total for p in parts]


def _disagreement(p: BridgePart, q: BridgePart) -> float:
    u = math.sqrt(p.variance + q.variance)
    apart = abs(p.log - q.log)
    return apart / u if u > 0 else (math.inf if apart > 0 else 0.0)
