"""Charts and tables of other pages in an article: the same as there, and what is refused by its line."""

import pytest

from builder import addresses
from builder.pages.client import client_page
from builder.pages.contents import compose
from builder.pages.device import device_page
from builder.pages.pair import pair_page
from builder.pages.parts.looked_up import evidence_of
from builder.pages.review import review_page
from builder.publishing.changing.touched import said_by_articles, touched
from catalog.entering import enter_batch
from tests.batches import article, batch_at, batch_toml, device
from tests.builder.articles.conftest import NOW, bound_to, sentences
from tests.builder.pages.conftest import contents

CUPOLA, RONDEL = "tessarik-cupola", "polmerre-rondel-6"
LANTERN = "quillmast-lantern-calls-over-backup-2022-01-18-1"
W = "workload evening"


@pytest.fixture(scope="module")
def demo(demo_file, demo_instant):
    return contents(demo_file, demo_instant)


@pytest.fixture(scope="module")
def evidence(demo):
    return compose(evidence_of, demo)


def shown(demo, evidence, typed):
    """What the page of an article with one block shows there."""
    bound = bound_to(evidence, f"Before.\n\n(= {typed} =)\n\nAfter.", devices=(CUPOLA,))
    assert sentences(bound) == []
    first, last = review_page(*demo, bound).text
    assert "Before." in first.html
    assert "After." in last.html
    return first


def cells(table):
    return [[entry.text for entry in (row.head, *row.entries)] for row in table.rows]


def test_the_ports_are_those_of_the_devices_page(demo, evidence):
    table = shown(demo, evidence, f"ports {CUPOLA}").table
    page = compose(device_page, demo, CUPOLA).ports
    assert cells(table) == cells(page)
    assert table.columns == page.columns
    assert table.caption == f"Tessarik Cupola. {page.caption}"
    assert table.key == f"review~review~ports~{CUPOLA}"


def test_the_parts_are_those_of_the_pages(demo, evidence):
    both = shown(demo, evidence, f"parts {CUPOLA} {RONDEL}").table
    inside = compose(pair_page, demo, RONDEL, CUPOLA).inside.tables[0]
    names = [column.text for column in inside.columns]
    assert [column.text for column in both.columns] == [names[0], names[2], names[1], names[3]]
    assert [[row[0], row[2], row[1], row[3]] for row in cells(both)] == cells(inside)
    one = shown(demo, evidence, f"parts {CUPOLA}").table
    assert cells(one) == cells(compose(device_page, demo, CUPOLA).parts)


def test_the_ceilings_are_those_of_the_clients_page_as_far_as_named(demo, evidence):
    page = compose(client_page, demo, "wrenlet-b2").ceilings
    assert cells(shown(demo, evidence, "ceiling wrenlet-b2").table) == cells(page)
    six = shown(demo, evidence, "ceiling wrenlet-b2, band 6 GHz").table
    assert cells(six) == [row for row in cells(page) if row[0].startswith("6 GHz")]
    assert 0 < len(six.rows) < len(page.rows)
    assert six.caption.startswith("Wrenlet B2. What it can do at most")


