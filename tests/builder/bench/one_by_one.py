"""Method section 3 and the verdicts of section 4 for one figure at a time, step by step: the oracle of the array code.

Written apart from `builder.bench.uncertainty` and `builder.pairs.judging`, in plain loops over cells, so that a slip in the
one is not a slip in the other.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from builder.bench.bench import Bench
from builder.bench.bounds import apart
from builder.bench.cells import Cell
from builder.bench.scatter import Scatter
from builder.bench.uncertainty import Uncertainty
from builder.bench.weighted import Match, Weighted
from builder.metrics.intervals import effective_df, two_sided_p
from builder.pairs.verdicts import PairFigure
from catalog.method import MIN_POOLED_DF, PRACTICE_SIGMA_DB, Constants

Component = tuple[float, float]  # variance, degrees of freedom


def entries_of(side: Weighted) -> list[tuple[Cell, float, float]]:
    """(cell, its mean, signed weight) of every cell that takes part."""
    return [
        (cell, cell.mean, side.sign * weight)
        for cell, weight in zip(side.cells, side.weights, strict=True)
        if weight != 0 and cell.mean is not None
    ]


def value_uncertainty(bench: Bench, one: Weighted, *, match: Match) -> Uncertainty | None:
    """Uncertainty of one device's mean, whose cells lend the spread to single runs."""
    return standard_uncertainty((one,), match=match, pool=one.cells, scatter=bench.scatter)


def standard_uncertainty(
    sides: Sequence[Weighted],
    *,
    match: Match,
    pool: Sequence[Cell],
    scatter: Scatter,
) -> Uncertainty | None:
    """Uncertainty of the signed sum of the sides' means; None where a single run has no spread to take.

    sides    one device (a value) or two with opposite signs (a difference)
    pool     the cells of these devices in this group, inside the range or not: a single run takes their
             pooled relative spread
    """
    entries = [entry for side in sides for entry in entries_of(side)]
    repeats = repeat_terms(entries, pool, scatter.constants)
    if repeats is None:
        return None
    assumed: list[str] = []
    components = [*repeats, *_session_terms(sides, scatter, assumed)]
    if match != "level":
        components += _placement_terms(sides, scatter, assumed)
    if match == "attenuation":
        components += [(v, math.inf) for v in _place_terms(sides, scatter, assumed)]
    elif match == "level":
        components.append((_level_term(sides, scatter.constants, assumed), math.inf))
    if any(cell.statistic == "median" for side in sides for cell, _, _ in entries_of(side)):
        assumed.append("median_for_mean")
    if any(side.slope_assumed for side in sides):
        assumed.append("slope_per_db")
    return Uncertainty(math.sqrt(sum(v for v, _ in components)), effective_df(components), tuple(assumed))


def repeat_terms(
    entries: Sequence[tuple[Cell, float, float]], pool: Sequence[Cell], constants: Constants
) -> list[Component] | None:
    """Term 1: one component a measured cell; all pooled cells together; declared values with infinite df."""
    components: list[Component] = []
    single: float = 0.0
    lonely = False
    for cell, mean, weight in entries:
        # A summary is the mean of n runs, or their median, which scatters pi / 2 times as much.
        of_mean = (math.pi / 2 if cell.statistic == "median" else 1) / cell.n
        if cell.sd is not None:
            components.append((weight**2 * cell.sd**2 * of_mean, cell.n - 1))
        elif (declared := single_variance(cell, constants)) is not None:
            components.append((weight**2 * declared * of_mean, math.inf))
        else:
            lonely = True
            single += (weight * mean) ** 2 * of_mean
    if lonely:
        spread = pooled_relative_spread(pool)
        if spread is None:
            return None
        relative, df = spread
        components.append((single * relative**2, df))
    return components


def single_variance(cell: Cell, constants: Constants) -> float | None:
    """Variance of a single run by the declared spread [(Mbit/s)^2]; None where none is declared."""
    if constants.house_spread_mbit_s is not None:
        return constants.house_spread_mbit_s**2
    if constants.house_spread_percent is not None:
        return (constants.house_spread_percent / 100 * (cell.mean or 0.0)) ** 2
    return None


def pooled_relative_spread(cells: Sequence[Cell]) -> tuple[float, float] | None:
    """Pooled relative spread of repeated cells and its degrees of freedom; None below 4 of them.

    sqrt(sum (n-1)(s/m)^2 / sum (n-1)); a cell of value 0 has no relative spread and is left out,
    and so is one held back by the client or the lab: its spread is that of the limit.
    """
    found = repeated(cells)
    df = sum(d for d, _ in found)
    if df < MIN_POOLED_DF:
        return None
    return math.sqrt(sum(d * r**2 for d, r in found) / df), float(df)


def repeated(cells: Sequence[Cell]) -> list[tuple[int, float]]:
    """(n - 1, s/m) of every cell whose relative spread may be pooled."""
    return [(c.n - 1, c.sd / c.mean) for c in cells if c.sd is not None and c.mean and not c.bound]


