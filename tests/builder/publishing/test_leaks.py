"""Every kind of thing that must not be public is found wherever it is planted, and a clean site has none."""

import base64
import json
import random
import re
import shutil
import sqlite3
import zlib
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

from builder.charts import face
from builder.publishing.checking.leaks import leaks
from builder.publishing.checking.own_words import own_words
from builder.publishing.checking.secrets_sought import sought
from builder.publishing.files.packing import zipped
from builder.shipped import templates_folder
from catalog import queries
from catalog.connection import open_catalog
from catalog.queries import HiddenWords

HIDDEN = HiddenWords(
    ids=("tessarik-cairn",),
    names=(("Tessarik", "Cairn"), ("Tessarik", "Low"), ("Tessarik", "Cairn EU"), ("", "Murkwell")),
    firmware=("9.0.1", "2.7", "r12-beta"),
    notes=("bench note 47, cupboard open",),
)
NOTHING = HiddenWords((), (), (), ())
USUAL = "At like loss, low values first. Low values come last."

# The form of an EUI-48 with colons or hyphens: IEEE Std 802-2014, 8.2.2; with dots it is common practice. The address
# is of the range for documentation (RFC 7042, 2.1.2). Serial numbers, names and places are invented.
PLANTED = [
    ("a hardware (MAC) address", "seen as 00:00:5E:00:53:A7 on the air"),
    ("a hardware (MAC) address", "seen as 00-00-5e-00-53-a7"),
    ("a hardware (MAC) address", "seen as 0000.5e00.53a7"),
    ("a serial number", "Serial: X7K-2291-0042"),
    ("a serial number", "serial number is 4402XK91"),
    ("a serial number", "S/N 2291004211"),
    ("a serial number", '"serial_no": "QX2291004"'),
    ("the name of a network", 'the SSID "Kettle upstairs" was in the way'),
    ("the name of a network", "SSID: KettleUpstairs-5G"),
    ("the name of a network", "network name: Kettle"),
    ("a place on the map", "GPS 48.13743, 11.57549"),
    ("a place on the map", "geo:48.13743,11.57549"),
    ("a place on the map", "48°08'15\"N 11°34'32\"E"),
    ("a path on somebody's computer", "read from /home/desk/bench/runs.csv"),
    ("a path on somebody's computer", r"read from C:\Users\desk\runs.csv"),
    ("a path on somebody's computer", "see file:///srv/bench"),
    ("the id of something hidden", "devices/tessarik-cairn/index.html"),
    ("the id of something hidden", "pairs/dome--TESSARIK-CAIRN"),
    ("the name of something hidden", "a Cairn is coming"),
    ("the name of something hidden", "the tessarik cairn"),
    ("the name of something hidden", "made by Murkwell"),
    ("the name of something hidden", "the Tessarik Low"),
    ("the version of a hidden firmware", "with 9.0.1 on it"),
    ("the version of a hidden firmware", '"firmware": "2.7"'),
    ("the version of a hidden firmware", "updated to r12-beta"),
    ("a note on something hidden", "bench note  47,\ncupboard open"),
]
CARRIERS = [
    "pages/index.html",
    "data/runs.csv",
    "data/runs.json",
    "feed.xml",
    "figures/x.svg",
    "assets/data.js",
    "x.txt",
]


@pytest.fixture
def looking():
    return sought(HIDDEN, paths=[Path("/data/desk/catalog.db")], usual=USUAL)


def kinds(folder, looking):
    return {leak.kind for leak in leaks(folder, looking)}


@pytest.mark.parametrize(("kind", "text"), PLANTED)
def test_planted_text_is_found_and_named(kind, text, looking, tmp_path):
    for name in CARRIERS:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(f"before\n{text}\nafter", encoding="utf-8")
    found = leaks(tmp_path, looking)
    assert {leak.file for leak in found if leak.kind == kind} == set(CARRIERS)
    assert all(str(leak).startswith(f"{leak.file} holds {leak.kind}: ") for leak in found)


