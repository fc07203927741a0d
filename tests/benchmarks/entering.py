"""Rows of entry: logs, logs through a map, run rows; each beside the plainest way to take in the same bytes."""

from __future__ import annotations

import sqlite3
import time
from functools import partial

import foreign_logs
from rows import Figure, Limit, Place, Row

from tests.benchmarks import generator

LOG_ROWS, RUN_ROWS = 3_000_000, 10_000
ALWAYS = ("plain", "csv through a map")  # two rows rest on them


def filled(place: Place) -> Figure:
    _ = place.catalog
    took = place.notes["filled"]
    return Figure(took.processor, took.clock, beside=took.output.strip())


def logs(place: Place) -> Figure:
    import pandas as pd

    rows = place.size(LOG_ROWS)
    batch = generator.samples(place.folder / "long", place.devices, rows)
    warm = generator.samples(place.folder / "warm", place.devices, 2_000)
    took = place.inside("enter", batch, place.copy, warm)
    begun = time.process_time()
    pd.read_csv(batch / "logs" / "long.csv")
    plain = time.process_time() - begun
    beside = f"{rows:,} answers; by processor time {rows / took['processor'] / 1e6:.2f} M/s, pandas' own reading {rows / plain / 1e6:.1f} M/s"
    return Figure(took["processor"], took["clock"], rows / took["clock"] / 1e6, beside)


def read(form: str, place: Place) -> Figure:
    rows = place.size(LOG_ROWS)
    took = foreign_logs.read(place.folder / "foreign", form, rows)
    place.notes[form] = took
    beside = f"split into lines and cells {rows / took['beside'] / 1e6:.1f} M/s"
    return Figure(took["seconds"], took["clock"], rows / took["seconds"] / 1e6, beside)


def mapped(place: Place) -> Figure | None:
    plain, through = (place.notes.get(form) for form in ("plain", "csv through a map"))
    if plain is None or through is None:
        return None
    return Figure(value=through["seconds"] / plain["seconds"], beside="processor time of the plain form")


def mapped_memory(place: Place) -> Figure | None:
    took = place.notes.get("csv through a map")
    if took is None:
        return None
    rows = place.size(LOG_ROWS)
    return Figure(
        value=took["bytes"] / 1e6, beside=f"growth of the peak, {took['bytes'] / rows:.0f} B a row, {rows:,} rows"
    )


def run_rows(place: Place) -> Figure:
    devices = max(1, round(place.size(RUN_ROWS, 100) / 144))
    batch = generator.more_devices(place.folder / "more", place.devices, devices)
    lines = (batch / "runs.csv").read_text(encoding="utf-8").splitlines()[1:]
    took = place.inside("enter", batch, place.copy)
    begun = time.process_time()
    db = sqlite3.connect(place.folder / "bare.db")
    db.execute(f"CREATE TABLE run ({', '.join(f'c{i}' for i in range(lines[0].count(',') + 1))})")
    row = ",".join("?" * (lines[0].count(",") + 1))
    db.executemany(f"INSERT INTO run VALUES ({row})", (line.split(",") for line in lines))
    db.commit()
    db.close()
    bare = time.process_time() - begun
    each = RUN_ROWS / len(lines)
    beside = f"{len(lines):,} rows in {took['clock']:.2f} s, here as if 10,000; bare insert of these {bare:.3f} s"
    return Figure(took["processor"] * each, took["clock"] * each, beside=beside)


ROWS = (
    Row("all batches entered", None, filled),
    Row("enter logs", Limit(3, "M/s", least=True), logs, once=True),
    *(
        Row(
            f"read a log: {form}",
            limit and Limit(limit, "M/s", least=True),
            partial(read, form),
            once=True,
            slow=form not in ALWAYS,
        )
        for form, (*_, limit) in foreign_logs.FORMS.items()
    ),
    Row("logs through a map", Limit(2, "times"), mapped, once=True),
    Row("logs through a map, memory", Limit(600, "MB"), mapped_memory, once=True),
    Row("enter 10,000 run rows", Limit(10), run_rows),
)
