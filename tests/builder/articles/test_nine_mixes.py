"""A review of nine mixes on five machines: from raw logs as a recorder writes them to an article with every chart.

The recorder and the household are this file's own: every machine gets its turns in the air from one queue, which is none of
the distributions that the method has a word for. The logs are read through a map and are not edited.
"""

import random
import re
from datetime import UTC, datetime, timedelta

import pytest

from builder.charts.stills import SHAPES
from builder.publishing.making.entry_check import foresee
from catalog.entering import enter_batch
from tests.batches import batch_at, batch_toml, client, device, session

NOW = datetime(2025, 9, 1, tzinfo=UTC)
DAY = datetime(2025, 6, 1, 18, 0, tzinfo=UTC)
DURATION_S = 120
MACHINES = ["desk", "hall", "kitchen", "attic", "porch"]
MARKS = {"good_ms": 100, "good_share": 0.9, "target_ms": 400, "target_share": 0.95}
FILM = {"kind": "stream", "segment_s": 1, "start_buffer_s": 4, **MARKS}
ROLES = [
    {"id": "film", "rate_mbit_s": 8, **FILM},
    {"id": "big-film", "rate_mbit_s": 25, **FILM},
    {"id": "web", "kind": "pages", "resources": 27, "resource_kib": 44, "pause_s": [1, 3], **MARKS},
    {"id": "call", "kind": "voice", "packet_ms": 200, "target_ms": 150, "target_share": 0.9},
    {"id": "game", "kind": "game", "packet_ms": 100, "target_ms": 80, "target_share": 0.9},
    {"id": "clips", "kind": "upload", "file_mib": 4, "at_once": 2, "target_ms": 3000, "target_share": 0.9},
    {"id": "updates", "kind": "fetch", "file_mib": 16, "at_once": 4, "target_ms": 9000, "target_share": 0.9},
]
# Role: seconds from one request to the next, and what one takes of the air. [s, ms]
LOAD = {
    "film": (1.0, 12),
    "big-film": (1.0, 40),
    "web": (2.0, 25),
    "call": (0.2, 1),
    "game": (0.1, 1),
    "clips": (1.5, 90),
    "updates": (2.5, 300),
}
MIXES = {
    "films": [["film"]] * 5,
    "big-films": [["big-film"]] * 5,
    "films-and-web": [["film"], ["film"], ["web"], ["web"], ["web"]],
    "mixed": [["film", "web"], ["call"], ["clips"], ["game"], ["updates"]],
    "three": [["film"], ["web"], ["call"]],
    "calls-and-updates": [["call"], ["call"], ["updates"], ["updates"], ["updates"]],
    "web": [["web"]] * 5,
    "games-and-clips": [["game"], ["game"], ["clips"], ["clips"], ["clips"]],
    "everything": [["updates", "clips"]] * 4 + [["call"]],
}
BROKE_OFF_AT_S = 70  # of the last
MAP = """kind = "requests"
format = "csv"

[column.t_s]
from = "sent"

[column.end]
from = "answered"
failed = ["lost"]

[column.outcome]
from = "state"
words = { good = "finished", bad = "failed" }
"""


def household(seats, seed, *, until_s):
    """(machine, role) -> its requests as (sent, answered or None for none), from one queue for the air. [s]"""
    draw = random.Random(seed)
    waiting = [
        (number * LOAD[role][0] + draw.uniform(0, 0.05), machine, role)
        for machine, roles in zip(MACHINES, seats, strict=False)
        for role in roles
        for number in range(int(DURATION_S / LOAD[role][0]))
    ]
    free, made = 0.0, {}
    for sent, machine, role in sorted(waiting):
        if sent > until_s:
            break
        took = LOAD[role][1] / 1000 * draw.choice((0.6, 1, 1, 1.8))
        free = max(free, sent) + took
        lost = draw.random() < 0.002
        made.setdefault((machine, role), []).append((sent, None if lost else free + 0.004))
    return made


def recorded(requests, begin):
    """A log as the recorder writes it: clocks without a day, decimal commas, words for what was lost."""

    def clock(at_s):
        return (begin + timedelta(seconds=at_s)).strftime("%H:%M:%S,%f")[:-3]

    rows = [f"{clock(a)};{'lost' if b is None else clock(b)};{'bad' if b is None else 'good'}" for a, b in requests]
    return "\n".join(["sep=;", "sent;answered;state", *rows]) + "\n"


