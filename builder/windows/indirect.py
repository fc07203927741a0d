"""Devices that were never tested with the same client, compared over bridge devices that were tested with both (method.md, section 8).

D2/D1 = (D2_Q / R_Q) * (R_P / D1_P) on the log scale, where R is a bridge, P and Q the two client series.
What parts share counts once; no value may be a bound; two or more bridges must agree within their error (Bucher 1997).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any, Literal

import numpy as np

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject, labels, subject_named
from builder.bench.cells import Group
from builder.bench.sides import Floats, padded_cells
from builder.bench.tracks import EVERYTHING, GroupFilter, track
from builder.bench.uncertainty import side_sums, uncertainties
from builder.bench.weighted import Weighted
from builder.metrics.intervals import half_width
from builder.pairs.refusals import Refusal
from builder.windows.ranking import window_value
from catalog.figure_names import joined_id
from catalog.method import WINDOW_NAMES


@dataclass(frozen=True, slots=True)
class JointRatio:
    """A joint ratio over bridges, or the reason there is none.

    ratio, low, high  a / b and its 95 % interval. [1]
    u                 standard uncertainty of ln(a / b). [1]
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
    u: float | None = None


@dataclass(frozen=True, slots=True)
class IndirectComparison:
    """An indirect comparison of two subjects in one window of one kind of link."""

    a: Subject
    b: Subject
    group_a: Group
    group_b: Group
    window: str
    joint: JointRatio
    sentence: str

    @property
    def figure(self) -> str:
        ends = ["link", self.a.id, self.a.unit, self.a.firmware, self.b.id, self.b.unit, self.b.firmware]
        return "~".join([joined_id(*ends), self.group_a.slug, self.group_b.slug, self.window])


def joint_ratio(devices: Sequence[str], logs: Sequence[float], spread_of: SpreadOf) -> JointRatio | None:
    """The joint ratio a / b over bridges; None where a single run has no spread to take.

    devices    the bridges
    logs       of a, of b, then of each bridge with a's client and with b's client, shape (2 + 2 bridges,)
    spread_of  uncertainty of any sum of them
    Raises     ValueError without a bridge.
    Source     Bucher 1997; the joint bridge part is the inverse-variance mean.
    """
    if not devices:
        raise ValueError("a link needs a bridge")
    bridges = range(len(devices))
    parts = [logs[2 + 2 * i] - logs[3 + 2 * i] for i in bridges]

    def part(i: int) -> Floats:
        coefficients = np.zeros(len(logs))
        coefficients[2 + 2 * i : 4 + 2 * i] = 1, -1
        return coefficients

    spreads = [spread_of(part(i)) for i in bridges]
    pairs = list(combinations(bridges, 2))
    disagreements = [(parts[i] - parts[j], spread_of(part(i) - part(j))) for i, j in pairs]
    if None in spreads or any(spread is None for _, spread in disagreements):
        return None
    z = max((_standard_errors(apart, spread[0]) for apart, spread in disagreements if spread is not None), default=0.0)
    each = tuple(math.exp(logs[0] - logs[1] - bridge_part) for bridge_part in parts)
    if z > agree_z(len(pairs)):
        return JointRatio("refused", "bridges-disagree", None, None, None, tuple(devices), z, each)
    weights = _weights([spread[0] ** 2 for spread in spreads if spread is not None])
    joint = sum(weight * part(i) for i, weight in enumerate(weights))
    coefficients = np.concatenate([[1.0, -1.0], -np.asarray(joint)[2:]])
    spread = spread_of(coefficients)
    assert spread is not None
    log, half = float(coefficients @ np.array(logs)), float(half_width(*spread))
    return JointRatio(
        "indirect", None, math.exp(log), math.exp(log - half), math.exp(log + half), tuple(devices), z, each, spread[0]
    )


def agree_z(pairs: int) -> float:
    """Standard errors by which two bridge parts may differ, when so many pairs are looked at (Bonferroni)."""
    from scipy.special import ndtri

    return float(ndtri(1 - 0.025 / max(1, pairs)))


