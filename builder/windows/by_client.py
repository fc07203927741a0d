"""One device with every client setup: window means down and up beside each other, never added."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product

from builder import wording
from builder.bench.bench import Bench, Subject, cells_of_subject
from builder.bench.cells import Group, usual
from builder.bench.tracks import Track, track
from builder.bench.uncertainty import value_uncertainties
from builder.bench.weighted import Weighted
from builder.pairs import refusals
from builder.pairs.refusals import Refusal
from builder.windows.reach import Reach, reach_of
from catalog.method import WINDOW_NAMES

Place = tuple[str, str]  # window, direction
DIRECTIONS = ("down", "up")


@dataclass(frozen=True, slots=True)
class WindowMean:
    """The mean over a window, or why there is none.

    value      None where the window is not covered [Mbit/s]
    low, high  None for a bound or a single run [Mbit/s]
    at_port    held back by the device's own port
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    bound: bool = False
    at_port: bool = False
    why_missing: str = ""


@dataclass(frozen=True, slots=True)
class ClientRow:
    """A client series on one link, both directions.

    down, up  the groups; None where that direction was not tested
    reach     where the downlink first falls below the rate asked for; None without a downlink line
    """

    down: Group | None
    up: Group | None
    means: Mapping[Place, WindowMean]
    reach: Reach | None

    @property
    def group(self) -> Group:
        """The downlink's group, or the uplink's where only that was measured."""
        group = self.down or self.up
        assert group is not None
        return group


def client_rows(bench: Bench, subject: Subject, *, reach_at: float) -> list[ClientRow]:
    """Every client series and link the subject was tested with, the most usual band first.

    reach_at  rate for the reach [Mbit/s]
    """
    cells = cells_of_subject(bench, subject)
    lines: dict[Group, Track | None] = {
        group: track([c for c in cells if c.group == group], match="attenuation")
        for group in sorted({c.group for c in cells if c.mean is not None}, key=lambda g: (usual(g), g.sort_key))
    }
    windows = _window_means(bench, lines)
    rows: list[ClientRow] = []
    for key in dict.fromkeys(replace(group, direction="") for group in lines):
        down, up = (group if (group := replace(key, direction=d)) in lines else None for d in DIRECTIONS)
        means = {
            (window, direction): _not_tested if group is None else windows[group, window]
            for window in WINDOW_NAMES
            for direction, group in (("down", down), ("up", up))
        }
        line = None if down is None else lines[down]
        rows.append(ClientRow(down, up, means, None if line is None else reach_of(bench, line, reach_at)))
    return rows


_not_tested = WindowMean(None, why_missing="not tested")


def _window_means(bench: Bench, lines: Mapping[Group, Track | None]) -> dict[tuple[Group, str], WindowMean]:
    """Of every group and window; the uncertainties are worked out together, which takes a tenth of the time."""
    means: dict[tuple[Group, str], WindowMean] = {}
    weighted: dict[tuple[Group, str], Weighted] = {}
    for (group, line), window in product(lines.items(), WINDOW_NAMES):
        low_high = bench.constants.window(group.band, window)
        if low_high is None or line is None:
            means[group, window] = WindowMean(None, why_missing="no measured attenuation")
        elif not line.line.covers(*low_high):
            tested = wording.db_range(*line.line.tested)
            means[group, window] = WindowMean(None, why_missing=f"tested at {tested} dB only")
        else:
            weighted[group, window] = line.over(*low_high)
    sides = list(weighted.values())
    known = value_uncertainties(bench, sides, match="attenuation", pools=[side.cells for side in sides])
    for (place, side), uncertainty in zip(weighted.items(), known, strict=True):
        half = None if side.bound or uncertainty is None else uncertainty.half_width
        low, high = (None, None) if half is None else (side.mean - half, side.mean + half)
        means[place] = WindowMean(side.mean, low, high, bound=side.bound, at_port=side.at_port)
    return means


def both_directions_claim(name: str) -> Refusal:
    """The sum of both directions, which is always refused."""
    return Refusal("sum-of-directions", refusals.sum_of_directions(name))
