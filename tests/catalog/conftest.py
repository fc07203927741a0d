"""A small bench written straight into the tables, and one made by entering a batch."""

from __future__ import annotations

import hashlib
import itertools
import json
import zlib
from collections import defaultdict
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from catalog.connection import create_catalog, open_catalog
from catalog.entering import enter_batch
from catalog.marks import MARKS
from tests.batches import batch_at, batch_toml, client, device, session, things
from tests.evenings import evening

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)

FILES = {
    "run": "runs.csv",
    "spot_reading": "spots.csv",
    "station": "stations.csv",
    "longrun": "longruns.csv",
    "feature": "features.csv",
    "heat": "heat.csv",
    "power": "power.csv",
    "part": "parts.csv",
    "price": "prices.csv",
    "bridge": "bridges.csv",
    "withdrawal": "withdrawals.csv",
    "dispute": "disputes.csv",
}

# What a test does not say. Callables are asked for a new value each time.
DEFAULTS: dict[str, dict[str, Any]] = {
    "device": {"maker": "Tessarik", "model": "Model", "amendment": "802.11ax"},
    "device_radio": {"band": "5", "streams": 4, "max_width_mhz": 160},
    "device_port": {"name": "LAN", "speed_mbit_s": 2500.0},
    "unit": {"unit_id": "A", "origin": "bought"},
    "firmware": {"version": "1.0"},
    "client": {"name": "Client", "amendment": "802.11ax"},
    "client_radio": {"band": "5", "streams": 2, "max_width_mhz": 160},
    "house": {"name": "House"},
    "session": {"date": "2025-05-12", "house_id": "house-a"},
    "spot_reading": {
        "house_id": "house-a",
        "band": "5",
        "valid_from": "2025-01-01",
        "reading_number": 1,
        "reference_eirp_dbm": 20.0,
        "reading_dbm": -50.0,
    },
    "epoch": {
        "house_id": "house-a",
        "band": "5",
        "valid_from": "2025-01-01",
        "attenuation_db": 70.0,
        "readings": 1,
        "kit": "kit of house-a",
    },
    "run": {
        "at_utc": "2025-05-12T08:00:00Z",
        "at_typed": "2025-05-12 10:00",
        "unit_id": "A",
        "firmware": "1.0",
        "client_id": "client-a",
        "session_id": "day-1",
        "band": "5",
        "width_mhz": 80,
        "direction": "down",
        "repeat": 1,
        "throughput_mbit_s": 700.0,
        "throughput_typed": "700",
        "outcome": "finished",
    },
    "ceiling": {"client_id": "client-a", "band": "5", "width_mhz": 80, "direction": "down"},
    "workload": {"version": 1, "title": "Office", "duration_s": 600.0},
    "role": {"kind": "pages", "recipe": "{}"},
    "workload_role": {"version": 1},
    "station": {
        "workload_version": 1,
        "at_utc": "2025-05-12T09:00:00Z",
        "at_typed": "2025-05-12 11:00",
        "unit_id": "A",
        "firmware": "1.0",
        "client_id": "client-a",
        "session_id": "day-1",
        "band": "5",
        "planned_s": 600.0,
        "outcome": "finished",
    },
    "longrun": {
        "at_utc": "2025-05-12T20:00:00Z",
        "at_typed": "2025-05-12 22:00",
        "unit_id": "A",
        "firmware": "1.0",
        "client_id": "client-a",
        "session_id": "day-1",
        "band": "5",
        "width_mhz": 80,
        "direction": "down",
        "outcome": "finished",
        "log_path": "logs/night.csv",
    },
    "feature": {"feature": "mesh", "step": "present", "firmware": "1.0", "date": "2025-05-12"},
    "heat": {"unit_id": "A", "face": "top", "material": "plastic", "reading_c": 41.0, "load": "busy", "minutes": 60.0},
    "power": {"unit_id": "A", "state": "idle", "watts": 7.0, "side": "supply"},
    "part": {"block": "radio", "marking": "QX-1", "read": "read"},
    "price": {"date": "2025-05-12", "amount": 199.0, "currency": "EUR"},
    "bridge": {
        "band": "5",
        "width_mhz": 80,
        "direction": "down",
        "spot": "S1",
        "at_utc": "2025-05-12T08:00:00Z",
        "at_typed": "2025-05-12 10:00",
        "side": "old",
        "repeat": 1,
        "throughput_mbit_s": 600.0,
    },
    "withdrawal": {"from_date": "2025-06-01", "reason": "published by mistake"},
    "dispute": {"date": "2025-06-01", "raised_by": "maker", "claim": "too slow", "state": "open"},
    "article": {"title": "A review", "published_utc": "2025-06-01T08:00:00Z", "path": "articles/a.md", "text": "Text."},
    "image": {"kind": "case", "alt": "The case"},
    "embargo": {"subject": "device", "covers": "existence", "until_typed": "2025-06-10T09:00 America/New_York"},
    "correction": {
        "row_key": "id=x",
        "column_name": "model",
        "was": "a",
        "now": "b",
        "reason": "mistyped",
        "noticed_by": "bench",
        "date": "2025-06-01",
    },
}


