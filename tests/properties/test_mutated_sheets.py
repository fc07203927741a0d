"""Sheets laid out at random and then damaged, read through a map: refused in words, or every result entered."""

from __future__ import annotations

import datetime as dt
import random
from contextlib import closing

import openpyxl
import pytest

from catalog import queries
from catalog.beginning.sheet_proposal import propose_sheet
from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.errors import InputRefused
from catalog.reading.table_maps import TableMap, read_table_map
from catalog.row_numbers import cell_of
from tests import sheets
from tests.batches import batch_at

NOW = dt.datetime(2025, 7, 1, tzinfo=dt.UTC)
CLIENTS = {"Laptop": "wrenlet-u2", "Tablet": "murrow-m8"}
MAP = """kind = "runs"
heading = [{top}, {bottom}]
leave_out = ["Avg"]
[column.attenuation_db]
from = "Loss"
[column.client]
heading_row = {top}
words = {{ "Laptop" = "wrenlet-u2", "Tablet" = "murrow-m8" }}
[column.direction]
heading_row = {bottom}
[column.throughput]
cells = "rest"
unit = "Mbit/s"
missing = ["-"]
"""
JUNK = [None, "", "-", "fast", "DNF", 0, -5, 9999, 1e300, "1.024", "8,5", "Down", "Up", "Loss", "Laptop", "Phone", "Mean",
        "=1/0", "nan", "\u200b", "x" * 300, True, dt.datetime(2019, 3, 4), "12 MB/s", "55", 55, " 600 "]  # fmt: skip


def laid_out(rng):
    """A sheet of a few blocks with an order each, the ranges it merges, and client, direction, loss -> value."""
    lines, merged, truth = [], [], {}
    for _ in range(rng.randint(0, 2)):
        lines.append([f"note {len(lines)}"])
    top = len(lines) + 1
    losses = rng.sample(range(50, 100), 6)
    for block in range(rng.randint(1, 3)):
        if block:
            lines.extend([] for _ in range(rng.randint(0, 2)))
        here = len(lines) + 1
        clients = rng.sample(list(CLIENTS), 2)
        directions = rng.sample(["Down", "Up"], 2)
        first = rng.random() < 0.7
        lead = ["Loss"] if first else []
        average = ["Avg"] if rng.random() < 0.3 else []
        lines.append(
            [*(lead and [None]), *(part for client in clients for part in (client, None)), *(average and [None])]
        )
        lines.append([*lead, *directions, *directions, *average])
        if not first:
            lines[-1].append("Loss")
        left = 2 if first else 1
        for at in (left, left + 2):
            merged.append(
                f"{openpyxl.utils.get_column_letter(at)}{here}:{openpyxl.utils.get_column_letter(at + 1)}{here}"
            )
        for loss in losses[2 * block : 2 * block + 2]:
            values = [rng.choice([rng.randint(30, 900), round(rng.uniform(30, 900), 1), None]) for _ in range(4)]
            for (client, direction), value in zip(((c, d) for c in clients for d in directions), values, strict=True):
                if value is not None:
                    truth[CLIENTS[client], direction.casefold(), loss] = value
            lines.append([*([loss] if first else []), *values, *([500] if average else []), *([] if first else [loss])])
    return lines, merged, truth, top


def entered(folder, path):
    enter_batch(folder, into=path, now=NOW)
    with closing(open_catalog(path, readonly=True)) as db:
        return queries.runs(db)


@pytest.mark.parametrize("form", sheets.FORMS)
@pytest.mark.parametrize("seed", range(15))
def test_any_layout_of_it_gives_the_same_results(tmp_path, form, seed):
    rng = random.Random(seed)
    lines, merged, truth, top = laid_out(rng)
    content = sheets.FORMS[form](lines, merged=merged)
    plan = MAP.format(top=top, bottom=top + 1)
    folder = sheets.batch(
        tmp_path / "b", content, plan, file=f"s.{form}", defaults={"when": "2019-03-04 12:00", "repeat": 1}
    )
    if not truth:
        assert [problem.code for problem in check_batch(folder, catalog=None).problems] == ["map-empty"]
        return
    runs = entered(folder, tmp_path / "c.db")
    assert {(run.client, run.direction, run.attenuation_db): run.throughput_mbit_s for run in runs} == truth


