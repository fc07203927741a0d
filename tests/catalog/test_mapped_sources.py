"""A cross table beside a workbook that is a batch, read by map as one of two sources of its runs.

From the marked copy to the trace of a cell, its correction and withdrawal, and the export that enters again.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog import queries
from catalog.connection import open_catalog
from catalog.entering import check_batch
from catalog.problems import causes_of
from catalog.records.origins import row_id
from catalog.row_numbers import place_text
from tests import sheets
from tests.batches import batch_at, batch_toml
from tests.workbooks import bench, workbook, xlsx

AS_OF = "2026-01-01T00:00Z"
CROSS = [
    ["Loss", "Laptop", None],
    ["dB", "Down", "Up"],
    [65, 700, 650],
    [75, 600, 555],
]
MAP = """kind = "runs"
sheet = "5 GHz"
heading = [1, 2]
[column.attenuation_db]
from = "Loss"
[column.client]
heading_row = 1
words = { "Laptop" = "wrenlet-u2" }
[column.direction]
heading_row = 2
[column.throughput]
cells = "rest"
unit = "Mbit/s"
[column.when]
constant = "2025-05-12 12:00"
[column.device]
constant = "Shale 2"
[column.firmware]
constant = "7.10"
[column.session]
constant = "day-1"
[column.repeat]
constant = 1
"""
IDS = [
    f"2025-05-shale-2/{name}" for name in ("old5/3.B", "old5/3.C", "old5/4.B", "old5/4.C", "runs/2", "runs/3", "runs/4")
]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder with bench.xlsx, whose runs are its own sheet and old/2019.xlsx; cells of that change by name."""
    monkeypatch.chdir(tmp_path)

    def made(**cells):
        listed = bench()
        listed["Batch"].append(["tables.runs", "Runs; old5:old/2019.xlsx"])
        book = openpyxl.load_workbook(sheets.stream(sheets.xlsx(CROSS, title="5 GHz", merged=["B1:C1"])))
        for name, value in cells.items():
            book.active[name] = value
        book.create_sheet("Sketches")["A1"] = "left alone"
        files = {"bench.xlsx": xlsx(listed), "maps/old5.toml": MAP, "old/2019.xlsx": sheets.packed(book)}
        for path, content in files.items():
            place = tmp_path / "bench" / path
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(content.encode() if isinstance(content, str) else content)
        return tmp_path / "bench"

    return made


def typed(*words, code=0, catalog="catalog.db"):
    result = CliRunner().invoke(main, ["--catalog", catalog, *words])
    assert result.exit_code == code, result.output
    return result.output


def runs(path):
    with closing(open_catalog(Path(path), readonly=True)) as db:
        rows = queries.runs(db)
    return {row_id(run.batch_id, run.source_file, run.source_row): run for run in rows}


def test_problems_are_grouped_and_marked_at_their_cells(folder):
    made = folder(B3="fast", B4="quick", C4=-1)
    said = typed("check", "bench/bench.xlsx", "--mark", code=1)
    assert "old/2019.xlsx, sheet 5 GHz, B3 and B4, column \"throughput Mbit/s\": (B3) 'fast' is neither" in said
    assert 'old/2019.xlsx, sheet 5 GHz, C4, column "throughput Mbit/s": -1 is negative.' in said
    marked = openpyxl.load_workbook(made / "old" / "2019.checked.xlsx")
    assert marked.sheetnames == ["Problems", "5 GHz"]
    coloured = {c.coordinate for row in marked["5 GHz"].iter_rows() for c in row if c.comment is not None}
    assert coloured == {"B3", "B4", "C4"}
    assert "'fast' is neither" in marked["5 GHz"]["B3"].comment.text
    assert openpyxl.load_workbook(made / "bench.checked.xlsx")["Problems"]["A2"].value.startswith("(B3) 'fast'")
    assert not [one for one in check_batch(made, catalog=None).warnings if "Sketches" in str(one)]


