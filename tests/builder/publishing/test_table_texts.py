"""Long tables as text: what is written fast is what the library writes."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.publishing.files.table_texts import csv_texts, json_text

TEXTS = st.text(max_size=8) | st.sampled_from(
    ("},\n   {", '"a": {"b": 1}', '\\": {x}', "\\", '"', "ß", "\u2028", "a: {b}")
)
PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXTS
NESTED = st.dictionaries(st.sampled_from(("finished", "did not finish", "client fault")), st.integers())
ROW = st.dictionaries(st.sampled_from("abcd"), PLAIN | NESTED, min_size=1)


@given(
    st.dictionaries(st.sampled_from(("as_of", "licence")), st.none() | TEXTS, min_size=1), st.lists(ROW, max_size=12)
)
def test_json_is_that_of_the_library(head, rows):
    # Source: the standard library's own encoder with line breaks, byte by byte.
    wanted = json.dumps({**head, "rows": rows}, ensure_ascii=False, allow_nan=False, indent=1)
    assert b"".join(json_text(head, rows)).decode("utf-8", "surrogatepass") == wanted


def test_json_in_portions_is_the_same(monkeypatch):
    monkeypatch.setattr("builder.publishing.files.table_texts._AT_ONCE", 2)
    rows = [{"a": number, "b": {"finished": number}} for number in range(7)]
    parts = list(json_text({"as_of": "2026"}, rows))
    assert len(parts) == 5
    assert b"".join(parts).decode() == json.dumps({"as_of": "2026", "rows": rows}, indent=1)


def test_what_is_no_number_is_no_json():
    with pytest.raises(ValueError, match="JSON"):
        b"".join(json_text({}, [{"a": float("nan")}]))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("=1+1", "'=1+1"),
        ("+49", "'+49"),
        ("-x", "'-x"),
        ("@a", "'@a"),
        (-54.0, "-54"),
        (-54.5, "-54.5"),
        ("S1", "S1"),
        (None, ""),
        (True, "yes"),
        (1e20, "1e+20"),
        (0.1, "0.1"),
        (7, "7"),
    ],
)
def test_text_is_neutralised_and_numbers_are_not(value, text):
    # Source: OWASP, "CSV Injection" (from memory): cells beginning with = + - @ tab or carriage return.
    plain, semicolon = csv_texts({"what": [value, None], "note": ["a", "b"]})
    assert plain.decode() == f"what,note\r\n{text},a\r\n,b\r\n"
    assert semicolon.decode() == f"what;note\r\n{text.replace('.', ',')};a\r\n;b\r\n"


def test_a_column_of_many_kinds_keeps_each():
    # By hand: 1, 1.0 and true are equal to a program, and three things to a reader.
    plain, _ = csv_texts({"what": [1, 1.5, True, "1.5", None, -0.0]})
    assert plain.decode().split("\r\n")[1:-1] == ["1", "1.5", "yes", "1.5", '""', "-0"]
    plain, _ = csv_texts({"what": [None, 0.0, -0.0]})
    assert plain.decode().split("\r\n")[1:-1] == ['""', "0", "-0"]
