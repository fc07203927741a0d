"""What a comparison says: the figure, its sentence, and its JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from builder import wording
from builder.bench.bench import Subject, labels, same_but_settings
from builder.bench.cells import Group
from builder.bench.settings import AS_ALWAYS
from builder.bench.weighted import Match
from builder.pairs.sentences import Verdict, either_way, pair_sentence
from catalog.figure_names import joined_id

Range = tuple[float, float]
Link = tuple[str, float | None]  # band, and the loss at the spot [dB] where it was read

PLACE_WORDS: dict[Match, str] = {
    "attenuation": "In the same place",
    "level": "At the same signal",
    "spot": "At the same spot",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PairFigure:
    """One comparison of two subjects in one group. Rates in Mbit/s; ranges and crossings in dB, for level in dBm.

    A field that the verdict forbids is None. p is the unadjusted two-sided p-value, for tables of several pairs.
    driver is that of a level match, which holds within one setup with one driver. port_a and port_b are the speeds of
    the devices' own ports where those held a value back. [Mbit/s]
    """

    a: Subject
    b: Subject
    match: Match
    group: Group | None
    client: str
    verdict: Verdict
    sentence: str
    code: str | None = None
    tested_a: Range | None = None
    tested_b: Range | None = None
    range: Range | None = None
    spot: str | None = None
    epoch: str | None = None
    mean_a: float | None = None
    mean_b: float | None = None
    difference: float | None = None
    ratio: float | None = None
    standard_uncertainty: float | None = None
    half_width: float | None = None
    interval: Range | None = None
    effective_df: float | None = None
    crossings: tuple[float, ...] = ()
    bound_a: bool = False
    bound_b: bool = False
    n_a: int = 0
    n_b: int = 0
    leader: Literal["a", "b"] | None = None
    assumed: tuple[str, ...] = ()
    p: float = 1.0
    driver: str = ""
    house: str | None = None  # of a spot match
    port_a: float | None = None
    port_b: float | None = None
    group_b: Group | None = None  # of b, where one side used several links at once and the other one of them
    links_a: tuple[Link, ...] = ()  # of sides under settings at a spot
    links_b: tuple[Link, ...] = ()
    summaries_a: tuple[str, ...] = ()  # what of the means rests on summaries: "mean of 3"
    summaries_b: tuple[str, ...] = ()

    @property
    def figure(self) -> str:
        """Id of the figure: made of what it is about, never of row numbers or values."""
        parts = ["pair", self.a.id, self.a.unit, self.a.firmware, self.b.id, self.b.unit, self.b.firmware]
        # Of one group there may be several level matches, one a setup and driver.
        setup = (self.client, self.driver) if self.match == "level" and self.verdict != "refused" else ()
        tail = [self.match, *(t for t in (self.house, self.spot, self.epoch, *setup) if t)]
        middle = [group.slug for group in (self.group, self.group_b) if group]
        return "~".join([joined_id(*parts), *middle, joined_id(*tail)])

    @property
    def ahead(self) -> Literal["a", "b", ""]:
        """Which side gives more; "" where the tests cannot separate them."""
        if self.verdict == "at-least":
            return self.leader or ""
        if self.verdict != "separated" or self.difference is None:
            return ""
        return "a" if self.difference > 0 else "b"

    @property
    def decimals(self) -> int:
        """Decimals of everything this pair prints: those of the smaller value."""
        return wording.rate_decimals(*(m for m in (self.mean_a, self.mean_b) if m is not None))


def without_share(figure: PairFigure) -> str:
    """A figure's whole sentence without its lead in per cent, for lists that only say what came out."""
    if figure.ahead == "":
        return figure.sentence
    return figure.sentence.replace(verdict_sentence(figure), verdict_sentence(figure, share=False))


def verdict_sentence(figure: PairFigure, *, share: bool = True) -> str:
    """The sentence of a figure with a verdict on its difference (separated, not separated or at least).

    share  whether a lead is also said in per cent
    """
    if figure.verdict != "not-separated" and same_but_settings(figure.a, figure.b):
        return _settings_sentence(figure)
    name_a, name_b = labels(figure.a, figure.b)
    place = f"At {figure.spot}" if figure.match == "spot" and figure.spot else PLACE_WORDS[figure.match]
    decimals = figure.decimals
    assert figure.mean_a is not None
    assert figure.mean_b is not None
    assert figure.difference is not None
    assert figure.half_width is not None
    if figure.verdict == "not-separated":
        assert figure.interval is not None
        lead = wording.rounded(figure.difference, decimals)
        low, high = figure.interval if lead >= 0 else (-figure.interval[1], -figure.interval[0])
        return pair_sentence(
            "not separated" if lead else "not separated, even",
            a=name_a,
            b=name_b,
            one=name_b if lead < 0 else name_a,
            where=in_sentence(place),
            lead=wording.number(abs(figure.difference), decimals),
            likely=either_way(low, high, decimals),
            half=wording.number(figure.half_width, decimals),
        )
    ahead = figure.ahead == "a"
    names = {"one": name_a, "other": name_b} if ahead else {"one": name_b, "other": name_a}
    base = figure.mean_b if ahead else figure.mean_a
    gain = wording.number(abs(figure.difference), decimals)
    percent = wording.number(abs(figure.difference) / base * 100 if base else 0.0, 1)
    if figure.verdict == "at-least":
        which = "at least" if base and share else "at least over nothing"
        return pair_sentence(which, place=place, gain=gain, share=percent, **names)
    assert figure.interval is not None
    ends = figure.interval if ahead else (-figure.interval[1], -figure.interval[0])
    which = "separated" if base and share else "separated from nothing"
    return pair_sentence(
        which,
        place=place,
        gain=gain,
        likely=wording.between(*ends, decimals),
        share=percent,
        **names,
    )


