"""Every sentence about a pair, with slots: pages fill them here, the chooser's script fills the same ones.

A figure in a slot is printed by `wording`; a script gets it as a whole number of its last printed digit
(`FigureSlot`), so that nothing is rounded twice and no sentence is written twice.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from builder import wording
from builder.bench.weighted import Match
from catalog.method import MAX_GAP_DB, MIN_KNOTS, MIN_RANGE_DB

# How a slot's figure is printed: a rate [Mbit/s] in the pair's decimals, with or without a plus, two rates as the ends
# of an interval, per cent or dB in tenths, dB without a zero at its end, or two such ends of a range. A "lead" and its
# interval "either way" are kept as a minus b, and printed without a sign, as seen from the one the sentence is about.
FigureKind = Literal["rate", "signed rate", "lead", "interval", "either way", "percent", "decibels", "range"]
TWO_ENDS: Collection[FigureKind] = ("interval", "either way", "range")

AXIS_UNITS: Mapping[Match, str] = {"attenuation": "dB", "level": "dBm", "spot": "dB"}

Verdict = Literal["separated", "not-separated", "at-least", "undecided", "no-verdict", "refused"]


@dataclass(frozen=True, slots=True)
class FigureSlot:
    """A slot that holds a figure, and how it is printed."""

    slot: str
    kind: FigureKind


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence and its figures, in the order in which scripts get them, with the code of a refusal.

    Other slots are a, b (names); one, other (names, the one it is about first); place, where (of the match, at the
    beginning and in the middle of a sentence); unit (of the axis); tested_a, tested_b (ranges); of_a, of_b (with what
    each was tested); channels_a, channels_b; spot; speed (of one's port).
    """

    text: str
    figures: tuple[FigureSlot, ...] = ()
    code: str = ""
    verdict: Verdict = "refused"


def _rates(*slots: str, signed: bool = False) -> tuple[FigureSlot, ...]:
    return tuple(FigureSlot(slot, "signed rate" if signed else "rate") for slot in slots)


_SHARED = FigureSlot("shared", "range")
_GAINS = (*_rates("gain"), FigureSlot("likely", "interval"))
_LEANING = (FigureSlot("lead", "lead"), FigureSlot("likely", "either way"), *_rates("half"))
_SINGLE = (
    "Single run: {one} was measured only once at a spot that counts here, and too little else says how much single runs "
    "differ. The values stand; no verdict."
)
_NO_SPREAD = (
    "No spread: {one} has only a summary of several runs at a spot that counts here, without their spread, and too "
    "little else says how much runs differ. The values stand; no verdict."
)
_MET_NOWHERE = (
    "no place in this group has a measured attenuation. The same distance loses more in one house than in another"
)
_DISTANCE = f": {_MET_NOWHERE}, so these results are shown but not matched."
_NO_LEVELS = ": no received level was noted in this group, so there is nothing to match at equal level."

