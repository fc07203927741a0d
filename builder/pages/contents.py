"""What pages are made of: the records that were entered, what was worked out from them, and the site they are for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from inspect import signature
from typing import NamedTuple, TypeVar

from sqlite_utils import Database

from builder.bench.bench import Bench, CellsOfRuns, load_bench, subject_named
from builder.bench.bridging import BridgeTest
from builder.bench.cells import Cell, Group, cells
from builder.bench.device_runs import EveryRun, RunsOf, device_runs
from builder.bench.naming import GroupName
from builder.bench.sessions import FactorKey, SessionFactor
from builder.observed import asked_once
from builder.pages.worked_out import Rankings, WorkedOut, by
from builder.pairs.histories import Step, firmware_steps
from builder.pairs.pairing import Pairing, pairing
from builder.pairs.verdicts import PairFigure
from builder.registers.prices import is_old
from builder.registers.proposing import ProposedCeiling
from builder.under_load.broken_runs import latest_tested
from builder.under_load.collapses import Mix
from builder.under_load.longruns import LongRunResult
from builder.under_load.mix_comparisons import MixComparison, pair_comparisons
from builder.under_load.mixes import MixResult, load_mixes
from builder.under_load.workloads import WorkloadResult, workload_results
from builder.windows.neighbours import Pair
from builder.windows.ranking import Ranking, rank
from builder.windows.standing import WindowStanding
from catalog import queries
from catalog.figure_names import subject_id
from catalog.method import WINDOW_NAMES, Constants
from catalog.records import (
    Article,
    BatchInfo,
    Ceiling,
    Correction,
    Dispute,
    Embargo,
    Epoch,
    Feature,
    Heat,
    Image,
    LongRun,
    Part,
    Power,
    Price,
    Run,
    Session,
    Site,
    Thinned,
    Withdrawal,
    Workload,
)

Record = TypeVar("Record")
Owner = TypeVar("Owner")
Made = TypeVar("Made")
ByDevice = Mapping[str, Sequence[Record]]

Sizes = Mapping[str, tuple[int, int]]  # of a picture: address -> width and height [px]

DEFAULT_TITLE = "Likeloss"
DEFAULT_LICENCE = "CC-BY-4.0"


@dataclass(frozen=True, kw_only=True)
class Catalogue:
    """What was entered: the records of one public copy, grouped by device where they belong to one.

    runs_of  device -> its runs by number
    ended_early  runs that did not finish, whoever ended them
    heat     device -> its readings, those under settings by the id of the subject ("device+settings"); power likewise
    logs     the points that charts draw of a log: ("station" or "longrun", its number) -> quantity -> points
    """

    methods: Sequence[Constants]
    batches: Mapping[str, BatchInfo]
    runs: Mapping[int, Run]
    runs_of: RunsOf
    ended_early: Sequence[Run]
    sessions: Mapping[str, Session]
    workloads: Mapping[tuple[str, int], Workload]
    ceilings: Sequence[Ceiling]
    epochs: Sequence[Epoch]
    logs: Mapping[tuple[str, int], Mapping[str, Thinned]]
    withdrawals: Sequence[Withdrawal]
    corrections: Sequence[Correction]
    disputes: Sequence[Dispute]
    embargoes: Sequence[Embargo]
    articles: Sequence[Article]
    images: Sequence[Image]
    features: ByDevice[Feature]
    heat: ByDevice[Heat]
    power: ByDevice[Power]
    parts: ByDevice[Part]
    prices: ByDevice[Price]

    def batch_ids(self, cells: Iterable[Cell]) -> list[str]:
        """The batches that the cells' runs came from, in the order that a copy has them in."""
        batches = {batch_id for cell in cells for batch_id in cell.batches}
        return sorted(batches)


