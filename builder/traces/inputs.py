"""Inputs of a figure down to file and row, as a trace prints them. Rates in Mbit/s, losses in dB, levels in dBm."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlite_utils import Database

from builder.bench.asking import bench_of_some
from builder.bench.bench import Bench, load_bench
from builder.bench.cells import Cell, cell_figure
from builder.bench.reference import reference_chain
from builder.bench.weighted import Match, Weighted
from builder.pairs.links_at_spots import since_on
from catalog import queries
from catalog.method import PRACTICE_SIGMA_DB
from catalog.records import Ceiling, Correction, Link, Run, Source, SpotReading
from catalog.records.origins import row_id
from catalog.row_numbers import cell_of, row_of

Json = dict[str, Any]


@dataclass(frozen=True)
class Sources:
    """A copy of a catalogue with what says where its values came from."""

    db: Database
    bench: Bench
    runs: Mapping[int, Run]
    readings: Mapping[tuple[str, str, str, str], Sequence[SpotReading]]
    files: Mapping[tuple[str, str], str]
    ceilings: Sequence[Ceiling]
    corrections: Mapping[int, Sequence[Correction]]
    digests: Mapping[tuple[str, int], Mapping[str, float]]
    sheets: Mapping[tuple[str, str], Source]


def load_sources(db: Database, *, links: Iterable[Link] | None = None) -> Sources:
    """Read a copy of a catalogue for tracing; of *links* alone, if they are given, with what every bench needs."""
    readings: dict[tuple[str, str, str, str], list[SpotReading]] = defaultdict(list)
    for reading in queries.spot_readings(db):
        readings[reading.house, reading.spot, reading.band, reading.valid_from].append(reading)
    corrections: dict[int, list[Correction]] = defaultdict(list)
    for one in queries.corrections(db):
        if one.run_id is not None:
            corrections[one.run_id].append(one)
    runs = queries.runs(db) if links is None else queries.runs_of_links(db, links)
    return Sources(
        db=db,
        bench=load_bench(db, runs=runs) if links is None else bench_of_some(db, runs),
        runs={run.run_id: run for run in runs},
        readings=readings,
        files={(f.batch_id, f.path): f.sha256 for f in queries.raw_files(db)},
        ceilings=queries.ceilings(db),
        corrections=corrections,
        digests=queries.digests(db),
        sheets={(one.batch_id, one.source_file): one for one in queries.sources(db)},
    )


def place_of_row(sources: Sources, batch: str, file: str, row: int | None) -> Json:
    """Where a value stands; row and sha256 are null where the copy leaves them out, because the file holds more than it shows.

    "bench.xlsx/runs" is the sheet Runs of a workbook, with the hash of the workbook. A row that a reading map read says
    its id, its sheet and the map, too, and its cell if it is one.
    """
    whole = sources.files.get((batch, file)) or sources.files.get((batch, file.rpartition("/")[0]))
    place: Json = {"batch": batch, "file": file, "row": row, "sha256": whole}
    if row is None or (read := sources.sheets.get((batch, file))) is None:
        return place
    place |= {"row": row_of(row), "id": row_id(batch, file, row)}
    if cell := cell_of(row):
        place["cell"] = cell
    place["file"] = file.rpartition("/")[0]
    plan = {"file": read.map_path, "sha256": sources.files.get((batch, read.map_path))}
    return place | {"sheet": read.sheet, "map": plan}


def log_place(sources: Sources, batch: str, log_path: str, *, owner: tuple[str, int]) -> Json:
    """Where a log is: its path may stand behind the name of a reading map, "MAP:path". And its rows, as far as known.

    owner  of the log: "run", "station" or "longrun", and its number
    """
    name, colon, path = log_path.partition(":")
    mapped = bool(colon) and "/" not in name
    file = path.strip() if mapped else log_path
    result: Json = {"batch": batch, "file": file, "sha256": sources.files.get((batch, file))}
    if mapped:
        plan = f"maps/{name.strip()}.toml"
        result["map"] = {"file": plan, "sha256": sources.files.get((batch, plan))}
    digest = sources.digests.get(owner, {})
    if result["sha256"] is not None and "first_row" in digest:
        result["rows"] = [int(digest["first_row"]), int(digest["last_row"])]
    return result


def side_json(sources: Sources, side: str, weighted: Weighted, match: Match) -> Json:
    """One device's share in a figure: every cell with its weight; a cell of weight 0 only lends its spread."""
    return {
        "side": side,
        "sign": weighted.sign,
        "slope_mbit_s_per_db": weighted.slope,
        "cells": [
            cell_input(sources, cell, match, weight=weight)
            for cell, weight in zip(weighted.cells, weighted.weights, strict=True)
        ],
    }


