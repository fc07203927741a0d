"""What is said of a log that does not cover its run: on pages, by show, longrun and trace."""

import json
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.pages.contents import compose, load_contents
from builder.pages.tables.device_results import cell_sections
from builder.under_load.log_coverage import log_coverage
from builder.under_load.longruns import LongRunResult, load_longruns, period_sentence, steadiness, steady_sentence
from catalog.connection import open_catalog
from catalog.entering import enter_batch
from catalog.visibility import public_copy
from tests.batches import batch_toml
from tests.builder.under_load.test_longruns import NIGHTS

NOW = datetime(2025, 7, 2, tzinfo=UTC)
RUNS = """
[defaults.runs]
device = "porch"
firmware = "1.0"
client = "u2"
session = "s"
band = "5"
width_mhz = 80
direction = "down"
"""
ANSWERS = '[[answer]]\ncause = "log-not-covered"\ntable = "{table}"\nmeans = "{means}"\n'


def log(seconds, *, silent):
    """A row of 500 Mbit/s a second, but for those in *silent*."""
    return "t_s,mbit_s\n" + "".join(f"{t},500\n" for t in range(seconds) if t not in silent)


@pytest.fixture
def entered(tmp_path):
    """entered(means) -> a catalogue with a run of 11 minutes and a long run of an hour that lack a minute and six."""

    def enter(means):
        folder = tmp_path / "batch"
        folder.mkdir()
        (folder / "batch.toml").write_text(batch_toml("batch", house=[{"id": "h", "name": "House"}], **NIGHTS) + RUNS)
        (folder / "runs.csv").write_text(
            "when,attenuation_db,repeat,throughput_mbit_s,log\n2025-07-01 10:00,60,1,,run.csv\n"
        )
        (folder / "longruns.csv").write_text("when,log,outcome\n2025-07-01 20:00,night.csv,finished\n")
        (folder / "run.csv").write_text(log(660, silent=range(300, 360)))
        (folder / "night.csv").write_text(log(3600, silent=range(1000, 1360)))
        (folder / "answers.toml").write_text(
            "".join(ANSWERS.format(table=t, means=means) for t in ("runs", "longruns"))
        )
        enter_batch(folder, into=tmp_path / "c.db", now=NOW)
        return tmp_path / "c.db"

    return enter


def said(catalog, *words):
    result = CliRunner().invoke(main, ["--catalog", str(catalog), *words, "--as-of", "2025-07-02T00:00Z"])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_a_gap_is_said_beside_the_value_and_beside_the_stall(entered):
    catalog = entered("not logged")
    gap = "log: longest gap 60 s (10 of 11 minutes logged)"
    assert f"500 Mbit/s (n 1, single run); {gap}" in said(catalog, "show", "porch")
    (cell,) = json.loads(said(catalog, "show", "porch", "--json"))["cells"]
    assert (cell["mean"], cell["gaps"]) == (500, gap)
    steady = said(catalog, "longrun", "porch")
    assert "mean 500 Mbit/s, median 500, 5th percentile 500 (evenness 1.000); longest stall 0 s, " in steady
    assert "longest gap 360 s (54 of 60 minutes logged)." in steady
    (one,) = json.loads(said(catalog, "longrun", "porch", "--json"))["longruns"]
    assert (one["figures"]["logged_s"], one["figures"]["longest_gap_s"]) == (3240, 360)
    copy = public_copy(catalog, as_of=NOW)
    (section,) = compose(cell_sections, load_contents(copy, as_of=NOW, sizes={}), "devices/porch/index.html", "porch")
    assert section.tables[0].rows[0].entries[0].note == gap


def test_silence_that_was_a_stall_is_a_stall(entered):
    catalog = entered("no data came")
    # By hand: 600 s of 500 in 660 s are 454.5; 3240 of 3600 s are 450.
    assert "455 Mbit/s (n 1, single run)\n" in said(catalog, "show", "porch")
    steady = said(catalog, "longrun", "porch")
    assert "mean 450.0 Mbit/s, median 500.0, 5th percentile 0.0 (evenness 0.000); longest stall 360 s." in steady


def test_a_trace_names_the_log_its_hash_and_its_rows(entered):
    catalog = entered("not logged")
    (cell,) = json.loads(said(catalog, "show", "porch", "--json"))["cells"]
    text = said(catalog, "trace", cell["figure"])
    assert "row 2: 500 Mbit/s, the mean of rows 2 to 601 of run.csv (sha256 " in text
    (side,) = json.loads(said(catalog, "trace", cell["figure"], "--json"))["inputs"]
    place = side["cells"][0]["runs"][0]["log"]
    assert (place["file"], place["rows"], len(place["sha256"])) == ("run.csv", [2, 601], 64)


def test_a_digest_from_before_gaps_were_told_is_read_all_the_same(entered):
    catalog = entered("not logged")
    db = open_catalog(catalog, readonly=False)
    db.execute("DELETE FROM digest WHERE figure IN ('longest_gap_s', 'first_row', 'last_row')")
    db.conn.commit()
    (found,) = load_longruns(db)
    assert steady_sentence(found).endswith("longest stall 0 s, 54 of 60 minutes logged.")
    assert "log: 10 of 11 minutes logged" in said(catalog, "show", "porch")


def test_nothing_is_said_of_a_log_that_covers_its_run():
    digest = {"duration_s": 60.0, "logged_s": 59.5, "longest_gap_s": 0.02, "samples": 60.0}
    assert log_coverage(digest).text == ""
    assert log_coverage({"planned": 3.0}) is None


def test_the_slowest_period_is_that_of_the_time_that_was_logged(entered):
    (found,) = load_longruns(open_catalog(entered("not logged"), readonly=True))
    assert isinstance(found, LongRunResult)
    assert period_sentence(found.figures) == "No period found between 2 s (two values) and 540 s (6 cycles)."
    assert steadiness({"planned": 1.0}) is None
