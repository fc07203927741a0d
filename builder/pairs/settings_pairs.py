"""What settings bring: a device under each of its settings beside itself under others and without any, spot by spot."""

from __future__ import annotations

from itertools import combinations

from builder.bench.bench import Bench, subject_called
from builder.bench.cells import natural
from builder.pairs.compare import compare
from builder.pairs.verdicts import PairFigure
from catalog.figure_names import subject_id


def settings_pairs(bench: Bench, device: str) -> list[PairFigure]:
    """Every comparison at one spot of two settings of a device, with equal unit and firmware; none without settings."""
    identifiers = [device, *(subject_id(device, one) for one in bench.settings_of.get(device, ()))]
    figures: list[PairFigure] = []
    for one, other in combinations(identifiers, 2):
        tested = [
            {(c.firmware, c.unit) for c in bench.cells_of.get(identifier, ()) if c.mean is not None}
            for identifier in (one, other)
        ]
        for firmware, unit in sorted(tested[0] & tested[1], key=lambda pair: (natural(pair[0]), natural(pair[1]))):
            a, b = (subject_called(bench, (identifier, unit, firmware)) for identifier in (one, other))
            figures += [figure for figure in compare(bench, a, b, match="spot") if figure.spot is not None]
    return figures
