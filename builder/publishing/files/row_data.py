"""The rows of tables that their pages had no room for, as scripts take them (site_templates/js/whole_table.mjs)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from builder import addresses
from builder.pages.parts.blocks import Entry, Rest, Row
from builder.publishing.files.assets import Asset
from builder.publishing.files.scripts import data_script


def row_data(rests: Iterable[Rest]) -> list[Asset]:
    """A script for each table that was cut."""
    return [
        Asset(addresses.script_data(rest.key), data_script(rest.key, [_row(row) for row in rest.rows]))
        for rest in rests
    ]


def _row(row: Row) -> dict[str, Any]:
    told = {"cells": [_cell(entry) for entry in (row.head, *row.entries)], "facets": row.facets, "id": row.key}
    return {name: what for name, what in told.items() if what}


def _cell(entry: Entry) -> dict[str, Any]:
    """What is said in a cell, without what is not."""
    said = {
        "text": entry.text,
        "href": entry.href,
        "unit": entry.unit,
        "interval": entry.interval,
        "note": entry.note,
        "missing": entry.why_missing,
        "sort": entry.sort_key,
        "marks": [{"text": mark.text, "href": mark.href, "note": mark.note} for mark in entry.marks],
    }
    return {name: what for name, what in said.items() if what}
