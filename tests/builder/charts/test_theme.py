import pytest

from builder.charts import theme
from builder.charts.converting import converter

SERIES = [role.light for role in theme.SERIES] + [role.dark for role in theme.SERIES]


def test_hues_are_members_of_published_palettes(published):
    # Source: Tol's muted scheme; black of Okabe & Ito 2002 (tests/published/palettes.csv).
    members = {row["hex"] for row in published("palettes") if row["palette"] in {"Tol muted", "Okabe-Ito"}}
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


@pytest.mark.parametrize(
    "text",
    ["Quillmast Dome 20", "2 walls, door closed", "Wrenlet U2 (driver 3.11)", "MMMM WWW", "illicit", "95 % & Q@G"],
)
def test_text_is_as_wide_as_the_renderer_measures(text):
    # Reference: vl-convert's own measuring of the face it carries; it gives whole px.
    mark = {"type": "text", "encode": {"enter": {"text": {"value": text}, "font": {"value": "sans-serif"}}}}
    mark["encode"]["enter"]["fontSize"] = {"value": 100}
    drawing = converter().vega_to_svg({"width": 1, "height": 1, "autosize": "pad", "marks": [mark]})
    measured = float(drawing.split('width="', 1)[1].split('"', 1)[0])
    assert theme.text_width(text, 100) == pytest.approx(measured, rel=0.01, abs=2)


def test_lines_are_balanced():
    assert theme.wrapped("Tessarik Shale 2", 86, 12) == ["Tessarik Shale", "2"]
    assert theme.balanced("Tessarik Shale 2", 86, 12) == ["Tessarik", "Shale 2"]
    assert theme.balanced("", 86, 12) == []
    assert theme.wrapped("Nonpareilleverylongword x", 20, 12) == ["Nonpareilleverylongword", "x"]
