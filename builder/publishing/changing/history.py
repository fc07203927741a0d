"""What each publication printed, kept from one to the next: the source of links to a figure as it was published.

A value that was replaced is kept with the reason. What was withdrawn keeps its place and no value; what was hidden
again leaves no trace, as if it had never been printed. Ranks are left out: they follow from the company of a day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from builder import wording
from builder.pages.as_published import DatedValue
from builder.pages.contents import Catalogue, Contents, Results, SiteContext
from builder.publishing.changing.causes import HiddenAgain, Withdrawn
from builder.publishing.changing.changes import Change, Changes
from builder.publishing.changing.figures import Former, Record
from builder.traces.ids import devices_named

_UNDATED = ("rank~",)  # kinds without dated links


def with_history(
    record: Record, old: Record | None, changes: Changes | None, contents: Contents, *, secret: Callable[[str], bool]
) -> Record:
    """The record of a new site with the publication that first printed each value, and with what is no longer printed.

    old      the record of the published site, and *changes* from it; None for a first publication
    secret   whether a text holds something that may not be public
    """
    if old is None or changes is None:
        return _dated(record, {})
    firsts = {
        figure: old.figures[figure].since or old.as_of
        for figure, printed in record.figures.items()
        if figure in old.figures and old.figures[figure].text == printed.text
    }
    withdrawn = frozenset(c.figure for c in changes.figures if any(isinstance(why, Withdrawn) for why in c.causes))
    hidden = {c.figure for c in changes.figures if any(isinstance(why, HiddenAgain) for why in c.causes)}
    muted = {tag for figure in hidden & old.figures.keys() for tag in _devices(old.figures[figure].about)}
    taken = _withdrawn_devices(contents.catalogue, contents.site)
    was_so = _before_it_was_seen(hidden, old, record)
    kept: list[Former] = []
    for former in [*old.former, *_replaced(changes.figures, old, record)]:
        if former.figure in hidden and former.until > was_so.get(former.figure, ""):
            continue
        if former.figure not in record.figures and muted & _devices(former.about):
            continue  # it may be about something hidden, and nothing printed now shows that it is not
        if not _subjects_remain(former, contents.catalogue, contents.results) or secret(
            "\n".join([former.figure, former.text, former.why])
        ):
            continue
        unprinted = former.figure not in record.figures and bool(taken & set(devices_named(former.figure)))
        kept.append(replace(former, text="") if former.figure in withdrawn or unprinted else former)
    record = _dated(record, firsts | was_so)
    return replace(record, former=tuple(sorted(kept, key=lambda f: (f.figure, f.since))))


def _before_it_was_seen(hidden: Iterable[str], old: Record, record: Record) -> dict[str, str]:
    """Figures whose text is again what it was before something that is now hidden was shown -> since when.

    As if it had never been shown: the text in between is forgotten.
    """
    before: dict[str, str] = {}
    for former in sorted(old.former, key=lambda former: former.until):
        now = record.figures.get(former.figure)
        if former.figure in hidden and now is not None and now.text == former.text:
            before[former.figure] = former.since
    return before


def _subjects_remain(former: Former, catalogue: Catalogue, results: Results) -> bool:
    """Whether the copy still holds everything that a figure is about."""
    bench = results.bench
    known = {"device": bench.devices, "client": bench.clients, "house": bench.houses, "session": catalogue.sessions}
    tags = (tag.partition(":") for tag in former.about)
    return all(device in bench.devices for device in devices_named(former.figure)) and all(
        thing in known.get(kind, (thing,)) for kind, _, thing in tags
    )


def dated_values(record: Record, results: Results) -> dict[tuple[str, str], tuple[DatedValue, ...]]:
    """(device, instant of a publication) -> what it was the first to print of the device, by figure."""
    by_publication: dict[tuple[str, str], list[DatedValue]] = defaultdict(list)
    for figure, printed in record.figures.items():
        if not figure.startswith(_UNDATED):
            for device in devices_named(figure)[:1]:
                by_publication[device, printed.since].append(DatedValue(figure, printed.text))
    for former in record.former:
        now = record.figures.get(former.figure)
        for device in devices_named(former.figure)[:1]:
            by_publication[device, former.since].append(
                DatedValue(
                    former.figure,
                    former.text,
                    former.until,
                    former.why,
                    now.text if now else "",
                    now.since if now else "",
                )
            )
    known = results.bench.devices
    return {
        key: tuple(sorted(values, key=lambda value: value.figure))
        for key, values in sorted(by_publication.items())
        if key[0] in known
    }


def dates_of(dated: Iterable[tuple[str, str]], device_id: str) -> tuple[str, ...]:
    """The publications that were the first to print something of a device, oldest first."""
    return tuple(sorted(since for device, since in dated if device == device_id))


def _dated(record: Record, firsts: Mapping[str, str]) -> Record:
    figures = {
        figure: printed if figure.startswith(_UNDATED) else replace(printed, since=firsts.get(figure, record.as_of))
        for figure, printed in record.figures.items()
    }
    return replace(record, figures=figures)


def _replaced(changes: Iterable[Change], old: Record, record: Record) -> Iterable[Former]:
    """What the published site printed and the new one does not, with why; of one instant only the last is kept."""
    for change in changes:
        if change.kind == "new" or change.figure.startswith(_UNDATED) or not devices_named(change.figure):
            continue
        was = old.figures[change.figure]
        since = was.since or old.as_of
        if since != record.as_of:
            why = wording.capital(wording.listing(change.causes, "and"))
            yield Former(change.figure, was.text, since, record.as_of, why, was.about)


def _devices(about: Iterable[str]) -> set[str]:
    return {tag for tag in about if tag.startswith("device:")}


def _withdrawn_devices(catalogue: Catalogue, site: SiteContext) -> set[str]:
    day = site.as_of.date().isoformat()
    return {w.id for w in catalogue.withdrawals if w.what == "device" and w.from_date <= day}
