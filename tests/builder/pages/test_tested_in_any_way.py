"""A device that was only tested with several clients at once was tested: its page does not say otherwise."""

from datetime import UTC, datetime

import pytest

from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.listing import devices_page
from builder.pages.pair import pair_page
from catalog.entering import enter_batch
from tests.builder.pages.conftest import by_heading, contents
from tests.builder.publishing.publishing_bench import batch

NOW = datetime(2025, 9, 20, tzinfo=UTC)
HEAD = (
    "mix,workload,workload_version,when,device,unit,firmware,client,driver,session,role,band,spot,planned_s,outcome,"
    "ended_at_s,ended_by,log\n"
)
RUN = "n1,five,1,2025-06-20T14:00:00Z,tessarik-new,A,0.9,skarn-c3,3.11,2025-06-20,pages,5,S3,600,did not finish,380,,\n"


@pytest.fixture
def found(small_file, tmp_path):
    path = tmp_path / "catalog.db"
    path.write_bytes(small_file.read_bytes())
    enter_batch(batch(tmp_path, "mixes", title="Mixes", stations_csv=HEAD + RUN), into=path, now=NOW)
    return contents(path, NOW)


def test_device_page_knows_day_client_firmware_and_unit(found):
    page = compose(device_page, found, "tessarik-new")
    facts = {fact.term: fact.text for fact in page.facts}
    assert facts["Tested"] == "20 June 2025"
    assert facts["With"] == "Skarn <C3>"
    assert facts["Firmware"] == "0.9, released 10 January 2025, the latest known here"
    assert by_heading(page.firmware)[0]["Here"].text == "current: the latest public one with results"
    assert page.agreement == (
        "Unit A of Untested & new was tested only with several clients at once or in long runs; how units differ is not known."
    )
    assert page.verdict.startswith("Tested only with several clients at once or in long runs")


def test_lists_and_pairs_know_it_too(found):
    rows = by_heading(compose(devices_page, found).table)
    (row,) = [row for row in rows if row["Device"].text == "Tessarik Untested & new"]
    assert (row["First tested"].text, row["Firmware"].text) == ("20 Jun 2025", "0.9")
    contender = compose(pair_page, found, "quillmast-sill", "tessarik-new").contenders[1]
    assert {fact.term: fact.text for fact in contender.facts}[
        "Tested"
    ] == "only with several clients at once or in long runs"


def test_days_and_clients_of_mixes_stand_beside_those_of_other_tests(found):
    # tessarik-a-b: single runs on 12 May with two clients, and two mixes that day (tests/builder/small_catalog.py).
    facts = {fact.term: fact.text for fact in compose(device_page, found, "tessarik-a-b").facts}
    assert facts["Tested"] == "12 May 2025"
    assert facts["With"] == "Wrenlet U2 and Skarn <C3>"


def test_a_device_without_any_test_still_says_so(small):
    page = compose(device_page, small, "tessarik-new")
    facts = {fact.term: fact.text for fact in page.facts}
    assert (facts["Tested"], facts["With"]) == ("not yet", "no client yet")
    assert page.agreement == "No unit of Untested & new was tested yet."
