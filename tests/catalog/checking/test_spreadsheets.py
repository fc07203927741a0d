"""What a spreadsheet does behind a person's back: hidden parts, formulas without values, numbers for texts."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import openpyxl
import pytest

from catalog.checking.batches import check
from catalog.entering import check_batch
from catalog.reading.batch import read_batch
from tests import sheets

HEADER = ["attenuation_db", "repeat", "throughput (Mbit/s)", "note"]
ROWS = [[60, 1, 900.5, "door open"], [60, 2, 905, None], [70, 1, 400, None], [70, 2, 402, None]]


def book(rows=(HEADER, *ROWS), *, title="Runs"):
    made = openpyxl.Workbook()
    made.active.title = title
    for row in rows:
        made.active.append(row)
    return made


def packed(made) -> bytes:
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


@pytest.fixture
def checked(write_batch):
    def check(content: bytes, *, file="runs.xlsx", answers="", **parts):
        folder = write_batch(**parts)
        (folder / file).write_bytes(content)
        (folder / "answers.toml").write_text(answers)
        return check_batch(folder, catalog=None)

    return check


def answer(cause: str, means: str, row: int | None = None) -> str:
    place = "" if row is None else f"row = {row}\n"
    return f'[[answer]]\ncause = "{cause}"\ntable = "runs"\n{place}means = "{means}"\n'


def test_a_workbook_that_shows_everything_is_silent(checked):
    report = checked(packed(book()))
    assert (report.problems, report.warnings, report.rows_new) == ((), (), 4)


# --- Hidden sheets --------------------------------------------------------------------------------------------


def with_hidden_runs():
    made = book([HEADER, [60, 1, 100, None]], title="runs")
    shown = made.create_sheet("May")
    for row in [HEADER, *ROWS]:
        shown.append(row)
    made.worksheets[0].sheet_state = "hidden"
    made.active = 1
    return packed(made)


def test_a_hidden_sheet_is_never_read_before_a_visible_one_and_asked_about(checked):
    report = checked(with_hidden_runs())
    (problem,) = report.problems
    assert str(problem) == (
        'runs.xlsx row 1: The sheet "runs" is hidden, and would be read instead of "May" if it showed. '
        'Unhide it, or delete it. Answer it in answers.toml: cause = "hidden-sheet", table = "runs", row = 1, '
        'means = "read" or "leave out".'
    )
    assert report.rows_read == 4


@pytest.mark.parametrize(("means", "rows"), [("read", 1), ("leave out", 4)])
def test_a_hidden_sheet_is_read_or_left_out_as_answered(checked, means, rows):
    report = checked(with_hidden_runs(), answers=answer("hidden-sheet", means))
    assert (report.problems, report.rows_new) == ((), rows)


def test_a_hidden_sheet_nobody_would_read_is_only_named(checked):
    made = book()
    made.create_sheet("Lists").append(["a", "b"])
    made["Lists"].sheet_state = "veryHidden"
    report = checked(packed(made))
    assert report.problems == ()
    assert [warning.expected for warning in report.warnings] == [
        'Only the sheet "Runs" is read; the hidden sheet "Lists" is not.'
    ]


def test_a_workbook_with_nothing_but_a_hidden_sheet_is_asked_about(checked):
    made = book()
    made.create_sheet("Empty")
    made["Runs"].sheet_state = "hidden"
    made.active = 1
    assert [problem.code for problem in checked(packed(made)).problems] == ["hidden-sheet"]
    assert checked(packed(made), answers=answer("hidden-sheet", "read")).rows_new == 4


# --- Hidden rows and columns ----------------------------------------------------------------------------------


def with_hidden_rows():
    made = book()
    made.active.row_dimensions[3].hidden = True
    made.active.row_dimensions[5].hidden = True
    made.active.row_dimensions[9].hidden = True  # blank: hides nothing
    return packed(made)


def filtered_ods(visibility="filter") -> bytes:
    from tests.catalog.reading.test_tables import as_ods

    hidden = (
        f'<table:table-row table:visibility="{visibility}"><table:table-cell office:value-type="float" '
        'office:value="70"/><table:table-cell office:value-type="float" office:value="1"/>'
        '<table:table-cell office:value-type="float" office:value="400"/></table:table-row>'
    )
    return as_ods([HEADER[:3], [60, 1, 900.5]], hidden)


def test_hidden_rows_are_asked_about_by_their_number(checked):
    (problem,) = checked(with_hidden_rows()).problems
    assert str(problem) == (
        'runs.xlsx row 3: 2 rows of the sheet "Runs" are hidden or filtered out. '
        'Meant to be read, or left out? Answer it in answers.toml: cause = "hidden-rows", table = "runs", row = 3, '
        'means = "read" or "leave out".'
    )


@pytest.mark.parametrize(("means", "rows"), [("read", 4), ("leave out", 2)])
def test_hidden_rows_are_read_or_left_out_as_answered(checked, means, rows):
    report = checked(with_hidden_rows(), answers=answer("hidden-rows", means))
    assert (report.problems, report.rows_new) == ((), rows)
    assert report.repairs.get("hidden row", 0) == 4 - rows


@pytest.mark.parametrize("visibility", ["filter", "collapse"])
def test_rows_that_an_ods_sheet_filters_out_are_asked_about(checked, visibility):
    (problem,) = checked(filtered_ods(visibility), file="runs.ods").problems
    assert (problem.code, problem.row) == ("hidden-rows", 3)
    assert problem.expected == '1 row of the sheet "Runs" is hidden or filtered out.'
    assert (
        checked(filtered_ods(visibility), file="runs.ods", answers=answer("hidden-rows", "leave out", 3)).rows_new == 1
    )


def test_an_ods_sheet_that_does_not_show_is_asked_about(checked):
    content = filtered_ods("visible")
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w") as new:
        text = old.read("content.xml").decode()
        text = text.replace(
            "<office:body>",
            '<office:automatic-styles xmlns:style="urn:oasis:names:tc:opendocument:xmlns:'
            'style:1.0"><style:style style:name="ta2" style:family="table"><style:table-properties '
            'table:display="false"/></style:style></office:automatic-styles><office:body>',
        )
        new.writestr("content.xml", text.replace('table:name="Runs"', 'table:name="Runs" table:style-name="ta2"'))
    assert [problem.code for problem in checked(stream.getvalue(), file="runs.ods").problems] == ["hidden-sheet"]


def test_hidden_columns_are_asked_about_and_left_out_as_answered(checked):
    made = book([[*HEADER[:3], "rate of last year"], *ROWS])
    made.active.column_dimensions["D"].hidden = True
    (problem,) = checked(packed(made)).problems
    assert (problem.code, problem.expected) == (
        "hidden-columns",
        'A column is hidden in the sheet "Runs": rate of last year.',
    )
    report = checked(packed(made), answers=answer("hidden-columns", "leave out"))
    assert (report.problems, report.warnings, report.rows_new) == ((), (), 4)
    assert report.repairs == {"hidden column": 1}


# --- Formulas and numbers ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "cell", "column"),
    [(2, "C3", "throughput (Mbit/s)"), (3, "D3", "note"), (1, "B3", "repeat"), (4, "E3", "mood")],
)
def test_a_formula_without_a_stored_value_is_held_wherever_it_stands(checked, place, cell, column):
    rows = [[*HEADER, "mood"], *([*row, "calm"] for row in ROWS)]
    rows[2][place] = "=A3*2"
    (problem,) = checked(packed(book(rows))).problems
    assert str(problem) == (
        f'runs.xlsx row 3, column "{column}": Sheet Runs, {cell} holds a formula without a stored value. '
        "Open the file in the program it was made with and save it again, or type the value."
    )
    assert problem.code == "no-stored-value"


def test_a_formula_whose_value_is_stored_is_that_value(checked):
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(packed(book()))) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            content = content.replace(b'<c r="C2" t="n"><v>900.5</v></c>', b'<c r="C2"><f>A2*2</f><v>900.5</v></c>')
            empty = b'<c r="D3" t="str"><f>IF(1,"","")</f><v></v></c></row><row r="4">'
            new.writestr(name, content.replace(b'</row><row r="4">', empty))
    assert b"<f>" in zipfile.ZipFile(stream).read("xl/worksheets/sheet1.xml")
    report = checked(stream.getvalue())
    assert (report.problems, report.rows_new) == ((), 4)


def test_a_formula_in_a_heading_is_held(checked):
    rows = [[*HEADER[:3], "=A1"], *ROWS]
    assert "no-stored-value" in [problem.code for problem in checked(packed(book(rows))).problems]


def test_a_formula_without_a_value_can_be_answered(checked):
    rows = [HEADER, *([*row] for row in ROWS)]
    rows[1][2] = "=A2*2"
    answers = '[[answer]]\ntable = "runs"\nrow = 2\ncolumn = "throughput"\ntyped = "=A2*2"\nmeans = "900.5"\n'
    report = checked(packed(book(rows)), answers=answers)
    assert (report.problems, report.rows_new) == ((), 4)


def versions(value):
    return packed(book([[*HEADER, "firmware"], *([*row, value] for row in ROWS)]))


def test_a_version_that_the_sheet_holds_as_a_number_is_held_with_its_cell(checked):
    first, *_ = checked(versions(7.1)).problems
    assert str(first) == (
        'runs.xlsx row 2, column "firmware": Sheet Runs, E2 holds the number 7.1; typed 7.10? Format the column as '
        "text and type it again, or answer it once in answers.toml; repeat it there to confirm."
    )
    assert first.code == "number-for-text"
    assert checked(versions(7)).problems[0].expected == "Sheet Runs, E2 holds the number 7; typed 7.0?"


@pytest.mark.parametrize("means", ["7.10", "7.1"])
def test_one_answer_settles_a_column_of_numbers(checked, means):
    answers = f'[[answer]]\ntable = "runs"\ncolumn = "firmware"\ntyped = "7.1"\nmeans = "{means}"\n'

    codes = {problem.code for problem in checked(versions(7.1), answers=answers).problems}
    assert codes == (set() if means == "7.10" else {"lost-zero"})


def test_a_version_that_is_text_and_a_whole_number_for_a_name_are_taken(checked):
    assert checked(versions("7.10")).problems == ()
    rows = [[*HEADER, "session"], *([*row, 20250512] for row in ROWS)]
    more = '[[session]]\nid = "20250512"\nhouse = "house-a"\ndate = 2025-05-12\n'
    assert checked(packed(book(rows)), more=more).problems == ()
    rows = [[*HEADER, "session"], *([*row, 12.5] for row in ROWS)]
    assert {problem.code for problem in checked(packed(book(rows)), more=more).problems} == {"number-for-text"}


@pytest.mark.parametrize(
    ("form", "at"),
    [("yyyy-mm-dd", "2025-05-12"), ("yyyy-mm-dd hh:mm", "2025-05-11T22:00:00Z"), ("dd.mm.yyyy", "2025-05-12")],
)
def test_a_date_cell_without_a_time_is_a_day_and_no_midnight(write_batch, form, at):
    made = book([[*HEADER, "when"], *([*row, dt.datetime(2025, 5, 12)] for row in ROWS)])
    for number in range(2, 6):
        made.active.cell(number, 5).number_format = form
    folder = write_batch()
    (folder / "runs.xlsx").write_bytes(packed(made))
    result = check(read_batch(folder), None)
    assert result.problems == []
    assert {row["at_utc"] for row in result.rows["run"]} == {at}


# --- Two files ----------------------------------------------------------------------------------------------------


def test_two_files_of_one_name_are_refused(checked):
    text = "attenuation_db,repeat,throughput_mbit_s\n55,1,900\n"
    (problem,) = checked(packed(book()), runs_csv=text).problems
    assert str(problem) == (
        "runs.xlsx row 1: runs.csv and runs.xlsx go by one name, so first/runs/2 would be two rows. "
        "Keep one of the two files, or put the rows of both into one."
    )
    assert problem.code == "two-sources"


def test_two_files_of_one_name_are_refused_whatever_tables_they_are(checked):
    made = packed(
        book([["device", "date", "amount", "currency"], ["tessarik-shale-2", "2025-05-01", 9, "EUR"]], title="prices")
    )
    text = "attenuation_db,repeat,throughput_mbit_s\n55,1,900\n"
    assert [problem.code for problem in checked(made, file="may.xlsx", may_csv=text).problems] == ["two-sources"]


RUN = {"device_id": "dome", "source_row": 2}


@pytest.fixture
def two_sources(bench, write_batch):
    """A check against a catalogue that was filled when two files of one name were still taken."""
    old = bench.batch("old")
    bench.device(old, "dome")
    bench.client(old)
    bench.put("house", old, house_id="house-a", source_row=90)
    bench.put("session", old, session_id="day-1", source_row=91)
    for place, file in enumerate(("runs.csv", "runs.xlsx")):
        bench.put("run", old, **RUN, source_file=file, attenuation_db=55.0 + 20 * place)

    def check(more="", **files):
        head = 'format = 1\nid = "second"\ntitle = "B"\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n'
        return check_batch(write_batch(toml=head + more, **files), catalog=bench.db).problems

    return check


CEILING = """
[[client]]
id = "client-a"
  [[client.ceiling]]
  band = "5"
  width_mhz = 80
  direction = "down"
  run = "{}"
