"""Asking verbs read what they ask about; their answers are those that the whole public copy gives, to the letter."""

from __future__ import annotations

import json
import random
import sqlite3
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner
from sqlite_utils import Database

from builder.bench import asking
from builder.bench.bench import load_bench, under_settings
from builder.cli import main
from builder.registers import proposing
from builder.windows import bridge_choice, group_choice
from builder.windows.ranking import ranking_groups
from catalog.visibility import public_copy
from tests.benchmarks import generator

WINDOWS = ("near", "middle", "far")
UNTIL = "2027-06-01T00:00:00Z"


class _Kept(Database):
    def close(self):
        """Others ask it, too."""


@pytest.fixture(scope="module")
def whole_copy():
    """whole_copy(path, instant) -> the whole public copy, made once."""
    copies = {}

    def copied(path, as_of):
        if (path, as_of) not in copies:
            copies[path, as_of] = _Kept(public_copy(path, as_of=as_of).conn)
        return copies[path, as_of]

    return copied


@pytest.fixture
def same(monkeypatch, whole_copy):
    """same(catalog, question) asks twice, of a part and of the whole copy, and gives the answer, which is the same."""

    def part(path, asked, *, as_of, then=None):
        if then is not None:
            then(whole_copy(path, as_of))
        return whole_copy(path, as_of)

    def to_rank(catalog, *, as_of, only, settings=None):
        bench = load_bench(whole_copy(catalog, as_of))
        bench = bench if settings is None else under_settings(bench, settings)
        return bench, ranking_groups(bench, only=only)

    def to_link(catalog, a, b, *, units, as_of, only):
        return load_bench(whole_copy(catalog, as_of))

    def every_link(bench, device):
        return frozenset((c.client, c.group.band, c.group.width_mhz, c.group.direction) for c in bench.cells)

    def asked(catalog, question):
        arguments = ["--catalog", str(catalog), *question]
        of_part = CliRunner().invoke(main, arguments)
        with monkeypatch.context() as patch:
            patch.setattr(asking, "public_part", part)
            patch.setattr(group_choice, "bench_to_rank", to_rank)
            patch.setattr(bridge_choice, "bench_to_link", to_link)
            patch.setattr(proposing, "links_suspected", every_link)
            of_whole = CliRunner().invoke(main, arguments)
        assert of_part.output == of_whole.output, question
        assert repr(of_part.exception) == repr(of_whole.exception), question
        return of_part.output

    return asked


@pytest.fixture(scope="module")
def generated_file(tmp_path_factory):
    """Eight devices with all that the generator knows, of which more is hidden, and visits that other links tell apart."""
    folder = tmp_path_factory.mktemp("generated")
    path = folder / "catalog.db"
    generator.fill(folder / "batches", path, generator.LEAST, now=datetime(2026, 1, 1, tzinfo=UTC))
    db = sqlite3.connect(path)
    db.execute(
        """INSERT INTO ceiling SELECT client_id, band, width_mhz, direction, run_id, 'registers', 'batch.toml', 900 FROM run
           WHERE direction = 'down' AND NOT EXISTS (SELECT 1 FROM ceiling AS c WHERE c.client_id = run.client_id)
           ORDER BY throughput_mbit_s DESC LIMIT 1"""
    )
    # While it was downloading at S4 and S5 the client went to S1 and back for one upload, so these are visits apart.
    db.execute(
        """UPDATE run SET at_utc = coalesce((
               SELECT strftime('%Y-%m-%dT%H:%M:%SZ', r.at_utc, '+1 second') FROM run AS r
               WHERE (r.device_id, r.client_id, r.direction, r.spot) = (run.device_id, run.client_id, 'down', 'S' || (run.repeat + 3))
                 AND r.repeat = 1 AND r.session_id = run.session_id), at_utc)
           WHERE direction = 'up' AND spot = 'S1' AND repeat < 3"""
    )
    devices = [name for (name,) in db.execute("SELECT device_id FROM device ORDER BY device_id")]
    for row, (subject, device, covers) in enumerate(
        [("device", devices[1], "existence"), ("device", devices[2], "results"), ("batch", None, "results")]
    ):
        values = (subject, device, UNTIL, UNTIL, covers, "bench-0", "batch.toml", 800 + row)
        if device is not None:
            db.execute("DELETE FROM embargo WHERE device_id = ?", [device])
        db.execute(
            "INSERT INTO embargo (subject, device_id, until_utc, until_typed, covers, batch_id, source_file, source_row) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            values,
        )
    db.commit()
    db.close()
    return path


