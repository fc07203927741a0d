"""Links of earlier builds go on leading somewhere: short links, pairs no longer prepared, renamed devices."""

import csv
import json
import re
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from urllib.parse import unquote

import pytest

from builder import addresses
from tests.batches import device, things
from tests.builder.publishing.publishing_bench import Bench, batch, contents, runs
from tests.downloads import unpacked

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)


@pytest.fixture
def bench(small_file, chart_cache, tmp_path):
    return Bench(small_file, tmp_path / "bench", chart_cache)


def pages(site):
    return {name for name in contents(site) if name.endswith(".html")}


def test_every_device_pair_and_ranking_has_a_short_link(demo_site):
    wanted = [name for name in pages(demo_site) if addresses.has_short(name)]
    assert len(wanted) > 20
    for target in wanted:
        short = demo_site / addresses.short(target)
        leads = re.search(r'http-equiv="refresh" content="0; url=([^"]+)"', short.read_text(encoding="utf-8"))
        assert (short.parent / leads[1]).resolve() == (demo_site / target).resolve()
        assert addresses.short(target) in (demo_site / target).read_text(encoding="utf-8")
    assert len({addresses.short(target) for target in wanted}) == len(list((demo_site / "go").iterdir()))


def test_short_links_are_of_the_address_alone():
    # By hand: printf devices/x/index.html, sha256sum, its first five bytes through base32 (GNU coreutils).
    assert addresses.short("devices/x/index.html") == "go/pnpiku.html"


def test_links_of_earlier_builds_resolve_when_pairs_and_names_change(bench, tmp_path):
    bench.publish(DAY)
    first = pages(bench.site)
    pictures = {name for name in contents(bench.site) if name.endswith(".svg") and "/pair~" in name}
    bench.correct("device,id=quillmast-vane,model,Vane,Vane II,renamed by its maker,maker,2025-08-30")
    others = things(device=[device(f"tessarik-{name}") for name in ("porch", "ledge", "stoop")])
    table = runs(device="tessarik-porch", height=1720.0)
    for name, height in (("tessarik-ledge", 1745.0), ("tessarik-stoop", 1760.0)):
        table += runs(device=name, height=height).split("\n", 1)[1]
    bench.enter(batch(tmp_path, "more", more=others, runs_csv=table))
    bench.publish(DAY + timedelta(days=1))
    second = pages(bench.site)
    assert first <= second
    moved = [
        name
        for name in first
        if name.startswith("pairs/") and "had a page of their own" in (bench.site / name).read_text(encoding="utf-8")
    ]
    assert moved, "with three devices in between, some pair is no longer among the neighbours"
    gone = [
        (bench.site / name).read_text(encoding="utf-8")
        for name in sorted(contents(bench.site))
        if name.startswith("figures/")
        and name.endswith(".svg")
        and not (bench.site / name).with_suffix(".json.zip").exists()
    ]
    assert pictures <= set(contents(bench.site))
    assert len(gone) == len(moved)  # each had one chart
    for text in gone:
        assert "not drawn any more" in text
        assert len(re.findall(r'<a href="\.\./devices/[^"]+" target="_top"', text)) == 2
    page = (bench.site / "devices" / "quillmast-vane" / "index.html").read_text(encoding="utf-8")
    assert "Quillmast Vane II" in page
    bench.publish(DAY + timedelta(days=2))
    assert second <= pages(bench.site)


def test_frames_of_earlier_builds_lead_to_the_picture(bench):
    # Until 2026-11 a chart had a page for frames beside its picture, which other sites may show.
    bench.publish(DAY)
    pictures = sorted((bench.site / "figures").glob("*.svg"))
    assert pictures
    for path in [*pictures, bench.site / "figures" / "pair~of~nobody.svg"]:
        path.with_suffix(".html").write_text("<!doctype html><title>A frame</title>", encoding="utf-8")
    for days in (1, 2):
        bench.publish(DAY + timedelta(days=days))
        for path in pictures:
            page = path.with_suffix(".html").read_text(encoding="utf-8")
            leads = unquote(re.search(r'http-equiv="refresh" content="0; url=([^"]+)"', page)[1])
            assert (path.parent / leads).read_bytes() == path.read_bytes()
        assert not (bench.site / "figures" / "pair~of~nobody.html").exists()


def test_recipes_of_earlier_builds_lead_to_that_of_the_device(bench):
    # Until 2026-11 a device had a page for each client setup.
    bench.publish(DAY)
    page = addresses.recipe("quillmast-vane")
    keys = re.findall(r'class="recipe" id="with~([^"]+)"', (bench.site / page).read_text(encoding="utf-8"))
    assert keys
    for client in [*keys, "nobody"]:
        old = bench.site / addresses.former_recipe("quillmast-vane", client)
        old.parent.mkdir()
        old.write_text("<!doctype html><title>A recipe</title>", encoding="utf-8")
    for days in (1, 2):
        bench.publish(DAY + timedelta(days=days))
        for client in keys:
            text = (bench.site / addresses.former_recipe("quillmast-vane", client)).read_text(encoding="utf-8")
            leads = re.search(r'http-equiv="refresh" content="0; url=([^"]+)"', text)[1]
            assert unquote(leads) == f"../quillmast-vane/index.html#with~{client}"
        assert not (bench.site / addresses.former_recipe("quillmast-vane", "nobody")).exists()


def test_what_is_packed_now_says_so_at_its_address(bench, tmp_path):
    # Until 2026-11 it lay there plainly. Each pointer is of the kind that programs expect at the address.
    bench.publish(DAY)
    data, chart = bench.site / "data", min((bench.site / "figures").glob("*.json.zip")).with_suffix("")
    former = [data / "runs.json", data / "cells-semicolon.csv", data / "likeloss.db", chart]
    others = [data / "other.json", data / "other.db", chart.with_name("pair~of~nobody.json")]
    assert not any(path.exists() for path in former)
    plain = unpacked(data / "likeloss.db.zip", tmp_path).read_bytes()
    for path in (*former, *others):
        path.write_bytes(plain if path.suffix == ".db" else b"{}")
    for days in (1, 2):
        bench.publish(DAY + timedelta(days=days))
        for path in (data / "runs.json", chart):
            assert json.loads(path.read_text(encoding="utf-8")) == {"moved_to": f"{path.name}.zip"}
        with (data / "cells-semicolon.csv").open(encoding="utf-8", newline="") as file:
            assert list(csv.reader(file, delimiter=";")) == [["moved_to"], ["cells-semicolon.csv.zip"]]
        with closing(sqlite3.connect(data / "likeloss.db")) as db:
            assert db.execute("SELECT * FROM moved_to").fetchall() == [("likeloss.db.zip",)]
        assert all(path.with_name(f"{path.name}.zip").exists() for path in former)
        assert not any(path.exists() for path in others)


def test_what_became_hidden_again_leaves_no_address(bench):
    bench.publish(DAY)
    bench.sql(
        "INSERT INTO embargo (subject, device_id, until_utc, until_typed, covers, batch_id, source_file, source_row) "
        "SELECT 'device', device_id, '2030-01-01T00:00:00Z', '2030', 'existence', batch_id, source_file, source_row "
        "FROM device WHERE device_id = 'quillmast-vane'"
    )
    from builder.publishing.making.building import compose_site

    stage = bench.folder / "stage"
    stage.mkdir()
    compose_site(
        bench.catalog,
        stage,
        as_of=DAY,
        jobs=1,
        progress=lambda _: None,
        formerly=sorted(pages(bench.site)),
    )
    assert not [name for name in pages(stage) if "quillmast-vane" in name]
