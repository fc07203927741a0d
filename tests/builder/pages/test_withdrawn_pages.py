"""A withdrawn device or client keeps its page with the reason; rankings go without it (job analysis, P09)."""

import shutil
from datetime import UTC, datetime

import pytest

from tests.builder.publishing.publishing_bench import Bench, batch

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def sites(small_file, chart_cache, tmp_path_factory):
    folder = tmp_path_factory.mktemp("withdrawn")
    bench = Bench(small_file, folder / "bench", chart_cache)
    bench.publish(DAY)
    before = shutil.copytree(bench.site, folder / "before")  # a publication that withdraws keeps no earlier version
    table = (
        "what,id,from,reason\ndevice,quillmast-vane,2025-09-20,a loose antenna lead\n"
        "client,skarn-c3,2025-09-20,its driver was cracked\n"
    )
    bench.enter(batch(folder, "away", withdrawals=table))
    bench.publish(DAY)
    return before, bench.site


@pytest.mark.parametrize(
    ("address", "note"),
    [
        (
            "devices/quillmast-vane/index.html",
            "Quillmast Vane was withdrawn on 20 September 2025: a loose antenna lead.",
        ),
        ("clients/skarn-c3/index.html", "Skarn &lt;C3&gt; was withdrawn on 20 September 2025: its driver was cracked."),
    ],
)
def test_page_stays_with_the_reason(address, note, sites):
    before, after = sites
    assert note not in (before / address).read_text(encoding="utf-8")
    assert note in (after / address).read_text(encoding="utf-8")


def test_rankings_go_without_it(sites):
    before, after = sites
    for site, there in ((before, True), (after, False)):
        pages = [p.read_text(encoding="utf-8") for p in site.glob("rankings/wrenlet-u2*/index.html")]
        assert pages
        assert any("devices/quillmast-vane/" in page for page in pages) == there
