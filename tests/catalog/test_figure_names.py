"""Ids of figures: whatever a thing is called comes back from them, and whatever is typed is read without a failure."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.figure_names import joined_id, parts_of
from catalog.visibility.hiding import tells

NAMES = st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=1)


@given(NAMES)
def test_names_come_back_from_an_id_as_they_were(names):
    assert parts_of(joined_id(*names)) == names


@given(NAMES)
def test_an_id_holds_only_what_an_address_may_hold(names):
    # Source: RFC 3986 section 2.3, unreserved characters.
    assert set(joined_id(*names)) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~")


# Source: The Unicode Standard, section 3.9 (D76): scalar values end at 10FFFF and leave out D800 to DFFF.
@pytest.mark.parametrize("text", ["_110000_", "_ffffffff_", "_d800_", "_dfff_", "_" + "f" * 5000 + "_", "__", "_g_"])
def test_what_is_the_escape_of_no_character_stays_as_typed(text):
    assert parts_of(f"cell~{text}~a") == ["cell", text, "a"]
    assert not tells(f"cell~{text}~a", "b")
    assert tells(f"cell~{text}~a", "a")


@given(st.text("_0123456789abcdef~", max_size=40))
def test_any_text_has_parts(text):
    assert len(parts_of(text)) == text.count("~") + 1
