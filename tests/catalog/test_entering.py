"""Entering a batch: all of it or nothing, the same thing once, and back out again."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import signal
import sqlite3
import subprocess
import sys
import time
import zlib
from pathlib import Path

import pytest

from catalog.connection import create_catalog, open_catalog
from catalog.entering import check_batch, enter_batch, undo_batch
from catalog.errors import BatchRefused, CatalogUnusable, InputRefused, UnknownName, WriteRefused

NOW = dt.datetime(2025, 8, 1, tzinfo=dt.UTC)

RUNS = """\
when,attenuation_db,repeat,throughput (Mbit/s),note
2025-05-12 14:00,60,1,700,
2025-05-12 14:01,60,2,712.5,door open
2025-05-12 14:02,60,3,did not finish,
2025-05-12 14:03,70,1,402,
"""


@pytest.fixture
def catalog(tmp_path):
    return tmp_path / "catalog.db"


def rows(catalog: Path, sql: str) -> list[tuple]:
    with sqlite3.connect(catalog) as db:
        return db.execute(sql).fetchall()


def dump(catalog: Path) -> str:
    """All tables as SQL text: an independent view of what is in the file."""
    with sqlite3.connect(catalog) as db:
        return "\n".join(db.iterdump())


def test_a_batch_is_stored_with_the_origin_of_every_row(write_batch, catalog):
    report = enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    assert (report.batch, report.rows_read, report.rows_new, report.already_entered) == ("first", 4, 4, None)
    assert rows(
        catalog,
        "SELECT at_utc, at_typed, unit_id, driver, repeat, throughput_mbit_s, outcome, note, batch_id, source_row "
        "FROM run WHERE source_file = 'runs.csv' ORDER BY run_id",
    ) == [
        ("2025-05-12T12:00:00Z", "2025-05-12 14:00", "A", None, 1, 700.0, "finished", None, "first", 2),
        ("2025-05-12T12:01:00Z", "2025-05-12 14:01", "A", None, 2, 712.5, "finished", "door open", "first", 3),
        ("2025-05-12T12:02:00Z", "2025-05-12 14:02", "A", None, 3, None, "did not finish", None, "first", 4),
        ("2025-05-12T12:03:00Z", "2025-05-12 14:03", "A", None, 1, 402.0, "finished", None, "first", 5),
    ]
    assert rows(catalog, "SELECT sequence, title, timezone, licence, entered_utc, published_utc FROM batch") == [
        (1, "First bench", "Europe/Berlin", "CC-BY-4.0", "2025-08-01T00:00:00Z", None)
    ]
    assert rows(catalog, "SELECT device_id, alias, source_row FROM device_alias") == [
        ("tessarik-shale-2", "Shale-2 EU", 7)
    ]


def test_raw_files_are_kept_byte_for_byte(write_batch, catalog):
    folder = write_batch(runs_csv=RUNS)
    enter_batch(folder, into=catalog, now=NOW)
    kept = dict(rows(catalog, "SELECT f.path, c.deflated FROM raw_file AS f JOIN raw_content AS c USING (sha256)"))
    assert sorted(kept) == ["batch.toml", "runs.csv"]
    for name, deflated in kept.items():
        assert zlib.decompress(deflated) == (folder / name).read_bytes()
    hashes = dict(rows(catalog, "SELECT path, sha256 FROM raw_file"))
    assert hashes["runs.csv"] == hashlib.sha256(RUNS.encode()).hexdigest()


NINE_FAULTS = """\
when,spot,level_dbm,repeat,throughput (Mbit/s),firmware,direction,outcome,device
2025-05-12 14:00,,-50,1,700,7.10,down,,tessarik-shale-2
2025-05-12 14:01,,50,2,700,7.10,down,,tessarik-shale-2
2025-05-12 14:02,,-50,3,lots,7.10,down,,tessarik-shale-2
2025-05-12 14:03,,-50,4,700,7.1,down,,tessarik-shale-2
03/04/2025 14:04,,-50,5,700,7.10,down,,tessarik-shale-2
2025-05-12 14:05,,-50,6,700,7.10,sideways,,tessarik-shale-2
2025-05-12 14:06,,-50,7,,7.10,down,,tessarik-shale-2
2025-05-12 14:07,,,8,700,7.10,down,,tessarik-shale-2
2025-05-12 14:08,,-50,9,700,7.10,down,,tessarik-shal-2
2025-05-12 14:09,,-50,10,9000,7.10,down,,tessarik-shale-2
"""


def test_nine_faults_are_listed_in_one_pass_and_nothing_is_written(write_batch, catalog):
    enter_batch(write_batch("good", runs_csv=RUNS), into=catalog, now=NOW)
    before = dump(catalog)
    folder = write_batch("bad", runs_csv=NINE_FAULTS)
    (folder / "batch.toml").write_text((folder / "batch.toml").read_text().replace('"first"', '"second"'))
    with pytest.raises(BatchRefused) as refusal:
        enter_batch(folder, into=catalog, now=NOW)
    assert [(problem.row, problem.column, problem.code) for problem in refusal.value.problems] == [
        (3, "level_dbm", "level-positive"),
        (4, "throughput (Mbit/s)", "not-a-number"),
        (5, "firmware", "lost-zero"),
        (6, "when", "two-dates"),
        (7, "direction", "unknown-word"),
        (8, "throughput (Mbit/s)", "blank"),
        (9, "spot", "no-place"),
        (10, "device", "unknown-device"),
        (11, "throughput (Mbit/s)", "above-phy"),
    ]
    for problem in refusal.value.problems:  # plain language: every one says more than its code
        assert len(str(problem)) > 60
        assert problem.code not in str(problem).replace(f'cause = "{problem.code}"', "")
    assert dump(catalog) == before


def test_the_report_as_json(write_batch):
    folder = write_batch(runs_csv="attenuation_db,repeat,throughput_mbit_s,level\n60,1,700,54\n")
    document = check_batch(folder, catalog=None).to_json()
    assert document == {
        "batch": "first",
        "rows_read": 1,
        "rows_planned": 0,
        "rows_new": 0,
        "problems": [
            {
                "table": "runs.csv",
                "row": 2,
                "column": "level",
                "value": "54",
                "expected": "54 is positive. A received level is below 0 dBm. Did you mean -54?",
                "remedy": "Correct the cell. Answer it in answers.toml: "
                'cause = "level-positive", table = "runs", row = 2, means = "nothing heard".',
                "code": "level-positive",
                "file": "runs.csv",
                "sheet": None,
                "cell": "D2",
            }
        ],
        "causes": [
            {
                "code": "level-positive",
                "count": 1,
                "following": 0,
                "places": [
                    {
                        "table": "runs.csv",
                        "row": 2,
                        "column": "level",
                        "value": "54",
                        "file": "runs.csv",
                        "sheet": None,
                        "cell": "D2",
                    }
                ],
                "sentence": "54 is positive. A received level is below 0 dBm. Did you mean -54?",
                "remedy": "Correct the cell.",
                "answer": 'cause = "level-positive", table = "runs", column = "level", means = "nothing heard"',
            }
        ],
        "warnings": [],
        "repairs": {},
        "already_entered": None,
    }


# --- The same thing again ---------------------------------------------------------------------------------


def test_the_same_folder_again_changes_nothing(write_batch, catalog):
    folder = write_batch(runs_csv=RUNS)
    enter_batch(folder, into=catalog, now=NOW)
    before = catalog.read_bytes()
    again = enter_batch(folder, into=catalog, now=NOW)
    assert (again.already_entered, again.rows_new, again.rows_read) == ("first", 0, 4)
    assert catalog.read_bytes() == before
    assert check_batch(folder, catalog=open_catalog(catalog, readonly=True)).rows_new == 0


def test_known_rows_are_skipped_and_new_ones_entered(write_batch, catalog):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    more = write_batch("more", runs_csv=RUNS + "2025-05-12 14:05,80,1,98,\n")
    text = (more / "batch.toml").read_text()
    with pytest.raises(BatchRefused, match="is in the catalogue already, and this one holds something else"):
        enter_batch(more, into=catalog, now=NOW)
    (more / "batch.toml").write_text(text.replace('id = "first"', 'id = "second"'))
    report = enter_batch(more, into=catalog, now=NOW)
    assert (report.rows_read, report.rows_new) == (5, 1)
    assert rows(catalog, "SELECT batch_id, attenuation_db FROM run ORDER BY run_id DESC LIMIT 1") == [("second", 80.0)]
    # The rows that came again are remembered, with where they came first.
    assert rows(
        catalog, "SELECT source_row, first_batch, first_row FROM row_again WHERE table_name = 'run' ORDER BY source_row"
    ) == [(2, "first", 2), (3, "first", 3), (4, "first", 4), (5, "first", 5)]


@pytest.mark.parametrize(
    ("was", "now", "sentence"),
    [
        ("712.5,door", "713.5,door", "rep 2 is 712.5 in the catalogue; use a correction"),
        ("14:01,60", "14:31,60", "when of rep 2 is 2025-05-12T12:01:00Z in the catalogue; use a correction"),
        ("did not finish", "aborted", "outcome of rep 3 is did not finish in the catalogue; use a correction"),
        ("did not finish", "690", "rep 3 is did not finish in the catalogue; use a correction"),
    ],
)
def test_another_value_under_the_same_key_needs_a_correction(write_batch, catalog, was, now, sentence):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    changed = write_batch("changed", runs_csv=RUNS.replace(was, now))
    (problem,) = check_batch(changed, catalog=open_catalog(catalog, readonly=True)).problems
    assert sentence in str(problem)


def test_an_equal_value_with_another_repeat_is_a_run_of_its_own(write_batch, catalog):
    csv = "when,attenuation_db,repeat,throughput_mbit_s\n2025-05-12 14:00,60,1,700\n2025-05-12 14:01,60,2,700\n"
    assert enter_batch(write_batch(runs_csv=csv), into=catalog, now=NOW).rows_new == 2


def test_two_rows_of_one_key_in_one_batch(write_batch):
    csv = "attenuation_db,repeat,throughput_mbit_s,note\n60,1,700,a\n60,1,700,b\n60,1,710,c\n"
    report = check_batch(write_batch(runs_csv=csv), catalog=None)
    (same,) = report.warnings
    assert (same.row, same.code) == (3, "same-row")
    (other,) = report.problems
    assert "runs.csv row 2 is rep 1 of the same thing, with another throughput" in str(other)


def test_a_log_that_changed_under_its_name_is_noticed(write_batch, catalog):
    csv = "attenuation_db,repeat,throughput_mbit_s,log\n60,1,700,logs/a.csv\n"
    folder = write_batch(runs_csv=csv, logs__a_csv="t_s,mbit_s\n0,700\n1,700\n")
    enter_batch(folder, into=catalog, now=NOW)
    (folder / "logs" / "a.csv").write_text("t_s,mbit_s\n0,699\n1,701\n")
    with pytest.raises(BatchRefused, match="differs from the one that was entered with first"):
        enter_batch(folder, into=catalog, now=NOW)


# --- Things ------------------------------------------------------------------------------------------------

LATER = """\
format = 1
id = "later"
title = "Later"
licence = "CC-BY-4.0"

