"""A mean or median of runs that are not kept: one row, a cell by itself, with as much as was noted of it."""

from __future__ import annotations

from contextlib import closing

import pytest

from catalog import queries
from catalog.checking.batches import check
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from catalog.exporting import dump_to, export_batches, load, verify
from catalog.reading.batch import read_batch
from tests.catalog.conftest import NOW, RUN_DEFAULTS

HEADER = "attenuation_db,repeat,Mbit/s,of_runs,spread,statistic,log,outcome\n"
MEAN = "55,,812,3,11,mean,,\n"


@pytest.fixture
def checked(write_batch):
    def check_rows(text, *, header=HEADER, answers="", db=None, defaults=RUN_DEFAULTS, name="batch", **files):
        folder = write_batch(name, runs_csv=header + text, defaults=defaults, **files)
        if answers:
            (folder / "answers.toml").write_text(answers)
        return check(read_batch(folder), db)

    return check_rows


def kept(report):
    names = ("repeat", "throughput_mbit_s", "of_runs", "spread_mbit_s", "statistic")
    assert report.problems == []
    return [tuple(row[name] for name in names) for row in report.rows["run"]]


def test_a_summary_is_one_row_without_a_repeat(checked):
    report = checked(MEAN + "60,,700,5,,median,,\n60,1,701,,,,,\n".replace("60,1", "65,1"))
    assert kept(report) == [
        (1, 812.0, 3, 11.0, "mean"),
        (1, 700.0, 5, None, "median"),
        (1, 701.0, None, None, None),
    ]
    assert report.warnings == []


def test_a_table_of_summaries_needs_no_column_repeat(checked):
    header = "attenuation_db,Mbit/s,n,sd,statistic\n"
    assert kept(checked("55,812,3,11,mean\n", header=header)) == [(1, 812.0, 3, 11.0, "mean")]
    (problem,) = checked("55,812,3,11,mean\n60,700,,,\n", header=header).problems
    assert (problem.row, problem.code, problem.expected) == (3, "missing", "repeat is empty.")
    (problem,) = checked("55,812\n", header="attenuation_db,Mbit/s\n").problems
    assert (problem.code, problem.expected) == ("missing-column", "The column repeat is missing.")


def test_mean_or_median_is_said_once_or_answered(checked):
    (problem,) = checked("55,,812,3,11,,,\n").problems
    assert problem.code == "mean-or-median"
    assert str(problem).startswith(
        'runs.csv row 2, column "statistic": Is the throughput the mean or the median of the 3'
    )
    answer = '[[answer]]\ncause = "mean-or-median"\ntable = "runs"\nmeans = "median"\n'
    assert kept(checked("55,,812,3,11,,,\n", answers=answer)) == [(1, 812.0, 3, 11.0, "median")]
    default = RUN_DEFAULTS + 'statistic = "mean"\n'
    header = HEADER.replace("statistic,", "")
    assert kept(checked("55,,812,3,11,,\n60,1,700,,,,\n", header=header, defaults=default)) == [
        (1, 812.0, 3, 11.0, "mean"),
        (1, 700.0, None, None, None),
    ]


@pytest.mark.parametrize(
    ("header", "row", "mbit_s"),
    [
        ("MB/s,of_runs,spread", "100,3,2", (800.0, 16.0)),
        ("throughput (Gbit/s),of_runs,sd", "0.8,3,0.016", (800.0, 16.0)),
        ("throughput (Gbit/s),of_runs,sd (Mbit/s)", "0.8,3,16", (800.0, 16.0)),
        ("throughput,of_runs,spread", "800 Mbit/s,3,16 Mbit/s", (800.0, 16.0)),
    ],
)
def test_the_spread_has_the_unit_of_the_throughput_unless_it_states_one(checked, header, row, mbit_s):
    report = checked(f"55,{row},mean\n", header=f"attenuation_db,{header},statistic\n")
    ((_, value, _, spread, _),) = kept(report)
    assert (value, spread) == pytest.approx(mbit_s)


def test_a_spread_without_any_unit_is_asked_about(checked):
    report = checked("55,800 Mbit/s,3,16,mean\n", header="attenuation_db,throughput,of_runs,spread,statistic\n")
    assert [(problem.column, problem.code) for problem in report.problems] == [("spread", "no-unit")]


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        ("55,,812,0,11,mean,,", "too-small", "0 is below 2. A summary is of at least two runs; one run is a row with"),
        ("55,,812,1,,mean,,", "too-small", "1 is below 2. A summary is of at least two runs"),
        ("55,,812,2.5,11,mean,,", "not-whole", "'2.5' is not a whole number. of_runs is a whole number."),
        ("55,,812,1000000000,11,mean,,", "too-large", "1000000000 is above 10000. Correct the cell."),
        ("55,,812,1e9,11,mean,,", "too-large", "1e9 is above 10000."),
        ("55,,812,three,11,mean,,", "not-a-number", "'three' is not a number."),
        ("55,,812,3,-11,mean,,", "too-small", "-11 is below 0 Mbit/s. Correct the cell."),
        (
            "55,,812,3,900,mean,,",
            "spread-above-mean",
            "The spread, 900 Mbit/s, is larger than the mean, 812 Mbit/s. Correct one of them: the spread is one "
            "standard deviation",
        ),
        ("55,,812,3,5 %,mean,,", "wrong-unit", "'%', which follows the number"),
        ("55,,812,3,11,avg,,", "unknown-word", "'avg' is not one of mean, median."),
        ("55,2,812,3,11,mean,,", "summary-and-repeat", "The row is a summary of 3 runs and has a repeat, 2:"),
        ("55,,,3,11,mean,logs/one.csv,", "summary-and-log", "The row is a summary of 3 runs and names a log"),
        ("55,,,3,11,mean,,DNF", "missing", "A summary of 3 runs has no throughput. Write it; runs that did not"),
        ("55,,,3,11,mean,,", "blank", "Neither a throughput nor an outcome is given."),
        ("55,1,812,,11,,,", "summary-without-number", "The row has a spread, but does not say of how many runs."),
        ("55,1,812,,,mean,,", "summary-without-number", "The row has a statistic, but does not say of how many runs."),
    ],
)
def test_what_is_no_summary_is_refused_in_words(checked, row, code, words):
    logs = {"logs__one_csv": "t_s,mbit_s\n" + "".join(f"{second},500\n" for second in range(30))}
    problems = checked(row + "\n", **logs).problems
    assert [problem.code for problem in problems] == [code]
    assert words in str(problems[0])
    assert problems[0].row == 2
    assert problems[0].remedy


