"""The claim that one device copes better: carried, or refused in words with the numbers."""

import pytest

from tests.builder.articles.conftest import bound_to, evidence_at, sentences, texts
from tests.builder.articles.evening import DAYS, A, B, C, Evening, calls, usual

CLAIM = f"claim {A} copes better {B}, workload evening, role call"
BROKEN = {"outcome": "did not finish", "ended_at_s": 380, "ended_by": "power cycle"}


@pytest.fixture
def evidence(tmp_path):
    """evidence(bench): what articles may quote of it."""
    return lambda bench: evidence_at(bench.entered(tmp_path))


def refused(evidence, typed=CLAIM):
    (problem,) = sentences(bound_to(evidence, f"(= {typed} =)"))
    return problem.split("=) ", 1)[1]


def test_shares_that_are_separated_carry_it(evidence):
    # 3 of 300 late are 99 %, 60 of 300 are 80 %: 19 points apart, where one run each tells 8 apart.
    bench = evidence(usual("b-1", B, 60, bench=usual("a-1", A, 3)))
    bound = bound_to(bench, f"(= {CLAIM} : It holds calls =) (= {CLAIM} =)")
    words, lead = texts(bound)
    assert words == "It holds calls"
    assert lead.startswith("Call came in time more often on Cupola: 99.0 against 80.0 % (95 %: ")
    assert lead.endswith(" points more).")
    quote = bound.bound[0].quote
    assert quote.runs == 2
    assert quote.devices == (A, B)
    assert quote.figures == ("role~a-1~lap-2~call", "role~b-1~lap-2~call")
    assert quote.mark == ""
    assert lead in quote.what


def test_the_other_way_round_is_not_so(evidence):
    bench = evidence(usual("b-1", B, 60, bench=usual("a-1", A, 3)))
    sentence = refused(bench, f"claim {B} copes better {A}, workload evening, role call : It does")
    assert sentence.startswith(
        "That Gable copes better with call than Cupola is not so. Call came in time more often on Cupola"
    )
    assert "99.0 against 80.0 %" in sentence


def test_shares_that_are_not_separated_carry_nothing(evidence):
    # 99 against 96 %: less than the 8 points that two devices with one run each have to differ by.
    sentence = refused(evidence(usual("b-1", B, 12, bench=usual("a-1", A, 3))))
    assert sentence.startswith(
        "That Cupola copes better with call than Gable is not carried by the tests. These runs cannot tell Cupola and Gable "
        "apart: 99.0 against 96.0 %"
    )
    assert "(95 %: 6 points less to 12 more)." in sentence


def test_machines_in_unlike_places_carry_nothing(evidence):
    sentence = refused(evidence(usual("b-1", B, 60, bench=usual("a-1", A, 3), losses={"lap-2": 75})))
    assert sentence == (
        "That Cupola copes better with call than Gable is not carried by the tests. Not compared: Lap 2 stood at 60 dB on "
        "Cupola and at 75 dB on Gable."
    )


def test_one_replaced_machine_leaves_the_others_compared(evidence):
    bench = usual("a-1", A, 3)
    bench.run("b-1", B, [("film", "lap-1", [6] * 300), ("call", "lap-2", calls(60)), ("pages", "lap-4", [200] * 40)])
    at = evidence(bench)
    bound = bound_to(at, f"(= {CLAIM} : It holds calls =)")
    assert texts(bound) == ["It holds calls"]
    assert bound.bound[0].quote.printed == "It holds calls (with Lap 4 in the place of Lap 3)"
    odd = refused(at, f"claim {A} copes better {B}, workload evening, role pages : It does")
    assert "Not compared: with Lap 4 in the place of Lap 3" in odd


def test_too_few_requests_carry_nothing(evidence):
    bench = Evening()
    for mix, device in (("a-1", A), ("b-1", B)):
        bench.run(mix, device, [("pages", "lap-3", [200] * 12)], pages=12)
    sentence = refused(evidence(bench), f"claim {A} copes better {B}, workload evening, role pages : It does")
    assert "Not compared: 12 requests on Cupola; at least 20 are needed." in sentence


