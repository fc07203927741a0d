"""Every figure a site prints, by its id: the text, and what it rests on. The record that later builds are compared with.

The record lies in the site itself, so that the site and what is known of it change places together: whatever a killed
publish or a roll-back leaves in place, `changes` compares with exactly that.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC
from pathlib import Path
from typing import TypeVar

from builder import wording
from builder.bench.bench import subject_named
from builder.bench.cells import Cell, cell_figure
from builder.pages.contents import Catalogue, Contents, Results
from builder.pages.tables.device_results import REACH_AT_MBIT_S
from builder.publishing.changing.former_words import in_words_of_today
from builder.publishing.files.datapackage import NAME as PACKAGE
from builder.registers.eirp import implied_eirps
from builder.registers.heat import rise_of
from builder.traces.definitions import FIGURES
from builder.traces.ids import (
    ceiling_figure,
    heat_figure,
    loss_figure,
    power_figure,
    price_figure,
)
from builder.under_load.longruns import steady_sentence
from builder.windows.ranking import rank_figure
from builder.windows.reach import reach_text, reaches
from builder.windows.standing import interval_text, rate_text
from catalog.errors import BuildRefused
from catalog.figure_names import parts_of_subject
from catalog.method import METHOD_NUMBER
from catalog.records import Heat, Power

Observed = TypeVar("Observed", Heat, Power)

NAME = "figures.json"  # among the downloads
RECORD = f"data/{NAME}"
DESCRIPTOR = f"data/{PACKAGE}"


@dataclass(frozen=True, slots=True)
class Printed:
    """One figure.

    about  tags as `catalog.queries.Fact` has them, and "ranking:GROUP~WINDOW" for its company there
    since  instant of the publication that was the first to print it so; "" where it is not known yet
    """

    text: str
    about: tuple[str, ...]
    since: str = ""


@dataclass(frozen=True, slots=True)
class Former:
    """What a publication printed and the site no longer prints. text: "" for what was withdrawn. Instants are UTC text."""

    figure: str
    text: str
    since: str
    until: str
    why: str
    about: tuple[str, ...]


@dataclass(frozen=True)
class Record:
    """What a site printed at its build instant, under which definitions of its figures, and what it printed before."""

    as_of: str
    definitions: Mapping[str, int]
    figures: Mapping[str, Printed]
    former: tuple[Former, ...] = ()


def record_of(contents: Contents) -> Record:
    """The record of a public copy at its build instant."""
    printed = dict(
        sorted(
            [
                *_cells(contents.results),
                *_rankings(contents.results),
                *_pairs(contents.results),
                *_settings_pairs(contents.results),
                *_reaches(contents.results),
                *_limits(contents.catalogue, contents.results),
                *_loudness(contents.results),
                *_factors(contents.results),
                *_observations(contents.catalogue, contents.results),
                *_roles(contents.results),
                *_longruns(contents.results),
            ]
        )
    )
    definitions = {"method": METHOD_NUMBER, **{metric.name: metric.definition for metric in FIGURES.values()}}
    return Record(contents.site.as_of.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"), definitions, printed)


def record_bytes(record: Record) -> bytes:
    """The record as it lies in its site: one line per figure. Its instant is that of the descriptor beside it."""
    lines = _lines({"figure": figure, **asdict(printed)} for figure, printed in record.figures.items())
    former = _lines(asdict(one) for one in record.former)
    head = json.dumps({"definitions": record.definitions}, ensure_ascii=False)
    return f'{head[:-1]}, "figures": [\n{lines}\n], "former": [\n{former}\n]}}\n'.encode()


def _lines(entries: Iterable[Mapping[str, object]]) -> str:
    return ",\n".join(json.dumps(entry, ensure_ascii=False) for entry in entries)


def read_record(site: Path) -> Record | None:
    """The record of the site in a folder; None where there is none, as in a site that was built but not published.

    Raises  BuildRefused for a record that cannot be read.
    """
    path = site / RECORD
    if not path.is_file():
        return None
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        figures = {
            one["figure"]: Printed(in_words_of_today(one["text"]), tuple(one["about"]), one.get("since", ""))
            for one in content["figures"]
        }
        former = tuple(Former(**one | {"about": tuple(one["about"])}) for one in content.get("former", ()))
        as_of = content.get("as_of") or json.loads((site / DESCRIPTOR).read_text(encoding="utf-8"))["created"]
        return Record(as_of, content["definitions"], figures, former)
    except (OSError, ValueError, KeyError, TypeError) as failure:
        raise BuildRefused(f"{path} cannot be read, so nobody can say which figures change: {failure}.") from failure


def _about(cells: Iterable[Cell], *more: str) -> tuple[str, ...]:
    tags = dict.fromkeys(more)
    for cell in cells:
        tags |= dict.fromkeys(
            (f"device:{cell.device}", f"client:{cell.client}", f"session:{cell.session}", f"house:{cell.house}")
        )
        if cell.settings is not None:
            tags[f"settings:{cell.settings}"] = None
        if cell.spot is not None:
            tags[f"spot:{cell.house}/{cell.spot}"] = None
    return tuple(sorted(tags))


def _with_references(results: Results, cells: list[Cell], *more: str) -> tuple[str, ...]:
    """For a figure with an interval: the day-to-day spread is that of the houses' reference devices."""
    houses = [results.bench.houses[house] for house in dict.fromkeys(cell.house for cell in cells)]
    references = [f"device:{house.reference_device}" for house in houses if house.reference_device]
    return _about(cells, "method", *references, *more)


