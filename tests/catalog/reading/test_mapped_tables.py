"""Sheets that are not one row a run, read through a map: which rows they give, and from which cells."""

from __future__ import annotations

import datetime as dt

import openpyxl
import pytest

from catalog.reading.grids import read_grids
from catalog.reading.mapped_tables import read_mapped_table
from catalog.reading.table_maps import TableMap, read_table_map
from catalog.row_numbers import RowNumber, cell_of, place_text, row_of, typed_place
from tests import sheets

CROSS = [
    ["Loss", "Laptop", None, "Tablet", None],
    ["dB", "Down", "Up", "Down", "Up"],
    [55, 812, 790, 700, 650],
    [65, 600.5, 580, 510, None],
    [75, 300, "DNF", 200, 180],
]
MERGED = ["B1:C1", "D1:E1"]
CROSS_MAP = """kind = "runs"
heading = [1, 2]
[column.attenuation_db]
from = "Loss"
[column.client]
heading_row = 1
words = {"Laptop" = "wrenlet-u2", "Tablet" = "murrow-m8"}
[column.direction]
heading_row = 2
[column.throughput]
cells = "rest"
unit = "Mbit/s"
"""


def read(content, plan, *, file="runs.xlsx"):
    made = read_table_map("maps/old.toml", plan.encode())
    assert isinstance(made, TableMap), [str(problem) for problem in made]
    return read_mapped_table(read_grids(file, content), made)


def rows(table):
    """Row -> its texts by heading; whatever is wrong fails here."""
    assert not table.problems, [str(problem) for problem in table.problems]
    return {str(row.number): dict(zip(table.headers, row.cells, strict=True)) for row in table.rows}


def values(table, *names):
    return [tuple(row[name] for name in names) for row in rows(table).values()]


def sentences(table):
    return [str(problem) for problem in table.problems]


# --- Cross tables -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", sheets.FORMS)
def test_a_client_by_loss_cross_table_under_two_headings(form):
    table = read(sheets.FORMS[form](CROSS, merged=MERGED), CROSS_MAP, file=f"runs.{form}")
    got = rows(table)
    assert len(got) == 11
    assert got["4.B"] == {
        "attenuation dB": "65",
        "client": "wrenlet-u2",
        "direction": "Down",
        "throughput Mbit/s": "600.5",
    }
    assert got["5.C"]["throughput Mbit/s"] == "DNF"
    assert "4.E" not in got
    assert {row["client"] for name, row in got.items() if name[-1] in "DE"} == {"murrow-m8"}


@pytest.mark.parametrize("form", sheets.FORMS)
def test_each_value_knows_its_cell(form):
    table = read(sheets.FORMS[form](CROSS, merged=MERGED, title="May"), CROSS_MAP, file=f"runs.{form}")
    number = next(row.number for row in table.rows if str(row.number) == "4.C")
    where = {name: table.cell_name(number, place) for place, name in enumerate(table.headers)}
    assert where == {"attenuation dB": "A4", "client": "B1", "direction": "C2", "throughput Mbit/s": "C4"}
    assert table.cell(number, 3) == ("C4" if form == "csv" else "sheet May, C4")


def test_down_and_up_beside_each_other():
    plan = (
        'kind = "runs"\n[column.spot]\nfrom = "Place"\n[column.direction]\nheading_row = 1\n'
        '[column.throughput]\ncells = "rest"\nunit = "Mbit/s"\n'
    )
    table = read(sheets.text([["Place", "Down", "Up"], ["S1", "800", "700"], ["S2", "", "300"]]), plan, file="r.csv")
    assert values(table, "spot", "direction", "throughput Mbit/s") == [
        ("S1", "Down", "800"),
        ("S1", "Up", "700"),
        ("S2", "Up", "300"),
    ]


