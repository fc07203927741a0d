"""Steps to the newest schema: whole or not at all, and the same by every way."""

from __future__ import annotations

import sqlite3

import pytest

from catalog import migrations, schema
from catalog.connection import APPLICATION_ID, create_catalog, open_catalog


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
