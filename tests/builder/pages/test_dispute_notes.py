"""An open dispute stands at every figure it is about, with the way to its place on the device's page (K08)."""

import re
from datetime import UTC, datetime
from functools import partial

import pytest

from builder.bench.cells import cell_figure
from builder.pages.contents import load_contents
from builder.pages.parts.disputing import disputed
from catalog.entering import check_batch
from catalog.figure_names import joined_id
from catalog.visibility import public_copy
from tests.batches import batch_at, batch_toml
from tests.builder.publishing.publishing_bench import Bench, batch
from tests.evenings import enter, evening

NOW = datetime(2025, 9, 10, tzinfo=UTC)
ABOUT = "figure,device,date,by,claim,state,evidence\n"
ARTICLE = """[[article]]
id = "quoting"
title = "Quoting"
published = "2025-09-01T10:00:00Z"
file = "articles/q.md"
devices = ["quillmast-sill"]
"""
TEXT = """(= under client wrenlet-u2, band 5, width 80, direction down =)

In the room (= value quillmast-sill, spot S1 =), further off (= value quillmast-sill, spot S3 =).
"""


def marked_rows(page, *, device):
    """Every table row with the mark of a dispute about a device, and every mark in running text."""
    text = page.read_text(encoding="utf-8")
    assert "disputed:" not in text
    mark = rf'<a class="mark" href="(?:[^"]*devices/{device}/index\.html)?#[^"]+"'
    return [row for row in re.findall(r"<tr.*?</tr>", text, re.DOTALL) if re.search(mark, row)]


def fragments_lead_somewhere(site, page):
    for href in re.findall(r'class="mark" href="([^"]+)"', page.read_text(encoding="utf-8")):
        path, _, fragment = href.partition("#")
        target = (page.parent / path).resolve() if path else page
        assert f'id="{fragment.replace("%7E", "~")}"' in target.read_text(encoding="utf-8")


def test_a_dispute_about_a_device_is_at_its_figures_everywhere(small_site):
    # Source: tests/builder/small_catalog.py: the maker's claim about tessarik-a-b is open.
    device = "tessarik-a-b"
    rankings = [p for p in small_site.glob("rankings/*/index.html") if f"devices/{device}/" in p.read_text()]
    recipes = [p for p in small_site.glob("repeat/*/index.html") if device == p.parent.name]
    pairs = [p for p in small_site.glob("pairs/*/index.html") if device in p.parent.name]
    workloads = [page for page in small_site.glob("workloads/*/index.html") if "~" not in page.parent.name]
    assert rankings
    assert recipes
    assert pairs
    assert workloads
    for page in (*rankings, *recipes, *pairs, *workloads):
        assert marked_rows(page, device=device), page
        fragments_lead_somewhere(small_site, page)
        assert 'title="old &lt;firmware&gt;"' in page.read_text(encoding="utf-8")
    facts = (small_site / "devices" / device / "index.html").read_text(encoding="utf-8")
    assert '<a href="#dispute~1">open: old &lt;firmware&gt;</a>' in facts


def test_devices_without_one_have_no_mark(small_site):
    page = (small_site / "devices" / "quillmast-vane" / "index.html").read_text(encoding="utf-8")
    assert 'class="mark"' not in page


@pytest.fixture(scope="module")
def figures(small_file):
    """figure("S1"): the id of the Sill's cell at a spot, down with the Wrenlet."""
    with_ids = load_contents(public_copy(small_file, as_of=NOW), as_of=NOW, sizes={})
    own = [c for c in with_ids.results.bench.cells_of["quillmast-sill"] if c.client == "wrenlet-u2"]
    return {c.spot: cell_figure(c) for c in own if c.group.direction == "down"}


