"""Runs of one device. Their truth is on purpose not what the method assumes.

A rate falls in steps, not along a smooth curve; repeats scatter downwards only; a day is as usual or a bad one;
standing at a spot again scatters with heavy tails; a wired port makes many values equal; some devices' values were
noted in whole or round numbers; cells, spots and repeats are missing; of the oldest client only means are left.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta

import numpy as np

from tests.benchmarks.generated.subjects import MAIN, SPOTS, Device, Link, loss_at

HEADER = (
    "when",
    "device",
    "firmware",
    "client",
    "session",
    "band",
    "width_mhz",
    "direction",
    "spot",
    "level_dbm",
    "repeat",
    "throughput (Mbit/s)",
    "of_runs",
    "spread (Mbit/s)",
    "statistic",
    "outcome",
)
REPEATS = 3
Row = tuple[object, ...]


def runs(device: Device, *, seed: int) -> list[Row]:
    """Every client, direction, spot and repeat that there was time for, about 130 rows a firmware."""
    rows: list[Row] = []
    for place, version in enumerate(device.versions):
        rng = np.random.default_rng([seed, device.number, 1, place])
        at = datetime.combine(device.day + timedelta(days=2 * place), time(8, 5))
        day = _day(rng)
        better = 1.0 + 0.12 * place * (device.number % 3)
        for link in device.links if place == 0 else (MAIN,):
            for direction in ("down", "up"):
                made = _spots(device, link, direction, version, place, at, day * better, rng)
                rows += made
                at += timedelta(seconds=74 * 8 * REPEATS)
    return rows


def checks(referee: Device, tested: Device, *, seed: int) -> list[Row]:
    """The reference device again on the day of another, at two spots."""
    rng = np.random.default_rng([seed, tested.number, 2])
    at = datetime.combine(tested.day, time(7, 0))
    day = _day(np.random.default_rng([seed, tested.number, 1, 0]))  # the day that the other device has, too
    session = tested.sessions[0]
    rows: list[Row] = []
    for spot in ("S2", "S5"):
        for repeat in range(1, REPEATS + 1):
            loss = loss_at(tested.house, MAIN.band, spot, tested.day)
            value = _rate(referee, MAIN, loss) * day * (1 - rng.gamma(0.8, 0.02))
            rows.append(
                _row(at, referee, referee.versions[0], MAIN, session, "down", spot, loss, repeat, f"{value:.1f}")
            )
            at += timedelta(seconds=70)
    return rows


def one_run(device: Device, session: str, at: datetime) -> Row:
    return _row(at, device, device.versions[0], MAIN, session, "down", "S4", 66.2, 1, "401.5")


def _day(rng: np.random.Generator) -> float:
    return float(rng.choice([1.0, 0.94, 0.86], p=[0.88, 0.09, 0.03]) * rng.uniform(0.99, 1.01))


def _rate(device: Device, link: Link, loss: float) -> float:
    """What is true at a loss. [Mbit/s]"""
    smooth = link.peak * device.strength / (1 + np.exp((loss - 74) / device.fade_db))
    step = 1 - 0.11 * (loss > 60 + device.number % 7) - 0.15 * (loss > 72 + device.number % 5)
    return float(min(smooth * step, device.port_mbit_s * 0.941))


def _spots(
    device: Device,
    link: Link,
    direction: str,
    version: str,
    place: int,
    at: datetime,
    factor: float,
    rng: np.random.Generator,
) -> list[Row]:
    rows: list[Row] = []
    whole = link is MAIN and device.number % 4 == 1  # who writes a review fills the gaps first
    left_out = SPOTS[rng.integers(8)] if rng.random() < 0.15 else ""
    summary = link.until < 0.5 and device.number % 2 == 0
    for spot in SPOTS:
        if (spot == left_out or rng.random() < 0.04) and not whole:
            continue
        loss = loss_at(device.house, link.band, spot, device.day)
        stood = 0.6 * float(np.clip(rng.standard_t(3), -6, 6))
        mean = _rate(device, link, loss + stood) * factor * (0.93 if direction == "up" else 1.0)
        mean *= 0.72 if spot == "S6" and device.number % 6 == 2 else 1.0
        repeats = 1 if rng.random() < 0.04 else REPEATS
        values = mean * (1 - rng.gamma(0.8, 0.02, repeats)) * np.where(rng.random(repeats) < 0.01, 0.55, 1.0)
        if mean < device.port_mbit_s * 0.941 * 0.999:
            texts = [_noted(device, value) for value in values.tolist()]
        else:  # the port says when, not the radio: all alike
            texts = [f"{mean:.0f}"] * repeats
        session = device.sessions[place]
        if summary and repeats > 1:
            kind = "median" if device.number % 4 == 0 else "mean"
            typed = f"{np.median(values) if kind == 'median' else values.mean():.0f}"
            spread = f"{values.std(ddof=1):.1f}" if device.number % 3 else ""
            row = _row(at, device, version, link, session, direction, spot, loss, "", typed)
            rows.append((f"{at:%Y-%m-%d}", *row[1:12], repeats, spread, kind, "finished"))
            continue
        for repeat, text in enumerate(texts, 1):
            at += timedelta(seconds=71 + repeat)
            outcome = _outcome(device, loss, rng)
            typed = text if outcome == "finished" else ""
            level = loss + stood + float(rng.normal(0, 0.5))
            rows.append(_row(at, device, version, link, session, direction, spot, level, repeat, typed, outcome))
    return rows


def _noted(device: Device, value: float) -> str:
    if device.number % 4 == 1:
        return f"{max(value, 1):.0f}"
    if device.number % 9 == 2 and value > 100:
        return f"{round(value / 5) * 5}"
    return f"{max(value, 0.8):.1f}"


def _outcome(device: Device, loss: float, rng: np.random.Generator) -> str:
    drawn = rng.random()
    if loss > 80 and device.number % 11 == 4 and device.number % 4 != 1 and drawn < 0.5:
        return "did not finish"
    return "client fault" if drawn < 0.003 else "aborted" if drawn < 0.006 else "finished"


def _row(
    at: datetime,
    device: Device,
    version: str,
    link: Link,
    session: str,
    direction: str,
    spot: str,
    loss: float,
    repeat: int | str,
    typed: str,
    outcome: str = "finished",
) -> Row:
    return (
        f"{at:%Y-%m-%d %H:%M:%S}",
        device.id,
        version,
        link.client,
        session,
        link.band,
        link.width_mhz,
        direction,
        spot,
        round(21 - loss, 1),
        repeat,
        typed,
        "",
        "",
        "",
        outcome,
    )
