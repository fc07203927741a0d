"""What each question answers, in which order, with how many SELECTs."""

from __future__ import annotations

import inspect

import pytest

from catalog import queries
from catalog.connection import open_catalog
from catalog.method import constants_from_json

# Those that answer for a whole catalogue without being told more than which; facts asks every table by design, and
# run_rows gives the rows of runs.
ASKED = [
    name
    for name in queries.__all__
    if name not in ("facts", "run_rows")
    and inspect.isfunction(found := getattr(queries, name))
    and [p.name for p in inspect.signature(found).parameters.values() if p.default is p.empty] == ["db"]
]


@pytest.fixture
def filled(bench):
    """Two of everything, entered in the wrong order."""
    b = bench.batch("b")
    for device in ("sill", "dome"):
        bench.device(b, device)
        for version, public in (("7.9", 1), ("7.10", 0)):
            bench.put("firmware", b, device_id=device, version=version, public=public)
    bench.put("device_alias", b, device_id="dome", alias="Dome EU")
    bench.client(b)
    bench.put("client_driver", b, client_id="client-a", version="4", series="client-a 4")
    bench.put("house", b, house_id="house-b", name="Other", reference_device="sill")
    bench.put("house", b, house_id="house-a", lab_limit_mbit_s=2300.0)
    bench.put("session", b, session_id="day-1")
    bench.put("session", b, session_id="day-b", house_id="house-b", date="2025-05-13")
    for since, loss in (("2025-03-01", 72.0), ("2025-01-01", 68.0)):
        bench.put(
            "epoch", spot="S3", valid_from=since, attenuation_db=loss, readings=5, readings_sd_db=1.5, kit="a + b"
        )
    return bench


def test_devices_come_whole(filled):
    dome, sill = queries.devices(filled.db)
    assert (dome.device_id, sill.device_id) == ("dome", "sill")
    assert dome.aliases == ("Dome EU",)
    assert [u.unit_id for u in dome.units] == ["A"]
    assert [(f.version, f.public) for f in dome.firmware] == [("1.0", True), ("7.10", False), ("7.9", True)]
    assert dome.ports[0].speed_mbit_s == 2500.0
    assert dome.radios[0].streams == 4
    assert (dome.batch_id, dome.source_file) == ("b", "batch.toml")


def test_rows_of_runs_make_the_runs(shale):
    db = open_catalog(shale, readonly=True)
    rows, made = queries.run_rows(db)
    assert list(map(made, rows)) == queries.runs(db)
    assert [(row[0], row[2]) for row in rows] == [(run.run_id, run.device) for run in queries.runs(db)]


def test_an_epoch_ends_where_the_next_begins(filled):
    assert [(e.valid_from, e.valid_until, e.attenuation_db) for e in queries.epochs(filled.db)] == [
        ("2025-01-01", "2025-03-01", 68.0),
        ("2025-03-01", None, 72.0),
    ]


def test_a_run_knows_its_place_and_series(filled):
    (epoch,) = filled.db.execute("SELECT epoch_id FROM epoch WHERE valid_from = '2025-03-01'").fetchone()
    who = {"device_id": "dome", "firmware": "7.9"}
    filled.put("run", "b", **who, repeat=2, spot="S3", spot_since="2025-03-01", epoch_id=epoch, driver="4")
    filled.put("run", "b", **who, attenuation_db=60.0)
    filled.put("run", "b", **who, attenuation_db=61.0, session_id="day-b", dfs_event=1)
    filled.put("run", "b", **who, repeat=3, level_dbm=-54.0, throughput_mbit_s=None, outcome="did not finish")
    filled.put("run", "b", **who, band="5+6", spot="S3", spot_since="2025-03-01")
    runs = {(r.band, r.repeat, r.session): r for r in queries.runs(filled.db)}
    at_spot = runs["5", 2, "day-1"]
    assert (at_spot.attenuation_db, at_spot.attenuation_typed, at_spot.kit) == (72.0, False, "a + b")
    assert (at_spot.readings, at_spot.readings_sd_db, at_spot.series) == (5, 1.5, "client-a 4")
    typed = runs["5", 1, "day-1"]
    assert (typed.attenuation_db, typed.attenuation_typed, typed.kit) == (60.0, True, "a + b")  # the house's only kit
    assert (typed.readings, typed.series, typed.house, typed.date) == (None, "client-a", "house-a", "2025-05-12")
    other = runs["5", 1, "day-b"]
    assert (other.kit, other.dfs_event) == ("kit of house-b", True)
    level = runs["5", 3, "day-1"]
    assert (level.attenuation_db, level.attenuation_typed, level.kit) == (None, False, None)
    assert (level.throughput_mbit_s, level.outcome, level.dfs_event) == (None, "did not finish", None)
    several_links = runs["5+6", 1, "day-1"]
    assert (several_links.attenuation_db, several_links.spot_since) == (None, "2025-03-01")


