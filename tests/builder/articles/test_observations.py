"""Prices, surfaces, power and features in articles. Numbers from the worked examples of the job analysis (E18–E22)."""

from datetime import UTC, datetime

import pytest

from catalog.connection import open_catalog
from catalog.entering import enter_batch
from tests.batches import EMBARGO, batch_at, batch_toml, device
from tests.builder.articles.conftest import NOW, bound_to, evidence_at, sentences, texts

A, B = "tessarik-cupola", "wrenlet-gable"
HEAT = f"""device,face,material,reading_c,ambient_c,load,minutes,mount
{A},top,plastic,48.5,23.5,full,60,ceiling
{B},top,plastic,51.0,27.0,full,60,ceiling
{A},side,plastic,40.0,,full,60,ceiling
{B},base,metal,61.0,23.0,full,60,ceiling
{A},base,metal,51.0,23.0,full,60,ceiling
"""
POWER = f"device,state,watts,side,cable_m\n{A},all radios busy,19.5,supply,3\n{A},idle,8.25,device,\n"
PRICES = f"""device,date,amount,currency,region,tax_included,condition,licence_per_year
{A},2026-05-02,199,EUR,DE,yes,new,39
{A},2025-05-02,219.50,EUR,DE,yes,new,39
{B},2026-05-02,279,EUR,DE,yes,new,0
"""
FEATURES = f"""device,feature,step,firmware,date,licence,method,evidence
{A},guest network,promised,1.2,2026-01-01,,,box
{A},guest network,works,1.2,2026-02-01,none,joined as a guest,note 1
{A},site map,works,1.2,2026-02-01,Sight,drawn,note 2
{A},mesh,promised,1.2,2026-01-01,,,box
"""


def entered(tmp_path, *, embargo=None, **tables):
    port = {"name": "LAN", "speed_mbit_s": 1000, "power": "in", "power_class": 3}
    usual = {"port": [port], "firmware": [{"version": "1.2"}]}
    hidden = {"embargo": embargo} if embargo else {}
    text = batch_toml("seen", device=[device(A, **usual, **hidden), device(B, **usual)])
    tables = {"heat": HEAT, "power": POWER, "prices": PRICES, "features": FEATURES} | tables
    place = batch_at(tmp_path / "seen", text, {f"{name}.csv": table for name, table in tables.items()})
    enter_batch(place, into=tmp_path / "seen.db", now=NOW)
    return tmp_path / "seen.db"


@pytest.fixture
def seen(tmp_path):
    """seen(text, ...): an article bound to the observations above."""
    evidence = evidence_at(entered(tmp_path))
    return lambda text, **others: bound_to(evidence, text, **others)


def test_each_kind_says_what_must_stand_beside_it(seen):
    text = f"""(= price {A} =) (= heat {A}, face top =) (= power {A}, side supply =) (= power {A}, state idle =)
(= feature {A}, name guest network =) (= feature {A}, name "Site Map" =) (= feature {A}, name mesh =)"""
    bound = seen(text)
    # E22: 199 a price with its day. E19: 48.5 at 23.5 is a rise of 25.0 K. E20: 19.5 W at the supply needs class 4.
    assert texts(bound) == [
        "199 EUR with tax (2 May 2026)",
        "25.0 K above the room (each reading ± 2 K), full, after 60 min",
        "19.5 W at the supply, class 4",
        "8.25 W at the device, class 3",
        "works",
        "works, with the licence Sight",
        "promised",
    ]
    assert "more than class 3 allows there" in bound.bound[2].quote.what
    assert bound.warnings == ()


def test_an_old_price_is_said_to_the_reader_and_to_the_author(seen):
    # From 2 May 2025 to 1 June 2026 it is 395 days, by the calendar.
    bound = seen(f"(= price {A}, on 2025-05-02 =)")
    assert texts(bound) == ["219.50 EUR with tax (2 May 2025)"]
    assert bound.bound[0].quote.what == "price from May 2025"
    (warning,) = map(str, bound.warnings)
    assert warning.startswith("first/articles/r.md line 1: ")
    assert "prints a price from May 2025: look again" in warning


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (f"heat {A}", "more than one surface temperature of Tessarik Cupola"),
        (f"heat {A}, face side", "the room's temperature was not read"),
        (f"heat {A}, face lid", "There is no such surface temperature of Tessarik Cupola."),
        (f"power {A}", "more than one power reading"),
        (f"power {B}", "There is no such power reading of Wrenlet Gable."),
        (f"price {A}, on 2020-01-01", "no price with a date is known"),
        (f"price {A}, region US", "no price with a date is known"),
        (f"feature {A}, name bridging", "does not mean it is missing"),
        (f"feature {A}", "feature needs name."),
        (f"price {A}, band 5", "price knows no 'band'"),
        ("price tessarik-nothing", "Whatever is unknown, hidden or withdrawn"),
        (f"claim {A} hotter {B}, face top : warm", "not told apart"),
        (f"claim {A} hotter {B}, face base : warm", "is not so: Gable rises 10.0 K more"),
        (f"claim {A} cheaper {B}, years 3 : cheap", "is not so: Gable costs less"),
        (f"claim {A} cheaper {B} : cheap", "needs years"),
    ],
)
def test_refused_with_file_line_and_reason(seen, typed, sentence):
    (problem,) = sentences(seen(f"Something.\n\n(= {typed} =)"))
    assert problem.startswith("first/articles/r.md line 3: (= ")
    assert sentence in problem


