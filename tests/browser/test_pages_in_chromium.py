"""Every kind of page in a real browser, opened from disk: on a phone, by day and by night, with scripts off."""

import json
import re

import pytest
from selenium.webdriver.common.by import By

KINDS = {
    "start": "index.html",
    "devices": "devices/index.html",
    "device": "devices/*/index.html",
    "pairs": "pairs/index.html",
    "pair": "pairs/*/index.html",
    "rankings": "rankings/index.html",
    "ranking": "rankings/*/index.html",
    "collapses": "collapses/index.html",
    "recipes": "repeat/index.html",
    "recipe": "repeat/*/index.html",
    "features": "features/index.html",
    "power": "power/index.html",
    "parts": "insides/index.html",
    "firmware": "firmware/index.html",
    "prices": "prices/index.html",
    "workloads": "workloads/index.html",
    "workload": "workloads/*/index.html",
    "role": "workloads/*/role*.html",
    "clients": "clients/index.html",
    "client": "clients/*/index.html",
    "houses": "houses/index.html",
    "house": "houses/*/index.html",
    "reviews": "reviews/index.html",
    "review": "reviews/*/index.html",
    "my room": "my-room/index.html",
    "chooser": "chooser/index.html",
    "search": "search/index.html",
    "method": "method/index.html",
    "glossary": "glossary/index.html",
    "changes": "changes/index.html",
    "data": "data/index.html",
    "not found": "404.html",
}
TARGET_PX = 44  # site.md: targets at least 44 px (WCAG 2.2, 2.5.5)

# Whatever can be pressed and is no link inside of a sentence (those are exempt, WCAG 2.2, 2.5.8 "inline").
SMALL_TARGETS = """
return [...document.querySelectorAll('a, summary, button, input, select')].filter(e => {
  const box = (e.closest('label') ?? e).getBoundingClientRect()  // a label is pressed as its field is
  if (!box.width || e.closest('p:not(.name):not(.chart-source), .review-text')) return false
  if (e.classList.contains('skip')) return false
  return box.height < arguments[0] - 0.5
}).map(e => e.outerHTML.slice(0, 120) + ' ' + e.getBoundingClientRect().height)
"""


def page_of(site, kind):
    """The largest page of a kind: what fits there fits everywhere."""
    return max(site.glob(KINDS[kind]), key=lambda path: (path.stat().st_size, str(path)))


def opened(driver, path, *, width=360, height=800, scheme="light"):
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    )
    driver.get(path.as_uri())
    return driver


