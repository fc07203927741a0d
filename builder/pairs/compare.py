"""Comparing two subjects at like loss, at like level, or at one spot (method.md, sections 2 to 4)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject, labels, same_but_settings
from builder.bench.cells import Cell, Group, natural
from builder.bench.falls import fall_at
from builder.bench.joined_line import SAME_X_DB, lead_changes, shared_range
from builder.bench.summed_up import summaries_of
from builder.bench.tracks import EVERYTHING, GroupFilter, Track, track
from builder.bench.weighted import Match, Weighted
from builder.pairs.judging import Unjudged, judged
from builder.pairs.links_at_spots import links_of, meeting_groups, since_on
from builder.pairs.sentences import AXIS_UNITS, PAIR_SENTENCES, pair_sentence
from builder.pairs.verdicts import PairFigure, Range, links_text
from catalog.method import MIN_KNOTS, MIN_RANGE_DB
from catalog.standards import is_channel, power_class


def compare(bench: Bench, a: Subject, b: Subject, *, match: Match, only: GroupFilter = EVERYTHING) -> list[PairFigure]:
    """Every comparison of two subjects that the filter asks for, one per group (for spot match one per spot)."""
    every_a, every_b = cells_of_subject(bench, a), cells_of_subject(bench, b)
    groups = {c.group for c in only.cells([*every_a, *every_b])}
    own_a, own_b = ([c for c in every if c.group in groups and c.mean is not None] for every in (every_a, every_b))
    groups_a, groups_b = _by_group(own_a), _by_group(own_b)
    common = sorted(groups_a.keys() & groups_b.keys(), key=lambda g: g.sort_key)
    meeting = [(group, group) for group in common] + meeting_groups(a, b, groups_a, groups_b)
    if not meeting:
        return [_nothing_in_common(a, b, own_a, own_b, match)]
    results: list[PairFigure | _Compared] = []
    for group, group_b in meeting:
        base = PairFigure(
            a=a,
            b=b,
            match=match,
            group=group,
            group_b=None if group == group_b else group_b,
            client=_client(groups_a[group], groups_b[group_b]),
            verdict="refused",
            sentence="",
        )
        if match == "spot":
            results += _spot_figures(bench, base, groups_a[group], groups_b[group_b])
        elif group.several_links or group_b.several_links:
            results.append(_refused(base, "several links"))
        elif match == "level":
            results += _level_figures(base, groups_a[group], groups_b[group])
        else:
            results.append(_line_figure(base, *(bench.line(side, group, match) for side in (a, b))))
    verdicts = iter(judged(bench, [one.unjudged for one in results if isinstance(one, _Compared)]))
    return [_remarked(next(verdicts), *one.sides) if isinstance(one, _Compared) else one for one in results]


@dataclass(frozen=True, slots=True)
class _Compared:
    """What is not refused, and the cells of both sides that remarks on the verdict are about."""

    unjudged: Unjudged
    sides: tuple[Sequence[Cell], Sequence[Cell]]


def _line_figure(base: PairFigure, track_a: Track | None, track_b: Track | None) -> PairFigure | _Compared:
    """One joined line against the other, at like loss or at like level; None for a side without a place on the axis."""
    name_a, name_b = labels(base.a, base.b)
    base = replace(base, tested_a=_tested(track_a, base.match), tested_b=_tested(track_b, base.match))
    if track_a is None or track_b is None:
        missing = [n for n, t in ((name_a, track_a), (name_b, track_b)) if t is None]
        which = "no levels" if base.match == "level" else "distance only"
        if len(missing) > 1:
            return _refused(base, f"{which}, both", a=name_a, b=name_b)
        return _refused(base, which, one=missing[0])
    shared = shared_range(track_a.line, track_b.line)
    refused = _range_refusal(base, track_a, track_b, shared)
    if refused is not None:
        return refused
    assert shared is not None
    low, high = shared
    crossings = lead_changes(track_a.line, track_b.line, low, high)
    if base.match == "level":
        crossings = sorted(-x for x in crossings)
    over_a, over_b = track_a.over(low, high), track_b.over(low, high, sign=-1)
    rests = _resting_on(over_a, over_b)
    base = replace(base, **rests, range=shown(shared, base.match), crossings=tuple(crossings))
    sides = track_a.cells, track_b.cells
    return _Compared(Unjudged(base, over_a, over_b, pools=sides), sides)


def _range_refusal(base: PairFigure, a: Track, b: Track, shared: Range | None) -> PairFigure | None:
    name_a, name_b = labels(base.a, base.b)
    assert base.tested_a is not None
    assert base.tested_b is not None
    text = wording.dbm_range if base.match == "level" else wording.db_range
    unit = AXIS_UNITS[base.match]
    both = {"a": name_a, "b": name_b, "tested_a": text(*base.tested_a), "tested_b": text(*base.tested_b), "unit": unit}
    hull = max(a.line.tested[0], b.line.tested[0]), min(a.line.tested[1], b.line.tested[1])
    short_of = MIN_RANGE_DB - SAME_X_DB
    if hull[1] < hull[0]:
        return _refused(base, "no shared range", **both, apart=wording.decibels(hull[0] - hull[1]))
    length = -1.0 if shared is None else shared[1] - shared[0]
    if length < short_of <= hull[1] - hull[0]:
        return _refused(base, "gap", **both)
    low, high = shared or hull
    words = {"shared": text(*shown((low, high), base.match)), "unit": unit}
    if length < short_of:
        name = "single point" if low == high else "range too short"
        return _refused(base, name, **words, length=wording.decibels(high - low))
    for name, line in ((name_a, a.line), (name_b, b.line)):
        spots = len(line.knots_within(low, high))
        if spots < MIN_KNOTS:
            return _refused(base, f"too few spots {spots}", one=name, **words)
    return None


def _refused(base: PairFigure, name: str, **words: str) -> PairFigure:
    """The pair with the sentence of that name, its slots filled, and the sentence's code."""
    return replace(base, code=PAIR_SENTENCES[name].code, sentence=pair_sentence(name, **words))


