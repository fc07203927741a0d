"""Implied EIRP: how strongly a device seems to send, by what one client setup read at places of known attenuation."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject, labels
from builder.bench.cells import Cell, natural
from builder.metrics.phy import implied_eirp_dbm
from builder.pairs.verdicts import PairFigure
from catalog.figure_names import joined_id

_Z_95 = 1.959963984540054  # normal quantile of 0.975
OTHER_ADAPTER_DB = 6.0  # practice: how far two adapters may read apart at one signal


@dataclass(frozen=True, slots=True)
class ImpliedEirp:
    """Level + attenuation over the downlink cells of one device with one client setup, driver, band and width.

    mean       of the cells [dBm]
    sd         their standard deviation; None for a single one [dB]
    low, high  the least and the greatest [dBm]
    cells      those it is made of
    """

    subject: Subject
    client: str
    driver: str | None
    band: str
    width_mhz: int
    mean: float
    sd: float | None
    low: float
    high: float
    cells: tuple[Cell, ...]

    @property
    def figure(self) -> str:
        subject = self.subject
        return joined_id(
            "eirp",
            subject.id,
            subject.unit,
            subject.firmware,
            self.client,
            self.driver or "",
            self.band,
            str(self.width_mhz),
        )

    @property
    def sentence(self) -> str:
        spread = f", s {wording.decibels(self.sd)} dB" if self.sd is not None else ""
        return (
            f"It seems to send with {wording.decibels(self.mean)} dBm as this client reads it (from "
            f"{wording.count(len(self.cells), 'place')}{spread}); another client may read up to "
            f"{wording.decibels(OTHER_ADAPTER_DB)} dB differently."
        )


def implied_eirps(bench: Bench, subject: Subject) -> list[ImpliedEirp]:
    """Every implied EIRP of a subject, by band, width, client and driver; downlink cells with level and attenuation."""
    grouped: dict[tuple[str, int, str, str | None], list[Cell]] = defaultdict(list)
    for cell in cells_of_subject(bench, subject):
        group = cell.group
        placed = cell.n and cell.level_dbm is not None and cell.attenuation_db is not None
        if placed and group.direction == "down" and not group.several_links:
            grouped[group.band, group.width_mhz, cell.client, cell.driver].append(cell)
    order = sorted(grouped, key=lambda k: (k[0], k[1], k[2], natural(k[3] or "")))
    return [_implied(subject, *key, grouped[key]) for key in order]


def louder_sentence(a: ImpliedEirp, b: ImpliedEirp) -> str:
    """Which of two devices one client hears louder: "Low is about 6 dB louder"; nobody, within what places scatter.

    Raises  ValueError for readings of two client setups, which are not one scale.
    """
    if (a.client, a.driver, a.band, a.width_mhz) != (b.client, b.driver, b.band, b.width_mhz):
        raise ValueError("levels read by different client setups are not the same scale")
    name_a, name_b = labels(a.subject, b.subject)
    apart = a.mean - b.mean
    scatter = _Z_95 * math.hypot(*(one.sd / math.sqrt(len(one.cells)) for one in (a, b) if one.sd is not None))
    if wording.rounded(apart, 0) == 0 or abs(apart) <= scatter:
        return f"{name_a} and {name_b} are about equally loud."
    return f"{name_a if apart > 0 else name_b} is about {wording.number(abs(apart), 0)} dB louder."


def loudness_sentence(bench: Bench, figure: PairFigure) -> str:
    """How loud the two devices of a comparison at equal level are to the client that read it, and what that is not.

    "" where the comparison was refused, or one of the two was not read at a place of known attenuation.
    """
    if figure.verdict == "refused":
        return ""
    results = [
        next((one for one in implied_eirps(bench, subject) if _read_as(one, figure)), None)
        for subject in (figure.a, figure.b)
    ]
    a, b = results
    if a is None or b is None:
        return ""
    name_a, name_b = labels(a.subject, b.subject)
    return (
        f"As this client reads them, {name_a} seems to send with {_spread_words(a)} and {name_b} with "
        f"{_spread_words(b)}, level plus attenuation: {louder_sentence(a, b)} At equal signal this is taken out; it is "
        "an implied EIRP, no measured transmit power."
    )


def _read_as(result: ImpliedEirp, figure: PairFigure) -> bool:
    group = figure.group
    return group is not None and (result.client, result.driver or "", result.band, result.width_mhz) == (
        figure.client,
        figure.driver or "",
        group.band,
        group.width_mhz,
    )


def _spread_words(result: ImpliedEirp) -> str:
    """ "23 dBm (s 0.4 dB, 3 places)"."""
    spread = "" if result.sd is None else f"s {wording.decibels(result.sd)} dB, "
    return f"{wording.decibels(result.mean)} dBm ({spread}{wording.count(len(result.cells), 'place')})"


def eirp_json(result: ImpliedEirp) -> dict[str, Any]:
    """One implied EIRP: dBm, and dB for its spread."""
    return {
        "client": result.client,
        "driver": result.driver,
        "band": result.band,
        "width_mhz": result.width_mhz,
        "eirp_dbm": result.mean,
        "sd_db": result.sd,
        "low_dbm": result.low,
        "high_dbm": result.high,
        "places": len(result.cells),
        "figure": result.figure,
    }


def _implied(
    subject: Subject, band: str, width_mhz: int, client: str, driver: str | None, cells: Sequence[Cell]
) -> ImpliedEirp:
    values = [implied_eirp_dbm(c.level_dbm or 0.0, c.attenuation_db or 0.0) for c in cells]
    return ImpliedEirp(
        subject=subject,
        client=client,
        driver=driver,
        band=band,
        width_mhz=width_mhz,
        mean=statistics.fmean(values),
        sd=statistics.stdev(values) if len(values) > 1 else None,
        low=min(values),
        high=max(values),
        cells=tuple(cells),
    )
