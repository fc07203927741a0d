"""The budget behind the demo against published tables (tests/published/SOURCES.md)."""

from __future__ import annotations

import csv
import importlib
import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[2] / "data" / "demo"
PUBLISHED = Path(__file__).parents[1] / "published"
PHYS = {"HT": "802.11n", "VHT": "802.11ac", "HE": "802.11ax", "EHT": "802.11be"}
SHORTEST_GUARD_US = {"HT": 0.4, "VHT": 0.4, "HE": 0.8, "EHT": 0.8}


@pytest.fixture(scope="module")
def budget():
    sys.path.insert(0, str(DEMO))
    try:
        return importlib.import_module("making.link_budget")
    finally:
        sys.path.remove(str(DEMO))


def rows_of(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_phy_rates_of_the_shortest_guard_interval(budget):
    # IEEE 802.11-2020, 19.5 and 21.5; 802.11ax-2021, 27.5; 802.11be-2024, 36.5; printed to six decimals.
    compared = 0
    for row in rows_of("phy_rates_full.csv"):
        if float(row["gi_us"]) != SHORTEST_GUARD_US[row["phy"]]:
            continue
        rate = budget.phy_rate_mbit_s(
            PHYS[row["phy"]],
            width_mhz=int(row["width_mhz"]),
            streams=int(row["nss"]),
            mcs=int(row["mcs_per_stream"]),
        )
        assert rate == pytest.approx(float(row["expected_mbit_s"]), abs=1e-6)
        compared += 1
    assert compared > 500


def test_noise_of_a_perfect_receiver(budget):
    # k·T·B at 290 K with the Boltzmann constant of the SI (2019).
    compared = 0
    for row in rows_of("thermal_noise.csv"):
        if float(row["temp_k"]) == 290.0 and float(row["bandwidth_mhz"]) >= 20:
            width = int(float(row["bandwidth_mhz"]))
            assert budget.noise_dbm(width, noise_figure_db=0.0) == pytest.approx(float(row["expected"]), abs=1e-6)
            compared += 1
    assert compared == 5


def test_payload_of_a_wired_port(budget):
    # RFC 6349, section 4: 1448 bytes with timestamps in a frame that takes 1538 on the wire.
    assert budget.port_limit_mbit_s(1000) == pytest.approx(1000 * 1448 / 1538, abs=1e-4)


def test_more_loss_never_helps(budget):
    for width in (20, 40, 80, 160):
        rates = [
            budget.goodput_mbit_s(
                budget.Link(
                    amendment="802.11ax", streams=2, antennas=4, width_mhz=width, level_dbm=level, noise_figure_db=7.0
                ),
                direction="down",
            )
            for level in range(-20, -100, -1)
        ]
        assert rates == sorted(rates, reverse=True)
        assert rates[-1] == 0.0
