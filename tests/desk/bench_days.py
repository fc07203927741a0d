"""A bench day that is replayed: a batch as `plan --write` makes it, and its logs, landing one after the other.

Everything measured is drawn from a seed by numpy alone. What is true of the devices is given or drawn here; the program
is not asked.

    python -m tests.desk.bench_days FOLDER --catalog CATALOG --seed 1     carries out a planned batch
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

RUN_S, STEP_S = 30, 1
RUN_MINUTES, WALK_MINUTES, SWAP_MINUTES, BEGIN_MINUTES = 0.9, 4.0, 8.0, 45.0
EIRP_DBM = 24.5
MOST, HALF_DB, WIDTH_DB = 820.0, 78.0, 7.0  # of an average device: most it gives, loss at half of it, width of the fall
REPEATS, DAY, PLACEMENT_DB, LEVEL_DB = 0.016, 0.02, 0.7, 0.5


@dataclass(frozen=True)
class Landing:
    """One log of the day.

    at      when its last byte is there
    table   stem of the table with its planned row; row as a spreadsheet counts
    typed   what the tester would type into that row beside the log
    kind    of the log: throughput or requests
    values  [Mbit/s] by second, or [ms] by request, nan for a failed one
    start   of the log, as the machine's clock has it
    step_s  from value to value
    slip    what was slipped, "" for a clean one; number tells the logs of one slip from those of another
    """

    at: datetime
    path: str
    table: str
    row: int
    device: str
    spot: str
    session: str
    typed: Mapping[str, str]
    kind: str
    values: np.ndarray
    start: datetime
    step_s: float
    slip: str = ""
    number: int = 0
    texts: Mapping[str, str] = field(default_factory=dict)

    @property
    def content(self) -> bytes:
        """The log as the machine writes it."""
        times = [self.start + timedelta(seconds=i * self.step_s) for i in range(len(self.values))]
        if self.kind == "throughput":
            lines = ["start,seconds,mbit_s"]
            lines += [f"{_written(at)},{self.step_s:g},{v:.1f}" for at, v in zip(times, self.values, strict=True)]
        else:
            lines = ["start,ms,outcome"]
            lines += [
                f"{_written(at)},{'' if np.isnan(v) else f'{v:.1f}'},{'failed' if np.isnan(v) else 'finished'}"
                for at, v in zip(times, self.values, strict=True)
            ]
        return ("\n".join(lines) + "\n").encode()


def _written(at: datetime) -> str:
    return at.isoformat(timespec="milliseconds")


def planned_rows(folder: Path) -> list[tuple[str, int, dict[str, str]]]:
    """Table, row and texts of every planned row, runs before stations."""
    rows = []
    for stem in ("runs", "stations"):
        path = folder / f"{stem}.csv"
        if path.exists():
            with path.open(encoding="utf-8", newline="") as file:
                rows += [(stem, number, row) for number, row in enumerate(csv.DictReader(file), start=2)]
    return [(stem, number, row) for stem, number, row in rows if row["outcome"] == "planned"]


def bench_day(
    folder: Path, *, losses: Mapping[str, float], dates: Mapping[str, str], seed: int, zone: str = "Europe/Berlin"
) -> list[Landing]:
    """The logs of a planned batch in the order in which they land.

    losses  of the spots [dB]
    dates   of the sessions
    """
    rng = np.random.default_rng([97, seed])
    rows = planned_rows(folder)
    devices = sorted({row["device"] for _, _, row in rows})
    level = {device: rng.normal(1.0, 0.05) for device in devices}
    days: dict[str, float] = {}
    clocks: dict[str, datetime] = {}
    before: dict[str, tuple[str, str]] = {}
    shift = mix = None
    landings = []
    for stem, number, row in rows:
        session, spot, device = row["session"], row["spot"], row["device"]
        if session not in clocks:
            begin = datetime.fromisoformat(f"{dates[session]}T08:00:00").replace(tzinfo=ZoneInfo(zone))
            clocks[session] = begin + timedelta(minutes=BEGIN_MINUTES)
            days[session] = rng.normal(1.0, DAY)
        if stem == "runs":
            here = device, spot
            if before.get(session) != here:
                swapped = session in before and before[session][0] != device
                clocks[session] += timedelta(minutes=WALK_MINUTES + (SWAP_MINUTES if swapped else 0.0))
                shift = rng.normal(0, PLACEMENT_DB)
            before[session] = here
            loss = losses[spot] + (shift or 0.0)
            mean = level[device] * days[session] * MOST / (1 + np.exp((loss - HALF_DB) / WIDTH_DB))
            mean *= rng.normal(1.0, REPEATS)
            start = clocks[session]
            values = np.maximum(mean * rng.normal(1.0, 0.03, RUN_S // STEP_S), 0.1)
            clocks[session] += timedelta(minutes=RUN_MINUTES)
            typed = {"level_dbm": f"{EIRP_DBM - loss + rng.normal(0, LEVEL_DB):.0f}"}
            step, lasts = float(STEP_S), float(RUN_S)
        else:
            if row["mix"] != mix:
                mix = row["mix"]
                clocks[session] += timedelta(minutes=4 * WALK_MINUTES)
            start, lasts = clocks[session], float(row["planned_s"])
            count = int(row["planned_requests"] or max(int(lasts // 3), 25))
            usual = 8.0 if count >= 500 else 250.0
            values = rng.lognormal(np.log(usual), 0.35, count)
            step = lasts / count
            typed = {}
            following = [r for s, n, r in rows if s == stem and n == number + 1]
            if not following or following[0]["mix"] != mix:
                clocks[session] += timedelta(seconds=lasts)
        landings.append(
            Landing(
                at=start + timedelta(seconds=lasts + 2),
                path=row["log"],
                table=stem,
                row=number,
                device=device,
                spot=spot,
                session=session,
                typed=typed,
                kind="throughput" if stem == "runs" else "requests",
                values=values,
                start=start,
                step_s=step,
                texts=row,
            )
        )
    return sorted(landings, key=lambda landing: (landing.at, landing.path))


def write_logs(folder: Path, landings: Iterable[Landing]) -> None:
    """All logs where they land."""
    for landing in landings:
        path = folder / landing.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(landing.content)


def type_in(folder: Path, landings: Sequence[Landing]) -> None:
    """As a tester does it who fills the planned rows themselves: time, level, and the word planned taken away."""
    for stem in ("runs", "stations"):
        done = {landing.row: landing for landing in landings if landing.table == stem}
        path = folder / f"{stem}.csv"
        if not done:
            continue
        with path.open(encoding="utf-8", newline="") as file:
            reader = csv.DictReader(file)
            header, rows = list(reader.fieldnames or ()), list(reader)
        for number, row in enumerate(rows, start=2):
            if (landing := done.get(number)) is not None:
                row |= {"when": _written(landing.start), "outcome": "finished", **landing.typed}
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, header, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def note_at_desk(folder: Path, landings: Sequence[Landing]) -> None:
    """As rows of desk/, which fill the planned ones; no table of the plan is touched."""
    (folder / "desk").mkdir(exist_ok=True)
    for stem in ("runs", "stations"):
        rows = [
            {**landing.texts, "when": _written(landing.start), "outcome": "finished", **landing.typed}
            for landing in landings
            if landing.table == stem
        ]
        if rows:
            with (folder / "desk" / f"{stem}.csv").open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
                writer.writeheader()
                writer.writerows(rows)


def losses_of(catalog: Path) -> dict[str, float]:
    """Loss of each spot of a catalogue at 5 GHz, as it is marked today."""
    from catalog import queries
    from catalog.connection import open_catalog

    db = open_catalog(catalog, readonly=True)
    return {
        epoch.spot: epoch.attenuation_db
        for epoch in queries.epochs(db)
        if epoch.band == "5" and epoch.valid_until is None
    }


def dates_of(folder: Path) -> dict[str, str]:
    """Days of the sessions of a planned batch."""
    import tomllib

    document = tomllib.loads((folder / "batch.toml").read_text(encoding="utf-8"))
    return {session["id"]: session["date"].isoformat() for session in document["session"]}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--catalog", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    landings = bench_day(asked.folder, losses=losses_of(asked.catalog), dates=dates_of(asked.folder), seed=asked.seed)
    write_logs(asked.folder, landings)
    type_in(asked.folder, landings)


if __name__ == "__main__":
    main()
