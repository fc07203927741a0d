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
    assert sentence.startswith("In the same place Cupola gives 84 Mbit/s more than Rondel 4, likely ")
    assert "%" not in sentence
    assert sentence.endswith("Measured with 2 streams, 5 GHz, 80 MHz, download (Wrenlet U2, a laptop).")
    assert "triumph" not in sentence


def test_who_coped_is_told_of_several_together_over_all_articles(evidence):
    # Counted in the logs of data/demo; words between them play no part.
    one = "(= coped tessarik-cupola, workload full-house =) (= verdict tessarik-cupola tessarik-plinth, client wrenlet-u2, band 5, width 80, direction down =)"
    other = "The Skerry (= coped fjeldrun-skerry, workload full-house =)."
    both = "In “A full house on a rainy evening” Tessarik Cupola coped with every role; it is too close to say of Fjeldrun Skerry."
    assert found(evidence, one, other) == both
    assert found(evidence, other) == "In “A full house on a rainy evening” it is too close to say of Fjeldrun Skerry."
    assert found(evidence, one).startswith("In the same place Cupola gives")


def test_an_earlier_firmware_is_named_with_what_the_tests_say_of_the_current_one(evidence):
    # data/demo: with 6.0.4 Rondel 6 and Lantern could not be told apart, with 6.1.0 the page of the pair has 45 Mbit/s.
    earlier = found(evidence, UNDER + "(= verdict polmerre-rondel-6@6.0.4 quillmast-lantern =)")
    assert "Rondel 6 had firmware 6.0.4. With 6.1.0: in the same place Rondel 6 gives 45 Mbit/s more" in earlier
    assert "firmware" not in found(evidence, UNDER + "(= verdict polmerre-rondel-6 quillmast-lantern =)")
    ahead = found(evidence, UNDER + "(= verdict tessarik-cupola polmerre-rondel-6@6.0.4 =)")
    assert "Rondel 6 had firmware 6.0.4. With 6.1.0: these tests cannot tell" in ahead


def test_a_finding_is_of_the_devices_that_its_article_is_about(evidence):
    text = "(= coped tessarik-cupola, workload full-house =) (= coped tessarik-plinth, workload full-house =)"
    article = bound_to(evidence, text, devices=("tessarik-cupola", "fjeldrun-skerry"))
    assert finding(evidence, [article]) == (
        "In “A full house on a rainy evening” Tessarik Cupola coped with every role; it is too close to say of Fjeldrun Skerry."
    )


def test_words_alone_find_nothing_and_what_is_wrong_is_passed_over(evidence):
    assert found(evidence, "A fine device.") == ""
    wrong = bound_to(evidence, "(= claim polmerre-rondel-4 leads tessarik-cupola =)")
    assert wrong.problems
    assert finding(evidence, [wrong]) == ""


def test_the_latest_month_that_found_anything_is_told(demo, evidence):
    articles = compose(look_up, demo)
    assert latest_finding(evidence, articles) == (
        "Latest, March 2026: in “A full house on a rainy evening” Tessarik Cupola coped with every role; "
        "Hollendry Bobbin Home did not; it is too close to say of Tessarik Plinth, Veltrisk Tarn and Fjeldrun Skerry."
    )
    until = [one for one in articles if one.article.published_utc < "2025-12"]
    assert latest_finding(evidence, until).startswith(
        "Latest, July 2025: At S6 Cupola gives 368 Mbit/s less with one link"
    )
    assert latest_finding(evidence, []) == ""
