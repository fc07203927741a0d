"""What is known and measured of one device or client setup, as the show document of commands.md."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any, Literal

from builder.bench.bench import Bench, current_firmware, firmware_by_date, subject_named, unknown_name
from builder.bench.cells import Cell, cell_figure
from builder.bench.sessions import factor_json, normalised_cells, normalised_json, session_factors
from builder.registers.eirp import eirp_json, implied_eirps
from builder.registers.link_ceilings import radio_ceilings
from builder.registers.proposing import ProposedCeiling, proposal_json, row_name
from catalog.figure_names import SETTINGS_SIGN, parts_of_subject, split_settings
from catalog.records import Ceiling, Run


def named(bench: Bench, text: str) -> tuple[Literal["device", "client"], str]:
    """What an id names: a device (or device@firmware, device+settings), else a client setup; and its id.

    Raises  UnknownName with the nearest names for one that is neither.
    """
    if text in bench.clients and text not in bench.devices:
        return "client", text
    plain, _ = split_settings(text, bench.settings)
    if plain.partition("@")[0].partition(SETTINGS_SIGN)[0] not in bench.devices:
        raise unknown_name(f"There is no device or client setup {text!r}", text, [*bench.devices, *bench.clients])
    return "device", subject_named(bench, text).id


def client_json(
    bench: Bench,
    client_id: str,
    proposals: Iterable[ProposedCeiling],
    *,
    ceilings: Iterable[Ceiling],
    runs: Iterable[Run],
) -> dict[str, Any]:
    """Everything a script may ask of one client setup. Rates in Mbit/s.

    proposals  of the whole bench, ceilings and runs of the whole copy
    """
    client = bench.clients[client_id]
    client_ceilings = [c for c in ceilings if c.client == client_id]
    numbers = {c.run_id for c in client_ceilings}
    evidence = {r.run_id: row_name(r) for r in runs if r.run_id in numbers}
    return {
        "client": client_id,
        "name": client.name,
        "amendment": client.amendment,
        "drivers": [{"version": d.version, "series": d.series} for d in client.drivers],
        "links": [
            {"band": r.band, "width_mhz": one.width_mhz, "streams": one.streams, "phy_mbit_s": one.mbit_s}
            for r in client.radios
            for one in radio_ceilings(client, r.band)
        ],
        "ceilings": [
            {
                "band": c.band,
                "width_mhz": c.width_mhz,
                "direction": c.direction,
                "mbit_s": c.throughput_mbit_s,
                "device": c.device,
                "evidence": evidence.get(c.run_id),
            }
            for c in client_ceilings
        ],
        "proposed_ceilings": [proposal_json(one) for one in proposals if one.client == client_id],
    }


def show_json(
    bench: Bench,
    identifier: str,
    proposals: Iterable[ProposedCeiling] = (),
    *,
    gaps: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, Any]:
    """Everything a script may ask of one device. Rates in Mbit/s, losses in dB, levels in dBm.

    identifier of the device, or of it under settings: then its results under these
    proposals  ceilings suspected in the whole bench; those this device is evidence of are named
    gaps       figure of a cell -> the remark on logs that do not cover its runs
    """
    device_id, settings = parts_of_subject(identifier)
    device = bench.devices[device_id]
    current = current_firmware(bench, identifier)
    factors = session_factors(bench)
    values = {id(cell): one for cell, one in normalised_cells(bench, factors, identifier)}
    days = {(cell.house, cell.session, cell.group) for cell in bench.cells_of.get(identifier, ())}
    return {
        "device": device_id,
        "settings": settings or None,
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
        "implied_eirp": [eirp_json(result) for result in implied_eirps(bench, subject_named(bench, identifier))],
        "odd_sessions": [
            factor_json(one) for key, one in factors.items() if key in days and (one.odd or one.state == "set aside")
        ],
        "proposed_ceilings": [proposal_json(one) for one in proposals if device_id in one.plateaus],
        "cells": [
            {
                **cell_json(c),
                "normalised": None if id(c) not in values else normalised_json(values[id(c)]),
                "gaps": gaps.get(cell_figure(c)),
            }
            for c in bench.cells_of.get(identifier, ())
        ],
        "also_under": sorted(
            {c.settings for c in bench.cells_under if c.device == device_id and c.settings} - {settings}
        ),
    }


def cell_json(cell: Cell) -> dict[str, Any]:
    """One cell; mean and sd are null where nothing finished, or only once."""
    return {
        "unit": cell.unit,
        "firmware": cell.firmware,
        "client": cell.client,
        "driver": cell.driver,
        "session": cell.session,
        **({"settings": cell.settings} if cell.settings else {}),
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
        **({"summary": cell.summary} if cell.summary else {}),
        "median": cell.median,
        "bound": cell.bound,
        "median_bound": cell.median_bound,
        "limit": cell.limit,
        "did_not_finish": cell.did_not_finish,
        "outcomes": dict(sorted(cell.outcomes.items())),
        "figure": cell_figure(cell),
    }
