"""All that two devices' pages say of each other: every match in every group, and which of them leads the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from builder.bench.bench import Bench, Subject, cells_of_subject, labels
from builder.bench.cells import Group, usual
from builder.bench.tracks import Track, places_tested, track
from builder.bench.weighted import Match
from builder.pairs.compare import compare
from builder.pairs.sentences import overview
from builder.pairs.verdicts import PairFigure


@dataclass(frozen=True, slots=True)
class Pairing:
    """Two subjects under all three matches.

    leading  the attenuation match of the largest common group: most places at which the one with fewer was tested,
             also where its runs broke off; of equals the most usual, then that of most devices; a group with a verdict
             before a refused one
    level    the level matches of the same group; a refusal is one too
    """

    a: Subject
    b: Subject
    by_attenuation: tuple[PairFigure, ...]
    by_level: tuple[PairFigure, ...]
    by_spot: tuple[PairFigure, ...]
    leading: PairFigure

    @property
    def names(self) -> tuple[str, str]:
        """Short names that distinguish the two."""
        return labels(self.a, self.b)

    @property
    def sentence(self) -> str:
        """The opening words: the leading figure's sentence, and in how many other groups it is otherwise."""
        order = sorted(self.by_attenuation, key=lambda f: f is not self.leading)
        leads = [f.ahead for f in order if f.verdict != "refused"]
        return " ".join(part for part in (self.leading.sentence, overview(*self.names, leads)) if part)

    @property
    def level(self) -> tuple[PairFigure, ...]:
        return tuple(f for f in self.by_level if f.group in (None, self.leading.group))


def pairing(bench: Bench, a: Subject, b: Subject, *, company: Mapping[Group, int]) -> Pairing:
    """Compare two subjects in every way there is.

    company  devices with results in each group (`neighbours.company`)
    """
    by_attenuation = compare(bench, a, b, match="attenuation")
    return Pairing(
        a=a,
        b=b,
        by_attenuation=tuple(by_attenuation),
        by_level=tuple(compare(bench, a, b, match="level")),
        by_spot=tuple(compare(bench, a, b, match="spot")),
        leading=leading_of(bench, by_attenuation, company),
    )


def tracks(bench: Bench, figure: PairFigure, *, match: Match) -> tuple[Track | None, Track | None]:
    """The two lines behind a figure; those of a level match are of its one client setup with one driver."""
    if match == "level" and figure.match == "level" and figure.group is not None and figure.verdict != "refused":
        one, other = (
            [
                cell
                for cell in cells_of_subject(bench, side, figure.group)
                if (cell.client, cell.driver or "") == (figure.client, figure.driver)
            ]
            for side in (figure.a, figure.b)
        )
        return track(one, match=match), track(other, match=match)
    return line_of(bench, figure.a, figure.group, match=match), line_of(bench, figure.b, figure.group, match=match)


def line_of(bench: Bench, subject: Subject, group: Group | None, *, match: Match) -> Track | None:
    """One subject's line in a group; None without a group or without a place on the axis."""
    return None if group is None else bench.line(subject, group, match)


def leading_of(bench: Bench, figures: Sequence[PairFigure], company: Mapping[Group, int]) -> PairFigure:
    """The figure that leads the page of a pair, of its attenuation matches (`Pairing.leading`)."""

    def order(figure: PairFigure) -> tuple[object, ...]:
        group = figure.group
        if group is None:
            return (True,)
        places = min(places_tested(cells_of_subject(bench, side, group)) for side in (figure.a, figure.b))
        return figure.verdict == "refused", -places, usual(group), -company.get(group, 0), group.sort_key

    return min(figures, key=order)
