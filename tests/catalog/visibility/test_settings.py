"""Settings in a public copy: only those a visible row uses, and nothing of those it does not."""

from __future__ import annotations

from contextlib import closing

import pytest

from catalog import queries
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch, undo_batch
from catalog.errors import BatchRefused, InputRefused
from catalog.queries.hidden_words import hidden_words
from catalog.visibility import public_copy
from tests.catalog.conftest import NOW

UNTIL = "2025-06-10T13:00:00Z"


@pytest.fixture
def filled(bench):
    """A public bench, and a hidden device whose batch named the settings of both first."""

    def fill(*, hidden_first):
        def hidden():
            b = bench.batch("hidden", files=("batch.toml", "runs.csv"))
            bench.device(b, "cairn")
            bench.put("embargo", b, device_id="cairn", until_utc=UNTIL)
            number = bench.db.execute("SELECT count(*) + 1 FROM settings").fetchone()[0]
            bench.put("settings", b, settings_id="cairn-off", number=number, title="Cairn alone", multi_link="off")
            bench.put("settings", b, settings_id="secret", number=number + 1, title="Secret", airtime="unfair share")
            for settings, repeat in (("cairn-off", 1), ("secret", 2)):
                bench.put("run", b, device_id="cairn", attenuation_db=60.0, settings_id=settings, repeat=repeat)

        b = bench.batch("public", files=("batch.toml", "runs.csv"))
        bench.device(b, "dome")
        bench.client(b)
        bench.put("house", b, house_id="house-a")
        bench.put("session", b, session_id="day-1")
        if hidden_first:
            hidden()
        number = bench.db.execute("SELECT count(*) + 1 FROM settings").fetchone()[0]
        bench.put("settings", b, settings_id="one-link", number=number, title="One link", multi_link="off")
        bench.put("run", b, device_id="dome", attenuation_db=60.0, settings_id="one-link")
        if not hidden_first:
            hidden()
        return bench.path

    return fill


@pytest.mark.parametrize("hidden_first", [True, False])
def test_only_what_a_visible_row_uses_goes_in(filled, before, at, hidden_first):
    path = filled(hidden_first=hidden_first)
    copy = public_copy(path, as_of=before)
    assert [(one.settings_id, one.title) for one in queries.settings(copy)] == [("one-link", "One link")]
    assert copy.execute("SELECT number FROM settings").fetchall() == [(1,)]
    assert {run.settings for run in queries.runs(copy)} == {"one-link"}
    shown = public_copy(path, as_of=at)
    assert len(queries.settings(shown)) == 3
    first = "cairn-off" if hidden_first else "one-link"
    assert {run.settings for run in queries.runs(shown)} == {first, "secret"}


def test_words_of_hidden_settings_are_sought(filled):
    with closing(open_catalog(filled(hidden_first=True), readonly=True)) as db:
        words = hidden_words(db, "2025-06-10T12:59:59Z")
    assert {"cairn-off", "secret"} <= set(words.ids)
    assert {"Cairn alone", "unfair share"} <= set(words.notes)
    assert "one-link" not in words.ids


CONDITIONS = """
[[settings]]
id = "low"
title = "Low power"
power = "low"
"""
ROWS = "when,attenuation_db,repeat,Mbit/s,settings\n2025-05-12 10:00,55,1,812,\n2025-05-12 10:04,55,1,410,low\n"


def test_settings_are_corrected_and_undone(write_batch, tmp_path):
    path = tmp_path / "catalog.db"
    enter_batch(write_batch(more=CONDITIONS, runs_csv=ROWS), into=path, now=NOW)

    def correct(*lines):
        file = tmp_path / "corrections.csv"
        file.write_text("table,key,column,was,now,reason,noticed_by,date\n" + "\n".join(lines) + "\n")
        with closing(open_catalog(path, readonly=False)) as db:
            correct_file(file, catalog=db, now=NOW)
            return [dict(row) for row in db.query("SELECT * FROM settings")]

    (row,) = correct("settings,id=low,title,Low power,Quietly,better said,a reader,2025-06-01")
    assert (row["title"], row["number"]) == ("Quietly", 1)
    (row,) = correct("settings,id=low,power_dbm,,14,it was read,the desk,2025-06-02")
    assert row["power_dbm"] == 14.0
    with pytest.raises(BatchRefused, match="An id never changes"):
        correct("settings,id=low,id,low,quiet,no,the desk,2025-06-02")
    with pytest.raises(InputRefused), closing(open_catalog(path, readonly=False)) as db:
        undo_batch("first", catalog=db)


def test_a_run_moves_to_other_settings_by_a_correction(write_batch, tmp_path):
    path = tmp_path / "catalog.db"
    rows = ROWS.replace("55,1,410", "55,2,410")
    enter_batch(write_batch(more=CONDITIONS, runs_csv=rows), into=path, now=NOW)
    file = tmp_path / "corrections.csv"
    head = "table,key,column,was,now,reason,noticed_by,date\n"
    file.write_text(f"{head}runs,repeat=2,settings,low,,it was full power,the desk,2025-06-02\n")
    with closing(open_catalog(path, readonly=False)) as db:
        correct_file(file, catalog=db, now=NOW)
        assert {run.settings for run in queries.runs(db)} == {None}
    file.write_text(f"{head}runs,repeat=2,settings,,lo,wrongly,the desk,2025-06-03\n")
    with closing(open_catalog(path, readonly=False)) as db, pytest.raises(BatchRefused, match="'lo' is not known"):
        correct_file(file, catalog=db, now=NOW)
