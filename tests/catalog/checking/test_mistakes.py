"""Mistakes that really happen, one fixture each: by its own code, in a sentence that names it. A clean bench is silent.

Source of the list: requirements E05, E06, E08, E09 and E28 of the job analysis, and logs that entered with false figures;
the limits stand in the batch format.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field

import pytest

from catalog.checking.batches import check
from catalog.entering import check_batch, enter_batch
from catalog.reading.batch import read_batch
from tests.catalog.conftest import NOW

RUNS = "when,spot,direction,level_dbm,repeat,throughput_mbit_s,log"
SPOTS = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n" + "".join(
    f"house-a,S{number},5,2025-01-01,20,{level - step}\n"
    for number, level in ((1, -34), (2, -44), (3, -54), (4, -64))
    for step in (0, 1, 2, 1, 0)
)
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
  [[workload.role]]
  id = "talk"
  kind = "voice"
  target_ms = 150
  packet_ms = 20
[[client]]
id = "skarn-r2"
name = "Skarn R2"
amendment = "802.11ax"
  [[client.radio]]
  band = "5"
  streams = 2
  max_width_mhz = 160
[defaults.stations]
mix = "m1"
workload = "desk"
when = "2025-05-12 18:00"
device = "tessarik-shale-2"
firmware = "7.10"
session = "day-1"
band = "5"
attenuation_db = 60
planned_s = 600
outcome = "finished"
[defaults.longruns]
device = "tessarik-shale-2"
firmware = "7.10"
client = "wrenlet-u2"
session = "day-1"
band = "5"
width_mhz = 80
direction = "down"
outcome = "finished"
"""
STATIONS = "client,role,log\nwrenlet-u2,pages,logs/pages.csv\nskarn-r2,talk,logs/talk.csv\n"
LOG = "t_s,mbit_s,width_mhz,band,channel\n0,{mbit_s},{width},{band},36\n1,{mbit_s},{width},{band},36\n"


def runs(changes: dict[int, dict[str, str]] | None = None, *, header: str = RUNS) -> str:
    """Four spots, both directions, three repeats, as a careful person types them; *changes* by row, header = 1."""
    rows = []
    for place, (down, up, level) in enumerate(((900, 700, -37), (700, 500, -47), (400, 300, -57), (150, 90, -67))):
        for direction, value in (("down", down), ("up", up)):
            for repeat, odd in ((1, 0), (2, 6), (3, -5)):
                number = len(rows)
                rows.append(
                    {
                        "when": f"2025-05-12 {14 + number // 60}:{number % 60:02}",
                        "spot": f"S{place + 1}",
                        "direction": direction,
                        "level_dbm": str(level - (repeat == 2)),
                        "repeat": str(repeat),
                        "throughput_mbit_s": str(value + odd),
                        "log": "logs/near.csv" if number == 0 else "",
                    }
                )
    for number, cells in (changes or {}).items():
        rows[number - 2] |= cells
    names = header.split(",")
    return "\n".join([header, *(",".join(row.get(name, "") for name in names) for row in rows)]) + "\n"


def clean(**other: str) -> dict[str, str]:
    """A batch of every kind of measurement that logs belong to."""
    return {
        "more": WORKLOAD,
        "spots_csv": SPOTS,
        "runs_csv": runs(),
        "stations_csv": STATIONS,
        "longruns_csv": "when,spot,log\n2025-05-12 20:00,S2,logs/night.csv\n",
        "logs__near_csv": LOG.format(mbit_s=900, width=80, band=5),
        "logs__pages_csv": "t_s,ms,outcome\n" + "".join(f"{n * 10},{200 + n},finished\n" for n in range(60)),
        "logs__talk_csv": "t_s,ms,outcome\n" + "".join(f"{n},{20 + n % 7},finished\n" for n in range(600)),
        "logs__night_csv": "t_s,mbit_s\n" + "".join(f"{n},{600 + n % 13}\n" for n in range(60)),
    } | other


@dataclass(frozen=True)
class Mistake:
    """held: the row is not entered; else it is listed. row: where it is named; words: what its sentence says.

    answers  what a person may say to it, with the throughput that row 2 of the runs then enters with [Mbit/s]
    """

    held: bool
    row: int
    code: str
    words: str
    parts: dict[str, str] = field(default_factory=dict)
    answers: dict[str, float | None] = field(default_factory=dict)


