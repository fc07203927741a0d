"""Logs: the two plain forms, foreign ones through a reading map, and what is wrong named by its line."""

from __future__ import annotations

import csv
import datetime as dt
import json
from pathlib import Path

import numpy as np
import pytest

from catalog.checking.times import read_instant
from catalog.checking.troubles import Trouble
from catalog.digesting.logs import FAILED, FINISHED, NOT_MADE, Log
from catalog.reading.mapped_logs import MEANS, read_mapped_log
from catalog.reading.maps import ReadingMap, find, read_map
from catalog.reading.plainlogs import read_plain_log

PUBLISHED = Path(__file__).parents[2] / "published"


def instant(text: str) -> dt.datetime | str:
    try:
        return dt.datetime.fromisoformat(text).astimezone(dt.UTC)
    except ValueError:
        return f"{text!r} is not a time."


def plain(text: str | bytes) -> Log | list:
    return read_plain_log("log.csv", text.encode() if isinstance(text, str) else text, instant=instant)


def log_of(text: str) -> Log:
    log = plain(text)
    assert isinstance(log, Log), log
    return log


def test_throughput_by_rate():
    log = log_of("t_s,mbit_s\n0,500\n10,500.5\n20,\n30,200\n")
    assert log.kind == "throughput"
    assert log.t_us.tolist() == [0, 10_000_000, 30_000_000]  # a blank value was not measured
    assert log.rate_bit_s.tolist() == [500_000_000, 500_500_000, 200_000_000]


def test_throughput_by_bytes():
    # By hand: 125,000,000 bytes in 2 s are 500 Mbit/s.
    log = log_of("t_s,seconds,bytes\n0,2,125000000\n2,1,125000000\n")
    assert log.rate_bit_s.tolist() == [500_000_000, 1_000_000_000]
    assert log.span_us.tolist() == [2_000_000, 1_000_000]


@pytest.mark.parametrize(
    ("header", "rate"), [("kbit/s", 500_000), ("Gbit/s", 500_000_000_000), ("MB/s", 4_000_000_000)]
)
def test_a_rate_in_another_unit(header, rate):
    assert log_of(f"t_s,{header}\n0,500\n").rate_bit_s.tolist() == [rate]


def test_requests():
    log = log_of("t_s,ms,outcome\n0,12.5,finished\n1,,failed\n2,,not made\n3,8,ok\n")
    assert log.kind == "requests"
    assert log.latency_us.tolist() == [12_500, -1, -1, 8_000]
    assert log.outcome.tolist() == [FINISHED, FAILED, NOT_MADE, FINISHED]


def test_requests_in_parallel_may_be_written_as_they_end():
    # By hand: a file from 0 to 9 s, two from 1 to 4 and from 4 to 8 s beside it, one that failed at 3 s.
    log = log_of("t_s,ms,outcome,bytes\n1,3000,ok,7\n3,,failed,\n4,4000,ok,8\n0,9000,ok,9\n")
    assert log.t_us.tolist() == [0, 1_000_000, 3_000_000, 4_000_000]
    assert log.latency_us.tolist() == [9_000_000, 3_000_000, -1, 4_000_000]
    assert log.outcome.tolist() == [FINISHED, FINISHED, FAILED, FINISHED]
    assert log.amount_b.tolist() == [9, 7, -1, 8]
    log = log_of("start,ms,outcome\n2025-07-01T14:00:05Z,1000,ok\n2025-07-01T14:00:02Z,6000,ok\n")
    assert log.started == dt.datetime(2025, 7, 1, 14, 0, 2, tzinfo=dt.UTC)
    assert log.t_us.tolist() == [0, 3_000_000]
    # A clock that jumped back took the ends along.
    (problem,) = plain("t_s,ms,outcome\n0,9,ok\n5,9,ok\n4,9,ok\n")
    assert problem.code == "clock-jump"


def test_requests_with_instants():
    log = log_of("start,ms,outcome\n2025-07-01T16:00:05+02:00,10,finished\n2025-07-01T14:00:07Z,11,finished\n")
    assert log.started == dt.datetime(2025, 7, 1, 14, 0, 5, tzinfo=dt.UTC)
    assert log.t_us.tolist() == [0, 2_000_000]


def test_decimal_comma_after_semicolons_and_columns_in_any_order():
    log = log_of("mbit_s;comment;t_s\n500,5;x;0\n400,25;y;1,5\n")
    assert log.rate_bit_s.tolist() == [500_500_000, 400_250_000]
    assert log.t_us.tolist() == [0, 1_500_000]


