"""The demo's catalogue as it is goes through what a bench goes through: published, corrected, taken back, published."""

import csv
from datetime import UTC, datetime, timedelta
from functools import partial

from click.testing import CliRunner

from builder.cli import main
from builder.publishing.changing.figures import read_record
from builder.publishing.making.entry_check import foresee
from builder.shipped import demo_folder
from catalog.entering import enter_batch
from tests.builder.publishing.publishing_bench import Bench, contents

BATCH = "2026-02-tarn"


def test_the_demo_is_published_corrected_rolled_back_and_published_again(
    demo_file, demo_instant, chart_cache, tmp_path
):
    bench = Bench(demo_file, tmp_path / "bench", chart_cache)
    assert bench.publish(demo_instant).figures > 2000
    first, printed = contents(bench.site), read_record(bench.site).figures

    number, typed = _first_typed_value()
    key = f"batch={BATCH}; file=runs.csv; row={number}"
    bench.correct(f"runs,{key},throughput,{typed},{float(typed) - 40:g},misread,the desk,2025-08-30")
    report = bench.publish(demo_instant + timedelta(days=2))
    assert {"throughput corrected on 2025-08-30" in str(change) for change in report.changes.figures} == {True}
    second = contents(bench.site)
    for change in report.changes.figures:
        assert printed[change.figure].text == change.was
        assert read_record(bench.site).figures[change.figure].text == change.now

    back = CliRunner().invoke(main, ["rollback", str(bench.site), "--catalog", str(bench.catalog)])
    assert back.exit_code == 0, back.output
    assert contents(bench.site) == first
    bench.publish(demo_instant + timedelta(days=2))
    assert contents(bench.site) == second


def test_the_articles_of_the_demo_quote_only_what_is_in_when_they_are_entered(demo_plan, tmp_path):
    now, path, checked = datetime(2026, 11, 1, tzinfo=UTC), tmp_path / "catalog.db", []
    for name in demo_plan["order"]:
        folder = demo_folder() / "batches" / name
        if not (folder / "articles").is_dir():
            enter_batch(folder, into=path, now=now)
            continue
        warnings = enter_batch(folder, into=path, now=now, foresee=partial(foresee, now=now)).warnings
        assert [str(warning) for warning in warnings if warning.table.endswith(".md")] == []
        checked.append(name)
    assert checked == ["2024-04-rondel-6-again", "2024-06-cupola", "2025-06-full-house", "2026-03-full-house"]


def _first_typed_value():
    """(row as the spreadsheet counts, its throughput as typed)."""
    with (demo_folder() / "batches" / BATCH / "runs.csv").open(encoding="utf-8", newline="") as file:
        rows = enumerate(csv.DictReader(file), start=2)
        return next((number, text) for number, row in rows if (text := row["throughput (Mbit/s)"]))
