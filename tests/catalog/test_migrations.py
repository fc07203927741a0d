"""Steps to the newest schema: whole or not at all, and the same by every way."""

from __future__ import annotations

import sqlite3

import pytest
from sqlite_utils import Database

from catalog import migrations, schema
from catalog.connection import APPLICATION_ID, create_catalog, open_catalog
from catalog.queries.marks import declared_marks


def shape(db):
    return set(db.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema WHERE sql IS NOT NULL"))


def fresh():
    return sqlite3.connect(":memory:", isolation_level=None)


def test_a_fresh_file_equals_a_migrated_one(tmp_path):
    for start in range(schema.VERSION):
        db = fresh()
        for number in range(start):
            migrations.STEPS[number](db)
        db.execute(f"PRAGMA user_version = {start}")
        migrations.migrate(db)
        assert shape(db) == shape(create_catalog(None))
        assert migrations.version_of(db) == schema.VERSION


def test_the_newest_schema_is_the_one_in_the_module():
    found = {name: sql for kind, name, _, sql in shape(create_catalog(None)) if kind == "table"}
    assert found.keys() == schema.TABLES.keys()
    for name, sql in schema.TABLES.items():
        assert found[name].strip() == sql.strip()


def test_migrating_twice_changes_nothing():
    db = fresh()
    migrations.migrate(db)
    before = list(db.iterdump())
    migrations.migrate(db)
    assert list(db.iterdump()) == before


def test_a_step_that_fails_leaves_the_file_as_it_was(monkeypatch):
    def broken(db):
        db.execute("CREATE TABLE half (x)")
        raise RuntimeError("power cut")

    db = fresh()
    migrations.migrate(db)
    before = list(db.iterdump())
    monkeypatch.setattr(migrations, "STEPS", (*migrations.STEPS, broken))
    monkeypatch.setattr(schema, "VERSION", schema.VERSION + 1)
    with pytest.raises(RuntimeError, match="power cut"):
        migrations.migrate(db)
    assert list(db.iterdump()) == before
    assert migrations.version_of(db) == schema.VERSION - 1


def test_an_older_file_is_brought_up_when_it_is_opened_for_writing(tmp_path):
    path = tmp_path / "catalog.db"
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.close()
    opened = open_catalog(path, readonly=False)
    assert shape(opened) == shape(create_catalog(None))


def test_roles_of_workloads_become_roles_with_the_marks_of_the_newest_version():
    db = fresh()
    for step in migrations.STEPS[:3]:
        step(db)
    db.execute("PRAGMA user_version = 3")
    db.execute("PRAGMA foreign_keys = OFF")
    for number, batch in enumerate(("first", "again", "newer"), start=1):
        db.execute("INSERT INTO batch VALUES (?, ?, 'A bench', NULL, 'CC-BY-4.0', NULL, NULL)", [batch, number])
    roles = [  # another recipe in version 2, no target in version 4
        (1, "film", 200.0, '{"segment_s": 2.0}', "first"),
        (2, "film", 900.0, '{"segment_s": 4.0}', "newer"),
        (3, "film", 15.0, '{"segment_s": 2.0}', "newer"),
        (1, "call", 150.0, "{}", "first"),
        (4, "call", None, "{}", "newer"),
    ]
    for version, role, target_ms, recipe, batch in roles:
        share = None if target_ms is None else 0.95
        db.execute(
            "INSERT OR IGNORE INTO workload VALUES ('desk', ?, 'Desk', 600, ?, 'batch.toml', 9)", [version, batch]
        )
        row = [version, role, "stream" if role == "film" else "voice", target_ms, share, recipe]
        db.execute("INSERT INTO workload_role VALUES ('desk', ?, ?, ?, ?, ?, ?)", row)
    db.execute("INSERT INTO row_again VALUES ('again', 'batch.toml', 7, 'workload', 'first', 'batch.toml', 9, '{}')")
    station = {"station_id": 1, "mix_id": "m", "workload_id": "desk", "workload_version": 1, "role_id": "film"}
    texts = ("at_utc", "at_typed", "device_id", "unit_id", "firmware", "client_id", "session_id", "band")
    station |= dict.fromkeys(texts, "x") | {"planned_s": 600.0, "outcome": "finished", "batch_id": "first"}
    station["source_file"] = "stations.csv"
    marks = ", ".join("?" * len(station))
    db.execute(f"INSERT INTO station ({', '.join(station)}) VALUES ({marks})", [*station.values()])
    for quantity, samples in (
        ("t", "[0, 1000000, 2000000]"),
        ("latency", "[10000, 20000, -1]"),
        ("outcome", "[0, 0, 1]"),
    ):
        db.execute("INSERT INTO series VALUES ('station', 1, ?, 'us', 'json', 3, ?)", [quantity, samples])
    for figure, value in (("planned", 4.0), ("on_time", 2.0), ("tolerated", 2.0), ("late_lag_one", 0.5), ("made", 3.0)):
        db.execute("INSERT INTO digest VALUES ('station', 1, ?, ?)", [figure, value])
    migrations.migrate(db)
    rows = "SELECT role_id, target_ms, target_share, marks_batch_id, batch_id, source_row FROM role ORDER BY role_id"
    assert db.execute(rows).fetchall() == [
        ("desk~1/call", None, None, None, "first", 9),
        ("desk~1/film", 15.0, 0.95, "newer", "first", 9),
        ("desk~2/film", 900.0, 0.95, "newer", "newer", 9),
        ("desk~3/film", 15.0, 0.95, "newer", "newer", 9),
        ("desk~4/call", None, None, None, "newer", 9),
    ]
    said = '{"target_ms": 200.0, "target_share": 0.95}'
    declared = "SELECT batch_id, said FROM role_declaration WHERE role_id = 'desk~1/film' ORDER BY batch_id"
    assert db.execute(declared).fetchall() == [("again", said), ("first", said)]
    again = "SELECT batch_id, source_row, first_row, said FROM row_again WHERE table_name = 'role'"
    assert db.execute(again).fetchall() == [("again", 7, 9, None)]
    seats = "SELECT version, seat, role_id FROM workload_seat ORDER BY version, seat"
    assert db.execute(seats).fetchall() == [
        (1, 1, "call"),
        (1, 2, "film"),
        (2, 1, "film"),
        (3, 1, "film"),
        (4, 1, "call"),
    ]
    # By hand: of 10 and 20 ms one is within 15 ms, both within 60 ms; the fourth request was never made.
    digest = dict(db.execute("SELECT figure, value FROM digest").fetchall())
    assert (digest["planned"], digest["made"], digest["on_time"], digest["tolerated"]) == (4, 3, 1, 2)
    assert digest["late_lag_one"] != 0.5
    assert db.execute("PRAGMA foreign_key_check(workload_role)").fetchall() == []
    assert {m.batch_id for m in declared_marks(Database(db)).values()} == {None, "newer"}
