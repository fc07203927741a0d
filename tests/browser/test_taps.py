"""How many taps a question takes on a phone: 360 px wide, from the start page, on links a thumb can reach."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from tests.browser.watching import opened, patient

PHONE = {"width": 360, "height": 740, "deviceScaleFactor": 3, "mobile": True}
SMALLEST_TARGET_PX = 24  # WCAG 2.2, 2.5.8
FAR = ("Fjeldrun Skerry", "Quillmast Lantern", "Tessarik Cupola")
SUFFERED = "section[aria-labelledby=suffered]"


@pytest.fixture(params=["browser", "browser_without_scripts"], ids=["scripts on", "scripts off"])
def phone(request, demo_site):
    driver = request.getfixturevalue(request.param)
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", PHONE)
    yield Phone(opened(driver, demo_site / "index.html"))
    driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


class Phone:
    """A reader with one thumb, who scrolls and taps; the taps are counted."""

    def __init__(self, driver):
        self.driver, self.taps = driver, 0

    def tap(self, selector, text):
        links = self.driver.find_elements(By.CSS_SELECTOR, f"{selector} a")
        link = next(one for one in links if one.text == text and one.is_displayed())
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", link)
        box = link.rect
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= PHONE["width"], "the link lies beside the screen"
        assert box["height"] >= SMALLEST_TARGET_PX
        before = self.driver.current_url
        link.click()
        self.taps += 1
        patient(self.driver).until(lambda driver: driver.current_url != before)

    def pick(self, name, text):
        """One tap opens a list, another one chooses from it."""
        options = Select(self._touched(name)).options
        next(option for option in options if text in option.text).click()
        self.taps += 2

    def type(self, name, text):
        """One tap into a field; keys are no taps."""
        self._touched(name).send_keys(text)
        self.taps += 1

    def _touched(self, name):
        field = self.driver.find_element(By.CSS_SELECTOR, f"main [name={name}]")
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", field)
        assert field.rect["x"] + field.rect["width"] <= PHONE["width"]
        assert field.rect["height"] >= 44
        return field

    def tap_to(self, address):
        """Tap the first link of the page's own that leads there, whatever it is called."""
        links = self.driver.find_elements(By.CSS_SELECTOR, f"main a[href$='{address}']")
        self.tap("main", next(link.text for link in links if link.is_displayed()))

    def open_questions(self):
        self.driver.find_element(By.CSS_SELECTOR, ".questions > summary").click()
        self.taps += 1

    def words(self, selector):
        return self.driver.find_element(By.CSS_SELECTOR, selector).text


def test_which_clients_suffered_in_which_mix_on_which_device(phone):
    # Counted in the logs of data/demo: 137 of the 162 clips that Skarn C3 sent to Skerry came within 1.5 s.
    phone.tap("main", "Did it cope with several at once?")
    rows = [row.text for row in phone.driver.find_elements(By.CSS_SELECTOR, f"{SUFFERED} tbody tr")]
    (clips,) = [row for row in rows if "Clips" in row and "Fjeldrun Skerry" in row]
    for words in ("Skarn C3", "A full house on a rainy evening", "137 of 162 in time"):
        assert words in clips
    assert len(rows) > 10

    phone.tap(SUFFERED, "A full house on a rainy evening")
    assert phone.words("section[aria-labelledby=order] > p").startswith(
        "With 5 machines at once, one of them with two roles, 1 of the 4 devices in this arrangement coped: Tessarik Cupola."
    )
    assert "It suffered most on Fjeldrun Skerry." in phone.words("#role-clips, section[aria-labelledby=role-clips]")
    assert phone.driver.execute_script("return document.documentElement.scrollWidth") == PHONE["width"]
    assert phone.taps <= 6


@pytest.fixture
def phone_with_scripts(browser, demo_site):
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", PHONE)
    yield Phone(opened(browser, demo_site / "index.html"))
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_who_gives_more_than_mine_at_67_dbm_with_a_two_antenna_laptop(phone_with_scripts):
    # Question 1 of those that a new reader asked in vain. Nothing is taken for granted: the machine is chosen, too.
    phone = phone_with_scripts
    phone.tap("header", "My room")
    phone.pick("machine", "2 antennas, Wi-Fi 6 (Wrenlet U2)")
    phone.pick("device", "Polmerre Rondel 4")
    phone.type("level", "-67")
    patient(phone.driver).until(lambda _: "−67 dBm" in phone.words("[data-said]"))
    assert phone.words("my-room .verdict") == (
        "More than your Rondel 4: Cupola, by 84 Mbit/s over 48–92 dB, likely 28–140. Ridge, Rondel 6, Tarn, Lantern, "
        "Plinth and Skerry cannot be told apart from yours. Of 87.3–99.3 dB only 87.3–91.9 dB were tested, and the answer is for that part."
    )
    assert phone.driver.execute_script("return document.documentElement.scrollWidth") == PHONE["width"]
    assert phone.taps <= 6


