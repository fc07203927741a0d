"""Tables in four formats: the same rows, whatever a spreadsheet adds around them."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import json
import sqlite3
import zipfile
from collections import Counter
from contextlib import closing
from xml.sax.saxutils import escape

import openpyxl
import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.exporting import dump
from catalog.reading.delimited import read_delimited, separator_of
from catalog.reading.opendocument import read_opendocument
from catalog.reading.rawtable import Exact
from catalog.reading.workbooks import read_workbook
from tests.catalog.conftest import BATCH_TOML, RUN_DEFAULTS

NOW = dt.datetime(2025, 8, 1, tzinfo=dt.UTC)
HEADER = ["when", "attenuation_db", "repeat", "throughput (Mbit/s)", "firmware", "note"]
# Sixty rows of plain values: 20 attenuations, three repeats each.
START = dt.datetime(2025, 5, 12, 8, 0)
ROWS = [
    [START + dt.timedelta(minutes=3 * place + rep), 40 + 2.5 * place, rep, 900.5 - 40 * place, "7.10", note]
    for place in range(20)
    for rep, note in ((1, None), (2, "door open"), (3, None))
]


def as_text(separator: str) -> bytes:
    lines = [HEADER, *([str(cell) if cell is not None else "" for cell in row] for row in ROWS)]
    return "".join(separator.join(line) + "\n" for line in lines).encode()


def as_xlsx() -> bytes:
    book = openpyxl.Workbook()
    for row in [HEADER, *ROWS]:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def as_ods(rows=(HEADER, *ROWS), extra="") -> bytes:
    """A minimal spreadsheet written by hand after ISO/IEC 26300: values typed, equal cells run together."""

    def cell(value: object) -> str:
        if value is None:
            return '<table:table-cell table:number-columns-repeated="1"/>'
        if isinstance(value, dt.datetime):
            return f'<table:table-cell office:value-type="date" office:date-value="{value.isoformat()}"/>'
        if isinstance(value, int | float):
            shown = "<text:p>as shown</text:p>"
            return f'<table:table-cell office:value-type="float" office:value="{value}">{shown}</table:table-cell>'
        return f'<table:table-cell office:value-type="string"><text:p>{escape(str(value))}</text:p></table:table-cell>'

    body = "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows)
    content = (
        '<?xml version="1.0" encoding="UTF-8"?><office:document-content '
        'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
        'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
        'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
        f'<table:table table:name="Runs">{body}{extra}'
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="1024"/>'
        "</table:table-row></table:table></office:spreadsheet></office:body></office:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
    return stream.getvalue()


FORMATS = {
    "runs.csv": as_text(","),
    "runs.tsv": as_text("\t"),
    "runs.xlsx": as_xlsx(),
    "runs.ods": as_ods(),
}


def canonical_dump(write_batch, tmp_path, file: str) -> str:
    """Hash of the dump, but for the name, hash and bytes of the one table file: those differ by what a format is."""
    folder = write_batch(file.replace(".", "-"))
    (folder / file).write_bytes(FORMATS[file])
    report = enter_batch(folder, into=tmp_path / f"{file}.db", now=NOW)
    assert (report.rows_read, report.rows_new, report.warnings) == (60, 60, ())
    out = io.BytesIO()
    with closing(open_catalog(tmp_path / f"{file}.db", readonly=True)) as db:
        dump(db, out)
    rows = [json.loads(line) for line in out.getvalue().splitlines()[1:-1]]
    own = hashlib.sha256(FORMATS[file]).hexdigest()
    rows = [row for row in rows if not (row["table"] == "raw_content" and row["row"]["sha256"] == own)]
    assert sum(row["table"] == "run" for row in rows) == 60
    text = "\n".join(json.dumps(row) for row in rows)
    assert text.count(json.dumps(file)) == 61  # 60 rows that came from it, and its own
    return hashlib.sha256(text.replace(json.dumps(file), '"runs"').replace(own, "").encode()).hexdigest()


def test_the_same_sixty_rows_in_four_formats_give_the_same_canonical_dump(write_batch, tmp_path):
    """E01: each format into a catalogue of its own, with equal hashes of all that is not the file itself."""
    assert len({canonical_dump(write_batch, tmp_path, file) for file in FORMATS}) == 1


def test_one_format_entered_and_the_others_recognised(write_batch, tmp_path):
    catalog = tmp_path / "catalog.db"
    folder = write_batch()
    (folder / "runs.csv").write_bytes(FORMATS["runs.csv"])
    enter_batch(folder, into=catalog, now=NOW)
    (folder / "runs.csv").unlink()
    for file in ("runs.tsv", "runs.xlsx", "runs.ods"):
        (folder / file).write_bytes(FORMATS[file])
        report = enter_batch(folder, into=catalog, now=NOW)
        assert (report.rows_read, report.rows_new, report.already_entered) == (60, 0, "first"), file
        (folder / file).unlink()


# --- Text ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "separator"),
    [("a,b,c", ","), ("a;b;c", ";"), ("a\tb\tc", "\t"), ('"a;b;c",d', ","), ("one", ","), ("a;b (x,y);c", ";")],
)
def test_the_separator_is_settled_by_the_header_line(header, separator):
    assert separator_of(header + "\n1;2,3\n") == separator


def test_rfc_4180_quoting():
    # Source: RFC 4180 section 2, rules 5 to 7: line breaks, commas and doubled quotes inside quotes.
    table = read_delimited("runs.csv", b'a,b\r\n"x, ""y""","two\r\nlines"\r\nz,\r\n')
    assert [row.cells for row in table.rows] == [['x, "y"', "two\r\nlines"], ["z", ""]]
    assert [row.number for row in table.rows] == [2, 3]
    assert table.repairs == {"CRLF line ends": 1}


