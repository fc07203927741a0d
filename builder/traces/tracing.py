"""Any figure back to its formula, its inputs down to file and row, what was left out, and the method."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping

from builder import wording
from builder.traces.ids import FigureId, parse_figure_id
from builder.traces.inputs import Json, Sources
from builder.traces.lines import (
    Traced,
    trace_cell,
    trace_eirp,
    trace_factor,
    trace_link,
    trace_pair,
    trace_reach,
    trace_window,
)
from builder.traces.records import (
    trace_ceiling,
    trace_heat,
    trace_loss,
    trace_power,
    trace_price,
    trace_rank,
)
from builder.traces.runs import trace_longrun, trace_role
from catalog.errors import UnknownName
from catalog.marks import MARKS
from catalog.method import METHOD_NUMBER
from catalog.reading.format import FROM_LOG

KINDS: Mapping[str, Callable[[Sources, FigureId], Traced | None]] = {
    "cell": trace_cell,
    "pair": trace_pair,
    "window": trace_window,
    "reach": trace_reach,
    "link": trace_link,
    "eirp": trace_eirp,
    "role": trace_role,
    "longrun": trace_longrun,
    "longwaits": trace_longrun,
    "factor": trace_factor,
    "rank": trace_rank,
    "ceiling": trace_ceiling,
    "loss": trace_loss,
    "heat": trace_heat,
    "power": trace_power,
    "price": trace_price,
}


def trace(sources: Sources, figure_id: str) -> Json:
    """The trace document of one figure. Its inputs alone are enough to compute the figure again.

    Raises  UnknownName for an id that is none, or that of a figure these results do not give.
    """
    parsed = parse_figure_id(figure_id)
    if parsed is None:
        raise UnknownName(
            f"{figure_id!r} is no figure's id. One begins with {wording.listing(list(KINDS), 'or')} and stands beside "
            "the figure on its page and in every JSON document."
        )
    result = KINDS[parsed.kind](sources, parsed)
    if result is None:
        raise UnknownName(
            f"There is no figure {figure_id!r} in these results: it was refused, withdrawn, or is not public yet."
        )
    constants = sources.bench.constants
    return {
        "figure": figure_id,
        "kind": parsed.kind,
        "method": {
            "number": METHOD_NUMBER,
            "constants_version": constants.version,
            "declared": json.loads(constants.to_json()),
        },
        "sentence": result.sentence or None,
        "result": result.result,
        "formula": list(result.formula),
        **result.details,
        "inputs": result.inputs,
        "excluded": result.excluded,
    }


def trace_texts(document: Json) -> Iterator[str]:
    """The trace as lines for people: the same as the document, shorter."""
    method = document["method"]
    yield f"{document['kind'].capitalize()} {document['figure']}"
    yield f"Method {method['number']}, constants set {method['constants_version']}."
    if document["sentence"]:
        yield document["sentence"]
    yield ""
    yield "Formula"
    yield from (f"  {line}" for line in document["formula"])
    if ground := list(_ground_texts(document)):
        yield ""
        yield "Constants, spreads and limits"
        yield from (f"  {line}" for line in ground)
    yield ""
    yield "Inputs"
    for side in document["inputs"]:
        yield from _side_texts(side)
    if document["excluded"]:
        yield ""
        yield "Left out"
        yield from (f"  {one.get('what') or _place_text(one)}: {one['why']}" for one in document["excluded"])


def _ground_texts(document: Json) -> Iterator[str]:
    """What the figure rests on besides its inputs."""
    for name, constant in document.get("constants", {}).items():
        yield f"{name} {constant['value']:g} ({constant['source']})"
    for house, spread in document.get("session_spreads", {}).items():
        placement, reference = document["placements"][house], document["reference_devices"].get(house)
        over = f" over {len(reference['sessions'])} sessions of {reference['device']}" if reference else ""
        texts = [f"{one['source']}{over if one['source'] == 'measured' else ''}" for one in (spread, placement)]
        yield f"day-to-day spread of {house}: {wording.percent(spread['fraction'])} ({texts[0]})"
        yield f"placement in {house}: {wording.decibels(placement['sigma_db'])} dB ({texts[1]})"
    for limit in document.get("ceilings", ()):
        if "client" in limit:
            yield (
                f"ceiling of {limit['client']}, {wording.band(limit['band'])}, {wording.width(limit['width_mhz'])}, "
                f"{limit['direction']}: {wording.rate(limit['mbit_s'])} Mbit/s, shown by {_place_text(limit['evidence'])}"
            )
        elif "house" in limit:
            yield f"server and switch of {limit['house']}: {wording.rate(limit['mbit_s'])} Mbit/s"
        else:
            yield f"port of {limit['device']}: {wording.port_speed(limit['port_mbit_s'])}"
    if target := document.get("target"):
        asked = [f"{key} {target[key]:g}" for key in MARKS if target[key] is not None]
        recipe = [f"{key} {value}" for key, value in target["recipe"].items()]
        stated = ", ".join([*asked, *recipe]) or "no target"
        yield f"{target['workload']} version {target['version']}, {target['role']}: {stated}, from {_place_text(target)}"
    if window := document.get("window"):
        yield f"{window['name']} window, {wording.db_range(*window['range'])} dB"


def _side_texts(side: Json) -> Iterator[str]:
    if "cells" not in side:
        yield f"  {_place_text(side['row'])}{_stated_text(side['row'])}"
        if side["log"]:
            yield f"  log {_log_text(side['log'])}"
        elif "outcome" in side:
            yield "  no log"
        return
    for cell in side["cells"]:
        spread = f", s {wording.rate(cell['sd'])}" if cell["sd"] is not None else ""
        spread += f", {cell['summary']} as noted then" if "summary" in cell else ""
        value = wording.rate(cell["mean"], bound=cell["bound"]) if cell["mean"] is not None else "no value"
        at = f" at {wording.decibels(cell['x'])}" if cell["x"] is not None else ""
        kind, *names = cell["place"]
        place = f"{names[1]} since {names[2]}" if kind == "spot" and names[2] else names[1] if kind == "spot" else ""
        yield (
            f"  {side['side']}  {' '.join(filter(None, [_subject_text(cell), cell['session'], place]))}{at}: {value} "
            f"(n {cell['n']}{spread}), weight {wording.ratio(cell['weight'])}"
        )
        yield from (f"       {_place_text(run)}: {_value_text(run)}" for run in cell["runs"])
        yield from (
            f"       {_place_text(r)}: {wording.decibels(r['reference_eirp_dbm'])} dBm sent, "
            f"{wording.decibels(r['reading_dbm'])} dBm read"
            for r in (*cell["readings"], *cell.get("link_readings", ()))
        )


def _subject_text(cell: Json) -> str:
    """The device, with what it was tested under: "cupola (multi_link off)"."""
    if "settings" not in cell:
        return str(cell["device"])
    stated = {name: value for name, value in cell["settings"].items() if name not in ("id", "title", "declared")}
    words = ", ".join(f"{name} {value}" for name, value in stated.items())
    return f"{cell['device']} with {cell['settings']['id']} ({words}, {_place_text(cell['settings']['declared'])})"


def _value_text(run: Json) -> str:
    """What a run's throughput was typed as; one that its log came to, with the log."""
    if "log" not in run or run["typed"] != FROM_LOG:
        return str(run["typed"])
    return f"{wording.rate(run['mbit_s'])} Mbit/s, the mean of {_log_text(run['log'])}"


