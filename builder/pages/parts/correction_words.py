"""A corrected value in words: what it was and is, with its unit, and under which conditions it was measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from builder import wording
from builder.pages.contents import Catalogue, Results
from catalog.reading.format import TABLES
from catalog.records import Correction


def changed_words(catalogue: Catalogue, correction: Correction) -> str:
    """ "throughput was 623.7 Mbit/s, now 632.7 Mbit/s"."""
    unit = _unit(catalogue, correction)
    was, now = (f"{value} {unit}" if value and unit else value for value in (correction.was, correction.now))
    column = correction.column.removesuffix(f"_{unit.lower().replace('/', '_').lstrip('°')}")  # "attenuation_db"
    return f"{column.replace('_', ' ')} was {was or 'not stated'}, now {now or 'not stated'}"


def condition_words(results: Results, correction: Correction) -> str:
    """ "Wrenlet U2, 5 GHz, 80 MHz, download, spot S5, repeat 2": the row's key in words, without its device."""
    key = dict(part.strip().partition("=")[::2] for part in correction.row_key.split(";") if "=" in part)
    clients = results.bench.clients
    words: Mapping[str, Callable[[str], str]] = {
        "client": lambda value: clients[value].name if value in clients else value,
        "band": wording.band,
        "width_mhz": lambda value: f"{value} MHz",
        "direction": wording.way,
        "session": lambda value: f"session {value}",
    }
    return ", ".join(
        words[name](value) if name in words else f"{name.replace('_', ' ')} {value}"
        for name, value in key.items()
        if name not in ("device", "id") and value
    )


def _unit(catalogue: Catalogue, correction: Correction) -> str:
    """The unit of the corrected column; of a price its currency. "" where it has none."""
    if correction.table == "prices":
        row = (correction.batch_id, correction.source_file, correction.source_row)
        prices = catalogue.prices.get(correction.device or "", ())
        return next((p.currency for p in prices if (p.batch_id, p.source_file, p.source_row) == row), "")
    columns = TABLES[correction.table].columns if correction.table in TABLES else ()
    return next((c.unit.name for c in columns if c.unit is not None and correction.column in (c.name, *c.synonyms)), "")
