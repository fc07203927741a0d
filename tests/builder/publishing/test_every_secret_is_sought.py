"""The leak scan alone: whatever kind of secret is put into a clean copy, it finds it, and without one it finds nothing.

The secrets are worked out from the catalogue by the scan's own way, so no fault of the copy can hide one from it.
"""

import io
import sqlite3
from datetime import UTC, datetime

import pytest
from PIL import Image

from builder.publishing.checking.leaks import leaks
from builder.publishing.checking.own_words import own_words
from builder.publishing.checking.secrets_sought import sought
from builder.publishing.files.packing import zip_database
from builder.shipped import templates_folder
from catalog import queries
from catalog.connection import open_catalog
from catalog.visibility import full_copy, public_copy
from tests.batches import PAGES, article, client, device, session, things
from tests.builder.publishing.publishing_bench import EMBARGO, SECOND_BEFORE, Bench, batch, runs
from tests.downloads import database_of

DAY = "2025-09-01T12:00:00Z"
THINGS = things(
    device=[
        device(
            "tessarik-zqmodel",
            maker="Zqmaker",
            model="Zq Model 9",
            kind="zqkind",
            revision="zqrevision",
            aliases=["Zqalias Nine"],
            port=[{"name": "zqport", "speed_mbit_s": 2500}],
            unit=[{"id": "zqunit", "origin": "given", "by": "zqgiver"}],
            firmware=[{"version": "9.8.7"}],
            embargo=EMBARGO,
        )
    ],
    client=[
        client(
            "zq-client",
            name="Zqclient name",
            machine="zqmachine",
            adapter="zqadapter",
            bus="zqbus",
            level_of="zqlevels",
            driver=[{"version": "zqdriver"}],
        )
    ],
    house=[{"id": "zq-house", "name": "Zqhouse name"}],
    session=[
        session("zq-session", "2025-08-20", house="zq-house", note="zqday"),
        session("2025-08-21", house="zq-house"),
    ],
    role=[PAGES | {"id": "zq-role"}],
    workload=[
        {"id": "zq-workload", "version": 1, "title": "Zqworkload title", "duration_s": 600, "role": [PAGES]},
        {"id": "zq-seated", "version": 1, "title": "Zqseated title", "duration_s": 600, "seats": [["zq-role"]]},
    ],
    article=[article("zq-article", "a.md", title="Zqarticle", published=DAY, devices=["tessarik-zqmodel"])],
    image=[{"file": "a.png", "device": "tessarik-zqmodel", "kind": "case", "alt": "zqalt", "credit": "zqcredit"}],
)
WHO = "tessarik-zqmodel,zqunit,9.8.7"
SETUP = "zq-client,zqdriver,zq-session"
TABLES = {
    "spots": "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm,reference_source,reference_receiver,obstacles\n"
    "zq-house,ZQSPOT,5,2025-01-01,20,-30,zqsource,zqreceiver,zqwall\n",
    "stations": "mix,workload,when,device,unit,firmware,client,driver,session,role,band,planned_s,outcome,ended_by,note\n"
    f"zq-mix,zq-workload,2025-08-20T12:00:00Z,{WHO},{SETUP},pages,5,600,finished,zqender,zqstation\n",
    "features": "device,feature,step,firmware,date,licence,method,evidence\n"
    "tessarik-zqmodel,zqfeature,works,9.8.7,2025-08-20,zqlicence,zqhow,zqevidence\n",
    "heat": "device,unit,face,material,reading_c,ambient_c,load,minutes,mount\n"
    "tessarik-zqmodel,zqunit,zqface,metal,61.5,23.5,zqload,60,zqmount\n",
    "power": "device,unit,state,watts,side\ntessarik-zqmodel,zqunit,zqstate,19.5,supply\n",
    "parts": "device,revision,block,marking,count,read\ntessarik-zqmodel,zqboard,zqblock,ZQ-99X,2,read\n",
    "prices": "device,date,amount,currency,region,condition\ntessarik-zqmodel,2025-08-20,199,EUR,zqregion,zqcondition\n",
    "disputes": "device,date,by,claim,state,evidence,retest\n"
    "tessarik-zqmodel,2025-08-20,zqwho,zqclaim,open,zqletter,zqretest\n",
    "withdrawals": "what,id,from,reason\nfirmware,tessarik-zqmodel@9.8.7,2025-08-20,zqreason\n",
}
# Kind of secret -> how it may stand in a page that should not have it.
SPELLED = {
    "device id": ["tessarik-zqmodel", "TESSARIK-ZQMODEL", "pairs/dome--tessarik-zqmodel"],
    "model": [
        "Zq Model 9",
        "zqmodel9",
        "zq-model_9",
        "ZQMODEL 9",
        "Zq&nbsp;Model&nbsp;9",
        "Z q Model-9",
        "Zq%20Model%209",
    ],
    "alias": ["Zqalias Nine", "zqaliasnine", "ZQALIAS-NINE"],
    "maker": ["Zqmaker", "ZQMAKER"],
    "kind": ["zqkind", "Zqkind"],
    "revision": ["zqrevision"],
    "port": ["zqport"],
    "unit id": ["zqunit"],
    "giver": ["zqgiver", "Zqgiver"],
    "firmware": ["9.8.7"],
    "client id": ["zq-client"],
    "client name": ["Zqclient name"],
    "client parts": ["zqmachine", "zqadapter", "zqbus", "zqlevels"],
    "driver": ["zqdriver"],
    "house": ["zq-house", "Zqhouse name"],
    "session id": ["zq-session", "2025-08-21"],
    "session note": ["zqday"],
    "workload": ["zq-workload", "Zqworkload title", "zq-seated", "Zqseated title"],
    "role": ["zq-role"],
    "article": ["zq-article", "Zqarticle"],
    "image": ["zqalt", "zqcredit"],
    "spot": ["ZQSPOT", "zqsource", "zqreceiver", "zqwall"],
    "run": ["zqnote", "zqmood"],
    "station": ["zq-mix", "zqender", "zqstation"],
    "feature": ["zqfeature", "zqlicence", "zqhow", "zqevidence"],
    "heat": ["zqface", "zqload", "zqmount"],
    "power": ["zqstate"],
    "part": ["zqboard", "zqblock", "ZQ-99X", "zq-99x"],
    "price": ["zqregion", "zqcondition"],
    "dispute": ["zqwho", "zqclaim", "zqletter", "zqretest"],
    "withdrawal": ["zqreason"],
    "batch": ["zq-batch", "Zqbatch title"],
    "embargo": ["2025-09-10T09:00-04:00", "2025-09-10T13:00:00Z"],
    "move of an embargo": ["zqasked", "2025-09-05T09:00-04:00"],
    "correction": ["zqtypo"],
    "special characters": ["zq&lt;left&gt;", "zq<left>", "zq\\u003cleft\\u003e", "zq%3Cleft%3E", "zq_3c_left_3e_"],
}