def mistyped(row: int, held: bool, code: str, words: str, **cells: str) -> Mistake:
    return Mistake(held, row, code, words, {"runs_csv": runs({row: cells})})


def by_loss(changes: dict[int, dict[str, str]] | None = None) -> dict[str, str]:
    """The same runs, placed by the losses of their spots, which the sheet types; *changes* as in `runs`."""
    header, *lines = runs(changes).splitlines()
    typed = [f"{header},attenuation_db,channel"]
    for number, line in enumerate(lines, start=2):
        cells = (changes or {}).get(number, {})
        loss = {"S1": "55", "S2": "65", "S3": "75", "S4": "85"}.get(line.split(",")[1], "")
        typed.append(f"{line},{cells.get('attenuation_db', loss)},{cells.get('channel', '36')}")
    return {"runs_csv": "\n".join(typed) + "\n"}


def secured(odd: dict[int, str]) -> dict[str, str]:
    """The same runs with their security; *odd* by row."""
    header, *lines = runs().splitlines()
    rows = [f"{line},{odd.get(number, 'WPA3-Personal')}" for number, line in enumerate(lines, start=2)]
    return {"runs_csv": "\n".join([f"{header},security", *rows]) + "\n"}


def placed(row: int, code: str, words: str, **cells: str) -> Mistake:
    return Mistake(True, row, code, words, by_loss({row: cells}))


def logged(code: str, words: str, log: str, answers: dict[str, float | None]) -> Mistake:
    """Row 2 takes its throughput from *log*."""
    parts = {"runs_csv": runs({2: {"throughput_mbit_s": ""}}), "logs__near_csv": log}
    return Mistake(True, 2, code, words, parts, answers)


def rates(rows: Iterable[tuple[float, float]]) -> str:
    return "t_s,mbit_s\n" + "".join(f"{t:g},{mbit_s:g}\n" for t, mbit_s in rows)


