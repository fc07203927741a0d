"""What came out of a device's tests, in the few words of a list of news."""

from __future__ import annotations

from builder import wording
from builder.windows.ranking import Ranking
from builder.windows.standing import WindowStanding, port_text, rate_text

WINDOW_ASIDES = {"near": "near", "middle": "a wall or two away", "far": "far off"}


def window_outcome(ranking: Ranking, stands: WindowStanding) -> str:
    """ "767 Mbit/s a wall or two away (60–75 dB), 1st to 6th of 9"; where it is not ranked, why."""
    entry, of = stands.entry, stands.of
    if entry is None:
        return stands.sentence
    rank = wording.ranks(entry.best, entry.worst, of) if of > 1 else "no other device covers this window"
    place = f"{WINDOW_ASIDES[ranking.window]} ({wording.db_range(*ranking.range)} dB)"
    return f"{rate_text(entry)} Mbit/s {place}{port_text(entry)}, {rank}"
