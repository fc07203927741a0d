"""Batches as workbooks: the usual sheets, as .xlsx or .ods."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any
from xml.sax.saxutils import escape

import openpyxl

Sheets = dict[str, list[list[Any]]]

BENCH: Mapping[str, Sequence[Sequence[Any]]] = {
    "Batch": [
        ["name", "value"],
        ["id", "2025-05-shale-2"],
        ["title", "Shale 2, first bench"],
        ["timezone", "Europe/Berlin"],
        ["licence", "CC-BY-4.0"],
        ["defaults.runs.band", 5],
        ["defaults.runs.width_mhz", 80],
    ],
    "Devices": [
        ["id", "maker", "model", "amendment", "revision", "aliases"],
        ["tessarik-shale-2", "Tessarik", "Shale 2", "802.11ax", "1.0", "Shale-2 EU; Shale-2 US"],
    ],
    "Device radios": [["device", "band", "streams", "max_width_mhz"], ["tessarik-shale-2", 5, 4, 160]],
    "Units": [["device", "id", "origin", "by"], ["tessarik-shale-2", "A", "loaned", "maker"]],
    "Firmware": [["device", "version", "released", "public"], ["tessarik-shale-2", "7.10", "2025-04-02", "yes"]],
    "Clients": [["id", "name", "amendment"], ["wrenlet-u2", "Wrenlet U2", "802.11ax"]],
    "Client radios": [["client", "band", "streams", "max_width_mhz"], ["wrenlet-u2", 5, 2, 160]],
    "Houses": [["id", "name", "reference_device"], ["house-a", "Test house", "tessarik-shale-2"]],
    "Sessions": [["id", "house", "date"], ["day-1", "house-a", "2025-05-12"]],
    "Runs": [
        ["when", "device", "firmware", "client", "session", "direction", "attenuation_db", "repeat", "Mbit/s"],
        *(
            [f"2025-05-12 10:0{place}", "Shale 2", "7.10", "wrenlet-u2", "day-1", "down", 55, place, 800 + place]
            for place in (1, 2, 3)
        ),
    ],
}


def bench(**changed: Any) -> Sheets:
    """The usual sheets; a changed one replaces that of its name, with _ for a blank, and None takes it out."""
    sheets = deepcopy({title: [list(row) for row in rows] for title, rows in BENCH.items()})
    for name, rows in changed.items():
        title = name.replace("_", " ")
        if rows is None:
            del sheets[title]
        else:
            sheets[title] = rows
    return sheets


def workbook(sheets: Mapping[str, Sequence[Sequence[Any]]]) -> openpyxl.Workbook:
    """An open workbook, to be changed further."""
    book = openpyxl.Workbook()
    del book["Sheet"]
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    return book


def packed(book: openpyxl.Workbook) -> bytes:
    """Its bytes."""
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def xlsx(sheets: Mapping[str, Sequence[Sequence[Any]]]) -> bytes:
    """An .xlsx file."""
    return packed(workbook(sheets))


def ods(sheets: Mapping[str, Sequence[Sequence[Any]]]) -> bytes:
    """An .ods file (ISO/IEC 26300)."""
    tables = "".join(
        f'<table:table table:name="{escape(title)}">'
        + "".join(f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>" for row in rows)
        + "</table:table>"
        for title, rows in sheets.items()
    )
    names = "".join(
        f' xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text")
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
        body = f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
        archive.writestr("content.xml", f"<office:document-content{names}>{body}</office:document-content>")
    return stream.getvalue()


def _ods_cell(value: Any) -> str:
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, bool):
        word = str(value).lower()
        return f'<table:table-cell office:value-type="boolean" office:boolean-value="{word}"/>'
    if isinstance(value, int | float):
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
    text = f"<text:p>{escape(str(value))}</text:p>"
    return f'<table:table-cell office:value-type="string">{text}</table:table-cell>'