COPIED = {"when": "2025-05-12 14:01", "level_dbm": "-38", "throughput_mbit_s": "906"}
MISTAKES = [
    mistyped(
        3, True, "level-positive", "38 is positive. A received level is below 0 dBm. Did you mean", level_dbm="38"
    ),
    mistyped(3, True, "level-zero", "0", level_dbm="0"),
    mistyped(3, True, "level-percent", "percent", level_dbm="87%"),
    mistyped(3, True, "level-too-strong", "-4", level_dbm="-4"),
    mistyped(3, True, "level-too-weak", "-112", level_dbm="-112"),
    mistyped(3, True, "factor-8", "113.25 MB/s would be 906.0 Mbit/s", throughput_mbit_s="113.25"),
    mistyped(3, True, "factor-1000", "0.906 Gbit/s would be 906.0 Mbit/s", throughput_mbit_s="0.906"),
    mistyped(3, False, "odd-repeat", "the median of the other repeats", throughput_mbit_s="600"),
    mistyped(3, True, "above-phy", "1201 is above 1200.98 Mbit/s", throughput_mbit_s="1201"),
    mistyped(3, True, "zero", "did the run fail (write DNF), or was zero really measured", throughput_mbit_s="0"),
    mistyped(3, True, "blank", "", throughput_mbit_s=""),
    mistyped(3, True, "not-available", "", throughput_mbit_s="n/a"),
    mistyped(4, True, "copied-row", "a copy of row 3, the time included", **COPIED),
    mistyped(4, False, "level-off", "dB off the other repeats of its cell", level_dbm="-45"),
    mistyped(3, False, "other-day", "The run is of 2025-05-11, its session of 2025-05-12", when="2025-05-11 14:01"),
    mistyped(9, False, "two-at-once", "has another run at this instant", when="2025-05-12 14:06"),
    placed(3, "channel-not-in-band", "The 5 GHz band has no channel 6. It is one of 2.4 GHz.", channel="6"),
    placed(3, "place-differs", "S1 loses 54.8 dB by its readings, but attenuation_db says 85 dB.", attenuation_db="85"),
    Mistake(
        True,
        3,
        "loss-and-repeat-swapped",
        "A loss of 2 dB in repeat 55: are the two columns swapped?",
        by_loss({3: {"spot": "", "attenuation_db": "2", "repeat": "55"}}),
    ),
    Mistake(
        True,
        14,
        "copied-block",
        "400, 406, 395: the same three values in a row stand at another place, from runs.csv row 8 on.",
        {"runs_csv": runs({8 + k: {"throughput_mbit_s": value} for k, value in enumerate(("400", "406", "395"))})},
    ),
    Mistake(
        True,
        3,
        "security",
        "is not how a security is named: at most 40 plain letters, digits and signs. Write it such as WPA3-Personal",
        secured({3: "無線" * 20}),
    ),
    Mistake(
        False,
        2,
        "like-a-cable",
        "that is what a 1 Gbit/s cable carries. Was a cable left in",
        {
            "runs_csv": runs(
                {2 + 6 * n + k: {"throughput_mbit_s": f"{941 + k / 2}", "log": ""} for n in range(4) for k in range(3)}
            )
        },
    ),
    Mistake(
        False,
        23,
        "swapped-directions",
        "Were the directions swapped?",
        {"runs_csv": runs({20 + k: {"direction": "up" if k < 3 else "down"} for k in range(6)})},
    ),
    Mistake(
        False,
        2,
        "link-differs",
        "Did the radio fall back",
        {"logs__near_csv": LOG.format(mbit_s=900, width=40, band=5)},
    ),
    Mistake(
        False, 2, "log-differs", "the mean of its log", {"logs__near_csv": LOG.format(mbit_s=850, width=80, band=5)}
    ),
    Mistake(
        False,
        2,
        "cached-pages",
        "Was the cache left on?",
        {"logs__pages_csv": "t_s,ms,outcome\n0,2,finished\n300,3,finished\n"},
    ),
    Mistake(
        True,
        3,
        "negative-latency",
        "did a clock jump",
        {"logs__talk_csv": "t_s,ms,outcome\n0,9,finished\n1,-3,finished\n"},
    ),
    Mistake(
        True, 4, "clock-jump", "The time goes backwards", {"logs__talk_csv": "t_s,ms,outcome\n0,9,ok\n5,9,ok\n4,9,ok\n"}
    ),
    Mistake(
        False,
        3,
        "skew",
        "Do the clocks agree?",
        {"logs__talk_csv": "start,ms,outcome\n2025-05-12T16:00:03Z,9,ok\n2025-05-12T16:09:00Z,9,ok\n"},
    ),
    Mistake(
        True,
        3,
        "logs-apart",
        "is a time zone missing?",
        {
            "stations_csv": "when,client,role,log\n2025-05-12 18:00,wrenlet-u2,pages,logs/pages.csv\n"
            "2025-05-12 20:00,skarn-r2,talk,logs/talk.csv\n"
        },
    ),
    # By hand: 30 s of 900 in 630 s; with zeros 42.86.
    logged(
        "log-not-covered",
        "covers 30 s of a run of 10.5 min; its longest gap is 10 min, from 15 s on. Did no data come then",
        rates((t + 600 * (t > 14), 900) for t in range(30)),
        {"no data came": 27000 / 630, "not logged": 900},
    ),
    # By hand: 900 for 10 s and nothing for 20 are 300 on average.
    logged(
        "rate-stopped",
        "The run stopped at 10 s: from there to the end of the log, at 30 s, the rate is 0.",
        rates((t, 900 if t < 10 else 0) for t in range(30)),
        {"finished": 300, "did not finish": None},
    ),
    logged(
        "steps-not-seconds",
        "Read as seconds, the log has a row every 1000 s and lasts 483.3 min",
        rates((1000 * t, 900) for t in range(30)),
        {"seconds": 900, "milliseconds": 900},
    ),
    # By hand: 30 x 900 are 27000; averaged in, 54000 over 31 rows.
    logged(
        "sum-row",
        "The last row, 27000 Mbit/s, is the sum of the 30 before it.",
        rates((t, 900 if t < 30 else 27000) for t in range(31)),
        {"left out": 900},
    ),
    # By hand: 20 MB more each second are 160 Mbit/s; read as amounts, 20 to 200 MB are 110 on average, 880 Mbit/s.
    logged(
        "counter-not-amount",
        "The bytes only grow, from 20000000 in the first row to 200000000 in the last.",
        "t_s,seconds,bytes\n" + "".join(f"{t},1,{20_000_000 * (t + 1)}\n" for t in range(10)),
        {"counter": 160, "amounts": 880},
    ),
    logged(
        "log-of-another-row",
        "logs/near.csv runs from 2025-05-10 12:00:00Z, for 29 s; its row is of 2025-05-12 12:00:00Z. Another row's log",
        "start,mbit_s\n" + "".join(f"2025-05-10T12:00:{t:02}Z,900\n" for t in range(30)),
        {"another clock": 900},
    ),
    Mistake(
        True,
        3,
        "log-used-twice",
        "logs/near.csv stands for rows 2 and 3: one log is one run. Which row is its own?",
        {"runs_csv": runs({3: {"log": "logs/near.csv"}})},
        {"both": 900},
    ),
    Mistake(
        True,
        3,
        "request-outlasts-log",
        "A request took 11.67 min, longer than its run, which was planned to last 10 min.",
        {"logs__talk_csv": "t_s,ms,outcome\n" + "".join(f"{n},{700_000 if n == 9 else 20},ok\n" for n in range(600))},
        {"latencies": 900},
    ),
    Mistake(
        True,
        3,
        "log-kind",
        "A role points to a log of requests, and this one logs a throughput.",
        {"logs__talk_csv": rates((t, 20) for t in range(600))},
    ),
]


