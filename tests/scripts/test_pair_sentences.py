"""What the chooser says of pairs beside what the one-pair functions say: the same sentences, to the digit."""

import json
import subprocess
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from types import SimpleNamespace

import orjson
from hypothesis import HealthCheck, given, settings

from builder import addresses
from builder.bench.bench import labels, subject_named
from builder.bench.tracks import EVERYTHING, GroupFilter
from builder.pairs.compare import compare
from builder.pairs.pair_parts import part_key, parts_of
from builder.pairs.pairing import leading_of
from builder.pairs.sentences import PAIR_SENTENCES, overview
from builder.publishing.files.pair_data import pair_blocks, pair_data, pair_devices, pair_words
from builder.windows.neighbours import company
from tests.builder.conftest import Lab
from tests.builder.pairs.test_all_pairs import labs

HERE = Path(__file__).parent


def by_script(node, benches):
    """For the results of each bench: pair of devices -> what the chooser's script makes of the data written for it."""
    handed = []
    for results in benches:
        devices = pair_devices(results)
        part_of = parts_of(devices)
        asked = [[part_key(part_of[a], part_of[b]), a, b] for a, b in combinations(devices, 2)]
        files = {key: data for block in pair_blocks(results) for key, data in pair_data(results, block).items()}
        parts = orjson.loads(orjson.dumps(files, option=orjson.OPT_SERIALIZE_NUMPY))
        handed.append({"words": pair_words(), "parts": parts, "asked": asked})
    told = subprocess.run(
        [node, str(HERE / "every_pair.mjs")], input=json.dumps(handed), capture_output=True, text=True, check=True
    )
    return [{(pair["a"], pair["b"]): pair for pair in pairs} for pairs in json.loads(told.stdout)]


def one_by_one(results, a, b):
    """The same, by the functions that the pair's page and the commands use."""
    bench = results.bench
    sides = subject_named(bench, a), subject_named(bench, b)
    figures = compare(bench, *sides, match="attenuation")
    lead = leading_of(bench, figures, results.company)
    leads = [f.ahead for f in sorted(figures, key=lambda f: f is not lead) if f.verdict != "refused"]
    group = lead.group
    only = GroupFilter(group.series, group.band, group.width_mhz, group.direction) if group else EVERYTHING
    level = compare(bench, *sides, match="level", only=only)
    spots = compare(bench, *sides, match="spot") if lead.verdict == "refused" else []
    return {
        "a": a,
        "b": b,
        "page": addresses.pair(a, b) if (a, b) in set(results.pairs) else "",
        "figures": [entry(figure) for figure in sorted(figures, key=lambda f: f is not lead)],
        "overview": overview(*labels(*sides), leads),
        "level": [f.sentence for f in level if f.group in (None, group)],
        "spots": [{"group": f.group.slug, "sentence": f.sentence} for f in spots if f.spot and f.group],
    }


def entry(figure):
    said = {"group": figure.group.slug if figure.group else "", "verdict": figure.verdict, "sentence": figure.sentence}
    if figure.verdict in ("separated", "not-separated", "at-least"):
        said["p"] = figure.p
    if figure.verdict in ("separated", "at-least"):
        said["leads"] = figure.ahead
    return said


def said_alike(results, told):
    """Every sentence at like loss, after each pair was found to say the same either way."""
    for a, b in combinations(pair_devices(results), 2):
        found, wanted = told[a, b], one_by_one(results, a, b)
        for own, figure in zip(found["figures"], wanted["figures"], strict=True):
            # Any p that may be judged among as many others as the figure's own is as good (Holm 1979).
            p, exact = own.pop("p", None), figure.pop("p", None)
            assert (p is None) == (exact is None)
            assert p is None or [p <= 0.05 / m for m in range(1, 7)] == [exact <= 0.05 / m for m in range(1, 7)]
        assert found == wanted, (a, b)
    return [figure["sentence"] for pair in told.values() for figure in pair["figures"]]


def test_every_pair_of_the_demo(node, contents):
    (told,) = by_script(node, [contents.results])
    assert len(said_alike(contents.results, told)) > 200
    assert sum(pair["page"] != "" for pair in told.values()) == len(contents.results.pairs) > 0


def of_lab(lab):
    bench = lab.bench()
    return SimpleNamespace(bench=bench, company=company(bench), pairs=[])


def test_every_pair_of_any_bench(node):
    lab = Lab()
    lab.add("A", [(46, [900.0, 910.0]), (58, [700.0, 720.0])])
    lab.add("B", [(50, [900.0, 910.0]), (56, [700.0, 720.0])])  # between two knots of A, none of which is inside
    for device in ("C", "D"):
        lab.add(device, [(None, [500.0, 510.0])], spot="S1", client="other", series="other")
    for device in ("E", "F"):
        lab.add(device, [(50, [800.0, 810.0])], band="5+6")
    lab.ports["A"] = 1000.0  # TCP carries 941 or 949 Mbit/s through it: 935 is within 3 % of both
    lab.add("A", [(46, [935.0, 936.0]), (58, [930.0, 932.0])], direction="up")
    lab.add("B", [(46, [800.0, 810.0]), (58, [500.0, 520.0])], direction="up")
    lab.ceiling("capped", 800.0)
    for device, rates in (("G", [799.0, 800.0]), ("H", [0.0, 0.0])):
        lab.add(device, [(46, rates), (58, rates)], client="capped", series="capped")
    # Single runs have no spread to take: I and L at the ceiling, J below it between them in order.
    for device, rates in (("I", (800.0, 800.0)), ("J", (300.0, 200.0)), ("L", (799.0, 800.0))):
        lab.add(
            device, [(x, [rate]) for x, rate in zip((46, 58), rates, strict=True)], client="capped", series="capped"
        )
    # Summaries without a spread: the same of M and P at the ceiling and N below it.
    summary = {"of_runs": 3, "statistic": "mean", "client": "capped", "series": "capped", "direction": "up"}
    lab.ceilings.append(replace(lab.ceilings[-1], direction="up"))
    for device, rates in (("M", (800.0, 800.0)), ("N", (300.0, 200.0)), ("P", (799.0, 800.0))):
        lab.add(device, list(zip((46, 58), rates, strict=True)), **summary)
    benches = [of_lab(lab)]

    @settings(max_examples=100, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
    @given(labs())
    def any_bench(lab):
        benches.append(of_lab(lab))

    any_bench()
    begun = set()
    for results, told in zip(benches, by_script(node, benches), strict=True):
        for sentence in said_alike(results, told):
            begun.update(name for name, known in PAIR_SENTENCES.items() if fits(sentence, known.text))
    # A sentence that no bench leads to was not compared. Those of other matches stand beside these.
    others = {"read anew", "moved", "no levels", "no levels, both", "level across setups", "level uplink"}
    assert PAIR_SENTENCES.keys() - others - begun == set()


def fits(sentence, text):
    """Whether the words between a template's slots stand in a sentence, in order."""
    place = 0
    for words in (piece.split("}")[-1] for piece in text.split("{")):
        place = sentence.find(words, place)
        if place < 0:
            return False
        place += len(words)
    return True
