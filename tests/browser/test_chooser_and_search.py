"""Any devices beside each other, and finding one by what it is called, in a real browser from disk."""

import gzip
import json
from itertools import combinations
from urllib.parse import urlencode

import pytest
from click.testing import CliRunner
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from builder.cli import main
from tests.browser.watching import complaints, opened, patient, requests_outside
from tests.downloads import script_value


def part(driver, name):
    return driver.find_element(By.CSS_SELECTOR, f"device-chooser [data-{name}]")


def verdict(driver):
    patient(driver).until(lambda _: part(driver, "verdict").text)
    return part(driver, "verdict").text


def chooser(driver, site, fragment=""):
    driver.get("about:blank")
    return opened(driver, site / "chooser" / "index.html", fragment=fragment)


def pick(driver, device):
    driver.find_element(By.CSS_SELECTOR, f"device-chooser [value={device}]").click()


def test_two_give_the_verdict_that_the_command_prints(browser, demo_file, demo_site):
    # The engine's own sentence, asked another way: `compare` and the chooser must not differ by a digit.
    devices = ("tessarik-cupola", "veltrisk-tarn")
    result = CliRunner().invoke(
        main, ["compare", *devices, "--json", "--as-of", "2026-06-30T12:00:00Z", "--catalog", str(demo_file)]
    )
    said = {group["sentence"] for group in json.loads(result.stdout)["groups"]}
    driver = chooser(browser, demo_site)
    for device in devices:
        pick(driver, device)
    (lead,) = [sentence for sentence in said if verdict(driver).startswith(sentence)]
    page = (demo_site / "pairs" / "--".join(devices) / "index.html").read_text(encoding="utf-8")
    assert f'<p class="verdict">{verdict(driver)}</p>' in page.replace("\u00a0", " ")
    shown = {cell.text for cell in driver.find_elements(By.CSS_SELECTOR, "[data-table] td")}
    assert shown | {lead} == said


def test_prepared_pair_has_a_link_to_its_page(browser, demo_site):
    driver = chooser(browser, demo_site, "devices=tessarik-cupola+veltrisk-tarn")
    verdict(driver)
    part(driver, "page").find_element(By.TAG_NAME, "a").click()
    assert driver.current_url.endswith("pairs/tessarik-cupola--veltrisk-tarn/index.html")
    assert "Cupola" in driver.find_element(By.CSS_SELECTOR, ".verdict").text


def test_four_give_a_matrix_and_no_winner_unless_one_leads_all(browser, demo_site):
    devices = ["fjeldrun-ingle", "quillmast-ridge", "tessarik-cupola", "veltrisk-tarn"]
    driver = chooser(browser, demo_site, "devices=" + "+".join(devices))
    said = verdict(driver)
    rows = driver.find_elements(By.CSS_SELECTOR, "[data-matrix] tbody tr")
    words = [[cell.text for cell in row.find_elements(By.TAG_NAME, "td")] for row in rows]
    assert len(words) == 4
    opposite = {"leads": "is behind", "is behind": "leads"}
    for i, j in combinations(range(4), 2):
        assert words[j][i] == opposite.get(words[i][j], words[i][j])
    leads_all = [row.count("leads") == 3 for row in words]
    assert any(leads_all) != said.startswith("There is no overall winner")
    assert "comparisons are judged together" in part(driver, "matrix").text


def test_fifth_cannot_be_picked(browser, demo_site):
    driver = chooser(browser, demo_site, "devices=fjeldrun-ingle+quillmast-ridge+tessarik-cupola+veltrisk-tarn")
    verdict(driver)
    assert not driver.find_element(By.CSS_SELECTOR, "[value=fjeldrun-skerry]").is_enabled()


def test_choice_survives_reload_and_back(browser, demo_site):
    driver = chooser(browser, demo_site)
    pick(driver, "tessarik-cupola")
    pick(driver, "veltrisk-tarn")
    first = verdict(driver)
    patient(driver).until(lambda _: "devices=tessarik-cupola+veltrisk-tarn" in driver.current_url)
    driver.refresh()
    assert verdict(driver) == first
    pick(driver, "fjeldrun-ingle")
    patient(driver).until(lambda _: "fjeldrun-ingle" in driver.current_url)
    driver.back()
    patient(driver).until(lambda _: verdict(driver) == first)


