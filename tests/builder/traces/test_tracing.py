"""Every traced figure is computed again from the printed inputs alone, and every input stands where it is said to.

The arithmetic of the check is that of recomputing.py beside this file: numpy and scipy, nothing of the project.
"""

import json
import math
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from scipy import stats

from builder.bench.bench import subject_named
from builder.bench.cells import cell_figure
from builder.bench.sessions import session_factors
from builder.cli import main
from builder.pairs.compare import compare
from builder.registers.eirp import implied_eirps
from builder.shipped import demo_folder
from builder.traces.inputs import load_sources
from builder.traces.tracing import KINDS, trace, trace_texts
from builder.under_load.longruns import load_longruns
from builder.under_load.mixes import load_mixes
from builder.windows.ranking import rank, ranking_groups
from builder.windows.reach import reaches
from catalog.entering import enter_batch
from catalog.errors import UnknownName
from catalog.visibility import public_copy
from tests.builder.traces import recomputing as again

STORIES = Path(__file__).parents[2] / "stories"
FOLDERS = again.folders_by_batch(STORIES, demo_folder())
LATE = datetime(2027, 1, 1, tzinfo=UTC)


def entered(path, *folders):
    for folder in folders:
        enter_batch(folder, into=path, now=LATE)
    return load_sources(public_copy(path, as_of=LATE))


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    import tomllib

    order = tomllib.loads((demo_folder() / "demo.toml").read_text(encoding="utf-8"))["order"]
    path = tmp_path_factory.mktemp("trace") / "demo.db"
    return entered(path, *(demo_folder() / "batches" / name for name in order))


@pytest.fixture
def story(tmp_path):
    return lambda *names: entered(tmp_path / "story.db", *(STORIES / name for name in names))


def traced(sources, figure):
    """The trace as a reader has it: through JSON and back."""
    document = json.loads(json.dumps(trace(sources, figure)))
    assert document["figure"] == figure
    assert document["method"]["number"] == 2
    assert again.check_places(document, FOLDERS) or "log" in document["inputs"][0]
    assert list(trace_texts(document))
    return document


def line_sides(document, match):
    sides = []
    for side in document["inputs"]:
        cells = again.cells_of(side)
        if match == "level":
            cells = [(again.level_of(c), *rest, c) for _, *rest, c in cells]
        sides.append((side["sign"], cells))
    return sides


def over(sides, low, high):
    return [
        (sign, cells, again.weights_over(cells, low, high), again.slope_over(cells, low, high)) for sign, cells in sides
    ]


def mean(side):
    _, cells, weights, _ = side
    return sum(w * m for w, (_, m, *_) in zip(weights, cells, strict=True))


def check_pair(document, match):
    result = document["result"]
    low, high = result["range"] if match == "attenuation" else (-result["range"][1], -result["range"][0])
    a, b = sides = over(line_sides(document, match), low, high)
    assert mean(a) == pytest.approx(result["mean_a"], rel=1e-9)
    assert mean(b) == pytest.approx(result["mean_b"], rel=1e-9)
    u, df = again.uncertainty(document, sides, match)
    if result["verdict"] in ("separated", "not-separated"):
        assert mean(a) - mean(b) == pytest.approx(result["difference"], rel=1e-6, abs=1e-9)
        assert u == pytest.approx(result["standard_uncertainty"], rel=1e-9, abs=1e-12)
    if "half_width" in result:
        assert again.half_width(u, df) == pytest.approx(result["half_width"], rel=1e-8, abs=1e-12)
    for name, (_, cells) in zip("ab", line_sides(document, match), strict=True):
        knots = again.shares(cells)[0]
        tested = result[f"tested_{name}"]
        assert [knots[0], knots[-1]] == pytest.approx(tested if match == "attenuation" else [-tested[1], -tested[0]])


def pair_of(sources, a, b, match, index=0):
    bench = sources.bench
    return compare(bench, subject_named(bench, a), subject_named(bench, b), match=match)[index]


def test_story_1(story):
    sources = story("01-partial-overlap")
    figure = pair_of(sources, "quillmast-dome-20", "tessarik-shale-2", "attenuation")
    check_pair(traced(sources, figure.figure), "attenuation")


