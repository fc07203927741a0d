"""A new workbook: headings, notes and lists, and that it enters once it is filled."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, date, datetime

import openpyxl
import pytest

from catalog import queries
from catalog.beginning import planned_cells
from catalog.books import begin_workbook
from catalog.books.filling import heading_of
from catalog.books.notes import note_of_column, note_of_key
from catalog.checking.headers import heading_of as column_meant
from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.errors import InputRefused, UnknownName
from catalog.exporting import verify
from catalog.reading.format import TABLES
from catalog.reading.thing_sheets import TABLE_SHEETS, THING_SHEETS
from tests.workbooks import bench, xlsx

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
TODAY = date(2025, 6, 20)
SPOTS = [
    ["house", "spot", "band", "valid_from", "reference_eirp_dbm", "reading_dbm"],
    *(["house-a", spot, 5, "2025-01-01", 20, reading] for spot, reading in (("S1", -35), ("S2", -45))),
]


@pytest.fixture
def catalog(tmp_path):
    """A catalogue with one device measured at two spots."""
    sheets = bench(Spots=SPOTS)
    runs = [[*sheets["Runs"][0][:6], "spot", *sheets["Runs"][0][7:]]]
    for spot, loss in (("S1", 0), ("S2", 100)):
        for place, row in enumerate(sheets["Runs"][1:]):
            at = f"2025-05-12 1{loss // 100}:0{place}"
            runs.append([at, *row[1:6], spot, row[7], row[8] - loss - place * loss // 40])
    (tmp_path / "first.xlsx").write_bytes(xlsx(sheets | {"Runs": runs}))
    enter_batch(tmp_path / "first.xlsx", into=tmp_path / "catalog.db", now=NOW)
    return tmp_path / "catalog.db"


def begun(path, db=None, *, like=None, plan=False):
    rows = begin_workbook(path, catalog=db, like=like, plan=plan, today=TODAY)
    return openpyxl.load_workbook(path), rows


def fill(book, title, *rows, first=2):
    """Type rows by heading, as a person would."""
    sheet = book[title]
    places = {cell.value: cell.column for cell in sheet[1]}
    for number, row in enumerate(rows, start=first):
        for heading, value in row.items():
            sheet.cell(number, places[heading], value)


def runs(device, firmware, **others):
    return [
        {
            "when": datetime(2025, 6, 20, 10, repeat),
            "device": device,
            "firmware": firmware,
            "session": TODAY.isoformat(),
            "band": 5,
            "width_mhz": 80,
            "direction": "down",
            "repeat": repeat,
            "throughput (Mbit/s)": 700 + repeat**2,
        }
        | others
        for repeat in (1, 2, 3)
    ]


def test_a_first_workbook_says_what_is_missing_and_enters_once_it_is_filled(tmp_path):
    book, planned = begun(tmp_path / "shale-3.xlsx")
    assert planned == 0
    missing = [problem.expected for problem in check_batch(tmp_path / "shale-3.xlsx", catalog=None).problems]
    assert "The device shale-3 has no maker." in missing
    fill(book, "Devices", {"maker": "Tessarik", "model": "Shale 3", "amendment": "802.11be", "aliases": "Shale-3"})
    fill(book, "Device radios", {"device": "shale-3", "band": 5, "streams": 4, "max_width_mhz": 160})
    fill(book, "Units", {"origin": "bought"})
    fill(book, "Firmware", {"version": "1.10", "released": datetime(2025, 6, 1), "public": "yes"})
    fill(book, "Clients", {"id": "wrenlet-u2", "name": "Wrenlet U2", "amendment": "802.11ax"})
    fill(book, "Client radios", {"client": "wrenlet-u2", "band": 5, "streams": 2, "max_width_mhz": 160})
    fill(book, "Houses", {"name": "Home"})
    fill(book, "Spots", dict(zip(SPOTS[0], ["home", *SPOTS[1][1:]], strict=True)))
    fill(book, "Runs", *runs("shale-3", "1.10", client="wrenlet-u2", spot="S1"))
    fill(book, "Prices", {"device": "shale-3", "date": datetime(2025, 6, 1), "amount": 199, "currency": "EUR"})
    book.save(tmp_path / "shale-3.xlsx")
    report = enter_batch(tmp_path / "shale-3.xlsx", into=tmp_path / "catalog.db", now=NOW)
    assert report.batch == "2025-06-shale-3"
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert verify(db) == []
        assert [run.throughput_mbit_s for run in queries.runs(db)] == [701, 704, 709]
        assert queries.devices(db)[0].firmware[0].version == "1.10"


def test_a_plan_holds_every_cell_to_measure(catalog, tmp_path):
    with closing(open_catalog(catalog, readonly=True)) as db:
        book, planned = begun(tmp_path / "2025-06-shale-3.xlsx", db, plan=True)
        cells = planned_cells(db, "tessarik-shale-2")
    assert planned == 3 * len(cells) == 6
    sheet = book["Runs"]
    places = {cell.value: cell.column for cell in sheet[1]}
    rows = [[sheet.cell(row, places[name]).value for name in ("client", "spot", "repeat")] for row in range(2, 8)]
    assert rows == [["wrenlet-u2", spot, repeat] for spot in ("S1", "S2") for repeat in (1, 2, 3)]
    fill(book, "Devices", {"maker": "Tessarik", "model": "Shale 3", "amendment": "802.11be"})
    fill(book, "Units", {"origin": "bought"})
    fill(book, "Firmware", {"version": "2.0"})
    value = "throughput (Mbit/s)"
    as_done = {"outcome": "finished", "log": ""}
    typed = [{"when": datetime(2025, 6, 20, 10, place), value: 650 + 7 * place**2} | as_done for place in range(6)]
    fill(book, "Runs", *(row | {"firmware": "2.0"} for row in typed))
    book.save(tmp_path / "2025-06-shale-3.xlsx")
    report = enter_batch(tmp_path / "2025-06-shale-3.xlsx", into=catalog, now=NOW)
    assert report.rows_new == 6


def test_radios_are_taken_over_from_a_like_device(catalog, tmp_path):
    with closing(open_catalog(catalog, readonly=True)) as db:
        book, _ = begun(tmp_path / "new.xlsx", db, like="tessarik-shale-2")
        assert [cell.value for cell in book["Device radios"][2]][:4] == ["new", "5", 4, 160]
        with pytest.raises(UnknownName):
            begun(tmp_path / "other.xlsx", db, like="nowhere", plan=True)
    assert not (tmp_path / "other.xlsx").exists()


def test_lists_offer_what_the_catalogue_knows_and_forbid_nothing(catalog, tmp_path):
    with closing(open_catalog(catalog, readonly=True)) as db:
        book, _ = begun(tmp_path / "new.xlsx", db)

    def offered(title, heading):
        (letter,) = [cell.column_letter for cell in book[title][1] if cell.value == heading]
        for rule in book[title].data_validations.dataValidation:
            if f"{letter}2:{letter}10000" in str(rule.sqref):
                assert not rule.showErrorMessage
                if rule.formula1.startswith('"'):
                    return rule.formula1.strip('"').split(",")
                name, _, cells = rule.formula1.partition("!")
                return [cell.value for (cell,) in book[name][cells.replace("$", "")]]
        return None

    assert offered("Runs", "device") == ["new", "tessarik-shale-2"]
    assert offered("Runs", "client") == ["wrenlet-u2"]
    assert offered("Runs", "session") == ["2025-06-20", "day-1"]
    assert offered("Runs", "spot") == ["S1", "S2"]
    assert offered("Runs", "direction") == ["down", "up"]
    assert offered("Units", "device") == ["new", "tessarik-shale-2"]
    assert offered("Prices", "tax_included") == ["yes", "no"]
    assert offered("Runs", "note") is None
    assert book["Lists"].sheet_state == "hidden"


def test_every_heading_is_read_as_its_column_and_has_its_note(tmp_path):
    book, _ = begun(tmp_path / "new.xlsx")
    for stem, title in TABLE_SHEETS.items():
        sheet = book[title]
        assert sheet.freeze_panes == "A2"
        for cell, column in zip(sheet[1], TABLES[stem].columns, strict=True):
            meant = column_meant(cell.value, stem)
            assert meant[0] is column
            assert cell.value == heading_of(column)
            assert (cell.comment.text if cell.comment else "") == note_of_column(column)
            assert cell.font.bold == column.required
            if column.kind in ("text", "band", "file", "choice"):
                assert sheet.column_dimensions[cell.column_letter].number_format == "@"
    for title, things in THING_SHEETS.items():
        assert [cell.value for cell in book[title][1]] == list(things.columns)
        notes = [cell.comment.text if cell.comment else "" for cell in book[title][1]]
        assert notes == [note_of_key(things, name) for name in things.columns]
    assert book["Firmware"].column_dimensions["B"].number_format == "@"
    assert not any(sheet.protection.sheet for sheet in book)


def test_a_workbook_that_is_there_is_not_written_over(tmp_path):
    begun(tmp_path / "new.xlsx")
    before = (tmp_path / "new.xlsx").read_bytes()
    with pytest.raises(InputRefused, match="is there already"):
        begun(tmp_path / "new.xlsx")
    assert (tmp_path / "new.xlsx").read_bytes() == before
    with pytest.raises(InputRefused, match="there is no catalogue yet"):
        begun(tmp_path / "plan.xlsx", plan=True)
