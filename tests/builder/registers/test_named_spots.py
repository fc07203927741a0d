"""What was measured at a spot that was never read is shown and compared there, and nowhere else."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog.entering import enter_batch
from tests.batches import batch_at, batch_toml, client, device, session

SHALE, RONDEL = "tessarik-shale-2", "polmerre-rondel-4"
DAYS = {SHALE: "2025-05-12", RONDEL: "2025-05-13"}


@pytest.fixture
def catalog(tmp_path):
    """Two devices at two spots, one named from ever and one from a day."""
    rows = [
        f"{day} 1{place}:0{repeat},{name},{day},{spot},{repeat},{700 - 150 * place - 90 * (name == RONDEL) + repeat}"
        for name, day in DAYS.items()
        for place, spot in enumerate(("Kitchen", "Attic"))
        for repeat in (1, 2, 3)
    ]
    common = {"firmware": "1.0", "client": "wrenlet-u2", "band": "5", "width_mhz": 80, "direction": "down"}
    folder = batch_at(
        tmp_path / "named",
        batch_toml(
            "named",
            device=[device(name) for name in DAYS],
            client=[client("wrenlet-u2")],
            house=[{"id": "house-a", "name": "House A"}],
            session=[session(day) for day in DAYS.values()],
            defaults={"runs": common},
        ),
        {
            "runs.csv": "\n".join(["when,device,session,spot,repeat,throughput_mbit_s", *rows]) + "\n",
            "spots.csv": "house,spot,band,valid_from\nhouse-a,Kitchen,5,\nhouse-a,Attic,5,2025-05-01\n",
        },
    )
    path = tmp_path / "catalog.db"
    enter_batch(folder, into=path, now=datetime(2025, 7, 1, 12, tzinfo=UTC))
    return path


def asked(catalog, *arguments):
    result = CliRunner().invoke(main, ["--catalog", str(catalog), *arguments])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_two_devices_are_compared_at_each_spot_by_itself(catalog):
    groups = json.loads(asked(catalog, "compare", SHALE, RONDEL, "--match", "spot", "--json"))["groups"]
    assert [(one["spot"], one["epoch"], one["difference"]) for one in groups] == [
        ("Attic", "2025-05-01", pytest.approx(90)),
        ("Kitchen", None, pytest.approx(90)),
    ]
    trace = asked(catalog, "trace", groups[0]["figure"])
    assert "Attic since 2025-05-01" in trace


def test_at_like_loss_they_are_not(catalog):
    (group,) = json.loads(asked(catalog, "compare", SHALE, RONDEL, "--json"))["groups"]
    assert group["verdict"] == "refused"


def test_the_page_of_the_house_says_what_a_reading_would_add(catalog, tmp_path):
    asked(catalog, "build", "--out", str(tmp_path / "site"))
    page = (tmp_path / "site" / "houses" / "house-a" / "index.html").read_text()
    assert (
        "<dt>Named, not read</dt>\n<dd>Attic and Kitchen. Results there are compared at that spot only; a reading would "
        "say which loss a spot stands for, and compare them with other places of that loss</dd>"
    ) in page
