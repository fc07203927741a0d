"""A replayed bench day as a watch sees it: how long after its last byte each slip is named, and what is blamed wrongly.

    python -m tests.desk.watched_days FOLDER --catalog CATALOG --ceiling 1015.9 --reference DEVICE --days 3

FOLDER is a planned batch; each day is replayed in a copy of it, its logs landing one after the other, each when the
one before was looked at. The watch runs as it does for a tester, in a process of its own, with the clock of the day.
"""

from __future__ import annotations

import argparse
import asyncio
import csv
import shutil
import statistics
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


def type_levels(folder: Path, landings: Sequence[Landing]) -> None:
    """The levels that the tester types into the planned rows, which stay planned."""
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


def verdicts(landings: Sequence[Landing], named: Sequence[Named]) -> tuple[list[str], list[str]]:
    """A line for each slip, whether it was named by the look after its last log, and one for each clean log blamed."""
    by_log: dict[str, list[Named]] = {}
    for one in named:
        by_log.setdefault(one.log, []).append(one)
    last = {one.number: number for number, one in enumerate(landings) if one.slip}
    slips = []
    for kind, number in sorted(last.items()):
        of_slip = [one.path for one in landings if one.slip and one.number == kind]
        hits = sorted((one for log in of_slip for one in by_log.get(log, ())), key=lambda one: one.at)
        how = "missed" if not hits else "named" if hits[0].at <= number else "late"
        slips.append(f"{how}: {landings[number].slip}. {hits[0].text if hits else ''}")
    blamed = [f"{one.path}: {by_log[one.path][0].text}" for one in landings if not one.slip and one.path in by_log]
    return slips, blamed


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--catalog", type=Path, required=True)
    parser.add_argument(
        "--ceiling", type=float, help="known to the catalogue, of the client [Mbit/s]; none: a clean day"
    )
    parser.add_argument("--reference", help="device of the house")
    parser.add_argument("--days", type=int, default=3)
    parser.add_argument("--first", type=int, default=1, help="seed of the first day")
    asked = parser.parse_args()
    facts = {"losses": losses_of(asked.catalog), "dates": dates_of(asked.folder)}
    if asked.ceiling is not None:
        facts |= {"ceiling": asked.ceiling, "reference": asked.reference}
    for seed in range(asked.first, asked.first + asked.days):
        with tempfile.TemporaryDirectory() as place:
            day = Path(shutil.copytree(asked.folder, Path(place) / "day"))
            landings = (bench_day if asked.ceiling is None else slipped_day)(day, seed=seed, **facts)
            type_levels(day, landings)
            named, took = asyncio.run(watched(day, asked.catalog, landings, wait_s=30.0))
        slips, blamed = verdicts(landings, named)
        clean = sum(not one.slip for one in landings)
        found = sum(one.startswith("named") for one in slips)
        lines = [*slips, *(f"blamed: {one}" for one in blamed)]
        lines.append(
            f"day {seed}: {found} of {len(slips)} slips named in time, {len(blamed)} of {clean} clean logs blamed; "
            f"a log is judged after {statistics.median(took):.1f} s (median), {max(took):.1f} s at most"
        )
        print("\n".join(lines), flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
