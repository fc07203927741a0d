"""The pure parts of the site's scripts under node, and what they work out beside what the builder works out."""

import json
import random
import re
import subprocess
from pathlib import Path

import pytest

from builder import addresses, wording
from builder.bench.bench import subject_named
from builder.pages.contents import compose
from builder.pages.my_room import room_groups
from builder.pages.prices import YEARS
from builder.pairs.pairing import line_of
from builder.publishing.checking.packed import opened
from builder.publishing.files.room_data import beside_rooms, room_data
from builder.publishing.files.scripts import data_script, in_order, page_scripts, site_script
from builder.shipped import templates_folder
from builder.windows.line_points import line_point
from catalog.errors import BuildRefused
from tests.builder.test_wording import UNBROKEN
from tests.downloads import script_value

HERE = Path(__file__).parent


def test_pure_parts_pass_their_own_tests(node):
    found = subprocess.run(
        [node, "--test", *map(str, sorted(HERE.glob("*.test.mjs")))], capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stdout
    assert "# pass 0" not in found.stdout


def test_page_and_builder_agree_on_every_line(node, contents):
    # The value is exact. The interval is rebuilt from three samples a piece, which line_points.py holds to be well
    # within one part in a hundred; at a measured place it is the builder's own.
    chance = random.Random(72)
    groups = compose(room_groups, contents)
    rooms = {}
    for group, beside in beside_rooms(contents.results, groups):
        (rooms[group.slug],) = room_data(contents.results, group, beside).values()
    asked, wanted = [], []
    for group in groups:
        for device in rooms[group.slug]["devices"]:
            line = line_of(
                contents.results.bench, subject_named(contents.results.bench, device["id"]), group, match="attenuation"
            )
            places = [chance.uniform(line.line.x[0] - 2, line.line.x[-1] + 2) for _ in range(12)]
            for x in [*places, *map(float, line.line.x)]:
                asked.append([group.slug, device["id"], x])
                wanted.append(line_point(contents.results.bench, line, x))
    told = subprocess.run(
        [node, str(HERE / "own_room.mjs")],
        input=json.dumps({"rooms": rooms, "asked": asked}),
        capture_output=True,
        text=True,
        check=True,
    )
    answers = json.loads(told.stdout)
    assert len(answers) > 1000
    assert sum(answer is None for answer in answers) > 50
    assert sum(answer is not None and answer["port"] for answer in answers) > 5
    for (group, device, x), answer, own in zip(asked, answers, wanted, strict=True):
        where = f"{device} at {x} dB in {group}"
        assert (answer is None) == (own is None), where
        if answer is None:
            continue
        assert answer["value"] == pytest.approx(own.value, abs=1e-3), where
        assert answer["bound"] == own.bound, where
        assert answer["port"] == own.at_port, where
        assert (answer["half"] is None) == (own.half_width is None), where
        if own.half_width is not None:
            assert answer["half"] == pytest.approx(own.half_width, rel=0.01, abs=1e-3), where


def test_joined_scripts_are_classic_ones(node, tmp_path):
    usual = site_script(templates_folder())
    scripts = [usual, *page_scripts(templates_folder()).values()]
    assert [script.address.split(".")[0] for script in scripts] == ["assets/site", *["assets/tools"] * 6]
    for number, script in enumerate(scripts):
        text = script.content.decode()
        assert not [line for line in text.splitlines() if line.startswith(("import ", "export "))]
        (tmp_path / f"{number}.cjs").write_text(text)
        subprocess.run([node, "--check", str(tmp_path / f"{number}.cjs")], check=True)
        for name in (
            "eval(",
            "new Function",
            "innerHTML",
            "outerHTML",
            "insertAdjacentHTML",
            "fetch(",
            "XMLHttpRequest",
        ):
            assert name not in text, name


def test_a_tool_of_one_page_weighs_on_no_other():
    usual, own = site_script(templates_folder()).content.decode(), page_scripts(templates_folder())
    tools = {
        "chooser/index.html": "device-chooser",
        "my-room/index.html": "my-room",
        "search/index.html": "site-search",
        **dict.fromkeys(map(addresses.prices, YEARS), "price-answer"),
    }
    assert set(own) == set(tools)

    def defined(text):
        return set(re.findall(r"customElements.define\(\"([a-z-]+)", text))

    for page, script in own.items():
        whole = script.content.decode()
        assert defined(whole) - defined(usual) == {tools[page]}
        assert defined(usual) < defined(whole)
        assert len(usual) < len(whole) / (1.02 if tools[page] == "price-answer" else 1.4)


def test_elements_are_short(node):
    # style.md 8: one file an element; the pure part is elsewhere. Kept readable at one screen and a half.
    for path in (templates_folder() / "js").glob("*.mjs"):
        assert len(path.read_text().splitlines()) <= 150, path.name


def test_module_comes_after_what_it_needs():
    modules = {"a.mjs": 'import { b } from "./b.mjs"\n', "b.mjs": 'import { c } from "./c.mjs"\n', "c.mjs": ""}
    assert in_order(modules) == ["c.mjs", "b.mjs", "a.mjs"]


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({}, "The scripts are missing"),
        ({"a.mjs": 'import { b } from "./b.mjs"\n'}, r"a.mjs needs b.mjs, which is missing"),
        ({"a.mjs": "const x = 1\n", "b.mjs": "function x() {}\n"}, "Two scripts use the name x"),
        ({"a.mjs": "export default 1\n"}, "a.mjs has a line that cannot be joined"),
        ({"a.mjs": 'import * as b from "./b.mjs"\n', "b.mjs": ""}, "a.mjs has a line that cannot be joined"),
    ],
)
def test_script_that_cannot_be_joined_refuses_the_build(files, words, tmp_path):
    (tmp_path / "js").mkdir()
    for name, text in files.items():
        (tmp_path / "js" / name).write_text(text)
    with pytest.raises(BuildRefused, match=words):
        site_script(tmp_path)


