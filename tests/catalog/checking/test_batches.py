"""What a batch is asked: things, defaults, answers, guards, smells, spots, ceilings and logs, each by a small batch."""

from __future__ import annotations

import datetime as dt
import io
import json
import sqlite3
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from catalog.connection import open_catalog
from catalog.digesting.digests import request_digest, throughput_digest
from catalog.digesting.logs import Log
from catalog.entering import check_batch, enter_batch
from catalog.errors import BatchRefused
from tests.batches import LINK, client, device, radios, things
from tests.catalog.conftest import BATCH_TOML

NOW = dt.datetime(2025, 8, 1, tzinfo=dt.UTC)


@pytest.fixture
def problems(write_batch):
    """Problems of a batch made of these parts."""
    return lambda **parts: check_batch(write_batch(**parts), catalog=None).problems


@pytest.fixture
def warnings(write_batch):
    """Warnings of a batch that has no problem."""

    def found(**parts):
        report = check_batch(write_batch(**parts), catalog=None)
        assert report.problems == ()
        return report.warnings

    return found


@pytest.fixture
def entered(write_batch, tmp_path):
    """A batch in a new catalogue; asks it in SQL."""

    def enter(sql, **parts):
        catalog = tmp_path / "catalog.db"
        enter_batch(write_batch(**parts), into=catalog, now=NOW)
        with sqlite3.connect(catalog) as db:
            return db.execute(sql).fetchall()

    return enter


# --- batch.toml ---------------------------------------------------------------------------------------------

EMPTY = "format = 1\n"


def test_what_a_batch_must_say(problems):
    assert [(problem.row, str(problem)) for problem in problems(toml=EMPTY)] == [
        (1, "batch.toml line 1: The batch has no id. Add id = … there."),
        (1, "batch.toml line 1: The batch has no title. Add title = … there."),
        (1, "batch.toml line 1: The batch has no licence. Add licence = … there."),
    ]


HEAD = 'format = 1\nid = "b"\ntitle = "B"\nlicence = "CC-BY-4.0"\n'


@pytest.mark.parametrize(
    ("toml", "line", "words"),
    [
        ('format = 2\nid = "b"\ntitle = "B"\nlicence = "x"\n', 1, "Format 2 is not one this program reads"),
        (HEAD + 'timezone = "Europe/Bonn"\n', 5, "is not a time zone"),
        (HEAD + 'colour = "red"\n', 5, "'colour' is not known here"),
        (HEAD + 'tittle = "red"\n', 5, "Did you mean title?"),
        ('format = 1\nid = "a b"\ntitle = "B"\nlicence = "x"\n', 2, "is no id"),
        (HEAD + "[[device]]\nid = 7\n", 6, "is no id"),
        (HEAD + '[device]\nid = "a"\n', 5, "is written as [[device]]"),
        (HEAD + "[defaults.run]\nband = 5\n", 5, "no table 'run'"),
        (HEAD + "[defaults.runs]\nbandd = 5\n", 6, "no column 'bandd'"),
        (HEAD + "[defaults.runs]\nfirmware = 7.10\n", 6, "a number loses its last zeros"),
        (HEAD + '[[session]]\nid = "s"\nhouse = "nowhere"\ndate = 2025-05-12\n', 7, "The house 'nowhere' is not known"),
        (HEAD + '[[house]]\nid = "h"\nname = "H"\nreference_device = "x"\n', 8, "The device 'x' is not known"),
        (HEAD + '[[image]]\nfile = "a.png"\nkind = "case"\nalt = "x"\n', 6, "There is no file 'a.png'"),
        (HEAD + '[[image]]\nfile = "../a.png"\nkind = "case"\nalt = "x"\n', 6, "leaves the batch"),
        (HEAD + '[[article]]\nid = "a"\ntitle = "A"\npublished = "2025-06-10 15:00"\nfile = "x"\n', 8, "has no zone"),
        (HEAD + "[method]\nsession_spread = 2\n", 6, "from 0 to 1"),
        (HEAD + "[method]\nhouse_spread = {mbit_s = 20, percent = 3}\n", 6, "is no spread"),
        (HEAD + '[method]\nwindows = {"5" = {near = [60, 50]}}\n', 6, "are no windows"),
        (HEAD + '[site]\nauthor = "A"\n', 5, "has no title"),
    ],
)
def test_a_wrong_key_is_named_with_its_line(problems, toml, line, words):
    runs = ("[defaults.runs]" in toml and "firmware" in toml) or "bandd" in toml
    found = problems(toml=toml, **({"runs_csv": "repeat\n1\n"} if runs else {}))
    fitting = [problem for problem in found if words in str(problem)]
    assert [problem.row for problem in fitting] == [line], list(map(str, found))
    assert fitting[0].table == "batch.toml"