def test_story_2_at_both_matches(story):
    sources = story("02-match-decides")
    for match in ("attenuation", "level"):
        check_pair(traced(sources, pair_of(sources, "polmerre-low", "fjeldrun-alcove", match).figure), match)


@pytest.mark.parametrize("name", ["08-same-session", "08-two-sessions"])
def test_story_8_at_a_spot(story, name):
    sources = story(name)
    document = traced(sources, pair_of(sources, "tessarik-shale-2@1.6", "tessarik-shale-2@1.4", "spot").figure)
    sides = []
    for side in document["inputs"]:
        cells = again.cells_of(side)
        at = [n if cell["weight"] else 0 for *_, n, cell in cells]
        sides.append((side["sign"], cells, [n / sum(at) for n in at], side["slope_mbit_s_per_db"]))
    u, df = again.uncertainty(document, sides, "spot")
    assert mean(sides[0]) - mean(sides[1]) == pytest.approx(document["result"]["difference"])
    assert u == pytest.approx(document["result"]["standard_uncertainty"])
    assert again.half_width(u, df) == pytest.approx(document["result"]["half_width"])


def test_ceilings_name_their_evidence(story):
    sources = story("04-capped-client")
    figure = pair_of(sources, "quillmast-dome-20", "tessarik-porch", "spot")
    (ceiling,) = [c for c in traced(sources, figure.figure)["ceilings"] if "client" in c]
    row = again.row_at(ceiling["evidence"], FOLDERS)
    assert ceiling["mbit_s"] == 930
    assert "930" in row


def test_pairs_of_the_demo(demo):
    """Measured spreads, readings, assumed constants, several sessions and pooled single runs."""
    bench = demo.bench
    devices = [d for d in bench.devices if bench.cells_of.get(d)]
    checked = set()
    for a, b in pairwise(devices):
        for match in ("attenuation", "level"):
            figures = [
                f
                for f in compare(bench, subject_named(bench, a), subject_named(bench, b), match=match)
                if f.verdict != "refused"
            ]
            for figure in figures[:2]:
                check_pair(traced(demo, figure.figure), match)
                checked.add((match, figure.verdict))
    assert len(checked) >= 4
    assert {match for match, _ in checked} == {"attenuation", "level"}


def test_windows_of_the_demo(demo):
    checked = 0
    for group in ranking_groups(demo.bench)[:4]:
        for window in ("near", "middle", "far"):
            for entry in rank(demo.bench, group, window).ranked[:3]:
                document = traced(demo, entry.figure)
                result = document["result"]
                (side,) = over(line_sides(document, "attenuation"), *result["range"])
                assert mean(side) == pytest.approx(result["value"], rel=1e-9)
                assert result["value"] == entry.value
                if result["interval"] is not None:
                    u, df = again.uncertainty(document, [side], "attenuation")
                    low, high = result["interval"]
                    assert again.half_width(u, df) == pytest.approx((high - low) / 2, rel=1e-8)
                checked += 1
    assert checked > 10


def test_reaches_of_the_demo(demo):
    relations = set()
    for device in list(demo.bench.devices)[:8]:
        for found in reaches(demo.bench, subject_named(demo.bench, device), [100.0, 400.0]):
            document = traced(demo, found.figure)
            assert document["result"]["relation"] == found.reach.relation
            relations.add(found.reach.relation)
            if found.reach.relation != "=":
                continue
            cells = again.cells_of(document["inputs"][0])
            knots, own = again.shares(cells)
            values = np.zeros(len(knots))
            for (i, share), (_, m, *_) in zip(own, cells, strict=True):
                values[i] += share * m
            assert np.interp(document["result"]["db"], knots, values) == pytest.approx(found.at, rel=1e-6)
            assert (values[knots < document["result"]["db"] - 1e-9] >= found.at - 1e-9).all()
    assert {"=", ">="} <= relations


