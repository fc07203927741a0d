"""The lines under a range chart: client and link in full, how many runs, when, by which method, and how to read it."""

from __future__ import annotations

from collections.abc import Sequence

from builder import wording
from builder.comparisons.cells import Group
from builder.comparisons.naming import conditions, series_name
from builder.pages.drawing import Line
from builder.pages.material import Material
from catalog.method import METHOD_NUMBER


def chart_notes(material: Material, group: Group, lines: Sequence[Line]) -> list[str]:
    """Notes for the chart of some lines of one group."""
    cells = [cell for line in lines for cell in line.track.cells]
    dates = sorted(cell.date for cell in cells)
    runs = wording.count(sum(cell.n for cell in cells), "run")
    reading = "Bands: 95 % interval of each value by itself."
    if any(cell.bound for cell in cells):
        reading += " Arrow: at least this much, for the client or the lab was the limit."
    return [
        f"{series_name(material.bench, group.series)}, {conditions(group)}. {runs}, "
        f"{wording.date_range(dates[0], dates[-1])}.",
        f"{material.site.title}, Method {METHOD_NUMBER}, constants set {material.bench.constants.version}.",
        reading,
    ]
