"""The sentences of many pairs of devices: every group at like loss, the leading one at like level, spots if need be.

The set-wise twin of `pairing`, for the chooser: it gives a pair the sentences of the pair's page.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject
from builder.bench.cells import Cell, Group, natural, usual
from builder.bench.sides import Flags, Whole, padded_lines
from builder.bench.tracks import Track, places_tested, track
from builder.bench.weighted import Match
from builder.pairs.all_pairs import line_pairs, place_pairs
from builder.pairs.compare import but_for_client, conditions_of, shown
from builder.pairs.judging import VERDICTS
from builder.pairs.rows import PairRows, moved_rows, rows_of, same_for_all
from builder.pairs.verdicts import Range
from catalog.standards import is_channel, power_class

_REFUSED = VERDICTS.index("refused")


@dataclass(frozen=True, slots=True)
class PairBlock:
    """Sentences of some pairs in one group by one match, at one spot or within one client setup.

    group     None for pairs without a common group
    pairs     which of the pairs that were asked for, ascending
    tested    tested range by number of a subject, as it is printed [dB, or dBm for level]
    channels  the channels by number of a subject
    with_what with what a subject was tested, by its number, where the pairs have nothing in common
    """

    match: Match
    group: Group | None
    pairs: Whole
    rows: PairRows
    spot: str | None = None
    tested: Mapping[int, Range] = field(default_factory=dict)
    channels: Mapping[int, str] = field(default_factory=dict)
    with_what: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PairMatrix:
    """All sentences of the pairs; lead is the place among the blocks of the one that leads each, shape (p,)."""

    blocks: Sequence[PairBlock]
    lead: Whole


BySubject = Mapping[int, Sequence[Cell]]  # by number of a subject


@dataclass(frozen=True, slots=True)
class _Asked:
    """The pairs asked for: numbers of subjects, shape (p,), of so many subjects."""

    a: Whole
    b: Whole
    subjects: int

    def both(self, by_subject: Mapping[int, object], among: Whole) -> Whole:
        """Those of some pairs both sides of which have something."""
        has = np.zeros(self.subjects, dtype=np.bool_)
        has[list(by_subject)] = True
        return among[has[self.a[among]] & has[self.b[among]]]

    def sides(self, by_subject: Mapping[int, object], pairs: Whole) -> tuple[Whole, Whole]:
        """The two sides of pairs as places among those who have something."""
        place = np.zeros(self.subjects, dtype=np.intp)
        place[list(by_subject)] = np.arange(len(by_subject))
        return place[self.a[pairs]], place[self.b[pairs]]

    def numbers_in(self, pairs: Whole) -> list[int]:
        """The subjects of some pairs."""
        return [int(number) for number in np.unique([self.a[pairs], self.b[pairs]])]


def pair_matrix(
    bench: Bench, subjects: Sequence[Subject], a: Whole, b: Whole, *, company: Mapping[Group, int]
) -> PairMatrix:
    """All sentences of the pairs (a, b), numbers of subjects, shape (p,).

    company  devices with results in each group (`neighbours.company`)
    """
    by_group: dict[Group, dict[int, list[Cell]]] = defaultdict(lambda: defaultdict(list))
    for number, subject in enumerate(subjects):
        for cell in cells_of_subject(bench, subject):
            if cell.mean is not None:
                by_group[cell.group][number].append(cell)
    groups = sorted(by_group, key=lambda g: g.sort_key)
    order = sorted(groups, key=lambda g: (usual(g), -company.get(g, 0), g.sort_key))
    asked, every = _Asked(a, b, len(subjects)), np.arange(len(a))
    blocks: list[PairBlock] = []
    lead, best = np.full(len(a), -1), np.full(len(a), np.iinfo(np.intp).max)
    lead_refused = np.zeros(len(a), dtype=np.bool_)
    for group in groups:
        pairs = asked.both(by_group[group], every)
        if not len(pairs):
            continue
        joined = {number: bench.line(subjects[number], group, "attenuation") for number in by_group[group]}
        block, refused = _lines(bench, "attenuation", group, joined, pairs, asked)
        # `pairing.leading_of`: one with a verdict first, then that with most places of the one with fewer.
        tested = np.zeros(len(subjects), dtype=np.intp)
        tested[list(joined)] = [places_tested(cells_of_subject(bench, subjects[number], group)) for number in joined]
        places = np.minimum(tested[a[pairs]], tested[b[pairs]])
        key = (refused * (1 << 40) + (1 << 20) - places) * len(groups) + order.index(group)
        better = key < best[pairs]
        best[pairs[better]], lead[pairs[better]], lead_refused[pairs[better]] = (
            key[better],
            len(blocks),
            refused[better],
        )
        blocks.append(block)
    alone = np.flatnonzero(lead < 0)
    if len(alone):
        lead[alone], lead_refused[alone] = len(blocks), True
        blocks += _nothing_in_common(by_group, alone, asked)
    for number, block in enumerate(list(blocks)):
        if block.match == "attenuation" and block.group is not None:
            led = np.flatnonzero(lead == number)
            blocks += _levels(bench, block.group, by_group[block.group], led, asked) if len(led) else []
    unled = np.flatnonzero(lead_refused & (best < np.iinfo(np.intp).max))
    for group in groups:
        if len(unled):
            blocks += _spots(bench, group, by_group[group], unled, asked)
    return PairMatrix(blocks, lead)


def _lines(
    bench: Bench, match: Match, group: Group, by_subject: Mapping[int, Track | None], pairs: Whole, asked: _Asked
) -> tuple[PairBlock, Flags]:
    """One match of a group's lines; with it which pairs are refused."""
    if group.several_links:
        rows = same_for_all("several links", len(pairs))
        return PairBlock(match, group, pairs, rows), np.ones(len(pairs), dtype=np.bool_)
    numbers, tracks = list(by_subject), list(by_subject.values())
    lines = padded_lines(tracks, bench.scatter)
    table = line_pairs(bench, tracks, *asked.sides(by_subject, pairs), match=match, lines=lines)
    classes, channels = _channels(group, {n: t.cells if t else () for n, t in zip(numbers, tracks, strict=True)})
    block = PairBlock(
        match,
        group,
        pairs,
        rows_of(table, classes=classes, lines=lines, level=match == "level"),
        tested={n: shown(t.line.tested, match) for n, t in zip(numbers, tracks, strict=True) if t},
        channels=channels,
    )
    return block, table.verdict == _REFUSED


