"""The range that every plan of a question covers: fixed before any search, for two far spots would always win."""

from __future__ import annotations

from collections.abc import Sequence

from builder import wording
from builder.bench.bench import Bench, Subject, labels
from builder.bench.cells import Group
from builder.bench.joined_line import SAME_X_DB, JoinedLine, joined_line, shared_range
from builder.bench.tracks import Track
from builder.planning.places import Spot
from catalog.errors import InputRefused
from catalog.method import MAX_GAP_DB, MIN_RANGE_DB


def range_of(
    bench: Bench,
    group: Group,
    sides: Sequence[Subject],
    measured: Sequence[Track | None],
    spots: Sequence[Spot],
    *,
    window: str | None,
    both: bool,
) -> tuple[float, float]:
    """The window, else the widest that the other's cells and the spots, with what the device has, allow."""
    older = [] if measured[0] is None else measured[0].line.x.tolist()
    reachable = _line_through([*(spot.loss_db for spot in spots), *older])
    other = None
    if len(sides) > 1:
        other = measured[1].line if measured[1] is not None else None
        if both:
            known = [] if other is None else other.x.tolist()
            other = _line_through([*(spot.loss_db for spot in spots), *known])
    if window is not None:
        ends = bench.constants.window(group.band, window)
        if ends is None:
            raise InputRefused(f"{wording.band(group.band)} has no window {window!r}.")
        for line, subject in ((reachable, "The spots lie"), (other, f"{sides[-1].model} was tested")):
            if line is not None and not line.covers(*ends):
                raise InputRefused(
                    f"{subject} at {wording.db_range(*line.tested)} dB, which does not cover the {window} window, "
                    f"{wording.db_range(*ends)} dB, without a gap of more than {MAX_GAP_DB:g} dB."
                )
        return ends
    if other is None:
        shared = max(reachable.pieces, key=lambda piece: piece[1] - piece[0])
    else:
        common = shared_range(reachable, other)
        if common is None:
            raise InputRefused(
                f"{labels(sides[0], sides[1])[1]} was tested at {wording.db_range(*other.tested)} dB and the spots lie "
                f"at {wording.db_range(*reachable.tested)} dB: no shared range. With --both it is measured again there."
            )
        shared = common
    if shared[1] - shared[0] < MIN_RANGE_DB - SAME_X_DB:
        raise InputRefused(
            f"What can be measured and compared is {wording.db_range(*shared)} dB: no shared range of at least "
            f"{MIN_RANGE_DB:g} dB without a gap of more than {MAX_GAP_DB:g} dB."
        )
    return shared


def _line_through(losses: Sequence[float]) -> JoinedLine:
    count = len(losses)
    return joined_line(losses, [0.0] * count, [1] * count, [False] * count)