def test_cells_and_eirp_of_the_demo(demo):
    bench = demo.bench
    runs_seen = set()
    for cell in bench.cells[:: len(bench.cells) // 40]:
        document = traced(demo, cell_figure(cell)) if cell.n else trace(demo, cell_figure(cell))
        if cell.n:
            ((x, value, sd, n, one),) = again.cells_of(document["inputs"][0])
            result = document["result"]
            assert (value, n) == (pytest.approx(result["mean"]), result["n"])
            assert sd == (None if result["sd"] is None else pytest.approx(result["sd"]))
            if not math.isnan(x):
                assert x == pytest.approx(result["attenuation_db"])
            if (normal := result["normalised"]) and normal["value"] is not None:
                assert value / factor_of(document, one) == pytest.approx(normal["value"])
                runs_seen.add(one["session"])
    assert runs_seen
    for device in list(bench.devices)[:6]:
        for found in implied_eirps(bench, subject_named(bench, device)):
            document = traced(demo, found.figure)
            sent = [x - again.level_of(c) for x, *_, c in again.cells_of(document["inputs"][0])]
            assert np.mean(sent) == pytest.approx(document["result"]["eirp_dbm"])
            if len(sent) > 1:
                assert np.std(sent, ddof=1) == pytest.approx(document["result"]["sd_db"])


def test_session_factors_of_the_demo(demo):
    found = list(session_factors(demo.bench).values())
    assert found
    for factor in found[:: max(1, len(found) // 12)]:
        document = traced(demo, factor.figure)
        assert factor_of(document, {"session": factor.session}) == pytest.approx(document["result"]["factor"])
        # The cells of the day are down to file and row, and the same ones as in the list of all days.
        today = again.cells_of(document["inputs"][0])
        listed = [c for c in document["reference_cells"] if c["session"] == factor.session]
        assert [value for _, value, *_ in today] == pytest.approx([c["mean"] for c in listed])


def factor_of(document, cell):
    """The session factor from the reference's cells: its places that day against its other days there."""
    own = document["reference_cells"]
    same = ("place", "unit", "firmware", "client", "driver")
    ratios = []
    for today in [c for c in own if c["session"] == cell["session"]]:
        others = [c for c in own if all(c[k] == today[k] for k in same) and c["session"] != today["session"]]
        if len({c["session"] for c in others}) >= 2:
            days = {
                s: np.mean([c["mean"] for c in others if c["session"] == s]) for s in {c["session"] for c in others}
            }
            ratios.append(today["mean"] / np.mean(list(days.values())))
    return np.mean(ratios)


def test_links_of_story_10(story):
    sources = story("10-link", "10-second-bridge")
    bench = sources.bench
    from builder.windows.indirect import links

    (link,) = links(bench, subject_named(bench, "tessarik-porch"), subject_named(bench, "quillmast-sill"))
    document = traced(sources, link.figure)
    low, high = document["window"]["range"]
    logs = {}
    for side in document["inputs"]:
        (one,) = over([(1, again.cells_of(side))], low, high)
        u, _ = again.uncertainty(document, [one], "attenuation")
        logs[side["side"]] = (math.log(mean(one)), (u / mean(one)) ** 2)
    parts = []
    for bridge in document["result"]["bridges"]:
        on_a, on_b = logs[f"bridge {bridge}, a's client"], logs[f"bridge {bridge}, b's client"]
        parts.append((on_a[0] - on_b[0], on_a[1] + on_b[1]))
    weights = np.array([1 / v for _, v in parts]) / sum(1 / v for _, v in parts)
    joint = sum(w * p for w, (p, _) in zip(weights, parts, strict=True))
    log = logs["a"][0] - logs["b"][0] - joint
    u = math.sqrt(logs["a"][1] + logs["b"][1] + sum(w**2 * v for w, (_, v) in zip(weights, parts, strict=True)))
    assert math.exp(log) == pytest.approx(document["result"]["ratio"])
    assert [math.exp(log - 1.959964 * u), math.exp(log + 1.959964 * u)] == pytest.approx(
        document["result"]["interval"], rel=1e-6
    )


def check_role(document):
    result, (station,), target = document["result"], document["inputs"], document["target"]
    rows = again.request_rows(station["log"], FOLDERS)
    finished = sorted(float(r["ms"]) for r in rows if r["outcome"] == "finished")
    planned = station["planned_requests"]
    if planned is None:
        made = sum(float(r["t_s"]) <= (station["ended_at_s"] or math.inf) for r in rows)
        planned = (
            math.floor(made / station["ended_at_s"] * station["planned_s"] + 0.5) if station["ended_at_s"] else made
        )
    planned = max(planned, len(rows))
    assert (result["planned"], result["finished"]) == (planned, len(finished))
    on_time = sum(ms <= target["target_ms"] for ms in finished)
    assert result["on_time_share"] == pytest.approx(on_time / planned)
    padded = np.array(finished + [math.inf] * (planned - len(finished)))
    for percent, found in result["percentiles"].items():
        expected = padded[math.ceil(int(percent) * planned / 100 - 1e-9) - 1]
        assert (found["ms"] or math.inf) == expected
        ranks = stats.quantile_test(np.arange(1, planned + 1), p=int(percent) / 100).confidence_interval(0.95)
        for end, rank_of in zip(found["interval"], (ranks.low, ranks.high), strict=True):
            if math.isnan(rank_of):
                assert end is None
            else:
                value = padded[int(rank_of) - 1]
                assert end == ("failed" if math.isinf(value) else value)
    if result["voice"] and result["voice"]["one_way_ms"] is not None:
        assert result["voice"]["one_way_ms"] == pytest.approx(np.mean(finished) / 2 + target["recipe"]["packet_ms"])
        assert result["voice"]["loss"] == pytest.approx(1 - len(finished) / planned)
    if result["apdex"]:
        tolerated = sum(ms <= 4 * target["target_ms"] for ms in finished)
        assert result["apdex"]["score"] == pytest.approx((on_time + (tolerated - on_time) / 2) / planned)
    if result["page_mos"] is not None:
        # Source: ITU-T G.1030, equation II-2, with 0.67 and 6 s.
        score = np.clip(5 - 4 / math.log(6 / 0.67) * np.log(np.array(finished) / 670), 1, 5)
        assert result["page_mos"] == pytest.approx((score.sum() + planned - len(finished)) / planned)
    if result["stalls"]:
        check_playout(rows, planned, target["recipe"], result["stalls"])


def check_playout(rows, planned, recipe, shown):
    """A player that asks for the segments itself, second by second of media."""
    length = recipe["segment_s"]
    asked = [float(r["t_s"]) for r in rows]
    took = [float(r["ms"]) / 1000 for r in rows]
    there = []
    for k in range(len(rows)):
        waited = k > 0 and asked[k] >= asked[k - 1] + took[k - 1] - 0.02
        there.append(max(k * length, there[-1] if waited else 0.0) + took[k])
    came = [r["outcome"] == "finished" for r in rows]
    first = [at for at, good in zip(there, came, strict=True) if good]
    clock = max(first[: max(1, math.ceil(recipe["start_buffer_s"] / length))])
    assert shown["start_delay_s"] == pytest.approx(clock, abs=1e-5)
    stalled = 0.0
    for at, good in zip(there, came, strict=True):
        wait = max(0.0, at - clock)
        stalled += wait
        clock += wait + (length if good else 0.0)
    assert shown["stalled_s"] == pytest.approx(stalled, abs=1e-4)
    assert shown["lost_segments"] == planned - sum(came)


def test_roles_of_story_5(story):
    sources = story("05-collapse", "05-finished", "05-client-fault")
    checked = 0
    for mix in load_mixes(sources.db):
        for role in mix.roles:
            document = traced(sources, role.figure)
            if role.planned is None:
                assert document["excluded"]
                continue
            check_role(document)
            checked += 1
    assert checked == 3


def test_roles_of_the_demo(demo):
    kinds = set()
    one_each = {(m.mix.workload, m.mix.outcome): m for m in load_mixes(demo.db)}
    for mix in one_each.values():
        for role in mix.roles:
            if role.planned is not None and role.role.target_ms is not None:
                check_role(traced(demo, role.figure))
                kinds.add(role.role.kind)
    assert kinds == {"pages", "stream", "voice", "fetch", "upload", "game"}


def test_long_runs_of_the_demo(demo):
    periods = 0
    for found in load_longruns(demo.db):
        document = traced(demo, found.figure)
        figures = document["result"]["figures"]
        rows = again.log_rows(document["inputs"][0]["log"], FOLDERS)
        rates = np.array([float(r["mbit_s"]) for r in rows])
        assert len(set(np.diff([float(r["t_s"]) for r in rows]).round(6))) == 1  # the nights are sampled evenly
        assert figures["mean"] == pytest.approx(rates.mean())
        assert figures["median"] == np.quantile(rates, 0.5, method="inverted_cdf")
        assert figures["p05"] == pytest.approx(np.quantile(rates, 0.05 - 1e-12, method="inverted_cdf"))
        if figures["drift"]:
            blocks = [b.mean() for b in np.array_split(rates, figures["drift"]["blocks"])]
            hours = np.array_split(np.arange(len(rates)), figures["drift"]["blocks"])
            middle = [(h.mean() + 0.5) * figures["step_s"] / 3600 for h in hours]
            slope, _, low, high = stats.theilslopes(blocks, middle, alpha=0.95)
            assert [slope, low, high] == pytest.approx([figures["drift"]["per_hour"], *figures["drift"]["interval"]])
        if figures["period"]:
            power = (
                np.abs(np.fft.rfft(rates - np.polyval(np.polyfit(range(len(rates)), rates, 1), range(len(rates))))) ** 2
            )
            assert round(figures["period"]["cycles"]) == pytest.approx(power[4:].argmax() + 4, abs=1)
            periods += 1
    assert periods


def test_exclusions_are_told(demo):
    cell = next(c for c in demo.bench.cells if c.outcomes.keys() - {"finished"})
    document = trace(demo, cell_figure(cell))
    (outcome, count), *_ = [(o, n) for o, n in cell.outcomes.items() if o != "finished"]
    told = [e for e in document["excluded"] if outcome in e["why"]]
    assert len(told) == count
    assert cell.device in again.row_at(told[0], FOLDERS)


def test_what_is_no_figure_is_said(story):
    sources = story("03-no-shared-range")
    for text in ("nonsense", "pair~a", "heat~x~y~z", ""):
        with pytest.raises(UnknownName, match="no figure's id"):
            trace(sources, text)
    refused = pair_of(sources, "quillmast-sill", "tessarik-porch", "attenuation")
    with pytest.raises(UnknownName, match="it was refused, withdrawn, or is not public yet"):
        trace(sources, refused.figure)


def test_a_hidden_figure_is_as_unknown_as_a_wrong_one(tmp_path):
    path = tmp_path / "nine.db"
    for name in ("09-public", "09-cairn"):
        enter_batch(STORIES / name, into=path, now=LATE)
    shown = load_sources(public_copy(path, as_of=datetime(2025, 6, 10, 13, tzinfo=UTC)))
    hidden = load_sources(public_copy(path, as_of=datetime(2025, 6, 10, 12, 59, 59, tzinfo=UTC)))
    figure = cell_figure(shown.bench.cells_of["tessarik-cairn"][0])
    assert trace(shown, figure)["result"]["n"]
    with pytest.raises(UnknownName, match="There is no"):
        trace(hidden, figure)


def test_the_command_prints_and_refuses(tmp_path):
    path = tmp_path / "one.db"
    enter_batch(STORIES / "01-partial-overlap", into=path, now=LATE)
    figure = "pair~quillmast-dome-20~A~1.0~tessarik-shale-2~A~1.0~wrenlet-u2~5~80~down~attenuation"
    run = CliRunner().invoke(main, ["trace", figure, "--catalog", str(path)])
    assert run.exit_code == 0
    assert "story-1/runs.csv" in run.stdout
    assert "row 2: 900" in run.stdout
    assert CliRunner().invoke(main, ["trace", "nonsense", "--catalog", str(path)]).exit_code == 1


def test_every_kind_is_checked_here():
    text = Path(__file__).read_text(encoding="utf-8")
    rows = (Path(__file__).parent / "test_tracing_rows.py").read_text(encoding="utf-8")
    here = {"cell", "pair", "window", "reach", "link", "eirp", "role", "longrun", "factor"}
    here |= {"longwaits"} & set(
        (Path(__file__).parent / "test_tracing_waits.py").read_text(encoding="utf-8").split('"')
    )
    assert set(KINDS) == here | {kind for kind in ("rank", "ceiling", "loss", "heat", "power", "price") if kind in rows}
    assert all(
        word in text for word in ("implied_eirps", "load_longruns", "load_mixes", "reaches", "links", "session_factors")
    )