def test_a_client_that_no_sheet_knows_is_one_cause(folder):
    made = folder(B1="Tablet")
    (cause,) = causes_of(check_batch(made, catalog=None).problems)
    assert cause.place == 'old/2019.xlsx, sheet 5 GHz, B1, column "client"'


def test_answers_name_the_source_and_the_cell(folder):
    made = folder(B3="fast", C3="quick")
    book = openpyxl.load_workbook(made / "bench.xlsx")
    sheet = book.create_sheet("Answers")
    sheet.append(["table", "row", "column", "typed", "means"])
    sheet.append(["old5", "3.B", "throughput", "fast", 700])
    book.save(made / "bench.xlsx")
    (made / "bench.desk").mkdir()
    (made / "bench.desk" / "answers.toml").write_text(
        '[[answer]]\ntable = "old5"\nrow = "3.C"\ncolumn = "throughput"\ntyped = "quick"\nmeans = "650"\n'
    )
    report = check_batch(made, catalog=None)
    assert (report.problems, report.warnings, report.rows_new) == ((), (), 7)


def test_from_the_cell_to_the_site_and_back_and_into_another_catalogue(folder, tmp_path):
    folder()
    assert "7 rows read, 7 new. Ready to enter." in typed("check", "bench")
    typed("enter", "bench")
    assert sorted(runs("catalog.db")) == IDS
    assert "already entered in batch 2025-05-shale-2" in typed("check", "bench")

    # The trace names the cell, and the map with its hash.
    figure = "cell~tessarik-shale-2~A~7.10~wrenlet-u2~~wrenlet-u2~5~80~down~loss~65.0~day-1"
    trace = typed("trace", figure, "--as-of", AS_OF)
    assert "old/2019.xlsx (sha256 " in trace
    assert "sheet 5 GHz, B3 (2025-05-shale-2/old5/3.B), read through maps/old5.toml (sha256 " in trace
    assert '"cell": "B3"' in typed("trace", figure, "--as-of", AS_OF, "--json")

    # One cell is corrected, another withdrawn.
    (tmp_path / "corrections.csv").write_text(
        "table,key,column,was,now,reason,noticed_by,date\n"
        "runs,batch=2025-05-shale-2;file=old5;row=3.B,throughput,700,707,misread,A reader,2025-12-01\n"
    )
    typed("correct", "corrections.csv")
    assert "707" in typed("trace", figure, "--as-of", AS_OF)
    later = "what,id,from,reason\nrun,2025-05-shale-2/old5/4.C,2025-12-02,a cable was left in\n"
    batch_at(tmp_path / "later", batch_toml("later"), {"withdrawals.csv": later})
    typed("enter", "later")

    # Both forms of an export enter again to the same rows.
    for name, options in (("export", ()), ("books", ("--workbook",))):
        typed("export", name, *options)
        for step in sorted((tmp_path / name).iterdir()):
            corrections = sorted(step.glob("corrections*.csv"))
            verb = ("correct", str(corrections[0])) if corrections else ("enter", str(step))
            typed(*verb, catalog=f"{name}.db")
        assert runs(f"{name}.db") == runs("catalog.db")
        with (
            closing(open_catalog(tmp_path / f"{name}.db", readonly=True)) as again,
            closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db,
        ):
            assert queries.sources(again) == queries.sources(db)
            assert [place_text(one.source_row) for one in queries.corrections(again)] == ["3.B"]
            assert [one.id for one in queries.withdrawals(again)] == ["2025-05-shale-2/old5/4.C"]


