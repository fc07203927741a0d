"""What is new, retested, corrected, withdrawn, disputed or no longer under embargo, each with its day and cause."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from builder import addresses, wording
from builder.bench.cells import Cell, Group
from builder.bench.decisions import is_decision, session_decided
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.correction_words import changed_words, condition_words
from builder.pages.parts.device_card import device_verdict
from builder.pages.tables.bench_days import day_place
from builder.pairs.outcomes import step_outcome
from builder.windows.neighbours import first_tested
from builder.windows.outcomes import window_outcome
from catalog.records import Correction, Embargo

Kind = Literal["New", "Retest", "Correction", "Withdrawn", "Embargo ended", "Dispute"]
_MEASURED = ("runs", "stations", "longruns", "heat", "power")  # tables with a result in every row
KINDS: tuple[Kind, ...] = ("New", "Retest", "Correction", "Withdrawn", "Embargo ended", "Dispute")


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that a returning reader may not know yet.

    when      since when it can be seen: a date, or an instant in UTC
    what      its subject, without its kind
    cause     why the site changed
    result    what came out: of a test, or of a correction what was and what is; "" where the cause says all
    address   the page it is about; *fragment* the place on it, "" for none
    results_changed  measured results that a correction changed
    """

    when: str
    kind: Kind
    what: str
    cause: str
    address: str
    fragment: str = ""
    result: str = ""
    results_changed: int = 0

    @property
    def text(self) -> str:
        """ "Retest: Tessarik Shale 2 with 1.6"."""
        return f"{self.kind}: {self.what}"

    @property
    def outcome(self) -> str:
        """What came out or, where nothing did, why: the words of every list and feed, without a full stop."""
        return (self.result or self.cause).rstrip(".")


@dataclass(frozen=True, slots=True)
class Event:
    """An item before it is worked out what came of it, which takes most of the time.

    words  its cause and its result
    """

    when: str
    kind: Kind
    what: str
    address: str
    words: Callable[[], tuple[str, str]]
    fragment: str = ""
    results_changed: int = 0

    @property
    def item(self) -> Item:
        cause, result = self.words()
        return Item(self.when, self.kind, self.what, cause, self.address, self.fragment, result, self.results_changed)


def shortened(items: Iterable[Item]) -> list[Item]:
    """The same for a short list: of a device's results that were corrected on one day only how many they were."""
    short: dict[tuple[object, ...], Item] = {}
    for number, item in enumerate(items):
        key = _told_as_one(item, number)
        count = item.results_changed + (short[key].results_changed if key in short else 0)
        words = f"{wording.count(count, 'result')} changed" if count else item.result
        short[key] = replace(item, results_changed=count, result=words)
    return list(short.values())


def _told_as_one(one: Item | Event, number: int) -> tuple[object, ...]:
    return (one.when, one.what, one.address) if one.results_changed else (number,)


def news(catalogue: Catalogue, results: Results, kinds: Collection[Kind] = KINDS) -> list[Item]:
    """Everything of these kinds, newest first."""
    return [event.item for event in events(catalogue, results) if event.kind in kinds]


def newest(catalogue: Catalogue, results: Results, most: int) -> list[Item]:
    """What `shortened(news(…))` begins with: what came of the others is not worked out."""
    together: dict[tuple[object, ...], list[Event]] = {}
    for number, event in enumerate(events(catalogue, results)):
        together.setdefault(_told_as_one(event, number), []).append(event)
    return shortened(event.item for alike in list(together.values())[:most] for event in alike)


def events(catalogue: Catalogue, results: Results) -> list[Event]:
    """Everything, newest first."""
    every = [
        *_tests(catalogue, results),
        *_corrections(catalogue, results),
        *_withdrawals(catalogue, results),
        *_embargoes(catalogue, results),
        *_disputes(catalogue, results),
    ]
    return sorted(every, key=lambda event: (event.when, f"{event.kind}: {event.what}"), reverse=True)


def _tests(catalogue: Catalogue, results: Results) -> Iterator[Event]:
    """New devices, and firmwares that came to be tested later."""
    bench = results.bench
    for device_id in bench.devices:
        day = first_tested(bench, device_id)
        if day is None:
            continue
        cells = bench.every_cell(device_id)
        here, name = addresses.device(device_id), device_name(bench, device_id)
        at_first = [c for c in cells if c.date == day]
        yield Event(
            _seen_from(catalogue, day, at_first),
            "New",
            name,
            here,
            partial(_first, catalogue, results, device_id, at_first),
        )
        known = {c.firmware for c in at_first}
        for version in sorted({c.firmware for c in cells} - known):
            retests = [c for c in cells if c.firmware == version]
            yield Event(
                _seen_from(catalogue, min(c.date for c in retests), retests),
                "Retest",
                f"{name} with {version}",
                here,
                partial(_again, catalogue, results, device_id, version, retests),
                "which-firmware",
            )


def _first(catalogue: Catalogue, results: Results, device_id: str, cells: Sequence[Cell]) -> tuple[str, str]:
    group = results.largest.get(device_id)
    return _batches(catalogue, results, cells, group), _result(catalogue, results, device_id)


def _again(
    catalogue: Catalogue, results: Results, device_id: str, version: str, cells: Sequence[Cell]
) -> tuple[str, str]:
    step = next((step for step in results.firmware_steps(device_id) if step.newer == version), None)
    with_both = step.pairing.leading.group if step is not None and step.pairing is not None else None
    return _batches(catalogue, results, cells, with_both), step_outcome(step) if step is not None else ""


