"""Dump and load, export and enter again, and the check of a catalogue against itself."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import random
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime

import pytest

from catalog import queries, schema
from catalog.connection import create_catalog, open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch, undo_batch
from catalog.errors import CatalogUnusable, InputRefused
from catalog.exporting import batches, dump, dumping, export_batches, load, verify
from catalog.visibility import full_copy, public_copy
from tests.batches import EMBARGO, device, things

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
RUN = "when,device,firmware,client,session,band,width_mhz,direction,spot,repeat,throughput_mbit_s,mood\n"


@pytest.fixture
def lived(shale, batch_folder, tmp_path):
    """A catalogue with two batches, corrections between and after them, a picture and a text replaced."""
    folder = tmp_path / "ledgers"
    folder.mkdir()
    head = "table,key,column,was,now,reason,noticed_by,date\n"
    first = folder / "first.csv"
    first.write_text(head + "device,id=tessarik-shale-2,model,Shale 2,Shale II,renamed,maker,2025-06-30\n")
    db = open_catalog(shale, readonly=False)
    correct_file(first, catalog=db, now=NOW)
    more = """
[method]
session_spread = 0.02
[site]
title = "Bench – Tests"
[[article]]
id = "review"
title = "Shale 2"
published = 2025-06-10T15:00:00+02:00
file = "articles/review.md"
devices = ["tessarik-shale-2"]
"""
    files = {
        "articles/review.md": "Täglich neu.\n",
        "runs.csv": RUN + "2025-06-12 11:00,Shale II,7.10,wrenlet-u2,day-2,5,80,down,S2,1,300,good\n"
        "2025-05-12 10:00,Shale II,7.10,wrenlet-u2,day-1,5,80,down,S1,1,812.5,\n",
    }
    enter_batch(batch_folder("second", more, files), into=shale, now=NOW)
    second = folder / "second.csv"
    (folder / "articles").mkdir()
    (folder / "articles" / "review.md").write_text("Newer.\n")
    second.write_text(
        head
        + "article,id=review,file,articles/review.md,articles/review.md,typing error,bench,2025-06-30\n"
        + "runs,batch=second; file=runs.csv; row=2,throughput,300,310,mistyped,bench,2025-06-30\n"
    )
    correct_file(second, catalog=db, now=NOW)
    db.close()
    return shale


def dumped(path):
    out = io.BytesIO()
    db = open_catalog(path, readonly=True)
    dump(db, out)
    db.close()
    return out.getvalue()


def test_dump_load_dump_is_equal_to_the_byte(lived, tmp_path):
    text = dumped(lived)
    load(io.BytesIO(text), tmp_path / "again.db")
    assert dumped(tmp_path / "again.db") == text
    again, first = (full_copy(path, as_of=NOW) for path in (tmp_path / "again.db", lived))
    assert list(again.conn.iterdump()) == list(first.conn.iterdump())


def test_a_dump_is_lines_of_text_in_a_stable_order(lived):
    first, *lines, last = [json.loads(line) for line in dumped(lived).decode("utf-8").splitlines()]
    assert first == {"format": "likeloss catalogue", "dump_version": 2, "catalogue_version": schema.VERSION}
    tables = [line["table"] for line in lines]
    assert tables == sorted(tables, key=list(schema.TABLES).index)
    assert all(list(line["row"]) == sorted(line["row"]) for line in lines)
    assert last["rows"] == {table: tables.count(table) for table in schema.TABLES}
    body = dumped(lived).rpartition(b'{"rows"')[0]
    assert last["sha256"] == hashlib.sha256(body).hexdigest()
    assert "Bench – Tests" in dumped(lived).decode("utf-8")


def test_a_dump_and_an_export_are_of_one_moment(lived, tmp_path, monkeypatch):
    def write_between():
        with closing(sqlite3.connect(lived, timeout=0)) as other, other:
            other.execute("UPDATE batch SET title = 'changed meanwhile'")

    def between(step):
        def called(*arguments):
            with pytest.raises(sqlite3.OperationalError, match="locked"):
                write_between()
            return step(*arguments)

        return called

    monkeypatch.setattr(dumping, "_rows", between(dumping._rows))
    monkeypatch.setattr(batches, "_content", between(batches._content))
    assert b"changed meanwhile" not in dumped(lived)
    with closing(open_catalog(lived, readonly=True)) as db:
        export_batches(db, tmp_path / "out")
    write_between()  # nobody holds it any longer


def test_the_order_of_entry_within_a_table_does_not_show(bench, new_bench):
    texts = []
    for db, order in ((bench, "ab"), (new_bench("other"), "ba")):
        db.batch("b")
        for letter in order:
            db.put("device", "b", device_id=letter, source_row=ord(letter))
        out = io.BytesIO()
        dump(db.db, out)
        texts.append(out.getvalue())
    assert texts[0] == texts[1]


def test_load_wants_a_new_catalogue(lived, tmp_path):
    text = dumped(lived)
    with pytest.raises(InputRefused, match="holds data already"):
        load(io.BytesIO(text), lived)
    assert dumped(lived) == text
    create_catalog(tmp_path / "empty.db").close()
    load(io.BytesIO(text), tmp_path / "empty.db")
    assert dumped(tmp_path / "empty.db") == text


def sealed(lines):
    """Lines as a dump, with a last line that is right for them."""
    tables = [json.loads(line)["table"] for line in lines[1:]]
    rows = {table: tables.count(table) for table in schema.TABLES}
    text = b"".join(lines)
    return (
        text + json.dumps({"rows": rows, "sha256": hashlib.sha256(text).hexdigest()}, sort_keys=True).encode() + b"\n"
    )


def row_of(table, **values):
    return json.dumps({"row": values, "table": table}).encode() + b"\n"


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda lines: [b"hello\n", *lines[1:]], "no dump of a catalogue"),
        (lambda lines: [b"x" * 5000, *lines[1:]], "no dump of a catalogue"),
        (lambda lines: [line for line in lines if b'"table": "session"' not in line], "names a session"),
        (lambda lines: [*lines, lines[-1]], "cannot be rows of"),
        (lambda lines: [*lines, row_of("house", house_id="h", name="x", lab_limit_mbit_s=10**30)], "cannot be rows of"),
        (lambda lines: [*lines, row_of("house", house_id="\ud800", name="x")], "cannot be rows of"),
        (lambda lines: [*lines, row_of("house", house_id=["h"], name="x")], "cannot be rows of"),
        (lambda lines: [*lines, row_of("run", **{"a b": 1})], "is no row of a catalogue"),
    ],
)
def test_a_dump_of_what_is_no_catalogue_leaves_none(lived, tmp_path, spoil, message):
    text = sealed(spoil(dumped(lived).splitlines(keepends=True)[:-1]))
    refused(text, tmp_path, message)


def refused(text, folder, message):
    """What reads a dump refuses this one and leaves no file, neither from a file nor from a pipe."""
    with pytest.raises(InputRefused, match=message):
        load(io.BytesIO(text), folder / "new.db")
    read, write = os.pipe()
    with ThreadPoolExecutor(1) as pool, os.fdopen(read, "rb") as source:
        pool.submit(fed, write, text)
        with pytest.raises(InputRefused, match=message):
            load(source, folder / "new.db")
        source.close()
    assert [path.name for path in folder.iterdir() if "new.db" in path.name or path.name.startswith(".")] == []


def fed(pipe, text):
    with contextlib.suppress(BrokenPipeError), os.fdopen(pipe, "wb") as end:
        end.write(text)


def line_of(text, table):
    """Number and offset of the first line of *table*."""
    before = text[: text.index(f'"table": "{table}"'.encode())]
    return before.count(b"\n"), before.rindex(b"\n") + 1


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        # Cut at a line, within one, before the last one, and within the last one.
        (lambda text: text[: line_of(text, "spot_reading")[1]], "was cut off after line"),
        (lambda text: text[: line_of(text, "spot_reading")[1] + 20], "is no row of a catalogue. Was the file cut off"),
        (lambda text: text[: text.index(b'{"rows"')], "was cut off after line"),
        (lambda text: text[:-1], "Was the file cut off"),
        (lambda text: text[:-20], "Was the file cut off"),
        # Altered: a value, a line that is missing, twice there or moved, its ends of lines.
        (lambda text: text.replace(b"Bench", b"Bunch"), "altered after it was written"),
        (lambda text: text.replace(b"S1", b"S9", 1), "altered after it was written"),
        (lambda text: without_line(text, "embargo"), "counts 1 rows of embargo, and it holds 0"),
        (lambda text: text.replace(b"\n", b"\r\n"), "altered after it was written"),
        (lambda text: text.replace(b'"rows": {"', b'"rows": {"x": 1, "', 1), "altered"),
        (lambda text: text + text[text.index(b'{"rows"') :], "stands after its last one"),
        (lambda text: text + row_of("house", house_id="h", name="x"), "stands after its last one"),
        (lambda text: text + b"\n", "stands after its last one"),
        (lambda text: text + text, "stands after its last one"),
        (lambda text: b"", "no dump of a catalogue"),
    ],
)
def test_a_dump_that_was_cut_or_altered_leaves_no_catalogue(lived, batch_folder, tmp_path, spoil, message):
    enter_batch(batch_folder("later", things(device=[device("tessarik-cairn", embargo=EMBARGO)])), into=lived, now=NOW)
    refused(spoil(dumped(lived)), tmp_path, message)


def without_line(text, table):
    start = line_of(text, table)[1]
    return text[:start] + text[text.index(b"\n", start) + 1 :]


def test_any_cut_and_any_turned_bit_is_seen(lived, tmp_path):
    text = dumped(lived)
    rng = random.Random(11)
    for _ in range(60):
        at = rng.randrange(len(text))
        for spoilt in (text[:at], text[:at] + bytes([text[at] ^ 1 << rng.randrange(8)]) + text[at + 1 :]):
            with pytest.raises((InputRefused, CatalogUnusable)):
                load(io.BytesIO(spoilt), tmp_path / "new.db")
            assert not (tmp_path / "new.db").exists()


def test_a_dump_of_an_earlier_program_is_refused_with_the_reason(lived, tmp_path):
    # What dumps were before they had a last line.
    lines = dumped(lived).splitlines(keepends=True)[1:-1]
    head = json.dumps({"catalogue_version": 1, "format": "likeloss catalogue"}).encode() + b"\n"
    refused(b"".join([head, *lines]), tmp_path, "did not end with a count of their rows")


def test_a_dump_of_a_newer_version_is_not_read(tmp_path):
    head = json.dumps({"format": "likeloss catalogue", "catalogue_version": schema.VERSION + 1}).encode()
    with pytest.raises(CatalogUnusable, match="newer Likeloss"):
        load(io.BytesIO(head), tmp_path / "new.db")
    head = json.dumps({"format": "likeloss catalogue", "catalogue_version": 1, "dump_version": 3}).encode()
    with pytest.raises(CatalogUnusable, match="dump version 3; this one reads up to 2"):
        load(io.BytesIO(head), tmp_path / "new.db")


def test_an_export_entered_again_gives_the_same_catalogue(lived, tmp_path):
    db = open_catalog(lived, readonly=True)
    names = export_batches(db, tmp_path / "out")
    assert names == ["001-first", "002-corrections", "003-second", "004-corrections"]
    assert names == sorted(names)
    again = tmp_path / "again.db"
    for name in names:
        folder = tmp_path / "out" / name
        if (folder / "batch.toml").exists():
            enter_batch(folder, into=again, now=NOW)
        else:
            (file,) = folder.glob("*.csv")
            target = open_catalog(again, readonly=False)
            correct_file(file, catalog=target, now=NOW)
            target.close()
    assert dumped(again) == dumped(lived)


def test_an_export_never_touches_what_is_there(lived, tmp_path):
    db = open_catalog(lived, readonly=True)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("keep")
    with pytest.raises(InputRefused, match="is not empty"):
        export_batches(db, tmp_path / "out")
    db.close()
    db = open_catalog(lived, readonly=False)
    db.execute("PRAGMA foreign_keys = OFF")
    db.execute("UPDATE raw_file SET path = '../out.txt' WHERE path = 'runs.csv' AND batch_id = 'first'")
    with pytest.raises(InputRefused, match="leaves its folder"):
        export_batches(db, tmp_path / "other")
    copy = public_copy(lived, as_of=NOW)
    with pytest.raises(InputRefused, match="a copy without the bytes"):
        export_batches(copy, tmp_path / "third")


def test_a_sound_catalogue_has_no_findings(lived):
    assert verify(open_catalog(lived, readonly=True)) == []
    assert verify(public_copy(lived, as_of=NOW)) == []


@pytest.mark.parametrize(
    ("statements", "findings"),
    [
        # An orphan: a unit that nobody registered.
        (
            ["UPDATE run SET unit_id = 'Z' WHERE run_id = 1"],
            ["run row 1: It names a unit that is not there."],
        ),
        # A twin, once the index that forbids it is gone.
        (
            [
                "DROP INDEX run_key",
                "UPDATE run SET repeat = 1 WHERE run_id = 2",
            ],
            ["The index run_key is missing.", "run row 2: It is the same as row 1: rep 1."],
        ),
        # An impossible value.
        (
            ["PRAGMA ignore_check_constraints = ON", "UPDATE run SET throughput_mbit_s = -1 WHERE run_id = 1"],
            ["run row 1: A value is impossible: CHECK constraint failed: throughput_mbit_s >= 0."],
        ),
        # A raw file with other bytes, and one that is gone.
        (
            [
                "UPDATE raw_content SET deflated = x'789c030000000001' WHERE sha256 = "
                "(SELECT sha256 FROM raw_file WHERE batch_id = 'first' AND path = 'spots.csv')"
            ],
            ["raw_content: The bytes of first/spots.csv are not those that were entered."],
        ),
        (
            ["DELETE FROM raw_file WHERE batch_id = 'first' AND path = 'spots.csv'"],
            ["spot_reading: 7 rows came from first/spots.csv, whose raw file is missing."],
        ),
        # A reading changed by hand: 80 dB was 20 dBm - (-60 dBm).
        (
            ["UPDATE spot_reading SET reading_dbm = -61 WHERE spot = 'S2'"],
            ["epoch row 3: attenuation_db of S2 from 2025-01-01 is 80.0, but its readings come to 81.0."],
        ),
        (
            ["UPDATE method SET constants = '{\"session_spread\": 0.5}' WHERE version = 2"],
            ['method row 2: It is {"session_spread": 0.5}, but the batches said {"session_spread": 0.02}.'],
        ),
    ],
)
def test_damage_by_hand_is_found(lived, statements, findings):
    db = open_catalog(lived, readonly=False)
    db.execute("PRAGMA foreign_keys = OFF")
    for statement in statements:
        db.execute(statement)
    assert [str(finding) for finding in verify(db)] == findings


def test_a_flipped_byte_is_found(lived):
    db = open_catalog(lived, readonly=False)
    (content,) = db.execute("SELECT deflated FROM raw_content ORDER BY sha256 LIMIT 1").fetchone()
    db.execute(
        "UPDATE raw_content SET deflated = ? WHERE sha256 = (SELECT min(sha256) FROM raw_content)", [b"?" + content[1:]]
    )
    (finding,) = verify(db)
    assert "cannot be unpacked" in str(finding)


def test_records_come_back_from_a_load(lived, tmp_path):
    load(io.BytesIO(dumped(lived)), tmp_path / "again.db")
    again, first = (open_catalog(path, readonly=True) for path in (tmp_path / "again.db", lived))
    assert queries.runs(again) == queries.runs(first)
    assert queries.articles(again)[0].text == "Newer.\n"


def test_a_batch_taken_out_again_leaves_a_sound_catalogue(shale, batch_folder):
    # What the second batch says was in force already by the first; without the first it says it alone.
    first = batch_folder("louder", "[method]\nsession_spread = 0.02\nlevel_sigma_db = 2.0\n")
    second = batch_folder("same", "[method]\nsession_spread = 0.02\n[site]\ntitle = 'Bench'\n")
    for folder in (first, second):
        enter_batch(folder, into=shale, now=NOW)
    db = open_catalog(shale, readonly=False)
    undo_batch("louder", catalog=db)
    method = queries.method_in_force(db)
    assert (method.session_spread, method.level_sigma_db) == (0.02, None)
    assert verify(db) == []
