"""The page of a watch in a real browser: it changes by itself, leaves alone who types, and says when the watch is gone."""

import math
from dataclasses import replace

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from builder.watching.states import Sense
from tests.browser.test_accessibility import AXE, CHECK
from tests.browser.test_preview import says, until
from tests.browser.watching import complaints, patient, seen_as
from tests.builder.watching.made_up import STATES, Served, day, midday, place, served, with_senses, writing_of, wrong

SMALLEST = """
return [...document.querySelectorAll('main button:not(.unseen), main input:not([type=hidden]), main select, .masthead a')]
  .filter(e => e.offsetParent && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 100))
"""


@pytest.fixture
def browser(browser):
    yield browser
    browser.get("about:blank")  # or the page would go on asking for a watch that has ended


def shown(driver, site, *, width=1280, scheme="light", path=""):
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    seen_as(driver, scheme=scheme)
    driver.get(site.address(path))
    return driver


def field(driver, number, column="level_dbm"):
    return driver.find_elements(By.CSS_SELECTOR, f".day tbody tr:nth-child({number}) .of-{column} input")[0]


MIDDLE = """
arguments[0].scrollIntoView({block: 'center'})
const box = arguments[0].getBoundingClientRect()
return {x: box.x + box.width / 2, y: box.y + box.height / 2}
"""
SOON = "setTimeout(() => arguments[1](document.body.innerText.includes(arguments[0])), 300)"


def press(driver, value):
    """Press the button with a value. The page may change between finding it and pressing it, which a finger does at once."""
    button = f"button[value^='{value}']"
    patient(driver).until(lambda driver: driver.find_element(By.CSS_SELECTOR, button).click() is None)


def landed(state, number, value="700 Mbit/s", *senses):
    rows = tuple(
        replace(row, state="landed", at="10:30", value=value) if row.order == number else row for row in state.rows
    )
    rows = with_senses(rows, number, *senses)
    return replace(state, rows=rows, writing=writing_of(rows, {}))


@pytest.mark.parametrize("name", STATES)
def test_the_checker_finds_nothing_and_a_finger_meets_everything(name, browser):
    with served(STATES[name]()) as site:
        for scheme, width in (("light", 1280), ("dark", 360)):
            driver = shown(browser, site, width=width, scheme=scheme)
            assert driver.execute_script("return document.documentElement.scrollWidth") <= width
            assert driver.execute_script(SMALLEST) == []
            if name == "three-hundred" and width == 360:
                continue  # the same page as with fewer rows
            driver.set_script_timeout(120)
            driver.execute_script(AXE)
            assert driver.execute_async_script(CHECK)["violations"] == []
        assert complaints(browser) == []


def test_it_changes_by_itself_and_leaves_alone_who_types(browser):
    with served(midday()) as site:
        driver = shown(browser, site)
        driver.execute_script("document.body.dataset.same = 'yes'; document.querySelector('.day').scrollIntoView()")
        typed = field(driver, 12, "note")
        typed.send_keys("door was op")
        place_before = driver.execute_script("return scrollY")
        state = landed(site.watch.state, 10, "481 Mbit/s", wrong(day()[9], "A role never sent."))
        rows = tuple(replace(row, typed={**row.typed, "note": "x"}) if row.order == 12 else row for row in state.rows)
        site.turn(replace(state, rows=rows))  # in another tab somebody typed into the same field
        says(driver, "481 Mbit/s")
        assert until(driver, "return document.querySelector('#heard').textContent") == (
            "A role never sent. Repeat Bobbin, B4, download, repeat 1."
        )
        typed.send_keys("en")  # the same field still has the focus
        assert driver.switch_to.active_element.get_attribute("value") == "door was open"
        row = driver.execute_script("return document.activeElement.closest('tr').getBoundingClientRect().top")
        assert 0 < row < 800
        assert abs(driver.execute_script("return scrollY") - place_before) < 400
        # A field that is left is handed on, and what is typed is written with the rest.
        typed.send_keys(Keys.TAB)
        until(
            driver,
            "return document.querySelector('.day tbody tr:nth-child(12) .of-note input').defaultValue.length > 1",
        )
        assert site.watch.typed == {place(12): {"note": "door was open"}}
        assert driver.execute_script("return document.body.dataset.same") == "yes"
        assert driver.title.startswith("2 wrong")
        assert complaints(browser) == []


def touched(driver, kind, *points):
    driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


@pytest.mark.parametrize("by", ["mouse", "finger", "keyboard"])
def test_a_button_stays_while_it_is_pressed(by, browser):
    with served(midday()) as site:
        driver = shown(browser, site)
        driver.execute_script("window.fetched = 0; const F = fetch; fetch = async (...a) => (fetched++, F(...a))")
        answer = driver.find_element(By.CSS_SELECTOR, "button[value^='give|']")
        space = {"key": " ", "code": "Space", "windowsVirtualKeyCode": 32, "text": " "}
        if by == "mouse":
            ActionChains(driver).click_and_hold(answer).perform()
        elif by == "finger":
            touched(driver, "touchStart", driver.execute_script(MIDDLE, answer))
        else:
            driver.execute_script("arguments[0].focus()", answer)
            driver.execute_cdp_cmd("Input.dispatchKeyEvent", {"type": "keyDown", **space})
        site.turn(landed(site.watch.state, 10, "481 Mbit/s"))
        until(driver, "return fetched")
        assert not driver.execute_async_script(SOON, "481 Mbit/s")
        if by == "mouse":
            ActionChains(driver).release().perform()
        elif by == "finger":
            touched(driver, "touchEnd")
        else:
            driver.execute_cdp_cmd("Input.dispatchKeyEvent", {"type": "keyUp", **space})
        until(driver, "return location.search.startsWith('?told=')")
        says(driver, "481 Mbit/s")
        assert site.watch.asked == [("give", "logs/measure_17.csv", place(10))]
        assert complaints(browser) == []


