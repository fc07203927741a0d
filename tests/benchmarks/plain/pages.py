"""The peer's pages: rows of tables made for the whole catalogue at once, then put together page by page."""

from __future__ import annotations

import html
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import jinja2
import numpy as np
import pandas as pd

from plain.arrays import GRID, Figures
from plain.drawings import Draw, Plot
from plain.inventory import PageSize

_PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{{ title }}</title>
<link rel="stylesheet" href="style.css"></head><body><h1>{{ title }}</h1><p>{{ words }}</p>
{% for picture in pictures %}<figure>{{ picture }}</figure>
{% endfor %}{% for heading, rows in tables %}<table><thead><tr>{{ heading }}</tr></thead><tbody>{{ rows }}</tbody></table>
{% endfor %}</body></html>
"""
_OF_DEVICE = (
    "cells",
    "rankings",
    "mixes",
    "nights",
    "heat",
    "power",
    "parts",
    "features",
    "prices",
    "corrections",
    "runs",
)
_OF_KIND = {
    "features": "features",
    "prices": "prices",
    "insides": "parts",
    "power": "power",
    "workloads": "mixes",
    "collapses": "mixes",
    "changes": "corrections",
    "": "rankings",
    "firmware": "rankings",
    "devices": "devices",
    "pairs": "pairs",
}


class Rows:
    """The rows of a table as HTML, each once, and where those of a device lie."""

    def __init__(self, frame: pd.DataFrame) -> None:
        ordered = frame.sort_values("device", kind="stable")
        self.heading = "".join(f"<th>{column}</th>" for column in ordered.columns)
        text: np.ndarray | str = "<tr>"
        for column in ordered.columns:
            text = text + "<td>" + _texts(ordered[column]) + "</td>"
        self.all: list[str] = (text + "</tr>\n").tolist() if len(ordered) else []
        devices, first = np.unique(ordered.device.to_numpy().astype(str), return_index=True)
        self._parts = dict(zip(devices.tolist(), zip(first, [*first[1:], len(ordered)], strict=True), strict=True))

    def __contains__(self, device: str) -> bool:
        return device in self._parts

    def of(self, device: str) -> list[str]:
        first, last = self._parts.get(device, (0, 0))
        return self.all[first:last]


def _texts(column: pd.Series) -> np.ndarray:
    if column.dtype.kind == "f":
        return np.where(column.isna(), "–", np.char.mod("%.1f", column.to_numpy())).astype(object)
    codes, values = pd.factorize(column)
    texts = np.array([*(html.escape(str(value)) for value in values), "–"], dtype=object)
    return texts[codes]


class Pages:
    """Writes pages as large as those of another site into *folder*, and counts what it wrote."""

    def __init__(self, figures: Figures, folder: Path, draw: Draw) -> None:
        self.figures, self.folder, self.draw = figures, folder, draw
        self.rows = {name: Rows(frame) for name, frame in figures.tables.items()}
        self.template = jinja2.Environment(autoescape=False).from_string(_PAGE)
        self.names = figures.tables["devices"].device.tolist()
        self.written = {"pages": 0, "tables": 0, "rows": 0, "pictures": 0, "files of charts": 0}
        ranked = figures.tables["rankings"]
        order = np.argsort(ranked.device.to_numpy().astype(str), kind="stable")  # as Rows has them
        self.of_group: dict[str, list[str]] = {}
        for place, row in zip(order.tolist(), self.rows["rankings"].all, strict=True):
            self.of_group.setdefault(ranked.group.iat[place], []).append(row)
        (folder / "figures").mkdir(parents=True, exist_ok=True)

    def write(self, size: PageSize) -> None:
        target = self.folder / size.address
        target.parent.mkdir(parents=True, exist_ok=True)
        pictures = [picture for plot in self._plots(size) for picture in self._drawn(size, plot)]
        tables = list(self._tables(size))
        words = f"{len(tables)} tables and {len(pictures) // 2} charts about {size.about or 'everything'}."
        page = self.template.render(title=size.about or size.kind, words=words, pictures=pictures, tables=tables)
        target.write_text(page, encoding="utf-8")
        self.written["pages"] += 1
        self.written["tables"] += len(tables)
        self.written["rows"] += page.count("<tr>")
        self.written["pictures"] += len(pictures)

    def _devices(self, size: PageSize) -> list[str]:
        return [name for name in size.about.split("--") if name in self.rows["cells"]]

    def _tables(self, size: PageSize) -> Iterator[tuple[str, str]]:
        """As many tables with as many rows; where the script has fewer of its own, they come again."""
        heading, rows = self._candidates(size)
        each = max(1, (size.rows - size.tables) // max(size.tables, 1))
        at = 0
        for _ in range(size.tables):
            if rows:
                wanted = [rows[(at + i) % len(rows)] for i in range(each)]
                at += each
                yield heading, "".join(wanted)

    def _candidates(self, size: PageSize) -> tuple[str, list[str]]:
        devices = self._devices(size)
        if size.kind == "rankings" and size.about:
            group = "~".join(size.about.split("~")[:4])
            rows = self.of_group.get(group)
            if rows:
                return self.rows["rankings"].heading, rows
        if devices:
            tables = ("runs", "cells") if size.kind == "repeat" else _OF_DEVICE
            rows = [row for table in tables for device in devices for row in self.rows[table].of(device)]
            return self.rows[tables[0]].heading, rows
        chosen = self.rows[_OF_KIND.get(size.kind, "cells")]
        return chosen.heading, chosen.all or self.rows["devices"].all

    def _plots(self, size: PageSize) -> Iterator[Plot]:
        """One in turn: lines, bars of a mix, a night; lists and rankings have bars."""
        devices = self._devices(size) or self.names[:1]
        for number in range(-(-size.pictures // 2)):
            kind = ("lines", "bars", "time")[number % 3]
            if size.kind in ("rankings", "workloads", ""):
                kind = "bars"
            if kind == "time" and devices[0] in self.figures.nights:
                night = self.figures.nights[devices[0]]
                yield Plot("time", devices[0], "Hours", "Mbit/s", [(devices[0], night[0], night[1])])
            elif kind == "bars":
                ranked = self.figures.tables["rankings"]
                best = ranked.iloc[number * 20 : number * 20 + 20]
                low, mean = best["low"].to_numpy()[:, None], best["mean"].to_numpy()[:, None]
                series = list(zip(best.device.tolist(), low, mean, strict=True))
                yield Plot("bars", size.about or "All", "Mbit/s", "Mbit/s", series)
            else:
                yield Plot("lines", " and ".join(devices), "Loss (dB)", "Mbit/s", self._lines(devices, number))

    def _lines(self, devices: Sequence[str], number: int) -> list[tuple[str, np.ndarray, np.ndarray]]:
        groups = list(self.figures.lines)
        series = []
        for turn in range(len(groups)):
            names, values = self.figures.lines[groups[(number + turn) % len(groups)]]
            places = np.searchsorted(names, devices)
            for device, place in zip(devices, places.tolist(), strict=True):
                if place < len(names) and names[place] == device:
                    series.append((device, GRID, values[place]))
            if series:
                return series
        return [("nothing", GRID, np.zeros(len(GRID)))]

    def _drawn(self, size: PageSize, plot: Plot) -> list[str]:
        """Two pictures for the page; the first stands alone, too, beside its specification."""
        pictures, specification = self.draw(plot)
        name = f"{self.written['files of charts'] // 2}-{plot.kind}"
        for end, content in (("svg", pictures[0]), ("json", specification)):
            (self.folder / "figures" / f"{name}.{end}").write_text(content, encoding="utf-8")
            self.written["files of charts"] += 1
        return pictures


def write_downloads(tables: Mapping[str, pd.DataFrame], catalog: Path, folder: Path, names: Sequence[str]) -> int:
    """The files of *names*, as far as their ends say what they are; how many."""
    import hashlib
    import json
    import sqlite3
    from zipfile import ZIP_DEFLATED, ZipFile

    folder.mkdir(parents=True, exist_ok=True)
    frames = {"runs": tables["runs"], "cells": tables["cells"], "longruns": tables["nights"]}
    for packed in names:
        name = packed.removesuffix(".zip")
        frame = frames.get(name.split(".")[0].split("-")[0], tables["devices"])
        if name.endswith(".csv"):
            ends = {"sep": ";", "decimal": ","} if "semicolon" in name else {}
            frame.to_csv(folder / name, index=False, **ends)
        elif name.endswith(".db"):
            (folder / name).unlink(missing_ok=True)
            db = sqlite3.connect(folder / name)
            db.execute("ATTACH ? AS whole", [str(catalog)])
            kept = "SELECT name FROM whole.sqlite_master WHERE type = 'table' AND name NOT IN ('series', 'raw_content')"
            for (table,) in db.execute(kept).fetchall():
                db.execute(f'CREATE TABLE "{table}" AS SELECT * FROM whole."{table}"')
            db.commit()
            db.close()
        elif name.endswith(".json") and name != "datapackage.json":
            frame.to_json(folder / name, orient="records", indent=1)
        if packed != name:
            with ZipFile(folder / packed, "w", ZIP_DEFLATED) as archive:
                archive.write(folder / name, name)
            (folder / name).unlink()
    described = [{"path": p.name, "bytes": p.stat().st_size} for p in sorted(folder.iterdir())]
    (folder / "datapackage.json").write_text(json.dumps(described), encoding="utf-8")
    sums = [f"{hashlib.sha256(p.read_bytes()).hexdigest()}  {p.name}\n" for p in sorted(folder.iterdir())]
    (folder / "SHA256SUMS").write_text("".join(sums), encoding="utf-8")
    for group, rows in tables["pairs"].groupby("group"):
        columns = rows.drop(columns="group").round({"difference": 1, "error": 2})
        columns.to_json(folder / f"pairs-{group}.json", orient="values")
    tables["devices"].to_json(folder / "search.json", orient="values")
    return len(list(folder.iterdir()))
