"""Whatever was entered: exported and entered again, or dumped and loaded, it is the same catalogue.

Level statistics of any readings are numpy's.
"""

from __future__ import annotations

import csv
import io
import tempfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch, undo_batch
from catalog.exporting import dump, export_batches, load, verify
from catalog.reading.characters import odd_character
from tests.catalog.whole_batch import whole_batch

NOW = datetime(2026, 1, 1, tzinfo=UTC)
SLOW = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
HEAD = 'format = 1\nid = "later-{}"\ntitle = {}\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n'
DEFAULTS = """
[defaults.runs]
device = "tessarik-shale-2"
firmware = "7.10"
client = "wrenlet-u2"
session = "day-1"
band = "5"
width_mhz = 80
direction = "down"
"""
# Text that a person could type into a cell; a line break is typed, a control character is not.
WORDS = st.text(
    st.characters(exclude_categories=["Cc", "Cs", "Cn", "Cf"], include_characters="\n"), max_size=20
).filter(lambda text: odd_character(text) is None)
RATES = st.integers(300, 600)  # near enough to each other that no guard against a wrong unit speaks up
LEVELS = st.integers(-1095, -105).map(lambda tenths: tenths / 10)


@st.composite
def runs(draw, number):
    """Rows of runs that no other batch has; the repeat tells them apart."""
    repeats = draw(st.lists(st.integers(1, 99), min_size=1, max_size=6, unique=True))
    rows = [
        ["when", "spot", "attenuation_db", "level_dbm", "repeat", "Mbit/s", "outcome", "note", draw(WORDS) + " mood"]
    ]
    mood = draw(WORDS)  # a column nobody knows must not vary inside a cell
    for repeat in repeats:
        finished = draw(st.booleans())
        spot = draw(st.sampled_from(["S1", "S2", ""]))
        rows.append(
            [
                f"2025-05-12 {draw(st.integers(0, 23)):02}:{draw(st.integers(0, 59)):02}",
                spot,
                "" if spot else draw(st.integers(400, 900)) / 10,
                draw(LEVELS) if draw(st.booleans()) else "",
                100 * number + repeat,
                draw(st.integers(300, 600)) if finished else "",
                "finished" if finished else draw(st.sampled_from(["DNF", "aborted", "client fault", "not possible"])),
                draw(WORDS),
                mood,
            ]
        )
    return rows


@st.composite
def later_batches(draw, number):
    """A batch after the first: new runs in any format, rows that came before, a log, a spot that moved, a price."""
    rows = draw(runs(number))
    name, content = draw(st.sampled_from([as_csv, as_workbook]))(rows)
    title = '"' + draw(st.text("abc äß–", min_size=1, max_size=9)).replace(" ", "x") + '"'
    files = {"batch.toml": (HEAD.format(number, title) + DEFAULTS).encode(), name: content}
    if draw(st.booleans()):
        again = "2025-05-12 10:00,S1,-48,1,812.5,finished,WPA3\n"
        # No two batches have the same log, and none stops or ends in a sum: those are asked about.
        rates = draw(st.lists(st.integers(0, 99), min_size=1, max_size=40))
        log = "".join(f"{t},{500 + 100 * number + rate}\n" for t, rate in enumerate(rates))
        head = "when,spot,level_dbm,repeat,Mbit/s,outcome,security,log\n"
        new = f"2025-05-12 11:00,S2,,{100 * number},,,,logs/a.csv\n"
        files |= {
            "march.csv": (head + again.replace("\n", ",\n") + new).encode(),
            "logs/a.csv": b"t_s,mbit_s\n" + log.encode(),
        }
        files["batch.toml"] += f'\n[tables]\nruns = ["{name}", "march=march.csv"]\n'.encode()
    if draw(st.booleans()):
        readings = draw(st.lists(LEVELS, min_size=1, max_size=6))
        lines = [f"house-a,S2,5,2025-06-{number:02},20,{reading}\n" for reading in readings if 0 <= 20 - reading <= 130]
        files["spots.csv"] = ("house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n" + "".join(lines)).encode()
    if draw(st.booleans()):
        price = f"tessarik-shale-2,2025-08-{number:02},{draw(st.integers(0, 99999)) / 100},EUR\n"
        files["prices.csv"] = ("device,date,amount,currency\n" + price).encode()
    return files


def as_csv(rows):
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\r\n", delimiter=";").writerows(rows)
    return "runs.csv", b"\xef\xbb\xbf" + text.getvalue().encode()