@pytest.fixture(scope="module")
def catalog(small_file, chart_cache, tmp_path_factory):
    folder = tmp_path_factory.mktemp("sought")
    bench = Bench(small_file, folder / "bench", chart_cache)
    table = (
        "\n".join(
            f"{line},{'zqmood' if number else 'mood'}"
            for number, line in enumerate(
                runs(device="tessarik-zqmodel", unit="zqunit", firmware="9.8.7").strip().split("\n")
            )
        )
        .replace("a note between us 0", "zqnote")
        .replace("a note between us 1", "zq<left>")
    )
    place = batch(
        folder,
        "zq-batch",
        title="Zqbatch title",
        more=THINGS.replace("2025-09-10T09:00", "2025-09-05T09:00"),
        runs_csv=table + "\n",
        **TABLES,
    )
    (place / "a.md").write_text("Words of everyday.\n", encoding="utf-8")
    stream = io.BytesIO()
    Image.new("RGB", (40, 20)).save(stream, "PNG")
    (place / "a.png").write_bytes(stream.getvalue())
    bench.enter(place)
    bench.correct(
        "device.embargo,device=tessarik-zqmodel,until,2025-09-05T09:00-04:00,2025-09-10T09:00-04:00,zqasked,desk,2025-09-01",
        "parts,device=tessarik-zqmodel;block=zqblock,count,2,3,zqtypo,desk,2025-09-01",
        now=datetime(2025, 9, 2, tzinfo=UTC),
    )
    return bench.catalog