def test_a_log_that_states_its_link():
    log = log_of("t_s,mbit_s,width_mhz,channel\n0,500,80,36\n1,300,40,36\n")
    assert log.link == {"width_mhz": {"80", "40"}, "channel": {"36"}}


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("t_s,mbit_s\n0,500\n1,lots\n", 3, "'lots' is not a number for mbit_s"),
        ("t_s,mbit_s\n0,500\n\nx,500\n", 4, "'x' is not a number for t_s"),
        ("t_s,mbit_s\n0,500\n,500\n", 3, "The time is missing"),
        ("t_s,mbit_s\n0,500\n1,1e999\n", 3, "is not a number"),
        ("t_s,mbit_s\n0,500\n1,nan\n", 3, "is not a number"),
        ("t_s,mbit_s\n0,500\n1,1_000\n", 3, "is not a number"),
        ("t_s,mbit_s\n0,500\n1,-3\n", 3, "negative"),
        ("t_s,mbit_s\n5,500\n4,500\n", 3, "goes backwards"),
        ("t_s,seconds,bytes\n0,0,100\n", 2, "not longer than 0 s"),
        ("t_s,ms,outcome\n0,12,finished\n\n1,-4,finished\n", 4, "-4 ms is negative"),
        ("t_s,ms,outcome\n0,,finished\n", 2, "finished request has no latency"),
        ("t_s,ms,outcome\n0,1,finished\n1,1,maybe\n", 3, "'maybe' is not finished"),
        ("start,ms,outcome\nyesterday,1,finished\n", 2, "not a time"),
        ("t_s,mbit_s\n", 1, "no rows"),
        ("t_s,mbit_s\n0,\n", 1, "No row of the log"),
        ("a,b\n1,2\n", 1, "none of a throughput or a request log"),
        ("t_s,bytes\n1,2\n", 1, "A single row of bytes needs its length in seconds."),
        ("mbit_s\n2\n", 1, "neither t_s nor start"),
        ("", 1, "none of a throughput"),
        ("t_s,mbit_s\n0,500\n9e15,500\n", 3, "The time is 9e+15 s; no test comes to that"),
        ("t_s,mbit_s\n0,500\n1,1e300\n", 3, "The throughput is 1e+300 Mbit/s; no test comes to that"),
        ("t_s,mbit_s\n0,500\n1,1e308\n", 3, "The throughput is 1e+308 Mbit/s; no test"),
        ("t_s,Gbit/s\n0,500\n1,1e308\n", 3, "The throughput is larger than a number can be"),
        ("t_s,seconds,bytes\n0,1,5\n1,1e-300,1e300\n", 3, "The interval is shorter than 1 µs"),
        ("t_s,seconds,bytes\n0,1,5\n1,1e30,5\n", 3, "The interval is 1e+30 s; no test"),
        ("t_s,seconds,mbit_s\n0,1,5\n1,,5\n", 3, "length of the interval is missing"),
        ("t_s,ms,outcome\n0,1,ok\n1,1e200,ok\n", 3, "The latency is 1e+200 ms; no test"),
        ("t_s,ms,outcome,bytes\n0,1,ok,5\n1,1,ok,1e20\n", 3, "The amount is 1e+20 bytes; no test"),
        ("t_s,ms,outcome,bytes\n0,1,ok,5\n1,1,ok,-1\n", 3, "The amount is negative, -1 bytes"),
        ("t_s,mbit_s,Mbit/s\n0,1,2\n", 1, '"mbit_s" and "Mbit/s" both mean mbit_s'),
        ("t_s,mbit_s" + ",x" * 500 + "\n0,1\n", 1, "at most 500 columns; this one has 502"),
        (b"t_s,mbit_s\n0,\xff\n", 2, "not UTF-8"),
        (b"t_s,mbit_s\n0,5\n\x01,5\n", 3, "no text file has"),
        (b"\x00\x01\x02", 1, "no text file has"),
    ],
)
def test_a_bad_log_names_its_line(text, line, words):
    problems = plain(text)
    assert isinstance(problems, list)
    assert problems[0].row == line
    assert words in str(problems[0])


def test_intervals_end_where_the_next_begins_measured_or_not():
    log = log_of("t_s,mbit_s\n-5,100\n0,500\n10,\n20,\n30,200\n40,300\n")
    assert log.t_us.tolist() == [-5_000_000, 0, 30_000_000, 40_000_000]
    assert log.span_us.tolist() == [5_000_000, 10_000_000, 10_000_000, 10_000_000]


def test_a_header_may_hold_the_separator_in_quotes():
    assert log_of('t_s,"rate, of both",mbit_s,x\n0,7,500,9\n').rate_bit_s.tolist() == [500_000_000]


def test_a_log_with_a_byte_order_mark_or_in_utf_16():
    for encoding in ("utf-8-sig", "utf-16"):
        assert plain("t_s,mbit_s,wo\n0,500,Küche\n".encode(encoding)).rate_bit_s.tolist() == [500_000_000]