def test_run_1_to_3_become_repeats_and_the_average_is_left_out():
    plan = """kind = "runs"
leave_out = ["Avg"]
[column.attenuation_db]
from = "Loss (dB)"
[column.repeat]
heading_row = 1
words = {"Run 1" = 1, "Run 2" = 2, "Run 3" = 3}
[column.throughput]
cells = "rest"
unit = "Mbit/s"
"""
    sheet = [["Loss (dB)", "Run 1", "Run 2", "Run 3", "Avg"], [60, 800, 810, 790, 800], ["Mean", 800, 810, 790, 800]]
    table = read(sheets.xlsx(sheet), plan)
    assert values(table, "attenuation dB", "repeat", "throughput Mbit/s") == [
        ("60", "1", "800"),
        ("60", "2", "810"),
        ("60", "3", "790"),
    ]
    assert table.repairs == {"totals row": 1}


def test_an_average_that_nobody_left_out_is_not_read_as_a_repeat():
    plan = (
        'kind = "runs"\n[column.attenuation_db]\nfrom = "Loss"\n[column.repeat]\nheading_row = 1\n'
        'words = {"Run 1" = 1}\n[column.throughput]\ncells = "rest"\nunit = "Mbit/s"\n'
    )
    table = read(sheets.text([["Loss", "Run 1", "Avg"], ["60", "800", "800"]]), plan, file="r.csv")
    assert [row["repeat"] for row in rows(table).values()] == ["1", "Avg"]  # which the plain form refuses as a number


def test_a_merged_name_counts_for_every_row_it_covers():
    plan = (
        'kind = "runs"\n[column.client]\nfrom = "Client"\n[column.attenuation_db]\nfrom = "Loss"\n'
        '[column.throughput]\nfrom = "Mbit/s"\n'
    )
    sheet = [["Client", "Loss", "Mbit/s"], ["wrenlet-u2", 60, 800], [None, 70, 500], ["murrow-m8", 60, 700]]
    for form in ("xlsx", "ods"):
        table = read(sheets.FORMS[form](sheet, merged=["A2:A3"]), plan, file=f"r.{form}")
        assert [row["client"] for row in rows(table).values()] == ["wrenlet-u2", "wrenlet-u2", "murrow-m8"]
        assert table.cell_name(table.rows[1].number, 0) == "A2"
        assert list(rows(table)) == ["2", "3", "4"]
    # Text files have no merged cells, so a blank stays one.
    table = read(sheets.text(sheet), plan, file="r.csv")
    assert [row["client"] for row in rows(table).values()] == ["wrenlet-u2", "", "murrow-m8"]


def test_a_merged_value_for_two_places_is_refused():
    table = read(sheets.xlsx([*CROSS[:2], [55, 812, None, 700, 650]], merged=[*MERGED, "B3:C3"]), CROSS_MAP)
    assert sentences(table) == [
        "runs.xlsx, sheet Sheet, B3: The merged cell B3 holds '812' for several places of the table. "
        "Split it, and type what was measured in each."
    ]
    assert len(table.rows) == 2


def test_a_value_without_a_heading_is_refused():
    more = [["85", "1", "2", "3", "4", "5"], ["95", "1", "2", "3", "4", "6"]]
    table = read(sheets.text([*CROSS, *more]), CROSS_MAP, file="r.csv")
    assert sentences(table) == [
        "r.csv, F2: F6 holds '5', but no direction stands above it in row 2. Fill it in, or list the column under "
        "leave_out in maps/old.toml."
    ]


def test_a_lone_text_between_the_rows_is_asked():
    sheet = [*CROSS[:3], ["Second floor"], *CROSS[3:]]
    table = read(sheets.xlsx(sheet, merged=MERGED), CROSS_MAP)
    (sentence,) = sentences(table)
    assert sentence.startswith("runs.xlsx, sheet Sheet, A4: 'Second floor' stands in a row without a result.")
    left = read(sheets.xlsx(sheet, merged=MERGED), 'leave_out = ["second floor"]\n' + CROSS_MAP)
    assert len(rows(left)) == 11


def test_a_place_that_was_not_measured_is_counted():
    table = read(sheets.text([*CROSS, ["85", "", ""]]), CROSS_MAP, file="r.csv")
    assert len(rows(table)) == 11
    assert table.repairs == {"row without a result": 1}


# --- Headings ---------------------------------------------------------------------------------------------------

STACKED_MAP = """kind = "runs"
heading = [1, 2]
[column.client]
heading_row = 1
[column.attenuation_db]
from = "Loss"
[column.direction]
heading_row = 2
[column.throughput]
cells = "rest"
unit = "Mbit/s"
"""


