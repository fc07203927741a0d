"""Traces of figures that rest on single rows, and of ranks, which rest on everybody's: no line of two devices in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

from builder.bench.bench import cells_of_subject, under_settings
from builder.bench.cells import Cell
from builder.bench.tracks import track
from builder.registers.heat import caution_sentence, rise_of
from builder.registers.power import readings
from builder.registers.prices import cost_over
from builder.traces.formulas import BOUND, CELL, LINE, PLACE, UNCERTAINTY, WIDTH
from builder.traces.ids import (
    FigureId,
    ceiling_figure,
    heat_figure,
    loss_figure,
    power_figure,
    price_figure,
)
from builder.traces.inputs import Json, Sources, excluded_json, place_of_row, run_input, side_json
from builder.traces.lines import Traced, ground
from builder.windows.ranking import Ranking, rank, rank_figure, ranking_groups, ranking_json
from builder.windows.standing import device_sentence
from catalog import queries
from catalog.figure_names import parts_of_subject
from catalog.method import CEILING_SHARE, WINDOW_NAMES
from catalog.records import Heat, Power, Price, Sourced


def trace_rank(sources: Sources, figure: FigureId) -> Traced | None:
    """The ranks a device may have in a window: everybody's line over it, and which of them are separated."""
    bench = sources.bench
    (identifier,) = figure.names
    device, settings = parts_of_subject(identifier)
    if settings and settings not in bench.settings:
        return None
    bench = under_settings(bench, settings) if settings else bench
    groups = {cell.group for cell in bench.cells_of.get(identifier, ())}
    for group in ranking_groups(bench):
        if group not in groups or bench.constants.window(group.band, WINDOW_NAMES[0]) is None:
            continue
        for window in WINDOW_NAMES:
            if figure.text.endswith(f"{group.slug}~{window}"):
                result = rank(bench, group, window)
                if rank_figure(result, identifier) == figure.text:
                    return _traced_rank(sources, result, device)
    return None


def trace_ceiling(sources: Sources, figure: FigureId) -> Traced | None:
    """What a client setup can do at most: the highest of the runs registered as evidence."""
    key = next((k for k in sources.bench.limits.ceilings if ceiling_figure(k) == figure.text), None)
    if key is None:
        return None
    evidence = [c for c in sources.ceilings if (c.client, c.band, c.width_mhz, c.direction) == key]
    inputs = [{"side": "a", "device": c.device, **_run(sources, c.run_id)} for c in evidence]
    highest = sources.bench.limits.ceilings[key]
    return Traced(
        result={"mbit_s": highest, "bound_from_mbit_s": CEILING_SHARE * highest},
        sentence="",
        formula=(
            "The ceiling is the highest public run registered as evidence for this client, band, width and direction.",
            BOUND,
        ),
        inputs=inputs,
        excluded=[],
    )


def trace_loss(sources: Sources, figure: FigureId) -> Traced | None:
    """The attenuation of a spot, from the readings of its epoch."""
    epoch = next((e for e in queries.epochs(sources.db) if loss_figure(e) == figure.text), None)
    if epoch is None:
        return None
    read = sources.readings.get((epoch.house, epoch.spot, epoch.band, epoch.valid_from), ())
    return Traced(
        result={
            "attenuation_db": epoch.attenuation_db,
            "readings": epoch.readings,
            "readings_sd_db": epoch.readings_sd_db,
            "valid_from": epoch.valid_from,
            "valid_until": epoch.valid_until,
            "kit": epoch.kit,
        },
        sentence="",
        formula=("Attenuation = mean of reference EIRP − reading over the epoch's readings; s is their spread.",),
        inputs=[_row_input(sources, r, ("reference_eirp_dbm", "reading_dbm")) for r in read],
        excluded=[],
    )


