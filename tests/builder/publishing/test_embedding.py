"""Charts for other people's pages: a picture that stands alone, and a small page that fetches nothing from elsewhere."""

import html
import re
import xml.etree.ElementTree as Xml

import pytest

from tests.builder.publishing.publishing_bench import broken_links

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(params=["small_site", "demo_site"])
def site(request):
    return request.getfixturevalue(request.param)


def keys(site):
    found = sorted(path.stem for path in (site / "figures").glob("*.json"))
    assert found
    return found


def test_every_chart_has_its_picture_and_its_frame(site):
    assert keys(site) == sorted(p.stem for p in (site / "figures").glob("*.svg"))
    assert keys(site) == sorted(p.stem for p in (site / "figures").glob("*.html"))


def test_a_picture_stands_alone(site):
    # SVG 1.1, 5.4 and WAI-ARIA 1.2: title and desc come first, the role is img and its name the spoken text.
    for key in keys(site):
        text = (site / "figures" / f"{key}.svg").read_text(encoding="utf-8")
        root = Xml.fromstring(text)
        assert root.tag == f"{SVG}svg"
        assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
        assert root.get("role") == "img"
        assert root.get("aria-label") == root[1].text != ""
        assert "var(" not in text
        assert not re.search(r"<(?:script|image|foreignObject)|(?:href|src)=|@import|url\((?!data:font/woff2)", text)
        width, height = float(root.get("width")), float(root.get("height"))
        assert root.get("viewBox") == f"0 0 {width:g} {height:g}"
        words = [element.text for element in root if element.tag == f"{SVG}text"]
        assert " ".join(words).startswith(root[0].text)  # the question above
        (inner,) = (child for child in root if child.tag == f"{SVG}g")
        left, top = map(float, re.fullmatch(r"translate\((\S+),(\S+)\)", inner.get("transform")).groups())
        assert 0 < left < width
        assert 0 < top < height
        # Nothing of the words lies beside the picture.
        for element in root:
            if element.tag == f"{SVG}text":
                assert 0 < float(element.get("y")) < height
                assert len(element.text) * 4 < width * 1.6


def test_a_frame_fetches_only_the_sites_own_picture_and_sheet(site):
    for key in keys(site):
        page = site / "figures" / f"{key}.html"
        text = page.read_text(encoding="utf-8")
        fetched = re.findall(r'<(?:link|img|script|iframe)\b[^>]*?(?:href|src)="([^"]+)"', text)
        assert html.unescape(fetched[-1]).endswith(".svg")
        assert all(re.match(r"(?:\.\./assets/|[^/:]+\.svg$)", target) for target in fetched), fetched
        assert "<script" not in text
        assert len(text) < 3000
        (back,) = re.findall(r'<a href="([^"]+)" target="_top">', text)
        target = html.unescape(back).split("#")[0]
        whole = (page.parent / target).resolve().read_text(encoding="utf-8")
        assert f'id="{key}"' in whole
        assert f'{key}.html">Embed</a>' in html.unescape(whole).replace("%7E", "~")
    home = "https://example.org/bench/"  # that of the demo
    assert [link for link in broken_links(site, home=home) if link.page.startswith("figures/")] == []