def test_required_keys_of_things(problems):
    toml = HEAD + '[[device]]\nid = "d"\n[[client]]\nid = "c"\n[[house]]\nid = "h"\n[[session]]\nid = "s"\n'
    found = [problem.expected for problem in problems(toml=toml)]
    assert found == [
        "The device d has no maker.",
        "The device d has no model.",
        "The device d has no amendment.",
        "The device d has no unit.",
        "The client c has no name.",
        "The client c has no amendment.",
        "The client c has no radio.",
        "The house h has no name.",
        "The session s has no house.",
        "The session s has no date.",
    ]


DEVICE = """
[[device]]
id = "tessarik-cairn"
maker = "Tessarik"
model = "Cairn"
amendment = "802.11be"
  [[device.unit]]
  id = "A"
  origin = "loaned"
  [[device.firmware]]
  version = "0.9"
  public = false
  [device.embargo]
  until = "2025-06-10T09:00"
"""


def test_an_embargo_needs_a_zone_of_its_own(problems):
    """The batch has a timezone; an embargo does not borrow it."""
    (problem,) = problems(more=DEVICE)
    assert problem.code == "no-zone"
    assert "nobody knows when it ends" in str(problem)


@pytest.mark.parametrize(
    "until", ['until = "2025-06-10T09:00"\n  timezone = "America/New_York"', "until = 2025-06-10T09:00:00-04:00"]
)
def test_an_embargo_ends_at_one_instant(entered, until):
    # Story 9: 2025-06-10 09:00 in New York is 13:00:00Z.
    more = DEVICE.replace('until = "2025-06-10T09:00"', until)
    assert entered("SELECT subject, device_id, until_utc, covers FROM embargo", more=more) == [
        ("device", "tessarik-cairn", "2025-06-10T13:00:00Z", "existence")
    ]


def test_embargoes_of_a_unit_a_firmware_and_a_batch(entered):
    unit = {"id": "B", "origin": "given", "embargo": {"until": "2025-06-11T13:00:00Z", "covers": "results"}}
    firmware = {"version": "2.0", "embargo": {"until": "2025-06-12T13:00:00Z"}}
    more = things(
        embargo={"until": "2025-06-10T13:00:00Z"},
        device=[device("tessarik-porch", unit=[unit], firmware=[firmware])],
    )
    columns = "subject, device_id, unit_id, version, until_utc, covers"
    assert entered(f"SELECT {columns} FROM embargo ORDER BY until_utc", more=more) == [
        ("batch", None, None, None, "2025-06-10T13:00:00Z", "results"),
        ("unit", "tessarik-porch", "B", None, "2025-06-11T13:00:00Z", "results"),
        ("firmware", "tessarik-porch", None, "2.0", "2025-06-12T13:00:00Z", "existence"),
    ]


METHOD = HEAD + "[method]\nsession_spread = {spread}\n{more}"


def test_the_method_grows_by_versions(write_batch, tmp_path):
    catalog = tmp_path / "catalog.db"

    def enter(batch_id, spread, more=""):
        toml = METHOD.format(spread=spread, more=more).replace('"b"', f'"{batch_id}"')
        enter_batch(write_batch(batch_id, toml=toml), into=catalog, now=NOW)

    def versions():
        with sqlite3.connect(catalog) as db:
            return [(n, json.loads(text)) for n, text in db.execute("SELECT version, constants FROM method")]

    enter("one", 0.02)
    assert versions() == [(1, {}), (2, {"session_spread": 0.02})]
    with pytest.raises(
        BatchRefused, match=r"session_spread is 0.02 in the method of this catalogue.*supersedes = true"
    ):
        enter("two", 0.03)
    enter("three", 0.03, "supersedes = true\nhouse_spread = {percent = 3}\n")
    assert versions()[2] == (3, {"session_spread": 0.03, "house_spread_percent": 3.0})


def test_a_hidden_batch_may_hide_its_things_too(entered):
    more = '\n[embargo]\nuntil = "2025-06-10T13:00:00Z"\ncovers = "existence"\n'
    assert entered("SELECT subject, covers FROM embargo", more=more) == [("batch", "existence")]


def withdrawal(what, subject):
    return f"what,id,from,reason\n{what},{subject},2025-06-01,published by mistake\n"


@pytest.mark.parametrize(
    ("what", "subject"),
    [
        ("device", "tessarik-shale-2"),
        ("unit", "tessarik-shale-2/A"),
        ("Firmware", "tessarik-shale-2@7.10"),
        ("run", "first/runs/2"),
        ("batch", "first"),
        ("session", "day-1"),
    ],
)
def test_what_is_there_can_be_withdrawn(write_batch, tmp_path, what, subject):
    catalog = tmp_path / "catalog.db"
    enter_batch(write_batch(runs_csv="attenuation_db,repeat,throughput_mbit_s\n60,1,700\n"), into=catalog, now=NOW)
    later = write_batch("later", toml=HEAD, withdrawals_csv=withdrawal(what, subject))
    assert check_batch(later, catalog=open_catalog(catalog, readonly=True)).problems == ()


