"""`check` and `enter` list what is wrong by cause, in forty lines at most; `--all` shows every row."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from builder.cli import main
from tests.batches import batch_at, batch_toml, client, device, session

COLUMNS = "when,attenuation_db,level_dbm,repeat,throughput_mbit_s"


@pytest.fixture
def dirty(tmp_path):
    """A thousand runs in which fifty columns nobody knows stand beside levels without a sign, and dates with two readings."""
    defaults = {"device": "tessarik-shale-2", "firmware": "1.0", "client": "wrenlet-u2", "session": "day-1"}
    defaults |= {"band": "5", "width_mhz": 80, "direction": "down"}
    odd = [f"odd {number}" for number in range(50)]
    rows = [
        f"03/04/2025 10:{row % 60:02},{row % 50 + 30},{row % 40 + 40},{row % 9 + 1},{200 + row % 700}"
        for row in range(1, 1001)
    ]
    folder = batch_at(
        tmp_path / "dirty",
        batch_toml(
            "dirty",
            device=[device("tessarik-shale-2")],
            client=[client("wrenlet-u2")],
            house=[{"id": "house-a", "name": "House A"}],
            session=[session("day-1", "2025-04-03")],
            defaults={"runs": defaults},
        ),
        {"runs.csv": "\n".join([",".join([COLUMNS, *odd]), *(f"{row},{',x' * 49}" for row in rows)]) + "\n"},
    )
    return str(folder)


def test_a_thousand_rows_fit_forty_lines(dirty, tmp_path):
    result = CliRunner().invoke(main, ["check", dirty, "--catalog", str(tmp_path / "none.db")])
    lines = result.stdout.splitlines()
    assert (result.exit_code, len(lines)) == (1, 40)
    assert lines[-1].endswith("problems with 2 causes to settle; nothing can be entered until then.")
    assert [line for line in lines if "settles all" in line] != []
    assert "`likeloss check --all` shows every row." in lines[-2]


def test_all_shows_every_row(dirty, tmp_path):
    result = CliRunner().invoke(main, ["check", dirty, "--all", "--catalog", str(tmp_path / "none.db")])
    assert len(result.stdout.splitlines()) > 2000


def test_json_keeps_every_problem_beside_its_causes(dirty, tmp_path):
    result = CliRunner().invoke(main, ["check", dirty, "--json", "--catalog", str(tmp_path / "none.db")])
    document = json.loads(result.stdout)
    assert len(document["problems"]) == 2000 == sum(cause["count"] for cause in document["causes"])
    assert [len(cause["places"]) for cause in document["causes"]] == [3, 3]
    assert document["problems"][0] | {"file": "runs.csv", "sheet": None, "cell": "A2"} == document["problems"][0]


def test_a_refused_entry_is_as_short(dirty, tmp_path):
    result = CliRunner().invoke(main, ["enter", dirty, "--catalog", str(tmp_path / "none.db")])
    assert (result.exit_code, len(result.stderr.splitlines())) == (1, 4)
