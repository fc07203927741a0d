"""The workload page: from worked story 5, where a device gave up, and from the demo."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from builder.charts.waiting_chart import MOST_ROWS
from builder.pages.contents import compose, load_contents
from builder.pages.parts.played_roles import results_of, role_keys, tail_of
from builder.pages.parts.role_words import machines_words
from builder.pages.workload import role_page, workload_page, workloads_page
from builder.under_load.workloads import shared_arrangements
from catalog.entering import enter_batch
from catalog.visibility import public_copy
from tests.builder.pages.conftest import by_heading, with_changed

STORIES = Path(__file__).parents[2] / "stories"
NOW = datetime(2025, 8, 1, tzinfo=UTC)


@pytest.fixture
def page_of(tmp_path):
    """page_of(*batches): the only workload's page after entering worked stories, and its roles' own pages."""

    def made(*batches):
        path = tmp_path / "catalog.db"
        for batch in batches:
            enter_batch(STORIES / batch, into=path, now=NOW)
        contents = load_contents(public_copy(path, as_of=NOW), as_of=NOW, sizes={})
        ((workload, _),) = contents.catalogue.workloads
        return pages_of(contents, workload)

    return made


def pages_of(contents, workload):
    """The page of a workload, then those of the roles that have one of their own."""
    own = [compose(role_page, contents, *key) for key in compose(role_keys, contents) if key[0] == workload]
    return [compose(workload_page, contents, workload), *own]


def workloads_of(contents):
    return sorted({workload for workload, _ in contents.catalogue.workloads})


def section(pages, key):
    return next(part for page in pages for part in page.sections if part.key == key)


def roles(pages):
    return [part for page in pages for part in page.sections if part.key.startswith("role-")]


def test_a_collapse_is_seen_in_picture_table_and_words(page_of):
    # Story 5 of the job analysis, worked by hand: 60 planned, 38 finished, 36 on time, nothing from the 39th on.
    pages = next(part for part in roles(page_of("05-collapse")) if part.drawing)
    figure = pages.drawing.figure
    (hatched,) = figure.spec["datasets"]["lost"]
    assert hatched["t"] == 2400  # from the slowest answer on
    assert figure.table.rows == (
        (
            "Fjeldrun Alcove, firmware 1.0, unit A",
            "36 of 60 in time; target 95 %; broke off at 6:20 of 10:00",
            "95 % within 1 s",
            "300",
            "failed",
            "failed, thin",
            "0 of 60",
            "22 of 60",
        ),
    )
    (row,) = by_heading(pages.tables[0])
    assert [row[heading].text for heading in ("Verdict", "On time", "Never answered")] == [
        "broke off",
        "60.0 %",
        "22 of 60",
    ]
    assert {heading: entry.text for heading, entry in row.items() if heading.endswith(" %")} == {
        "50 %": "300",
        "75 %": "failed",
        "90 %": "failed",
        "95 %": "failed, thin",
        "99 %": "failed, thin",
    }
    assert "until it broke off, of 38 made: 94.7 % on time" in row["Besides"].text
    assert "Broke off after 6:20 of 10:00" in pages.sentences[0]


def test_a_missing_log_is_not_tested_and_the_run_incomplete(page_of):
    page = page_of("05-collapse")
    talk = next(part for part in roles(page) if not part.drawing)
    (row,) = by_heading(talk.tables[0])
    assert row["Verdict"].text == "not tested"
    assert row["Verdict"].note == "Not tested: its log is missing."
    order, _, machines = section(page, "order").tables
    assert [row["Loss, dB"].text for row in by_heading(machines)] == ["60", "60"]
    assert by_heading(order)[0]["Hardest-pressed role, on time"].text == "Not ranked: every run is incomplete."


def test_one_of_two_is_a_count_and_a_client_fault_does_not_count(page_of):
    # Story 5: "1 of 2 runs broke off", no rate; the same event logged as client fault is excluded.
    page = page_of("05-collapse", "05-finished")
    words = [
        text
        for one in page
        for part in one.sections
        for table in part.tables
        for row in table.rows
        for text in (entry.text for entry in row.entries)
    ]
    assert "1 of 2 runs broke off" in words
    assert not [text for text in words if "50.0 %" in text]


def test_every_device_of_the_order_is_in_every_role_table(demo):
    for workload in workloads_of(demo):
        pages = pages_of(demo, workload)
        tails = [tail_of(n) for n, _ in enumerate(shared_arrangements(results_of(demo.results, workload)))]
        ranked = {tail: {r.head.text for r in section(pages, f"order{tail}").tables[0].rows} for tail in tails}
        parts = [len(result.parts) for result in shared_arrangements(results_of(demo.results, workload))]
        assert len(roles(pages)) == sum(parts)
        for part in roles(pages):
            tail = next(t for t in reversed(tails) if part.key.endswith(t))
            assert {row.head.text for row in part.tables[0].rows} == ranked[tail]
            assert 1 <= len(part.drawing.figure.table.rows) <= min(MOST_ROWS, len(part.tables[0].rows))


def test_the_hardest_pressed_role_is_on_the_page_and_the_others_lead_to_theirs(demo):
    for workload in workloads_of(demo):
        page, *own = pages_of(demo, workload)
        (hardest,) = [part for part in page.sections if part.key.startswith("role-")]
        rows = by_heading(section([page], "who-suffers").tables[0])
        assert rows[0]["Role"].href == f"#{hardest.key}"
        firsts = own[: len(rows) - 1]
        assert [row["Role"].href for row in rows[1:]] == [other.address.rpartition("/")[2] for other in firsts]
        for other, row in zip(firsts, rows[1:], strict=True):
            assert other.verdict == row["Who suffers"].text


def test_the_picture_of_a_workload_stands_first_and_its_table_has_every_device(demo):
    for workload in workloads_of(demo):
        page = compose(workload_page, demo, workload)
        assert page.drawings[0] is page.sections[0].drawing
        order, every, _ = page.sections[0].tables
        assert [row.head.text for row in every.rows] == [row.head.text for row in order.rows]
        cells = {row.head.text: [(e.text or e.why_missing, e.note) for e in row.entries] for row in every.rows}
        for name, *drawn in page.drawings[0].figure.table.rows:
            (device,) = [known for known in cells if name.startswith(f"{known},")]
            assert drawn == [re.sub(r"; [\d.]+ % good$", "", "; ".join(filter(None, cell))) for cell in cells[device]]


def test_charts_have_addresses_without_a_version(demo):
    # Links and frames elsewhere lead to them: the same chart has the same key whatever it looks like.
    keys = [d.figure.key for page in pages_of(demo, "calls-over-backup") for d in page.drawings]
    assert "waiting~calls-over-backup~call-window" in keys
    assert "waiting~calls-over-backup~backup" in keys
    assert "shares~calls-over-backup" in keys
    assert len(keys) == len(set(keys))


def test_ties_are_said_in_words(demo):
    for workload in workloads_of(demo):
        order, *_ = section([compose(workload_page, demo, workload)], "order").tables
        for row in by_heading(order)[1:]:
            assert row["Against the row above"].text in ("told apart", "not told apart from the row above", "")


def test_the_recipe_holds_targets_and_version(demo):
    # Source: data/demo/batches/2022-01-houses/batch.toml.
    recipe = section([compose(workload_page, demo, "desk-row")], "recipe")
    assert recipe.sentences == ("Version 1 is planned for 10 minutes, all roles at once.",)
    rows = {row["Role"].text: row for row in by_heading(recipe.tables[0])}
    door = rows["Pages door"]
    assert door["What it does"].text == "Pages of 27 resources of 44 KiB, a pause of 5 to 20 s after each"
    assert door["Target"].text == "95.0 % of the planned requests within 1000 ms"
    assert rows["Briefing"]["What it does"].text.startswith("A stream of 5 Mbit/s, in segments of 4 s")


def test_the_list_leads_to_every_workload(demo):
    every, _, by_role = compose(workloads_page, demo).sections
    assert len(every.tables[0].rows) == len(workloads_of(demo))
    assert all(row.head.href for row in every.tables[0].rows)
    assert len(by_role.links) == sum(len(results_of(demo.results, one)[0].parts) for one in workloads_of(demo))


def test_the_first_sentence_counts_machines_and_names_all_who_did_not_cope(demo):
    # Counted in the logs of data/demo: Ingle 2736 of 3000 packets of the call by the window.
    page = compose(workload_page, demo, "calls-over-backup")
    assert page.verdict == (
        "With 4 machines at once, none of the 8 devices with a run that counts coped for certain. Too close to say: Polmerre "
        "Rondel 6, Quillmast Lantern, Hollendry Faceplate, Polmerre Rondel 4, Tessarik Cupola, Veltrisk Tarn and Fjeldrun "
        "Skerry. Did not cope: Fjeldrun Ingle. 4 of the 8 were tested with the same machines in the same places."
    )
    order = section([page], "order").sentences[0]
    assert order.startswith(
        "With 4 machines at once, none of the 4 devices in this arrangement coped for certain. Too close"
    )
    assert "Polmerre Rondel 6 (call hall: 2985 of 3000 in time, too few to tell from 99 %)" in order
    assert order.endswith("Did not cope: Fjeldrun Ingle (call window: 2736 of 3000 in time).")
    assert "client" not in page.intro[0]


def test_several_roles_that_were_not_met_are_named_and_counted_by_machine(demo):
    # By hand, from the logs of data/demo: on three devices the call was late on both of its machines, Skerry broke off.
    sentences = section([compose(workload_page, demo, "update-day")], "order").sentences
    # Rondel 6 had 965 and 964 of 1000 in time, which cannot be told from 98 %; nor can the Cupola's 985 and 986.
    each = "(call on two machines)"
    assert sentences[0] == (
        "With 4 machines at once, none of the 5 devices in this arrangement coped for certain. Too close to say: Tessarik "
        f"Cupola {each} and Polmerre Rondel 6 {each}. Did not cope: Veltrisk Tarn {each}, Tessarik Plinth {each} and Fjeldrun "
        "Skerry (1 of 1 run broke off)."
    )


def test_the_list_opens_with_who_coped_with_all_and_which_was_hardest(demo):
    # Counted from the pages of the five workloads: Ingle failed both that it did, Bobbin Home both, Skerry 1 of 5.
    page = compose(workloads_page, demo)
    assert page.verdict == (
        "None of the 10 devices tested coped for certain with every busy hour they were tested in. Hardest was “Calls while "
        "everybody downloads”: 4 of the 6 devices tested in it did not cope, 2 are too close to say."
    )
    assert page.intro[:2] == (
        "Failed in at least one busy hour: Tessarik Plinth (1 of 4), Veltrisk Tarn (1 of 5), Fjeldrun Skerry (1 of 5), Fjeldrun "
        "Ingle (2 of 2) and Hollendry Bobbin Home (2 of 2).",
        "Never failed, but some were too close to say: Polmerre Rondel 4 (1 of 3), Tessarik Cupola (2 of 5), Polmerre Rondel 6 "
        "(2 of 5), Quillmast Lantern (3 of 4) and Hollendry Faceplate (2 of 2).",
    )
    none = with_changed(demo, workload_results=())
    assert compose(workloads_page, none).verdict == "No run with several people at once counts yet."


def test_a_collapse_is_named_although_its_run_is_incomplete(page_of):
    page, *_ = page_of("05-collapse")
    assert page.verdict == "With 2 machines at once, Fjeldrun Alcove did not cope; nobody else was tested."
    assert section([page], "order").sentences[0] == (
        "With 2 machines at once, Fjeldrun Alcove (1 of 1 run broke off) did not cope; nobody else was tested."
    )


@pytest.mark.parametrize(
    ("seats", "words"),
    [
        ((1, 1, 1), "3 machines at once"),
        ((2, 1, 1, 1), "4 machines at once, one of them with two roles"),
        ((3, 2, 2, 1), "4 machines at once, one of them with three roles and two of them with two roles"),
        ((2,), "1 machine with two roles at once"),
        ((1,), "1 machine at once"),
    ],
)
def test_machines_are_counted_not_roles(seats, words):
    # Source: mixes of the design: "4 machines at once, one of them with two roles".
    assert machines_words(seats) == words


def test_devices_that_did_not_do_it_are_listed(demo):
    for workload in workloads_of(demo):
        pages = pages_of(demo, workload)
        ranked = {
            row.head.text
            for part in pages[0].sections
            if part.key.startswith(("order", "others"))
            for row in part.tables[0].rows
        }
        missing = {row.head.text for row in section(pages, "untested").tables[0].rows}
        assert not ranked & missing
        assert len(ranked | missing) == len(demo.results.bench.devices)
    missing = {row.head.text for row in section(pages_of(demo, "calls-over-backup"), "untested").tables[0].rows}
    assert {"Hollendry Bobbin Home", "Tessarik Plinth", "Quillmast Ridge"} <= missing


def test_whole_and_incomplete_runs_add_up_to_those_that_are_counted(demo):
    seen = 0
    for workload in workloads_of(demo):
        for row in by_heading(section(pages_of(demo, workload), "order").tables[0]):
            runs, ended = row["Runs"], row["Broke off"].text
            if not runs.text:
                continue
            incomplete = int(runs.note.split()[1]) if runs.note else 0
            seen += bool(incomplete)
            total = int(runs.text) + incomplete
            words = ("the only run", "1 of 1 run") if total == 1 else (f"{total} runs",)
            assert ended.lower().startswith(words) or words[0] in ended.lower()
    assert seen


def test_verdicts_are_of_their_run_and_say_whether_they_are_shown(demo):
    # Counted in the logs of data/demo: 41 of 46 pages at the door.
    (door,) = [part for part in roles(pages_of(demo, "desk-row")) if part.key == "role-pages-door"]
    verdicts = [
        (row["Verdict"].text, row["Verdict"].note)
        for row in by_heading(door.tables[0])
        if row["Device and day"].text == "Fjeldrun Ingle"
    ]
    assert ("not met in this run", "not shown: 41 of 46 in time; too few to tell from 95 %") in verdicts
    assert all(text in ("met in this run", "not met in this run") for text, _ in verdicts)


def test_rows_of_an_older_firmware_say_so(demo):
    # data/demo: Rondel 6 did the desk row with 6.0.4; 6.1.0 was tested later and is current.
    pages = pages_of(demo, "desk-row")
    mark = "6.0.4, unit A (older: 6.1.0 is current)"
    (order,) = [row for row in section(pages, "order").tables[0].rows if row.head.text == "Polmerre Rondel 6"]
    assert order.head.note == mark
    runs = [row for row in section(pages, "runs").tables[0].rows if row.head.text == "Polmerre Rondel 6"]
    assert {row.head.note for row in runs} == {mark}
    for part in roles(pages):
        for row in part.tables[0].rows:
            assert ("older: 6.1.0 is current" in row.head.note) == (row.head.text == "Polmerre Rondel 6")