def test_runs_stand_in_the_order_of_their_key(filled):
    for device, firmware, repeat in (("sill", "1.0", 1), ("dome", "7.9", 2), ("dome", "7.10", 1), ("dome", "7.9", 1)):
        filled.put("run", "b", device_id=device, firmware=firmware, repeat=repeat, attenuation_db=60.0)
    assert [(r.device, r.firmware, r.repeat) for r in queries.runs(filled.db)] == [
        ("dome", "7.10", 1),
        ("dome", "7.9", 1),
        ("dome", "7.9", 2),
        ("sill", "1.0", 1),
    ]


def test_a_house_with_two_kits_cannot_say_which(filled):
    filled.put("epoch", spot="S4", kit="c + d")
    filled.put("run", "b", device_id="dome", attenuation_db=60.0)
    assert queries.runs(filled.db)[0].kit == "kit of house-a"


def test_evidence_without_a_value_is_none(filled):
    run = filled.put("run", "b", device_id="dome", attenuation_db=45.0, throughput_mbit_s=1100.0)
    filled.put("ceiling", "b", run_id=run)
    (ceiling,) = queries.ceilings(filled.db)
    assert (ceiling.client, ceiling.device, ceiling.throughput_mbit_s) == ("client-a", "dome", 1100.0)
    filled.db.execute("UPDATE run SET outcome = 'aborted', throughput_mbit_s = NULL")
    assert queries.ceilings(filled.db) == []


def test_stations_and_long_runs_with_what_was_computed(filled):
    filled.put("workload", "b", workload_id="office")
    filled.own_role("b", "office", "talk", kind="voice", recipe='{"codec": "G.711"}')
    station = filled.put("station", "b", device_id="dome", mix_id="m", workload_id="office", role_id="talk")
    longrun = filled.put("longrun", "b", device_id="dome")
    filled.put("digest", owner="station", owner_id=station, figure="p95_ms", value=80.0)
    filled.put("digest", owner="station", owner_id=station, figure="planned", value=60.0)
    filled.put("thinned", owner="longrun", owner_id=longrun, quantity="rate", unit="bit/s", n=9, samples="[1,5]")
    (found,) = queries.stations(filled.db)
    assert (found.mix, found.role, found.kind, found.house, found.date) == (
        "m",
        "talk",
        "voice",
        "house-a",
        "2025-05-12",
    )
    assert queries.digests(filled.db) == {("station", station): {"p95_ms": 80.0, "planned": 60.0}}
    (points,) = queries.thinned(filled.db)
    assert (points.owner, points.owner_id, points.n, points.samples) == ("longrun", longrun, 9, (1, 5))
    (workload,) = queries.workloads(filled.db)
    assert workload.roles[0].recipe == {"codec": "G.711"}


def test_the_method_in_force_is_the_newest(filled):
    assert queries.method_in_force(filled.db).to_json() == "{}"
    filled.put("method", version=2, constants='{"session_spread": 0.02}', batch_id="b")
    assert queries.method_in_force(filled.db) == constants_from_json('{"session_spread": 0.02}', version=2)


def test_articles_with_their_devices_earliest_first(filled):
    for name, day in (("later", "2025-07-01"), ("earlier", "2025-06-01")):
        filled.put("article", "b", article_id=name, published_utc=f"{day}T08:00:00Z")
    for device in ("sill", "dome"):
        filled.put("article_device", article_id="later", device_id=device)
    assert [(a.article_id, a.devices) for a in queries.articles(filled.db)] == [
        ("earlier", ()),
        ("later", ("dome", "sill")),
    ]


def test_the_bytes_of_a_file_come_back(filled):
    sha256 = filled.file("b", "runs.csv", b"when,device\n")
    assert queries.raw_content(filled.db, sha256) == b"when,device\n"
    assert queries.raw_content(filled.db, "0" * 64) is None
    assert [(f.path, f.size_bytes) for f in queries.raw_files(filled.db)] == [("batch.toml", 12), ("runs.csv", 12)]


@pytest.mark.parametrize("name", ASKED)
def test_an_empty_catalogue_has_an_answer(bench, name):
    found = getattr(queries, name)(bench.db)
    if name in ("methods", "method_in_force"):
        return  # the constants the program ships with
    assert found is None or len(found) == 0


@pytest.mark.parametrize("name", ASKED)
def test_the_number_of_selects_does_not_grow_with_the_catalogue(shale, name):
    statements = []
    db = open_catalog(shale, readonly=True)
    db.conn.set_trace_callback(statements.append)
    getattr(queries, name)(db)
    assert len(statements) <= 6  # devices: itself, aliases, radios, ports, units, firmware


@pytest.mark.parametrize("name", [n for n in ASKED if n not in ("digests", "method_in_force", "site")])
def test_answers_do_not_depend_on_where_rows_stand_in_the_file(shale, name):
    db = open_catalog(shale, readonly=False)
    before = getattr(queries, name)(db)
    db.execute("PRAGMA reverse_unordered_selects = ON")
    assert getattr(queries, name)(db) == before
