"""The verb that takes any figure back to where it came from: trace."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, json_option, print_json, print_lines


@click.command()
@click.argument("figure_id")
@catalog_option
@as_of_option
@json_option
def trace(figure_id: str, catalog: Path, as_of: datetime, as_json: bool) -> None:
    """FIGURE_ID back to its formula, inputs down to file and row, exclusions and method version."""
    from builder.traces import tracing
    from builder.traces.asking import sources_about

    document = tracing.trace(sources_about(catalog, figure_id, as_of=as_of), figure_id)
    if as_json:
        print_json({"as_of": instant_text(as_of), **document})
        return
    print_lines([f"As of {instant_text(as_of)}.", *tracing.trace_texts(document)])