[[device]]
id = "tessarik-shale-2"
aliases = ["Shale Two"]
  [[device.port]]
  name = "second"
  speed_mbit_s = 1000
  [[device.unit]]
  id = "B"
  origin = "loaned"
  [[device.firmware]]
  version = "7.20"

[[client]]
id = "wrenlet-u2"
  [[client.driver]]
  version = "3.11"
  [[client.driver]]
  version = "3.12"
  [[client.ceiling]]
  band = "5"
  width_mhz = 80
  direction = "down"
  run = "first/runs/3"
"""


def test_a_later_batch_adds_to_what_is_known(write_batch, catalog):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    enter_batch(write_batch("later", toml=LATER), into=catalog, now=NOW)
    assert rows(catalog, "SELECT alias FROM device_alias ORDER BY alias") == [("Shale Two",), ("Shale-2 EU",)]
    assert rows(catalog, "SELECT unit_id, batch_id FROM unit ORDER BY unit_id") == [("A", "first"), ("B", "later")]
    assert rows(catalog, "SELECT version FROM firmware ORDER BY version") == [("7.10",), ("7.20",)]
    assert rows(catalog, "SELECT name FROM device_port ORDER BY name") == [("LAN",), ("second",)]
    # The first driver continues the client's series, a later one starts its own.
    assert rows(catalog, "SELECT version, series FROM client_driver ORDER BY version") == [
        ("3.11", "wrenlet-u2"),
        ("3.12", "wrenlet-u2 3.12"),
    ]
    evidence = "SELECT r.throughput_mbit_s FROM ceiling AS c JOIN run AS r USING (run_id)"
    assert rows(catalog, evidence) == [(712.5,)]


def test_other_values_of_a_known_thing_need_a_correction(write_batch, catalog):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    folder = write_batch("later", toml=LATER.replace("aliases", 'model = "Shale II"\naliases'))
    (problem,) = check_batch(folder, catalog=open_catalog(catalog, readonly=True)).problems
    assert str(problem) == (
        "batch.toml line 8, column \"model\": The device tessarik-shale-2: model is 'Shale 2' in the catalogue. "
        "Use a correction."
    )


def test_a_hidden_batch_can_be_repeated_by_another(write_batch, catalog):
    """Undoing the batch in which rows came first leaves them to the batch that says them too."""
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    second = write_batch("second", runs_csv=RUNS + "2025-05-12 14:05,80,1,98,\n")
    (second / "batch.toml").write_text((second / "batch.toml").read_text().replace('"first"', '"second"'))
    enter_batch(second, into=catalog, now=NOW)
    undo_batch("first", catalog=open_catalog(catalog, readonly=False))
    assert rows(catalog, "SELECT DISTINCT batch_id, count(*) FROM run GROUP BY batch_id") == [("second", 5)]
    assert rows(catalog, "SELECT batch_id FROM device") == [("second",)]
    assert rows(catalog, "SELECT count(*) FROM row_again") == [(0,)]
    assert rows(catalog, "PRAGMA foreign_key_check") == []


# --- Undo --------------------------------------------------------------------------------------------------

FULL = """
[method]
session_spread = 0.02

