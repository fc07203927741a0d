"""The face of figures: a page opened from disk has it, under its own policy, and sets text as wide as we planned."""

import pytest

from builder.charts.theme import text_width
from tests.browser.watching import opened

TEXTS = (
    "Quillmast Dome 20",
    "2 walls, door closed",
    "Wrenlet U2 (driver 3.11)",
    "95 % & Q@G",
    "≥ 1,234 Mbit/s ±\u202f5",
)


@pytest.mark.parametrize("weight", [400, 700])
def test_the_browser_measures_text_as_we_do(browser, small_site, weight):
    driver = opened(browser, small_site / "index.html", width=360)
    loaded, widths = driver.execute_async_script(
        "const [weight, texts, done] = arguments;"
        "document.fonts.load(`${weight} 100px 'Bench Sans'`).then((faces) => {"
        "  const pen = document.createElement('canvas').getContext('2d');"
        "  pen.font = `${weight} 100px 'Bench Sans'`;"
        "  done([faces.map((face) => [face.status, face.weight]), texts.map((text) => pen.measureText(text).width)]) })",
        weight,
        TEXTS,
    )
    assert loaded == [["loaded", str(weight)]]
    planned = [text_width(text, 100, bold=weight == 700) for text in TEXTS]
    assert widths == pytest.approx(planned, rel=0.01)
    assert all(width <= plan + 1 for width, plan in zip(widths, planned, strict=True))