def _log_text(log: Json) -> str:
    rows = f"rows {log['rows'][0]} to {log['rows'][1]} of " if "rows" in log else ""
    through = f", read through {_file_text(log['map'])}" if "map" in log else ""
    return f"{rows}{_file_text(log)}{through}"


def _stated_text(row: Json) -> str:
    """What a row says, where the figure is the row itself: ": 61.5 reading_c, 23.5 ambient_c"."""
    where = {
        "batch",
        "file",
        "row",
        "sha256",
        "id",
        "cell",
        "sheet",
        "map",
        "at_utc",
        "repeat",
        "typed",
        "log",
        "corrected",
    }
    stated = [f"{value} {name}" for name, value in row.items() if name not in where and value is not None]
    return f": {', '.join(stated)}" if stated else ""


def _place_text(place: Json) -> str:
    row = f" row {place['row']}" if place["row"] is not None else ", row not told"
    if "id" in place:
        sheet = f", sheet {place['sheet']}" if place.get("sheet") else ""
        through = f", read through {_file_text(place['map'])}" if "map" in place else ""
        row = f"{sheet}, {place.get('cell') or row.strip()} ({place['id']}){through}"
    return f"{place['batch']}/{_file_text(place)}{row}"


def _file_text(place: Json) -> str:
    return f"{place['file']} (sha256 {place['sha256'][:12] if place['sha256'] else 'not told'})"
