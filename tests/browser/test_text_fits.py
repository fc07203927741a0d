"""Text of charts stays inside of its picture, in whatever face this machine sets it."""

import pytest

from tests.browser.watching import opened

PAGES = (
    "devices/tessarik-cupola/index.html",
    "devices/fjeldrun-skerry/index.html",  # long runs
    "pairs/polmerre-rondel-6--tessarik-cupola/index.html",
    "reviews/cupola-review/index.html",
    "workloads/after-supper/index.html",
)


@pytest.mark.parametrize("width", [360, 1280])
def test_no_text_of_a_chart_is_cut_off(browser, demo_site, width):
    rankings = sorted(path.relative_to(demo_site).as_posix() for path in demo_site.glob("rankings/*/index.html"))
    for page in (*PAGES, *rankings[:6]):
        driver = opened(browser, demo_site / page, width=width)
        texts = driver.execute_script(
            "return [...document.querySelectorAll('svg.chart')].flatMap(svg => {"
            "  const frame = svg.getBoundingClientRect();"
            "  return [...svg.querySelectorAll('text')].map(text => [text.textContent, text.getBoundingClientRect()])"
            "    .filter(([, at]) => at.width)"
            "    .map(([words, at]) => [words, Math.max(at.right - frame.right, frame.left - at.left)]) })"
        )
        assert len(texts) > 5, page
        assert [text for text in texts if text[1] > 0.5] == [], page
