"""What articles came to: the catalogue's sentences, whatever words their author put into the text."""

import pytest

from builder.articles.findings import finding, latest_finding
from builder.pages.contents import compose
from builder.pages.parts.looked_up import evidence_of, look_up
from tests.builder.articles.conftest import bound_to
from tests.builder.pages.conftest import contents


@pytest.fixture(scope="module")
def demo(demo_file, demo_instant):
    return contents(demo_file, demo_instant)


@pytest.fixture(scope="module")
def evidence(demo):
    return compose(evidence_of, demo)


def found(evidence, *texts):
    return finding(evidence, [bound_to(evidence, text) for text in texts])


UNDER = "(= under client wrenlet-u2, band 5, width 80, direction down =)\n\n"


def test_a_claim_is_told_in_the_catalogues_words_and_not_in_its_authors(evidence):
    text = UNDER + "(= claim tessarik-cupola leads polmerre-rondel-4 : a triumph without equal =)"
    sentence = found(evidence, text)
    assert sentence.startswith("In the same place Cupola gives 84 Mbit/s more than Rondel 4 (")
    assert "triumph" not in sentence


def test_who_coped_is_told_of_several_together_over_all_articles(evidence):
    # Counted in the logs of data/demo; words between them play no part.
    one = "(= coped tessarik-cupola, workload full-house =) (= verdict tessarik-cupola tessarik-plinth, client wrenlet-u2, band 5, width 80, direction down =)"
    other = "The Skerry (= coped fjeldrun-skerry, workload full-house =)."
    both = "In “A full house on a rainy evening” Tessarik Cupola coped with every role; it is too close to say of Fjeldrun Skerry."
    assert found(evidence, one, other) == both
    assert found(evidence, other) == "In “A full house on a rainy evening” it is too close to say of Fjeldrun Skerry."
    assert found(evidence, one).startswith("In the same place Cupola gives")


def test_words_alone_find_nothing_and_what_is_wrong_is_passed_over(evidence):
    assert found(evidence, "A fine device.") == ""
    wrong = bound_to(evidence, "(= claim polmerre-rondel-4 leads tessarik-cupola =)")
    assert wrong.problems
    assert finding(evidence, [wrong]) == ""


def test_the_latest_month_that_found_anything_is_told(demo, evidence):
    articles = compose(look_up, demo)
    assert latest_finding(evidence, articles) == (
        "Latest, March 2026: in “A full house on a rainy evening” Tessarik Cupola and Polmerre Rondel 6 coped with every "
        "role; Hollendry Bobbin Home did not; it is too close to say of Tessarik Plinth, Veltrisk Tarn and Fjeldrun Skerry."
    )
    until = [one for one in articles if one.article.published_utc < "2025-12"]
    assert latest_finding(evidence, until).startswith(
        "Latest, July 2025: At S6 Cupola gives 368 Mbit/s less with one link"
    )
    assert latest_finding(evidence, []) == ""