@dataclass(frozen=True, kw_only=True)
class Results:
    """What was worked out from the records, once for all pages.

    mixes_of  device -> its runs with several clients; mix_results_of, longruns_of and longrun_results_of likewise, those
              under settings by the id of the subject ("device+settings")
    settings_pairs  device -> what each of its settings brings, spot by spot; only devices tested under any
    mix_places  id of a run -> place of its arrangement on the workload's page, from 0; None among those that stand alone
    gaps_of   device -> figure of a cell -> a remark on logs that do not cover its runs
    company   group -> how many devices have results in it
    largest   device -> its largest group, for every device that has one
    names     group -> its short name
    cells     group -> its cells, all devices and firmwares
    rankings  group and window -> ranking, for every group with windows
    ranked    group with windows -> whether any device is ranked in one of them; whoever asks for a group does not look
              at their order, which one run more may change
    groups    those of them, the one with most devices first
    pairs     pairs with a page of their own
    pairs_of  device -> the pairs of these it is in
    near      device -> its nearest, as far as it has results
    factors   of every session and group that a house's reference device can judge
    proposals ceilings that results suggest and nobody registered
    standing  device and window -> how it stands there in its largest group; whoever asks for one device does not look at
              the whole ranking, which a run of any other may change
    """

    bench: Bench
    settings_pairs: ByDevice[PairFigure]
    bridges: Sequence[BridgeTest]
    mixes: Sequence[Mix]
    mixes_of: ByDevice[Mix]
    mix_results: Sequence[MixResult]
    mix_results_of: ByDevice[MixResult]
    mix_places: Mapping[str, int | None]
    workload_results: Sequence[WorkloadResult]
    longruns: Sequence[LongRun]
    longruns_of: ByDevice[LongRun]
    longrun_results: Sequence[LongRunResult]
    longrun_results_of: ByDevice[LongRunResult]
    gaps_of: Mapping[str, Mapping[str, str]]
    company: Mapping[Group, int]
    largest: Mapping[str, Group]
    names: Mapping[Group, GroupName]
    cells: Mapping[Group, Sequence[Cell]]
    rankings: Mapping[tuple[Group, str], Ranking]
    ranked: Mapping[Group, bool]
    groups: Sequence[Group]
    pairs: Sequence[Pair]
    pairs_of: ByDevice[Pair]
    near: Mapping[str, Sequence[str]]
    factors: Mapping[FactorKey, SessionFactor]
    proposals: Sequence[ProposedCeiling]
    standing: Mapping[tuple[str, str], WindowStanding]

    def under_load(self, device: str) -> tuple[Sequence[Mix], Sequence[LongRun]]:
        """A device's runs with several clients at once, and those over hours."""
        return self.mixes_of.get(device, ()), self.longruns_of.get(device, ())

    @asked_once
    def current_firmware(self, device: str) -> str | None:
        """The latest public firmware that was tested in any way; if none is public, the latest; None without tests."""
        return latest_tested(self.bench, device, *self.under_load(device))

    @asked_once
    def pairing(self, a: str, b: str) -> Pairing:
        """The comparison of two devices, worked out once for all pages and the record of figures."""
        return pairing(self.bench, subject_named(self.bench, a), subject_named(self.bench, b), company=self.company)

    @asked_once
    def firmware_steps(self, device: str) -> list[Step]:
        """A device's tested firmwares, each against the one before it, oldest first."""
        return firmware_steps(self.bench, device, company=self.company)

    @asked_once
    def mix_comparisons(self, a: str, b: str) -> list[MixComparison]:
        """What two devices did with several clients at once, against each other."""
        return pair_comparisons(self.bench, self.mix_results_of.get(a, ()), self.mix_results_of.get(b, ()))

    def ranking(self, group: Group, window: str) -> Ranking:
        """The ranking of a group over a window."""
        return self.rankings[group, window]


@dataclass(frozen=True, kw_only=True)
class SiteContext:
    """Who publishes, and when: the site's own record, the instant of the build and what follows from it.

    address  where the site lies, ending in a slash; None where it is not set
    sizes    of the published pictures
    past     day on which a unit goes back -> whether that day has come at the instant. A page that looks this up, and
             not the clock, stays as it is from one day to the next
    old      day on which a price was seen -> whether that is so long ago that a reader had better look again
    """

    as_of: datetime
    title: str
    author: str | None
    contact: str | None
    language: str | None
    address: str | None
    licence: str | None
    sizes: Sizes
    past: Mapping[str, bool]
    old: Mapping[str, bool]


