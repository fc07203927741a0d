"""Times of what every build begins with: reading a copy, ranking all devices, writing the downloads."""

from __future__ import annotations

import json
import sqlite3
import time
from contextlib import closing
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from builder.bench.bench import Bench


class Timed(NamedTuple):
    """What was measured, its figure, its budget, and the plain alternative beside it."""

    what: str
    figure: str
    budget: str
    beside: str


def rankings(bench: Bench, most: int) -> Timed:
    """All rankings of a bench, each window of each group, beside a loop over the verdict on one pair.

    most  pairs the loop is timed over; the others are taken to last as long
    """
    import numpy as np

    from builder.pairs.judging import Unjudged, judged
    from builder.pairs.verdicts import PairFigure
    from builder.windows.ranking import rank, ranking_groups
    from catalog.method import WINDOW_NAMES

    begun = time.perf_counter()
    found = [rank(bench, group, window) for group in ranking_groups(bench) for window in WINDOW_NAMES]
    took = time.perf_counter() - begun
    every = sum(len(one.ranked) * (len(one.ranked) - 1) for one in found)
    one = max(found, key=lambda ranking: len(ranking.ranked))
    whose = [entry.subject for entry in one.ranked]
    tracks = [bench.line(who, one.group, "attenuation") for who in whose]
    pairs = np.random.default_rng(7).integers(0, len(whose), (most, 2))
    begun = time.perf_counter()
    for i, j in pairs.tolist():
        base = PairFigure(
            a=whose[i],
            b=whose[j],
            match="attenuation",
            group=one.group,
            client="",
            verdict="refused",
            sentence="",
            range=one.range,
        )
        a, b = tracks[i], tracks[j]
        judged(bench, [Unjudged(base, a.over(*one.range), b.over(*one.range, sign=-1), pools=(a.cells, b.cells))])
    looped = (time.perf_counter() - begun) / most * every
    return Timed(
        f"{len(found)} rankings, {every:,} comparisons",
        f"{took:.2f} s",
        "none",
        f"one by one {looped:,.0f} s, {looped / took:,.0f} times as long",
    )


def loading(catalog: Path, folder: Path, *, as_of: datetime) -> list[Timed]:
    """The public copy as a file, all that pages are made of, and the downloads."""
    import pandas as pd

    from builder.pages.contents import load_contents
    from builder.publishing.files.downloads import DATABASE, write_downloads
    from builder.publishing.files.script_data import rows_tasks
    from catalog.visibility import public_copy

    folder.mkdir()
    begun = time.perf_counter()
    copy = public_copy(catalog, as_of=as_of, to=folder / DATABASE)
    copied = time.perf_counter() - begun
    begun = time.perf_counter()
    with closing(sqlite3.connect(catalog)) as bare:
        bare.execute("ATTACH ? AS plain", [str(folder / "plain.db")])
        bare.execute("CREATE TABLE plain.run AS SELECT * FROM run")
        bare.commit()
    plain = time.perf_counter() - begun
    lines = [Timed("public copy as a file", f"{copied:.2f} s", "none", f"its runs alone, copied bare {plain:.2f} s")]

    begun = time.perf_counter()
    with closing(copy):
        contents = load_contents(copy, as_of=as_of, sizes={})
    loaded = time.perf_counter() - begun
    begun = time.perf_counter()
    with closing(sqlite3.connect(folder / DATABASE)) as bare:
        runs = pd.read_sql("SELECT * FROM run", bare)
    keys = ["device_id", "unit_id", "firmware", "client_id", "session_id", "band", "width_mhz", "direction", "spot"]
    runs.groupby(keys, dropna=False).throughput_mbit_s.agg(["count", "mean", "std"])
    plain = time.perf_counter() - begun
    lines.append(
        Timed("all that pages are made of, ranked", f"{loaded:.2f} s", "none", f"pandas, only the cells {plain:.2f} s")
    )

    begun = time.perf_counter()
    tasks = rows_tasks(contents.catalogue, contents.results)
    rows = [{file.address: file.content for file in task.files(contents)} for task in tasks]
    files = write_downloads(contents, folder / DATABASE, folder, rows=rows, more={})
    wrote = time.perf_counter() - begun
    begun = time.perf_counter()
    json.dumps([asdict(run) for run in contents.catalogue.runs.values()], ensure_ascii=False, indent=1)
    plain = time.perf_counter() - begun
    lines.append(
        Timed(f"{len(files)} downloads", f"{wrote:.2f} s", "none", f"runs.json alone by the library {plain:.2f} s")
    )
    return lines
