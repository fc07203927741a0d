"""What is known and measured of one device, as the show document of commands.md."""

from __future__ import annotations

from typing import Any

from builder.comparisons.bench import Bench, current_firmware, firmware_by_date, subject
from builder.comparisons.cells import Cell, joined_id
from builder.comparisons.eirp import eirp_json, implied_eirps
from builder.comparisons.normalised import factor_json, normalised_cells, normalised_json, session_factors


def show_json(bench: Bench, device_id: str) -> dict[str, Any]:
    """Everything a script may ask of one device. Rates in Mbit/s, losses in dB, levels in dBm."""
    device = bench.devices[device_id]
    current = current_firmware(bench, device_id)
    factors = session_factors(bench)
    values = {id(cell): one for cell, one in normalised_cells(bench, factors, device_id)}
    days = {(cell.house, cell.session, cell.group) for cell in bench.cells_of.get(device_id, ())}
    return {
        "device": device_id,
        "maker": device.maker,
        "model": device.model,
        "kind": device.kind,
        "amendment": device.amendment,
        "revision": device.revision,
        "aliases": list(device.aliases),
        "units": [
            {"unit": u.unit_id, "origin": u.origin, "by": u.given_by, "received": u.received, "returned": u.returned}
            for u in device.units
        ],
        "firmware": [
            {"version": f.version, "released": f.released, "public": f.public, "current": f.version == current}
            for f in firmware_by_date(device)
        ],
        "implied_eirp": [eirp_json(found) for found in implied_eirps(bench, subject(bench, device_id))],
        "odd_sessions": [
            factor_json(one) for key, one in factors.items() if key in days and (one.odd or one.state == "set aside")
        ],
        "cells": [
            {
                **cell_json(c),
                "normalised": None if id(c) not in values else normalised_json(values[id(c)]),
            }
            for c in bench.cells_of.get(device_id, ())
        ],
    }


def cell_json(cell: Cell) -> dict[str, Any]:
    """One cell; mean and sd are null where nothing finished, or only once."""
    return {
        "unit": cell.unit,
        "firmware": cell.firmware,
        "client": cell.client,
        "driver": cell.driver,
        "session": cell.session,
        "band": cell.group.band,
        "width_mhz": cell.group.width_mhz,
        "direction": cell.group.direction,
        "protocol": cell.group.protocol,
        "flows": cell.group.flows,
        "security": cell.group.security,
        "spot": cell.spot,
        "spot_since": cell.spot_since,
        "attenuation_db": cell.attenuation_db,
        "level_dbm": cell.level_dbm,
        "n": cell.n,
        "mean": cell.mean,
        "sd": cell.sd,
        "median": cell.median,
        "bound": cell.bound,
        "median_bound": cell.median_bound,
        "limit": cell.limit,
        "did_not_finish": cell.did_not_finish,
        "outcomes": dict(sorted(cell.outcomes.items())),
        "figure": cell_figure(cell),
    }


def cell_figure(cell: Cell) -> str:
    """Id of a cell's figure: what it is about, never a row number or a value."""
    return "~".join(
        [
            joined_id("cell", cell.device, cell.unit, cell.firmware, cell.client, cell.driver or ""),
            cell.group.slug,
            joined_id(*cell.place, cell.session),
        ]
    )