def test_every_bad_line_is_named_up_to_twenty():
    text = "t_s,mbit_s\n" + "".join(f"{n},{'x' if n % 3 == 0 else 500}\n" for n in range(300))
    problems = plain(text)
    assert [problem.row for problem in problems] == [2 + 3 * n for n in range(20)]


# --- Reading maps ---------------------------------------------------------------------------------------------

# Source: RFC 9535, figure 1.
BOOKSTORE = json.loads("""
{ "store": {
    "book": [
      { "category": "reference", "author": "Nigel Rees", "title": "Sayings of the Century", "price": 8.95 },
      { "category": "fiction", "author": "Evelyn Waugh", "title": "Sword of Honour", "price": 12.99 },
      { "category": "fiction", "author": "Herman Melville", "title": "Moby Dick", "isbn": "0-553-21311-3",
        "price": 8.99 },
      { "category": "fiction", "author": "J. R. R. Tolkien", "title": "The Lord of the Rings", "isbn": "0-395-19395-8",
        "price": 22.99 }
    ],
    "bicycle": { "color": "red", "price": 399 }
  } }
""")


def test_paths_are_those_of_rfc_9535():
    with (PUBLISHED / "jsonpath_rfc9535.csv").open(newline="") as file:
        queries = list(csv.DictReader(file))
    assert len(queries) == 10
    for row in queries:
        assert len(find(row["query"], BOOKSTORE)) == int(row["expected_nodes"]), row["query"]


_BOOKS = BOOKSTORE["store"]["book"]


@pytest.mark.parametrize(
    ("query", "values"),
    [
        ("$.store.book[*].author", [book["author"] for book in _BOOKS]),
        ("$.store..price", [399, 8.95, 12.99, 8.99, 22.99]),
        ("$..book[2].author", ["Herman Melville"]),
        ("$..book[2].publisher", []),
        ("$..book[-1]", [_BOOKS[3]]),
        ("$..book[0,1]", _BOOKS[:2]),
        ("$..book[:2]", _BOOKS[:2]),
        ("$..book[?@.isbn]", _BOOKS[2:]),
        ("$..book[?@.price<10]", [_BOOKS[0], _BOOKS[2]]),
    ],
)
def test_paths_select_what_rfc_9535_says_they_do(query, values):
    """Source: RFC 9535, Table 2, whose words for each query ("the third book's author") are from memory."""
    found = find(query, BOOKSTORE)
    assert sorted(map(str, found)) == sorted(map(str, values))  # ".." may visit members in any order


def map_of(text: str) -> ReadingMap:
    plan = read_map("maps/x.toml", text.encode())
    assert isinstance(plan, ReadingMap), plan
    return plan


def mapped(content: str, text: str) -> Log | list:
    return read_mapped_log("log", content.encode(), map_of(text), instant=instant)


JSON_MAP = """
kind = "throughput"
format = "json"
rows = "$.samples[*]"
skip_first_s = 3
[column.t_s]
from = "$.begin"
unit = "ms"
[column.rate]
from = "$.link.rx_kbit"
unit = "kbit/s"
missing = ["-1", "null"]
"""


def test_json_through_a_map_with_a_warm_up_cut_and_sentinels():
    samples = [
        {"begin": 0, "link": {"rx_kbit": 100}},
        {"begin": 2999, "link": {"rx_kbit": 100}},
        {"begin": 3000, "link": {"rx_kbit": 500_000}},
        {"begin": 4000, "link": {"rx_kbit": -1}},
        {"begin": 5000, "link": {"rx_kbit": None}},
        {"begin": 6000, "link": {"rx_kbit": "600000"}},
    ]
    log = mapped(json.dumps({"samples": samples}), JSON_MAP)
    assert isinstance(log, Log)
    assert log.t_us.tolist() == [3_000_000, 6_000_000]
    assert log.rate_bit_s.tolist() == [500_000_000, 600_000_000]


def test_json_lines_and_csv_keep_only_the_rows_that_are_meant():
    conditions = """
        [[where]]
        column = "{0}client"
        is = "w2"
        [[where]]
        column = "{0}level"
        above = -100
        [column.t_s]
        from = "{0}time"
        [column.bytes]
        from = "{0}got"
        [column.seconds]
        constant = 1
    """
    rows = [("w1", -50, 0, 1), ("w2", -50, 1, 125_000), ("w2", -100, 2, 1), ("w2", -60, 3, 250_000)]
    lines = "\n".join(json.dumps(dict(zip(("client", "level", "time", "got"), row, strict=True))) for row in rows)
    by_line = mapped(lines + "\n\n", 'kind = "throughput"\nformat = "jsonl"\n' + conditions.format("$."))
    table = "client;level;time;got\n" + "".join(";".join(map(str, row)) + "\n" for row in rows)
    by_row = mapped(table, 'kind = "throughput"\nformat = "csv"\n' + conditions.format(""))
    for log in (by_line, by_row):
        assert isinstance(log, Log), log
        # By hand: 125,000 bytes in a second are 1 Mbit/s.
        assert log.rate_bit_s.tolist() == [1_000_000, 2_000_000]
        assert log.t_us.tolist() == [1_000_000, 3_000_000]