def damaged(rng):
    """A sheet with one or two things wrong with it, and the row its heading begins in."""
    lines, merged, _, top = laid_out(rng)
    for _ in range(rng.randint(1, 2)):
        row = rng.randrange(len(lines))
        match rng.randrange(6):
            case 0:
                del lines[row]
                merged = []
            case 1:
                lines.insert(row, [rng.choice(JUNK) for _ in range(rng.randint(0, 5))])
                merged = []
            case 2 if lines[row]:
                del lines[row][rng.randrange(len(lines[row]))]
            case 3:
                rng.shuffle(lines[row])
            case _:
                lines[row].extend([None] * (6 - len(lines[row])))
                lines[row][rng.randrange(6)] = rng.choice(JUNK)
    return lines, merged, top


@pytest.mark.parametrize("form", sheets.FORMS)
@pytest.mark.parametrize("seed", range(60))
def test_a_damaged_sheet_is_refused_in_words_or_entered_whole(tmp_path, form, seed):
    lines, merged, top = damaged(random.Random(1000 + seed))
    content = sheets.FORMS[form](lines, merged=merged)
    plan = MAP.format(top=top, bottom=top + 1)
    folder = sheets.batch(
        tmp_path / "b", content, plan, file=f"s.{form}", defaults={"when": "2019-03-04 12:00", "repeat": 1}
    )
    report = check_batch(folder, catalog=None)
    for problem in report.problems:
        assert len(str(problem)) > 40
        if "-" not in problem.code:  # an everyday word
            continue
        assert problem.code not in str(problem).split(":", 1)[1].replace(f'cause = "{problem.code}"', "")
    if report.problems:
        return
    runs = entered(folder, tmp_path / "c.db")
    assert len(runs) == report.rows_read == report.rows_new
    # Each run is what its cell says, and no number of the sheet is lost but losses, averages and what "-" stands for.
    book = openpyxl.load_workbook(sheets.stream(sheets.xlsx(lines))).active
    for run in runs:
        value = book[cell_of(run.source_row)].value
        if run.throughput_mbit_s is not None and isinstance(value, int | float):
            assert run.throughput_mbit_s == pytest.approx(float(value))
        else:
            assert value is not None
    assert {run.client for run in runs} <= set(CLIENTS.values())
    taken = {cell_of(run.source_row) for run in runs}
    lost = [
        [cell.coordinate for cell in row if _is_number(cell.value) and cell.coordinate not in taken]
        for row in book.iter_rows(min_row=top)
    ]
    # A row keeps its loss and its average; all of a row of totals is left out, and counted.
    assert sum(len(row) > 2 for row in lost) <= report.repairs.get("totals row", 0)


def _is_number(value):
    return isinstance(value, int | float) and not isinstance(value, bool)


def test_both_ends_are_reached(tmp_path):
    """The seeds above damage sheets so that some are refused and some are not."""
    outcomes = set()
    for seed in range(12):
        lines, merged, truth, top = laid_out(random.Random(seed))
        lines[top + 1][1] = "fast" if seed % 2 else lines[top + 1][1]
        content = sheets.xlsx(lines, merged=merged)
        folder = sheets.batch(
            tmp_path / str(seed),
            content,
            MAP.format(top=top, bottom=top + 1),
            file="s.xlsx",
            defaults={"when": "2019-03-04 12:00", "repeat": 1},
        )
        outcomes.add((seed % 2, bool(check_batch(folder, catalog=None).problems) if truth else seed % 2 == 1))
    assert outcomes == {(0, False), (1, True)}


@pytest.mark.parametrize("form", sheets.FORMS)
@pytest.mark.parametrize("seed", range(30))
def test_of_a_damaged_sheet_a_map_is_proposed_or_it_is_refused(tmp_path, form, seed):
    lines, merged, _ = damaged(random.Random(2000 + seed))
    file = tmp_path / f"runs.{form}"
    file.write_bytes(sheets.FORMS[form](lines, merged=merged))
    try:
        proposal = propose_sheet(file)
    except InputRefused:
        return
    if proposal is not None:
        assert isinstance(read_table_map("m", proposal.text.replace('"?"', '"Mbit/s"').encode()), TableMap)
        assert proposal.first or proposal.questions


@pytest.mark.parametrize("form", sheets.FORMS)
@pytest.mark.parametrize("seed", range(20))
def test_a_damaged_sheet_without_a_map_is_refused_in_words(tmp_path, form, seed):
    lines, merged, _ = damaged(random.Random(3000 + seed))
    folder = sheets.batch(tmp_path / "b", b"", "", defaults={"when": "2019-03-04 12:00", "repeat": 1})
    text = (folder / "batch.toml").read_text().replace('[tables]\nruns = "old:sheets/2019.xlsx"\n', "")
    batch_at(folder, text, {f"runs.{form}": sheets.FORMS[form](lines, merged=merged)})
    problems = check_batch(folder, catalog=None).problems
    assert problems
    assert all(len(str(problem)) > 40 for problem in problems)