@pytest.mark.parametrize(
    ("content", "line", "words"),
    [
        (b"a,b\n1,\xe4\n", 2, "is not UTF-8"),
        (b"a,b\n1,\x00\n", 2, "bytes that no text file has"),
        (b'a,b\n1,"open\n2,3\n', 2, "quotation mark"),
        (b"", 1, "no header row"),
        (b"\n\n  \n", 1, "no header row"),
        (b"a,b\n" + b"x" * 200_001 + b",1\n", 2, "more than 100,000 characters"),
        (b"a,b\n1,812,5\n", 2, "3 cells, but the header names 2"),
        (b",".join([b"a"] * 600) + b"\n", 1, "at most 500 columns"),
    ],
)
def test_text_that_is_no_table_is_refused_with_its_line(content, line, words):
    (problem,) = read_delimited("runs.csv", content).problems
    assert problem.row == line
    assert words in str(problem)


def test_byte_order_marks_and_utf_16():
    plain = read_delimited("runs.csv", "ä,b\n1,2\n".encode())
    for encoding in ("utf-8-sig", "utf-16"):  # both write a byte order mark
        marked = read_delimited("runs.csv", "ä,b\n1,2\n".encode(encoding))
        assert (marked.headers, marked.rows) == (plain.headers, plain.rows)
        assert marked.repairs == {"byte order mark": 1}


def test_blank_rows_totals_and_titles_are_left_out_and_counted():
    table = read_delimited(
        "runs.csv", b"Bench of May,,\n\nrepeat,level,rate\n1,-50,700\n,,\n2,-51,710\nMean,,705\nTotal:,,\n,,\n\n"
    )
    assert table.headers == ["repeat", "level", "rate"]
    assert table.header_row == 3
    assert [(row.number, row.cells) for row in table.rows] == [(4, ["1", "-50", "700"]), (6, ["2", "-51", "710"])]
    assert table.repairs == Counter({"totals row": 2, "blank row": 1, "title row": 1})


# --- Workbooks ----------------------------------------------------------------------------------------------


