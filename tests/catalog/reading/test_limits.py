"""Limits bite before the work: a table beyond them is refused before its rows are read; blanks cost nothing."""

from __future__ import annotations

import io
import zipfile

import openpyxl
import pytest

from catalog.reading import delimited, first_look, rawtable, sheets
from catalog.reading.batch import RawBatch, TomlFile, read_table
from catalog.reading.delimited import read_delimited
from catalog.reading.folder import Folder
from catalog.reading.opendocument import read_opendocument
from catalog.reading.toml_lines import index_lines
from catalog.reading.workbooks import read_workbook
from tests.catalog.reading.test_tables import as_ods, entity_bomb

NUMBER = '<table:table-cell office:value-type="float" office:value="3"/>'


def with_rows(body: str) -> bytes:
    """A workbook whose only sheet has *body* under the heading "repeat, rate"."""
    book = openpyxl.Workbook()
    book.active.append(["repeat", "rate"])
    stream, changed = io.BytesIO(), io.BytesIO()
    book.save(stream)
    with zipfile.ZipFile(stream) as old, zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                content = content.replace(b"</sheetData>", body.encode() + b"</sheetData>")
            new.writestr(name, content)
    return changed.getvalue()


@pytest.fixture
def parsed(monkeypatch):
    """Counts the rows that the parser of workbooks looks at, and the rows that any reader keeps."""
    counts = {"parsed": 0, "kept": 0}
    parse, keep = sheets._Parser.parse_row, rawtable.RawRow

    def counted(self, row):
        counts["parsed"] += 1
        return parse(self, row)

    def kept(number, cells):
        counts["kept"] += 1
        return keep(number, cells)

    monkeypatch.setattr(sheets._Parser, "parse_row", counted)
    monkeypatch.setattr(rawtable, "RawRow", kept)
    return counts


def test_a_cell_two_billion_rows_down_is_refused_by_its_number(parsed):
    (problem,) = read_workbook(
        "runs.xlsx", with_rows('<row r="2000000000"><c r="A2000000000"><v>1</v></c></row>')
    ).problems
    assert problem.expected == "A table has at most 1,000,000 rows, and there is text in row 2,000,000,000."
    assert problem.remedy == "Clear what stands out there, or split the table."
    assert parsed["parsed"] <= 2


def test_a_cell_in_the_last_column_is_refused():
    (problem,) = read_workbook("runs.xlsx", with_rows('<row r="3"><c r="XFD3"><v>1</v></c></row>')).problems
    assert problem.expected == "A table has at most 500 columns, and row 3 has text beyond them."


def test_cells_that_are_only_formatted_cost_nothing():
    body = "".join(f'<row r="{n}"><c r="XFD{n}" s="0"/></row>' for n in range(3, 3000))
    table = read_workbook("runs.xlsx", with_rows('<row r="2"><c r="A2"><v>1</v></c></row>' + body))
    assert (list(table.problems), [list(row.cells) for row in table.rows]) == ([], [["1", ""]])
    blanks = sheets._WithoutBlanks(io.BytesIO(body.encode()))
    assert b"<c" not in b"".join(iter(lambda: blanks.read(100), b""))  # the parser never sees them


def test_blank_cells_that_count_their_own_place_keep_it():
    body = '<row r="2"><c><v>1</v></c><c/></row><row r="3"><c/><c><v>7</v></c></row>'
    assert [list(row.cells) for row in read_workbook("runs.xlsx", with_rows(body)).rows] == [["1", ""], ["", "7"]]


def test_a_sheet_of_too_many_rows_is_counted_not_parsed(monkeypatch, parsed):
    monkeypatch.setattr("catalog.reading.workbooks.LAST_ROW", 20)
    body = "".join(f'<row r="{n}"><c r="A{n}"><v>1</v></c></row>' for n in range(2, 40))
    (problem,) = read_workbook("runs.xlsx", with_rows(body)).problems
    assert (problem.code, parsed["parsed"]) == ("too-long", 0)


def test_a_row_of_no_height_is_hidden():
    body = '<row r="2" ht="0" customHeight="1"><c r="A2"><v>1</v></c></row><row r="3"><c r="A3"><v>1</v></c></row>'
    assert read_workbook("runs.xlsx", with_rows(body)).hidden_rows == {2}


def test_rows_out_of_order_are_refused():
    body = '<row r="9"><c r="A9"><v>1</v></c></row><row r="4"><c r="A4"><v>2</v></c></row>'
    (problem,) = read_workbook("runs.xlsx", with_rows(body)).problems
    assert "its rows are not in order: row 4 follows row 9" in problem.expected


def test_two_cells_in_one_place_are_refused():
    body = '<row r="2"><c r="A2"><v>1</v></c><c r="A2"><v>2</v></c></row>'
    (problem,) = read_workbook("runs.xlsx", with_rows(body)).problems
    assert "row 2 has two cells in one place" in problem.expected


def test_a_csv_of_too_many_rows_is_counted_and_none_is_kept(monkeypatch, parsed):
    monkeypatch.setattr(delimited, "LAST_ROW", 20)
    table = read_delimited("runs.csv", b"repeat,rate\n" + b"1,2\n" * 30)
    assert (table.problems[0].code, table.rows, table.headers) == ("too-long", (), ())
    assert parsed["kept"] == 0


def test_line_ends_inside_quotes_and_blank_lines_are_not_rows(monkeypatch):
    monkeypatch.setattr(delimited, "LAST_ROW", 20)
    table = read_delimited("runs.csv", b"repeat,note\n" + b'1,"a\nb\nc\nd\ne"\n' * 10 + b"\n" * 30)
    assert (list(table.problems), len(table.rows)) == ([], 10)


