"""Figures computed again from a trace document and the files it names: nothing here is imported from the project.

Lines by numpy's interpolation and trapezoids, quantiles by scipy. Rates in Mbit/s, x in dB.
"""

import csv
import hashlib
import math
from collections import defaultdict
from functools import cache
from pathlib import Path

import numpy as np
from scipy import stats


def cells_of(side):
    """Cells of a side as (x, mean, sd, n, cell), from their runs and the spot's readings alone."""
    found = []
    for cell in side["cells"]:
        values = [run["mbit_s"] for run in cell["runs"]]
        if cell["readings"]:
            x = np.mean([r["reference_eirp_dbm"] for r in cell["readings"]]) - np.mean(
                [r["reading_dbm"] for r in cell["readings"]]
            )
        elif cell["runs"][0]["attenuation_db"] is not None:
            x = cell["runs"][0]["attenuation_db"]
        else:
            x = math.nan
        sd = float(np.std(values, ddof=1)) if len(values) > 1 else None
        found.append((float(x), float(np.mean(values)), sd, len(values), cell))
    return found


def level_of(cell):
    levels = [run["level_dbm"] for run in cell["runs"] if run["level_dbm"] is not None]
    return -float(np.mean(levels))


def shares(cells):
    """Knots (rising x) and every cell's share in its knot."""
    knots = sorted({round(x, 9) for x, *_ in cells})
    total = {k: sum(n for x, _, _, n, _ in cells if round(x, 9) == k) for k in knots}
    return np.array(knots), [(knots.index(round(x, 9)), n / total[round(x, 9)]) for x, _, _, n, _ in cells]


def weights_over(cells, low, high):
    """Weight of every cell in the mean of the line over a range: the trapezoid under its hat function."""
    knots, own = shares(cells)
    grid = np.unique(np.concatenate([[low, high], knots[(knots > low) & (knots < high)]]))
    hats = [np.trapezoid(np.interp(grid, knots, np.eye(len(knots))[i]), grid) / (high - low) for i in range(len(knots))]
    return [hats[i] * share for i, share in own]


def slope_over(cells, low, high):
    """Least squares through the knots inside; the two ends where there are fewer than two."""
    knots, own = shares(cells)
    values = np.zeros(len(knots))
    for (i, share), (_, mean, *_) in zip(own, cells, strict=True):
        values[i] += share * mean
    inside = (knots >= low - 1e-9) & (knots <= high + 1e-9)
    if inside.sum() >= 2:
        return float(np.polyfit(knots[inside], values[inside], 1)[0])
    ends = np.interp([low, high], knots, values)
    return float((ends[1] - ends[0]) / (high - low))


def uncertainty(document, sides, match):
    """(u, degrees of freedom) of the signed sum of sides (sign, cells, weights, slope), term by term."""
    constants = {name: one["value"] for name, one in document["constants"].items()}
    parts = []
    entries = [
        (s, m, sd, n, cell, sign * w)
        for sign, cells, ws, _ in sides
        for (s, m, sd, n, cell), w in zip(cells, ws, strict=True)
    ]
    pool = [(sd / m, n - 1) for _, m, sd, n, _, _ in entries if sd is not None and m]
    single = 0.0
    for _, mean, sd, n, _, w in entries:
        if w == 0:
            continue
        if sd is not None:
            parts.append((w**2 * sd**2 / n, n - 1))
        elif "house_spread_mbit_s" in constants:
            parts.append(((w * constants["house_spread_mbit_s"]) ** 2, math.inf))
        elif "house_spread_percent" in constants:
            parts.append(((w * mean * constants["house_spread_percent"] / 100) ** 2, math.inf))
        else:
            single += (w * mean) ** 2
    if single:
        df = sum(d for _, d in pool)
        parts.append((single * sum(d * r**2 for r, d in pool) / df, df))
    sessions = defaultdict(float)
    for _, mean, _, _, cell, w in entries:
        if w:
            sessions[cell["house"], cell["session"]] += w * mean
    if not (len(sides) > 1 and len(sessions) == 1):
        for house in {h for h, _ in sessions}:
            spread = document["session_spreads"][house]
            c, df = spread["fraction"], spread["df"] or math.inf
            if spread["source"] == "measured":
                c, df = day_spread(document["reference_devices"][house])
            parts.append((c**2 * sum(v**2 for (h, _), v in sessions.items() if h == house), df))
    if match != "level":
        visits = defaultdict(float)
        for sign, cells, ws, slope in sides:
            for (*_, cell), w in zip(cells, ws, strict=True):
                for one in cell["visits"]:
                    visits[cell["house"], *one["visit"]] += sign * w * one["share"] * slope
        for house in sorted({name for name, *_ in visits}):
            placed = document["placements"][house]
            sigma, df = placed["sigma_db"], placed["df"] or math.inf
            if placed["source"] == "measured":
                sigma, df = placement(document["reference_devices"][house])
            parts.append((sigma**2 * sum(v**2 for (h, *_), v in visits.items() if h == house), df))
    if match == "attenuation":
        spots, variances, kits = defaultdict(float), {}, defaultdict(float)
        for sign, cells, ws, slope in sides:
            for (_, _, _, _, cell), w in zip(cells, ws, strict=True):
                own = () if cell["readings"] else (cell["device"], cell["unit"], cell["firmware"])
                key = (*own, *cell["place"])
                read = [r["reading_dbm"] for r in cell["readings"]]
                spots[key] += sign * w * slope
                own = np.var(read, ddof=1) if len(read) >= 4 else document["placements"][cell["house"]]["sigma_db"] ** 2
                variances[key] = constants.get("attenuation_sigma_db", math.sqrt(own / max(1, len(read)))) ** 2
                kits[cell["kit"]] += sign * w * slope
        kit = constants["calibration_sigma_db"]
        parts.append((sum(variances[k] * v**2 for k, v in spots.items()), math.inf))
        parts.append((kit**2 * sum(v**2 for v in kits.values()), math.inf))
    elif match == "level":
        level = constants["level_sigma_db"]
        parts.append((level**2 * sum((w * slope) ** 2 for _, _, ws, slope in sides for w in ws), math.inf))
    total = sum(v for v, _ in parts)
    weight = sum(v**2 / df for v, df in parts if v)
    return math.sqrt(total), (total**2 / weight if weight else math.inf)


