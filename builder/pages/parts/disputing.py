"""Disputes: the section of each on a device's page, and the short mark at every figure that an open one is about.

An open dispute about a device marks every figure of that device; one about a figure also marks what rests on it.
The mark leads to the dispute's place on the device's page. The number stands until the dispute is decided.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from builder import addresses, wording
from builder.bench.bench import Subject, cells_of_subject
from builder.bench.cells import Cell, Group, cell_figure
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Link, Section
from builder.pairs.pairing import line_of
from builder.pairs.verdicts import Range
from builder.traces.ids import devices_named
from catalog.records import Device, Dispute


@dataclass(frozen=True, slots=True)
class OpenDispute:
    """A dispute whose latest state is open. key: its fragment on the device's page."""

    dispute: Dispute
    key: str


@dataclass(frozen=True, slots=True)
class Disputed:
    """Every open dispute of a site, collected once per page: device -> those about it or about a figure of it."""

    open: Mapping[str, tuple[OpenDispute, ...]]

    def marks(
        self, here: str, device: str, *, cells: Iterable[Cell] = (), figures: Iterable[str] = (), whole: bool = True
    ) -> tuple[Link, ...]:
        """The marks at a figure of a device on the page at *here*; the *note* of each is the claim.

        cells    that the figure rests on
        figures  ids of the figure itself, and of others it rests on
        whole    also disputes about the device as such
        """
        disputes = self.open.get(device, ())
        if not disputes:
            return ()
        named = {cell_figure(cell) for cell in cells if cell.device == device}.union(figures)
        return tuple(
            Link("disputed", addresses.link(here, addresses.device(device), one.key), one.dispute.claim)
            for one in disputes
            if (one.dispute.figure in named if one.dispute.figure else whole)
        )

    def about(self, devices: Iterable[str], figures: Iterable[str]) -> bool:
        """Whether any open dispute is about one of the devices as such, or about one of the figures."""
        named = frozenset(figures)
        return any(
            one.dispute.figure in named if one.dispute.figure else True
            for device in devices
            for one in self.open.get(device, ())
        )

    def marks_of_subjects(
        self,
        results: Results,
        here: str,
        sides: Iterable[Subject],
        group: Group | None,
        span: Range | None,
        *,
        figures: Iterable[str] = (),
        spot: str | None = None,
    ) -> tuple[Link, ...]:
        """The marks at a figure of one or two subjects in a group: over a span of losses [dB], or at one spot."""
        figures = tuple(figures)
        return tuple(
            mark
            for side in sides
            if side.device in self.open
            for mark in self.marks(
                here, side.device, cells=_weighing(results, side, group, span, spot), figures=figures
            )
        )


def disputed(catalogue: Catalogue) -> Disputed:
    """The open disputes of everything that pages show."""
    about: dict[str, list[Dispute]] = defaultdict(list)
    for dispute in catalogue.disputes:
        for device in _about(dispute):
            about[device].append(dispute)
    still_open: dict[str, tuple[OpenDispute, ...]] = {}
    for device, states in about.items():
        latest = {(d.figure, d.device, d.claim): OpenDispute(d, _key(i)) for i, d in enumerate(states, start=1)}
        if kept := tuple(one for one in latest.values() if one.dispute.state == "open"):
            still_open[device] = kept
    return Disputed(still_open)


def dispute_sections(catalogue: Catalogue, site: SiteContext, device: Device) -> tuple[Section, ...]:
    """Every state of every dispute about the device or one of its figures."""
    disputes = [d for d in catalogue.disputes if device.device_id in _about(d)]
    gone = [u.returned for u in device.units if u.returned and site.past[u.returned]]
    last = max(gone) if len(gone) == len(device.units) else ""
    return tuple(
        Section(_key(index), f"{wording.capital(d.state)}: {d.claim}", _sentences(d, last))
        for index, d in enumerate(disputes, start=1)
    )


def _about(dispute: Dispute) -> tuple[str, ...]:
    """The devices a dispute is about, each once."""
    named = (dispute.device,) if dispute.device else ()
    return tuple(dict.fromkeys((*named, *(devices_named(dispute.figure) if dispute.figure else ()))))


def _key(index: int) -> str:
    return f"dispute~{index}"


def _sentences(dispute: Dispute, gone: str) -> tuple[str, ...]:
    """gone: the day on which the last unit went back; "" while one is still here."""
    sentences = [f"Raised by {dispute.raised_by}, {wording.date(dispute.date)}. The figure stands until it is decided."]
    if dispute.state != "open":
        sentences = [f"Raised by {dispute.raised_by}; decided {wording.date(dispute.date)}."]
    if dispute.figure:
        sentences.append(f"It is about the figure {dispute.figure}.")
    if dispute.evidence:
        sentences.append(f"Evidence: {dispute.evidence.rstrip('.')}.")
    if dispute.retest:
        sentences.append(f"Retest: {dispute.retest.rstrip('.')}.")
    elif dispute.state == "open" and gone:
        sentences.append(f"No retest possible since {wording.date(gone)}.")
    return tuple(sentences)


def _weighing(results: Results, side: Subject, group: Group | None, span: Range | None, spot: str | None) -> list[Cell]:
    """The cells that a figure of a subject rests on."""
    if group is None:
        return []
    if spot is not None:
        return [c for c in cells_of_subject(results.bench, side, group) if c.spot == spot]
    line = line_of(results.bench, side, group, match="attenuation")
    if span is None or line is None or not line.line.covers(*span):
        return []
    return line.over(*span).used