def _result(catalogue: Catalogue, results: Results, device_id: str) -> str:
    """What a device gives in the middle window of its largest group, or why there is no such figure."""
    group = results.largest.get(device_id)
    if group is None:
        return device_verdict(catalogue, results, device_id, None)
    return window_outcome(results.ranking(group, "middle"), results.standing[device_id, "middle"])


def _batches(catalogue: Catalogue, results: Results, cells: Iterable[Cell], group: Group | None) -> str:
    """ "Measured with Wrenlet U2, 5 GHz, 80 MHz, down, in the batch “Tarn”."."""
    titles = [f"“{catalogue.batches[batch_id].title}”" for batch_id in catalogue.batch_ids(cells)]
    client = f" with {results.names[group].text}" if group else ""
    batches = f"{',' if client else ''} in the batch{'es' if len(titles) > 1 else ''} {wording.listing(titles)}"
    return f"Measured{client}{batches if titles else ''}."


def _seen_from(catalogue: Catalogue, day: str, cells: Iterable[Cell]) -> str:
    """The day of the test, or the end of the last embargo that kept all of it out of view."""
    ends: list[str] = []
    for cell in cells:
        covering = [e for e in catalogue.embargoes if _covers(catalogue, e, cell)]
        if not covering:
            return day
        ends.append(max(e.until_utc for e in covering))
    return max(day, min(ends)) if ends else day


def _covers(catalogue: Catalogue, embargo: Embargo, cell: Cell) -> bool:
    if embargo.subject == "batch":
        return embargo.batch_id in catalogue.batch_ids([cell])
    of = {"unit": (embargo.unit, cell.unit), "firmware": (embargo.version, cell.firmware)}
    under_embargo, of_cell = of.get(embargo.subject, ("", ""))
    return embargo.device == cell.device and under_embargo == of_cell


def _corrections(catalogue: Catalogue, results: Results) -> Iterator[Event]:
    for c in catalogue.corrections:
        if c.device is not None and c.device in results.bench.devices:
            what, place = device_name(results.bench, c.device), addresses.device(c.device)
            words = partial(_corrected, catalogue, results, c)
            yield Event(c.date, "Correction", what, place, words, "corrections", int(c.table in _MEASURED))
        elif is_decision(c) and (day := session_decided(c, catalogue.sessions.values())) is not None:
            house = results.bench.houses[day.house].name
            what = f"bench day {day.session_id} in {house}"
            place, fragment = addresses.house(day.house), day_place(results, day.house)
            yield Event(c.date, "Correction", what, place, partial(_decided, c), fragment)
        elif c.device is None:
            words = partial(_corrected, catalogue, results, c)
            yield Event(c.date, "Correction", c.row_key, addresses.DATA, words)


def _decided(c: Correction) -> tuple[str, str]:
    cause = f"{wording.capital(c.reason.rstrip('.'))}; decided by {c.noticed_by}."
    return cause, f"was {c.was or 'undecided'}, now {c.now or 'undecided'}"


def _corrected(catalogue: Catalogue, results: Results, c: Correction) -> tuple[str, str]:
    cause = f"{wording.capital(c.reason.rstrip('.'))}; noticed by {c.noticed_by}."
    return cause, _was_and_is(catalogue, results, c)


def _was_and_is(catalogue: Catalogue, results: Results, correction: Correction) -> str:
    """ "throughput was 623.7 Mbit/s, now 632.7 Mbit/s (Wrenlet U2, 5 GHz, 80 MHz, down, spot S5)"."""
    condition = condition_words(results, correction) if correction.device is not None else ""
    return f"{changed_words(catalogue, correction)}{f' ({condition})' if condition else ''}"


def _withdrawals(catalogue: Catalogue, results: Results) -> Iterator[Event]:
    devices = results.bench.devices
    for w in catalogue.withdrawals:
        device = w.id.split("/")[0].split("@")[0]
        what = device_name(results.bench, w.id) if w.id in devices else f"{w.what} {w.id}"
        address = addresses.device(device) if device in devices else addresses.DATA
        yield Event(w.from_date, "Withdrawn", what, address, _alone(f"{wording.capital(w.reason.rstrip('.'))}."))


def _embargoes(catalogue: Catalogue, results: Results) -> Iterator[Event]:
    """Embargoes of things with a page; one of a batch shows in the devices that are new with it."""
    for e in catalogue.embargoes:
        if e.device is None or e.device not in results.bench.devices:
            continue
        part = f", unit {e.unit}" if e.unit else f", firmware {e.version}" if e.version else ""
        covered = "its existence" if e.covers == "existence" else "its results"
        yield Event(
            e.until_utc,
            "Embargo ended",
            f"{device_name(results.bench, e.device)}{part}",
            addresses.device(e.device),
            _alone(f"Until then {covered} could not be shown."),
        )


_STATES = {"partly": "upheld in part"}


def _disputes(catalogue: Catalogue, results: Results) -> Iterator[Event]:
    for d in catalogue.disputes:
        if d.device is not None and d.device in results.bench.devices:
            yield Event(
                d.date,
                "Dispute",
                f"{device_name(results.bench, d.device)}, {_STATES.get(d.state, d.state)}",
                addresses.device(d.device),
                _alone(f"{wording.capital(d.raised_by)} says: {d.claim.rstrip('.')}."),
                "corrections",
            )


def _alone(cause: str) -> Callable[[], tuple[str, str]]:
    """The words of what has a cause and no result."""
    return lambda: (cause, "")
