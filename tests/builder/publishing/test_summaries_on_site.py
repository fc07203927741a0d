"""An older bench of summaries beside today's runs, published: every page, document and download says what rests on them."""

from __future__ import annotations

import csv
import io
import json
import re
import sqlite3
from contextlib import closing
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from builder.cli.program import main
from builder.publishing.making.publishing import publish_site
from catalog.entering import enter_batch
from tests.batches import article, batch_at, batch_toml, client, device, session
from tests.downloads import unpacked

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
OLD, NEW, BARE = "tessarik-cairn", "tessarik-shale-2", "quillmast-dome"
MARK = {"target_ms": 200, "target_share": 0.95}
TOML = batch_toml(
    "first",
    site={"title": "Bench"},
    device=[device(name) for name in (OLD, NEW, BARE)],
    client=[client("lap")],
    house=[{"id": "house-a", "name": "Test house"}],
    session=[{"id": "old", "house": "house-a", "date": "2019-03"}, session("new", "2025-05-12")],
    role=[{"id": "pages", "kind": "pages", "resources": 27, "resource_kib": 44, "pause_s": [5, 20], **MARK}],
    workload=[{"id": "desk", "version": 1, "title": "A desk", "duration_s": 600, "seats": [["pages"]]}],
    article=[article("then-and-now", "articles/then.md", devices=[OLD, NEW])],
    defaults={
        "runs": {"firmware": "1.0", "client": "lap", "band": "5", "width_mhz": 80, "direction": "down"},
        "stations": {"firmware": "1.0", "client": "lap", "band": "5", "attenuation_db": 60, "planned_s": 600}
        | {"workload": "desk", "role": "pages", "outcome": "finished", "session": "old", "when": "2019-03"},
    },
)
RUNS = "when,device,session,attenuation_db,repeat,Mbit/s,of_runs,spread,statistic\n" + "".join(
    f"2019-03,{OLD},old,{loss},,{value},3,{spread},{statistic}\n"
    for loss, value, spread, statistic in ((50, 600, 11, "mean"), (60, 480, 9, "median"), (72, 210, 6, "mean"))
)
RUNS += "".join(f"2019-03,{BARE},old,{loss},,{value},5,,mean\n" for loss, value in ((50, 500), (60, 400), (72, 150)))
RUNS += "".join(
    f"2025-05-12 10:{minute:02},{NEW},new,{loss},{repeat},{value + 9 * (repeat - 2)},,,\n"
    for minute, (loss, value, repeat) in enumerate(
        (loss, value, repeat) for loss, value in ((50, 800), (60, 650), (72, 300)) for repeat in (1, 2, 3)
    )
)
STATIONS = (
    "mix,device,planned_requests,on_time_share,mark_ms,p50_ms,p99_ms\n"
    f"m1,{OLD},300,0.97,200,40,310\nm2,{NEW},300,0.97,100,40,310\n"
)
ARTICLE = f"""(= under client lap, band 5, width 80, direction down =)

Then it gave (= value {OLD}, at 50 =), now (= difference {NEW} {OLD} =) more.
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory, chart_cache):
    folder = tmp_path_factory.mktemp("summaries")
    batch = batch_at(folder / "batch", TOML, {"runs.csv": RUNS, "stations.csv": STATIONS, "articles/then.md": ARTICLE})
    enter_batch(batch, into=folder / "catalog.db", now=NOW)
    publish_site(
        folder / "catalog.db",
        folder / "site",
        as_of=NOW,
        now=NOW,
        jobs=1,
        cache=chart_cache,
        progress=lambda _: None,
    )
    return folder


@pytest.fixture
def ask(made):
    def asked(*words):
        result = CliRunner().invoke(
            main, ["--catalog", str(made / "catalog.db"), *words, "--as-of", "2025-07-01T12:00:00Z"]
        )
        assert result.exit_code == 0, result.output
        return result.output

    return asked


def text_of(made, page):
    plain = re.sub(r"<[^>]+>", " ", (made / "site" / page).read_text(encoding="utf-8"))
    return re.sub(r"\s+", " ", plain).replace("\u00a0", " ").replace("&nbsp;", " ")


def test_a_device_s_page_names_each_summary_its_month_and_how_many_values_are_ones(made):
    text = text_of(made, f"devices/{OLD}/index.html")
    assert "3 of 3 values are summaries as noted then: mean of 3, median of 3" in text
    assert "mean of 3 as noted then" in text
    assert "median of 3 as noted then" in text
    assert "March 2019" in text
    assert "1 March 2019" not in text
    assert "no spread noted" in text_of(made, f"devices/{BARE}/index.html")


def test_pairs_rankings_recipes_and_articles_say_so_too(made):
    pair = text_of(made, f"pairs/{OLD}--{NEW}/index.html")
    assert "It rests on summaries, as noted then. Cairn: mean of 3, median of 3." in pair
    assert "that a median of runs is their mean" in pair
    rankings = list((made / "site" / "rankings").rglob("*.html"))
    told = [re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.read_text("utf-8"))) for page in rankings]
    assert any("mean of 3, median of 3, as noted then" in text for text in told)
    recipe = text_of(made, f"repeat/{OLD}/index.html")
    assert "mean of 3" in recipe
    review = text_of(made, "reviews/then-and-now/index.html")
    assert "throughput at 50 dB (mean of 3, as noted then)" in review
    assert "summaries as noted then. Cairn: mean of 3, median of 3" in review


def test_a_workload_s_page_shows_noted_shares_as_such(made):
    text = text_of(made, "workloads/desk/index.html")
    assert "97.0 % as noted then" in text
    assert "Met in this run, as noted then, without a log: 97.0 % of 300 planned requests came within 200 ms" in text
    assert "No verdict: the share was counted for 100 ms, and 200 ms are asked for." in text


def test_documents_say_so(ask):
    (group,) = json.loads(ask("compare", OLD, NEW, "--json"))["groups"]
    assert (group["summaries_a"], group["summaries_b"]) == (["mean of 3", "median of 3"], [])
    assert "median_for_mean" in group["assumed"]
    cells = json.loads(ask("show", OLD, "--json"))["cells"]
    assert [cell["summary"] for cell in cells] == ["mean of 3", "median of 3", "mean of 3"]
    assert not any("summary" in cell for cell in json.loads(ask("show", NEW, "--json"))["cells"])
    ranked = {row["device"]: row for row in json.loads(ask("rank", "--window", "near", "--json"))["ranked"]}
    assert ranked[OLD]["summaries"] == ["mean of 3", "median of 3"]
    assert "summaries" not in ranked[NEW]
    (reach,) = json.loads(ask("reach", OLD, "--at", "300", "--json"))["groups"]
    assert reach["summaries"] == ["mean of 3", "median of 3"]
    (side,) = json.loads(ask("trace", cells[0]["figure"], "--json"))["inputs"]
    assert [cell["summary"] for cell in side["cells"]] == ["mean of 3"]
    assert json.loads(ask("roles", OLD, "--json"))["mixes"][0]["stations"][0]["as_noted"]["on_time_share"] == 0.97


def test_verbs_say_so_in_words(ask):
    assert "Rests on summaries as noted then: Cairn: mean of 3, median of 3." in ask("compare", OLD, NEW)
    assert "600 Mbit/s (n 3, s 11.0, mean of 3 as noted then)" in ask("show", OLD)
    assert "(summaries: mean of 3, median of 3)" in ask("rank", "--window", "near")
    assert "(no spread noted, no interval) (summaries: mean of 5)" in ask("reach", BARE, "--at", "300")


def test_downloads_carry_the_columns(made, tmp_path):
    data = made / "site" / "data"
    runs = list(csv.DictReader(io.StringIO((data / "runs.csv").read_text(encoding="utf-8"))))
    first = next(row for row in runs if row["device"] == OLD)
    assert [first[name] for name in ("at_utc", "date", "of_runs", "spread_mbit_s", "statistic")] == [
        "2019-03",
        "2019-03",
        "3",
        "11",
        "mean",
    ]
    cells = list(csv.DictReader(io.StringIO((data / "cells.csv").read_text(encoding="utf-8"))))
    assert {row["device"]: row["summary"] for row in cells if float(row["attenuation_db"]) == 50} == {
        OLD: "mean of 3",
        NEW: "",
        BARE: "mean of 5",
    }
    package = json.loads((data / "datapackage.json").read_text(encoding="utf-8"))
    fields = next(r["schema"]["fields"] for r in package["resources"] if r["name"] == "runs-csv")
    kinds = {field["name"]: field["type"] for field in fields}
    assert [kinds[name] for name in ("at_utc", "date", "of_runs", "spread_mbit_s", "statistic")] == [
        "string",
        "string",
        "integer",
        "number",
        "string",
    ]
    with closing(sqlite3.connect(unpacked(data / "likeloss.db.zip", tmp_path))) as db:
        seen = db.execute("SELECT count(*), sum(of_runs) FROM view_run WHERE statistic IS NOT NULL").fetchone()
    assert seen == (6, 24)
