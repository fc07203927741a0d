"""Shares, waiting times, stalls and ends of runs with several clients in articles, on messy runs and on the demo."""

import pytest

from builder.pages.contents import compose, load_contents
from builder.pages.parts.looked_up import evidence_of
from catalog.visibility import public_copy
from tests.builder.articles.conftest import bound_to, evidence_at, sentences, texts
from tests.builder.articles.evening import EVENING, FILM_LOG, A, B, C, usual

W = "workload evening"


def said(evidence, typed):
    (text,) = texts(bound_to(evidence, f"(= {typed} =)"))
    return text


@pytest.mark.parametrize(
    ("typed", "text"),
    [
        # By hand: 291 of 300 are 97 %; 588 of 600 are 98 %.
        (f"share {A}, {W}, role call, on 2025-05-12", "97.0 % in time (291 of 300 within 100 ms)"),
        (f"share {A}, {W}, role call, mix a-2", "99.0 % in time (297 of 300 within 100 ms)"),
        (f"share {A}, {W}~1, role call, runs all", "98.0 % in time (588 of 600 within 100 ms, in 2 runs)"),
        (f"share {B}, {W}, role call, client lap-3", "100.0 % in time (300 of 300 within 100 ms)"),
        # 30 of 300 took 150 ms, so the 270th of them in order is the last that took 20.
        (f"waits {B}, {W}, role call, client lap-2, at 75 %", "20.0 ms (likely 20.0–20.0)"),
        (f"waits {B}, {W}, role call, client lap-2, at 95, of finished", "150 ms (likely 150–150)"),
        (f"stalls {B}, {W}, role film", "1 stall, 28.0 s in all"),
        (f"stalls {A}, {W}, role film, runs all", "no stall in 2 runs"),
        (f"brokeoff {A}, {W}", "finished both runs"),
        (f"brokeoff {C}, {W}", "broke off after 6:20 of 10:00 (power cycle)"),
        (f"coped {A}, {W}", "coped with every role in both runs"),
        (f"coped {B}, {W}", "did not cope with call (270 of 300 in time); pages was not tested"),
        (f"coped {C}, {W}", "broke off after 6:20 of 10:00 (power cycle)"),
    ],
)
def test_each_kind_says_what_was_measured(messy, typed, text):
    assert said(messy, typed) == text


def test_what_is_known_of_a_run_stands_beside_its_number(messy):
    bound = bound_to(messy, f"(= share {A}, {W}, role call, mix a-1 =) (= share {C}, {W}, role call =)")
    first, second = (one.quote for one in bound.bound)
    assert first.what == (
        "Met in this run: 97.0 % of 300 planned requests came within 100 ms; 95 % are asked for. Not shown: 291 of 300 in "
        "time; too few to tell from 95 %."
    )
    assert (first.group, first.dates, first.runs) == ("Lap 2 at 60 dB, 5 GHz; An evening, version 1", "12 May 2025", 1)
    assert first.whose == "Tessarik Cupola 1.0, unit A"
    # By hand: 190 of 300 planned requests were made before 6:20.
    assert second.printed.replace("\u00a0", " ") == (
        "63.3 % in time (190 of 300 within 100 ms; broke off after 6:20 of 10:00 (power cycle))"
    )


def test_until_the_collapse_is_said_with_these_words(messy):
    assert said(messy, f"waits {C}, {W}, role call, at 50, of made") == "5.0 ms until it broke off"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (
            f"share {A}, {W}, role call",
            "There is more than one run, so one must be named: on 2025-05-12; on 2025-05-20. “runs all” adds their requests.",
        ),
        (f"waits {A}, {W}, role call, at 50", "so one must be named: on 2025-05-12; on 2025-05-20."),
        (
            f"share {B}, {W}, role call",
            "More than one client played call, so one must be named: client lap-2; client lap-3.",
        ),
        (f"share {A}, {W}, role call, runs some", "runs is written “runs all”; one run is named by on or mix."),
        (
            f"share {A}, {W}, role call, on 2025-05-13",
            "Cupola has no such run of evening. Its runs are: on 2025-05-12, mix a-1; on 2025-05-20, mix a-2.",
        ),
        (f"share {A}, {W}, role call, client lap-3, mix a-1", "'lap-3' did not play call; lap-2 did."),
        (f"share {A}, {W}, role game, mix a-1", "evening has no role 'game'; it has call, film and pages."),
        (f"share {A}, workload morning, role call", "There is no workload 'morning'. There is evening."),
        (f"share {A}, {W}~7, role call", "evening has no version '7'; it has 1."),
        (f"share {A}, role call", "share needs workload."),
        (f"share {A}, {W}", "share needs role."),
        ("share nobodys-box, workload evening, role call", "There is no device 'nobodys-box'"),
        (f"share {B}, {W}, role pages", "Not tested: its log is missing."),
        (f"waits {B}, {W}, role pages, at 50", "Not tested: its log is missing."),
        (
            f"waits {A}, {W}, role pages, mix a-1, at 90",
            "pages: of 40 planned requests fewer than five lie beyond the 90th percentile, so it says little and is not "
            "claimed.",
        ),
        (f"waits {A}, {W}, role call, mix a-1", "waits needs at."),
        (f"waits {A}, {W}, role call, mix a-1, at 97", "'97' is not kept; at takes 50, 75, 90, 95 or 99."),
        (f"waits {A}, {W}, role call, mix a-1, at 50, of all", "of is planned, finished or made."),
        (f"waits {A}, {W}, role call, mix a-1, at 50, of made", "“of made” is for a run that broke off"),
        (
            f"waits {C}, {W}, role call, at 50, of finished",
            "the 50th percentile of the finished requests alone leaves out what came after it broke off.",
        ),
        (
            f"waits {C}, {W}, role call, at 90",
            "110 of 300 planned requests were never answered, so there is no time that 90 % of them kept to",
        ),
        (
            f"waits {C}, {W}, role call, at 99, of made",
            "Of 190 requests made until it broke off nothing can be said of 99 %.",
        ),
        (f"stalls {A}, {W}, role call, mix a-1", "call was not replayed: only a stream with a start_buffer_s is"),
        (f"share {A}, {W}, role call, band 5", "share knows no 'band'."),
        (f"share {A} {B}, {W}, role call", "share takes 1 device, and 2 are named."),
        (f"coped {A}, {W}, role call", "coped knows no 'role'."),
    ],
)
def test_refused_with_file_line_and_reason(messy, typed, sentence):
    (problem,) = sentences(bound_to(messy, f"Something.\n\n(= {typed} =)"))
    assert problem.startswith("first/articles/r.md line 3: (= ")
    assert sentence in problem