@pytest.mark.parametrize(
    ("what", "subject", "code"),
    [
        ("device", "tessarik-shale-3", "unknown-device"),
        ("unit", "A", "unknown-unit"),
        ("run", "first/runs/2", "unknown-row"),
        ("everything", "x", "unknown-word"),
    ],
)
def test_a_withdrawal_that_names_nothing_is_held(problems, what, subject, code):
    (problem,) = problems(withdrawals_csv=withdrawal(what, subject))
    assert problem.code == code


def picture(kind: str, size: tuple[int, int] = (4, 3)) -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", size, (90, 120, 150)).save(stream, kind)
    return stream.getvalue()


def wide_png(width: int, height: int) -> bytes:
    """A file of a few bytes whose header claims so many pixels (PNG, third edition, 11.2.1)."""
    blocks = [
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)),
        (b"IDAT", zlib.compress(b"")),
        (b"IEND", b""),
    ]
    made = (struct.pack(">I", len(b)) + name + b + struct.pack(">I", zlib.crc32(name + b)) for name, b in blocks)
    return b"\x89PNG\r\n\x1a\n" + b"".join(made)


@pytest.mark.parametrize(
    ("content", "code", "words"),
    [
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "not-an-image", "This is not a PNG, JPEG or WebP picture. Export it again"),
        (picture("PNG", (400, 300))[:-200], "not-an-image", "The picture is damaged and cannot be decoded."),
        (picture("JPEG", (400, 300))[:-200], "not-an-image", "The picture is damaged and cannot be decoded."),
        (wide_png(30_000, 30_000), "image-too-large", "The picture has more than 50 million pixels. Export it smaller"),
        (wide_png(8_000, 6_251), "image-too-large", "The picture has more than 50 million pixels."),
    ],
)
def test_a_picture_that_no_page_can_show_is_held(problems, content, code, words):
    more = '\n[[image]]\nfile = "images/case.png"\ndevice = "tessarik-shale-2"\nkind = "case"\nalt = "The case"\n'
    (problem,) = problems(more=more, **{"images__case.png": content})
    assert (problem.code, problem.table) == (code, "batch.toml")
    assert words in str(problem)


def test_an_image_is_what_its_bytes_say_and_camera_data_are_pointed_out(warnings, problems):
    more = '\n[[image]]\nfile = "images/case.txt"\ndevice = "tessarik-shale-2"\nkind = "case"\nalt = "The case"\n'
    png = picture("PNG")
    assert warnings(more=more, **{"images__case.txt": png}) == ()
    (warning,) = warnings(more=more, **{"images__case.txt": png + b"eXIfMM"})
    assert (warning.code, warning.value) == ("image-metadata", "images/case.txt")
    for other in (b"GIF89a", b"<svg xmlns='http://www.w3.org/2000/svg'/>"):
        (problem,) = problems(more=more, **{"images__case.txt": other})
        assert problem.code == "not-an-image"


def test_of_a_photo_it_is_asked_what_it_shows(warnings):
    more = '\n[[image]]\nfile = "images/case.jpg"\ndevice = "tessarik-shale-2"\nkind = "case"\nalt = "The case"\n'
    (asked,) = warnings(more=more, **{"images__case.jpg": picture("JPEG")})
    assert (asked.code, asked.value) == ("look-at-photo", "images/case.jpg")
    for private in ("serial number", "MAC", "network's name", "window"):
        assert private in str(asked)


def test_an_image_without_words_is_held(problems):
    png = picture("PNG")
    more = '\n[[image]]\nfile = "images/case.png"\nkind = "case"\n'
    for alt in ("", 'alt = " "\n'):
        (problem,) = problems(more=more + alt, **{"images__case.png": png})
        assert "alt" in str(problem)


# --- Answers ------------------------------------------------------------------------------------------------

ASK = "attenuation_db,repeat,throughput_mbit_s,device\n60,1,700,tessarik shal 2\n60,2,700,tessarik shal 2\n"


def answer(**keys):
    return "[[answer]]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items())


def test_one_answer_settles_a_name_for_every_row(write_batch):
    assert len(check_batch(write_batch(runs_csv=ASK), catalog=None).problems) == 2
    text = answer(table="runs", column="device", typed="tessarik shal 2", means="tessarik-shale-2", by="bench")
    report = check_batch(write_batch(runs_csv=ASK, answers_toml=text), catalog=None)
    assert (report.problems, report.rows_new) == ((), 2)


