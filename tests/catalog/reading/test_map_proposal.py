"""Maps proposed from foreign logs, read back through the map reader."""

import json

import numpy as np
import pytest

from catalog.digesting.logs import Log
from catalog.errors import InputRefused
from catalog.reading.map_proposal import propose_map
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