def workbook(rows, *, title="Runs", second=()) -> bytes:
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    if second:
        sheet = book.create_sheet("More")
        for row in second:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_values_of_a_workbook_are_what_a_person_would_type():
    table = read_workbook("runs.xlsx", workbook([["a", "b", "c", "d"], [1.0, 812.5, True, dt.date(2025, 5, 12)]]))
    assert table.rows[0].cells == ["1", "812.5", "yes", "2025-05-12"]
    assert [type(cell) is Exact for cell in table.rows[0].cells] == [True, True, False, False]


def test_further_sheets_are_named_not_read():
    table = read_workbook("runs.xlsx", workbook([["a"], [1]], second=[["b"], [2]]))
    assert table.headers == ["a"]
    (notice,) = table.notices
    assert 'Only the sheet "Runs" is read; "More" is not. Save it as a file of its own.' in str(notice)


def sheets(**rows: list[list[object]]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for title, cells in rows.items():
        sheet = book.create_sheet(title)
        for row in cells:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_the_sheet_called_like_the_file_is_read_wherever_it_stands():
    book = sheets(Notes=[["x", "y"]], Prices=[["amount", "date"]], RUNS=[["repeat", "spot"]])
    table = read_workbook("runs.xlsx", book)
    assert (table.stem, table.headers) == ("runs", ["repeat", "spot"])
    assert [str(notice) for notice in table.notices] == [
        'runs.xlsx row 1: Only the sheet "RUNS" is read; "Notes" is not. Save it as a file of its own.',
        'runs.xlsx row 1: Only the sheet "RUNS" is read; "Prices" is not. Save it as prices.xlsx beside this one.',
    ]


def test_of_a_workbook_of_another_name_the_first_sheet_called_like_a_table_is_read(write_batch, tmp_path):
    folder = write_batch("bench")
    book = sheets(Notes=[["nothing", "here"]], runs=[HEADER, *ROWS], prices=[["date", "amount"]])
    (folder / "bench.xlsx").write_bytes(book)
    report = check_batch(folder, catalog=None)
    assert (report.rows_read, report.problems) == (60, ())
    assert [warning.code for warning in report.warnings] == ["further-sheet", "further-sheet"]


def test_cells_of_an_ods_file_repeated_and_spaced():
    extra = (
        '<table:table-row table:number-rows-repeated="2"><table:table-cell office:value-type="float" office:value="3" '
        'table:number-columns-repeated="2"/></table:table-row><table:table-row><table:table-cell '
        'office:value-type="string"><text:p>two<text:s text:c="2"/>spaces</text:p></table:table-cell>'
        '<table:table-cell office:value-type="percentage" office:value="0.87"/></table:table-row>'
    )
    table = read_opendocument("runs.ods", as_ods([["a", "b"], [1, None]], extra))
    assert [list(row.cells) for row in table.rows] == [["1", ""], ["3", "3"], ["3", "3"], ["two  spaces", "0.87 %"]]
    assert [row.number for row in table.rows] == [2, 3, 4, 5]


REPEATED = '<table:table-row table:number-rows-repeated="{}"><table:table-cell><text:p>{}</text:p></table:table-cell>{}'


def test_an_ods_row_may_not_be_repeated_into_a_table_of_its_own():
    many = REPEATED.format(1_048_570, "5", "</table:table-row>")
    (problem,) = read_opendocument("runs.ods", as_ods([["a", "b"]], many)).problems
    assert "Row 2 brings the rows that repeat the one above to 1,048,569" in problem.expected
    blanks = REPEATED.format(99_999, "", "</table:table-row>")
    table = read_opendocument(
        "runs.ods", as_ods([["a", "b"]], blanks * 9 + REPEATED.format(1, "5", "</table:table-row>"))
    )
    assert not table.problems
    assert table.repairs["blank row"] == 899_991


def bomb() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 200_000_000)
    return stream.getvalue()


