"""Whether the units of a model agree: while two are separated, nothing is claimed of the model (method.md, section 11)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from builder.bench.bench import Bench, Subject
from builder.bench.cells import Group, natural
from builder.bench.weighted import Match
from builder.pairs.compare import compare
from builder.pairs.verdicts import PairFigure

_MATCHES: tuple[Match, ...] = ("attenuation", "spot")


def units_with_values(bench: Bench, subject: Subject, group: Group | None = None) -> list[str]:
    """Units of a subject's device that have values with its firmware, in a group or in any."""
    cells = bench.cells_with(subject.id, group)
    units = {c.unit for c in cells if c.firmware == subject.firmware and c.mean is not None}
    return sorted(units, key=natural)


def against_other_units(bench: Bench, subject: Subject, group: Group | None = None) -> Iterator[PairFigure]:
    """A unit beside each other unit with the same firmware, at like loss and spot by spot, in a group or in all."""
    for unit in units_with_values(bench, subject, group):
        if unit != subject.unit:
            for match in _MATCHES:
                result = compare(bench, subject, replace(subject, unit=unit), match=match)
                yield from (figure for figure in result if group is None or figure.group == group)


def disagreement(bench: Bench, subject: Subject, group: Group | None = None) -> PairFigure | None:
    """The first comparison that separates a unit from another of its model; None while they agree."""
    return next((f for f in against_other_units(bench, subject, group) if f.verdict in ("separated", "at-least")), None)
