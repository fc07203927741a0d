"""Scripts of others that the project holds: unchanged, made from what is pinned, and licensed wherever they go."""

import hashlib
import json
import re
import shutil
import tomllib
from pathlib import Path

import pytest

from builder.charts.converting import VL_VERSION
from builder.publishing.files.assets import libraries
from builder.shipped import templates_folder
from catalog.errors import BuildRefused

ROOT = Path(__file__).parents[1]
VEGA = Path("site_templates/vendor/vega")
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


@pytest.mark.parametrize("folder", FOLDERS, ids=str)
def test_bundle_is_the_one_whose_hash_stands_in_its_readme(folder):
    (bundle,) = (ROOT / folder).glob("*.js")
    (written,) = re.findall(
        rf"SHA-256 of {re.escape(bundle.name)}, .*\n\n    ([0-9a-f]{{64}})\n", read(folder, "README.md")
    )
    assert hashlib.sha256(bundle.read_bytes()).hexdigest() == written


def test_each_folder_and_each_of_its_licences_is_named():
    assert len(FOLDERS) == 2
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
    bundles = sorted(path for path in (small_site / "assets").glob("*.js") if not path.name.startswith("site."))
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
