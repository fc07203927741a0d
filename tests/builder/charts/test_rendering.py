import base64
import hashlib
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import html5lib
import pytest
from fontTools.ttLib import TTFont

from builder.charts import face
from builder.charts.range_chart import RangeKnot, RangeSeries, range_figure
from builder.charts.rendering import render_file, render_svg, to_zoom
from builder.charts.theme import ROLES

ROOT = Path(__file__).parents[3]
FIGURES = ["pair", "level", "crowd", "ranking"]

# Draws one figure after drawing so many others, in a process of its own.
ELSEWHERE = """
import hashlib, pickle, sys
from builder.charts.rendering import render_svg
figure, others = pickle.load(sys.stdin.buffer)
for other in others:
    render_svg(other)
print(hashlib.sha256(render_svg(figure).encode()).hexdigest())
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
    here = hashlib.sha256(render_svg(pair).encode()).hexdigest()
    assert elsewhere(pair, seed="1") == here
    assert elsewhere(pair, level, ranking, seed="2") == here


def test_both_layouts_have_the_same_words_and_the_page_shows_one(figure):
    drawing = render_svg(figure)
    assert drawing.count("<svg ") == 2
    assert drawing.count('role="img"') == 2
    assert drawing.count(f"<title>{figure.title}</title><desc>{figure.spoken}</desc>") == 2
    assert drawing.count(f'aria-label="{figure.spoken}"') == 2
    # Where a page's tokens are missing the wide one alone is displayed.
    assert re.findall(r'display="var\((.*?)\)"', drawing) == ["--chart-wide, block", "--chart-narrow, none"]


def test_a_figure_of_one_layout_is_always_shown(pair):
    drawing = render_svg(replace(pair, narrow=None))
    assert drawing.count("<svg ") == 1
    assert 'display="block"' in drawing


def test_title_and_notes_are_left_to_the_page(pair):
    drawing = render_svg(pair)
    texts = " ".join(re.findall(r">([^<]*)</text>", drawing))
    assert "Wrenlet U2" not in texts
    assert "which gives more" not in texts


def test_a_chart_is_light(figure):
    assert len(render_svg(figure).encode()) < 40_000


def test_text_is_readable_on_a_phone(figure):
    # 340 px is a phone of 360 px less 10 px of edge on either side; 11 px the least size of text.
    narrow = render_svg(figure).split("<svg ")[2]
    width = float(re.search(r'viewBox="0 0 (\d+)', narrow)[1])
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)px"', narrow)]
    assert min(sizes) * min(1, 340 / width) >= 10.99


def test_places_have_three_decimals_at_most(figure):
    drawings = (render_svg(figure), re.sub("<style>.*</style>", "", render_file(figure), flags=re.DOTALL))
    for drawing in drawings:
        assert not re.search(r'\s(?:transform|d|x|y|x2|y2)="[^"]*\.\d{4}', drawing)


def test_a_page_holds_the_elements_as_they_are(pair, ranking):
    # Reference: html5lib, the parsing of the HTML standard.
    page = f"<!doctype html><title>t</title><body>{render_svg(pair)}{render_svg(ranking)}"
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
    for drawing in (render_svg(figure), render_file(figure)):
        assert "<script" not in drawing
        assert "&lt;script&gt;" in drawing
        assert html5lib.HTMLParser(strict=True).parseFragment(drawing) is not None


def test_a_file_has_plain_colours_of_its_ground(pair):
    light, dark = (render_file(pair, ground=ground) for ground in ("light", "dark"))
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


def test_text_alternative_stands_in_every_picture(pair):
    words = {"title": 'Is A<b & "c"?', "spoken": 'Yes, A<b & "c".'}
    for drawing in (render_svg(replace(pair, **words)), render_file(replace(pair, **words))):
        opening = drawing[: drawing.index(">")]
        assert 'role="img"' in opening
        assert 'aria-label="Yes, A&lt;b &amp; &quot;c&quot;."' in opening
        assert '<title>Is A&lt;b &amp; "c"?</title><desc>Yes, A&lt;b &amp; "c".</desc>' in drawing


def test_a_page_chart_fits_its_column(pair):
    opening = render_svg(pair)[: render_svg(pair).index(">")]
    wide = int(re.search(r'viewBox="0 0 (\d+) \d+"', opening)[1])
    # The sheet's `max-width: 100%` and `height: auto` keep it inside of a narrower column.
    assert f'width="{wide / 16:g}rem"' in opening
    assert "height=" not in opening


def test_a_page_gets_custom_properties_with_a_value_to_fall_back_on(figure):
    drawing = render_svg(figure)
    assert "var(--series-1, #332288)" in drawing
    for role in ROLES:
        assert role.light not in drawing.replace(f"var({role.name}, {role.light})", "")


def test_there_is_nothing_a_policy_without_inline_styles_forbids(figure):
    assert not re.search(r"\sstyle=|<style|\son\w+=", render_svg(figure))


def test_a_file_brings_its_face_along(pair):
    drawing = render_file(pair)
    assert drawing.count("@font-face") == 2
    assert "'Bench Sans'" in drawing[: drawing.index(">")]


def _add_letters(element, weight, shown):
    weight = 700 if element.get("font-weight") == "bold" else weight
    if element.tag.endswith("}text"):
        shown[weight] += element.text
    for inner in element:
        _add_letters(inner, weight, shown)


@pytest.mark.parametrize("letter", ["A", "≥", "ß", "Ł", "&"])
def test_a_file_has_every_letter_it_shows_as_wide_as_it_was_measured(pair, letter):
    drawing = render_file(replace(pair, title=f"Which {letter} gives more?"))
    shown = {400: "", 700: letter}  # the title is bold
    _add_letters(ElementTree.fromstring(drawing), 400, shown)
    packed = [base64.b64decode(one) for one in re.findall(r"base64,([^)]*)\)", drawing)]
    for content, (weight, letters) in zip(packed, shown.items(), strict=True):
        assert len(content) < 4_500
        with TTFont(io.BytesIO(content)) as font:
            unit, names = font["head"].unitsPerEm, font.getBestCmap()
            for one in letters:
                assert font["hmtx"][names[ord(one)]][0] / unit == face.width(one, 1.0, bold=weight == 700)
            assert names.keys() <= set(map(ord, "".join(shown.values())))


def test_a_chart_to_zoom_has_the_pages_colours_and_both_widths(pair, mix, ranking):
    for figure in (pair, mix, ranking):
        wide, narrow = json.loads(to_zoom(figure))
        assert (wide["width"], narrow["width"]) == (figure.spec["width"], figure.narrow["width"])
        for spec in (wide, narrow):
            assert "title" not in spec
            assert spec["datasets"]["notes"] == []
            text = json.dumps(spec)
            assert "var(--series-1)" in text or "var(--calm)" in text
            assert not re.search(r'"#[0-9A-Fa-f]{6}"', text)  # a colour of paper alone would not be seen by night
    assert json.dumps(pair.spec).count("var(") == 0  # the download has plain colours
