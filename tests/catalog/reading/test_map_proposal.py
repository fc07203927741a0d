"""Maps proposed from foreign logs, read back through the map reader."""

import json

import numpy as np
import pytest

from catalog.digesting.logs import Log
from catalog.errors import InputRefused
from catalog.reading.map_proposal import propose_map, write_map
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import ReadingMap, read_map


def test_csv_of_several_links_in_one_file(tmp_path):
    rows = ["link,clock,rxBytes"] + [f"{link},{1000 + t},{125000 * (t + 1)}" for link in ("a", "b") for t in range(4)]
    (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "log.csv").write_text((tmp_path / "log.csv").read_text().replace("clock", "clock_time"))
    found = propose_map(tmp_path / "log.csv")
    assert '[[where]]\ncolumn = "link"\nis = "a"' in found.text
    # By hand: 125,000 bytes in a second are 1 Mbit/s.
    assert found.first == (
        "4 rows read",
        "t 1000.000 s  1.000 Mbit/s",
        "t 1001.000 s  2.000 Mbit/s",
        "t 1002.000 s  3.000 Mbit/s",
        "t 1003.000 s  4.000 Mbit/s",
    )


def test_json_with_milliseconds_and_a_sentinel(tmp_path):
    samples = [{"begin": 1000 * i, "rx_kbit": -1 if i in (2, 5) else 5000 + i} for i in range(8)]
    (tmp_path / "log.json").write_text(json.dumps({"about": {"by": "x"}, "samples": samples}))
    found = propose_map(tmp_path / "log.json")
    assert 'rows = "$.samples[*]"' in found.text
    assert 'unit = "ms"' in found.text
    assert 'missing = ["-1"]' in found.text
    assert found.first[:2] == ("6 rows read", "t 0.000 s  5.000 Mbit/s")
    assert any("not measured" in note for note in found.notes)


def test_json_lines_of_requests(tmp_path):
    lines = [json.dumps({"start": f"2025-05-12T08:00:0{i}Z", "net": {"rtt_ms": 20.5 + i}}) for i in range(5)]
    (tmp_path / "log.jsonl").write_text("\n".join(lines))
    found = propose_map(tmp_path / "log.jsonl")
    assert 'kind = "requests"' in found.text
    assert 'from = "$.net.rtt_ms"' in found.text
    assert found.first[1].endswith("20.5 ms")


def test_unix_time_of_several_links(tmp_path):
    rows = ["link,systime,bytes"] + [f"{link},{1548779007 + t},125000" for link in ("b", "a") for t in range(4)]
    (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
    found = propose_map(tmp_path / "log.csv")
    assert '[column.start]\nfrom = "systime"\nunit = "s"\n' in found.text
    assert found.first[:2] == ("4 rows read", "t 0.000 s  1.000 Mbit/s")
    assert found.notes[0] == "link tells several logs apart: a, b. The map keeps one; write one for each."
    # By hand: 1,548,720,000 is midnight of 29 January 2019 in UTC, 59,007 s later it is 16:23:27.
    assert found.notes[1] == "systime is taken for Unix time; then the log begins at 2019-01-29 16:23:27Z."


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\0\1\2\3" * 100, "not a text file"),
        (b"\xff\xfe\xfa", "not UTF-8"),
        (b"just words\nand more\n", "no header"),
        (b"name,colour\na,red\nb,blue\n", "like a time"),
        (b"time,name\n1,a\n2,b\n", "looks like bytes"),
        (b'{"a": 1}', "no list of objects"),
        (b"[" * 100_000, "nested too deeply"),
    ],
)
def test_what_is_no_log_is_refused_in_words(tmp_path, content, words):
    (tmp_path / "log.csv").write_bytes(content)
    with pytest.raises(InputRefused, match=words):
        propose_map(tmp_path / "log.csv")


# Ten rows of a second at 600 Mbit/s and one of 0.05 s at 100: 6005 Mbit in 10.05 s.
TRUE_MEAN = 6005 / 10.05
PARTS = [
    {"from": i, "to": i + lasted, "lasted": lasted, "amount_bytes": mbit_s * lasted * 125_000, "rx_mbit_s": mbit_s}
    for i, lasted, mbit_s in [*((i, 1.0, 600) for i in range(10)), (10, 0.05, 100)]
]


