"""Several clients at once, and runs over hours: stations, long runs and their logs.

Waits come in bursts and have a heavy tail; failures come in the bursts; a log over hours has levels and gaps. Each
wait is noted to a hundredth of a millisecond, so that many are equal.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from functools import cache
from operator import add
from pathlib import Path

import numpy as np

from tests.benchmarks.generated.subjects import LINKS, MAIN, Device, loss_at

MINUTES = 10
SECONDS = MINUTES * 60
HOURS = 8
SINCE, NOTED = 0.3, 0.15  # shares of the ten years from which on logs are kept, and percentiles were noted
LOST = 60_000  # place in the table of texts behind all waits
ROLES = """
[[role]]
id = "film"
kind = "stream"
rate_mbit_s = 8
segment_s = 2
start_buffer_s = 6
target_ms = 1000
target_share = 0.95
good_ms = 500
good_share = 0.95

[[role]]
id = "backup"
kind = "upload"
file_mib = 64
at_once = 2
target_ms = 20000
target_share = 0.90

[[role]]
id = "call"
kind = "voice"
packet_ms = 20
codec = "G.711"
target_ms = 150
target_share = 0.98
good_ms = 60
good_share = 0.95

[[role]]
id = "game"
kind = "game"
packet_ms = 50
target_ms = 50
target_share = 0.95

[[role]]
id = "web"
kind = "pages"
resources = 27
resource_kib = 44
pause_s = [1, 5]
target_ms = 1000
target_share = 0.95

