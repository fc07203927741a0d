"""Opening a catalogue, and the plain words for a file that is none."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from catalog import schema
from catalog.connection import attach_readonly, create_catalog, open_catalog
from catalog.errors import CatalogUnusable, WriteRefused


def test_a_new_catalogue_can_be_opened(tmp_path):
    path = tmp_path / "my catalog #1?%.db"
    create_catalog(path).close()
    for readonly in (True, False):
        db = open_catalog(path, readonly=readonly)
        assert db.execute("PRAGMA foreign_keys").fetchone() == (1,)
        assert db.execute("PRAGMA user_version").fetchone() == (schema.VERSION,)
        db.close()
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


def test_reading_never_writes(tmp_path):
    create_catalog(tmp_path / "catalog.db").close()
    db = open_catalog(tmp_path / "catalog.db", readonly=True)
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        db.execute("DELETE FROM method")


def test_an_existing_file_is_never_taken_for_a_new_catalogue(tmp_path):
    (tmp_path / "catalog.db").write_text("mine")
    with pytest.raises(CatalogUnusable, match="exists already"):
        create_catalog(tmp_path / "catalog.db")
    with pytest.raises(CatalogUnusable, match=r"The folder .* does not exist"):
        create_catalog(tmp_path / "nowhere" / "catalog.db")
    assert (tmp_path / "catalog.db").read_text() == "mine"


def test_a_file_that_is_no_catalogue_says_so(tmp_path):
    path = tmp_path / "catalog.db"
    with pytest.raises(CatalogUnusable, match="There is no catalogue at"):
        open_catalog(path, readonly=True)
    path.write_bytes(b"not a database at all, only some text that is long enough" * 40)
    with pytest.raises(CatalogUnusable, match="is not a catalogue, or it is damaged"):
        open_catalog(path, readonly=True)
    path.unlink()
    sqlite3.connect(path).execute("CREATE TABLE other (x)").connection.close()
    with pytest.raises(CatalogUnusable, match="not a Likeloss catalogue"):
        open_catalog(path, readonly=False)


def test_a_newer_catalogue_is_left_alone(tmp_path):
    path = tmp_path / "catalog.db"
    db = create_catalog(path)
    db.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    db.close()
    content = path.read_bytes()
    with pytest.raises(CatalogUnusable, match="written by a newer Likeloss"):
        open_catalog(path, readonly=False)
    assert path.read_bytes() == content


@pytest.mark.parametrize("keep", [0, 50, 4096, 20_000])
def test_a_truncated_catalogue_is_unusable(tmp_path, keep):
    path = tmp_path / "catalog.db"
    create_catalog(path).close()
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(CatalogUnusable):
        open_catalog(path, readonly=True)


def test_one_catalogue_can_be_read_from_another(tmp_path):
    create_catalog(tmp_path / "it's one.db").close()
    db = create_catalog(None)
    attach_readonly(db, tmp_path / "it's one.db", name="src")
    assert db.execute("SELECT version FROM src.method").fetchall() == [(1,)]
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        db.execute("DELETE FROM src.method")


def test_what_a_killed_writer_left_is_taken_back_by_the_next_reader(tmp_path):
    path = tmp_path / "catalog.db"
    create_catalog(path).close()
    writer = open_catalog(path, readonly=False)
    writer.execute("PRAGMA cache_size = 1")  # pages reach the file before the transaction ends
    writer.execute("BEGIN IMMEDIATE")
    rows = ((f"{n:064x}", "x" * 1000) for n in range(2000))
    writer.conn.executemany(
        "INSERT INTO raw_content (sha256, size_bytes, deflated) VALUES (?, 1000, CAST(? AS BLOB))", rows
    )
    copied = tmp_path / "copied.db"  # as a kill at this moment would leave it
    copied.write_bytes(path.read_bytes())
    journal = tmp_path / "copied.db-journal"
    journal.write_bytes((tmp_path / "catalog.db-journal").read_bytes())
    writer.execute("ROLLBACK")
    with closing(sqlite3.connect(f"file:{copied}?mode=ro", uri=True)) as alone, pytest.raises(sqlite3.OperationalError):
        alone.execute("SELECT count(*) FROM raw_content")
    with closing(open_catalog(copied, readonly=True)) as reader:
        assert reader.execute("SELECT count(*) FROM raw_content").fetchone() == (0,)
        assert reader.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert not journal.exists()


def test_a_reader_waits_for_a_writer_and_then_says_so(tmp_path, monkeypatch):
    path = tmp_path / "catalog.db"
    create_catalog(path).close()
    monkeypatch.setattr("catalog.connection.WAIT_S", 0.1)
    writer = open_catalog(path, readonly=False)
    writer.execute("BEGIN EXCLUSIVE")
    with pytest.raises(WriteRefused, match="another program is writing to it"):
        open_catalog(path, readonly=True)
    writer.execute("ROLLBACK")
    open_catalog(path, readonly=True).close()
