"""Story 3 of the job analysis, clicked in a real browser from disk: what would I get where I sit?

The numbers are the story's own. Its sheet has no levels, so each row here gets the one the story implies: the
client reads 18 dBm less the attenuation ("implied EIRP for that pair is 18 dBm").
"""

import csv
import gzip
import shutil
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select, WebDriverWait

from catalog.entering import enter_batch
from tests.browser.watching import complaints, opened, requests_outside
from tests.conftest import SMALL_INSTANT

STORY = Path(__file__).parents[1] / "stories" / "03-no-shared-range"
IMPLIED_EIRP_DBM = 18


@pytest.fixture(scope="module")
def story_site(build, tmp_path_factory):
    folder = tmp_path_factory.mktemp("story-3")
    batch = Path(shutil.copytree(STORY, folder / "batch"))
    with (batch / "runs.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with (batch / "runs.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, [*rows[0], "level_dbm"])
        writer.writeheader()
        for row in rows:
            writer.writerow(row | {"level_dbm": IMPLIED_EIRP_DBM - float(row["attenuation_db"])})
    enter_batch(batch, into=folder / "catalog.db", now=SMALL_INSTANT)
    build(folder / "catalog.db", folder / "site")
    return folder / "site"


class Room:
    """The page as a reader meets it."""

    def __init__(self, driver, site, fragment=""):
        self.driver = driver
        driver.get("about:blank")
        opened(driver, site / "my-room" / "index.html", fragment=fragment)
        self.wait(lambda: self.field("group").is_displayed())

    def wait(self, condition):
        WebDriverWait(self.driver, 5).until(lambda _: condition())

    def field(self, name):
        return self.driver.find_element(By.CSS_SELECTOR, f"my-room [name={name}]")

    def type(self, name, text):
        self.field(name).send_keys(Keys.CONTROL, "a")
        self.field(name).send_keys(text)

    def know_level(self):
        self.driver.find_element(By.CSS_SELECTOR, "my-room [value=level]").click()
        self.wait(lambda: Select(self.field("device")).options)

    def choose(self, name, text):
        Select(self.field(name)).select_by_visible_text(text)

    def rows(self):
        body = self.driver.find_elements(By.CSS_SELECTOR, "my-room [data-result]:not([hidden]) tbody tr")
        return {
            row.find_element(By.CSS_SELECTOR, "th").text.split("\n")[0].split(" 1.0")[0]: [
                cell.text for cell in row.find_elements(By.CSS_SELECTOR, "td")
            ]
            for row in body
        }

    def question(self):
        return self.driver.find_element(By.CSS_SELECTOR, "[data-question]").text

    def own(self):
        return self.driver.find_element(By.CSS_SELECTOR, "[data-own]").text


@pytest.fixture
def room(browser, story_site):
    return Room(browser, story_site)


def test_attenuation_gives_each_device_its_value_or_says_where_it_was_tested(room):
    room.type("loss", "72")
    assert room.rows()["Tessarik Porch"][0] == "372"
    assert room.rows()["Quillmast Sill"][0] == "not tested there (45–60 dB)"
    # By hand: weights 0.6 at 70 dB and 0.4 at 75 dB, house spread 20: u = 20 sqrt(0.36 + 0.16) = 14.42, z = 1.96.
    assert room.rows()["Tessarik Porch"][1] == "344 to 400"


def test_level_of_the_same_device_and_client_is_an_attenuation(room):
    room.know_level()
    room.choose("device", "Tessarik Porch")
    room.choose("client", "Wrenlet U2")
    room.type("level", "-54")
    assert room.rows()["Tessarik Porch"][0] == "372"
    assert "Your level means 72 dB." in room.driver.find_element(By.CSS_SELECTOR, "[data-answer]").text


