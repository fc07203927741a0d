"""Numbers, places, times and lists as text, against texts written by hand, and many roundings beside one."""

import calendar
from datetime import datetime
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from builder import wording
from builder.wording import rate_decimals, rate_decimals_many, rounded, rounded_many

# Source: decimal arithmetic of the Python library (ROUND_HALF_UP on a number's shortest text), which `rounded` is.
TIES = st.builds(lambda whole, tenths: float(f"{whole}.{tenths}5"), st.integers(-9999, 9999), st.integers(0, 9))
VALUES = st.one_of(TIES, st.floats(-1e6, 1e6), st.floats(-1e15, 1e15), st.integers(-500, 500).map(lambda n: n / 2))


# By hand. 2.675 and 1.005 lie below the half as binary fractions; their shortest text lies on it.
@pytest.mark.parametrize(
    ("value", "decimals", "result"),
    [
        (0.5, 0, "1"),
        (-0.5, 0, "-1"),
        (1.5, 0, "2"),
        (2.5, 0, "3"),
        (-2.5, 0, "-3"),
        (0.49999999999999994, 0, "0"),
        (0.05, 1, "0.1"),
        (-0.05, 1, "-0.1"),
        (0.25, 1, "0.3"),
        (99.95, 1, "100.0"),
        (2.675, 2, "2.68"),
        (1.005, 2, "1.01"),
        (8.345, 2, "8.35"),
        (8.3449, 2, "8.34"),
    ],
)
def test_halves_are_rounded_away_from_zero(value, decimals, result):
    assert rounded(value, decimals) == Decimal(result)
    assert rounded_many(np.array([value]), decimals).tolist() == [int(Decimal(result).scaleb(decimals))]


@given(st.lists(VALUES, min_size=1, max_size=20), st.integers(0, 3))
@example([2.675, 1.005, 0.5, -0.5, 0.49999999999999994, 99.95, -0.05], 1)
@example([2.675, 1.005, 0.5, -0.5, 0.49999999999999994, 8.345], 2)
def test_many_are_rounded_as_one(values, decimals):
    found = rounded_many(np.array(values), decimals)
    assert [int(n) for n in found] == [int(rounded(v, decimals).scaleb(decimals)) for v in values]


@given(st.lists(st.tuples(VALUES, st.integers(0, 1)), min_size=1, max_size=20))
def test_each_may_have_its_own_decimals(values):
    found = rounded_many(np.array([v for v, _ in values]), np.array([d for _, d in values]))
    assert [int(n) for n in found] == [int(rounded(v, d).scaleb(d)) for v, d in values]


@given(st.floats(0, 1000), st.floats(0, 1000))
@example(100.0, 99.99999999999999)
def test_decimals_of_many_pairs(a, b):
    assert rate_decimals_many(np.array([a]), np.array([b]))[0] == rate_decimals(a, b)


def test_a_pair_has_the_decimals_of_its_smaller_rate():
    assert [rate_decimals(*rates) for rates in [(100.0,), (99.9,), (925.0, 100.0), (925.0, 99.9)]] == [0, 1, 0, 1]
    # A loss of rate counts by its size.
    assert [rate_decimals(-100.0), rate_decimals(-99.9), rate_decimals(0.0)] == [0, 1, 1]
    assert rate_decimals_many(np.array([-100.0, -99.9, 100.0]), np.array([300.0, 300.0, -5.0])).tolist() == [0, 1, 1]