def _settings_sentence(figure: PairFigure) -> str:
    """What settings bring: the side that gives less first, each with the links it used and what was lost on them."""
    assert figure.difference is not None
    place = f"At {figure.spot}" if figure.match == "spot" and figure.spot else PLACE_WORDS[figure.match]
    behind, ahead = (figure.b, figure.a) if figure.ahead == "a" else (figure.a, figure.b)
    on_behind, on_ahead = (figure.links_b, figure.links_a) if figure.ahead == "a" else (figure.links_a, figure.links_b)
    less = wording.number(abs(figure.difference), figure.decimals)
    least = "at least " if figure.verdict == "at-least" else ""
    sentence = (
        f"{place} {behind.model} gives {least}{less} Mbit/s less {_under(behind)}{links_text(on_behind)} than "
        f"{_under(ahead)}{links_text(on_ahead)}"
    )
    if figure.interval is None:
        return f"{sentence}."
    low, high = sorted(map(abs, figure.interval))
    return f"{sentence}, {wording.likely(wording.between(low, high, figure.decimals))}."


def _under(side: Subject) -> str:
    return f"with {side.under}" if side.settings else AS_ALWAYS


def links_text(links: Sequence[Link]) -> str:
    """The links of one side behind its name: " (5 GHz 74 dB and 6 GHz 77 dB)", of a single one " (5 GHz, 74 dB)"."""
    several = len(links) > 1
    parts = [
        wording.band(band) + ("" if loss is None else f"{' ' if several else ', '}{wording.decibels(loss)} dB")
        for band, loss in links
    ]
    return f" ({wording.listing(parts)})" if parts else ""


def in_sentence(place: str) -> str:
    """The words of a place in the middle of a sentence."""
    return place[:1].lower() + place[1:]


def to_json(figure: PairFigure) -> dict[str, Any]:
    """The shape of commands.md: keys that the verdict forbids are absent, the others in a stable order."""
    group = figure.group
    entry: dict[str, Any] = {
        "client": figure.client or None,
        "series": group.series if group else None,
        "band": group.band if group else None,
        **_differing(figure, "band"),
        "width_mhz": group.width_mhz if group else None,
        **_differing(figure, "width_mhz"),
        "direction": group.direction if group else None,
        "protocol": group.protocol if group else None,
        "flows": group.flows if group else None,
        "security": group.security if group else None,
        "verdict": figure.verdict,
        "code": figure.code,
        "sentence": figure.sentence,
        "tested_a": _range(figure.tested_a),
        "tested_b": _range(figure.tested_b),
    }
    if figure.verdict == "refused":
        return entry
    if figure.match == "spot":
        entry |= {"house": figure.house, "spot": figure.spot, "epoch": figure.epoch}
    else:
        entry["range"] = _range(figure.range)
    entry |= {"mean_a": figure.mean_a, "mean_b": figure.mean_b}
    if figure.summaries_a or figure.summaries_b:
        entry |= {"summaries_a": list(figure.summaries_a), "summaries_b": list(figure.summaries_b)}
    if figure.verdict == "undecided":
        return entry | {
            "bound_a": figure.bound_a,
            "bound_b": figure.bound_b,
            "n_a": figure.n_a,
            "n_b": figure.n_b,
            "figure": figure.figure,
        }
    if figure.verdict == "no-verdict":
        bounds = {"bound_a": figure.bound_a, "bound_b": figure.bound_b}
        entry |= bounds if figure.difference is None else {"difference": figure.difference}
        return entry | {"n_a": figure.n_a, "n_b": figure.n_b, "figure": figure.figure}
    entry["difference"] = figure.difference
    if figure.verdict == "at-least":
        entry |= {"leader": figure.leader, "half_width": figure.half_width}
    else:
        entry |= {
            "ratio": figure.ratio,
            "standard_uncertainty": figure.standard_uncertainty,
            "half_width": figure.half_width,
            "interval": _range(figure.interval),
        }
        if figure.match != "spot":
            entry["crossings"] = list(figure.crossings)
    df = figure.effective_df
    entry |= {
        "effective_df": None if df is None or math.isinf(df) else df,
        "bound_a": figure.bound_a,
        "bound_b": figure.bound_b,
        "n_a": figure.n_a,
        "n_b": figure.n_b,
        "assumed": list(figure.assumed),
        "figure": figure.figure,
    }
    return entry


def _differing(figure: PairFigure, name: str) -> dict[str, Any]:
    """Of a group that differs between the sides: null, and what each side has."""
    if figure.group is None or figure.group_b is None:
        return {}
    of_a, of_b = (getattr(group, name) for group in (figure.group, figure.group_b))
    return {} if of_a == of_b else {name: None, f"{name}_a": of_a, f"{name}_b": of_b}


def summaries_text(figure: PairFigure) -> str:
    """ "Cupola: mean of 3; Skerry: median of 5"; "" where no mean rests on a summary."""
    sides = zip(labels(figure.a, figure.b), (figure.summaries_a, figure.summaries_b), strict=True)
    return "; ".join(f"{name}: {', '.join(summaries)}" for name, summaries in sides if summaries)


def _range(values: Range | None) -> list[float] | None:
    return None if values is None else list(values)