def questions(path, instants, number, seed):
    """So many questions about a catalogue at some instants: every verb, every filter, hidden and unknown names."""
    draw = random.Random(seed)
    db = sqlite3.connect(path)

    def column(sql):
        return [row[0] for row in db.execute(sql)]

    devices, clients = column("SELECT device_id FROM device"), column("SELECT client_id FROM client")
    settings, versions = column("SELECT settings_id FROM settings"), db.execute("SELECT * FROM firmware").fetchall()
    versions = [f"{row[0]}@{row[1]}" for row in versions]
    under = [f"{device}+{one}" for device, one in db.execute("SELECT DISTINCT device_id, settings_id FROM run") if one]
    names = [*devices, *draw.choices(versions, k=8), *under, "nobody", f"{devices[0]}@0.0", f"{devices[0]}+x@y"]
    filters = [
        [],
        ["--band", "5"],
        ["--direction", "up"],
        *(["--client", client] for client in clients),
        ["--width", "80"],
        ["--band", "6", "--direction", "down"],
    ]
    for number_asked in range(number):
        verb = ("compare", "rank", "reach", "show", "roles", "longrun", "link", "show", "compare")[number_asked % 9]
        question = [verb, *draw.choices(names, k={"compare": 2, "link": 2, "rank": 0}.get(verb, 1))]
        if verb == "compare":
            question += ["--match", draw.choice(["attenuation", "level", "spot"])]
        if verb in ("compare", "rank", "reach"):
            question += draw.choice(filters)
        if verb == "rank":
            question += ["--window", draw.choice(WINDOWS)]
            question += ["--settings", draw.choice(settings)] if settings and draw.random() < 0.3 else []
        if verb == "reach":
            question += ["--at", draw.choice(["40", "120.5", "500"])]
        if verb == "show" and draw.random() < 0.4:
            question[1] = draw.choice(clients)
        question += ["--json"] if draw.random() < 0.6 else []
        yield [*question, "--as-of", draw.choice(instants)]


def figures_of(answer):
    """Ids of the figures in an answer."""
    if isinstance(answer, dict):
        own = [answer["figure"]] if isinstance(answer.get("figure"), str) else []
        return own + [figure for value in answer.values() for figure in figures_of(value)]
    return [figure for value in answer for figure in figures_of(value)] if isinstance(answer, list) else []


def require_same(same, path, instants, *, number, traces, seed):
    """Ask, then trace some figures of each kind that the answers named. Gives how many answers and traces had something."""
    figures = {}
    answered = 0
    for question in questions(path, instants, number, seed):
        answer = same(path, question)
        answered += len(answer) > 200
        if "--json" in question and answer.startswith("{"):
            for figure in figures_of(json.loads(answer)):
                figures.setdefault(figure.split("~")[0], {}).setdefault(figure, question[-1])
    draw = random.Random(seed)
    traced = set()
    for kind, ids in sorted(figures.items()):
        for figure in draw.sample(sorted(ids), min(traces, len(ids))):
            traced |= {kind} if len(same(path, ["trace", figure, "--as-of", ids[figure], "--json"])) > 200 else set()
    return answered, traced


def test_on_the_demo(same, demo_file, demo_instant):
    instants = [demo_instant.isoformat(), "2026-12-01T00:00:00Z", "2025-09-01T00:00:00Z"]
    answered, traced = require_same(same, demo_file, instants, number=18, traces=1, seed=3)
    assert answered > 8
    assert traced >= {"cell", "pair"}
    asked = ["rank", "--json", "--as-of", instants[0]]
    window = json.loads(same(demo_file, asked))["ranked"][0]["figure"]
    _, device, _, _, *group = window.split("~")
    for figure in (window, "~".join(["rank", device, *group]), "ceiling~wrenlet-u2~5~80~down"):
        assert len(same(demo_file, ["trace", figure, "--as-of", instants[0]])) > 200
    roles = json.loads(same(demo_file, ["roles", "tessarik-cupola", "--json", "--as-of", instants[0]]))
    mix = roles["mixes"][0]
    figure = f"role~{mix['mix']}~{mix['stations'][0]['client']}~{mix['stations'][0]['role']}"
    assert len(same(demo_file, ["trace", figure, "--as-of", instants[0]])) > 200


def test_with_much_hidden(same, generated_file):
    instants = ["2026-01-01T00:00:00Z", UNTIL]
    answered, traced = require_same(same, generated_file, instants, number=27, traces=1, seed=5)
    assert answered > 8
    assert traced >= {"cell", "reach"}
    db = sqlite3.connect(generated_file)
    hidden, model = db.execute("SELECT device_id, model FROM device ORDER BY device_id LIMIT 1 OFFSET 1").fetchone()
    assert "There is no" in same(generated_file, ["show", hidden, "--as-of", instants[0]])
    assert model in same(generated_file, ["show", hidden, "--as-of", UNTIL])
    for window in WINDOWS:
        assert '"device"' in same(generated_file, ["rank", "--window", window, "--as-of", UNTIL, "--json"])
