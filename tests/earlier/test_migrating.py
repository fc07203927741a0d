"""A catalogue of version 1 is brought to this version: by whom it is opened, with which figures, and what stops it."""

from __future__ import annotations

import hashlib
import io
import sqlite3
from contextlib import closing
from datetime import UTC, datetime

import pytest
from sqlite_utils import Database

from builder.shipped import demo_folder
from catalog import connection, migrations, queries, schema
from catalog.connection import attach_readonly, create_catalog, create_earlier_catalog, open_catalog, path_of
from catalog.entering import enter_batch
from catalog.errors import CatalogUnusable, InputRefused, WriteRefused
from catalog.exporting import dump, load, verify
from catalog.visibility import public_copy
from tests.earlier.unpacking import KEYS, VERSION_1, as_version_1, digests, dumped, edited, version

INSTANT = datetime(2026, 6, 30, 12, tzinfo=UTC)
OF_THE_FILE = ("first_row", "last_row")
OF_THE_MIX = "common_s"  # what all logs of a mix cover


def rows(path):
    """Table -> its rows by column, in the order of SQLite's own numbers, as the file says them."""
    with closing(Database(str(path))) as db:
        return {table: list(db.query(f"SELECT * FROM {table} ORDER BY rowid")) for table in db.table_names()}