def test_requests_through_a_map_with_words_of_their_own():
    plan = """
        kind = "requests"
        format = "jsonl"
        [column.start]
        from = "$.at"
        [column.ms]
        from = "$.took"
        unit = "s"
        [column.outcome]
        from = "$.state"
        words = { good = "finished", bad = "failed" }
    """
    text = '{"at":"2025-07-01T14:00:00Z","took":0.25,"state":"good"}\n{"at":"2025-07-01T14:00:01Z","state":"bad"}\n'
    log = mapped(text, plan)
    assert isinstance(log, Log), log
    assert log.latency_us.tolist() == [250_000, -1]
    assert log.outcome.tolist() == [FINISHED, FAILED]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("kind = ", "not valid TOML"),
        ('format = "csv"\n[column.t_s]\nfrom = "t"', "for throughput or requests"),
        ('kind = "throughput"\nformat = "xml"\n[column.t_s]\nfrom = "t"', "csv, json or jsonl"),
        ('kind = "throughput"\nformat = "json"\n[column.t_s]\nfrom = "$.t"', "says with rows"),
        ('kind = "throughput"\nformat = "jsonl"\n[column.t_s]\nfrom = "$["', "is no JSONPath"),
        ('kind = "throughput"\nformat = "csv"\n[column.rate]\nfrom = "r"', "needs a unit"),
        ('kind = "throughput"\nformat = "csv"\n[column.rate]\nfrom = "r"\nunit = "ms"', "of another quantity"),
        ('kind = "throughput"\nformat = "csv"\n[column.speed]\nfrom = "r"', "no column 'speed'"),
        ('kind = "throughput"\nformat = "csv"\n[column.t_s]\nfrom = "t"\nconstant = 1', "either from or constant"),
        ('kind = "throughput"\nformat = "csv"\n[column.t_s]\nfrom = "t"\n[[where]]\ncolumn = "a"', "[[where]] has"),
        ('kind = "throughput"\nformat = "csv"\nskip_first_s = -1\n[column.t_s]\nfrom = "t"', "number of seconds"),
        ('kind = "throughput"\nformat = "csv"', "names no column"),
    ],
)
def test_a_bad_map_says_what_is_wrong(text, words):
    problems = read_map("maps/x.toml", text.encode())
    assert isinstance(problems, list)
    assert words in str(problems[0])


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("{", "cannot be read as json"),
        ("[" * 100_000, "cannot be read as json"),
        ('{"samples": []}', "no rows"),
        ('{"samples": [{"begin": 3000, "link": {"rx_kbit": "many"}}]}', "'many' is not a number for $.link.rx_kbit"),
        ('{"samples": [{"link": {"rx_kbit": 1}}]}', "No row has anything at '$.begin'"),
    ],
)
def test_a_file_that_does_not_fit_its_map(content, words):
    problems = mapped(content, JSON_MAP)
    assert isinstance(problems, list)
    assert words in str(problems[0])


def test_a_long_log_is_read_exactly():
    """Two hundred thousand rows through the quick way equal numpy's own reading of the numbers."""
    times = np.arange(200_000) / 10
    rates = np.random.default_rng(7).normal(500, 50, 200_000).round(1)
    text = "t_s,mbit_s\n" + "".join(f"{t:.1f},{rate:.1f}\n" for t, rate in zip(times, rates, strict=True))
    log = log_of(text)
    assert np.array_equal(log.t_us, np.rint(times * 1e6))
    assert np.array_equal(log.rate_bit_s, np.rint(rates * 1e6))


def test_a_csv_with_far_too_many_columns_is_refused_through_a_map_too():
    plan = map_of(
        'kind = "throughput"\nformat = "csv"\n[column.t_s]\nfrom = "t"\n[column.rate]\nfrom = "r"\nunit = "bit/s"'
    )
    problems = read_mapped_log("log.csv", b"t,r" + b",x" * 1000 + b"\n0,1\n", plan, instant=instant)
    assert "at most 500 columns; this one has 1,002" in str(problems[0])


UNIX_MAP = """
kind = "throughput"
format = "csv"
[column.start]
from = "at"
unit = "{}"
[column.rate]
from = "rate"
unit = "Mbit/s"
"""


