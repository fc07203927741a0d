import errno
import hashlib
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import html5lib
import pytest

from builder.charts import rendering
from builder.charts.range_chart import RangeKnot, RangeSeries, range_figure
from builder.charts.rendering import render_file, render_many, render_svg

ROOT = Path(__file__).parents[3]
FIGURES = ["pair", "level", "crowd", "ranking"]

# Draws one figure after drawing so many others, in a process of its own.
ELSEWHERE = """
import hashlib, pickle, sys
from builder.charts.rendering import render_svg
figure, others = pickle.load(sys.stdin.buffer)
for other in others:
    render_svg(other, cache=None)
print(hashlib.sha256(render_svg(figure, cache=None).encode()).hexdigest())
"""


@pytest.fixture(params=FIGURES)
def figure(request):
    return request.getfixturevalue(request.param)


def elsewhere(figure, *others, seed: str) -> str:
    import pickle

    run = subprocess.run(
        [sys.executable, "-c", ELSEWHERE],
        input=pickle.dumps((figure, others)),
        env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=True,
    )
    return run.stdout.decode().strip()


def test_bytes_are_equal_in_every_process_and_order(pair, level, ranking):
    here = hashlib.sha256(render_svg(pair, cache=None).encode()).hexdigest()
    assert elsewhere(pair, seed="1") == here
    assert elsewhere(pair, level, ranking, seed="2") == here


def test_workers_draw_what_this_process_draws(pair, level, crowd, ranking):
    figures = [pair, level, pair, crowd, ranking]
    assert render_many(figures, cache=None, jobs=2) == [render_svg(f, cache=None) for f in figures]
    assert render_many([], cache=None, jobs=2) == []


def test_a_number_of_workers_below_1_is_refused(pair):
    with pytest.raises(ValueError, match="jobs must be at least 1, got 0"):
        render_many([pair], cache=None, jobs=0)


def test_what_was_drawn_is_not_drawn_again(pair, level, tmp_path, monkeypatch):
    drawn = render_many([pair, level], cache=tmp_path / "new", jobs=1)
    monkeypatch.setattr(rendering, "drawing", lambda _: pytest.fail("drawn again"))
    assert render_svg(pair, cache=tmp_path / "new") == drawn[0]
    assert render_many([level, pair], cache=tmp_path / "new", jobs=2) == drawn[::-1]
    assert not list(tmp_path.glob("new/*.part"))


@pytest.mark.parametrize("change", [{"spoken": "Else."}, {"title": "Else?"}, {"key": "else"}])
def test_another_content_is_another_drawing(pair, tmp_path, change):
    render_svg(pair, cache=tmp_path)
    render_svg(replace(pair, **change), cache=tmp_path)
    assert len(list(tmp_path.iterdir())) == 2


def test_a_cache_that_cannot_be_used_costs_time_and_nothing_else(pair, tmp_path, monkeypatch):
    whole = render_svg(pair, cache=tmp_path)
    (file,) = tmp_path.iterdir()
    file.write_bytes(b"\xff\xfe" + file.read_bytes())
    assert render_svg(pair, cache=tmp_path) == whole
    assert render_svg(pair, cache=file / "folder") == whole  # no folder can be made in a file

    def full(*arguments, **keywords):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    assert render_svg(pair, cache=tmp_path / "full") == whole
    assert list((tmp_path / "full").iterdir()) == []


def test_a_file_of_the_cache_that_was_cut_short_is_drawn_anew(pair, tmp_path):
    whole = render_svg(pair, cache=tmp_path)
    (kept,) = tmp_path.iterdir()
    kept.write_text(whole[:500], encoding="utf-8")
    assert render_svg(pair, cache=tmp_path) == whole
    assert kept.read_text(encoding="utf-8") == whole


