"""From the start to every kind of page, and through the head of a page by keyboard and without scripts."""

import re
from collections import defaultdict
from html import unescape
from posixpath import dirname, join, normpath
from urllib.parse import unquote

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.test_pages_in_chromium import KINDS
from tests.browser.watching import complaints, opened

LINK = re.compile(r'href="([^"#]+\.html)(?:#[^"]*)?"')


def ways_from(site, page):
    """Pages that one tap leads to, without opening anything first."""
    text = (site / page).read_text(encoding="utf-8")
    text = re.sub(r'<details class="questions">.*?</details>', "", text, flags=re.DOTALL)
    return {normpath(join(dirname(page), unquote(unescape(href)))) for href in LINK.findall(text)}


def test_every_kind_of_page_is_two_taps_from_the_start(demo_site):
    once = ways_from(demo_site, "index.html")
    twice = once.union(*(ways_from(demo_site, page) for page in once if (demo_site / page).is_file()))
    missing = defaultdict(list)
    for kind, pattern in KINDS.items():
        if kind not in ("start", "not found"):
            pages = {path.relative_to(demo_site).as_posix() for path in demo_site.glob(pattern)}
            if not pages & twice:
                missing[kind] = sorted(pages)[:2]
    assert dict(missing) == {}


@pytest.mark.parametrize("width", [360, 1280])
def test_every_question_is_asked_on_demand_without_scripts(width, browser_without_scripts, demo_site):
    driver = opened(browser_without_scripts, demo_site / "devices" / "index.html", width=width)
    questions = driver.find_element(By.CSS_SELECTOR, ".questions")
    links = questions.find_elements(By.TAG_NAME, "a")
    assert len(links) >= 18
    assert not any(link.is_displayed() for link in links)
    questions.find_element(By.TAG_NAME, "summary").click()
    assert all(link.is_displayed() and link.size["height"] >= 44 for link in links)
    assert driver.execute_script("return document.documentElement.scrollWidth") <= width
    named = [link.text for link in links if link.get_attribute("aria-current")]
    assert named == ["Which devices were tested?"]
    driver.find_element(By.LINK_TEXT, "Will my switch power it?").click()
    assert driver.current_url.endswith("/power/index.html")


def test_keyboard_alone_opens_the_questions(browser, demo_site):
    driver = opened(browser, demo_site / "index.html", width=1280)
    summary = driver.find_element(By.CSS_SELECTOR, ".questions summary")
    driver.execute_script("arguments[0].focus()", summary)
    driver.switch_to.active_element.send_keys(Keys.ENTER, Keys.TAB)
    assert driver.switch_to.active_element.text == "What would I get here?"
    driver.switch_to.active_element.send_keys(Keys.ENTER)
    assert driver.find_element(By.CLASS_NAME, "asks").text == "What would I get here?"
    assert complaints(driver) == []
