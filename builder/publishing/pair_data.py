"""What the chooser works with: every pair of devices in every group, with the verdicts that the pair pages print.

A pair lies in the data of the device whose id comes first, so a choice of up to four reads at most three of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from typing import Any

from builder import addresses
from builder.comparisons.bench import Bench, Subject, subject
from builder.comparisons.cells import Group
from builder.comparisons.matched import compare
from builder.comparisons.pairing import leading_of
from builder.comparisons.tracks import EVERYTHING, Filter
from builder.comparisons.verdicts import PairFigure
from builder.pages.material import Material

# Only these verdicts say that one of the two leads.
_LEADS = ("separated", "at-least")


def pair_data(material: Material) -> dict[str, dict[str, Any]]:
    """Device -> other device -> the pair, of all devices with results."""
    bench = material.bench
    devices = sorted(device for device in bench.devices if bench.cells_of.get(device))
    subjects = {device: subject(bench, device) for device in devices}
    prepared = set(material.pairs)
    found: dict[str, dict[str, Any]] = {device: {} for device in devices}
    for a, b in combinations(devices, 2):
        found[a][b] = _pair(material, subjects, a, b, page=addresses.pair(a, b) if (a, b) in prepared else "")
    return found


def _pair(material: Material, subjects: Mapping[str, Subject], a: str, b: str, *, page: str) -> dict[str, Any]:
    bench = material.bench
    figures = compare(bench, subjects[a], subjects[b], match="attenuation")
    lead = leading_of(bench, figures, material.company)
    level = compare(bench, subjects[a], subjects[b], match="level", only=_only(lead.group))
    return {
        "page": page,
        "figures": [_figure(figure) for figure in sorted(figures, key=lambda f: f is not lead)],
        "level": [f.sentence for f in level if f.group in (None, lead.group)],
        "spots": _spots(bench, subjects[a], subjects[b]) if lead.verdict == "refused" else [],
    }


def _spots(bench: Bench, a: Subject, b: Subject) -> list[dict[str, str]]:
    """What can be said spot by spot, where no shared range lets more be said; otherwise the pair's page has it."""
    return [
        {"group": figure.group.slug, "sentence": figure.sentence}
        for figure in compare(bench, a, b, match="spot")
        if figure.spot and figure.group
    ]


def _only(group: Group | None) -> Filter:
    """The groups around one; all where there is none."""
    if group is None:
        return EVERYTHING
    return Filter(group.series, group.band, group.width_mhz, group.direction)


def _figure(figure: PairFigure) -> dict[str, Any]:
    entry: dict[str, Any] = {
        "group": figure.group.slug if figure.group else "",
        "verdict": figure.verdict,
        "sentence": figure.sentence,
    }
    if figure.verdict in (*_LEADS, "not-separated"):
        entry["p"] = float(f"{figure.p:.6g}")
    if figure.verdict in _LEADS:
        entry["leads"] = leader(figure)
    return entry


def leader(figure: PairFigure) -> str:
    """Which of the two leads, "a" or "b", by a verdict that says so."""
    if figure.leader is not None:
        return figure.leader
    assert figure.difference is not None
    return "a" if figure.difference > 0 else "b"