@pytest.mark.parametrize(("unit", "scale"), [("s", 1), ("ms", 1000), ("us", 1_000_000)])
def test_a_start_with_a_unit_is_unix_time(unit, scale):
    # Source: POSIX.1-2017, 4.16, seconds since the Epoch; datetime's own reading of it.
    rows = "".join(f"{(1_548_779_007 + 2 * n) * scale},5\n" for n in range(3))
    log = read_mapped_log("log.csv", f"at,rate\n{rows}".encode(), map_of(UNIX_MAP.format(unit)), instant=instant)
    assert log.started == dt.datetime.fromtimestamp(1_548_779_007, dt.UTC)
    assert log.t_us.tolist() == [0, 2_000_000, 4_000_000]


@pytest.mark.parametrize(
    ("at", "line", "words"),
    [
        ("1548779007000", 2, "1.54878e+12 s is no Unix time of a test. Is its unit right?"),
        ("-5", 2, "-5 s is no Unix time of a test"),
        ("", 2, "The time is missing"),
    ],
)
def test_what_is_no_unix_time(at, line, words):
    (problem,) = read_mapped_log(
        "log.csv", f"at,rate\n{at},5\n".encode(), map_of(UNIX_MAP.format("s")), instant=instant
    )
    assert problem.row == line
    assert words in str(problem)


def test_a_map_with_a_character_that_does_not_show_is_refused():
    (problem,) = read_map("maps/x.toml", b'kind = "throughput"\nformat = "csv"\n[column.t_s]\nfrom = "t\\u200b"\n')
    assert problem.code == "odd-characters"
    assert "holds the character U+200B (zero width space)" in str(problem)


def test_every_problem_of_a_map_has_its_own_line_and_no_other_follows():
    text = """kind = "throughput"
format = "json"
rows = "$.samples[*]"

[column.t_s]
from = "$["

[column.rate]
from = "$.r"
unit = "parsec"

[[where]]
column = "$.link"
above = "much"
"""
    problems = read_map("maps/x.toml", text.encode())
    assert [(problem.row, problem.expected) for problem in problems] == [
        (10, "The unit 'parsec' of rate is unknown or of another quantity; it becomes Mbit/s."),
        (14, "above in [[where]] is a number."),
        (6, problems[2].expected),
    ]
    assert problems[2].expected.startswith("'$[' is no JSONPath")
    assert str(problems[0]).startswith("maps/x.toml line 10: ")


def test_a_column_that_is_wrong_is_a_column_all_the_same():
    (problem,) = read_map("maps/x.toml", b'kind = "throughput"\nformat = "csv"\n\n[column.speed]\nfrom = "r"\n')
    assert (problem.row, problem.expected[:28]) == (4, "A map has no column 'speed';")


END_MAP = """
kind = "{kind}"
format = "jsonl"
[column.{begin}]
from = "$.from"
unit = "ms"
[column.end]
from = "$.to"
unit = "ms"
{more}
"""


def test_an_interval_lasts_from_its_begin_to_its_end():
    rows = '{"from": 0, "to": 1000, "b": 75000000}\n{"from": 1000, "to": 1050, "b": 625000}\n'
    log = mapped(rows, END_MAP.format(kind="throughput", begin="t_s", more='[column.bytes]\nfrom = "$.b"'))
    # By hand: 75 MB in a second are 600 Mbit/s, 0.625 MB in 0.05 s are 100.
    assert log.span_us.tolist() == [1_000_000, 50_000]
    assert log.rate_bit_s.tolist() == [600_000_000, 100_000_000]


def test_a_request_takes_from_its_begin_to_its_end():
    rows = '{"from": 1747036829000, "to": 1747036829030}\n{"from": 1747036830000, "to": 1747036830041}\n'
    log = mapped(rows, END_MAP.format(kind="requests", begin="start", more=""))
    assert log.latency_us.tolist() == [30_000, 41_000]
    assert log.started == dt.datetime(2025, 5, 12, 8, 0, 29, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[column.end]\nfrom = "e"', "needs a begin"),
        ('[column.start]\nfrom = "s"\n[column.end]\nfrom = "e"\nunit = "s"', "are both written times, or both count"),
        (
            '[column.t_s]\nfrom = "s"\n[column.end]\nfrom = "e"\n[column.seconds]\nfrom = "l"',
            "both say how long it took",
        ),
    ],
)
def test_an_end_without_a_begin_or_beside_a_length_is_refused(text, words):
    (problem,) = read_map("maps/x.toml", f'kind = "throughput"\nformat = "csv"\n{text}\n'.encode())
    assert words in str(problem)


