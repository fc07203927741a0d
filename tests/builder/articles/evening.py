"""Runs with several clients as reviewers have them: two days, two clients with one role, one that broke off, summaries.

Invented. Roles: a film in segments of 2 s, shown from 4 s on, in time within 1 s; calls, in time within 100 ms; pages,
in time within 1 s. 300 requests a log where a test says nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from catalog.entering import enter_batch
from tests.batches import PAGES, batch_at, batch_toml, client, device, session

NOW = datetime(2026, 6, 1, tzinfo=UTC)
A, B, C = "tessarik-cupola", "wrenlet-gable", "fjeldrun-alcove"
FILM = {"id": "film", "kind": "stream", "target_ms": 1000, "target_share": 0.95, "rate_mbit_s": 8.0, "segment_s": 2.0}
CALL = {"id": "call", "kind": "voice", "target_ms": 100, "target_share": 0.95, "packet_ms": 20, "codec": "G.711"}
EVENING = {
    "id": "evening",
    "version": 1,
    "title": "An evening",
    "duration_s": 600,
    "role": [FILM | {"start_buffer_s": 4.0}, CALL, PAGES],
}
DAYS = ("2025-05-12", "2025-05-20")
COLUMNS = (
    "mix,workload,workload_version,when,device,unit,firmware,client,session,role,band,attenuation_db,planned_s,"
    "planned_requests,outcome,ended_at_s,ended_by,log"
)


Waits = Sequence[float]  # of requests, one every two seconds [ms]


def calls(late: int, of: int = 300) -> Waits:
    """Requests that took 20 ms each, but so many took 150 ms, evenly spread."""
    step = of // late if late else of + 1
    return [150 if number % step == step - 1 and number // step < late else 20 for number in range(of)]


FILM_LOG: Waits = [5] * 300
# The 101st segment takes 30 s. Playback begins with the second one at 2.005 s, so the 101st is due at 202.005 s and
# comes at 230 s: one stall of 28.0 s.
STALLED: Waits = [5] * 100 + [30_000] + [5] * 199


def log(waits_ms: Waits, *, start_s: float) -> str:
    """A log of requests that began at *start_s*, so that no two logs are the same."""
    rows = (f"{start_s + 2 * number:.3f},{ms:g},finished" for number, ms in enumerate(waits_ms))
    return "\n".join(["t_s,ms,outcome", *rows]) + "\n"


@dataclass
class Evening:
    """Stations of runs, typed in by a test, with their logs."""

    rows: list[str] = field(default_factory=list)
    files: dict[str, str] = field(default_factory=dict)
    first: int = 0  # number of its first log, so that no two logs of a catalogue are the same

    def run(
        self,
        mix: str,
        device_id: str,
        stations: Iterable[tuple[str, str, Waits | int]],
        *,
        day: str = DAYS[0],
        **others: Any,
    ) -> Evening:
        """One run. stations: (role, client, its waits; a number: so many planned requests without a log)."""
        of_run = {
            "version": 1,
            "firmware": "1.0",
            "losses": {},
            "outcome": "finished",
            "ended_at_s": "",
            "ended_by": "",
            "workload": "evening",
            "pages": 40,
        } | others
        hour = 10 + len(self.rows) // 4
        for role, client_id, waits in stations:
            name, planned = "", waits
            if not isinstance(waits, int):
                name, planned = f"logs/{mix}-{role}-{client_id}.csv", of_run["pages"] if role == "pages" else 300
                self.files[name] = log(waits, start_s=(self.first + len(self.files)) / 1000)
            loss = of_run["losses"].get(client_id, {"lap-1": 50, "lap-2": 60, "lap-3": 70, "lap-4": 70}[client_id])
            values = (
                *(mix, of_run["workload"], of_run["version"], f"{day}T{hour:02d}:00:00Z", device_id, "A"),
                *(of_run["firmware"], client_id, day, role, "5", loss, 600),
                *(planned, of_run["outcome"], of_run["ended_at_s"], of_run["ended_by"], name),
            )
            self.rows.append(",".join(map(str, values)))
        return self

    def entered(self, folder: Path, *, devices: Mapping[str, Mapping[str, Any]] | None = None, **more: Any) -> Path:
        """Enter everything into a new catalogue in a folder; its path."""
        enter_batch(self.written(folder, {}, devices=devices, **more), into=folder / "evening.db", now=NOW)
        return folder / "evening.db"

    def written(
        self,
        folder: Path,
        files: Mapping[str, str],
        *,
        devices: Mapping[str, Mapping[str, Any]] | None = None,
        **more: Any,
    ) -> Path:
        """Write a batch with everything below a folder; its own folder. files: further ones."""
        names = dict.fromkeys(row.split(",")[4] for row in self.rows)
        text = batch_toml(
            "evening",
            timezone="UTC",
            device=[device(name, **(devices or {}).get(name, {})) for name in names],
            client=[client(f"lap-{number}") for number in (1, 2, 3, 4)],
            house=[{"id": "house-a", "name": "House A"}],
            session=[session(day) for day in DAYS],
            **({"workload": [EVENING]} | more),
        )
        return batch_at(folder / "evening", text, {**self._files, **files})

    def added(self, folder: Path, path: Path) -> Path:
        """Enter the runs alone, into a catalogue that has the rest; its path."""
        enter_batch(batch_at(folder / "more", batch_toml("more", timezone="UTC"), self._files), into=path, now=NOW)
        return path

    @property
    def _files(self) -> dict[str, str]:
        return {"stations.csv": "\n".join([COLUMNS, *self.rows]) + "\n", **self.files}


def usual(mix: str, device_id: str, late: int, *, bench: Evening | None = None, **others: Any) -> Evening:
    """A run in which lap-1 watches, lap-2 calls, late so many times, and lap-3 opens 40 pages."""
    return (bench or Evening()).run(
        mix,
        device_id,
        [("film", "lap-1", FILM_LOG), ("call", "lap-2", calls(late)), ("pages", "lap-3", [200] * 40)],
        **others,
    )
