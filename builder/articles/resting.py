"""What the words of an article rest on, known before any run is read: which devices, and whether on others, too.

Nothing of the catalogue is looked up here. What is named too much costs time; what is named too little would be wrong,
so a kind of binding that looks beyond the devices it names says so in `_BEYOND`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from builder.articles.bindings import Binding, read_bindings
from catalog.figure_names import devices_meant
from catalog.records import Article, Client
from catalog.visibility import Asked

ANY_CLIENT = ""


@dataclass(frozen=True, slots=True)
class Resting:
    """What an article rests on beside what every part of a copy holds (`catalog.visibility.asked`).

    devices     those it names or is about
    ranked      clients or series whose results are ranked over all devices; ANY_CLIENT among them: no client is named
    under_load  it looks at what every device did with several clients at once
    """

    devices: frozenset[str]
    ranked: frozenset[str]
    under_load: bool

    def rests_on(self, changed: frozenset[str] | None) -> bool:
        """Whether any of the devices that changed bears on it; None for all of them."""
        return (
            changed is None
            or bool(changed & self.devices)
            or (bool(changed) and (bool(self.ranked) or self.under_load))
        )


def resting_of(article: Article) -> Resting:
    """What one article rests on, by the bindings in its text that can be read, and by the devices it is about."""
    from builder.articles.markdown_text import marked_html  # loads a library that `may_rest_on` does without

    typed = marked_html(article.text).bindings
    bindings = [one.binding for one in read_bindings(typed) if isinstance(one.binding, Binding)]
    ranked = [one.options.get("client", ANY_CLIENT) for one in bindings if _BEYOND.get(one.kind) == "ranking"]
    ranked += [one.options.get("client", ANY_CLIENT) for one in bindings if one.link and one.subjects[1] == "all"]
    return Resting(
        devices_meant(*article.devices, *(name for one in bindings for name in map(_device, one.subjects))),
        frozenset(ranked),
        any(_BEYOND.get(one.kind) == "workload" for one in bindings),
    )


def may_rest_on(article: Article, changed: frozenset[str] | None) -> bool:
    """False where `resting_of` would surely say that none of the devices that *changed* bears on an article.

    Nearly all articles of a large catalogue are told so, without reading their Markdown.
    """
    if changed is None or not changed.isdisjoint(article.devices):
        return True
    return any(
        _MARKUP.search(inside)
        or (changed and _LOOKS_BEYOND.match(inside))
        or any(device in inside for device in changed)
        for inside in _INSIDE.findall(article.text)
    )


def asked_for(resting: Iterable[Resting], clients: Sequence[Client], *, bridged: bool) -> Asked:
    """The part of a copy on which articles rest.

    clients  every setup that may be in the copy
    bridged  whether bridge tests may have joined series of theirs
    """
    every = list(resting)
    return Asked(
        devices=frozenset().union(*(one.devices for one in every)),
        clients=_setups(frozenset().union(*(one.ranked for one in every)), clients, bridged=bridged),
        under_load=any(one.under_load for one in every),
    )


def _setups(named: frozenset[str], clients: Sequence[Client], *, bridged: bool) -> frozenset[str]:
    """The setups that may stand in a ranking with those *named*: all where one may be joined to any."""
    if not named:
        return frozenset()
    names = {client.client_id: {client.client_id, *_series(client)} for client in clients}
    meant = frozenset().union(*(of_setup for of_setup in names.values() if of_setup & named))
    if bridged or not named <= meant:
        return frozenset(names)
    while wider := [setup for setup, of_setup in names.items() if of_setup & meant and not of_setup <= meant]:
        meant = meant.union(*(names[setup] for setup in wider))
    return frozenset(setup for setup, of_setup in names.items() if of_setup & meant)


def _series(client: Client) -> Iterable[str]:
    return client.series, *(driver.series for driver in client.drivers)


def _device(subject: str) -> str:
    """DEVICE/UNIT@FIRMWARE without the unit."""
    return subject.replace("/", "@", 1)


_INSIDE = re.compile(r"\(=(.*?)=\)", re.DOTALL)
_MARKUP = re.compile(r"[\\`\[\]<>&\ue000-\uf8ff]")  # what Markdown may take for something else than it looks
_LOOKS_BEYOND = re.compile(r"\s*(?:rank|ranking|role)\b|\s*claim\b.*?\ball\b", re.DOTALL)
# Kinds that look at devices which they do not name.
_BEYOND: Mapping[str, str] = {"rank": "ranking", "ranking": "ranking", "role": "workload"}