def test_a_press_that_comes_to_nothing_does_not_hold_up_the_page(browser):
    with served(midday()) as site:
        driver = shown(browser, site)
        answer = driver.find_element(By.CSS_SELECTOR, "button[value^='give|']")
        touched(driver, "touchStart", driver.execute_script(MIDDLE, answer))
        touched(driver, "touchCancel")
        site.turn(landed(site.watch.state, 10, "481 Mbit/s"))
        says(driver, "481 Mbit/s")
        ActionChains(driver).click_and_hold(answer).perform()  # and let go where the page does not hear of it
        site.turn(landed(site.watch.state, 10, "482 Mbit/s"))
        says(driver, "482 Mbit/s")
        ActionChains(driver).move_to_element(driver.find_element(By.TAG_NAME, "h1")).release().perform()
        assert site.watch.asked == []
        # And what is under a finger never becomes another answer.
        driver.execute_script(
            """const made = (html) => new DOMParser().parseFromString(`<p>${html}</p>`, 'text/html').querySelector('p');
            const old = made('<button value="a">A</button>'), pressed = old.firstChild;
            window.deskMorph(old, made('<button value="b">B</button>'));
            window.became = [pressed.value, pressed.isConnected, old.innerHTML];"""
        )
        assert driver.execute_script("return became") == ["a", False, '<button value="b">B</button>']
        assert complaints(browser) == []


def test_two_tabs_and_two_clicks_write_what_is_shown(browser):
    with served(midday()) as site:
        driver = shown(browser, site)
        first = driver.current_window_handle
        driver.switch_to.new_window("tab")
        shown(driver, site)
        field(driver, 8).send_keys("-51")
        press(driver, "show")
        says(driver, "logs/08-b3-down-2.csv,2026-11-30T09:24,-51,")
        press(driver, "write")
        says(driver, "Written: 2 lines of desk/runs.csv.")
        driver.close()
        driver.switch_to.window(first)
        says(driver, "Nothing waits to be written")  # in view again, it is told what it missed
        assert site.watch.asked[-1] == ("write", "8-9", {place(8): {"level_dbm": "-51"}})
        assert complaints(browser) == []


def test_a_watch_that_ended_says_so_and_one_that_came_back_is_shown(browser):
    site = Served(midday()).start()
    driver = shown(browser, site)
    until(driver, "return typeof window.deskListening === 'function'")
    site.end()
    says(driver, "The watch has ended; start it again.")
    driver.execute_script(
        "window.tried = 0; window.since = performance.now(); const O = EventSource; EventSource = function (a) { tried++; return new O(a) }"
    )
    field(driver, 9).send_keys("-60")
    again = Served(landed(midday(), 10, "433 Mbit/s"), port=site.port).start()
    try:
        says(driver, "433 Mbit/s")
        until(driver, "return document.querySelector('#connection').hidden")
        tried, seconds = driver.execute_script("return [tried, (performance.now() - since) / 1000]")
        assert tried <= 3 + math.log2(1 + seconds), "each time after twice as long"
        press(driver, "show")  # with the token of the new start
        says(driver, "2026-11-30T09:27,-60,")
    finally:
        again.end()
    browser.get_log("browser")  # which speaks of the connection that was lost


def test_without_scripts_and_by_keyboard_alone(browser_without_scripts):
    with served(midday()) as site:
        driver = shown(browser_without_scripts, site)
        field(driver, 8).send_keys("-51", Keys.ENTER)  # Enter keeps what is typed, and presses no other button
        until(driver, "return location.search.startsWith('?told=')")
        says(driver, "Without scripts this page does not change by itself.")
        assert site.watch.asked == [("type_in", {place(8): {"level_dbm": "-51"}})]
        assert field(driver, 8).get_attribute("value") == "-51"
        shown(driver, site)
        for _ in range(40):
            driver.switch_to.active_element.send_keys(Keys.TAB)
            if (driver.switch_to.active_element.get_attribute("value") or "").startswith("give|"):
                break
        driver.switch_to.active_element.send_keys(Keys.ENTER)
        until(driver, "return location.hash === '#writing'")
        assert site.watch.asked[-1] == ("give", "logs/measure_17.csv", place(10))


def test_a_sentence_that_is_said_again_is_not_heard_twice(browser):
    rows = day(noted=3)
    said = Sense("role-silent", "The second role never sent.", "Repeat the mix.", grave=True, place=rows[2].place)
    state = replace(midday(), rows=with_senses(rows, 3, said), others=())
    with served(state) as site:
        driver = shown(browser, site)
        assert driver.execute_script("return document.querySelector('#heard').textContent") == ""
        site.turn(landed(state, 4, "612 Mbit/s"))
        says(driver, "612 Mbit/s")
        assert driver.execute_script("return document.querySelector('#heard').textContent") == ""
