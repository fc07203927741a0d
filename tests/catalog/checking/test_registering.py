"""Ids, names and versions that look like others: asked about once; what no disk can hold is refused."""

from __future__ import annotations

from contextlib import closing

import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from tests.catalog.checking.test_mistakes import clean
from tests.catalog.conftest import BATCH_TOML, NOW

DEVICE = """
[[device]]
id = "{id}"
maker = "{maker}"
model = "{model}"
amendment = "802.11ax"
{more}
  [[device.unit]]
  id = "A"
  origin = "bought"
"""
FIRMWARE = '  [[device.firmware]]\n  version = "{}"\n'
SESSION = '[[session]]\nid = "{}"\nhouse = "house-a"\ndate = 2025-05-13\n'


def device(device_id="skarn-one", *, maker="Skarn", model="One", more="", below=""):
    return DEVICE.format(id=device_id, maker=maker, model=model, more=more) + below


@pytest.fixture
def asked(write_batch):
    """Problems with a batch.toml that registers *more*, and what an answer by cause leaves of them."""

    def check(more, *, answers=""):
        folder = write_batch(more=more)
        (folder / "answers.toml").write_text(answers)
        return list(check_batch(folder, catalog=None).problems)

    return check


@pytest.mark.parametrize(
    "more",
    [
        device(),
        device(model="Shale 2"),  # of another maker
        device(maker="Tessarik", model="Shale 2", more='revision = "2.0"'),
        device(below=FIRMWARE.format("7.10")),  # another device's version
        device("tessarik-shale-21"),
        SESSION.format("day-11") + SESSION.format("day-1-1"),
        SESSION.format("2025.05.12"),
    ],
)
def test_things_that_are_their_own_are_silent(asked, more):
    assert asked(more) == []


TWINS = [
    (
        device("tessarik_shale_2", model="Two"),
        "id",
        "twin-id",
        "differs from 'tessarik-shale-2', which is known, only by",
    ),
    (device("tessarik.shale2", model="Two"), "id", "twin-id", "Write 'tessarik-shale-2' if it is the same one."),
    (SESSION.format("day1"), "id", "twin-id", "The session 'day1' differs from 'day-1'"),
    (
        device(maker="tessarik", model="Shale  2"),
        "model",
        "twin-device",
        "tessarik Shale  2 is known as 'tessarik-shale-2', of the same revision.",
    ),
    (
        device(below=FIRMWARE.format("7.1") + FIRMWARE.format("7.10")),
        "version",
        "lost-zero",
        "The firmware '7.10' and '7.1', which is known, differ by a zero at the end. Did a spreadsheet drop it?",
    ),
    (
        device(model="Оne"),  # the first letter is Cyrillic
        "model",
        "odd-characters",
        "has letters of several alphabets: Cyrillic and Latin. Some look alike and are not.",
    ),
    (device(more='aliases = ["Оne"]'), "aliases", "odd-characters", "has letters of several alphabets"),
]


@pytest.mark.parametrize(
    ("more", "key", "code", "words"), TWINS, ids=[f"{code}-{n}" for n, (_, _, code, _) in enumerate(TWINS)]
)
def test_a_likeness_is_asked_about_with_its_line_and_settled_by_an_answer(asked, more, key, code, words):
    (problem,) = asked(more)
    assert (problem.table, problem.column, problem.code) == ("batch.toml", key, code)
    assert words in str(problem)
    line = (BATCH_TOML + more).split("\n")[problem.row - 1]
    assert line.strip().startswith(key)
    means = "as typed" if code == "odd-characters" else "another one"
    assert f'cause = "{code}", table = "batch.toml", row = {problem.row}, means = "{means}".' in str(problem)
    answer = f'[[answer]]\ncause = "{code}"\ntable = "batch.toml"\nrow = {problem.row}\nmeans = "{means}"\n'
    assert asked(more, answers=answer) == []


@pytest.mark.parametrize(
    ("identifier", "words"),
    [
        ("con", "cannot be the name of a folder on every system. Choose another id"),
        ("NUL.7", "cannot be the name of a folder"),
        ("com1", "cannot be the name of a folder"),
        ("skarn.", "without a dot at the end or two in a row"),
        ("a..b", "without a dot at the end or two in a row"),
        ("Tessarik-Shale-2", "'tessarik-shale-2', which is known, would be one folder on many disks"),
    ],
)
def test_an_id_that_no_folder_can_have_is_refused(asked, identifier, words):
    (problem,) = asked(device(identifier))
    assert problem.code == "reserved-id"
    assert words in str(problem)
    everything = '[[answer]]\ncause = "reserved-id"\ntable = "batch.toml"\nmeans = "another one"\n'
    assert asked(device(identifier), answers=everything) == [problem]  # no answer makes a disk hold it


def test_two_devices_without_a_maker_are_told_that_and_nothing_else(asked):
    more = "".join(
        device(name).replace('maker = "Skarn"\n', "").replace('model = "One"\n', "") for name in ("one", "two")
    )
    assert [problem.code for problem in asked(more)] == ["missing"] * 4


