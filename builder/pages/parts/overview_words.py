"""The sentence over the picture of all devices: who gives how much to whom a wall or two away, and who may as well."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from builder.bench.cells import Group
from builder.bench.naming import series_name
from builder.pages.contents import Results
from builder.windows.ranking import Ranked, Ranking
from builder.windows.standing import MOST_NAMED, name, port_text
from catalog.records import Client


@dataclass(frozen=True, slots=True)
class Lead:
    """A sentence with the value that it is about, which stands out."""

    before: str
    value: str = ""
    after: str = ""

    @property
    def text(self) -> str:
        return f"{self.before}{self.value}{self.after}"

    @property
    def first_sentence(self) -> str:
        """All of it as one sentence, for those who hear it."""
        return self.text.rstrip(".").replace(". ", "; ") + "."


def machine(results: Results, group: Group) -> str:
    """Who is given it: "a 14-inch laptop with two antennas", as far as the catalogue says."""
    client = client_of(results, group)
    kind = (client.machine or "").split(",")[0].strip() if client else ""
    streams = next((r.streams for r in client.radios if r.band == group.band), None) if client else None
    text = wording.with_article(kind) if kind else series_name(results.bench, group.series)
    return f"{text} with {wording.in_words(streams)} {'antenna' if streams == 1 else 'antennas'}" if streams else text


def client_of(results: Results, group: Group) -> Client | None:
    """The client setup that the group's series began with; None where no client is on record."""
    clients = results.bench.clients
    drivers = (c for c in clients.values() if group.series in (c.series, *(d.series for d in c.drivers)))
    return clients.get(group.series) or next(drivers, None)


def lead(middle: Ranking, to: str, *, upload: bool) -> Lead:
    """What the middle window says to a reader with such a machine."""
    if not middle.ranked:
        return Lead(
            f"A wall or two away ({wording.db_range(*middle.range)} dB), no device was tested over the whole way."
        )
    first = middle.ranked[0]
    device = name(first.subject)
    if first.units_disagree:
        device = f"unit {first.subject.unit} of {device}"
    start, end = (f"{device} takes ", f" from {to}") if upload else (f"{device} gives {to} ", "")
    place = f"A wall or two away ({wording.db_range(*middle.range)} dB), "
    return Lead(f"{place}{start}", _value(first), f"{end}{port_text(first)}{_company(middle, first)}")


def _value(entry: Ranked) -> str:
    return f"{'at least ' if entry.bound else ''}{wording.rate(entry.value)} Mbit/s"


def _company(middle: Ranking, first: Ranked) -> str:
    """The end of the sentence, and who may give as much."""
    if len(middle.ranked) == 1:
        return "; no other device was tested over that whole way."
    level = [entry for entry in middle.ranked[1:] if entry.best == 1]
    if level:
        others = wording.listing_of_many(_short(middle, level), MOST_NAMED)
        them = "the two" if len(level) == 1 else "them"
        return f". {others} may give as much: the tests cannot tell {them} apart."
    if first.units_disagree:
        return "; its units disagree, so the model may not."
    if first.worst == 1:
        return ", more than any other device tested there."
    return "; no other may be the first there."


def _short(middle: Ranking, entries: list[Ranked]) -> list[str]:
    """Their models; with the maker where another ranked device is called the same."""
    models = [entry.subject.model for entry in middle.ranked]
    return [e.subject.model if models.count(e.subject.model) == 1 else name(e.subject) for e in entries]