@pytest.mark.parametrize("form", sheets.FORMS)
def test_three_stacked_tables_each_with_its_own_order(form):
    sheet = [
        ["wrenlet-u2"],
        ["Loss", "Down", "Up"],
        [60, 800, 700],
        [],
        ["murrow-m8"],
        ["Loss", "Up", "Down"],
        [60, 500, 600],
        [],
        [],
        ["tall"],
        ["Down", "Loss"],
        [100, 70],
    ]
    table = read(sheets.FORMS[form](sheet), STACKED_MAP, file=f"r.{form}")
    assert {name: tuple(row.values()) for name, row in rows(table).items()} == {
        "3.B": ("wrenlet-u2", "60", "Down", "800"),
        "3.C": ("wrenlet-u2", "60", "Up", "700"),
        "7.B": ("murrow-m8", "60", "Up", "500"),
        "7.C": ("murrow-m8", "60", "Down", "600"),
        "12.A": ("tall", "70", "Down", "100"),
    }
    assert table.repairs == {"further heading": 2}
    assert table.cell_name(table.rows[-1].number, 0) == "A10"


def test_a_second_heading_in_the_middle_is_read_with_its_own_order():
    plan = (
        'kind = "runs"\n[column.client]\nfrom = "Client"\n[column.attenuation_db]\nfrom = "Loss"\n'
        '[column.throughput]\nfrom = "Mbit/s"\n'
    )
    sheet = [
        ["Client", "Loss", "Mbit/s", "Channel"],
        ["wrenlet-u2", "60", "800", "36"],
        ["Mbit/s", "Client", "Loss", "Remark"],
        ["500", "murrow-m8", "70", "door open"],
    ]
    table = read(sheets.text(sheet), plan, file="r.csv")
    assert [tuple(row.values()) for row in rows(table).values()] == [
        ("wrenlet-u2", "60", "800", "36", ""),
        ("murrow-m8", "70", "500", "", "door open"),
    ]
    assert table.headers[3:] == ["Channel", "Remark"]
    assert table.cell_name(table.rows[1].number, 2) == "A4"
    assert table.cell_name(table.rows[1].number, 4) == "D4"


def test_a_heading_that_lacks_a_column_is_refused():
    plan = 'kind = "runs"\n[column.client]\nfrom = "Client"\n[column.throughput]\nfrom = "Mbit/s"\n'
    sheet = [["Client", "Mbit/s"], ["a", "1"], ["Client", "Speed"], ["b", "2"]]
    assert sentences(read(sheets.text(sheet), plan, file="r.csv")) == [
        "r.csv row 3: This looks like another heading, but it has no 'mbit/s'. Correct it, or maps/old.toml: heading, "
        "and from of its columns."
    ]


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        (["Place", "Down"], "There is no heading 'Loss' in row 1; there is Place, Down."),
        (["Loss", "loss"], "'Loss' is the heading of A1 and B1, so it names no one column. Give them headings that"),
    ],
)
def test_a_column_that_is_not_there_or_twice_is_refused(heading, words):
    plan = 'kind = "runs"\n[column.attenuation_db]\nfrom = "Loss"\n[column.throughput]\ncells = "rest"\n'
    (sentence,) = sentences(read(sheets.text([heading, ["1", "2"]]), plan, file="r.csv"))
    assert words in sentence


def test_a_name_of_the_heading_among_values_is_no_heading():
    sheet = [*CROSS[:4], ["75", "300", "Loss", "200", "180"]]
    table = read(sheets.text(sheet), CROSS_MAP, file="r.csv")
    assert rows(table)["5.C"]["throughput Mbit/s"] == "Loss"  # which the plain form refuses


def test_a_column_without_a_heading_is_named_by_its_place():
    plan = (
        'kind = "runs"\n[column.client]\nfrom = "column 1"\n[column.attenuation_db]\nheading_row = 1\n'
        '[column.throughput]\ncells = "rest"\nunit = "Mbit/s"\n'
    )
    sheet = [["", "55 dB", "65 dB"], ["wrenlet-u2", "800", "700"], ["", "65 dB", "55 dB"], ["murrow-m8", "300", "400"]]
    table = read(sheets.text(sheet), plan, file="r.csv")
    assert values(table, "client", "attenuation", "throughput Mbit/s") == [
        ("wrenlet-u2", "55 dB", "800"),
        ("wrenlet-u2", "65 dB", "700"),
        ("murrow-m8", "65 dB", "300"),
        ("murrow-m8", "55 dB", "400"),
    ]