def test_an_answer_to_a_cell_that_changed_is_stale(write_batch):
    text = answer(table="runs", row=2, column="device", typed="something else", means="tessarik-shale-2")
    report = check_batch(write_batch(runs_csv=ASK, answers_toml=text), catalog=None)
    assert len(report.problems) == 2
    (stale,) = report.warnings
    assert (stale.table, stale.code) == ("answers.toml", "stale-answer")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (answer(table="runs", column="device", typed="x"), "has no means"),
        (answer(table="runs", column="device", typed="x", means="y", sure=True), "'sure' is not known"),
        (answer(table="runs", row="2", column="device", typed="x", means="y"), "whole number"),
        ("[answers]\n", "Only [[answer]] stands"),
        ("answer = 3\n", "written as [[answer]]"),
    ],
)
def test_a_wrong_answer_is_named(problems, text, words):
    found = problems(runs_csv="attenuation_db,repeat,throughput_mbit_s\n60,1,700\n", answers_toml=text)
    assert any(words in str(problem) for problem in found)


def test_an_answer_that_repeats_the_value_confirms_it(write_batch):
    csv = "attenuation_db,repeat,throughput_mbit_s,level\n60,1,700,-50\n60,2,0,-4\n"
    folder = write_batch(runs_csv=csv)
    assert [problem.code for problem in check_batch(folder, catalog=None).problems] == ["level-too-strong", "zero"]
    text = answer(table="runs", row=3, column="level", typed="-4", means="-4")
    text += answer(table="runs", row=3, column="throughput_mbit_s", typed="0", means="0")
    (folder / "answers.toml").write_text(text)
    assert check_batch(folder, catalog=None).problems == ()


# --- Guards and smells --------------------------------------------------------------------------------------


def sheet(*rows, header="attenuation_db,repeat,throughput_mbit_s"):
    return "\n".join([header, *rows]) + "\n"


@pytest.mark.parametrize(
    ("odd", "code"),
    [("88", "factor-8"), ("93", "factor-8"), ("0.7", "factor-1000"), ("0.77", "factor-1000")],
)
def test_a_repeat_in_another_unit_is_held(problems, odd, code):
    # By hand, median of the others 700: 700/88 = 7.95, 700/93 = 7.53; 700/0.7 = 1000, 700/0.77 = 909.
    (problem,) = problems(runs_csv=sheet("60,1,700", "60,2,700", "60,3,702", f"60,4,{odd}"))
    assert (problem.row, problem.code) == (5, code)


@pytest.mark.parametrize("odd", ["80", "95", "1.0", "350"])
def test_a_repeat_off_by_another_factor_is_only_listed(warnings, odd):
    # By hand, median 700: 8.75, 7.37, 700 and 2 times: none of them a unit.
    (warning,) = warnings(runs_csv=sheet("60,1,700", "60,2,700", "60,3,702", f"60,4,{odd}"))
    assert (warning.row, warning.code) == (5, "odd-repeat")


def test_a_quarter_off_is_listed_and_a_little_less_is_not(warnings):
    assert warnings(runs_csv=sheet("60,1,700", "60,2,700", "60,3,874")) == ()
    (warning,) = warnings(runs_csv=sheet("60,1,700", "60,2,700", "60,3,875"))
    assert "25.0 % above 700" in str(warning)


def test_siblings_in_the_catalogue_count(write_batch, tmp_path):
    catalog = tmp_path / "catalog.db"
    enter_batch(write_batch(runs_csv=sheet("60,1,700", "60,2,702")), into=catalog, now=NOW)
    later = write_batch("later", runs_csv=sheet("60,3,88"))
    (problem,) = check_batch(later, catalog=open_catalog(catalog, readonly=True)).problems
    assert problem.code == "factor-8"


def test_a_throughput_above_the_phy_rate_is_impossible(problems, warnings):
    # Source: tests/published/phy_rates_full.csv: HE, 80 MHz, 2 streams, MCS 11, 0.8 us: 1200.9804 Mbit/s.
    (problem,) = problems(runs_csv=sheet("60,1,1201"))
    assert "1201 is above 1200.98 Mbit/s" in str(problem)
    assert warnings(runs_csv=sheet("60,1,1200.9")) == ()


def test_a_copy_of_the_row_above_is_held(problems, write_batch):
    header = "when,attenuation_db,repeat,throughput_mbit_s"
    copied = sheet("2025-05-12 14:00,60,1,700", "2025-05-12 14:00,60,2,700", header=header)
    (problem,) = problems(runs_csv=copied)
    assert (problem.row, problem.code) == (3, "copied-row")
    confirmed = answer(table="runs", row=3, column="repeat", typed="2", means="2")
    report = check_batch(write_batch(runs_csv=copied, answers_toml=confirmed), catalog=None)
    assert report.problems == ()


