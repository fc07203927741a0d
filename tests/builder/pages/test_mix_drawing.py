"""Charts of mixes, roles and workloads made of judged runs: every run of the demo, and runs changed by hand."""

from dataclasses import replace

import pytest

from builder.charts.stills import SHAPES, fitted
from builder.charts.waiting_chart import MOST_ROWS
from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.parts.mix_drawing import mix_drawing, role_drawing, workload_drawing
from builder.pages.parts.mix_rows import hardest_first, marks_of, seat_words, share_cell
from builder.under_load.mixes import worst_of
from builder.under_load.role_names import role_name
from builder.wording import capital
from catalog.records import Role

HERE = "devices/x/index.html"
SOURCE = "Kettle Lane Bench, example.org/bench, CC-BY-4.0."


def drawing(demo, mix, **more):
    return mix_drawing(*demo, HERE, mix, **{"key": "mix", **more})


def counted(demo):
    return [m for m in demo.results.mix_results if not m.excluded]


def test_every_run_of_the_demo_has_a_chart_that_says_what_was_judged(demo):
    assert len(counted(demo)) > 20
    for mix in counted(demo):
        figure = drawing(demo, mix).figure
        columns = figure.table.columns
        rows = {tuple(row[0].split(", ")[:2]): dict(zip(columns, row, strict=True)) for row in figure.table.rows}
        assert len(figure.table.rows) == len(mix.roles)
        for result in mix.roles:
            row = rows[capital(role_name(result.role)), seat_words(demo.results, result.station).split(", ")[0]]
            count, asked, half = row["In time"], row["Asked for"], row["50 % (ms)"]
            if result.planned is None:
                assert count.startswith("Not tested")
                continue
            whole = "all" if result.on_time == result.planned else f"{result.on_time} of"
            assert count.startswith(f"{whole} {result.planned} in time")
            assert asked.startswith(f"{result.role.target_share * 100:g} % within")
            assert sum(int(row[name].split()[0]) for name in ("Failed", "Never made")) == result.failed
            assert ("Good" in columns) == any(role.good_on_time is not None for role in mix.roles)
            if result.good_on_time is not None:
                assert row["Good"].startswith(f"{result.good_on_time} of {result.planned}, ")
            (p50,) = [p for p in result.percentiles if p.percent == 50]
            assert half == ("failed" if p50.ms is None else half)


def test_bars_end_where_the_percentiles_of_the_run_lie(demo):
    for mix in counted(demo):
        sets = drawing(demo, mix).figure.spec["datasets"]
        ends = {b["t2"] for b in sets["bars"]}
        begins = {b["t"] for b in sets["bars"]}
        ticks = {t["t"] for t in sets["ticks"]}
        for result in mix.roles:
            by_percent = {p.percent: p for p in result.percentiles}
            if not by_percent or by_percent[90].thin or by_percent[90].ms is None:
                continue
            assert by_percent[50].ms in begins
            assert by_percent[90].ms in ends
            assert (by_percent[99].ms in ticks) == (by_percent[99].ms is not None and not by_percent[99].thin)


def test_what_suffered_most_stands_first(demo):
    # Counted in the logs of data/demo: 34 of 46 pages at the window, 41 of 46 at the door, all else in time.
    (mix,) = [m for m in counted(demo) if m.mix.mix == "fjeldrun-ingle-desk-row-2022-04-06-1"]
    figure = drawing(demo, mix).figure
    assert [row[1].split(";")[0] for row in figure.table.rows][:2] == ["34 of 46 in time", "41 of 46 in time"]
    assert figure.table.rows[0][0] == "Pages window, Wrenlet U2 · B6, 77.1 dB, 5 GHz"
    assert figure.spoken == (
        "4 machines at once on Fjeldrun Ingle: not met in this run: pages door: 41 of 46 in time, too few to tell from 95 %; "
        "pages window: 34 of 46 in time."
    )
    shares = [r.on_time_share for r in sorted(mix.roles, key=hardest_first)]
    assert shares == sorted(shares)


def test_titles_and_words_of_an_article_take_the_place_of_ours(demo):
    figure = drawing(demo, counted(demo)[0], title="Who is late?", spoken="One. Two. Three.").figure
    assert (figure.title, figure.spoken) == ("Who is late?", "One. Two.")