# --- Units ------------------------------------------------------------------------------------------------------


def test_a_units_row_states_the_units():
    plan = """kind = "runs"
heading = [1, 2]
[column.attenuation_db]
from = "Loss"
[column.throughput]
from = "Speed"
"""
    table = read(sheets.text([["Loss", "Speed"], ["dB", "MB/s"], ["60", "100"]]), plan, file="r.csv")
    assert table.headers == ["attenuation dB", "throughput MB/s"]
    table = read(
        sheets.text([["Loss", "Speed"], ["dB", "MB/s"], ["60", "100"]]), plan + 'unit = "Mbit/s"\n', file="r.csv"
    )
    assert sentences(table) == [
        "r.csv, B1: The heading says MB/s for throughput, the map Mbit/s. Correct the unit in maps/old.toml."
    ]


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        (
            "Down",
            "Nothing says the unit of throughput. Write it in [column.throughput] of maps/old.toml, such as unit =",
        ),
        ("Down mb/s", "The unit of throughput can be"),
    ],
)
def test_a_unit_that_nothing_states_is_asked_once(heading, words):
    plan = 'kind = "runs"\n[column.attenuation_db]\nfrom = "Loss"\n[column.throughput]\ncells = "rest"\n'
    sentence = " ".join(sentences(read(sheets.text([["Loss", heading], ["1", "2"], ["2", "3"]]), plan, file="r.csv")))
    assert sentence.count(words) == 1


# --- Times ------------------------------------------------------------------------------------------------------

TIMED = """kind = "runs"
[column.when]
from = {}
[column.throughput]
from = "Mbit/s"
"""
APART = TIMED.format('["Date", "Time"]')


@pytest.mark.parametrize("form", sheets.FORMS)
@pytest.mark.parametrize("mac", [False, True])
def test_date_and_time_apart(form, mac):
    sheet = [["Date", "Time", "Mbit/s"], [dt.date(2019, 3, 4), dt.time(10, 4), 800], ["2019-03-05", "11:00", 700]]
    kind = {} if form == "csv" else {"mac": mac}
    table = read(sheets.FORMS[form](sheet, **kind), APART, file=f"r.{form}")
    assert values(table, "when") == [("2019-03-04 10:04:00",), ("2019-03-05 11:00",)]
    assert table.cell_name(table.rows[0].number, 0) == "A2"


@pytest.mark.parametrize("form", ["xlsx", "ods"])
@pytest.mark.parametrize(("mac", "day"), [(False, 45789), (True, 45789 - 1462)])
def test_day_numbers_are_read_by_the_date_system_of_the_sheet(form, mac, day):
    # 12 May 2025 is day 45,789 of the 1900 system and 44,327 of that of 1904, 1,462 days apart.
    whole = read(
        sheets.FORMS[form]([["When", "Mbit/s"], [day + 0.25, 1]], mac=mac), TIMED.format('"When"'), file=f"r.{form}"
    )
    assert values(whole, "when") == [("2025-05-12 06:00:00",)]
    apart = read(
        sheets.FORMS[form]([["Date", "Time", "Mbit/s"], [day, 0.4194444444444444, 1]], mac=mac), APART, file=f"r.{form}"
    )
    assert values(apart, "when") == [("2025-05-12 10:04:00",)]


def test_a_day_number_in_a_text_file_stays_what_it_is():
    table = read(sheets.text([["When", "Mbit/s"], ["45789.25", "1"]]), TIMED.format('"When"'), file="r.csv")
    assert values(table, "when") == [("45789.25",)]


def test_the_map_says_which_of_day_and_month_is_first():
    sheet = sheets.text([["When", "Mbit/s"], ["03/04/2025 10:00", "1"], ["5.6.2025 11:00", "1"]])
    first = TIMED.format('"When"\nday_first = true')
    assert values(read(sheet, first, file="r.csv"), "when") == [("2025-04-03 10:00",), ("2025-6-5 11:00",)]
    last = TIMED.format('"When"\nday_first = false')
    assert values(read(sheet, last, file="r.csv"), "when") == [("2025-03-04 10:00",), ("2025-5-6 11:00",)]