[[workload]]
id = "talk"
title = "A call"
duration_s = 60
  [[workload.role]]
  id = "call"
  kind = "voice"

[[article]]
id = "review"
title = "A review"
published = "2025-06-01T10:00:00+02:00"
file = "articles/review.md"
devices = ["tessarik-shale-2"]
"""


def test_after_undo_the_catalogue_is_as_before(write_batch, catalog):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    before = dump(catalog)
    folder = write_batch(
        "second",
        more=FULL,
        spots_csv="house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\nhouse-a,S1,5,2025-05-01,20,-50\n",
        runs_csv="spot,repeat,throughput_mbit_s,log,colour\nS1,1,500,logs/a.csv,green\n",
        stations_csv="mix,workload,when,device,firmware,client,session,role,band,planned_s,outcome,log\n"
        "m1,talk,2025-05-12 15:00,tessarik-shale-2,7.10,wrenlet-u2,day-1,call,5,60,finished,logs/call.csv\n",
        articles__review="",
        logs__a_csv="t_s,mbit_s\n0,499\n1,501\n",
        logs__call_csv="t_s,ms,outcome\n0,20,finished\n0.02,25,finished\n",
    )
    (folder / "articles" / "review").rename(folder / "articles" / "review.md")
    (folder / "articles" / "review.md").write_text("Quiet and quick.")
    (folder / "batch.toml").write_text((folder / "batch.toml").read_text().replace('"first"', '"second"'))
    report = enter_batch(folder, into=catalog, now=NOW)
    assert report.rows_new == 3
    for table in ("epoch", "station", "series", "digest", "article", "article_device", "workload_role", "extra"):
        assert rows(catalog, f"SELECT count(*) > 0 FROM {table}") == [(1,)], table
    undo_batch("second", catalog=open_catalog(catalog, readonly=False))
    assert dump(catalog) == before


def test_undo_is_refused_once_published(write_batch, catalog):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    db = open_catalog(catalog, readonly=False)
    db.execute("UPDATE batch SET published_utc = '2025-08-02T00:00:00Z'")
    with pytest.raises(InputRefused, match="was published at 2025-08-02T00:00:00Z"):
        undo_batch("first", catalog=db)
    assert db.execute("SELECT count(*) FROM run").fetchone() == (4,)


def test_undo_is_refused_while_another_batch_rests_on_it(write_batch, catalog):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    enter_batch(write_batch("later", toml=LATER), into=catalog, now=NOW)
    before = dump(catalog)
    with pytest.raises(InputRefused, match=r"first holds what other batches rest on: later \(a .*Undo them first"):
        undo_batch("first", catalog=open_catalog(catalog, readonly=False))
    assert dump(catalog) == before


def test_undo_of_a_batch_nobody_entered(catalog):
    create_catalog(catalog).close()
    with pytest.raises(UnknownName, match="no batch 'nothing'"):
        undo_batch("nothing", catalog=open_catalog(catalog, readonly=False))


# --- Bad input ---------------------------------------------------------------------------------------------


def test_a_failed_first_entry_leaves_no_file_behind(write_batch, tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    with pytest.raises(BatchRefused):
        enter_batch(write_batch(runs_csv=NINE_FAULTS), into=home / "catalog.db", now=NOW)
    assert list(home.iterdir()) == []


def test_no_batch_there(tmp_path):
    with pytest.raises(InputRefused, match="does not exist"):
        check_batch(tmp_path / "nowhere", catalog=None)
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputRefused, match="is a file"):
        check_batch(tmp_path / "file", catalog=None)
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputRefused, match="is empty"):
        check_batch(tmp_path / "empty", catalog=None)
    (tmp_path / "empty" / "runs.csv").write_text("repeat\n1\n")
    with pytest.raises(InputRefused, match=r"There is no batch\.toml in"):
        check_batch(tmp_path / "empty", catalog=None)


@pytest.mark.parametrize(
    ("text", "line", "sentence"),
    [
        ("format = 1\nid = \n", 2, "not valid TOML"),
        ('format = 1\nid = "a"\nid = "b"\n', 3, "not valid TOML"),
    ],
)
def test_broken_toml_names_its_line(tmp_path, text, line, sentence):
    (tmp_path / "batch.toml").write_text(text)
    with pytest.raises(BatchRefused, match=sentence) as refusal:
        check_batch(tmp_path, catalog=None)
    (problem,) = refusal.value.problems
    assert (problem.table, problem.row) == ("batch.toml", line)


def test_a_binary_file_under_the_name_of_a_table(write_batch):
    folder = write_batch(runs_csv=b"\x7fELF\x02\x01\x01\x00\x00\x00" + bytes(range(256)))
    (problem,) = check_batch(folder, catalog=None).problems
    assert str(problem) == "runs.csv row 1: The file holds bytes that no text file has. Save the table as CSV text."


@pytest.mark.parametrize("path", ["../secret.csv", "/etc/passwd", "logs/../../secret.csv", "logs\\a.csv"])
def test_a_log_outside_the_batch_is_refused(write_batch, path):
    csv = f"attenuation_db,repeat,throughput_mbit_s,log\n60,1,700,{path}\n"
    (problem,) = check_batch(write_batch(runs_csv=csv), catalog=None).problems
    assert problem.code == "file"
    assert "leaves the batch" in str(problem)


def test_a_link_out_of_the_batch_is_refused(write_batch, tmp_path):
    (tmp_path / "secret.csv").write_text("t_s,mbit_s\n0,700\n")
    csv = "attenuation_db,repeat,throughput_mbit_s,log\n60,1,700,logs/a.csv\n"
    folder = write_batch(runs_csv=csv)
    (folder / "logs").mkdir()
    (folder / "logs" / "a.csv").symlink_to(tmp_path / "secret.csv")
    (folder / "spots.csv").symlink_to(tmp_path / "secret.csv")
    problems = check_batch(folder, catalog=None).problems
    assert [problem.table for problem in problems] == ["spots.csv", "runs.csv"]
    assert all("is a link that leaves the batch folder" in str(problem) for problem in problems)


def test_a_catalogue_that_cannot_be_made(write_batch, tmp_path):
    folder = write_batch(runs_csv=RUNS)
    with pytest.raises(CatalogUnusable, match="does not exist, so no catalogue can be made in it"):
        enter_batch(folder, into=tmp_path / "nowhere" / "catalog.db", now=NOW)
    (tmp_path / "other.db").write_bytes(b"not a database at all" * 100)
    with pytest.raises(CatalogUnusable, match="is not a catalogue, or it is damaged"):
        enter_batch(folder, into=tmp_path / "other.db", now=NOW)
    with pytest.raises(CatalogUnusable, match="There is no catalogue at"):
        enter_batch(folder, into=tmp_path, now=NOW)


def test_a_catalogue_that_someone_else_writes(write_batch, catalog, monkeypatch):
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)

    def impatient(path, *, readonly):
        db = open_catalog(path, readonly=readonly)
        db.execute("PRAGMA busy_timeout = 50")
        return db

    monkeypatch.setattr("catalog.entering.open_catalog", impatient)
    other = sqlite3.connect(catalog, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(WriteRefused, match="another program is writing to it"):
        enter_batch(write_batch("later", toml=LATER), into=catalog, now=NOW)
    other.execute("ROLLBACK")
    other.close()


def test_killed_at_any_moment_the_catalogue_is_whole(write_batch, catalog):
    """A writer that is killed leaves either all of its batch or nothing of it."""
    enter_batch(write_batch(runs_csv=RUNS), into=catalog, now=NOW)
    before = rows(catalog, "SELECT count(*) FROM run")
    many = "when,attenuation_db,repeat,throughput_mbit_s\n" + "".join(
        f"2025-05-12 {15 + n // 3600:02}:{n // 60 % 60:02}:{n % 60:02},{20 + n % 100},{n // 100 + 1},{500 + n % 7}\n"
        for n in range(3000)
    )
    folder = write_batch("many", runs_csv=many)
    (folder / "batch.toml").write_text((folder / "batch.toml").read_text().replace('"first"', '"many"'))
    program = (
        "import sys, datetime, pathlib; from catalog.entering import enter_batch; print('ready', flush=True); "
        "now = datetime.datetime.now(datetime.UTC); folder, catalog = map(pathlib.Path, sys.argv[1:]); "
        "enter_batch(folder, into=catalog, now=now)"
    )
    root = Path(__file__).parents[2]
    for delay in (0.05, 0.3, 0.5, 0.7):
        child = subprocess.Popen(
            [sys.executable, "-c", program, str(folder), str(catalog)],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": str(root)},
        )
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(delay)
        child.send_signal(signal.SIGKILL)
        child.wait()
        child.stdout.close()
        db = open_catalog(catalog, readonly=False)
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        count = db.execute("SELECT count(*) FROM run").fetchone()[0]
        entered = db.execute("SELECT count(*) FROM batch WHERE batch_id = 'many'").fetchone()[0]
        assert count == before[0][0] + (3000 if entered else 0)
        db.close()
        if entered:
            break


@pytest.mark.parametrize(
    "text, line, sentence",
    [
        ("format = 1\nx = " + "[" * 400 + "]" * 400, 1, "Tables and lists lie more than 30 deep"),
        ("format = 1\nx = " + "[" * 100_000, 1, "Tables and lists lie more than 30 deep"),
        ("format = 1\na" + ".a" * 2_000_000 + " = 1", 2, "Tables and lists lie more than 30 deep"),
        ("format = 1\nx = " + "9" * 5000, 2, "A number is too long"),
        ("format = 1\nx = [0x" + "f" * 16 + "]", 2, "A number is too long"),
    ],
)  # the third would keep the standard reader busy for days
def test_toml_that_only_an_attacker_writes_is_refused_at_once(tmp_path, text, line, sentence):
    (tmp_path / "batch.toml").write_text(text)
    with pytest.raises(BatchRefused) as refused:
        check_batch(tmp_path, catalog=None)
    (problem,) = refused.value.problems
    assert problem.row == line
    assert sentence.casefold() in problem.expected.casefold()


def test_a_file_name_that_is_no_text_is_refused_in_words(write_batch):
    folder = write_batch("odd", runs_csv="attenuation_db,repeat,Mbit/s\n50,1,800\n")
    (folder / os.fsdecode(b"M\xe4rz.csv")).write_text("x\n")
    with pytest.raises(InputRefused, match=r"The name of the file 'M\ufffdrz\.csv' in the batch is not UTF-8 text"):
        check_batch(folder, catalog=None)