def mean_of(plan_text, content):
    plan = read_map("maps/x.toml", plan_text.encode())
    assert isinstance(plan, ReadingMap), plan
    log = read_mapped_log("log", content, plan, instant=lambda text: "none here")
    assert isinstance(log, Log), log
    return float(np.dot(log.rate_bit_s / 1e6, log.span_us) / log.span_us.sum())


@pytest.mark.parametrize(
    "kept",
    [
        ("from", "to", "lasted", "amount_bytes"),
        ("from", "to", "lasted", "rx_mbit_s"),
        ("from", "to", "amount_bytes"),
        ("from", "to", "rx_mbit_s"),
        ("to", "from", "rx_mbit_s"),
        ("from", "lasted", "amount_bytes"),
        ("lasted", "from", "rx_mbit_s"),
        ("to", "lasted", "rx_mbit_s"),
    ],
)
def test_a_length_that_the_file_states_is_used(tmp_path, kept):
    assert pytest.approx(597.5, abs=0.02) == TRUE_MEAN
    lines = [json.dumps({"part": {name: part[name] for name in kept}}) for part in PARTS]
    (tmp_path / "log.jsonl").write_text("\n".join(lines))
    found = propose_map(tmp_path / "log.jsonl")
    assert "constant" not in found.text
    assert mean_of(found.text, (tmp_path / "log.jsonl").read_bytes()) == pytest.approx(TRUE_MEAN, rel=1e-9)
    assert "for 1.000 s" in found.first[1]
    assert ("Is it the end?" in " ".join(found.notes)) == ("from" not in kept)


def test_without_a_length_the_gaps_between_rows_decide(tmp_path):
    # By hand: 1250 kB in 0.1 s are 100 Mbit/s.
    rows = ["t,bytes"] + [f"{t / 10:.1f},1250000" for t in range(20)]
    (tmp_path / "log.csv").write_text("\n".join(rows))
    found = propose_map(tmp_path / "log.csv")
    assert found.first[1] == "t 0.000 s  100.000 Mbit/s"
    assert found.notes == ("Nothing says how long a row lasts: each is taken to last until the next one begins.",)


def proposed(folder, header, *values):
    """The proposal for a log of two columns, whose *values* come again and again."""
    rows = "".join(f"{t},{values[t % len(values)]}\n" for t in range(9))
    (folder / "log.csv").write_text(f"t,{header}\n{rows}")
    return propose_map(folder / "log.csv")


@pytest.mark.parametrize(
    ("header", "value", "name", "unit", "first"),
    [
        ("throughput_MBps", 500, "rate", "MB/s", "4000.000 Mbit/s"),
        ("Gbps", 500, "rate", "Gbit/s", "500000.000 Mbit/s"),
        ("rx_kbit", 500, "rate", "kbit/s", "0.500 Mbit/s"),
        ("throughput (Mbit/s)", 500, "rate", "Mbit/s", "500.000 Mbit/s"),
        ("bits_per_second", 500, "rate", "bit/s", "0.001 Mbit/s"),
        ("goodput_kB_s", 500, "rate", "kB/s", "4.000 Mbit/s"),
        ("latency_ns", 500_000, "ms", "ns", "0.5 ms"),
        ("rtt_us", 500_000, "ms", "us", "500.0 ms"),
        ("delay (ms)", 500_000, "ms", "ms", "500000.0 ms"),
        ("rtt_s", 500_000, "ms", "s", "500000000.0 ms"),
    ],
)
def test_a_rate_or_latency_is_read_in_the_unit_of_its_header(tmp_path, header, value, name, unit, first):
    found = proposed(tmp_path, header, value)
    assert f'[column.{name}]\nfrom = "{header}"\nunit = "{unit}"' in found.text
    assert found.first[1] == f"t 0.000 s  {first}"


@pytest.mark.parametrize(
    ("header", "name", "choice"),
    [
        ("throughput", "rate", "Mbit/s, kbit/s, bit/s or MB/s"),
        ("rate", "rate", "Mbit/s, kbit/s, bit/s or MB/s"),
        ("MBPS", "rate", "Mbit/s or MB/s"),
        ("latency", "ms", "s, ms, us or ns"),
        ("rtt", "ms", "s, ms, us or ns"),
        ("min_rtt", "ms", "s, ms, us or ns"),
        ("amount", "bytes", "B, kB or MB"),
    ],
)
def test_a_unit_that_nothing_states_is_asked(tmp_path, header, name, choice):
    found = proposed(tmp_path, header, 500, 501, 502)
    assert f"{header} does not say its unit. Write it in [column.{name}]: {choice}." in found.questions
    assert found.first == ()
    (problem,) = read_map("maps/x.toml", found.text.encode())  # so that nobody uses it before it is answered
    assert "The unit '?'" in problem.expected
    assert found.text.splitlines()[problem.row - 1] == 'unit = "?"'


