"""Maps proposed from sheets, read back through the reader, and what a refusal says of such a sheet."""

from __future__ import annotations

import pytest

from catalog.beginning.sheet_proposal import propose_sheet
from catalog.checking.heading_words import HeadingWords, heading_words
from catalog.entering import check_batch
from catalog.errors import InputRefused
from tests import sheets
from tests.batches import batch_at
from tests.catalog.reading.test_mapped_tables import CROSS, MERGED, read, rows


@pytest.fixture
def proposed(tmp_path):
    """A proposal and the rows read through it, with "?" for the unit answered."""

    def propose(made, form="xlsx", **options):
        content = made if isinstance(made, bytes) else sheets.FORMS[form](made, **options)
        file = tmp_path / f"sheet.{form}"
        file.write_bytes(content)
        proposal = propose_sheet(file)
        assert proposal is not None
        return proposal, rows(read(content, proposal.text.replace('"?"', '"Mbit/s"'), file=file.name))

    return propose


@pytest.mark.parametrize("form", sheets.FORMS)
def test_a_client_by_loss_cross_table(proposed, form):
    proposal, got = proposed(CROSS, form, merged=MERGED)
    assert proposal.kind == "runs"
    assert proposal.text.startswith('kind = "runs"\nheading = [1, 2]\n')
    assert got["4.C"] == {
        "attenuation dB": "65",
        "client": "Laptop",
        "direction": "Up",
        "repeat": "1",
        "throughput Mbit/s": "580",
    }
    assert len(got) == 11
    assert proposal.first[:2] == (
        "11 rows read",
        "3.B  direction Down, attenuation dB 55, client Laptop, repeat 1, throughput 812",
    )
    assert len(proposal.first) == 11
    assert any('Row 1 says Laptop, Tablet. Is each the id of a client? If not, write words = { "Laptop" =' in q for q in proposal.questions)  # fmt: skip
    assert any("Nothing says the unit of the results." in q for q in proposal.questions)
    assert any("Not in the sheet: when, device, firmware, session, band, width_mhz." in n for n in proposal.notes)


def test_down_and_up_beside_each_other_below_a_title(proposed):
    sheet = [["Throughput in Mbit/s"], ["Place", "Down", "Up", "RSSI"], ["S1", 800, 700, -50], ["S2", 500, 400, -60]]
    proposal, got = proposed(sheet)
    assert "heading = [2]\n" in proposal.text
    assert 'unit = "Mbit/s"' in proposal.text
    assert [(r["spot"], r["level"], r["direction"], r["throughput Mbit/s"]) for r in got.values()] == [
        ("S1", "-50", "Down", "800"),
        ("S1", "-50", "Up", "700"),
        ("S2", "-60", "Down", "500"),
        ("S2", "-60", "Up", "400"),
    ]
    assert proposal.questions == ()
    assert "Above the heading, and not read: Throughput in Mbit/s." in proposal.notes


def test_run_1_to_3_and_their_average(proposed):
    proposal, got = proposed(
        [["Loss (dB)", "Run 1", "Run 2", "Run 3", "Avg"], [60, 800, 810, 790, 800], [70, 500, 0, 4, 3]]
    )
    assert 'leave_out = ["Avg"]' in proposal.text
    assert [(r["attenuation dB"], r["repeat"]) for r in got.values()] == [(a, r) for a in ("60", "70") for r in "123"]
    assert any(
        "What does '0' among the results mean? If it was not measured, write missing = [\"0\"]" in q
        for q in proposal.questions
    )


def test_repeats_that_are_only_numbers_below_merged_directions(proposed):
    sheet = [["Loss", "Down", None, "Up", None], ["", 1, 2, 1, 2], [60, 1.5, 2.5, 4, 5], [70, 1.5, 2.5, 4, 5]]
    proposal, got = proposed(sheet, merged=["B1:C1", "D1:E1"])
    assert [(r["direction"], r["repeat"]) for r in got.values()][:4] == [
        ("Down", "1"),
        ("Down", "2"),
        ("Up", "1"),
        ("Up", "2"),
    ]
    assert "Are 1 and 2 in row 2 repeats?" in proposal.questions


def test_one_heading_that_says_client_and_direction(proposed):
    sheet = [["attenuation", "Laptop down", "Laptop up", "Tablet down"], [60, 1.5, 2.5, 3.5], [70, 1, 2, 3]]
    _, got = proposed(sheet, "csv")
    assert [(r["client"], r["direction"]) for r in got.values()][:3] == [
        ("Laptop", "down"),
        ("Laptop", "up"),
        ("Tablet", "down"),
    ]


