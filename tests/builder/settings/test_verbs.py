"""Verbs with subjects that name settings: show, reach, coverage, link, longrun, roles and trace."""

from __future__ import annotations

import json

import pytest

from builder.articles.bindings import NotBound, read_binding
from builder.articles.blocks import ordered_block
from builder.articles.claims import claimed
from builder.articles.quoting import quote
from tests.builder.articles.conftest import evidence_at
from tests.builder.settings.conftest import DAY, NOW, batch, bench_toml, entered, run_rows

CUPOLA = "hollendry-cupola"
UNDER = "hollendry-cupola_2b_"


def document(ask, *words, **others):
    return json.loads(ask(*words, "--json", **others))


def test_show_lists_what_was_tested_under_the_settings_that_are_named(ask):
    plain, low = document(ask, "show", CUPOLA), document(ask, "show", f"{CUPOLA}@1.0+low")
    assert (plain["settings"], low["settings"]) == (None, "low")
    assert sorted(c["mean"] for c in plain["cells"]) == [505, 920, 1310]
    assert sorted(c["mean"] for c in low["cells"]) == [400, 728, 1040]
    assert {c["settings"] for c in low["cells"]} == {"low"}
    assert not any("settings" in c for c in plain["cells"])
    assert plain["also_under"] == ["links-off", "links-on", "low"]
    said = ask("show", f"{CUPOLA}+low")
    assert "Hollendry Cupola with low, 802.11be" in said
    assert f"Also tested under other settings: {CUPOLA}+links-off and {CUPOLA}+links-on." in said
    assert "There are no settings 'lw'. Nearest: low" in ask("show", f"{CUPOLA}+lw", code=1)


def test_reach_and_its_trace(ask):
    # By hand, at low power: 1040 at 60 dB, 728 at 70, 400 at 80; 564 lies halfway between the last two.
    (group,) = document(ask, "reach", f"{CUPOLA}+low", "--at", "564")["groups"]
    assert (group["relation"], group["db"]) == ("=", pytest.approx(75.0))
    assert group["figure"].startswith(f"reach~{UNDER}low~A~1.0~")
    assert document(ask, "trace", group["figure"])["result"]["db"] == pytest.approx(75.0)


def test_coverage_counts_what_was_tested_under_the_settings(ask):
    low = document(ask, "coverage", f"{CUPOLA}+low", "--like", "quillmast-sill")
    assert (low["device"], low["settings"], low["planned"], low["counts"]["done"]) == (CUPOLA, "low", 3, 3)
    off = document(ask, "coverage", f"{CUPOLA}+links-on", "--like", "quillmast-sill")
    assert (off["planned"], off["counts"]["missing"]) == (3, 3)
    said = ask("coverage", f"{CUPOLA}+one-link", "--like", "quillmast-sill")
    assert f"{CUPOLA}+links-off, planned like quillmast-sill: 100.0" in said


def test_links_name_settings(ask):
    said = document(ask, "link", f"{CUPOLA}+low", "quillmast-sill")
    assert (said["a"]["settings"], said["b"]["settings"]) == ("low", None)
    assert said["links"][0]["code"] == "nothing-in-common"


def test_every_figure_under_settings_is_traced_down_to_where_these_were_declared(ask):
    groups = document(ask, "compare", f"{CUPOLA}+links-on", f"{CUPOLA}+links-off", "--match", "spot")["groups"]
    for group in groups:
        traced = document(ask, "trace", group["figure"])
        values = []
        for side in traced["inputs"]:
            assert side["cells"][0]["settings"]["declared"]["file"] == "batch.toml"
            values.append(sum(c["weight"] * c["mean"] for c in side["cells"]) / sum(c["weight"] for c in side["cells"]))
        assert values[0] - values[1] == pytest.approx(group["difference"])
    cell = traced["inputs"][0]["cells"][0]
    assert cell["settings"] == {
        "id": "links-on",
        "title": "Both",
        "multi_link": "on",
        "links": "5+6",
        "declared": cell["settings"]["declared"],
    }
    assert {reading["band"] for reading in cell["link_readings"]} == {"5", "6"}
    assert cell["readings"] == []
    said = ask("trace", groups[0]["figure"])
    assert "hollendry-cupola with links-off (multi_link off, 2026-03-cupola/batch.toml" in said
    ranked = document(ask, "rank", "--settings", "low")["ranked"][0]
    assert document(ask, "trace", ranked["figure"])["result"]["value"] == pytest.approx(ranked["value"])
    rank = ranked["figure"].replace("window~", "rank~", 1).replace(f"{UNDER}low~A~1.0", f"{UNDER}low")
    assert document(ask, "trace", rank)["result"]["device"] == CUPOLA
    unknown = rank.replace("_2b_low", "_2b_lower")
    assert "There is no figure" in ask("trace", unknown, code=1)


NIGHT = "when,device,firmware,client,session,settings,band,width_mhz,direction,spot,log,outcome\n" + "".join(
    f"{DAY} {hour}:00,{CUPOLA},1.0,lap,{DAY},{settings},5,160,down,S3,logs/{hour}.csv,finished\n"
    for hour, settings in ((20, ""), (22, "low"))
)
LOG = "t_s,mbit_s\n" + "".join(f"{second},{{}}\n" for second in range(600))


