"""New lines behind what a file of the desk holds: its form is kept, and what cannot be added to is refused in words."""

import codecs

import pytest

from builder.watching.noting import desk_table, with_answers, with_rows, write
from catalog.errors import InputRefused
from catalog.reading.delimited import read_delimited
from catalog.reading.folder import Folder

HEADER = {"when": "when", "device": "device", "throughput": "throughput_mbit_s", "log": "log", "note": "note"}
ROWS = [
    {"when": "2026-11-30 09:00:00+01:00", "device": "rondel", "log": "logs/1.csv", "throughput": ""},
    {"when": "2026-11-30 09:02:00+01:00", "device": "rondel", "log": "logs/2.csv", "note": 'ajar; "half", a third'},
]


@pytest.fixture
def folder(tmp_path):
    return Folder(tmp_path.resolve())


def noted(folder, content, name="runs.csv"):
    (folder.root / "desk").mkdir(exist_ok=True)
    if content is not None:
        (folder.root / "desk" / name).write_bytes(content)
    return with_rows(folder, f"desk/{name}", "runs", ROWS, HEADER)


def test_a_new_table_is_headed_as_the_plan_is(folder):
    one = noted(folder, None)
    assert one.text.splitlines()[0] == "when,device,throughput_mbit_s,log,note"
    assert one.numbers == (2, 3)
    assert one.before is None
    assert "".join(one.lines) == "".join(one.text.splitlines(keepends=True)[1:])


@pytest.mark.parametrize(
    ("mark", "encoding", "separator", "end"),
    [
        (b"", "utf-8", ";", "\r\n"),
        (codecs.BOM_UTF8, "utf-8", ",", "\n"),
        (codecs.BOM_UTF16_LE, "utf-16-le", "\t", "\r\n"),
        (b"", "utf-8", "\t", "\r"),
    ],
)
@pytest.mark.parametrize("last", [True, False])
def test_separator_line_ends_and_encoding_stay(folder, mark, encoding, separator, end, last):
    lines = [["Note", "Log", "Device", "Repeat", "When"], ["früh", "logs/0.csv", "rondel", "1", "2026-11-30 08:00Z"]]
    text = end.join(separator.join(cells) for cells in lines) + (end if last else "")
    before = mark + text.encode(encoding)
    one = noted(folder, before)
    assert one.after.startswith(before)
    added = one.after[len(before) :].decode(encoding)
    assert added.count(end) == (2 if last else 3)
    assert end != "\r\n" or added.count("\n") == added.count("\r\n")
    table = read_delimited("desk/runs.csv", one.after)
    assert table.rows[0].cells == lines[1]
    assert table.rows[2].cells == ['ajar; "half", a third', "logs/2.csv", "rondel", "", "2026-11-30 09:02:00+01:00"]
    assert one.numbers == (3, 4)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"device,log,note\n", "desk/runs.csv has no column when"),
        (b"when,device,log,note\n\xff\xfe\xfa,a,b,c\n", "is not UTF-8"),
        (b'when,device,log,note\n"open,a,b,c\n', "quotation mark"),
        (b"when,device,log,note\n1,2,3,4,5\n", "cells"),
        (b"PK\x03\x04\x00\x00", "no text file"),
    ],
)
def test_what_cannot_be_added_to_is_refused_in_words(folder, content, why):
    with pytest.raises(InputRefused, match=why):
        noted(folder, content)


def test_a_table_of_the_desk_that_is_a_workbook_or_two(folder):
    assert desk_table(folder, "desk", "runs") == "desk/runs.csv"
    (folder.root / "desk").mkdir()
    (folder.root / "desk" / "Runs.TSV").touch()
    assert desk_table(folder, "desk", "runs") == "desk/Runs.TSV"
    (folder.root / "desk" / "runs.xlsx").touch()
    with pytest.raises(InputRefused, match="one table is one file"):
        desk_table(folder, "desk", "runs")
    (folder.root / "desk" / "Runs.TSV").unlink()
    with pytest.raises(InputRefused, match="is a workbook"):
        desk_table(folder, "desk", "runs")


@pytest.mark.parametrize("before", [None, b"", b"# by hand", b'[[answer]]\r\ncause = "x"\r\n'])
def test_answers_stand_behind_those_that_are_there(folder, before):
    (folder.root / "desk").mkdir()
    if before is not None:
        (folder.root / "desk" / "answers.toml").write_bytes(before)
    one = with_answers(folder, "desk", [{"cause": 'a "b" \\', "table": "desk-runs", "row": 2, "means": "early"}])
    assert one.after.startswith(before or b"")
    assert "[[answer]]" in one.text
    assert one.text.endswith("\r\n") == (before is not None and b"\r\n" in before)


@pytest.mark.parametrize(
    ("before", "why"), [(b"answer = [{}]\n", "in one list"), (b"= 3", "no TOML"), (b"\xff", "no TOML")]
)
def test_answers_that_cannot_be_added_to(folder, before, why):
    (folder.root / "desk").mkdir()
    (folder.root / "desk" / "answers.toml").write_bytes(before)
    with pytest.raises(InputRefused, match=why):
        with_answers(folder, "desk", [{"cause": "a", "table": "runs", "means": "early"}])


def test_nothing_is_written_over_what_was_not_shown(folder):
    one = noted(folder, b"when,device,log,note\n")
    (folder.root / "desk" / "runs.csv").write_bytes(b"when,device,log,note\nby hand,,,\n")
    assert "has changed since it was shown" in write(folder, [one])[0]
    assert (folder.root / "desk" / "runs.csv").read_bytes() == b"when,device,log,note\nby hand,,,\n"


def test_a_file_that_came_meanwhile_is_not_replaced(folder):
    one = noted(folder, None)
    (folder.root / "desk" / "runs.csv").write_bytes(b"")
    assert "has changed since it was shown" in write(folder, [one])[0]


def test_a_desk_that_cannot_be_written_is_said(folder):
    one = noted(folder, None)
    (folder.root / "desk").rmdir()
    (folder.root / "desk").write_text("a file where the folder would be")
    (sentence,) = write(folder, [one])
    assert "desk/runs.csv" in sentence
    assert (folder.root / "desk").read_text() == "a file where the folder would be"


def test_a_desk_that_leads_elsewhere_is_not_written(folder, tmp_path_factory):
    one = noted(folder, None)
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    (folder.root / "desk").rmdir()
    (folder.root / "desk").symlink_to(elsewhere)
    assert "leads out of the batch" in write(folder, [one])[0]
    assert list(elsewhere.iterdir()) == []
