"""Batches of a reviewer's ten years at any size: invented names, a fixed seed, entered the way a person enters them.

At 400 devices, and why:

- 400 devices, for who writes up one in nine days has so many after ten years; ten are a batch, a folder a quarter.
- 54,000 runs, of 8 spots, 3 clients, 2 directions and 3 repeats a device, less what there was no time for: a day's
  work. Five clients in ten groups, since none lives for ten years but one that is kept for the sake of comparison,
  and two houses, since people move. One device in eight was tested again with a newer firmware.
- 20 million request samples. A call of ten minutes makes 30,000 packets, a game 12,000: an evening with three machines
  and five roles, once or twice a device in the later seven years, makes most of it, nights at a value a second the
  rest. Of the years before that only percentiles were noted, and of the first nothing.
- 80 reviews with some ten numbers, a claim and two charts each; two devices in five opened; two or three readings of
  power, one or two of heat, about five features and two prices a device; 59 corrections; four devices and some runs
  withdrawn; the two newest under embargo.
- No photos: they are copied, not worked out, and the budgets leave them out.

To have such a catalogue: `python -m tests.benchmarks.generator FOLDER 100` makes FOLDER/catalog.db.

The truth behind the numbers is not what the method assumes (`generated/throughputs.py`, `generated/mixes.py`).
"""

from __future__ import annotations

import csv
import sqlite3
import sys
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.benchmarks.generated import mixes, registers, throughputs, writing
from tests.benchmarks.generated.subjects import (
    BATCH,
    CONDITIONS,
    Device,
    device,
    device_text,
    head,
    references,
    registers_text,
    session_text,
    spot_rows,
)

LEAST = 8  # devices: with fewer there is no house to move to
SEED = 7
COUNTS = {
    "runs": "SELECT count(*) FROM run",
    "stations": "SELECT count(*) FROM station",
    "long runs": "SELECT count(*) FROM longrun",
    "samples": "SELECT sum(n) FROM series WHERE quantity = 't'",
    "reviews": "SELECT count(*) FROM article",
    "corrections": "SELECT count(*) FROM correction",
}


def fill(folder: Path, catalog: Path, count: int, *, now: datetime) -> None:
    """Enter all batches of *count* devices into *catalog*, then apply the corrections."""
    from catalog.connection import open_catalog
    from catalog.correcting import correct_file
    from catalog.entering import enter_batch

    for batch in batches(folder, count):
        enter_batch(batch, into=catalog, now=now)
    db = open_catalog(catalog, readonly=False)
    correct_file(corrections(folder / "corrections.csv", folder, count), catalog=db, now=now)
    db.close()


def batches(folder: Path, count: int, *, seed: int = SEED) -> Iterator[Path]:
    """The folder of each batch, written when it is asked for, in the order of entry."""
    if count < LEAST:
        raise ValueError(f"the bench has at least {LEAST} devices, got {count}")
    everyone = [device(number, count, seed=seed) for number in range(count)]
    referees = (everyone[references(count)[0]], everyone[references(count)[1]])
    base = folder / "registers"
    base.mkdir(parents=True)
    (base / "batch.toml").write_text(registers_text(referees) + mixes.ROLES, encoding="utf-8")
    _write(base / "spots.csv", spot_rows())
    yield base
    for first in range(0, count, BATCH):
        yield _batch(folder / f"bench-{first // BATCH}", everyone[first : first + BATCH], referees, count, seed)


def more_devices(folder: Path, count: int, number: int, *, seed: int = SEED) -> Path:
    """One more batch of runs alone, of *number* devices that come after all of *count*."""
    devices = [device(count + i, count, seed=seed) for i in range(number)]
    folder.mkdir(parents=True)
    text = head(folder.name, "More devices") + CONDITIONS + "".join(device_text(d) + session_text(d) for d in devices)
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    _write(folder / "runs.csv", [throughputs.HEADER, *(row for d in devices for row in throughputs.runs(d, seed=seed))])
    return folder


def one_run(folder: Path, count: int, *, seed: int = SEED) -> Path:
    """A batch of one run, of a device that has results already: the fifth of the first house."""
    tested = device(4, count, seed=seed)
    folder.mkdir(parents=True)
    text = head(folder.name, "One more run") + CONDITIONS
    text += '\n[[session]]\nid = "one-more"\nhouse = "birch"\ndate = 2025-12-01\n'
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    row = throughputs.one_run(tested, "one-more", datetime(2025, 12, 1, 10))
    _write(folder / "runs.csv", [throughputs.HEADER, row])
    return folder


def one_article(folder: Path, count: int, *, seed: int = SEED) -> tuple[Path, Path]:
    """A batch of one article about devices that are there, and the file of its text."""
    subject, alike, weaker = (device(number, count, seed=seed) for number in (1, 2, 3))
    folder.mkdir(parents=True)
    text = writing.article_text(subject).replace(f"review-{subject.id}", "edited")
    (folder / "batch.toml").write_text(head(folder.name, "One article") + text, encoding="utf-8")
    return folder, writing.write_article(subject, (alike, weaker), folder)


