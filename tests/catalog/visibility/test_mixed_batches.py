"""Batches that hold hidden and visible rows, and rows that several batches brought."""

from __future__ import annotations

import pytest

from catalog import queries
from catalog.visibility import public_copy

UNTIL = "2025-06-10T13:00:00Z"


@pytest.fixture
def mixed(bench, fill_public, fill_hidden):
    """Everything in one batch whose id and title name the hidden device."""
    b = bench.batch("cairn-and-dome", title="Cairn beside Dome", files=("batch.toml", "runs.csv", "spots.csv"))
    bench.device(b, "dome")
    bench.client(b)
    bench.client(b, "client-unused")
    bench.put("house", b, house_id="house-a")
    bench.put("session", b, session_id="day-1")
    for spot in ("S1", "S2"):
        bench.put("spot_reading", b, spot=spot)
    used, _ = bench.put("epoch", spot="S1"), bench.put("epoch", spot="S2")
    run = bench.put(
        "run", b, device_id="dome", spot="S1", spot_since="2025-01-01", epoch_id=used, log_path="logs/d.csv"
    )
    bench.put("extra", batch_id=b, source_file="runs.csv", source_row=2, header="mood", typed="good")
    bench.put("ceiling", b, run_id=run)
    bench.put("power", b, device_id="dome")
    bench.put("extra", batch_id=b, source_file="idle.csv", source_row=5, header="mood", typed="fine")
    bench.put("power", b, device_id="dome", state="busy", source_file="idle.csv", source_row=5)
    for name in ("logs/d.csv", "idle.csv", "power.csv", "answers.toml", "notes.txt"):
        bench.file(b, name, name.encode())
    fill_hidden(bench, batch=b)
    return bench


def test_visible_rows_stay_without_a_gap_that_would_tell(mixed, before):
    seen = public_copy(mixed.path, as_of=before)
    (run,) = queries.runs(seen)
    assert (run.device, run.source_file, run.source_row) == ("dome", "runs.csv", None)
    assert [c.run_id for c in queries.ceilings(seen)] == [run.run_id]
    rows = {p.state: (p.source_file, p.source_row) for p in queries.power(seen)}
    assert rows == {"idle": ("power.csv", None), "busy": ("idle.csv", 5)}
    # Only the files without a hidden row keep their hash, and only notes whose row can be told.
    assert [f.path for f in queries.raw_files(seen)] == ["idle.csv", "logs/d.csv"]
    assert [(x.source_file, x.typed) for x in queries.extras(seen)] == [("idle.csv", "fine")]
    assert seen.execute("PRAGMA foreign_key_check").fetchall() == []


def test_registers_hold_only_what_visible_rows_use(mixed, before):
    seen = public_copy(mixed.path, as_of=before)
    assert [c.client_id for c in queries.clients(seen)] == ["client-a"]
    assert [h.house_id for h in queries.houses(seen)] == ["house-a"]
    assert [s.session_id for s in queries.sessions(seen)] == ["day-1"]
    assert [(e.spot) for e in queries.epochs(seen)] == ["S1"]
    assert [(r.spot) for r in queries.spot_readings(seen)] == ["S1"]
    assert queries.workloads(seen) == []


def test_the_name_of_the_batch_does_not_tell(mixed, before, at, public_bytes):
    (batch,) = queries.batches(public_copy(mixed.path, as_of=before))
    assert (batch.batch_id, batch.title) == ("tests-2025-05-12", "Tests of 2025-05-12")
    assert b"airn" not in public_bytes(mixed, before)
    (batch,) = queries.batches(public_copy(mixed.path, as_of=at))
    assert (batch.batch_id, batch.title) == ("cairn-and-dome", "Cairn beside Dome")


def test_a_decision_on_a_day_that_both_brought_is_seen_with_its_reason(bench, fill_hidden, before):
    hidden = bench.batch("cairn")
    bench.client(hidden)
    house = bench.put("house", hidden, house_id="house-a")
    fill_hidden(bench, batch=hidden)
    day = bench.put("session", hidden, session_id="day-1", decision="set aside")
    row, file, batch = bench.db.execute(
        "SELECT source_row, source_file, batch_id FROM session WHERE session_id = 'day-1'"
    ).fetchone()
    bench.put(
        "correction",
        batch_id=batch,
        source_file=file,
        source_row=row,
        table_name="session",
        column_name="decision",
        row_key="id=day-1",
        was="",
        now="set aside",
        reason="a window stood open",
    )
    public = bench.batch("public")
    bench.device(public, "dome")
    bench.again(public, "client", 1, said={"client_id": "client-a", "name": "Client", "amendment": "802.11ax"})
    bench.again(public, "session", day, said={"session_id": "day-1", "house_id": "house-a", "date": "2025-05-12"})
    bench.again(public, "house", house, said={"house_id": "house-a", "name": "House"})
    bench.put("run", public, device_id="dome", attenuation_db=60.0)
    seen = public_copy(bench.path, as_of=before)
    (session,) = queries.sessions(seen)
    assert (session.session_id, session.decision, session.batch_id) == ("day-1", "set aside", "public")
    (told,) = queries.corrections(seen)
    assert (told.reason, told.source_row) == ("a window stood open", session.source_row)