class Contents(NamedTuple):
    """One public copy of a catalogue at one instant, in the three parts that pages take of it."""

    catalogue: Catalogue
    results: Results
    site: SiteContext


def compose(page: Callable[..., Made], contents: Contents, *about: object) -> Made:
    """What *page* makes of the contents it names first, in their order, and of what it is *about*."""
    named = signature(page).parameters
    return page(*(part for name, part in zip(contents._fields, contents, strict=True) if name in named), *about)


def every_ranking(bench: Bench, groups: Sequence[Group]) -> Rankings:
    """The rankings of these groups over all windows."""
    return {(group, window): rank(bench, group, window) for group in groups for window in WINDOW_NAMES}


def every_result(worked: WorkedOut) -> Results:
    """All results, worked out at once."""
    return Results(**{field.name: getattr(worked, field.name) for field in fields(Results)})


@dataclass(frozen=True, kw_only=True)
class Ways:
    """How what takes most of the time is come by. A preview has most of it from the material before, or waits with it.

    Whatever the way, it gives what these give.
    """

    runs: Callable[[Database], RunsOf] = device_runs
    cells: CellsOfRuns = cells
    rankings: Callable[[Bench, Sequence[Group]], Rankings] = every_ranking
    mixes: Callable[[Database], Sequence[MixResult]] = load_mixes
    workloads: Callable[[Bench, Sequence[MixResult]], Sequence[WorkloadResult]] = workload_results
    results: Callable[[WorkedOut], Results] = every_result


def load_contents(db: Database, *, as_of: datetime, sizes: Sizes, ways: Ways = Ways()) -> Contents:
    """Read a public copy (catalog.visibility), once, and prepare what many pages ask for.

    sizes  of the published form of every picture the copy names
    """
    runs = ways.runs(db)
    every = (run for of_device in runs.values() for run in of_device.values())
    bench = load_bench(db, runs=every, cells_of_runs=ways.cells)
    catalogue = _catalogue(db, runs)
    publisher = queries.site(db) or Site(DEFAULT_TITLE, None, None, None, None, None)
    today = as_of.astimezone(UTC).date()
    site = SiteContext(
        as_of=as_of,
        **{field.name: getattr(publisher, field.name) for field in fields(publisher)},
        sizes=sizes,
        past={day: day <= today.isoformat() for day in _return_days(bench)},
        old={day: is_old(day, today) for day in sorted({p.date for every in catalogue.prices.values() for p in every})},
    )
    worked = WorkedOut(db, bench, catalogue.runs, catalogue.articles, ways.rankings, ways.mixes, ways.workloads)
    return Contents(catalogue, ways.results(worked), site)


def _catalogue(db: Database, runs: RunsOf) -> Catalogue:
    logs: dict[tuple[str, int], dict[str, Thinned]] = defaultdict(dict)
    for log in queries.thinned(db, owners=("station", "longrun")):
        logs[log.owner, log.owner_id][log.quantity] = log
    return Catalogue(
        methods=queries.methods(db),
        batches={b.batch_id: b for b in queries.batches(db)},
        runs=EveryRun(runs),
        runs_of=runs,
        ended_early=[
            run
            for device in queries.devices_ended_early(db)
            for run in runs[device].values()
            if run.outcome != "finished"
        ],
        sessions={s.session_id: s for s in queries.sessions(db)},
        workloads={(w.workload_id, w.version): w for w in queries.workloads(db)},
        ceilings=queries.ceilings(db),
        epochs=queries.epochs(db),
        logs=dict(logs),
        withdrawals=queries.withdrawals(db),
        corrections=queries.corrections(db),
        disputes=queries.disputes(db),
        embargoes=queries.embargoes(db),
        articles=queries.articles(db),
        images=queries.images(db),
        features=by(queries.features(db), lambda f: f.device),
        heat=by(queries.heat(db), lambda h: subject_id(h.device, h.settings)),
        power=by(queries.power(db), lambda p: subject_id(p.device, p.settings)),
        parts=by(queries.parts(db), lambda p: p.device),
        prices=by(queries.prices(db), lambda p: p.device),
    )


def _return_days(bench: Bench) -> list[str]:
    return sorted({unit.returned for device in bench.devices.values() for unit in device.units if unit.returned})
