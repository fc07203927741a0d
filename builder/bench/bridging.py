"""Bridge tests: whether a replaced client setup may go on in its predecessor's series (method.md, section 8)."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from sqlite_utils import Database

from builder import wording
from builder.bench.bounds import Limits, is_bound
from builder.bench.bounds import limits as limits_of_bench
from builder.metrics.intervals import effective_df, half_width
from catalog import queries
from catalog.records import BridgeValue, Client, House

EQUAL_WITHIN = 0.05  # practice
MIN_REPEATS = 3
MIN_SPOTS = 2  # left where others are held back by a ceiling

BridgeVerdict = Literal["same-series", "new-series", "not-shown-equal"]


@dataclass(frozen=True, slots=True)
class BridgeResult:
    """One band, width and direction of a bridge test: the mean difference new - old over its spots.

    spots                   those that count: where neither side reached a ceiling
    held_back               the others
    old_mean, difference, low, high   [Mbit/s]; low and high None where a spot has fewer than 3 repeats on a side, all
                            None where ceilings leave fewer than two spots
    share_low, share_high   the interval divided by the old mean [1]
    """

    band: str
    width_mhz: int
    direction: str
    spots: tuple[str, ...]
    held_back: tuple[str, ...]
    old_mean: float | None
    difference: float | None
    low: float | None
    high: float | None
    verdict: BridgeVerdict

    @property
    def share_low(self) -> float | None:
        return None if self.low is None or self.old_mean is None else self.low / self.old_mean

    @property
    def share_high(self) -> float | None:
        return None if self.high is None or self.old_mean is None else self.high / self.old_mean


@dataclass(frozen=True, slots=True)
class BridgeTest:
    """A whole bridge test of one replaced setup and what it decides."""

    old_client: str
    old_driver: str | None
    new_client: str
    new_driver: str | None
    device: str
    results: tuple[BridgeResult, ...]
    verdict: BridgeVerdict
    sentence: str


def bridge_tests(values: Sequence[BridgeValue], houses: Sequence[House], limits: Limits) -> list[BridgeTest]:
    """Every bridge test of a catalogue, judged. A test counts only with a house's reference device, on one day."""
    references = {h.reference_device: h.house_id for h in houses if h.reference_device}
    grouped: dict[tuple[str, str, str, str, str], list[BridgeValue]] = defaultdict(list)
    for v in values:
        grouped[v.old_client, v.old_driver or "", v.new_client, v.new_driver or "", v.device].append(v)
    return [_judged(key, members, references, limits) for key, members in sorted(grouped.items())]


def load_bridge_tests(db: Database) -> list[BridgeTest]:
    """The bridge tests of a copy of a catalogue, judged."""
    houses = queries.houses(db)
    return bridge_tests(
        queries.bridge_values(db), houses, limits_of_bench(queries.ceilings(db), queries.devices(db), houses)
    )


Setup = tuple[str, str | None]  # client setup, driver


def series_of_setups(tests: Sequence[BridgeTest], clients: Sequence[Client]) -> dict[Setup, str]:
    """The series of every setup after the bridge tests: as declared, but for those a test speaks of.

    A setup goes on in its predecessor's series only where every test of the two says "same series". One that a
    test did not prove equal has a series of its own, even where its batch declared it equal.
    """
    series: dict[Setup, str] = {}
    for client in clients:
        series[client.client_id, None] = client.series
        series |= {(client.client_id, d.version): d.series for d in client.drivers}
    verdicts: dict[tuple[Setup, Setup], set[BridgeVerdict]] = defaultdict(set)
    for test in tests:
        verdicts[(test.old_client, test.old_driver), (test.new_client, test.new_driver)].add(test.verdict)
    follows: dict[Setup, Setup] = {}
    for (old, new), outcomes in verdicts.items():
        if old not in series or new not in series:
            continue
        if outcomes == {"same-series"}:
            follows[new] = old
        elif series[new] == series[old]:
            series[new] = separate_series(new)
    return {setup: series[_first(setup, follows)] for setup in series}


def separate_series(setup: Setup) -> str:
    """The series of a setup that a bridge test did not prove equal to the one before it."""
    client, driver = setup
    return client if driver is None else f"{client} {driver}"


def _first(setup: Setup, follows: dict[Setup, Setup]) -> Setup:
    """Follow a chain of replacements to the setup it began with; a circle ends where it closes."""
    seen = {setup}
    while (before := follows.get(setup)) is not None and before not in seen:
        setup = before
        seen.add(setup)
    return setup


def judge(low: float | None, high: float | None, old_mean: float) -> BridgeVerdict:
    """Method section 8: wholly inside ±5 % is equal; excluding 0 and reaching beyond is not; else not shown.

    low, high, old_mean  [Mbit/s]
    """
    if low is None or high is None or old_mean <= 0:
        return "not-shown-equal"
    share_low, share_high = low / old_mean, high / old_mean
    if share_low >= -EQUAL_WITHIN and share_high <= EQUAL_WITHIN:
        return "same-series"
    if (share_low > 0 or share_high < 0) and (share_low < -EQUAL_WITHIN or share_high > EQUAL_WITHIN):
        return "new-series"
    return "not-shown-equal"