def test_losses_above_and_clients_beside(proposed):
    proposal, got = proposed([["", "55 dB", "65 dB"], ["wrenlet-u2", 800, 700], ["murrow-m8", 500, 400]])
    assert [(r["client"], r["attenuation"]) for r in got.values()] == [
        ("wrenlet-u2", "55"),
        ("wrenlet-u2", "65"),
        ("murrow-m8", "55"),
        ("murrow-m8", "65"),
    ]
    assert "Does column 1 name the client? It is taken for it." in proposal.questions


@pytest.mark.parametrize("form", sheets.FORMS)
def test_stacked_tables_with_a_title_each(proposed, form):
    sheet = [
        ["wrenlet-u2"],
        ["Loss", "Down", "Up"],
        [60, 800, 700],
        [],
        ["murrow-m8"],
        ["Loss", "Up", "Down"],
        [60, 500, 600],
    ]
    proposal, got = proposed(sheet, form)
    assert [(r["client"], r["direction"], r["throughput Mbit/s"]) for r in got.values()] == [
        ("wrenlet-u2", "Down", "800"),
        ("wrenlet-u2", "Up", "700"),
        ("murrow-m8", "Up", "500"),
        ("murrow-m8", "Down", "600"),
    ]
    assert any(q.startswith("Row 1 says wrenlet-u2, murrow-m8.") for q in proposal.questions)


@pytest.mark.parametrize("form", sheets.FORMS)
def test_stacked_tables_of_one_row_a_run_below_the_names_of_clients(proposed, form):
    head = ["Date", "Time", "Loss", "Run", "Mbit/s"]
    tables = [
        [[client], head, *(["13.05.2020", f"14:{n}0", 50 + 10 * n, n, 700 - n] for n in (1, 2)), [None]]
        for client in ("Laptop", "Tablet")
    ]
    proposal, got = proposed([row for table in tables for row in table], form)
    assert [(r["client"], r["when"], r["attenuation"], r["repeat"], r["throughput Mbit/s"]) for r in got.values()] == [
        (client, f"2020-05-13 14:{n}0", str(50 + 10 * n), str(n), str(700 - n))
        for client in ("Laptop", "Tablet")
        for n in (1, 2)
    ]
    assert not any("Nothing counts repeats" in note for note in proposal.notes)


def test_means_by_month_are_summaries(proposed):
    sheet = [["Month", "Client", "Loss", "Mean (Mbit/s)", "n", "sd"], ["2021-03", "Laptop", 50, 724.2, 3, 21.9]]
    proposal, got = proposed(sheet)
    (row,) = got.values()
    assert (row["when"], row["of_runs"], row["statistic"]) == ("2021-03", "3", "mean")
    assert row["throughput Mbit/s"] == "724.2"
    assert "repeat" not in row
    assert not any("repeat" in note for note in proposal.notes)


def test_a_second_heading_with_another_order(proposed):
    sheet = [
        ["Client", "Loss", "Mbit/s", "Channel"],
        ["wrenlet-u2", 60, 800, 36],
        ["Mbit/s", "Client", "Loss", "Remark"],
        [500, "murrow-m8", 70, "door open"],
    ]
    proposal, got = proposed(sheet)
    assert [(r["client"], r["Channel"], r["Remark"]) for r in got.values()] == [
        ("wrenlet-u2", "36", ""),
        ("murrow-m8", "", "door open"),
    ]
    assert "A heading begins again in row 3; it is read by its own order." in proposal.notes


def test_date_and_time_apart_a_units_row_and_the_order_of_the_day(proposed):
    sheet = [
        ["Date", "Time", "Client", "Loss", "Speed"],
        ["", "", "", "dB", "MB/s"],
        ["12.05.2025", "10:04", "a", "60", "100"],
    ]
    _, got = proposed([*sheet, ["13.05.2025", "10:04", "a", "70", "90"]], "csv")
    assert [r["when"] for r in got.values()] == ["2025-05-12 10:04", "2025-05-13 10:04"]
    assert list(got["3"])[1:4] == ["client", "attenuation dB", "throughput MB/s"]
    unsure, got = proposed(sheet, "csv")
    assert any("Does the day come first in '12.05.2025'? Write day_first = true or false in [column.when]." in q for q in unsure.questions)  # fmt: skip
    assert got["3"]["when"] == "12.05.2025 10:04"


def test_a_line_that_names_the_separator(proposed):
    _, got = proposed(sheets.text(CROSS, separator=";", first="sep=;\n"), "csv")
    assert len(got) == 11


def test_a_sheet_of_another_table(proposed):
    proposal, got = proposed([["face", "material", "reading C", "load", "minutes"], ["top", "metal", 41.5, "busy", 60]])
    assert proposal.kind == "heat"
    assert got["2"]["reading °C"] == "41.5"


