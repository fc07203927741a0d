"""Numbers with units that an author typed, and the bindings that would keep them true."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

from builder import wording
from builder.articles import mix_candidates, observations
from builder.articles.bindings import NotBound, read_binding
from builder.articles.evidence import Evidence, spelled
from builder.articles.markdown_text import typed_text
from builder.articles.quoting import quote

_ENDED = r"(?:broke off|breaks off|gave up|gives up|collapsed)"
# MHz and GHz are left out: they name a width or a band, not a result.
_TYPED = re.compile(
    r"(?<![\w.,])(?P<number>[+≥<−-]?\s?\d+(?:[.,]\d+)*)\s?"
    r"(?P<unit>[MGk]bit/s|M[Bb]ps|MB/s|dBm|dB|ms|°C|K|W|%|€|\$|£|EUR|USD|GBP|CHF)(?![\w/])"
    r"|(?<![\w.,])(?:€|\$|£|EUR|USD|GBP|CHF)\s?\d+(?:[.,]\d+)*(?![\w/])"
    r"|(?<![\w.,])\d+\s?stalls?\b"
    # A length of time is a result only where something ended after it: elsewhere it may be that of a film.
    rf"|(?<=\b){_ENDED} after (?:about |some )?(?P<time>\d+:\d\d|\d+(?:[.,]\d+)?\s?(?:minutes?|min|seconds?|s)\b)"
)
MOST_PROPOSED = 3
_COMMON_RATE = 100  # the reach that device pages show [Mbit/s]


@dataclass(frozen=True, slots=True)
class TypedNumber:
    """A number with its unit as it was typed, and where. The first line is 1."""

    line: int
    text: str


def typed_numbers(text: str) -> list[TypedNumber]:
    """Every number with a unit outside of bindings, code and targets of links, in order."""
    return [
        TypedNumber(line, " ".join((match["time"] or match[0]).split()))
        for line, typed in typed_text(text)
        for match in _TYPED.finditer(typed)
    ]


def proposals(evidence: Evidence, typed: Sequence[TypedNumber], devices: Sequence[str]) -> list[str]:
    """A sentence for each typed number: the bindings that print it, or that none does.

    devices  those the article is about; only their figures are tried
    """
    if not typed:
        return []
    known: dict[str, list[str]] = {}
    for binding, text in (*_figures_of(evidence, devices), *_observed(evidence, devices)):
        for key in (_key(text), _key(text).lstrip("+−≥<")):
            if binding not in known.setdefault(key, []):
                known[key].append(binding)
    sentences: list[str] = []
    for number in typed:
        bindings = known.get(_key(number.text), [])
        if bindings:
            more = f" (and {len(bindings) - MOST_PROPOSED} more)" if len(bindings) > MOST_PROPOSED else ""
            most = wording.listing(bindings[:MOST_PROPOSED], "or")
            sentences.append(f"“{number.text}” is typed. Bound to the catalogue it would be {most}{more}.")
        else:
            sentences.append(
                f"“{number.text}” is typed, and no throughput, difference, reach, share, waiting time, price, rise or power "
                "of the article's devices reads so. It will not follow a correction."
            )
    return sentences


def _key(text: str) -> str:
    """A number with unit for looking up: without the words before it, spaces and brackets, comma or point alike."""
    bare = re.sub(r"^(?:about|at least|at most|below) ", "", text.split("(")[0])
    return re.sub(r"\s", "", bare).replace(",", ".")


def _figures_of(evidence: Evidence, devices: Sequence[str]) -> Iterator[tuple[str, str]]:
    """(binding, its text) of everything the devices' figures could say."""
    for candidate in _candidates(evidence, devices):
        try:
            yield f"(= {candidate} =)", quote(evidence, read_binding(candidate, line=0)).text
        except NotBound:
            continue


def _observed(evidence: Evidence, devices: Sequence[str]) -> Iterator[tuple[str, str]]:
    """(binding, one way to type its number) of every price, surface, power and run with several clients."""
    for device in devices:
        for candidate, typed in (
            *observations.candidates(evidence, device),
            *mix_candidates.candidates(evidence, device),
        ):
            yield from ((f"(= {candidate} =)", text) for text in typed)


def _candidates(evidence: Evidence, devices: Sequence[str]) -> Iterator[str]:
    tested = [device for device in devices if evidence.bench.cells_of.get(device)]
    groups = {
        device: {c.group: spelled(evidence, c.group) for c in evidence.bench.cells_of[device] if c.mean is not None}
        for device in tested
    }
    for device in tested:
        for group, conditions in groups[device].items():
            yield from (f"value {device}, window {name}, {conditions}" for name in ("near", "middle", "far"))
            cells = [c for c in evidence.bench.cells_of[device] if c.group == group and c.spot]
            yield from (f"value {device}, spot {spot}, {conditions}" for spot in dict.fromkeys(c.spot for c in cells))
            yield f"reach {device}, rate {_COMMON_RATE}, {conditions}"
    for a, b in permutations(tested, 2):
        yield from (
            f"difference {a} {b}, {conditions}" for group, conditions in groups[a].items() if group in groups[b]
        )