# --- Words ------------------------------------------------------------------------------------------------------


def test_words_and_numbers_for_missing():
    plan = """kind = "runs"
[column.attenuation_db]
from = "Loss"
[column.level_dbm]
from = "Signal"
missing = [0, "n/a"]
[column.throughput]
from = "Mbit/s"
words = {"no link" = "not possible"}
"""
    sheet = [["Loss", "Signal", "Mbit/s"], [60, 0, 800], [70, "N/A", "No Link"], [75, "0.0", 3], [80, -50, 100]]
    table = read(sheets.xlsx(sheet), plan)
    assert values(table, "level", "throughput Mbit/s") == [("", "800"), ("", "not possible"), ("", "3"), ("-50", "100")]


def test_a_cell_that_means_not_measured_is_no_row():
    table = read(sheets.xlsx([["Loss", "Down"], [60, 0], [70, "-"], [80, 5]]), 'kind = "runs"\n[column.attenuation_db]\n'
        'from = "Loss"\n[column.throughput]\ncells = "rest"\nunit = "Mbit/s"\nmissing = [0, "-"]\n')  # fmt: skip
    assert list(rows(table)) == ["4.B"]
    assert table.repairs == {"cell that means not measured": 2}


# --- Sheets and files -------------------------------------------------------------------------------------------


def two_sheets(*, hidden=""):
    book = openpyxl.Workbook()
    book.active.title = "5 GHz"
    other = book.create_sheet("6 GHz")
    for sheet in book:
        for row in CROSS:
            sheet.append(row)
        for part in MERGED:
            sheet.merge_cells(part)
        sheet.sheet_state = "hidden" if sheet.title == hidden else "visible"
    other["B3"] = 999
    return sheets.packed(book)


def test_the_map_names_the_sheet():
    table = read(two_sheets(), 'sheet = "6 ghz"\n' + CROSS_MAP)
    assert (table.sheet, rows(table)["3.B"]["throughput Mbit/s"]) == ("6 GHz", "999")
    assert sentences(read(two_sheets(), CROSS_MAP)) == [
        "runs.xlsx row 1: Several sheets hold something: 5 GHz, 6 GHz. Write sheet = in maps/old.toml."
    ]
    assert "There is no sheet '2.4': 5 GHz, 6 GHz." in sentences(read(two_sheets(), 'sheet = "2.4"\n' + CROSS_MAP))[0]


def test_a_hidden_sheet_is_not_read_without_a_word():
    table = read(two_sheets(hidden="6 GHz"), 'sheet = "6 GHz"\n' + CROSS_MAP)
    assert not table.rows
    assert len(table.hidden_sheet.rows) == 11


def test_hidden_rows_and_columns_are_known_by_the_rows_made_of_them():
    book = openpyxl.load_workbook(sheets.stream(sheets.xlsx(CROSS, merged=MERGED)))
    book.active.row_dimensions[4].hidden = True
    book.active.column_dimensions["D"].hidden = True
    table = read(sheets.packed(book), CROSS_MAP)
    assert {place_text(number) for number in table.hidden_rows} == {"4.B", "4.C", "4.D", "3.D", "5.D"}


def test_a_line_that_names_the_separator():
    content = sheets.text(CROSS, separator=";", first="sep=;\n")
    table = read(
        content,
        CROSS_MAP.replace("[1, 2]", "[2, 3]").replace("row = 2", "row = 3").replace("row = 1", "row = 2"),
        file="r.csv",
    )
    assert len(rows(table)) == 11
    assert table.cell_name(table.rows[0].number, 3) == "B4"  # the line is the first row, as text editors count


