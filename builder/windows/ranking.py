"""Fixed-window rankings with rank intervals (method.md, section 5).

Pairwise shared ranges are not transitive, so rankings use declared windows: the figure is the mean of the
joined line over the window, and a device that does not cover it is listed with what it covers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject, current_firmware, subject_named
from builder.bench.cells import Group, usual
from builder.bench.summed_up import summaries_of
from builder.bench.tracks import EVERYTHING, GroupFilter, Track
from builder.bench.uncertainty import Uncertainty, value_uncertainty
from builder.bench.weighted import Weighted
from builder.pairs.judging import VERDICTS
from builder.pairs.unit_agreement import disagreement
from builder.windows.window_means import first_against, separated_pairs, window_means
from catalog.figure_names import joined_id
from catalog.method import MAX_GAP_DB, Constants


@dataclass(frozen=True, slots=True)
class Behind:
    """How much less a device gives than the first of its ranking, judged as a pair. [Mbit/s]

    interval  of 95 %; None where the first is a lower bound, so that *value* is the least it is
    """

    value: float
    interval: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Ranked:
    """One ranked device. value, low, high in Mbit/s; low and high None for a single run or a bound.

    best, worst          its rank interval, by the ranked devices that are separated from it (`separated_pairs`)
    apart_from_above     separated from the row above; True for the first
    apart_from_first     separated from the first row; False for the first
    behind               the first row less this one; None for the first, and where the two have no verdict
    port                 speed of the device's own port where that held a value back; else None [Mbit/s]
    units_disagree       two units of it with this firmware are separated: the row is about this unit only
    summaries            what of it rests on summaries: "mean of 3"
    """

    subject: Subject
    value: float
    bound: bool
    low: float | None
    high: float | None
    best: int
    worst: int
    apart_from_above: bool
    apart_from_first: bool
    n: int
    assumed: tuple[str, ...]
    figure: str
    behind: Behind | None = None
    port: float | None = None
    units_disagree: bool = False
    summaries: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NotRanked:
    """A device with results in the group that the window's ranking cannot hold, and why.

    brief  the reason in a few words, for where a dot would stand: "only 51.8 to 60 dB"
    """

    subject: Subject
    sentence: str
    covers: tuple[tuple[float, float], ...]
    brief: str = "not tested"


@dataclass(frozen=True)
class Ranking:
    """The ranking of one group in one window [dB]."""

    group: Group
    window: str
    range: tuple[float, float]
    ranked: tuple[Ranked, ...]
    not_ranked: tuple[NotRanked, ...]
    note: str = ""

    @cached_property
    def entries(self) -> Mapping[str, Ranked]:
        """Device -> its row."""
        return {entry.subject.device: entry for entry in self.ranked}


def rank_figure(ranking: Ranking, device_id: str) -> str:
    """Id of a device's rank interval in a ranking."""
    return "~".join([joined_id("rank", device_id), ranking.group.slug, ranking.window])


def ranking_groups(bench: Bench, *, only: GroupFilter = EVERYTHING) -> list[Group]:
    """Groups that can be ranked, the one with most devices first; of equals the most usual, then the most measured."""
    sizes: dict[Group, tuple[int, int]] = {}
    for group, by_device in bench.cells_in.items():
        if not can_be_ranked(group, bench.constants):
            continue
        measured = [[c for c in cells if c.mean is not None] for cells in by_device.values()]
        if any(only.takes(c) for cells in measured for c in cells):
            sizes[group] = sum(map(bool, measured)), sum(map(len, measured))
    return in_order_of_size(sizes)


def can_be_ranked(group: Group, constants: Constants) -> bool:
    """Whether there are windows for its results."""
    return not group.several_links and constants.window(group.band, "middle") is not None


def in_order_of_size(sizes: Mapping[Group, tuple[int, int]]) -> list[Group]:
    """Groups as `ranking_groups` orders them; sizes: devices and cells with a value."""
    return sorted(sizes, key=lambda g: (-sizes[g][0], usual(g), -sizes[g][1], g.sort_key))


