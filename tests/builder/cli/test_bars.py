"""The bar is for a person at a terminal: nothing of it is ever in a pipe, and nothing is left of it."""

import io
import os
import pty
import subprocess
import sys

import pytest

from builder.cli.bars import bar_on
from catalog.reading.progress import told

LAUNCH = "from builder.cli import main; main()"


class Terminal(io.StringIO):
    def isatty(self):
        return True


def shown_by(stream, *, ticks):
    clock = iter(ticks)
    with bar_on(stream, clock=lambda: next(clock)) as progress:
        for done in range(len(ticks) - 1):
            progress("Reading runs.csv", done, len(ticks) - 1)
    return stream.getvalue()


def test_a_terminal_sees_it_and_it_is_wiped():
    text = shown_by(Terminal(), ticks=[0, 1, 2, 3, 4])
    first = f"Reading runs.csv [{'.' * 30}] 0 of 4"
    assert text.startswith(f"\r{first}\rReading runs.csv [{'#' * 7}{'.' * 23}] 1 of 4")
    assert text.endswith("\r" + " " * len(first) + "\r")


def test_short_work_and_pipes_see_nothing():
    assert shown_by(Terminal(), ticks=[0, 0.1, 0.2, 0.3]) == ""
    assert shown_by(io.StringIO(), ticks=[0, 1, 2, 3]) == ""


def test_it_is_wiped_when_the_work_fails():
    stream = Terminal()
    with pytest.raises(ZeroDivisionError):
        broken_work(stream)
    assert stream.getvalue().endswith(" \r")


def broken_work(stream):
    clock = iter([0, 1])
    with bar_on(stream, clock=lambda: next(clock)) as progress:
        progress("Reading", 0, 2)
        raise ZeroDivisionError


def test_items_are_told_before_every_so_many_and_at_the_end():
    said = []
    assert list(told("abcde", lambda *what: said.append(what), "Reading", every=2)) == list("abcde")
    assert said == [("Reading", 0, 5), ("Reading", 2, 5), ("Reading", 4, 5), ("Reading", 5, 5)]


def many_rows(folder):
    """A batch that takes a few seconds: 20,000 rows."""
    header = "when,device,firmware,client,session,band,width_mhz,direction,attenuation_db,repeat,Mbit/s\n"
    folder.mkdir()
    (folder / "batch.toml").write_text(
        'format = 1\nid = "many"\ntitle = "Many"\ntimezone = "UTC"\nlicence = "CC0-1.0"\n'
    )
    row = "2025-05-12 10:00,a,1,b,day,5,80,down,{},1,500\n"
    (folder / "runs.csv").write_text(header + "".join(row.format(50 + n / 1000) for n in range(20_000)))
    return folder


def test_check_shows_a_bar_on_a_terminal_only(tmp_path):
    folder = many_rows(tmp_path / "many")
    command = [sys.executable, "-c", LAUNCH, "check", str(folder), "--catalog", str(tmp_path / "none.db")]
    piped = subprocess.run(command, capture_output=True, text=True)
    assert piped.returncode == 1  # nothing of it is registered
    assert piped.stderr == ""
    assert "20000 rows read" in piped.stdout.replace(",", "")
    ours, theirs = pty.openpty()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=theirs)
    os.close(theirs)
    seen = b""
    while True:
        try:
            piece = os.read(ours, 65536)
        except OSError:  # how a terminal ends when its last writer has gone
            break
        if not piece:
            break
        seen += piece
    os.close(ours)
    assert process.wait() == 1
    assert b"Checking the rows of runs.csv [" in seen
    assert seen.endswith(b" \r")
