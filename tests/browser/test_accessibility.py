"""Accessibility of every kind of page: an independent checker, zoom, no motion, and answers by keyboard alone."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from catalog.entering import enter_batch
from tests.browser.test_pages_in_chromium import KINDS, opened, page_of

# Reference: axe-core, the checker's own rules for WCAG 2.0 to 2.2, levels A and AA, and its best practices.
AXE = (Path(__file__).parent / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
STORIES = Path(__file__).parents[1] / "stories"
MOST_TABS = 120

CHECK = """
const done = arguments[0]
// Without preloading: it fetches the style sheet, which the pages' policy forbids, and no rule of these needs it.
axe.run(document, {preload: false, resultTypes: ['violations', 'passes']}).then(
  found => done({
    passes: found.passes.length,
    violations: found.violations.map(v => v.id + ': ' + v.help + ': ' + v.nodes.map(n => n.html.slice(0, 120)).join(' | '))
  }),
  failure => done({passes: 0, violations: [String(failure)]}))
"""


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
@pytest.mark.parametrize("kind", KINDS)
def test_the_checker_finds_nothing(kind, scheme, width, browser, demo_site):
    driver = opened(browser, page_of(demo_site, kind), width=width, scheme=scheme)
    driver.set_script_timeout(120)
    driver.execute_script(AXE)
    found = driver.execute_async_script(CHECK)
    assert found["violations"] == []
    assert found["passes"] > 10


def test_the_checker_is_awake(browser, tmp_path):
    page = tmp_path / "bad.html"
    page.write_text("<!doctype html><title>x</title><img src=x><p style='color:#ccc;background:#fff'>pale</p>")
    driver = opened(browser, page, width=1280)
    driver.execute_script(AXE)
    found = " ".join(driver.execute_async_script(CHECK)["violations"])
    for rule in ("image-alt", "html-has-lang", "color-contrast"):
        assert rule in found


@pytest.mark.parametrize("kind", KINDS)
def test_twice_the_text_size_loses_nothing(kind, browser, demo_site):
    # WCAG 2.2, 1.4.4: text at 200 % without loss of content or function.
    driver = opened(browser, page_of(demo_site, kind), width=1280)
    # The picture of my room is drawn anew with shorter names, and its table below it has them whole.
    words = "const drawn = document.querySelector('[data-drawn]')?.innerText ?? '';"
    words += "return document.body.innerText.replace(drawn, '')"
    before = driver.execute_script(words)
    driver.execute_script("document.documentElement.style.fontSize = '200%'")
    assert driver.execute_script("return document.documentElement.scrollWidth") <= 1280
    assert driver.execute_script(words) == before


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_moves_for_who_asked_for_no_motion(kind, browser, demo_site):
    driver = opened(browser, page_of(demo_site, kind), width=1280)
    driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"features": [{"name": "prefers-reduced-motion", "value": "reduce"}]}
    )
    moving = driver.execute_script(
        """
        return [...document.querySelectorAll('*')].filter(e => {
          const s = getComputedStyle(e)
          return s.scrollBehavior === 'smooth' || s.animationName !== 'none' ||
            s.transitionDuration.split(',').some(t => parseFloat(t) > 0)
        }).map(e => e.outerHTML.slice(0, 80))
        """
    )
    assert moving == []


@pytest.fixture(scope="module")
def story_site(build, tmp_path_factory):
    """story_site(name): the site of one worked story."""

    def built(story):
        folder = tmp_path_factory.mktemp(story)
        enter_batch(STORIES / story, into=folder / "catalog.db", now=datetime(2026, 8, 1, tzinfo=UTC))
        build(folder / "catalog.db", folder / "site", as_of=datetime(2026, 8, 1, tzinfo=UTC))
        return folder / "site"

    return built


def tab_to(driver, ending):
    """Press Tab until a link whose address ends so is focused, and look whether the focus is seen on the way."""
    for _ in range(MOST_TABS):
        driver.switch_to.active_element.send_keys(Keys.TAB)
        focused = driver.switch_to.active_element
        outline = driver.execute_script(
            "const s = getComputedStyle(arguments[0]); return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2",
            focused,
        )
        assert outline, f"focus is not seen on {focused.get_attribute('outerHTML')[:120]}"
        if (focused.get_attribute("href") or "").endswith(ending):
            return focused
    raise AssertionError(f"no link to …{ending} within {MOST_TABS} tabs")


@pytest.mark.parametrize(
    ("story", "path", "answers"),
    [
        # Stories 1 to 4 of the job analysis, worked by hand there.
        (
            "01-partial-overlap",
            ("pairs/index.html", "pairs/quillmast-dome-20--tessarik-shale-2/index.html"),
            ("cannot tell Dome 20 and Shale 2 apart", "Dome 20 was 34 Mbit/s ahead, likely 1 behind to 68 ahead"),
        ),
        (
            "02-match-decides",
            ("pairs/index.html", "pairs/fjeldrun-alcove--polmerre-low/index.html"),
            ("In the same place Low gives 60 Mbit/s more", "At the same signal Alcove gives 60 Mbit/s more"),
        ),
        (
            "03-no-shared-range",
            ("devices/index.html", "devices/quillmast-sill/index.html"),
            ("1100 Mbit/s at 45 dB to 700 Mbit/s at 60 dB",),
        ),
        (
            "04-capped-client",
            ("pairs/index.html", "pairs/quillmast-dome-20--tessarik-shale-2/index.html"),
            ("both held back by the client or the lab, so either may be faster", "≥ 925", "≥ 918"),
        ),
    ],
)
def test_keyboard_alone_reaches_the_answer_without_scripts(story, path, answers, browser_without_scripts, story_site):
    driver = opened(browser_without_scripts, story_site(story) / "index.html", width=1280)
    for ending in path:
        tab_to(driver, ending).send_keys(Keys.ENTER)
    text = driver.find_element(By.TAG_NAME, "body").get_attribute("textContent").replace("\u00a0", " ")
    for answer in answers:
        assert answer in text
