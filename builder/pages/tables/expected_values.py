"""What a repeat of a test should give, place by place, each value with its band."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from builder import wording
from builder.bench.cells import Cell, Group
from builder.bench.naming import conditions
from builder.bench.settings import called
from builder.bench.summed_up import summaries_of, why_no_interval
from builder.bench.tracks import track
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.disputing import disputed
from builder.pages.parts.entries import count_entry, decibel_entry, rate_entry, sortable
from builder.windows.knots import Knot, knots
from catalog.figure_names import joined_id
from catalog.records import Settings

_Key = tuple[str, Group]  # settings ("" for none) and group of a table


def expected_values(
    catalogue: Catalogue,
    results: Results,
    here: str,
    device: str,
    client: str,
    cells: Sequence[Cell],
    settings_used: Sequence[Settings],
) -> tuple[Table, ...]:
    """What to expect at each place of some cells of a device with a client setup, a table per group.

    settings_used  those that any of the cells were measured under; their tables come last
    """
    groups: dict[_Key, list[Cell]] = defaultdict(list)
    for cell in cells:
        groups[cell.settings or "", cell.group].append(cell)
    titles = {one.settings_id: called(one) for one in settings_used}
    disputes = disputed(catalogue)
    places = _places(results, groups)
    name = results.bench.clients[client].name

    def expected_entry(place: _Place) -> Entry:
        measured = place.knot or place.cells[0]
        entry = rate_entry(place.value, bound=measured.bound, limit=measured.limit)
        return replace(entry, marks=disputes.marks(here, device, cells=place.cells))

    return tuple(
        table_of(
            places[settings, group],
            (
                Column("Place", _name_entry),
                # What the page is asked for comes first: a phone shows three columns.
                Column("Expected", expected_entry, numeric=True),
                Column("Should lie in", _band_entry, numeric=True),
                Column("Attenuation", _attenuation_entry, numeric=True),
                Column("Level", _level_entry, numeric=True),
                Column(
                    "Runs",
                    lambda place: count_entry(
                        (place.knot or place.cells[0]).n, note=", ".join(summaries_of(place.cells))
                    ),
                    numeric=True,
                ),
            ),
            key=f"{joined_id('expect', client, *([settings] if settings else []))}~{group.slug}",
            caption=f"{name}: {titles[settings] + ': ' if settings else ''}{conditions(group)}: what to expect, Mbit/s",
        )
        for settings, group in sorted(groups, key=lambda one: (["", *titles].index(one[0]), one[1].sort_key))
    )


@dataclass(frozen=True, slots=True)
class _Place:
    """A place where the test was made: the cells of a knot of the line, or one cell that is on no line."""

    cells: Sequence[Cell]
    knot: Knot | None = None

    @property
    def value(self) -> float | None:
        """What is expected here. [Mbit/s]"""
        return self.knot.value if self.knot else self.cells[0].mean


def _places(results: Results, groups: Mapping[_Key, Sequence[Cell]]) -> dict[_Key, list[_Place]]:
    """The knots of each group's line, then its cells without an attenuation."""
    lines = {key: line for key, cells in groups.items() if (line := track(cells, match="attenuation")) is not None}
    measured = dict(zip(lines, knots(results.bench, list(lines.values()), match="attenuation"), strict=True))
    # The cells of a knot, not of its spots: a spot whose reading changed is two knots under one name.
    on_lines = {
        key: [_Place(lines[key].cells_of_knot(number), knot) for number, knot in enumerate(of_line)]
        for key, of_line in measured.items()
    }
    return {
        key: on_lines.get(key, [])
        + [_Place([cell]) for cell in cells if key not in lines or cell not in lines[key].cells]
        for key, cells in groups.items()
    }


def _name_entry(place: _Place) -> Entry:
    if place.knot is None:
        return Entry(text=place.cells[0].spot or "level only")
    return Entry(text=wording.listing(place.knot.spots) or "typed attenuation")


def _attenuation_entry(place: _Place) -> Entry:
    if place.knot is None:
        return Entry(why_missing="not one value" if place.cells[0].group.several_links else "not measured")
    return decibel_entry(place.knot.x, unit="dB")


def _level_entry(place: _Place) -> Entry:
    levels = [c.level_dbm for c in place.cells if c.level_dbm is not None]
    return decibel_entry(statistics.fmean(levels) if levels else None, unit="dBm", missing="not read")


def _why(place: _Place) -> str:
    why = why_no_interval(place.cells)
    return "a single run" if why == "single run" else why


def _band_entry(place: _Place) -> Entry:
    knot = place.knot
    if knot is None:
        return Entry(why_missing="none without an attenuation")
    if knot.low is None or knot.high is None:
        return Entry(why_missing="none: a lower bound" if knot.bound else f"none: {_why(place)}")
    text = wording.between(max(knot.low, 0.0), knot.high, wording.rate_decimals(knot.value))
    return Entry(text=text, sort_key=sortable(knot.low))
