"""The sources of a table: one, or a list with names; what was noted at the desk; and the ids of their rows."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime

import pytest

from catalog import queries
from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.errors import BatchRefused
from catalog.exporting import differences, verify
from catalog.records.origins import source_name
from tests.batches import LINK, batch_at, batch_toml, client, device, session
from tests.workbooks import bench, xlsx

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
HEAD = "when,attenuation_db,repeat,Mbit/s\n"
DEFAULTS = {
    "device": "tessarik-shale-2",
    "firmware": "1.0",
    "client": "wrenlet-u2",
    "session": "day-1",
} | LINK


def rows(*losses, first=1):
    return HEAD + "".join(
        f"2025-05-12 {10 + loss // 10}:0{repeat},{loss},{repeat},{900 - loss + repeat}\n"
        for loss in losses
        for repeat in (first, first + 1)
    )


@pytest.fixture
def made(tmp_path):
    """A batch folder with some tables and lists."""

    def make(files, *, batch_id="2019", clients=None, **tables):
        text = batch_toml(
            batch_id,
            device=[device("tessarik-shale-2")],
            client=[clients or client("wrenlet-u2")],
            house=[{"id": "house-a", "name": "House"}],
            session=[session("day-1", "2025-05-12")],
            defaults={"runs": DEFAULTS},
            **({"tables": tables} if tables else {}),
        )
        return batch_at(tmp_path / "folder", text, files)

    return make


def codes(folder):
    return [problem.code for problem in check_batch(folder, catalog=None).problems]


def sources(folder):
    path = folder.parent / "catalog.db"
    enter_batch(folder, into=path, now=NOW)
    with closing(open_catalog(path, readonly=True)) as db:
        assert verify(db) == []
        return [(run.batch_id, source_name(run.source_file), run.source_row) for run in queries.runs(db)]


def test_every_source_of_a_list_has_rows_by_its_name(made):
    folder = made(
        {"runs.csv": rows(55), "more/runs.csv": rows(65), "2018.csv": rows(75)},
        runs=["runs.csv", "late=more/runs.csv", "old_5=2018.csv"],
    )
    assert sources(folder) == [
        ("2019", "runs", 2),
        ("2019", "runs", 3),
        ("2019", "late", 2),
        ("2019", "late", 3),
        ("2019", "old_5", 2),
        ("2019", "old_5", 3),
    ]


def test_one_source_elsewhere_has_the_name_of_the_table(made):
    folder = made({"more/2019.csv": rows(55)}, runs="more/2019.csv")
    assert sources(folder) == [("2019", "runs", 2), ("2019", "runs", 3)]


def test_evidence_and_withdrawals_name_rows_of_a_source(made):
    lap = client("wrenlet-u2", ceiling=[LINK | {"run": "2019/late/3"}])
    withdrawal = "what,id,from,reason\nrun,2019/late/2,2025-06-01,cable loose\n"
    folder = made(
        {"runs.csv": rows(55), "more/runs.csv": rows(65)}, clients=lap, runs=["runs.csv", "late=more/runs.csv"]
    )
    path = folder.parent / "catalog.db"
    enter_batch(folder, into=path, now=NOW)
    later = batch_at(folder.parent / "later", batch_toml("later"), {"withdrawals.csv": withdrawal})
    enter_batch(later, into=path, now=NOW)
    with closing(open_catalog(path, readonly=True)) as db:
        (ceiling,) = queries.ceilings(db)
        run = next(run for run in queries.runs(db) if run.run_id == ceiling.run_id)
        assert (run.source_file, run.source_row) == ("more/runs.csv/late", 3)


@pytest.mark.parametrize(
    "listed, words",
    [
        (["runs.csv", "more/late.csv"], "'more/late.csv' has no name, and the ids of its rows need one"),
        (["runs.csv", "prices=more/late.csv"], "'prices' is the name of a table"),
        (["runs.csv", "a=more/late.csv", "A=more/last.csv"], "'A' is the name of more/late.csv already"),
        (["runs.csv", "a.b=more/late.csv"], "'a.b' is no name for the rows of a source"),
        (["runs.csv", "runs.csv"], "'runs.csv' stands twice in the list"),
        (["runs.csv", "late=more/late.txt"], "'more/late.txt' is no table"),
        (["runs.csv", "late=more/none.csv"], "There is no file 'more/none.csv' in the batch"),
        (["runs.csv", "late=../late.csv"], "leaves the batch"),
        (["late=more/late.csv"], "runs.csv is not in the list, which says where the rows of runs are"),
        ([], "runs is no list of sources"),
        ([3], "runs is no list of sources"),
        (["runs.csv", "old:more/late.csv"], "There is no file 'maps/old.toml' in the batch"),
    ],
)
def test_a_list_that_cannot_be_meant_is_refused(listed, words, made):
    folder = made({"runs.csv": rows(55), "more/late.csv": rows(65), "more/last.csv": rows(75)}, runs=listed)
    assert words in "\n".join(map(str, check_batch(folder, catalog=None).problems))


def test_lists_of_tables_that_are_none_are_refused(made):
    assert codes(made({"runs.csv": rows(55)}, walks=["walks.csv"])) == ["unknown-key"]


def test_two_files_for_one_table_need_a_list(made):
    folder = made({"runs.csv": rows(55), "2018.csv": rows(65)})
    (problem,) = check_batch(folder, catalog=None).problems
    assert problem.code == "two-sources"
    assert 'list both under [tables]: runs = ["runs.csv", "2018=2018.csv"]' in problem.remedy
    listed = made({}, runs=["runs.csv", "2018=2018.csv"])
    assert sources(listed)[2:] == [("2019", "2018", 2), ("2019", "2018", 3)]


def test_what_lies_beside_a_list_and_is_a_table_is_refused(made):
    folder = made({"2017.csv": rows(55), "2018.csv": rows(65)}, runs=["old=2018.csv"])
    assert codes(folder) == ["unlisted"]


def test_the_desk_is_a_last_source_of_every_table(made):
    prices = "device,date,amount,currency\ntessarik-shale-2,2025-05-12,199,EUR\n"
    folder = made({"runs.csv": rows(55), "desk/runs.csv": rows(55, 65, first=3), "desk/prices.csv": prices})
    assert sources(folder)[2:] == [("2019", "desk-runs", row) for row in (2, 3, 4, 5)]


def test_answers_of_the_desk_are_read_after_the_others(made):
    wrong = rows(65).replace("836", "fast")
    answer = '[[answer]]\ntable = "{table}"\ncolumn = "throughput"\ntyped = "fast"\nmeans = "{means}"\nrow = {row}\n'
    files = {"runs.csv": wrong.replace("65", "55"), "desk/runs.csv": wrong.replace("12 16", "12 17")}
    folder = made(files | {"answers.toml": answer.format(table="runs", means=900, row=2)})
    (problem,) = check_batch(folder, catalog=None).problems
    assert (problem.table, problem.row) == ("desk/runs.csv", 2)
    (folder / "desk/answers.toml").write_text(answer.format(table="desk-runs", means=901, row=2))
    path = folder.parent / "catalog.db"
    report = enter_batch(folder, into=path, now=NOW)
    assert report.warnings == ()
    with closing(open_catalog(path, readonly=True)) as db:
        assert [run.throughput_mbit_s for run in queries.runs(db)] == [900, 837, 901, 837]
        assert {file.path for file in queries.raw_files(db)} == {
            "answers.toml",
            "batch.toml",
            "desk/answers.toml",
            "desk/runs.csv",
            "runs.csv",
        }


# --- The same beside a workbook -------------------------------------------------------------------------------


def test_a_workbook_lists_its_sheet_and_files(tmp_path):
    sheets = bench()
    late = [
        sheets["Runs"][0],
        *([f"{row[0][:-4]}9:{row[7]}0", *row[1:6], 65, row[7], 707 + row[7] ** 2] for row in sheets["Runs"][1:]),
    ]
    text = "\n".join(",".join(map(str, row)) for row in late) + "\n"
    desk = text.replace(",65,", ",75,").replace(",70", ",60").replace(",71", ",61").replace(" 19:", " 20:")
    sheets["Batch"].append(["tables.runs", "Runs; late=more/runs.csv"])
    batch_at(tmp_path, "", {"more/runs.csv": text, "bench.desk/runs.csv": desk})
    (tmp_path / "batch.toml").unlink()
    (tmp_path / "bench.xlsx").write_bytes(xlsx(sheets))
    (tmp_path / "runs.csv").write_text(text)  # another batch's, in the same folder
    enter_batch(tmp_path / "bench.xlsx", into=tmp_path / "catalog.db", now=NOW)
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert verify(db) == []
        names = [source_name(run.source_file) for run in queries.runs(db)]
        assert names == ["runs"] * 3 + ["late"] * 3 + ["desk-runs"] * 3
        assert [file.path for file in queries.raw_files(db)] == ["bench.desk/runs.csv", "bench.xlsx", "more/runs.csv"]


def test_a_sheet_beside_a_list_without_it_is_refused(tmp_path):
    sheets = bench()
    sheets["Batch"].append(["tables.runs", "more/runs.csv"])
    batch_at(tmp_path, "", {"more/runs.csv": "when\n"})
    (tmp_path / "bench.xlsx").write_bytes(xlsx(sheets))
    report = check_batch(tmp_path / "bench.xlsx", catalog=None)
    (unlisted,) = [problem for problem in report.problems if problem.code == "unlisted"]
    assert str(unlisted).startswith('bench.xlsx, sheet Batch row 8, column "runs": The sheet Runs is not in the list')


def test_a_row_of_a_folder_and_of_a_workbook_has_one_id(tmp_path):
    (tmp_path / "bench.xlsx").write_bytes(xlsx(bench()))
    report = check_batch(tmp_path / "bench.xlsx", catalog=None)
    assert report.problems == ()
    sheets = bench(Ceilings=[["client", "band", "width_mhz", "direction", "run"]])
    sheets["Ceilings"].append(["wrenlet-u2", 5, 80, "down", "2025-05-shale-2/runs/3"])
    (tmp_path / "bench.xlsx").write_bytes(xlsx(sheets))
    enter_batch(tmp_path / "bench.xlsx", into=tmp_path / "catalog.db", now=NOW)
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        (ceiling,) = queries.ceilings(db)
        assert next(run.source_row for run in queries.runs(db) if run.run_id == ceiling.run_id) == 3


def test_a_problem_with_a_source_names_its_file(made):
    folder = made(
        {"runs.csv": rows(55), "more/runs.csv": rows(65).replace("836", "fast")},
        runs=["runs.csv", "late=more/runs.csv"],
    )
    with pytest.raises(BatchRefused) as refused:
        enter_batch(folder, into=folder.parent / "catalog.db", now=NOW)
    (problem,) = refused.value.problems
    assert (problem.table, problem.row) == ("more/runs.csv", 2)


def test_nothing_differs_between_a_catalogue_and_itself(made):
    folder = made({"runs.csv": rows(55)})
    path = folder.parent / "catalog.db"
    enter_batch(folder, into=path, now=NOW)
    with closing(open_catalog(path, readonly=True)) as db:
        assert differences(db, db) == []
