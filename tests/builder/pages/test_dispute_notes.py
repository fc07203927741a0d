"""An open dispute stands at every figure of the device it is about: its page, rankings and pairs (job analysis, K08)."""


def pages_about(site, device):
    rankings = [p for p in site.glob("rankings/*/index.html") if f"devices/{device}/" in p.read_text(encoding="utf-8")]
    pairs = [p for p in site.glob("pairs/*/index.html") if device in p.parent.name]
    return [site / "devices" / device / "index.html", *rankings, *pairs]


def test_open_dispute_is_noted_at_each_figure(small_site):
    # Source: tests/builder/small_catalog.py: the maker's claim is open.
    found = pages_about(small_site, "tessarik-a-b")
    assert len(found) > 3
    ranked = 0
    for page in found:
        text = page.read_text(encoding="utf-8")
        if page.parent.parent.name == "rankings":
            ranked += text.count("disputed: old &lt;firmware&gt;")
        else:
            assert "old &lt;firmware&gt;" in text, page
    assert ranked


def test_devices_without_one_have_no_note(small_site):
    for page in pages_about(small_site, "quillmast-vane"):
        if page.parent.parent.name == "devices":
            assert "disputed:" not in page.read_text(encoding="utf-8")
