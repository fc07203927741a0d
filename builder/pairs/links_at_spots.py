"""Which links two sides used at a spot, and which groups of theirs meet where one side used several at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from builder.bench.bench import Bench, Subject
from builder.bench.cells import Cell, Group
from builder.pairs.verdicts import Link
from catalog.records import Epoch


def meeting_groups(a: Subject, b: Subject, of_a: Iterable[Group], of_b: Iterable[Group]) -> list[tuple[Group, Group]]:
    """Groups of a and of b that are no common group: one of several links, the other of one of them.

    Only where a side names settings. A width that describes several links describes none of them, so of several widths the
    equal one is taken where there is one, and all of them where there is none; a sentence then names both.
    """
    if not a.settings and not b.settings:
        return []
    of_a, of_b = list(of_a), list(of_b)
    pairs = [(one, other) for one in of_a if one not in of_b for other in _links_of(one, of_b)]
    pairs += [(one, other) for other in of_b if other not in of_a for one in _links_of(other, of_a)]
    return sorted(pairs, key=lambda pair: (pair[0].sort_key, pair[1].sort_key))


def _links_of(several: Group, others: Sequence[Group]) -> list[Group]:
    if not several.several_links:
        return []
    links: list[Group] = []
    for band in several.band.split("+"):
        alike = [g for g in others if replace(g, band=several.band, width_mhz=several.width_mhz) == several]
        of_band = [g for g in alike if g.band == band]
        links += [g for g in of_band if g.width_mhz == several.width_mhz] or of_band
    return links


def epoch_on(bench: Bench, cell: Cell, band: str) -> Epoch | None:
    """What was known of the loss of a cell's spot in a band on its day; None where the spot was not read by then."""
    if cell.spot is None:
        return None
    known = bench.epochs.get((cell.house, cell.spot, band), ())
    return next((epoch for epoch in reversed(known) if epoch.valid_from[: len(cell.date)] <= cell.date), None)


def links_of(bench: Bench, cell: Cell) -> tuple[Link, ...]:
    """The links a cell used, each with the loss at its spot. [dB]"""
    if not cell.group.several_links:
        return ((cell.group.band, cell.attenuation_db),)
    losses = []
    for band in cell.group.band.split("+"):
        epoch = epoch_on(bench, cell, band)
        losses.append((band, None if epoch is None else epoch.attenuation_db))
    return tuple(losses)


def since_on(bench: Bench, cell: Cell, band: str) -> str:
    """Since when a cell's spot has been where it is in a band; "" where that is not known."""
    if cell.group.band == band:
        return cell.spot_since or ""
    epoch = epoch_on(bench, cell, band)
    return "" if epoch is None else epoch.valid_from
