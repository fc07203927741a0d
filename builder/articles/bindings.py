"""What an author may write between (= and =): its grammar, without any catalogue.

    (= KIND SUBJECT ..., NAME VALUE, NAME VALUE ... : the author's own words =)

A subject is DEVICE, DEVICE/UNIT, DEVICE@FIRMWARE or DEVICE/UNIT@FIRMWARE; of some kinds a client or a workload. A value with a comma or a colon stands
in double quotes. What each kind says, and which names it takes, is in KINDS; the README tells it to authors.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from builder import wording

OPEN = re.compile(r"\(=(?=\s*[A-Za-z])")
CONDITIONS = ("client", "band", "width", "direction", "protocol", "flows", "security")

_PART = re.compile(r'(?:"[^"]*"|[^,"])+')
_WORDS = re.compile(r'^((?:"[^"]*"|[^":])*?)(?:\s:|:\s)(.*)$', re.DOTALL)
_LINKS = ("leads", "alike", "hotter", "cheaper", "copes")
_SPELLED = {"copes": ("copes", "better")}  # links of more than one word
_MEASURED = ("at", "rate", "band", "width", "minutes", "years")  # options whose unit goes without saying
_HEAT = ("face", "load", "minutes", "mount", "session")
_RUN = ("workload", "on", "mix")  # what tells runs with several clients apart
_ROLE = ("workload", "role", "client", "on", "mix")


class NotBound(Exception):
    """A binding that nothing can stand in for, with the sentence that says why and what to do."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of binding: how many subjects it has, which names it takes, and what it says.

    names  names beside the conditions
    words  whether the author's own words may follow
    block  whether it stands in a paragraph of its own
    bare   whether conditions of a link play no part in it
    what   what its subjects are
    first  the option whose name may be left out where it comes first; "" for none
    """

    subjects: tuple[int, int]
    names: tuple[str, ...]
    says: str
    words: bool = False
    block: bool = False
    bare: bool = False
    what: str = "device"
    first: str = ""


KINDS: Mapping[str, Kind] = {
    "under": Kind((0, 0), (), "nothing; its conditions hold from here on"),
    "value": Kind((1, 1), ("at", "window", "spot", "session", "frozen"), "a throughput"),
    "difference": Kind((2, 2), ("match", "spot", "frozen"), "first minus second, with its interval"),
    "ratio": Kind((2, 2), ("match", "spot", "frozen"), "first over second"),
    "verdict": Kind((2, 2), ("match", "spot", "frozen"), "the whole sentence of a comparison"),
    "rank": Kind((1, 1), ("window", "frozen"), "the ranks a device may have in a window"),
    "reach": Kind((1, 1), ("rate", "frozen"), "the loss at which a rate is left"),
    "firmware": Kind((1, 1), ("frozen",), "the firmware that was tested", bare=True),
    "tested": Kind((1, 1), ("frozen",), "the days of the tests"),
    "price": Kind((1, 1), ("region", "condition", "on", "frozen"), "a dated price", bare=True),
    "heat": Kind((1, 1), (*_HEAT, "frozen"), "the rise of a surface above the room", bare=True),
    "power": Kind((1, 1), ("state", "side", "frozen"), "a drawn power and the class it needs", bare=True),
    "feature": Kind((1, 1), ("name", "frozen"), "how far a feature has come", bare=True),
    "share": Kind((1, 1), (*_ROLE, "runs", "frozen"), "requests of a role in time", bare=True),
    "waits": Kind((1, 1), (*_ROLE, "at", "of", "frozen"), "how long so many of a role's requests waited", bare=True),
    "stalls": Kind((1, 1), (*_ROLE, "runs", "frozen"), "how often and how long a stream stood still", bare=True),
    "brokeoff": Kind((1, 1), (*_RUN, "frozen"), "whether runs of a workload broke off, and when", bare=True),
    "coped": Kind((1, 1), (*_RUN, "frozen"), "whether every role of a workload was met, and which was not", bare=True),
    "claim": Kind(
        (2, 2),
        ("match", "spot", "window", *_HEAT, "years", "workload", "role"),
        "the author's words, if the tests carry them",
        words=True,
    ),
    "lines": Kind((1, 4), (), "a range chart with its table", words=True, block=True),
    "ranking": Kind((0, 0), ("window",), "the chart of a window's ranking with its table", words=True, block=True),
    "mix": Kind((1, 1), _RUN, "the chart of a run with several clients", words=True, block=True, bare=True),
    "role": Kind(
        (1, 1),
        ("role", "client", "mix"),
        "the chart of a role over devices",
        words=True,
        block=True,
        bare=True,
        what="workload",
        first="role",
    ),
    "longrun": Kind(
        (1, 1),
        ("client", "kind", "band", "width", "direction", "spot", "session", "on"),
        "the chart of a long run",
        words=True,
        block=True,
        bare=True,
    ),
    "parts": Kind(
        (1, 2), (), "a table: what is inside of a device, or whether two have the same", block=True, bare=True
    ),
    "ports": Kind((1, 1), (), "a table of a device's wired ports", block=True, bare=True),
    "ceiling": Kind(
        (1, 1),
        ("band", "width", "direction"),
        "a table: what a client can do at most, with its evidence",
        block=True,
        bare=True,
        what="client",
    ),
}


@dataclass(frozen=True, slots=True)
class Binding:
    """One binding as it was typed.

    line      of the article's file, the first is 1
    typed     all of it, on one line
    link      of a claim: "leads", "alike", "hotter", "cheaper" or "copes"; else ""
    options   name -> value, conditions included
    words     the author's own; "" for none
    frozen    (text, date) of a quote that keeps its value; None for a live one
    """

    line: int
    typed: str
    kind: str
    subjects: tuple[str, ...] = ()
    link: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    words: str = ""
    frozen: tuple[str, str] | None = None

    @property
    def conditions(self) -> dict[str, str]:
        """The conditions among the options."""
        return {name: value for name, value in self.options.items() if name in CONDITIONS}

    @property
    def bare(self) -> bool:
        """Whether conditions of a link play no part in it."""
        return KINDS[self.kind].bare or self.link == "copes"

    def required(self, name: str) -> str:
        """The value of an option. Raises NotBound where it is missing."""
        if name not in self.options:
            what = "“claim A copes better B”" if self.link == "copes" else self.kind
            raise NotBound(f"{what} needs {name}.")
        return self.options[name]


@dataclass(frozen=True, slots=True)
class ReadBinding:
    """What stands between one (= and =) of an article: number, line, its text, and the binding or why it is none."""

    number: int
    line: int
    inside: str
    binding: Binding | NotBound


def read_bindings(typed: Mapping[int, tuple[int, str]]) -> Iterator[ReadBinding]:
    """Every binding of an article, each under the conditions that hold where it stands.

    typed  number of a binding -> (line it begins at, what stands between (= and =)), in the order of the text
    """
    under: dict[str, str] = {}
    for number, (line, inside) in typed.items():
        try:
            binding = read_binding(inside, line=line)
        except NotBound as failure:
            yield ReadBinding(number, line, inside, failure)
            continue
        if binding.kind == "under":
            under = dict(binding.options)
        elif not binding.bare:
            binding = replace(binding, options={**under, **binding.options})
        yield ReadBinding(number, line, inside, binding)


def read_binding(text: str, *, line: int) -> Binding:
    """The binding that stands between (= and =).

    Raises  NotBound: an unknown kind or name, too few or too many subjects, a name without a value.
    """
    inside = " ".join(text.split())
    typed = f"(= {inside} =)"
    split = _WORDS.match(inside)
    head, words = (split[1], split[2].strip()) if split else (inside, "")
    first, *parts = [part.strip() for part in _PART.findall(head)] or [""]
    name, *subjects = first.split()
    kind = KINDS.get(name)
    if kind is None:
        raise NotBound(f"There is no kind of binding {name!r}. There are {wording.listing(list(KINDS))}.")
    if words and not kind.words:
        raise NotBound(f"{name} takes no words of its own; put them outside of (= and =).")
    link = ""
    if name == "claim":
        link = subjects[1] if len(subjects) > 1 else ""
        if link not in _LINKS or subjects[1:-1] != list(_SPELLED.get(link, (link,))):
            raise NotBound(
                "A claim reads “claim A leads B”, “claim A leads all”, “claim A alike B”, “claim A hotter B”, "
                "“claim A cheaper B” or “claim A copes better B”."
            )
        subjects = [subjects[0], subjects[-1]]
    fewest, most = kind.subjects
    if most == 0 and subjects:  # without subjects the first option follows the kind at once
        parts, subjects = [" ".join(subjects), *parts], []
    if not fewest <= len(subjects) <= most:
        needed = wording.count(most, kind.what) if fewest == most else f"{fewest} to {most} {kind.what}s"
        raise NotBound(
            f"{name} takes {needed}, and {len(subjects)} {'is' if len(subjects) == 1 else 'are'} named. Options follow "
            "after commas."
        )
    if kind.first and parts and " " not in parts[0]:
        parts[0] = f"{kind.first} {parts[0]}"
    options = _options(name, kind, parts)
    return Binding(line, typed, name, tuple(subjects), link, options, words, _frozen(options.pop("frozen", None)))


def _options(name: str, kind: Kind, parts: list[str]) -> dict[str, str]:
    known = (*kind.names, *(() if kind.bare else CONDITIONS))
    options: dict[str, str] = {}
    for part in parts:
        option, _, value = part.partition(" ")
        if option not in known:
            raise NotBound(f"{name} knows no {option!r}. It takes {wording.listing(known)}.")
        if option in options:
            raise NotBound(f"{option} is said twice.")
        value = value.strip()
        options[option] = value if option == "frozen" else _plain(option, value)
        if not options[option]:
            raise NotBound(f"{option} has no value.")
    return options


def _plain(option: str, value: str) -> str:
    """A value without quotes, and without the unit that its name says already."""
    bare = value.strip('"').strip()
    return re.sub(r"\s*(?:GHz|MHz|dB|Mbit/s|min|years?|%)$", "", bare) if option in _MEASURED else bare


def _frozen(value: str | None) -> tuple[str, str] | None:
    if value is None:
        return None
    match = re.fullmatch(r'"([^"]+)"\s+(\d{4}-\d{2}-\d{2})', value)
    if match is None:
        raise NotBound('A frozen quote is written: frozen "the value as published" YYYY-MM-DD.')
    try:
        date.fromisoformat(match[2])
    except ValueError as failure:
        raise NotBound(f"{match[2]} is not a day of the calendar.") from failure
    return match[1].strip(), match[2]