def test_a_level_says_nothing_before_device_and_client_are_chosen(room):
    room.know_level()
    room.type("level", "-54")
    assert room.question().startswith("Choose your own device and client")
    assert room.rows() == {}
    room.choose("device", "Tessarik Porch")
    assert room.rows() == {}
    room.choose("client", "Wrenlet U2")
    assert room.rows()["Tessarik Porch"][0] == "372"


def test_level_of_another_adapter_is_a_range(room):
    room.know_level()
    room.choose("device", "Tessarik Porch")
    room.choose("client", "another one")
    room.type("level", "−54")
    assert room.rows()["Tessarik Porch"][0] == "between 192 and 516"
    assert "66–78 dB" in room.driver.find_element(By.CSS_SELECTOR, "my-room caption").text


def test_lost_minus_sign_is_asked_about_and_nothing_shown_until_answered(room):
    room.know_level()
    room.choose("device", "Tessarik Porch")
    room.choose("client", "Wrenlet U2")
    room.type("level", "54")
    assert room.question().startswith("Did you mean −54 dBm?")
    assert room.rows() == {}
    room.driver.find_element(By.CSS_SELECTOR, "[data-meant]").click()
    room.wait(room.rows)
    assert room.question() == ""
    assert room.rows()["Tessarik Porch"][0] == "372"


def test_own_speed_wants_a_unit_and_stands_beside_the_values(room):
    # Source: D03 of the job analysis: 101.6 MB/s asks the unit and shows 812.8 Mbit/s.
    room.type("loss", "72")
    room.type("speed", "101.6")
    assert room.own().startswith("Which unit?")
    assert "Your measurement" not in room.rows()
    room.choose("unit", "MB/s")
    assert room.own() == "101.6 MB/s is 812.8 Mbit/s."
    assert room.rows()["Your measurement"][0] == "812.8"
    assert room.rows()["Tessarik Porch"][2] == "yours is more"
    assert next(iter(room.rows())) == "Your measurement"


def test_loss_nobody_can_have_is_refused(room):
    room.type("loss", "140")
    assert room.question() == "An attenuation lies between 0 and 130 dB."
    assert room.rows() == {}


def test_state_survives_reload_sharing_and_back(room, browser, story_site):
    room.type("loss", "72\n")
    room.type("loss", "67,5\n")
    shared = browser.current_url
    assert "loss=67%2C5" in shared.partition("#")[2]  # the part of an address that no server is sent
    browser.refresh()
    room.wait(room.rows)
    assert room.rows()["Tessarik Porch"][0] == "480"
    browser.back()
    room.wait(lambda: room.rows()["Tessarik Porch"][0] == "372")
    again = Room(browser, story_site, fragment=shared.partition("#")[2])
    again.wait(again.rows)
    assert again.rows()["Tessarik Porch"][0] == "480"


def test_a_choice_from_the_address_can_be_taken_back(room, browser, story_site):
    room.know_level()
    room.choose("device", "Tessarik Porch")
    room.choose("client", "Wrenlet U2")
    room.type("level", "-54\n")
    room.wait(room.rows)
    again = Room(browser, story_site, fragment=browser.current_url.partition("#")[2])
    again.wait(again.rows)
    assert again.rows()["Tessarik Porch"][0] == "372"
    again.choose("device", "choose yours")
    again.wait(lambda: again.question().startswith("Choose your own device and client"))
    assert Select(again.field("device")).first_selected_option.text == "choose yours"


def test_nothing_is_asked_of_anybody_and_the_console_is_silent(browser, story_site):
    complaints(browser), requests_outside(browser)
    room = Room(browser, story_site)
    room.type("loss", "72")
    room.type("speed", "372")
    room.choose("unit", "Mbit/s")
    assert room.rows()["Tessarik Porch"][2] == "yours is within it"
    assert complaints(browser) == []
    assert requests_outside(browser) == []


