"""A bench that tested one device with both links, with one at a time, at low power, and as always.

Repeats are 7 Mbit/s apart, everything else is declared as known, and all of it is one day: a difference of two means of
three then has the half-width t(0.975, 4) · 7 · √(2/3) = 15.87 Mbit/s, by hand.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder.cli.program import main
from catalog.entering import enter_batch
from tests.batches import batch_at, batch_toml, client, device, session

NOW = datetime(2026, 4, 1, 12, tzinfo=UTC)
LOSSES = {"S3": (60, 63), "S4": (70, 73), "S5": (80, 83)}  # at 5 and 6 GHz
RADIOS = [{"band": band, "streams": 2, "max_width_mhz": 160} for band in ("5", "6")]
DAY = "2026-03-01"
EXACT = {
    "session_spread": 0.0,
    "placement_sigma_db": 0.0,
    "attenuation_sigma_db": 0.0,
    "calibration_sigma_db": 0.0,
    "level_sigma_db": 0.0,
}
SETTINGS = [
    {"id": "links-on", "title": "Both", "multi_link": "on", "links": ["5", "6"]},
    {"id": "links-off", "title": "One link at a time", "multi_link": "off"},
    {"id": "one-link", "multi_link": "off"},  # the same in other words
    {"id": "low", "title": "Low power", "power": "low"},
]
# device, band, settings -> Mbit/s at S3, S4, S5
VALUES = {
    ("hollendry-cupola", "5+6", "links-on"): (1650, 1007, 600),
    ("hollendry-cupola", "5", "links-off"): (1300, 911, 500),
    ("hollendry-cupola", "6", "one-link"): (1200, 640, 210),
    ("hollendry-cupola", "5", ""): (1310, 920, 505),
    ("hollendry-cupola", "5", "low"): (1040, 728, 400),
    ("quillmast-sill", "5", ""): (1180, 830, 450),
    ("quillmast-sill", "5", "low"): (900, 640, 300),
}


def bench_toml(batch_id="2026-03-cupola", **more):
    return batch_toml(
        batch_id,
        **{
            "site": {"title": "Bench"},
            "device": [
                device(name, amendment="802.11be", radio=RADIOS) for name in ("hollendry-cupola", "quillmast-sill")
            ],
            "client": [client("lap", amendment="802.11be", radio=RADIOS)],
            "house": [{"id": "home", "name": "Home"}],
            "session": [session(DAY, house="home")],
            "settings": SETTINGS,
            "method": EXACT,
            "defaults": {
                "runs": {"firmware": "1.0", "client": "lap", "session": DAY, "width_mhz": 160, "direction": "down"}
            },
        }
        | more,
    )


def run_rows(values=VALUES, *, day=DAY, **columns):
    """runs.csv: three repeats at every spot, 7 Mbit/s apart, a minute after each other."""
    extra = "".join(f",{name}" for name in columns)
    text = f"when,device,band,settings,spot,repeat,throughput (Mbit/s){extra}\n"
    minute = 0
    for place, spot in enumerate(LOSSES):
        for (name, band, settings), of_spots in values.items():
            for repeat in (1, 2, 3):
                minute += 1
                at = f"{day} {8 + minute // 60:02}:{minute % 60:02}"
                value = of_spots[place] + 7 * (repeat - 2)
                more = "".join(f",{given}" for given in columns.values())
                text += f"{at},{name},{band},{settings},{spot},{repeat},{value}{more}\n"
    return text


def spot_rows(*, since=("2026-01-01", "2026-02-01")):
    """spots.csv: two readings each; the 6 GHz band was read a month later."""
    text = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n"
    for spot, losses in LOSSES.items():
        for band, loss, day in zip("56", losses, since, strict=True):
            text += "".join(f"home,{spot},{band},{day},20,{20 - loss + off}\n" for off in (-0.5, 0.5))
    return text


def batch(folder: Path, toml: str | None = None, **files: str) -> Path:
    named = {"runs": run_rows(), "spots": spot_rows()} | files
    return batch_at(folder, toml or bench_toml(), {f"{name}.csv": text for name, text in named.items()})


def entered(folder: Path, path: Path) -> Path:
    enter_batch(folder, into=path, now=NOW)
    return path


@pytest.fixture(scope="session")
def cupola(tmp_path_factory):
    """The catalogue; tests only ask it."""
    folder = tmp_path_factory.mktemp("cupola")
    return entered(batch(folder / "batch"), folder / "catalog.db")


@pytest.fixture
def ask(cupola):
    """A verb on the catalogue, or on another one: what it prints."""

    def asked(*words: str, catalog: Path = cupola, code: int = 0) -> str:
        result = CliRunner().invoke(main, [*words, "--catalog", str(catalog)])
        assert result.exit_code == code, result.output
        return result.output

    return asked


TODAY = date(2026, 4, 1)
