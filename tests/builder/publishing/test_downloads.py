"""Downloads: what is loaded back is what the pages show, and no cell runs in a spreadsheet."""

import csv
import hashlib
import io
import re
import sqlite3
import statistics
from collections import defaultdict
from contextlib import closing

from builder import wording
from tests.builder.publishing.publishing_bench import Bench, batch, runs
from tests.downloads import database_of, json_of, json_text_of


def rows(path, separator=","):
    text = path.read_bytes().decode() if path.suffix == ".csv" else json_text_of(path)
    return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=separator))


def test_checksums_are_those_of_the_files(small_site):
    lines = (small_site / "data" / "SHA256SUMS").read_text().splitlines()
    assert len(lines) == 8
    for line in lines:
        digest, name = line.split("  ")
        assert hashlib.sha256((small_site / "data" / name).read_bytes()).hexdigest() == digest
        assert digest in (small_site / "data" / "index.html").read_text()


def test_reloaded_cells_give_the_digits_of_the_page(small_site):
    # D05 of the job analysis: reload the CSV, rebuild a table, same digits.
    page = (small_site / "devices" / "tessarik-a-b" / "index.html").read_text()
    cells = [c for c in rows(small_site / "data" / "cells.csv") if c["device"] == "tessarik-a-b" and c["mean_mbit_s"]]
    assert len(cells) == 6
    for cell in cells:
        text = wording.rate(float(cell["mean_mbit_s"]), bound=cell["at_least"] == "yes")
        row = page.split(f' id="{cell["figure"]}">')[1].split("</tr>")[0]
        assert f">{text}<" in row or f">{text} <" in row


def test_semicolon_twin_holds_the_same_with_decimal_commas(small_site):
    for name in ("runs", "cells"):
        plain = rows(small_site / "data" / f"{name}.csv")
        twin = rows(small_site / "data" / f"{name}-semicolon.csv.zip", ";")
        assert len(plain) == len(twin) > 0
        numbers = [(a[column], b[column]) for a, b in zip(plain, twin, strict=True) for column in a if "_db" in column]
        assert all(b == a.replace(".", ",") for a, b in numbers)
        assert any("," in b for _, b in numbers)


def test_note_that_a_spreadsheet_would_run_is_inert(small_site):
    # The small catalogue's first run has the note "=1+1".
    notes = [r["note"] for r in rows(small_site / "data" / "runs.csv") if r["note"]]
    assert notes == ["'=1+1"]


def test_json_means_are_those_of_the_runs_in_full_precision(demo_site):
    runs = json_of(demo_site, "runs")["rows"]
    document = json_of(demo_site, "cells")
    key = (
        "device",
        "unit",
        "firmware",
        "client",
        "driver",
        "session",
        "settings",
        "band",
        "width_mhz",
        "direction",
        "protocol",
        "spot",
    )
    values = defaultdict(list)
    for run in runs:
        if run["throughput_mbit_s"] is not None:
            values[tuple(run.get(k) for k in key)].append(run["throughput_mbit_s"])
    cells = [c for c in document["rows"] if c["mean"] is not None]
    assert len(cells) > 100
    for cell in cells:
        assert cell["mean"] == statistics.fmean(values[tuple(cell.get(k) for k in key)])
    assert any(round(c["mean"], 1) != c["mean"] for c in cells)


def test_database_opens_and_names_no_hidden_device(demo_site, tmp_path):
    db = sqlite3.connect(database_of(demo_site, tmp_path))
    assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    devices = {row[0] for row in db.execute("SELECT device_id FROM device")}
    assert devices == {p.name for p in (demo_site / "devices").iterdir() if p.is_dir()}


def test_dictionary_names_every_column_of_the_database(demo_site, tmp_path):
    page = (demo_site / "data" / "index.html").read_text()
    db = sqlite3.connect(database_of(demo_site, tmp_path))
    for (table,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall():
        if db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] == 0:
            continue
        part = page.split(f'id="table-{table}"')[1].split("</table>")[0]
        for column in db.execute(f"PRAGMA table_info({table})"):
            assert f">{column[1]}<" in part, f"{table}.{column[1]}"


def test_no_row_has_a_number_of_this_copy_and_a_run_is_named_by_where_it_came_from(demo_site, demo_file):
    numbered = re.compile(r"_ids?$")
    names = {"workload_id", "batch_id", "image_id"}
    for name in ("runs", "cells", "longruns"):
        document = json_of(demo_site, name)
        assert {key for row in document["rows"] for key in row if numbered.search(key)} <= names
        assert {key for key in rows(demo_site / "data" / f"{name}.csv")[0] if numbered.search(key)} <= names
    named = {(run["batch_id"], run["source_file"], run["source_row"]) for run in rows(demo_site / "data" / "runs.csv")}
    with closing(sqlite3.connect(demo_file)) as db:
        entered = set(db.execute("SELECT batch_id, source_file, (source_row % 10000000) || '' FROM run"))
    assert len(named & entered) > 1000
    # A batch with rows that may not be seen yet tells the number of none: it would tell how many there are.
    assert {batch_id for batch_id, _, _ in named - entered} == {"2026-06-saltmarsh"}
    assert {row for _, _, row in named - entered} == {""}


def test_every_finished_run_joins_its_cell_and_its_row_of_the_database(demo_site, tmp_path):
    key = ("device", "unit", "firmware", "client", "driver", "session", "settings", "band", "width_mhz", "direction")
    key += ("protocol", "flows", "security", "spot")
    runs, cells = (json_of(demo_site, name)["rows"] for name in ("runs", "cells"))
    of_cells = {tuple(cell.get(name) for name in key) for cell in cells}
    assert {tuple(run.get(name) for name in key) for run in runs} == of_cells
    with closing(sqlite3.connect(database_of(demo_site, tmp_path))) as db:
        viewed = db.execute("SELECT batch_id, source_file, source_row, throughput_mbit_s FROM view_run").fetchall()
    given = [(run["batch_id"], run["source_file"], run["source_row"], run["throughput_mbit_s"]) for run in runs]
    assert sorted(viewed, key=repr) == sorted(given, key=repr)


def test_one_early_run_changes_the_rows_of_its_device_and_no_others(small_file, build, tmp_path):
    """quillmast-sill sorts before the other devices: a copy that has one run more of it numbers all others anew."""
    bench = Bench(small_file, tmp_path / "bench", tmp_path / "cache")
    build(bench.catalog, bench.site)
    before = {name: lines(bench.site / "data" / name) for name in TABLES}
    bench.enter(batch(tmp_path, "later", runs_csv=runs(device="quillmast-sill").rsplit("\n", 14)[0] + "\n"))
    build(bench.catalog, bench.site, cache=None)
    for name in TABLES:
        gone, new = before[name] - lines(bench.site / "data" / name), lines(bench.site / "data" / name) - before[name]
        assert new
        assert all("quillmast-sill" in line for line in gone | new), name


TABLES = [f"{table}{form}" for table in ("runs", "cells") for form in (".csv", "-semicolon.csv.zip", ".json.zip")]


def lines(path):
    text = path.read_text(encoding="utf-8") if path.suffix == ".csv" else json_text_of(path)
    return {line.rstrip(",") for line in text.splitlines()}