def test_it_is_two_taps_from_the_start(browser, demo_site):
    driver = opened(browser, demo_site / "index.html")
    driver.find_element(By.LINK_TEXT, "Compare").click()
    assert driver.find_element(By.TAG_NAME, "device-chooser").is_displayed()
    driver = opened(browser, demo_site / "index.html")
    driver.find_element(By.LINK_TEXT, "Pairs that are compared already").click()
    driver.find_element(By.CSS_SELECTOR, "main table a").click()
    assert driver.find_element(By.CSS_SELECTOR, ".verdict").text


def test_keyboard_alone_picks(browser, demo_site):
    driver = chooser(browser, demo_site)
    boxes = driver.find_elements(By.CSS_SELECTOR, "device-chooser [name=device]")
    driver.execute_script("arguments[0].focus()", boxes[0])
    driver.switch_to.active_element.send_keys(Keys.SPACE, Keys.TAB)
    driver.switch_to.active_element.send_keys(Keys.SPACE)
    assert verdict(driver)


def test_without_scripts_the_prepared_pairs_are_there(browser_without_scripts, demo_site):
    driver = chooser(browser_without_scripts, demo_site)
    assert not driver.find_element(By.TAG_NAME, "device-chooser").is_displayed()
    assert "needs scripts" in driver.find_element(By.TAG_NAME, "main").text
    driver.find_element(By.CSS_SELECTOR, "main .link-list a").click()
    assert driver.find_element(By.CSS_SELECTOR, ".verdict").text


def test_pairs_of_a_choice_are_light(demo_site):
    # speed.md: 150 kB gzip for 400 devices. A choice of four reads at most six files beside the sentences, and at 400
    # devices a file holds at most some two hundred pairs.
    files = {p.stem: p.read_bytes() for p in (demo_site / "scripts" / "pairs").glob("*.js")}
    words = len(gzip.compress(files.pop("words"), mtime=0))
    pairs = {name: len(script_value(text)["a"]) for name, text in files.items()}
    each = max(len(gzip.compress(text, mtime=0)) / pairs[name] for name, text in files.items() if pairs[name] > 20)
    assert words + 6 * 200 * each < 150_000


@pytest.mark.parametrize("query", ["polmerre rondel-6", "RONDEL6", "rondl 6", "Rondel-6 EU", "rondel 6"])
def test_device_is_found_whatever_hyphen_case_and_slip(query, browser, demo_site):
    # Source: D01 of the job analysis, with the demo's names.
    driver = opened(browser, demo_site / "search" / "index.html")
    field = driver.find_element(By.ID, "search-field")
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(query)
    patient(driver).until(lambda _: driver.find_elements(By.LINK_TEXT, "Polmerre Rondel 6"))
    hits = driver.find_elements(By.CSS_SELECTOR, "[data-hits] a")
    assert "Polmerre Rondel 6" in [hit.text for hit in hits]
    next(hit for hit in hits if hit.text == "Polmerre Rondel 6").click()
    assert driver.current_url.endswith("devices/polmerre-rondel-6/index.html")


@pytest.mark.parametrize(
    ("query", "page"),
    [
        ("PoE", "power/index.html"),
        ("6 GHz", "devices/index.html#band=6"),
        ("licence", "features/index.html"),
        ("price", "prices/index.html"),
        ("attenuation", "glossary/index.html#word~attenuation"),
        ("rondel 6 price", "devices/polmerre-rondel-6/index.html#cost"),
        ("643.4", "devices/polmerre-rondel-4/index.html#corrections"),  # what was; the same for what is
        ("634", "devices/polmerre-rondel-4/index.html#corrections"),
        ("638", "reviews/cupola-review/index.html"),  # a number that was frozen into a review
    ],
)
def test_a_word_leads_to_the_page_about_it_first(query, page, browser, demo_site):
    driver = searched(browser, demo_site, query)
    assert driver.find_element(By.CSS_SELECTOR, "[data-hits] a").get_attribute("href").endswith(page)