[[workload]]
id = "evening"
version = 1
title = "An evening at home"
duration_s = 600
seats = [["film", "backup"], ["call", "game"], ["web"]]
"""
# role: seconds between its requests, usual wait [ms], of a log the share of its requests that is planned
_RATES = {
    "film": (2.0, 190.0),
    "backup": (8.0, 6_100.0),
    "call": (0.02, 14.0),
    "game": (0.05, 17.0),
    "web": (4.0, 320.0),
}
_SEATS = ((MAIN, ("film", "backup"), "S2"), (LINKS[3], ("call", "game"), "S5"), (LINKS[1], ("web",), "S3"))
HEADER = (
    "mix",
    "workload",
    "workload_version",
    "when",
    "device",
    "firmware",
    "client",
    "session",
    "role",
    "band",
    "width_mhz",
    "spot",
    "level_dbm",
    "planned_s",
    "planned_requests",
    "on_time_share",
    "mark_ms",
    "p50_ms",
    "p95_ms",
    "outcome",
    "ended_at_s",
    "ended_by",
    "log",
)
LONG_HEADER = (
    "when",
    "device",
    "firmware",
    "client",
    "session",
    "kind",
    "band",
    "width_mhz",
    "direction",
    "spot",
    "mark_ms",
    "log",
    "outcome",
)
Row = tuple[object, ...]


def has_mix(device: Device) -> bool:
    return device.share >= NOTED and device.number % 8 != 6


def stations(device: Device, folder: Path, *, seed: int) -> list[Row]:
    """One or two runs of the evening, their logs written into *folder*; of older ones only what was noted."""
    if not has_mix(device):
        return []
    rng = np.random.default_rng([seed, device.number, 3])
    rows: list[Row] = []
    for run in range(1, 2 + (device.number % 2 if device.share >= SINCE else 0)):
        at = datetime.combine(device.day, time(18, 0)) + timedelta(minutes=20 * run)
        broke_off = device.number % 25 == 13
        ended = float(rng.uniform(100, 500)) if broke_off else SECONDS
        for link, roles, spot in _SEATS:
            link = LINKS[2] if link.since > device.share else link
            for role in roles:
                step, wait = _RATES[role]
                planned = round(SECONDS / step)
                noted: Row = ("", "", "", "")
                log = ""
                if device.share >= SINCE:
                    log = f"logs/{device.id}-{run}-{role}.csv"
                    usual = wait / device.strength
                    (folder / log).write_text(request_log(rng, int(ended / step), step, usual), encoding="utf-8")
                else:
                    planned = planned if device.number % 3 else 0
                    noted = (round(float(rng.beta(30, 1)), 3), "", round(wait, 1), round(wait * 4, 1))
                rows.append(
                    (
                        f"{device.id}-evening-{run}",
                        "evening",
                        1,
                        f"{at:%Y-%m-%d %H:%M:%S}",
                        device.id,
                        device.versions[0],
                        link.client,
                        device.sessions[0],
                        role,
                        link.band,
                        link.width_mhz,
                        spot,
                        round(21 - loss_at(device.house, link.band, spot, device.day), 1),
                        SECONDS,
                        planned if role in ("film", "call", "game") and planned else "",
                        *noted,
                        "did not finish" if broke_off else "finished",
                        round(ended, 1) if broke_off else "",
                        "power cycle" if broke_off else "",
                        log,
                    )
                )
    return rows


def longruns(device: Device, folder: Path, *, seed: int) -> list[Row]:
    """Every third device ran through a night: what came through, or of every third of these how long answers took."""
    if device.number % 3 or device.share < 0.1:
        return []
    rng = np.random.default_rng([seed, device.number, 4])
    requests = device.number % 9 == 0
    log = f"logs/{device.id}-night.csv"
    seconds = HOURS * 3600
    text = request_log(rng, seconds, 1.0, 12.0) if requests else _throughput(rng, seconds, 400 * device.strength)
    (folder / log).write_text(text, encoding="utf-8")
    return [
        (
            f"{device.day} 21:30:00",
            device.id,
            device.versions[0],
            MAIN.client,
            device.sessions[0],
            "requests" if requests else "throughput",
            MAIN.band,
            MAIN.width_mhz,
            "" if requests else "down",
            "S3",
            100 if requests else "",
            log,
            "finished",
        )
    ]


@cache
def _times(count: int, step: float) -> list[str]:
    return [f"{i * step:.2f}" for i in range(count)]


@cache
def _waits() -> list[str]:
    return [*(f",{i / 100:.2f},finished\n" for i in range(1, LOST + 1)), ",,failed\n"]


@cache
def _rates() -> list[str]:
    return [f",{i / 10:.1f}\n" for i in range(30_000)]


def request_log(rng: np.random.Generator, count: int, step: float, usual_ms: float) -> str:
    """A log: waits about *usual_ms*, in bursts six times that, of which one in thirty gets no answer."""
    bursts = np.repeat(np.arange(count // 40 + 1) % 8 == 7, rng.integers(10, 71, count // 40 + 1))
    bursts = np.resize(bursts, count)
    wait = rng.lognormal(np.log(usual_ms), 0.45, count) * np.where(bursts, 6.0, 1.0)
    if usual_ms > 100:  # beyond the table of texts: noted in whole milliseconds
        lost = bursts & (rng.random(count) < 1 / 30)
        texts = [",,failed\n" if gone else f",{ms:.0f},finished\n" for ms, gone in zip(wait, lost, strict=True)]
    else:
        places = np.minimum(wait * 100, LOST - 1).astype(int)
        places[bursts & (rng.random(count) < 1 / 30)] = LOST
        table = _waits()
        texts = [table[place] for place in places.tolist()]
    return "t_s,ms,outcome\n" + "".join(map(add, _times(count, step), texts))


def _throughput(rng: np.random.Generator, seconds: int, usual: float) -> str:
    """A log: three levels in turn, short holes, and ten minutes that were not logged."""
    levels = np.resize(
        np.repeat(rng.choice([1.0, 0.97, 0.7], 60, p=[0.6, 0.3, 0.1]), rng.integers(60, 1_800, 60)), seconds
    )
    rates = usual * levels * (1 - rng.gamma(0.8, 0.03, seconds))
    places = np.clip(rates * 10, 1, 29_999).astype(int)
    table, times = _rates(), _times(seconds, 1.0)
    rows = [time_ + table[place] for time_, place in zip(times, places.tolist(), strict=True)]
    gap = int(rng.integers(seconds // 4, seconds // 2))
    return "t_s,mbit_s\n" + "".join(rows[:gap] + rows[gap + 600 :])
