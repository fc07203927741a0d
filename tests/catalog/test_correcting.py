"""Corrections: what changes, what is kept, what follows, and what is refused."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import openpyxl
import pytest
from PIL import Image

from catalog import queries
from catalog.connection import open_catalog
from catalog.correcting import CorrectionReport, correct_file
from catalog.entering import enter_batch
from catalog.errors import BatchRefused, InputRefused
from tests.batches import EMBARGO, device, things

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
HEADER = "table,key,column,was,now,reason,noticed_by,date\n"
FIRST = "device=tessarik-shale-2; session=day-1; repeat=1"


@pytest.fixture
def db(shale):
    catalog = open_catalog(shale, readonly=False)
    yield catalog
    catalog.close()


@pytest.fixture
def correct(tmp_path, db):
    """Apply lines "table|key|column|was|now" as a file of corrections."""

    def applied(*lines, name="corrections.csv", reason="mistyped"):
        path = tmp_path / name
        rows = ["|".join([line, reason, "a reader", "2025-06-30"]).replace("|", ",") for line in lines]
        path.write_text(HEADER + "\n".join(rows) + "\n", encoding="utf-8")
        return correct_file(path, catalog=db, now=NOW)

    return applied


def refused(correct, *lines):
    with pytest.raises(BatchRefused) as refusal:
        correct(*lines)
    return refusal.value.problems


def test_the_row_shows_the_new_value_and_the_ledger_the_old_one(correct, db):
    # Story 6: "was 1024, now 824" with reason, who noticed, and the run it concerns.
    assert correct(f"runs|{FIRST}|throughput|812.5|821.5") == CorrectionReport("corrections.csv", 1, 0)
    (run,) = (r for r in queries.runs(db) if r.session == "day-1" and r.repeat == 1)
    assert (run.throughput_mbit_s, run.throughput_typed, run.source_row) == (821.5, "821.5", 2)
    (note,) = queries.corrections(db)
    assert (note.table, note.column, note.was, note.now) == ("runs", "throughput", "812.5", "821.5")
    assert (note.reason, note.noticed_by, note.date) == ("mistyped", "a reader", "2025-06-30")
    assert (note.device, note.run_id) == ("tessarik-shale-2", run.run_id)
    assert (note.batch_id, note.source_file, note.source_row) == ("first", "runs.csv", 2)


def test_the_same_file_and_the_same_line_again_change_nothing(correct, db):
    line = f"runs|{FIRST}|throughput|812.5|821.5"
    correct(line)
    before = list(db.conn.iterdump())
    assert correct(line) == CorrectionReport("corrections.csv", 0, 1)
    assert correct(line, line, name="again.csv") == CorrectionReport("again.csv", 0, 2)
    assert list(db.conn.iterdump()) == before
    report = correct(line, f"runs|{FIRST}|level_dbm|-54|-55", name="more.csv")
    assert report == CorrectionReport("more.csv", 1, 1)


def test_values_are_compared_in_the_columns_type(correct, db):
    correct(
        f"runs|{FIRST}|throughput|0.8125 Gbit/s|100 MB/s",
        f"runs|{FIRST}|when|2025-05-12T08:00:00Z|2025-05-12 10:30",
        "device|id=tessarik-shale-2|revision|1.0|1.10",
        "device.port|device=Shale 2; name=LAN|speed_mbit_s|2500.0|1000",
        "device.firmware|device=tessarik-shale-2; version=7.11|public|true|false",
    )
    (run,) = (r for r in queries.runs(db) if r.session == "day-1" and r.repeat == 1)
    assert (run.throughput_mbit_s, run.at_utc) == (800.0, "2025-05-12T08:30:00Z")
    (device,) = queries.devices(db)
    assert device.revision == "1.10"
    assert device.ports[0].speed_mbit_s == 1000.0
    assert [f.public for f in device.firmware] == [True, False]


def test_a_value_may_go_and_an_outcome_come(correct, db):
    correct(
        f"runs|{FIRST}|throughput|812.5|DNF",
        f"runs|{FIRST}|level_dbm|-54|",
        "runs|batch=first; file=runs.csv; row=4|throughput||640",
        "runs|batch=first; file=runs.csv; row=4|outcome|did not finish|finished",
    )
    found = {r.source_row: (r.outcome, r.throughput_mbit_s, r.level_dbm) for r in queries.runs(db)}
    assert found[2] == ("did not finish", None, None)
    assert found[4][:2] == ("finished", 640.0)


def test_a_rename_keeps_the_id_and_the_old_name_is_still_found(correct, db, batch_folder, shale):
    correct("device|id=tessarik-shale-2|model|Shale 2|Shale II", "session|id=day-1|note||windows open")
    (device,) = queries.devices(db)
    assert (device.device_id, device.model, device.aliases) == ("tessarik-shale-2", "Shale II", ("Shale 2",))
    assert queries.sessions(db)[0].note == "windows open"
    row = "2025-06-12 11:00,Shale 2,7.10,wrenlet-u2,day-2,5,80,down,S2,-70,1,300\n"
    header = "when,device,firmware,client,session,band,width_mhz,direction,spot,level_dbm,repeat,throughput_mbit_s\n"
    assert enter_batch(batch_folder("second", "", {"runs.csv": header + row}), into=shale, now=NOW).rows_new == 1


def test_embargoes_move_as_text_with_their_zone(correct, db, batch_folder, shale):
    hidden = things(device=[device("tessarik-cairn", embargo=EMBARGO)])
    enter_batch(batch_folder("cairn", hidden), into=shale, now=NOW)
    key = "device.embargo|device=tessarik-cairn"
    (problem,) = refused(correct, f"{key}|until|2025-06-10T09:00 America/New_York|2025-06-11T09:00")
    assert "has no zone" in problem.expected
    # 09:00 in New York in June is 13:00 UTC, 15:00 in Berlin (story 9).
    correct(
        f"{key}|until|2025-06-10T15:00+02:00|2025-06-10T18:00 Europe/Berlin",
        f"{key}|covers|existence|results",
    )
    (embargo,) = queries.embargoes(db)
    assert (embargo.until_utc, embargo.until_typed) == ("2025-06-10T16:00:00Z", "2025-06-10T18:00 Europe/Berlin")
    assert embargo.covers == "results"


def test_a_corrected_reading_makes_its_epoch_anew(correct, db):
    # Entry E16 of the job analysis: EIRP 20 and readings -48 -49 -50 -49 -52 make 69.6 dB, s 1.5.
    before = queries.epochs(db)
    assert before[0].attenuation_db == pytest.approx(69.6)
    assert before[0].readings_sd_db == pytest.approx(1.5, abs=0.02)
    key = "spots|house=house-a; spot=S1; band=5; valid_from=2025-01-01; reading_number=5"
    correct(f"{key}|reading_dbm|-52|-49")
    after = queries.epochs(db)
    assert after[0].attenuation_db == pytest.approx(69.0)  # (68 + 69 + 70 + 69 + 69) / 5
    assert after[1:] == before[1:]
    assert [r.attenuation_db for r in queries.runs(db) if r.session == "day-1"] == pytest.approx([69.0] * 3)


def test_an_epoch_moves_as_a_whole_and_results_follow(correct, db):
    key = "spots|house=house-a; spot=S1; band=5"
    (problem,) = refused(correct, f"{key}; valid_from=2025-01-01; reading_number=1|valid_from|2025-01-01|2025-02-01")
    assert "move to another day together" in problem.expected
    assert [r.spot_since for r in queries.runs(db) if r.session == "day-2"] == ["2025-06-01"]
    correct(f"{key}; valid_from=2025-06-01|valid_from|2025-06-01|2025-05-01")
    assert {r.spot_since for r in queries.runs(db)} == {"2025-05-01"}
    assert [e.valid_from for e in queries.epochs(db) if e.spot == "S1"] == ["2025-01-01", "2025-05-01"]


def test_a_session_on_another_day_gets_that_days_attenuation(correct, db):
    correct("session|id=day-2|date|2025-06-12|2025-05-12")
    assert {r.spot_since for r in queries.runs(db)} == {"2025-01-01"}
    (problem, *_) = refused(correct, "session|id=day-2|date|2025-05-12|2024-12-31")
    assert "no 5 GHz reading before 2025-01-01" in problem.expected


def test_a_run_at_another_spot_gets_its_attenuation(correct, db):
    correct(f"runs|{FIRST}|spot|S1|S2")
    (run,) = (r for r in queries.runs(db) if r.spot == "S2")
    assert run.attenuation_db == 80.0


def test_two_rows_may_change_places(correct, db):
    rows = "runs|batch=first; file=runs.csv; row={}|repeat|{}|{}"
    correct(rows.format(2, 1, 2), rows.format(3, 2, 1))
    assert {r.source_row: r.repeat for r in queries.runs(db)} == {2: 2, 3: 1, 4: 3, 5: 1}


def test_a_changed_target_counts_on_time_anew(correct, db, batch_folder, shale):
    more = """