def cell_input(sources: Sources, cell: Cell, match: Match, *, weight: float) -> Json:
    """A cell as an input: its value with its weight, what the uncertainty needs, its runs and the spot's readings."""
    finished = [sources.runs[i] for i in cell.run_ids if sources.runs[i].throughput_mbit_s is not None]
    return {
        "cell": cell_figure(cell),
        "weight": weight,
        "x": cell.level_dbm if match == "level" else cell.attenuation_db,
        "mean": cell.mean,
        "sd": cell.sd,
        "n": cell.n,
        **({"summary": cell.summary} if cell.summary else {}),
        "bound": cell.bound,
        "limit": cell.limit,
        "device": cell.device,
        **({"settings": settings_json(sources, cell.settings)} if cell.settings else {}),
        "unit": cell.unit,
        "firmware": cell.firmware,
        "house": cell.house,
        "session": cell.session,
        "place": list(cell.place),
        "kit": cell.kit or cell.house,
        "visits": [{"visit": list(visit), "share": share} for visit, share in cell.visits],
        "runs": [run_input(sources, run) for run in finished],
        "readings": [] if cell.group.several_links else readings_input(sources, cell),
        **({"link_readings": readings_input(sources, cell)} if cell.group.several_links else {}),
    }


def run_input(sources: Sources, run: Run) -> Json:
    """One finished run, down to its row, with what it was before a correction."""
    results = {
        **place_of_row(sources, run.batch_id, run.source_file, run.source_row),
        "at_utc": run.at_utc,
        "repeat": run.repeat,
        "typed": run.throughput_typed,
        "mbit_s": run.throughput_mbit_s,
        "level_dbm": run.level_dbm,
        "attenuation_db": run.attenuation_db if run.attenuation_typed else None,
    }
    if run.log_path is not None:
        results["log"] = log_place(sources, run.batch_id, run.log_path, owner=("run", run.run_id))
    if corrected := sources.corrections.get(run.run_id):
        results["corrected"] = [
            {"column": c.column, "was": c.was, "now": c.now, "reason": c.reason, "date": c.date} for c in corrected
        ]
    return results


def readings_input(sources: Sources, cell: Cell) -> list[Json]:
    """The readings behind a spot's attenuation, with several links behind that of each; none for a typed one."""
    if cell.spot is None:
        return []
    house, spot = cell.house, cell.spot
    keys = [(house, spot, band, since_on(sources.bench, cell, band)) for band in cell.group.band.split("+")]
    return [
        {
            **place_of_row(sources, r.batch_id, r.source_file, r.source_row),
            **({"band": r.band} if cell.group.several_links else {}),
            "reference_eirp_dbm": r.reference_eirp_dbm,
            "reading_dbm": r.reading_dbm,
        }
        for key in keys
        for r in sources.readings.get(key, ())
        if r.reading_dbm is not None
    ]


def settings_json(sources: Sources, settings: str) -> Json:
    """Settings with all that they set, down to where they were declared."""
    one = sources.bench.settings[settings]
    place = place_of_row(sources, one.batch_id, one.source_file, one.source_row)
    return {"id": one.settings_id, "title": one.title, **dict(one.conditions), "declared": place}


