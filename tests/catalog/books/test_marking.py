"""The marked copy of a workbook: read back with the library that spreadsheet files are read with, not with our own code."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import openpyxl
import pytest
from click.testing import CliRunner
from openpyxl.styles import Font

from builder.cli import main
from catalog.entering import check_batch
from tests.workbooks import bench, workbook

HEADER = ["when", "attenuation_db", "level_dbm", "repeat", "throughput (Mbit/s)", "note"]
WHEN = dt.datetime(2025, 5, 12, 14, 0)


def made_book(rows, *, title="Runs", others=()):
    made = openpyxl.Workbook()
    sheet = made.active
    sheet.title = title
    for row in (HEADER, *rows):
        sheet.append(row)
    for cell in sheet["A"][1:]:
        cell.number_format = "dd.mm.yyyy hh:mm"
    sheet["E2"].number_format = "0.00"
    sheet["F2"].data_type = "s"  # a text that looks like a formula
    sheet["A1"].font = Font(bold=True)
    sheet.column_dimensions["A"].width = 31
    for other in others:
        made.create_sheet(other)["A1"] = "left alone"
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


ROWS = [[WHEN, 60, -50, 1, 700.125, "=not a formula"], [WHEN, 60, 54, 2, 701, None], [WHEN, 60, 55, 3, 702, None]]


@pytest.fixture
def marked(write_batch):
    """Checks with --mark; the copies by their names, and what the verb said."""

    def mark(files, **parts):
        folder = write_batch(**parts)
        for name, content in files.items():
            (folder / name).write_bytes(content)
        result = CliRunner().invoke(main, ["check", str(folder), "--mark", "--catalog", str(folder / "none.db")])
        copies = {one.name: openpyxl.load_workbook(one) for one in folder.glob("*.checked.xlsx")}
        return copies, result, folder

    return mark


def test_problems_stand_at_their_cells_and_by_cause_on_the_first_sheet(marked):
    content = made_book(ROWS, others=["Sketches"])
    copies, result, folder = marked({"runs.xlsx": content})
    assert (result.exit_code, (folder / "runs.xlsx").read_bytes()) == (1, content)
    book = copies["runs.checked.xlsx"]
    assert book.sheetnames == ["Problems", "Runs"]  # only what was read
    first = [[cell.value for cell in row] for row in book["Problems"].iter_rows()]
    assert first[0] == ["What", "Where", "How many", "To do", "One answer for all"]
    assert first[1] == [
        "(row 3) 54 is positive. A received level is below 0 dBm. Did you mean -54?",
        'runs.xlsx rows 3 and 4, column "level_dbm"',
        "2",
        "Correct the cell.",
        'cause = "level-positive", table = "runs", column = "level_dbm", means = "nothing heard"',
    ]
    sheet = book["Runs"]
    assert [cell.coordinate for row in sheet.iter_rows() for cell in row if cell.comment] == ["C3", "C4"]
    assert sheet["C3"].comment.text == (
        "Read: 54\nExpected: 54 is positive. A received level is below 0 dBm. Did you mean -54?\n"
        'To do: Correct the cell. Answer it in answers.toml: cause = "level-positive", table = "runs", row = 3, '
        'means = "nothing heard".'
    )
    assert sheet["C3"].fill.fgColor.rgb.endswith("FFB84D")
    assert sheet["C2"].fill.fill_type is None


def test_values_formats_and_widths_are_those_of_the_original(marked):
    copies, _, _ = marked({"runs.xlsx": made_book(ROWS)})
    sheet = copies["runs.checked.xlsx"]["Runs"]
    assert [[cell.value for cell in row] for row in sheet.iter_rows()] == [HEADER, *ROWS]
    assert (sheet["A2"].number_format, sheet["E2"].number_format) == ("dd.mm.yyyy hh:mm", "0.00")
    assert (sheet["A1"].font.bold, sheet["B1"].font.bold) == (True, False)
    assert sheet.column_dimensions["A"].width == 31
    assert sheet["F2"].data_type == "s"  # as it was


def test_a_copy_is_never_read_and_the_next_one_replaces_it(marked, write_batch):
    content = made_book(ROWS)
    copies, _, folder = marked({"runs.xlsx": content})
    assert len(copies) == 1
    report = check_batch(folder, catalog=None)
    assert ({problem.table for problem in report.problems}, report.rows_read) == ({"runs.xlsx"}, 3)
    assert [warning for warning in report.warnings if "checked" in warning.table] == []


def test_what_only_follows_is_paler_and_points_to_its_cause(marked):
    spots = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\nhouse-a,S1,5,2025-01-01,20,34\n"
    rows = [[WHEN, "S1", 1, 700]]
    made = openpyxl.Workbook()
    for row in (["when", "spot", "repeat", "throughput (Mbit/s)"], *rows):
        made.active.append(row)
    made.active.title = "Problems"
    stream = io.BytesIO()
    made.save(stream)
    copies, _, _ = marked({"runs.xlsx": stream.getvalue()}, spots_csv=spots)
    book = copies["runs.checked.xlsx"]
    assert book.sheetnames == ["Problems 2", "Problems"]
    cell = book["Problems"]["B2"]
    assert cell.fill.fgColor.rgb.endswith("FFE9C7")
    assert cell.comment.text.endswith("It only follows from spots.csv, 2.")
    assert book["Problems 2"]["C2"].value == "1, and 1 that only follow"


def test_a_row_without_a_cell_of_its_own_is_marked_where_it_begins(marked):
    rows = [[WHEN, 60, -50, 1, 700, None, "beyond"]]
    copies, _, _ = marked({"runs.xlsx": made_book(rows)})
    sheet = copies["runs.checked.xlsx"]["Runs"]
    assert "the header names 6 columns" in sheet["A2"].comment.text
    assert sheet["G2"].value == "beyond"


def test_a_sound_workbook_is_copied_and_says_so(marked):
    copies, result, _ = marked({"runs.xlsx": made_book(ROWS[:1])})
    assert result.exit_code == 0
    assert copies["runs.checked.xlsx"]["Problems"]["A2"].value == "Nothing to settle."


def test_without_a_workbook_it_says_that_there_is_nothing_to_mark(marked):
    copies, result, _ = marked({}, runs_csv="attenuation_db,repeat,throughput_mbit_s\n60,1,700\n")
    assert (copies, "nothing to mark" in result.stderr) == ({}, True)


NAMES = "".join(
    f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for short, name in (
        ("office", "office"),
        ("table", "table"),
        ("text", "text"),
        ("style", "style"),
        ("number", "datastyle"),
        ("fo", "xsl-fo-compatible"),
    )
)
STYLES = """<office:automatic-styles>
<style:style style:name="co1" style:family="table-column"><style:table-column-properties style:column-width="2in"/></style:style>
<number:date-style style:name="N1"><number:day number:style="long"/><number:text>.</number:text><number:month number:style="long"/>
<number:text>.</number:text><number:year number:style="long"/></number:date-style>
<number:number-style style:name="N2"><number:number number:decimal-places="2" number:min-integer-digits="1"/></number:number-style>
<style:style style:name="ce1" style:family="table-cell" style:data-style-name="N1"/>
<style:style style:name="ce2" style:family="table-cell" style:data-style-name="N2"><style:text-properties fo:font-weight="bold"/></style:style>
</office:automatic-styles>"""


def ods(rows: str) -> bytes:
    """A spreadsheet with styles, by hand after ISO/IEC 26300."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(
            "content.xml",
            f"<office:document-content{NAMES}>{STYLES}<office:body><office:spreadsheet>"
            f'<table:table table:name="Runs">{rows}</table:table>'
            "</office:spreadsheet></office:body></office:document-content>",
        )
    return stream.getvalue()