def rank(bench: Bench, group: Group, window: str, *, note: str = "") -> Ranking:
    """Rank every device with results in *group* over the named window.

    Each device enters with its current firmware and the first unit that has results.
    """
    low_high = _window(bench, group, window)
    covering: list[tuple[Subject, Track]] = []
    left_out: list[NotRanked] = []
    for device in sorted(bench.cells_in.get(group, ())):
        subject = subject_named(bench, device)
        one = bench.line(subject, group, "attenuation")
        if one is not None and one.line.covers(*low_high):
            covering.append((subject, one))
        else:
            left_out.append(_not_ranked(bench, subject, one, group, low_high))
    return Ranking(group, window, low_high, _ordered(bench, group, window, low_high, covering), tuple(left_out), note)


def has_ranked(bench: Bench, group: Group, window: str) -> bool:
    """Whether the ranking of *group* over the named window ranks any device, without making it."""
    low_high = _window(bench, group, window)
    tracks = (
        bench.line(subject_named(bench, device), group, "attenuation") for device in bench.cells_in.get(group, ())
    )
    return any(one is not None and one.line.covers(*low_high) for one in tracks)


def _window(bench: Bench, group: Group, window: str) -> tuple[float, float]:
    low_high = bench.constants.window(group.band, window)
    if low_high is None:
        raise ValueError(f"band {group.band} has no window {window!r}")
    return low_high


def window_value(bench: Bench, one: Track, low_high: tuple[float, float]) -> tuple[Weighted, Uncertainty | None]:
    """A track's window mean as a weighted mean, and its uncertainty; None for a single run."""
    weighted = one.over(*low_high)
    return weighted, value_uncertainty(bench, weighted, match="attenuation")


def window_figure(subject: Subject, group: Group, window: str) -> str:
    """Id of a window mean: whose it is, in which group, over which window."""
    return "~".join([joined_id("window", subject.id, subject.unit, subject.firmware), group.slug, window])


def _ordered(
    bench: Bench, group: Group, window: str, low_high: tuple[float, float], covering: Sequence[tuple[Subject, Track]]
) -> tuple[Ranked, ...]:
    means = window_means(bench.scatter, [one for _, one in covering], low_high)
    order = sorted(range(len(covering)), key=lambda i: (-means.mean[i], covering[i][0].device))
    apart = separated_pairs(means)[np.ix_(order, order)]
    lead = first_against(means, order[0]) if order else {}
    ranked: list[Ranked] = []
    for place, i in enumerate(order):
        subject, value, half = covering[i][0], float(means.mean[i]), float(means.half_width[i])
        exact = not (means.bound[i] or math.isnan(half))
        ranked.append(
            Ranked(
                subject=subject,
                value=value,
                bound=bool(means.bound[i]),
                low=value - half if exact else None,
                high=value + half if exact else None,
                best=1 + int(apart[place, :place].sum()),
                worst=len(order) - int(apart[place, place:].sum()),
                apart_from_above=place == 0 or bool(apart[place, place - 1]),
                apart_from_first=bool(apart[place, 0]),
                n=int(means.runs[i]),
                behind=_behind(lead, i) if place else None,
                assumed=() if math.isnan(half) else means.assumed[i],
                port=bench.limits.ports[subject.device] if means.sums.at_port[i] else None,
                units_disagree=disagreement(bench, subject, group) is not None,
                summaries=_summaries(covering[i][1], low_high),
                figure=window_figure(subject, group, window),
            )
        )
    return tuple(ranked)


def _behind(lead: Mapping[str, Any], i: int) -> Behind | None:
    verdict = VERDICTS[lead["verdict"][i]]
    value, half = float(lead["difference"][i]), float(lead["half_width"][i])
    if verdict == "at-least":
        return Behind(value, None)
    return Behind(value, (value - half, value + half)) if verdict in ("separated", "not-separated") else None