def test_bytes_without_lengths_last_until_the_next_row():
    # By hand: 50 MB in 1 s are 400 Mbit/s, 100 MB in 2 s too; the last row is taken to last the usual step.
    log = log_of("t_s,bytes\n0,50000000\n1,50000000\n2,100000000\n4,50000000\n")
    assert log.rate_bit_s.tolist() == [400_000_000] * 4


def test_what_a_log_left_out_at_its_ends_is_remembered():
    # By hand: 2 s of warm-up, then two rows and a last one that measured nothing.
    plan = (
        'kind = "throughput"\nformat = "csv"\nskip_first_s = 2\n[column.t_s]\nfrom = "t"\n'
        '[column.rate]\nfrom = "r"\nunit = "Mbit/s"\nmissing = ["-1"]\n'
    )
    text = "t,r\n" + "".join(f"{t},{r}\n" for t, r in enumerate([9, 9, -1, -1, 500, 600, -1]))
    log = mapped(text, plan)
    assert (log.warm_up_us, log.before_us, log.after_us) == (2_000_000, 2_000_000, 1_000_000)
    assert log.rows == (6, 7)
    assert log_of("t_s,mbit_s\n\n0,1\n\n1,2\n").rows == (3, 5)


# --- What reading maps say of times, failures and decimal marks ---------------------------------------------------

REQUESTS = """
kind = "requests"
format = "{format}"
[column.{begin}]
from = "{path}begin"
{more}
"""


def requests(content, more, *, begin="start", form="csv"):
    path = "" if form == "csv" else "$."
    return mapped(content, REQUESTS.format(format=form, begin=begin, path=path, more=more))


def test_a_request_takes_from_its_written_begin_to_its_written_end():
    rows = (
        "begin,end\n2025-05-12T08:00:00Z,2025-05-12T08:00:00.030Z\n2025-05-12T10:00:01+02:00,2025-05-12T08:00:01.5Z\n"
    )
    log = requests(rows, '[column.end]\nfrom = "end"')
    assert log.latency_us.tolist() == [30_000, 500_000]
    assert log.started == dt.datetime(2025, 5, 12, 8, tzinfo=dt.UTC)


def test_nanoseconds_since_1970_lose_nothing():
    # By hand: a float holds such a number only to 256 ns; 1,500 ns are 1.5 µs, which rounds to 2.
    rows = '{"begin": 1747036829000000001, "end": 1747036829000001501}\n{"begin": 1747036829000002001, "end": null}\n'
    more = 'unit = "ns"\n[column.end]\nfrom = "$.end"\nunit = "ns"\nfailed = ["lost"]'
    log = requests(rows.replace("null", '"lost"'), more, form="jsonl")
    assert log.latency_us.tolist() == [2, -1]
    log = requests(rows.replace("null", "1747036829000002601"), more, form="jsonl")
    assert log.latency_us.tolist() == [2, 1]
    assert log.t_us.tolist() == [0, 2]


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_words_for_failures_stand_in_the_place_of_a_latency(form):
    values = ["12.5", "lost", "-1", "n/a", "8"]
    more = '[column.ms]\nfrom = "{}ms"\nunit = "ms"\nfailed = ["lost", -1, "n/a"]'
    if form == "csv":
        content = "begin,ms\n" + "".join(f"{n},{value}\n" for n, value in enumerate(values))
    else:
        content = "\n".join(json.dumps({"begin": n, "ms": value}) for n, value in enumerate(values))
    log = requests(content, more.format("" if form == "csv" else "$."), begin="t_s", form=form)
    assert log.latency_us.tolist() == [12_500, -1, -1, -1, 8_000]
    assert log.outcome.tolist() == [FINISHED, FAILED, FAILED, FAILED, FINISHED]


def test_a_failure_beside_the_outcome_finished_is_refused():
    more = '[column.ms]\nfrom = "ms"\nfailed = ["lost"]\n[column.outcome]\nfrom = "state"'
    (problem,) = requests("begin,ms,state\n0,5,ok\n1,lost,failed\n2,lost,ok\n", more, begin="t_s")
    assert (problem.row, problem.code) == (4, "value-and-outcome")


def test_a_clock_without_a_date_goes_on_past_midnight():
    rows = "begin;end\n23:59:58;23:59:59,5\n23:59:59;00:00:01\n00:00:02;00:00:02,250\n"
    log = requests(rows, '[column.end]\nfrom = "end"', begin="t_s")
    assert log.t_us.tolist() == [n * 1_000_000 for n in (86_398, 86_399, 86_402)]
    assert log.latency_us.tolist() == [1_500_000, 2_000_000, 250_000]


