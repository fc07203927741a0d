"""The rows of a table as HTML: every text is escaped, whichever field it stands in, and nothing empty leaves a trace."""

import html5lib

from builder.pages.parts.blocks import Entry, Heading, Link, Row, Table
from builder.pages.parts.table_rows import rows_html

HOSTILE = "<b onclick='x'>\"&amp;"


def rows(*entries, decides=False, **more):
    columns = (Heading("Device"), Heading("Middle", numeric=True, decides=decides), Heading(HOSTILE, sentence=True))
    table = Table("key", "caption", columns, (Row(Entry(text="A"), entries, **more),))
    document = html5lib.parse(f"<table>{rows_html(table)}</table>", namespaceHTMLElements=False)
    return document.find(".//tr")


def test_every_text_is_escaped_and_kept():
    full = Entry(
        text=HOSTILE,
        unit=HOSTILE,
        interval=HOSTILE,
        note=HOSTILE,
        sort_key=HOSTILE,
        href=HOSTILE,
        marks=(Link(HOSTILE, HOSTILE, HOSTILE),),
    )
    row = rows(full, Entry(why_missing=HOSTILE), key=HOSTILE, facets=HOSTILE, decides=True)
    assert row.attrib == {"id": HOSTILE, "data-facets": HOSTILE, "role": "row"}
    assert not row.findall(".//b")
    head, first, second = row
    assert head.attrib == {"scope": "row", "role": "rowheader"}
    assert first.attrib == {"class": "number decides", "role": "cell", "data-column": "Middle", "data-sort": HOSTILE}
    assert second.attrib == {"class": "sentence", "role": "cell", "data-column": HOSTILE}
    assert [(part.tag, part.attrib, part.text) for part in first] == [
        ("a", {"href": HOSTILE}, HOSTILE),
        ("span", {"class": "interval"}, HOSTILE),
        ("span", {"class": "note"}, HOSTILE),
        ("a", {"class": "mark", "href": HOSTILE, "title": HOSTILE}, HOSTILE),
    ]
    assert first[0].tail == f"\u00a0{HOSTILE} "
    assert [(part.attrib["class"], part.text) for part in second] == [("missing", HOSTILE)]


def test_a_full_cell_shows_value_unit_interval_note_and_link():
    full = Entry(text="812", unit="Mbit/s", interval="95 %: 780–844", note="held back", href="a.html")
    table = Table("k", "c", (Heading("a"), Heading("b")), (Row(full, (Entry(why_missing="not tested"),)),))
    assert rows_html(table) == (
        '<tr><th scope="row"><a href="a.html">812</a>&nbsp;Mbit/s <span class="interval">95 %: 780–844</span> '
        '<span class="note">held back</span></th><td><span class="missing">not tested</span></td></tr>\n'
    )


def test_what_is_empty_leaves_no_trace():
    table = Table("k", "c", (Heading("a"), Heading("b")), (Row(Entry(text="A"), (Entry(),)),))
    assert rows_html(table) == '<tr><th scope="row">A</th><td></td></tr>\n'
    assert rows_html(Table("k", "c", (Heading("a"),), ())) == ""
