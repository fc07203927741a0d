"""Sentences on the top of a ranking and on one device in it."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from builder.bench.bench import Subject
from builder.windows.ranking import NotRanked, Ranked, Ranking

MOST_NAMED = 4
# A window where a sentence begins, over a picture or a column, and where there is less room.
WINDOW_WORDS = {"near": "Near", "middle": "A wall or two away", "far": "Far off"}
WINDOW_HEADINGS = {"near": "Near", "middle": "A wall or two away", "far": "Far"}
WINDOW_SHORT = {"near": "Near", "middle": "A wall or two", "far": "Far"}


@dataclass(frozen=True, slots=True)
class WindowStanding:
    """Where one device stands in a window: in a sentence, its row, None where it is not ranked, and among how many."""

    sentence: str
    entry: Ranked | None
    of: int


def standing(ranking: Ranking, device: str) -> WindowStanding:
    """What a ranking says of one device."""
    return WindowStanding(device_sentence(ranking, device), ranked_entry(ranking, device), len(ranking.ranked))


def top_sentence(ranking: Ranking) -> str:
    """Who leads a window: one device, several that are not separated, or nobody."""
    low_high = f"{wording.db_range(*ranking.range)} dB"
    place = f"{WINDOW_WORDS[ranking.window]} ({low_high}),"
    if not ranking.ranked:
        return f"{place} no device covers the whole window, so nobody is ranked."
    first = ranking.ranked[0]
    gives = f"{name(first.subject)} gives {rate_text(first)} Mbit/s{port_text(first)}"
    if len(ranking.ranked) == 1:
        return f"{place} {gives}; no other device covers the window."
    level = [entry for entry in ranking.ranked[1:] if entry.best == 1]
    if first.worst == 1 and not level and first.units_disagree:
        return f"{place} unit {first.subject.unit} of {name(first.subject)} leads; its units disagree, so the model may not."
    if first.worst == 1 and not level:
        return f"{place} {gives} and leads every other device {_that_covers(ranking)}"
    if not level:
        return f"{place} {gives}: {wording.ranks(first.best, first.worst, len(ranking.ranked))}."
    others = [name(entry.subject) for entry in level[:MOST_NAMED]]
    others += [f"{len(level) - MOST_NAMED} more"] if len(level) > MOST_NAMED else []
    return f"{place} {gives}; {wording.listing(others)} may lead as well, for the tests cannot tell them apart."


def _that_covers(ranking: Ranking) -> str:
    """The end of a sentence on a lead: devices it does not include because they do not cover the window."""
    missing = [name(left_out.subject) for left_out in ranking.not_ranked[:MOST_NAMED]]
    if not missing:
        return "tested with this client."
    if len(ranking.not_ranked) > MOST_NAMED:
        missing.append(f"{len(ranking.not_ranked) - MOST_NAMED} more")
    return f"that covers the window; {wording.listing(missing)} {'does' if len(missing) == 1 else 'do'} not."


def device_sentence(ranking: Ranking, device: str) -> str:
    """Where a device stands in a window: its value and its rank interval, or why it is not ranked."""
    low_high = f"{wording.db_range(*ranking.range)} dB"
    entry = ranked_entry(ranking, device)
    if entry is not None:
        interval = wording.likely(interval_text(entry))
        gives = f"{WINDOW_WORDS[ranking.window]} ({low_high}) it gives {rate_text(entry)} Mbit/s{port_text(entry)}"
        if len(ranking.ranked) == 1:
            return f"{gives}{f', {interval}' if interval else ''}; no other device covers this window."
        of = len(ranking.ranked)
        if any_rank(entry, of):
            open_rank = f"its rank among {of} is open, for no other was shown to give more, and none less"
            return f"{gives}{f', {interval}' if interval else ''}; {open_rank}."
        rank = f"rank {wording.short_ranks(entry.best, entry.worst)} of {of}"
        return f"{gives}{f', {interval}' if interval else ''}; {rank}."
    left_out = next((n for n in ranking.not_ranked if n.subject.device == device), None)
    if left_out is None:
        return "It was not tested in this group, so it has no rank there."
    why = left_out.sentence.removeprefix("Not ranked: ")
    return f"{WINDOW_WORDS[ranking.window]} ({low_high}) it is not ranked: {why}"


def any_rank(entry: Ranked, of: int) -> bool:
    """Whether nothing says where among several a device stands: none is separated from it."""
    return of > 1 and (entry.best, entry.worst) == (1, of)


def reason(left_out: NotRanked) -> str:
    """Why a device is not ranked, as a clause after its name: "not ranked: covers 62–75 of 60–75 dB."."""
    return left_out.sentence[:1].lower() + left_out.sentence[1:]


def ranked_entry(ranking: Ranking, device: str) -> Ranked | None:
    """The device's row; None where it is not ranked."""
    return ranking.entries.get(device)


def rate_text(entry: Ranked) -> str:
    """The window mean as it is printed."""
    return wording.rate(entry.value, bound=entry.bound)


def port_text(entry: Ranked) -> str:
    """ " (held back by its 1 Gbit/s port)" behind a value that the device's own port held back; else ""."""
    return "" if entry.port is None else f" ({wording.held_by_port(entry.port)})"


def interval_text(entry: Ranked) -> str:
    """The interval of the window mean, "742–862"; "" for a bound or a single run."""
    if entry.low is None or entry.high is None:
        return ""
    return wording.between(entry.low, entry.high, wording.rate_decimals(entry.value))


def name(subject: Subject) -> str:
    """Maker and model of a ranked device."""
    return f"{subject.maker} {subject.model}"