def as_workbook(rows):
    book = openpyxl.Workbook()
    for row in rows:
        book.worksheets[0].append(row)
        for cell in book.worksheets[0][book.worksheets[0].max_row]:
            if isinstance(cell.value, str):
                cell.data_type = "s"  # a note that begins with = is a note
    packed = io.BytesIO()
    book.save(packed)
    return "runs.xlsx", packed.getvalue()


LATER = st.tuples(later_batches(1), later_batches(2)).flatmap(
    lambda both: st.sampled_from([both, both[:1], both[::-1]])
)


def written(folder, files):
    for name, content in files.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return folder


def dumped(path):
    out = io.BytesIO()
    with closing(open_catalog(path, readonly=True)) as db:
        dump(db, out)
    return out.getvalue()


def corrected(path, file):
    with closing(open_catalog(path, readonly=False)) as db:
        correct_file(file, catalog=db, now=NOW)


@SLOW
@given(later=LATER, rate=RATES, reason=st.text("abcäß –;,\"'", min_size=1).map(lambda text: f"x{text}x"))
def test_exported_and_entered_again_it_is_the_same(later, rate, reason):
    with tempfile.TemporaryDirectory() as scratch:
        bench = Path(scratch)
        catalog, again, loaded = (bench / f"{name}.db" for name in ("catalog", "again", "loaded"))
        enter_batch(written(bench / "whole", whole_batch()), into=catalog, now=NOW)
        row = [
            "runs",
            "batch=whole; file=runs.csv; row=3",
            "throughput",
            "801",
            str(rate),
            reason,
            "bench",
            "2025-07-01",
        ]
        ledger = io.StringIO(newline="")
        csv.writer(ledger).writerows([["table", "key", "column", "was", "now", "reason", "noticed_by", "date"], row])
        for place, files in enumerate(later):
            folder = written(bench / f"later-{place}", files)
            with closing(open_catalog(catalog, readonly=True)) as db:
                report = check_batch(folder, catalog=db)
            assert not report.problems, list(map(str, report.problems))
            before = dumped(catalog)
            enter_batch(folder, into=catalog, now=NOW)
            with closing(open_catalog(catalog, readonly=False)) as db:
                undo_batch(report.batch, catalog=db)
            assert dumped(catalog) == before
            enter_batch(folder, into=catalog, now=NOW)
            if place == 0:
                corrected(catalog, written(bench / "ledger", {"c.csv": ledger.getvalue().encode()}) / "c.csv")
        text = dumped(catalog)
        with closing(open_catalog(catalog, readonly=True)) as db:
            assert verify(db) == []
            names = export_batches(db, bench / "out")
        for name in names:
            folder = bench / "out" / name
            if (folder / "batch.toml").exists():
                enter_batch(folder, into=again, now=NOW)
            else:
                corrected(again, next(folder.glob("*.csv")))
        assert dumped(again) == text
        load(io.BytesIO(text), loaded)
        assert dumped(loaded) == text


@SLOW
@given(readings=st.lists(LEVELS, min_size=1, max_size=40), eirp=st.integers(-100, 200).map(lambda tenths: tenths / 10))
def test_level_statistics_are_those_of_numpy(readings, eirp):
    # Source: numpy's mean and std(ddof=1). Tolerance: sums of at most 40 doubles around 100.
    losses = np.array([eirp - reading for reading in readings])
    assume(losses.min() >= 0 and losses.max() <= 130)
    with tempfile.TemporaryDirectory() as scratch:
        files = {"batch.toml": HEAD.format(1, '"x"').encode() + b'[[house]]\nid = "house-a"\nname = "House"\n'}
        lines = "".join(f"house-a,S1,5,2025-01-01,{eirp},{reading}\n" for reading in readings)
        files["spots.csv"] = f"house,spot,band,valid_from,eirp,level\n{lines}".encode()
        catalog = Path(scratch) / "catalog.db"
        enter_batch(written(Path(scratch) / "batch", files), into=catalog, now=NOW)
        with closing(open_catalog(catalog, readonly=True)) as db:
            ((mean, count, sd),) = db.execute("SELECT attenuation_db, readings, readings_sd_db FROM epoch").fetchall()
    assert mean == pytest.approx(losses.mean(), abs=1e-9)
    assert count == len(losses)
    if len(losses) == 1:
        assert sd is None
    else:
        assert sd == pytest.approx(losses.std(ddof=1), abs=1e-9)
