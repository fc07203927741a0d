"""A bench day that is replayed, in a real browser: logs land, what is wrong is said, and the batch is entered as it lies."""

import csv
import shutil
from datetime import UTC, datetime

import pytest
from selenium.webdriver.common.keys import Keys

from catalog.entering import enter_batch
from tests.browser.test_preview import says, until
from tests.browser.test_watch import field, press, shown
from tests.browser.watching import complaints
from tests.builder.desk.served import served
from tests.desk.bench_days import bench_day, dates_of, losses_of
from tests.desk.planned_days import write_plan
from tests.desk.slips import slipped_day
from tests.desk.test_bench_days import CEILING, PLAN, REFERENCE

SLIPPED = "logs/020-s4-down-2.csv"  # the first slip of that day that is wrong beyond doubt
STATE = "return document.querySelector(`.day tbody tr:nth-child(${arguments[0]}) [data-column=State]`).textContent"


@pytest.fixture
def browser(browser):
    yield browser
    browser.get("about:blank")  # or the page would go on asking for a watch that has ended


def land(day, landing, *, name=None):
    path = day / (name or landing.path)
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(landing.content)


def test_a_bench_day_from_the_first_log_to_the_catalogue(browser, demo_file, tmp_path):
    catalog, day = shutil.copy(demo_file, tmp_path / "catalog.db"), tmp_path / "day"
    write_plan(PLAN, day, catalog)
    facts = {"losses": losses_of(catalog), "dates": dates_of(day), "ceiling": CEILING, "reference": REFERENCE}
    landings = slipped_day(day, seed=1, **facts)
    slip = next(number for number, one in enumerate(landings) if one.path == SLIPPED)
    with served(catalog, day, verb="watch") as site:
        driver = shown(browser, site)
        says(driver, "No log has landed yet.")
        land(day, landings[0])
        until(driver, f"{STATE} === 'landed'", 1)
        # While somebody types, other logs land.
        note = field(driver, 2, "note")
        note.send_keys("door half ")
        for landing in landings[1 : slip + 1]:
            land(day, landing)
        says(driver, "at the 1016 that wrenlet-u2 is known to carry")
        until(driver, "return document.querySelector('#heard').textContent.includes('S4 download 2')")
        assert driver.switch_to.active_element == note
        note.send_keys("open", Keys.TAB)
        until(driver, "return document.querySelector('.day tbody tr:nth-child(2) .of-note input').defaultValue !== ''")
        # What slipped is repeated under its name; the next log lands under another one.
        clean = {one.path: one for one in bench_day(day, losses=facts["losses"], dates=facts["dates"], seed=1)}
        for landing in landings[: slip + 1]:
            if landing.slip:
                land(day, clean[landing.path])
        land(day, landings[slip + 1], name="logs/measure_17.csv")
        until(driver, "return document.querySelector('#others') && !document.querySelector('#grave')")
        press(driver, "give|")
        until(driver, "return location.search.startsWith('?told=') && !document.querySelector('#others')")
        press(driver, "show")
        says(driver, "door half open")
        press(driver, "write")
        says(driver, "Written: ")
        assert complaints(browser) == []
    with (day / "desk" / "runs.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["log"] for row in rows] == [one.path for one in landings[: slip + 1]] + ["logs/measure_17.csv"]
    assert rows[1]["note"] == "door half open"
    entered = enter_batch(day, into=catalog, now=datetime(2027, 1, 1, tzinfo=UTC))
    assert entered.rows_new == len(rows)
