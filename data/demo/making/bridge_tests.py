"""Old and new side by side on one day: the replaced adapter, and a driver the bench then did not take."""

from __future__ import annotations

import math
from datetime import datetime

from making import clients
from making.bench import WHEN, Clock, Row, capped, losses_at, mean_throughput, session_factor, setup_of
from making.diary import Day
from making.dice import dice

# old client and driver, new client and driver, band, width, direction, spots
TESTS = (
    ("skarn-r2", "4.2a", "skarn-r2b", "4.2a", "5", 160, "down", "457"),
    ("skarn-r2", "4.2a", "skarn-r2b", "4.2a", "5", 80, "down", "246"),
    ("skarn-r2", "4.2a", "skarn-r2b", "4.2a", "5", 80, "up", "24"),
    ("wrenlet-b2", "D-11", "wrenlet-b2", "D-12", "5", 160, "down", "246"),
    ("wrenlet-b2", "D-11", "wrenlet-b2", "D-12", "5", 80, "down", "246"),
)
REPEATS = 4


def bridge_rows(day: Day, clock: Clock) -> list[Row]:
    """All values of bridges.csv, measured on the day's house reference device in turn: old, new, old, new."""
    device = day.house.reference_device
    rows: list[Row] = []
    for old_client, old_driver, new_client, new_driver, band, width, direction, spots in TESTS:
        for number in spots:
            clock.pass_between(150, 300)
            for repeat in range(1, REPEATS + 1):
                for side, client, driver in (("old", old_client, old_driver), ("new", new_client, new_driver)):
                    clock.pass_between(50, 90)
                    setup = setup_of(
                        device,
                        client,
                        firmware="",
                        unit="A",
                        driver=driver,
                        band=band,
                        width_mhz=width,
                        direction=direction,
                        losses=losses_at(day.house, number, band, day),
                    )
                    chance = dice("bridge", day.id, side, client, band, width, direction, number, repeat)
                    # Both sides stand on the same table in the same minute: placement is shared.
                    mean = mean_throughput(setup, shift_db=0.0, factor=session_factor(day.id))
                    value = capped(mean * math.exp(chance.gauss(0, 0.012)), setup, chance)
                    at: datetime = clock.now
                    rows.append(
                        {
                            "old_client": old_client,
                            "old_driver": old_driver,
                            "new_client": new_client,
                            "new_driver": new_driver,
                            "device": device,
                            "band": band,
                            "width_mhz": width,
                            "direction": direction,
                            "spot": day.house.spot(number).id,
                            "when": at.strftime(WHEN),
                            "side": side,
                            "repeat": repeat,
                            "throughput (Mbit/s)": f"{value:.1f}",
                        }
                    )
    assert {row["new_client"] for row in rows} <= set(clients.BY_ID)
    return rows
