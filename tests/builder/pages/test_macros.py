"""Every macro: it opens with its contract, and places full, missing and awkward values alike."""

import re
from dataclasses import replace

import pytest
from markupsafe import escape

from builder.charts.figures import Figure, TableTwin
from builder.pages.parts.blocks import Drawing, Entry, Fact, Heading, Link, Row, Section, Table
from builder.pages.parts.picturing import Picture
from builder.pages.rendering import page_templates
from builder.pages.tables.device_facets import Filter
from builder.shipped import templates_folder

MACROS = sorted((templates_folder() / "macros").glob("*.html"))

FULL = Entry(
    text="812", unit="Mbit/s", interval="95 %: 780–844", note="held back by its port", sort_key="812.3", href="a.html"
)
MISSING = Entry(why_missing="not tested")
AWKWARD = Entry(text="A<b", interval="<i>", note="& <note>", sort_key='"', href='x"y')
TABLE = Table(
    "t", "Rates & <more>", (Heading("Device"), Heading("Rate", numeric=True)), (Row(AWKWARD, (FULL,), key="r1"),)
)
FIGURE = Figure(
    key="range~a",
    title="How does A<b fade?",
    spec={},
    spoken="It goes down.",
    table=TableTwin("Rates of A<b", ("dB", "A<b"), (("50", "≥ 900"),)),
    notes=("n = 3, A<b",),
)


@pytest.fixture(scope="module")
def macro():
    environment = page_templates(templates_folder())

    def call(name, function, *arguments):
        return str(getattr(environment.get_template(f"macros/{name}.html").module, function)(*arguments))

    return call


@pytest.mark.parametrize("path", MACROS, ids=lambda p: p.stem)
def test_macro_file_opens_with_a_contract_that_names_its_macros(path):
    text = path.read_text(encoding="utf-8")
    contract = re.match(r"\{#(.*?)#\}", text, re.DOTALL)
    assert contract, f"{path.name} does not open with its contract"
    offered = set(re.findall(r"\{% macro (\w+)\(", text)) - {"contents"}  # shared by two macros of its own file
    assert offered
    for name in offered:
        assert f"{name}(" in contract[1], f"{path.name} says nothing of {name}"


@pytest.mark.parametrize("path", MACROS, ids=lambda p: p.stem)
def test_every_macro_file_is_tested_here(path):
    assert path.stem in {"facts", "figures", "filters", "links", "overview", "pictures", "sections", "tables"}


def test_the_picture_of_all_devices_leads_to_all_of_them(macro):
    html = macro("overview", "overview", Drawing(FIGURE, "s.json.zip"), "<svg>", Link("All <400>", "x.html"))
    assert '<a href="x.html">All &lt;400&gt;</a>' in html
    assert "How does A&lt;b fade?" in html


def test_filter_is_hidden_until_scripts_run_and_escaped(macro):
    html = macro(
        "filters", "table_filter", (Filter("band", "A<b", "has", (('x"y', "5 & 6 GHz"),)),), "devices", "things"
    )
    assert '<table-filter class="tool" hidden data-table="devices" data-things="things">' in html
    assert "A&lt;b" in html
    assert 'value="x&#34;y"' in html
    assert "5 &amp; 6 GHz" in html


def test_table_worth_sorting_can_be_sorted_and_facets_are_kept(macro):
    row = Row(AWKWARD, (FULL,), facets="band=5&width=80")
    html = macro("tables", "data_table", replace(TABLE, rows=(row, row, row)))
    assert html.count("<sortable-table>") == html.count("</sortable-table>") == 1
    assert 'data-facets="band=5&amp;width=80"' in html
    assert "sortable-table" not in macro("tables", "data_table", TABLE)


def test_table_has_caption_scopes_row_key_and_sort_key(macro):
    html = macro("tables", "data_table", TABLE)
    assert "A&lt;b" in html
    assert 'href="x&#34;y"' in html
    assert "<i>" not in html
    assert "<note>" not in html
    assert "<caption><span>Rates &amp; &lt;more&gt;</span></caption>" in html
    assert '<th scope="col" class="number">Rate</th>' in html
    assert '<tr id="r1"><th scope="row">' in html
    assert '<td class="number" data-sort="812.3">' in html
    assert 'tabindex="0"' in html


def test_table_gives_sentences_room_and_missing_cells_their_reason(macro):
    table = Table("t", "c", (Heading("A"), Heading("B", sentence=True)), (Row(Entry(text="a"), (MISSING,)),))
    html = macro("tables", "data_table", table)
    assert '<th scope="col" class="sentence">B</th>' in html
    assert '<td class="sentence"><span class="missing">not tested</span></td>' in html
    assert " id=" not in html.split("<tbody>")[1]