def test_a_long_run_is_drawn_with_the_authors_question(demo, evidence):
    drawing = shown(demo, evidence, f"longrun {CUPOLA} : Does it hold all night?").drawing
    (page,) = [d for d in compose(device_page, demo, CUPOLA).drawings if d.figure.key.startswith("longrun")]
    assert drawing.figure.title == "Does it hold all night?"
    assert drawing.figure.key == f"review~review~{page.figure.key}"
    assert drawing.figure.notes[0] == f"Tessarik Cupola with {page.figure.notes[0]}"
    assert drawing.figure.table == page.figure.table
    assert drawing.figure.spoken == page.figure.spoken
    assert drawing.specification_href == addresses.link(
        addresses.review("review"), addresses.specification(drawing.figure.key)
    )
    usual = shown(demo, evidence, f"longrun {CUPOLA}, client wrenlet-b2, band 6, width 320, direction down").drawing
    assert usual.figure.title == page.figure.title


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (
            f"longrun {CUPOLA}, on 2024-01-01",
            "There is no such long run of Tessarik Cupola. There is: tessarik-cupola@3.0.2",
        ),
        (f"longrun {CUPOLA}, client wrenlet-u2", "client wrenlet-b2, band 6, width 320, direction down"),
        ("longrun tessarik-plinth", "There is no such long run of Tessarik Plinth. There is: none."),
        (f"longrun {CUPOLA} : It holds", "The title of a figure is a question and ends with “?”."),
        ("ports nobodys-box", "There is no device 'nobodys-box'"),
        (f"ports {CUPOLA} : Which?", "ports takes no words of its own"),
        ("parts tessarik-plinth", "Tessarik Plinth was not opened, or nothing could be read inside of it."),
        (f"parts {CUPOLA} {CUPOLA}@3.0.2", "Both sides are the same device."),
        (f"parts {CUPOLA} {RONDEL} veltrisk-tarn", "parts takes 1 to 2 devices, and 3 are named."),
        ("ports tessarik-trio", "Device tessarik-trio was withdrawn on 3 November 2025"),
        ("ceiling wrenlet-u9", "There is no client 'wrenlet-u9'. Nearest: "),
        (
            "ceiling wrenlet-u2, band 6",
            "No run shows a ceiling of Wrenlet U2 on band 6, so nothing is known to be limited",
        ),
        ("ceiling", "ceiling takes 1 client, and 0 are named."),
    ],
)
def test_refused_with_file_line_and_reason(evidence, typed, sentence):
    (problem,) = sentences(bound_to(evidence, f"Something.\n\n(= {typed} =)"))
    assert problem.startswith("first/articles/r.md line 3: (= ")
    assert sentence in problem


def test_a_block_stands_alone_and_once(evidence):
    (inline,) = sentences(bound_to(evidence, f"Its ports: (= ports {CUPOLA} =)"))
    assert "A figure stands in a paragraph of its own." in inline
    (twice,) = sentences(bound_to(evidence, f"(= ports {CUPOLA} =)\n\n(= ports {CUPOLA} =)"))
    assert "This figure stands in the article already." in twice


@pytest.fixture
def ported(tmp_path):
    """A catalogue whose article shows the ports of a device."""
    port = [{"name": "LAN", "speed_mbit_s": 1000, "power": "in", "power_class": 3}]
    text = batch_toml(
        "seen",
        device=[device(CUPOLA, port=port)],
        article=[article("ports", "a.md", published="2026-01-01T10:00:00Z")],
    )
    enter_batch(
        batch_at(tmp_path / "seen", text, {"a.md": f"It has\n\n(= ports {CUPOLA} =)\n"}),
        into=tmp_path / "a.db",
        now=NOW,
    )
    return tmp_path / "a.db"


def test_a_table_stands_in_the_text_with_its_caption(ported, build, tmp_path):
    build(ported, tmp_path / "site", as_of=NOW)
    html = (tmp_path / "site" / "reviews" / "ports" / "index.html").read_text(encoding="utf-8")
    text = html.split('<article class="review-text">')[1].split("</article>")[0]
    assert text.index("<p>It has</p>") < text.index(
        "<caption><span>Tessarik Cupola. Wired ports, as the maker states them"
    )
    assert "1\u00a0Gbit/s" in text


def test_a_corrected_row_of_a_table_is_listed(ported, correct):
    before = said_by_articles(ported, as_of=NOW)
    correct(ported, f"port,device={CUPOLA};name=LAN,speed_mbit_s,1000,2500,misread,a reader,2026-05-01")
    (one,) = touched(before, said_by_articles(ported, as_of=NOW))
    assert (one.file, one.line, one.image) == ("seen/a.md", 3, "")
    assert one.was.startswith("LAN, 1 Gbit/s, ")
    assert one.now.startswith("LAN, 2.5 Gbit/s, ")
