"""Story 9 of the job analysis through batches: before the instant, a copy is that of a catalogue without Cairn."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from catalog import queries
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from catalog.exporting import verify
from catalog.visibility import full_copy, public_copy
from tests.batches import EMBARGO, LINK, client, device, radios, session, things
from tests.workbooks import bench as bench_sheets
from tests.workbooks import xlsx

NOW = datetime(2025, 6, 2, tzinfo=UTC)
OFFICE = {
    "id": "office",
    "title": "Office",
    "duration_s": 600,
    "role": [{"id": "pages-1", "kind": "pages", "target_ms": 1000}],
}
SPOTS = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\nhouse-a,S1,5,2025-01-01,20,-30\n"
RUNS = "when,device,firmware,client,session,band,width_mhz,direction,spot,repeat,throughput_mbit_s,log,mood\n"
STATIONS = "mix,workload,when,device,firmware,client,session,role,band,planned_s,outcome,log\n"
LOG = "t_s,ms,outcome\n0,300,finished\n10,800,finished\n20,2400,failed\n"


def bench(batch_folder, id, name, *, value, **others):
    """A folder with one device and the whole bench, so that each of two batches could stand alone."""
    text = things(
        device=[device(name, **others)],
        client=[client("skarn-r2", radio=radios(4), ceiling=[LINK | {"run": f"{id}/runs/2"}])],
        house=[{"id": "house-a", "name": "Test house"}],
        session=[session("day-1", "2025-06-01")],
        workload=[OFFICE],
        method={"session_spread": 0.02},
    )
    files = {
        "spots.csv": SPOTS,
        "runs.csv": RUNS + f"2025-06-01 10:00,{name},1.0,skarn-r2,day-1,5,80,down,S1,1,{value},logs/{name}.csv,fine\n",
        f"logs/{name}.csv": f"t_s,mbit_s\n0,{value}\n1,{value}\n",
        "stations.csv": STATIONS
        + f"mix-{name},office,2025-06-01 12:00,{name},1.0,skarn-r2,day-1,pages-1,5,600,finished,"
        f"logs/{name}-p.csv\n",
        f"logs/{name}-p.csv": LOG + f"30,{value},finished\n",
        "prices.csv": f"device,date,amount,currency\n{name},2025-06-01,199,EUR\n",
    }
    return batch_folder(id, text, files)


@pytest.fixture
def folders(batch_folder):
    return {
        "public": bench(batch_folder, "public", "dome", value=1100),
        "cairn": bench(batch_folder, "cairn-first-bench", "cairn", value=1250, embargo=EMBARGO),
    }


@pytest.mark.parametrize("order", [("public", "cairn"), ("cairn", "public")])
def test_before_the_instant_cairn_was_never_there(folders, order, before, at, tmp_path):
    for name in order:
        enter_batch(folders[name], into=tmp_path / "with.db", now=NOW)
    enter_batch(folders["public"], into=tmp_path / "without.db", now=NOW)
    files = [tmp_path / "a.db", tmp_path / "b.db"]
    for source, to in zip(("with.db", "without.db"), files, strict=True):
        public_copy(tmp_path / source, as_of=before, to=to).close()
    assert files[0].read_bytes() == files[1].read_bytes()
    assert b"airn" not in files[0].read_bytes()
    seen = public_copy(tmp_path / "with.db", as_of=at)
    assert {r.device for r in queries.runs(seen)} == {"dome", "cairn"}
    assert max(c.throughput_mbit_s for c in queries.ceilings(seen)) == 1250.0
    assert verify(seen) == []


def test_a_copy_keeps_proof_digests_and_points(folders, before, tmp_path):
    path = tmp_path / "catalog.db"
    for name in ("public", "cairn"):
        enter_batch(folders[name], into=path, now=NOW)
    seen = public_copy(path, as_of=before)
    (run,), (station,) = queries.runs(seen), queries.stations(seen)
    assert (run.source_file, run.source_row, run.attenuation_db) == ("runs.csv", 2, 50.0)
    assert "runs.csv" in {f.path for f in queries.raw_files(seen)}
    assert queries.digests(seen)["run", run.run_id]["mean_mbit_s"] == 1100.0
    assert queries.digests(seen)["station", station.station_id]["on_time"] == 2.0  # 300 and 800 ms of 1000
    points = {(p.owner, p.quantity): p.samples for p in queries.thinned(seen)}
    assert points["station", "ordered"] == (300_000, 800_000, 1_100_000)  # finished only, by rank [us]
    assert seen.execute("SELECT count(*) FROM series").fetchone() == (0,)
    assert [(x.header, x.typed) for x in queries.extras(seen)] == [("mood", "fine")]


def test_an_embargo_moved_later_moves_the_copy_only_by_that(folders, at, tmp_path):
    path, other = tmp_path / "catalog.db", tmp_path / "other.db"
    for name in ("public", "cairn"):
        enter_batch(folders[name], into=path, now=NOW)
    enter_batch(folders["public"], into=other, now=NOW)
    ledger = tmp_path / "corrections.csv"
    ledger.write_text(
        "table,key,column,was,now,reason,noticed_by,date\n"
        "device.embargo,device=cairn,until,2025-06-10T09:00 America/New_York,2025-06-12T09:00 America/New_York,"
        "maker asked,maker,2025-06-02\n"
    )
    db = open_catalog(path, readonly=False)
    correct_file(ledger, catalog=db, now=NOW)
    db.close()
    hidden, without = public_copy(path, as_of=at), public_copy(other, as_of=at)
    assert list(hidden.conn.iterdump()) == list(without.conn.iterdump())
    (mark,) = queries.hidden(full_copy(path, as_of=at))
    assert (mark.id, mark.until_utc) == ("cairn", "2025-06-12T13:00:00Z")
    later = datetime(2025, 6, 12, 13, tzinfo=UTC)
    assert queries.corrections(public_copy(path, as_of=later)) == []  # why it moved stays between us


def test_of_a_run_both_brought_only_the_public_words_are_seen(folders, batch_folder, before, tmp_path):
    head = "when,device,firmware,client,session,band,width_mhz,direction,spot,repeat,throughput,note,mood\n"
    private = "2025-06-01 11:00,dome,1.0,skarn-r2,day-1,5,80,down,S1,2,0.9 Gbit/s,beside Cairn,airn\n"
    public = "2025-06-01T09:00:00Z,dome,1.0,skarn-r2,day-1,5,80,down,S1,2,900 Mbit/s,,fine\n"
    new = public.replace("T09:00", "T09:01").replace(",2,900", ",3,905")
    cairn, again = folders["cairn"], batch_folder("again", "", {"runs.csv": head + public + new})
    table = (cairn / "runs.csv").read_text().replace("throughput_mbit_s", "throughput (Mbit/s)")
    (cairn / "runs.csv").write_text(table)
    (cairn / "more.csv").write_text(head + private)
    listed = '[tables]\nruns = ["runs.csv", "more=more.csv"]\n'
    (cairn / "batch.toml").write_text((cairn / "batch.toml").read_text() + listed)
    for name in ("with.db", "without.db"):
        enter_batch(folders["public"], into=tmp_path / name, now=NOW)
    enter_batch(cairn, into=tmp_path / "with.db", now=NOW)
    for name in ("with.db", "without.db"):
        enter_batch(again, into=tmp_path / name, now=NOW)
    hidden, without = (public_copy(tmp_path / name, as_of=before) for name in ("with.db", "without.db"))
    (run,) = (r for r in queries.runs(hidden) if r.repeat == 2)
    assert (run.batch_id, run.note, run.throughput_typed, run.at_typed) == (
        "again",
        None,
        "900 Mbit/s",
        "2025-06-01T09:00:00Z",
    )
    assert list(hidden.conn.iterdump()) == list(without.conn.iterdump())


def test_a_workbook_that_hides_something_is_not_named_and_tells_no_rows(before, at, tmp_path):
    """Its name may be that of the hidden device, and gaps between rows would tell of others."""
    sheets = bench_sheets()
    sheets["Devices"].append(["cairn", "Cairn", "Cairn One", "802.11ax"])
    sheets["Units"].append(["cairn", "A", "loaned"])
    sheets["Firmware"].append(["cairn", "0.9"])
    sheets["Embargoes"] = [["device", *EMBARGO], ["cairn", *EMBARGO.values()]]
    sheets["Runs"].insert(2, [*sheets["Runs"][1][:1], "cairn", "0.9", *sheets["Runs"][1][3:]])
    (tmp_path / "cairn-one.xlsx").write_bytes(xlsx(sheets))
    enter_batch(tmp_path / "cairn-one.xlsx", into=tmp_path / "catalog.db", now=NOW)
    hidden = public_copy(tmp_path / "catalog.db", as_of=before)
    assert {(run.source_file, run.source_row) for run in queries.runs(hidden)} == {("runs", None)}
    assert queries.raw_files(hidden) == []
    everything = "\n".join(hidden.conn.iterdump()).casefold()
    assert "cairn" not in everything
    shown = public_copy(tmp_path / "catalog.db", as_of=at)
    assert ("cairn-one.xlsx/runs", 3) in {(run.source_file, run.source_row) for run in queries.runs(shown)}
    assert [file.path for file in queries.raw_files(shown)] == ["cairn-one.xlsx"]
