"""Two benches: one that anybody may see, and one device that nobody may, with a row in every table."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime

import pytest

from catalog.row_numbers import RowNumber
from catalog.visibility import public_copy

UNTIL = "2025-06-10T13:00:00Z"  # 09:00 in New York, worked in the job analysis (story 9)


@pytest.fixture
def before():
    """The last second in which it is hidden."""
    return datetime(2025, 6, 10, 12, 59, 59, tzinfo=UTC)


@pytest.fixture
def at():
    """The instant from which it is seen."""
    return datetime(2025, 6, 10, 13, 0, 0, tzinfo=UTC)


@pytest.fixture
def public_bytes(tmp_path):
    """The file of a public copy of a bench, as bytes."""
    names = (f"copy-{number}.db" for number in itertools.count())

    def copied(bench, as_of):
        path = tmp_path / next(names)
        public_copy(bench.path, as_of=as_of, to=path).close()
        return path.read_bytes()

    return copied


@pytest.fixture
def fill_public():
    """Fill a bench with two public devices on one client, with a day, a spot, a ceiling: batch "public"."""
    return _fill_public


@pytest.fixture
def fill_hidden():
    """Fill a bench with the hidden device "cairn", by a batch of its own unless another is named."""
    return _fill_hidden


def _fill_public(bench, batch="public"):
    b = bench.batch(batch, files=("batch.toml", "runs.csv", "spots.csv"))
    bench.device(b, "dome")
    bench.device(b, "sill")
    bench.client(b)
    bench.put("house", b, house_id="house-a", reference_device="sill")
    bench.put("session", b, session_id="day-1")
    bench.put("spot_reading", b, spot="S1")
    epoch = bench.put("epoch", spot="S1")
    place = {"spot": "S1", "spot_since": "2025-01-01", "epoch_id": epoch}
    run = bench.put("run", b, device_id="dome", **place, throughput_mbit_s=1100.0)
    bench.put("run", b, device_id="dome", **place, repeat=2)
    bench.put("run", b, device_id="sill", attenuation_db=60.0)
    bench.put("extra", batch_id=b, source_file="runs.csv", source_row=2, header="mood", typed="good")
    bench.put("ceiling", b, run_id=run)
    return b


def _fill_hidden(bench, batch=None):
    b = batch or bench.batch("cairn", title="Cairn, first bench", files=("batch.toml", "runs.csv", "logs/1.csv"))
    device = bench.device(b, "cairn", model="Cairn", kind="ceiling", revision="1.0")
    bench.put("device_alias", b, device_id=device, alias="Cairn EU")
    bench.put("embargo", b, device_id=device, until_utc=UNTIL)
    bench.client(b, "client-c", machine="laptop", adapter="card", bus="PCIe", level_of="sum")
    bench.put("client_driver", b, client_id="client-c", version="3", series="client-c-3")
    bench.put("house", b, house_id="house-c", reference_device=device)
    bench.put(
        "session", b, session_id="day-c", house_id="house-c", note="curtains", date="2025-06-01", decision="set aside"
    )
    bench.put(
        "spot_reading", b, house_id="house-c", spot="S9", reference_source="a", reference_receiver="b", obstacles="wall"
    )
    epoch = bench.put("epoch", house_id="house-c", spot="S9", obstacles="wall")
    texts = {
        "power": "low",
        "country": "DE",
        "punctured_mhz": "20",
        "airtime": "fair",
        "queueing": "deep",
        "links": "5",
    }
    bench.put("settings", b, settings_id="links-c", number=1, title="One", multi_link="off", **texts)
    under = {"settings_id": "links-c"}
    who = {"device_id": device, "client_id": "client-c", "session_id": "day-c", "driver": "3", "spot": "S9", **under}
    run = bench.put(
        "run",
        b,
        **who,
        spot_since="2025-01-01",
        epoch_id=epoch,
        protocol="tcp",
        security="open",
        throughput_mbit_s=1250.0,
        log_path="logs/1.csv",
        note="quiet",
    )
    (row,) = bench.db.execute("SELECT source_row FROM run WHERE run_id = ?", [run]).fetchone()
    bench.put("extra", batch_id=b, source_file="runs.csv", source_row=row, header="mood", typed="bad")
    bench.put("source", batch_id=b, source_file="old.xlsx/heat", sheet="Cairn", map_path="maps/cairn.toml")
    bench.put("ceiling", b, client_id="client-c", run_id=run)
    bench.put("ceiling", b, client_id="client-a", run_id=run)
    bench.put("workload", b, workload_id="office")
    bench.own_role(b, "office", "pages-1", target_ms=1000.0)
    mix = {"mix_id": "mix-c", "workload_id": "office", "role_id": "pages-1", "ended_by": "a person", "note": "n"}
    station = bench.put("station", b, **who, **mix, log_path="logs/2.csv")
    longrun = bench.put("longrun", b, **who, note="n")
    for owner, number in (("run", run), ("station", station), ("longrun", longrun)):
        for table in ("series", "thinned"):
            bench.put(table, owner=owner, owner_id=number, quantity="t", unit="us", n=1, samples="[1]")
        bench.put("digest", owner=owner, owner_id=number, figure="mean_mbit_s", value=1.0)
    bench.put("feature", b, device_id=device, licence="none", how="tried", evidence="photo")
    cell = {"source_file": "old.xlsx/heat", "source_row": int(RowNumber.of(3, 2))}
    bench.put("heat", b, device_id=device, mount="ceiling", session_id="day-c", **under, **cell)
    bench.put("power", b, device_id=device, **under)
    bench.put("part", b, device_id=device, photo="images/a.jpg", revision="1.0")
    bench.put("price", b, device_id=device, region="EU", condition="new")
    bench.put(
        "bridge", b, old_client="client-c", old_driver="3", new_client="client-a", new_driver="9", device_id=device
    )
    bench.put("dispute", b, device_id=device, evidence="letter", retest="later")
    bench.put("dispute", b, figure=f"pair~dome~{device}")
    (row,) = bench.db.execute("SELECT source_row FROM device WHERE device_id = ?", [device]).fetchone()
    bench.put("correction", b, table_name="device", device_id=device, source_row=row)
    bench.put("article", b, article_id="cairn-review", published_utc=UNTIL)
    bench.put("article_device", article_id="cairn-review", device_id=device)
    sha256 = bench.file(b, "images/a.jpg", b"a picture")
    bench.put("image", b, path="images/a.jpg", sha256=sha256, device_id=device, credit="bench")
    bench.put("image", b, path="images/b.jpg", sha256=sha256)
    bench.put("method", version=2, constants='{"session_spread": 0.5}', batch_id=b)
    bench.put("declaration", batch_id=b, said='{"session_spread": 0.5}')
    return b