def test_a_folder_that_reads_a_sheet_by_map_is_exported_as_a_workbook(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    plan = (
        MAP.replace('constant = "Shale 2"', 'constant = "tessarik-shale-2"')
        .replace('"7.10"', '"1.0"')
        .replace('"day-1"', '"2019-03-04"')
    )
    content = sheets.xlsx(CROSS, title="5 GHz", merged=["B1:C1"])
    typed("enter", str(sheets.batch(tmp_path / "2019", content, plan)))
    said = typed("export", "books", "--workbook")
    (step,) = (tmp_path / "books").iterdir()
    assert sorted(str(path.relative_to(step)) for path in step.rglob("*.*")) == [
        "2019.xlsx",
        "maps/old.toml",
        "sheets/2019.xlsx",
    ], said
    typed("enter", str(step), catalog="again.db")
    assert runs("again.db") == runs("catalog.db")


@pytest.mark.parametrize(("means", "count"), [("read", 7), ("leave out", 5)])
def test_what_was_hidden_when_nobody_asked_is_answered_by_an_export(folder, tmp_path, means, count):
    made = folder()
    book = openpyxl.load_workbook(made / "old" / "2019.xlsx")
    book["5 GHz"].row_dimensions[4].hidden = True
    book.save(made / "old" / "2019.xlsx")
    said = typed("check", "bench", code=1)
    assert 'old/2019.xlsx, sheet 5 GHz, B4: 2 rows of the sheet "5 GHz" are hidden or filtered out.' in said
    answers = made / "bench.desk" / "answers.toml"
    answers.parent.mkdir()
    answers.write_text(f'[[answer]]\ncause = "hidden-rows"\ntable = "old5"\nrow = "4.B"\nmeans = "{means}"\n')
    typed("enter", "bench")
    with closing(sqlite3.connect(tmp_path / "catalog.db")) as db:  # as it was when nobody had to answer
        db.execute("DELETE FROM raw_file WHERE path = 'bench.desk/answers.toml'")
        db.commit()
    typed("export", "export")
    (step,) = (tmp_path / "export").iterdir()
    typed("enter", str(step), catalog="again.db")
    assert len(runs("again.db")) == count
    assert runs("again.db") == runs("catalog.db")


def test_what_a_map_says_is_answered_by_the_name_that_its_problem_gives_it(folder, tmp_path):
    made = folder()
    (made / "maps" / "old5.toml").write_text(MAP + "[column.channel]\nconstant = 6\n")
    (cause,) = causes_of(check_batch(made, catalog=None).problems)
    assert (cause.place, len(cause.problems)) == (
        'old/2019.xlsx, sheet 5 GHz, B3, C3, B4 and 1 more, column "channel of maps/old5.toml"',
        4,
    )
    answers = made / "bench.desk" / "answers.toml"
    answers.parent.mkdir()
    answers.write_text(
        '[[answer]]\ncause = "channel-not-in-band"\ntable = "2019"\ncolumn = "channel of maps/old5.toml"\n'
        'means = "as entered"\nby = "entered before"\n'
    )
    typed("enter", "bench")
    with closing(sqlite3.connect(tmp_path / "catalog.db")) as db:  # as it was when nobody had to answer
        db.execute("DELETE FROM raw_file WHERE path = 'bench.desk/answers.toml'")
        db.commit()
    typed("export", "export")
    (step,) = (tmp_path / "export").iterdir()
    typed("enter", str(step), catalog="again.db")
    assert runs("again.db") == runs("catalog.db")


def test_a_further_sheet_of_the_workbook_itself_is_read_and_marked(folder):
    made = folder()
    listed = bench(Old_bench=CROSS)
    listed["Batch"].append(["tables.runs", "Runs; old5:bench.xlsx"])
    book = workbook(listed)
    book["Old bench"].merge_cells("B1:C1")
    book["Old bench"]["C4"] = "fast"
    book.save(made / "bench.xlsx")
    (made / "maps" / "old5.toml").write_text(MAP.replace('"5 GHz"', '"Old bench"'))
    report = check_batch(made, catalog=None)
    assert [problem.place for problem in report.problems] == [
        'bench.xlsx, sheet Old bench, C4, column "throughput Mbit/s"'
    ]
    assert report.warnings == ()  # its sheet is not called unknown
    typed("check", "bench", "--mark", code=1)
    assert "'fast'" in openpyxl.load_workbook(made / "bench.checked.xlsx")["Old bench"]["C4"].comment.text
    book["Old bench"]["C4"] = 555
    book.save(made / "bench.xlsx")
    typed("enter", "bench")
    assert sorted(runs("catalog.db")) == IDS