def test_both_layouts_have_the_same_words_and_the_page_shows_one(figure):
    drawing = render_svg(figure, cache=None)
    assert drawing.count("<svg ") == 2
    assert drawing.count('role="img"') == 2
    assert drawing.count(f"<title>{figure.title}</title><desc>{figure.spoken}</desc>") == 2
    assert drawing.count(f'aria-label="{figure.spoken}"') == 2
    # Where a page's tokens are missing the wide one alone is displayed.
    assert re.findall(r'display="var\((.*?)\)"', drawing) == ["--chart-wide, block", "--chart-narrow, none"]


def test_a_figure_of_one_layout_is_always_shown(pair):
    drawing = render_svg(replace(pair, narrow=None), cache=None)
    assert drawing.count("<svg ") == 1
    assert 'display="block"' in drawing


def test_title_and_notes_are_left_to_the_page(pair):
    drawing = render_svg(pair, cache=None)
    texts = " ".join(re.findall(r">([^<]*)</text>", drawing))
    assert "Wrenlet U2" not in texts
    assert "which gives more" not in texts


def test_a_chart_is_light(figure):
    assert len(render_svg(figure, cache=None).encode()) < 40_000


def test_text_is_readable_on_a_phone(figure):
    # 340 px is a phone of 360 px less 10 px of edge on either side; 11 px the least size of text.
    narrow = render_svg(figure, cache=None).split("<svg ")[2]
    width = float(re.search(r'viewBox="0 0 (\d+)', narrow)[1])
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)px"', narrow)]
    assert min(sizes) * min(1, 340 / width) >= 10.99


def test_places_have_two_decimals_at_most(figure):
    for drawing in (render_svg(figure, cache=None), render_file(figure, cache=None)):
        assert not re.search(r'(?:transform|d|x2|y2)="[^"]*\.\d{3}', drawing)


def test_a_page_holds_the_elements_as_they_are(pair, ranking):
    # Reference: html5lib, the parsing of the HTML standard.
    page = f"<!doctype html><title>t</title><body>{render_svg(pair, cache=None)}{render_svg(ranking, cache=None)}"
    parser = html5lib.HTMLParser(strict=True)
    tree = parser.parse(page)
    assert len(tree.findall(".//{http://www.w3.org/2000/svg}svg")) == 4
    ids = re.findall(r'\sid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_names_cannot_break_out():
    name = """A<b>"c" & <script>'"""
    figure = range_figure(
        key="k",
        title=f"{name}?",
        axis="attenuation",
        series=[RangeSeries(name, name, (RangeKnot(60, 500, None, None, False, "500"),))],
        ruler=[],
        notes=[name],
        spoken=f"{name}.",
        shared_range=None,
    )
    for drawing in (render_svg(figure, cache=None), render_file(figure, cache=None)):
        assert "<script" not in drawing
        assert "&lt;script&gt;" in drawing
        assert html5lib.HTMLParser(strict=True).parseFragment(drawing) is not None


def test_a_file_has_plain_colours_of_its_ground(pair):
    light, dark = (render_file(pair, cache=None, ground=ground) for ground in ("light", "dark"))
    assert "var(" not in light + dark
    assert 'fill="#FAF7F0"' in light
    assert 'fill="#1A1815"' in dark
    assert "#FAF7F0" not in dark


def test_the_downloaded_specification_is_whole(pair):
    spec = json.loads(json.dumps(pair.spec))
    assert spec["title"]["text"] == [pair.title]
    assert [row["text"] for row in spec["datasets"]["notes"]][-1] == "Method 1."
    assert "var(" not in json.dumps(spec)


def test_charts_are_imported_without_their_heavy_libraries():
    program = (
        "import sys, builder.charts.rendering, builder.charts.range_chart, builder.charts.ranking_chart;"
        "print(sorted({'altair', 'vl_convert', 'pandas', 'numpy', 'scipy'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_a_cache_that_cannot_be_written_costs_time_and_nothing_else(pair, tmp_path):
    (tmp_path / "file").write_text("a file stands where the folder should be")
    assert render_svg(pair, cache=tmp_path / "file" / "cache") == render_svg(pair, cache=None)