def _levels(bench: Bench, group: Group, by_subject: BySubject, pairs: Whole, asked: _Asked) -> list[PairBlock]:
    """At like level only downlink, and only within one client setup with one driver (`compare`)."""
    if group.several_links:
        return [PairBlock("level", group, pairs, same_for_all("several links", len(pairs)))]
    if group.direction == "up":
        return [PairBlock("level", group, pairs, same_for_all("level uplink", len(pairs)))]
    by_setup: dict[tuple[str, str], dict[int, list[Cell]]] = defaultdict(lambda: defaultdict(list))
    for number in asked.numbers_in(pairs):
        for cell in by_subject[number]:
            by_setup[cell.client, cell.driver or ""][number].append(cell)
    blocks = []
    left = pairs
    for setup in sorted(by_setup, key=lambda s: (s[0], natural(s[1]))):
        within = asked.both(by_setup[setup], pairs)
        left = np.setdiff1d(left, within)
        if len(within):
            joined = {number: track(cells, match="level") for number, cells in by_setup[setup].items()}
            blocks.append(_lines(bench, "level", group, joined, within, asked)[0])
    if len(left):
        blocks.append(PairBlock("level", group, left, same_for_all("level across setups", len(left))))
    return blocks


def _nothing_in_common(by_group: Mapping[Group, BySubject], pairs: Whole, asked: _Asked) -> list[PairBlock]:
    """Pairs without a common group; for level match, those whose clients alone differ are named as such."""
    alike: dict[Group, Flags] = {}
    cells: dict[int, list[Cell]] = defaultdict(list)
    for group, by_subject in by_group.items():
        has = alike.setdefault(but_for_client(group), np.zeros(asked.subjects, dtype=np.bool_))
        has[list(by_subject)] = True
        for number, result in by_subject.items():
            cells[number] += result
    with_what = {n: conditions_of(cells[n]) for n in asked.numbers_in(pairs)}
    by_setup = np.zeros(len(pairs), dtype=np.bool_)
    for has in alike.values():
        by_setup |= has[asked.a[pairs]] & has[asked.b[pairs]]
    setups, others = pairs[by_setup], pairs[~by_setup]
    nothing = [
        PairBlock("attenuation", None, pairs, same_for_all("nothing in common", len(pairs)), with_what=with_what),
        PairBlock("level", None, others, same_for_all("nothing in common", len(others)), with_what=with_what),
    ]
    return [*nothing, PairBlock("level", None, setups, same_for_all("level across setups", len(setups)))]