def test_runs_in_unlike_places_are_never_added(tmp_path):
    bench = usual("a-1", A, 0)
    usual("a-2", A, 0, bench=bench, losses={"lap-2": 75})
    evidence = evidence_at(bench.entered(tmp_path))
    (problem,) = sentences(bound_to(evidence, f"(= share {A}, {W}, role call, runs all =)"))
    assert (
        "The runs were not alike, so they are not added: Lap 2 stood at 60 dB here and at 75 dB there (a-1 and a-2)."
        in problem
    )
    assert said(evidence, f"share {A}, {W}, role call, mix a-2").startswith("100.0 % in time")


def test_two_runs_of_one_day_are_told_apart_by_their_mix(tmp_path):
    bench = usual("a-1", A, 0)
    evidence = evidence_at(usual("a-2", A, 3, bench=bench).entered(tmp_path))
    (problem,) = sentences(bound_to(evidence, f"(= share {A}, {W}, role call =)"))
    assert "so one must be named: mix a-1; mix a-2." in problem


def test_a_firmware_that_did_it_is_named(tmp_path):
    bench = usual("a-1", A, 0)
    bench.run("a-2", A, [("film", "lap-1", FILM_LOG)], firmware="2.0", workload="other")
    firmware = [{"version": "1.0"}, {"version": "2.0"}]
    other = EVENING | {"id": "other", "title": "Another"}
    path = bench.entered(tmp_path, devices={A: {"firmware": firmware}}, workload=[EVENING, other])
    (problem,) = sentences(bound_to(evidence_at(path), f"(= coped {A}, {W} =)"))
    assert f"Cupola 2.0 never did evening; it did other. Tested with it is {A}/A@1.0." in problem
    assert said(evidence_at(path), f"coped {A}@1.0, {W}") == "coped with every role in its only run"


def test_a_frozen_share_keeps_its_value(messy):
    kept = f'share {A}, {W}, role call, mix a-1, frozen "98.0 % in time" 2025-06-01'
    assert said(messy, kept) == (
        "98.0 % in time (as published 1 June 2025; the catalogue now says 97.0 % in time (291 of 300 within 100 ms))"
    )


def test_conditions_of_a_link_play_no_part(messy):
    (text,) = texts(bound_to(messy, f"(= under client lap-9, band 6 =)\n\n(= share {A}, {W}, role call, mix a-1 =)"))
    assert text.startswith("97.0 %")


def test_the_demo_has_the_digits_of_its_pages(demo_file, demo_instant):
    copy = public_copy(demo_file, as_of=demo_instant)
    evidence = compose(evidence_of, load_contents(copy, as_of=demo_instant, sizes={}))
    calls_of = "fjeldrun-ingle, workload calls-over-backup"
    assert said(evidence, f"share {calls_of}, role call-window") == "91.2 % in time (2736 of 3000 within 150 ms)"
    assert said(evidence, f"waits {calls_of}, role call-window, at 95") == "162 ms (likely 159–164)"
    assert said(evidence, f"coped {calls_of}") == "did not cope with call window (2736 of 3000 in time)"
    assert said(evidence, "stalls tessarik-cupola, workload after-supper, role big-picture") == "no stall"
    (problem,) = sentences(bound_to(evidence, "(= coped quillmast-ridge, workload desk-row =)"))
    assert "No such run of Ridge counts: a client fault ended the run, so it does not count." in problem


def test_a_version_that_was_not_done_is_not_another(tmp_path):
    path = usual("a-1", A, 0).entered(tmp_path, workload=[EVENING, EVENING | {"version": 2}])
    (problem,) = sentences(bound_to(evidence_at(path), f"(= coped {A}, {W}~2 =)"))
    assert "Tessarik Cupola 1.0 never did evening~2; it did evening~1. Whatever is unknown" in problem
    assert said(evidence_at(path), f"coped {A}, {W}~1") == "coped with every role in its only run"
