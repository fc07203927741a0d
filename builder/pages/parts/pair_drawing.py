"""The chart of two devices: their lines, and below them by how much one gives more than the other, place by place."""

from __future__ import annotations

from collections.abc import Sequence

from builder import addresses, wording
from builder.charts.range_lines import Difference, DifferenceKnot
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing
from builder.pages.parts.chart_notes import chart_notes
from builder.pages.parts.drawing import AxisMatch, Line, range_drawing
from builder.pages.parts.step_drawing import spot_figure
from builder.pairs.differences import PlaceDifference, place_differences
from builder.pairs.pairing import Pairing, tracks
from builder.pairs.verdicts import PairFigure


def pair_drawing(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, comparison: Pairing
) -> Drawing | None:
    """The lines of the leading group; if it is refused, those at equal level, else the spots both were measured at."""
    leading = comparison.leading
    if leading.verdict != "refused":
        return _lines_drawing(catalogue, results, site, here, comparison, leading, "attenuation")
    level = next((f for f in comparison.level if f.verdict != "refused"), None)
    if level is not None:
        return _lines_drawing(catalogue, results, site, here, comparison, level, "level")
    at_spots = spot_figure(results.bench, comparison)
    return None if at_spots is None else Drawing(at_spots, addresses.link(here, addresses.specification(at_spots.key)))


def _lines_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    comparison: Pairing,
    figure: PairFigure,
    match: AxisMatch,
) -> Drawing | None:
    of_a, of_b = tracks(results.bench, figure, match=match)
    if of_a is None or of_b is None or figure.group is None:
        return None
    # The first of the two is the first line and what the other is taken from, as in every sentence and table of the page.
    lines = [
        Line(name, f"{side.firmware}, n = {sum(c.n for c in one.cells)}", one)
        for name, side, one in zip(comparison.names, (comparison.a, comparison.b), (of_a, of_b), strict=True)
    ]
    places = place_differences(results.bench, figure)
    place = "in the same place" if match == "attenuation" else "at the same signal"
    return range_drawing(
        catalogue,
        results,
        here,
        key=figure.figure,
        title=f"Which gives more {place}, {comparison.names[0]} or {comparison.names[1]}?",
        match=match,
        lines=lines,
        notes=[*chart_notes(results, site, figure.group, lines), *_reading(places)],
        spoken=figure.sentence,
        shared_range=figure.range,
        difference=_difference(figure, lines, places) if places else None,
    )


def _reading(places: Sequence[PlaceDifference]) -> list[str]:
    """How to read the difference."""
    if not places:
        return []
    text = "Below: the difference at each place by itself, with its 95 % interval."
    if not all(one.measured for one in places):
        text += " Hollow: only one of the two was measured there, the other is its joined line."
    return [text]


def _difference(figure: PairFigure, lines: Sequence[Line], places: Sequence[PlaceDifference]) -> Difference:
    """The first line minus the second, in words and numbers."""
    one, other = (line.label for line in lines)
    return Difference(
        heading=f"{one} minus {other}, Mbit/s",
        total=f"over all {_total(figure)}",
        below=(f"below the line: {other} gives more", f"below: {other} gives more", "below: the other gives more"),
        knots=tuple(_knot(place) for place in places),
    )


def _total(figure: PairFigure) -> str:
    """ "91, likely 31–150", over the whole shared range; "−91, likely −150 to −31"; "+14, likely −27 to +55"."""
    if figure.difference is None or figure.verdict in ("undecided", "no-verdict"):
        return "no verdict"
    number = wording.number
    if figure.verdict == "at-least":
        least = number(abs(figure.difference), figure.decimals)
        return f"at least {least}" if figure.leader == "a" else f"at most {wording.MINUS}{least}"
    assert figure.interval is not None
    low, high = figure.interval
    either = low < 0 < high  # then with its sign, as in the sentence
    likely = wording.likely(wording.between(low, high, figure.decimals, signed=either))
    return f"{number(figure.difference, figure.decimals, signed=either)}, {likely}"


def _knot(place: PlaceDifference) -> DifferenceKnot:
    low, high = (None, None) if place.interval is None else place.interval
    text = wording.number(place.value, place.decimals)
    return DifferenceKnot(
        x=place.x,
        value=place.value,
        low=low,
        high=high,
        bound=place.bound,
        measured=place.measured,
        text={"least": f"≥ {text}", "most": f"≤ {text}", None: text}[place.bound],
    )
