"""How many taps a question takes on a phone: 360 px wide, from the start page, on links a thumb can reach."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from tests.browser.watching import opened

PHONE = {"width": 360, "height": 740, "deviceScaleFactor": 3, "mobile": True}
SMALLEST_TARGET_PX = 24  # WCAG 2.2, 2.5.8
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
        WebDriverWait(self.driver, 5).until(lambda driver: driver.current_url != before)

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
        "With 5 machines at once, one of them with two roles, Fjeldrun Skerry (clips: 137 of 162 in time"
    )
    assert "It suffered most on Fjeldrun Skerry." in phone.words("#role-clips, section[aria-labelledby=role-clips]")
    assert phone.driver.execute_script("return document.documentElement.scrollWidth") == PHONE["width"]
    assert phone.taps <= 6
