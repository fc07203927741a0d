"""Figures that several tests draw, and what they look like once drawn.

Values of the pair and the level figure are those of the worked stories 1, 2 and 4 (all makers invented).
"""

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import pytest

from builder.charts.figures import Figure, TableTwin
from builder.charts.label_text import LabelText
from builder.charts.longrun_chart import Level, longrun_figure
from builder.charts.longwaits_chart import HourOfAnswers, longwaits_figure
from builder.charts.range_chart import range_figure
from builder.charts.range_lines import (
    Difference,
    DifferenceKnot,
    RangeKnot,
    RangeSeries,
    RangeWindow,
    RulerMark,
)
from builder.charts.ranking_chart import RankBar, ranking_figure
from builder.charts.share_chart import ShareCell, ShareRow, share_figure
from builder.charts.step_chart import StepRow, step_figure
from builder.charts.waiting_chart import waiting_figure
from builder.charts.waiting_rows import Mark, WaitingRow, Within

PUBLISHED = Path(__file__).parents[2] / "published"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[dict[str, str]]]:
    """Rows of a published table by its stem; an empty table fails here, not silently in a loop."""

    def rows(stem: str) -> list[dict[str, str]]:
        with (PUBLISHED / f"{stem}.csv").open(encoding="utf-8", newline="") as file:
            found = list(csv.DictReader(file))
        assert found, stem
        return found

    return rows


def _knot(x: float, value: float, *, spread: float | None = None, bound: bool = False) -> RangeKnot:
    low, high = (None, None) if spread is None else (value - spread, value + spread)
    return RangeKnot(x, value, low, high, bound, f"≥ {value:g}" if bound else f"{value:g}")


@pytest.fixture(scope="session")
def pair() -> Figure:
    return range_figure(
        key="pair",
        title="Dome 20 or Shale 2: which gives more where I sit?",
        axis="attenuation",
        series=[
            RangeSeries(
                "Quillmast Dome 20",
                "firmware 2.3",
                (
                    _knot(50, 925, bound=True),
                    _knot(60, 700, spread=39),
                    _knot(70, 400, spread=39),
                    _knot(80, 100, spread=39),
                ),
            ),
            RangeSeries("Tessarik Shale 2", "firmware 1.4", (_knot(55, 720), _knot(65, 560), _knot(75, 200))),
        ],
        ruler=[RulerMark(50, "same room"), RulerMark(65, "1 brick wall"), RulerMark(70, "2 brick walls, door shut")],
        notes=["Download, 5 GHz, 80 MHz, client Wrenlet U2 (driver 3.11), 3 repeats a spot, 2025-05-12.", "Method 1."],
        spoken="From 55 to 75 dB these tests cannot tell them apart. At 50 dB Dome 20 gives at least 925 Mbit/s.",
        shared_range=(55, 75),
        unit="Mbit/s, download",
        windows=[RangeWindow(50, 60, "near", "near"), RangeWindow(60, 75, "a wall or two away", "a wall or two")],
    )


@pytest.fixture(scope="session")
def apart() -> Figure:
    """Two devices and their difference, which changes its sign; one place with a bound, one that only one was tested at."""
    walls = ["same room", "along the hall", "one timber wall", "two walls, one bookcase", "chimney, one timber wall"]
    places = (48.0, 57.0, 66.0, 75.0, 84.0)
    first, second = (890, 870, 705, 480, 160), (790, 765, 630, 470, 185)
    return range_figure(
        key="apart",
        title="Which gives more in the same place, Cupola or Rondel 4?",
        axis="attenuation",
        series=[
            RangeSeries(
                "Cupola",
                "firmware 3.0",
                tuple(_knot(x, y, spread=50) for x, y in zip(places, first, strict=True)),
                (LabelText("Tessarik", "Cupola"), LabelText("", "Cupola")),
            ),
            RangeSeries(
                "Rondel 4",
                "firmware 5.10",
                tuple(_knot(x, y, spread=40) for x, y in zip(places, second, strict=True) if x != 66),
                (LabelText("Polmerre", "Rondel 4"), LabelText("", "Rondel 4")),
            ),
        ],
        ruler=[RulerMark(x, text) for x, text in zip(places, walls, strict=True)],
        notes=["Client Wrenlet U2."],
        spoken="In the same place Cupola gives 62 Mbit/s more than Rondel 4, 20 to 104.",
        shared_range=(48, 84),
        unit="Mbit/s, download",
        difference=Difference(
            heading="Cupola minus Rondel 4, Mbit/s",
            total="over all 62, likely 20–104",
            below=("below the line: Rondel 4 gives more", "below: Rondel 4 gives more"),
            knots=tuple(
                DifferenceKnot(
                    x,
                    a - b,
                    None if x == 48 else a - b - 60.0,
                    None if x == 48 else a - b + 60.0,
                    "least" if x == 48 else None,
                    x != 66,
                    f"≥ {a - b}" if x == 48 else f"{a - b}".replace("-", "−"),
                )
                for x, a, b in zip(places, first, second, strict=True)
            ),
        ),
    )