def _summaries(one: Track, low_high: tuple[float, float]) -> tuple[str, ...]:
    if not any(cell.summary for cell in one.cells):
        return ()
    return summaries_of(one.over(*low_high).used)


def _not_ranked(
    bench: Bench, subject: Subject, one: Track | None, group: Group, low_high: tuple[float, float]
) -> NotRanked:
    low, high = low_high
    if one is None:
        text, brief = _nothing_to_join(bench, subject, group)
        return NotRanked(subject, f"Not ranked: {text}.", (), brief)
    covers = tuple((max(low, start), min(high, end)) for start, end in one.line.pieces if start < high and end > low)
    if covers:
        parts = wording.listing([wording.db_range(*c) for c in covers])
        text = f"covers {parts} of {wording.db_range(low, high)} dB"
        brief = f"only {_in_brief(covers)}"
    elif one.line.tested[0] < low and high < one.line.tested[1]:
        text = (
            f"no line across {wording.db_range(low, high)} dB, a gap of more than {MAX_GAP_DB:g} dB between its spots"
        )
        brief = "a gap in its spots"
    else:
        text = f"tested at {wording.db_range(*one.line.tested)} dB, outside {wording.db_range(low, high)} dB"
        brief = "not tested here"
    return NotRanked(subject, f"Not ranked: {text}.", covers, brief)


def _in_brief(covers: Sequence[tuple[float, float]]) -> str:
    """ "51.8 to 60 dB", "50 to 53 and 58 to 60 dB", "in 3 parts"."""
    if len(covers) > 2:
        return f"in {len(covers)} parts"
    parts = (" to ".join(dict.fromkeys(map(wording.decibels, ends))) for ends in covers)
    return f"{wording.listing(list(parts))} dB"


def _nothing_to_join(bench: Bench, subject: Subject, group: Group) -> tuple[str, str]:
    """Why a subject has no line in a group in which its device has cells: as a clause, and in a few words."""
    history = sorted({c.firmware for c in bench.cells_with(subject.id, group) if c.mean is not None})
    if history and current_firmware(bench, subject.id) not in history:
        text = (
            f"firmware {subject.firmware} is current and was not tested in this group; {wording.listing(history)} was"
        )
        return text, "older firmware only"
    cells = cells_of_subject(bench, subject, group)
    if not cells:
        units = sorted({c.unit for c in bench.cells_with(subject.id, group) if c.firmware == subject.firmware})
        if not units:
            return "not tested", "not tested"
        text = f"unit {subject.unit} was not tested in this group; {wording.listing(units)} was"
        return text, "another unit only"
    if all(c.mean is None for c in cells):
        return "no run finished in this group", "no run finished"
    return "no place with a measured attenuation in this group", "no attenuation known"


def ranking_json(result: Ranking) -> dict[str, Any]:
    """The rank document of commands.md."""
    group = result.group
    return {
        "window": result.window,
        "range": list(result.range),
        "band": group.band,
        "width_mhz": group.width_mhz,
        "direction": group.direction,
        "series": group.series,
        "protocol": group.protocol,
        "flows": group.flows,
        "security": group.security,
        "note": result.note,
        "ranked": [
            {
                "device": r.subject.device,
                "unit": r.subject.unit,
                "firmware": r.subject.firmware,
                "value": r.value,
                "bound": r.bound,
                "interval": None if r.low is None or r.high is None else [r.low, r.high],
                "best": r.best,
                "worst": r.worst,
                "separated_from_above": r.apart_from_above,
                **({"port_mbit_s": r.port} if r.port is not None else {}),
                "units_disagree": r.units_disagree,
                **({"summaries": list(r.summaries)} if r.summaries else {}),
                **({"note": r.subject.note} if r.subject.note else {}),
                "figure": r.figure,
            }
            for r in result.ranked
        ],
        "not_ranked": [
            {"device": n.subject.device, "sentence": n.sentence, "covers": [list(c) for c in n.covers]}
            for n in result.not_ranked
        ],
    }
