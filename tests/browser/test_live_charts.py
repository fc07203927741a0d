"""The chart that is drawn on demand, in a real browser from disk under the pages' own policy."""

import re

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By

from tests.browser.test_accessibility import AXE, CHECK
from tests.browser.watching import complaints, opened, patient, requests_outside, seen_as

# A page with each kind of chart: line, ranking, waiting (the picture of shares has nothing to zoom), long run (its last).
KINDS = {
    "pair": ("pairs/*/index.html", 0),
    "ranking": ("rankings/*/index.html", 0),
    "workload": ("workloads/*/index.html", 0),
    "long run": ("devices/fjeldrun-skerry/index.html", -1),
}
LIBRARY = "vega-charts"


def live(driver, site, kind, **screen):
    pattern, number = KINDS[kind]
    page = max(site.glob(pattern), key=lambda path: (path.stat().st_size, str(path)))
    driver.get("about:blank")
    complaints(driver), requests_outside(driver)
    opened(driver, page, **{"width": 1280} | screen)
    return driver.find_elements(By.TAG_NAME, "chart-view")[number]


def asked_for(view):
    driver = view.find_element(By.TAG_NAME, "button")
    view.parent.execute_script("arguments[0].click()", driver)
    patient(view.parent).until(lambda _: view.find_elements(By.CSS_SELECTOR, ".chart-live svg.chart text"))


def press(view, name):
    (button,) = [b for b in view.find_elements(By.TAG_NAME, "button") if b.text == name]
    view.parent.execute_script("arguments[0].click()", button)


def pointed_at(view, mark):
    """What is said of a mark. A chart that is drawn anew meanwhile hears only of the next move."""
    ActionChains(view.parent).move_to_element(mark).move_by_offset(1, 0).perform()
    return view.find_element(By.CSS_SELECTOR, "[role=status]").text


def axis(view):
    script = "return [...arguments[0].querySelectorAll('.chart-live .role-axis-label text')].map(t => t.textContent)"
    return sorted(view.parent.execute_script(script, view))


@pytest.mark.parametrize("kind", KINDS)
def test_it_zooms_and_comes_back_in_silence(kind, browser, demo_site):
    view = live(browser, demo_site, kind)
    loaded = "return performance.getEntriesByType('resource').map(e => e.name).filter(n => n.includes(arguments[0]))"
    assert browser.execute_script(loaded, LIBRARY) == []  # nothing before a reader asks
    picture = view.find_element(By.XPATH, "./ancestor::figure//*[contains(@class, 'chart-picture')]")
    assert picture.is_displayed()
    above = picture.location["y"]
    asked_for(view)
    assert not picture.is_displayed()  # one chart in one place
    assert abs(view.find_element(By.CLASS_NAME, "chart-live").location["y"] - above) < 8
    assert [button.text for button in view.find_elements(By.TAG_NAME, "button")] == ["Zoom in", "Zoom out", "Reset"]
    whole = axis(view)
    press(view, "Zoom in")
    patient(browser).until(lambda _: axis(view) != whole)
    press(view, "Reset")
    patient(browser).until(lambda _: axis(view) == whole)
    assert complaints(browser) == []  # also what the policy would have refused
    assert requests_outside(browser) == []


def test_a_mark_that_is_pointed_at_is_read(browser, demo_site):
    view = live(browser, demo_site, "pair")
    asked_for(view)
    mark = view.find_elements(By.CSS_SELECTOR, ".chart-live .mark-symbol path")[2]
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", mark)
    patient(browser).until(lambda _: " dB, " in pointed_at(view, mark))
    assert view.find_element(By.CSS_SELECTOR, "[role=status]").text.endswith("Mbit/s")


def test_a_bar_that_is_pointed_at_is_read_with_its_row(browser, demo_site):
    view = live(browser, demo_site, "workload")
    asked_for(view)
    bar = view.find_element(By.CSS_SELECTOR, ".chart-live .mark-rect path")
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", bar)
    patient(browser).until(lambda _: "50 % within" in pointed_at(view, bar))
    status = view.find_element(By.CSS_SELECTOR, "[role=status]")
    assert re.fullmatch(r"[A-Z][\w ]+: 50 % within [\d.]+ m?s, 90 % (within [\d.]+ m?s|never answered)", status.text)


LOOK = """
const svg = arguments[0].querySelector("svg.chart"), edge = svg.getBoundingClientRect()
return {
  ink: getComputedStyle(svg.querySelector(".role-axis-label text")).fill,
  ground: getComputedStyle(svg.querySelector(".background")).fill,
  wide: edge.width,
  beyond: Math.max(...[...svg.querySelectorAll("text")].map(text => text.getBoundingClientRect().right - edge.right)),
}
"""


@pytest.mark.parametrize(("width", "layout"), [(360, "narrow"), (1280, "wide")])
@pytest.mark.parametrize("kind", KINDS)
def test_it_is_as_wide_as_its_picture_and_has_the_pages_colours(kind, width, layout, browser, demo_site):
    view = live(browser, demo_site, kind, width=width)
    picture = view.find_element(By.XPATH, f"./ancestor::figure//*[contains(@class, 'chart-{layout}')]").rect["width"]
    asked_for(view)
    looks = {}
    for name, scheme, forced in (("light", "light", False), ("dark", "dark", False), ("own", "dark", True)):
        seen_as(browser, scheme=scheme, forced=forced)
        looks[name] = browser.execute_script(LOOK, view)
    assert abs(looks["light"]["wide"] - picture) <= 1
    assert looks["light"]["beyond"] <= 1
    # text-muted of either theme, and no colour of ours where the reader chose them.
    assert (looks["light"]["ink"], looks["dark"]["ink"]) == ("rgb(95, 87, 75)", "rgb(179, 169, 151)")
    assert looks["own"]["ink"] == "rgb(255, 255, 255)"
    assert all(look["ground"] in ("none", "rgba(0, 0, 0, 0)") for look in looks.values())  # the page's own shows


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_checker_finds_nothing_in_it(scheme, browser, demo_site):
    view = live(browser, demo_site, "pair", width=360, scheme=scheme)
    asked_for(view)
    browser.set_script_timeout(120)
    browser.execute_script(AXE)
    assert browser.execute_async_script(CHECK)["violations"] == []
    assert browser.execute_script("return document.documentElement.scrollWidth") <= 360
    for button in view.find_elements(By.TAG_NAME, "button"):
        assert button.size["height"] >= 44


def test_without_scripts_there_is_nothing_to_press(browser_without_scripts, demo_site):
    page = max((demo_site / "pairs").glob("*/index.html"), key=lambda path: path.stat().st_size)
    driver = opened(browser_without_scripts, page)
    assert not driver.find_element(By.TAG_NAME, "chart-view").is_displayed()
