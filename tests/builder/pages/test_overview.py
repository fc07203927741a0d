"""The picture of all devices on start page, devices and rankings, and what stands there where there is none."""

from dataclasses import replace

import pytest

from builder import addresses, wording
from builder.bench.cells import usual
from builder.charts.overview_chart import MOST_ROWS
from builder.pages.contents import Contents, compose
from builder.pages.listing import devices_page
from builder.pages.parts.overview import overview
from builder.pages.parts.overview_words import lead, machine
from builder.pages.ranking import ranking_page
from builder.pages.ranking_list import rankings_page
from builder.pages.start import start_page
from builder.windows.ranking import Ranking
from builder.windows.standing import interval_text, name, rate_text
from catalog.method import WINDOW_NAMES


def shown(contents, here=addresses.START):
    return overview(*contents, here)


def with_results(contents, **changed):
    return Contents(contents.catalogue, replace(contents.results, **changed), contents.site)


@pytest.fixture(scope="module")
def group(demo):
    return demo.results.groups[0]


def test_the_three_pages_show_the_same_figure_and_one_of_them_brings_its_files(demo):
    pages = [compose(page, demo) for page in (start_page, devices_page, rankings_page)]
    (figure, *others) = [page.picture.figure for page in pages]
    assert others == [figure, figure]
    assert [page.picture.borrowed for page in pages] == [False, True, True]
    assert [page.drawings for page in pages] == [(page.picture,) for page in pages]


def test_the_largest_group_comes_first_and_of_equals_the_most_usual(demo, group):
    sizes = [len({cell.device for cell in demo.results.cells[g] if cell.mean is not None}) for g in demo.results.groups]
    assert sizes == sorted(sizes, reverse=True)
    equals = [g for g, size in zip(demo.results.groups, sizes, strict=True) if size == sizes[0]]
    assert [usual(g) for g in equals] == sorted(usual(g) for g in equals)
    assert (group.band, group.direction) == ("5", "down")


def test_its_values_are_those_of_the_rankings_tables(demo, group):
    figure = shown(demo).drawing.figure
    ranking = compose(ranking_page, demo, group)
    for number, window in enumerate(ranking.windows):
        (table,) = window.section.tables
        for row in table.rows:
            value = next(
                entry for heading, entry in zip(table.columns[1:], row.entries, strict=True) if heading.text == "Mbit/s"
            )
            text, rank = columns_of(figure, row.head.text)[2 * number : 2 * number + 2]
            assert text.startswith(f"{value.text} (")
            entry = next(
                e for e in demo.results.ranking(group, WINDOW_NAMES[number]).ranked if name(e.subject) == row.head.text
            )
            if entry.low is not None:
                assert interval_text(entry) in text
            assert rank.rstrip("†") == (str(entry.best) if entry.best == entry.worst else f"{entry.best}–{entry.worst}")
            assert rank.endswith("†") == bool(value.marks)


def columns_of(figure, device):
    return next(row[1:] for row in figure.table.rows if row[0] == device)


def test_rows_stand_in_the_order_of_the_middle_window(demo, group):
    middle = demo.results.ranking(group, "middle")
    names = [row[0] for row in shown(demo).drawing.figure.table.rows]
    assert names[: len(middle.ranked)] == [name(entry.subject) for entry in middle.ranked]
    assert set(names[len(middle.ranked) :]) == {name(left_out.subject) for left_out in middle.not_ranked}


def test_bold_is_what_may_be_first_by_the_ranking(demo, group):
    # Never decided by intervals that overlap: the ranking's own comparisons say it.
    sets = shown(demo).drawing.figure.spec["datasets"]
    for number, window in enumerate(WINDOW_NAMES, start=1):
        ranked = demo.results.ranking(group, window).ranked
        bold = [rate_text(entry) for entry in ranked if entry.best == 1]
        assert sorted(text["text"] for text in sets[f"firsts{number}"]) == sorted(bold)


def test_what_is_not_in_it_and_what_is_disputed_is_said_under_it(demo):
    notes = " ".join(shown(demo).drawing.figure.notes)
    assert (
        "Not in the picture: Hollendry Bobbin Home (tested with another client) and Tessarik Trio (withdrawn)." in notes
    )
    assert "† Disputed by Hollendry: tested on a test box instead of in a wall." in notes