@pytest.fixture(scope="module")
def looking(catalog):
    db = open_catalog(catalog, readonly=True)
    words = queries.hidden_words(db, SECOND_BEFORE.strftime("%Y-%m-%dT%H:%M:%SZ"))
    db.close()
    return sought(words, usual=own_words(templates_folder()))


@pytest.fixture(scope="module")
def clean(catalog, build, looking, tmp_path_factory):
    out = tmp_path_factory.mktemp("clean") / "site"
    build(catalog, out, as_of=SECOND_BEFORE)
    assert leaks(out, looking) == []
    return out


@pytest.mark.parametrize("kind", SPELLED)
def test_a_secret_in_a_page_or_a_copy_is_found(kind, clean, looking, tmp_path):
    page = (clean / "index.html").read_text(encoding="utf-8")
    for text in SPELLED[kind]:
        (tmp_path / "index.html").write_text(page.replace("</main>", f"<p>It is {text}, they say.</p></main>"))
        assert [leak.file for leak in leaks(tmp_path, looking)][:1] == ["index.html"], text
    (tmp_path / "index.html").unlink()
    for text in SPELLED[kind]:
        database_of(clean, tmp_path)
        with sqlite3.connect(tmp_path / "likeloss.db") as db:
            db.execute("UPDATE batch SET title = ?", [text])
        db.close()
        assert [leak.file for leak in leaks(tmp_path, looking)][:1] == ["likeloss.db"], text
        zip_database(tmp_path / "likeloss.db")
        (tmp_path / "likeloss.db").unlink()
        assert [leak.file for leak in leaks(tmp_path, looking)][:1] == ["likeloss.db.zip"], text
        (tmp_path / "likeloss.db.zip").unlink()


def test_a_copy_without_its_rules_is_full_of_them(catalog, looking, tmp_path):
    full_copy(catalog, as_of=SECOND_BEFORE, to=tmp_path / "full.db").close()
    found = "\n".join(map(str, leaks(tmp_path, looking)))
    for word in ("tessarik-zqmodel", "zqgiver", "zq-batch", "zqday", "zqface", "zqmount"):
        assert word in found
    (tmp_path / "full.db").unlink()
    public_copy(catalog, as_of=SECOND_BEFORE, to=tmp_path / "public.db").close()
    assert leaks(tmp_path, looking) == []


def test_a_page_of_a_database_that_is_freed_is_looked_at(clean, looking, tmp_path):
    database_of(clean, tmp_path)
    db = sqlite3.connect(tmp_path / "likeloss.db")
    db.execute("PRAGMA secure_delete = OFF")
    db.execute("CREATE TABLE t (x TEXT)")
    db.execute("INSERT INTO t VALUES ('zqgiver')")
    db.commit()
    db.execute("DROP TABLE t")
    db.commit()
    assert db.execute("PRAGMA freelist_count").fetchone()[0] > 0
    db.close()
    assert [leak.file for leak in leaks(tmp_path, looking)] == ["likeloss.db"]
    zip_database(tmp_path / "likeloss.db")
    assert [leak.file for leak in leaks(tmp_path, looking)] == ["likeloss.db", "likeloss.db.zip"]


def test_the_sqlite_download_has_no_freed_pages_and_no_counters(clean, tmp_path):
    db = sqlite3.connect(database_of(clean, tmp_path))
    assert db.execute("PRAGMA freelist_count").fetchone() == (0,)
    assert db.execute("SELECT count(*) FROM sqlite_schema WHERE name LIKE 'sqlite_s%'").fetchone() == (0,)
    for (table,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall():
        rows, last = db.execute(f"SELECT count(*), coalesce(max(rowid), 0) FROM {table}").fetchone()
        assert rows == last, f"the numbers of {table} have a gap"
    db.close()


@pytest.mark.parametrize(
    "text",
    [
        "The model of the year, model 9 and a zq",
        "On 2025-08-21T10:00:00Z it was built; 2025-08-20 was a day of tests",
        "version 19.8.7 and 9.8.70",
        "a zqkinder egg, zqfaces, the ceiling access point",
        "a device of that kind, its face and its load",
    ],
)
def test_what_public_rows_or_the_program_say_is_left_alone(text, looking, tmp_path):
    (tmp_path / "a.html").write_text(text)
    assert leaks(tmp_path, looking) == []