def _relative(reference):
    """value / long-run mean of its spot, sessions down and spots across, and those means."""
    values = np.array([[cell["mean"] for cell in row] for row in reference["cells"]])
    return values / values.mean(axis=0), values.mean(axis=0)


def day_spread(reference):
    """What all spots of a session share, as a fraction, with its degrees of freedom."""
    relative, _ = _relative(reference)
    sessions, spots = relative.shape
    matrix = np.cov(relative.T)
    common = matrix[~np.eye(spots, dtype=bool)].mean()
    if common < 0.01**2:
        return 0.01, math.inf
    rest = (matrix.diagonal().mean() - common) / spots
    df = (sessions - 1) * common**2 / ((common + rest) ** 2 + rest**2 / (spots - 1))
    return math.sqrt(common), max(df, 2.0)


def placement(reference):
    """Scatter of standing there again, in dB, with its degrees of freedom; every cell here has repeats."""
    relative, means = _relative(reference)
    sessions, spots = relative.shape
    matrix = np.cov(relative.T)
    rest = matrix.diagonal().mean() - matrix[~np.eye(spots, dtype=bool)].mean()
    losses = np.array([cell["attenuation_db"] for cell in reference["cells"][0]])
    slopes = []
    for x in losses:
        near = np.abs(losses - x) <= 12 + 1e-9
        slopes.append(np.polyfit(losses[near], means[near], 1)[0])
    noise = np.array([[cell["sd"] ** 2 / cell["n"] for cell in row] for row in reference["cells"]]) / means**2
    variance = (spots * rest - noise.mean(axis=0).sum()) / sum((np.array(slopes) / means) ** 2)
    return (math.sqrt(variance) if variance > 0 else 0.3), (sessions - 1) * (spots - 1)


def half_width(u, df):
    return u * (stats.norm.ppf(0.975) if math.isinf(df) else stats.t.ppf(0.975, df))


def check_places(document, folders):
    """Every input and exclusion stands where the trace says: the file has that hash, and the row holds that value."""
    seen = 0
    for side in document["inputs"]:
        for cell in side.get("cells", ()):
            for place, typed in [(r, r["typed"]) for r in cell["runs"]] + [(r, None) for r in cell["readings"]]:
                row = row_at(place, folders)
                if typed is not None:
                    assert typed in row, (place, row)
                else:
                    assert f"{place['reading_dbm']:g}" in [f"{float(v):g}" for v in row if _is_number(v)], (place, row)
                seen += 1
    return seen


def row_at(place, folders):
    """The cells of the row a place names, once the file's hash was seen to be the one told."""
    digest, lines = _file(folders[place["batch"]] / place["file"])
    assert digest == place["sha256"]
    return lines[place["row"] - 1]


def log_rows(log, folders):
    """The rows of a log as dicts, once its hash was seen to be the one told."""
    digest, (header, *lines) = _file(folders[log["batch"]] / log["file"])
    assert digest == log["sha256"]
    return [dict(zip(header, line, strict=True)) for line in lines]


def request_rows(log, folders):
    """The rows of a request log as t_s, ms, outcome; those of the demo's packet counter by hand, as its map has them."""
    rows = log_rows(log, folders)
    if "sent" not in rows[0]:
        return rows
    ends = {"+": "finished", "-": "failed"}
    return [{"t_s": int(row["sent"]) / 1000, "ms": row["took"], "outcome": ends[row["back"]]} for row in rows]


@cache
def _file(path):
    content = path.read_bytes()
    return hashlib.sha256(content).hexdigest(), list(csv.reader(content.decode("utf-8-sig").splitlines()))


def folders_by_batch(*roots: Path):
    """Batch id -> its folder, by the id that batch.toml states."""
    import tomllib

    found = {}
    for root in roots:
        for toml in sorted(root.glob("**/batch.toml")):
            found[tomllib.loads(toml.read_text(encoding="utf-8"))["id"]] = toml.parent
    return found


def _is_number(text):
    try:
        float(text)
    except ValueError:
        return False
    return True
