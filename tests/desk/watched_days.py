"""A replayed bench day as a watch sees it: how long after its last byte each slip is named, and what is blamed wrongly.

    python -m tests.desk.watched_days FOLDER --catalog CATALOG --ceiling 1015.9 --reference DEVICE --days 3

FOLDER is a planned batch; each day is replayed in a copy of it, its logs landing one after the other, each when the
one before was looked at. The watch runs as it does for a tester, in a process of its own, with the clock of the day.
"""

from __future__ import annotations

import argparse
import asyncio
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path

from builder.watching.states import Sense, State
from builder.watching.watch import Watch
from tests.desk.bench_days import Landing, bench_day, dates_of, losses_of
from tests.desk.slips import slipped_day


@dataclass(frozen=True)
class Named:
    """A sentence about a log, and how long after the last byte of the last landed log it was there. [s]"""

    log: str
    code: str
    text: str
    after_s: float
    at: int


async def watched(
    folder: Path, catalog: Path, landings: Sequence[Landing], *, wait_s: float
) -> tuple[list[Named], list[float]]:
    """All sentences about logs of a day, in the order in which they came, and the seconds that each log took to be seen."""
    clock = [landings[0].start.astimezone(UTC)]
    watch = Watch(folder, catalog, clock=lambda: clock[0])
    news = asyncio.Event()
    watch.changed = news.set
    await watch.begin()
    stop = asyncio.Event()
    following = asyncio.create_task(watch.follow(stop))
    await asyncio.sleep(1.0)
    seen: set[tuple[str, str, str]] = set()
    named: list[Named] = []
    took: list[float] = []
    try:
        for number, landing in enumerate(landings):
            clock[0] = landing.at.astimezone(UTC)
            path = folder / landing.path
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(landing.content)
            began = time.monotonic()
            while time.monotonic() - began < wait_s:
                news.clear()
                here = _row_of(watch.state, landing.path)
                for log, sense in _senses(watch.state):
                    key = (log, sense.code, sense.text)
                    if key not in seen:
                        seen.add(key)
                        named.append(
                            Named(log, sense.code, f"{sense.text} {sense.remedy}", time.monotonic() - began, number)
                        )
                if here:
                    break
                try:
                    await asyncio.wait_for(news.wait(), wait_s - (time.monotonic() - began))
                except TimeoutError:
                    break
            took.append(time.monotonic() - began)
            print(f"{number + 1}\t{landing.path}\t{took[-1]:.1f}", file=sys.stderr, flush=True)  # noqa: T201
    finally:
        stop.set()
        await following
        watch.close()
    return named, took


def _row_of(state: State, log: str) -> bool:
    return any(row.log == log and row.state != "open" for row in state.rows)


def _senses(state: State) -> list[tuple[str, Sense]]:
    of_rows = [(row.log or sense.log, sense) for row in state.rows for sense in row.senses]
    of_others = [(other.log, sense) for other in state.others for sense in other.senses]
    return [*of_rows, *of_others, *((sense.log, sense) for sense in state.senses)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--catalog", type=Path, required=True)
    parser.add_argument("--ceiling", type=float, required=True)
    parser.add_argument("--reference", required=True)
    parser.add_argument("--days", type=int, default=3)
    parser.add_argument("--first", type=int, default=1, help="seed of the first day")
    parser.add_argument("--clean", action="store_true")
    asked = parser.parse_args()
    losses, dates = losses_of(asked.catalog), dates_of(asked.folder)
    slips = flagged = clean = false = 0
    slowest = 0.0
    every: list[float] = []
    for seed in range(asked.first, asked.first + asked.days):
        with tempfile.TemporaryDirectory() as place:
            day = Path(shutil.copytree(asked.folder, Path(place) / "day"))
            if asked.clean:
                landings = bench_day(day, losses=losses, dates=dates, seed=seed)
            else:
                landings = slipped_day(
                    day, losses=losses, dates=dates, ceiling=asked.ceiling, reference=asked.reference, seed=seed
                )
            _type_levels(day, landings)
            named, took = asyncio.run(watched(day, asked.catalog, landings, wait_s=30.0))
        every += took
        by_log: dict[str, list[Named]] = {}
        for one in named:
            by_log.setdefault(one.log, []).append(one)
        last = {}
        for number, one in enumerate(landings):
            if one.slip:
                last[one.number] = number
        for kind, number in sorted(last.items()):
            logs = [one.path for one in landings if one.slip and one.number == kind]
            hits = [one for log in logs for one in by_log.get(log, ())]
            in_time = [one for one in hits if one.at <= number]
            slips += 1
            flagged += bool(in_time)
            if in_time:
                slowest = max(slowest, max(one.after_s for one in in_time[:1]))
            print(  # noqa: T201
                f"day {seed}: {landings[number].slip}: {'named' if in_time else 'late' if hits else 'MISSED'}; "
                + (hits[0].text if hits else "")
            )
        spotless = [one for one in landings if not one.slip]
        clean += len(spotless)
        for one in spotless:
            for wrong in by_log.get(one.path, ())[:1]:
                false += 1
                print(f"day {seed}: FALSE {one.path} {wrong.code}: {wrong.text}")  # noqa: T201
    every.sort()
    print(  # noqa: T201
        f"{flagged} of {slips} slips named in time, {false} of {clean} clean logs blamed; a log is judged after {every[len(every) // 2]:.1f} s (median), {every[-1]:.1f} s at most"
    )


def _type_levels(folder: Path, landings: Sequence[Landing]) -> None:
    """The level that the tester types into the planned row, which stays planned."""
    import csv

    path = folder / "runs.csv"
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        header, rows = list(reader.fieldnames or ()), list(reader)
    done = {landing.row: landing for landing in landings if landing.table == "runs"}
    for number, row in enumerate(rows, start=2):
        if number in done:
            row |= done[number].typed
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, header, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