def test_five_roles_on_one_machine_are_five_rows_and_one_machine(demo):
    mix = next(m for m in counted(demo) if len(m.roles) == 4)
    first = mix.roles[0]
    extra = replace(first, role=replace(first.role, role_id="fifth"))
    one = [replace(r, station=replace(r.station, client=first.station.client)) for r in (*mix.roles, extra)]
    figure = drawing(demo, replace(mix, roles=tuple(one))).figure
    assert len(figure.table.rows) == len(mix.roles) + 1 == 5
    assert "1 machine with five roles at once" in figure.notes[0]
    for shape in SHAPES:
        assert fitted(figure, shape, source=SOURCE).parts >= 4


def test_more_roles_than_a_chart_holds_are_counted(demo):
    mix = counted(demo)[0]
    many = [replace(mix.roles[0], role=replace(mix.roles[0].role, role_id=f"role-{n}")) for n in range(30)]
    figure = drawing(demo, replace(mix, roles=tuple(many))).figure
    assert len(figure.table.rows) == MOST_ROWS
    assert "Drawn: 20 of 30 roles, those that suffered most." in figure.notes


def test_a_run_without_figures_has_no_chart(demo):
    mix = next(m for m in demo.results.mix_results if m.excluded)
    assert drawing(demo, mix) is None


def test_a_role_over_devices_has_the_run_with_the_lowest_share_of_each(demo):
    for result in demo.results.workload_results:
        for part in result.parts:
            made = role_drawing(*demo, HERE, result, part, key="role")
            runs = [played[part.key] for played in result.plays.values() if played[part.key].planned]
            if made is None:
                assert not runs
                continue
            drawn = [row[1].split(" in time")[0] for row in made.figure.table.rows]
            lowest = min(r.on_time_share for r in runs)
            counts = [(r.on_time, r.planned) for r in runs if r.on_time_share == lowest]
            assert drawn[0] in [f"all {of}" if of == on_time else f"{on_time} of {of}" for on_time, of in counts]
            assert len(drawn) == len({row[0] for row in made.figure.table.rows})


def test_a_workload_over_devices_keeps_their_order(demo):
    for result in demo.results.workload_results:
        figure = workload_drawing(*demo, HERE, result, key="workload").figure
        names = [row[0].split(", ")[0] for row in figure.table.rows]
        order = [demo.results.bench.devices[s.subject.device].model for s in result.standings]
        assert [name.endswith(model) for name, model in zip(names, order, strict=False)] == [True] * len(names)


def test_every_chart_of_the_demo_fits_both_pictures_of_fixed_size(demo):
    mixes = [drawing(demo, m) for m in counted(demo)[::6]]
    workloads = [workload_drawing(*demo, HERE, r, key="w") for r in demo.results.workload_results[::3]]
    for one in (*mixes, *workloads):
        assert fitted(one.figure, "wide", source=SOURCE).parts == one.figure.parts
    # A square has room for four machines, or for twelve shares, and says how many there are.
    for one in mixes:
        assert fitted(one.figure, "square", source=SOURCE).parts == min(4, one.figure.parts)
    for one in workloads:
        still = fitted(one.figure, "square", source=SOURCE)
        assert still.parts == one.figure.parts or still.stamp[0].startswith(f"First {still.parts} of")


def test_the_device_page_shows_the_run_it_did_worst_in(demo):
    for device, mixes in demo.results.mix_results_of.items():
        page, worst = compose(device_page, demo, device), worst_of(mixes)
        if worst is None:
            assert page.worst_mix is None
            continue
        assert page.worst_mix in page.drawings
        assert page.worst_mix.figure.key.startswith("mix~")
    ingle = compose(device_page, demo, "fjeldrun-ingle").worst_mix.figure
    assert ingle.table.rows[0][1].startswith("34 of 46 in time")


def test_a_role_without_a_target_has_no_mark():
    assert marks_of(Role("r", "fetch", None, None, {})) == ()
    (mark,) = marks_of(Role("r", "fetch", 150.0, 0.99, {}))
    assert (mark.ms, mark.share, mark.good) == (150.0, 0.99, False)


@pytest.mark.parametrize("changes", [{"verdict": "did-not-finish", "survived_s": 380.0}, {"on_time": None}])
def test_cells_say_how_it_ended_and_what_has_no_target(demo, changes):
    result = replace(counted(demo)[0].roles[0], **changes)
    cell = share_cell(result)
    if "on_time" in changes:
        assert (cell.share, cell.text) == (None, "no target")
    else:
        assert cell.detail == "broke off at 6:20"
    assert share_cell(None).text == "not tested"
