"""Times the hot paths, each figure beside its budget and a plain alternative. Run by hand:

    python tests/benchmarks/benchmark.py --scale 1

At scale 1 the catalogue has 400 devices, 57,600 runs and 20 million request samples; CI runs it once at a
fiftieth, only to see that it runs. Times are of a noisy machine: trust the ratios.
"""

from __future__ import annotations

import argparse
import gzip
import io
import itertools
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from builder.bench.bench import Bench

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

import builds  # noqa: E402
import foreign_logs  # noqa: E402
import generator  # noqa: E402  (beside this file, which may be run from anywhere)
import loading  # noqa: E402

NOW = datetime(2026, 1, 1, tzinfo=UTC)
DEVICES, SAMPLES = 400, 20_000_000


@dataclass(frozen=True)
class Line:
    """One figure: what was measured, its budget, and the plain alternative beside it."""

    what: str
    figure: str
    budget: str
    beside: str


@contextmanager
def seconds() -> Iterator[Callable[[], float]]:
    """The wall time since the block began."""
    begun = time.perf_counter()
    yield lambda: time.perf_counter() - begun


def start_up() -> Line:
    def median(arguments: list[str]) -> float:
        times = []
        for _ in range(5):
            with seconds() as passed:
                subprocess.run([sys.executable, *arguments], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
                times.append(passed())
        return sorted(times)[2]

    ours = median(["-c", "from builder.cli import main; main(['--help'])"])
    empty = median(["-c", "pass"])
    return Line("likeloss --help", f"{ours * 1e3:.0f} ms", "120 ms", f"empty interpreter {empty * 1e3:.0f} ms")


def entering_runs(folder: Path, catalog: Path, devices: int) -> Line:
    from catalog.entering import enter_batch

    rows = devices * generator.RUNS_PER_DEVICE
    batch = generator.device_batch(folder / "runs", 9_000, devices=devices)
    with seconds() as passed:
        enter_batch(batch, into=catalog, now=NOW)
        ours = passed()
    text = (batch / "runs.csv").read_text(encoding="utf-8").splitlines()[1:]
    with seconds() as passed:
        db = sqlite3.connect(folder / "bare.db")
        db.execute("CREATE TABLE run (a, b, c, d, e, f, g, h)")
        db.executemany("INSERT INTO run VALUES (?,?,?,?,?,?,?,?)", (line.split(",") for line in text))
        db.commit()
        db.close()
        bare = passed()
    budget = f"{10 * rows / 10_000:.1f} s"
    return Line(f"enter {rows:,} run rows", f"{ours:.2f} s", budget, f"bare insert {bare:.3f} s")


def entering_logs(folder: Path, catalog: Path, samples: int) -> Line:
    import pandas as pd

    from catalog.entering import enter_batch

    batch = generator.device_batch(folder / "logs", 9_500, samples=samples)
    with seconds() as passed:
        enter_batch(batch, into=catalog, now=NOW)
        ours = passed()
    (log,) = [p for p in batch.glob("*.csv") if p.name not in ("runs.csv", "stations.csv")]
    with seconds() as passed:
        pd.read_csv(log)
        plain = passed()
    rate = samples / ours / 1e6
    return Line(
        f"enter a log of {samples:,} samples",
        f"{rate:.2f} M/s",
        "3 M/s",
        f"pandas read {samples / plain / 1e6:.2f} M/s",
    )


def filled(folder: Path, catalog: Path, devices: int, samples: int) -> None:
    """Registers and *devices* devices in batches of ten, *samples* request samples in all."""
    from catalog.entering import enter_batch

    enter_batch(generator.registers(folder / "registers"), into=catalog, now=NOW)
    each = max(1, samples // devices)
    for number, first in enumerate(range(0, devices, 10)):
        count = min(10, devices - first)
        batch = generator.device_batch(folder / f"bench-{number}", number, devices=count, samples=each)
        enter_batch(batch, into=catalog, now=NOW)


def public_copy(catalog: Path) -> tuple[Line, Bench]:
    from builder.bench.bench import load_bench
    from catalog.visibility import public_copy as copied

    with seconds() as passed:
        copy = copied(catalog, as_of=NOW)
        made = passed()
    with seconds() as passed:
        bench = load_bench(copy)
        loaded = passed()
    what = f"{made:.2f} s + {loaded:.2f} s"
    return Line("public copy and its cells", what, "none", f"{len(bench.cells):,} cells"), bench


def pair_verdicts(bench: Bench, most: int) -> list[Line]:
    """Attenuation matches of all device pairs in all groups at once, beside a loop over the one-pair function."""
    import numpy as np

    from builder.bench.bench import cells_of_subject, subject_named
    from builder.bench.tracks import track
    from builder.pairs.all_pairs import line_pairs
    from builder.pairs.compare import compare

    subjects = [subject_named(bench, d) for d in sorted(bench.devices)]
    with seconds() as passed:
        verdicts = 0
        by_group: dict[object, list[list[object]]] = {}
        for who in subjects:
            own: dict[object, list[object]] = {}
            for cell in cells_of_subject(bench, who):
                own.setdefault(cell.group, []).append(cell)
            for group, cells in own.items():
                by_group.setdefault(group, []).append(cells)
        for sides in by_group.values():
            tracks = [track(cells, match="attenuation") for cells in sides]
            verdicts += len(line_pairs(bench, tracks, *np.triu_indices(len(tracks), 1), match="attenuation"))
        took = passed()
    every = list(itertools.combinations(subjects, 2))
    sample = [every[i] for i in np.random.default_rng(7).permutation(len(every))[:most]]
    with seconds() as passed:
        looped = sum(len(compare(bench, a, b, match="attenuation")) for a, b in sample)
        one_by_one = passed() / looped
    ratio = one_by_one * verdicts / took
    return [
        Line(
            f"{verdicts:,} pair verdicts",
            f"{took:.2f} s",
            "2 s for all of 400 devices",
            f"one by one {one_by_one * verdicts:,.0f} s, {ratio:,.0f} times as long",
        ),
        chooser_data(bench),
    ]


def chooser_data(bench: Bench) -> Line:
    """All that the chooser reads, and the most it may read for one choice of four: six files and the sentences."""
    from builder.publishing.files.pair_data import pair_blocks, pair_data, pair_words
    from builder.publishing.files.scripts import data_script
    from builder.windows.neighbours import company

    results = SimpleNamespace(bench=bench, company=company(bench), pairs=())
    with seconds() as passed:
        files = [
            data_script(key, value)
            for block in pair_blocks(results)
            for key, value in pair_data(results, block).items()
        ]
        took = passed()
    packed = sorted(len(gzip.compress(content, mtime=0)) for content in files)
    most = len(gzip.compress(data_script("words", pair_words()), mtime=0)) + sum(packed[-6:])
    raw = sum(map(len, files))
    return Line(
        "chooser data of all pairs",
        f"{took:.2f} s, {raw / 1e6:.1f} MB",
        "150 kB gzip for one choice",
        f"one choice at most {most / 1e3:.0f} kB; {len(files):,} files, {sum(packed) / 1e6:.1f} MB gzip",
    )


def one_more_run(folder: Path, catalog: Path) -> None:
    """A batch of one run of a device that has results already."""
    from catalog.entering import enter_batch

    enter_batch(generator.one_run(folder / "one-more"), into=catalog, now=NOW)


def run(scale: float, *, out: io.TextIOBase, samples_each: float = 1.0) -> list[Line]:
    """Every benchmark at a share of its full size.

    samples_each  times as many samples a run, and as many times fewer devices, so that no figure is the generator's
    """
    devices = max(2, round(DEVICES * scale / samples_each))
    samples = max(1_000, round(SAMPLES * scale))
    lines: list[Line] = []

    def say(line: Line) -> None:
        lines.append(line)
        _print(line, out)

    with tempfile.TemporaryDirectory(prefix="likeloss-benchmark-") as name:
        folder = Path(name)
        catalog = folder / "catalog.db"
        say(start_up())
        with seconds() as passed:
            filled(folder, catalog, devices, samples)
            say(Line(f"{devices} devices, {samples:,} samples entered", f"{passed():.1f} s", "none", "batches of ten"))
        say(entering_runs(folder, catalog, max(1, round(70 * scale))))
        say(entering_logs(folder, catalog, max(1_000, round(3_000_000 * scale))))
        for timed in foreign_logs.foreign_logs(folder / "foreign", max(1_000, round(3_000_000 * scale))):
            say(Line(*timed))
        line, bench = public_copy(catalog)
        say(line)
        for line in pair_verdicts(bench, max(1, round(500 * scale))):
            say(line)
        say(Line(*loading.rankings(bench, max(1, round(2_000 * scale)))))
        for timed in loading.loading(catalog, folder / "loaded", as_of=NOW):
            say(Line(*timed))
        for timed in builds.builds(
            catalog,
            folder,
            as_of=NOW,
            enter_one_run=lambda: one_more_run(folder, catalog),
            most=max(2, round(40 * scale)),
        ):
            say(Line(*timed))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    say(Line("peak memory of this process", f"{peak:,.0f} MB", "none", "entry, loading and pair verdicts"))
    return lines


def _print(line: Line, out: io.TextIOBase) -> None:
    print(f"{line.what:<40} {line.figure:>18}   budget {line.budget:<28} beside: {line.beside}", file=out, flush=True)


def run_demo(*, out: io.TextIOBase) -> None:
    """Verdicts, loading and builds of the demo, which no generator made."""
    import tomllib

    from builder.shipped import demo_folder
    from catalog.entering import enter_batch

    with tempfile.TemporaryDirectory(prefix="likeloss-benchmark-") as name:
        folder = Path(name)
        catalog = folder / "catalog.db"
        plan = tomllib.loads((demo_folder() / "demo.toml").read_text(encoding="utf-8"))
        later = datetime.fromisoformat(plan["build_instant"])
        *most, last = plan["order"]
        for batch in most:
            enter_batch(demo_folder() / "batches" / batch, into=catalog, now=later)
        line, bench = public_copy(catalog)
        one_more = demo_folder() / "batches" / last
        lines = [
            line,
            *pair_verdicts(bench, 60),
            *(Line(*timed) for timed in loading.loading(catalog, folder / "loaded", as_of=later)),
            *(
                Line(*timed)
                for timed in builds.builds(
                    catalog,
                    folder,
                    as_of=later,
                    most=6,
                    enter_one_run=lambda: enter_batch(one_more, into=catalog, now=later) and None,
                )
            ),
        ]
        for line in lines:
            _print(line, out)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scale", type=float, default=1.0, help="share of the full size (1: 400 devices)")
    parser.add_argument("--samples-each", type=float, default=1.0, help="times as many samples a run")
    parser.add_argument("--demo", action="store_true", help="loading and builds of the demo instead")
    asked = parser.parse_args()
    if asked.demo:
        run_demo(out=sys.stdout)  # type: ignore[arg-type]
    else:
        run(asked.scale, out=sys.stdout, samples_each=asked.samples_each)  # type: ignore[arg-type]
