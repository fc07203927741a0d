"""Numbers that somebody typed are listed with the binding that would replace them."""

import pytest

from builder.articles.typed_numbers import typed_numbers
from tests.builder.articles.conftest import bound_to
from tests.builder.articles.evening import A as EVENING_A
from tests.builder.articles.evening import B as EVENING_B
from tests.builder.articles.evening import C as EVENING_C

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
        "first/articles/r.md line 3: “123 Mbit/s” is typed, and no throughput, difference, reach, share, waiting time, price, rise "
        "or power of the article's devices reads so. It will not follow a correction."
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
        ("12 stalls, and 1 stall more; they stalled", ["12 stalls", "1 stall"]),
        ("It broke off after 41 min, then gave up after about 6:20", ["41 min", "6:20"]),
        ("A film of 41 min that ended after 41 min; it collapsed after 3 days", []),
    ],
)
def test_what_counts_as_typed(text, found):
    assert [number.text for number in typed_numbers(text)] == found


def test_numbers_of_runs_with_several_clients_are_proposed_their_bindings(messy):
    text = """In time were 97.0 %, once 99 %, in all 98 %, within 100 ms.

Half of them took 20 ms, 95 of 100 took 150 ms. There was 1 stall. It broke off after 6:20, that is it gave up after 6 min.
"""
    bound = bound_to(messy, text, devices=(EVENING_A, EVENING_B, EVENING_C))
    expected = [
        f"(= share {EVENING_A}, workload evening, role call, on 2025-05-12 =).",
        f"(= share {EVENING_A}, workload evening, role call, on 2025-05-20 =).",
        f"(= share {EVENING_A}, workload evening, role call, runs all =).",
        f"(= share {EVENING_A}, workload evening, role call, on 2025-05-12 =), "
        f"(= share {EVENING_A}, workload evening, role call, on 2025-05-20 =) or "
        f"(= share {EVENING_B}, workload evening, role call, client lap-2 =) (and 2 more).",
        f"(= waits {EVENING_A}, workload evening, role call, on 2025-05-12, at 50 =)",
        f"(= waits {EVENING_B}, workload evening, role call, client lap-2, at 95 =)",
        f"(= stalls {EVENING_B}, workload evening, role film =).",
        f"(= brokeoff {EVENING_C}, workload evening =).",
        f"(= brokeoff {EVENING_C}, workload evening =).",
    ]
    for warning, binding in zip(bound.warnings, expected, strict=True):
        assert binding in warning.sentence
    proposed = [w.sentence.split("would be ")[1].split(" =)")[0] + " =)" for w in bound.warnings]
    assert len(bound_to(messy, "\n\n".join(proposed)).bound) == len(proposed)