def test_requests_with_begin_and_end_take_the_time_between(tmp_path):
    lines = [json.dumps({"start": 1747036829000 + 1000 * i, "end": 1747036829030 + 1000 * i}) for i in range(5)]
    (tmp_path / "log.jsonl").write_text("\n".join(lines))
    found = propose_map(tmp_path / "log.jsonl")
    assert 'kind = "requests"' in found.text
    assert found.first[1] == "t 0.000 s  30.0 ms"


def test_a_request_log_with_bytes_stays_a_request_log(tmp_path):
    (tmp_path / "log.csv").write_text("start_s,latency_ms,bytes\n" + "".join(f"{t},20.5,1400\n" for t in range(9)))
    found = propose_map(tmp_path / "log.csv")
    assert 'kind = "requests"' in found.text
    assert "[column.bytes]" in found.text
    assert found.first[1] == "t 0.000 s  20.5 ms"


def log_with(folder, heading, rows):
    (folder / "log.csv").write_text("\n".join([heading, *rows]) + "\n")
    return propose_map(folder / "log.csv")


def test_written_begins_and_ends_are_a_latency(tmp_path):
    rows = [f"2025-05-12T08:00:{n:02d}Z,2025-05-12T08:00:{n:02d}.030Z" for n in range(9)]
    found = log_with(tmp_path, "sent,received", rows)
    assert '[column.start]\nfrom = "sent"\n\n[column.end]\nfrom = "received"\n' in found.text
    assert found.first[1] == "t 0.000 s  30.0 ms"
    assert found.questions == ()


def test_words_among_latencies_are_failures_or_nothing_measured_or_asked(tmp_path):
    values = ["5.25", "lost", "6.5", "timeout", "7.75"]
    rows = [f"{n},{values[n % 5]}" for n in range(20)]
    found = log_with(tmp_path, "t,rtt_ms", rows)
    assert 'unit = "ms"\nfailed = ["lost", "timeout"]' in found.text
    assert found.first[1:3] == ("t 0.000 s  5.2 ms", "t 1.000 s  no answer")
    assert "lost and timeout in rtt_ms are taken for “the request failed”." in found.notes
    found = log_with(tmp_path, "t,rtt_ms", [row.replace("lost", "odd") for row in rows])
    assert found.questions == ("What does 'odd' in rtt_ms mean? List it as missing or failed in [column.ms].",)
    assert found.first == ()
    found = log_with(tmp_path, "t,rx_kbit", [f"{n},{'n/a' if n % 4 == 3 else 500}" for n in range(20)])
    assert 'unit = "kbit/s"\nmissing = ["n/a"]' in found.text
    assert found.first[0] == "15 rows read"


def test_a_clock_without_a_date_is_a_time(tmp_path):
    rows = [f"{23 if n < 5 else 0:02d}:{(55 + n) % 60:02d}:00,500" for n in range(9)]
    found = log_with(tmp_path, "clock,mbit_s", rows)
    assert '[column.t_s]\nfrom = "clock"\n\n[column.rate]' in found.text
    assert found.first[0] == "9 rows read"
    assert found.notes[0] == "clock has no date: each time the clock goes back by half a day, a new day begins."


def test_decimal_commas_and_a_row_of_units_are_seen(tmp_path):
    found = log_with(tmp_path, "sep=;\nt;rate", ["s;kbit/s", *(f"{n},5;1.500,{n}" for n in range(9))])
    assert '[column.rate]\nfrom = "rate"\nunit = "kbit/s"' in found.text
    assert found.first[1:3] == ("t 0.500 s  1.500 Mbit/s", "t 1.500 s  1.500 Mbit/s")
    assert found.questions == ()


def test_a_decimal_mark_that_nothing_shows_is_asked(tmp_path):
    found = log_with(tmp_path, "t;mbit_s", [f"{n};1.{n}24" for n in range(9)])
    assert 'decimal = "?"' in found.text
    assert found.first == ()
    (problem,) = read_map("maps/x.toml", found.text.encode())
    assert "decimal is '?'" in problem.expected
    assert log_with(tmp_path, "t,mbit_s", [f"{n},1.{n}24" for n in range(9)]).questions == ()


