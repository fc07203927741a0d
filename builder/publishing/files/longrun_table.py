"""Long runs as downloads: a row a run, of throughput or of requests, with the figures of its log."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from builder import wording
from builder.publishing.files.table_texts import Value, json_rows
from builder.under_load.longruns import LongRunResult, longrun_json

_RUN_COLUMNS = (
    "at_utc",
    "device",
    "unit",
    "firmware",
    "client",
    "driver",
    "session",
    "date",
    "house",
    "settings",
    "kind",
    "band",
    "width_mhz",
    "direction",
    "spot",
    "mark_ms",
    "outcome",
)
# Of the figures in JSON: name there -> heading, with its unit.
_RATES = {"mean": "mean_mbit_s", "median": "median_mbit_s", "p05": "p05_mbit_s"}
_WAITS = ("p50_ms", "p95_ms", "p99_ms", "max_ms")
_TIMES = ("duration_s", "logged_s", "longest_gap_s", "longest_stall_s", "longest_outage_s")
_COUNTS = ("requests", "finished", "late")


def longrun_table(results: Sequence[LongRunResult]) -> dict[str, list[Value]]:
    """Heading -> values, in the digits of the pages. What a kind does not have, or what counts neither way, is empty."""
    documents = [longrun_json(result)["figures"] or {} for result in results]
    named = [n for n in _RUN_COLUMNS if n != "settings" or any(result.run.settings for result in results)]
    table: dict[str, list[Value]] = {name: [getattr(r.run, name) for r in results] for name in named}
    table |= {name: [_digits(one.get(name), 1) for one in documents] for name in _TIMES}
    table |= {heading: [_rate(one.get(name)) for one in documents] for name, heading in _RATES.items()}
    table |= {name: [_wait(one.get(name)) for one in documents] for name in _WAITS}
    table |= {name: [one.get(name) for one in documents] for name in _COUNTS}
    table["figure"] = [result.figure for result in results]
    return table


def longrun_rows(results: Sequence[LongRunResult]) -> bytes:
    """The same as rows of JSON in full precision, with drift, period and hours as `likeloss longrun --json` gives them."""
    rows: list[dict[str, Any]] = [
        {"device": r.run.device, "unit": r.run.unit, "firmware": r.run.firmware, **longrun_json(r)} for r in results
    ]
    return json_rows(rows)


def _digits(value: float | None, decimals: int) -> float | None:
    return None if value is None else float(wording.rounded(value, decimals))


def _rate(value: float | None) -> float | None:
    return None if value is None else _digits(value, wording.rate_decimals(value))


def _wait(value: float | None) -> float | None:
    return None if value is None else _digits(value, 0 if value >= 100 else 1)
