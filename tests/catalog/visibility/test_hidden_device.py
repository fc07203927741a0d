"""A device whose existence is hidden: no byte of it in a public copy, and no shadow either."""

from __future__ import annotations

import sqlite3

import pytest

from catalog import queries, schema
from catalog.visibility import public_copy

TOKEN = "qzxv7"
# Values of a closed list cannot carry a token, nor can a hash, nor what only a copy or a correction file holds.
CLOSED = {
    ("raw_content", "sha256"),
    ("unit", "origin"),
    ("device_port", "power"),
    ("embargo", "subject"),
    ("embargo", "covers"),
    ("run", "direction"),
    ("run", "outcome"),
    ("run", "statistic"),
    ("settings", "standard"),
    ("settings", "multi_link"),
    ("settings", "backhaul"),
    ("ceiling", "direction"),
    ("role", "kind"),
    ("role", "recipe"),
    ("role_declaration", "said"),
    ("station", "outcome"),
    ("longrun", "kind"),
    ("longrun", "direction"),
    ("longrun", "outcome"),
    ("series", "owner"),
    ("series", "codec"),
    ("thinned", "owner"),
    ("digest", "owner"),
    ("feature", "step"),
    ("heat", "material"),
    ("power", "side"),
    ("part", "read"),
    ("price", "currency"),
    ("bridge", "direction"),
    ("bridge", "side"),
    ("dispute", "state"),
    ("image", "kind"),
    ("method", "constants"),
    ("declaration", "said"),
    ("session", "decision"),
}
NOT_OF_A_DEVICE = {"site", "correction_file", "correction_attachment", "row_again", "hidden", "withdrawal"}


def plant(bench, fill):
    """Run *fill*, then put TOKEN behind every text it wrote. Returns the columns that took it."""
    last = {
        table: bench.db.execute(f"SELECT ifnull(max(rowid), 0) FROM {table}").fetchone()[0] for table in schema.TABLES
    }
    fill(bench)
    planted = set()
    bench.db.execute("PRAGMA foreign_keys = OFF")
    for table in schema.TABLES:
        for _, column, kind, *_ in bench.db.execute(f"PRAGMA table_info({table})").fetchall():
            if kind != "TEXT":
                continue
            try:
                changed = bench.db.execute(
                    f"UPDATE {table} SET {column} = {column} || ? WHERE rowid > ? AND {column} IS NOT NULL",
                    [TOKEN, last[table]],
                ).rowcount
            except sqlite3.IntegrityError:
                continue
            if changed:
                planted.add((table, column))
    return planted


def test_no_byte_of_it_is_in_the_copy(bench, fill_public, fill_hidden, before, public_bytes):
    fill_public(bench)
    planted = plant(bench, fill_hidden)
    texts = {
        (table, column)
        for table in schema.TABLES
        for _, column, kind, *_ in bench.db.execute(f"PRAGMA table_info({table})").fetchall()
        if kind == "TEXT" and table not in NOT_OF_A_DEVICE
    }
    missing = texts - planted - CLOSED
    assert missing == {
        # not given in the fixture, and beside others of the same row that are
        ("batch", "published_utc"),
        ("unit", "given_by"),
        ("unit", "received"),
        ("unit", "returned"),
        ("firmware", "released"),
        ("embargo", "unit_id"),
        ("embargo", "version"),
    }
    content = public_bytes(bench, before)
    assert b"Tessarik" in content  # the copy is not simply empty
    for form in (TOKEN.encode(), TOKEN.encode().hex().encode(), TOKEN.encode("utf-16-le")):
        assert form not in content
    assert b"sqlite_sequence" not in content
    assert b"sqlite_stat" not in content


@pytest.mark.parametrize("order", ["hidden last", "hidden first", "hidden twice"])
def test_copy_equals_one_of_a_catalogue_that_never_held_it(
    bench, new_bench, fill_public, fill_hidden, before, public_bytes, order
):
    without = new_bench("without")
    fill_public(without)
    if order != "hidden last":
        first = bench.batch("another")
        bench.device(first, "another")
        bench.put("embargo", first, device_id="another", until_utc="2025-06-10T13:00:00Z")
        bench.put("price", first, device_id="another")
    fill_public(bench)
    if order != "hidden first":
        fill_hidden(bench)
    assert public_bytes(bench, before) == public_bytes(without, before)


def test_the_order_of_entry_leaves_no_trace(bench, new_bench, before, public_bytes):
    other = new_bench("other")
    for db, order in ((bench, "ab"), (other, "ba")):
        for letter in order:
            b = db.batch(f"batch-{letter}")
            db.device(b, f"device-{letter}")
            db.client(b, f"client-{letter}")
            db.put("house", b, house_id=f"house-{letter}")
            db.put("session", b, session_id=f"day-{letter}", house_id=f"house-{letter}")
            epoch = db.put("epoch", spot="S1", house_id=f"house-{letter}")
            db.put("spot_reading", b, spot="S1", house_id=f"house-{letter}")
            run = db.put(
                "run",
                b,
                device_id=f"device-{letter}",
                client_id=f"client-{letter}",
                session_id=f"day-{letter}",
                spot="S1",
                spot_since="2025-01-01",
                epoch_id=epoch,
            )
            db.put("ceiling", b, client_id=f"client-{letter}", run_id=run)
            db.put("digest", owner="run", owner_id=run, figure="n", value=ord(letter))
            for table in ("heat", "power", "part", "price", "dispute"):
                db.put(table, b, device_id=f"device-{letter}")
    assert public_bytes(bench, before) == public_bytes(other, before)


def test_from_the_instant_on_everything_is_there(bench, fill_public, fill_hidden, before, at):
    fill_public(bench)
    fill_hidden(bench)
    assert [d.device_id for d in queries.devices(public_copy(bench.path, as_of=before))] == ["dome", "sill"]
    seen = public_copy(bench.path, as_of=at)
    for table in set(schema.TABLES) - {
        "series",
        "correction_file",
        "correction_attachment",
        "declaration",
        "role_declaration",
        "row_again",
        "hidden",
    }:
        counts = [db.execute(f"SELECT count(*) FROM {table}").fetchone() for db in (seen, bench.db)]
        assert counts[0] == counts[1], table
    assert seen.execute("SELECT count(*) FROM raw_content WHERE deflated IS NOT NULL").fetchone() == (0,)
    assert {b.entered_utc for b in queries.batches(seen)} == {None}


def test_ceiling_evidence_comes_from_visible_runs_only(bench, fill_public, fill_hidden, before, at):
    # Story 9: Cairn's run of 1250 is the highest yet on a client whose public evidence is 1100.
    fill_public(bench)
    fill_hidden(bench)
    highest = [
        max(
            c.throughput_mbit_s
            for c in queries.ceilings(public_copy(bench.path, as_of=instant))
            if c.client == "client-a"
        )
        for instant in (before, at)
    ]
    assert highest == [1100.0, 1250.0]


def test_an_instant_needs_a_zone(bench, before):
    with pytest.raises(ValueError, match="no time zone"):
        public_copy(bench.path, as_of=before.replace(tzinfo=None))


def test_the_source_is_only_read(bench, fill_public, before):
    fill_public(bench)
    bench.db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    content = bench.path.read_bytes()
    public_copy(bench.path, as_of=before)
    assert bench.path.read_bytes() == content
