"""publish, changes, rollback and preview from the command line: what they print, and their exit codes."""

import json
import shutil

import pytest
from click.testing import CliRunner

from builder.cli import main

AS_OF = ["--as-of", "2025-09-20T12:00:00Z", "--jobs", "1"]


@pytest.fixture
def run(small_file, tmp_path, monkeypatch):
    shutil.copy(small_file, tmp_path / "catalog.db")
    monkeypatch.chdir(tmp_path)

    def called(*words):
        result = CliRunner().invoke(main, list(words))
        return result.exit_code, result.stdout, result.stderr

    return called


def test_publish_change_and_roll_back(run):
    code, out, _ = run("publish", "public", *AS_OF)
    assert code == 0
    assert "as of 2025-09-20T12:00:00Z." in out
    assert "rollback" not in out
    code, out, _ = run("changes", "--since", "public", "--as-of", "2025-09-21T12:00:00Z")
    assert (code, out.splitlines()[-1]) == (
        0,
        "0 public figures differ from what was published as of 2025-09-20T12:00:00Z.",
    )
    code, out, _ = run("publish", "public", "--as-of", "2025-09-21T12:00:00Z", "--jobs", "1")
    assert code == 0
    assert "public.earlier; `likeloss rollback public` brings it back." in out
    code, out, _ = run("rollback", "public")
    assert code == 0
    assert "public shows the earlier version again" in out
    assert "publish again as soon as you can" in out


def test_an_unexplained_change_ends_with_1_and_is_in_the_document(run):
    from pathlib import Path

    from catalog.connection import open_catalog

    assert run("publish", "public", *AS_OF)[0] == 0
    db = open_catalog(Path("catalog.db"), readonly=False)
    db.execute("UPDATE price SET amount = 1")
    db.close()
    code, out, _ = run("changes", "--since", "public", "--as-of", "2025-09-21T12:00:00Z", "--json")
    document = json.loads(out)
    assert code == 1
    assert [c["now"] for c in document["changes"]] == ["1 EUR"]
    assert document["unexplained"]
    code, _, err = run("publish", "public", "--as-of", "2025-09-21T12:00:00Z", "--jobs", "1")
    assert code == 1
    assert "nothing in the catalogue says why" in err


@pytest.mark.parametrize(
    ("words", "code", "sentence"),
    [
        (["publish", "public", "--catalog", "none.db"], 3, "There is no catalogue at none.db"),
        (["changes", "--catalog", "none.db"], 3, "There is no catalogue at none.db"),
        (["preview", "--catalog", "none.db", "--port", "0"], 3, "There is no catalogue at none.db"),
        (["preview", "none", "--port", "0"], 1, "none does not exist. A batch is a folder that holds batch.toml"),
        (["preview", "--port", "70000"], 2, "Invalid value for '--port'"),
        (["changes"], 1, "site holds no published site to compare with"),
        (["rollback", "public"], 1, "there is no published site"),
        (["rollback", "public", "--catalog", "none.db"], 3, "It has to be asked what is hidden or withdrawn now"),
        (["publish"], 2, "Missing argument 'DIR'"),
        (["publish", "public", "--as-of", "2199-01-01T00:00:00Z"], 1, "still to come"),
    ],
)
def test_refusals_are_sentences(words, code, sentence, run):
    ended, _, err = run(*words)
    assert ended == code
    assert sentence in err
