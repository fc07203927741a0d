"""Sheets as scripts make them, in each form a spreadsheet program writes, and a batch that reads one through a map."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import openpyxl

from tests.batches import batch_at, batch_toml, client, device, session

Rows = Sequence[Sequence[Any]]


def xlsx(rows: Rows, *, title: str = "Sheet", merged: Sequence[str] = (), mac: bool = False) -> bytes:
    """An .xlsx workbook of one sheet. merged: ranges such as "B1:C1". mac: its days count from 1904."""
    book = openpyxl.Workbook()
    if mac:
        book.epoch = openpyxl.utils.datetime.MAC_EPOCH
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(list(row))
    for part in merged:
        sheet.merge_cells(part)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def text(rows: Rows, *, separator: str = ",", first: str = "") -> bytes:
    """A .csv file; *first* is a line of its own before the rows."""
    stream = io.StringIO(newline="")
    stream.write(first)
    csv.writer(stream, delimiter=separator, lineterminator="\n").writerows(
        ["" if cell is None else cell for cell in row] for row in rows
    )
    return stream.getvalue().encode()


def ods(rows: Rows, *, title: str = "Sheet", merged: Sequence[str] = (), mac: bool = False) -> bytes:
    """An .ods spreadsheet of one sheet."""
    spans = {}
    for part in merged:
        left, top, right, bottom = openpyxl.utils.range_boundaries(part)
        spans[top, left] = (
            f' table:number-columns-spanned="{right - left + 1}" table:number-rows-spanned="{bottom - top + 1}"'
        )
    lines = [
        "<table:table-row>"
        + "".join(_cell(cell, spans.get((number, place), "")) for place, cell in enumerate(row, start=1))
        + "</table:table-row>"
        for number, row in enumerate(rows, start=1)
    ]
    zero = "1904-01-01" if mac else "1899-12-30"
    names = "".join(f' xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0"' for n in ("office", "table", "text"))
    content = (
        f"<office:document-content{names}><office:body><office:spreadsheet><table:calculation-settings>"
        f'<table:null-date table:date-value="{zero}"/></table:calculation-settings>'
        f'<table:table table:name="{escape(title)}">{"".join(lines)}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
    return stream.getvalue()


def _cell(value: Any, spans: str) -> str:
    if value is None or value == "":
        return f"<table:table-cell{spans}/>"
    if isinstance(value, bool):
        return f'<table:table-cell office:value-type="boolean" office:boolean-value="{str(value).lower()}"{spans}/>'
    if isinstance(value, int | float):
        return f'<table:table-cell office:value-type="float" office:value="{value}"{spans}/>'
    if isinstance(value, dt.datetime | dt.date):
        return f'<table:table-cell office:value-type="date" office:date-value="{value.isoformat()}"{spans}/>'
    if isinstance(value, dt.time):
        return (
            f'<table:table-cell office:value-type="time" office:time-value="{value:PT%HH%MM%SS}"{spans}>'
            f"<text:p>{value}</text:p></table:table-cell>"
        )
    return (
        f'<table:table-cell office:value-type="string"{spans}><text:p>{escape(str(value))}</text:p></table:table-cell>'
    )


FORMS = {"xlsx": xlsx, "ods": ods, "csv": lambda rows, **_: text(rows)}

RUNS = {
    "device": "tessarik-shale-2",
    "firmware": "1.0",
    "session": "2019-03-04",
    "band": "5",
    "width_mhz": 80,
}


def batch(
    folder: Path,
    sheet: bytes,
    plan: str,
    *,
    file: str = "sheets/2019.xlsx",
    defaults: dict[str, Any] | None = None,
    files: dict[str, str | bytes] | None = None,
    **more: Any,
) -> Path:
    """A batch "2019" whose runs are read from *sheet* through the map *plan*; two clients, one device, one house."""
    head = batch_toml(
        "2019",
        device=[device("tessarik-shale-2")],
        client=[client("wrenlet-u2"), client("murrow-m8")],
        house=[{"id": "house-a", "name": "House A"}],
        session=[session("2019-03-04")],
        tables={"runs": f"old:{file}"},
        defaults={"runs": RUNS | (defaults or {})},
        **more,
    )
    return batch_at(folder, head, {"maps/old.toml": plan, file: sheet, **(files or {})})


def packed(book: openpyxl.Workbook) -> bytes:
    """A workbook as the bytes of its file."""
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()


def stream(content: bytes) -> io.BytesIO:
    """Bytes as a file."""
    return io.BytesIO(content)
