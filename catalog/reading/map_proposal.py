"""A reading map proposed from a foreign log itself. A proposal is for a person to correct: it guesses, the map does not.

A unit is written only where a header states it or the numbers prove it. What the file does not tell is a question;
where the map cannot be read before it is answered, "?" stands in its place.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from catalog.digesting.logs import Log
from catalog.errors import InputRefused
from catalog.reading import column_guesses as guesses
from catalog.reading.candidates import Candidate, read_candidates, read_content
from catalog.reading.folder import open_folder
from catalog.reading.header_units import stated_units
from catalog.reading.logs import OUTCOME_WORDS
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import read_map
from catalog.whole_files import whole_file

SHOWN = 5
UNKNOWN = "?"

_LATENCY = re.compile(r"latency|rtt|delay|round_?trip")
_TOOK = re.compile(r"elapsed|duration|took|(^|[^a-z])ms([^a-z]|$)")
_OUTCOME = re.compile(r"outcome|result|success|status|state|error")
_MISSING = frozenset({"-", "--", "n/a", "na", "nan", "null", "none", "nil", "?"})
_FAILED = re.compile(
    r"lost|loss|time[ds]?[ _-]?out|fail(ed|ure)?|error|no (reply|answer|response)|dropped|unreachable", re.I
)
_FINISHED = re.compile(r"success(ful)?|done|complete[d]?|answered|received|finished|ok", re.I)
_ASKED = {"rate": "Mbit/s, kbit/s, bit/s or MB/s", "bytes": "B, kB or MB", "ms": "s, ms, us or ns"}
_QUANTITY = {"rate": "rate", "bytes": "data", "ms": "time"}


@dataclass(frozen=True)
class Proposal:
    """A map as TOML text, the first rows read through it, what was taken for granted, and what only a person can say.

    kind  the table that a sheet becomes; "" for a log
    """

    text: str
    first: tuple[str, ...]
    notes: tuple[str, ...]
    questions: tuple[str, ...]
    kind: str = ""


@dataclass
class _Draft:
    """A map as far as it is written.

    asked  whether the map cannot be used before a question is answered
    """

    kind: str
    head: list[str]
    lines: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)
    asked: bool = False
    used: list[Candidate] = field(default_factory=list)

    def add(self, name: str, column: Candidate, unit: str | None) -> None:
        """A column with its unit; None for one that has none."""
        self.lines += ["", f"[column.{name}]", f"from = {json.dumps(column.source, ensure_ascii=False)}"]
        self.lines += [f'unit = "{unit}"'] if unit else []
        self.used.append(column)

    def add_value(self, name: str, column: Candidate, proved: str | None = None) -> None:
        """A measured column, in the unit that its header states or that the numbers prove."""
        units = stated_units(column.header, _QUANTITY[name])
        if len(units) == 1 or proved:
            self.add(name, column, guesses.unit_name(units[0].name) if len(units) == 1 else proved)
        else:
            self.add(name, column, UNKNOWN)
            self.asked = True
            choice = " or ".join(unit.name for unit in units) or _ASKED[name]
            self.questions.append(f"{column.source} does not say its unit. Write it in [column.{name}]: {choice}.")
        self.add_marks(name, column)

    def add_marks(self, name: str, column: Candidate) -> None:
        """What stands in a column of numbers or written times for a failure, or for nothing measured."""
        requests = self.kind == "requests"
        # A written time is no number either; what has no digit in it is no time.
        words = [word for word in column.words if column.numeric or not any(map(str.isdigit, word))]
        failed = [word for word in words if requests and _FAILED.fullmatch(word)]
        missing = [word for word in words if word.casefold() in _MISSING]
        unclear = [word for word in words if word not in failed and word not in missing]
        if (below := guesses.sentinel(column)) is not None:
            (failed if requests and name == "ms" else missing).append(below)
        for key, texts, meaning in (
            ("missing", missing, "not measured"),
            ("failed", failed, "the request failed"),
        ):
            if texts:
                self.lines.append(f"{key} = {json.dumps(texts, ensure_ascii=False)}")
                are = "is" if len(texts) == 1 else "are"
                self.notes.append(f"{' and '.join(texts)} in {column.source} {are} taken for “{meaning}”.")
        if unclear:
            self.asked = True
            listed = "missing or failed" if requests else "missing"
            shown = " and ".join(repr(word) for word in unclear[:3])
            self.questions.append(f"What does {shown} in {column.source} mean? List it as {listed} in [column.{name}].")


def propose_map(path: Path) -> Proposal:
    """Propose a map for a log. Raises InputRefused for a file no log could be in."""
    content = read_content(path)
    form, rows_path, columns = read_candidates(path, content)
    split = guesses.split_of(columns)
    draft = _drafted(form, rows_path, guesses.only(columns, split) if split else columns)
    if split:
        apart = ", ".join(guesses.texts_of(columns, split[0]))
        draft.notes.insert(0, f"{split[0]} tells several logs apart: {apart}. The map keeps one; write one for each.")
        draft.lines += ["", "[[where]]", f"column = {json.dumps(split[0])}", f"is = {json.dumps(split[1])}"]
    text = "\n".join([*draft.head, *draft.lines]) + "\n"
    if draft.asked:
        return Proposal(text, (), tuple(draft.notes), tuple(draft.questions))
    plan = read_map("the proposed map", text.encode())
    if isinstance(plan, list):
        raise InputRefused("No map can be proposed: " + " ".join(str(p) for p in plan))
    log = read_mapped_log(path.name, content, plan, instant=guesses.instant)
    if isinstance(log, list):
        draft.notes.append("Read through this map the log is refused, so it needs a hand: " + str(log[0]))
        return Proposal(text, (), tuple(draft.notes), tuple(draft.questions))
    return Proposal(text, _first_rows(log), tuple(draft.notes), tuple(draft.questions))


def _drafted(form: str, rows: str | None, columns: Sequence[Candidate]) -> _Draft:
    time = guesses.time_of(columns)
    if time is None:
        raise InputRefused("No column runs forward like a time, so this cannot be read as a log.")
    others = [c for c in columns if c is not time]
    unit = guesses.time_unit(time) if time.numeric else ""
    end = guesses.end_of(time, others)
    latency = guesses.named(others, _LATENCY)
    amount = guesses.named([c for c in others if not guesses.CUMULATIVE.search(c.name)], guesses.BYTES)
    rate = guesses.named(others, guesses.RATE)
    carried = latency is None and (amount is not None or rate is not None)
    took = latency or (None if carried else guesses.named([c for c in others if c is not end], _TOOK))
    if not carried and took is None and end is None:
        raise InputRefused("No column looks like bytes, a throughput or a latency. Write the map by hand.")
    kind = "throughput" if carried else "requests"
    draft = _Draft(kind, [f'kind = "{kind}"', f'format = "{form}"'])
    draft.head += [f"rows = {json.dumps(rows)}"] if rows else []
    _add_time(draft, time, unit)
    if carried:
        _add_length(draft, time, unit, end, [c for c in others if c not in (amount, rate)])
        if amount is not None and rate is not None and not stated_units(amount.header, "data"):
            amount = None if len(stated_units(rate.header, "rate")) == 1 else amount
        if amount is not None:
            draft.add_value("bytes", amount)
            if guesses.only_grows(amount):
                draft.questions.append(f"{amount.source} only grows. Is it a counter that was never set back?")
        elif rate is not None:
            draft.add_value("rate", rate)
    else:
        _add_latency(draft, time, unit, end, took)
        if amount is not None:
            draft.add_value("bytes", amount)
        _add_outcome(draft, [c for c in others if c not in (took, end, amount)])
    if any(column.ambiguous for column in draft.used if column.numeric):
        draft.head.append(f'decimal = "{UNKNOWN}"')
        draft.asked = True
        draft.questions.append('Is 1.024 more or less than 2? Nothing in the file tells. Write decimal = "." or ",".')
    return draft


def _add_time(draft: _Draft, time: Candidate, unit: str) -> None:
    began = guesses.unix_start(time, unit) if unit else None
    clock = guesses.timed_by_clock(time)
    draft.add("t_s" if clock or (unit and began is None) else "start", time, unit)
    if began is not None:
        draft.notes.append(f"{time.source} is taken for Unix time; then the log begins at {began:%Y-%m-%d %H:%M:%S}Z.")
    if clock:
        draft.notes.append(f"{time.source} has no date: each time the clock goes back by half a day, a new day begins.")
    _ask_day(draft, time)
    if guesses.is_end(time):
        draft.notes.append(f"{time.source} is taken for the begin of each row. Is it the end?")


def _ask_day(draft: _Draft, column: Candidate) -> None:
    if guesses.day_unsettled(column):
        draft.lines.append(f'day_first = "{UNKNOWN}"')
        draft.asked = True
        first = next(text for text in column.texts if text)
        draft.questions.append(f"Does the day come first in {first!r}? Write day_first = true or false.")


def _add_end(draft: _Draft, end: Candidate, unit: str) -> None:
    stated = stated_units(end.header, "time") if unit else ()
    draft.add("end", end, guesses.unit_name(stated[0].name) if len(stated) == 1 else unit)
    _ask_day(draft, end)


def _add_length(draft: _Draft, time: Candidate, unit: str, end: Candidate | None, others: Sequence[Candidate]) -> None:
    """What says how long a row lasts: a length, else an end, else the next row."""
    step_s = guesses.interval(time) / guesses.PER_SECOND[unit] if unit else None
    if (length := guesses.length_of([c for c in others if c is not end], step_s)) is not None:
        draft.add("seconds", *length)
    elif end is not None:
        _add_end(draft, end, unit)
    else:
        draft.notes.append("Nothing says how long a row lasts: each is taken to last until the next one begins.")


def _add_latency(draft: _Draft, time: Candidate, unit: str, end: Candidate | None, took: Candidate | None) -> None:
    """A latency in a unit that is known, else from begin and end, else one whose unit is asked."""
    stated = took is not None and len(stated_units(took.header, "time")) == 1
    if took is not None and (stated or end is None):
        draft.add_value("ms", took)
    elif end is not None:
        proved = guesses.span_unit(took, time, end, unit) if took is not None and unit else None
        if took is not None and proved is not None:
            draft.add_value("ms", took, proved)
        else:
            _add_end(draft, end, unit)
            draft.add_marks("end", end)


def _add_outcome(draft: _Draft, others: Sequence[Candidate]) -> None:
    """A column of words for how requests ended, where each of them is known; else a question."""
    outcome = next((c for c in others if _OUTCOME.search(c.name) and any(c.texts)), None)
    if outcome is None:
        return
    meant: dict[str, str] = {}
    for text in sorted(set(outcome.texts)):
        plain = text.strip().casefold().replace("_", " ")
        if text in ("true", "false") and re.search("success|ok", outcome.name):
            meant[text] = "finished" if text == "true" else "failed"
        elif text and plain not in OUTCOME_WORDS and (_FAILED.fullmatch(plain) or _FINISHED.fullmatch(plain)):
            meant[text] = "failed" if _FAILED.fullmatch(plain) else "finished"
        elif not text or plain not in OUTCOME_WORDS:
            draft.questions.append(
                f"Does {outcome.source} say how requests ended? Add [column.outcome] with its words."
            )
            return
    draft.add("outcome", outcome, None)
    if meant:
        words = ", ".join(
            f"{json.dumps(typed, ensure_ascii=False)} = {json.dumps(means)}" for typed, means in meant.items()
        )
        draft.lines.append(f"words = {{ {words} }}")


def write_map(text: str, name: str, *, beside: Path, batch: Path | None = None) -> Path:
    """Write a map as maps/NAME.toml where its batch looks for it, and never over another. Returns where it is.

    name    a plain one, without a folder
    beside  the log, whose nearest folder with a batch.toml is the batch, else the folder it lies in
    batch   another folder
    Raises  InputRefused: there is one of this name, or no batch; WriteRefused: it cannot be written.
    """
    folder = open_folder(batch).root if batch is not None else _batch_around(beside)
    target = folder / "maps" / f"{name}.toml"
    if target.exists():
        raise InputRefused(f"{target} exists already. Name another.")
    with whole_file(target, new=True) as file:
        file.write(text.encode())
    return target


def _batch_around(log: Path) -> Path:
    return next((folder for folder in log.resolve().parents if (folder / "batch.toml").is_file()), log.parent)


def _first_rows(log: Log) -> tuple[str, ...]:
    lines = [f"{len(log)} rows read"]
    for i in range(min(SHOWN, len(log))):
        at = f"t {log.t_us[i] / 1e6:.3f} s"
        if log.rate_bit_s is not None:
            lasts = f" for {log.span_us[i] / 1e6:.3f} s" if log.stated_lengths and log.span_us is not None else ""
            lines.append(f"{at}  {log.rate_bit_s[i] / 1e6:.3f} Mbit/s{lasts}")
        elif log.latency_us is not None:
            lines.append(f"{at}  {log.latency_us[i] / 1e3:.1f} ms" if log.latency_us[i] >= 0 else f"{at}  no answer")
    return tuple(lines)