def links(bench: Bench, a: Subject, b: Subject, *, only: GroupFilter = EVERYTHING) -> list[IndirectComparison]:
    """Every indirect comparison of two subjects: per pair of unlike series with equal link, and per window."""
    return [
        one
        for group_a, group_b in linked_groups(bench, a, b, only=only)
        for window in WINDOW_NAMES
        if (one := _link(bench, a, b, group_a, group_b, window)) is not None
    ]


def linked_groups(bench: Bench, a: Subject, b: Subject, *, only: GroupFilter = EVERYTHING) -> list[tuple[Group, Group]]:
    """Groups of two subjects that a bridge would join: unlike series over an equal link."""
    groups_a, groups_b = (_groups(bench, subject, only) for subject in (a, b))
    return [
        (group_a, group_b)
        for group_a in groups_a
        for group_b in groups_b
        if group_a != group_b and replace(group_a, series="") == replace(group_b, series="")
    ]


def no_link(a: Subject, b: Subject) -> Refusal:
    """The refusal where no bridge connects the two."""
    name_a, name_b = labels(a, b)
    return Refusal(
        "nothing-in-common",
        f"No link: no device was measured over a whole window, with repeats or a declared spread, both with a client of "
        f"{name_a} and with another of {name_b}, on the same band, width and direction and with equally many streams.",
    )


def link_json(link: IndirectComparison) -> dict[str, Any]:
    """One entry of the link document: a refused link has no figure in it."""
    entry: dict[str, Any] = {
        "series_a": link.group_a.series,
        "series_b": link.group_b.series,
        "band": link.group_a.band,
        "width_mhz": link.group_a.width_mhz,
        "direction": link.group_a.direction,
        "window": link.window,
        "verdict": link.joint.verdict,
        "code": link.joint.code,
        "sentence": link.sentence,
        "bridges": list(link.joint.bridges),
    }
    if link.joint.verdict == "refused":
        return entry
    assert link.joint.low is not None
    assert link.joint.high is not None
    return entry | {
        "ratio": link.joint.ratio,
        "interval": [link.joint.low, link.joint.high],
        "by_bridge": dict(zip(link.joint.bridges, link.joint.each, strict=True)),
        "z": link.joint.z,
        "figure": link.figure,
    }


def _link(
    bench: Bench, a: Subject, b: Subject, group_a: Group, group_b: Group, window: str
) -> IndirectComparison | None:
    """One window's link; None where a or b does not cover the window or no bridge does."""
    value_a, value_b = _value(bench, a, group_a, window), _value(bench, b, group_b, window)
    if value_a is None or value_b is None:
        return None
    name_a, name_b = labels(a, b)
    bridges: list[tuple[str, Weighted, Weighted]] = []
    capped: list[str] = [name for name, v in ((name_a, value_a), (name_b, value_b)) if v == "bound"]
    for device in sorted(bench.devices):
        if device in (a.device, b.device):
            continue
        subject = subject_named(bench, device)
        on_a, on_b = _value(bench, subject, group_a, window), _value(bench, subject, group_b, window)
        if on_a is None or on_b is None or not _equal_streams(bench, (a, subject, b), group_a, group_b):
            continue
        if isinstance(on_a, str) or isinstance(on_b, str):
            capped.append(subject.model)
            continue
        bridges.append((subject.device, on_a, on_b))
    if isinstance(value_a, str) or isinstance(value_b, str) or (capped and not bridges):
        refused = JointRatio("refused", "link-through-bound", None, None, None, (), 0.0)
        return IndirectComparison(a, b, group_a, group_b, window, refused, _bound_sentence(capped))
    if not bridges:
        return None
    values = [value_a, value_b, *(value for _, *both in bridges for value in both)]
    logs = [math.log(value.mean) for value in values]
    result = joint_ratio([device for device, _, _ in bridges], logs, spread_of_logs(bench, values))
    if result is None:
        return None
    return IndirectComparison(a, b, group_a, group_b, window, result, _sentence(bench, result, name_a, name_b, window))


