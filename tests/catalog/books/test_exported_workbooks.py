"""Batches written as workbooks, and entered again: the same catalogue, but for where its rows stood."""

from __future__ import annotations

import shutil
from contextlib import closing
from datetime import UTC, datetime

import openpyxl
import pytest

from catalog.books import export_workbooks
from catalog.books.converting import turn_into_workbook
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch
from catalog.exporting import differences, export_batches, verify
from tests.batches import batch_at
from tests.catalog.whole_batch import TABLES, whole_batch

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
HEAD = "table,key,column,was,now,reason,noticed_by,date\n"


def as_folder(folder, **changed):
    files = whole_batch() | {path.replace("__", "."): text.encode() for path, text in changed.items()}
    for path, content in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)
    return folder


@pytest.fixture
def whole(tmp_path):
    """The folder with one of everything."""
    return as_folder(tmp_path / "whole")


def entered(path, *steps):
    for step in steps:
        if (corrections := list(step.glob("corrections*.csv"))) != []:
            with closing(open_catalog(path, readonly=False)) as db:
                correct_file(corrections[0], catalog=db, now=NOW)
        else:
            enter_batch(step, into=path, now=NOW)
    return path


def assert_alike(one, other):
    with closing(open_catalog(one, readonly=True)) as first, closing(open_catalog(other, readonly=True)) as second:
        assert differences(first, second) == []
        assert verify(second) == []


def test_one_of_everything_as_a_workbook_is_the_same_catalogue(whole, tmp_path):
    book = shutil.copytree(whole, tmp_path / "book")
    assert turn_into_workbook(book, "whole")
    assert {path.name for path in book.iterdir()} == {"whole.xlsx", "articles", "images", "logs", "maps"}
    report = check_batch(book / "whole.xlsx", catalog=None)
    assert report.warnings == check_batch(whole, catalog=None).warnings or report.problems == ()
    assert_alike(entered(tmp_path / "one.db", whole), entered(tmp_path / "two.db", book))


def test_exported_workbooks_enter_again_with_corrections(whole, tmp_path):
    path = entered(tmp_path / "one.db", whole)
    ledger = batch_at(
        tmp_path / "ledger",
        "",
        {"corrections.csv": HEAD + "runs,batch=whole;file=runs.csv;row=3,throughput,801,802,misread,desk,2025-07-01\n"},
    )
    (ledger / "batch.toml").unlink()
    entered(path, ledger)
    with closing(open_catalog(path, readonly=True)) as db:
        names, left = export_workbooks(db, tmp_path / "books")
    assert left == []
    assert names == ["001-whole", "002-corrections"]
    again = entered(tmp_path / "two.db", *(tmp_path / "books" / name for name in names))
    assert_alike(path, again)
    with closing(open_catalog(again, readonly=True)) as db:  # a workbook comes back as it was entered
        export_batches(db, tmp_path / "again")
        export_workbooks(db, tmp_path / "once-more")
    exported = tmp_path / "books/001-whole/whole.xlsx"
    assert (tmp_path / "again/001-whole/whole.xlsx").read_bytes() == exported.read_bytes()
    assert (tmp_path / "once-more/001-whole/whole.xlsx").read_bytes() == exported.read_bytes()
    steps = [tmp_path / "again" / name for name in names]
    assert_alike(path, entered(tmp_path / "three.db", *steps))


def test_numbers_are_numbers_only_where_nothing_is_lost(whole, tmp_path):
    assert turn_into_workbook(whole, "whole")
    book = openpyxl.load_workbook(whole / "whole.xlsx")
    assert book["Firmware"]["B2"].value == "7.10"
    assert book["Firmware"]["B2"].number_format == "@"
    assert book["Device radios"]["C2"].value == 4
    assert book["Spots"]["F2"].value == -48
    assert book["Runs"]["E2"].value == "812.5"  # "0.8 Gbit/s" further down says how the marks of all are read
    assert book["Heat"]["D2"].value == 48.5
    assert book["Prices"]["C2"].value == "199.00"
    assert book["Runs"].freeze_panes == "A2"


def test_rows_keep_their_numbers(tmp_path):
    runs = TABLES["runs.csv"].splitlines()
    gapped = "\n".join(["Bench of May", *runs[:2], "", *runs[2:], "total,,,,2414,,,,"]) + "\n"
    folder = as_folder(tmp_path / "whole", runs__csv=gapped, batch__toml=_evidence_in(3))
    path = entered(tmp_path / "one.db", folder)
    book = shutil.copytree(folder, tmp_path / "book")
    assert turn_into_workbook(book, "whole")
    sheet = openpyxl.load_workbook(book / "whole.xlsx")["Runs"]
    assert [sheet.cell(row, 1).value for row in (1, 2, 3, 4, 5)] == [
        None,
        "when",
        "2025-05-12 10:00",
        None,
        "2025-05-12 10:02",
    ]
    assert_alike(path, entered(tmp_path / "two.db", book))


