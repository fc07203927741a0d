"""Decisions on odd sessions: recorded by a correction, kept with reason, name and day, and followed by every figure."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from builder.bench.bench import load_bench, subject_named
from builder.bench.decisions import session_decided
from builder.bench.sessions import normalised, session_factors
from builder.cli import main
from builder.pairs.compare import compare
from catalog import queries
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from catalog.errors import BatchRefused
from catalog.exporting import dump, export_batches, load
from catalog.visibility import public_copy
from tests.batches import LINK, batch_at, batch_toml, client, device, radios, session

NOW = datetime(2025, 8, 1, tzinfo=UTC)
HEAD = "table,key,column,was,now,reason,noticed_by,date\n"
DAYS = {"2025-05-01": 600, "2025-05-02": 600, "2025-05-03": 600, "2025-05-04": 500}
ODD = "2025-05-04"
THINGS = {
    "house": [{"id": "home", "name": "Home", "reference_device": "quillmast-sill"}],
    "client": [client("wrenlet-u2", radio=radios(2, 80))],
    "device": [device("quillmast-sill"), device("tessarik-porch")],
    "defaults": {"runs": {"firmware": "1.0", "client": "wrenlet-u2", "repeat": 1, **LINK}},
}


def write(folder, *more):
    """The reference at 600 on three days and at 500 on the fourth, on which another device gave 475."""
    rows = [(day, "quillmast-sill", rate) for day, rate in DAYS.items()] + [(ODD, "tessarik-porch", 475)]
    lines = [f"{day}T10:0{n}:00Z,{device},{day},60,{rate}" for n, (day, device, rate) in enumerate(rows)]
    table = "when,device,session,attenuation_db,Mbit/s\n" + "\n".join(lines) + "\n"
    sessions = [session(day, house="home") for day in DAYS] + list(more)
    return batch_at(folder, batch_toml("days", session=sessions, **THINGS), {"runs.csv": table})


@pytest.fixture
def catalog(tmp_path):
    path = tmp_path / "days.db"
    enter_batch(write(tmp_path / "days"), into=path, now=NOW)
    return path


@pytest.fixture
def decide(catalog, tmp_path):
    """Record a decision as a file of corrections."""

    def decided(now, *, was="", reason="a window stood open", date="2025-06-03"):
        path = tmp_path / f"{was}-{now}.csv".replace(" ", "-")
        row = f"session,id={ODD},decision,{was},{now},{reason},the bench desk,{date}\n"
        path.write_text(HEAD + row, encoding="utf-8")
        db = open_catalog(catalog, readonly=False)
        try:
            return correct_file(path, catalog=db, now=NOW)
        finally:
            db.close()

    return decided


def judged(path):
    """The factor of the odd day, and the normalised value of the other device there."""
    bench = load_bench(public_copy(path, as_of=NOW))
    factors = session_factors(bench)
    (cell,) = bench.cells_of["tessarik-porch"]
    return next(f for f in factors.values() if f.session == ODD), normalised(bench, factors, cell)


def test_suspended_until_decided(catalog, decide):
    # By hand: 500 / 600 = 0.833, outside 0.90–1.10 (method section 9); 475 / (5/6) = 570.
    factor, found = judged(catalog)
    assert (factor.state, factor.factor, found.value) == ("suspended", pytest.approx(5 / 6), None)
    decide("in force")
    factor, found = judged(catalog)
    assert (factor.state, found.value) == ("in force", pytest.approx(570))
    assert found.sentence == (
        "The reference device gave 0.833 of its long-run mean that day, outside 0.90–1.10. In force, decided by the "
        "bench desk on 3 June 2025: a window stood open."
    )


def test_set_aside_and_taken_back(catalog, decide):
    decide("set aside")
    factor, found = judged(catalog)
    assert (factor.state, found.value) == ("set aside", None)
    assert "Set aside, decided by the bench desk on 3 June 2025: a window stood open." in found.sentence
    decide("in force", was="set aside", reason="it was the band", date="2025-06-04")
    factor, found = judged(catalog)
    assert (factor.state, found.value) == ("in force", pytest.approx(570))
    assert factor.decision.reason == "it was the band"
    decide("", was="in force", date="2025-06-05")
    assert judged(catalog)[0].state == "suspended"
    # Nothing is overwritten: the ledger holds all three.
    copy = public_copy(catalog, as_of=NOW)
    assert [(c.was, c.now) for c in queries.corrections(copy)] == [
        ("", "set aside"),
        ("set aside", "in force"),
        ("in force", ""),
    ]


def test_the_last_decision_is_the_one_that_is_told(catalog, decide):
    # The same word twice, with another in between: reason and day are those of the second.
    decide("in force")
    decide("set aside", was="in force", reason="it was the mount", date="2025-06-04")
    decide("in force", was="set aside", reason="it was the band after all", date="2025-06-05")
    factor, found = judged(catalog)
    assert (factor.decision.reason, factor.decision.date) == ("it was the band after all", "2025-06-05")
    assert found.sentence.endswith("on 5 June 2025: it was the band after all.")


def test_a_decision_leads_to_its_own_day(catalog, decide):
    decide("set aside")
    copy = public_copy(catalog, as_of=NOW)
    (correction,) = queries.corrections(copy)
    sessions = queries.sessions(copy)
    assert len(sessions) == 4
    assert session_decided(correction, sessions).session_id == ODD
    # A copy may leave the row's number out: then its key says which session it is, whatever the case of the key's name.
    keyed = replace(correction, source_row=None, row_key=f"house=home; ID = {ODD}")
    assert session_decided(keyed, sessions).session_id == ODD
    assert session_decided(replace(keyed, row_key="id=2024-01-01"), sessions) is None


def test_an_ordinary_day_may_be_set_aside_too(catalog, tmp_path):
    path = tmp_path / "one.csv"
    path.write_text(HEAD + "session,id=2025-05-01,decision,,set aside,wrong mount,the bench desk,2025-06-03\n")
    db = open_catalog(catalog, readonly=False)
    correct_file(path, catalog=db, now=NOW)
    db.close()
    bench = load_bench(public_copy(catalog, as_of=NOW))
    assert {f.session: f.state for f in session_factors(bench).values()} == {
        "2025-05-01": "set aside",
        "2025-05-02": "in force",
        "2025-05-03": "in force",
        ODD: "suspended",
    }


def test_measured_values_and_comparisons_stay_whatever_is_decided(catalog, decide):
    def compared():
        bench = load_bench(public_copy(catalog, as_of=NOW))
        return compare(
            bench, subject_named(bench, "quillmast-sill"), subject_named(bench, "tessarik-porch"), match="attenuation"
        )

    before = compared()
    decide("in force")
    assert compared() == before


def test_the_word_is_one_of_two(decide):
    with pytest.raises(BatchRefused, match="is not one of in force, set aside"):
        decide("perhaps")


def test_a_batch_cannot_decide_without_a_reason(tmp_path):
    more = session("2025-06-09", house="home", decision="in force")
    with pytest.raises(BatchRefused, match="made by a correction, with a reason, a name and a day"):
        enter_batch(write(tmp_path / "days", more), into=tmp_path / "new.db", now=NOW)


def test_a_decision_survives_dump_and_export(catalog, decide, tmp_path):
    decide("in force")
    text = io.BytesIO()
    db = open_catalog(catalog, readonly=True)
    dump(db, text)
    export_batches(db, tmp_path / "out")
    db.close()
    load(io.BytesIO(text.getvalue()), tmp_path / "loaded.db")
    assert judged(tmp_path / "loaded.db") == judged(catalog)
    for folder in sorted((tmp_path / "out").iterdir()):
        if (folder / "batch.toml").exists():
            enter_batch(folder, into=tmp_path / "again.db", now=NOW)
        else:
            again = open_catalog(tmp_path / "again.db", readonly=False)
            for file in folder.glob("*.csv"):
                correct_file(file, catalog=again, now=NOW)
            again.close()
    assert judged(tmp_path / "again.db") == judged(catalog)


def test_show_says_which_days_wait(catalog, decide):
    def shown():
        run = CliRunner().invoke(
            main, ["show", "tessarik-porch", "--catalog", str(catalog), "--as-of", "2025-08-01T00:00Z"]
        )
        assert run.exit_code == 0, run.output
        return [line for line in run.stdout.splitlines() if line.startswith("Session")]

    (line,) = shown()
    assert line.endswith("outside 0.90–1.10: suspended until someone decides.")
    decide("set aside")
    (line,) = shown()
    assert line.endswith("Set aside, decided by the bench desk on 3 June 2025: a window stood open.")
