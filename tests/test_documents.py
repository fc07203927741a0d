"""What is not documented does not exist: verbs in the README, help for every option, commands that run."""

import json
import re
import shutil
import textwrap
from contextlib import closing
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from PIL import Image

from builder.cli import main
from builder.cli.program import SUMMARIES, VERBS
from builder.metrics import METRICS
from builder.pages.contents import load_contents
from builder.publishing.changing.figures import record_of
from builder.traces.definitions import COMPARED, FIGURES, MEANINGS
from builder.traces.tracing import KINDS
from catalog import queries
from catalog.checking.idempotence import IDENTITIES
from catalog.checking.results import BUILDERS
from catalog.checking.thing_keys import RECIPES
from catalog.connection import open_catalog
from catalog.digesting.logs import FAILED, FINISHED
from catalog.reading.format import OUTCOME_WORDS, TABLES
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import ReadingMap, read_map
from catalog.reading.thing_sheets import THING_SHEETS
from catalog.row_numbers import place_text
from catalog.units import UNITS
from catalog.visibility import public_copy
from tests.desk.bench_days import bench_day, dates_of, losses_of, type_in, write_logs
from tests.workbooks import xlsx

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_every_verb_is_in_the_readme_and_has_help(verb):
    assert f"`likeloss {verb}" in README
    assert SUMMARIES[verb]
    command = main.get_command(click.Context(main), verb)
    assert command.help
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            described = parameter.help or isinstance(parameter.type, click.Choice)
            assert described, f"{verb} {parameter.name} has no help"


def test_summaries_and_verbs_are_the_same_list():
    assert list(VERBS) == list(SUMMARIES)


def test_readme_opens_with_the_job():
    first = README.split("\n\n")[1]
    assert not first.startswith("#")
    assert 40 <= len(first.split()) <= 160


def test_every_kind_of_figure_is_defined_and_traced(demo_file, demo_instant):
    """What the site prints under an id stands on the method page, with its unit and source, and can be traced."""
    copy = public_copy(demo_file, as_of=demo_instant)
    printed = {figure.split("~")[0] for figure in record_of(load_contents(copy, as_of=demo_instant, sizes={})).figures}
    assert printed <= set(MEANINGS)
    assert set(KINDS) == set(MEANINGS)
    # A link is asked for on the command line, never a page's own; the demo has no long run of requests.
    assert set(MEANINGS) - printed == {"link", "longwaits"}
    assert {name for names in MEANINGS.values() for name in names} <= set(FIGURES)
    assert not set(METRICS) & set(COMPARED)


@pytest.mark.parametrize("figure", COMPARED.values(), ids=lambda figure: figure.name)
def test_every_figure_of_comparisons_is_whole(figure):
    assert figure.meaning.endswith(".")
    assert figure.source
    assert figure.unit in {*UNITS, "1"}
    assert figure.compute.__doc__
    assert figure.definition >= 1
    # Beside the figures of a kind there are those that stand without an id: cautions, counts, tests of setups.
    without_id = {
        "bridge test",
        "order of a workload",
        "difference of on-time shares",
        "time until a collapse",
        "collapses",
    }
    assert (figure.name in {name for names in MEANINGS.values() for name in names}) != (figure.name in without_id)


