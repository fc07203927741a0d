"""Which device got better by firmware: each tested version against the one before it, judged as one table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Group
from builder.metrics.intervals import holm_separated
from builder.pairs.histories import Step, firmware_steps
from builder.pairs.verdicts import PairFigure

Outcome = Literal["more", "less", "chance", "untold", "not compared"]
_COMPARED = ("separated", "at-least", "not-separated")


@dataclass(frozen=True, slots=True)
class Gain:
    """What a firmware brought under one match: the newer version minus the older one.

    outcome  more or less: shown, also among all comparisons of the table; chance: alone it would be, among them it may
             be chance; untold: the tests cannot tell the two apart; not compared: the figure is a refusal or no verdict
    among    comparisons in the table that it was judged with. [1]
    """

    step: Step
    figure: PairFigure
    outcome: Outcome
    among: int

    @property
    def amount(self) -> str:
        """ "56 Mbit/s more", "at least 40 Mbit/s less"; "" where the tests cannot tell or nothing was compared."""
        figure = self.figure
        if not figure.ahead or figure.difference is None:
            return ""
        least = "at least " if figure.verdict == "at-least" else ""
        size = wording.number(abs(figure.difference), figure.decimals)
        return f"{least}{size} Mbit/s {'more' if figure.ahead == 'a' else 'less'}"

    @property
    def likely(self) -> str:
        """ "likely 16–95" behind an amount; "" for one that is a least amount, and without an amount."""
        figure = self.figure
        if not self.amount or figure.interval is None:
            return ""
        low, high = sorted(map(abs, figure.interval))
        return f"likely {wording.number(low, figure.decimals)}–{wording.number(high, figure.decimals)}"

    @property
    def sentence(self) -> str:
        """What a buyer reads of it."""
        figure, newer, older = self.figure, self.step.newer, self.step.older
        if self.outcome == "not compared":
            return figure.sentence
        if self.outcome == "untold":
            assert figure.half_width is not None
            size = wording.number(figure.half_width, figure.decimals)
            return (
                f"{newer} and {older} cannot be told apart: a difference of {size} Mbit/s or more would have shown."
                f"{self._held}"
            )
        likely = f", {self.likely}" if self.likely else ""
        if self.outcome == "chance":
            return (
                f"{newer} gave {self.amount} than {older}{likely}; among the {self.among} comparisons here, one like this "
                f"may be chance.{self._held}"
            )
        return f"{newer} gives {self.amount} than {older}{likely}.{self._held}"

    @property
    def _held(self) -> str:
        ports = [port for port in (self.figure.port_a, self.figure.port_b) if port is not None]
        if not ports:
            return ""
        whose = "Both were" if len(ports) == 2 else f"{self.step.newer if self.figure.port_a else self.step.older} was"
        return f" {whose} {wording.held_by_port(ports[0])}."


@dataclass(frozen=True, slots=True)
class FirmwareStep:
    """One firmware of a device against the one before it.

    gains  in the same place, one for each group both were tested in, the leading one first; empty where no unit had both
    worse  at one spot of one group: where the newer version gives less, judged among all spots of the step
    """

    device: str
    step: Step
    gains: tuple[Gain, ...]
    worse: tuple[Gain, ...]

    @property
    def leading(self) -> Gain | None:
        """The gain in the largest common group."""
        return self.gains[0] if self.gains else None


def firmware_gains(bench: Bench, *, company: Mapping[Group, int]) -> list[FirmwareStep]:
    """Every step of every device that was tested with two firmwares, what helped most first, then by device.

    All comparisons in the same place are one table and are judged together; the spots of a step are another one.

    company  as in `pairing`
    """
    steps = [(device, step) for device in bench.devices for step in firmware_steps(bench, device, company=company)]
    figures = [_in_order(step) for _, step in steps]
    outcomes = iter(_judged([figure for of_step in figures for figure in of_step]))
    results = [
        FirmwareStep(
            device,
            step,
            tuple(Gain(step, figure, *next(outcomes)) for figure in of_step),
            _worse(step),
        )
        for (device, step), of_step in zip(steps, figures, strict=True)
    ]
    return sorted(results, key=_order)


def _in_order(step: Step) -> list[PairFigure]:
    if step.pairing is None:
        return []
    leading = step.pairing.leading
    return sorted(step.pairing.by_attenuation, key=lambda figure: figure is not leading)


def _worse(step: Step) -> tuple[Gain, ...]:
    if step.pairing is None:
        return ()
    spots = [figure for figure in step.pairing.by_spot if figure.spot]
    gains = (Gain(step, figure, *outcome) for figure, outcome in zip(spots, _judged(spots), strict=True))
    return tuple(gain for gain in gains if gain.outcome == "less")


def _judged(figures: Sequence[PairFigure]) -> list[tuple[Outcome, int]]:
    """The outcome of each figure of one table, and among how many it was judged."""
    compared = [figure for figure in figures if figure.verdict in _COMPARED]
    kept = dict(zip(map(id, compared), holm_separated([figure.p for figure in compared]), strict=True))

    def outcome(figure: PairFigure) -> Outcome:
        if id(figure) not in kept:
            return "not compared"
        if not figure.ahead:
            return "untold"
        if not kept[id(figure)]:
            return "chance"
        return "more" if figure.ahead == "a" else "less"

    return [(outcome(figure), len(compared)) for figure in figures]


def _order(one: FirmwareStep) -> tuple[int, float, str]:
    """Better ones first, by their share; then what cannot be told, then worse ones, then what was not compared."""
    ranks: Mapping[Outcome, int] = {"more": 0, "chance": 1, "untold": 1, "less": 2, "not compared": 3}
    if one.leading is None:
        return 4, 0.0, one.device
    return ranks[one.leading.outcome], -(one.leading.figure.ratio or 1.0), one.device