@pytest.fixture
def checked(write_batch):
    return lambda parts: check_batch(write_batch(**parts), catalog=None)


def test_a_clean_bench_is_silent(checked, write_batch):
    report = checked(clean())
    assert (report.problems, report.warnings) == ((), ())
    assert report.rows_new == report.rows_read == 20 + 24 + 2 + 1
    assert len(check(read_batch(write_batch(**clean())), None).logs) == 4  # all of them were read


def test_every_mistake_has_a_code_of_its_own():
    codes = [mistake.code for mistake in MISTAKES]
    assert len(codes) == len(set(codes))


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.code)
def test_the_mistake_is_named_where_it_stands_and_nothing_else_is(checked, mistake):
    report = checked(clean(**mistake.parts))
    (named,) = report.problems if mistake.held else report.warnings
    if mistake.held:  # beside a value that is held, its siblings as typed may look odd (story 6)
        assert {warning.code for warning in report.warnings} <= {"odd-repeat"}
    assert (named.code, named.row) == (mistake.code, mistake.row)
    assert mistake.words in str(named)
    assert named.expected[-1] in ".?"
    spoken = str(named).replace(f'cause = "{mistake.code}"', "")  # a code is only shown where it answers
    assert mistake.code.count("-") == 0 or mistake.code not in spoken
    assert all(f'"{answer}"' in named.remedy for answer in mistake.answers)
    assert (report.rows_new < report.rows_read) == mistake.held
    assert mistake.held or report.problems == ()


@pytest.mark.parametrize(
    ("mistake", "means"),
    [(m, means) for m in MISTAKES for means in m.answers],
    ids=lambda part: getattr(part, "code", part),
)
def test_an_answer_settles_the_question_as_it_says(write_batch, tmp_path, mistake, means):
    table = "stations" if "logs__talk_csv" in mistake.parts else "runs"
    answer = f'[[answer]]\ncause = "{mistake.code}"\ntable = "{table}"\nrow = {mistake.row}\nmeans = "{means}"\n'
    enter_batch(write_batch(**clean(**mistake.parts, answers_toml=answer)), into=tmp_path / "catalog.db", now=NOW)
    with sqlite3.connect(tmp_path / "catalog.db") as db:
        found = db.execute("SELECT throughput_mbit_s, outcome FROM run WHERE source_row = 2").fetchone()
    value = mistake.answers[means]
    assert found == (pytest.approx(value), "finished") if value is not None else (None, "did not finish")


def test_a_band_that_differs_from_the_log_is_listed(checked):
    (named,) = checked(clean(logs__near_csv=LOG.format(mbit_s=900, width=80, band="2.4"))).warnings
    assert "band is 5 in the row, but 2.4 in its log" in str(named)


def test_a_version_that_lost_its_zero_proposes_the_registered_one(checked):
    (named,) = checked(
        clean(runs_csv="firmware," + runs().replace("\n2025", "\n7.1,2025", 1).replace("\n2025", "\n7.10,2025"))
    ).problems
    assert (named.row, named.code) == (2, "lost-zero")
    assert "7.10" in str(named)