def _sentence(bench: Bench, result: JointRatio, name_a: str, name_b: str, window: str) -> str:
    over = wording.listing([bench.devices[d].model for d in result.bridges])
    if result.verdict == "refused":
        return (
            f"Bridges disagree; withheld: over {over} the link between {name_a} and {name_b} comes out too differently "
            f"(z {wording.number(result.z, 2)}, above {wording.number(agree_z(math.comb(len(result.bridges), 2)), 2)})."
        )
    assert result.ratio is not None
    assert result.low is not None
    assert result.high is not None
    many = "one bridge" if len(result.bridges) == 1 else wording.count(len(result.bridges), "bridge")
    ends = wording.likely(wording.between(result.low, result.high, 3))
    return (
        f"Indirect, {many} ({over}): in the {window} window {name_a} gives {wording.ratio(result.ratio)} times what "
        f"{name_b} gives, {ends}."
    )


def _bound_sentence(capped: Sequence[str]) -> str:
    held = wording.listing(list(dict.fromkeys(capped)))
    return f"No link: {held} {'was' if len(set(capped)) == 1 else 'were'} limited by the client or the lab."


def _value(bench: Bench, subject: Subject, group: Group, window: str) -> Weighted | Literal["bound"] | None:
    """A subject's window mean, "bound", or None where it cannot be had."""
    low_high = bench.constants.window(group.band, window)
    one = track(cells_of_subject(bench, subject, group), match="attenuation")
    if one is None or low_high is None or not one.line.covers(*low_high):
        return None
    weighted, spread = window_value(bench, one, low_high)
    if weighted.bound:
        return "bound"
    return None if spread is None or weighted.mean <= 0 else weighted


def _equal_streams(bench: Bench, devices: Sequence[Subject], group_a: Group, group_b: Group) -> bool:
    """Whether all devices in the link work with equally many streams; two bridged to four would mix both."""
    used = {
        min(device, client)
        for subject in devices
        for group in (group_a, group_b)
        if (device := _device_streams(bench, subject, group.band)) and (client := _series_streams(bench, group))
    }
    return len(used) <= 1


def _device_streams(bench: Bench, subject: Subject, band: str) -> int | None:
    return next((r.streams for r in bench.devices[subject.device].radios if r.band == band), None)


def _series_streams(bench: Bench, group: Group) -> int | None:
    setups = {c.client for cells in bench.cells_in.get(group, {}).values() for c in cells}
    results = {r.streams for s in sorted(setups) for r in bench.clients[s].radios if r.band == group.band}
    return results.pop() if len(results) == 1 else None


def _groups(bench: Bench, subject: Subject, only: GroupFilter) -> list[Group]:
    groups = {c.group for c in cells_of_subject(bench, subject) if only.takes(c) and c.mean is not None}
    return sorted((g for g in groups if not g.several_links), key=lambda g: g.sort_key)


def _weights(variances: Sequence[float]) -> list[float]:
    """Inverse-variance weights adding to 1; equal where a variance is 0."""
    if 0 in variances:
        return [1 / len(variances)] * len(variances)
    total = sum(1 / variance for variance in variances)
    return [1 / variance / total for variance in variances]


def _standard_errors(apart: float, u: float) -> float:
    return abs(apart) / u if u > 0 else (math.inf if apart else 0.0)


SpreadOf = Callable[[Floats], tuple[float, float] | None]
"""Coefficients of some logarithms -> u of their sum [1] and its degrees of freedom; None where a single run has no spread."""


def spread_of_logs(bench: Bench, values: Sequence[Weighted]) -> SpreadOf:
    """What gives the uncertainty of any sum of the logarithms of *values*, means above 0 of lines at like loss.

    A single run takes its spread from the cells of all values together.
    """
    entries = [(number, i) for number, one in enumerate(values) for i in range(len(one.cells))]
    flat = [values[number].cells[i] for number, i in entries]
    cells = padded_cells([flat], bench.scatter, pools=[flat])
    share = np.array([values[number].weights[i] / values[number].mean for number, i in entries])
    slopes = np.array([[values[number].slope] for number, _ in entries])
    whose = np.array([number for number, _ in entries])
    one = np.array([0])

    def spread(coefficients: Floats) -> tuple[float, float] | None:
        weights = (share * coefficients[whose])[:, np.newaxis]
        sums = side_sums(cells, one, weights, slopes, match="attenuation", scatter=bench.scatter)
        result = uncertainties(cells, sums, one, scatter=bench.scatter)
        return (float(result.u[0]), float(result.df[0])) if result.known[0] else None

    return spread
