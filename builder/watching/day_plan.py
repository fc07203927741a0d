"""What a day was planned for, read again from its planned rows: which devices, over which range, and what was promised.

A batch does not hold the promise; it is worked out anew from the rows and the catalogue without the day, as `plan` did.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from builder import wording
from builder.bench.bench import Bench, Subject, subject_named
from builder.bench.cells import Group
from builder.bench.tracks import GroupFilter
from builder.planning.lattices import Lattice
from builder.planning.places import Spot
from builder.planning.promises import Promise, promise
from builder.planning.questions import Question, ground_of
from builder.watching.states import Place
from catalog.errors import CatalogError


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A row of the plan, done or not: its place, its number in the plan, and its texts by column, after defaults."""

    place: Place
    order: int
    texts: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class DayPlan:
    """The single runs that were planned.

    other    None where a device is measured by itself
    both     the other is measured again
    cells    (device, session, label of its spot) -> repeats, in the order of the plan
    spots    by their labels
    lattice  None where nothing can be promised: `refused` says why
    """

    device: Subject
    other: Subject | None
    both: bool
    only: GroupFilter
    cells: Mapping[tuple[str, str, str], int]
    lattice: Lattice | None
    made: Promise | None
    refused: str = ""

    @property
    def group(self) -> Group | None:
        return None if self.lattice is None else self.lattice.group

    @property
    def spots(self) -> Mapping[str, Spot]:
        return {} if self.lattice is None else {spot.label: spot for spot in self.lattice.spots}


def day_plan(rows: Sequence[PlanRow], *, before: Bench, document: Mapping[str, Any]) -> DayPlan | None:
    """The plan of a day; None of one without a planned run, or of a device that nobody entered yet.

    before    the bench of the catalogue alone
    document  batch.toml, whose [bench] may say what the day is measured against
    """
    runs = [row.texts for row in sorted(rows, key=lambda one: one.order) if row.place[1] == "runs"]
    runs = [texts for texts in runs if texts.get("device") in before.devices]
    if not runs:
        return None
    devices = list(dict.fromkeys(texts["device"] for texts in runs))
    against = str(_bench_of(document).get("against", "")) or (devices[1] if len(devices) > 1 else "")
    link = Counter((t.get("client"), t.get("band"), t.get("width_mhz"), t.get("direction")) for t in runs)
    client, band, width, direction = link.most_common(1)[0][0]
    runs = [
        t
        for t in runs
        if (t.get("client"), t.get("band"), t.get("width_mhz"), t.get("direction")) == (client, band, width, direction)
    ]
    only = GroupFilter(client or None, band or None, _whole(width), direction or None)
    cells = Counter((t["device"], t.get("session", ""), label_of(t)) for t in runs)
    both = against.partition("@")[0].partition("+")[0] in devices
    against_named = _named(runs, against) if against in devices else against
    try:
        device = subject_named(before, _named(runs, devices[0]))
        other = subject_named(before, against_named) if against else None
    except CatalogError:
        return None
    question = Question(
        device=_named(runs, devices[0]),
        against=against_named if against else None,
        both=both,
        window=str(_bench_of(document).get("window", "")) or None,
        only=only,
        days=max(len({session for of, session, _ in cells if of == devices[0]}), 1),
    )
    try:
        lattice = ground_of(before, question).lattice
    except CatalogError as refusal:
        return DayPlan(device, other, both, only, cells, None, None, wording.lowered(str(refusal)))
    sessions = list(dict.fromkeys(session for of, session, _ in cells if of == devices[0]))
    repeats = np.array(
        [cells.get((devices[0], session, spot.label), 0) for session in sessions for spot in lattice.spots],
        dtype=np.intp,
    )
    covered = bool(lattice.covers(repeats[np.newaxis])[0])
    return DayPlan(
        device=lattice.device.subject,
        other=None if lattice.other is None else lattice.other.subject,
        both=both,
        only=only,
        cells=cells,
        lattice=lattice,
        made=promise(lattice, repeats) if covered else None,
        refused="" if covered else "its rows do not cover the range that these devices share.",
    )


def label_of(texts: Mapping[str, str]) -> str:
    """What a spot is called in a plan: its name, else its loss."""
    if texts.get("spot"):
        return texts["spot"]
    loss = texts.get("attenuation_db", "")
    try:
        return Spot("", None, None, float(loss.replace(",", ".")), 1, None, None).label
    except ValueError:
        return loss


def _named(runs: Sequence[Mapping[str, str]], device: str) -> str:
    """A device as `plan` takes it, with the firmware and settings of its planned rows."""
    texts = next((one for one in runs if one["device"] == device), {})
    firmware, settings = texts.get("firmware", ""), texts.get("settings", "")
    return f"{device}{f'@{firmware}' if firmware else ''}{f'+{settings}' if settings else ''}"


def _bench_of(document: Mapping[str, Any]) -> Mapping[str, Any]:
    section = document.get("bench", {})
    return section if isinstance(section, Mapping) else {}


def _whole(text: str | None) -> int | None:
    return int(text) if text and text.isdigit() else None