def constants_json(sources: Sources, match: Match) -> Json:
    """The constants in force for one match: each with its value and where it comes from."""
    constants = sources.bench.constants

    def sigma(value: float | None) -> Json:
        return {
            "value": PRACTICE_SIGMA_DB if value is None else value,
            "source": "assumed" if value is None else "declared",
        }

    result: Json = {}
    if match == "attenuation":
        if constants.attenuation_sigma_db is not None:
            result["attenuation_sigma_db"] = sigma(constants.attenuation_sigma_db)
        result["calibration_sigma_db"] = sigma(constants.calibration_sigma_db)
    elif match == "level":
        result["level_sigma_db"] = sigma(constants.level_sigma_db)
    if constants.house_spread_mbit_s is not None:
        result["house_spread_mbit_s"] = {"value": constants.house_spread_mbit_s, "source": "declared"}
    elif constants.house_spread_percent is not None:
        result["house_spread_percent"] = {"value": constants.house_spread_percent, "source": "declared"}
    return result


def scatter_json(sources: Sources, cells: Iterable[Cell]) -> Json:
    """Of every house that takes part: day-to-day spread (a fraction) and placement [dB], with degrees of freedom (null:
    infinitely many), and what its reference device did where that shows them.
    """
    bench = sources.bench
    houses = sorted({c.house for c in cells})
    return {
        "session_spreads": {
            name: {
                "fraction": (day := bench.scatter.day(name)).fraction,
                "df": None if math.isinf(day.df) else day.df,
                "source": day.source,
            }
            for name in houses
        },
        "placements": {
            name: {
                "sigma_db": (placement := bench.scatter.placement(name)).sigma_db,
                "df": None if math.isinf(placement.df) else placement.df,
                "source": placement.source,
            }
            for name in houses
        },
        "reference_devices": {name: reference for name in houses if (reference := _reference_json(bench, name))},
    }


def _reference_json(bench: Bench, name: str) -> Json | None:
    """What days and placement of a house were learnt from; None where nothing was."""
    house = bench.houses[name]
    chain = reference_chain(house, bench.cells_of.get(house.reference_device or "", ()))
    if chain is None:
        return None
    return {
        "device": house.reference_device,
        "sessions": list(chain.sessions),
        "spots": [list(spot) for spot in chain.spots],
        "cells": [
            [
                {"cell": cell_figure(c), "attenuation_db": c.attenuation_db, "mean": c.mean, "sd": c.sd, "n": c.n}
                for c in row
            ]
            for row in chain.cells
        ],
    }


def ceilings_json(sources: Sources, cells: Iterable[Cell]) -> list[Json]:
    """The ceilings and lab limits that the cells were held against, with their evidence."""
    bench = sources.bench
    results: list[Json] = []
    keys = sorted({(c.client, c.group.band, c.group.width_mhz, c.group.direction) for c in cells})
    for client, band, width_mhz, direction in keys:
        evidence = [
            c
            for c in sources.ceilings
            if (c.client, c.band, c.width_mhz, c.direction) == (client, band, width_mhz, direction)
        ]
        if evidence:
            best = max(evidence, key=lambda c: c.throughput_mbit_s)
            run = sources.runs[best.run_id]
            results.append(
                {
                    "client": client,
                    "band": band,
                    "width_mhz": width_mhz,
                    "direction": direction,
                    "mbit_s": best.throughput_mbit_s,
                    "evidence": place_of_row(sources, run.batch_id, run.source_file, run.source_row),
                }
            )
    for house in sorted({c.house for c in cells} & bench.limits.labs.keys()):
        results.append({"house": house, "mbit_s": bench.limits.labs[house]})
    for device in sorted({c.device for c in cells} & bench.limits.ports.keys()):
        results.append({"device": device, "port_mbit_s": bench.limits.ports[device]})
    return results


def excluded_json(sources: Sources, cells: Iterable[Cell], *, match: Match | None) -> list[Json]:
    """What the figure leaves out of the cells it looks at, and why: runs without a value, cells without a place."""
    results: list[Json] = []
    for cell in cells:
        for number in cell.run_ids:
            run = sources.runs[number]
            place = place_of_row(sources, run.batch_id, run.source_file, run.source_row)
            if run.throughput_mbit_s is None:
                results.append({**place, "why": f"the run ended as {run.outcome}, so it has no value; it is counted"})
            elif match == "attenuation" and cell.attenuation_db is None:
                results.append({**place, "why": "its place has no measured attenuation"})
            elif match == "level" and cell.level_dbm is None:
                results.append({**place, "why": "no received level was noted"})
    return results