def test_an_id_that_only_begins_like_a_reserved_one_is_taken(asked):
    assert asked(device("console-4") + device("auxin", model="Two")) == []


def test_what_is_known_is_not_asked_about_again(write_batch, tmp_path):
    first = write_batch(more=SESSION.format("day1"))
    (first / "answers.toml").write_text('[[answer]]\ncause = "twin-id"\ntable = "batch.toml"\nmeans = "another one"\n')
    enter_batch(first, into=tmp_path / "catalog.db", now=NOW)
    second = write_batch("second", toml=BATCH_TOML.replace('"first"', '"second"') + SESSION.format("day1"))
    assert check_batch(second, catalog=None).problems[0].code == "twin-id"
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert check_batch(second, catalog=db).problems == ()


SPOTS = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n" + "house-a,S-1,5,2025-01-01,20,-40\n" * 5


def test_a_spot_whose_name_differs_only_by_case_or_separators_is_asked_about_once(write_batch):
    spots = SPOTS + SPOTS.split("\n", 1)[1].replace("S-1", "s1")
    (problem,) = check_batch(write_batch(spots_csv=spots), catalog=None).problems
    assert (problem.row, problem.column, problem.code) == (7, "spot", "twin-id")
    folder = write_batch(spots_csv=spots)
    (folder / "answers.toml").write_text('[[answer]]\ncause = "twin-id"\ntable = "spots"\nmeans = "another one"\n')
    assert check_batch(folder, catalog=None).problems == ()


def test_a_mix_whose_id_differs_only_by_case_or_separators_is_asked_about_once(write_batch):
    stations = "mix,client,role,log\nm-x,wrenlet-u2,pages,logs/pages.csv\nM_x,skarn-r2,talk,logs/talk.csv\n"
    (problem,) = check_batch(write_batch(**clean(stations_csv=stations)), catalog=None).problems
    assert (problem.row, problem.column, problem.code) == (3, "mix", "twin-id")
    answer = '[[answer]]\ncause = "twin-id"\ntable = "stations"\nmeans = "another one"\n'
    assert check_batch(write_batch(**clean(stations_csv=stations, answers_toml=answer)), catalog=None).problems == ()


# --- Characters ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("escape", "name"),
    [
        ("\\u0000", "U+0000 (a control character)"),
        ("\\u000b", "U+000B"),
        ("\\u0085", "U+0085"),
        ("\\ufffe", "U+FFFE (no character at all)"),
        ("\\U0001ffff", "U+1FFFF"),
        ("\\u200b", "U+200B (zero width space)"),
        ("\\u202e", "U+202E (right-to-left override)"),
        ("\\u200d", "U+200D (zero width joiner)"),
    ],
)
def test_a_character_that_does_not_show_is_refused_in_batch_toml(asked, escape, name):
    (problem,) = asked(device(model=f"O{escape}ne"))
    assert (problem.code, problem.column) == ("odd-characters", "model")
    assert name in problem.expected
    assert problem.remedy == "Type the text again; such characters come along when it is copied from a page."
    assert (BATCH_TOML + device()).split("\n")[problem.row - 1].startswith("model")


def test_tabs_line_ends_accents_and_joined_emoji_are_taken(asked):
    more = 'note = "windows\\tclosed\\r\\nélan – 測試 👩\\u200d🔧 می\\u200cخواهم"\n'
    assert asked(SESSION.format("day-2") + more) == []


def test_characters_that_do_not_show_are_refused_in_tables_answers_and_notes(write_batch):
    rows = "attenuation_db,repeat,throughput_mbit_s,note,mo\u200bod\n60,1,900,a\u202eb,\n60,2,905,,c\u200bd\n"
    folder = write_batch(runs_csv=rows)
    (folder / "answers.toml").write_text(
        '[[answer]]\ntable = "runs"\ncolumn = "note"\ntyped = "x"\nmeans = "y\\u200b"\n'
    )
    problems = check_batch(folder, catalog=None).problems
    assert [(one.table, one.row, one.code) for one in problems] == [
        ("answers.toml", 5, "odd-characters"),
        ("runs.csv", 1, "odd-characters"),
        ("runs.csv", 2, "odd-characters"),
        ("runs.csv", 3, "odd-characters"),
    ]


def test_a_name_of_two_alphabets_in_a_table_is_asked_about(write_batch):
    spots = SPOTS.replace("S-1", "S\u0430lon")  # the second letter is Cyrillic
    problems = check_batch(write_batch(spots_csv=spots), catalog=None).problems
    assert [(problem.row, problem.column, problem.code) for problem in problems] == [
        (row, "spot", "odd-characters") for row in range(2, 7)
    ]
    answers = '[[answer]]\ncause = "odd-characters"\ntable = "spots"\nmeans = "as typed"\n'
    assert check_batch(write_batch(spots_csv=spots, answers_toml=answers), catalog=None).problems == ()