def test_several_sheets_are_named(proposed):
    book = sheets.openpyxl.Workbook()
    book.active.title = "Notes"
    book.active.append(["nothing here"])
    other = book.create_sheet("May")
    for row in CROSS:
        other.append(row)
    proposal, got = proposed(sheets.packed(book))
    assert '\nsheet = "May"\n' in proposal.text
    assert "Only the sheet May is read; write a map for each of the others: Notes." in proposal.notes
    assert len(got) == 11


@pytest.mark.parametrize(
    "text", ["t_s,mbit_s\n0,100\n1,200\n", "time,throughput\n0,1\n1,2\n", "start,ms\n1,2\n2,3\n", "", "a\n"]
)
def test_a_log_is_no_sheet(tmp_path, text):
    (tmp_path / "log.csv").write_text(text)
    assert propose_sheet(tmp_path / "log.csv") is None


def test_a_workbook_without_a_table_is_refused(tmp_path):
    (tmp_path / "s.xlsx").write_bytes(sheets.xlsx([["only", "words"], ["in", "it"]]))
    with pytest.raises(InputRefused, match="holds no sheet with a heading and numbers below it"):
        propose_sheet(tmp_path / "s.xlsx")
    (tmp_path / "s.xlsx").write_bytes(b"no workbook")
    with pytest.raises(InputRefused, match="it is something else under this name"):
        propose_sheet(tmp_path / "s.xlsx")
    (tmp_path / "s.xlsx").write_bytes(sheets.xlsx([["x", "y"], ["a", "b"], [1, "c"]]))
    with pytest.raises(InputRefused, match="names a column of a table"):
        propose_sheet(tmp_path / "s.xlsx")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Up (Mbit/s)", HeadingWords(direction="up")),
        ("Laptop down", HeadingWords(direction="down", name="Laptop")),
        ("Run 2", HeadingWords(repeat="2")),
        ("Tablet 5 up #3", HeadingWords(direction="up", repeat="3", name="Tablet 5")),
        ("-65,5 dB", HeadingWords(loss_db="65.5")),
        ("Mean down", HeadingWords(direction="down", total=True, name="Mean")),
        ("Throughput Mbps", HeadingWords()),
        ("Laptop [new]", HeadingWords(name="Laptop new")),
    ],
)
def test_what_a_heading_says(text, words):
    assert heading_words(text) == words


# --- What a refusal says ----------------------------------------------------------------------------------------


@pytest.fixture
def refused(tmp_path):
    def check(made, file="runs.xlsx", **options):
        folder = sheets.batch(
            tmp_path / "batch", b"", "", defaults={"when": "2019-03-04 12:00", "client": "wrenlet-u2"}
        )
        text = (folder / "batch.toml").read_text().replace('[tables]\nruns = "old:sheets/2019.xlsx"\n', "")
        content = sheets.FORMS[file.rsplit(".", 1)[1]](made, **options)
        return check_batch(batch_at(folder, text, {file: content}), catalog=None)

    return check


@pytest.mark.parametrize("form", sheets.FORMS)
@pytest.mark.parametrize(("made", "words"), [
    (CROSS, 'This looks like a cross table: results stand below "Laptop Down" and "Laptop Up".'),
    ([["Loss", "Run 1", "Run 2"], [60, 1, 2], [70, 2, 3]], 'This looks like a cross table: results stand below "Run 1" and "Run 2".'),
    ([["attenuation", "direction", "repeat", "Mbit/s"], [60, "down", 1, 500], [], ["direction", "attenuation", "repeat", "Mbit/s"], ["up", 60, 1, 400]],
     "This looks like several tables below each other: a heading begins again in row 4."),
    ([["Date", "Time", "attenuation", "direction", "repeat", "Mbit/s"], ["12.05.2025", "10:04", 60, "up", 1, 500]],
     'This looks like a table with date and time apart, below "Date" and "Time".'),
])  # fmt: skip
def test_the_one_problem_says_what_it_looks_like_and_what_reads_it(refused, form, made, words):
    (problem,) = refused(made, f"runs.{form}").problems
    command = f"`likeloss map runs.{form} --write NAME`, in the folder of the batch, proposes how to read it."
    assert (problem.expected, problem.remedy) == (words, command)


def test_a_sheet_of_another_name_is_named_with_what_reads_it(refused):
    (warning,) = refused(CROSS, "2019.xlsx", merged=MERGED).warnings
    assert "The file is left out. This looks like a cross table" in str(warning)
    assert "`likeloss map 2019.xlsx --write 2019`" in str(warning)


def test_an_ordinary_mistake_stays_one(refused):
    table = [["attenuation", "direction", "repeat", "Mbit/s"], [60, "dwn", 1, 500], [70, "up", 1, 400]]
    assert [problem.code for problem in refused(table).problems] == ["unknown-word"]
