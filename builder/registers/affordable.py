"""What can be had for a sum over some years, and what is lost far off against the device that gives most there.

One sentence answers for every sum up to the next price, so the sentences are made here, all of them, and a page's script
only picks the one for the sum that a reader types.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from builder import wording
from builder.registers.prices import ROUND_SUMS, Terms, cost_over
from builder.windows.ranking import Ranked, Ranking
from builder.windows.standing import WINDOW_WORDS, interval_text, port_text, ranked_entry, rate_text
from catalog.records import Price

SUM = "{sum}"
"""Where the reader's sum stands in a sentence."""
MOST_NAMED = 3
FEWEST_TO_CHOOSE_FROM = 3

# A device's name in a sentence, by its id.
Naming = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Offer:
    """A device at its lowest total over the years asked about.

    unlike  how its terms differ from the usual ones: "refurbished"; "" where they do not
    """

    device: str
    amount: float
    currency: str
    unlike: str


@dataclass(frozen=True, slots=True)
class Answer:
    """The sentence for every sum from *least* up to the next answer's; SUM stands for the sum."""

    least: float
    sentence: str

    def at(self, amount: float) -> str:
        """The sentence for one sum."""
        return self.sentence.replace(SUM, wording.amount(amount))


def offers(latest: Mapping[Terms, Mapping[str, Price]], years: float) -> list[Offer]:
    """What each device costs over some years where it costs least, in the usual currency, the cheapest first.

    latest  terms -> device -> price, the usual terms first
    """
    usual = next(iter(latest), None)
    every = [
        Offer(device, cost_over(price, years).amount, price.currency, _unlike(terms, usual))
        for terms, prices in latest.items()
        for device, price in prices.items()
        if usual is not None and price.currency == usual.currency
    ]
    least: dict[str, Offer] = {}
    for offer in sorted(every, key=lambda o: (o.amount, o.device, o.unlike)):
        least.setdefault(offer.device, offer)
    return list(least.values())


def default_sum(available: Sequence[Offer]) -> int:
    """The smallest round sum that leaves a choice of three devices, or of all there are."""
    wanted = min(len(available), FEWEST_TO_CHOOSE_FROM)
    enough = (total for total in ROUND_SUMS if sum(offer.amount <= total for offer in available) >= wanted)
    return next(enough, ROUND_SUMS[-1])


def answers(
    available: Sequence[Offer], far: Ranking | None, years: int, *, name: Naming, short: Naming
) -> list[Answer]:
    """The answer for each sum, ascending; the first is for what buys nothing.

    far          the ranking of the far window; None where nothing was tested there
    name, short  of a device, by its id; the short one where it was named before
    """
    if not available:
        return [Answer(0.0, "Nobody has noted a price yet.")]
    over = f"over {wording.count(years, 'year')}"
    first = available[0]
    nothing = (
        f"Nothing here costs {SUM} {first.currency} or less {over}; the cheapest is {name(first.device)}, "
        f"{wording.money(first.amount, first.currency)}."
    )
    results = [Answer(0.0, nothing)] if first.amount > 0 else []
    for n, offer in enumerate(available, 1):
        if n < len(available) and available[n].amount == offer.amount:
            continue  # both come within reach together
        within = available[:n]
        bought = f"For {SUM} {first.currency} {over} you can have {_names(within, len(available), name)}."
        results.append(Answer(offer.amount, f"{bought} {_far_off(within, far, name, short)}"))
    return results


def answer_for(every: Sequence[Answer], amount: float) -> str:
    """The sentence for one sum. Raises ValueError below 0."""
    if amount < 0:
        raise ValueError(f"a sum must be at least 0, got {amount}")
    return next(answer for answer in reversed(every) if answer.least <= amount).at(amount)


def _unlike(terms: Terms, usual: Terms) -> str:
    parts = [
        terms.condition if terms.condition != usual.condition else "",
        terms.region if terms.region != usual.region else "",
        terms.tax if terms.tax != usual.tax else "",
    ]
    return ", ".join(filter(None, parts))


def _names(within: Sequence[Offer], total: int, name: Naming) -> str:
    if len(within) <= MOST_NAMED:
        named = [f"{name(one.device)}{f' ({one.unlike})' if one.unlike else ''}" for one in within]
        return wording.listing(named, "or")
    count = f"all {total} devices" if len(within) == total else f"{len(within)} of {total} devices"
    first = within[0]
    return f"{count}, from {name(first.device)} at {wording.money(first.amount, first.currency)} on"


def _far_off(within: Sequence[Offer], far: Ranking | None, name: Naming, short: Naming) -> str:
    """How they stand far off beside the device that gives most there."""
    if far is None or not far.ranked:
        return "How they do far off was not tested."
    off, most = WINDOW_WORDS[far.window], far.ranked[0]
    devices = [one.device for one in within]
    ranked = [entry for entry in far.ranked if entry.subject.device in devices]
    if not ranked:
        which = "none of them was" if len(devices) > 1 else "it was not"
        return f"{off}, {which} tested over the whole range."
    first, *others = ranked
    if first is most:
        interval = wording.likely(interval_text(most))
        gives = f"{rate_text(most)} Mbit/s{port_text(most)}{f', {interval}' if interval else ''}"
        return f"{off}, {short(most.subject.device)} gives most of all that were tested: {gives}."
    best_of_all, many = f"{name(most.subject.device)}, the best of all", len(far.ranked)
    if len(devices) > MOST_NAMED:
        return f"{off}, the best of them is {short(first.subject.device)}: {_beside(first, 'it', best_of_all, many)}."
    clauses = [_beside(first, short(first.subject.device), best_of_all, many)]
    clauses += [_beside(entry, short(entry.subject.device), "it", many) for entry in others]
    untested = [short(device) for device in devices if ranked_entry(far, device) is None]
    if untested:
        clauses.append(f"no test of {wording.listing(untested, 'or')} covers the whole range")
    return f"{off}, {_joined(clauses)}."


def _beside(entry: Ranked, one: str, most: str, many: int) -> str:
    """One device beside the one that gives most of so many: how much less it gives, or that the tests cannot say."""
    behind, digits = entry.behind, wording.rate_decimals(entry.value)
    if behind is None:
        return f"the tests give no verdict on {one} beside {most}"
    less = f"{wording.number(behind.value, digits)} Mbit/s less than {most}"
    likely = f" ({wording.likely(wording.between(*behind.interval, digits))})" if behind.interval is not None else ""
    if entry.apart_from_first:
        return f"{one} gives {less}{likely}" if likely else f"{one} gives at least {less}"
    if behind.interval is None or behind.interval[0] > 0:
        return f"{one} gives {less}, which may be chance among {many} devices"
    needed = wording.number(behind.interval[1] - behind.value, digits)
    return f"the tests cannot tell {one} from {most} (a difference of {needed} Mbit/s or more would have shown)"


def _joined(clauses: Sequence[str]) -> str:
    """Clauses that have commas of their own: "a; b; and c"."""
    return "; ".join([*clauses[:-1], f"and {clauses[-1]}"] if len(clauses) > 1 else clauses)
