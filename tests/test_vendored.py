"""Scripts and the face of others that the project holds: unchanged, made from what is pinned, and licensed wherever they go."""

import base64
import hashlib
import io
import json
import re
import shutil
import tomllib
from html import escape
from pathlib import Path

import pytest
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from builder.charts import face
from builder.charts.converting import VL_VERSION
from builder.publishing.files.assets import libraries
from builder.shipped import templates_folder
from catalog.errors import BuildRefused

ROOT = Path(__file__).parents[1]
VEGA = Path("site_templates/vendor/vega")
FACE = Path("site_templates/vendor/bench-sans")
FOLDERS = [
    folder.relative_to(ROOT)
    for part in ("site_templates", "tests")
    for folder in sorted((ROOT / part).rglob("vendor/*"))
    if folder.is_dir()
]
LICENCE_FILES = {path.relative_to(ROOT).as_posix() for folder in FOLDERS for path in (ROOT / folder).glob("LICENSE*")}
LOCK = json.loads((ROOT / VEGA / "package-lock.json").read_text(encoding="utf-8"))["packages"]
MANIFEST = json.loads((ROOT / VEGA / "package.json").read_text(encoding="utf-8"))


def read(folder: Path, name: str) -> str:
    return (ROOT / folder / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("folder", [folder for folder in FOLDERS if folder != FACE], ids=str)
def test_bundle_is_the_one_whose_hash_stands_in_its_readme(folder):
    (bundle,) = (ROOT / folder).glob("*.js")
    (written,) = re.findall(
        rf"SHA-256 of {re.escape(bundle.name)}, .*\n\n    ([0-9a-f]{{64}})\n", read(folder, "README.md")
    )
    assert hashlib.sha256(bundle.read_bytes()).hexdigest() == written


def test_face_is_the_one_whose_hashes_stand_in_its_readme():
    written = re.findall(r"^    ([0-9a-f]{64})  (\S+)$", read(FACE, "README.md"), flags=re.MULTILINE)
    files = sorted((ROOT / FACE).glob("*.woff2"))
    assert sorted(name for _, name in written) == [path.name for path in files] == sorted(face.FILES.values())
    assert {name: digest for digest, name in written} == {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in files
    }


def test_each_folder_and_each_of_its_licences_is_named():
    assert len(FOLDERS) == 3
    text = (ROOT / "LICENSE").read_text(encoding="utf-8")
    assert [folder for folder in FOLDERS if f"{folder.as_posix()} (" not in text] == []
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["license-files"]
    assert set(listed) == {"LICENSE"} | LICENCE_FILES
    assert {Path(name).parent for name in LICENCE_FILES} == set(FOLDERS)


def test_all_that_goes_into_the_bundle_is_pinned_with_its_hash():
    wanted = MANIFEST["dependencies"] | MANIFEST["devDependencies"]
    assert [version for version in wanted.values() if not re.fullmatch(r"\d+\.\d+\.\d+", version)] == []
    root, packages = LOCK[""], {name: one for name, one in LOCK.items() if name}
    assert root["dependencies"] | root["devDependencies"] == wanted
    assert {name: packages[f"node_modules/{name}"]["version"] for name in wanted} == wanted
    # The hash identifies a package; npm's own settings choose where to fetch it.
    assert [name for name, one in packages.items() if not one["integrity"].startswith("sha512-")] == []
    assert [name for name, one in packages.items() if "resolved" in one] == []


def test_licences_are_of_what_is_pinned():
    headings = re.findall(r"^={78}\n(.+)$", read(VEGA, "LICENSES.txt"), flags=re.MULTILINE)
    named = {tuple(one.split(" ")) for line in headings for one in line.split(", ") if re.fullmatch(r"\S+ [\d.]+", one)}
    pinned = {(name.rpartition("node_modules/")[2], one["version"]) for name, one in LOCK.items() if name}
    assert len(named) > 50
    assert named <= pinned
    drawing = {pair for pair in pinned if pair[0].startswith(("vega", "d3-")) and pair[0] != "vega-typings"}
    assert drawing <= named
    assert "Apache License" in headings[-1]
    for version in ("vega", "vega-lite", "vega-interpreter"):
        assert f" {MANIFEST['dependencies'][version]}" in read(VEGA, "README.md").split("\n", 1)[0]
    assert MANIFEST["dependencies"]["vega-lite"].startswith(f"{VL_VERSION}.")


def test_site_holds_the_licences_beside_the_bundle(small_site):
    bundles = sorted(
        path for path in (small_site / "assets").glob("*.js") if not path.name.startswith(("site.", "tools."))
    )
    assert [path.name for path in bundles] == ["vega-charts-6.4.js"]
    for bundle in bundles:
        # The bundle's first line says where its licences are.
        (name,) = re.findall(r"^/\*! .* licences in (\S+) beside this file\. \*/", bundle.read_text(encoding="utf-8"))
        text = (small_site / "assets" / name).read_text(encoding="utf-8")
        assert text == read(VEGA, "LICENSES.txt")
        for owner in ("University of Washington", "Mike Bostock", "Cynthia Brewer", "END OF TERMS AND CONDITIONS"):
            assert owner in text


def test_a_bundle_without_licences_goes_into_no_site(tmp_path):
    shutil.copytree(templates_folder() / "vendor", tmp_path / "vendor")
    (tmp_path / "vendor" / "vega" / "LICENSES.txt").unlink()
    with pytest.raises(BuildRefused, match=r"The licences of vega-charts-6\.4\.js are missing"):
        libraries(tmp_path)


@pytest.mark.parametrize(("weight", "name"), face.FILES.items())
def test_face_has_the_name_that_its_licence_allows_and_every_letter_it_claims(weight, name):
    font = TTFont(ROOT / FACE / name)
    assert font["OS/2"].usWeightClass == weight
    called = {record.nameID: str(record) for record in font["name"].names}
    # The licence reserves "Source": only the copyright and the licence itself may say it.
    assert [text for number, text in called.items() if number not in (0, 7, 13, 14) and "Source" in text] == []
    assert called[1] == face.FAMILY
    kept = {*map(chr, range(0x20, 0x7F)), *map(chr, range(0xA0, 0x180)), *"−–—‘’“”…†·×±≈≠≤≥←↑→↓€‰"}
    assert {f"{letter} U+{ord(letter):04X}" for letter in kept if ord(letter) not in font.getBestCmap()} == set()


@pytest.mark.parametrize("weight", face.FILES)
@pytest.mark.parametrize(
    "letters", ["a", "Äé%ŵ½", "Waited at most (ms): 97.5 %", "".join(map(chr, range(0x20, 0x180)))]
)
def test_what_a_picture_carries_has_the_outlines_of_the_whole_face(weight, letters):
    # Read by a library that is not ours; "ffi" and others that stand for several letters are not among them.
    tag = '<g font-weight="bold">' if weight == 700 else "<g>"
    picture = f'<svg>{tag}<text x="1">{escape(letters)}</text></g><text font-weight="bold">z</text><text>z</text></svg>'
    packed = re.findall(r"font-weight:(\d+);.*?base64,([^)]+)", face.rules_for(picture))
    cut = {int(of): TTFont(io.BytesIO(base64.b64decode(content))) for of, content in packed}
    whole = TTFont(ROOT / FACE / face.FILES[weight])
    names, glyphs = cut[weight].getBestCmap(), whole.getBestCmap()
    assert names.keys() == {*map(ord, letters), ord("z")} & glyphs.keys()
    assert set(cut[1100 - weight].getBestCmap()) == {ord("z")}
    for code, name in [*names.items(), (None, ".notdef")]:
        drawn = [DecomposingRecordingPen(font.getGlyphSet()) for font in (cut[weight], whole)]
        for font, glyph, pen in zip((cut[weight], whole), (name, glyphs.get(code, ".notdef")), drawn, strict=True):
            font.getGlyphSet()[glyph].draw(pen)
        assert drawn[0].value == drawn[1].value, name
        assert cut[weight]["hmtx"][name] == whole["hmtx"][glyphs.get(code, ".notdef")], name
    cut[weight].saveXML(io.StringIO())  # every table can be read


def test_style_sheet_carries_the_face_and_the_site_its_licence(small_site):
    (sheet,) = (small_site / "assets").glob("site.*.css")
    carried = re.findall(
        r"font-weight:(\d+);.*?url\(data:font/woff2;base64,([^)]+)\)", sheet.read_text(encoding="utf-8")
    )
    assert {int(weight): base64.b64decode(content) for weight, content in carried} == {
        weight: (ROOT / FACE / name).read_bytes() for weight, name in face.FILES.items()
    }
    licence = (small_site / "assets" / "bench-sans.LICENSE.txt").read_text(encoding="utf-8")
    assert licence == read(FACE, "LICENSE.txt")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence


def test_a_face_without_its_licence_goes_into_no_site(tmp_path):
    shutil.copytree(templates_folder() / "vendor", tmp_path / "vendor")
    (tmp_path / FACE.relative_to("site_templates") / "LICENSE.txt").unlink()
    with pytest.raises(BuildRefused, match="The licence of Bench Sans is missing"):
        libraries(tmp_path)
