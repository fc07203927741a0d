"""A batch whose runs stand in a cross table: checked, entered, answered, corrected, withdrawn, written back."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime

import openpyxl
import pytest

from catalog import queries
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch, undo_batch
from catalog.errors import BatchRefused
from catalog.exporting import dump, export_batches, load, verify
from catalog.row_numbers import RowNumber, place_text
from catalog.visibility import public_copy
from tests import sheets
from tests.batches import batch_at, batch_toml, client
from tests.catalog.reading.test_mapped_tables import CROSS, CROSS_MAP, MERGED

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
DEFAULTS = {"when": "2019-03-04 12:00", "repeat": 1}


@pytest.fixture
def folder(tmp_path):
    """A batch of the cross table, changed by the test: cells by name, or other rows."""

    def made(rows=CROSS, plan=CROSS_MAP, *, name="batch", title="5 GHz", change=None, **more):
        content = sheets.xlsx(rows, merged=MERGED if rows is CROSS else (), title=title)
        if change is not None:
            book = openpyxl.load_workbook(sheets.stream(content))
            change(book.active)
            content = sheets.packed(book)
        defaults = DEFAULTS | more.pop("defaults", {})
        return sheets.batch(tmp_path / name, content, plan, defaults=defaults, **more)

    return made


@pytest.fixture
def entered(tmp_path, folder):
    path = tmp_path / "catalog.db"
    enter_batch(folder(), into=path, now=NOW)
    return path


def problems(folder):
    return [str(problem) for problem in check_batch(folder, catalog=None).problems]


def runs(path):
    with closing(open_catalog(path, readonly=True)) as db:
        return {place_text(run.source_row): run for run in queries.runs(db)}


def cell(name, value):
    return lambda sheet: sheet.__setitem__(name, value)


# --- Checking ---------------------------------------------------------------------------------------------------


def test_it_is_silent_where_nothing_is_wrong(folder):
    report = check_batch(folder(), catalog=None)
    assert (report.problems, report.warnings, report.rows_read, report.rows_new) == ((), (), 11, 11)


@pytest.mark.parametrize(("name", "value", "words"), [
    ("C4", "fast", "sheets/2019.xlsx, sheet 5 GHz, C4, column \"throughput Mbit/s\": 'fast' is neither a number nor an outcome. Write a number,"),
    ("A5", "far", "sheets/2019.xlsx, sheet 5 GHz, A5, column \"attenuation dB\": 'far' is not a number"),
    ("A5", 300, "sheets/2019.xlsx, sheet 5 GHz, A5, column \"attenuation dB\": 300 is above 130 dB. Correct the cell."),
    ("D1", "Phone", "sheets/2019.xlsx, sheet 5 GHz, D1, column \"client\": The client 'Phone' is not known."),
    ("E2", "sideways", "sheets/2019.xlsx, sheet 5 GHz, E2, column \"direction\": 'sideways' is not one of down, up."),
    ("B3", 0, "B3, column \"throughput Mbit/s\": "),
    ("B3", -1, "B3, column \"throughput Mbit/s\": -1 is negative. A throughput is not. Correct the cell."),
    ("B3", 7440, "B3, column \"throughput Mbit/s\": 7440 is above"),
    ("B3", "=1+1", "B3 holds a formula without a stored value. Open the file"),
    ("B3", "8\u200b1", "B3, column \"throughput Mbit/s\": '\\u200b1', which follows the number, is no unit"),
])  # fmt: skip
def test_what_the_plain_form_refuses_is_refused_with_its_cell(folder, name, value, words):
    (sentence,) = problems(folder(change=cell(name, value)))
    assert words in sentence


def test_each_problem_knows_sheet_and_cell(folder):
    (problem,) = check_batch(folder(change=cell("C4", "fast")), catalog=None).problems
    assert (problem.table, problem.sheet, problem.row, problem.cell) == ("sheets/2019.xlsx", "5 GHz", 4, "C4")
    assert (problem.value, problem.code) == ("fast", "not-a-number")


def test_a_value_of_the_map_is_refused_with_the_map(folder):
    plan = CROSS_MAP + '[column.channel]\nconstant = "999"\n'
    assert 'column "channel of maps/old.toml": 999 is above 233.' in problems(folder(plan=plan))[0]


def test_a_missing_column_says_where_it_is_written(folder):
    sentences = problems(folder(plan=CROSS_MAP.replace("[column.direction]\nheading_row = 2\n", "")))
    assert any(
        "Write [column.direction] in maps/old.toml, or give it once under [defaults.runs]" in s for s in sentences
    )


def test_one_row_of_a_sheet_may_hold_equal_values(folder):
    plan = CROSS_MAP.replace("[column.direction]\nheading_row = 2", "[column.repeat]\nheading_row = 2") + (
        '[column.when]\nfrom = "When"\n'
    )
    rows = [
        ["Loss", "Laptop", "", "When"],
        ["dB", "1", "2", ""],
        [55, 812, 812, "2019-03-04 12:00"],
        [65, 700, 700, "2019-03-04 12:10"],
    ]
    report = check_batch(folder(rows, plan, defaults={"direction": "down"}), catalog=None)
    assert (report.problems, report.warnings, report.rows_new) == ((), (), 4)


def test_hidden_cells_are_asked_and_may_be_left_out(folder, tmp_path):
    made = folder(change=lambda sheet: setattr(sheet.column_dimensions["D"], "hidden", True))
    (sentence,) = problems(made)
    assert '3 rows of the sheet "5 GHz" are hidden or filtered out. Meant to be read, or left out?' in sentence
    assert 'row = "3.D", means = "read" or "leave out"' in sentence
    (made / "answers.toml").write_text(
        '[[answer]]\ncause = "hidden-rows"\ntable = "runs"\nrow = "3.d"\nmeans = "leave out"\n'
    )
    report = check_batch(made, catalog=None)
    assert (report.problems, report.rows_new, report.repairs["hidden row"]) == ((), 8, 3)


def test_an_answer_names_one_cell(folder):
    made = folder(change=cell("C4", "fast"))
    (made / "answers.toml").write_text(
        '[[answer]]\ntable = "runs"\nrow = "4.C"\ncolumn = "throughput"\ntyped = "fast"\nmeans = "580"\n'
    )
    assert problems(made) == []
    (made / "answers.toml").write_text(
        '[[answer]]\ntable = "runs"\nrow = "4.D"\ncolumn = "throughput"\ntyped = "fast"\nmeans = "580"\n'
    )
    report = check_batch(made, catalog=None)
    assert "'fast' stands in row 4.C now, not in row 4.D" in str(report.warnings[-1])


@pytest.mark.parametrize(("value", "words"), [
    ("old", "'old' is no table: a table is a .csv, .tsv, .xlsx or .ods file."),
    ("old:none.xlsx", "There is no file 'none.xlsx' in the batch."),
    ("other:sheets/2019.xlsx", "There is no file 'maps/other.toml' in the batch."),
    ("old:../2019.xlsx", "leaves the batch"),
    ("old:batch.toml", "A table is a .csv, .tsv, .xlsx or .ods file."),
])  # fmt: skip
def test_a_source_that_is_not_there_is_refused(folder, value, words):
    made = folder()
    text = (made / "batch.toml").read_text().replace("old:sheets/2019.xlsx", value)
    (made / "batch.toml").write_text(text)
    assert any(words in sentence for sentence in problems(made))


def test_a_map_of_another_table_and_an_unknown_one_are_refused(folder):
    assert any(
        "The map is for heat, but [tables] reads runs through it." in sentence
        for sentence in problems(folder(plan='kind = "heat"\n[column.face]\nfrom = "Loss"\n'))
    )
    made = folder(name="other")
    (made / "batch.toml").write_text((made / "batch.toml").read_text().replace("[tables]\nruns", "[tables]\nrun"))
    assert any("There is no table 'run'. Tables are" in sentence for sentence in problems(made))


def test_the_table_beside_it_has_to_be_listed(folder):
    sentences = problems(
        folder(files={"runs.csv": "attenuation_db,throughput (Mbit/s),client,direction\n60,1,wrenlet-u2,up\n"})
    )
    assert any("runs.csv is not in the list, which says where the rows of runs are." in s for s in sentences)


# --- In the catalogue -------------------------------------------------------------------------------------------


def test_every_cell_becomes_a_run(entered):
    rows = runs(entered)
    assert {
        name: (run.client, run.direction, run.attenuation_db, run.throughput_mbit_s) for name, run in rows.items()
    } == {
        "3.B": ("wrenlet-u2", "down", 55, 812),
        "3.C": ("wrenlet-u2", "up", 55, 790),
        "3.D": ("murrow-m8", "down", 55, 700),
        "3.E": ("murrow-m8", "up", 55, 650),
        "4.B": ("wrenlet-u2", "down", 65, 600.5),
        "4.C": ("wrenlet-u2", "up", 65, 580),
        "4.D": ("murrow-m8", "down", 65, 510),
        "5.B": ("wrenlet-u2", "down", 75, 300),
        "5.C": ("wrenlet-u2", "up", 75, None),
        "5.D": ("murrow-m8", "down", 75, 200),
        "5.E": ("murrow-m8", "up", 75, 180),
    }
    with closing(open_catalog(entered, readonly=True)) as db:
        assert [(s.source_file, s.sheet, s.map_path) for s in queries.sources(db)] == [
            ("sheets/2019.xlsx/runs", "5 GHz", "maps/old.toml")
        ]
        assert {file.path for file in queries.raw_files(db)} == {"batch.toml", "maps/old.toml", "sheets/2019.xlsx"}
        assert verify(db) == []


def test_the_plain_form_of_the_same_rows_gives_the_same_runs(entered, tmp_path):
    lines = ["client,direction,attenuation_db,throughput (Mbit/s)"]
    lines += [
        f"{run.client},{run.direction},{run.attenuation_db:g},{run.throughput_typed}" for run in runs(entered).values()
    ]
    plain = sheets.batch(tmp_path / "plain", b"", CROSS_MAP, defaults=DEFAULTS)
    text = (plain / "batch.toml").read_text().replace('[tables]\nruns = "old:sheets/2019.xlsx"\n', "")
    batch_at(plain, text, {"runs.csv": "\n".join(lines)})
    enter_batch(plain, into=tmp_path / "plain.db", now=NOW)
    same = [list(runs(path).values()) for path in (entered, tmp_path / "plain.db")]
    assert [(r.client, r.direction, r.attenuation_db, r.throughput_mbit_s, r.outcome, r.repeat) for r in same[0]] == [
        (r.client, r.direction, r.attenuation_db, r.throughput_mbit_s, r.outcome, r.repeat) for r in same[1]
    ]


def test_the_same_again_is_known_and_another_map_over_it_is_not(entered, folder, tmp_path):
    assert enter_batch(folder(), into=entered, now=NOW).already_entered == "2019"
    # Another map over the same file reads other rows: nothing is left out for its bytes.
    other = folder(name="other", plan=CROSS_MAP.replace('"wrenlet-u2"', '"murrow-m8"'))
    (other / "batch.toml").write_text((other / "batch.toml").read_text().replace('id = "2019"', 'id = "again"'))
    with pytest.raises(BatchRefused, match="rep 1 is 700 in the catalogue; use a correction"):
        enter_batch(other, into=entered, now=NOW)


def test_a_batch_with_the_same_rows_is_left_out_whole(entered, folder):
    again = folder(name="again")
    (again / "batch.toml").write_text((again / "batch.toml").read_text().replace('id = "2019"', 'id = "again"', 1))
    assert enter_batch(again, into=entered, now=NOW).already_entered == "2019"


def corrections(tmp_path, *lines):
    file = tmp_path / "corrections.csv"
    file.write_text("table,key,column,was,now,reason,noticed_by,date\n" + "\n".join(lines) + "\n")
    return file


def test_a_cell_is_corrected_by_its_name(entered, tmp_path):
    key = "batch=2019;file=sheets/2019.xlsx;row=4.C"
    file = corrections(tmp_path, f"runs,{key},throughput,580,500,misread,A reader,2025-07-02")
    with closing(open_catalog(entered, readonly=False)) as db:
        correct_file(file, catalog=db, now=NOW)
        assert [(c.row_key, place_text(c.source_row)) for c in queries.corrections(db)] == [(key, "4.C")]
    rows = runs(entered)
    assert [rows[name].throughput_mbit_s for name in ("4.B", "4.C", "4.D")] == [600.5, 500, 510]
    shown = public_copy(entered, as_of=datetime(2025, 8, 1, tzinfo=UTC))
    assert [c.row_key for c in queries.corrections(shown)] == ["batch=2019;file=sheets/2019.xlsx/runs;row=4.C"]


def withdrawal(tmp_path, subject):
    return batch_at(
        tmp_path / "withdrawing",
        batch_toml("withdrawing"),
        {"withdrawals.csv": f"what,id,from,reason\nrun,{subject},2025-07-01,a cable was left in\n"},
    )


@pytest.mark.parametrize("subject", ["2019/runs/4.C", "2019/runs/4.c", "2019/sheets/2019.xlsx/4.C"])
def test_a_cell_is_withdrawn_alone(entered, tmp_path, subject):
    enter_batch(withdrawal(tmp_path, subject), into=entered, now=NOW)
    shown = public_copy(entered, as_of=datetime(2025, 8, 1, tzinfo=UTC))
    assert {place_text(run.source_row) for run in queries.runs(shown)} == set(runs(entered)) - {"4.C"}
    assert [one.id for one in queries.withdrawals(shown)] == [subject]


@pytest.mark.parametrize("subject", ["2019/runs/4", "2019/runs/4.E", "2019/2019/4.C", "2019/runs/4C"])
def test_a_withdrawal_of_what_is_no_row_is_refused(entered, tmp_path, subject):
    with pytest.raises(BatchRefused, match="There is no run at"):
        enter_batch(withdrawal(tmp_path, subject), into=entered, now=NOW)


def test_a_cell_is_the_evidence_of_a_ceiling(folder, tmp_path):
    made = folder()
    proof = {"band": "5", "width_mhz": 80, "direction": "down", "run": "2019/runs/3.B"}
    text = (made / "batch.toml").read_text()
    both = sheets.batch_toml("2019", client=[client("wrenlet-u2", ceiling=[proof])])
    start, end = both.index("[[client]]"), len(both)
    first, rest = text.split("[[client]]", 1)
    (made / "batch.toml").write_text(f"{first}{both[start:end]}\n[[client]]{rest.split('[[client]]', 1)[1]}")
    enter_batch(made, into=tmp_path / "catalog.db", now=NOW)
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        (ceiling,) = queries.ceilings(db)
    assert ceiling.run_id == runs(tmp_path / "catalog.db")["3.B"].run_id


def test_undo_export_dump_and_load(entered, tmp_path):
    with closing(open_catalog(entered, readonly=True)) as db:
        export_batches(db, tmp_path / "export")
        with (tmp_path / "whole.jsonl").open("wb") as file:
            dump(db, file)
    enter_batch(tmp_path / "export" / "001-2019", into=tmp_path / "again.db", now=NOW)
    with (tmp_path / "whole.jsonl").open("rb") as file:
        load(file, tmp_path / "loaded.db")
    for other in ("again.db", "loaded.db"):
        assert runs(tmp_path / other) == runs(entered)
        with closing(open_catalog(tmp_path / other, readonly=True)) as db:
            assert len(queries.sources(db)) == 1
    with closing(open_catalog(entered, readonly=False)) as db:
        undo_batch("2019", catalog=db)
        assert (queries.runs(db), queries.sources(db)) == ([], [])


def test_two_tables_from_one_sheet(folder, tmp_path):
    spots = (
        'kind = "spots"\n[column.spot]\nfrom = "Loss"\n[column.reference_eirp_dbm]\nconstant = 20\n'
        '[column.reading_dbm]\nfrom = "Signal"\n'
    )
    rows = [["Loss", "Laptop", "", "Signal"], ["dB", "Down", "Up", ""], [55, 812, 790, -35], [65, 600, 580, -45]]
    made = folder(rows, 'leave_out = ["Signal"]\n' + CROSS_MAP, files={"maps/spots.toml": spots})
    text = (made / "batch.toml").read_text()
    more = '[tables]\nspots = "spots:sheets/2019.xlsx"\n'
    text = (
        text.replace("[tables]\n", more)
        + '\n[defaults.spots]\nhouse = "house-a"\nband = "5"\nvalid_from = "2019-01-01"\n'
    )
    (made / "batch.toml").write_text(text)
    assert any("heading_row" not in sentence for sentence in problems(made))  # the row of units is no reading
    (made / "maps/spots.toml").write_text(spots.replace('kind = "spots"\n', 'kind = "spots"\nheading = [1, 2]\n'))
    enter_batch(made, into=tmp_path / "two.db", now=NOW)
    with closing(open_catalog(tmp_path / "two.db", readonly=True)) as db:
        readings = queries.spot_readings(db)
        assert [(place_text(r.source_row), r.spot, r.reading_dbm) for r in readings] == [
            ("3", "55", -35),
            ("4", "65", -45),
        ]
        assert verify(db) == []
    assert set(runs(tmp_path / "two.db")) == {"3.B", "3.C", "4.B", "4.C"}
    assert {r.source_row for r in readings} == {RowNumber.of(3), RowNumber.of(4)}


# --- Secrets ----------------------------------------------------------------------------------------------------


def test_a_sheet_with_something_hidden_tells_neither_title_nor_place(folder, tmp_path):
    made = folder(title="Secret Shale 3")
    text = (made / "batch.toml").read_text()
    hidden = sheets.device("tessarik-shale-3", embargo={"until": "2030-01-01T00:00Z", "covers": "existence"})
    (made / "batch.toml").write_text(f"{text}\n{sheets.batch_toml('x', device=[hidden]).split('CC-BY-4.0', 1)[1][1:]}")
    enter_batch(made, into=tmp_path / "secret.db", now=NOW)
    shown = public_copy(tmp_path / "secret.db", as_of=NOW)
    assert queries.sources(shown) == []
    assert "Secret" not in "\n".join(shown.conn.iterdump())
    assert len(queries.runs(shown)) == 11


def test_a_withdrawn_cell_of_a_batch_with_secrets_is_told_without_its_place(folder, tmp_path):
    made = folder()
    text = (made / "batch.toml").read_text()
    hidden = sheets.device("tessarik-shale-3", embargo={"until": "2030-01-01T00:00Z", "covers": "existence"})
    (made / "batch.toml").write_text(f"{text}\n{sheets.batch_toml('x', device=[hidden]).split('CC-BY-4.0', 1)[1][1:]}")
    path = tmp_path / "secret.db"
    enter_batch(made, into=path, now=NOW)
    enter_batch(withdrawal(tmp_path, "2019/runs/4.C"), into=path, now=NOW)
    shown = public_copy(path, as_of=datetime(2025, 8, 1, tzinfo=UTC))
    (told,) = queries.withdrawals(shown)
    assert "withdrawn-1" in told.id
    assert "4.C" not in told.id
    assert len(queries.runs(shown)) == 10
    # With nothing to hide any more, it is the cell again, and the sheet has its title.
    later = public_copy(path, as_of=datetime(2031, 1, 1, tzinfo=UTC))
    assert [one.id for one in queries.withdrawals(later)] == ["2019/runs/4.C"]
    assert [one.sheet for one in queries.sources(later)] == ["5 GHz"]


def test_rows_that_come_again_outlive_the_batch_that_brought_them_first(entered, folder):
    more = folder([*CROSS, [85, 100, 90, 80, 70]], name="again")
    (more / "batch.toml").write_text((more / "batch.toml").read_text().replace('id = "2019"', 'id = "again"', 1))
    assert enter_batch(more, into=entered, now=NOW).rows_new == 4
    with closing(open_catalog(entered, readonly=False)) as db:
        undo_batch("2019", catalog=db)
        assert {(run.batch_id, place_text(run.source_row)) for run in queries.runs(db)} >= {
            ("again", "4.C"),
            ("again", "6.E"),
        }
        assert [source.batch_id for source in queries.sources(db)] == ["again"]
        assert verify(db) == []
    assert len(runs(entered)) == 15


def test_a_hidden_sheet_is_asked(folder):
    def hide(sheet):
        sheet.parent.create_sheet("Shown").append(["nothing"])
        sheet.parent.active = 1
        sheet.sheet_state = "hidden"

    made = folder(plan='sheet = "5 GHz"\n' + CROSS_MAP, change=hide)
    (sentence,) = problems(made)
    assert 'The sheet "5 GHz" is hidden, and would be read if it showed. Unhide it, or delete it.' in sentence
    (made / "answers.toml").write_text('[[answer]]\ncause = "hidden-sheet"\ntable = "runs"\nmeans = "read"\n')
    assert check_batch(made, catalog=None).rows_new == 11


def test_columns_that_the_map_does_not_name_are_notes_and_may_be_conditions(folder):
    plan = (
        'kind = "runs"\n[column.attenuation_db]\nfrom = "Loss"\n[column.throughput]\nfrom = "Result"\nunit = "Mbit/s"\n'
    )
    rows = [["Loss", "Result", "repeat", "Transmit power"], [60, 812, 1, "full"], [60, 412, 2, "low"]]
    made = folder(
        rows, plan + '[column.repeat]\nfrom = "repeat"\n', defaults={"client": "wrenlet-u2", "direction": "down"}
    )
    (problem,) = check_batch(made, catalog=None).problems
    assert "Transmit power" in str(problem)
    assert problem.sheet == "5 GHz"
