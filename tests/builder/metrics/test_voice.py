"""The E-model against values of ITU-T G.107 made by independent implementations."""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest

from builder.metrics.voice import (
    CODECS,
    Codec,
    call_quality,
    effective_impairment,
    known_codec,
    transmission_rating,
    voice_mos,
)

Published = Callable[[str], list[dict[str, str]]]

LAST_DECIMAL = 0.51e-6  # the tables print six; some terms move R by less than 1e-4


def test_default_rating_is_the_published_one() -> None:
    # Source: ITU-T G.107: R = 93.2 with all defaults.
    assert transmission_rating(0.0, 0.0, CODECS["G.711"]) == pytest.approx(93.2, abs=0.05)


def test_whole_chain_of_g_107(published: Published) -> None:
    # Source: ITU-T G.107 (06/2015), T = Ta and Tr = 2 Ta, 0 to 400 ms, four codecs; to the last printed decimal.
    rows = published("emodel_full")
    assert len(rows) >= 40
    for row in rows:
        assert float(row["burst_r"]) == 1.0
        codec = Codec(row["codec"], float(row["ie"]), float(row["bpl"]))
        r = transmission_rating(float(row["ta_ms"]), float(row["ppl_pct"]) / 100, codec)
        assert r == pytest.approx(float(row["expected_R"]), abs=LAST_DECIMAL), row
        assert voice_mos(r) == pytest.approx(float(row["expected_mos"]), abs=LAST_DECIMAL), row


def test_delay_of_the_default_class(published: Published) -> None:
    # Source: ITU-T G.107 (06/2015), delay-sensitivity class "default" (sT 1, mT 100 ms).
    rows = [row for row in published("emodel_delay_classes") if row["class"] == "default"]
    assert len(rows) == 5
    for row in rows:
        r = transmission_rating(float(row["ta_ms"]), 0.0, CODECS["G.711"])
        assert r == pytest.approx(float(row["expected_R"]), abs=LAST_DECIMAL)


def test_delay_against_the_simplified_form(published: Published) -> None:
    # Source: Cole & Rosenbluth 2001, straight lines; within 0.6 R of the whole model from 150 to 300 ms.
    rows = {float(row["one_way_ms"]): float(row["expected"]) for row in published("emodel_delay_simplified")}
    undelayed = transmission_rating(0.0, 0.0, CODECS["G.711"])
    for one_way_ms in (150.0, 200.0, 300.0):
        lost = undelayed - transmission_rating(one_way_ms, 0.0, CODECS["G.711"])
        assert lost == pytest.approx(rows[one_way_ms], abs=0.6)


def test_effective_impairment(published: Published) -> None:
    # Source: ITU-T G.107, Ie,eff; rows with bursts are outside what is measured here.
    rows = [row for row in published("emodel_ie_eff") if float(row["burst_r"]) == 1.0]
    assert len(rows) >= 8
    for row in rows:
        codec = Codec("", float(row["ie"]), float(row["bpl"]))
        assert effective_impairment(float(row["ppl_pct"]) / 100, codec) == pytest.approx(
            float(row["expected"]), abs=1e-6
        )


def test_codecs_are_the_verified_pairs() -> None:
    # Source: ITU-T G.113 Appendix I; (0, 25.1) and (10, 19.0) verified.
    assert {(c.name, c.ie, c.bpl) for c in CODECS.values()} == {("G.711", 0, 25.1), ("G.729", 10, 19.0)}


def test_opinion_score(published: Published) -> None:
    # Source: ITU-T G.107 Annex B, held at 1 where the cubic dips below 1 (R from 0 to 6.5).
    rows = published("emodel_mos")
    for row in rows:
        expected = max(1.0, float(row["expected"]))
        assert voice_mos(float(row["R"])) == pytest.approx(expected, abs=1e-6)
    assert any(float(row["expected"]) < 1 for row in rows)
    assert voice_mos(3.0) == 1.0


def test_opinion_score_never_falls_as_the_rating_rises() -> None:
    scores = [voice_mos(r) for r in np.linspace(-20, 120, 1401)]
    assert all(a <= b + 1e-12 for a, b in pairwise(scores))
    assert (min(scores), max(scores)) == (1.0, 4.5)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("G.711", "G.711"),
        ("g711", "G.711"),
        ("G.711 with concealment", "G.711"),
        ("g.729", "G.729"),
        ("G.711 without concealment", None),
        ("G.729A", None),
        ("", None),
    ],
)
def test_codec_names(text: str, name: str | None) -> None:
    assert known_codec(text) == (CODECS[name] if name else None)


def test_a_call_from_its_packets() -> None:
    # By hand: mean round trip 160 ms is 80 ms one way + 20 ms packet = 100 ms; 1 of 100 lost. Published row of
    # emodel_full.csv at 100 ms and 1 %, G.711 with concealment: R 87.024, MOS 4.259.
    call = call_quality(160.0, answered=99, planned=100, packet_ms=20, codec=CODECS["G.711"])
    assert call.one_way_ms == pytest.approx(100)
    assert call.loss == pytest.approx(0.01)
    assert call.r == pytest.approx(87.024, abs=5e-4)
    assert call.mos == pytest.approx(4.259, abs=5e-4)


def test_calls_without_a_rating() -> None:
    silent = call_quality(None, answered=0, planned=50, packet_ms=20, codec=CODECS["G.711"])
    assert (silent.one_way_ms, silent.loss, silent.r, silent.mos) == (None, 1.0, None, None)
    other = call_quality(160.0, answered=1, planned=2, packet_ms=20, codec=None)
    assert (other.one_way_ms, other.loss, other.r, other.mos) == (100.0, 0.5, None, None)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: transmission_rating(-1, 0, CODECS["G.711"]), "one_way_ms must be at least 0, got -1"),
        (lambda: effective_impairment(1.5, CODECS["G.711"]), r"loss must lie in 0\.\.1, got 1\.5"),
        (
            lambda: call_quality(1.5, answered=2, planned=1, packet_ms=20, codec=None),
            "planned is 1, but 2 packets were answered",
        ),
        (lambda: call_quality(None, answered=0, planned=0, packet_ms=20, codec=None), "planned is 0"),
        (
            lambda: call_quality(1.0, answered=1, planned=1, packet_ms=-1, codec=None),
            "packet_ms must be at least 0",
        ),
        (
            lambda: call_quality(None, answered=1, planned=1, packet_ms=20, codec=None),
            "1 packets were answered, but their mean is None",
        ),
    ],
)
def test_wrong_calls_are_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
