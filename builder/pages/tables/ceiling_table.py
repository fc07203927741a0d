"""What a client setup can do at most, with the run that shows it."""

from __future__ import annotations

from collections.abc import Iterable

from builder import wording
from builder.bench.bounds import bound_from
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry, rate_entry
from builder.pages.tables.radio_tables import port_note
from catalog.records import Ceiling
from catalog.row_numbers import place_text


def ceiling_table(catalogue: Catalogue, results: Results, here: str, ceilings: Iterable[Ceiling]) -> Table:
    """Every ceiling with its evidence."""
    devices = results.bench.devices
    return table_of(
        ceilings,
        (
            Column("Link", lambda c: Entry(text=link_words(c.band, c.width_mhz, c.direction))),
            Column("Ceiling, Mbit/s", lambda c: rate_entry(c.throughput_mbit_s), numeric=True),
            Column("A bound from", lambda c: rate_entry(bound_from(c.throughput_mbit_s)), numeric=True),
            Column("Shown against", lambda c: device_entry(results, here, c.device, note=port_note(devices[c.device]))),
            Column("Evidence", lambda c: _evidence_entry(catalogue, c), sentence=True),
        ),
        key="ceilings",
        caption="What it can do at most, with the run that shows it. The highest run of a band, width and "
        "direction counts.",
    )


def link_words(band: str, width_mhz: int, direction: str) -> str:
    """ "5 GHz, 80 MHz, down"."""
    return wording.conditions(band_name=band, width_mhz=width_mhz, direction=direction)


def _evidence_entry(catalogue: Catalogue, ceiling: Ceiling) -> Entry:
    run = catalogue.runs.get(ceiling.run_id)
    if run is None:
        return Entry(why_missing="a row that is not public")
    row = "None" if run.source_row is None else place_text(run.source_row)
    return Entry(text=f"{run.batch_id}, {run.source_file} row {row}, {wording.date(run.date)}")
