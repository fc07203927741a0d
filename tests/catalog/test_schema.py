"""The tables say what they hold, and refuse what cannot be."""

from __future__ import annotations

import inspect
import re
import sqlite3

import pytest

from catalog import schema
from catalog.connection import create_catalog


@pytest.mark.parametrize("table", schema.TABLES)
def test_every_table_is_strict_and_in_order(table):
    sql = schema.TABLES[table]
    assert re.search(r"\) STRICT\s*$", sql)
    earlier = list(schema.TABLES)[: list(schema.TABLES).index(table)]
    assert set(re.findall(r"REFERENCES (\w+)", sql)) <= {*earlier, table}


def test_every_measured_column_ends_in_its_unit():
    # Units as the batch format writes them, plus what is a count, a share or an amount of money.
    units = ("_dbm", "_db", "_mbit_s", "_mhz", "_s", "_c", "_m", "_ms", "_bytes", "_share", "_per_year", "_number")
    plain = {
        "minutes",
        "seconds",
        "emissivity",
        "watts",
        "amount",
        "value",
        "repeat",
        "flows",
        "streams",
        "channel",
        "count",
        "version",
        "seat",
        "sequence",
        "number",
        "readings",
        "n",
        "public",
        "tax_included",
        "dfs_event",
        "method",
        "workload_version",
        "planned_requests",
        "power_class",
        "source_class",
        "source_row",
        "file_row",
        "first_row",
        "only",
        "after_batch",
        "of_runs",
        "on_time_share",
        "hops",
    }
    db = create_catalog(None)
    for table in schema.TABLES:
        for _, name, kind, *_ in db.execute(f"PRAGMA table_info({table})"):
            if kind in ("REAL", "INTEGER") and not name.endswith("_id"):
                assert name in plain or name.endswith(units), f"{table}.{name}"


def test_tables_whose_name_does_not_say_it_all_have_a_comment():
    text = inspect.getsource(schema)
    commented = set(re.findall(r"^# [^\n]+\n(?:# [^\n]+\n)*([A-Z_]+) = ", text, flags=re.M))
    plain = {
        "RAW_FILE",
        "DEVICE",
        "DEVICE_ALIAS",
        "DEVICE_RADIO",
        "DEVICE_PORT",
        "FIRMWARE",
        "CLIENT",
        "CLIENT_RADIO",
        "CLIENT_DRIVER",
        "HOUSE",
        "SESSION",
        "WORKLOAD",
        "WORKLOAD_ROLE",
        "LONGRUN",
        "FEATURE",
        "HEAT",
        "POWER",
        "PART",
        "PRICE",
        "ARTICLE",
        "ARTICLE_DEVICE",
        "IMAGE",
    }
    assert {name.upper() for name in schema.TABLES} - plain <= commented


def test_a_result_lacking_what_makes_it_comparable_is_refused(bench, fill_result):
    # K02 of the job analysis: unit, firmware, client setup, method, place, session.
    fill_result()
    for column in ("device_id", "unit_id", "firmware", "client_id", "session_id", "band", "width_mhz", "direction"):
        with pytest.raises(sqlite3.IntegrityError, match="NOT NULL"):
            fill_result(**{column: None, "repeat": 2})
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        fill_result(attenuation_db=None, repeat=2)


@pytest.mark.parametrize(
    "orphan",
    [
        {"unit_id": "Z"},
        {"firmware": "9"},
        {"client_id": "nobody"},
        {"driver": "9"},
        {"session_id": "never"},
        {"device_id": "nothing"},
        {"batch_id": "none"},
    ],
)
def test_orphans_are_refused(fill_result, orphan):
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        fill_result(**orphan)


def test_the_same_attempt_twice_is_refused_though_much_is_not_stated(fill_result):
    fill_result()
    with pytest.raises(sqlite3.IntegrityError, match="UNIQUE"):
        fill_result(throughput_mbit_s=1.0)
    fill_result(repeat=2)
    fill_result(security="open")


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"outcome": "finished", "throughput_mbit_s": None}, "CHECK"),
        ({"outcome": "did not finish"}, "CHECK"),
        ({"outcome": "gone"}, "CHECK"),
        ({"throughput_mbit_s": -1.0}, "CHECK"),
        ({"level_dbm": 54.0}, "CHECK"),
        ({"attenuation_db": 131.0}, "CHECK"),
        ({"repeat": 0}, "CHECK"),
        ({"width_mhz": "eighty"}, "cannot store TEXT"),
    ],
)
def test_impossible_values_are_refused(fill_result, values, why):
    with pytest.raises(sqlite3.IntegrityError, match=why):
        fill_result(**values)


@pytest.fixture
def fill_result(bench):
    """Add a run to a bench that has all it needs."""
    b = bench.batch("b")
    bench.device(b, "dome")
    bench.client(b)
    bench.put("house", b, house_id="house-a")
    bench.put("session", b, session_id="day-1")

    def filled(**values):
        row = {"device_id": "dome", "attenuation_db": 60.0, "batch_id": b, "source_file": "runs.csv", **values}
        return bench.put("run", **row)

    return filled