class Bench:
    """A catalogue at *path*; `put` adds a row of a table, filling in what the test does not say."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.db = create_catalog(path)
        self._rows: dict[tuple[str, str], itertools.count[int]] = defaultdict(lambda: itertools.count(2))

    def put(self, table: str, batch: str | None = None, **values: Any) -> int:
        """Insert a row into *table* and return its rowid. With a *batch* it gets a file and the next row there."""
        row = {**DEFAULTS.get(table, {}), **values}
        if batch is not None:
            file = row.setdefault("source_file", FILES.get(table, "batch.toml"))
            row.setdefault("source_row", next(self._rows[batch, file]))
            row["batch_id"] = batch
        columns = ", ".join(row)
        sql = f"INSERT INTO {table} ({columns}) VALUES ({', '.join('?' * len(row))})"
        return int(self.db.execute(sql, list(row.values())).lastrowid)

    def batch(self, batch_id: str, *, title: str | None = None, files: tuple[str, ...] = ("batch.toml",)) -> str:
        """A batch, with files whose bytes are their own name."""
        sequence = self.db.execute("SELECT count(*) + 1 FROM batch").fetchone()[0]
        self.put(
            "batch",
            batch_id=batch_id,
            sequence=sequence,
            title=title or batch_id,
            timezone="Europe/Berlin",
            licence="CC-BY-4.0",
            entered_utc=f"2025-05-{sequence:02}T00:00:00Z",
        )
        for name in files:
            self.file(batch_id, name, f"{batch_id}/{name}".encode())
        return batch_id

    def file(self, batch: str, name: str, content: bytes) -> str:
        """A raw file of a batch; returns its hash."""
        sha256 = hashlib.sha256(content).hexdigest()
        self.db.execute(
            "INSERT OR IGNORE INTO raw_content VALUES (?, ?, ?)", [sha256, len(content), zlib.compress(content)]
        )
        self.put("raw_file", batch_id=batch, path=name, sha256=sha256)
        return sha256

    def device(self, batch: str, device_id: str, **values: Any) -> str:
        """A device with one unit, radio, port and firmware."""
        self.put("device", batch, device_id=device_id, **values)
        for part in ("unit", "device_radio", "device_port", "firmware"):
            self.put(part, batch, device_id=device_id)
        return device_id

    def client(self, batch: str, client_id: str = "client-a", **values: Any) -> str:
        """A client setup with one radio."""
        self.put("client", batch, client_id=client_id, **{"series": client_id, **values})
        self.put("client_radio", batch, client_id=client_id)
        return client_id

    def own_role(self, batch: str, workload_id: str, role_id: str, **values: Any) -> str:
        """A role that the first version of a workload defines for itself, with its marks, and its seat."""
        of = {"workload_id": workload_id, "version": 1, "role_id": role_id}
        definition = f"{workload_id}~1/{role_id}"
        place = self.db.execute(
            "SELECT source_file, source_row FROM workload WHERE workload_id = ? AND version = 1", [workload_id]
        ).fetchone()
        said = {name: value for name, value in values.items() if name in MARKS}
        more = {"marks_batch_id": batch} if said else {}
        self.put("role", batch, role_id=definition, source_file=place[0], source_row=place[1], **more, **values)
        if said:
            self.put("role_declaration", role_id=definition, batch_id=batch, said=json.dumps(said))
        self.put("workload_role", definition=definition, **of)
        seats = self.db.execute("SELECT count(*) FROM workload_seat WHERE workload_id = ?", [workload_id]).fetchone()
        self.put("workload_seat", seat=seats[0] + 1, **of)
        return definition

    def again(self, batch: str, table: str, first_rowid: int, *, said: dict[str, Any] | None = None) -> None:
        """The row came again, in another batch, which says it in its own words."""
        first = self.db.execute(
            f"SELECT batch_id, source_file, source_row FROM {table} WHERE rowid = ?", [first_rowid]
        ).fetchone()
        name = first[1]
        self.db.execute(
            "INSERT INTO row_again VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [batch, name, next(self._rows[batch, name]), table, *first, said and json.dumps(said)],
        )


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """An empty catalogue to fill."""
    return Bench(tmp_path / "catalog.db")


@pytest.fixture
def new_bench(tmp_path: Path):
    """Further empty catalogues, by name."""
    return lambda name: Bench(tmp_path / f"{name}.db")


BATCH_TOML = batch_toml(
    "first",
    title="First bench",
    device=[
        device(
            "tessarik-shale-2",
            aliases=["Shale-2 EU"],
            port=[{"name": "LAN", "speed_mbit_s": 2500}],
            firmware=[{"version": "7.10"}],
        )
    ],
    client=[client("wrenlet-u2")],
    house=[{"id": "house-a", "name": "Test house"}],
    session=[session("day-1", "2025-05-12")],
)

RUN_DEFAULTS = """
[defaults.runs]
when = "2025-05-12 14:00"
device = "tessarik-shale-2"
firmware = "7.10"
client = "wrenlet-u2"
session = "day-1"
band = "5"
width_mhz = 80
direction = "down"
"""


@pytest.fixture
def write_batch(tmp_path: Path):
    """Writes a batch folder: a small bench in batch.toml, *more* of it, and *files* by name, text or bytes."""

    def write(
        name: str = "batch",
        *,
        toml: str | None = None,
        more: str = "",
        defaults: str = RUN_DEFAULTS,
        **files: str | bytes,
    ) -> Path:
        text = BATCH_TOML + more + defaults if toml is None else toml + more
        named = {
            file.replace("__", "/").replace("_csv", ".csv").replace("_toml", ".toml"): content
            for file, content in files.items()
        }
        return batch_at(tmp_path / name, text, named)

    return write


SHALE = things(
    device=[
        device(
            "tessarik-shale-2",
            revision="1.0",
            port=[{"name": "LAN", "speed_mbit_s": 2500}],
            unit=[{"id": "A", "origin": "loaned"}],
            firmware=[{"version": "7.10"}, {"version": "7.11"}],
        )
    ],
    client=[client("wrenlet-u2")],
    house=[{"id": "house-a", "name": "Test house", "reference_device": "tessarik-shale-2"}],
    session=[session("day-1", "2025-05-12"), session("day-2", "2025-06-12")],
)
SPOTS = """house,spot,band,valid_from,reference_eirp_dbm,reading_dbm
house-a,S1,5,2025-01-01,20,-48
house-a,S1,5,2025-01-01,20,-49
house-a,S1,5,2025-01-01,20,-50
house-a,S1,5,2025-01-01,20,-49
house-a,S1,5,2025-01-01,20,-52
house-a,S1,5,2025-06-01,20,-54
house-a,S2,5,2025-01-01,20,-60
"""
RUNS = """when,device,firmware,client,session,band,width_mhz,direction,spot,level_dbm,repeat,throughput (Mbit/s)
2025-05-12 10:00,Shale 2,7.10,wrenlet-u2,day-1,5,80,down,S1,-54,1,812.5
2025-05-12 10:01,Shale 2,7.10,wrenlet-u2,day-1,5,80,down,S1,-55,2,824
2025-05-12 10:02,Shale 2,7.10,wrenlet-u2,day-1,5,80,down,S1,-54,3,DNF
2025-06-12 10:00,Shale 2,7.10,wrenlet-u2,day-2,5,80,down,S1,-60,1,700
"""


@pytest.fixture
def batch_folder(tmp_path: Path):
    """A batch folder by id: what follows the head of batch.toml, and files by name."""

    def made(batch_id: str, more: str = "", files: dict[str, str | bytes] | None = None) -> Path:
        return batch_at(tmp_path / "batches" / batch_id, batch_toml(batch_id) + more, files)

    return made


@pytest.fixture
def shale(tmp_path: Path, batch_folder) -> Path:
    """A catalogue made by entering one batch: Shale 2 on one client, two days, two spots, one of them moved."""
    path = tmp_path / "shale.db"
    enter_batch(batch_folder("first", SHALE, {"spots.csv": SPOTS, "runs.csv": RUNS}), into=path, now=NOW)
    return path


@pytest.fixture
def catalog(tmp_path):
    """A catalogue with one evening (tests/evenings.py)."""
    path = tmp_path / "evening.db"
    enter_batch(evening(tmp_path), into=path, now=NOW)
    return path


@pytest.fixture
def db(catalog):
    """The same, open for writing."""
    with closing(open_catalog(catalog, readonly=False)) as opened:
        yield opened