FOLDING = Table(
    "t",
    "c",
    (Heading("Device"), Heading("Rate", numeric=True, decides=True), Heading("Far & off", numeric=True)),
    (Row(AWKWARD, (FULL, MISSING)),),
)


def test_folding_table_says_what_its_parts_are_and_names_the_column_of_each_cell(macro):
    html = macro("tables", "data_table", FOLDING)
    assert '<table class="folds" role="table">' in html
    assert [html.count(f'role="{role}"') for role in ("rowgroup", "row", "columnheader", "rowheader", "cell")] == [
        2,
        2,
        3,
        1,
        2,
    ]
    assert '<td class="number decides" role="cell" data-column="Rate" data-sort="812.3">' in html
    assert 'data-column="Far &amp; off"' in html
    assert "role=" not in macro("tables", "data_table", TABLE).replace('role="region"', "")


def test_the_column_that_decides_stands_second():
    columns = (Heading("Device"), Heading("Far"), Heading("Rate", decides=True))
    with pytest.raises(ValueError, match="t: the column that decides stands second"):
        replace(FOLDING, columns=columns)
    assert not replace(FOLDING, columns=FOLDING.columns[:2], rows=(Row(FULL, (FULL,)),)).folds  # nothing to fold


def test_table_rows_must_be_as_long_as_the_headings():
    with pytest.raises(ValueError, match="t: 1 entries under 2 headings"):
        replace(TABLE, rows=(Row(FULL, ()),))


def test_figure_shows_question_picture_notes_table_and_specification(macro):
    html = macro("figures", "figure", Drawing(FIGURE, "figures/x.json.zip"), "THE PICTURE")
    assert "<figcaption>How does A&lt;b fade?</figcaption>" in html
    assert "THE PICTURE" in html
    assert "<li>n = 3, A&lt;b</li>" in html
    assert '<th scope="row" class="number">50</th><td class="number">≥ 900</td>' in html
    assert 'href="figures/x.json.zip"' in html
    assert "A<b" not in html


def test_figure_with_a_table_of_the_page_adds_none(macro):
    html = macro("figures", "figure", Drawing(replace(FIGURE, notes=()), "x.json.zip", own_table=True), "")
    assert "<table>" not in html
    assert "chart-notes" not in html


def test_facts_link_where_there_is_somewhere_to_go(macro):
    html = macro("facts", "facts", (Fact("A<b", "1 & 2"), Fact("Method", "Method 1", "m.html")))
    assert "<dt>A&lt;b</dt>\n<dd>1 &amp; 2</dd>" in html
    assert '<dd><a href="m.html">Method 1</a></dd>' in html


def test_links_show_what_stands_behind_them(macro):
    html = macro("links", "link_list", (Link("A<b", "a.html", "not ranked: <why>"), Link("B", "b.html")))
    assert '<a href="a.html">A&lt;b</a> <span class="note">not ranked: &lt;why&gt;</span>' in html
    assert '<li><a href="b.html">B</a></li>' in html


def test_section_and_folded_section_hold_the_same(macro):
    part = Section("k", "Did A<b help?", ("It did <not>.",), tables=(TABLE,), links=(Link("more", "m.html"),))
    open_, folded = macro("sections", "section", part), macro("sections", "folded", part)
    for html in (open_, folded):
        assert 'id="k"' in html
        assert "<p>It did &lt;not&gt;.</p>" in html
        assert "<table>" in html
        assert 'href="m.html"' in html
    assert "<h3>Did A&lt;b help?</h3>" in open_
    assert "<summary>Did A&lt;b help?</summary>" in folded


def test_section_without_more_is_its_heading(macro):
    html = macro("sections", "section", Section("k", "Empty"))
    assert "<p>" not in html
    assert "<table>" not in html


def test_pictures_have_words_and_credit(macro):
    html = macro(
        "pictures",
        "pictures",
        (
            Picture("p.png", "Two <ports>", "A<b", "40", "20", "s.png 20w, p.png 40w"),
            Picture("q.png", "Case", "", "8", "8", ""),
        ),
    )
    assert html.count('srcset="') == html.count('srcset="s.png 20w, p.png 40w"') == 1
    assert 'alt="Two &lt;ports&gt;"' in html
    assert '<span class="note">A&lt;b</span>' in html
    assert "<figcaption>Case</figcaption>" in html
    assert 'width="40" height="20"' in html


def test_a_caption_that_its_heading_has_said_is_only_heard(macro):
    html = macro("tables", "data_table", replace(TABLE, repeats=True))
    assert f'<caption><span class="unseen">{escape(TABLE.caption)}</span></caption>' in html
    assert "unseen" not in macro("tables", "data_table", TABLE)
