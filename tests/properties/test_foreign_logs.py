"""Foreign logs as programs and spreadsheets write them, and damaged: read exactly, or refused in words.

What a damaged log says is decided by a slow reader of its own, cell by cell in whole fractions, which shares no code
with the program. LIKELOSS_FUZZ says how many cases (150 without it), LIKELOSS_FUZZ_FROM with which seed to begin.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import random
import re
from fractions import Fraction

import pytest

from catalog.checking.log_guards import closing_sum, only_growing
from catalog.checking.times import read_instant
from catalog.checking.troubles import Trouble
from catalog.digesting.logs import FAILED, FINISHED, Log
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import ReadingMap, read_map

CASES = int(os.environ.get("LIKELOSS_FUZZ", "150"))
FIRST = int(os.environ.get("LIKELOSS_FUZZ_FROM", "0"))
UTC = "UTC"


def instant(text):
    moment = read_instant(text, UTC)
    return f"{moment.expected} {moment.remedy}" if isinstance(moment, Trouble) else moment


def read(text, plan):
    plan = read_map("maps/x.toml", plan.encode())
    assert isinstance(plan, ReadingMap), plan
    return read_mapped_log("log", text if isinstance(text, bytes) else text.encode(), plan, instant=instant)


# --- Logs whose content is known, written in many ways ----------------------------------------------------------


def written(value: Fraction, places: int, mark: str) -> str:
    whole = round(value * 10**places)
    digits = f"{abs(whole):0{places + 1}d}"
    return ("-" if whole < 0 else "") + (digits[:-places] + mark + digits[-places:] if places else digits)


@pytest.mark.parametrize("seed", range(FIRST, FIRST + CASES))
def test_a_log_is_read_as_it_was_written(seed):
    chance = random.Random(seed)
    count = chance.randint(4, 40)
    separator = chance.choice([",", ";", "\t"])
    mark = "," if separator != "," and chance.random() < 0.5 else "."
    quoted = separator == "," and chance.random() < 0.3
    if quoted and chance.random() < 0.5:
        mark = ","
    places = chance.choice([1, 2, 4])
    times_as = chance.choice(["s", "ms", "ns", "clock", "written", "day first", "month first"])
    requests = chance.random() < 0.5
    day = dt.datetime(2025, 5, chance.choice([3, 14, 30]), 23, 59, chance.randint(30, 58))
    steps = [chance.choice([1, 2]) for _ in range(count)]
    since = [sum(steps[:n]) for n in range(count)]
    values = [Fraction(chance.randint(1, 9_000_000), 10**places) for _ in range(count)]
    lost = {n for n in range(1, count) if requests and chance.random() < 0.2}
    word = chance.choice(["lost", "timeout", "no reply"])
    unit = chance.choice(["us", "ms", "s"] if requests else ["kbit/s", "bit/s", "MB/s"])

    def cell(n, name):
        if name == "value":
            return word if n in lost else written(values[n], places, mark)
        if name == "note":
            return chance.choice(["", "ok", "a"])
        if times_as in ("s", "ms", "ns"):
            return str(since[n] * {"s": 1, "ms": 1000, "ns": 10**9}[times_as])
        at = day + dt.timedelta(seconds=since[n])
        return at.strftime(
            {"clock": "%H:%M:%S", "written": "%Y-%m-%d %H:%M:%S", "day first": "%d.%m.%Y %H:%M:%S"}.get(
                times_as, "%m/%d/%Y %H:%M:%S"
            )
        )

    names = ["at", "value", "note"]
    chance.shuffle(names)
    rows = [[cell(n, name) for name in names] for n in range(count)]
    heading = list(names)
    lines = [heading]
    has_units = chance.random() < 0.2 and times_as in ("s", "ms", "ns")
    if has_units:
        lines.append([{"at": times_as, "value": unit, "note": ""}[name] for name in names])
    lines += rows
    if chance.random() < 0.2:
        lines.insert(chance.randint(len(lines) - count + 1, len(lines)), heading)
    for _ in range(chance.choice([0, 0, 3])):
        lines.insert(chance.randint(0, len(lines)), [])
    file = io.StringIO()
    quoting = csv.QUOTE_ALL if quoted else csv.QUOTE_MINIMAL
    csv.writer(file, delimiter=separator, quoting=quoting, lineterminator=chance.choice(["\n", "\r\n"])).writerows(
        lines
    )
    text = file.getvalue()
    if chance.random() < 0.2:
        text = f"sep={separator}\n{text}"
    encoding = chance.choice(["utf-8", "utf-8-sig", "utf-16"])
    target = "start" if times_as in ("written", "day first", "month first") else "t_s"
    plan = f'kind = "{"requests" if requests else "throughput"}"\nformat = "csv"\n[column.{target}]\nfrom = "at"\n'
    plan += f'unit = "{times_as}"\n' if times_as in ("s", "ms", "ns") else ""
    plan += f"day_first = {json.dumps(times_as == 'day first')}\n" if times_as in ("day first", "month first") else ""
    plan += f'[column.{"ms" if requests else "rate"}]\nfrom = "value"\nunit = "{unit}"\n'
    plan += f'failed = ["{word}"]\n' if requests else ""
    log = read(text.encode(encoding), plan)
    assert isinstance(log, Log), (seed, [str(problem) for problem in log], text)
    assert [int(t) - int(log.t_us[0]) for t in log.t_us] == [10**6 * (t - since[0]) for t in since]
    size = {"us": 1, "ms": 1000, "s": 10**6, "kbit/s": 1000, "bit/s": 1, "MB/s": 8 * 10**6}[unit]
    got = log.latency_us if requests else log.rate_bit_s
    for n in range(count):
        wanted = -1 if n in lost else values[n] * size
        assert abs(int(got[n]) - wanted) <= Fraction(1, 2) + Fraction(1, 10**6), (seed, n, text)
    if requests:
        assert log.outcome.tolist() == [FAILED if n in lost else FINISHED for n in range(count)]
    if target == "start":
        assert log.started.replace(tzinfo=None) == day + dt.timedelta(seconds=since[0])


# --- Damaged logs, held against a slow reader -------------------------------------------------------------------

NUMBER = {
    ".": re.compile(r"[+-]?(\d+|[1-9]\d{0,2}(,\d{3})+)?(\.\d*)?(e[+-]?\d+)?", re.I),
    ",": re.compile(r"[+-]?(\d+|[1-9]\d{0,2}(\.\d{3})+)?(,\d*)?", re.I),
}


def meanings(cell: str) -> dict[str, Fraction]:
    """Every value a cell can have, by decimal mark."""
    values = {}
    for mark, shape in NUMBER.items():
        if shape.fullmatch(cell) and re.search(r"\d", cell):
            values[mark] = Fraction(cell.replace("," if mark == "." else ".", "").replace(mark, "."))
    return values


def slowly(text: str, separator: str, missing: str) -> list[tuple[Fraction, Fraction | None]] | None:
    """Time and value of every row; None where some row does not say one."""
    records = [
        r for r in csv.reader(io.StringIO(text, newline=""), delimiter=separator) if any(c.strip(" ,;\t") for c in r)
    ]
    if not records:
        return None
    heading, *rows = [[cell.strip() for cell in record] for record in records]
    if heading.count("at") != 1 or heading.count("value") != 1:
        return None
    at, value = heading.index("at"), heading.index("value")
    rows = [row for row in rows if max(at, value) >= len(row) or (row[at], row[value]) != ("at", "value")]
    if rows and {rows[0][place] for place in (at, value) if place < len(rows[0])} == {"s", "Mbit/s"}:
        rows = rows[1:] if rows[0][at] == "s" else rows
    cells = [[row[place] if place < len(row) else "" for place in (at, value)] for row in rows]
    if any(any(row[len(heading) :]) for row in rows):
        return None
    cells = [pair for pair in cells if any(pair)]
    proofs = {
        mark
        for pair in cells
        for cell in pair
        if ("." in cell or "," in cell) and len(meanings(cell)) == 1
        for mark in meanings(cell)
    }
    quoted = '"' in text.lstrip(" ,;\t\n").partition("\n")[2]
    mark = proofs.pop() if len(proofs) == 1 else "." if not proofs and separator == "," and not quoted else None

    def number(cell):
        choice = meanings(cell)
        if len(set(choice.values())) == 1:
            return next(iter(choice.values()))
        return choice.get(mark) if mark else None

    read_rows = []
    for time, typed in cells:
        begin, rate = number(time), number(typed) if typed not in ("", missing) else None
        if begin is None or (rate is None and typed not in ("", missing)):
            return None
        read_rows.append((begin, rate))
    return read_rows


def damaged(text: str, chance: random.Random) -> str:
    lines = text.split("\n")
    for _ in range(chance.randint(1, 3)):
        row = chance.randrange(len(lines))
        line = lines[row]
        place = chance.randint(0, len(line))
        what = chance.randrange(12)
        if what == 0:
            lines[row] = line[:place] + chance.choice(list(",.;\t -e+x09\"'_µ")) + line[place:]
        elif what == 1:
            lines[row] = line[:place] + line[place + 1 :]
        elif what == 2:
            lines.insert(row, chance.choice(["", "  ", lines[0], "s,Mbit/s", ",,", line]))
        elif what == 3:
            lines[row] = line.replace(".", ",", 1)
        elif what == 4:
            lines.append(chance.choice(["total,15000", "99,15000", "Summe;;"]))
        elif what == 5:
            lines[row] = ",".join(reversed(line.split(",")))
        elif what == 6:
            lines[row] = re.sub(
                r"\d+(?=[^\d]*$)", chance.choice(["lost", "n/a", "nan", "1.024", "1,024", "0x1F", "²"]), line
            )
        elif what == 7:
            lines = [line.replace(",", ";") for line in lines]
        elif what == 8:
            lines = [line.replace(".", ",") for line in lines]
        elif what == 9:
            lines[row] = '"' + line.replace(",", '","') + '"'
        elif what == 10:
            del lines[row]
        else:
            lines[row] = line + chance.choice([",", ",5", " kbit/s", ";"])
        lines = lines or [""]
    return "\n".join(lines)


@pytest.mark.parametrize("seed", range(FIRST, FIRST + 4 * CASES))
def test_a_damaged_log_is_read_exactly_or_refused(seed):
    chance = random.Random(seed)
    places = chance.choice([0, 1, 3])
    rows = [
        f"{n},{written(Fraction(chance.randint(1, 900_000), 1000), places, '.')}" for n in range(chance.randint(2, 12))
    ]
    text = damaged("\n".join(["at,value", *rows, ""]), chance)
    plan = 'kind = "throughput"\nformat = "csv"\n[column.t_s]\nfrom = "at"\n[column.rate]\nfrom = "value"\n'
    log = read(text, plan + 'unit = "Mbit/s"\nmissing = ["n/a"]\n')
    if isinstance(log, list):
        assert log
        assert all(problem.expected for problem in log)
        return
    heading = next(line for line in text.split("\n") if line.strip(" ,;\t"))
    expected = slowly(text, max((",", ";", "\t"), key=heading.count), "n/a")
    assert expected is not None, (seed, text, log.t_us, log.rate_bit_s)
    measured = [(t * 10**6, rate * 10**6) for t, rate in expected if rate is not None]
    assert len(log) == len(measured), (seed, text)
    for t, rate, (wanted_t, wanted_rate) in zip(log.t_us.tolist(), log.rate_bit_s.tolist(), measured, strict=True):
        assert abs(t - wanted_t) <= 1, (seed, text)
        assert abs(rate - wanted_rate) <= 1, (seed, text)


@pytest.mark.parametrize("seed", range(FIRST, FIRST + CASES))
def test_json_lines_are_read_exactly_or_refused(seed):
    """Values of every type under a nested key, and rows of other links, held against the library's own reading."""
    chance = random.Random(seed)
    odd = [None, -1, "-1", "", "512.5", True, [1], {"x": 1}, "lost", 1e400, 2**70, "1_0", "nan", -5, 0.1, 1.024]
    lines, expected, time = [], [], 0
    for n in range(chance.randint(2, 12)):
        time += chance.choice([1, 1, 2])
        value = chance.choice([chance.randint(0, 900), chance.random() * 900])
        if chance.random() < 0.1:
            value = chance.choice(odd)
        row = {"n": {"begin": time * 1000, "rate": value}, "link": chance.choice(["a", "a", "b", 1, None])}
        if chance.random() < 0.05:
            del row["n"]["rate"]
        lines.append(json.dumps(row) if n % 5 else f" {json.dumps(row)}\r")
        if row["link"] == "a":
            expected.append((time, row["n"].get("rate")))
        if chance.random() < 0.1:
            lines.append(chance.choice(["", "  ", "{}", "[]", "{", "1", "{},{}"]))
    plan = """kind = "throughput"
        format = "jsonl"
        [column.t_s]
        from = "$.n.begin"
        unit = "ms"
        [column.rate]
        from = "$.n['rate']"
        unit = "Mbit/s"
        missing = [-1]
        [[where]]
        column = "$.link"
        is = "a"
    """
    log = read("\n".join(lines), plan)
    if isinstance(log, list):
        assert all(problem.expected for problem in log)
        return
    assert not {"{", "{},{}"} & set(lines)
    numbers = [(t, None if v in (None, "", -1, "-1") else v) for t, v in expected]
    assert all(v is None or (isinstance(v, int | float | str) and not isinstance(v, bool)) for _, v in numbers)
    wanted = [(t * 10**6, round(Fraction(str(v)) * 10**6)) for t, v in numbers if v is not None]
    assert list(zip(log.t_us.tolist(), log.rate_bit_s.tolist(), strict=True)) == wanted, (seed, lines)


def test_a_closing_sum_and_a_counter_are_asked_about():
    plan = 'kind = "throughput"\nformat = "csv"\n[column.t_s]\nfrom = "t"\n[column.bytes]\nfrom = "b"\n'
    rows = "".join(f"{n},{30_000_000 + n % 3}\n" for n in range(30))
    assert closing_sum(read(f"t,b\n{rows}30,{sum(30_000_000 + n % 3 for n in range(30))}\n", plan))
    assert only_growing(read("t,b\n" + "".join(f"{n},{30_000_000 * n}\n" for n in range(30)), plan))