# What is printed, by hand. The minus is U+2212, as the field prints it.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (wording.number(-3.25, 1), "−3.3"),
        (wording.number(3.25, 1), "3.3"),
        (wording.number(3.25, 1, signed=True), "+3.3"),
        (wording.number(-3.25, 1, signed=True), "−3.3"),
        (wording.number(0.0, 1, signed=True), "0.0"),
        (wording.number(0.04, 1, signed=True), "0.0"),
        (wording.number(0.5, 1, signed=True), "+0.5"),
        (wording.number(-0.04, 1), "0.0"),
        (wording.trimmed(45.0, 1), "45"),
        (wording.trimmed(62.5, 2), "62.5"),
        (wording.trimmed(100.0, 0), "100"),
        (wording.trimmed(-30.04, 1), "−30"),
        (wording.rate(544.4), "544"),
        (wording.rate(98.44), "98.4"),
        (wording.rate(925.0, bound=True), "≥ 925"),
        (wording.rate(98.44, decimals=0), "98"),
        (wording.rate(544.44, decimals=1), "544.4"),
        (wording.number(94.25, 1, signed=True), "+94.3"),
        (wording.number(-94.25, 0, signed=True), "−94"),
        (wording.between(26.4, 93.5, 0), "26–94"),
        (wording.in_95(wording.between(742.0, 862.0, 0)), "95 %: 742–862"),
        (wording.likely(wording.between(31.0, 150.0, 0)), "likely 31–150"),
        (wording.in_95(""), ""),
        (wording.likely(""), ""),
        (wording.between(-5.0, 3.0, 1, signed=True), "−5.0 to +3.0"),
        (wording.percent(0.321), "32.1 %"),
        (wording.percent(1.0), "100.0 %"),
        (wording.percent(0.05, signed=True), "+5.0 %"),
        (wording.percent(-0.0555), "−5.6 %"),
        (wording.mark_share(0.95), "95 %"),
        (wording.mark_share(0.995), "99.5 %"),
        (wording.ratio(1.2345), "1.235"),
        (wording.milliseconds(100.0), "100"),
        (wording.milliseconds(99.94), "99.9"),
        (wording.milliseconds(-120.2), "−120"),
        (wording.celsius(48.55), "48.6 °C"),
        (wording.kelvin(25.0), "25.0 K"),
        (wording.watts(12.95), "12.95 W"),
        (wording.watts(19.5), "19.5 W"),
        (wording.watts(7.125), "7.13 W"),
        (wording.money(199.0, "EUR"), "199 EUR"),
        (wording.money(199.5, "EUR"), "199.50 EUR"),
        (wording.money(100.0, "EUR"), "100 EUR"),
        (wording.port_speed(2500), "2.5 Gbit/s"),
        (wording.port_speed(1000), "1 Gbit/s"),
        (wording.port_speed(100_000), "100 Gbit/s"),
        (wording.port_speed(999.5), "999.5 Mbit/s"),
        (wording.port_speed(100), "100 Mbit/s"),
        (wording.held_by_port(1000), "held back by its 1 Gbit/s port"),
    ],
)
def test_figures_as_printed(text, expected):
    assert text == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (wording.decibels(70.0), "70"),
        (wording.decibels(69.6), "69.6"),
        (wording.decibels(-54.0), "−54"),
        (wording.db_range(45.0, 60.0), "45–60"),
        (wording.db_range(62.46, 62.54), "62.5"),
        (wording.dbm_range(-57.0, -43.0), "−57 to −43"),
        (wording.dbm_range(-57.04, -56.96), "−57"),
        (wording.width(80), "80 MHz"),
        (wording.band("5"), "5 GHz"),
        (wording.band("5+6"), "5 + 6 GHz"),
        (wording.conditions(band_name="5", width_mhz=80, direction="down"), "5 GHz, 80 MHz, download"),
        (
            wording.conditions(
                band_name="2.4", width_mhz=20, direction="up", protocol="tcp", flows=1, security="wpa3-personal"
            ),
            "2.4 GHz, 20 MHz, upload, TCP, 1 flow, wpa3-personal",
        ),
        (
            wording.conditions(band_name="6", width_mhz=160, direction="down", protocol="tcp", flows=4),
            "6 GHz, 160 MHz, download, TCP, 4 flows",
        ),
    ],
)
def test_places_and_links_as_printed(text, expected):
    assert text == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (wording.count(0, "repeat"), "0 repeats"),
        (wording.count(1, "repeat"), "1 repeat"),
        (wording.count(2, "repeat"), "2 repeats"),
        (wording.count(1, "entry", "entries"), "1 entry"),
        (wording.count(3, "entry", "entries"), "3 entries"),
        (wording.listing([]), ""),
        (wording.listing(["a"]), "a"),
        (wording.listing(["a", "b"]), "a and b"),
        (wording.listing(["a", "b", "c"], "or"), "a, b or c"),
        (wording.listing_of_many(list("abcdefg"), 2), "a, b and 5 more"),
        (wording.listing_of_many(list("abc"), 2), "a, b and 1 more"),
        (wording.listing_of_many(list("abc"), 3), "a, b and c"),
        (wording.ranks(2, 2, 9), "2nd of 9"),
        (wording.ranks(1, 3, 9), "1st to 3rd of 9"),
        (wording.ranks(11, 13, 22), "11th to 13th of 22"),
        (wording.ranks(21, 23, 40), "21st to 23rd of 40"),
        (wording.in_words(0), "no"),
        (wording.in_words(12), "twelve"),
        (wording.in_words(13), "13"),
        (wording.with_article("laptop"), "a laptop"),
        (wording.with_article("older laptop"), "an older laptop"),
        (wording.with_article("14-inch laptop"), "a 14-inch laptop"),
        (wording.with_article("11-inch laptop"), "an 11-inch laptop"),
        (wording.with_article("a tower"), "a tower"),
        (wording.generation("802.11ax"), "802.11ax (Wi-Fi 6)"),
        (wording.generation("802.11g"), "802.11g"),
        (wording.wi_fi("802.11be"), "Wi-Fi 7"),
        (wording.capital("the bench desk at Cairn"), "The bench desk at Cairn"),
        (wording.capital(""), ""),
    ],
)
def test_counts_and_lists_as_printed(text, expected):
    assert text == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (wording.date("2025-05-12"), "12 May 2025"),
        (wording.date("2025-11-03T23:59:59Z"), "3 November 2025"),
        (wording.instant(datetime.fromisoformat("2025-05-12T15:07:59+02:00")), "12 May 2025, 13:07 UTC"),
        (wording.instant(datetime.fromisoformat("2025-01-01T00:30:00+02:00")), "31 December 2024, 22:30 UTC"),
        (wording.date_range("2025-05-12", "2025-05-12"), "12 May 2025"),
        (wording.date_range("2022-03-03", "2025-05-12"), "3 March 2022 to 12 May 2025"),
        (wording.month("2025-11-30"), "Nov 2025"),
        (wording.month("2025-05"), "May 2025"),
        (wording.short_date("2025-11-03T23:59:59Z"), "3 Nov 2025"),
        (wording.short_date("2019-03"), "Mar 2019"),
        (wording.months("2024-06-18", "2024-06-19"), "June 2024"),
        (wording.months("2022-09-14", "2024-06-19"), "September 2022 to June 2024"),
        (wording.clock(380.9), "6:20"),
        (wording.clock(59.9), "0:59"),
        (wording.clock(60.0), "1:00"),
        (wording.clock(3725.0), "62:05"),
        (wording.hours(32_400.0), "9 h"),
        (wording.hours(1800.0), "0.5 h"),
        (wording.hours(36_000_000.0), "10000 h"),
        (wording.part_of_time(57.4, 60.0), "57 of 60 s"),
        (wording.part_of_time(598.0, 599.0), "598 of 599 s"),
        (wording.part_of_time(480.0, 600.0), "8 of 10 minutes"),
        (wording.part_of_time(1800.0, 35_999.0), "30 of 600 minutes"),
        (wording.part_of_time(28_800.0, 36_000.0), "8 of 10 h"),
        # A part that would print as the whole has a decimal, and so has the whole.
        (wording.part_of_time(59.6, 60.0), "59.6 of 60 s"),
        (wording.part_of_time(60.2, 60.4), "60.2 of 60.4 s"),
        (wording.part_of_time(570.0, 600.0), "9.5 of 10 minutes"),
        (wording.part_of_time(35_400.0, 36_000.0), "9.8 of 10 h"),
        (wording.part_of_time(3_600_000.0, 7_200_000.0), "1000 of 2000 h"),
    ],
)
def test_times_as_printed(text, expected):
    assert text == expected


