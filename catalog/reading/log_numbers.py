"""Numbers of a log in columns: what a reader could not make a number of, settled text by text.

A text may mean "not measured" or that a request failed, as its map lists it; else it is a number by the decimal mark
of its file (decimal_marks.py), or refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.logs import Floats
from catalog.reading.decimal_marks import plain, readings, unit_text

Mask = NDArray[np.bool_]
Places = NDArray[np.int64]
_NOTHING = np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class Numbers:
    """A piece of a column of numbers.

    values  float64, or int64 where all are whole numbers; NaN for a blank
    at      places of what is not a number yet, rising
    texts   what stands there
    marked  whether values were read from text by an assumed decimal mark
    """

    values: NDArray[Any]
    at: Places = field(default_factory=lambda: _NOTHING)
    texts: Sequence[str] = ()
    marked: bool = False

    def kept(self, mask: Mask) -> Numbers:
        """The same for some of the rows."""
        if not len(self.at):
            return Numbers(self.values[mask], marked=self.marked)
        stays = mask[self.at]
        places = (np.cumsum(mask) - 1)[self.at[stays]]
        texts = [self.texts[place] for place in np.flatnonzero(stays).tolist()]
        return Numbers(self.values[mask], places, texts, self.marked)


def only_texts(texts: Sequence[str]) -> Numbers:
    """A column of which nothing is read yet."""
    return Numbers(np.full(len(texts), np.nan), np.arange(len(texts)), texts)


@dataclass
class Evidence:
    """What the numbers of a file say about its decimal mark while it is read by an assumed one.

    decimal  the mark assumed; None: every text is read by itself, and refused where it has two readings
    stated   whether a map states the mark, so that nothing else is evidence
    seen     marks that some text proves
    unsure   whether there were numbers that another mark would make others of
    """

    decimal: str | None
    stated: bool = False
    mixed: bool = False
    seen: set[str] = field(default_factory=set)
    unsure: bool = False

    @property
    def contradicted(self) -> bool:
        """Whether a text proves another mark than the one assumed."""
        return self.decimal is not None and not self.stated and not self.seen <= {self.decimal}


@dataclass(frozen=True)
class Wrong:
    """A text that is not a number: its row in the piece, and why not."""

    row: int
    text: str
    reason: str


@dataclass(frozen=True)
class Settled:
    """A piece of a column in which everything is a number, NaN, or wrong.

    failed  rows whose text says that the request failed; None where no text can
    """

    values: NDArray[Any]
    failed: Mask | None
    wrong: Sequence[Wrong]


def settled(
    numbers: Numbers, evidence: Evidence, *, missing: frozenset[str] = frozenset(), failed: frozenset[str] = frozenset()
) -> Settled:
    """What a column says, by the decimal mark that is assumed; what it says of the mark is added to *evidence*."""
    values = numbers.values
    if numbers.marked and values.dtype.kind == "f" and evidence.decimal is not None:
        _weigh(values, evidence)
    wrong: list[Wrong] = []
    failing = np.zeros(len(values), dtype=np.bool_) if failed else None
    if len(numbers.at):
        values = values.astype(np.float64)
        quick = _quickly(numbers.texts, evidence)
        if len(numbers.at) == len(values) and quick is not None and quick.dtype.kind == "i":
            values = quick  # nanoseconds since 1970 are more than a float holds exactly
        else:
            values[numbers.at] = np.nan if quick is None else quick
            known: dict[str, float | str] = {}
            unread = np.ones(len(numbers.at), dtype=np.bool_) if quick is None else ~np.isfinite(quick)
            for place in np.flatnonzero(unread).tolist():
                typed = numbers.texts[place]
                row = int(numbers.at[place])
                if (value := known.get(typed)) is None:
                    value = known[typed] = _one(typed, evidence, missing, failed)
                if isinstance(value, float):
                    values[row] = value
                elif value == "failed" and failing is not None:
                    failing[row], values[row] = True, np.nan
                else:
                    wrong.append(Wrong(row, typed.strip(), value))
    for text in missing:
        if (number := _float(text)) is not None and (sentinel := values == number).any():
            values = np.where(sentinel, np.nan, values)
    for text in failed:
        if (number := _float(text)) is not None and (sentinel := values == number).any():
            assert failing is not None
            failing, values = failing | sentinel, np.where(sentinel, np.nan, values)
    return Settled(values, failing, wrong)


def _quickly(texts: Sequence[str], evidence: Evidence) -> NDArray[Any] | None:
    """Texts by the mark assumed; what is not finite needs a closer look. None where each needs one."""
    if evidence.decimal is None:
        return None
    import pandas as pd

    typed = list(texts)
    if evidence.decimal == ",":  # a point would be a thousands mark
        typed = ["" if "." in text else text.replace(",", ".") for text in typed]
    numbers: NDArray[Any] = pd.to_numeric(pd.Series(typed, dtype=object), errors="coerce").to_numpy()
    if numbers.dtype.kind not in "if":
        numbers = numbers.astype(np.float64)
    if numbers.dtype.kind == "f":
        _weigh(numbers[np.isfinite(numbers)], evidence)
    return numbers


def _weigh(values: Floats, evidence: Evidence) -> None:
    """Note whether values, read by the mark assumed, must have been typed with it.

    "1.024" may be a thousand and 24, "0.5", "1024.5" and "10.24" may not.
    """
    broken = values[np.isfinite(values) & (values % 1 != 0)]
    size = np.abs(broken)
    if ((size < 1) | (size >= 1000) | (np.abs(np.rint(size * 1000) / 1000 - size) > 1e-9 * size)).any():
        assert evidence.decimal is not None
        evidence.seen.add(evidence.decimal)
    elif len(values):
        evidence.unsure = True


def _one(typed: str, evidence: Evidence, missing: frozenset[str], failed: frozenset[str]) -> float | str:
    """The value of one text, "failed", or the reason why it is none."""
    text = plain(typed).strip()
    if not text or text in missing or typed.strip() in missing:
        return float("nan")
    if text in failed or typed.strip() in failed:
        return "failed"
    if unit_text(text):
        return "is not a number"
    by_mark = readings(text)
    if evidence.stated and evidence.decimal is not None:
        by_mark = {mark: value for mark, value in by_mark.items() if mark == evidence.decimal}
    if not by_mark:
        number = _float(text) if evidence.decimal == "." else None
        return "is not a number" if number is None else number
    if len(by_mark) == 1:
        ((mark, value),) = by_mark.items()
        if "." in text or "," in text:
            evidence.seen.add(mark)
        return value
    if len(set(by_mark.values())) == 1:
        return by_mark["."]
    evidence.unsure = True
    if evidence.decimal is not None:
        return by_mark[evidence.decimal]
    why = "the file uses both marks as decimal mark" if evidence.mixed else "nothing else in the file tells"
    large, small = sorted(by_mark.values(), key=abs, reverse=True)
    return f"is {large:.12g} or {small:.12g}, and {why}"


def _float(text: str) -> float | None:
    """The number a program writes as *text*; None for anything else, infinity included."""
    try:
        number = float(text)
    except ValueError:
        return None
    return number if np.isfinite(number) and "_" not in text and text.isascii() else None
