"""Features: how far each has come, and that "not tested" is no "no"."""

import itertools

from builder.pages.contents import compose
from builder.pages.features import features_page
from builder.registers.features import STEPS, feature_standings
from catalog.records import Feature
from tests.builder.pages.conftest import by_heading

ROW = itertools.count(2)


def evidence(step, *, date="2025-05-01", licence=None, device="a", feature="guest network", firmware="1.0"):
    return Feature(
        batch_id="b",
        source_file="features.csv",
        source_row=next(ROW),
        device=device,
        feature=feature,
        step=step,
        firmware=firmware,
        date=date,
        licence=licence,
        how=None,
        evidence=None,
    )


def standing(*found):
    return feature_standings(found)["guest network"][0]


def test_a_promise_alone_is_not_tested_further():
    assert standing(evidence("promised")).now == "promised"
    assert standing(evidence("promised"), evidence("switchable"), evidence("present")).now == "switchable"
    assert standing(evidence("not tested")).now == "not tested"


def test_the_latest_of_works_and_fails_counts():
    worked, failed = evidence("works", date="2025-01-01"), evidence("fails", date="2025-06-01", firmware="1.1")
    assert standing(worked, failed).now == "fails"
    assert standing(worked, failed).latest.firmware == "1.1"
    assert standing(evidence("works", date="2025-07-01"), failed).now == "works"


def test_proven_only_with_a_licence_is_not_free():
    # E18 of the job analysis: "without licence" hides features proven only with one.
    assert standing(evidence("works", licence="Sight")).licences == ("Sight",)
    assert standing(evidence("works", licence="none")).licences == ()
    assert standing(evidence("works", licence="none")).free
    assert not standing(evidence("works")).free  # nobody said so
    both = feature_standings([evidence("works"), evidence("works", licence="Sight", firmware="1.1", date="2025-06-01")])
    assert both["guest network"][0].licences == ()
    # Evidence of a promise without one does not make what works free.
    assert standing(evidence("promised"), evidence("works", licence="Sight")).licences == ("Sight",)


def test_the_page_tells_five_steps_apart_in_words(demo):
    page = compose(features_page, demo)
    assert {part.heading.lower() for part in page.sections} == {
        f.feature.lower() for found in demo.catalogue.features.values() for f in found
    }
    rows = [row for part in page.sections for row in by_heading(part.tables[0])]
    words = {row["Now"].text for row in rows}
    assert words <= {*STEPS, "fails", "not tested"}
    assert {"promised", "works"} <= words
    for row in rows:
        steps = [row[step.capitalize()] for step in STEPS]
        for entry in steps:
            assert entry.text.startswith(("yes, ", "works, ", "fails, ")) or entry.why_missing in (
                "not tested",
                "not noted",
            )
        if row["Now"].text == "promised":
            assert "not noted" not in [entry.why_missing for entry in steps]


def test_devices_without_evidence_are_not_tested_rather_than_without(small):
    (part,) = compose(features_page, small).sections
    assert part.sentences == ("Works on Tessarik A<b; whether it works was not tested on 3 other devices.",)
