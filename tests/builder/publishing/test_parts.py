"""A file of a site that is not whole is named with the element that is wrong; the demo has none."""

import pytest

from builder.publishing.checking.parts import faults
from builder.publishing.files.packing import zipped

PAGE = '<!doctype html>\n<html lang="en">\n<head><title>A</title></head>\n<body><h1>A?</h1>{}</body>\n</html>\n'
CHART = '<svg role="img" aria-label="A line falls."><title>A</title></svg>'


@pytest.mark.parametrize(
    ("name", "content", "fault"),
    [
        ("a.html", PAGE.replace(' lang="en"', "").format(""), "a.html, <html>: there is none"),
        ("a.html", PAGE.replace("<title>A</title>", "<title></title>").format(""), "a.html, <title>: there is none"),
        ("a.html", PAGE.format("<h1>B</h1>"), "a.html, <h1>: there are 2"),
        ("a.html", PAGE.format("")[:-9], "a.html, </html>: the page does not end with it"),
        ("a.html", PAGE.format('<p id="x">1</p><p id="x">2</p>'), 'a.html, id="x": 2 elements have it'),
        ("a.html", PAGE.format('<img src="x.png" alt="">'), "a picture without alternative text"),
        ("a.html", PAGE.format(CHART.replace('role="img" ', "")), "a.html, chart 1: it is not marked as an image"),
        (
            "a.html",
            PAGE.format(CHART.replace("<title", '<a href="b.html"/><title')),
            "chart 1: it is not marked as a group",
        ),
        ("a.html", PAGE.format(CHART + "<svg role='img'></svg>".replace("'", '"')), "chart 2: it has no spoken text"),
        ("a/b.json", '{"a": ', "a/b.json, the document: it is not JSON"),
        ("feed.xml", "<feed><entry></feed>", "feed.xml, the document: it is not XML"),
        ("mark.svg", "<svg", "mark.svg, the document: it is not XML"),
        ("runs.csv", "a,b\r\n1,2\r\n3\r\n", "runs.csv, row 3: it has 1 columns, the header has 2"),
        ("runs-semicolon.csv", "a;b\r\n1,5;2\r\n3,5\r\n", "row 3: it has 1 columns, the header has 2"),
    ],
)
def test_broken_file_is_named_with_its_element(name, content, fault, tmp_path):
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text(content, encoding="utf-8")
    found = faults(tmp_path)
    assert len(found) == 1
    assert fault in str(found[0])


def test_what_a_zip_file_holds_is_looked_at(tmp_path):
    (tmp_path / "runs.json.zip").write_bytes(zipped("runs.json", [b'{"rows": [']))
    (tmp_path / "cells.json.zip").write_bytes(b"{}")
    assert [str(fault).partition(":")[0] for fault in faults(tmp_path)] == [
        "cells.json.zip, the file",
        "runs.json.zip, the document",
    ]


def test_whole_files_have_no_fault(tmp_path):
    (tmp_path / "a.html").write_text(PAGE.format(CHART), encoding="utf-8")
    (tmp_path / "a.json").write_text("{}")
    (tmp_path / "a.xml").write_text("<a/>")
    (tmp_path / "runs-semicolon.csv").write_text('a;b\r\n1,5;"x;y"\r\n')
    (tmp_path / "notes.bin").write_bytes(b"\xff\xfe")
    assert faults(tmp_path) == []


def test_demo_has_none(demo_site):
    assert faults(demo_site) == []
