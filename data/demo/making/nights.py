"""Long runs: a night of ten-second values, steady, with a wave, fading with warmth, or with stalls."""

from __future__ import annotations

import math
from datetime import datetime, time

from making.bench import WHEN, Row, capped, losses_at, mean_throughput, session_factor, setup_of
from making.diary import Day, Night
from making.dice import dice

SAMPLE_S = 10
WAVE_S = 1500  # the wave's period
WAVE_DEPTH = 0.09
FADE = 0.08  # lost by the morning
MEMORY = 0.6  # lag-one autocorrelation of the slow noise
NOTES = {"stalls": "several stalls", "fading": "falls a little as the box warms"}


def shape_factor(shape: str, t_s: float, hours: float) -> float:
    """What the shape makes of the mean at one time of the night. [1]"""
    if shape == "wave":
        return 1 - WAVE_DEPTH * (0.5 + 0.5 * math.sin(2 * math.pi * t_s / WAVE_S))
    if shape == "fading":
        return 1 - FADE * t_s / (hours * 3600)
    return 1.0


def night_row(night: Night, day: Day) -> tuple[Row, str, str]:
    """One row of longruns.csv, the path of its log, and the log."""
    start = datetime.combine(day.date, time(20, 45))
    number = night.spot
    setup = setup_of(
        night.device,
        night.client,
        firmware=night.firmware,
        unit="A",
        driver="",
        band=night.band,
        width_mhz=night.width_mhz,
        direction="down",
        losses=losses_at(day.house, number, night.band, day),
    )
    chance = dice("night", day.id, night.device)
    mean = mean_throughput(setup, shift_db=0.0, factor=session_factor(day.id))
    slow = 0.0
    stall_left = 0
    lines = ["t_s,mbit_s"]
    for t_s in range(0, int(night.hours * 3600), SAMPLE_S):
        slow = MEMORY * slow + chance.gauss(0, 0.012)
        if night.shape == "stalls" and stall_left == 0 and chance.random() < 0.0012:
            stall_left = chance.randint(1, 5)
        if stall_left:
            stall_left -= 1
            value = chance.uniform(0, 4)
        else:
            factor = shape_factor(night.shape, t_s, night.hours)
            value = capped(mean * factor * math.exp(slow + chance.gauss(0, 0.01)), setup, chance)
        lines.append(f"{t_s},{value:.1f}")
    path = f"logs/{night.device}-night-{day.date.isoformat()}.csv"
    row: Row = {
        "when": start.strftime(WHEN),
        "device": night.device,
        "unit": "A",
        "firmware": setup.firmware.version,
        "client": night.client,
        "driver": setup.driver,
        "session": day.id,
        "band": night.band,
        "width_mhz": night.width_mhz,
        "direction": "down",
        "spot": day.house.spot(number).id,
        "log": path,
        "outcome": "finished",
        "note": NOTES.get(night.shape, ""),
    }
    return row, path, "\n".join(lines) + "\n"