def _level_figures(base: PairFigure, cells_a: Sequence[Cell], cells_b: Sequence[Cell]) -> list[PairFigure | _Compared]:
    """At like level only downlink, and only within one client setup with one driver."""
    name_a, name_b = labels(base.a, base.b)
    if base.group is not None and base.group.direction == "up":
        return [_refused(base, "level uplink")]
    setups_a, setups_b = ({(c.client, c.driver or "") for c in cells} for cells in (cells_a, cells_b))
    common = sorted(setups_a & setups_b, key=lambda s: (s[0], natural(s[1])))
    if not common:
        return [_refused(base, "level across setups", a=name_a, b=name_b)]
    return [
        _line_figure(
            replace(base, client=client, driver=driver),
            *(
                track([c for c in cells if (c.client, c.driver or "") == (client, driver)], match="level")
                for cells in (cells_a, cells_b)
            ),
        )
        for client, driver in common
    ]


def _spot_figures(
    bench: Bench, base: PairFigure, cells_a: Sequence[Cell], cells_b: Sequence[Cell]
) -> list[PairFigure | _Compared]:
    """One entry per spot where both were measured: the same epoch compared, a moved spot refused, never pooled."""
    name_a, name_b = labels(base.a, base.b)
    spots_a, spots_b = _by_spot(cells_a), _by_spot(cells_b)
    common = sorted(spots_a.keys() & spots_b.keys(), key=lambda s: (s[0], natural(s[1])))
    if not common:
        sentence = f"There is no spot at which {name_a} and {name_b} were both measured in this group."
        return [replace(base, code="no-shared-spot", sentence=sentence)]
    results: list[PairFigure | _Compared] = []
    line_a, line_b = (track(cells, match="attenuation") for cells in (cells_a, cells_b))
    for spot in common:
        epochs_a, epochs_b = ({since_there(bench, c, base) for c in by_spot[spot]} for by_spot in (spots_a, spots_b))
        shared = sorted(epochs_a & epochs_b)
        if not shared:
            results.append(_moved(replace(base, house=spot[0]), spot[1], spots_a[spot], spots_b[spot]))
        for epoch in shared:
            side_a, side_b = (
                [c for c in by_spot[spot] if since_there(bench, c, base) == epoch] for by_spot in (spots_a, spots_b)
            )
            named = base.a.settings or base.b.settings
            links_a, links_b = (links_of(bench, cells[0]) if named else () for cells in (side_a, side_b))
            at_a, at_b = _one_place(bench, side_a, line_a, 1), _one_place(bench, side_b, line_b, -1)
            place: dict[str, Any] = {"house": spot[0], "spot": spot[1], "epoch": epoch or None}
            there = replace(base, **place, **_resting_on(at_a, at_b), links_a=links_a, links_b=links_b)
            results.append(_Compared(Unjudged(there, at_a, at_b, pools=(cells_a, cells_b)), (side_a, side_b)))
    return results