def entity_bomb() -> bytes:
    """Nested entities ("billion laughs") in an .ods file."""
    entities = '<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {new} "{f"&{old};" * 10}">' for old, new in zip("abcdefgh", "bcdefghi", strict=True)
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("content.xml", f"<?xml version='1.0'?><!DOCTYPE x [{entities}]><x>&i;</x>")
    return stream.getvalue()


@pytest.mark.parametrize("reader", [read_workbook, read_opendocument])
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"PK\x03\x04 not really", "a part of it is missing"),
        (FORMATS["runs.xlsx"][:900], "a part of it is missing"),
        (FORMATS["runs.ods"][:300], "a part of it is missing"),
        (b"", "it is empty"),
        # Source: MS-CFB, section 2.2: what workbooks before 2007, and encrypted ones since, begin with.
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "an older kind, or has a password"),
        (b"\n<html><table><tr><td>1</td></tr></table></html>", "a page of the web"),
        (b"\x89PNG\r\n\x1a\n" + bytes(60), "something else under this name"),
        (bomb(), "would unpack to 200 MB"),
    ],
)
def test_damaged_files_and_bombs_are_refused_in_words(reader, content, words):
    table = reader("runs.xlsx", content)
    assert table.rows == ()
    assert any(words in str(problem) for problem in table.problems)


@pytest.mark.parametrize(("cell", "words"), [("A1048576", "at most 1,000,000 rows"), ("XFD3", "at most 500 columns")])
def test_text_at_the_far_end_of_a_sheet_is_refused(cell, words):
    book = openpyxl.Workbook()
    book.active["A1"], book.active["B1"], book.active[cell] = "repeat", "rate", "far"
    stream = io.BytesIO()
    book.save(stream)
    (problem,) = read_workbook("runs.xlsx", stream.getvalue()).problems
    assert words in str(problem)


# --- Dirt -----------------------------------------------------------------------------------------------------

CLEAN = """\
when,attenuation_db,level_dbm,repeat,throughput (Mbit/s),width_mhz,note
2025-05-12 14:00,60,-50,1,1024.5,80,door open
2025-05-12 14:01,60,-51,2,998,80,
2025-05-12 14:02,70,-60,1,402.5,80,calm
"""
# The same, columns shuffled, three renamed, and every kind of dirt the format promises to bear.
DIRTY = (
    "\ufeffNotes;RSSI [dBm];Rep;Channel Width (MHz);MBIT/S;Attenuation dB;WHEN;Humour\r\n"
    "door open;\u221250;1;80;1.024,5;60;2025-05-12 14:00;\r\n"
    ";;;;;;;\r\n"
    ";\u221251;2;80;998;60;2025-05-12 14:01;good\r\n"
    "calm;\u221260;1;80;402,5;70\u00a0dB;2025-05-12 14:02;\r\n"
    "Mittelwert;;;;808,33;;;\r\n"
)


def test_a_shuffled_renamed_and_dirtied_sheet_equals_the_clean_one(write_batch, tmp_path):
    stored = []
    for name, text in (("clean", CLEAN), ("dirty", DIRTY)):
        catalog = tmp_path / f"{name}.db"
        ignored = 'ignore_columns = ["humour"]\n' if name == "dirty" else ""
        report = enter_batch(
            write_batch(name, toml=ignored + BATCH_TOML + RUN_DEFAULTS, runs_csv=text), into=catalog, now=NOW
        )
        with sqlite3.connect(catalog) as db:
            stored.append(
                db.execute(
                    "SELECT at_utc, attenuation_db, level_dbm, repeat, throughput_mbit_s, width_mhz, note FROM run "
                    "ORDER BY run_id"
                ).fetchall()
            )
    assert stored[0] == stored[1]
    assert report.repairs == {
        "byte order mark": 1,
        "CRLF line ends": 1,
        "minus sign": 3,
        "no-break space": 1,
        "blank row": 1,
        "totals row": 1,
    }
    assert report.warnings == ()
    with sqlite3.connect(tmp_path / "dirty.db") as db:
        assert db.execute("SELECT source_row, header, typed FROM extra").fetchall() == [(4, "Humour", "good")]


