"""A preview in a real browser: an edit is shown by itself, what is wrong stands at its place, and the reader stays there."""

import pytest

from tests.browser.watching import complaints, patient
from tests.builder.desk.previewed import CAIRN, REVIEW, SECOND_BEFORE, TEXT, WRONG, batch_with_article
from tests.builder.desk.served import served

LONG = "\n\n".join(f"Paragraph {number} of a walk through the house." for number in range(80))
FIELD = """const field = document.createElement("input"); field.id = "typed";
document.querySelector("main").prepend(field); field.focus({preventScroll: true}); return true;"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return batch_with_article(tmp_path_factory.mktemp("walk"), text=f"{TEXT}\n{LONG}\n")


@pytest.fixture(scope="module")
def preview(small_file, place):
    with served(small_file, place, as_of=SECOND_BEFORE) as running:
        yield running


def until(browser, script, *about):
    return patient(browser).until(lambda driver: driver.execute_script(script, *about))


def says(browser, text):
    return until(
        browser, "return document.readyState === 'complete' && document.body.innerText.includes(arguments[0])", text
    )


def test_an_edit_is_shown_by_itself_where_the_reader_is(browser, preview, place):
    article = place / "articles" / "cairn.md"
    browser.get(preview.address(REVIEW))
    browser.execute_script(
        "document.querySelector('details').open = true; scrollTo({top: 1500, behavior: 'instant'}); window.old = true"
    )
    browser.execute_script("document.querySelector('.provenance a').focus({preventScroll: true})")
    named = browser.execute_script("return document.activeElement.textContent")
    article.write_text(f"{TEXT}\n{LONG}\n\nHeard in the cellar.\n")
    says(browser, "Heard in the cellar.")
    until(browser, "return !window.old && scrollY === 1500")
    assert browser.execute_script("return document.querySelector('details').open")
    assert browser.execute_script("return document.activeElement.textContent") == named
    # While somebody types nothing moves; then it is shown.
    browser.execute_script(FIELD)
    article.write_text(f"{TEXT}\n{LONG}\n\nHeard in the attic.\n")
    says(browser, "It is shown anew when you leave the field.")
    assert browser.execute_script("return document.activeElement.id") == "typed"
    browser.execute_script("document.activeElement.blur()")
    says(browser, "Heard in the attic.")
    assert complaints(browser) == []  # nor does the page's policy complain


def test_a_wrong_claim_is_named_at_its_place(browser, preview, place):
    article = place / "articles" / "cairn.md"
    browser.get(preview.address(REVIEW))
    article.write_text(WRONG)
    says(browser, "cairn/articles/cairn.md line 1:")
    place_in_text = "return document.querySelector('.review-text p .wrong')?.textContent ?? ''"
    assert "leads tessarik-cairn" in browser.execute_script(place_in_text)
    browser.execute_script("document.querySelector('.desk-panel a').click()")
    assert browser.current_url.endswith("#wrong-in-line-1")
    until(
        browser,
        "const { top } = document.querySelector('#wrong-in-line-1').getBoundingClientRect(); return 0 < top && top < innerHeight",
    )
    article.write_text(TEXT)
    until(browser, "return document.readyState === 'complete' && !document.querySelector('.desk-panel')")


def test_a_hidden_device_is_marked(browser, preview):
    browser.get(preview.address(CAIRN))
    banner = browser.execute_script("return document.querySelector('.hidden-banner').textContent")
    assert "Tessarik Cairn (hidden until 10 September 2025, 13:00 UTC)" in banner
    assert complaints(browser) == []