def since_there(bench: Bench, cell: Cell, figure: PairFigure) -> str:
    """Since when a cell's spot is where it was then; "" where nobody knows.

    Each band of a spot has epochs of its own, so of a side that used several links it is that of the other side's link.
    """
    if figure.group_b is None:
        return cell.spot_since or ""
    one_link = next(g for g in (figure.group_b, figure.group) if g is not None and not g.several_links)
    return since_on(bench, cell, one_link.band)


def _links_remark(figure: PairFigure) -> str:
    """Which links and widths each side used, where they differ and the sentence did not say so."""
    if figure.group is None or figure.group_b is None:
        return ""
    parts = []
    name_links = not same_but_settings(figure.a, figure.b) or figure.verdict not in ("separated", "at-least")
    widths = figure.group.width_mhz != figure.group_b.width_mhz
    sides = zip(
        labels(figure.a, figure.b), (figure.group, figure.group_b), (figure.links_a, figure.links_b), strict=True
    )
    for name, group, links in sides:
        width = f" at {wording.width(group.width_mhz)}" if widths else ""
        if name_links or widths:
            parts.append(f"{name} used {wording.band(group.band)}{width}{links_text(links) if name_links else ''}")
    return f" {'; '.join(parts)}." if parts else ""


def _moved(base: PairFigure, spot: str, cells_a: Sequence[Cell], cells_b: Sequence[Cell]) -> PairFigure:
    """Different epochs: the change is stated in order of time, whichever side was tested first."""
    last_a, last_b = (max(cells, key=lambda c: c.spot_since or "") for cells in (cells_a, cells_b))
    first, then = sorted((last_a, last_b), key=lambda c: c.spot_since or "")
    losses = [None if x is None else (x, x) for x in (last_a.attenuation_db, last_b.attenuation_db)]
    base = replace(base, spot=spot, tested_a=losses[0], tested_b=losses[1])
    before, after = (None if c.attenuation_db is None else wording.decibels(c.attenuation_db) for c in (first, then))
    if before is None or after is None or before == after:  # it was read anew
        return _refused(base, "read anew", spot=spot)
    return _refused(base, "moved", spot=spot, before=before, after=after)


def _resting_on(a: Weighted, b: Weighted) -> dict[str, Any]:
    return {"summaries_a": summaries_of(a.used), "summaries_b": summaries_of(b.used)}


def _one_place(bench: Bench, cells: Sequence[Cell], line: Track | None, sign: int) -> Weighted:
    total, fall = sum(c.n for c in cells), fall_at(bench, cells, line)
    return Weighted(tuple(cells), tuple(c.n / total for c in cells), fall.slope, sign, fall.assumed)


