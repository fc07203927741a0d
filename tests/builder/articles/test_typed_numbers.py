"""Numbers that somebody typed are listed with the binding that would replace them."""

import pytest

from builder.articles.typed_numbers import typed_numbers

A, B = "quillmast-dome-20", "tessarik-shale-2"
GROUP = "client wrenlet-u2, band 5, width 80, direction down"


def test_each_typed_number_is_listed_with_its_binding(read):
    # By hand, story 1: the Dome has 475 over 60 to 75 dB; the difference is +34; nothing there is 123.
    bound = read(
        "01-partial-overlap",
        devices=(A, B),
        text="A\n475 Mbit/s, 34 Mbit/s more,\nnot 123 Mbit/s; reach at least 78 dB.",
    )
    window, difference, nothing, reach = map(str, bound.warnings)
    assert window.startswith("first/articles/r.md line 2: “475 Mbit/s” is typed.")
    assert f"(= value {A}, window middle, {GROUP} =)" in window
    assert f"(= difference {A} {B}, {GROUP} =)" in difference
    assert nothing == (
        "first/articles/r.md line 3: “123 Mbit/s” is typed, and no throughput, difference, reach, price, rise or power of "
        "the article's devices reads so. It will not follow a correction."
    )
    assert f"(= reach {A}, rate 100, {GROUP} =)" in reach
    assert bound.problems == ()


def test_the_proposed_binding_prints_what_was_typed(read):
    warning = str(read("01-partial-overlap", devices=(A,), text="475 Mbit/s").warnings[0])
    proposed = warning.split("it would be ", 1)[1].rstrip(".")
    (one,) = read("01-partial-overlap", text=proposed).bound
    assert one.quote.text.replace("\u00a0", " ") == "475 Mbit/s"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("812 Mbit/s", ["812 Mbit/s"]),
        ("812Mbit/s and 1,2 Gbit/s", ["812Mbit/s", "1,2 Gbit/s"]),
        (
            "−54 dBm at 70 dB, 3.5 ms, 61.5 °C, 12.95 W, 25 K, 4.3 %",
            ["−54 dBm", "70 dB", "3.5 ms", "61.5 °C", "12.95 W", "25 K", "4.3 %"],
        ),
        ("800 MB/s, 90 Mbps", ["800 MB/s", "90 Mbps"]),
        ("on 5 GHz with 80 MHz, 3 walls, Rondel 6, in 2024", []),
        ("`812 Mbit/s` and\n```\n812 Mbit/s\n```\n", []),
        ('(= value a, at 60, frozen "812 Mbit/s" 2024-01-01 =)', []),
        ("[here](https://example.org/812%20Mbit/s)", []),
        ("<!-- 812 Mbit/s -->", []),
        ("a 812\u00a0Mbit/s link", ["812 Mbit/s"]),
    ],
)
def test_what_counts_as_typed(text, found):
    assert [number.text for number in typed_numbers(text)] == found
