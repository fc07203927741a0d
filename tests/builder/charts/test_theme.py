import re

import pytest
from PIL import ImageFont

from builder.charts import theme
from builder.charts.converting import converter

SERIES = [role.light for role in theme.SERIES] + [role.dark for role in theme.SERIES]


def test_hues_are_members_of_published_palettes(published):
    # Source: Tol's muted and contrast schemes; black of Okabe & Ito 2002 (tests/published/palettes.csv).
    schemes = {"Tol muted", "Tol high-contrast", "Tol medium-contrast", "Okabe-Ito"}
    members = {row["hex"] for row in published("palettes") if row["palette"] in schemes}
    assert set(SERIES) <= members


def test_every_position_has_a_hue_a_dash_and_a_shape_of_its_own():
    for ways in (theme.hues(), theme.DASHES, theme.SHAPES, [role.dark for role in theme.SERIES]):
        assert len(ways) == len(set(ways)) == theme.MAX_SERIES


def test_a_colour_has_one_role():
    lights = [role.light.lower() for role in theme.ROLES]
    assert len(lights) == len(set(lights))  # the renderer tells roles by their light value


@pytest.mark.parametrize("count", [0, 7])
def test_other_than_one_to_six_series_are_refused(count):
    with pytest.raises(ValueError, match=f"a chart holds 1 to 6 series, got {count}"):
        theme.series_numbers(count)


TEXTS = ("Quillmast Dome 20", "2 walls, door closed", "Wrenlet U2 (driver 3.11)", "MMMM WWW", "illicit", "95 % & Q@G")


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", TEXTS)
def test_text_is_as_wide_as_the_face_sets_it(text, bold):
    """Reference: vl-convert, which shapes it (kerning, ligatures) and gives whole px of a text of 100 px."""
    look = {"text": text, "font": "Bench Sans", "fontSize": 100, "fontWeight": "bold" if bold else "normal"}
    mark = {"type": "text", "encode": {"enter": {name: {"value": value} for name, value in look.items()}}}
    drawing = converter().vega_to_svg({"width": 1, "height": 1, "autosize": "pad", "marks": [mark]})
    measured = float(drawing.split('width="', 1)[1].split('"', 1)[0])
    assert measured - 1 <= theme.text_width(text, 100, bold=bold) <= 1.005 * measured + 1


def test_a_letter_that_the_face_lacks_takes_the_most():
    letters = map(chr, range(0x20, 0x180))
    assert theme.text_width("Ж", 13) >= max(theme.text_width(letter, 13, bold=True) for letter in letters)


@pytest.mark.parametrize("text", [text for text in TEXTS if text != "MMMM WWW"])  # in bold 34 % wider
@pytest.mark.parametrize(("file", "bold"), [("DejaVuSans.ttf", False), ("DejaVuSans-Bold.ttf", True)])
def test_the_widest_usual_face_has_room(text, file, bold):
    # Reference: FreeType's measure of the face itself, where this machine has it.
    try:
        fallback = ImageFont.truetype(file, 100)
    except OSError:
        pytest.skip(f"{file} is not installed")
    assert fallback.getlength(text) <= theme.text_room(text, 100, bold=bold)


def test_lines_are_balanced():
    assert theme.wrapped("Tessarik Shale 2", 104, 12) == ["Tessarik Shale", "2"]
    assert theme.balanced("Tessarik Shale 2", 104, 12) == ["Tessarik", "Shale 2"]
    assert theme.balanced("", 86, 12) == []
    assert theme.wrapped("Nonpareilleverylongword x", 20, 12) == ["Nonpareilleverylongword", "x"]


@pytest.mark.parametrize("width", [40, 66, 200])
@pytest.mark.parametrize("text", [*TEXTS, "W" * 60, "grandmotherswindowseat at the window", ""])
def test_held_text_stays_within_its_width_and_loses_no_letter(text, width):
    lines = theme.held(text, width, 13, bold=True)
    assert all(theme.text_room(line, 13, bold=True) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


@pytest.mark.parametrize("cut", [theme.wrapped, theme.balanced, theme.held])
def test_no_line_of_a_chart_ends_between_a_number_and_its_unit(cut):
    lines = [
        cut("Mottle N1 · S6, 72.1 dB, 2.4 GHz; too few to tell from 95 %", width, 12) for width in range(80, 400, 5)
    ]
    assert {len(one) for one in lines} > {2, 3, 4}
    for line in (line for one in lines for line in one):
        assert not re.match(r"(dB|GHz|%)", line), line


def test_a_unit_has_a_line_of_its_own_where_there_is_no_room_beside_its_number():
    assert theme.held("1234 Mbit/s", theme.text_room("Mbit/s", 12), 12) == ["1234", "Mbit/s"]