def test_the_order_of_day_and_month_is_asked_only_where_no_value_shows_it(tmp_path):
    rows = [f"03.04.2025 10:00:{n:02d},5" for n in range(9)]
    found = log_with(tmp_path, "time,rtt_ms", rows)
    assert found.questions == ("Does the day come first in '03.04.2025 10:00:00'? Write day_first = true or false.",)
    assert read_map("maps/x.toml", found.text.encode())[0].expected.startswith("day_first in [column.start]")
    assert log_with(tmp_path, "time,rtt_ms", [*rows, "13.04.2025 10:00:00,5"]).questions == ()


@pytest.mark.parametrize(
    ("scale", "column"),
    [
        (1, '[column.ms]\nfrom = "latency"\nunit = "ms"'),
        (1000, '[column.ms]\nfrom = "latency"\nunit = "us"'),
        (7, '[column.end]\nfrom = "end"\nunit = "ms"'),
    ],
)
def test_a_latency_between_begin_and_end_proves_its_unit_or_is_not_taken(tmp_path, scale, column):
    rows = [f"{1000 * n},{1000 * n + 20 + n},{(20 + n) * scale}" for n in range(9)]
    found = log_with(tmp_path, "begin,end,latency", rows)
    assert column in found.text
    assert found.questions == ()
    assert found.first[1] == "t 0.000 s  20.0 ms"


def test_a_rate_that_states_its_unit_goes_before_an_amount_that_does_not(tmp_path):
    found = log_with(tmp_path, "t,amount,rx_kbit", [f"{n},7,500" for n in range(9)])
    assert '[column.rate]\nfrom = "rx_kbit"\nunit = "kbit/s"' in found.text
    assert found.questions == ()


def test_amounts_that_only_grow_are_asked_about(tmp_path):
    found = log_with(tmp_path, "t,bytes", [f"{n},{30_000_000 * n}" for n in range(9)])
    assert found.questions == ("bytes only grows. Is it a counter that was never set back?",)


@pytest.mark.parametrize(
    ("name", "words", "line"),
    [
        ("status", ("OK", "timed_out"), 'words = { "timed_out" = "failed" }'),
        ("success", ("true", "false"), 'words = { "false" = "failed", "true" = "finished" }'),
    ],
)
def test_an_outcome_whose_words_are_known_is_read(tmp_path, name, words, line):
    rows = [f"{n},{n + 5},{words[n % 2]}" for n in range(9)]
    found = log_with(tmp_path, f"t,rtt_ms,{name}", rows)
    assert f'[column.outcome]\nfrom = "{name}"\n{line}' in found.text
    assert found.first[2] == "t 1.000 s  no answer"
    found = log_with(tmp_path, f"t,rtt_ms,{name}", [row.replace(words[0], "200") for row in rows])
    assert found.questions == (f"Does {name} say how requests ended? Add [column.outcome] with its words.",)


def test_a_map_is_written_where_its_batch_looks_for_it(tmp_path):
    batch, other = tmp_path / "batch", tmp_path / "other"
    for folder in (batch / "logs", other):
        folder.mkdir(parents=True)
    (batch / "batch.toml").write_text("format = 1\n")
    log = batch / "logs" / "log.csv"
    log.write_text("t,mbit_s\n")
    assert write_map("x", "one", beside=log) == batch.resolve() / "maps" / "one.toml"
    assert write_map("x", "one", beside=other / "log.csv") == other / "maps" / "one.toml"
    assert write_map("x", "two", beside=other / "log.csv", batch=batch) == batch.resolve() / "maps" / "two.toml"
    with pytest.raises(InputRefused, match="exists already"):
        write_map("y", "two", beside=log)
    with pytest.raises(InputRefused, match=r"no batch\.toml"):
        write_map("x", "one", beside=log, batch=other)


def test_words_among_written_ends_are_failures_or_asked(tmp_path):
    rows = [f"20.11.2026 12:00:{n:02},000;20.11.2026 12:00:{n:02},030;ok" for n in range(50)]
    rows[40] = "20.11.2026 12:00:40,000;timeout;fail"
    file = tmp_path / "log.csv"
    file.write_text("Start;End;Result\n" + "\n".join(rows) + "\n")
    proposal = propose_map(file)
    assert 'failed = ["timeout"]' in proposal.text
    assert proposal.first[0] == "50 rows read"
    file.write_text(file.read_text().replace("timeout", "see note"))
    assert "What does 'see note' in End mean?" in propose_map(file).questions[0]