def _evidence_in(row):
    return whole_batch()["batch.toml"].decode().replace("whole/runs/2", f"whole/runs/{row}")


@pytest.mark.parametrize(
    "name, head", [("2018", ""), ("late", '[tables]\nruns = ["runs.csv", "late=more/2018.csv"]\n')]
)
def test_further_sources_stay_files_that_are_listed(name, head, tmp_path):
    runs = TABLES["runs.csv"].splitlines()
    toml = whole_batch()["batch.toml"].decode()
    place = "more/2018" if head else "2018"
    files = {f"{place}__csv": "\n".join([runs[0], *runs[4:]]) + "\n", "runs__csv": "\n".join(runs[:4]) + "\n"}
    if not head:
        files["runs__csv"] = runs[0] + "\n"
        toml = toml.replace("whole/runs/2", f"whole/{name}/2")
        files[f"{place}__csv"] = TABLES["runs.csv"]
    folder = as_folder(tmp_path / "whole", batch__toml=toml + head, **files)
    if not head:
        (folder / "runs.csv").unlink()
    path = entered(tmp_path / "one.db", folder)
    book = shutil.copytree(folder, tmp_path / "book")
    assert turn_into_workbook(book, "whole")
    sheet = openpyxl.load_workbook(book / "whole.xlsx")["Batch"]
    listed = {row[0].value: row[1].value for row in sheet.iter_rows()}
    assert listed["tables.runs"] == ("Runs;late=more/2018.csv" if head else "2018=2018.csv")
    assert_alike(path, entered(tmp_path / "two.db", book))


@pytest.mark.parametrize("title", ["a;b", "a\r\nb", "x" * 40_000, "a_x000D_b"])
def test_what_no_sheet_can_hold_stays_a_folder(title, tmp_path):
    toml = whole_batch()["batch.toml"].decode()
    text = toml.replace('"Shale-2 EU"', f'"{title}"'.replace("\r\n", "\\r\\n"))
    folder = as_folder(tmp_path / "whole", batch__toml=text)
    before = {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}
    path = entered(tmp_path / "one.db", folder)
    assert not turn_into_workbook(folder, "whole")
    assert {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()} == before
    with closing(open_catalog(path, readonly=True)) as db:
        assert export_workbooks(db, tmp_path / "books") == (["001-whole"], ["whole"])


def test_texts_that_look_like_formulas_and_numbers_stay_texts(tmp_path):
    toml = whole_batch()["batch.toml"].decode()
    text = toml.replace('"Shale-2 EU"', '"=1+1", "007"').replace('"windows closed"', '"-5"')
    folder = as_folder(tmp_path / "whole", batch__toml=text)
    path = entered(tmp_path / "one.db", folder)
    book = shutil.copytree(folder, tmp_path / "book")
    assert turn_into_workbook(book, "whole")
    assert_alike(path, entered(tmp_path / "two.db", book))


def test_answers_about_things_follow_them_into_their_sheet(tmp_path):
    toml = whole_batch()["batch.toml"].decode()
    second = '  [[device.firmware]]\n  version = "7.1"\n  [device.embargo]'
    folder = as_folder(tmp_path / "whole", batch__toml=toml.replace("  [device.embargo]", second))
    (problem,) = [one for one in check_batch(folder, catalog=None).problems if one.code == "lost-zero"]
    answer = (
        f'[[answer]]\ncause = "lost-zero"\ntable = "batch.toml"\nrow = {problem.row}\n'
        'column = "version"\nmeans = "another one"\n'
    )
    (folder / "answers.toml").write_text((folder / "answers.toml").read_text() + answer)
    path = entered(tmp_path / "one.db", folder)
    book = shutil.copytree(folder, tmp_path / "book")
    assert turn_into_workbook(book, "whole")
    rows = list(openpyxl.load_workbook(book / "whole.xlsx")["Answers"].iter_rows(values_only=True))
    assert ("lost-zero", "Firmware", 3, "version") in [row[:4] for row in rows]
    assert_alike(path, entered(tmp_path / "two.db", book))


def test_a_folder_that_comes_again_as_a_workbook_is_known(whole, tmp_path):
    path = entered(tmp_path / "one.db", whole)
    assert turn_into_workbook(whole, "whole")
    report = enter_batch(whole, into=path, now=NOW)
    assert (report.already_entered, report.rows_new) == ("whole", 0)