def definitions(db):
    return set(db.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema"))


def test_the_file_is_what_the_readme_beside_it_says(original):
    readme = VERSION_1.with_name("README.md").read_text(encoding="utf-8")
    assert hashlib.sha256(original.read_bytes()).hexdigest() in readme
    assert version(original) == 1


def test_version_1_is_the_tables_that_people_have(original):
    with closing(sqlite3.connect(original)) as db:
        assert definitions(db) == definitions(create_earlier_catalog(1))


def test_it_migrates_when_it_is_opened_for_writing(original, migrated):
    assert version(migrated) == schema.VERSION
    with closing(sqlite3.connect(migrated)) as db:
        assert definitions(db) == definitions(create_catalog(None))
    before, after = rows(original), rows(migrated)
    assert after.keys() - before.keys() == {"role", "role_declaration", "settings", "source", "workload_seat"}
    assert after["settings"] == []
    gained = {table: {"settings_id"} for table in ("run", "longrun", "heat", "power")}
    gained["run"] |= {"of_runs", "spread_mbit_s", "statistic"}
    gained["station"] = {"settings_id", "channel", "width_mhz", "attenuation_db", "on_time_share", "mark_ms"}
    gained["station"] |= {f"p{percent}_ms" for percent in (50, 75, 90, 95, 99)}
    gained["longrun"] = {"settings_id", "kind", "mark_ms"}
    assert {row.pop("kind") for row in after["longrun"]} == {"throughput"}
    for table, members in before.items():
        new = gained.get(table, set()) - {"kind"}
        assert all(row[column] is None for row in after[table] for column in new)
        if table not in ("digest", "workload_role"):
            assert [{name: row[name] for name in row.keys() - new} for row in after[table]] == members
    # A role stands apart from its workload, which is a seat with one role for each.
    recipes = ("kind", "target_ms", "target_share", "recipe")
    roles = {row["role_id"]: {key: row[key] for key in recipes} for row in after["role"]}
    played = ("workload_id", "version", "role_id")
    placed = [{key: row[key] for key in played} for row in after["workload_role"]]
    assert [p | roles[row["definition"]] for p, row in zip(placed, after["workload_role"], strict=True)] == before[
        "workload_role"
    ]
    assert len(roles) == len(placed)
    seats = [{key: row[key] for key in played} for row in after["workload_seat"]]
    assert sorted(seats, key=str) == sorted(placed, key=str)
    assert len(before["run"]) > 3000
    assert len(before["series"]) > 500
    with closing(open_catalog(migrated, readonly=True)) as db:
        assert verify(db) == []


def test_what_is_counted_in_requests_stays(original, migrated):
    before, after = digests(original, "station"), digests(migrated, "station")
    assert len(before) > 150
    replayed = {"shown_s", "stalls", "stalled_s", "late_segments", "start_delay_s", "stalling_quality"}
    in_a_row = {f"{series}_{figure}" for series in ("waits", "late") for figure in ("lag_one", "correlation_requests")}
    added = in_a_row | {"lost_segments"}
    for key, figures in before.items():
        counted = {figure: value for figure, value in figures.items() if figure not in replayed}
        assert counted.items() <= after[key].items()
        assert after[key].keys() - figures.keys() <= added
        assert "waits_lag_one" in after[key] or "planned" not in figures


@pytest.mark.parametrize("owner", ["run", "longrun", "station"])
def test_digests_taken_again_are_those_of_a_catalogue_made_today(original, migrated, demo_file, owner):
    # The demo's nights, and the runs with logs, were measured alike then and now.
    then, again, today = (digests(path, owner) for path in (original, migrated, demo_file))
    # Some mixes have been made up anew since.
    alike = {key for key in then.keys() & today.keys() if then[key].get("mean_ms") == today[key].get("mean_ms")}
    assert len(alike) >= 7
    for key in alike:
        assert not {"longest_gap_s", "waits_lag_one"} & then[key].keys()
        # Which rows of its file a log was made of, no sample tells.
        elsewhere = (*OF_THE_FILE, OF_THE_MIX)
        then_and_now = [{f: v for f, v in one[key].items() if f not in elsewhere} for one in (again, today)]
        assert then_and_now[0] == then_and_now[1]
        assert not set(OF_THE_FILE) & again[key].keys()
    assert again.keys() == then.keys()


def test_what_only_the_file_of_a_log_tells_stays(demo_plan, tmp_path):
    # A file of version 1 may hold digests of a program between the two, which told rows and gaps already. This log
    # had a minute without values before its first one.
    path = tmp_path / "catalog.db"
    for name in demo_plan["order"][:3]:  # of before the roles that version 1 has no room for
        enter_batch(demo_folder() / "batches" / name, into=path, now=INSTANT)
    minute = "figure IN ('duration_s', 'longest_gap_s') AND owner = 'longrun' AND owner_id = 2"
    as_version_1(edited(path, f"UPDATE digest SET value = value + 60 WHERE {minute}"))
    before = {owner: digests(path, owner) for owner in ("run", "longrun")}
    open_catalog(path, readonly=False).close()
    assert version(path) == schema.VERSION
    assert {owner: digests(path, owner) for owner in ("run", "longrun")} == before


def test_a_period_that_only_the_search_of_then_showed_goes(old):
    steady = next(key for key, figures in digests(old, "longrun").items() if "period_s" not in figures)
    named = dict(zip(KEYS["longrun"].split(", "), steady, strict=True))
    where = " AND ".join(f"{column} = '{value}'" for column, value in named.items())
    edited(
        old,
        "INSERT INTO digest SELECT 'longrun', longrun_id, f.column1, f.column2 FROM longrun, (VALUES "
        "('period_s', 4000.0), ('period_cycles', 9.0), ('period_exceeded', 199.0), ('period_share', 0.1)) AS f "
        f"WHERE {where}",
    )
    assert digests(old, "longrun")[steady]["period_s"] == 4000
    open_catalog(old, readonly=False).close()
    again = digests(old, "longrun")[steady]
    assert [figure for figure in again if figure.startswith("period")] == []
    assert again["mean_mbit_s"] > 0


def test_who_only_reads_sees_the_migrated_one_and_leaves_the_file(old, migrated):
    content = old.read_bytes()
    with closing(open_catalog(old, readonly=True)) as db:
        assert migrations.version_of(db.conn) == schema.VERSION
        assert path_of(db) == old
        assert verify(db) == []
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            db.execute("DELETE FROM method")
    assert dumped(old) == dumped(migrated)
    with closing(create_catalog(None)) as db:
        attach_readonly(db, old, name="src")
        assert db.execute("SELECT count(*) FROM src.digest WHERE figure = 'longest_gap_s'").fetchone()[0] > 0
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            db.execute("DELETE FROM src.method")
    copies = [public_copy(path, as_of=INSTANT) for path in (old, migrated)]
    assert list(copies[0].conn.iterdump()) == list(copies[1].conn.iterdump())
    assert old.read_bytes() == content


def test_reading_follows_what_an_earlier_program_writes(old):
    with closing(open_catalog(old, readonly=True)) as db:
        assert queries.batches(db)[0].title != "written since"
    edited(old, "UPDATE batch SET title = 'written since'")
    with closing(open_catalog(old, readonly=True)) as db:
        assert queries.batches(db)[0].title == "written since"
        assert path_of(db) == old


def test_one_too_large_to_be_copied_says_what_brings_it_up(old, monkeypatch):
    monkeypatch.setattr(connection, "MOST_IN_MEMORY_BYTES", 1000)
    with pytest.raises(CatalogUnusable, match=r"too large to be read as it is\. Enter a batch"):
        open_catalog(old, readonly=True)
    open_catalog(old, readonly=False).close()
    open_catalog(old, readonly=True).close()


def test_a_reader_of_an_earlier_one_waits_for_a_writer_and_then_says_so(old, monkeypatch):
    monkeypatch.setattr("catalog.connection.WAIT_S", 0.1)
    with closing(sqlite3.connect(old, isolation_level=None)) as writer:
        writer.execute("BEGIN EXCLUSIVE")
        for readonly in (True, False):
            with pytest.raises(WriteRefused, match="another program is writing to it"):
                open_catalog(old, readonly=readonly)
    assert version(old) == 1


def test_two_programs_that_open_it_at_once_migrate_it_once(old, monkeypatch):
    asked = migrations.version_of

    def then_the_other(db):
        monkeypatch.setattr(migrations, "version_of", asked)
        before = asked(db)
        open_catalog(old, readonly=False).close()
        return before

    with closing(sqlite3.connect(old, isolation_level=None)) as db:
        monkeypatch.setattr(migrations, "version_of", then_the_other)
        monkeypatch.setattr(migrations, "STEPS", (*migrations.STEPS[:1], *map(_once, migrations.STEPS[1:])))
        migrations.migrate(db)
    assert version(old) == schema.VERSION


def _once(step):
    calls = []

    def call(db):
        assert not calls
        calls.append(db)
        step(db)

    return call


@pytest.mark.parametrize("samples", ["[1, 2", '["a"]', "[1]", "{}", "[1e300]"])
def test_damaged_samples_are_named_and_the_file_stays(old, samples):
    edited(old, f"UPDATE series SET samples = '{samples}' WHERE owner = 'longrun' AND quantity = 'rate'")
    content = old.read_bytes()
    for readonly in (True, False):
        with pytest.raises(CatalogUnusable, match="The raw samples of longrun 1 are damaged"):
            open_catalog(old, readonly=readonly)
    assert old.read_bytes() == content


def test_a_damaged_table_is_said_and_the_file_stays(old):
    edited(old, "DROP TABLE series", "DROP VIEW sample")
    content = old.read_bytes()
    for readonly in (True, False):
        with pytest.raises(
            CatalogUnusable, match=rf"cannot be brought to catalogue version {schema.VERSION}: no such table: series\."
        ):
            open_catalog(old, readonly=readonly)
    assert old.read_bytes() == content


def test_its_dump_loads_whether_it_was_dumped_then_or_now(old, migrated, tmp_path, monkeypatch):
    text = dumped(migrated)
    with monkeypatch.context() as then, closing(Database(sqlite3.connect(old, isolation_level=None))) as db:
        then.setattr(schema, "VERSION", 1)
        of_then = dict(db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'table'").fetchall())
        then.setattr(schema, "TABLES", {table: of_then[table] for table in schema.TABLES if table in of_then})
        then.setattr("catalog.exporting.dumping.require_sound", lambda db: None)  # it knows the tables of today
        out = io.BytesIO()
        dump(db, out)
    dump_of_then = out.getvalue()
    assert b'"catalogue_version": 1' in dump_of_then[:100]
    assert dump_of_then != text
    load(io.BytesIO(dump_of_then), tmp_path / "then.db")
    load(io.BytesIO(text), tmp_path / "now.db")
    for name in ("then.db", "now.db"):
        assert version(tmp_path / name) == schema.VERSION
        assert dumped(tmp_path / name) == text
        with closing(open_catalog(tmp_path / name, readonly=True)) as db:
            assert verify(db) == []
    for spoilt in (dump_of_then[:-1000], dump_of_then.replace(b"Rondel 4", b"Rondel 5", 1)):
        with pytest.raises(InputRefused):
            load(io.BytesIO(spoilt), tmp_path / "spoilt.db")
        assert not (tmp_path / "spoilt.db").exists()