def test_an_ods_file_is_marked_with_its_values_formats_and_widths(marked):
    words = "".join(f"<table:table-cell><text:p>{word}</text:p></table:table-cell>" for word in ("when", *HEADER[1:5]))
    numbers = "".join(
        f'<table:table-cell office:value-type="float" office:value="{value}"{style}><text:p>x</text:p></table:table-cell>'
        for value, style in ((60, ""), (54, ""), (1, ""), (700.5, ' table:style-name="ce2"'))
    )
    day = '<table:table-cell table:style-name="ce1" office:value-type="date" office:date-value="2025-05-12T14:00:00"/>'
    rows = (
        '<table:table-column table:style-name="co1"/><table:table-column table:number-columns-repeated="4"/>'
        f"<table:table-row>{words}</table:table-row><table:table-row>{day}{numbers}</table:table-row>"
    )
    copies, _, _ = marked({"runs.ods": ods(rows)})
    sheet = copies["runs.checked.xlsx"].worksheets[1]
    assert [cell.value for cell in sheet[2]] == [WHEN, 60, 54, 1, 700.5]
    assert (sheet["A2"].number_format, sheet["E2"].number_format) == ("dd.mm.yyyy", "0.00")
    assert (sheet["E2"].font.bold, sheet["D2"].font.bold) == (True, False)
    assert sheet.column_dimensions["A"].width == pytest.approx(2 / 0.085, abs=0.01)
    assert "54 is positive" in sheet["C2"].comment.text


def test_ten_thousand_problems_are_marked_each_at_its_cell(marked):
    rows = [[WHEN, 60 + number % 40, 40 + number % 40, number % 9 + 1, 700, None] for number in range(10_000)]
    copies, _, _ = marked({"runs.xlsx": made_book(rows)})
    assert sum(cell.comment is not None for cell in copies["runs.checked.xlsx"]["Runs"]["C"]) == 10_000


def test_a_workbook_that_is_a_batch_is_marked_in_its_things_and_its_rows(tmp_path):
    sheets = bench()
    sheets["Devices"][1][3] = "802.11zz"
    sheets["Runs"][2][6] = "fifty"
    workbook(sheets).save(tmp_path / "bench.xlsx")
    result = CliRunner().invoke(
        main, ["check", str(tmp_path / "bench.xlsx"), "--mark", "--catalog", str(tmp_path / "none.db")]
    )
    assert result.exit_code != 0, result.output
    copy = openpyxl.load_workbook(tmp_path / "bench.checked.xlsx")
    assert set(sheets) < set(copy.sheetnames)
    assert "802.11zz" in copy["Devices"]["D2"].comment.text
    assert "fifty" in copy["Runs"]["G3"].comment.text
    assert copy["Runs"]["A2"].value == sheets["Runs"][1][0]
    again = CliRunner().invoke(
        main, ["check", str(tmp_path / "bench.checked.xlsx"), "--catalog", str(tmp_path / "n.db")]
    )
    assert again.exit_code != 0
    assert "marked copy" in again.output