@pytest.mark.parametrize(("kind", "text"), PLANTED)
def test_planted_value_of_a_database_is_found(kind, text, looking, tmp_path):
    with sqlite3.connect(tmp_path / "likeloss.db") as db:
        db.execute("CREATE TABLE run (n INTEGER, note TEXT)")
        # Long enough to lie on pages of its own, cut where SQLite likes.
        db.executemany("INSERT INTO run VALUES (?, ?)", [(1, "x" * 6000), (2, f"{'y ' * 3000}{text}"), (3, None)])
    assert kind in kinds(tmp_path, looking)


def test_names_of_files_are_looked_at(looking, tmp_path):
    (tmp_path / "devices" / "tessarik-cairn").mkdir(parents=True)
    (tmp_path / "devices" / "tessarik-cairn" / "index.html").write_text("nothing in it")
    assert kinds(tmp_path, looking) == {"the id of something hidden"}


def test_own_paths_are_found(looking, tmp_path):
    (tmp_path / "a.html").write_text("built from /data/desk/catalog.db today")
    assert kinds(tmp_path, looking) == {"a path on somebody's computer"}


def _exif(place):
    exif = Image.Exif()
    exif[0x0110] = "Pocket camera 3"  # Model, Exif 2.3
    if place:
        exif.get_ifd(0x8825)[1] = "N"  # GPSLatitudeRef
        exif.get_ifd(0x8825)[2] = (48.0, 8.0, 15.0)  # GPSLatitude
    return exif


@pytest.mark.parametrize("suffix", [".jpg", ".png", ".webp"])
def test_what_a_camera_noted_is_found(suffix, looking, tmp_path):
    Image.new("RGB", (20, 10)).save(tmp_path / f"bare{suffix}")
    assert leaks(tmp_path, looking) == []
    Image.new("RGB", (20, 10)).save(tmp_path / f"camera{suffix}", exif=_exif(place=False))
    assert kinds(tmp_path, looking) == {"what a camera noted"}
    Image.new("RGB", (20, 10)).save(tmp_path / f"place{suffix}", exif=_exif(place=True))
    assert "a place on the map" in kinds(tmp_path, looking)


def test_texts_of_pictures_and_what_hangs_behind_them_are_found(looking, tmp_path):
    words = PngImagePlugin.PngInfo()
    words.add_text("Comment", "from the desk")
    Image.new("RGB", (20, 10)).save(tmp_path / "text.png", pnginfo=words)
    Image.new("RGB", (20, 10)).save(tmp_path / "tail.jpg")
    with (tmp_path / "tail.jpg").open("ab") as picture:
        picture.write(b"Tessarik Cairn")
    (tmp_path / "none.png").write_bytes(b"not a picture")
    assert {(leak.file, leak.kind) for leak in leaks(tmp_path, looking)} == {
        ("none.png", "no picture, although it is called one"),
        ("tail.jpg", "more than pixels"),
        ("tail.jpg", "the name of something hidden"),
        ("text.png", "more than pixels"),
    }


@pytest.mark.parametrize(
    "text",
    [
        "Cairns and cairn-like heaps; tessarik-cairn-2; my-tessarik-cairn2",
        "Low values first; low at 2.7 dB; 12.7 and 2.71; version 12.7 of the method",
        "1.9.0.1 or 9.0.10",
        "Serial numbers never appear here, nor do MAC addresses. A serial number is a private thing.",
        "The SSID is hidden; several SSIDs; BSSID steering works",
        "2025-05-12 10:22:33 to 2025-05-12T11:22:33Z, 10-20-30-40-50",
        "sha256 0d7f5c7c3b9e4f1a9c0d7f5c7c3b9e4f1a9c0d7f5c7c3b9e4f1a9c0d7f5c7c3b",
        "https://example.org/home/index.html ../home/index.html /home page",
        "2.4 GHz, 1234.5678 and 1234.5678.9012, latency 12.125 ms, flat 0.125, platform 3.1415",
        "bench note 48, cupboard open",
        "550e8400-e29b-41d4-a716-446655440000",
    ],
)
def test_what_only_looks_alike_is_left_alone(text, looking, tmp_path):
    (tmp_path / "a.html").write_text(text)
    assert leaks(tmp_path, looking) == []