def test_two_runs_of_one_client_at_one_instant_are_listed(warnings):
    header = "when,attenuation_db,repeat,throughput_mbit_s"
    (warning,) = warnings(runs_csv=sheet("2025-05-12 14:00,60,1,700", "2025-05-12 14:00,70,1,500", header=header))
    assert (warning.row, warning.code) == (3, "two-at-once")


def test_a_run_of_another_day_than_its_session_is_listed(warnings):
    header = "when,attenuation_db,repeat,throughput_mbit_s"
    rows = ["2025-05-13 00:30,60,1,700", "2025-05-12T22:31:00Z,60,2,701"]  # half past midnight in Berlin, both
    assert [warning.code for warning in warnings(runs_csv=sheet(*rows, header=header))] == ["other-day", "other-day"]


def test_a_level_far_off_its_cell_is_listed(warnings):
    header = "attenuation_db,repeat,throughput_mbit_s,level_dbm"
    rows = ["60,1,700,-50", "60,2,701,-51", "60,3,702,-57", "60,4,700,-51"]
    assert warnings(runs_csv=sheet(*rows, header=header)) == ()  # 6 dB off the median of -51 is not more than 6
    (warning,) = warnings(runs_csv=sheet(*rows[:2], "60,3,702,-58", rows[3], header=header))
    assert (warning.row, warning.code) == (4, "level-off")


def test_the_same_wired_speed_at_every_place_is_listed(warnings):
    # Source: 1448/1538 of 1 Gbit/s is 941.5 Mbit/s of TCP payload.
    rows = ["50,1,941", "60,1,942.3", "70,1,940.5", "80,1,941.5"]
    (warning,) = warnings(runs_csv=sheet(*rows))
    assert warning.code == "like-a-cable"
    assert warnings(runs_csv=sheet(*rows[:3], "80,1,700")) == ()


def test_directions_swapped_at_one_place_are_listed(warnings):
    header = "attenuation_db,repeat,throughput_mbit_s,direction"
    rows = [f"{db},1,{down},down\n{db},1,{up},up" for db, down, up in ((50, 900, 600), (60, 700, 400), (70, 300, 500))]
    (warning,) = warnings(runs_csv=sheet(*rows, header=header))
    assert (warning.code, warning.row) == ("swapped-directions", 6)
    assert warnings(runs_csv=sheet(*rows[:2], "70,1,500,down", "70,1,300,up", header=header)) == ()


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("60,1,700,DNF", "value-and-outcome"),
        ("60,1,DNF,finished", "two-outcomes"),
        ("60,1,,finished", "missing"),
        ("60,1,,", "blank"),
        ("60,1,n/a,", "not-available"),
        ("60,1,0,", "zero"),
    ],
)
def test_throughput_and_outcome_that_leave_a_question(problems, row, code):
    (problem,) = problems(runs_csv=sheet(row, header="attenuation_db,repeat,throughput_mbit_s,outcome"))
    assert problem.code == code


def test_a_measured_zero_says_so_in_its_outcome(entered):
    csv = sheet("60,1,0,finished", header="attenuation_db,repeat,throughput_mbit_s,outcome")
    assert entered("SELECT throughput_mbit_s, outcome FROM run", runs_csv=csv) == [(0.0, "finished")]


def test_a_missing_column_is_one_problem_not_one_a_row(problems):
    (problem,) = problems(runs_csv=sheet("60,700", "70,600", header="attenuation_db,throughput_mbit_s"))
    assert str(problem) == (
        'runs.csv row 1, column "repeat": The column repeat is missing. Add it, or give it once under '
        "[defaults.runs] in batch.toml."
    )


def test_a_throughput_without_a_unit_is_asked(problems):
    (problem,) = problems(runs_csv=sheet("60,1,700", header="attenuation_db,repeat,throughput"))
    assert problem.code == "no-unit"


def test_which_unit_and_which_driver(problems):
    more = things(
        device=[device("twin", unit=[{"id": unit_id, "origin": "bought"} for unit_id in ("A", "B")])],
        client=[client("two-drivers", driver=[{"version": "1.0"}, {"version": "2.0"}])],
    )
    csv = sheet(
        "twin,1.0,two-drivers,60,1,700", header="device,firmware,client,attenuation_db,repeat,throughput_mbit_s"
    )
    unit, driver = problems(more=more, runs_csv=csv)
    assert "twin has several units: A, B" in str(unit)
    assert "two-drivers has several drivers: 1.0, 2.0" in str(driver)


# --- Spots --------------------------------------------------------------------------------------------------

SPOTS = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n" + "".join(
    f"house-a,S1,5,2025-01-01,20,{level}\n" for level in (-48, -49, -50, -49, -52)
)


