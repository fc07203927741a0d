"""What came out of a device's tests, in the few words of a list of news."""

from __future__ import annotations

from builder.windows.ranking import Ranking
from builder.windows.standing import WindowStanding, port_text, rate_text

WINDOW_ASIDES = {
    "near": "near (same room)",
    "middle": "in the middle (a wall or two away)",
    "far": "far off (several walls)",
}
_TEENS = (11, 12, 13)
_ENDINGS = {1: "st", 2: "nd", 3: "rd"}


def window_outcome(ranking: Ranking, stands: WindowStanding) -> str:
    """ "767 Mbit/s in the middle (a wall or two away), 1st to 6th of 9"; where it is not ranked, why."""
    entry, of = stands.entry, len(ranking.ranked)
    if entry is None:
        return stands.sentence
    rank = _rank(entry.best, entry.worst, of) if of > 1 else "no other device covers this window"
    return f"{rate_text(entry)} Mbit/s {WINDOW_ASIDES[ranking.window]}{port_text(entry)}, {rank}"


def _rank(best: int, worst: int, of: int) -> str:
    first = _ordinal(best)
    return f"{first} of {of}" if best == worst else f"{first} to {_ordinal(worst)} of {of}"


def _ordinal(place: int) -> str:
    return f"{place}{'th' if place % 100 in _TEENS else _ENDINGS.get(place % 10, 'th')}"