def test_a_table_one_row_too_long_keeps_no_row(monkeypatch):
    monkeypatch.setattr(rawtable, "MAX_ROWS", 3)
    table = read_delimited("runs.csv", b"repeat,rate\n" + b"1,2\n" * 4)
    assert (table.problems[0].code, table.rows) == ("too-long", ())


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (
            f'<table:table-row table:number-rows-repeated="1999999999"><table:table-cell/></table:table-row>'
            f"<table:table-row>{NUMBER}</table:table-row>",
            "there is text in row 1,000,000,002",
        ),
        (
            '<table:table-row><table:table-cell table:number-columns-repeated="99999999999" '
            'office:value-type="float" office:value="3"/></table:table-row>',
            "row 2 has text beyond them",
        ),
        (f'<table:table-row table:number-rows-repeated="1048570">{NUMBER}</table:table-row>', "1,048,569"),
    ],
)
def test_an_ods_file_of_few_bytes_is_never_made_long(extra, words, parsed):
    (problem,) = read_opendocument("runs.ods", as_ods([["repeat", "rate"]], extra)).problems
    assert words in problem.expected
    assert parsed["kept"] == 0


def test_entities_in_an_ods_file_are_refused_in_words():
    (problem,) = read_opendocument("runs.ods", entity_bomb()).problems
    assert problem.expected == (
        "The file cannot be read as an .ods spreadsheet: "
        "it defines entities or names other files, which no spreadsheet program writes."
    )


def test_a_cell_far_below_many_rows_is_seen_before_they_are_parsed(parsed):
    rows = "".join(f'<row r="{n}"><c r="A{n}"><v>1</v></c></row>' for n in range(2, 3000))
    far = '<row r="1048576" spans="1:2"><c r="A1048576"><v>1</v></c></row>'
    (problem,) = read_workbook("runs.xlsx", with_rows(rows + far)).problems
    assert "there is text in row 1,048,576" in problem.expected
    assert parsed["parsed"] == 0


@pytest.mark.parametrize(
    ("column", "refused"), [("SF", False), ("SG", True), ("TA", True), ("AAA", True), ("ZZ", True)]
)
@pytest.mark.parametrize(
    "cell", ["<v>1</v>", "<is><t>x</t></is>", "<f>A1</f><v>2</v>", '<f t="shared" si="0"/><v>2</v>']
)
def test_a_cell_far_to_the_right_is_seen_before_rows_are_parsed(column, refused, cell, parsed):
    body = f'<row r="2"><c r="A2"><v>1</v></c></row><row r="3"><c r="{column}3" t="n" s="0">{cell}</c></row>'
    problems = read_workbook("runs.xlsx", with_rows(body)).problems
    assert ["row 3 has text beyond them" in problem.expected for problem in problems if "too-wide" in problem.code] == (
        [True] if refused else []
    )
    assert (parsed["parsed"] == 0) == refused


def test_an_ods_cell_far_below_many_rows_is_seen_before_they_are_read(monkeypatch):
    def untouched(*_):
        raise AssertionError("the rows are read")

    monkeypatch.setattr("catalog.reading.opendocument._sheets", untouched)
    row = f"<table:table-row>{NUMBER}</table:table-row>"
    blanks = '<table:table-row table:number-rows-repeated="999998"><table:table-cell/></table:table-row>'
    (problem,) = read_opendocument("runs.ods", as_ods([["repeat", "rate"]], row * 10 + blanks + row)).problems
    assert "there is text in row 1,000,010" in problem.expected


def test_rows_of_several_ods_sheets_are_counted_each_by_itself():
    row = f"<table:table-row>{NUMBER}</table:table-row>"
    blanks = '<table:table-row table:number-rows-repeated="600000"><table:table-cell/></table:table-row>'
    extra = f'{blanks}{row}</table:table><table:table table:name="Other">{blanks}{row}'
    assert read_opendocument("runs.ods", as_ods([["repeat", "rate"]], extra)).problems == []


def batch_with(tmp_path, content: bytes):
    (tmp_path / "runs.csv").write_bytes(content)
    raw = RawBatch(Folder(tmp_path.resolve()), TomlFile({}, index_lines("")), None, [], [], {})
    return read_table(raw, "runs.csv")


@pytest.mark.parametrize(
    ("content", "code", "row"),
    [
        (b"repeat,rate\n" + b"1,2\n" * 40, "too-long", 22),
        ("repeat,rate\n".encode("utf-16") + "1,2\n".encode("utf-16-le") * 40, "too-long", 22),
        (b'repeat,note\n1,"' + b"open, \n" * 20_000, "cell-too-long", 2),
        (b"a;" * 600 + b"\n1;2\n", "too-wide", 1),
        (b"a,b\n" + b"1" * 3000 + b"\n", "too-wide", 2),
    ],
)
def test_a_large_text_beyond_the_limits_is_refused_unread(content, code, row, monkeypatch, tmp_path):
    monkeypatch.setattr(first_look, "WORTH_A_LOOK", 10)
    monkeypatch.setattr(first_look, "LAST_ROW", 21)
    monkeypatch.setattr(first_look, "LONGEST_LINE", 2000)
    monkeypatch.setattr(Folder, "read", lambda *_, **__: pytest.fail("the file is read"))
    (problem,) = batch_with(tmp_path, content).problems
    assert (problem.code, problem.row) == (code, row)


def test_a_large_text_within_the_limits_is_read(monkeypatch, tmp_path):
    monkeypatch.setattr(first_look, "WORTH_A_LOOK", 10)
    table = batch_with(tmp_path, b'repeat,note\n1,"two\nlines"\n' * 1)
    assert (list(table.problems), len(table.rows)) == ([], 1)