def price_rows(phone):
    """Each price that shows: its device, what it comes to, and what the device gives far off."""
    rows = phone.driver.find_elements(By.CSS_SELECTOR, "[id^=prices] tbody tr")
    cells = [row.find_elements(By.CSS_SELECTOR, "th, td") for row in rows if row.is_displayed()]
    return [[" ".join(cell.text.split()) for cell in row[:3]] for row in cells]


def test_what_can_i_have_for_150_a_device_over_three_years_and_what_do_i_lose_far_away(phone):
    # By hand, from the prices of data/demo: 89.90, 145 and, refurbished, 119 EUR, none with a licence to pay.
    phone.tap_to("prices/index.html")
    everything = price_rows(phone)
    field = phone.driver.find_element(By.NAME, "total")
    if field.is_displayed():
        field.click()
        phone.taps += 1
        field.send_keys("150", Keys.ENTER)
        patient(phone.driver).until(lambda _: len(price_rows(phone)) < len(everything))
        rows = price_rows(phone)
        assert "3 of 13 prices." in phone.words("table-filter")
        phone.driver.execute_script("arguments[0].value = ''", field)
        field.send_keys("239,00", Keys.ENTER)
        patient(phone.driver).until(lambda _: "239 EUR" in phone.words(".verdict"))
        assert "Tarn: the tests cannot tell it from Tessarik Cupola" in phone.words(".verdict")
        field.clear()
        field.send_keys("150", Keys.ENTER)
        patient(phone.driver).until(lambda _: "150 EUR" in phone.words(".verdict"))
    else:  # the cheapest stand first, so that a reader reads down to the sum
        rows = [row for row in everything if float(row[1].split()[0]) <= 150]
        assert rows == [*everything[:2], everything[11]]
    assert [row[0] for row in rows] == ["Fjeldrun Ingle", "Fjeldrun Skerry", "Quillmast Lantern"]
    assert phone.words(".verdict").startswith(
        "For 150 EUR over 3 years you can have Fjeldrun Ingle, Quillmast Lantern (refurbished) or Fjeldrun Skerry. Far off, "
        "Lantern gives 103 Mbit/s less than Tessarik Cupola, the best of all (likely 52–154); Skerry gives 132 Mbit/s less"
    )
    assert rows[1][1].startswith("145 EUR price from Nov 2025")
    skerry, lantern, cupola = (next(r for r in everything if r[0] == name)[2] for name in FAR)
    assert skerry.startswith("329 ")
    assert "may equal the best" in skerry
    assert lantern.endswith("slower than the best")
    assert cupola.startswith("461 ")
    assert phone.driver.execute_script("return document.documentElement.scrollWidth") == PHONE["width"]
    assert phone.taps <= 6


def test_which_got_better_by_firmware(phone):
    phone.open_questions()
    phone.tap("nav", "Which got better by firmware?")
    assert "Polmerre Rondel 6 got better with 6.1.0: 56 Mbit/s more, likely 16–95." in phone.words(".verdict")
    assert phone.taps <= 6


def test_which_two_are_the_same_inside(phone):
    phone.open_questions()
    phone.tap("nav", "Which two are the same inside?")
    assert (
        "Fjeldrun Skerry and Polmerre Rondel 6: same main processor and memory, and probably the same 6 GHz radio."
        in phone.words(".verdict")
    )
    assert phone.taps <= 6


