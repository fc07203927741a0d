"""Maps proposed from foreign logs, read back through the map reader."""

import json

import pytest

from catalog.errors import InputRefused
from catalog.reading.map_proposal import propose_map


def test_csv_of_several_links_in_one_file(tmp_path):
    rows = ["link,clock,rxBytes"] + [f"{link},{1000 + t},{125000 * (t + 1)}" for link in ("a", "b") for t in range(4)]
    (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "log.csv").write_text((tmp_path / "log.csv").read_text().replace("clock", "clock_time"))
    found = propose_map(tmp_path / "log.csv")
    assert '[[where]]\ncolumn = "link"\nis = "a"' in found.text
    # By hand: 125,000 bytes in a second are 1 Mbit/s.
    assert found.first == (
        "4 rows read", "t 1000.000 s  1.000 Mbit/s", "t 1001.000 s  2.000 Mbit/s", "t 1002.000 s  3.000 Mbit/s",
        "t 1003.000 s  4.000 Mbit/s",
    )  # fmt: skip


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