def test_an_epoch_is_the_mean_of_its_readings(entered):
    # Source: requirement E16: EIRP 20; -48 -49 -50 -49 -52 gives 69.6 dB; s by numpy.
    ((attenuation, count, spread, kit),) = entered(
        "SELECT attenuation_db, readings, readings_sd_db, kit FROM epoch", spots_csv=SPOTS
    )
    assert attenuation == pytest.approx(69.6)
    assert count == 5
    assert spread == pytest.approx(np.std([68, 69, 70, 69, 72], ddof=1))
    assert spread == pytest.approx(1.5, abs=0.05)
    assert kit == "kit of house-a"


def test_few_readings_are_listed(warnings):
    (warning,) = warnings(spots_csv="\n".join(SPOTS.split("\n")[:5]) + "\n")
    assert "S1 has 4 readings at 5 GHz from 2025-01-01" in str(warning)


MOVED = SPOTS + "".join(f"house-a,S1,5,2025-05-12,20,{level}\n" for level in (-52, -53, -54, -53, -56))


@pytest.mark.parametrize(
    ("session", "since", "attenuation"), [("day-1", "2025-05-12", 73.6), ("day-0", "2025-01-01", 69.6)]
)
def test_a_run_takes_the_epoch_in_force_on_its_sessions_day(entered, session, since, attenuation):
    more = '\n[[session]]\nid = "day-0"\nhouse = "house-a"\ndate = 2025-05-11\n'
    csv = f"spot,repeat,throughput_mbit_s,session\nS1,1,700,{session}\n"
    ((found_since, found),) = entered(
        "SELECT r.spot_since, e.attenuation_db FROM run AS r JOIN epoch AS e USING (epoch_id)",
        more=more,
        spots_csv=MOVED,
        runs_csv=csv,
    )
    assert (found_since, found) == (since, pytest.approx(attenuation))


def test_several_links_at_once_take_the_latest_of_their_epochs(entered):
    six = "".join(f"house-a,S1,6,2025-03-01,20,{level}\n" for level in (-58, -59, -60, -59, -62))
    csv = "spot,repeat,throughput_mbit_s,band,width_mhz\nS1,1,700,6+5,160\n"
    assert entered("SELECT band, spot_since, epoch_id FROM run", spots_csv=SPOTS + six, runs_csv=csv) == [
        ("5+6", "2025-03-01", None)
    ]


@pytest.mark.parametrize(
    ("row", "code"),
    [("S2,5,day-1", "unknown-spot"), ("S1,2.4,day-1", "spot-not-read"), ("S1,5,early", "spot-not-read-then")],
)
def test_spots_without_a_reading_are_held(problems, row, code):
    more = '\n[[session]]\nid = "early"\nhouse = "house-a"\ndate = 2024-12-31\n'
    spot, band, session = row.split(",")
    csv = f"spot,band,width_mhz,session,repeat,throughput_mbit_s\n{spot},{band},20,{session},1,50\n"
    (problem,) = problems(more=more, spots_csv=SPOTS, runs_csv=csv)
    assert problem.code == code


@pytest.mark.parametrize(("since", "code"), [("2025-05-01", "epoch-in-the-past"), ("2025-01-01", "epoch-closed")])
def test_a_new_epoch_changes_no_old_result(write_batch, tmp_path, since, code):
    catalog = tmp_path / "catalog.db"
    csv = "spot,repeat,throughput_mbit_s\nS1,1,700\n"
    enter_batch(write_batch(spots_csv=SPOTS, runs_csv=csv), into=catalog, now=NOW)
    later = write_batch("later", spots_csv=SPOTS + f"house-a,S1,5,{since},20,-60\n")
    report = check_batch(later, catalog=open_catalog(catalog, readonly=True))
    (problem,) = report.problems
    assert (problem.row, problem.code) == (7, code)
    assert (report.rows_read, report.rows_new) == (6, 0)


# --- Ceilings -----------------------------------------------------------------------------------------------


def ceiling(run="first/runs/2", direction="down"):
    evidence = LINK | {"direction": direction, "run": run}
    return things(client=[client("skarn-r2", radio=radios(4), ceiling=[evidence])])


CEILING_RUN = "attenuation_db,repeat,throughput_mbit_s,client\n40,1,{},skarn-r2\n"


def test_a_ceiling_rests_on_a_run_of_this_batch(entered):
    sql = "SELECT c.client_id, r.throughput_mbit_s FROM ceiling AS c JOIN run AS r USING (run_id)"
    assert entered(sql, more=ceiling(), runs_csv=CEILING_RUN.format(1900)) == [("skarn-r2", 1900.0)]


