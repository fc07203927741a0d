"""The figures of the peer: cells, lines, rankings and pairs, each in whole arrays.

No value is looked up one by one and nothing is asked of the catalogue twice. Intervals are those of a text book: of the
mean of repeats by Student's t, of differences by the sum of variances. Days, placement, spots and kits are unknown here.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import t as student

GRID = np.arange(46.0, 91.0)  # dB
WINDOWS = {"near": (50, 60), "middle": (60, 75), "far": (75, 90)}
GROUP = ["client", "band", "width", "direction"]
_QUERIES = {
    "runs": """
        SELECT r.device_id AS device, r.client_id AS client, r.band, r.width_mhz AS width, r.direction,
               coalesce(r.spot, '') AS spot, coalesce(e.attenuation_db, r.attenuation_db) AS loss, r.firmware,
               s.date AS day, h.name AS house, r.level_dbm AS level, r.repeat,
               r.throughput_mbit_s AS mbit_s, r.outcome
        FROM run AS r JOIN session AS s USING (session_id) JOIN house AS h USING (house_id)
        LEFT JOIN epoch AS e USING (epoch_id) ORDER BY r.run_id""",
    "mixes": """
        SELECT t.device_id AS device, t.mix_id AS mix, t.client_id AS client, t.role_id AS role, t.outcome,
               t.planned_requests AS planned, p.value AS p95_ms, m.value AS p50_ms, o.value AS in_time
        FROM station AS t
        LEFT JOIN digest AS p ON p.owner = 'station' AND p.owner_id = t.station_id AND p.figure = 'p95_ms'
        LEFT JOIN digest AS m ON m.owner = 'station' AND m.owner_id = t.station_id AND m.figure = 'p50_ms'
        LEFT JOIN digest AS o ON o.owner = 'station' AND o.owner_id = t.station_id AND o.figure = 'on_time'
        ORDER BY t.station_id""",
    "nights": """
        SELECT l.device_id AS device, l.client_id AS client, l.at_utc, l.kind, l.outcome, d.figure, d.value
        FROM longrun AS l JOIN digest AS d ON d.owner = 'longrun' AND d.owner_id = l.longrun_id
        ORDER BY l.longrun_id, d.figure""",
    "heat": "SELECT device_id AS device, face, material, load, minutes, reading_c, ambient_c FROM heat ORDER BY heat_id",
    "power": "SELECT device_id AS device, state, side, watts FROM power ORDER BY power_id",
    "parts": "SELECT device_id AS device, block, marking, count, read FROM part ORDER BY part_id",
    "features": "SELECT device_id AS device, feature, step, firmware, date, how FROM feature ORDER BY device_id, feature",
    "prices": "SELECT device_id AS device, date, amount, currency, condition FROM price ORDER BY price_id",
    "corrections": "SELECT coalesce(device_id, '') AS device, table_name, column_name, was, now, reason, date FROM correction",
    "devices": "SELECT device_id AS device, maker, model, kind, amendment, revision FROM device ORDER BY device_id",
}


@dataclass(frozen=True)
class Figures:
    """All that pages are made of.

    tables  a frame each, with a column "device"
    lines   throughput over GRID by group: (devices, shape (n, grid) with NaN outside of a line) [Mbit/s]
    nights  points of the long runs by device, shape (2, n): hours and values
    """

    tables: Mapping[str, pd.DataFrame]
    lines: Mapping[tuple[str, ...], tuple[np.ndarray, np.ndarray]]
    nights: Mapping[str, np.ndarray]


def figures(catalog: Path) -> Figures:
    """Read the catalogue and work everything out."""
    with closing(sqlite3.connect(f"file:{catalog}?mode=ro", uri=True)) as db:
        tables = {name: pd.read_sql(query, db) for name, query in _QUERIES.items()}
        gone = [row[0] for row in db.execute("SELECT id FROM withdrawal WHERE what = 'device'")]
        points = db.execute(
            "SELECT l.device_id, l.kind, t.quantity, t.samples FROM thinned AS t JOIN longrun AS l "
            "ON t.owner = 'longrun' AND l.longrun_id = t.owner_id WHERE t.quantity IN ('t', 'rate', 'latency')"
        ).fetchall()
    tables["runs"] = tables["runs"][~tables["runs"].device.isin(gone)]
    cells = _cells(tables["runs"])
    lines, errors = _lines(cells)
    tables |= {"cells": cells, "rankings": _rankings(lines, errors), "pairs": _pairs(lines, errors)}
    nights: dict[str, dict[str, np.ndarray]] = {}
    for device, _, quantity, samples in points:
        nights.setdefault(device, {})[quantity] = np.fromstring(samples.strip("[]"), sep=",")
    drawn = {}
    for device, columns in nights.items():
        values = columns.get("rate", columns.get("latency"))
        if values is not None and "t" in columns:
            n = min(len(values), len(columns["t"]), 2_000)
            drawn[device] = np.stack([columns["t"][:n] / 3.6e9, values[:n] / 1e6])
    return Figures(tables, lines, drawn)


def _cells(runs: pd.DataFrame) -> pd.DataFrame:
    keys = ["device", "firmware", *GROUP, "house", "spot", "loss"]
    cells = runs.groupby(keys, dropna=False, sort=True).mbit_s.agg(["count", "mean", "std", "min", "max"]).reset_index()
    half = student.ppf(0.975, np.maximum(cells["count"] - 1, 1)) * cells["std"] / np.sqrt(cells["count"].clip(lower=1))
    return cells.assign(low=(cells["mean"] - half).clip(lower=0), high=cells["mean"] + half)


def _lines(
    cells: pd.DataFrame,
) -> tuple[dict[tuple[str, ...], tuple[np.ndarray, np.ndarray]], dict[tuple[str, ...], np.ndarray]]:
    """The line of every device in every group, and its standard error, over GRID."""
    lines, errors = {}, {}
    known = cells.dropna(subset=["mean", "loss"]).sort_values("loss")
    for group, rows in known.groupby(GROUP):
        devices, place = np.unique(rows.device.to_numpy(), return_inverse=True)
        order = np.argsort(place, kind="stable")
        ends = np.concatenate([[0], np.cumsum(np.bincount(place))])
        x, y = rows.loss.to_numpy()[order], rows["mean"].to_numpy()[order]
        se = (rows["std"] / np.sqrt(rows["count"])).fillna(0.03 * rows["mean"]).to_numpy()[order]
        both = np.full((2, len(devices), len(GRID)), np.nan)
        for i in range(len(devices)):
            part = slice(ends[i], ends[i + 1])
            both[0, i] = np.interp(GRID, x[part], y[part], left=np.nan, right=np.nan)
            both[1, i] = np.interp(GRID, x[part], se[part], left=np.nan, right=np.nan)
        lines[group], errors[group] = (devices, both[0]), both[1]
    return lines, errors


def _rankings(
    lines: Mapping[tuple[str, ...], tuple[np.ndarray, np.ndarray]], errors: Mapping[tuple[str, ...], np.ndarray]
) -> pd.DataFrame:
    """Mean, its interval and the ranks it may have, of every device, group and window."""
    parts = []
    for group, (devices, values) in lines.items():
        for window, (low, high) in WINDOWS.items():
            inside = (low <= GRID) & (high >= GRID)
            whole = ~np.isnan(values[:, inside]).any(axis=1)
            mean, se = values[whole][:, inside].mean(axis=1), errors[group][whole][:, inside].mean(axis=1)
            apart = (mean[:, None] - mean) / np.maximum(np.hypot(se[:, None], se), 1e-9)
            best, worst = 1 + (apart < -1.96).sum(axis=1), (apart <= 1.96).sum(axis=1)
            columns = {"device": devices[whole], "group": "~".join(map(str, group)), "window": window}
            part = pd.DataFrame(columns | {"mean": mean, "low": mean - 1.96 * se, "high": mean + 1.96 * se})
            parts.append(part.assign(best=best, worst=worst).sort_values("mean", ascending=False))
    return pd.concat(parts, ignore_index=True)


def _pairs(
    lines: Mapping[tuple[str, ...], tuple[np.ndarray, np.ndarray]], errors: Mapping[tuple[str, ...], np.ndarray]
) -> pd.DataFrame:
    """Every two devices of every group over the range that both were tested in, with a verdict."""
    parts = []
    for group, (devices, values) in lines.items():
        a, b = np.triu_indices(len(devices), 1)
        known = (~np.isnan(values)).astype(float)
        filled, squares = np.nan_to_num(values), np.nan_to_num(errors[group]) ** 2
        shared = known @ known.T
        difference = (filled @ known.T - known @ filled.T) / np.maximum(shared, 1)
        variance = (squares @ known.T + known @ squares.T) / np.maximum(shared, 1)
        difference, error = difference[a, b], np.sqrt(variance[a, b])
        verdict = np.where(np.abs(difference) > 1.96 * error, "apart", "not told apart")
        verdict = np.where(shared[a, b] < 10, "nothing in common", verdict)
        columns = {
            "device": devices[a],
            "other": devices[b],
            "group": "~".join(map(str, group)),
            "shared": shared[a, b],
        }
        parts.append(pd.DataFrame(columns | {"difference": difference, "error": error, "verdict": verdict}))
    return pd.concat(parts, ignore_index=True)
