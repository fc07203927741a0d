"""Conversions against IEC 80000-13 prefixes and the worked values of the entry rules; spellings by case."""

import csv
from pathlib import Path

import pytest

from catalog.units import CANONICAL, MBIT_S, MILLISECONDS, UNITS, convert, parse_unit, possible_units, ratio


@pytest.mark.parametrize(
    ("value", "unit", "mbit_s"),
    [
        # Source: requirement E04 of the job analysis (worked by hand there).
        (0.9, "Gbit/s", 900.0),
        (112.5, "MB/s", 900.0),
        # By hand: 107.3 * 2^20 bytes * 8 bits / 10^6 (IEC 80000-13: Mi is 2^20, M is 10^6).
        (107.3, "MiB/s", 900.0976384),
        # Source: requirement D03 of the job analysis.
        (101.6, "MB/s", 812.8),
        (812_500, "kbit/s", 812.5),
        (812_500_000, "bit/s", 812.5),
        (125_000, "kB/s", 1000.0),
        (1, "Mibit/s", 1.048576),
    ],
)
def test_rates_convert_to_mbit_s(value: float, unit: str, mbit_s: float) -> None:
    assert convert(value, UNITS[unit], MBIT_S) == pytest.approx(mbit_s, rel=1e-15)


def test_decimal_conversions_are_exact() -> None:
    # By hand: none of these may print as 899.99 or 0.30000000000000004.
    assert convert(0.9, UNITS["Gbit/s"], MBIT_S) == 900.0
    assert convert(300, UNITS["µs"], MILLISECONDS) == 0.3
    assert convert(1.5, UNITS["s"], MILLISECONDS) == 1500.0
    assert convert(5.955, UNITS["GHz"], UNITS["MHz"]) == 5955.0
    assert convert(128, UNITS["KiB"], UNITS["B"]) == 131_072.0


def test_prefixes_are_those_of_iec_80000_13() -> None:
    # Source: IEC 80000-13:2008 clause 4 (binary) and SI (decimal); through scipy's own table.
    from scipy import constants

    for prefix, factor in {
        "k": constants.kilo,
        "M": constants.mega,
        "G": constants.giga,
        "Ki": constants.kibi,
        "Mi": constants.mebi,
        "Gi": constants.gibi,
    }.items():
        assert ratio(UNITS[f"{prefix}bit/s"], UNITS["bit/s"]) == factor
        assert ratio(UNITS[f"{prefix}B/s"], UNITS["bit/s"]) == 8 * factor


@pytest.mark.parametrize(
    ("spellings", "name"),
    [
        (["Mbit/s", "mbit/s", "MBIT/S", "Mb/s", "Mbps", "mbps", "Mbits/sec", "mbit_s"], "Mbit/s"),
        (["megabits per second", " Mbit / s ", "Mbit\u00a0/\u202fs"], "Mbit/s"),
        (["MB/s", "MBps", "MByte/s", "mbytes/s", "megabytes per second"], "MB/s"),
        (["MiB/s", "MiBps", "mebibytes/s"], "MiB/s"),
        (["Gbit/s", "Gb/s", "gbps"], "Gbit/s"),
        (["kbit/s", "Kbit/s", "kb/s", "Kbps"], "kbit/s"),
        (["kB/s", "KB/s"], "kB/s"),
        (["bit/s", "bps", "b/s", "bits/second"], "bit/s"),
        (["B/s", "Bps", "bytes/s"], "B/s"),
        (["dB", "db", "DB"], "dB"),
        (["dBm", "dbm", "DBM", "dB(mW)"], "dBm"),
        (["ms", "msec", "milliseconds"], "ms"),
        (["s", "sec", "Seconds"], "s"),
        (["us", "µs", "\u03bcs"], "µs"),
        (["MHz", "mhz", "MHZ"], "MHz"),
        (["GHz", "ghz"], "GHz"),
        (["°C", "\u2103", "C", "Cel"], "°C"),
        (["K"], "K"),
        (["W", "watts"], "W"),
        (["mW"], "mW"),
        (["%", "percent"], "%"),
    ],
)
def test_spellings(spellings: list[str], name: str) -> None:
    # Common practice of the trade: b is bit, B is byte (IEC 80000-13 writes bit and B).
    for spelling in spellings:
        assert parse_unit(spelling) == UNITS[name], spelling


@pytest.mark.parametrize(
    "text", ["MBPS", "MB/S", "GBPS", "mib/s", "MIB/S", "kib", "mb/s", "mB/s", "gb/s", "Mb/S", "MbpS", "mb_s"]
)
def test_case_that_decides_nothing_has_two_readings(text: str) -> None:
    bit, byte = possible_units(text)
    assert ratio(byte, bit) == 8
    assert parse_unit(text) is None


@pytest.mark.parametrize("text", ["", "M", "k", "MW", "mw", "dBi", "throughput", "m/s", "Mbit/h", "°F"])
def test_unknown_spellings_are_not_guessed(text: str) -> None:
    assert possible_units(text) == ()
    assert parse_unit(text) is None


def test_loss_and_level_do_not_convert_into_each_other() -> None:
    with pytest.raises(ValueError, match="dB measures loss and dBm level"):
        convert(60, UNITS["dB"], UNITS["dBm"])
    with pytest.raises(ValueError, match="MB measures data and Mbit/s rate"):
        ratio(UNITS["MB"], MBIT_S)


def test_canonical_units_are_those_of_the_method() -> None:
    # Source: method 1, first paragraph: Mbit/s, dB, dBm, ms, MHz, °C (differences in K), W.
    assert {unit.name for unit in CANONICAL.values()} >= {"Mbit/s", "dB", "dBm", "ms", "MHz", "°C", "K", "W"}
    assert all(UNITS[name].name == name for name in UNITS)


def test_names_are_ucum_codes_where_ucum_has_one() -> None:
    # Source: Unified Code for Units of Measure, by a public parser. It has no dBm, and Mbps is no unit of it.
    path = Path(__file__).parents[1] / "published" / "ucum.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    valid = {code for row in rows if row["valid"] == "yes" for code in row["ucum_code"].split(" / ")}
    invalid = {row["ucum_code"] for row in rows if row["valid"] == "no"}
    written_otherwise = {"°C": "Cel", "B": "By", "µs": "us", "K": "K"}
    for unit in CANONICAL.values():
        assert written_otherwise.get(unit.name, unit.name) in valid | {"dBm", "K"}, unit
    assert invalid & set(UNITS) == {"dBm"}