def trace_heat(sources: Sources, figure: FigureId) -> Traced | None:
    """The rise of a surface above its room."""
    result = next((h for h in queries.heat(sources.db) if heat_figure(h) == figure.text), None)
    if result is None:
        return None
    rise = rise_of(result)
    left_out = [] if rise is not None else [{**_place(sources, result), "why": "the room's temperature was not read"}]
    return Traced(
        result={"rise_k": rise, "caution": caution_sentence(result) or None},
        sentence=caution_sentence(result),
        formula=("Rise = reading − ambient. A surface above the touch limit of its material carries a caution.",),
        inputs=[_row_input(sources, result, _values(Heat, "heat_id"))],
        excluded=left_out,
    )


def trace_power(sources: Sources, figure: FigureId) -> Traced | None:
    """A power reading, and the smallest class that allows it."""
    result = next((p for p in queries.power(sources.db) if power_figure(p) == figure.text), None)
    if result is None:
        return None
    (reading,) = readings(sources.bench.devices[result.device], [result])
    return Traced(
        result={"watts": result.watts, "side": result.side, "least_class": reading.needed},
        sentence=reading.contradiction,
        formula=(
            "Watts as they were read. The least class is the smallest one whose limit at that side is not below them; one "
            "above the class the maker promises is a contradiction.",
        ),
        inputs=[_row_input(sources, result, _values(Power, "power_id"))],
        excluded=[],
    )


def trace_price(sources: Sources, figure: FigureId) -> Traced | None:
    """A price as it was seen on a day."""
    result = next((p for p in queries.prices(sources.db) if price_figure(p) == figure.text), None)
    if result is None:
        return None
    return Traced(
        result={"amount": result.amount, "currency": result.currency, "cost_over_3_years": cost_over(result, 3).amount},
        sentence="",
        formula=("Amount as it was seen. Cost over years = amount + licence_per_year · years.",),
        inputs=[_row_input(sources, result, _values(Price, "price_id"))],
        excluded=[],
    )


def _traced_rank(sources: Sources, result: Ranking, device: str) -> Traced | None:
    bench = sources.bench
    entry = next((one for one in ranking_json(result)["ranked"] if one["device"] == device), None)
    if entry is None:
        return None
    inputs: list[Json] = []
    cells: list[Cell] = []
    for ranked in result.ranked:
        one = track(cells_of_subject(bench, ranked.subject, result.group), match="attenuation")
        assert one is not None
        cells += one.cells
        side = side_json(sources, ranked.subject.device, one.over(*result.range), "attenuation")
        inputs.append({**side, "device": ranked.subject.device})
    return Traced(
        result={"window": result.window, "range": list(result.range), "of": len(result.ranked), **entry},
        sentence=device_sentence(result, device),
        formula=(
            CELL,
            PLACE,
            LINE,
            BOUND,
            UNCERTAINTY,
            WIDTH,
            "All ranked devices are compared over the window, p = 2 · (1 − T(|difference| / u, ν)). Two of them are separated "
            "where Holm (step-down, 5 %) keeps them apart among the comparisons of the one, and among those of the other; "
            "at-least leads count as separated.",
            "best = 1 + devices separated above; worst = devices ranked − devices separated below.",
        ),
        inputs=inputs,
        excluded=[
            *excluded_json(sources, cells, match="attenuation"),
            *({"what": n.subject.device, "why": n.sentence} for n in result.not_ranked),
        ],
        details=ground(sources, cells, "attenuation"),
    )


def _run(sources: Sources, run_id: int) -> Json:
    run = sources.runs[run_id]
    return {"row": run_input(sources, run), "log": None}


def _row_input(sources: Sources, row: Sourced, values: tuple[str, ...]) -> Json:
    fields: Mapping[str, Any] = asdict(row)
    return {"side": "a", "row": {**_place(sources, row), **{name: fields[name] for name in values}}, "log": None}


def _place(sources: Sources, row: Sourced) -> Json:
    return place_of_row(sources, row.batch_id, row.source_file, row.source_row)


def _values(kind: type[Sourced], number: str) -> tuple[str, ...]:
    """The columns of a record other than its origin and the numbers a copy gives it."""
    origin = {"batch_id", "source_file", "source_row", number}
    return tuple(f.name for f in fields(kind) if f.name not in origin)