PAIR_SENTENCES: Mapping[str, Sentence] = {
    "separated": Sentence(
        f"{{place}} {{one}} gives {{gain}} Mbit/s more than {{other}} ({{share}}{wording.PERCENT}), likely {{likely}}.",
        (*_GAINS, FigureSlot("share", "percent")),
        verdict="separated",
    ),
    "separated from nothing": Sentence(
        "{place} {one} gives {gain} Mbit/s more than {other}, likely {likely}.", _GAINS, verdict="separated"
    ),
    "at least": Sentence(
        "{place} {one} gives at least {gain} Mbit/s more than {other} "
        f"({wording.AT_LEAST} {{share}}{wording.PERCENT}).",
        (*_rates("gain"), FigureSlot("share", "percent")),
        verdict="at-least",
    ),
    "at least over nothing": Sentence(
        "{place} {one} gives at least {gain} Mbit/s more than {other}.", _rates("gain"), verdict="at-least"
    ),
    "not separated": Sentence(
        "These tests cannot tell {a} and {b} apart: {where} {one} was {lead} Mbit/s ahead, "
        "likely {likely}; a difference of {half} or more would have shown.",
        _LEANING,
        verdict="not-separated",
    ),
    "not separated, even": Sentence(
        "These tests cannot tell {a} and {b} apart: {where} they came out {lead} Mbit/s apart, "
        "{one} likely {likely}; a difference of {half} or more would have shown.",
        _LEANING,
        verdict="not-separated",
    ),
    "no shared range": Sentence(
        "No shared range: {a} was tested at {tested_a} {unit}, {b} at {tested_b} {unit} ({apart} dB apart). "
        "No comparison.",
        (FigureSlot("apart", "decibels"),),
        code="no-shared-range",
    ),
    "single point": Sentence(
        f"The shared range is a single point ({{shared}} {{unit}}); at least {MIN_RANGE_DB:g} dB needed.",
        (_SHARED,),
        code="range-too-short",
    ),
    "range too short": Sentence(
        f"The shared range, {{shared}} {{unit}}, is {{length}} dB long; at least {MIN_RANGE_DB:g} dB needed.",
        (_SHARED, FigureSlot("length", "decibels")),
        code="range-too-short",
    ),
    **{
        f"too few spots {spots}": Sentence(
            f"Inside the shared range, {{shared}} {{unit}}, {{one}} has {wording.count(spots, 'measured spot')}; "
            f"at least {MIN_KNOTS} of each device are needed.",
            (_SHARED,),
            code="too-few-spots",
        )
        for spots in range(MIN_KNOTS)
    },
    "gap": Sentence(
        "{a} was tested at {tested_a} {unit}, {b} at {tested_b} {unit}, but they meet only across a gap of more than "
        f"{MAX_GAP_DB:g} dB without a measured spot. No line is drawn there: no comparison.",
        code="gap",
    ),
    "single run": Sentence(_SINGLE, verdict="no-verdict"),
    "single run, held": Sentence(f"{_SINGLE} That of {{one}} is a lower bound.", verdict="no-verdict"),
    "single run, other held": Sentence(f"{_SINGLE} That of {{other}} is a lower bound.", verdict="no-verdict"),
    "two bounds": Sentence(
        "Undecided: {a} and {b} were both held back by the client or the lab, so either may be faster.",
        verdict="undecided",
    ),
    "bound within noise": Sentence(
        "Undecided: {one} was held back by the client or the lab; its lead over {other}, as measured, is {lead} "
        "Mbit/s, and {needed} would be needed.",
        (*_rates("lead", signed=True), *_rates("needed")),
        verdict="undecided",
    ),
    "level across setups": Sentence(
        "{a} and {b} were not measured with the same client setup. Two adapters read different levels from the same "
        "signal, so equal levels would not mean equal signals. No comparison at equal level.",
        code="level-across-setups",
    ),
    "level uplink": Sentence(
        "The level is read at the client; it says nothing of what the access point receives. No comparison uplink.",
        code="level-uplink",
    ),
    "nothing in common": Sentence(
        "No comparison: {a} and {b} were never tested with the same client series, band, width and direction. "
        "{a}: {of_a}. {b}: {of_b}.",
        code="nothing-in-common",
    ),
    "read anew": Sentence(
        "{spot} was read anew between the tests, so it may not be the same place. No comparison there.",
        code="spot-moved",
    ),
    "moved": Sentence(
        "{spot} changed from {before} to {after} dB between the tests. No comparison there.",
        (FigureSlot("before", "decibels"), FigureSlot("after", "decibels")),
        code="spot-moved",
    ),
    "distance only": Sentence("{one}" + _DISTANCE, code="distance-only"),
    "distance only, both": Sentence("{a} and {b}" + _DISTANCE, code="distance-only"),
    "no levels": Sentence("{one}" + _NO_LEVELS, code="distance-only"),
    "no levels, both": Sentence("{a} and {b}" + _NO_LEVELS, code="distance-only"),
    "several links": Sentence(
        "A client on several bands at once has no single attenuation, so no line can be matched. Results at the same "
        "spot can be compared.",
        code="unequal-conditions",
    ),
    **{
        f"no spread{held}": Sentence(f"{_NO_SPREAD}{whose}", verdict="no-verdict")
        for held, whose in (
            ("", ""),
            (", held", " That of {one} is a lower bound."),
            (", other held", " That of {other} is a lower bound."),
        )
    },
    # These follow another sentence.
    "port": Sentence(" {one} was held back by its {speed} port."),
    "channels": Sentence(" They were on channels {channels_a} and {channels_b}, whose limits of power differ."),
}


# In how many groups which of the two gives more: the opening words on a pair.
OVERVIEW: Mapping[str, str] = {
    "all": "In all {words} groups in which they are compared {what}.",
    "both": "In both groups in which they are compared {what}.",
    "first": "In {count} of {all} groups {what}",
    "next": "in {words} {what}",
    "last": "in the other {words} {what}",
    "more": "{one} gives more",
    "untold": "the tests cannot tell",
}


def overview(a: str, b: str, leads: Sequence[str]) -> str:
    """ "In 5 of 7 groups Cupola gives more; in the other two the tests cannot tell."; "" for a single group.

    a, b   the names of the two
    leads  "a", "b" or, where the tests cannot tell, "" for each group in which they are compared, the leading one first
    """
    if len(leads) < 2:
        return ""
    names = {"a": a, "b": b}
    counts = {lead: leads.count(lead) for lead in dict.fromkeys([leads[0], *sorted(leads, reverse=True)])}
    what = {lead: OVERVIEW["more"].format(one=names[lead]) if lead else OVERVIEW["untold"] for lead in counts}
    if len(counts) == 1:
        return OVERVIEW["both" if len(leads) == 2 else "all"].format(
            words=wording.in_words(len(leads)), what=what[leads[0]]
        )
    which = ["first", *["next"] * (len(counts) - 2), "last"]
    parts = [
        OVERVIEW[name].format(count=count, words=wording.in_words(count), all=len(leads), what=what[lead])
        for name, (lead, count) in zip(which, counts.items(), strict=True)
    ]
    return f"{'; '.join(parts)}."


def either_way(low: float, high: float, decimals: int) -> str:
    """The interval of a lead that may be none [Mbit/s]: "0.1 behind to 8.1 ahead", "0–144 ahead"."""
    behind, none, ahead = (wording.number(rate, decimals) for rate in (-low, 0, high))
    return f"{none}–{ahead} ahead" if behind == none else f"{behind} behind to {ahead} ahead"


def pair_sentence(name: str, **words: str) -> str:
    """The sentence of that name with its slots filled."""
    return PAIR_SENTENCES[name].text.format_map(words)