def test_every_name_leads_to_its_device_from_wherever_the_figure_stands(demo):
    (links,) = {
        tuple(link["href"] for link in shown(demo, here).drawing.figure.spec["datasets"]["links0"])
        for here in (addresses.START, addresses.DEVICES)
    }
    key = shown(demo).drawing.figure.key
    ways = {addresses.link_from_elsewhere(link, addresses.specification(key), addresses.DEVICES) for link in links}
    assert "tessarik-cupola/index.html" in ways
    assert len(ways) == len(links)


def test_start_says_who_gives_what_to_whom_and_who_may_as_well(demo):
    page = compose(start_page, demo)
    assert page.title == "Ten access points, near and far"
    assert page.question == "Which one gives more where you sit?"
    assert page.verdict == (
        "A wall or two away (60–75 dB), Tessarik Cupola gives a laptop with two antennas 803 Mbit/s. Tarn, Rondel 6 and "
        "Rondel 4 may give as much: the tests cannot tell them apart."
    )
    assert page.lead.value == "803 Mbit/s"
    assert page.basis.endswith("rank 1–4 of 9.")
    assert [way.question for way in page.ways] == ["My room", "My office", "Installing it"]
    assert page.everything.href == "changes/index.html"


def test_a_ranking_of_one_device_leads_nobody_and_stands_apart(demo):
    page = compose(rankings_page, demo)
    devices = [int(row.entries[0].text) for row in page.table.rows]
    assert devices == sorted(devices, reverse=True)
    assert min(devices) > 1
    (alone,) = page.apart.tables
    assert len(page.table.rows) + len(alone.rows) == len(demo.results.groups)
    assert not any("Leads" in heading.text for heading in alone.columns)


# --- other catalogues -----------------------------------------------------------------------------------------------


def test_without_any_ranking_there_is_no_picture_but_words(demo):
    bare = with_results(demo, groups=[])
    page = compose(start_page, bare)
    assert page.picture is None
    assert page.drawings == ()
    assert page.title == "Eleven access points"
    assert "so none is ranked" in page.verdict
    assert compose(devices_page, bare).picture is None
    listing = compose(rankings_page, bare)
    assert (listing.picture, listing.table, listing.apart) == (None, None, None)


def test_one_device_is_not_compared_with_itself(demo, group):
    alone = only(demo, group, "tessarik-cupola")
    page = compose(start_page, alone)
    assert page.picture is None
    assert page.title == "One access point"
    assert page.verdict == (
        "A wall or two away (60–75 dB), Tessarik Cupola gives a laptop with two antennas 803 Mbit/s; no other device was "
        "tested over that whole way."
    )
    assert compose(rankings_page, alone).table is None


def only(contents, group, *devices):
    """The contents as if these devices had been tested in one group, and nothing else had."""
    bench = contents.results.bench
    rankings = {}
    for window in WINDOW_NAMES:
        whole = contents.results.ranking(group, window)
        kept = tuple(replace(e, best=1, worst=1) for e in whole.ranked if e.subject.device in devices)
        rankings[group, window] = replace(whole, ranked=kept, not_ranked=())
    cells = {d: bench.cells_of[d] for d in devices}
    bench = replace(bench, devices={d: bench.devices[d] for d in devices}, cells_of=cells)
    of_group = [cell for cell in contents.results.cells[group] if cell.device in devices]
    return with_results(contents, bench=bench, groups=[group], rankings=rankings, cells={group: of_group})


def test_devices_that_share_no_group_are_not_compared(demo, group):
    apart = only(demo, group, "tessarik-cupola")
    both = {d: demo.results.bench.devices[d] for d in ("tessarik-cupola", "veltrisk-tarn")}
    cells = {d: demo.results.bench.cells_of[d] for d in both}
    bench = replace(apart.results.bench, devices=both, cells_of=cells)
    page = compose(start_page, with_results(apart, bench=bench))
    assert page.picture is None
    assert page.title == "Two access points"
    assert "so none is compared" in page.verdict


def test_nothing_tested_is_said(demo):
    bench = replace(demo.results.bench, devices={}, cells_of={})
    page = compose(start_page, with_results(demo, bench=bench, groups=[], factors={}, largest={}, standing={}))
    assert page.title == "No access point yet"