def test_a_row_known_from_a_hidden_batch_comes_from_the_public_one(bench, new_bench, before, public_bytes):
    # The hidden batch was entered first and brought the client, the house, a spot, the method and a run of a
    # public device; the public batch repeats them all. Copies: as if the public one had been alone.
    def shared(db, batch):
        rows = [("client", db.put("client", batch, client_id="client-a", series="client-a"))]
        rows += [("client_radio", db.put("client_radio", batch, client_id="client-a"))]
        rows += [("house", db.put("house", batch, house_id="house-a"))]
        rows += [("session", db.put("session", batch, session_id="day-1"))]
        rows += [("spot_reading", db.put("spot_reading", batch, spot="S1"))]
        epoch = db.put("epoch", spot="S1")
        rows += [("device", db.put("device", batch, device_id="dome"))]
        rows += [("unit", db.put("unit", batch, device_id="dome"))]
        rows += [("firmware", db.put("firmware", batch, device_id="dome"))]
        rows += [("run", db.put("run", batch, device_id="dome", spot="S1", spot_since="2025-01-01", epoch_id=epoch))]
        return rows

    without = new_bench("without")
    public = without.batch("public")
    shared(without, public)
    without.put("declaration", batch_id=public, said='{"session_spread": 0.1}')

    hidden = bench.batch("cairn")
    bench.device(hidden, "cairn", source_row=900)
    bench.put("embargo", hidden, device_id="cairn", until_utc=UNTIL, source_row=901)
    bench.put("method", version=2, constants='{"level_sigma_db": 2.0, "session_spread": 0.1}', batch_id=hidden)
    bench.put("declaration", batch_id=hidden, said='{"level_sigma_db": 2.0, "session_spread": 0.1}')
    known = shared(bench, hidden)
    public = bench.batch("public")
    for table, rowid in known:
        bench.again(public, table, rowid)
    bench.put("declaration", batch_id=public, said='{"session_spread": 0.1}')
    a, b = public_copy(bench.path, as_of=before), public_copy(without.path, as_of=before)
    assert list(a.conn.iterdump()) == list(b.conn.iterdump())
    assert queries.method_in_force(a).session_spread == 0.1
    assert queries.method_in_force(a).level_sigma_db is None
    assert public_bytes(bench, before) == public_bytes(without, before)


def test_what_hidden_batches_add_to_public_things_stays_out(bench, fill_public, before, public_bytes):
    fill_public(bench)
    alone = public_bytes(bench, before)
    b = bench.batch("cairn")
    bench.device(b, "cairn")
    bench.put("embargo", b, device_id="cairn", until_utc=UNTIL)
    bench.put("firmware", b, device_id="dome", version="2.0-beta")
    bench.put("unit", b, device_id="dome", unit_id="B")
    bench.put("device_alias", b, device_id="dome", alias="Dome for Cairn")
    bench.put("client_driver", b, client_id="client-a", version="4", series="client-a")
    bench.put("ceiling", b, run_id=2)  # evidence that a public run is a ceiling
    bench.put("spot_reading", b, spot="S1", valid_from="2025-06-01")
    bench.put("epoch", spot="S1", valid_from="2025-06-01", attenuation_db=74.0)
    assert public_bytes(bench, before) == alone


@pytest.mark.parametrize(
    ("embargo", "gone"),
    [
        ({"subject": "device", "covers": "results"}, {"run", "feature", "heat", "power", "part", "image"}),
        ({"subject": "unit", "unit_id": "B", "covers": "results"}, {"run", "heat", "power"}),
        ({"subject": "unit", "unit_id": "B", "covers": "existence"}, {"run", "heat", "power", "unit"}),
        ({"subject": "firmware", "version": "2.0", "covers": "results"}, {"run", "feature"}),
        ({"subject": "firmware", "version": "2.0", "covers": "existence"}, {"run", "feature", "firmware"}),
        (
            {"subject": "batch", "device_id": None, "covers": "results"},
            {"run", "feature", "heat", "power", "part", "price", "image"},
        ),
        (
            {"subject": "batch", "device_id": None, "covers": "existence"},
            {"run", "feature", "heat", "power", "part", "price", "image", "device", "unit", "firmware"},
        ),
    ],
)
def test_an_embargo_covers_what_it_says(bench, before, at, embargo, gone):
    b = bench.batch("new")
    bench.put("device", b, device_id="porch")
    bench.put("unit", b, device_id="porch", unit_id="B")
    bench.put("firmware", b, device_id="porch", version="2.0", public=0)
    bench.client(b)
    bench.put("house", b, house_id="house-a")
    bench.put("session", b, session_id="day-1")
    who = {"device_id": "porch", "unit_id": "B"}
    bench.put("run", b, **who, firmware="2.0", attenuation_db=60.0)
    bench.put("feature", b, device_id="porch", firmware="2.0")
    bench.put("heat", b, **who)
    bench.put("power", b, **who)
    bench.put("part", b, device_id="porch")
    bench.put("price", b, device_id="porch")
    sha256 = bench.file(b, "porch.jpg", b"picture")
    bench.put("image", b, path="porch.jpg", sha256=sha256, device_id="porch")
    tables = ("device", "unit", "firmware", "run", "feature", "heat", "power", "part", "price", "image")
    assert all(counts(public_copy(bench.path, as_of=before), tables).values())
    bench.put("embargo", b, **{"device_id": "porch", **embargo}, until_utc=UNTIL)
    found = counts(public_copy(bench.path, as_of=before), tables)
    assert {table for table, n in found.items() if n == 0} == gone
    assert all(counts(public_copy(bench.path, as_of=at), tables).values())


def counts(db, tables):
    return {table: db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in tables}


def test_results_of_firmware_that_is_not_public_are_seen_and_marked(bench, fill_public, before):
    b = fill_public(bench)
    bench.put("firmware", b, device_id="dome", version="1.1", public=0)
    bench.put("run", b, device_id="dome", firmware="1.1", attenuation_db=60.0)
    seen = public_copy(bench.path, as_of=before)
    (dome,) = (d for d in queries.devices(seen) if d.device_id == "dome")
    assert {f.version: f.public for f in dome.firmware} == {"1.0": True, "1.1": False}
    assert "1.1" in {r.firmware for r in queries.runs(seen)}
