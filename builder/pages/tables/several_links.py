"""Results with several links at once beside each single link of the same spot, with what is lost on every one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Cell, Group, natural
from builder.bench.settings import AS_ALWAYS, in_words
from builder.pages.parts.blocks import Entry
from builder.pages.parts.columns import Column
from builder.pages.parts.entries import decibel_entry, rate_entry
from builder.pairs.links_at_spots import links_of, since_on


def loss_entry(bench: Bench, cell: Cell) -> Entry:
    """The loss at a cell's place; with several links that of each. [dB]"""
    if not cell.group.several_links:
        return decibel_entry(cell.attenuation_db, unit="dB")
    losses = [(band, loss) for band, loss in links_of(bench, cell) if loss is not None]
    if not losses:
        return decibel_entry(None, unit="dB")
    texts = [f"{wording.band(band)} {wording.decibels(loss)} dB" for band, loss in losses]
    return Entry(text=wording.listing(texts), sort_key=repr(losses[0][1]))


def link_columns(bench: Bench, group: Group) -> list[Column[Cell]]:
    """A column for each link of a group of several, with what it gave alone; none for a group of one."""
    if not group.several_links:
        return []
    return [_link_column(bench, band) for band in group.band.split("+")]


def _link_column(bench: Bench, band: str) -> Column[Cell]:
    return Column(f"{wording.band(band)} alone", lambda cell: _alone_entry(bench, cell, band), numeric=True)


def _alone_entry(bench: Bench, cell: Cell, band: str) -> Entry:
    """The value of one link at a cell's spot, with that unit, firmware and client, on the nearest day."""
    alone = _nearest([c for c in bench.every_cell(cell.device) if _is_link_of(bench, c, cell, band)], cell)
    if alone is None:
        return Entry(why_missing="not tested alone")
    remarks = []
    if alone.settings != cell.settings:
        remarks.append(AS_ALWAYS if alone.settings is None else f"with {in_words(bench.settings[alone.settings])}")
    if alone.group.width_mhz != cell.group.width_mhz:
        remarks.append(f"at {wording.width(alone.group.width_mhz)}")
    if alone.date != cell.date:
        remarks.append(wording.date(alone.date))
    entry = rate_entry(alone.mean, bound=alone.bound, limit=alone.limit)
    return replace(entry, note=", ".join(remark for remark in (entry.note, *remarks) if remark))


def _is_link_of(bench: Bench, alone: Cell, cell: Cell, band: str) -> bool:
    same = ("house", "spot", "unit", "firmware", "client", "driver")
    width = cell.group.width_mhz
    return (
        alone.mean is not None
        and cell.spot is not None
        and alone.group.band == band
        and replace(alone.group, band=cell.group.band, width_mhz=width) == cell.group
        and all(getattr(alone, name) == getattr(cell, name) for name in same)
        and since_on(bench, alone, band) == since_on(bench, cell, band)
    )


def _nearest(candidates: Sequence[Cell], cell: Cell) -> Cell | None:
    """That of the same settings, then width, then day; of others those without settings, and the latest."""
    return max(
        candidates,
        key=lambda c: (
            c.settings == cell.settings,
            c.settings is None,
            c.group.width_mhz == cell.group.width_mhz,
            c.session == cell.session,
            c.date,
            natural(c.session),
            c.settings or "",
        ),
        default=None,
    )