@pytest.mark.parametrize(
    ("times", "line", "words"),
    [
        (["10:00:00", "09:59:00"], 3, "goes backwards"),
        (["00:00:01", "23:59:59"], 3, "The clock goes on by more than 12 h here, to 23:59:59, without a date."),
        (["10:00:00", "later"], 3, "'later' is not a time of day."),
        (["10:00:00", "24:00:00"], 3, "'24:00:00' is not a time of day."),
    ],
)
def test_a_clock_that_cannot_be_told_is_refused(times, line, words):
    (problem,) = requests("begin,ms\n" + "".join(f"{t},5\n" for t in times), '[column.ms]\nfrom = "ms"', begin="t_s")
    assert problem.row == line
    assert words in str(problem)


@pytest.mark.parametrize(
    ("days", "stated", "first"),
    [
        (("03.04.2025", "13.04.2025"), "", (4, 3)),
        (("03/04/2025", "03/14/2025"), "", (3, 4)),
        (("03.04.2025", "04.04.2025"), "day_first = true", (4, 3)),
        (("03.04.2025", "04.04.2025"), "day_first = false", (3, 4)),
    ],
)
def test_days_with_the_year_last_are_settled_by_the_file_or_the_map(days, stated, first):
    rows = "begin,ms\n" + "".join(f"{day} 10:00:00+00:00,5\n" for day in days)
    plan = map_of(
        f'kind = "requests"\nformat = "csv"\n[column.start]\nfrom = "begin"\n{stated}\n[column.ms]\nfrom = "ms"\n'
    )
    log = read_mapped_log("log", rows.encode(), plan, instant=instant_of_the_batch)
    assert (log.started.month, log.started.day) == first


def test_a_day_with_two_readings_is_refused_with_both():
    plan = map_of('kind = "requests"\nformat = "csv"\n[column.start]\nfrom = "begin"\n[column.ms]\nfrom = "ms"\n')
    (problem,) = read_mapped_log("log", b"begin,ms\n03.04.2025 10:00:00Z,5\n", plan, instant=instant_of_the_batch)
    assert "can be 3 April or 4 March" in str(problem)


def instant_of_the_batch(text):
    moment = read_instant(text, "UTC")
    return moment.expected if isinstance(moment, Trouble) else moment


RATES = (
    'kind = "throughput"\nformat = "csv"\n{}\n[column.t_s]\nfrom = "t"\n[column.rate]\nfrom = "r"\nunit = "Mbit/s"\n'
)


@pytest.mark.parametrize(
    ("rows", "stated", "rates"),
    [
        ("t;r\n0;500,5\n1;1.024,25\n2;1.024\n", "", [500.5, 1024.25, 1024]),
        ("t;r\n0;0.5\n1;1.024\n", "", [0.5, 1.024]),
        ("t;r\n0;1.024\n1;2.048\n", 'decimal = "."', [1.024, 2.048]),
        ("t;r\n0;1.024\n1;2.048\n", 'decimal = ","', [1024, 2048]),
        ("t,r\n0,1.024\n1,2.048\n", "", [1.024, 2.048]),  # the comma separates
        ('t,r\n0,"1,5"\n1,"1.024"\n', "", [1.5, 1024]),
        ("t\tr\n0\t1 024,5\n1\t3\n", "", [1024.5, 3]),
    ],
)
def test_the_decimal_mark_is_settled_by_the_file(rows, stated, rates):
    log = mapped(rows, RATES.format(stated))
    assert isinstance(log, Log), log
    assert log.rate_bit_s.tolist() == [rate * 1e6 for rate in rates]


@pytest.mark.parametrize(
    ("rows", "line", "words"),
    [
        (
            "t;r\n0;1.024\n1;2.048\n",
            2,
            "'1.024' for r is 1024 or 1.024, and nothing else in the file tells. Write decimal",
        ),
        ("t;r\n0;500,5\n1;0.5\n2;1.024\n", 4, "and the file uses both marks as decimal mark"),
        ("t,r\n0,500,5\n", 2, "The row has 3 cells, but the heading names 2 columns. Is a decimal comma"),
        ("t,r\n0,500 kbit/s\n", 2, "'500 kbit/s' is not a number for r"),
        ("t,r\ns,kbit/s\n0,500\n", 1, "The row under the heading says 'kbit/s' for r, the map Mbit/s"),
        ("t,r,r\n0,500,5\n", 1, "The file has 2 columns called 'r'"),
        ("t,r\n0,5\nr,t\n6,1\n", 3, "a second heading, in another order"),
    ],
)
def test_what_could_be_read_in_two_ways_is_refused(rows, line, words):
    problems = mapped(rows, RATES.format(""))
    assert isinstance(problems, list), problems
    assert problems[0].row == line
    assert words in str(problems[0])