def test_claims_of_heat_and_cost(seen):
    # E19: 25.0 K and 24.0 K are not separated; 38.0 K against 28.0 K are 10.0 K apart.
    assert texts(seen(f"(= claim {B} hotter {A}, face base =)")) == [
        "Gable rises 10.0 K more above the room than Cupola."
    ]
    # E22: 199 + 39 × 3 = 316 against 279 once; even at 2.05 years, so over 2 years the licences are still the cheaper.
    assert "316 EUR over 3 years" in texts(seen(f"(= claim {B} cheaper {A}, years 3 =)"))[0]
    assert texts(seen(f"(= claim {A} cheaper {B}, years 2 : It costs less at first =)")) == ["It costs less at first"]


def test_a_claim_of_cost_on_an_undated_price_fails(tmp_path):
    only_a = "\n".join(line for line in PRICES.splitlines() if not line.startswith(B)) + "\n"
    evidence = evidence_at(entered(tmp_path, prices=only_a))
    (problem,) = sentences(bound_to(evidence, f"(= claim {A} cheaper {B}, years 3 : cheap =)"))
    assert "Gable: no price with a date is known, so nothing is said of value for money." in problem


def test_typed_numbers_of_these_kinds_are_listed_with_their_binding(seen):
    warnings = [
        str(warning)
        for warning in seen(
            "It costs 199 €,\nor €199, once 219,50 EUR;\nthe top is 25 K above the room, at 48.5 °C;\nit draws 19.5 W, "
            "not 21 W,\nand $99 is nobody's price.",
            devices=(A,),
        ).warnings
    ]
    assert [warning.split("line ")[1][:1] for warning in warnings] == list("12233445")
    heat = f"(= heat {A}, face top, load full, minutes 60, mount ceiling =)"
    expected = [f"(= price {A}, region DE, condition new =)"] * 2 + [
        f"(= price {A}, region DE, condition new, on 2025-05-02 =)",
        heat,
        heat,
        f"(= power {A}, state all radios busy, side supply =)",
        "reads so",
        "reads so",
    ]
    for warning, binding in zip(warnings, expected, strict=True):
        assert binding in warning


def test_a_proposed_binding_reads_back(seen):
    for typed in ("199 EUR", "25.0 K", "19.5 W"):
        proposed = str(seen(typed, devices=(A,)).warnings[0]).split("it would be ", 1)[1].rstrip(".")
        assert texts(seen(proposed))[0].startswith(typed)


def test_hidden_and_withdrawn_observations_cannot_be_quoted(tmp_path):
    path = entered(tmp_path)
    db = open_catalog(path, readonly=False)
    db.close()
    table = f"what,id,from,reason\ndevice,{A},2026-05-01,wrong box\n"
    place = batch_at(tmp_path / "taken-back", batch_toml("taken-back"), {"withdrawals.csv": table})
    enter_batch(place, into=path, now=NOW)
    kinds = (f"price {A}", f"heat {A}, face top", f"power {A}, state idle", f"feature {A}, name mesh")
    for typed in kinds:
        (problem,) = sentences(bound_to(evidence_at(path), f"(= {typed} =)"))
        assert "was withdrawn on 1 May 2026: wrong box" in problem


def test_hidden_until_the_instant(tmp_path):
    path = entered(tmp_path, embargo=EMBARGO | {"until": "2026-06-10T09:00"})
    # 09:00 in New York in June is 13:00 UTC.
    before, at = datetime(2026, 6, 10, 12, 59, 59, tzinfo=UTC), datetime(2026, 6, 10, 13, tzinfo=UTC)
    for typed in (f"price {A}", f"heat {A}, face top", f"power {A}, state idle", f"feature {A}, name mesh"):
        (problem,) = sentences(bound_to(evidence_at(path, before), f"\n(= {typed} =)"))
        assert problem.startswith("first/articles/r.md line 2: ")
        assert "Whatever is unknown, hidden or withdrawn" in problem
        assert sentences(bound_to(evidence_at(path, at), f"(= {typed} =)")) == []


def test_a_frozen_price_keeps_its_value(seen):
    frozen = f'(= price {A}, frozen "219.50 EUR with tax (2 May 2025)" 2025-06-01 =)'
    assert texts(seen(frozen)) == [
        "219.50 EUR with tax (2 May 2025) (as published 1 June 2025; the catalogue now says 199 EUR with tax (2 May 2026))"
    ]