@pytest.mark.parametrize(
    ("more", "value", "words"),
    [
        (ceiling("first/runs/9"), "1900", "There is no run at first/runs/9"),
        (ceiling("first/runs"), "1900", "names no run"),
        (ceiling(), "DNF", "did not finish"),
        (ceiling(direction="up"), "1900", "has direction down, not up"),
        # 1460/1538 of the device's 2.5 Gbit/s port is 2373 Mbit/s.
        (ceiling(), "2370", "went through a port of 2500 Mbit/s"),
    ],
)
def test_a_ceiling_without_evidence_is_refused(problems, more, value, words):
    (problem,) = problems(more=more, runs_csv=CEILING_RUN.format(value))
    assert problem.table == "batch.toml"
    assert words in str(problem)


# --- Logs ---------------------------------------------------------------------------------------------------


def test_a_run_may_take_its_throughput_from_its_log(entered):
    log = "t_s,seconds,bytes\n0,1,50000000\n1,3,300000000\n"
    csv = "attenuation_db,repeat,throughput_mbit_s,log\n60,1,,logs/a.csv\n"
    # By hand: 350,000,000 bytes in 4 s are 700 Mbit/s.
    assert entered("SELECT throughput_mbit_s, outcome, log_path FROM run", runs_csv=csv, logs__a_csv=log) == [
        (700.0, "finished", "logs/a.csv")
    ]


def test_a_typed_value_off_its_log_is_listed(warnings):
    csv = "attenuation_db,repeat,throughput_mbit_s,log\n60,1,{},logs/a.csv\n"
    log = "t_s,mbit_s\n0,700\n1,700\n"
    assert warnings(runs_csv=csv.format(706), logs__a_csv=log) == ()
    (warning,) = warnings(runs_csv=csv.format(710), logs__a_csv=log)
    assert "1.4 % above 700.0 Mbit/s, the mean of its log" in str(warning)


def test_a_width_that_differs_from_the_log_is_listed(warnings):
    csv = "attenuation_db,repeat,throughput_mbit_s,log\n60,1,700,logs/a.csv\n"
    log = "t_s,mbit_s,width_mhz\n0,700,80\n1,700,40\n"
    (warning,) = warnings(runs_csv=csv, logs__a_csv=log)
    assert "width_mhz is 80 in the row, but 40 and 80 in its log" in str(warning)


def test_a_bad_log_is_a_problem_with_its_line(problems):
    csv = "attenuation_db,repeat,throughput_mbit_s,log\n60,1,700,logs/a.csv\n"
    (problem,) = problems(runs_csv=csv, logs__a_csv="t_s,mbit_s\n0,700\n1,?\n")
    assert str(problem).startswith("logs/a.csv row 3: '?' is not a number for mbit_s.")


def test_a_missing_map_is_named(problems):
    csv = "attenuation_db,repeat,throughput_mbit_s,log\n60,1,700,bench:logs/a.json\n"
    (problem,) = problems(runs_csv=csv, logs__a_csv="")
    assert "There is no file 'maps/bench.toml' in the batch" in str(problem)


WORKLOAD = """
[[workload]]
id = "desk"
title = "A desk"
duration_s = 600
  [[workload.role]]
  id = "pages"
  kind = "pages"
  target_ms = 1000
  target_share = 0.95
[defaults.stations]
mix = "m1"
workload = "desk"
when = "2025-05-12 15:00"
device = "tessarik-shale-2"
firmware = "7.10"
client = "wrenlet-u2"
session = "day-1"
role = "pages"
band = "5"
attenuation_db = 60
planned_s = 600
"""


def test_story_5_a_collapsed_run_counts_what_was_planned(entered):
    """38 pages in 380 s: 60 were planned in 600 s, so 22 failed; percentiles over 60, failures last."""
    times = [10 * n for n in range(38)]
    took = [300] * 30 + [800] * 6 + [2400] * 2
    log = "t_s,ms,outcome\n" + "".join(f"{t},{ms},finished\n" for t, ms in zip(times, took, strict=True))
    figures = dict(
        entered(
            "SELECT figure, value FROM digest",
            more=WORKLOAD,
            stations_csv="outcome,ended_at_s,log\ndid not finish,380,logs/pages.csv\n",
            logs__pages_csv=log,
        )
    )
    assert (figures["planned"], figures["finished"], figures["on_time"]) == (60, 38, 36)
    assert (figures["p50_ms"]) == 300
    assert not {"p75_ms", "p90_ms", "p95_ms", "p99_ms"} & figures.keys()  # they fall among the failures


def test_pages_out_of_a_cache_are_listed(warnings):
    (warning,) = warnings(
        more=WORKLOAD,
        stations_csv="outcome,log\nfinished,logs/pages.csv\n",
        logs__pages_csv="t_s,ms,outcome\n0,300,finished\n10,2,finished\n",
    )
    assert "The fastest page took 2 ms" in str(warning)


