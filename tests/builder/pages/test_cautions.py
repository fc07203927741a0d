"""Cautions stand on every page that leads to a screwdriver, a ladder, a plug or a hot surface; power by measurement."""

import re
from urllib.parse import parse_qs

import pytest

from builder.pages.contents import compose
from builder.pages.listing import devices_page
from builder.pages.parts.device_card import device_card
from builder.registers.power import need
from catalog.standards import POE_CLASSES
from tests.builder.pages.conftest import by_heading

CAREFUL = (
    "devices/*/index.html",
    "pairs/*--*/index.html",
    "repeat/index.html",
    "repeat/*/index.html",
    "reviews/*/index.html",
    "houses/*/index.html",
    "houses/index.html",
    "power/index.html",
    "insides/index.html",
    "chooser/index.html",
)


@pytest.mark.parametrize("pattern", CAREFUL)
def test_page_carries_the_cautions_once(pattern, demo_site):
    pages = list(demo_site.glob(pattern))
    assert pages
    for page in pages:
        text = page.read_text(encoding="utf-8")
        if 'http-equiv="refresh"' not in text:
            assert text.count('class="cautions"') == 1, page
            for word in ("Hot surfaces", "Opening a unit", "Ladders", "Mains", "Radio rules"):
                assert word in text


def test_list_shows_the_class_it_filters_by(demo):
    table = compose(devices_page, demo).table
    shown = 0
    for row, entries in zip(table.rows, by_heading(table), strict=True):
        asked = parse_qs(row.facets).get("poe", [""])[0]
        entry = entries["Needs (measured)"]
        if re.fullmatch(r"[1-8]", asked):
            assert entry.text == f"class {asked}"
            shown += 1
    assert shown > 5


def test_a_contradiction_stands_in_the_list_and_on_the_shortlist(demo):
    contradicting = {
        device_id: wants
        for device_id, device in demo.results.bench.devices.items()
        if (wants := need(device, demo.catalogue.power.get(device_id, ()))) and wants.contradictions
    }
    assert contradicting
    rows = by_heading(compose(devices_page, demo).table)
    notes = {row["Device"].text: row["Needs (measured)"].note for row in rows}
    for device_id, wants in contradicting.items():
        device = demo.results.bench.devices[device_id]
        assert notes[f"{device.maker} {device.model}"] == f"contradiction: class {wants.promised} promised"
        (fact,) = [fact for fact in compose(device_card, demo, device_id) if fact.term == "Needs"]
        assert fact.text.startswith(f"Class {wants.needed} (measured); ")
        assert "Contradiction: " in fact.text
        limit = POE_CLASSES[wants.promised].limit_w(wants.hardest.power.side)
        assert wants.hardest.power.watts > limit


def test_hot_backs_of_the_demo_carry_the_caution(demo_site):
    # Backs of metal at 52.0 and 58.5 °C; what is held may have 48 °C (tests/published/touch_temperature.csv).
    for device, reading in (("polmerre-rondel-6", "52.0"), ("quillmast-ridge", "58.5")):
        text = (demo_site / "devices" / device / "index.html").read_text(encoding="utf-8")
        assert f'<p class="caution">Hot: the back plate read {reading}\u00a0°C, above 48\u00a0°C' in text