@pytest.mark.parametrize("phone", ["browser"], indirect=True, ids=["scripts on"])
def test_a_video_says_560_does_that_hold(phone):
    # The page that answers it: the only value of data/demo that is printed as 560 for a place is Tarn's at S4, upload, once
    # with each of two clients (runs.csv of 2026-02-tarn).
    phone.tap("nav", "Search")
    field = phone.driver.find_element(By.ID, "search-field")
    field.send_keys("560 Mbit/s")
    phone.taps += 1  # into the field
    patient(phone.driver).until(
        lambda _: "are 560 Mbit/s" in phone.words("[data-answer]")
    )  # and not of what half was typed
    assert phone.words("[data-answer]") == (
        "2 published figures are 560 Mbit/s. One is what Veltrisk Tarn gave at S4, 67.1 dB: 2 streams, 5 GHz, 80 MHz, upload "
        "(Wrenlet B2, a newer laptop). Elsewhere it gave 870 Mbit/s near and 195 far off."
    )
    assert phone.words("[data-span]") == "Published figures between 550 and 570 Mbit/s"
    first = phone.driver.find_element(By.CSS_SELECTOR, "[data-figures] li").text
    assert first.startswith("Veltrisk Tarn: 560 Mbit/s\nat S4, 67.1 dB, 10 February 2026, firmware 1.0.10; ")
    assert phone.driver.execute_script("return document.documentElement.scrollWidth") == PHONE["width"]
    phone.tap("[data-figures] li", "Veltrisk Tarn: 560 Mbit/s")
    row = phone.driver.find_element(By.CSS_SELECTOR, "tr:target")
    assert row.is_displayed()
    assert "560" in row.text
    assert phone.taps <= 6


@pytest.mark.parametrize("phone", ["browser"], indirect=True, ids=["scripts on"])
def test_a_figure_that_was_corrected_leads_to_why(phone):
    phone.tap("nav", "Search")
    phone.driver.find_element(By.ID, "search-field").send_keys("643.4 rondel")
    phone.taps += 1
    corrected = "643.4 Mbit/s was corrected: Polmerre Rondel 4, now 634.4 Mbit/s ("
    patient(phone.driver).until(lambda _: phone.words("[data-answer]").startswith(corrected))
    link = phone.driver.find_element(By.CSS_SELECTOR, "[data-hits] a").text
    assert "was 643.4 Mbit/s, now 634.4 Mbit/s" in link
    phone.tap("[data-hits]", link)
    assert "two digits changed over" in phone.words("section[aria-labelledby=corrections]")
    assert phone.taps <= 6


def test_is_the_first_really_better_than_the_third(phone):
    phone.tap("main", "The whole ranking, with firmware, runs and who is not ranked")
    heads = [
        head.get_attribute("textContent") for head in phone.driver.find_elements(By.CSS_SELECTOR, "#table-middle th")
    ]
    row = phone.driver.find_elements(By.CSS_SELECTOR, "#table-middle tbody tr")[2]
    cells = [cell.text for cell in row.find_elements(By.CSS_SELECTOR, "th, td")]
    assert cells[0] == "Polmerre Rondel 6"
    assert cells[heads.index("Against the first")] == "cannot be told apart"
    assert row.is_displayed()
    assert phone.taps <= 6


def test_what_to_avoid_for_five_people_with_calls_and_downloads(phone):
    # Counted in the logs of data/demo, as above; Bobbin Home broke off elsewhere, with a client replaced.
    phone.tap("main", "Did it cope with several at once?")
    phone.tap("main", "A full house on a rainy evening")
    assert phone.words(".verdict").startswith(
        "With 5 machines at once, 2 of the 7 devices with a run that counts coped: Tessarik Cupola and Polmerre Rondel 6."
    )
    assert "Did not cope: Hollendry Bobbin Home." in phone.words(".verdict")
    assert phone.taps <= 6


def test_how_they_compare_at_one_look(phone):
    # No tap: the picture is the first thing on the start page, and its words are those of the ranking.
    picture = phone.driver.find_element(By.CSS_SELECTOR, "svg.chart-narrow")
    assert picture.is_displayed()
    names = [text.text for text in picture.find_elements(By.TAG_NAME, "text")]
    for model in (
        "Cupola",
        "Tarn",
        "Rondel 6",
        "Rondel 4",
        "Lantern",
        "Skerry",
        "Plinth",
        "Faceplate",
        "Ingle",
        "Ridge",
    ):
        assert model in names
    assert phone.words(".verdict") == (
        "A wall or two away (60–75 dB), Tessarik Cupola gives a laptop with two antennas 803 Mbit/s. Tarn, Rondel 6 and Rondel 4 may "
        "give as much: the tests cannot tell them apart."
    )
    assert phone.taps == 0
