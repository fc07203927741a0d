"""Tables as text: parts joined are the whole, and what is written is what the libraries read back."""

import csv
import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.publishing.files.table_texts import csv_head, csv_rows, json_rows, json_text

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=8) | st.sampled_from(
    ("},\n   {", '"a": {"b": 1}', "\\", '"', "ß", "\u2028", "a: {b}", "=1", "1.5", ",", ";", "\r\n")
)
PLAIN = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXTS
NESTED = st.dictionaries(st.sampled_from(("finished", "did not finish", "client fault")), st.integers())
ROW = st.dictionaries(st.sampled_from("abcd"), PLAIN | NESTED, min_size=1)
HEADS = st.dictionaries(st.just("licence"), st.none() | TEXTS)


@given(HEADS, st.lists(st.lists(ROW, max_size=3), max_size=4))
def test_json_of_parts_is_read_as_the_whole(head, parts):
    document = b"".join(json_text(head, map(json_rows, parts)))
    assert json.loads(document) == {**head, "rows": [row for part in parts for row in part]}
    assert document == b"".join(json_text(head, [json_rows([row for part in parts for row in part])]))
    assert len(document.split(b"\n")) == 3 + sum(map(len, parts))  # a line each, for tools that compare lines


def test_what_is_no_number_is_no_json():
    with pytest.raises(ValueError, match="JSON"):
        json_rows([{"a": float("nan")}])


@given(
    st.lists(st.tuples(st.floats(allow_nan=False, allow_infinity=False) | st.integers(), TEXTS), max_size=6), st.data()
)
def test_csv_of_parts_is_that_of_the_whole(rows, data):
    cut = data.draw(st.integers(0, len(rows)))

    def texts(some):
        return csv_rows({"number": [number for number, _ in some], "text": [text for _, text in some]})

    wholes, firsts, seconds = texts(rows), texts(rows[:cut]), texts(rows[cut:])
    for head, whole, first, second in zip(csv_head(("number", "text")), wholes, firsts, seconds, strict=True):
        assert first + second == whole
        separator = head.decode().strip()[len("number")]
        read = list(csv.reader(io.StringIO(whole.decode(), newline=""), delimiter=separator))
        assert [float(number.replace(",", ".")) for number, _ in read] == [n for n, _ in rows]
        assert [text.removeprefix("'") for _, text in read] == [text.removeprefix("'") for _, text in rows]


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
        (1000001.0, "1000001"),
        (7, "7"),
    ],
)
def test_text_is_neutralised_and_numbers_are_not(value, text):
    # Source: OWASP, "CSV Injection" (from memory): cells beginning with = + - @ tab or carriage return.
    plain, semicolon = csv_rows({"what": [value, None], "note": ["a", "b"]})
    assert plain.decode() == f"{text},a\r\n,b\r\n"
    assert semicolon.decode() == f"{text.replace('.', ',')};a\r\n;b\r\n"


def test_a_column_of_many_kinds_keeps_each():
    # By hand: 1, 1.0 and true are equal to a program, and three things to a reader.
    plain, _ = csv_rows({"what": [1, 1.5, True, "1.5", None, -0.0]})
    assert plain.decode().split("\r\n")[:-1] == ["1", "1.5", "yes", "1.5", '""', "-0"]
    plain, _ = csv_rows({"what": [None, 0.0, -0.0]})
    assert plain.decode().split("\r\n")[:-1] == ['""', "0", "-0"]
