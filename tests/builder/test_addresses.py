"""Names of files: never too long for a disk, never one name for two things, also where a disk knows no capitals."""

from __future__ import annotations

import string

from hypothesis import given
from hypothesis import strategies as st

from builder import addresses
from builder.bench.cells import Group
from catalog.figure_names import joined_id

MOST_BYTES = 200  # of one name; common file systems take 255, and some tools add to it
SLUGS = st.text(string.ascii_letters + string.digits + "._-", min_size=1, max_size=100)
TEXTS = st.one_of(SLUGS, st.text(min_size=1, max_size=400), st.text("_é測", min_size=60, max_size=120))


def group(series: str, security: str | None) -> Group:
    return Group(series, "5", 80, "down", "tcp", 8, security, 1)


def every_address(text: str, other: str) -> dict[str, str]:
    """Addresses that are made of one text, and of two."""
    key = "~".join(["lines", *(joined_id(text, other, text) for _ in range(4)), group(other, text).slug])
    return {
        "device": addresses.device(text),
        "dated": addresses.as_published(text, "2025-09-07T12:59:59Z"),
        "pair": addresses.pair(text, other),
        "ranking": addresses.ranking(group(text, other)),
        "security": addresses.ranking(group("wrenlet-u2", text)),
        "workload": addresses.workload(text),
        "workload version": addresses.workload_version(text, 1),
        "role": addresses.role(other, text, 2, 3),
        "recipe": addresses.recipe(text),
        "further recipe": addresses.recipe(text, 12),
        "former recipe": addresses.former_recipe(text, other),
        "client": addresses.client(text),
        "house": addresses.house(text),
        "review": addresses.review(text),
        "preview": addresses.preview_image(text),
        "figure": addresses.specification(key),
        "picture": addresses.chart_picture(key),
        "still": addresses.still(key, "wide.png"),
        "data": addresses.script_data(f"rows/rankings/{key}/{joined_id('prices', text)}"),
        "leaf": addresses.leaf(addresses.device(text), joined_id("table", text), 12),
    }


@given(TEXTS, TEXTS)
def test_no_entered_text_makes_a_name_too_long_for_a_disk(text, other):
    for kind, address in every_address(text, other).items():
        for name in address.split("/"):
            assert len(name.encode()) <= MOST_BYTES, kind
            assert name not in ("", ".."), kind


@given(TEXTS, TEXTS, TEXTS)
def test_two_texts_never_make_one_file_not_even_without_capitals(one, two, other):
    # Texts that differ by case only are refused or asked about at entry (`reserved-id`, `twin-id`).
    if one.casefold() == two.casefold() or joined_id(one).lower() == joined_id(two).lower():
        return
    first, second = every_address(one, other), every_address(two, other)
    for kind, address in first.items():
        if kind == "pair" and {one, other} == {two, other}:
            continue
        assert address.lower() != second[kind].lower(), kind


def test_a_name_that_fits_stays_as_it_was():
    # Links that last: names of up to 150 letters are those of every build before.
    assert addresses.device("tessarik-shale-2") == "devices/tessarik-shale-2/index.html"
    assert addresses.device("a" * 100) == f"devices/{'a' * 100}/index.html"
    assert addresses.pair("b_1", "a") == "pairs/a--b_5f_1/index.html"
    assert addresses.part("a" * 150) == "a" * 150


def test_a_name_that_does_not_fit_ends_in_a_hash_of_all_of_it():
    # Source: SHA-256 of 151 letters a, by sha256sum: its first 16 hexadecimal digits.
    name = addresses.part("a" * 151)
    assert name == f"{'a' * 133}~5416d58d0995ead4"
    assert len(name) == addresses.LONGEST
    assert addresses.part(name) == name