@pytest.fixture(scope="module")
def large(demo, group):
    """The contents as if the group held 400 devices, of which 390 cover every window and 200 may be first."""
    bench = demo.results.bench
    ids = [f"dome-{n:03}" for n in range(400)]
    devices = {i: replace(bench.devices["tessarik-cupola"], device_id=i, model=f"Dome {i[-3:]}") for i in ids}
    rankings = {}
    for window in WINDOW_NAMES:
        whole = demo.results.ranking(group, window)
        first, left_out = whole.ranked[0], whole.not_ranked[0]

        def of(entry, device):
            return replace(entry, subject=replace(entry.subject, device=device, model=devices[device].model))

        ranked = tuple(
            replace(of(first, i), best=1 if n < 200 else 201, worst=390, value=first.value - n / 10)
            for n, i in enumerate(ids[:390])
        )
        rankings[group, window] = replace(whole, ranked=ranked, not_ranked=tuple(of(left_out, i) for i in ids[390:]))
    bench = replace(bench, devices=devices, cells_of=dict.fromkeys(ids, bench.cells_of["tessarik-cupola"]))
    return with_results(demo, bench=bench, rankings=demo.results.rankings | rankings)


def test_of_400_devices_those_that_lead_are_drawn_and_all_are_a_link_away(large, group):
    view = shown(large)
    assert view.title == "400 access points, near and far"
    assert len(view.drawing.figure.table.rows) == MOST_ROWS
    assert view.all.text.startswith("All 400 devices")
    assert view.all.href == addresses.ranking(group)
    assert f"Drawn: the first {MOST_ROWS} of 400 devices." in view.drawing.figure.notes
    assert "Dome 001, Dome 002, Dome 003, Dome 004 and 195 more may give as much" in view.lead.text
    assert all(len(note) < 400 for note in view.drawing.figure.notes)


def ranking_of(demo, group, *changes) -> Ranking:
    whole = demo.results.ranking(group, "middle")
    ranked = tuple(replace(entry, **change) for entry, change in zip(whole.ranked, changes, strict=False))
    return replace(whole, ranked=ranked)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ([], "no device was tested over the whole way"),
        ([{"best": 1, "worst": 1}, {"best": 2, "worst": 2}], "803 Mbit/s, more than any other device tested there."),
        (
            [{"best": 1, "worst": 2}, {"best": 1, "worst": 2}],
            "Tarn may give as much: the tests cannot tell the two apart.",
        ),
        ([{"best": 1, "worst": 2}, {"best": 2, "worst": 2}], "803 Mbit/s; no other may be the first there."),
        ([{"best": 1, "worst": 1, "bound": True}], "at least 803 Mbit/s; no other device"),
        ([{"best": 1, "worst": 1, "port": 1000.0}], "803 Mbit/s (held back by its 1 Gbit/s port); no other"),
        (
            [{"best": 1, "worst": 1, "units_disagree": True}, {"best": 2, "worst": 2}],
            "unit A of Tessarik Cupola gives someone 803 Mbit/s; its units disagree, so the model may not.",
        ),
    ],
)
def test_the_sentence_says_what_the_ranking_leaves_open(changes, words, demo, group):
    assert words in lead(ranking_of(demo, group, *changes), "someone", upload=False).text


def test_an_upload_is_taken_from_the_machine(demo, group):
    text = lead(ranking_of(demo, group, {"best": 1, "worst": 1}), "a laptop", upload=True).text
    assert text == (
        "A wall or two away (60–75 dB), Tessarik Cupola takes 803 Mbit/s from a laptop; no other device was tested over that whole way."
    )


def test_the_machine_is_called_as_far_as_it_is_known(demo, group):
    assert machine(demo.results, group) == "a laptop with two antennas"
    bench = demo.results.bench
    clients = {c: replace(client, machine=None, radios=()) for c, client in bench.clients.items()}
    assert machine(replace(demo.results, bench=replace(bench, clients=clients)), group) == "Wrenlet U2"


def test_numbers_are_words_up_to_twelve():
    assert [wording.in_words(n) for n in (0, 1, 12, 13)] == ["no", "one", "twelve", "13"]
    assert wording.capital(wording.in_words(2)) == "Two"
