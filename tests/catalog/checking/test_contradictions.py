"""What contradicts itself in a row of runs or readings: asked about, settled by an answer, and not asked of corrections."""

from __future__ import annotations

from contextlib import closing

import pytest

from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch
from tests.catalog.checking.test_mistakes import MISTAKES, SPOTS, by_loss, clean, runs, secured
from tests.catalog.conftest import BATCH_TOML, NOW, RUN_DEFAULTS

OPEN = ("place-differs", "loss-and-repeat-swapped", "copied-block")


@pytest.fixture
def checked(write_batch):
    def check(answers="", **parts):
        folder = write_batch(**clean(**parts))
        (folder / "answers.toml").write_text(answers)
        return check_batch(folder, catalog=None)

    return check


def answer(cause, table="runs", row=None):
    place = "" if row is None else f"row = {row}\n"
    return f'[[answer]]\ncause = "{cause}"\ntable = "{table}"\n{place}means = "as typed"\n'


@pytest.mark.parametrize("mistake", [one for one in MISTAKES if one.code in OPEN], ids=lambda one: one.code)
def test_a_question_is_settled_by_its_answer_and_says_how(checked, mistake):
    (problem,) = checked(**mistake.parts).problems
    assert f'cause = "{mistake.code}", table = "runs", row = {mistake.row}, means = "as typed".' in problem.remedy
    assert checked(answer(mistake.code, row=mistake.row), **mistake.parts).problems == ()
    assert checked(answer(mistake.code, row=mistake.row + 1), **mistake.parts).problems == (problem,)


def test_a_sheet_that_types_spot_loss_and_channel_alike_is_silent(checked):
    report = checked(**by_loss())
    assert (report.problems, report.warnings) == ((), ())


@pytest.mark.parametrize("loss", ["49", "60.7"])
def test_six_decibels_are_the_limit(checked, loss):  # S1 loses 54.8 dB
    assert checked(**by_loss({3: {"attenuation_db": loss}})).problems == ()


def test_a_channel_the_band_does_not_have_has_no_answer_but_may_stay_empty(checked):
    wrong = by_loss({3: {"channel": "6"}})
    (problem,) = checked(answer("channel-not-in-band"), **wrong).problems
    assert problem.remedy == "Correct the channel or the band; leave the channel empty if nobody knows it."
    assert checked(**by_loss({3: {"channel": ""}})).problems == ()


@pytest.mark.parametrize(
    ("channel", "words"),
    [("38", "belongs to no channel that is 80 MHz wide"), ("50", "belongs to no channel that is 80 MHz wide")],
)
def test_a_channel_that_is_never_so_wide_is_asked_about(checked, channel, words):
    wrong = by_loss({3: {"channel": channel}})
    (problem,) = checked(**wrong).problems
    assert (problem.code, problem.column) == ("channel-not-in-band", "channel")
    assert words in problem.expected
    assert checked(answer("channel-not-in-band"), **wrong).problems == ()


@pytest.mark.parametrize("channel", ["36", "42", "149", "165"])
def test_the_first_channel_and_the_middle_one_are_taken(checked, channel):
    assert checked(**by_loss({3: {"channel": channel}})).problems == ()


def test_the_channel_of_a_reading_is_held_against_its_band(checked):
    header, *lines = SPOTS.splitlines()
    spots = "\n".join([f"{header},channel", f"{lines[0]},6", *(f"{line},36" for line in lines[1:])]) + "\n"
    (problem,) = checked(spots_csv=spots).problems
    assert (problem.table, problem.row, problem.code) == ("spots.csv", 2, "channel-not-in-band")


@pytest.mark.parametrize("values", [("400", "400", "400"), ("2", "3", "2"), ("941.1", "941.3", "940.9")])
def test_alike_values_few_digits_and_a_cables_limit_are_no_copied_block(checked, values):
    changes = {start + k: {"throughput_mbit_s": value} for start in (8, 14) for k, value in enumerate(values)}
    assert "copied-block" not in [problem.code for problem in checked(runs_csv=runs(changes)).problems]


def test_values_at_the_ports_limit_are_no_copied_block(write_batch):
    # By hand: a port of 500 Mbit/s carries 500 * 1448 / 1538 = 470.7 Mbit/s of TCP with time stamps.
    slow = BATCH_TOML.replace("speed_mbit_s = 2500", "speed_mbit_s = 500") + RUN_DEFAULTS
    changes = {start + k: {"throughput_mbit_s": f"{470 + k}"} for start in (8, 14) for k in range(3)}
    parts = {"spots_csv": SPOTS, "runs_csv": runs(changes).replace("logs/near.csv", "")}
    codes = [
        [problem.code for problem in check_batch(write_batch(toml=toml, **parts), catalog=None).problems]
        for toml in (slow, BATCH_TOML + RUN_DEFAULTS)
    ]
    assert codes == [[], ["copied-block"]]


def test_a_security_has_one_spelling(checked):
    assert checked(**secured({})).problems == ()
    (problem,) = checked(**secured({3: "wpa3-personal"})).problems
    assert (problem.row, problem.column, problem.code) == (3, "security", "twin-id")
    assert str(problem).endswith(
        "'wpa3-personal' differs from 'WPA3-Personal', which is known, only by case. Write it the same way."
    )


def test_a_region_has_the_spelling_of_the_catalogue(write_batch, tmp_path):
    prices = "device,date,amount,currency,region\ntessarik-shale-2,2025-05-01,99,EUR,{}\n"
    enter_batch(write_batch(prices_csv=prices.format("DE")), into=tmp_path / "catalog.db", now=NOW)
    second = write_batch(prices_csv=prices.format("de").replace("-05-", "-06-"))
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert [problem.code for problem in check_batch(second, catalog=db).problems] == ["twin-id"]


def test_a_correction_of_an_answered_row_is_not_asked_again(write_batch, tmp_path):
    folder = write_batch(**clean(**by_loss({3: {"attenuation_db": "85"}})))
    (folder / "answers.toml").write_text(answer("place-differs"))
    enter_batch(folder, into=tmp_path / "catalog.db", now=NOW)
    line = "runs,batch=first; file=runs.csv; row=3,throughput,906,907,mistyped,a reader,2025-06-30\n"
    (tmp_path / "corrections.csv").write_text("table,key,column,was,now,reason,noticed_by,date\n" + line)
    with closing(open_catalog(tmp_path / "catalog.db", readonly=False)) as db:
        assert correct_file(tmp_path / "corrections.csv", catalog=db, now=NOW).applied == 1
