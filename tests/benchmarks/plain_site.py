"""A plain way to the same pages, to hold the build against: pandas, Altair and Jinja2, one page after the other.

What somebody would write in an afternoon: a query a page, a chart object a chart, a template with loops, and a verdict
that is only the difference of two interpolated means. It keeps nothing between pages and knows no bounds, intervals,
embargoes or links, so it does less than the build it is measured beside.
"""

from __future__ import annotations

import sqlite3
import time
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import altair as alt
import jinja2
import numpy as np
import pandas as pd
import vl_convert

PAGE = """<!doctype html><html lang="en"><head><title>{{ title }}</title></head><body><h1>{{ title }}</h1>
{{ chart }}
<table><thead><tr>{% for name in columns %}<th>{{ name }}</th>{% endfor %}</tr></thead>
<tbody>{% for row in rows %}<tr>{% for value in row %}<td>{{ value }}</td>{% endfor %}</tr>{% endfor %}</tbody></table>
</body></html>"""
CELLS = """
    SELECT device, client, direction, spot, attenuation_db, throughput_mbit_s FROM view_run
    WHERE device IN ({}) AND throughput_mbit_s IS NOT NULL
"""


@dataclass(frozen=True)
class Plain:
    """Seconds a page with a chart, and one without. [s]"""

    with_chart: float
    without: float


def plain_pages(database: Path, folder: Path, *, most: int) -> Plain:
    """Render pages of at most *most* devices and of pairs of them from a public database; each kind timed."""
    folder.mkdir(parents=True, exist_ok=True)
    template = jinja2.Environment(autoescape=False).from_string(PAGE)
    with sqlite3.connect(database) as db:
        devices = [
            row[0] for row in db.execute("SELECT DISTINCT device FROM view_run ORDER BY device LIMIT ?", (most,))
        ]
        begun = time.perf_counter()
        drawn = 0
        for names in [*((name,) for name in devices), *list(combinations(devices, 2))[:most]]:
            _page(db, template, folder / f"{'--'.join(names)}.html", names, chart=True)
            drawn += 1
        between = time.perf_counter()
        for name in devices:
            _page(db, template, folder / f"{name}-table.html", (name,), chart=False)
        done = time.perf_counter()
    return Plain((between - begun) / drawn, (done - between) / len(devices))


def _page(
    db: sqlite3.Connection, template: jinja2.Template, path: Path, names: tuple[str, ...], *, chart: bool
) -> None:
    runs = pd.read_sql(CELLS.format(", ".join("?" * len(names))), db, params=names)
    keys = ["device", "client", "direction", "spot", "attenuation_db"]
    table = runs.groupby(keys)["throughput_mbit_s"].apply(
        lambda values: pd.Series({"mean": values.mean(), "sd": values.std(), "n": len(values)})
    )
    cells = table.unstack().reset_index()
    shown = cells[(cells["direction"] == "down") & (cells["client"] == cells["client"].iloc[0])]
    drawing = ""
    if chart:
        figure = alt.Chart(shown).encode(x="attenuation_db:Q", y="mean:Q", color="device:N", strokeDash="device:N")
        layers = figure.mark_line() + figure.mark_point()
        drawing = vl_convert.vegalite_to_svg(layers.properties(width=600, height=300, title=path.stem).to_dict())
    title = path.stem
    if len(names) == 2:
        lines = [shown[shown["device"] == name].sort_values("attenuation_db") for name in names]
        if all(len(line) for line in lines):
            at = np.linspace(50, 80, 61)
            means = [np.interp(at, line["attenuation_db"], line["mean"]).mean() for line in lines]
            title += f": {means[0] - means[1]:+.0f} Mbit/s"
    rows = [[f"{v:.1f}" if isinstance(v, float) else v for v in row] for row in cells.itertuples(index=False)]
    path.write_text(
        template.render(title=title, chart=drawing, columns=list(cells.columns), rows=rows), encoding="utf-8"
    )