def test_firmware_leads_to_a_page_that_says_what_new_ones_brought(browser, demo_site):
    driver = searched(browser, demo_site, "firmware")
    driver.find_element(By.CSS_SELECTOR, "[data-hits] a").click()
    assert "6.1.0" in driver.find_element(By.TAG_NAME, "main").text


def test_no_match_proposes_topics(browser, demo_site):
    driver = searched(browser, demo_site, "db steering wheel")
    said = driver.find_element(By.CSS_SELECTOR, "[data-count]").text
    assert said == "No match. Try a device, part or topic."
    topics = driver.find_elements(By.CSS_SELECTOR, "[data-topics] a")
    assert len(topics) > 10
    topics[0].click()
    assert driver.find_element(By.TAG_NAME, "h1").text


def test_everything_that_can_be_found_is_there(demo_site):
    # A link of the search is made by a script, so the build's own check of links does not see it.
    data = {
        path.name: script_value(path.read_bytes())
        for path in (demo_site / "scripts" / "search.js", demo_site / "scripts" / "search-articles.js")
    }
    index = data["search.js"]
    targets = [entry[1] for entry in (*index["entries"], *data["search-articles.js"])]
    for folder, _, _, _, code, letters, _ in index["devices"]:
        address = f"devices/{folder}/index.html"
        targets += [address, f"go/{code}.html"]
        targets += [f"{address}#{index['parts'][ord(letter) - ord('a')][0]}" for letter in letters]
    for one, other, letters, *elsewhere in index["pairs"]:
        folders = sorted((index["devices"][one][0], index["devices"][other][0]))
        address = elsewhere[0] if elsewhere else f"pairs/{'--'.join(folders)}/index.html"
        targets += [address, *(f"{address}#{index['pairParts'][ord(letter) - ord('a')][0]}" for letter in letters)]
    assert len(targets) > 300
    for target in targets:
        address, _, fragment = target.partition("#")
        page = (demo_site / address).read_text(encoding="utf-8")
        assert not fragment or "=" in fragment or f'id="{fragment}"' in page, target


def test_search_is_light(demo_site):
    # site.md: below 60 kB gzip at 400 devices. Here 12 devices and what there is once; 120 parts and 60 corrections weigh
    # about 7 kB more. A number reads at most three files of figures; of 400 devices each has at most 7.2 kB (measured).
    def packed(value):
        return len(gzip.compress(json.dumps(value, separators=(",", ":")).encode(), mtime=0))

    index = script_value((demo_site / "scripts" / "search.js").read_bytes())
    each = packed([index["devices"], index["pairs"]]) / len(index["devices"])
    sizes = [len(gzip.compress(path.read_bytes(), mtime=0)) for path in (demo_site / "scripts" / "sizes").glob("*.js")]
    articles = len(gzip.compress((demo_site / "scripts" / "search-articles.js").read_bytes(), mtime=0))
    assert packed(index["entries"]) + 400 * each + 7_000 + articles + 3 * max(sizes) < 60_000


def searched(driver, site, query):
    driver.get("about:blank")
    opened(driver, site / "search" / "index.html", fragment=urlencode({"find": query}))
    patient(driver).until(lambda _: driver.execute_script(ANSWERED))
    return driver


ANSWERED = "return Boolean(document.querySelector('[data-count]').textContent)"


def test_tools_ask_nobody_and_say_nothing_to_the_console(browser, demo_site):
    complaints(browser), requests_outside(browser)
    driver = chooser(browser, demo_site, "devices=tessarik-cupola+veltrisk-tarn")
    verdict(driver)
    driver = opened(browser, demo_site / "search" / "index.html", fragment="find=cupola")
    patient(driver).until(lambda _: driver.find_elements(By.CSS_SELECTOR, "[data-hits] a"))
    assert complaints(browser) == []
    assert requests_outside(browser) == []


def test_search_lists_every_device_without_scripts(browser_without_scripts, demo_site):
    driver = opened(browser_without_scripts, demo_site / "search" / "index.html")
    listed = {a.get_attribute("href") for a in driver.find_elements(By.CSS_SELECTOR, "main .link-list a")}
    for page in (demo_site / "devices").glob("*/index.html"):
        assert page.as_uri() in listed
