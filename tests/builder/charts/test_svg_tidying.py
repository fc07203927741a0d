import re

import pytest

from builder.charts.converting import VL_VERSION, converter
from builder.charts.svg_tidying import file_svg, page_svg
from builder.charts.theme import ROLES

SHAPE = """<svg xmlns="http://www.w3.org/2000/svg" class="marks" width="200" height="100" viewBox="0 0 200 100">
<defs><clipPath id="clip41"><path d="M0,0h1.23456789e2v4e-7h-3Z"/></clipPath><linearGradient id="gradient_7"/></defs>
<g clip-path="url(#clip41)" role="graphics-object" aria-label="a &lt; b"><g class="mark-rect" fill="url(#gradient_7)">
<path class="background" aria-hidden="true" d="M0,0h0v0h0Z"/>
<rect width="10" height="5" fill="#332288" opacity="1"/><rect width="-0.0001" height="5" fill="#332288"/></g>
<g class="empty"/><text font-size="12px">A&lt;b 1.23456</text></g></svg>"""

DRAWING = ("fill", "stroke", "stroke-width", "stroke-dasharray", "opacity", "font-size", "font-weight", "text-anchor")
DEFAULTS = {"stroke-width": "1", "opacity": "1", "text-anchor": "start", "stroke-dasharray": "1,0"}


def as_file(drawing: str, *, ground: str = "light", ids: str = "chart-x") -> str:
    return file_svg(drawing, ids=ids, title="Why?", spoken="So.", ground=ground)


def test_ids_are_named_by_the_drawing_not_by_the_process():
    drawing = as_file(SHAPE)
    assert 'id="chart-x-0"' in drawing
    assert 'clip-path="url(#chart-x-0)"' in drawing
    assert 'id="chart-x-1"' in drawing
    assert as_file(SHAPE.replace("clip41", "clip99").replace("gradient_7", "gradient_0")) == drawing


def test_numbers_are_cut_in_places_and_nowhere_else():
    drawing = as_file(SHAPE)
    assert 'd="M0,0h123.46v0h-3Z"' in drawing
    assert 'width="0"' in drawing
    assert ">A&lt;b 1.23456</text>" in drawing


def test_what_the_renderer_says_to_its_own_page_is_gone():
    drawing = as_file(SHAPE)
    assert not re.search(r'class=|graphics|aria-hidden|opacity="1"|background', drawing)


@pytest.mark.parametrize("name", ["pair", "level", "crowd", "ranking"])
def test_every_mark_is_drawn_as_before(request, drawn, name):
    # Reference: the renderer's own drawing, walked mark by mark with what each inherits.
    figure = request.getfixturevalue(name)
    raw = converter().vegalite_to_svg(figure.spec, vl_version=VL_VERSION)
    before = [mark for mark in drawn(raw) if visible(mark)]
    after = [mark for mark in drawn(as_file(raw)) if visible(mark)]
    assert len(before) == len(after) > 30
    for old, new in zip(before, after, strict=True):
        assert (new.tag, new.text) == (old.tag, old.text)
        assert (new.x, new.y) == pytest.approx((old.x, old.y), abs=0.03)  # three groups deep, each cut to 0.01
        assert numbers(new.attributes.get("d", "")) == pytest.approx(numbers(old.attributes.get("d", "")), abs=0.01)
        for way in DRAWING:
            assert look(new, way) == look(old, way), way


def visible(mark) -> bool:
    if mark.tag == "text":
        return True
    painted = {mark.attributes.get("fill"), mark.attributes.get("stroke")} - {None, "none", "transparent"}
    return mark.tag in {"path", "line", "rect"} and bool(painted) and mark.attributes.get("class") != "foreground"


def look(mark, way: str) -> str:
    return mark.attributes.get(way, DEFAULTS.get(way, "")).lower()


def numbers(path: str) -> list[float]:
    return [float(n) for n in re.findall(r"-?\d*\.?\d+(?:e-?\d+)?", path)]


def test_colours_follow_the_ground():
    assert "#332288" in as_file(SHAPE)
    assert "#332288" not in as_file(SHAPE, ground="dark")
    assert "#88CCEE" in as_file(SHAPE, ground="dark")


def test_a_page_gets_custom_properties_with_a_value_to_fall_back_on():
    drawing = page_svg(SHAPE, ids="c", title="Why?", spoken="So.", layout="narrow", display="block")
    assert 'fill="var(--series-1, #332288)"' in drawing
    for role in ROLES:
        assert role.light not in drawing.replace(f"var({role.name}, {role.light})", "")


def test_a_page_chart_fits_its_column_and_has_a_text_alternative():
    words = {"title": 'Is A<b & "c"?', "spoken": 'Yes, A<b & "c".'}
    drawing = page_svg(SHAPE, ids="c", **words, layout="wide", display="var(--chart-wide, block)")
    opening = drawing[: drawing.index(">")]
    assert 'role="img"' in opening
    assert 'aria-label="Yes, A&lt;b &amp; &quot;c&quot;."' in opening
    assert 'viewBox="0 0 200 100"' in opening
    # 200 px; the sheet's `max-width: 100%` and `height: auto` keep it inside of a narrower column.
    assert 'width="12.5rem"' in opening
    assert "height=" not in opening
    assert 'display="var(--chart-wide, block)"' in opening
    assert '<title>Is A&lt;b &amp; "c"?</title><desc>Yes, A&lt;b &amp; "c".</desc>' in drawing


def test_there_is_nothing_a_policy_without_inline_styles_forbids():
    drawing = page_svg(SHAPE, ids="c", title="Why?", spoken="So.", layout="narrow", display="block")
    assert not re.search(r"\sstyle=|<style|\son\w+=", drawing)
