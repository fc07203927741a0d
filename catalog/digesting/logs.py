"""A log as arrays of whole numbers: throughput by interval, or requests one by one. Times count from its start. [us]"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from catalog.digesting.coverage import interval_lengths

FINISHED, FAILED, NOT_MADE = 0, 1, 2

Kind = Literal["throughput", "requests"]
Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Codes = NDArray[np.int8]


@dataclass(frozen=True)
class Log:
    """One log.

    t_us         start of each interval or request, from the start of the log. [us]
    started      the instant of t = 0, where the log states instants
    rate_bit_s   throughput of each interval. [bit/s]
    span_us      length of each interval, where the log states it. [us]
    latency_us   time to the answer, -1 where none came. [us]
    outcome      FINISHED, FAILED or NOT_MADE
    amount_b     bytes that came with each answer, -1 where not stated. [byte]
    link         what the log says of its link, as typed: "width_mhz", "band", "channel" -> all its values
    rows         first and last row of the file that were kept, as it counts them
    places       which rows of the file these are, counted from 0; None for all of them
    warm_up_us   left out at the beginning, as its map says. [us]
    before_us, after_us  time of rows without a measured value before the first one that has one, and after the last. [us]
    stated_lengths  whether the log states the length of its intervals
    from_amounts    whether rates were made of bytes and lengths
    """

    kind: Kind
    t_us: Whole
    started: dt.datetime | None = None
    rate_bit_s: Whole | None = None
    span_us: Whole | None = None
    latency_us: Whole | None = None
    outcome: Codes | None = None
    amount_b: Whole | None = None
    link: Mapping[str, frozenset[str]] = field(default_factory=dict)
    rows: tuple[int, int] | None = None
    places: Whole | None = None
    warm_up_us: int = 0
    before_us: int = 0
    after_us: int = 0
    stated_lengths: bool = False
    from_amounts: bool = False

    def __len__(self) -> int:
        return len(self.t_us)

    @cached_property
    def spans_us(self) -> Whole:
        """Length of every interval: as stated, else by where each begins. [us]"""
        return lengths_us(self.t_us) if self.span_us is None else self.span_us


def lengths_us(t_us: Whole) -> Whole:
    """Lengths of intervals by their starts (`interval_lengths`); a single row is taken to last 1 s. [us]"""
    return interval_lengths(t_us) if len(t_us) > 1 else np.array([1_000_000], dtype=np.int64)