def test_a_summary_beside_runs_of_its_cell_is_held(checked, write_batch, tmp_path):
    (problem,) = checked(MEAN + "55,1,800,,,,,\n55,2,820,,,,,\n").problems
    assert (problem.row, problem.code, problem.column) == (2, "summary-and-runs", "of_runs")
    assert str(problem).endswith(
        "A summary of a cell that has runs, too: runs.csv row 3. Is it a summary of the same runs? Keep one of the two: "
        "the runs, if they are known."
    )
    (problem,) = checked("55,1,,,,,,DNF\n" + MEAN).problems
    assert (problem.row, problem.code) == (3, "summary-and-runs")
    catalog = tmp_path / "catalog.db"
    enter_batch(write_batch(runs_csv=HEADER + MEAN + "60,1,700,,,,,\n"), into=catalog, now=NOW)
    with closing(open_catalog(catalog, readonly=True)) as db:
        (problem,) = checked("60,,690,3,5,mean,,\n", db=db, name="second").problems
        assert problem.code == "summary-and-runs"
        assert "runs.csv row 3 in batch first" in problem.expected
        (problem,) = checked("55,2,810,,,,,\n", db=db, name="third").problems
        assert str(problem).startswith('runs.csv row 2, column "repeat": A run of a cell that has a summary, too')
        assert checked(MEAN, db=db, name="again").problems == []


def test_one_cell_has_one_summary(checked):
    assert [problem.code for problem in checked(MEAN + "55,,813,3,11,mean,,\n").problems] == ["key-twice"]
    report = checked(MEAN + MEAN)
    assert [warning.code for warning in report.warnings] == ["same-row"]


def test_another_summary_of_an_entered_cell_needs_a_correction(checked, write_batch, tmp_path):
    catalog = tmp_path / "catalog.db"
    enter_batch(write_batch(runs_csv=HEADER + MEAN), into=catalog, now=NOW)
    with closing(open_catalog(catalog, readonly=True)) as db:
        (problem,) = checked("55,,812,5,11,mean,,\n", db=db, name="other").problems
        assert (problem.code, problem.column) == ("conflict", "of_runs")
        assert problem.expected.startswith("of_runs of the summary is 3 in the catalogue")
    with closing(open_catalog(catalog, readonly=False)) as db:
        lines = tmp_path / "corrections.csv"
        lines.write_text(
            "table,key,column,was,now,reason,noticed_by,date\n"
            "runs,attenuation_db=55,spread,11,14,misread,bench,2025-06-01\n"
            "runs,attenuation_db=55,of_runs,3,5,misread,bench,2025-06-01\n"
        )
        correct_file(lines, catalog=db, now=NOW)
        (run,) = queries.runs(db)
        assert (run.of_runs, run.spread_mbit_s, run.statistic, run.repeat) == (5, 14.0, "mean", 1)


def test_values_far_from_a_summary_are_not_its_siblings(checked):
    assert checked(MEAN + "60,,100,3,5,mean,,\n").warnings == []


def test_a_summary_survives_dump_load_and_export(write_batch, tmp_path):
    catalog = tmp_path / "catalog.db"
    enter_batch(write_batch(runs_csv=HEADER + MEAN + "60,,700,5,,median,,\n"), into=catalog, now=NOW)
    with closing(open_catalog(catalog, readonly=True)) as db:
        before = queries.runs(db)
        assert verify(db) == []
        dump_to(db, tmp_path / "dump.txt")
        export_batches(db, tmp_path / "exported")
    with (tmp_path / "dump.txt").open("rb") as text:
        load(text, tmp_path / "loaded.db")
    (folder,) = (path for path in (tmp_path / "exported").iterdir() if path.is_dir())
    enter_batch(folder, into=tmp_path / "entered.db", now=NOW)
    for name in ("loaded", "entered"):
        with closing(open_catalog(tmp_path / f"{name}.db", readonly=True)) as db:
            assert queries.runs(db) == before
    assert [(run.of_runs, run.spread_mbit_s, run.statistic) for run in before] == [
        (3, 11.0, "mean"),
        (5, None, "median"),
    ]
