"""How to repeat a test: every condition, and the band of each value."""

from urllib.parse import quote, unquote

import pytest

from builder import addresses, wording
from builder.pages import recipe
from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.recipe import recipe_keys, recipe_page, recipe_pages, recipe_place
from catalog.figure_names import joined_id
from tests.builder.pages.conftest import by_heading


def recipe_of(contents, device, client):
    """The page a recipe stands on, and the recipe."""
    address, key = compose(recipe_place, contents, device, client)
    pages = [compose(recipe_page, contents, *page) for page in compose(recipe_pages, contents) if page[0] == device]
    return next((page, one) for page in pages if page.address == address for one in page.recipes if one.key == key)


def keys_of(page):
    return [(f"{page.address.rpartition('/')[0]}/index.html", one.key) for one in page.recipes]


def test_every_condition_a_result_is_bound_to_is_there(small):
    # K02 and D04 of the job analysis: unit, firmware, licence, client setup, method, spot epoch, session.
    _, page = recipe_of(small, "tessarik-a-b", "wrenlet-u2")
    facts = {fact.term: fact.text for fact in page.conditions}
    assert facts["Unit"] == "A, loaned by the maker"
    assert facts["Firmware"] == "7.1, released 10 January 2025"
    assert facts["Licence"] == "not recorded with these runs"
    assert facts["Client"] == "Wrenlet U2: laptop, two-stream card, PCIe"
    assert facts["Driver"] == "3.11; series wrenlet-u2"
    assert facts["Channel"] == "36"
    assert facts["Method"].startswith("Method 2, constants set")
    assert facts["Spots"].startswith("House A: S2 (since 1 January 2025), S3 (since 1 January 2025)")
    assert facts["Sessions"] == "2025-05-12, 12 May 2025"
    assert facts["Repeats a place"] == "2 to 3"  # one repeat at S5 did not finish


def test_the_expected_value_has_its_band(small):
    # By hand, as method section 3 says: A<b at 64 dB gives 1790 - 20*64 = 510; repeats 507, 510, 513: s = 3, n = 3.
    # u^2 = 3^2/3 + (0.03*510)^2 + (20 * sqrt(0.625/5 + 1))^2 + 20^2: readings of the spot scatter by 0.791 dB
    # (-1, -0.5, 0, 0.5, 1; variance 0.625), sigma_kit 1 dB, slope 20 Mbit/s a dB. nu from term 1 alone is huge.
    whole, page = recipe_of(small, "tessarik-a-b", "wrenlet-u2")
    (table,) = page.expected
    row = next(row for row in by_heading(table) if row["Place"].text == "S3")
    assert row["Expected"].text == "510"
    u = (3**2 / 3 + (0.03 * 510) ** 2 + 400 * (0.625 / 5 + 1) + 400) ** 0.5
    low, high = (float(text) for text in row["Should lie in"].text.split("–"))
    assert low == pytest.approx(510 - 1.96 * u, abs=1)
    assert high == pytest.approx(510 + 1.96 * u, abs=1)
    assert "Another unit, client or house is not in it." in whole.expectation


def test_a_bound_has_no_band(demo):
    words = [
        row["Should lie in"].why_missing
        for key in compose(recipe_keys, demo)
        for table in recipe_of(demo, *key)[1].expected
        for row in by_heading(table)
        if row["Expected"].text.startswith("≥")
    ]
    assert words
    assert set(words) <= {"none: a lower bound", "none without an attenuation"}


def test_it_rests_on_the_latest_public_firmware(demo):
    for device, client in compose(recipe_keys, demo):
        facts = {fact.term: fact.text for fact in recipe_of(demo, device, client)[1].conditions}
        tested = {c.firmware for c in demo.results.bench.cells_of[device] if c.client == client and c.mean is not None}
        public = {f.version for f in demo.results.bench.devices[device].firmware if f.public}
        assert facts["Firmware"].split(",")[0] in (tested & public or tested)


def test_steps_are_numbered_and_cautions_are_there(demo_site):
    page = next(iter(sorted((demo_site / "repeat").glob("*/index.html")))).read_text()
    assert page.partition("</aside>")[2].count("<ol>") == page.count(
        'class="recipe"'
    )  # beside it stands the list of contents
    assert "Before you touch one" in page


def test_the_device_leads_to_each_of_its_recipes(demo):
    for device in demo.results.bench.devices:
        own = [joined_id("with", key[1]) for key in compose(recipe_keys, demo) if key[0] == device]
        links = [link.href.replace("../../", "") for link in compose(device_page, demo, device).recipes]
        assert links == [f"{addresses.recipe(device)}#{quote(fragment)}" for fragment in own]


def test_very_many_client_setups_lie_on_several_pages(demo, monkeypatch):
    monkeypatch.setattr(recipe, "MOST_ON_A_PAGE", 2)
    pages = [compose(recipe_page, demo, *page) for page in compose(recipe_pages, demo)]
    assert sorted(key for page in pages for key in keys_of(page)) == sorted(
        (addresses.recipe(device), joined_id("with", client)) for device, client in compose(recipe_keys, demo)
    )
    assert {len(page.recipes) for page in pages} == {1, 2}
    places = {page.address: {one.key for one in page.recipes} for page in pages}
    for page in pages:
        folder = [places[there] for there in places if there.split("/")[1] == page.address.split("/")[1]]
        assert len(page.recipes) + len(page.others) == sum(map(len, folder))
        for link in page.others:
            file, _, fragment = link.href.partition("#")
            assert unquote(fragment) in places[f"{page.address.rpartition('/')[0]}/{file}"]


def test_the_level_of_a_spot_that_was_read_twice_is_that_of_each_reading(demo):
    """Expected values are plain means of the runs' own levels, by the attenuation they were taken at."""
    _, page = recipe_of(demo, "quillmast-lantern", "wrenlet-u2")
    runs = demo.catalogue.runs_of["quillmast-lantern"].values()
    group = [c for c in demo.results.bench.cells_of["quillmast-lantern"] if c.client == "wrenlet-u2" and c.spot == "B6"]
    expected = set()
    for cell in group:
        levels = [r.level_dbm for r in runs if r.run_id in cell.run_ids and r.level_dbm is not None]
        expected.add(wording.decibels(sum(levels) / len(levels)))
    rows = [row for table in page.expected for row in by_heading(table)]
    twice = {row["Level"].text for row in rows if row["Place"].text == "B6"}
    assert twice <= expected
    assert {wording.decibels(-53.0), wording.decibels(-57.3)} <= twice