def test_a_dispute_about_one_cell_is_at_what_rests_on_it_and_nowhere_else(
    small_file, chart_cache, build, figures, tmp_path
):
    # By hand, losses of small_catalog.py (46, 55.5, 64, 73, 82 dB): over the near window, 50 to 60 dB, the line from
    # S1 to S2 counts; over the middle one, 60 to 75 dB, S1 counts for nothing.
    bench = Bench(small_file, tmp_path / "bench", chart_cache)
    place = batch(
        tmp_path,
        "doubts",
        more=ARTICLE,
        disputes=ABOUT + f"{figures['S1']},,2025-08-01,Quillmast,wrong width,open,\n"
        f"{figures['S3']},,2025-08-01,Quillmast,wrong spot,open,\n"
        f"{figures['S3']},,2025-08-20,Quillmast,wrong spot,not upheld,walked it again\n",
    )
    (place / "articles").mkdir()
    (place / "articles" / "q.md").write_text(TEXT, encoding="utf-8")
    bench.enter(place)
    site = bench.folder / "built"
    build(bench.catalog, site, as_of=NOW)
    device = "quillmast-sill"
    own = site / "devices" / device / "index.html"
    (row,) = marked_rows(own, device=device)
    assert f'id="{figures["S1"]}"' in row
    (ranking,) = [
        p for p in site.glob("rankings/*/index.html") if "wrenlet-u2" in p.parent.name and "down" in p.parent.name
    ]
    tables = dict(re.findall(r'id="table-(near|middle|far)".*?(<tbody\b.*?</tbody>)', ranking.read_text(), re.DOTALL))
    assert f"devices/{device}/index.html#dispute" in tables["near"]
    assert f"devices/{device}/index.html#dispute" not in tables["middle"]
    (row,) = marked_rows(site / "repeat" / "quillmast-sill" / "index.html", device=device)
    assert ">S1<" in row.replace('<th scope="row">S1</th>', ">S1<")
    pair = site / "pairs" / "quillmast-sill--quillmast-vane" / "index.html"
    assert marked_rows(pair, device=device)
    review = site / "reviews" / "quoting" / "index.html"
    (row,) = marked_rows(review, device=device)
    assert 'id="number-1"' in row
    assert '</a> <a class="mark" href="#number-1">disputed</a>' in review.read_text(encoding="utf-8")
    assert '<a class="mark" href="#number-2"' not in review.read_text(encoding="utf-8")
    for page in (own, ranking, pair, review):
        fragments_lead_somewhere(site, page)


def test_a_dispute_is_closed_with_a_reason(tmp_path):
    place = batch(tmp_path, "closing", disputes=ABOUT + "cell~x,,2025-08-01,Quillmast,wrong width,upheld,\n")
    (problem,) = check_batch(place, catalog=None).problems
    assert problem.column == "evidence"
    assert "was decided, and nothing says by what" in str(problem)
    place = batch(tmp_path / "again", "closing", disputes=ABOUT + "cell~x,,2025-08-01,Q,wrong width,upheld,a walk\n")
    assert check_batch(place, catalog=None).problems == ()


def test_a_dispute_about_a_figure_of_a_hidden_firmware_is_hidden(small_file, tmp_path, chart_cache):
    bench = Bench(small_file, tmp_path / "bench", chart_cache)
    more = """[[device]]
id = "quillmast-sill"
  [[device.firmware]]
  version = "9.9"
  [device.firmware.embargo]
  until = "2025-09-30T09:00Z"
  covers = "existence"
"""
    bench.enter(batch(tmp_path, "hidden", more=more))
    figure = "cell~quillmast-sill~A~9_2e_9~wrenlet-u2~3_2e_11~5-80-down~S1~2025-08-20"
    bench.enter(batch(tmp_path, "said", disputes=ABOUT + f"{figure},,2025-08-01,Quillmast,wrong width,open,\n"))
    copy = public_copy(bench.catalog, as_of=NOW)
    assert [d for (d,) in copy.execute("SELECT figure FROM dispute WHERE figure IS NOT NULL")] == []
    later = public_copy(bench.catalog, as_of=NOW.replace(month=10))
    assert [d for (d,) in later.execute("SELECT figure FROM dispute WHERE figure IS NOT NULL")] == [figure]


def test_a_dispute_that_names_only_a_role_of_a_mix_is_at_that_role(tmp_path):
    catalog, figure = tmp_path / "catalog.db", joined_id("role", "mix-1", "lap-3", "call")
    enter(evening(tmp_path), catalog)
    row = f"figure,date,by,claim,state\n{figure},2025-05-20,the maker,another codec was used,open\n"
    enter(batch_at(tmp_path / "claim", batch_toml("claim"), {"disputes.csv": row}), catalog)
    catalogue = load_contents(public_copy(catalog, as_of=NOW), as_of=NOW, sizes={}).catalogue
    marks = partial(disputed(catalogue).marks, "index.html", "tessarik-shale-2")
    assert [mark.note for mark in marks(figures=[figure])] == ["another codec was used"]
    assert marks(figures=[joined_id("role", "mix-1", "lap-1", "film")]) == ()
