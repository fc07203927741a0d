"""The worked stories of the design, entered as batches and asked through the command line.

Every expected number was worked by hand in the job analysis; the batches beside this file hold its data.
"""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder.cli import main

STORIES = Path(__file__).parent


@pytest.fixture
def bench(tmp_path):
    return Bench(tmp_path / "catalog.db")


class Bench:
    def __init__(self, catalog):
        self.catalog = catalog

    def run(self, *args, code=0):
        result = CliRunner().invoke(main, [*map(str, args), "--catalog", str(self.catalog)])
        assert result.exit_code == code, result.output
        return result

    def enter(self, *stories):
        for story in stories:
            self.run("enter", STORIES / story)

    def ask(self, *args):
        return json.loads(self.run(*args, "--json").stdout)


def test_story_1_partial_overlap_with_changing_lead(bench):
    bench.enter("01-partial-overlap")
    (group,) = bench.ask("compare", "quillmast-dome-20", "tessarik-shale-2")["groups"]
    assert group["range"] == [55, 75]
    assert group["mean_a"] == pytest.approx(543.75, abs=1e-6)
    assert group["mean_b"] == pytest.approx(510.0, abs=1e-6)
    assert group["difference"] == pytest.approx(33.75, abs=1e-6)
    assert group["ratio"] == pytest.approx(1.0662, abs=5e-5)
    assert group["standard_uncertainty"] == pytest.approx(17.5, abs=1e-6)
    assert group["interval"] == pytest.approx([-0.55, 68.05], abs=0.005)
    assert group["verdict"] == "not-separated"
    assert group["crossings"] == pytest.approx([64.286, 66.667], abs=5e-4)
    for device, db in (("quillmast-dome-20", 80), ("tessarik-shale-2", 75)):
        (reach,) = bench.ask("reach", device, "--at", 100)["groups"]
        assert (reach["relation"], reach["db"]) == (">=", db)
    text = bench.run("compare", "quillmast-dome-20", "tessarik-shale-2").stdout
    assert "The lead changes at 64.3 and 66.7 dB, inside noise." in text
    assert (
        "in the same place Dome 20 was 34 Mbit/s ahead, likely 1 behind to 68 ahead; a difference of 34 or more would have shown"
        in text
    )


def test_story_2_the_match_decides_the_order(bench):
    bench.enter("02-match-decides")
    (place,) = bench.ask("compare", "polmerre-low", "fjeldrun-alcove")["groups"]
    assert (place["mean_a"], place["mean_b"]) == pytest.approx((500, 440))
    assert place["ratio"] == pytest.approx(1.1364, abs=5e-5)
    (level,) = bench.ask("compare", "polmerre-low", "fjeldrun-alcove", "--match", "level")["groups"]
    assert level["range"] == [-57, -43]
    assert (level["mean_a"], level["mean_b"]) == pytest.approx((440, 500))
    assert "At the same signal Alcove gives 60 Mbit/s more" in level["sentence"]


def test_story_3_no_shared_range(bench):
    bench.enter("03-no-shared-range")
    (group,) = bench.ask("compare", "quillmast-sill", "tessarik-porch")["groups"]
    assert group["code"] == "no-shared-range"
    assert group["sentence"] == (
        "No shared range: Sill was tested at 45–60 dB, Porch at 65–80 dB (5 dB apart). No comparison."
    )
    assert (group["tested_a"], group["tested_b"]) == ([45, 60], [65, 80])
    assert not {"range", "mean_a", "mean_b", "difference", "ratio", "interval", "figure"} & group.keys()
    bench.enter("03-one-more-point")
    (group,) = bench.ask("compare", "quillmast-sill", "tessarik-porch")["groups"]
    assert group["code"] == "range-too-short"
    assert group["sentence"] == "The shared range is a single point (65 dB); at least 6 dB needed."
    assert "difference" not in group


def test_story_4_capped_client(bench):
    bench.enter("04-capped-client")

    def at_spot(a, b):
        (entry,) = bench.ask("compare", a, b, "--match", "spot")["groups"]
        return entry

    undecided = at_spot("quillmast-dome-20", "tessarik-shale-2")
    assert (undecided["verdict"], undecided["code"]) == ("undecided", "two-bounds")
    assert "difference" not in undecided
    ahead = at_spot("quillmast-dome-20", "tessarik-porch")
    assert (ahead["verdict"], ahead["leader"]) == ("at-least", "a")
    assert ahead["difference"] == pytest.approx(179.66, abs=5e-3)
    assert ahead["half_width"] == pytest.approx(45.34, abs=0.005)
    assert "Dome 20 gives at least 180 Mbit/s more than Porch (≥ 25.7 %)" in ahead["sentence"]
    assert "interval" not in ahead
    near = at_spot("quillmast-dome-20", "fjeldrun-alcove")
    assert (near["verdict"], near["code"]) == ("undecided", "bound-within-noise")

    cells = {
        device: next(c for c in bench.ask("show", device)["cells"] if c["spot"] == "S1")
        for device in ("quillmast-dome-20", "tessarik-shale-2", "tessarik-porch", "fjeldrun-alcove")
    }
    assert {d: (c["mean"], c["bound"]) for d, c in cells.items()} == {
        "quillmast-dome-20": (925, True),
        "tessarik-shale-2": (918, True),
        "tessarik-porch": (700, False),
        "fjeldrun-alcove": (902.0, False),  # 902.0 is exact, 902.1 would be a bound
    }
    ranked = bench.ask("rank", "--client", "wrenlet-u2")["ranked"]
    assert {r["device"]: (r["best"], r["worst"]) for r in ranked} == {
        "quillmast-dome-20": (1, 3),
        "tessarik-shale-2": (1, 3),
        "fjeldrun-alcove": (1, 3),
        "tessarik-porch": (4, 4),
    }


