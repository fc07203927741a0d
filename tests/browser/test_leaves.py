"""A table that was cut, in a real browser from disk: whole for who sorts or filters, and whole without scripts."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from builder.pages.parts import leaves
from tests.browser.watching import complaints, opened, patient, requests_outside

ROWS = "#devices tbody tr"


@pytest.fixture(scope="module")
def cut_site(demo_file, demo_instant, build, chart_cache, tmp_path_factory):
    """The demo on pages with little room."""
    out = tmp_path_factory.mktemp("cut") / "site"
    with pytest.MonkeyPatch.context() as patch:
        for name in ("PAGE_ROOM", "ROOM_BESIDE_CHARTS", "LEAF_ROOM"):
            patch.setattr(leaves, name, 2_000)
        build(demo_file, out, as_of=demo_instant, cache=chart_cache)
    return out


@pytest.fixture
def devices(browser, cut_site):
    browser.get("about:blank")
    complaints(browser)
    return opened(browser, cut_site / "devices" / "index.html", width=1280)


def names(driver):
    rows = driver.find_elements(By.CSS_SELECTOR, ROWS)
    return [row.find_element(By.TAG_NAME, "a").text for row in rows if row.is_displayed()]


def test_sorting_puts_the_whole_table_together(devices, browser, demo_site):
    few = names(devices)
    devices.find_element(By.CSS_SELECTOR, "#devices thead button").click()
    patient(devices).until(lambda d: len(names(d)) > len(few))
    found = names(devices)
    assert found == sorted(found)
    assert not devices.find_element(By.CSS_SELECTOR, ".leaves").is_displayed()
    # A third press undoes it: all rows, as the whole page of the demo has them.
    for _ in range(2):
        devices.find_element(By.CSS_SELECTOR, "#devices thead button").click()
    assert complaints(devices) == []
    assert requests_outside(devices) == []
    undone = names(devices)
    assert undone == names(opened(browser, demo_site / "devices" / "index.html", width=1280))
    assert set(undone) == set(found)


def test_filters_look_through_the_whole_table(devices, browser, demo_site):
    Select(devices.find_element(By.NAME, "band")).select_by_visible_text("6 GHz")
    count = patient(devices).until(lambda d: d.find_element(By.CSS_SELECTOR, "[data-count]").text)
    found = names(devices)
    whole = opened(browser, demo_site / "devices" / "index.html", width=1280, fragment="band=6")
    assert whole.find_element(By.CSS_SELECTOR, "[data-count]").text == count
    assert names(whole) == found


def test_without_scripts_every_row_is_found_by_following_the_leaves(browser_without_scripts, cut_site, demo_site):
    driver = opened(browser_without_scripts, cut_site / "devices" / "index.html")
    found = names(driver)
    hrefs = [a.get_attribute("href") for a in driver.find_elements(By.CSS_SELECTOR, ".leaves a")]
    assert hrefs
    for href in hrefs:
        driver.get(href)
        found += names(driver)
        assert driver.execute_script("return document.documentElement.scrollWidth") <= 360
    assert found == names(opened(driver, demo_site / "devices" / "index.html"))
