"""Ceilings the tool suspects; a person accepts one by registering its evidence run (method.md, section 4)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder import wording
from builder.bench.bench import Bench
from builder.bench.bounds import CeilingKey, at_port_limit
from builder.bench.cells import Cell
from builder.bench.naming import device_name
from builder.registers.link_ceilings import link_ceiling
from catalog.records import Run
from catalog.records.origins import row_id

AGREE_WITHIN = 0.03
LEAST_DEVICES = 2
LEAST_RANGE_DB = 6.0
PHY_FACTOR = 1.5  # the radio link would allow at least so many times what was seen

Plateau = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ProposedCeiling:
    """A client setup that never gives more, whatever it is connected to.

    best      the highest mean of a cell [Mbit/s]
    plateaus  device -> the range of attenuation over which it stays within 3 % of best [dB]
    evidence  the run to register: "batch/table/row"; None where the copy leaves the row out
    known     the ceiling registered now; None: none is [Mbit/s]
    """

    client: str
    band: str
    width_mhz: int
    direction: str
    best: float
    plateaus: Mapping[str, Plateau]
    evidence: str | None
    known: float | None

    @property
    def sentence(self) -> str:
        devices = wording.listing(
            [f"{device} at {wording.db_range(*span)} dB" for device, span in sorted(self.plateaus.items())]
        )
        run = f" Register the run {self.evidence} as its ceiling if you agree." if self.evidence else ""
        return (
            f"{self.client} may be the limit at {wording.rate(self.best)} Mbit/s ({wording.band(self.band)}, "
            f"{wording.width(self.width_mhz)}, {self.direction}): {devices} agree within "
            f"{wording.percent(AGREE_WITHIN)}, and the radio link would carry {PHY_FACTOR:g} times as much.{run}"
        )


def suspicion_sentence(bench: Bench, result: ProposedCeiling) -> str:
    """The public sentence on a suspected ceiling: what was seen, and that it is not yet confirmed."""
    spans = [
        f"{device_name(bench, device)} at {wording.db_range(*span)} dB"
        for device, span in sorted(result.plateaus.items())
    ]
    link = wording.conditions(band_name=result.band, width_mhz=result.width_mhz, direction=result.direction)
    return (
        f"Not shown yet: with {link}, {wording.listing(spans)} all gave within {wording.percent(AGREE_WITHIN)} of "
        f"{wording.rate(result.best)} Mbit/s, where the radio link could carry {PHY_FACTOR:g} times as much. That may be "
        "this client’s limit, or chance; no run shows it, so no result is marked as limited by it."
    )


def proposed_ceilings(
    bench: Bench, runs: Mapping[int, Run], *, only: Container[CeilingKey] | None = None
) -> list[ProposedCeiling]:
    """Every suspected ceiling, by client, band, width and direction; of *only* some of these where they are given.

    Left out: values already held back by a registered ceiling or a lab limit, and those at the limit of the device's
    own port, which explains them.
    """
    results = [
        _proposed(bench, key, cells, runs)
        for key, cells in sorted(_by_link(bench, bench.cells).items())
        if only is None or key in only
    ]
    return [one for one in results if one is not None]


def links_suspected(bench: Bench, device: str) -> frozenset[CeilingKey]:
    """Where a device may be evidence of a ceiling: where it would be, were its own values the highest.

    With a higher one elsewhere fewer of its cells are near, and the radio link has to allow more. So of all other links
    nothing has to be known of other devices.
    """
    return frozenset(
        key for key, cells in _by_link(bench, bench.cells_of.get(device, ())).items() if _plateaus(bench, cells)[1]
    )


def _by_link(bench: Bench, cells: Iterable[Cell]) -> dict[CeilingKey, list[Cell]]:
    """Cells that may show a ceiling."""
    grouped: dict[CeilingKey, list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.mean is not None and cell.attenuation_db is not None and not cell.bound:
            port = bench.limits.ports.get(cell.device)
            if port is None or not at_port_limit(cell.mean, port):
                key = (cell.client, cell.group.band, cell.group.width_mhz, cell.group.direction)
                grouped[key].append(cell)
    return grouped


def proposal_json(result: ProposedCeiling) -> dict[str, Any]:
    """One proposal: rates in Mbit/s, ranges in dB."""
    return {
        "client": result.client,
        "band": result.band,
        "width_mhz": result.width_mhz,
        "direction": result.direction,
        "best": result.best,
        "known": result.known,
        "devices": {device: list(span) for device, span in sorted(result.plateaus.items())},
        "evidence": result.evidence,
        "sentence": result.sentence,
    }


def _proposed(bench: Bench, key: CeilingKey, cells: Sequence[Cell], runs: Mapping[int, Run]) -> ProposedCeiling | None:
    client, band, width_mhz, direction = key
    best, plateaus = _plateaus(bench, cells)
    if len(plateaus) < LEAST_DEVICES:
        return None
    known = bench.limits.ceilings.get(key)
    return ProposedCeiling(client, band, width_mhz, direction, best, plateaus, _evidence(cells, plateaus, runs), known)


def _plateaus(bench: Bench, cells: Sequence[Cell]) -> tuple[float, dict[str, Plateau]]:
    """The highest mean of some cells of one link [Mbit/s], and the range [dB] over which each device stays near it."""
    best = max(c.mean or 0.0 for c in cells)
    near: dict[str, list[float]] = defaultdict(list)
    for cell in cells:
        if (cell.mean or 0.0) >= (1 - AGREE_WITHIN) * best and _radio_allows(bench, cell, PHY_FACTOR * best):
            near[cell.device].append(cell.attenuation_db or 0.0)
    return best, {d: (min(x), max(x)) for d, x in near.items() if max(x) - min(x) >= LEAST_RANGE_DB}


def _radio_allows(bench: Bench, cell: Cell, mbit_s: float) -> bool:
    ceiling = link_ceiling(
        bench.devices[cell.device], bench.clients[cell.client], band=cell.group.band, width_mhz=cell.group.width_mhz
    )
    return ceiling is not None and ceiling.mbit_s >= mbit_s


def _evidence(cells: Sequence[Cell], plateaus: Mapping[str, Plateau], runs: Mapping[int, Run]) -> str | None:
    """The highest run of the devices on the plateau, as batch.toml names it."""
    behind = [runs[number] for c in cells if c.device in plateaus for number in c.run_ids if number in runs]
    highest = max(behind, key=lambda r: (r.throughput_mbit_s or 0.0, -r.run_id), default=None)
    if highest is None:
        return None
    return row_name(highest)


def row_name(run: Run) -> str | None:
    """A run as batch.toml names it, "batch/table/row"; None where the copy leaves the row out."""
    if run.source_row is None:
        return None
    return row_id(run.batch_id, run.source_file, run.source_row)