@pytest.fixture(scope="module")
def review(tmp_path_factory, build):
    """The site of the review, with stills, and what checking the batch warned of."""
    folder, rows, files = tmp_path_factory.mktemp("nine"), [], {"maps/recorder.toml": MAP}
    for number, (mix, seats) in enumerate(MIXES.items()):
        begin, broke = DAY + timedelta(minutes=10 * number), mix == "everything"
        until_s = BROKE_OFF_AT_S if broke else DURATION_S
        for (machine, role), requests in household(seats, seed=number, until_s=until_s).items():
            name = f"logs/{mix}-{machine}-{role}.csv"
            files[name] = recorded(requests, begin + timedelta(hours=2))
            ended = f"did not finish,{BROKE_OFF_AT_S},restart" if broke else "finished,,"
            planned = int(DURATION_S / LOAD[role][0])
            place = 55 + 5 * MACHINES.index(machine)
            when = (begin + timedelta(hours=2)).strftime("%Y-%m-%d %H:%M:%S")
            rows.append(f"{mix},{mix},{when},{machine},{role},{place},{planned},{ended},recorder:{name}")
    header = "mix,workload,when,client,role,attenuation_db,planned_requests,outcome,ended_at_s,ended_by,log"
    files["stations.csv"] = "\n".join([header, *rows]) + "\n"
    blocks = [
        f"It (= coped tessarik-cupola, workload {mix} =).\n\n(= mix tessarik-cupola, workload {mix} : Who waits here? =)\n"
        for mix in MIXES
    ]
    end = "At last it (= brokeoff tessarik-cupola, workload everything =).\n"
    files["articles/review.md"] = "Everybody at once, mix by mix.\n\n" + "\n".join(blocks) + "\n" + end
    text = batch_toml(
        "nine",
        device=[device("tessarik-cupola")],
        client=[client(name) for name in MACHINES],
        house=[{"id": "house-a", "name": "Test house"}],
        session=[session("day-1", "2025-06-01")],
        role=ROLES,
        workload=[
            {
                "id": mix,
                "version": 1,
                "title": mix.replace("-", " ").capitalize(),
                "duration_s": DURATION_S,
                "seats": seats,
            }
            for mix, seats in MIXES.items()
        ],
        article=[
            {
                "id": "review",
                "title": "Everybody at once",
                "published": "2025-06-10T10:00:00Z",
                "file": "articles/review.md",
                "devices": ["tessarik-cupola"],
            }
        ],
        defaults={
            "stations": {
                "device": "tessarik-cupola",
                "firmware": "1.0",
                "session": "day-1",
                "band": "5",
                "planned_s": DURATION_S,
            }
        },
    )
    batch = batch_at(folder / "nine", text, files)
    report = enter_batch(batch, into=folder / "catalog.db", now=NOW, foresee=lambda *a, **k: foresee(*a, **k, now=NOW))
    build(folder / "catalog.db", folder / "site", as_of=NOW, stills=True)
    return folder / "site", report


def test_every_mix_has_its_chart_and_no_number_was_typed(review):
    site, report = review
    assert [str(warning) for warning in report.warnings if warning.table.endswith(".md")] == []
    page = (site / "reviews" / "review" / "index.html").read_text(encoding="utf-8")
    charts = re.findall(r'<figure[^>]*id="([^"]*mix[^"]*)"', page)
    assert len(charts) == len(set(charts)) == len(MIXES) == 9
    article = page.partition("Everybody at once, mix by mix.")[2]
    assert article.count("Who waits here?") >= len(MIXES)
    assert "broke off after 1:10 of 2:00 (restart)" in re.sub("<[^>]+>", "", article)


def test_every_mix_has_its_stills_in_both_shapes(review):
    folders = [one for one in (review[0] / "stills").iterdir() if "~mix~" in one.name]
    assert len(folders) == len(MIXES)
    for folder in folders:
        names = {path.name for path in folder.iterdir()}
        assert {f"{shape.width}x{shape.height}-light.png" for shape in SHAPES.values()} <= names
        assert {f"{shape.width}x{shape.height}-light.svg" for shape in SHAPES.values()} <= names


def test_counts_of_the_article_are_those_of_the_household(review):
    """In time is counted here anew, from what the queue made, not from what was read."""
    page = (review[0] / "reviews" / "review" / "index.html").read_text(encoding="utf-8")
    counts = set(re.findall(r"(?:all )?[0-9]+(?: of [0-9]+)? in time", page))
    target = {role["id"]: role["target_ms"] for role in ROLES}
    seen = set()
    for number, (mix, seats) in enumerate(MIXES.items()):
        until_s = BROKE_OFF_AT_S if mix == "everything" else DURATION_S
        for (_, role), requests in household(seats, seed=number, until_s=until_s).items():
            # The recorder writes whole milliseconds.
            times = [None if b is None else int(b * 1000) - int(a * 1000) for a, b in requests]
            in_time = sum(took is not None and took <= target[role] for took in times)
            planned = int(DURATION_S / LOAD[role][0])
            seen.add(f"all {planned} in time" if in_time == planned else f"{in_time} of {planned} in time")
    assert len(seen) > 15
    assert seen <= counts
