"""One subject's cells along the axis, their joined line, and the filter that says which groups are asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.bench.cells import Cell, Group
from builder.bench.joined_line import JoinedLine, joined_line
from builder.bench.weighted import Match, Weighted


@dataclass(frozen=True, slots=True)
class Track:
    """The cells of one subject in one group that have a place on the axis, and their joined line."""

    cells: tuple[Cell, ...]
    line: JoinedLine

    def cells_of_knot(self, knot: int) -> list[Cell]:
        return [cell for cell, of_cell in zip(self.cells, self.line.member.tolist(), strict=True) if of_cell == knot]

    def over(self, low: float, high: float, *, sign: int = 1) -> Weighted:
        """Weights of the mean over a covered range [dB]."""
        weights = self.line.cell_weights(self.line.mean_weights(low, high))
        return Weighted(self.cells, tuple(weights.tolist()), self.line.slope(low, high), sign)

    def at(self, x: float, *, sign: int = 1) -> Weighted:
        """Weights of the line at a covered x [dB]."""
        weights = self.line.cell_weights(self.line.point_weights(x))
        return Weighted(self.cells, tuple(weights.tolist()), self.line.slope(x, x), sign)


@dataclass(frozen=True, slots=True)
class GroupFilter:
    """Which groups are asked for; None asks for all.

    client is a series, or a client setup: then the groups it was used in, whole, so that a figure is the same
    figure however it was asked for.
    """

    client: str | None = None
    band: str | None = None
    width_mhz: int | None = None
    direction: str | None = None

    def takes(self, cell: Cell) -> bool:
        return self.takes_of(cell.client, cell.group)

    def takes_of(self, client: str, group: Group) -> bool:
        """Whether it asks for what was measured with a client setup in a group."""
        return (
            self.client in (None, client, group.series)
            and self.band in (None, group.band)
            and self.width_mhz in (None, group.width_mhz)
            and self.direction in (None, group.direction)
        )

    def cells(self, cells: Sequence[Cell]) -> list[Cell]:
        """The cells of every group in which one is taken."""
        groups = {c.group for c in cells if self.takes(c)}
        return [c for c in cells if c.group in groups]


EVERYTHING = GroupFilter()


def track(cells: Sequence[Cell], *, match: Match) -> Track | None:
    """The track of one subject's cells in one group; None where none of them has a place on the axis."""
    placed = [(x, c) for c in cells if c.mean is not None and (x := axis_value(c, match)) is not None]
    if not placed:
        return None
    line = joined_line(
        [x for x, _ in placed],
        [c.mean or 0.0 for _, c in placed],
        [c.n for _, c in placed],
        [c.bound for _, c in placed],
    )
    return Track(tuple(c for _, c in placed), line)


def places_tested(cells: Sequence[Cell]) -> int:
    """At how many places of known attenuation a subject was tested in one group: also where every run broke off. [1]"""
    return len({(c.house, c.place) for c in cells if c.attenuation_db is not None and (c.n or c.did_not_finish)})


def axis_value(cell: Cell, match: Match) -> float | None:
    """Where a cell stands on the axis: its attenuation, or minus its level; several links have neither. [dB]"""
    if cell.group.several_links:
        return None
    if match == "level":
        return None if cell.level_dbm is None else -cell.level_dbm
    return cell.attenuation_db