[[workload]]
id = "office"
title = "Office"
duration_s = 600
  [[workload.role]]
  id = "pages-1"
  kind = "pages"
  target_ms = 1000
"""
    stations = (
        "mix,workload,when,device,firmware,client,session,role,band,planned_s,outcome,log\n"
        "mix-1,office,2025-06-12 12:00,Shale 2,7.10,wrenlet-u2,day-2,pages-1,5,600,finished,pages.csv\n"
    )
    log = "t_s,ms,outcome\n0,300,finished\n10,800,finished\n20,2400,finished\n30,,failed\n"
    enter_batch(batch_folder("mix", more, {"stations.csv": stations, "pages.csv": log}), into=shale, now=NOW)
    ((_, figures),) = queries.digests(db).items()
    assert (figures["on_time"], figures["planned"]) == (2, 4)  # 300 and 800 ms
    correct(
        "workload.role|workload=office; version=1; id=pages-1|target_ms|1000|500",
        "stations|mix=mix-1|planned_requests||6",
    )
    ((_, figures),) = queries.digests(db).items()
    assert (figures["on_time"], figures["planned"]) == (1, 6)


def test_a_picture_is_replaced_under_its_name_and_a_text_too(correct, db, batch_folder, shale, tmp_path):
    more = """
[[article]]
id = "review"
title = "Shale 2"
published = "2025-06-10T15:00:00+02:00"
file = "review.md"
devices = ["tessarik-shale-2"]
[[image]]
file = "inside.png"
device = "tessarik-shale-2"
kind = "teardown"
alt = "Main board"
"""
    stream = io.BytesIO()
    Image.new("RGB", (4, 3)).save(stream, "PNG")
    png = stream.getvalue()  # what follows the last block is not looked at
    enter_batch(batch_folder("texts", more, {"review.md": "Old.", "inside.png": png + b"serial"}), into=shale, now=NOW)
    (tmp_path / "review-2.md").write_text("New.", encoding="utf-8")
    lines = ("image|file=inside.png|file|inside.png|inside.png", "article|id=review|file|review.md|review-2.md")
    (problem,) = refused(correct, *lines)
    assert "There is no file 'inside.png'" in problem.expected
    (tmp_path / "inside.png").write_bytes(png + b"no serial")
    correct(*lines)
    (article,), (image,) = queries.articles(db), queries.images(db)
    assert (article.text, article.path) == ("New.", "review-2.md")
    assert queries.raw_content(db, image.sha256) == png + b"no serial"
    (problem,) = refused(correct, lines[0])
    assert problem.expected == "was and now are the same."


def test_every_problem_in_one_pass_and_nothing_written(correct, db):
    before = list(db.conn.iterdump())
    problems = refused(
        correct,
        f"runs|{FIRST}|throughput|812.5|821.5",
        f"rnus|{FIRST}|throughput|812.5|821.5",
        f"runs|{FIRST}|thruput|812.5|821.5",
        "runs|device=tessarik-shale-2|throughput|812.5|821.5",
        "runs|session=day-9|throughput|812.5|821.5",
        "runs|session=day-2|throughput|812.5|821.5",
        "runs|session=day-2|firmware|7.10|7.1",
        f"runs|{FIRST}|level_dbm|-54|54",
        f"runs|{FIRST}|repeat|1|2",
        "device|id=tessarik-shale-2|id|tessarik-shale-2|shale",
        "house|id=house-a|reference_device|tessarik-shale-2|nobody",
    )
    assert [(p.row, p.column, p.code) for p in problems] == [
        (3, "table", "unknown-table"),
        (4, "column", "unknown-column"),
        (5, "key", "several-rows"),
        (6, "key", "no-such-row"),
        (7, "was", "was-differs"),
        (8, "now", "lost-zero"),
        (9, "now", "level-positive"),
        (10, "now", "key-twice"),
        (11, "column", "fixed"),
    ]
    texts = [str(p) for p in problems]
    assert texts[0].startswith("corrections.csv row 3, column \"table\": There is no table 'rnus'. Did you mean runs?")
    assert "throughput is 700 in the catalogue, not 812.5." in texts[4]
    assert "An id never changes." in texts[8]
    assert list(db.conn.iterdump()) == before
    (problem,) = refused(correct, "house|id=house-a|reference_device|tessarik-shale-2|nobody")
    assert "would name a device that is not there" in problem.expected


@pytest.mark.parametrize(
    ("content", "column", "text"),
    [
        ("table,key,column,was,now,reason,noticed_by\nruns,a=1,b,1,2,r,n\n", "date", "The column date is missing."),
        (HEADER + "runs,repeat,throughput,1,2,r,n,2025-06-30\n", "key", "'repeat' is no key."),
        (HEADER + "runs,repeat=1,throughput,1,2,,n,2025-06-30\n", "reason", "The cell is empty."),
        (HEADER + "runs,repeat=1,throughput,1,2,r,n,03/04/2025\n", "date", "can be 3 April or 4 March"),
        (HEADER + "runs,repeat=1,throughput,1,2,r,n,2025-08-01\n", "date", "has not come yet"),
    ],
)
def test_a_line_that_cannot_be_read_is_named(tmp_path, db, content, column, text):
    path = tmp_path / "corrections.csv"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(BatchRefused) as refusal:
        correct_file(path, catalog=db, now=NOW)
    assert [p.column for p in refusal.value.problems] == [column]
    assert text in str(refusal.value)


def corrections_book(tmp_path, *cells, hidden=False):
    book = openpyxl.Workbook()
    book.active.append(HEADER.strip().split(","))
    book.active.append([*cells, "mistyped", "a reader", "2025-06-30"])
    book.active.row_dimensions[2].hidden = hidden
    book.save(tmp_path / "corrections.xlsx")
    return tmp_path / "corrections.xlsx"


@pytest.mark.parametrize(
    ("now", "hidden", "code", "words"),
    [
        (1.1, False, "number-for-text", "sheet Sheet, E2 holds the number 1.1. Format the cell as text."),
        ("=1+1", False, "no-stored-value", "Sheet Sheet, E2 holds a formula without a stored value."),
        ("1\u200b.1", False, "odd-characters", "U+200B (zero width space)"),
        ("1.1", True, "hidden-rows", "Parts of the workbook are hidden or filtered out. Unhide or delete them."),
    ],
)
def test_what_a_spreadsheet_hides_or_loses_corrects_nothing(tmp_path, db, now, hidden, code, words):
    path = corrections_book(tmp_path, "device", "id=tessarik-shale-2", "revision", "1.0", now, hidden=hidden)
    with pytest.raises(BatchRefused) as refusal:
        correct_file(path, catalog=db, now=NOW)
    (problem,) = refusal.value.problems
    assert (problem.code, problem.row) == (code, 2)
    assert words in str(problem)


def test_a_correction_in_a_workbook_that_holds_text_is_applied(tmp_path, db):
    path = corrections_book(tmp_path, "device", "id=tessarik-shale-2", "revision", "1.0", "1.10")
    assert correct_file(path, catalog=db, now=NOW).applied == 1


def test_there_must_be_a_file(tmp_path, db):
    with pytest.raises(InputRefused, match="There is no file"):
        correct_file(tmp_path / "none.csv", catalog=db, now=NOW)
