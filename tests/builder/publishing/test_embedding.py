"""Charts for other people's pages: each one picture that stands alone, in a frame, too, and fetches nothing."""

import html
import re
import xml.etree.ElementTree as Xml
from urllib.parse import unquote

import pytest

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(params=["small_site", "demo_site"])
def site(request):
    return request.getfixturevalue(request.param)


def keys(site):
    found = sorted(path.name.removesuffix(".json.zip") for path in (site / "figures").glob("*.json.zip"))
    assert found
    return found


def test_every_chart_has_its_picture(site):
    assert keys(site) == sorted(p.stem for p in (site / "figures").glob("*.svg"))
    assert {p.suffix for p in (site / "figures").iterdir()} == {".zip", ".svg"}


def test_a_picture_stands_alone(site):
    # SVG 1.1, 5.4 and WAI-ARIA 1.2: title and desc come first, the role is img and its name the spoken text.
    for key in keys(site):
        text = (site / "figures" / f"{key}.svg").read_text(encoding="utf-8")
        root = Xml.fromstring(text)
        assert root.tag == f"{SVG}svg"
        assert [child.tag for child in root][:2] == [f"{SVG}title", f"{SVG}desc"]
        # A link is inside, and an image would hide it from those who hear it.
        assert root.get("role") == "group"
        assert root.get("aria-label") == root[0].text
        (image,) = (child for child in root if child.get("role") == "img")
        assert image.get("aria-label") == root[1].text != ""
        assert "var(" not in text
        assert not re.search(r"<(?:script|image|foreignObject)|src=|@import|url\((?!data:font/woff2)", text)
        width, height = float(root.get("width")), float(root.get("height"))
        assert root.get("viewBox") == f"0 0 {width:g} {height:g}"
        words = [element.text for element in image if element.tag == f"{SVG}text"]
        assert " ".join(words).startswith(root[0].text)  # the question above
        (inner,) = (child for child in image if child.tag == f"{SVG}g")
        left, top = map(float, re.fullmatch(r"translate\((\S+),(\S+)\)", inner.get("transform")).groups())
        assert 0 < left < width
        assert 0 < top < height
        # Nothing of the words lies beside the picture.
        (link,) = root.iter(f"{SVG}a")
        for element in (*image, *link):
            if element.tag == f"{SVG}text":
                assert 0 < float(element.get("y")) < height
                assert len(element.text) * 4 < width * 1.6


def test_a_picture_leads_out_of_its_frame_to_its_page(site):
    home = "https://example.org/bench/"  # that of the demo
    for key in keys(site):
        page = site / "figures" / f"{key}.svg"
        (back,) = re.findall(r'<a href="([^"]+)" target="_top"', page.read_text(encoding="utf-8"))
        target, _, fragment = unquote(html.unescape(back)).partition("#")
        whole = site / target.removeprefix(home) if target.startswith(home) else (page.parent / target).resolve()
        text = whole.read_text(encoding="utf-8")
        assert f'id="{key}"' in text
        assert fragment == key
        assert f'{key}.svg">Embed</a>' in unquote(html.unescape(text))