def test_a_file_that_is_no_table_is_named(write_batch):
    folder = write_batch(runs_csv=CLEAN, shopping_csv="milk,bread\n1,2\n")
    (warning,) = check_batch(folder, catalog=None).warnings
    assert (warning.table, warning.code) == ("shopping.csv", "unknown-table")


def test_a_sheet_under_another_name_is_the_table_whose_columns_it_has(write_batch):
    report = check_batch(write_batch(may_csv=CLEAN), catalog=None)
    assert (report.rows_new, report.problems, report.warnings) == (3, (), ())


UNITS_BELOW = """\
when,rep,attenuation,level,throughput,outcome,note
,,dB,dBm,Mbit/s,,
"""


def test_a_heading_of_two_rows_is_joined():
    rows = "2025-05-12 10:00,1,50,-40,812,finished,\n2025-05-12 10:02,2,50,-41,0.8 Gbit/s,finished,door open\n"
    table = read_delimited("runs.csv", (UNITS_BELOW + rows).encode())
    assert list(table.headers) == ["when", "rep", "attenuation dB", "level dBm", "throughput Mbit/s", "outcome", "note"]
    assert [row.number for row in table.rows] == [3, 4]
    assert table.repairs == {"heading of two rows": 1}
    merged = "Attempt,,Place,,Result,,\nwhen,rep,attenuation dB,level dBm,Mbit/s,outcome,note\n" + rows
    table = read_delimited("runs.csv", merged.encode())
    assert table.headers[2:5] == ["Place attenuation dB", "Place level dBm", "Result Mbit/s"]
    assert len(table.rows) == 2


@pytest.mark.parametrize(
    "rows",
    [
        "device,block,marking,,read\ntessarik,radio,QX,odd,read\n",  # a digit-free row under a column without a name
        "device,block,marking,read\ntessarik,radio,QX,read\n",
    ],
)
def test_a_row_of_words_is_no_heading(rows):
    table = read_delimited("parts.csv", rows.encode())
    assert len(table.rows) == 1
    assert not table.repairs


def test_merged_cells_give_the_same_runs_as_a_plain_heading(write_batch, tmp_path):
    rows = "2025-05-12 10:00,1,50,-40,812,finished,\n2025-05-12 10:02,2,50,-41,0.8 Gbit/s,finished,door open\n"
    plain = "when,repeat,attenuation_db,level_dbm,throughput (Mbit/s),outcome,note\n"
    merged = "Attempt,,Place,,Result,,\nwhen,rep,attenuation dB,level dBm,Mbit/s,outcome,remark\n"
    defaults = RUN_DEFAULTS.replace('when = "2025-05-12 14:00"\n', "")
    stored = []
    for name, heading in (("plain", plain), ("merged", merged)):
        folder = write_batch(name, defaults=defaults, runs_csv=heading + rows)
        report = enter_batch(folder, into=tmp_path / f"{name}.db", now=NOW)
        assert (report.rows_new, list(report.warnings)) == (2, [])
        with sqlite3.connect(tmp_path / f"{name}.db") as db:
            stored.append(
                db.execute("SELECT at_utc, attenuation_db, level_dbm, throughput_mbit_s, note FROM run").fetchall()
            )
    assert stored[0] == stored[1]
    assert [row[3] for row in stored[0]] == [812, 800]


def test_two_unknown_columns_of_one_name_are_two_notes(write_batch, tmp_path):
    folder = write_batch("twice", runs_csv="attenuation_db,repeat,Mbit/s,mood,mood\n50,1,800,good,bad\n")
    enter_batch(folder, into=tmp_path / "catalog.db", now=NOW)
    with sqlite3.connect(tmp_path / "catalog.db") as db:
        notes = db.execute("SELECT header, typed FROM extra ORDER BY header").fetchall()
    assert notes == [("mood", "good"), ("mood (column 5)", "bad")]