def test_long_runs_under_settings_stand_apart(tmp_path, ask):
    folder = batch(tmp_path / "batch", longruns=NIGHT)
    for hour, rate in ((20, 500), (22, 300)):
        (folder / "logs").mkdir(exist_ok=True)
        (folder / "logs" / f"{hour}.csv").write_text(LOG.replace("{}", str(rate)))
    path = entered(folder, tmp_path / "catalog.db")
    plain, low = (document(ask, "longrun", name, catalog=path) for name in (CUPOLA, f"{CUPOLA}+low"))
    assert [run["figures"]["mean"] for run in plain["longruns"]] == [500]
    assert [run["figures"]["mean"] for run in low["longruns"]] == [300]
    figure = low["longruns"][0]["figure"]
    assert figure.startswith(f"longrun~{UNDER}low~A~1.0~")
    assert document(ask, "trace", figure, catalog=path)["result"]["figures"]["mean"] == 300
    at = evidence_at(path, NOW)
    asked = [ordered_block(at, read_binding(f"longrun {CUPOLA}{behind}", line=1)) for behind in ("@1.0", "@1.0+low")]
    assert [order.about.run.settings for order in asked] == [None, "low"]


ROLE = {"id": "pages", "kind": "pages", "target_ms": 1000, "target_share": 0.9}
MIXES = (
    "mix,workload,when,device,firmware,client,session,role,band,spot,planned_s,planned_requests,outcome,log,settings\n"
)


@pytest.fixture
def busy(tmp_path):
    """A catalogue with one run of each of two devices, as always and at low power."""
    toml = bench_toml(workload=[{"id": "one", "version": 1, "title": "One", "duration_s": 60, "role": [ROLE]}])
    rows, logs = MIXES, {}
    for number, (name, settings) in enumerate(
        ((CUPOLA, ""), (CUPOLA, "low"), ("quillmast-sill", ""), ("quillmast-sill", "low"))
    ):
        rows += f"m{number},one,{DAY} 1{number}:00,{name},1.0,lap,{DAY},pages,5,S3,60,60,finished,logs/{number}.csv,{settings}\n"
        logs[f"logs/{number}.csv"] = "t_s,ms,outcome\n" + "".join(f"{t},{40 + number},finished\n" for t in range(60))
    folder = batch(tmp_path / "batch", toml, stations=rows)
    (folder / "logs").mkdir()
    for name, text in logs.items():
        (folder / name).write_text(text)
    return entered(folder, tmp_path / "catalog.db")


def test_machines_under_other_settings_are_no_company(busy, ask):
    plain, low = (document(ask, "roles", name, catalog=busy) for name in (CUPOLA, f"{CUPOLA}+low"))
    assert [mix["mix"] for mix in plain["mixes"]] == ["m0"]
    assert [mix["mix"] for mix in low["mixes"]] == ["m1"]
    assert [s["settings"] for mix in (*plain["mixes"], *low["mixes"]) for s in mix["stations"]] == [None, "low"]
    assert [sorted(w["mixes"]) for w in plain["workloads"]] == [["m0", "m2"]]
    assert [sorted(w["mixes"]) for w in low["workloads"]] == [["m1", "m3"]]
    assert [one["with"]["mixes"] for one in low["compared"]] == [["m3"]]
    assert "lap at S3, 60 dB, 5 GHz, settings low" in ask("roles", f"{CUPOLA}+low", catalog=busy)
    refused = ask("roles", CUPOLA, "--against", "quillmast-sill+low", catalog=busy, code=2)
    assert "under the same settings only" in refused
    against = document(ask, "roles", f"{CUPOLA}+low", "--against", "quillmast-sill+low", catalog=busy)
    assert [one["arrangement"] for one in against["compared"]] == ["alike"]


def test_articles_quote_runs_under_settings_and_claim_nothing_across_them(busy):
    at = evidence_at(busy, NOW)

    def quoted(text):
        binding = read_binding(text, line=1)
        return (claimed if binding.kind == "claim" else quote)(at, binding).text

    assert quoted(f"share {CUPOLA}@1.0+low, workload one, role pages").startswith("100.0")
    for other in (f"{CUPOLA}+low", "quillmast-sill+low"):
        with pytest.raises(NotBound, match="under the same settings only"):
            quoted(f"claim {CUPOLA} copes better {other}, workload one, role pages : it holds")
    with pytest.raises(NotBound, match="cannot tell"):
        quoted(f"claim {CUPOLA}+low copes better quillmast-sill+low, workload one, role pages : it holds")


HEAT = "device,face,material,reading_c,ambient_c,load,minutes,settings\n" + "".join(
    f"{CUPOLA},top,plastic,{reading},23,busy,60,{settings}\n" for reading, settings in ((41, ""), (35, "low"))
)
POWER = f"device,state,watts,side,settings\n{CUPOLA},idle,7.5,supply,\n{CUPOLA},idle,6.1,supply,one-link\n"


def test_heat_and_power_under_settings_have_figures_of_their_own(tmp_path, ask):
    path = entered(batch(tmp_path / "batch", heat=HEAT, power=POWER), tmp_path / "catalog.db")
    rises = [
        document(ask, "trace", f"heat~{name}~A~top~busy~60~~", catalog=path)["result"]["rise_k"]
        for name in (CUPOLA, f"{UNDER}low")
    ]
    assert rises == [18, 12]
    watts = document(ask, "trace", f"power~{UNDER}links-off~A~idle~supply~~", catalog=path)
    assert watts["result"]["watts"] == 6.1


def test_a_device_that_was_only_tested_under_settings_has_nothing_as_always(tmp_path, ask):
    rows = run_rows({(CUPOLA, "5", "low"): (1040, 728, 400), ("quillmast-sill", "5", ""): (1180, 830, 450)})
    path = entered(batch(tmp_path / "batch", runs=rows), tmp_path / "catalog.db")
    assert document(ask, "show", CUPOLA, catalog=path)["cells"] == []
    (none,) = document(ask, "compare", CUPOLA, "quillmast-sill", catalog=path)["groups"]
    assert none["code"] == "nothing-in-common"
    assert document(ask, "compare", f"{CUPOLA}+low", "quillmast-sill", catalog=path)["groups"][0]["difference"] < 0
