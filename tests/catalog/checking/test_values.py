"""Numbers, times, headers and names as people type them."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.checking.cells import Attempt, read_band, read_cell
from catalog.checking.headers import heading_of
from catalog.checking.names import Register, lost_zero, nearest, unknown_version
from catalog.checking.numbers import read_number, read_quantity
from catalog.checking.times import local_date, read_date, read_instant, utc_text
from catalog.checking.troubles import Trouble
from catalog.reading.decimal_marks import Marks, plain, settle_marks
from catalog.reading.format import TABLES
from catalog.reading.rawtable import Exact
from catalog.units import MBIT_S

COMMA, POINT, NONE = Marks(","), Marks("."), Marks()


def value(text, marks=POINT):
    found = read_number(text, marks)
    assert not isinstance(found, Trouble), found
    return found


# --- Numbers ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("812,5", 812.5),
        ("1.024,0", 1024.0),
        ("1 024,5", 1024.5),
        ("1.024", 1024.0),
        ("-54", -54.0),
        ("7", 7.0),
        ("1.024.000,25", 1024000.25),
        ("1'024,5", 1024.5),
        (",5", 0.5),
    ],
)
def test_a_comma_file(text, number):
    assert value(text, COMMA) == number


@pytest.mark.parametrize(
    ("text", "number"),
    [("812.5", 812.5), ("1,024.0", 1024.0), ("1 024.5", 1024.5), ("1,024", 1024.0), ("+3", 3.0), ("1e3", 1000.0)],
)
def test_a_point_file(text, number):
    assert value(text, POINT) == number


@pytest.mark.parametrize(
    ("texts", "decimal", "mixed"),
    [
        (["812,5", "1.024"], ",", False),
        (["812.5", "1,024"], ".", False),
        (["1.024,0"], ",", False),
        (["1,024,000"], ".", False),
        (["0.125"], ".", False),  # no thousands group begins with 0
        (["1234.567"], ".", False),  # nor with four digits
        (["1.024", "7", "-54"], None, False),
        (["812,5", "812.5"], None, True),
        ([Exact("812.5"), "1.024"], None, False),  # a numeric cell says nothing of how people type
    ],
)
def test_the_decimal_mark_of_a_file_is_settled_by_evidence(texts, decimal, mixed):
    assert settle_marks(texts) == Marks(decimal, mixed)


def test_a_number_with_two_readings_is_refused_with_both():
    trouble = read_number("1.024", NONE)
    assert isinstance(trouble, Trouble)
    assert trouble.expected == "1024 or 1.024? Nothing else in the file tells."
    mixed = read_number("1,024", Marks(None, mixed=True))
    assert isinstance(mixed, Trouble)
    assert "uses both marks" in mixed.expected


NO_NUMBERS = ["", "abc", "1.2.3", "1,2,3", "--5", "1 2", "5-", "1.02.400", "0x10", "1e999", "9" * 400]


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_what_is_no_number(text):
    assert isinstance(read_quantity(text, POINT, wanted=None, header=None), Trouble)


@given(st.integers(-(10**12), 10**12), st.integers(0, 3))
def test_every_way_to_write_a_number_means_that_number(whole, decimals):
    """Grouped by any mark, with either decimal mark: read in a file of that kind it is the number."""
    number = whole / 10**decimals
    for group, decimal in ((",", "."), (".", ","), (" ", ","), ("'", "."), ("", ","), ("", ".")):
        text = f"{number:,.{decimals}f}".replace(",", "\0").replace(".", decimal).replace("\0", group)
        assert value(text, Marks(decimal)) == pytest.approx(number, abs=1e-9, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "mbit_s"),
    [("0.9 Gbit/s", 900.0), ("112.5 MB/s", 900.0), ("107.3 MiB/s", 900.0976384), ("900000 kbit/s", 900.0), ("9", 9.0)],
)
def test_units_in_a_cell(text, mbit_s):
    # By hand: 112.5 * 8; 107.3 * 8.388608 (2**20 bytes are 8.388608 Mbit).
    assert read_quantity(text, POINT, wanted=MBIT_S, header=None) == pytest.approx(mbit_s, abs=1e-9)


def test_repairs_of_a_number_are_counted():
    repairs: Counter[str] = Counter()
    assert plain("\u22121\u00a0024,5", repairs) == "-1 024,5"
    assert plain("\u201c54\u201d", repairs) == '"54"'
    assert repairs == {"minus sign": 1, "no-break space": 1, "curly quote": 1}


# --- Times --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2025-05-12T10:30:00+02:00", "2025-05-12T08:30:00Z"),
        ("2025-05-12 10:30", "2025-05-12T08:30:00Z"),
        ("2025-05-12 08:30Z", "2025-05-12T08:30:00Z"),
        ("2025-05-12 08:30 UTC", "2025-05-12T08:30:00Z"),
        ("2025-1-2 10:30", "2025-01-02T09:30:00Z"),
        ("31.12.2025 23:59", "2025-12-31T22:59:00Z"),
        ("12/31/2025 23:59", "2025-12-31T22:59:00Z"),
        ("2025-05-12T08:30:00.250Z", "2025-05-12T08:30:00.25Z"),
        ("2025-10-26 02:30 +01:00", "2025-10-26T01:30:00Z"),
    ],
)
def test_times_of_berlin(text, utc):
    moment = read_instant(text, "Europe/Berlin")
    assert isinstance(moment, dt.datetime), moment
    assert utc_text(moment) == utc


@pytest.mark.parametrize(
    ("text", "zone", "code"),
    [
        ("2025-05-12 10:30", None, "no-zone"),
        ("2025-05-12", "UTC", "no-time-of-day"),
        ("2025-02-30 10:00", "UTC", "not-a-time"),
        ("10:30", "UTC", "not-a-time"),
        ("12.05.25 10:30", "UTC", "not-a-time"),
        ("2025-05-12 10:30", "Europe/Bonn", "unknown-zone"),
        ("2025-05-12 10:30 +25:00", "UTC", "not-a-time"),
        ("0001-01-01 00:00 +10:00", "UTC", "not-a-time"),
        ("2025-03-30 02:30", "Europe/Berlin", "time-did-not-exist"),
        ("2025-10-26 02:30", "Europe/Berlin", "time-happened-twice"),
        ("03/04/2025 14:00", "Europe/Berlin", "two-dates"),
        ("2025-03-09 02:15", "America/New_York", "time-did-not-exist"),
    ],
)
def test_times_that_are_refused(text, zone, code):
    trouble = read_instant(text, zone)
    assert isinstance(trouble, Trouble)
    assert trouble.code == code


@given(
    st.datetimes(dt.datetime(1975, 1, 1), dt.datetime(2037, 1, 1)).map(lambda moment: moment.replace(microsecond=0)),
    st.sampled_from(["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "Pacific/Apia"]),
)
def test_local_times_agree_with_zoneinfo(local, zone):
    """Source: the IANA database through zoneinfo. A gap gives back another wall time, a fold two offsets."""
    both = [local.replace(tzinfo=ZoneInfo(zone), fold=fold) for fold in (0, 1)]
    instants = {moment.astimezone(dt.UTC) for moment in both}
    exists = both[0].astimezone(dt.UTC).astimezone(ZoneInfo(zone)).replace(tzinfo=None) == local
    found = read_instant(f"{local:%Y-%m-%d %H:%M:%S}", zone)
    if len(instants) == 1:
        assert found == instants.pop()
    else:
        assert isinstance(found, Trouble)
        assert found.code == ("time-happened-twice" if exists else "time-did-not-exist")


def test_dates():
    assert read_date("2025-05-12") == dt.date(2025, 5, 12)
    assert read_date("2025-05-12 00:00:00") == dt.date(2025, 5, 12)  # as spreadsheets add it
    assert read_date("31.12.2025") == dt.date(2025, 12, 31)
    for text, code in (("03.04.2025", "two-dates"), ("2025-13-01", "not-a-date"), ("May", "not-a-date")):
        trouble = read_date(text)
        assert isinstance(trouble, Trouble)
        assert trouble.code == code


def test_the_day_of_a_time_is_that_of_its_own_clock():
    assert local_date("2025-05-12T23:30:00-05:00") == "2025-05-12"
    assert local_date("31.12.2025 23:59") == "2025-12-31"


# --- Headers ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "column", "unit"),
    [
        ("when", "when", None),
        ("Attenuation dB", "attenuation_db", "dB"),
        ("level_dbm", "level_dbm", "dBm"),
        ("width (MHz)", "width_mhz", "MHz"),
        ("Channel Width [MHz]", "width_mhz", "MHz"),
        ("Mbit/s", "throughput", "Mbit/s"),
        ("MB/s", "throughput", "MB/s"),
        ("Throughput (Gbit/s)", "throughput", "Gbit/s"),
        ("throughput_mbit_s", "throughput", "Mbit/s"),
        ("link_rate_mbit_s", "link_rate_mbit_s", "Mbit/s"),
        ("dBm", "level_dbm", "dBm"),
        ("dB", "attenuation_db", "dB"),
        ("REP", "repeat", None),
        ("Run no.", "repeat", None),
        ("RSSI", "level_dbm", None),
        ("Signal (dBm)", "level_dbm", "dBm"),
        ("Access Point", "device", None),
        ("AP", "device", None),
        ("adapter", "client", None),
        ("FW", "firmware", None),
        ("loss", "attenuation_db", None),
        ("Duration [min]", "seconds", "min"),
    ],
)
def test_headers_of_runs(header, column, unit):
    found = heading_of(header, "runs")
    assert isinstance(found, tuple), found
    assert (found[0].name, found[1].name if found[1] else None) == (column, unit)


@pytest.mark.parametrize("header", ["", "colour", "Humour (dB)", "°C", "rate of change"])
def test_headers_nobody_knows(header):
    assert heading_of(header, "runs") is None


@pytest.mark.parametrize(
    ("header", "code"),
    [("width (dBm)", "wrong-unit"), ("Throughput MBPS", "two-units"), ("MBPS", "two-units"), ("mb/s", "two-units")],
)
def test_headers_with_a_unit_that_cannot_be(header, code):
    found = heading_of(header, "runs")
    assert isinstance(found, Trouble)
    assert found.code == code


def test_every_column_is_found_by_its_own_name_in_any_dress():
    for table in TABLES.values():
        for column in table.columns:
            for text in (column.name, column.name.upper(), column.name.replace("_", " ").title(), f" {column.name} "):
                found = heading_of(text, table.stem)
                assert isinstance(found, tuple), (table.stem, text)
                assert found[0] is column, (table.stem, text)


def test_synonyms_name_one_column_each():
    for table in TABLES.values():
        for column in table.columns:
            for synonym in column.synonyms:
                found = heading_of(synonym, table.stem)
                assert isinstance(found, tuple), (table.stem, synonym)
                assert found[0] is column, (table.stem, synonym)


# --- Names --------------------------------------------------------------------------------------------------


def test_the_nearest_names_come_first_and_are_three_at_most():
    known = ["Tessarik Shale 2", "tessarik-shale-2", "Tessarik Porch", "Quillmast Dome 20", "Fjeldrun Nook"]
    near = nearest("Tessarik Shal 2", known)
    assert near[0] == "Tessarik Shale 2"
    assert len(near) <= 3
    assert nearest("zzzz", known) == []


def test_a_name_is_taken_when_it_means_one_thing():
    register = Register({"a-1": ["Shale 2", "Tessarik Shale 2"], "b-1": ["Porch", "Twin"], "c-1": ["Twin"]})
    assert register.find("a-1") == "a-1"
    assert register.find("  tessarik  SHALE 2") == "a-1"
    assert register.find("Shale-2") is None  # a hyphen may be another name
    assert register.find("twin") is None
    assert register.shared_by("twin") == ["b-1", "c-1"]


@pytest.mark.parametrize(
    ("typed", "known", "meant"),
    [
        ("7.1", ["7.10", "7.2"], "7.10"),
        ("7", ["7.0"], "7.0"),
        ("7.100", ["7.1"], "7.1"),
        ("7.1", ["7.11"], None),
        ("70", ["7"], None),
        ("1.2", ["1.2"], None),
    ],
)
def test_a_zero_that_a_spreadsheet_dropped(typed, known, meant):
    assert lost_zero(typed, known) == meant


def test_an_unknown_version_proposes_what_is_registered():
    assert "Known are 3.11" in unknown_version("driver", "3.12", "wrenlet-u2", ["3.11"]).expected
    assert "None is registered" in unknown_version("driver", "3.12", "wrenlet-u2", []).expected


# --- Cells --------------------------------------------------------------------------------------------------


def cell(text, column, *, stem="runs", sure=False):
    return read_cell(text, TABLES[stem].column(column), marks=POINT, header=None, zone="UTC", sure=sure)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("54", "level-positive"),
        ("0", "level-zero"),
        ("87%", "level-percent"),
        ("87 %", "level-percent"),
        ("-4", "level-too-strong"),
        ("-112", "level-too-weak"),
        ("strong", "not-a-number"),
        ("1900-02-24 00:00:00", "date-for-number"),  # 55 in a cell that shows days
        ("-54 dB", "wrong-unit"),
    ],
)
def test_each_impossible_level_has_its_own_reason(text, code):
    trouble = cell(text, "level_dbm")
    assert isinstance(trouble, Trouble)
    assert trouble.code == code


def test_a_person_may_confirm_an_odd_level_but_not_an_impossible_one():
    assert cell("-4", "level_dbm", sure=True) == -4
    assert isinstance(cell("54", "level_dbm", sure=True), Trouble)


def test_a_negative_attenuation_is_held():
    trouble = cell("-68", "attenuation_db")
    assert isinstance(trouble, Trouble)
    assert "Attenuation is positive" in trouble.expected


@pytest.mark.parametrize(
    ("text", "attempt"),
    [
        ("700", Attempt(700.0, None)),
        ("0", Attempt(0.0, None)),
        ("ok", Attempt(None, "finished")),
        ("DNF", Attempt(None, "did not finish")),
        ("crash", Attempt(None, "did not finish")),
        ("Collapsed", Attempt(None, "did not finish")),
        ("client fault", Attempt(None, "client fault")),
        ("Not possible", Attempt(None, "not possible")),
    ],
)
def test_a_throughput_cell_is_a_rate_or_an_outcome(text, attempt):
    assert cell(text, "throughput") == attempt


@pytest.mark.parametrize(
    ("text", "code"), [("n/a", "not-available"), ("-", "not-available"), ("fnished", "not-a-number")]
)
def test_words_that_leave_it_open_are_questions(text, code):
    trouble = cell(text, "throughput")
    assert isinstance(trouble, Trouble)
    assert trouble.code == code


@pytest.mark.parametrize(
    ("text", "band"), [("5", "5"), ("5 GHz", "5"), ("2,4", "2.4"), ("6+5", "5+6"), ("2.4 + 5", "2.4+5"), ("5.0", "5")]
)
def test_bands(text, band):
    assert read_band(text) == band


@pytest.mark.parametrize("text", ["5+5", "7", "", "fast", "5+"])
def test_what_is_no_band(text):
    assert isinstance(read_band(text), Trouble)