def samples(folder: Path, count: int, rows: int) -> Path:
    """A batch of one call whose log has *rows* packets, of the newest device that may be seen."""
    import numpy as np

    tested = device(count - 3, count, seed=SEED)
    (folder / "logs").mkdir(parents=True)
    text = (
        head(folder.name, "A long call") + f'\n[[session]]\nid = "{folder.name}"\nhouse = "lime"\ndate = 2025-11-03\n'
    )
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    log = mixes.request_log(np.random.default_rng([SEED, 11]), rows, 0.02, 14.0)
    (folder / "logs" / "long.csv").write_text(log, encoding="utf-8")
    row = dict.fromkeys(mixes.HEADER, "") | {
        "mix": folder.name,
        "workload": "evening",
        "workload_version": 1,
        "when": "2025-11-03 18:00:00",
        "device": tested.id,
        "firmware": tested.versions[0],
        "client": "wrenlet-u2",
        "session": folder.name,
        "role": "call",
        "band": "5",
        "width_mhz": 160,
        "spot": "S3",
        "planned_s": rows * 0.02,
        "planned_requests": rows,
        "outcome": "finished",
        "log": "logs/long.csv",
    }
    _write(folder / "stations.csv", [mixes.HEADER, tuple(row.values())])
    return folder


def corrections(path: Path, folder: Path, count: int, *, seed: int = SEED) -> Path:
    """A file of corrections: of one device in seven a run, of one in forty its name."""
    typed = "throughput (Mbit/s)"
    rows: list[Sequence[Any]] = [("table", "key", "column", "was", "now", "reason", "noticed_by", "date")]
    for number in range(3, count, 7):
        source = folder / f"bench-{number // BATCH}" / "runs.csv"
        with source.open(encoding="utf-8", newline="") as file:
            lines = list(csv.DictReader(file))
        subject = device(number, count, seed=seed)
        at, line = next(
            (n, ln) for n, ln in enumerate(lines, 2) if ln["device"] == subject.id and ln["repeat"] == "2" and ln[typed]
        )
        key = f"batch=bench-{number // BATCH}; file=runs.csv; row={at}"
        now = f"{float(line[typed]) * 0.97:.1f}"
        rows.append(("runs", key, "throughput", line[typed], now, "misread", "a reader", "2025-12-01"))
        if number % 40 == 3:
            named = ("device", f"id={subject.id}", "model", subject.model, f"{subject.model} Plus")
            rows.append((*named, "the label says so", "the bench", "2025-12-01"))
    _write(path, rows)
    return path


def _batch(folder: Path, devices: Sequence[Device], referees: Sequence[Device], count: int, seed: int) -> Path:
    (folder / "logs").mkdir(parents=True)
    text = head(folder.name, f"Bench {folder.name}") + CONDITIONS
    tables: dict[str, list[tuple[object, ...]]] = {
        "runs": [throughputs.HEADER],
        "stations": [mixes.HEADER],
        "longruns": [mixes.LONG_HEADER],
        "withdrawals": [("what", "id", "from", "reason")],
        **{name: [header] for name, header in registers.HEADERS.items()},
    }
    for tested in devices:
        text += ("" if tested in referees else device_text(tested)) + session_text(tested)
        tables["runs"] += throughputs.runs(tested, seed=seed)
        tables["stations"] += mixes.stations(tested, folder, seed=seed)
        tables["longruns"] += mixes.longruns(tested, folder, seed=seed)
        for name, rows in registers.rows_of(tested, seed=seed).items():
            tables[name] += rows
        if writing.withdrawn(tested):
            tables["withdrawals"].append(("device", tested.id, "2025-06-02", "its antenna lead was loose"))
        others = writing.beside(tested, devices)
        if others is not None:
            text += writing.article_text(tested)
            writing.write_article(tested, others, folder)
    referee = referees[devices[-1].house == "lime"]
    if devices[-1] not in referees:
        tables["runs"] += throughputs.checks(referee, devices[-1], seed=seed)
    if folder.name != "bench-0":  # a run is withdrawn by a later batch
        earlier = f"bench-{int(folder.name.split('-')[1]) - 1}/runs/9"
        tables["withdrawals"].append(("run", earlier, "2025-06-02", "the window stood open"))
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    for name, rows in tables.items():
        if len(rows) > 1:
            _write(folder / f"{name}.csv", rows)
    return folder


def _write(path: Path, rows: Sequence[Sequence[Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    folder, size = Path(sys.argv[1]), int(sys.argv[2])
    fill(folder / "batches", folder / "catalog.db", size, now=datetime(2026, 1, 1, tzinfo=UTC))
    with closing(sqlite3.connect(folder / "catalog.db")) as filled:
        counts = [filled.execute(query).fetchone()[0] for query in COUNTS.values()]
    sys.stdout.write(", ".join(f"{count:,} {what}" for what, count in zip(COUNTS, counts, strict=True)) + "\n")
