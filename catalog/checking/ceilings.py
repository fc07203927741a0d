"""Ceilings of client setups: each rests on a run that is its evidence, `batch/table/row`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from catalog.checking import keys
from catalog.checking.keys import Key, Section
from catalog.checking.known import Device, Known, Row, came_again
from catalog.checking.things import Things
from catalog.checking.troubles import Trouble
from catalog.method import PORT_TOLERANCE
from catalog.reading.format import FINISHED
from catalog.reading.rawtable import table_stem
from catalog.records.origins import names_file, row_id
from catalog.row_numbers import place_text, typed_place
from catalog.standards import tcp_port_limit_mbit_s, tcp_port_limit_with_timestamps_mbit_s

_CEILING = {
    "band": Key(keys.band, "band", True),
    "width_mhz": Key(keys.whole(20, 320), "width_mhz", True),
    "direction": Key(keys.direction, "direction", True),
    "run": Key(keys.text, "run", True),
}


def read_ceilings(things: Things, known: Known, runs: Iterable[Row], held: Mapping[tuple[str, str], str]) -> None:
    """[[client.ceiling]] of all clients.

    runs  all runs of this batch, new or already in the catalogue, with run_id
    held  (name of the table, row) of rows of this batch that are held, so that the message can say so
    """
    sections = [
        (client.values.get("id"), ceiling)
        for client in things.root.children("client")
        for ceiling in client.children("ceiling")
    ]
    if not sections:
        return
    by_place: dict[tuple[str, str], dict[str, Row]] = {}
    for row in (*known.measured("run"), *({**row, "batch_id": things.batch_id} for row in runs)):
        by_place.setdefault((row["batch_id"], place_text(row["source_row"])), {})[row["source_file"]] = row
    there = {
        (row["client_id"], row["band"], row["width_mhz"], row["direction"], row["run_id"]): row
        for row in known.measured("ceiling")
    }
    for client_id, section in sections:
        row = section.read(_CEILING)
        if len(row) < len(_CEILING) or not isinstance(client_id, str):
            continue
        run = _evidence(section, row.pop("run"), by_place, held, things.batch_id)
        if run is None:
            continue
        if (trouble := _unfit(client_id, row, run, known)) is not None:
            section.refuse("run", trouble, section.values["run"])
            continue
        key = (client_id, row["band"], row["width_mhz"], row["direction"], run["run_id"])
        if key not in there:
            stored = {"client_id": client_id, **row, "run_id": run["run_id"], **things.origin(section)}
            there[key] = stored
            things.rows.setdefault("ceiling", []).append(stored)
        elif there[key]["batch_id"] != things.batch_id:
            things.again.append(came_again("ceiling", there[key], things.origin(section)))


def _evidence(
    section: Section,
    typed: str,
    runs: Mapping[tuple[str, str], Mapping[str, Row]],
    held: Mapping[tuple[str, str], str],
    batch_id: str,
) -> Row | None:
    parts = typed.split("/")
    number = typed_place(parts[-1])
    if len(parts) != 3 or number is None:
        form = Trouble(
            f"{typed!r} names no run.",
            "Write batch/table/row, such as 2025-05-shale-2/runs/14.",
            "ceiling-evidence",
        )
        section.refuse("run", form, typed)
        return None
    batch, name = parts[:2]
    there = {file: row for file, row in runs.get((batch, number), {}).items() if names_file(name, file)}
    if len({row["run_id"] for row in there.values()}) > 1:  # a batch may come again in other files
        which = Trouble(
            f"{typed} would be a row of {' and of '.join(sorted(there))}.",
            f"Name the file, such as {batch}/{min(there)}/{number}.",
            "two-sources",
        )
        section.refuse("run", which, typed)
        return None
    run = next(iter(there.values()), None)
    if run is None and not (batch == batch_id and (table_stem(name), number) in held):
        nowhere = Trouble(
            f"There is no run at {typed}, so the ceiling has no evidence.",
            "Count rows as the spreadsheet does: the header is row 1.",
            "ceiling-evidence",
        )
        section.refuse("run", nowhere, typed)
    return run


def _unfit(client_id: str, ceiling: Row, run: Row, known: Known) -> Trouble | None:
    """Why a run is not evidence for a ceiling."""
    where = row_id(run["batch_id"], run["source_file"], run["source_row"])
    if run["outcome"] != FINISHED or run["throughput_mbit_s"] is None:
        return Trouble(f"The run at {where} did not finish.", "Name a finished run.", "ceiling-evidence")
    for column, wanted in (
        ("client_id", client_id),
        *((name, ceiling[name]) for name in ("band", "width_mhz", "direction")),
    ):
        if run[column] != wanted:
            name = column.removesuffix("_id").removesuffix("_mhz")
            return Trouble(
                f"The run at {where} has {name} {run[column]}, not {wanted}.",
                "Name a run of this kind.",
                "ceiling-evidence",
            )
    device = known.devices.get(run["device_id"])
    if device is not None and (port := limiting_port(device, run["throughput_mbit_s"])) is not None:
        return Trouble(
            f"The run at {where} went through a port of {port:g} Mbit/s of {run['device_id']} and reached that limit, "
            "so it shows the port, not the client.",
            "Use a run through a faster port.",
            "ceiling-through-port",
        )
    return None


def limiting_port(device: Device, mbit_s: float) -> float | None:
    """The fastest port of a device, where a throughput lies within 3 % of what it can carry. [Mbit/s]"""
    if not device.ports:
        return None
    port = max(device.ports.values())
    for limit in (tcp_port_limit_mbit_s(port), tcp_port_limit_with_timestamps_mbit_s(port)):
        if abs(mbit_s - limit) <= PORT_TOLERANCE * limit:
            return port
    return None