"""


def test_a_withdrawal_or_a_ceiling_that_would_name_two_rows_has_to_name_the_file(two_sources):
    withdrawal = "what,id,from,reason\nrun,{},2025-06-01,mistyped\n"
    ambiguous = two_sources(CEILING.format("old/runs/2"), withdrawals_csv=withdrawal.format("old/runs/2"))
    assert {problem.code for problem in ambiguous} == {"two-sources"}
    assert [problem.table for problem in ambiguous] == ["batch.toml", "withdrawals.csv"]
    assert "would be a row of runs.csv and of runs.xlsx. Name the file, such as old/runs.csv/2." in str(ambiguous[0])
    exact = two_sources(CEILING.format("old/runs.xlsx/2"), withdrawals_csv=withdrawal.format("old/runs.csv/2"))
    assert exact == ()


def test_an_ods_number_that_is_none_is_a_text(checked):
    content = sheets.ods([["attenuation_db", "repeat", "throughput (Mbit/s)"], [60, 1, 905]])
    broken = (
        zipfile.ZipFile(io.BytesIO(content)).read("content.xml").replace(b'office:value="905"', b'office:value="fast"')
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("content.xml", broken)
    (problem,) = checked(stream.getvalue(), file="runs.ods").problems
    assert (problem.value, problem.code) == ("fast", "not-a-number")