@pytest.fixture(scope="session")
def step() -> Figure:
    """What a firmware brought: over all, at three spots, one of which cannot tell, and one with a bound."""
    return step_figure(
        key="step",
        title="Did firmware 6.1.0 help?",
        newer="6.1.0",
        older="6.0.4",
        over_all=StepRow("over all", None, 56, 20, 92, None, True, "56 more"),
        rows=[
            StepRow("B1", 45.9, 99, 32, 166, None, True, "99 more"),
            StepRow("B5", 70.7, 6, -24, 36, None, False, "cannot tell"),
            StepRow("B6", 81.5, 140, None, None, "least", True, "at least 140 more"),
            StepRow("B7", None, None, None, None, None, False, "not compared"),
        ],
        notes=["6.1.0 minus 6.0.4, Mbit/s, with the 95 % interval."],
        spoken="In the same place 6.1.0 gives 56 Mbit/s more than 6.0.4, 20 to 92.",
    )


@pytest.fixture(scope="session")
def level() -> Figure:
    return range_figure(
        key="level",
        title="At the same signal, who does more with it?",
        axis="level",
        series=[
            RangeSeries("Polmerre Low", "firmware 3.0", (_knot(-37, 700), _knot(-47, 500), _knot(-57, 300))),
            RangeSeries("Fjeldrun Alcove", "firmware 0.9", (_knot(-43, 640), _knot(-53, 440), _knot(-63, 240))),
        ],
        ruler=[],
        notes=["Download, 5 GHz, 80 MHz, client Wrenlet U2."],
        spoken="At the same signal Alcove gives 60 Mbit/s more.",
        shared_range=(-57, -43),
        unit="Mbit/s, download",
    )


@pytest.fixture(scope="session")
def crowd() -> Figure:
    """Six lines that all end in the same place, with long names and a spot every few decibels."""
    names = [
        "Quillmast Dome 20",
        "Tessarik Shale 2",
        "Polmerre Low",
        "Fjeldrun Alcove",
        "Tessarik Porch",
        "Quillmast Sill Outdoor",
    ]
    places = [48, 56, 62, 68, 76, 84]
    texts = ["desk, same room", "hall, door open", "1 brick wall", "2 brick walls", "floor above", "garden"]
    return range_figure(
        key="crowd",
        title="How do six of them fade with distance and walls?",
        axis="attenuation",
        series=[
            RangeSeries(
                name, f"firmware 1.{i}", tuple(_knot(x, 900 - 40 * i - (x - 48) * (23 - i), spread=8) for x in places)
            )
            for i, name in enumerate(names)
        ],
        ruler=[RulerMark(x, text) for x, text in zip(places, texts, strict=True)],
        notes=["Download, 5 GHz, 80 MHz, client Wrenlet U2."],
        spoken="All six fall below 100 Mbit/s in the garden.",
        shared_range=None,
    )


@pytest.fixture(scope="session")
def ranking() -> Figure:
    return ranking_figure(
        key="ranking",
        title="Who leads in the middle of the house, at 60 to 75 dB?",
        bars=[
            RankBar("Quillmast", "Dome 20", 756.25, None, None, True, "rank 1 to 2", "≥ 756", "1–2"),
            RankBar(
                "Tessarik",
                "Shale 2",
                740,
                695,
                785,
                False,
                "rank 1 to 2, not separated from the row above",
                "740",
                "1–2",
            ),
            RankBar("Fjeldrun", "Alcove Outdoor, second revision", 562.5, 540, 585, False, "rank 3", "563", "3"),
            RankBar("Tessarik", "Porch", 98.4, 90.1, 106.7, False, "rank 4", "98.4", "4"),
        ],
        unit="Mbit/s",
        notes=[
            "5 GHz, 80 MHz, down, client Wrenlet U2.",
            "Each interval of ranks holds for its row, not for all at once.",
        ],
        spoken="Dome 20 and Shale 2 share the first two ranks.",
    )


@pytest.fixture(scope="session")
def long() -> Figure:
    """Ten hours with a stall and a gap, that broke off."""
    t = [float(s) for s in (*range(0, 12_000, 30), *range(15_000, 36_000, 30))]
    return longrun_figure(
        key="long",
        title="Is Alcove steady over 10 hours?",
        t_s=t,
        mbit_s=[0.0 if n == 120 else 500.0 + 12 * (n % 7) for n in range(len(t))],
        joined_s=60.0,
        median=Level(536.0, "median 536"),
        fifth_percentile=Level(500.0, "5th percentile 500"),
        stalled_at=5.0,
        ended="broke off after 9:59:30",
        notes=["Client Wrenlet U2."],
        spoken="It stalled once.",
    )