def _spots(bench: Bench, group: Group, by_subject: BySubject, pairs: Whole, asked: _Asked) -> list[PairBlock]:
    """Each spot where both were measured: the same epoch compared, a moved spot refused (`compare`)."""
    pairs = asked.both(by_subject, pairs)
    at: dict[tuple[str, str], dict[int, list[Cell]]] = defaultdict(lambda: defaultdict(list))
    for number in asked.numbers_in(pairs):
        for cell in by_subject[number]:
            if cell.spot is not None:
                at[cell.house, cell.spot][number].append(cell)
    blocks = []
    for place in sorted(at, key=lambda s: (s[0], natural(s[1]))):
        left = there = asked.both(at[place], pairs)
        by_epoch: dict[str, dict[int, list[Cell]]] = defaultdict(lambda: defaultdict(list))
        for number, cells in at[place].items():
            for cell in cells:
                by_epoch[cell.spot_since or ""][number].append(cell)
        results = []
        for epoch in sorted(by_epoch):
            within = asked.both(by_epoch[epoch], there)
            left = np.setdiff1d(left, within)
            if len(within):
                results.append(_one_spot(bench, group, place[1], by_epoch[epoch], by_subject, within, asked))
        if len(left):
            blocks.append(_moved(group, place[1], at[place], left, asked))
        blocks += results
    return blocks


def _one_spot(
    bench: Bench, group: Group, spot: str, by_subject: BySubject, pools: BySubject, pairs: Whole, asked: _Asked
) -> PairBlock:
    table = place_pairs(
        bench, list(by_subject.values()), *asked.sides(by_subject, pairs), pools=[pools[n] for n in by_subject]
    )
    classes, channels = _channels(group, by_subject)
    return PairBlock("spot", group, pairs, rows_of(table, classes=classes), spot=spot, channels=channels)


def _moved(group: Group, spot: str, by_subject: BySubject, pairs: Whole, asked: _Asked) -> PairBlock:
    """The loss of either side's last epoch, the older first."""
    last = {n: max(cells, key=lambda c: c.spot_since or "") for n, cells in by_subject.items()}
    begun = {since: rank for rank, since in enumerate(sorted({c.spot_since or "" for c in last.values()}))}
    since, loss = np.zeros(asked.subjects, dtype=np.intp), np.full(asked.subjects, np.nan)
    for number, cell in last.items():
        since[number] = begun[cell.spot_since or ""]
        loss[number] = np.nan if cell.attenuation_db is None else cell.attenuation_db
    a, b = asked.a[pairs], asked.b[pairs]
    swapped = since[b] < since[a]
    before, after = np.where(swapped, loss[b], loss[a]), np.where(swapped, loss[a], loss[b])
    return PairBlock("spot", group, pairs, moved_rows(before, after), spot=spot)


def _channels(group: Group, by_subject: Mapping[int, Sequence[Cell]]) -> tuple[Whole, dict[int, str]]:
    """Number of the set of power classes of each side's channels, 0 where none is known, and the channels in words."""
    classes: list[int] = []
    words: dict[int, str] = {}
    seen: dict[frozenset[object], int] = {frozenset(): 0}
    for number, cells in by_subject.items():
        channels = sorted({channel for cell in cells for channel in cell.channels})
        kinds = (
            frozenset(power_class(group.band, channel) for channel in channels if is_channel(group.band, channel))
            if not group.several_links
            else frozenset()
        )
        classes.append(seen.setdefault(kinds, len(seen)))
        words[number] = wording.listing([str(channel) for channel in channels])
    return np.array(classes, dtype=np.intp), words
