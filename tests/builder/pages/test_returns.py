"""A unit that goes back can be tested again until its day has come; the instant decides, not the calendar on the wall."""

from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.pair import pair_page
from builder.pages.review import article_page
from tests.builder.pages.conftest import by_heading, contents

# The unit of tessarik-a-b goes back on 1 August 2025 (tests/builder/small_catalog.py).
BEFORE = datetime(2025, 7, 31, 23, 59, tzinfo=UTC)
THAT_DAY = datetime(2025, 8, 1, 0, 1, tzinfo=UTC)
NO_MORE = "no retest possible since 1 August 2025"
STILL = "goes back on 1 August 2025; until then it can be tested again"


def words(found):
    device = compose(device_page, found, "tessarik-a-b")
    pair = compose(pair_page, found, "quillmast-sill", "tessarik-a-b")
    review = compose(article_page, found, "a-b-review")
    return [
        by_heading(device.units)[0]["Returned"].text,
        *(fact.text for fact in device.facts if fact.term == "Who paid"),
        *(fact.text for fact in pair.contenders[1].facts if fact.term == "Who paid"),
        *(fact.text for fact in review.disclosure if fact.term == "Tessarik A<b"),
    ]


@pytest.mark.parametrize(("instant", "said"), [(BEFORE, STILL), (THAT_DAY, NO_MORE)])
def test_pages_know_whether_the_day_has_come(instant, said, small_file):
    found = contents(small_file, instant)
    told = words(found)
    assert len(told) == 4
    for text in told:
        assert said in text[:1].lower() + text[1:] or said in text
    (dispute,) = compose(device_page, found, "tessarik-a-b").disputes
    assert ("No retest possible since 1 August 2025." in dispute.sentences) == (said == NO_MORE)


@pytest.mark.parametrize(("instant", "said"), [(BEFORE, "goes back on 2025-08-01"), (THAT_DAY, "no retest possible")])
def test_show_knows_it_too(instant, said, small_file):
    command = ["show", "tessarik-a-b", "--catalog", str(small_file), "--as-of", instant.isoformat()]
    assert said in CliRunner().invoke(main, command).stdout