def test_letters_of_the_packed_face_are_no_name(tmp_path):
    # A name of four letters that stands by itself somewhere in the face, as packed letters have it.
    name = next(iter(re.findall(r"(?<=[+/])[A-Za-z]{4}(?=[+/])", face.rules())))
    looking = sought(HiddenWords((), (("", name),), (), ()), usual="")
    (tmp_path / "site.css").write_text(face.rules() + "p { margin: 0 }", encoding="utf-8")
    assert leaks(tmp_path, looking) == []
    (tmp_path / "picture.svg").write_text(f"<style>{face.rules_for('A')}</style>", encoding="utf-8")
    assert leaks(tmp_path, looking) == []
    (tmp_path / "site.css").write_text(f"{face.rules()}/* {name} */", encoding="utf-8")
    assert len(leaks(tmp_path, looking)) >= 1


def test_what_is_packed_is_looked_at_as_what_it_holds(tmp_path, looking):
    kind, text = PLANTED[0]
    (tmp_path / "runs.json.zip").write_bytes(zipped("runs.json", [text.encode()]))
    value = base64.b64encode(zlib.compress(json.dumps([text, "filler " * 9]).encode(), 9)).decode()
    (tmp_path / "7.js").write_text(f'data["charts/7"] = {{"a": "{value}"}};', encoding="utf-8")
    assert {(leak.file, leak.kind) for leak in leaks(tmp_path, looking)} == {("runs.json.zip", kind), ("7.js", kind)}


def test_packed_letters_are_no_name(tmp_path):
    letters = random.Random(7).choices("0123456789abcdef", k=4000)
    value = base64.b64encode(zlib.compress("".join(letters).encode(), 9)).decode()
    name = next(iter(re.findall(r"(?<=[+/])[A-Za-z]{3,4}(?=[+/])", value)))
    looking = sought(HiddenWords((), (("", name),), (), ()), usual="")
    (tmp_path / "7.js").write_text(f'data["charts/7"] = {{"a": "{value}"}};', encoding="utf-8")
    assert leaks(tmp_path, looking) == []


def test_clean_demo_has_none(demo_file, demo_site, demo_instant):
    assert leaks(demo_site, _of(demo_file, demo_instant)) == []


def test_hidden_words_of_the_demo_are_found_once_planted(demo_file, demo_site, demo_instant, tmp_path):
    # Source: data/demo/README.md: one device is under embargo at the demo's build instant.
    looking = _of(demo_file, demo_instant)
    db = open_catalog(demo_file, readonly=True)
    words = queries.hidden_words(db, "2026-06-30T12:00:00Z")
    db.close()
    assert {"quillmast-gantry", "2026-05-gantry"} <= set(words.ids)
    assert words.firmware
    assert words.notes
    site = Path(shutil.copytree(demo_site, tmp_path / "site"))
    page = site / "index.html"
    clean = page.read_text(encoding="utf-8")
    for text in (*words.ids, words.names[0][1], *words.firmware, *words.notes, *words.days):
        page.write_text(f"{clean}<!-- {text} -->", encoding="utf-8")
        assert {leak.file for leak in leaks(site, looking)} == {"index.html"}, text


def _of(catalog, instant):
    db = open_catalog(catalog, readonly=True)
    words = queries.hidden_words(db, instant.strftime("%Y-%m-%dT%H:%M:%SZ"))
    db.close()
    return sought(words, paths=[catalog], usual=own_words(templates_folder()))
