"""Slips planted in replayed bench days, one of each kind a day; three days make thirty.

What a slip changes is a log, or what the tester types beside it; nobody who watches is told more than they would see.
Written, and kept as it is, before anything watches.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from tests.desk.bench_days import EIRP_DBM, Landing, bench_day, dates_of, losses_of

KINDS = (
    "a repeat off its siblings",
    "a level off its spot's loss",
    "a role that never sent",
    "two logs swapped",
    "a clock that is an hour off",
    "the wrong day",
    "a run that stopped",
    "a value at a known ceiling",
    "a value at a likely ceiling",
    "a reference device that is off",
)
DAYS = 3
NEAR_DB = 12.0  # over which values at one height look like a ceiling


def slipped_day(
    folder: Path,
    *,
    losses: Mapping[str, float],
    dates: Mapping[str, str],
    ceiling: float,
    reference: str,
    seed: int,
) -> list[Landing]:
    """The logs of a planned batch with one slip of every kind, in the order in which they land.

    ceiling    of the client that is known to the catalogue [Mbit/s]
    reference  device of the house; it has to be one of the devices of the plan
    """
    rng = np.random.default_rng([131, seed])
    landings = bench_day(folder, losses=losses, dates=dates, seed=seed)
    runs = [i for i, one in enumerate(landings) if one.table == "runs"]
    # The reference is off for a whole pass, so of its runs nothing else is slipped.
    others = [i for i in runs if landings[i].device != reference]
    stations = [i for i, one in enumerate(landings) if one.table == "stations"]
    free = list(rng.permutation(others))

    def take(fits=lambda one: True) -> int:
        place = next(i for i in free if fits(landings[i]))
        free.remove(place)
        return int(place)

    def slip(place: int, number: int, **changes: object) -> None:
        landings[place] = replace(landings[place], slip=KINDS[number], number=number, **changes)

    # 8: three spots near each other, one height, on two days' worth of what the client could carry more of.
    close = [i for i in others if losses[landings[i].spot] <= min(losses.values()) + NEAR_DB]
    height = 0.8 * float(np.mean([landings[i].values.mean() for i in close]))
    for place in close[: max(6, len(close) // 2)]:
        scale = height / landings[place].values.mean() * rng.normal(1.0, 0.004)
        slip(place, 8, values=landings[place].values * scale)
        free.remove(place)
    # 9: every run of the reference device in the first session a sixth too low.
    session = landings[runs[0]].session
    for place in [i for i in runs if landings[i].device == reference and landings[i].session == session]:
        slip(place, 9, values=landings[place].values * 0.83)
    place = take(lambda one: one.texts["repeat"] != "1")
    slip(place, 0, values=landings[place].values * rng.choice([0.55, 1.45]))
    place = take()
    slip(place, 1, typed={"level_dbm": f"{EIRP_DBM - losses[landings[place].spot] - rng.uniform(9, 14):.0f}"})
    place = int(rng.choice(stations))
    slip(place, 2, values=np.full(len(landings[place].values), np.nan))
    first = take()
    far = take(lambda one: abs(losses[one.spot] - losses[landings[first].spot]) > NEAR_DB)
    one, other = landings[first], landings[far]
    slip(first, 3, values=other.values, start=other.start)
    slip(far, 3, values=one.values, start=one.start)
    place = take()
    slip(place, 4, start=landings[place].start + timedelta(hours=float(rng.choice([-1, 1]))))
    place = take()
    slip(place, 5, start=landings[place].start - timedelta(days=1))
    place = take()
    stopped = landings[place].values.copy()
    stopped[len(stopped) // 2 :] = 0.0
    slip(place, 6, values=stopped)
    place = take()
    slip(place, 7, values=ceiling * rng.normal(0.995, 0.002, len(landings[place].values)))
    return landings


def counted(days: Sequence[Sequence[Landing]]) -> tuple[int, int]:
    """Slips, and clean logs, of several days."""
    slips = {(day, one.number) for day, landings in enumerate(days) for one in landings if one.slip}
    return len(slips), sum(not one.slip for landings in days for one in landings)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, help="a planned batch")
    parser.add_argument("--catalog", type=Path, required=True)
    parser.add_argument("--ceiling", type=float, required=True)
    parser.add_argument("--reference", required=True)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    landings = slipped_day(
        asked.folder,
        losses=losses_of(asked.catalog),
        dates=dates_of(asked.folder),
        ceiling=asked.ceiling,
        reference=asked.reference,
        seed=asked.seed,
    )
    for landing in landings:
        path = asked.folder / landing.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(landing.content)
        print(f"{landing.at:%H:%M:%S}  {landing.path}  {landing.slip}")  # noqa: T201


if __name__ == "__main__":
    main()