def test_a_station_without_a_log_is_not_tested_and_no_problem(entered):
    parts = {"more": WORKLOAD, "stations_csv": "outcome,log\nfinished,\n"}
    assert entered("SELECT log_path FROM station", **parts) == [(None,)]


def test_clocks_that_differ_are_reported(warnings):
    more = WORKLOAD.replace("[defaults", '  [[workload.role]]\n  id = "talk"\n  kind = "voice"\n[defaults')
    start = "start,ms,outcome\n2025-05-12T13:00:0{}Z,300,finished\n2025-05-12T13:05:00Z,300,finished\n"
    parts = {"logs__a_csv": start.format(0), "logs__b_csv": start.format(2), "logs__c_csv": start.format(3)}
    csv = "role,client,outcome,log\npages,wrenlet-u2,finished,logs/a.csv\ntalk,wrenlet-u2,finished,logs/{}.csv\n"
    assert warnings(more=more, stations_csv=csv.format("b"), **parts) == ()
    (warning,) = warnings(more=more, stations_csv=csv.format("c"), **parts)
    assert "starts 3.0 s after the first one" in str(warning)


def test_a_log_that_would_end_beyond_the_calendar_is_held(problems):
    (problem,) = problems(
        more=WORKLOAD,
        stations_csv="when,planned_s,outcome,log\n9999-12-31 23:00,7200,finished,logs/pages.csv\n",
        logs__pages_csv="t_s,ms,outcome\n0,300,finished\n7300,300,finished\n",
    )
    assert str(problem).startswith('stations.csv row 2, column "when": The log would end beyond the year 9999.')


# --- Digests ------------------------------------------------------------------------------------------------


def log_of(t_s, mbit_s, spans=None):
    return Log(
        "throughput",
        np.array(t_s, dtype=np.int64) * 1_000_000,
        rate_bit_s=np.array(mbit_s, dtype=np.int64) * 1_000_000,
        span_us=None if spans is None else np.array(spans, dtype=np.int64) * 1_000_000,
    )


def test_throughput_figures():
    # Source: requirement C11: 500, 500, 200 four times at 10 s has the mean 400.
    figures = throughput_digest(log_of(range(0, 120, 10), [500, 500, 200] * 4))
    assert figures["mean_mbit_s"] == pytest.approx(400)
    assert (figures["median_mbit_s"], figures["p05_mbit_s"], figures["evenness"]) == (500, 200, 0.4)
    assert figures["sd_mbit_s"] == pytest.approx(np.std([500, 500, 200] * 4, ddof=1))
    assert (figures["duration_s"], figures["longest_stall_s"]) == (120, 0)


def test_a_mean_is_weighted_by_time_and_a_stall_is_as_long_as_it_lasts():
    # By hand: (100 * 1 + 0 * 3 + 0 * 2 + 400 * 4) / 10 = 170; the stall lasts 3 + 2 s.
    figures = throughput_digest(log_of([0, 1, 4, 6], [100, 0, 0, 400], [1, 3, 2, 4]))
    assert figures["mean_mbit_s"] == pytest.approx(170)
    assert figures["longest_stall_s"] == 5


def test_percentiles_agree_with_numpy_where_nothing_failed():
    # Source: numpy's "inverted_cdf", type 1 of Hyndman & Fan 1996.
    latencies = np.random.default_rng(3).integers(1, 900, 97)
    log = Log(
        "requests",
        np.arange(97, dtype=np.int64),
        latency_us=latencies.astype(np.int64) * 1000,
        outcome=np.zeros(97, dtype=np.int64),
    )
    figures = request_digest(log, planned=97, role={"kind": "fetch", "target_ms": 100, "recipe": "{}"})
    for percent in (50, 75, 90, 95, 99):
        assert figures[f"p{percent}_ms"] == np.percentile(latencies, percent, method="inverted_cdf")
    assert figures["on_time"] == np.count_nonzero(latencies <= 100)


@pytest.mark.parametrize(
    "typed, sentence",
    [
        ('amendment = ["802.11ax"]', "is no amendment that is known"),
        ("amendment = {a = 1}", "is no amendment that is known"),
        (f"amendment = {'9' * 18}", "is no amendment that is known"),
        (
            'amendment = "802.11ax"\nembargo = {until = "2025-06-10T09:00Z", covers = 3}',
            "3 is not one of existence, results",
        ),
    ],
)
def test_a_key_of_another_kind_is_named(write_batch, typed, sentence):
    toml = BATCH_TOML.replace('amendment = "802.11ax"', typed, 1)
    (problem,) = [p for p in check_batch(write_batch(toml=toml), catalog=None).problems if sentence in p.expected]
    assert problem.row > 1
    assert len(problem.expected) < 700