def _session_terms(sides: Sequence[Weighted], scatter: Scatter, assumed: list[str]) -> list[Component]:
    """Term 2: work done in one session partly cancels; with two devices wholly in one session it is 0."""
    by_session: dict[tuple[str, ...], float] = defaultdict(float)
    for side in sides:
        for cell, mean, weight in entries_of(side):
            own = (cell.device, cell.unit, cell.firmware) if len(cell.date) == 7 else ()  # nobody shares a month
            by_session[cell.house, cell.session, *own] += weight * mean
    if len(sides) > 1 and len(by_session) == 1:
        return []
    by_house: dict[str, float] = defaultdict(float)
    for (house, *_), total in by_session.items():
        by_house[house] += total**2
    components: list[Component] = []
    for house in sorted(by_house):
        spread = scatter.day(house)
        if spread.source == "assumed" and "session_spread" not in assumed:
            assumed.append("session_spread")
        components.append((spread.fraction**2 * by_house[house], spread.df))
    return components


def _placement_terms(sides: Sequence[Weighted], scatter: Scatter, assumed: list[str]) -> list[Component]:
    """Term 3, placement: every visit has an error of its own, shared only by what was measured in that visit."""
    by_visit: dict[tuple[object, ...], float] = defaultdict(float)
    for side in sides:
        for cell, _, weight in entries_of(side):
            for visit, share in cell.visits:
                by_visit[cell.house, visit] += weight * share * side.slope
    by_house: dict[str, float] = defaultdict(float)
    for (house, _), total in by_visit.items():
        by_house[house] += total**2
    components: list[Component] = []
    for house in sorted(by_house):
        placement = scatter.placement(house)
        variance = placement.sigma_db**2 * by_house[house]
        if placement.source == "assumed" and variance > 0 and "placement_sigma_db" not in assumed:
            assumed.append("placement_sigma_db")
        components.append((variance, placement.df))
    return components


def _place_terms(sides: Sequence[Weighted], scatter: Scatter, assumed: list[str]) -> list[float]:
    """Terms 3 and 4: the spot's own error, and the offset of the kit it was read with."""
    kit_sigma = _noted(scatter.constants.calibration_sigma_db, "calibration_sigma_db", assumed)
    by_place: dict[tuple[str, ...], float] = defaultdict(float)
    variance: dict[tuple[str, ...], float] = {}
    by_kit: dict[str, float] = defaultdict(float)
    for side in sides:
        for cell, _, weight in entries_of(side):
            place = own_place(cell)
            by_place[place] += weight * side.slope
            variance[place] = _of_spot(cell, scatter)
            by_kit[cell.kit or cell.house] += weight * side.slope
    spots = sum(variance[place] * by_place[place] ** 2 for place in sorted(by_place))
    kits = kit_sigma**2 * sum(by_kit[kit] ** 2 for kit in sorted(by_kit))
    return [spots, kits]


def _of_spot(cell: Cell, scatter: Scatter) -> float:
    declared = scatter.constants.attenuation_sigma_db
    if declared is not None:
        return declared**2
    if cell.readings < 4 or cell.readings_sd_db is None:
        return scatter.placement(cell.house).sigma_db ** 2 / cell.readings
    return cell.readings_sd_db**2 / cell.readings


def own_place(cell: Cell) -> tuple[str, ...]:
    """What has one error of its loss: a spot and epoch; a typed attenuation is a spot of its own, shared with nobody."""
    return cell.place if cell.spot is not None else (cell.device, cell.unit, cell.firmware, *cell.place)


def _level_term(sides: Sequence[Weighted], constants: Constants, assumed: list[str]) -> float:
    """Level match, instead of terms 3 and 4: nothing cancels by spot."""
    sigma = _noted(constants.level_sigma_db, "level_sigma_db", assumed)
    return sigma**2 * sum((weight * side.slope) ** 2 for side in sides for _, _, weight in entries_of(side))


def _noted(value: float | None, name: str, assumed: list[str]) -> float:
    if value is None:
        assumed.append(name)
        return PRACTICE_SIGMA_DB
    return value


def judged(bench: Bench, base: PairFigure, a: Weighted, b: Weighted, *, pools: Sequence[Sequence[Cell]]) -> PairFigure:
    """The verdict on a - b with the figures it allows, and no sentence."""
    ports = (bench.limits.ports[who.device] if side.at_port else None for who, side in ((base.a, a), (base.b, b)))
    figure = replace(
        base,
        mean_a=a.mean,
        mean_b=b.mean,
        bound_a=a.bound,
        bound_b=b.bound,
        n_a=a.runs,
        n_b=b.runs,
        **dict(zip(("port_a", "port_b"), ports, strict=True)),
    )
    difference = float(apart(a.mean, b.mean))
    if a.bound and b.bound:
        return replace(figure, verdict="undecided", code="two-bounds", crossings=())
    spread = standard_uncertainty(
        (a, replace(b, sign=-1)),
        match=base.match,
        pool=[cell for pool in pools for cell in pool],
        scatter=bench.scatter,
    )
    capped = a.bound or b.bound
    if spread is None:
        return replace(
            figure, verdict="no-verdict", code="single-run", difference=None if capped else difference, crossings=()
        )
    half, p = spread.half_width, two_sided_p(difference, spread.u, spread.df)
    lead = difference if a.bound else -difference
    if capped and lead <= half:
        return replace(figure, verdict="undecided", code="bound-within-noise", crossings=())
    figure = replace(figure, half_width=half, effective_df=spread.df, assumed=spread.assumed, p=p)
    if capped:
        return replace(figure, verdict="at-least", leader="a" if a.bound else "b", difference=lead - half, crossings=())
    return replace(
        figure,
        verdict="separated" if abs(difference) > half else "not-separated",
        difference=difference,
        ratio=a.mean / b.mean if b.mean else None,
        standard_uncertainty=spread.u,
        interval=(difference - half, difference + half),
    )