def test_lines_may_end_as_they_ever_did():
    for end in ("\n", "\r\n", "\r"):
        log = mapped(end.join(["t,r", "0,5.5", "1,6", ""]), RATES.format(""))
        assert log.rate_bit_s.tolist() == [5_500_000, 6_000_000]


def test_a_row_of_another_kind_is_left_out_by_its_word():
    rows, left_out = "t,r\n0,5.5\n1,6\ntotal,11.5\n", '[[where]]\ncolumn = "t"\nnot = "total"\n'
    assert mapped(rows, RATES.format("") + left_out).rate_bit_s.tolist() == [5_500_000, 6_000_000]
    (problem,) = mapped(rows, RATES.format(""))
    assert str(problem).endswith("'total' is not a number for t. " + MEANS)


def test_units_headings_again_and_blank_lines_are_no_rows():
    log = mapped("sep=;\n\nt;r\n[s];(Mbit/s)\n0;500,5\n\nt;r\n1;400\n;\n", RATES.format(""))
    assert log.rate_bit_s.tolist() == [500_500_000, 400_000_000]
    assert log.rows == (5, 8)


def test_rows_that_a_condition_leaves_out_are_time_and_no_part_of_the_row_before():
    # By hand: 125,000 bytes a second are 1 Mbit/s. Second 2 of link a is left out, and b lies between the rows of a.
    rows = "t,link,level,got\n" + "".join(
        f"{t},{link},{-100 if (t, link) == (2, 'a') else -50},125000\n" for t in range(5) for link in "ab"
    )
    plan = """kind = "throughput"
        format = "csv"
        [column.t_s]
        from = "t"
        [column.bytes]
        from = "got"
        [[where]]
        column = "link"
        is = "a"
        [[where]]
        column = "level"
        above = -100
    """
    log = mapped(rows, plan)
    assert log.t_us.tolist() == [0, 1_000_000, 3_000_000, 4_000_000]
    assert log.span_us.tolist() == [1_000_000] * 4
    assert log.rate_bit_s.tolist() == [1_000_000] * 4


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('decimal = ";"\n[column.t_s]\nfrom = "t"', "decimal is ';'"),
        ('[column.rate]\nfrom = "r"\nunit = "bit/s"\nfailed = ["x"]', "failed in [column.rate] says nothing"),
        ("[column.t_s]\nconstant = 1", "would give every row the same time"),
        ('[column.t_s]\nfrom = "t"\nday_first = true', "for a start or an end"),
        ('[column.start]\nfrom = "t"\nday_first = "?"', "day_first in [column.start] is true or false"),
    ],
)
def test_a_key_that_says_nothing_is_refused(text, words):
    (problem,) = read_map("maps/x.toml", f'kind = "throughput"\nformat = "csv"\n{text}\n'.encode())
    assert words in problem.expected


def test_a_path_that_no_row_has_is_named():
    plan = 'kind = "throughput"\nformat = "jsonl"\n[column.t_s]\nfrom = "$.t"\n[column.bytes]\nfrom = "$.rx"\n'
    (problem,) = mapped('{"t": 0, "tx": 1}\n{"t": 1, "tx": 2}\n', plan)
    assert problem.expected == "No row has anything at '$.rx'."


def test_a_log_of_many_pieces_is_read_as_one():
    """Rows of several pieces of the file, with a word and a wrong line late in it."""
    count = 400_000
    rows = [f"{n / 10:.1f},{n % 977}.25" for n in range(count)]
    more = '[column.ms]\nfrom = "ms"\nunit = "ms"\nfailed = ["lost"]'
    rows[350_000] = "35000.0,lost"
    log = requests("begin,ms\n" + "\n".join(rows), more, begin="t_s")
    assert np.array_equal(log.t_us, np.arange(count) * 100_000)
    wanted = np.arange(count) % 977 * 1000 + 250
    wanted[350_000] = -1
    assert np.array_equal(log.latency_us, wanted)
    rows[380_000] = "38000.0,gone"
    (problem,) = requests("begin,ms\n" + "\n".join(rows), more, begin="t_s")
    assert (problem.row, problem.value) == (380_002, "gone")


@pytest.mark.parametrize(
    ("word", "other"), [("007", "7"), ("true", "false"), ("TRUE", "true"), ("80.0", "80"), ("NA", "x")]
)
def test_a_word_is_what_was_typed(word, other):
    plan = RATES.format("") + f'[[where]]\ncolumn = "link"\nis = "{word}"\n[column.channel]\nfrom = "link"\n'
    log = mapped(f"t,r,link\n0,5,{word}\n1,6,{other}\n2,7,\n3,8,{word}\n", plan)
    assert log.rate_bit_s.tolist() == [5_000_000, 8_000_000]
    assert log.link == {"channel": {word}}
