"""What pages tell programs: Schema.org JSON-LD that has what its readers ask for, and a description of its own on each."""

import json
import re
from dataclasses import replace
from datetime import date

import pytest

from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.parts.blocks import Page
from builder.pages.parts.heads import DESCRIPTION_LETTERS, description
from tests.builder.pages.conftest import with_changed

# Source: the vocabulary of schema.org (types Product, Brand, Review, Organization, Offer, Dataset, DataDownload and
# PropertyValue, with what they inherit of Thing, CreativeWork and MediaObject), from memory, as far as our pages use it.
KNOWN = {
    "Product": {"name", "brand", "model", "category", "alternateName", "url", "review", "offers"},
    "Brand": {"name"},
    "Review": {"name", "datePublished", "inLanguage", "author", "publisher", "url", "itemReviewed"},
    "Organization": {"name"},
    "Offer": {"price", "priceCurrency", "validFrom", "validThrough", "eligibleRegion"},
    "Dataset": {
        "name",
        "description",
        "license",
        "creator",
        "isAccessibleForFree",
        "keywords",
        "temporalCoverage",
        "variableMeasured",
        "distribution",
        "url",
    },
    "DataDownload": {"name", "description", "contentSize", "sha256", "encodingFormat", "contentUrl"},
    "PropertyValue": {"name", "unitText"},
}
# Source: what search engines document as required for a result of each type, from memory: a product has a name and at
# least one of review, offers and aggregateRating; a review an author and, on a page of its own, what it is about; an offer
# its price and currency; a dataset a name and a description of 50 to 5,000 characters; a download its address. A rating
# is asked for where a review is to show stars: there are none here, by design.
REQUIRED = {
    "Product": {"name"},
    "Review": {"author", "datePublished", "publisher"},
    "Organization": {"name"},
    "Brand": {"name"},
    "Offer": {"price", "priceCurrency", "validFrom"},
    "Dataset": {"name", "description", "license", "distribution", "temporalCoverage", "creator"},
    "DataDownload": {"contentUrl", "encodingFormat"},
    "PropertyValue": {"name"},
}


def structured(path):
    texts = re.findall(
        r'<script type="application/ld\+json">(.*?)</script>', path.read_text(encoding="utf-8"), re.DOTALL
    )
    return [json.loads(text) for text in texts]


def things(value):
    """Every thing with a type in a document, itself included."""
    if isinstance(value, list):
        for one in value:
            yield from things(one)
    elif isinstance(value, dict):
        if "@type" in value:
            yield value
        for one in value.values():
            yield from things(one)


@pytest.fixture(scope="module")
def documents(demo_site):
    return {
        path.relative_to(demo_site).as_posix(): document
        for path in sorted(demo_site.rglob("*.html"))
        for document in structured(path)
    }


def test_every_thing_has_what_its_type_asks_for_and_nothing_else(documents):
    kinds = set()
    for name, document in documents.items():
        assert document["@context"] == "https://schema.org", name
        for thing in things(document):
            kind = thing["@type"]
            kinds.add(kind)
            names = thing.keys() - {"@type", "@context"}
            assert REQUIRED[kind] <= names <= KNOWN[kind], (name, kind)
            assert all(thing[key] not in ("", [], None) for key in names), (name, kind)
    assert kinds == KNOWN.keys()


def test_a_product_has_reviews_or_offers_of_whole_days_and_amounts(documents, demo):
    products = {name: one for name, one in documents.items() if one["@type"] == "Product"}
    assert "devices/tessarik-cupola/index.html" in products
    for name, one in products.items():
        assert one.get("review") or one.get("offers"), name
        for review in one.get("review", ()):
            assert review["url"].removeprefix("https://example.org/bench/") in documents
            assert date.fromisoformat(review["datePublished"][:10])
        if offer := one.get("offers"):
            assert re.fullmatch(r"\d+\.\d\d", offer["price"])
            assert re.fullmatch("[A-Z]{3}", offer["priceCurrency"])  # ISO 4217
            assert date.fromisoformat(offer["validFrom"])
    cupola = products["devices/tessarik-cupola/index.html"]
    assert [review["name"] for review in cupola["review"]][:1] == [
        "Cupola: wide channels, and what is left of them behind walls"
    ]
    newest = max(demo.catalogue.prices["tessarik-cupola"], key=lambda price: price.date)
    assert (float(cupola["offers"]["price"]), cupola["offers"]["validFrom"]) == (newest.amount, newest.date)


def test_a_device_with_neither_is_no_product(demo):
    bare = with_changed(demo, articles=[], prices={})
    assert compose(device_page, bare, "tessarik-cupola").about is None
    reviewed = compose(device_page, with_changed(demo, prices={}), "tessarik-cupola").about
    assert "offers" not in reviewed
    assert reviewed["review"]
    assert "review" not in compose(device_page, with_changed(demo, articles=[]), "tessarik-cupola").about


def test_a_review_says_what_it_is_about_and_gives_no_rating(documents):
    review = documents["reviews/cupola-review/index.html"]
    about = review["itemReviewed"]
    assert {one["@type"] for one in (about if isinstance(about, list) else [about])} == {"Product"}
    assert not [one for one in things(review) if "reviewRating" in one or "aggregateRating" in one]


def test_the_dataset_describes_itself(documents, demo_site, demo):
    dataset = documents["data/index.html"]
    assert 50 <= len(dataset["description"]) <= 5000
    assert f"{len(demo.catalogue.runs)} runs" in dataset["description"]
    first, last = map(date.fromisoformat, dataset["temporalCoverage"].split("/"))  # ISO 8601: an interval
    assert first < last
    assert dataset["license"].startswith("https://")
    for one in dataset["distribution"]:
        assert (demo_site / one["contentUrl"].removeprefix("https://example.org/bench/")).is_file()


def test_what_is_about_no_single_thing_says_nothing(documents):
    assert "index.html" not in documents
    assert not [name for name in documents if name.startswith(("pairs/", "rankings/"))]


def test_a_name_that_looks_like_markup_cannot_end_the_script(small_site):
    page = small_site / "devices" / "tessarik-a-b" / "index.html"
    (product,) = structured(page)
    assert product["name"] == "Tessarik A<b"
    assert "Tessarik A\\u003cb" in page.read_text(encoding="utf-8")


def test_every_page_has_a_short_description_of_its_own(demo_site):
    seen = {}
    for path in sorted(demo_site.rglob("index.html")):
        text = path.read_text(encoding="utf-8")
        if 'http-equiv="refresh"' in text:
            continue
        (said,) = re.findall(r'<meta name="description" content="([^"]*)">', text)
        assert 20 <= len(said.replace("&#39;", "'").replace("&amp;", "&").replace("&lt;", "<")) <= 160, path
        assert said not in seen, (path, seen[said])
        seen[said] = path
    assert len(seen) > 90


@pytest.mark.parametrize(
    ("title", "verdict", "said"),
    [
        ("Dome", "It is quick.", "Dome. It is quick."),
        ("Which?", "It is quick.", "Which? It is quick."),
        ("Dome", "Dome is quick.", "Dome is quick."),
        ("Dome", "word " * 60, "Dome." + " word" * 30 + " …"),
    ],
)
def test_a_description_names_the_page_and_is_cut_at_a_word(title, verdict, said):
    page = replace(Page(address="x", title="", question="", verdict=""), title=title, verdict=verdict)
    assert description(page) == said
    assert len(said) <= DESCRIPTION_LETTERS