@pytest.mark.parametrize("width", [320, 360, 1280])
@pytest.mark.parametrize("kind", KINDS)
def test_page_never_scrolls_sideways(kind, width, browser, demo_site):
    # 360 px: site.md. 320 px: WCAG 2.2, 1.4.10 (what 1280 px at 400 % zoom leaves).
    driver = opened(browser, page_of(demo_site, kind), width=width)
    assert driver.execute_script("return document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("kind", KINDS)
def test_targets_are_large_enough_for_a_finger(kind, browser, demo_site):
    driver = opened(browser, page_of(demo_site, kind))
    assert driver.execute_script(SMALL_TARGETS, TARGET_PX) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("kind", KINDS)
def test_console_is_silent_and_nothing_leaves_the_disk(kind, scheme, browser, demo_site):
    browser.get_log("browser")
    browser.get_log("performance")
    driver = opened(browser, page_of(demo_site, kind), width=1280, scheme=scheme)
    assert [entry["message"] for entry in driver.get_log("browser")] == []
    asked = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    addresses = [m["params"]["request"]["url"] for m in asked if m["method"] == "Network.requestWillBeSent"]
    assert addresses
    # The face is data in the style sheet: asked for, and on no network.
    assert [a for a in addresses if not a.startswith(("file://", "data:font/"))] == []


@pytest.mark.parametrize("kind", KINDS)
def test_page_is_whole_without_scripts(kind, browser, browser_without_scripts, demo_site):
    page = page_of(demo_site, kind)
    driver = opened(browser, page)
    driver.execute_script("document.querySelectorAll('.tool').forEach(tool => tool.remove())")
    with_scripts = driver.find_element(By.TAG_NAME, "body").text
    driver = opened(browser_without_scripts, page)
    without = driver.find_element(By.TAG_NAME, "body").text
    for said in driver.find_elements(By.CSS_SELECTOR, "noscript"):
        without = without.replace(said.text + "\n", "")
    assert len(without) > 100
    assert without == with_scripts


def test_first_screen_of_a_device_holds_what_it_is_opened_for(browser, demo_site):
    # T01 of the job analysis: firmware, date, client, origin, collapses, disputes in the first 800 px at 360 px width.
    for page in sorted((demo_site / "devices").glob("*/index.html")):
        driver = opened(browser, page)
        ends = {
            dt.text: dt.find_element(By.XPATH, "..").rect["y"] + dt.find_element(By.XPATH, "..").rect["height"]
            for dt in driver.find_elements(By.CSS_SELECTOR, ".sidebar .facts dt")
        }
        for term in ("Firmware", "Tested", "With", "Who paid", "Broke off", "Disputes"):
            assert ends[term] <= 800, f"{page.parent.name}: {term} ends at {ends[term]} px"


def test_row_headings_stand_still_while_a_table_moves(browser, demo_site):
    driver = opened(browser, page_of(demo_site, "devices"))
    box = driver.find_element(By.CSS_SELECTOR, ".scroll")
    heading = box.find_element(By.CSS_SELECTOR, "tbody th")
    before = driver.execute_script("return arguments[0].getBoundingClientRect().left", heading)
    moved = driver.execute_script("arguments[0].scrollLeft = 300; return arguments[0].scrollLeft", box)
    after = driver.execute_script("return arguments[0].getBoundingClientRect().left", heading)
    assert moved > 100
    assert abs(after - before) < 1


@pytest.mark.parametrize(("width", "shown"), [(360, "chart-narrow"), (1280, "chart-wide")])
def test_one_layout_of_a_chart_shows_and_fits(width, shown, browser, demo_site):
    driver = opened(browser, page_of(demo_site, "pair"), width=width)
    visible = [svg for svg in driver.find_elements(By.CSS_SELECTOR, "svg.chart") if svg.is_displayed()]
    assert [shown in svg.get_attribute("class") for svg in visible] == [True]
    assert 0.5 * min(width, 640) < visible[0].rect["width"] <= width


def luminance(colour):
    """Relative luminance (WCAG 2.2, definition). *colour* as a browser computes it: "rgb(38, 34, 28)"."""
    channels = [int(v) / 255 for v in re.findall(r"\d+", colour)[:3]]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("kind", ["start", "device", "pair", "ranking", "review", "data", "not found"])
def test_text_stands_out_from_its_ground(kind, scheme, browser, demo_site):
    # WCAG 2.2, 1.4.3: at least 4.5:1 for text.
    driver = opened(browser, page_of(demo_site, kind), width=1280, scheme=scheme)
    pairs = driver.execute_script(
        """
        const ground = e => {
          for (; e; e = e.parentElement) {
            const c = getComputedStyle(e).backgroundColor
            if (!/, 0\\)$|transparent/.test(c)) return c
          }
          return getComputedStyle(document.documentElement).colorScheme.includes('dark') &&
            matchMedia('(prefers-color-scheme: dark)').matches ? 'rgb(18, 18, 18)' : 'rgb(255, 255, 255)'
        }
        const found = {}
        for (const e of document.querySelectorAll('main *, header *, footer *')) {
          if (e.closest('svg') || !e.offsetParent) continue
          if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue
          found[getComputedStyle(e).color + '|' + ground(e)] = e.outerHTML.slice(0, 80)
        }
        return found
        """
    )
    assert pairs
    for pair, example in pairs.items():
        light, dark = sorted((luminance(c) for c in pair.split("|")), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, f"{pair}: {example}"