def _cells(results: Results) -> Iterator[tuple[str, Printed]]:
    for cell in (*results.bench.cells, *results.bench.cells_under):
        value = "nothing finished" if cell.mean is None else f"{wording.rate(cell.mean, bound=cell.bound)} Mbit/s"
        text = f"{value}, {cell.summary or f'n {cell.n}'}"
        if cell.did_not_finish:
            text += f", {cell.did_not_finish} broke off"
        yield cell_figure(cell), Printed(text, _about([cell]))


def _rankings(results: Results) -> Iterator[tuple[str, Printed]]:
    for (group, window), ranking in results.rankings.items():
        place = f"ranking:{group.slug}~{window}"
        for entry in ranking.ranked:
            cells = [c for c in results.cells[group] if c.device == entry.subject.device]
            about = _with_references(results, cells, place)
            interval = wording.in_95(interval_text(entry))
            yield entry.figure, Printed(f"{rate_text(entry)} Mbit/s{f' ({interval})' if interval else ''}", about)
            yield (
                rank_figure(ranking, entry.subject.device),
                Printed(wording.ranks(entry.best, entry.worst, len(ranking.ranked)), about),
            )


def _pairs(results: Results) -> Iterator[tuple[str, Printed]]:
    for a, b in results.pairs:
        pairing = results.pairing(a, b)
        for figure in (*pairing.by_attenuation, *pairing.by_level, *pairing.by_spot):
            cells = [c for c in results.cells.get(figure.group, ()) if c.device in (a, b)] if figure.group else []
            about = _with_references(results, cells, f"device:{a}", f"device:{b}")
            yield figure.figure, Printed(figure.sentence, about)


def _settings_pairs(results: Results) -> Iterator[tuple[str, Printed]]:
    """What settings bring, as the pages of their devices say; their titles stand in the sentence."""
    for device, figures in results.settings_pairs.items():
        cells = results.bench.every_cell(device)
        for figure in figures:
            groups = (figure.group, figure.group_b or figure.group)
            sides = zip((figure.a.settings, figure.b.settings), groups, strict=True)
            taken = {(settings or None, group) for settings, group in sides}
            about = _with_references(results, [c for c in cells if (c.settings, c.group) in taken], f"device:{device}")
            yield figure.figure, Printed(figure.sentence, about)


def _reaches(results: Results) -> Iterator[tuple[str, Printed]]:
    bench = results.bench
    for device in bench.devices:
        for reach in reaches(bench, subject_named(bench, device), [REACH_AT_MBIT_S]):
            cells = [c for c in results.cells[reach.group] if c.device == device]
            yield reach.figure, Printed(f"{reach_text(reach.reach)} dB", _with_references(results, cells))


def _limits(catalogue: Catalogue, results: Results) -> Iterator[tuple[str, Printed]]:
    for key, value in results.bench.limits.ceilings.items():
        yield ceiling_figure(key), Printed(f"{wording.rate(value)} Mbit/s", (f"client:{key[0]}",))
    for epoch in catalogue.epochs:
        about = (f"spot:{epoch.house}/{epoch.spot}",)
        yield loss_figure(epoch), Printed(f"{wording.decibels(epoch.attenuation_db)} dB", about)


def _loudness(results: Results) -> Iterator[tuple[str, Printed]]:
    bench = results.bench
    for device in bench.devices:
        for level in implied_eirps(bench, subject_named(bench, device)):
            text = f"{wording.decibels(level.mean)} dBm, {wording.count(len(level.cells), 'place')}"
            text += "" if level.sd is None else f", s {wording.decibels(level.sd)} dB"
            yield level.figure, Printed(text, _about(level.cells))


def _factors(results: Results) -> Iterator[tuple[str, Printed]]:
    for factor in results.factors.values():
        reference = results.bench.houses[factor.house].reference_device
        about = (f"device:{reference}", f"house:{factor.house}", f"session:{factor.session}")
        yield factor.figure, Printed(f"{wording.ratio(factor.factor)}, {factor.state}", about)


def _observations(catalogue: Catalogue, results: Results) -> Iterator[tuple[str, Printed]]:
    heat_of, power_of = _by_device(catalogue.heat), _by_device(catalogue.power)
    for device in results.bench.devices:
        about = (f"device:{device}",)
        for heat in heat_of.get(device, ()):
            rise = rise_of(heat)
            text = "no rise" if rise is None else f"{wording.kelvin(rise)} above the room"
            yield heat_figure(heat), Printed(text, about)
        for power in power_of.get(device, ()):
            yield power_figure(power), Printed(wording.watts(power.watts), about)
        for price in catalogue.prices.get(device, ()):
            yield price_figure(price), Printed(wording.money(price.amount, price.currency), about)


def _by_device(readings: Mapping[str, Sequence[Observed]]) -> dict[str, list[Observed]]:
    """Device -> its readings under whatever settings."""
    grouped: dict[str, list[Observed]] = {}
    for identifier, members in readings.items():
        grouped.setdefault(parts_of_subject(identifier)[0], []).extend(members)
    return grouped


def _roles(results: Results) -> Iterator[tuple[str, Printed]]:
    for result in results.mix_results:
        mix = result.mix
        for role in result.roles:
            asked = (f"workload:{mix.workload}/{mix.version}", f"role:{role.role.definition}")
            setup = [f"client:{role.station.client}", f"session:{role.station.session}"] if role.station else []
            yield (
                role.figure,
                Printed(role.sentence, (f"device:{mix.device}", *asked, *setup)),
            )


def _longruns(results: Results) -> Iterator[tuple[str, Printed]]:
    for result in results.longrun_results:
        run = result.run
        about = (f"device:{run.device}", f"client:{run.client}", f"session:{run.session}")
        yield result.figure, Printed(steady_sentence(result), about)
