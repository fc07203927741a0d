"""What devices beside the reference device suggest for `[method]`: day-to-day spread and placement of a house.

Section 3 of the method learns both from the house's reference device alone, so that adding a device never alters
another pair. Other devices that were measured on several days are asked by the same estimators, but what they say is
only proposed; no figure takes it before a batch declares it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from contextlib import closing, nullcontext
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sqlite_utils import Database

from builder import wording
from builder.bench.bench import Bench, load_bench
from builder.bench.cells import Cell
from builder.bench.reference import Chain, fullest_chain, placement_variance
from builder.bench.scatter import DaySpread, Placement, Source
from builder.metrics.intervals import TWO_SIDED_LEVEL
from catalog import queries
from catalog.checking.batches import Checked
from catalog.entering import WouldBe
from catalog.errors import Problem
from catalog.method import (
    LEAST_PLACEMENT_DB,
    LEAST_SESSION_SPREAD,
    MIN_PLACEMENT_DF,
    MIN_REFERENCE_SESSIONS,
)
from catalog.visibility import Asked, public_part

LEAST_SESSIONS = 2  # of one device: measured twice
LEAST_DAY_DF = MIN_REFERENCE_SESSIONS - 1  # as many as the reference device must show

Constant = Literal["session_spread", "placement_sigma_db"]
_DECIMALS: dict[Constant, int] = {"session_spread": 3, "placement_sigma_db": 2}


@dataclass(frozen=True, slots=True)
class ScatterProposal:
    """A value for one constant of `[method]`, from devices of a house beside its reference device.

    value     a fraction for session_spread, dB for placement_sigma_db
    interval  95 %, by the chi-squared distribution; None where the value is the least that is taken
    df        degrees of freedom of the estimate [1]
    sessions  distinct ones behind it [1]
    in_force  what figures of this house take now, and where that comes from
    """

    house: str
    constant: Constant
    value: float
    interval: tuple[float, float] | None
    df: float
    devices: tuple[str, ...]
    sessions: int
    in_force: float
    source: Source

    @property
    def sentence(self) -> str:
        decimals = _DECIMALS[self.constant]
        value, now = wording.trimmed(self.value, decimals), wording.trimmed(self.in_force, decimals)
        interval = "the least that is taken, "
        if self.interval is not None:
            low, high = (wording.trimmed(end, decimals) for end in self.interval)
            interval = f"95 %: {low} to {high}, "
        df = wording.trimmed(self.df, 1)
        return (
            f"{self.house}: devices other than the reference device suggest {self.constant} = {value} ({interval}{df} "
            f"degrees of freedom, from {wording.listing(self.devices)} in {self.sessions} sessions); {now} is "
            f"{self.source} now."
        )


def method_warnings(
    checked: Checked, db: Database | None, *, now: datetime, would_be: WouldBe | None = None
) -> list[Problem]:
    """What the catalogue *db* with a sound batch in it suggests for `[method]`; nothing for a batch without runs.

    would_be  the catalogue with the batch in it, where somebody has it
    """
    if not checked.rows.get("run"):
        return []
    with closing(WouldBe(checked, db, now=now)) if would_be is None else nullcontext(would_be) as with_it:
        repeated = queries.devices_on_days(with_it.whole, LEAST_SESSIONS)  # others have no chain
        with closing(public_part(with_it.whole, Asked(devices=frozenset(repeated)), as_of=now)) as copy:
            proposals = proposed_scatter(load_bench(copy))
    return [
        Problem(
            table="batch.toml",
            row=1,
            column=proposal.constant,
            value="",
            expected=proposal.sentence,
            remedy="It changes no figure until a batch declares it under [method].",
            code="method-value-proposed",
        )
        for proposal in proposals
    ]


def proposed_scatter(bench: Bench) -> list[ScatterProposal]:
    """Proposals for every house whose reference device does not show a constant, house by house.

    None where too few results were repeated, or where the declared value lies within the interval.
    """
    proposals: list[ScatterProposal] = []
    for house_id, house in sorted(bench.houses.items()):
        chains = _chains_beside(bench.cells, house_id, house.reference_device)
        day, placement = bench.scatter.day(house_id), bench.scatter.placement(house_id)
        if day.source != "measured" and (proposal := _day(house.name, chains, day)) is not None:
            proposals.append(proposal)
        if (
            placement.source != "measured"
            and (proposal := _placement(house.name, chains, placement, bench)) is not None
        ):
            proposals.append(proposal)
    return proposals


def _chains_beside(cells: Iterable[Cell], house: str, reference: str | None) -> dict[str, Chain]:
    """Device -> its most informative chain; its other links share the sessions and visits, so that one stands for all."""
    by_device: dict[str, list[Cell]] = defaultdict(list)
    for cell in cells:
        if cell.house == house and cell.device != reference:
            by_device[cell.device].append(cell)
    chains = {device: fullest_chain(of_device, sessions=LEAST_SESSIONS) for device, of_device in by_device.items()}
    return {device: chain for device, chain in chains.items() if chain is not None}


def _day(house: str, chains: dict[str, Chain], now: DaySpread) -> ScatterProposal | None:
    """Day-to-day spread: the mean covariance of the chains, weighted by their sessions less one."""
    independent = _independent_days(chains.values())
    if independent < LEAST_DAY_DF:
        return None
    weights = [len(chain.sessions) - 1 for chain in chains.values()]
    shares = [weight / sum(weights) for weight in weights]
    estimates = [chain.covariances for chain in chains.values()]
    common, per_spot = (sum(share * each[i] for share, each in zip(shares, estimates, strict=True)) for i in (0, 1))
    if common < LEAST_SESSION_SPREAD**2:
        return _proposal(house, "session_spread", LEAST_SESSION_SPREAD, None, independent, chains, now.fraction, now)
    per_chain = [chain.day_df(common, per_spot) for chain in chains.values()]
    df = min(1 / sum(share**2 / of_chain for share, of_chain in zip(shares, per_chain, strict=True)), independent)
    value = math.sqrt(common)
    return _proposal(house, "session_spread", value, _interval(value, df), df, chains, now.fraction, now)


def _independent_days(chains: Iterable[Chain]) -> int:
    """Distinct sessions less one for each set of sessions that chains link: devices on the same days see the same."""
    linked: list[set[str]] = []
    for chain in chains:
        sessions = set(chain.sessions)
        apart = [each for each in linked if not each & sessions]
        linked = [*apart, sessions.union(*(each for each in linked if each & sessions))]
    return sum(len(each) - 1 for each in linked)


def _placement(house: str, chains: dict[str, Chain], now: Placement, bench: Bench) -> ScatterProposal | None:
    """Placement: the mean of the chains' squared scatters, weighted by their degrees of freedom."""
    variances = {device: placement_variance(chain, bench.constants) for device, chain in chains.items()}
    shown = {device: chain for device, chain in chains.items() if variances[device] is not None}
    df = sum(chain.placement_df for chain in shown.values())
    if df < MIN_PLACEMENT_DF:
        return None
    variance = sum(chain.placement_df * (variances[device] or 0.0) for device, chain in shown.items()) / df
    if variance <= 0:
        return _proposal(house, "placement_sigma_db", LEAST_PLACEMENT_DB, None, df, shown, now.sigma_db, now)
    value = math.sqrt(variance)
    return _proposal(house, "placement_sigma_db", value, _interval(value, df), df, shown, now.sigma_db, now)


def _interval(sigma: float, df: float) -> tuple[float, float]:
    """95 % interval of a standard deviation with that many degrees of freedom, in its own unit."""
    from scipy.special import chdtri

    tail = (1 - TWO_SIDED_LEVEL) / 2
    return sigma * math.sqrt(df / chdtri(df, tail)), sigma * math.sqrt(df / chdtri(df, 1 - tail))


def _proposal(
    house: str,
    constant: Constant,
    value: float,
    interval: tuple[float, float] | None,
    df: float,
    chains: dict[str, Chain],
    in_force: float,
    now: DaySpread | Placement,
) -> ScatterProposal | None:
    """None where somebody declared a value that this one does not contradict."""
    low, high = interval or (value, value)
    if now.source == "declared" and low <= in_force <= high:
        return None
    sessions = {name for chain in chains.values() for name in chain.sessions}
    return ScatterProposal(
        house, constant, value, interval, df, tuple(sorted(chains)), len(sessions), in_force, now.source
    )
