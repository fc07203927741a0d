"""Rows of comparing: all pairs and rankings at once, and every verb that asks, each as a person runs it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from functools import partial

from measuring import likeloss, middle, run
from rows import NOW, Figure, Limit, Place, Row

from tests.benchmarks import generator
from tests.benchmarks.generated.subjects import MAIN, device


def verdicts(place: Place) -> Figure:
    took = place.inside("verdicts", place.catalog, NOW.isoformat(), place.size(200, 3))
    beside = (
        f"{took['verdicts']:,} in {took['groups']} groups; one by one {took['one_by_one']:,.0f} s of processor time"
    )
    ratio = took["one_by_one"] / took["processor"]
    return Figure(took["processor"], took["clock"], beside=f"{beside}, {ratio:,.0f} times as long (at least 50)")


def rankings(place: Place) -> Figure:
    took = place.inside("rankings", place.catalog, NOW.isoformat())
    return Figure(took["processor"], took["clock"], beside=f"{took['rankings']}, {took['comparisons']:,} comparisons")


def asked(words: Callable[[Place], list[str]], place: Place) -> Figure:
    """The median of three, start of the program and all."""
    command = likeloss(*words(place), "--catalog", place.catalog)
    took = middle([run(command) for _ in range(1 if place.brief else 3)])
    return Figure(took.processor, took.clock, beside=f"{len(took.output.splitlines())} lines, {took.alone_mb:,.0f} MB")


def _names(place: Place) -> list[str]:
    """Two devices that many others were tested like, and one that played the evening."""
    late = next(n for n in range(place.devices * 3 // 4, 0, -1) if n % 5 == 0 and n % 8 != 6 and n % 97 != 6)
    return [device(n, place.devices, seed=generator.SEED).id for n in (1, 2, late)]


def _pair(verb: str, place: Place) -> list[str]:
    return [verb, *_names(place)[:2], "--as-of", NOW.isoformat()]


def _one(verb: str, place: Place, *, more: Sequence[str] = ()) -> list[str]:
    name = _names(place)[2 if verb == "roles" else 0]
    return [verb, name, *more, *(() if verb == "coverage" else ("--as-of", NOW.isoformat()))]


def _rank(place: Place) -> list[str]:
    group = ["--client", MAIN.client, "--band", MAIN.band, "--width", str(MAIN.width_mhz), "--direction", "down"]
    return ["rank", *group, "--window", "middle", "--as-of", NOW.isoformat()]


def _longrun(place: Place) -> list[str]:
    with closing(sqlite3.connect(place.catalog)) as db:
        (name,) = db.execute("SELECT device_id FROM longrun WHERE kind = 'throughput' LIMIT 1").fetchone()
    return ["longrun", name, "--as-of", NOW.isoformat()]


def _link(place: Place) -> list[str]:
    return ["link", _names(place)[0], _names(place)[2], "--as-of", NOW.isoformat()]


def _trace(place: Place) -> list[str]:
    words = [*_pair("compare", place), "--json", "--catalog", str(place.catalog)]
    answer = json.loads(run(likeloss(*words)).output)
    return ["trace", _figure_of(answer), "--as-of", NOW.isoformat()]


def _figure_of(answer: object) -> str:
    """The first id of a figure in the JSON of `compare`."""
    if isinstance(answer, dict):
        if isinstance(answer.get("figure"), str):
            return str(answer["figure"])
        answer = list(answer.values())
    if isinstance(answer, list):
        return next((name for name in map(_figure_of, answer) if name), "")
    return ""


def _check(place: Place) -> list[str]:
    folder = place.folder / "checked"
    if not folder.exists():
        generator.more_devices(folder, place.devices, 2)
    return ["check", str(folder)]


SECOND = Limit(1)
ROWS = (
    Row("all pair verdicts", Limit(2), verdicts),
    Row("all rankings", None, rankings, slow=True),
    Row("compare A B", SECOND, partial(asked, partial(_pair, "compare"))),
    Row("rank", SECOND, partial(asked, _rank)),
    Row("show A", SECOND, partial(asked, partial(_one, "show"))),
    Row("reach A", SECOND, partial(asked, partial(_one, "reach", more=("--at", "100"))), slow=True),
    Row("roles A", None, partial(asked, partial(_one, "roles")), slow=True),
    Row("longrun A", None, partial(asked, _longrun), slow=True),
    Row("link A B", None, partial(asked, _link), slow=True),
    Row("trace FIGURE", None, partial(asked, _trace), slow=True),
    Row("coverage A", None, partial(asked, partial(_one, "coverage")), slow=True),
    Row("check BATCH, of two devices", None, partial(asked, _check), slow=True),
)
