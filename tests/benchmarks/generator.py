"""Batches of any size for benchmarks: invented names, realistic shapes, a fixed seed."""

from __future__ import annotations

import csv
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

SPOTS = tuple(f"S{i}" for i in range(1, 9))
LOSSES = (46.0, 52.0, 58.0, 64.0, 70.0, 76.0, 82.0, 88.0)
CLIENTS = ("wrenlet-u2", "skarn-r4", "mottle-n1")
DIRECTIONS = ("down", "up")
REPEATS = 3
RUNS_PER_DEVICE = len(SPOTS) * len(CLIENTS) * len(DIRECTIONS) * REPEATS  # 144
DAY = datetime(2025, 1, 6, 8, 0)

REGISTERS = """
format = 1
id = "registers"
title = "House, clients, workload"
timezone = "Europe/Berlin"
licence = "CC-BY-4.0"
"""


def registers(folder: Path) -> Path:
    """The batch that every other rests on."""
    folder.mkdir(parents=True)
    text = REGISTERS + '\n[[house]]\nid = "birch"\nname = "Birch"\n'
    for client in CLIENTS:
        text += (
            f'\n[[client]]\nid = "{client}"\nname = "{client}"\namendment = "802.11ax"\n'
            '  [[client.radio]]\n  band = "5"\n  streams = 2\n  max_width_mhz = 80\n'
        )
    text += (
        '\n[[workload]]\nid = "busy"\nversion = 1\ntitle = "All at once"\nduration_s = 600\n'
        '  [[workload.role]]\n  id = "talk"\n  kind = "voice"\n  target_ms = 150\n  target_share = 0.99\n'
        '  packet_ms = 20\n  codec = "G.711"\n'
    )
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    rows = [
        ("birch", spot, "5", "2024-12-01", 20, round(20 - loss - 0.5 + 0.25 * i, 2))
        for spot, loss in zip(SPOTS, LOSSES, strict=True)
        for i in range(5)
    ]
    header = ("house", "spot", "band", "valid_from", "reference_eirp_dbm", "reading_dbm")
    _write(folder / "spots.csv", [header, *rows])
    return folder


def device_batch(folder: Path, number: int, *, devices: int = 1, samples: int = 0, seed: int = 7) -> Path:
    """A batch of *devices* new devices with 144 runs each, and one request log of *samples* packets each."""
    rng = np.random.default_rng([seed, number])
    folder.mkdir(parents=True)
    day = DAY + timedelta(days=number)
    text = REGISTERS.replace('"registers"', f'"bench-{number}"').replace("House, clients, workload", f"Bench {number}")
    runs: list[tuple[object, ...]] = [
        ("when", "device", "client", "direction", "spot", "level_dbm", "repeat", "throughput_mbit_s")
    ]
    stations: list[tuple[object, ...]] = [
        ("mix", "when", "device", "client", "role", "spot", "planned_s", "planned_requests", "log")
    ]
    for index in range(devices):
        name = f"maker-model-{number}-{index}"
        text += (
            f'\n[[device]]\nid = "{name}"\nmaker = "Maker {number % 40}"\nmodel = "Model {number}-{index}"\n'
            'amendment = "802.11ax"\n  [[device.unit]]\n  id = "A"\n  origin = "bought"\n'
            '  [[device.firmware]]\n  version = "1.0"\n  released = 2024-12-01\n'
        )
        runs += _runs(rng, name, day)
        if samples:
            log = f"{name}.csv"
            _request_log(folder / log, rng, samples)
            stations.append(
                (f"mix-{name}", f"{day:%Y-%m-%d} 20:00", name, CLIENTS[0], "talk", "S3", samples * 0.02, samples, log)
            )
    text += (
        f'\n[[session]]\nid = "day-{number}"\nhouse = "birch"\ndate = {day:%Y-%m-%d}\n'
        f'\n[defaults.runs]\nfirmware = "1.0"\nsession = "day-{number}"\nband = "5"\nwidth_mhz = 80\n'
        f'outcome = "finished"\n\n[defaults.stations]\nfirmware = "1.0"\nsession = "day-{number}"\nband = "5"\n'
        'workload = "busy"\nworkload_version = 1\noutcome = "finished"\n'
    )
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    _write(folder / "runs.csv", runs)
    if samples:
        _write(folder / "stations.csv", stations)
    return folder


def one_run(folder: Path) -> Path:
    """A batch of one run, of a device that the first batch of ten brought."""
    folder.mkdir(parents=True)
    head = REGISTERS.replace('"registers"', '"one-more"').replace("House, clients, workload", "One more run")
    text = head + (
        '\n[[session]]\nid = "day-one-more"\nhouse = "birch"\ndate = 2025-12-01\n'
        '\n[defaults.runs]\nfirmware = "1.0"\nsession = "day-one-more"\nband = "5"\nwidth_mhz = 80\n'
        'outcome = "finished"\n'
    )
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    header = ("when", "device", "client", "direction", "spot", "level_dbm", "repeat", "throughput_mbit_s")
    row = ("2025-12-01 10:00:00", "maker-model-0-1", CLIENTS[0], "down", "S4", "-41.0", 1, "600")
    _write(folder / "runs.csv", [header, row])
    return folder


def _runs(rng: np.random.Generator, device: str, day: datetime) -> list[tuple[object, ...]]:
    strength, fade = rng.normal(1.0, 0.08), rng.normal(12.0, 1.0)
    rows: list[tuple[object, ...]] = []
    at = day
    for client in CLIENTS:
        for direction in DIRECTIONS:
            for spot, loss in zip(SPOTS, LOSSES, strict=True):
                mean = strength * (820 - (60 if direction == "up" else 0)) / (1 + np.exp((loss - 74) / fade))
                for repeat in range(1, REPEATS + 1):
                    value = mean * (1 + rng.normal(0, 0.03))
                    at += timedelta(seconds=70 + repeat)
                    level = round(23 - loss + rng.normal(0, 0.7), 1)
                    rows.append(
                        (
                            f"{at:%Y-%m-%d %H:%M:%S}",
                            device,
                            client,
                            direction,
                            spot,
                            level,
                            repeat,
                            f"{max(value, 1.0):.2f}",
                        )
                    )
    return rows


def _request_log(path: Path, rng: np.random.Generator, samples: int) -> None:
    """A packet each 20 ms with a lognormal delay, one in 400 lost."""
    latency = np.round(rng.lognormal(2.6, 0.5, samples), 2)
    lost = rng.random(samples) < 1 / 400
    lines = [
        f"{i * 0.02:.2f},{'' if gone else ms},{'failed' if gone else 'finished'}"
        for i, (ms, gone) in enumerate(zip(latency.tolist(), lost.tolist(), strict=True))
    ]
    path.write_text("t_s,ms,outcome\n" + "\n".join(lines) + "\n", encoding="utf-8")


def _write(path: Path, rows: list[tuple[object, ...]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows(rows)