def test_a_summary_without_a_log_carries_nothing(evidence):
    bench = usual("a-1", A, 3)
    bench.run("b-1", B, [("film", "lap-1", [6] * 300), ("call", "lap-2", 300), ("pages", "lap-3", [200] * 40)])
    assert "Not compared: no log of Gable holds requests; at least 20 are needed." in refused(evidence(bench))


def test_a_device_that_broke_off_copes_worse_than_one_that_did_not(evidence):
    bench = usual("a-1", A, 3)
    cut = [("film", "lap-1", [6] * 190), ("call", "lap-2", [5] * 190), ("pages", "lap-3", [200] * 25)]
    bench.run("b-1", B, cut, **BROKEN)
    at = evidence(bench)
    assert texts(bound_to(at, f"(= {CLAIM} =)")) == [
        "Cupola finished its only run; Gable broke off after 6:20 of 10:00 (power cycle)."
    ]
    assert "is not so: Gable broke off after 6:20 of 10:00 (power cycle); Cupola finished its only run." in refused(
        at, f"claim {B} copes better {A}, workload evening, role call : It does"
    )


def test_two_devices_that_broke_off_carry_nothing(evidence):
    bench = Evening()
    for mix, device, planned in (("a-1", A, 190), ("b-1", B, 180)):
        bench.run(mix, device, [("call", "lap-2", [5 + planned / 100] * planned)], **BROKEN)
    assert "is not carried by the tests, for both broke off: Cupola broke off after 6:20" in refused(evidence(bench))


def test_of_two_clients_with_one_role_one_must_be_named(evidence):
    bench = Evening()
    for mix, device, late in (("a-1", A, 3), ("b-1", B, 60)):
        bench.run(mix, device, [("call", "lap-2", calls(late)), ("call", "lap-3", calls(0))])
    at = evidence(bench)
    assert "More than one client played call, so one must be named: client lap-2; client lap-3." in refused(at)
    assert texts(bound_to(at, f"(= {CLAIM}, client lap-2 : better =)")) == ["better"]
    assert "cannot tell Cupola and Gable apart" in refused(at, f"{CLAIM}, client lap-3 : better")
    assert "'lap-9' did not play call; lap-2 and lap-3 did." in refused(at, f"{CLAIM}, client lap-9 : better")


def test_it_must_hold_in_every_arrangement_both_did(evidence):
    # In the second arrangement, with lap-2 farther away, they cannot be told apart.
    bench = usual("b-1", B, 60, bench=usual("a-1", A, 3))
    far = {"losses": {"lap-2": 80}, "day": DAYS[1]}
    usual("b-2", B, 12, bench=usual("a-2", A, 9, bench=bench, **far), **far)
    assert "cannot tell Cupola and Gable apart" in refused(evidence(bench))


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (f"claim {A} copes better {B}, role call : x", "“claim A copes better B” needs workload."),
        (f"claim {A} copes better {B}, workload evening : x", "“claim A copes better B” needs role."),
        (f"claim {A} copes {B}, workload evening, role call : x", "A claim reads “claim A leads B”"),
        (f"claim {A} copes better {A}, workload evening, role call : x", "Both sides are the same unit"),
        (f"claim {A} copes better {C}, workload evening, role call : x", "There is no device 'fjeldrun-alcove'"),
        (f"claim {A} copes better {B}, workload evening, role game : x", "evening has no role 'game'; it has "),
    ],
)
def test_refused_with_the_reason(evidence, typed, sentence):
    assert sentence in refused(evidence(usual("b-1", B, 60, bench=usual("a-1", A, 3))), typed)


def test_a_run_that_a_client_ended_does_not_count(evidence):
    bench = usual("b-1", B, 0, bench=usual("a-1", A, 3), outcome="client fault", ended_at_s=100)
    assert "no run of Gable counts, for a client fault ended the run" in refused(evidence(bench))


def test_conditions_of_a_link_play_no_part(evidence):
    bench = evidence(usual("b-1", B, 60, bench=usual("a-1", A, 3)))
    assert texts(bound_to(bench, f"(= under client lap-9, band 6 =)\n\n(= {CLAIM} : better =)")) == ["better"]
