"""The notes under a range chart: client and link in full, number of runs, dates, method, and how to read it."""

from __future__ import annotations

from collections.abc import Sequence

from builder import wording
from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Group
from builder.bench.naming import full_name
from builder.bench.summed_up import rests_on
from builder.pages.contents import Results, SiteContext
from builder.pages.parts.drawing import Line
from catalog.method import METHOD_NUMBER


def chart_notes(results: Results, site: SiteContext, group: Group, lines: Sequence[Line]) -> list[str]:
    """Notes for the chart of some lines of one group."""
    cells = [cell for line in lines for cell in line.track.cells]
    dates = sorted(cell.date for cell in cells)
    runs = wording.count(sum(cell.n for cell in cells), "run")
    rests = rests_on(cells)
    return [
        f"{wording.capital(full_name(results.bench, group))}. {runs}, "
        f"{wording.date_range(dates[0], dates[-1])}." + (f" {rests}." if rests else ""),
        "; ".join(f"{line.label}: {line.detail}" for line in lines) + ".",
        f"{site.title}, Method {METHOD_NUMBER}.",
        reading_note(results, lines),
    ]


def reading_note(results: Results, lines: Sequence[Line]) -> str:
    """How to read the lines: bands, bounds, and which devices were limited by their own port."""
    text = "Bands: 95 % interval of each value by itself."
    if any(cell.bound for line in lines for cell in line.track.cells):
        text += " Arrow: at least this much, for the client or the lab was the limit."
    held = [
        f"{line.label} ({wording.port_speed(results.bench.limits.ports[line.track.cells[0].device])})"
        for line in lines
        if any(cell.limit in PORT_LIMITS for cell in line.track.cells)
    ]
    if held:
        text += f" Double bar: held back by the device's own port: {wording.listing(held)}."
    return text
