"""Publishing is all or nothing: refusals change nothing, one earlier version is kept, roll-back is one step."""

from datetime import UTC, datetime, timedelta

import pytest

from builder.publishing.changing.swapping import held
from builder.shipped import templates_folder
from catalog.connection import create_catalog
from catalog.errors import BuildRefused, InputRefused, WriteRefused
from tests.builder.publishing.publishing_bench import Bench, batch, contents, runs

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)


@pytest.fixture
def bench(small_file, chart_cache, tmp_path):
    return Bench(small_file, tmp_path / "bench", chart_cache)


def beside(bench):
    return sorted(p.name for p in bench.folder.iterdir() if "site" in p.name)


def test_one_earlier_version_is_kept_and_comes_back(bench, tmp_path):
    first = bench.publish(DAY)
    assert (first.changes, first.earlier, beside(bench)) == (None, None, ["site"])
    old = contents(bench.site)
    bench.enter(batch(tmp_path, "later", runs_csv=runs(height=1650.0)))
    second = bench.publish(DAY + timedelta(days=1))
    assert second.earlier == bench.site.with_name("site.earlier")
    new = contents(bench.site)
    assert new != old
    assert contents(second.earlier) == old
    assert bench.roll_back(DAY + timedelta(days=2)) == second.earlier
    assert (contents(bench.site), contents(second.earlier)) == (old, new)
    # What is compared with is what is in place, not what was published last.
    third = bench.publish(DAY + timedelta(days=1))
    assert third.changes.since == "2025-09-20T12:00:00Z"
    assert contents(bench.site) == new
    assert beside(bench) == ["site", "site.earlier"]


def test_publishing_closes_the_batch(bench):
    assert bench.sql("SELECT published_utc FROM batch") == [(None,)]
    bench.publish(DAY, now=DAY + timedelta(hours=3))
    bench.publish(DAY, now=DAY + timedelta(hours=5))
    assert bench.sql("SELECT published_utc FROM batch") == [("2025-09-20T15:00:00Z",)]


def test_the_record_of_figures_is_a_download_like_the_others(bench, tmp_path):
    # sha256sum, GNU coreutils, is the reader that the file of sums is written for.
    import json
    import shutil
    import subprocess

    bench.publish(DAY)
    data = bench.site / "data"
    assert "figures.json" in (data / "SHA256SUMS").read_text()
    if shutil.which("sha256sum"):
        subprocess.run(["sha256sum", "--check", "--strict", "SHA256SUMS"], cwd=data, check=True, capture_output=True)
    described = {one["path"]: one for one in json.loads((data / "datapackage.json").read_text())["resources"]}
    assert described["figures.json"]["bytes"] == (data / "figures.json").stat().st_size
    assert ">Every figure as it was published" in (data / "index.html").read_text()
    first = contents(bench.site)
    bench.publish(DAY)
    assert contents(bench.site) == first


def test_each_pair_is_compared_once(bench, monkeypatch):
    from builder.pages import contents

    compared = []

    def counted(bench, a, b, **others):
        compared.append((a.device, b.device))
        return pairing(bench, a, b, **others)

    pairing = contents.pairing
    monkeypatch.setattr(contents, "pairing", counted)
    bench.publish(DAY)
    assert compared
    assert len(compared) == len(set(compared))


def test_somebody_must_be_named_as_publisher(bench):
    bench.sql("DELETE FROM site")
    with pytest.raises(InputRefused, match=r"Nobody is named as the publisher yet. Write a \[site\]"):
        bench.publish(DAY)
    assert beside(bench) == []


def test_what_is_to_come_is_not_published(bench):
    with pytest.raises(InputRefused, match="still to come"):
        bench.publish(DAY, now=DAY - timedelta(seconds=1))
    bench.publish(DAY)
    with pytest.raises(BuildRefused, match="To take a publication back, use rollback"):
        bench.publish(DAY - timedelta(seconds=1))


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("It answered as 00:00:5E:00:53:A7.", "reviews/leaky/index.html holds a hardware .MAC. address"),
        ("Its serial number is X7K-2291-0042.", "a serial number"),
        ("The network name: KettleUpstairs.", "the name of a network"),
        ("The log is in /home/desk/bench.", "a path on somebody's computer"),
    ],
)
def test_a_leak_stops_it(typed, words, bench, tmp_path):
    bench.publish(DAY)
    before = contents(bench.site)
    article = (
        '[[article]]\nid = "leaky"\ntitle = "Leaky"\npublished = "2025-09-20T11:00:00Z"\nfile = "a.md"\ndevices = []\n'
    )
    place = batch(tmp_path, "leaky", more=article)
    (place / "a.md").write_text(f"A walk through the rooms. {typed}\n", encoding="utf-8")
    bench.enter(place)
    with pytest.raises(BuildRefused, match=rf"(?s)must not be public, so it was not put in place:.*{words}"):
        bench.publish(DAY)
    assert contents(bench.site) == before
    assert bench.sql("SELECT published_utc FROM batch WHERE batch_id = 'leaky'") == [(None,)]
    assert beside(bench) == ["site"]


def test_a_part_that_is_missing_stops_it(bench, tmp_path):
    import shutil

    looks = shutil.copytree(templates_folder(), tmp_path / "looks")
    page = looks / "pages" / "listing.html"
    page.write_text(page.read_text(encoding="utf-8") + "{% block cannot_say %}<h1>Twice</h1>{% endblock %}")
    with pytest.raises(BuildRefused, match=r"devices/index.html, <h1>: there are 2"):
        bench.publish(DAY, templates=looks)
    assert beside(bench) == []


def test_a_change_while_building_stops_it(bench, tmp_path):
    place = batch(tmp_path, "meanwhile", runs_csv=runs(height=1650.0))

    def progress(text):
        if text.startswith("Composing"):
            bench.enter(place)

    from builder.publishing.making.publishing import publish_site

    with pytest.raises(WriteRefused, match="changed while the site was built"):
        publish_site(bench.catalog, bench.site, as_of=DAY, now=DAY, jobs=1, cache=bench.cache, progress=progress)
    assert beside(bench) == []
    bench.publish(DAY)


def test_two_at_once_are_refused(bench):
    bench.publish(DAY)
    with held(bench.site), pytest.raises(BuildRefused, match="Another Likeloss is writing"):
        bench.publish(DAY)
    bench.publish(DAY)


def test_without_an_earlier_version_there_is_nothing_to_roll_back(bench):
    with pytest.raises(BuildRefused, match="there is no published site"):
        bench.roll_back(DAY)
    bench.publish(DAY)
    before = contents(bench.site)
    with pytest.raises(BuildRefused, match="no earlier version of the site beside it"):
        bench.roll_back(DAY)
    assert contents(bench.site) == before


def test_an_empty_catalogue_says_what_it_needs(tmp_path, chart_cache):
    from builder.publishing.making.publishing import publish_site

    create_catalog(tmp_path / "empty.db").close()
    with pytest.raises(InputRefused, match=r"\[site\]"):
        publish_site(
            tmp_path / "empty.db",
            tmp_path / "site",
            as_of=DAY,
            now=DAY,
            jobs=1,
            cache=chart_cache,
            progress=lambda _: None,
        )