def test_keyboard_alone_gets_there(room, browser):
    browser.execute_script("arguments[0].focus()", room.field("group"))
    ActionChains(browser).send_keys(Keys.TAB, Keys.TAB).perform()
    assert browser.switch_to.active_element.get_attribute("name") == "loss"
    ActionChains(browser).send_keys("72").perform()
    assert room.rows()["Tessarik Porch"][0] == "372"


def test_without_scripts_the_page_says_so_and_has_the_values_by_steps(browser_without_scripts, story_site):
    driver = opened(browser_without_scripts, story_site / "my-room" / "index.html")
    assert not driver.find_element(By.CSS_SELECTOR, "my-room").is_displayed()
    text = driver.find_element(By.TAG_NAME, "body").text
    assert "needs scripts" in text
    table = driver.find_element(By.CSS_SELECTOR, "#by-loss")
    heads = [cell.text for cell in table.find_elements(By.CSS_SELECTOR, "thead th")]
    rows = {
        row.find_element(By.CSS_SELECTOR, "th a").text: [
            c.text.split("\n")[0] for c in row.find_elements(By.TAG_NAME, "td")
        ]
        for row in table.find_elements(By.CSS_SELECTOR, "tbody tr")
    }
    at = heads.index("70 dB") - 1
    assert rows["Tessarik Porch"][at] == "420"
    assert rows["Tessarik Porch"][at + 1] == "300"
    assert rows["Quillmast Sill"][at] == "not tested there"


def test_data_of_a_group_is_light(demo_site):
    # speed.md: chooser and my-room data of 400 devices within 150 kB gzip; the demo has ten in its largest group.
    sizes = [len(gzip.compress(path.read_bytes(), mtime=0)) for path in (demo_site / "scripts" / "rooms").glob("*.js")]
    assert max(sizes) * 40 < 150_000, f"{len(sizes)} groups, the largest {max(sizes)} B"


def test_the_picture_marks_place_and_own_speed(browser, demo_site):
    page = demo_site / "my-room" / "index.html"
    for width in (360, 1280):
        browser.get("about:blank")
        driver = opened(browser, page, width=width, fragment="loss=72&speed=500&unit=Mbit%2Fs")
        picture = WebDriverWait(driver, 5).until(lambda d: d.find_element(By.CSS_SELECTOR, ".room-chart"))
        assert picture.get_attribute("role") == "img"
        assert "tested there" in picture.get_attribute("aria-label")
        assert picture.find_elements(By.CSS_SELECTOR, ".mine")
        assert picture.find_elements(By.CSS_SELECTOR, ".place")
        lines = picture.find_elements(By.CSS_SELECTOR, "g")
        assert 1 < len(lines) <= 6
        dashes = {line.find_element(By.CSS_SELECTOR, ".line").get_attribute("stroke-dasharray") for line in lines}
        marks = {line.find_element(By.CSS_SELECTOR, ".dot").get_attribute("d") for line in lines}
        assert len(dashes) == len(marks) == len(lines)  # told apart without colour
        assert driver.execute_script("return document.documentElement.scrollWidth") <= width
    assert complaints(driver) == []


def test_no_name_of_a_line_is_cut_off(browser, demo_site):
    for width in (320, 360, 1280):
        browser.get("about:blank")
        driver = opened(browser, demo_site / "my-room" / "index.html", width=width, fragment="loss=72")
        WebDriverWait(driver, 5).until(lambda d: d.find_elements(By.CSS_SELECTOR, ".room-chart g"))
        beyond = driver.execute_script(
            "const edge = document.querySelector('.room-chart').getBoundingClientRect().right;"
            "return [...document.querySelectorAll('.room-chart text')].map(t => t.getBoundingClientRect().right - edge)"
        )
        assert max(beyond) <= 0
        names = [
            line.find_element(By.CSS_SELECTOR, ".word").text for line in driver.find_elements(By.CSS_SELECTOR, "g")
        ]
        assert len(names) == len(set(names)) == 6  # and no two are cut to the same