def _judged(
    key: tuple[str, str, str, str, str], values: Sequence[BridgeValue], references: Mapping[str, str], limits: Limits
) -> BridgeTest:
    by_link: dict[tuple[str, int, str], list[BridgeValue]] = defaultdict(list)
    for v in values:
        by_link[v.band, v.width_mhz, v.direction].append(v)
    old_client, old_driver, new_client, new_driver, device = key
    capped = {v for v in values if _is_capped(v, references.get(device, ""), limits)}
    results = tuple(r for link, members in sorted(by_link.items()) if (r := _result(link, members, capped)) is not None)
    verdicts = {r.verdict for r in results}
    why = _does_not_count(values, device, references)
    verdict: BridgeVerdict
    if why:
        verdict = "not-shown-equal"
    elif "new-series" in verdicts:
        verdict = "new-series"
    elif verdicts == {"same-series"}:
        verdict = "same-series"
    else:
        verdict = "not-shown-equal"
    return BridgeTest(
        old_client,
        old_driver or None,
        new_client,
        new_driver or None,
        device,
        results,
        verdict,
        why or _sentence(verdict, results),
    )


def _is_capped(value: BridgeValue, house: str, limits: Limits) -> bool:
    """Whether the client or the lab held a value back."""
    (limit,) = limits.limits_of(
        [value.throughput_mbit_s],
        device=value.device,
        house=house,
        band=value.band,
        width_mhz=value.width_mhz,
        direction=value.direction,
        client=value.new_client if value.side == "new" else value.old_client,
    )
    return is_bound(limit)


def _does_not_count(values: Sequence[BridgeValue], device: str, references: Collection[str]) -> str:
    """Why a test proves nothing, whatever its values; "" where it may."""
    if device not in references:
        return f"Not shown equal, repeat: {device} is no house's reference device."
    if len({v.at_utc[:10] for v in values}) > 1:
        return "Not shown equal, repeat: the two sides were not measured on one day, so the day may be the difference."
    return ""


def _result(
    link: tuple[str, int, str], values: Sequence[BridgeValue], capped: Collection[BridgeValue]
) -> BridgeResult | None:
    """One link of a test; None where no spot has both sides. A spot with a value at a ceiling says nothing."""
    by_spot: dict[str, dict[str, list[float]]] = defaultdict(lambda: {"old": [], "new": []})
    for v in values:
        by_spot[v.spot][v.side].append(v.throughput_mbit_s)
    both = sorted(s for s, sides in by_spot.items() if sides["old"] and sides["new"])
    if not both:
        return None
    held_back = tuple(s for s in both if s in {v.spot for v in values if v in capped})
    spots = [s for s in both if s not in held_back]
    if held_back and len(spots) < MIN_SPOTS:
        return BridgeResult(*link, tuple(spots), held_back, None, None, None, None, "not-shown-equal")
    differences, olds = [], []
    components: list[tuple[float, float]] = []
    enough = True
    for spot in spots:
        old, new = by_spot[spot]["old"], by_spot[spot]["new"]
        differences.append(statistics.fmean(new) - statistics.fmean(old))
        olds.append(statistics.fmean(old))
        for side in (old, new):
            enough = enough and len(side) >= MIN_REPEATS
            if len(side) > 1:
                components.append((statistics.variance(side) / len(side) / len(spots) ** 2, len(side) - 1))
    difference, old_mean = statistics.fmean(differences), statistics.fmean(olds)
    low = high = None
    if enough:
        half = float(half_width(math.sqrt(sum(v for v, _ in components)), effective_df(components)))
        low, high = difference - half, difference + half
    verdict = judge(low, high, old_mean)
    return BridgeResult(*link, tuple(spots), held_back, old_mean, difference, low, high, verdict)


def _sentence(verdict: BridgeVerdict, results: Sequence[BridgeResult]) -> str:
    conclusion = {
        "same-series": "Same series: every difference lies inside ±5 %.",
        "new-series": "New series: the new setup differs, by more than 5 % at one end of the interval.",
        "not-shown-equal": "Not shown equal, repeat: a new series meanwhile.",
    }[verdict]
    parts = [_part(r) for r in results]
    return f"{conclusion} {'; '.join(parts)}." if parts else "No spot was measured with both setups."


def _part(r: BridgeResult) -> str:
    link = f"{wording.band(r.band)} {wording.way(r.direction)}"
    if r.difference is None:
        return f"{link} held back by the lab or the client at {wording.listing(r.held_back)}"
    difference = f"{link}: new minus old {wording.number(r.difference, 1, signed=True)} Mbit/s"
    if r.share_low is None or r.share_high is None:
        return f"{difference}, fewer than 3 repeats"
    ends = f"{wording.percent(r.share_low, signed=True)} to {wording.percent(r.share_high, signed=True)}"
    without = f", without {wording.listing(r.held_back)}, held back" if r.held_back else ""
    return f"{difference} ({ends}{without})"