def test_story_4_a_later_client_with_a_higher_ceiling(bench):
    bench.enter("04-capped-client")
    before = bench.ask("rank", "--client", "wrenlet-u2")
    bench.enter("04-later-client")
    (exact,) = bench.ask("compare", "quillmast-dome-20", "tessarik-shale-2", "--match", "spot", "--client", "skarn-r4")[
        "groups"
    ]
    assert exact["difference"] == pytest.approx(240)
    assert exact["verdict"] == "separated"
    (none,) = bench.ask("compare", "quillmast-dome-20", "tessarik-porch", "--client", "skarn-r4")["groups"]
    assert none["code"] == "nothing-in-common"
    after = bench.ask("rank", "--client", "wrenlet-u2")
    assert {k: v for k, v in after.items() if k != "as_of"} == {k: v for k, v in before.items() if k != "as_of"}


def test_story_8_moved_cupboard(bench):
    bench.enter("08-moved-cupboard")
    pair = ("tessarik-shale-2@1.4", "tessarik-shale-2@1.6")
    spots = {g.get("spot") or g["sentence"][:2]: g for g in bench.ask("compare", *pair, "--match", "spot")["groups"]}
    moved = spots["S3"]
    assert moved["code"] == "spot-moved"
    assert moved["sentence"].startswith("S3 changed from 68 to 72 dB between the tests.")
    assert (moved["tested_a"], moved["tested_b"]) == ([68, 68], [72, 72])
    (matched,) = bench.ask("compare", *pair)["groups"]
    assert (matched["mean_a"], matched["mean_b"]) == pytest.approx((728.75, 728.75))
    assert matched["difference"] == pytest.approx(0.0, abs=1e-9)
    show = bench.ask("show", "tessarik-shale-2")
    assert [f["version"] for f in show["firmware"] if f["current"]] == ["1.6"]


@pytest.mark.parametrize(
    ("story", "interval", "verdict", "u"),
    [
        ("08-same-session", (7.33, 52.67), "separated", 8.165),
        ("08-two-sessions", (-31.67, 91.67), "not-separated", 31.421),
    ],
)
def test_story_8_repeats_at_one_spot(bench, story, interval, verdict, u):
    bench.enter(story)
    (group,) = bench.ask("compare", "tessarik-shale-2@1.6", "tessarik-shale-2@1.4", "--match", "spot")["groups"]
    assert group["difference"] == pytest.approx(30.0)
    assert group["standard_uncertainty"] == pytest.approx(u, abs=5e-4)
    assert group["interval"] == pytest.approx(interval, abs=0.005)
    assert group["verdict"] == verdict


BEFORE, AT = "2025-06-10T12:59:59Z", "2025-06-10T13:00:00Z"


def test_story_9_embargo_in_figures(bench):
    bench.enter("09-public", "09-cairn")
    hidden = bench.ask("rank", "--as-of", BEFORE)
    assert [(r["device"], r["best"]) for r in hidden["ranked"]] == [("quillmast-dome-20", 1), ("quillmast-sill", 2)]
    bench.run("show", "tessarik-cairn", "--as-of", BEFORE, code=1)
    shown = bench.ask("rank", "--as-of", AT)
    assert [r["device"] for r in shown["ranked"]] == ["quillmast-dome-20", "tessarik-cairn", "quillmast-sill"]


def test_story_9_builds_are_byte_identical_to_a_catalogue_that_never_held_it(bench, tmp_path):
    bench.enter("09-public", "09-cairn")
    other = Bench(tmp_path / "other.db")
    other.enter("09-public")
    for lab, name in ((bench, "with"), (other, "without")):
        lab.run("build", "--out", tmp_path / name, "--as-of", BEFORE)
    assert contents(tmp_path / "with") == contents(tmp_path / "without")
    bench.run("build", "--out", tmp_path / "after", "--as-of", AT)
    after = contents(tmp_path / "after")
    assert any(b"Cairn" in data for data in after.values())
    assert not any(b"Cairn" in data or b"cairn" in data for data in contents(tmp_path / "with").values())


def test_story_9_embargo_without_a_zone_is_refused(bench, tmp_path):
    import shutil

    bench.enter("09-public")
    copy = shutil.copytree(STORIES / "09-cairn", tmp_path / "cairn")
    text = (copy / "batch.toml").read_text()
    (copy / "batch.toml").write_text(text.replace('  timezone = "America/New_York"\n', ""))
    refused = bench.run("enter", copy, code=1)
    assert "offset" in refused.output or "zone" in refused.output


def contents(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_compare_and_the_pair_page_show_the_same_digits(bench, tmp_path):
    import html
    import re

    bench.enter("01-partial-overlap")
    (group,) = bench.ask("compare", "quillmast-dome-20", "tessarik-shale-2")["groups"]
    printed = bench.run("compare", "quillmast-dome-20", "tessarik-shale-2").stdout
    bench.run("build", "--out", tmp_path / "site")
    page = (tmp_path / "site/pairs/quillmast-dome-20--tessarik-shale-2/index.html").read_text(encoding="utf-8")
    text = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
    assert group["sentence"] in printed
    assert group["sentence"] in text
    for mean in ("544", "510"):  # 543.75 and 510.00, half away from zero
        assert f"{mean}" in printed
        assert re.search(rf"\b{mean}\b", text)