def _nothing_in_common(
    a: Subject, b: Subject, own_a: Sequence[Cell], own_b: Sequence[Cell], match: Match
) -> PairFigure:
    name_a, name_b = labels(a, b)
    base = PairFigure(a=a, b=b, match=match, group=None, client="", verdict="refused", sentence="")
    alike = {but_for_client(c.group) for c in own_a} & {but_for_client(c.group) for c in own_b}
    if match == "level" and alike:
        return _refused(base, "level across setups", a=name_a, b=name_b)
    return _refused(base, "nothing in common", a=name_a, b=name_b, of_a=conditions_of(own_a), of_b=conditions_of(own_b))


def but_for_client(group: Group) -> Group:
    """What two groups have alike whose clients differ."""
    return replace(group, series="")


def conditions_of(cells: Sequence[Cell]) -> str:
    """What a device was tested with, shortly: "Wrenlet U2 5 GHz 80 MHz down"."""
    seen = sorted({c.group for c in cells}, key=lambda g: g.sort_key)
    texts = list(
        dict.fromkeys(f"{g.series}, {wording.band(g.band)}, {wording.width(g.width_mhz)}, {g.direction}" for g in seen)
    )
    more = f" and {len(texts) - 4} more" if len(texts) > 4 else ""
    return ("; ".join(texts[:4]) or "no finished runs") + more


def _by_group(cells: Sequence[Cell]) -> dict[Group, list[Cell]]:
    grouped: dict[Group, list[Cell]] = defaultdict(list)
    for cell in cells:
        grouped[cell.group].append(cell)
    return grouped


def _by_spot(cells: Sequence[Cell]) -> dict[tuple[str, str], list[Cell]]:
    grouped: dict[tuple[str, str], list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.spot is not None:
            grouped[cell.house, cell.spot].append(cell)
    return grouped


def _client(cells_a: Sequence[Cell], cells_b: Sequence[Cell]) -> str:
    return ", ".join(sorted({c.client for c in (*cells_a, *cells_b)}))


def _tested(one: Track | None, match: Match) -> Range | None:
    return None if one is None else shown(one.line.tested, match)


def shown(values: Range, match: Match) -> Range:
    """A range of the axis in its own unit: dB, or dBm with the lower level first."""
    return (-values[1], -values[0]) if match == "level" else values


def _remarked(figure: PairFigure, cells_a: Sequence[Cell], cells_b: Sequence[Cell]) -> PairFigure:
    """With remarks on the verdict: whose port held it back, and channels of different power classes."""
    channels = _channel_remark(figure.group if figure.group_b is None else None, cells_a, cells_b)
    remarks = _links_remark(figure) + port_remark(figure) + channels
    return replace(figure, sentence=figure.sentence + remarks) if remarks else figure


def port_remark(figure: PairFigure) -> str:
    """Whose value was held back by the device's own port; "" where neither was."""
    ports = zip(labels(figure.a, figure.b), (figure.port_a, figure.port_b), strict=True)
    return "".join(
        pair_sentence("port", one=name, speed=wording.port_speed(port)) for name, port in ports if port is not None
    )


def _channel_remark(group: Group | None, cells_a: Sequence[Cell], cells_b: Sequence[Cell]) -> str:
    """Different channels are matched, but named where power limits usually differ between them."""
    if group is None or group.several_links:
        return ""
    channels_a, channels_b = ({ch for c in cells for ch in c.channels} for cells in (cells_a, cells_b))
    classes_a, classes_b = (
        {power_class(group.band, ch) for ch in chs if is_channel(group.band, ch)} for chs in (channels_a, channels_b)
    )
    if not classes_a or not classes_b or classes_a == classes_b:
        return ""
    named_a, named_b = (wording.listing([str(ch) for ch in sorted(chs)]) for chs in (channels_a, channels_b))
    return pair_sentence("channels", channels_a=named_a, channels_b=named_b)
