"""Sorting and filtering tables in a real browser from disk (T13 of the job analysis)."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from tests.browser.watching import complaints, opened, patient

COLUMN = 3  # the middle window, Mbit/s


@pytest.fixture
def devices(browser, demo_site):
    browser.get("about:blank")
    return opened(browser, demo_site / "devices" / "index.html", width=1280)


def heading(driver, column):
    return driver.find_elements(By.CSS_SELECTOR, "#devices thead th")[column]


def names(driver):
    rows = driver.find_elements(By.CSS_SELECTOR, "#devices tbody tr")
    return [row.find_element(By.TAG_NAME, "a").text for row in rows if row.is_displayed()]


def keys(driver, column):
    rows = [row for row in driver.find_elements(By.CSS_SELECTOR, "#devices tbody tr") if row.is_displayed()]
    return [row.find_elements(By.CSS_SELECTOR, "th, td")[column].get_attribute("data-sort") for row in rows]


def test_numbers_sort_by_value_and_unknown_ones_come_last(devices):
    written = names(devices)
    for way, down in (("descending", True), ("ascending", False)):
        heading(devices, COLUMN).find_element(By.TAG_NAME, "button").click()
        assert heading(devices, COLUMN).get_attribute("aria-sort") == way
        found = keys(devices, COLUMN)
        known = [float(key) for key in found if key is not None]
        assert 1 < len(known) < len(found)
        assert known == sorted(known, reverse=down)
        assert found[len(known) :] == [None] * (len(found) - len(known))
    heading(devices, COLUMN).find_element(By.TAG_NAME, "button").click()
    assert heading(devices, COLUMN).get_attribute("aria-sort") == "none"
    assert names(devices) == written


def test_keyboard_alone_sorts(devices):
    button = heading(devices, 0).find_element(By.TAG_NAME, "button")
    devices.execute_script("arguments[0].focus()", button)
    devices.switch_to.active_element.send_keys(Keys.ENTER)
    assert names(devices) == sorted(names(devices))


def test_filters_and_order_survive_reload_back_and_sharing(devices, demo_site):
    everything = names(devices)
    Select(devices.find_element(By.NAME, "band")).select_by_visible_text("6 GHz")
    some = names(devices)
    assert 0 < len(some) < len(everything)
    assert f"{len(some)} of {len(everything)} devices." in devices.find_element(By.TAG_NAME, "table-filter").text
    heading(devices, 0).find_element(By.TAG_NAME, "button").click()
    assert names(devices) == sorted(some)
    shared = devices.current_url.partition("#")[2]
    devices.refresh()
    assert names(devices) == sorted(some)
    devices.find_element(By.CSS_SELECTOR, "#devices tbody tr:not([hidden]) a").click()
    for before in (sorted(some), some, everything):
        devices.back()  # which the page hears of a moment later
        patient(devices).until(lambda driver, before=before: names(driver) == before)
    devices.get("about:blank")
    assert names(opened(devices, demo_site / "devices" / "index.html", fragment=shared)) == sorted(some)


def test_nothing_left_says_which_filter(devices):
    # By hand from data/demo: no device with 6 GHz can be fed by a switch of class 3; one promises it and draws more.
    Select(devices.find_element(By.NAME, "band")).select_by_visible_text("6 GHz")
    Select(devices.find_element(By.NAME, "poe")).select_by_visible_text("class 3")
    assert names(devices) == []
    said = devices.find_element(By.CSS_SELECTOR, "table-filter [data-count]").text
    assert said.startswith("None of 12 devices passes. Without “")
    devices.find_element(By.CSS_SELECTOR, "table-filter button").click()
    assert len(names(devices)) == 12


@pytest.mark.parametrize("name", ["band", "width", "port", "poe", "price", "licence", "year", "fell"])
def test_every_filter_of_the_design_is_there_and_tells_some_apart(name, devices):
    field = Select(devices.find_element(By.NAME, name))
    counts = set()
    for option in field.options:
        field.select_by_visible_text(option.text)
        counts.add(len(names(devices)))
    assert len(counts) > 1
    assert 0 not in counts


def test_without_scripts_every_row_is_there_and_no_field(browser_without_scripts, demo_site):
    driver = opened(browser_without_scripts, demo_site / "devices" / "index.html")
    assert len(names(driver)) == 12
    assert not driver.find_element(By.TAG_NAME, "table-filter").is_displayed()
    assert not driver.find_elements(By.CSS_SELECTOR, "thead button")


def test_console_is_silent(browser, demo_site):
    complaints(browser)
    opened(browser, demo_site / "devices" / "index.html", fragment="band=6&sort-devices=99+sideways&poe=none")
    assert complaints(browser) == []


def test_a_sum_holds_over_other_years_and_a_word_is_no_sum(browser, demo_site):
    # By hand, from the prices of data/demo: the licence of Rondel 6 makes 268 EUR over one year of 366 over three.
    driver = opened(browser, demo_site / "prices" / "index.html", fragment="total=300")
    shown = [row for row in driver.find_elements(By.CSS_SELECTOR, "[id^=prices] tbody tr") if row.is_displayed()]
    assert not any("Rondel 6" in row.text for row in shown)
    driver.find_element(By.LINK_TEXT, "Over 1 year").click()
    shown = [row for row in driver.find_elements(By.CSS_SELECTOR, "[id^=prices] tbody tr") if row.is_displayed()]
    assert any("Rondel 6" in row.text for row in shown)
    assert not any("Cupola" in row.text for row in shown)
    field = driver.find_element(By.NAME, "total")
    assert field.get_attribute("value") == "300"
    field.clear()
    field.send_keys("cheap", Keys.ENTER)
    assert "“cheap” is not a sum." in driver.find_element(By.TAG_NAME, "table-filter").text
    assert complaints(driver) == []


# Of each folded row: the lowest line of its name, and the highest of what follows below it. [px]
NAMES = """
const texts = node => (node.nodeType === Node.TEXT_NODE ? [node] : [...node.childNodes].flatMap(texts))
const rects = text => { const range = document.createRange(); range.selectNodeContents(text); return [...range.getClientRects()] }
const lines = node => texts(node).flatMap(rects).filter(r => r.width) // of the words: a link reaches out of them
return [...document.querySelectorAll(".folds tbody tr")].flatMap(row => {
  const name = lines(row.cells[0]), others = [...row.cells].slice(1).flatMap(lines)
  const [foot, left, right] = [Math.max(...name.map(r => r.bottom)), Math.min(...name.map(r => r.left)), Math.max(...name.map(r => r.right))]
  const tall = foot - Math.min(...name.map(r => r.top)) > 30
  return [[row.cells[0].innerText, tall, others.some(r => r.left < right && r.right > left && r.top < foot - 2 && r.bottom > foot + 2)]]
})
"""


@pytest.mark.parametrize("page", ["reviews", "collapses", "features", "devices/veltrisk-tarn"])
def test_a_long_name_meets_nothing_in_a_folded_row(page, browser, demo_site):
    rows = opened(browser, demo_site / page / "index.html", width=360, height=780).execute_script(NAMES)
    assert rows
    assert any(tall for _, tall, _ in rows) or page != "reviews"
    assert [name for name, _, meets in rows if meets] == []


def test_every_device_of_the_chooser_is_in_sight_on_a_phone(browser, demo_site):
    chosen = "devices=tessarik-cupola+veltrisk-tarn+polmerre-rondel-6"
    browser.get("about:blank")
    driver = opened(browser, demo_site / "chooser" / "index.html", width=360, height=780, fragment=chosen)
    patient(driver).until(lambda d: d.find_elements(By.CSS_SELECTOR, "[data-facts] tbody td"))
    ends = driver.execute_script(
        "return [...document.querySelectorAll('[data-result] tbody td:not(.itself)')].map(c => c.getBoundingClientRect().right)"
    )
    assert len(ends) > 6
    assert 0 < min(ends) <= max(ends) <= 360