@pytest.mark.parametrize("month", range(1, 13))
def test_months_have_their_english_names(month):
    # Source: the calendar of the Python library, in its own language.
    assert wording.date(f"2024-{month:02d}-09") == f"9 {calendar.month_name[month]} 2024"


@pytest.mark.parametrize(
    ("ms", "exact", "text"),
    [
        (0.0, False, "0 ms"),
        (84.24, False, "84.2 ms"),
        (152.4, False, "152 ms"),
        (1523.4, False, "1.52 s"),
        (27312.0, False, "27.3 s"),
        (412_000.0, False, "412 s"),
        (0.01, True, "0.01 ms"),
        (150.0, True, "150 ms"),
        (1000.0, True, "1 s"),
        (26_844.0, True, "26.844 s"),
    ],
)
def test_waits_as_printed(ms, exact, text):
    # By hand: three digits of what was measured, every digit of what was set.
    assert wording.duration(ms, exact=exact) == text


@pytest.mark.parametrize(
    ("years", "words"),
    [
        # By hand: whole months below two years, then half years.
        (0.02, "about 1 month"),
        (0.2, "about 2 months"),
        (1.11, "about 13 months"),
        (1.99, "about 2 years"),
        (2.05, "about 2 years"),
        (6.33, "about 6.5 years"),
    ],
)
def test_break_even_is_said_roughly(years, words):
    assert wording.about_years(years) == words


def test_a_month_is_short():
    assert (wording.month("2025-11-07"), wording.month("2022-04")) == ("Nov 2025", "Apr 2022")


# By hand: a number stays on one line with its unit, and words and ids stay as they are. Scripts are held to the same.
UNBROKEN = {
    "−47 Mbit/s, ≥ 925 Mbit/s": "−47~Mbit/s, ≥~925~Mbit/s",
    "5 + 6 GHz at 70 dB, −54 dBm": "5 + 6~GHz at 70~dB, −54~dBm",
    "95 %: 26–94 (32.1 %)": "95~%: 26–94 (32.1~%)",
    "12 h, 30 minutes, 1.52 s, 362 ms, 2.4 m": "12~h, 30~minutes, 1.52~s, 362~ms, 2.4~m",
    "29.7 W; 37.0 K; 61.5 °C; 529 EUR; 64 KiB": "29.7~W; 37.0~K; 61.5~°C; 529~EUR; 64~KiB",
    "3.0.2: n = 24": "3.0.2: n =~24",
    "3 streams, 8 spots, rank 3 of 9, Rates in Mbit/s": "3 streams, 8 spots, rank 3 of 9, Rates in Mbit/s",
}


@pytest.mark.parametrize("text", UNBROKEN)
def test_a_number_stays_with_its_unit(text):
    assert wording.unbroken(text) == UNBROKEN[text].replace("~", "\u00a0")
    assert wording.unbroken(wording.unbroken(text)) == wording.unbroken(text)