def test_data_cannot_leave_its_script(node, tmp_path):
    value = {"name": "</script><b>", "quote": "\"'\\\u2028", "pair": [1, None]}
    (tmp_path / "data.cjs").write_bytes(
        b"globalThis.window = {};\n" + data_script("x/y", value) + b"process.stdout.write(JSON.stringify(window))"
    )
    told = subprocess.run([node, str(tmp_path / "data.cjs")], capture_output=True, text=True, check=True)
    assert json.loads(told.stdout) == {"likelossData": {"x/y": value}}


def test_much_data_is_packed_and_read_by_the_pages(node, tmp_path):
    value = {"name": "</script>é€", "rows": [[n, n * n % 97] for n in range(600)]}
    packed, plain = data_script("x/y", value), data_script("x/y", value, pack=False)
    assert len(packed) < 0.6 * len(plain)
    assert script_value(packed) == script_value(plain) == value
    assert json.loads(opened(packed.decode()).partition(" = ")[2].strip().removesuffix(";")) == value
    # A page would run the script at its element; here it has run already.
    loading = (templates_folder() / "js" / "loading.mjs").as_uri()
    (tmp_path / "read.mjs").write_bytes(
        b"globalThis.window = globalThis;\n" + packed + b"globalThis.document = { head: { append: s => s.run() },"
        b" createElement: () => ({ addEventListener(on, run) { if (on === 'load') this.run = run } }) };\n"
        b"const { loadData } = await import('" + loading.encode() + b"');\n"
        b"const twice = [await loadData('a.js', 'x/y'), await loadData('a.js', 'x/y')];\n"
        b"process.stdout.write(JSON.stringify([twice[0] === twice[1], twice[0]]))"
    )
    run = subprocess.run([node, str(tmp_path / "read.mjs")], capture_output=True, text=True, check=True)
    assert json.loads(run.stdout) == [True, value]


def test_scripts_keep_numbers_with_their_units_as_the_builder_does(node):
    rounding = (templates_folder() / "js" / "rounding.mjs").as_uri()
    code = (
        f"import {{ unbroken }} from {rounding!r}; console.log(JSON.stringify({json.dumps([*UNBROKEN])}.map(unbroken)))"
    )
    printed = subprocess.run(
        [node, "--input-type=module", "--eval", code], capture_output=True, text=True, check=True
    ).stdout
    assert json.loads(printed) == [wording.unbroken(text) for text in UNBROKEN]
