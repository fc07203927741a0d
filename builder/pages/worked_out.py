"""What is worked out from one copy for all pages, each part when it is first asked for (`contents.Results` says of what)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from typing import TypeVar

from sqlite_utils import Database

from builder.bench.bench import Bench
from builder.bench.bridging import BridgeTest, load_bridge_tests
from builder.bench.cells import Cell, Group
from builder.bench.naming import GroupName, group_names
from builder.bench.sessions import FactorKey, SessionFactor, session_factors
from builder.pairs.settings_pairs import settings_pairs
from builder.pairs.verdicts import PairFigure
from builder.registers.proposing import ProposedCeiling, proposed_ceilings
from builder.under_load.collapses import Mix, mixes
from builder.under_load.log_coverage import cells_with_gaps
from builder.under_load.longruns import LongRunResult, load_longruns
from builder.under_load.mixes import MixResult
from builder.under_load.workloads import WorkloadResult, arrangement_places
from builder.windows.neighbours import Pair, all_nearest, company, largest_groups, prepared_pairs
from builder.windows.ranking import Ranking, has_ranked, ranking_groups
from builder.windows.standing import WindowStanding, standing
from catalog import queries
from catalog.figure_names import subject_id
from catalog.method import WINDOW_NAMES
from catalog.records import Article, LongRun, Run

Record = TypeVar("Record")
Owner = TypeVar("Owner")
Rankings = Mapping[tuple[Group, str], Ranking]


class WorkedOut:
    """The parts of `Results` by their names. For one thread, which may use the copy.

    rankings   how rankings of these groups are come by
    mixes      how runs with several clients are, judged; *workloads* what they come to side by side
    """

    def __init__(
        self,
        db: Database,
        bench: Bench,
        runs: Mapping[int, Run],
        articles: Sequence[Article],
        rankings: Callable[[Bench, Sequence[Group]], Rankings],
        mixes: Callable[[Database], Sequence[MixResult]],
        workloads: Callable[[Bench, Sequence[MixResult]], Sequence[WorkloadResult]],
    ) -> None:
        self._db = db
        self.bench = bench
        self._runs = runs
        self._articles = articles
        self._rankings, self._mixes, self._workloads = rankings, mixes, workloads

    @cached_property
    def _rankable(self) -> Sequence[Group]:
        return ranking_groups(self.bench)

    @cached_property
    def rankings(self) -> Rankings:
        return self._rankings(self.bench, self._rankable)

    @cached_property
    def ranked(self) -> Mapping[Group, bool]:
        return {group: any(has_ranked(self.bench, group, one) for one in WINDOW_NAMES) for group in self._rankable}

    @cached_property
    def groups(self) -> Sequence[Group]:
        return [group for group in self._rankable if self.ranked[group]]

    @cached_property
    def largest(self) -> Mapping[str, Group]:
        return largest_groups(self.bench)

    @cached_property
    def near(self) -> Mapping[str, Sequence[str]]:
        return all_nearest(self.bench, largest=self.largest, ranked=lambda group, window: self.rankings[group, window])

    @cached_property
    def pairs(self) -> Sequence[Pair]:
        return prepared_pairs(self.bench, [article.devices for article in self._articles], near=self.near)

    @cached_property
    def pairs_of(self) -> Mapping[str, Sequence[Pair]]:
        return _by_either(self.pairs)

    @cached_property
    def standing(self) -> Mapping[tuple[str, str], WindowStanding]:
        return {key: self.standing_of(key) for key in self.device_windows}

    @cached_property
    def device_windows(self) -> Sequence[tuple[str, str]]:
        """Each device that has a largest group, with each window."""
        return [(device, window) for device in self.largest for window in WINDOW_NAMES]

    def standing_of(self, key: tuple[str, str]) -> WindowStanding:
        """How a device stands in a window of its largest group."""
        device, window = key
        return standing(self.rankings[self.largest[device], window], device)

    @cached_property
    def settings_pairs(self) -> Mapping[str, Sequence[PairFigure]]:
        return {device: settings_pairs(self.bench, device) for device in self.bench.settings_of}

    @cached_property
    def bridges(self) -> Sequence[BridgeTest]:
        return load_bridge_tests(self._db)

    @cached_property
    def mix_results(self) -> Sequence[MixResult]:
        return self._mixes(self._db)

    @cached_property
    def mix_results_of(self) -> Mapping[str, Sequence[MixResult]]:
        return by(self.mix_results, lambda result: result.mix.device)

    @cached_property
    def mixes(self) -> Sequence[Mix]:  # a page that only says when was tested needs no judgement
        return mixes(queries.stations(self._db))

    @cached_property
    def mixes_of(self) -> Mapping[str, Sequence[Mix]]:
        return by(self.mixes, lambda mix: mix.device)

    @cached_property
    def workload_results(self) -> Sequence[WorkloadResult]:
        return self._workloads(self.bench, self.mix_results)

    @cached_property
    def mix_places(self) -> Mapping[str, int | None]:
        return arrangement_places(self.workload_results)

    @cached_property
    def longrun_results(self) -> Sequence[LongRunResult]:
        return load_longruns(self._db)

    @cached_property
    def longrun_results_of(self) -> Mapping[str, Sequence[LongRunResult]]:
        return by(self.longrun_results, lambda result: subject_id(result.run.device, result.run.settings))

    @cached_property
    def longruns(self) -> Sequence[LongRun]:
        return queries.longruns(self._db)

    @cached_property
    def longruns_of(self) -> Mapping[str, Sequence[LongRun]]:
        return by(self.longruns, lambda run: subject_id(run.device, run.settings))

    @cached_property
    def gaps_of(self) -> Mapping[str, Mapping[str, str]]:
        return cells_with_gaps(self._db, self.bench)

    @cached_property
    def company(self) -> Mapping[Group, int]:
        return company(self.bench)

    @cached_property
    def names(self) -> Mapping[Group, GroupName]:
        return group_names(self.bench)

    @cached_property
    def cells(self) -> Mapping[Group, Sequence[Cell]]:
        return by(self.bench.cells, lambda cell: cell.group)

    @cached_property
    def factors(self) -> Mapping[FactorKey, SessionFactor]:
        return session_factors(self.bench)

    @cached_property
    def proposals(self) -> Sequence[ProposedCeiling]:
        return proposed_ceilings(self.bench, self._runs)


def by(records: Iterable[Record], owner: Callable[[Record], Owner]) -> dict[Owner, list[Record]]:
    """The records by their owner, in their order."""
    grouped: dict[Owner, list[Record]] = defaultdict(list)
    for record in records:
        grouped[owner(record)].append(record)
    return dict(grouped)


def _by_either(pairs: Iterable[Pair]) -> dict[str, list[Pair]]:
    grouped: dict[str, list[Pair]] = defaultdict(list)
    for pair in pairs:
        for device in pair:
            grouped[device].append(pair)
    return dict(grouped)