def test_every_published_table_has_a_source_and_a_test():
    tables = sorted(path.stem for path in (ROOT / "tests" / "published").glob("*.csv"))
    sources = (ROOT / "tests" / "published" / "SOURCES.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"`(\w+)\.csv`", sources)) == tables
    tests = "".join(path.read_text(encoding="utf-8") for path in sorted((ROOT / "tests").rglob("test_*.py")))
    assert [table for table in tables if f'"{table}"' not in tests and f'"{table}.csv"' not in tests] == []


def test_ci_runs_the_readme_test_command():
    marked = README.split("<!-- test command -->", 1)[1].split("```", 2)[1]
    assert "pytest" in marked


def test_the_first_batch_of_the_readme_works_as_written(tmp_path, monkeypatch):
    """The walk-through's files and commands, taken from the README and run in its order."""
    monkeypatch.chdir(tmp_path)
    _first_batch(tmp_path / "first")
    said = {}
    for line in _walk_through()[-1].splitlines():
        words = line.split("#", 1)[0].split()
        result = CliRunner().invoke(main, words[1:])
        assert result.exit_code == 0, f"{line}: {result.output}"
        said[words[1]] = result.stdout
    assert "9 new" in said["check"]
    assert "805 Mbit/s" in said["show"]
    assert "1 run broke off" in said["show"]
    assert "300 Mbit/s is left up to at least 70 dB" in said["reach"]  # by hand 73.3: 621 at 65, 235.5 at 75
    assert (tmp_path / "site" / "index.html").is_file()


def test_a_bench_day_of_the_readme_is_planned_measured_and_entered(demo_file, tmp_path, monkeypatch):
    """Its commands in their order; the planned rows get invented logs in between."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(demo_file, "catalog.db")
    said = []
    for mark in ("plan", "plan, measured"):
        for line in _block_after(mark).splitlines():
            result = CliRunner().invoke(main, line.split()[1:])
            assert result.exit_code == 0, f"{line}: {result.output}"
            said.append(result.stdout)
        if mark == "plan":
            day = tmp_path / "bench-day"
            landings = bench_day(day, losses=losses_of(demo_file), dates=dates_of(day), seed=5)
            write_logs(day, landings)
            type_in(day, landings)
    assert "a difference of 6" in said[0] or "a difference of 5" in said[0]  # at most the 60 that were asked for
    assert "No number of repeats shows 20 Mbit/s" in said[1]
    assert "Ready to enter" in said[3]
    promised = re.search(r"a difference of (\d+) Mbit/s would be shown, likely (\d+)–(\d+)", said[2])
    realised = json.loads(
        CliRunner().invoke(main, [*_block_after("plan, measured").splitlines()[-1].split()[1:], "--json"]).stdout
    )["groups"][0]["half_width"]
    assert int(promised[2]) * 0.8 <= realised <= int(promised[3]) * 1.2


def test_the_watch_of_the_readme_begins_with_the_batch_it_names(monkeypatch, tmp_path):
    served = []
    monkeypatch.setattr("builder.watching.serving.serve", lambda watch, on, *, ready: served.append(watch) or ready())
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(main, [*_block_after("watch").split()[1:], "--port", "0"])
    assert result.exit_code == 0, result.output
    assert [watch.batch for watch in served] == [Path("bench-day")]
    assert "look at http://127.0.0.1:" in result.output
    served[0].close()


def test_the_other_parts_of_the_readme_work_as_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    _first_batch(tmp_path / "first")
    more = tmp_path / "more"
    (more / "images").mkdir(parents=True)
    Image.new("RGB", (640, 480), "grey").save(more / "images" / "inside.png")
    (more / "batch.toml").write_text(_block_after("other parts").removeprefix("toml").lstrip())
    places = README.split("<!-- other parts -->", 1)[1].split("```csv", 1)[1].split("```", 1)[0]
    (more / "spots.csv").write_text(places.lstrip())
    for words in (["enter", "first"], ["enter", "more"], ["show", "my-laptop"], ["build", "--out", "site"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
        if words[0] == "show":
            assert "812" in result.stdout
    assert "four antenna leads" in (tmp_path / "site" / "devices" / "my-access-point" / "index.html").read_text()
    assert "55.5" in (tmp_path / "site" / "houses" / "home" / "index.html").read_text()


def test_the_settings_of_the_readme_work_as_written(tmp_path, monkeypatch):
    """The example under "Settings", in the walk-through's batch with some of its runs under them."""
    monkeypatch.chdir(tmp_path)
    section = README.split("### Settings\n", 1)[1].split("\n### ", 1)[0]
    declared, command = (block.split("\n", 1)[1] for block in section.split("```")[1::2])
    first = tmp_path / "first"
    _first_batch(first)
    (first / "batch.toml").write_text((first / "batch.toml").read_text() + f"\n{declared}")
    head, *rows = (first / "runs.csv").read_text().splitlines()
    under = [f"{row.replace(' 10:', ' 12:')},links-off" for row in rows]
    (first / "runs.csv").write_text("\n".join([f"{head},settings", *(f"{row}," for row in rows), *under]) + "\n")
    for words in (["enter", "first"], command.split()[1:]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    assert "Model 1 with one link at a time (unit A" in result.stdout
    assert "There is no spot at which Model 1 as usually tested and Model 1 with one link at a time" in result.stdout


def test_the_walk_through_begins_where_the_program_is_found_and_in_a_folder_of_its_own(tmp_path):
    """Typed as it stands, in a folder with an environment, by somebody whose home is *tmp_path*."""
    import os
    import subprocess
    import sys

    environment = tmp_path / "checkout" / ".venv" / "bin"
    environment.mkdir(parents=True)
    (environment / "activate").write_text(f'PATH="{Path(sys.executable).parent}:$PATH"\n', encoding="utf-8")
    begin = _walk_through()[0]
    result = subprocess.run(
        ["/bin/sh", "-ec", f"{begin}\npwd -P\nlikeloss --version"],
        cwd=tmp_path / "checkout",
        env={"HOME": str(tmp_path), "PATH": os.defpath},
        capture_output=True,
        text=True,
    )
    assert result.returncode == 0, result.stderr
    folder, version = result.stdout.splitlines()
    assert folder == str((tmp_path / "my-bench").resolve())
    assert version.startswith("likeloss ")


def test_the_verbs_that_take_json_and_an_instant_are_those_the_readme_names():
    asking, _, more = (
        README.split("Asking verbs take `--json`: ", 1)[1].split("\n", 1)[0].partition(". All of them but ")
    )
    without, _, others = more.partition(", which look at the whole catalogue")
    named, whole, building = (
        re.findall(r"`([a-z]+)`", text) for text in (asking, without, others.rpartition("so do")[2])
    )

    def verbs_with(option):
        return {verb for verb in VERBS if option in _options(verb)}

    assert set(named) == verbs_with("--json")
    assert (set(named) - set(whole)) | set(building) == verbs_with("--as-of")


def _options(verb):
    command = main.get_command(click.Context(main), verb)
    return {name for parameter in command.params for name in parameter.opts}


def _dedented(block):
    return textwrap.dedent(block.split("\n", 1)[1])


def _guide_rows(heading):
    """Rows of the table under a heading of the batch guide, cells as text."""
    section = README.split(f"### {heading}\n", 1)[1].split("\n### ", 1)[0]
    lines = [line for line in section.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[1:]]


def test_the_guide_names_every_table_and_column_and_which_are_required():
    documented = {}
    for stem, _, columns, _ in _guide_rows("Tables"):
        names = columns.split(", ")
        documented[stem.strip("`")] = {name.strip("*"): name.startswith("**") for name in names}
    assert documented == {
        table.stem: {column.name: column.required for column in table.columns} for table in TABLES.values()
    }


class _Asked(dict):
    """A row that knows nothing and remembers what it was asked for."""

    def __missing__(self, name):
        self[name] = None


DB_NAMES = {
    "house_id": "house",
    "device_id": "device",
    "unit_id": "unit",
    "client_id": "client",
    "session_id": "session",
    "settings_id": "settings",
    "mix_id": "mix",
    "role_id": "role",
    "at_utc": "when",
    "raised_by": "by",
}


def test_the_guide_says_what_tells_rows_apart():
    tables = {"spots": "spot_reading"} | {stem: db_table for stem, (db_table, _, _) in BUILDERS.items()}
    for stem, _, _, key in _guide_rows("Tables"):
        name = stem.strip("`")
        row = _Asked()
        IDENTITIES[tables[name]].key(row)
        columns = {column.name for column in TABLES[name].columns}
        asked = {DB_NAMES.get(column, column) for column in row} & columns
        assert asked == set(re.findall(r"\w+", key)) & columns, name


def test_the_guide_names_every_outcome():
    words = {}
    for outcome, others, _ in _guide_rows("Outcomes"):
        words |= {word.casefold(): outcome for word in (outcome, *filter(None, others.split(", ")))}
    assert words == dict(OUTCOME_WORDS)


def _block_after(mark):
    return _dedented(README.split(f"<!-- {mark} -->", 1)[1].split("```", 2)[1])


def _walk_through():
    """What is typed to begin, the two files of the batch, and the commands."""
    section = README.split("## Your first batch in ten minutes", 1)[1].split("\n## ", 1)[0]
    return [_dedented(block) for block in section.split("```")[1::2]]


def _first_batch(folder):
    _, toml, table, _ = _walk_through()
    folder.mkdir()
    (folder / "batch.toml").write_text(toml, encoding="utf-8")
    (folder / "runs.csv").write_text(table, encoding="utf-8")


def test_the_workbook_of_the_guide_enters_as_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    sheets = {}
    for sheet in _block_after("workbook").removeprefix("text").strip().split("# ")[1:]:
        title, *rows = sheet.strip().splitlines()
        sheets[title] = [row.split(" | ") for row in rows]
    (tmp_path / "bench.xlsx").write_bytes(xlsx(sheets))
    for words in (["check", "bench.xlsx"], ["enter", "bench.xlsx"], ["show", "tessarik-shale-2"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    assert "7.10" in result.stdout
    begun = CliRunner().invoke(main, ["new", "next.xlsx"])
    assert begun.exit_code == 0
    assert "next.xlsx: every sheet with its headings. Fill it, then: likeloss check next.xlsx" in begun.stdout


def test_the_guide_names_every_sheet_of_things():
    section = README.split("### A workbook as a batch", 1)[1].split("\n### ", 1)[0]
    assert [title for title in THING_SHEETS if f"`{title}`" not in section] == []


def test_the_mix_of_the_guide_enters_as_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first = tmp_path / "first"
    _first_batch(first)
    with (first / "batch.toml").open("a", encoding="utf-8") as file:
        file.write("\n" + _block_after("roles"))
    table = README.split("<!-- roles -->", 1)[1].split("```csv", 1)[1].split("```", 1)[0].strip()
    (first / "stations.csv").write_text(table + "\n", encoding="utf-8")
    (first / "logs").mkdir()
    for name, ms in (("film", 100), ("backup", 9000)):
        rows = "".join(f"{2 * n},{ms + n},finished\n" for n in range(450))
        (first / "logs" / f"{name}.csv").write_text(f"t_s,ms,outcome\n{rows}", encoding="utf-8")
    for words in (["enter", "first"], ["roles", "my-access-point"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    assert "Not tested: nobody played this role in the run." in result.stdout


def test_the_long_run_of_the_guide_enters_as_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first = tmp_path / "first"
    _first_batch(first)
    (first / "longruns.csv").write_text(_block_after("long run of requests").removeprefix("csv").lstrip())
    heading, *rows = _block_after("log of a long run").removeprefix("csv").split()
    # The log goes on: its rows again and again, the failure but once in 400, for ten hours.
    waits = [row.split(",", 1)[1] for row in rows]
    night = [waits[n % 4 if n % 400 == 2 else n % 2] for n in range(36_000)]
    (first / "logs").mkdir()
    (first / "logs" / "pings.csv").write_text(
        "\n".join([heading, *(f"{n},{wait}" for n, wait in enumerate(night))]) + "\n"
    )
    for words in (["enter", "first"], ["longrun", "my-access-point"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    assert "5 GHz, 80 MHz: finished" in result.stdout
    # By hand: 17,910 times 11.4, so that half are 12.9 or less, and 90 of 36,000 not answered.
    assert (
        "Over 10 h and 36000 requests: half were answered within 12.9 ms, 95 of 100 within 12.9 ms and 99 of 100 within 12.9 "
        "ms; 0.3 % took longer than 100 ms or had no answer; longest outage 1 s, 90 requests not answered."
    ) in result.stdout
    assert "nor which direction was slow" in result.stdout


def test_the_summaries_of_the_guide_enter_as_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    _first_batch(tmp_path / "first")
    then = tmp_path / "then"
    then.mkdir()
    head = 'format = 1\nid = "then"\ntitle = "Then"\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n'
    (then / "batch.toml").write_text(head + _block_after("summaries"), encoding="utf-8")
    section = README.split("<!-- summaries -->", 1)[1]
    (then / "runs.csv").write_text(section.split("```csv", 1)[1].split("```", 1)[0].strip() + "\n", encoding="utf-8")
    for verb in (["enter", "first"], ["enter", "then"]):
        assert CliRunner().invoke(main, verb).exit_code == 0
    shown = CliRunner().invoke(main, ["show", "my-access-point"]).output
    assert "55 dB: 790 Mbit/s (n 3, s 11.0, mean of 3 as noted then)" in shown
    assert "65 dB: 604 Mbit/s (n 3, mean of 3 as noted then)" in shown


def test_the_guide_names_every_kind_of_role_and_its_keys():
    documented = {kind.strip("`"): set(keys.split(", ")) for kind, keys, _ in _guide_rows("Several clients at once")}
    assert documented == {kind: set(keys) for kind, keys in RECIPES.items()}


def test_the_reading_map_of_the_guide_reads_its_log(tmp_path):
    plan = read_map("maps/bench.toml", _block_after("reading map").encode())
    assert isinstance(plan, ReadingMap), plan
    content = README.split("```json", 1)[1].split("```", 1)[0].encode()
    log = read_mapped_log("logs/a.json", content, plan, instant=lambda text: "none here")
    # By hand: the first 3 s are warm-up, -1 is not measured, w5 is another link.
    assert log.t_us.tolist() == [3_000_000, 5_000_000]
    assert log.rate_bit_s.tolist() == [640_000_000, 660_000_000]


def test_the_map_of_requests_of_the_guide_reads_its_log():
    plan = read_map("maps/requests.toml", _block_after("reading map of requests").encode())
    assert isinstance(plan, ReadingMap), plan
    content = _block_after("log of requests").removeprefix("csv").lstrip().encode()
    log = read_mapped_log("logs/b.csv", content, plan, instant=lambda text: "none here")
    assert log.t_us.tolist() == [round(s * 1e6) for s in (86_399.25, 86_400.25, 86_401.25)]
    assert log.latency_us.tolist() == [50_000, -1, 31_000]
    assert log.outcome.tolist() == [FINISHED, FAILED, FINISHED]


def test_the_sheet_of_the_guide_is_read_through_its_map(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first = tmp_path / "first"
    _first_batch(first)
    (first / "runs.csv").unlink()
    with (first / "batch.toml").open("a", encoding="utf-8") as file:
        file.write('\n[tables]\nruns = "old:sheets/2019.csv"\n')
    for folder in ("maps", "sheets"):
        (first / folder).mkdir()
    (first / "sheets" / "2019.csv").write_text(_block_after("cross table"), encoding="utf-8")
    proposed = CliRunner().invoke(main, ["map", "first/sheets/2019.csv"])
    assert proposed.exit_code == 0, proposed.output
    assert "10 rows read" in proposed.output
    (first / "maps" / "old.toml").write_text(_block_after("map of a sheet"), encoding="utf-8")
    for words in (["enter", "first"], ["show", "my-access-point"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    # By hand: the mean of 812.5 and 798, and the run that broke off.
    assert "download  55 dB: 805 Mbit/s (n 2" in result.stdout
    assert "upload  65 dB: 512 Mbit/s (n 1" in result.stdout
    assert "first/runs/5.D" in README
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert {place_text(run.source_row): run.throughput_mbit_s for run in queries.runs(db)}["5.D"] == 512


def test_every_map_of_the_guide_is_run():
    maps = [
        block
        for block in README.split("```toml")[1:]
        if 'format = "' in block.split("```")[0] and "kind" in block.split("```")[0]
    ]
    assert len(maps) == README.count("<!-- reading map") == 2


def test_the_answer_of_the_guide_settles_what_check_asks(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    _first_batch(tmp_path / "first")
    table = tmp_path / "first" / "runs.csv"
    table.write_text(table.read_text().replace("10:00,55,", "10:00,55?,"))
    held = CliRunner().invoke(main, ["check", "first"])
    assert held.exit_code == 1
    assert "'?', which follows the number, is no unit" in held.stdout
    (tmp_path / "first" / "answers.toml").write_text(_block_after("answers"), encoding="utf-8")
    settled = CliRunner().invoke(main, ["check", "first"])
    assert settled.exit_code == 0, settled.stdout
    assert "9 new" in settled.stdout
    assert "Look at" not in settled.stdout


def test_the_corrections_of_the_guide_are_applied_built_and_published(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    _first_batch(tmp_path / "first")
    (tmp_path / "corrections.csv").write_text(_block_after("corrections"), encoding="utf-8")
    for words in (["enter", "first"], ["correct", "corrections.csv"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    assert "3 corrections applied" in result.stdout
    shown = CliRunner().invoke(main, ["show", "my-access-point"]).stdout
    assert "Model 1 Plus" in shown
    assert "772 Mbit/s" in shown  # 712, 798 and 805, by hand
    for words in (["build"], ["publish", "public"], ["publish", "public"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    assert "set aside" in (tmp_path / "public" / "index.html").read_text(encoding="utf-8")


def test_the_corrected_article_of_the_guide_replaces_the_one_that_was_entered(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    _first_batch(tmp_path / "first")
    article = (
        '\n[[article]]\nid = "my-review"\ntitle = "A review"\npublished = "2025-05-20T10:00:00Z"\nfile = "review.md"\n'
        'devices = ["my-access-point"]\n'
    )
    with (tmp_path / "first" / "batch.toml").open("a", encoding="utf-8") as file:
        file.write(article)
    (tmp_path / "first" / "review.md").write_text("It is quick.\n", encoding="utf-8")
    (tmp_path / "review-2.md").write_text("It is quick near by.\n", encoding="utf-8")
    (tmp_path / "corrections.csv").write_text(_block_after("corrected article"), encoding="utf-8")
    for words in (["enter", "first"], ["correct", "corrections.csv"], ["build"]):
        result = CliRunner().invoke(main, words)
        assert result.exit_code == 0, result.output
    assert "It is quick near by." in (tmp_path / "site" / "reviews" / "my-review" / "index.html").read_text("utf-8")


def test_the_pictures_of_the_readme_are_there_and_light():
    # Made by .pictures/take.py from the demo's site.
    shown = re.findall(r"!\[[^\]]{20,}\]\(([^)]+\.png)\)", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert len(shown) == 2
    for name in shown:
        assert 10_000 < (ROOT / name).stat().st_size < 200_000, name
        with Image.open(ROOT / name) as picture:
            assert picture.width == 1280
