"""Workbooks that are batches, changed in every way a person or a program changes them, by seed."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
from openpyxl.utils.exceptions import IllegalCharacterError

from catalog.entering import enter_batch
from tests.batches import batch_at, batch_toml, client, device, session
from tests.catalog.whole_batch import whole_batch
from tests.faults.fuzzing import CELLS, PATHS, VALUES, _bytes, _with_damaged_part
from tests.faults.trying import NOW
from tests.workbooks import ods, workbook

Sheets = dict[str, list[list[Any]]]
Change = Callable[[Random, Sheets], None]
Look = Callable[[Random, openpyxl.Workbook], None]

TYPED: list[Any] = [
    0,
    1,
    -1,
    7.1,
    2.4,
    1e300,
    1e-300,
    45789.4166,
    True,
    False,
    None,
    "",
    " ",
    dt.datetime(2025, 5, 12, 10, 4),
    dt.datetime(2025, 5, 12),
    dt.date(2025, 5, 12),
    dt.time(10, 4),
    "=1+1",
    "=A1",
    "#N/A",
    "a; b",
    ";",
    ";;",
    "a;",
    "1;2",
    "5;20",
]
NAMES = [
    "id",
    "title",
    "timezone",
    "site",
    "site.title",
    "site.title.x",
    "method.windows.5.near",
    "method.windows.2.4.far",
    "method.windows",
    "method.house_spread.mbit_s",
    "method.supersedes",
    "defaults",
    "defaults.runs",
    "defaults.runs.band",
    "defaults.runs.firmware",
    "defaults.runs.nothing",
    "defaults.walks.band",
    "embargo.until",
    "embargo",
    "tables",
    "tables.runs",
    "tables.runs.x",
    "tables.walks",
    "ignore_columns",
    "device",
    "device.id",
    "workload.seats",
    ".",
    "..",
    "a" + ".a" * 3000,
    " id ",
    "format",
    "supersedes",
]
SOURCES = [
    "Runs",
    "runs",
    "Runs; late=more/runs.csv",
    "late=more/runs.csv",
    "Runs; more/runs.csv",
    "Runs;Runs",
    "Runs; runs=more/runs.csv",
    "x=y=z",
    "a:b:c",
    "bench:more/runs.csv",
    "Runs; late=more",
    "=",
    ":",
    "late=../x.csv",
    "late=more/runs.xlsx",
    "Runs; late=more/runs.csv; last=more/runs.csv",
]
TITLES = [
    "runs",
    "Runs 2",
    "longruns",
    "LONG RUNS",
    "Device_radios",
    "Things",
    "Batch ",
    "batch",
    "Lists",
    "Answers",
    "Prices",
    "x" * 31,
]
COLUMNS = [
    "device",
    "client",
    "workload",
    "id",
    "version",
    "unit",
    "firmware",
    "seat",
    "roles",
    "until",
    "a.b",
    "a.b.c",
]


def before_them(folder: Path) -> Path:
    """A catalogue that knows other things than the workbooks bring."""
    text = batch_toml(
        "before",
        device=[device("murrow-gable")],
        client=[client("skarn-r2")],
        house=[{"id": "elsewhere", "name": "Elsewhere", "reference_device": "murrow-gable"}],
        session=[session("day-0", "2025-01-06", house="elsewhere")],
    )
    enter_batch(batch_at(folder / "before", text), into=folder / "catalog.db", now=NOW)
    return folder / "catalog.db"


def whole_sheets() -> Sheets:
    """The sheets of the batch with one of everything."""
    import tempfile

    from catalog.books.converting import turn_into_workbook

    with tempfile.TemporaryDirectory() as folder:
        for path, content in whole_batch().items():
            target = Path(folder) / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
        assert turn_into_workbook(Path(folder), "whole")
        book = openpyxl.load_workbook(Path(folder) / "whole.xlsx")
    return {sheet.title: [list(row) for row in sheet.iter_rows(values_only=True)] for sheet in book}


def _sheet(rng: Random, sheets: Sheets) -> list[list[Any]]:
    return sheets[rng.choice(sorted(sheets))] if sheets else []


def _value(rng: Random) -> Any:
    return rng.choice([rng.choice(TYPED), rng.choice(TYPED), rng.choice(CELLS), rng.choice(VALUES), rng.choice(PATHS)])


def _cells(rng: Random, sheets: Sheets) -> None:
    """Cells with what does not belong there, or of another type."""
    for _ in range(rng.randrange(1, 4)):
        rows = _sheet(rng, sheets)
        if rows and (row := rng.choice(rows)):
            row[rng.randrange(len(row))] = _value(rng)


def _rows(rng: Random, sheets: Sheets) -> None:
    """Rows doubled, taken out, moved, mixed, or blank."""
    rows = _sheet(rng, sheets)
    if not rows:
        return
    at = rng.randrange(len(rows))
    match rng.randrange(6):
        case 0:
            rows.insert(rng.randrange(len(rows) + 1), list(rows[at]))
        case 1:
            del rows[at]
        case 2:
            rng.shuffle(rows)
        case 3:
            rows.insert(at, [None] * len(rows[at]))
        case 4:
            rows.insert(0, ["A title above"])
        case 5:
            rows.append([rng.choice(["total", "Sum", None]), *(_value(rng) for _ in rows[at][1:])])


def _columns(rng: Random, sheets: Sheets) -> None:
    """Headings that are others, doubled, missing, or dotted; columns taken out or put in."""
    rows = _sheet(rng, sheets)
    if not rows or not rows[0]:
        return
    place = rng.randrange(len(rows[0]))
    match rng.randrange(5):
        case 0:
            rows[0][place] = rng.choice([*COLUMNS, *rows[0], _value(rng)])
        case 1:
            for row in rows:
                del row[place : place + 1]
        case 2:
            for row in rows:
                row.insert(place, _value(rng) if rng.random() < 0.5 else None)
        case 3:
            for number, row in enumerate(rows):
                row.append(_value(rng) if number else rng.choice([*COLUMNS, None]))
        case 4:
            rows[0][place] = None


def _titles(rng: Random, sheets: Sheets) -> None:
    """Sheets taken out, renamed, doubled, emptied, in another order."""
    title = rng.choice(sorted(sheets))
    match rng.randrange(6):
        case 0:
            del sheets[title]
        case 1:
            sheets[rng.choice(TITLES)] = sheets.pop(title)
        case 2:
            sheets[rng.choice(TITLES)] = [list(row) for row in sheets[title]]
        case 3:
            sheets[title] = rng.choice([[], sheets[title][:1], sheets[title][1:]])
        case 4:
            order = list(sheets.items())
            rng.shuffle(order)
            sheets.clear()
            sheets.update(order)
        case 5:
            other = rng.choice(sorted(sheets))
            sheets[title], sheets[other] = sheets[other], sheets[title]


def _batch(rng: Random, sheets: Sheets) -> None:
    """Names of the sheet Batch that are wrong, doubled, nested, or mean sources of tables."""
    rows = sheets.get("Batch")
    if not rows:
        return
    name = rng.choice(NAMES)
    rows.insert(rng.randrange(len(rows) + 1), [name, rng.choice(SOURCES) if "tables" in name else _value(rng)])


def _parents(rng: Random, sheets: Sheets) -> None:
    """Rows that hang on other things, on none, or on several."""
    title = rng.choice(["Units", "Firmware", "Embargoes", "Seats", "Roles", "Ceilings", "Drivers", "Device radios"])
    rows = sheets.get(title)
    if not rows or len(rows) < 2:
        return
    row = rng.choice(rows[1:])
    for place in range(min(3, len(row))):
        if rng.random() < 0.5:
            row[place] = rng.choice(["tessarik-shale-2", "wrenlet-u2", "office", "nowhere", "A", "7.10", 1, 2, None])


def _answers(rng: Random, sheets: Sheets) -> None:
    """Answers that are no answers."""
    head = ["cause", "table", "row", "column", "typed", "means", "by"]
    rows = sheets.setdefault("Answers", [head])
    causes = ["hidden-rows", "hidden-sheet", "level-zero", "", None, _value(rng)]
    row = [rng.choice(causes), rng.choice(["runs", "Devices", None, 3]), _value(rng), "throughput", _value(rng)]
    rows.append([*row, rng.choice(["read", "leave out", None, _value(rng)])])


CHANGES: tuple[Change, ...] = (
    _cells,
    _cells,
    _cells,
    _rows,
    _columns,
    _columns,
    _titles,
    _titles,
    _batch,
    _batch,
    _parents,
    _answers,
)


def _hide(rng: Random, book: openpyxl.Workbook) -> None:
    """Sheets, rows or columns that do not show."""
    sheet = rng.choice(book.worksheets)
    match rng.randrange(4):
        case 0:
            sheet.sheet_state = rng.choice(["hidden", "veryHidden"])
        case 1:
            sheet.row_dimensions[rng.randrange(1, 5)].hidden = True
        case 2:
            sheet.column_dimensions["ABCD"[rng.randrange(4)]].hidden = True
        case 3:
            sheet.row_dimensions[2].height = 0


def _far_out(rng: Random, book: openpyxl.Workbook) -> None:
    """A cell where nobody looks."""
    row, column = rng.choice([(1_048_576, 1), (1, 16_384), (900_000, 3), (5, 501), (1_000_010, 16_384)])
    rng.choice(book.worksheets).cell(row, column, "x")


def _merge(rng: Random, book: openpyxl.Workbook) -> None:
    """Merged cells."""
    rng.choice(book.worksheets).merge_cells(rng.choice(["A1:B1", "A1:A3", "B2:C4"]))


def _formats(rng: Random, book: openpyxl.Workbook) -> None:
    """Numbers shown as something else."""
    for row in rng.choice(book.worksheets).iter_rows(max_row=20):
        for cell in row:
            if isinstance(cell.value, int | float):
                cell.number_format = rng.choice(["0%", "yyyy-mm-dd", "[h]:mm", "hh:mm", "@", "General;-General"])


LOOKS: tuple[Look, ...] = (_hide, _hide, _hide, _far_out, _merge, _formats)


def changed_workbook(seed: int, folder: Path, sheets: Sheets) -> tuple[Path, str]:
    """Write the changed workbook of *seed* into *folder*, which must not exist; its path, and the changes in words."""
    rng = Random(seed)
    files = {path: content for path, content in whole_batch().items() if "/" in path}
    files["more/runs.csv"] = whole_batch()["runs.csv"]
    if rng.random() < 0.1:
        files[f"bench.desk/{rng.choice(['runs.csv', 'prices.csv', 'answers.toml', 'notes.txt'])}"] = rng.choice(
            [whole_batch()["runs.csv"], whole_batch()["prices.csv"], whole_batch()["answers.toml"], b"\xff"]
        )
    copied = {title: [list(row) for row in rows] for title, rows in sheets.items()}
    chosen: list[Any] = rng.choices(CHANGES, k=rng.choice([0, 1, 1, 1, 2, 3, 5]))
    for change in chosen:
        if copied:
            change(rng, copied)
    suffix = rng.choice([".xlsx", ".xlsx", ".ods"])
    if suffix == ".ods":
        content = ods(copied)
    else:
        looks = rng.choices(LOOKS, k=rng.choice([0, 0, 1, 2]))
        content = _xlsx(rng, copied, looks)
        chosen += looks
    if rng.random() < 0.15:
        damaged = {"bench": content}
        _bytes(rng, damaged, folder)
        content = damaged["bench"]
    elif rng.random() < 0.15:
        content = _with_damaged_part(rng, content)
    if rng.random() < 0.03:
        suffix = {".xlsx": ".ods", ".ods": ".xlsx"}[suffix]
    book = folder / f"bench{suffix}"
    for path, other in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(other)
    book.write_bytes(content)
    return book, ", ".join([change.__name__.strip("_") for change in chosen] + [suffix])


def _xlsx(rng: Random, sheets: Sheets, looks: list[Look]) -> bytes:
    """The sheets as far as the library can write them: it takes no character that XML has not."""
    plain = {title[:31] or "x": [[_storable(cell) for cell in row] for row in rows] for title, rows in sheets.items()}
    book = workbook({title: [] for title in plain} or {"Sheet": []})
    for sheet, rows in zip(book.worksheets, plain.values(), strict=False):
        for row in rows:
            with contextlib.suppress(IllegalCharacterError, ValueError):
                sheet.append(row)
    for look in looks:
        look(rng, book)
    if all(sheet.sheet_state != "visible" for sheet in book):
        book.create_sheet("Shown")
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


def _storable(cell: Any) -> Any:
    return cell[:32_000] if isinstance(cell, str) else cell