@pytest.fixture(scope="session")
def waits() -> Figure:
    """Three and a half hours of requests, one of them without a 99th percentile; some were not answered."""
    hours = [(12, 24, 35), (14, 24, 60), (12, 26, None), (11, 22, 31)]
    return longwaits_figure(
        key="waits",
        title="How long do answers take with Alcove over 3.5 hours?",
        t_s=[10.0 * n for n in range(1260)],
        waits_ms=[None if n in (500, 501, 900) else 1500.0 if n == 700 else 10.0 + n % 31 for n in range(1260)],
        hours=[
            HourOfAnswers(n * 3600.0, min((n + 1) * 3600.0, 12_600.0), dict(zip((50, 95, 99), ms, strict=True)))
            for n, ms in enumerate(hours)
        ],
        joined_s=60.0,
        mark=Level(100.0, "asked for: 100 ms"),
        ended="",
        notes=["Client Wrenlet U2."],
        spoken="One answer in 100 took longer than 60 ms.",
        table=TableTwin("Requests hour by hour", ("Hour", "Half"), (("1", "12 ms"),)),
    )


@pytest.fixture(scope="session")
def mix() -> Figure:
    """One run: a call with two marks, a device that gave up (worked story 5), and few pages."""
    call, pages = (Mark(150.0, 0.99), Mark(50.0, 0.99, good=True)), (Mark(1000.0, 0.95),)
    thin = {p: Within(ms, thin=p > 50) for p, ms in ((50, 410.0), (90, 690.0), (99, 990.0))}
    return waiting_figure(
        key="mix",
        title="Two calls while a backup runs on Fjeldrun Alcove: who waited?",
        heading="Role and machine",
        rows=[
            WaitingRow(
                label="Homework",
                detail="Skarn C3 · B5, 71 dB, 5 GHz",
                planned=60,
                made=38,
                finished=38,
                in_time=36,
                within={50: Within(300.0), 90: Within(None), 99: Within(None, True)},
                slowest_ms=2400.0,
                marks=pages,
                remark="95 % asked",
                missed=True,
                broke_off="broke off at 6:20 of 10:00",
            ),
            WaitingRow(
                label="Call by the window",
                detail="Wrenlet U2 · B6, 77 dB, 5 GHz",
                planned=3000,
                made=3000,
                finished=2992,
                in_time=2722,
                within={50: Within(12.0), 90: Within(148.0), 99: Within(210.0)},
                slowest_ms=400.0,
                marks=call,
                remark="99 % asked",
                missed=True,
            ),
            WaitingRow(
                label="Notes",
                detail="Mottle N1 · B4, 64 dB, 2.4 GHz",
                planned=15,
                made=15,
                finished=15,
                in_time=15,
                within=thin,
                slowest_ms=990.0,
                marks=pages,
                remark="59 would be needed to show 95 %",
            ),
        ],
        notes=["Version 1: 3 machines at once, 10 minutes, 12 May 2025.", "Method 2."],
        spoken="Of Homework 36 of 60 came in time. It broke off at 6:20 of 10:00.",
    )


@pytest.fixture(scope="session")
def shares() -> Figure:
    def cells(*given: float) -> tuple[ShareCell, ...]:
        return tuple(ShareCell(s, "100 %" if s == 1 else f"{s * 100:.1f} %", "152 ms", missed=s < 0.95) for s in given)

    return share_figure(
        key="shares",
        title="A row of desks on a busy morning: which role came in time on which device?",
        heading="Device",
        columns=("Briefing", "Drawings", "Pages at the door", "Pages at the window"),
        rows=[
            ShareRow("Quillmast Dome 20", "2.3, unit A", cells(1, 1, 1, 0.979)),
            ShareRow("Tessarik Shale 2", "1.4, unit A", cells(1, 1, 0.959, 1)),
            ShareRow("Fjeldrun Alcove", "0.9, unit A", (*cells(1, 0.891, 0.5), ShareCell(None, "not tested"))),
        ],
        notes=["Version 1: 4 machines at once, 10 minutes.", "The fuller a cell, the more came late."],
        spoken="Every role was met on 2 of 3 devices.",
    )


@dataclass(frozen=True)
class Element:
    """An element of a drawing with its place [px] and what it inherits."""

    tag: str
    x: float
    y: float
    text: str
    attributes: dict[str, str]


def marks(svg: str) -> list[Element]:
    """All elements of a drawing in order, places added up over their groups."""
    return list(_marks(ElementTree.fromstring(svg), 0.0, 0.0, {}))


def _marks(element: ElementTree.Element, x: float, y: float, inherited: dict[str, str]) -> Iterator[Element]:
    attributes = {**inherited, **element.attrib}
    if moved := re.fullmatch(r"translate\((-?[\d.]+),(-?[\d.]+)\)", element.get("transform", "")):
        x, y = x + float(moved[1]), y + float(moved[2])
    at = (x, y)
    if element.tag == f"{SVG}text":
        at = x + float(element.get("x", 0)), y + float(element.get("y", 0))
    elif element.tag == f"{SVG}circle":
        at = x + float(element.attrib["cx"]), y + float(element.attrib["cy"])
    yield Element(element.tag.removeprefix(SVG), *at, element.text or "", attributes)
    for child in element:
        yield from _marks(child, x, y, {k: v for k, v in attributes.items() if k != "transform"})


@pytest.fixture(scope="session")
def drawn() -> Callable[[str], list[Element]]:
    """`marks` for tests, which cannot import this file."""
    return marks
