"""Long runs on the device page."""

import re

import pytest

from builder import addresses
from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.tables.longrun_sections import MOST_DRAWN, longrun_sections


def parts(contents):
    return {
        device: compose(longrun_sections, contents, addresses.device(device), device)
        for device in contents.results.bench.devices
        if any(run.device == device for run in contents.results.longruns)
    }


def test_every_long_run_has_a_section_and_the_newest_a_chart(demo):
    found = parts(demo)
    assert sum(map(len, found.values())) == len(demo.results.longruns)
    for sections in found.values():
        counted = [part for part in sections if len(part.sentences) == 3]
        assert sum(part.drawing is not None for part in sections) == min(len(counted), MOST_DRAWN)


def test_the_page_draws_what_its_sections_hold(demo):
    for device, sections in parts(demo).items():
        page = compose(device_page, demo, device)
        assert [d for d in page.drawings if d.figure.key.startswith("longrun")] == [
            part.drawing for part in sections if part.drawing
        ]


def test_charts_name_n_client_firmware_and_day(demo):
    for sections in parts(demo).values():
        for part in sections:
            if part.drawing:
                note = part.drawing.figure.notes[0]
                assert re.search(r"firmware \S+, unit \S+, \d+ \w+ 20\d\d\. n = \d+ values, one every \d+ s", note)


def test_a_wave_is_told_without_its_cause(demo):
    # Source: data/demo/README.md: one device slows every 25 minutes.
    texts = [text for sections in parts(demo).values() for part in sections for text in part.sentences]
    (wave,) = [text for text in texts if text.startswith("It repeats every")]
    assert float(re.findall(r"[\d.]+", wave)[0]) == pytest.approx(25 * 60, rel=0.01)
    assert "Wander on all time scales can look the same, and one client alone cannot show the cause." in wave