@pytest.mark.parametrize(("content", "file", "words"), [
    (b"", "r.csv", "There is no text in the file."),
    (b"\x00\x01", "r.csv", "bytes that no text file has"),
    (b"no archive", "r.xlsx", "it is something else under this name"),
    (b"no archive", "r.pdf", "A table is a .csv, .tsv, .xlsx or .ods file."),
    (b"Loss,Laptop\ndB,Down\n", "r.csv", "Read through the map, the sheet has no row."),
])  # fmt: skip
def test_a_file_that_holds_no_such_sheet_is_refused(content, file, words):
    assert any(words in sentence for sentence in sentences(read(content, CROSS_MAP, file=file)))


# --- Maps -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "words"), [
    ("kind = ", "not valid TOML"),
    ('kind = "log"', "kind is 'log', but a map for a sheet is for spots, runs"),
    ('kind = "runs"', "The map names no column."),
    ('kind = "runs"\nformat = "csv"', "'format' is not known in a map for a sheet"),
    ('kind = "runs"\nsheet = 1', "sheet is the title of one, as text."),
    ('kind = "runs"\nheading = [2, 1]', "heading lists the rows that make the heading, such as [1, 2]."),
    ('kind = "runs"\nheading = [1, 9]', "A heading is at most 5 rows high."),
    ('kind = "runs"\nleave_out = "Avg"', "leave_out is a list of headings."),
    ('kind = "runs"\n[column.speed]\nfrom = "x"', "runs has no column 'speed'; it has when, device"),
    ('kind = "runs"\n[column]\nclient = "x"', "is written as [column.client]"),
    ('kind = "runs"\n[column.client]\nfrm = "x"', "'frm' is not known in [column.client]"),
    ('kind = "runs"\n[column.client]\nfrom = "x"\nconstant = "y"', "needs one of from, heading_row, cells and constant."),
    ('kind = "runs"\n[column.client]\nfrom = 1', "from in [column.client] is a heading, or a list of headings."),
    ('kind = "runs"\n[column.client]\nfrom = []', "from in [column.client] names no heading."),
    ('kind = "runs"\n[column.client]\nheading_row = 2', "heading_row in [column.client] is 2, but the heading has the rows 1."),
    ('kind = "runs"\n[column.client]\nheading_row = 1', 'no column has cells = "rest"'),
    ('kind = "runs"\n[column.throughput]\ncells = "all"', 'cells in [column.throughput] is "rest".'),
    ('kind = "runs"\n[column.throughput]\ncells = "rest"\n[column.level_dbm]\ncells = "rest"', "both take every other cell."),
    ('kind = "runs"\n[column.firmware]\nconstant = 7.10', '7.1 is a number; firmware is text, and a number loses its last zeros: write "7.1".'),
    ('kind = "runs"\n[column.client]\nconstant = [1]', "constant in [column.client] is one value."),
    ('kind = "runs"\n[column.throughput]\nfrom = "x"\nunit = "dB"', "The unit 'dB' of throughput is unknown or of another quantity; it becomes Mbit/s."),
    ('kind = "runs"\n[column.client]\nfrom = "x"\nmissing = 0', "missing in [column.client] is a list"),
    ('kind = "runs"\n[column.client]\nfrom = "x"\nwords = ["a"]', "words in [column.client] is a table, typed = meant."),
    ('kind = "runs"\n[column.client]\nfrom = "x"\nday_first = true', "day_first in [column.client] is true or false, for a time or a date."),
    ('kind = "runs"\n[column.client]\nfrom = "x\\u200b"', "holds the character U+200B"),
])  # fmt: skip
def test_a_wrong_map_is_refused_in_words(text, words):
    problems = read_table_map("maps/old.toml", text.encode())
    assert isinstance(problems, list)
    assert all(str(problem).startswith("maps/old.toml line ") for problem in problems)
    assert any(words in str(problem) for problem in problems)


# --- Places -----------------------------------------------------------------------------------------------------


def test_a_place_is_a_number_that_says_table_row_and_column():
    place = RowNumber.of(14, 6)
    assert (f"{place}", place_text(int(place)), cell_of(place), row_of(place)) == ("14.F", "14.F", "F14", 14)
    assert (place_text(14), cell_of(14)) == ("14", "")
    assert place_text(RowNumber.of(1_000_004, 500)) == "1000004.SF"
    assert [typed_place(text) for text in ("14", "014", "14.f", "f14", "14.", "")] == [
        "14",
        "14",
        "14.F",
        None,
        None,
        None,
    ]
