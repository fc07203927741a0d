"""A build of the longest and oddest texts that check lets through: every file has a name that every disk takes."""

from __future__ import annotations

import shutil
from collections import Counter

from catalog.entering import enter_batch
from tests.batches import client, device, things
from tests.builder.publishing.publishing_bench import ENTERED, batch, broken_links, runs
from tests.builder.test_addresses import MOST_BYTES

LONG = "x" + "_" * 98 + "z"  # 100 characters, the longest id, and 394 once it is escaped
VERSION = "7.1 測試 " * 60
MORE = things(
    device=[
        device(
            LONG,
            maker="Quillmast",
            model="Long",
            unit=[{"id": "unit " * 50, "origin": "bought"}],
            firmware=[{"version": VERSION.strip()}],
        )
    ],
    client=[client(LONG, name="Long client", series="line " * 60, driver=[{"version": VERSION.strip()}])],
)
FEATURES = (
    f"device,feature,step,firmware,date,method\n{LONG},{'guest network ' * 30},works,{VERSION},2025-08-20,joined it\n"
)
PRICES = f"device,date,amount,currency,region,condition\n{LONG},2025-08-20,99,EUR,{'region ' * 60},{'used ' * 60}\n"
PARTS = f"device,block,marking,read\n{LONG},{'radio ' * 60},{'QX ' * 60},read\n"


def test_the_longest_texts_make_no_name_that_a_disk_refuses(small_file, build, tmp_path):
    catalog = shutil.copy(small_file, tmp_path / "catalog.db")
    rows = runs(device=LONG, unit="", firmware=VERSION.strip())
    rows += runs(height=1690.0).split("\n", 1)[1]  # another device with the same client, to be ranked with
    lines = rows.splitlines()
    secured = [f"{lines[0]},security,protocol", *(f"{line},{'_' * 40},tcp" for line in lines[1:])]
    place = batch(
        tmp_path, "long", more=MORE, runs_csv="\n".join(secured) + "\n", features=FEATURES, prices=PRICES, parts=PARTS
    )
    text = (place / "batch.toml").read_text(encoding="utf-8")
    text = text.replace('client = "wrenlet-u2"\ndriver = "3.11"', f'client = "{LONG}"')
    (place / "batch.toml").write_text(text, encoding="utf-8")
    enter_batch(place, into=catalog, now=ENTERED)
    site = tmp_path / "site"
    build(catalog, site)
    paths = [path.relative_to(site).as_posix() for path in site.rglob("*")]
    assert max(len(path.rpartition("/")[2].encode()) for path in paths) <= MOST_BYTES
    assert [path for path, times in Counter(path.lower() for path in paths).items() if times > 1] == []
    assert broken_links(site) == []
    assert any(path.startswith("rankings/line_20_") for path in paths)  # what is long is there
