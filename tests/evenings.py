"""A workload with seats, played once: batches of it, and what its logs come to."""

from __future__ import annotations

import io
from datetime import UTC, datetime

from catalog import queries
from catalog.entering import enter_batch
from catalog.exporting import dump
from tests.batches import batch_at, batch_toml, client, device, session

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
MARKS = {"target_ms": 200, "target_share": 0.95}
FILM = {"id": "film", "kind": "stream", "rate_mbit_s": 8, "segment_s": 2, **MARKS, "good_ms": 40, "good_share": 0.95}
PAGES = {"id": "pages", "kind": "pages", "resources": 27, "resource_kib": 44, "pause_s": [5, 20], **MARKS}
CALL = {"id": "call", "kind": "voice", "packet_ms": 20, "codec": "G.711", "target_ms": 150, "target_share": 0.99}
UPLOAD = {"id": "send", "kind": "upload", "file_mib": 64, "at_once": 3, "target_ms": 500, "target_share": 0.5}
GAME = {"id": "game", "kind": "game", "packet_ms": 50, "target_ms": 80, "target_share": 0.99}
ROLES = [FILM, PAGES, CALL, UPLOAD, GAME]
EVENING = {
    "id": "evening",
    "version": 1,
    "title": "An evening",
    "duration_s": 900,
    "seats": [["film", "pages"], ["film"], ["call"], ["send", "game"]],
}
CLIENTS = ["lap-1", "lap-2", "lap-3", "lap-4", "lap-5"]
USUAL = {
    "device": [device("tessarik-shale-2")],
    "client": [client(name) for name in CLIENTS],
    "house": [{"id": "house-a", "name": "Test house"}],
    "session": [session("day-1", "2025-05-12")],
}
DEFAULTS = {
    "stations": {
        "workload": "evening",
        "device": "tessarik-shale-2",
        "firmware": "1.0",
        "session": "day-1",
        "when": "2025-05-12 14:00",
        "planned_s": 900,
        "outcome": "finished",
        "attenuation_db": 60,
    }
}
PLAYED = [
    "lap-1,film,5,logs/1.csv,100",
    "lap-1,pages,5,logs/2.csv,100",
    "lap-2,film,5,logs/3.csv,100",
    "lap-3,call,5,logs/4.csv,100",
    "lap-4,send,5,logs/5.csv,100",
    "lap-4,game,5,logs/6.csv,100",
]


def log(scale=1):
    """100 requests, one a second, that take 10, 20 ... 1000 ms, or so many times that."""
    return "t_s,ms,outcome\n" + "".join(f"{t},{(t + 1) * 10 * scale},finished\n" for t in range(100))


def stations(rows, mix="mix-1"):
    header = "mix,client,role,band,log,planned_requests\n"
    return header + "".join(f"{mix},{row}\n" for row in rows)


def evening(tmp_path, batch_id="first", rows=PLAYED, mix="mix-1", scale=1, files=True, **more):
    """A batch with an evening, as a folder; *more* takes the place of what it usually holds."""
    text = batch_toml(batch_id, **USUAL | {"role": ROLES, "workload": [EVENING], "defaults": DEFAULTS} | more)
    names = [row.split(",")[3] for row in rows]  # logs/1.csv and so on: no two logs are the same
    logs = {name: log(scale + int(name[5:-4]) / 1000) for name in names} if files else {}
    return batch_at(tmp_path / batch_id, text, {"stations.csv": stations(rows, mix), **logs} if rows else {})


def enter(folder, catalog):
    return enter_batch(folder, into=catalog, now=NOW)


def counts(db):
    """(client, role) -> requests within the mark, and within the one for good; None where there is none."""
    digests = queries.digests(db)
    return {
        (s.client, s.role): tuple(digests["station", s.station_id].get(f) for f in ("on_time", "good_on_time"))
        for s in queries.stations(db)
    }


def text_of(db):
    out = io.BytesIO()
    dump(db, out)
    return out.getvalue()


def superseding(tmp_path, batch_id="stricter", **marks):
    role = {"id": "film", "supersedes": True, **marks}
    return batch_at(tmp_path / batch_id, batch_toml(batch_id, role=[role], **marks.pop("more", {})))
