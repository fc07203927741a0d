"""A preview answers this machine only, says with every answer that it is one, follows its files, and ends cleanly."""

import http.client
import signal
import socket
import subprocess

import pytest

from tests.builder.desk.previewed import CAIRN, REVIEW, SECOND_BEFORE, TEXT, batch_with_article
from tests.builder.desk.served import command, served
from tests.builder.publishing.publishing_bench import contents


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return batch_with_article(tmp_path_factory.mktemp("serving"))


@pytest.fixture(scope="module")
def preview(small_file, place):
    with served(small_file, place, as_of=SECOND_BEFORE) as running:
        yield running


@pytest.fixture
def ask(preview):
    def asked(path, *, method="GET", host=None, **headers):
        connection = http.client.HTTPConnection("127.0.0.1", preview.port, timeout=60)
        named = {"Host": host or f"127.0.0.1:{preview.port}"} | {k.replace("_", "-"): v for k, v in headers.items()}
        connection.request(method, path, headers=named)
        answer = connection.getresponse()
        result = answer.status, dict(answer.headers), answer.read().decode()
        connection.close()
        return result

    return asked


def test_every_answer_keeps_robots_and_caches_off(ask, preview):
    for path in ("/", f"/{CAIRN}", "/nothing", "/data/runs.csv", "/~preview/reload.js"):
        _, headers, _ = ask(path)
        assert headers["x-robots-tag"] == "noindex, nofollow"
        assert headers["cache-control"] == "no-store"
        assert headers["cross-origin-resource-policy"] == "same-origin"
    status, headers, page = ask(f"/{CAIRN}", host=f"localhost:{preview.port}")
    assert (status, headers["content-type"]) == (200, "text/html; charset=utf-8")
    assert "Tessarik Cairn (hidden until" in page


@pytest.mark.parametrize(
    "host",
    [
        "bench.example",
        "bench.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "[::1]:{port}",
        "localhost.example:{port}",
        "",
    ],
)
def test_a_foreign_host_is_refused(host, ask, preview):
    # A DNS name that leads to this machine makes a browser send that name.
    status, _, said = ask("/", host=host.format(port=preview.port) or " ")
    assert (status, said) == (
        403,
        "This preview answers only to this machine, under 127.0.0.1 or localhost and its own port.",
    )


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://bench.example"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "null"},
        {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "no-cors", "Sec_Fetch_Dest": "script"},
        {"Sec_Fetch_Site": "same-site", "Sec_Fetch_Mode": "no-cors", "Sec_Fetch_Dest": "image"},
        {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate", "Sec_Fetch_Dest": "iframe"},
    ],
)
def test_what_other_pages_ask_for_is_refused(headers, ask):
    for path in ("/", "/scripts/search.js", "/~preview/events?page=index.html&shown="):
        status, _, said = ask(path, **headers)
        assert (status, said) == (403, "This preview answers only to its own pages.")


def test_own_pages_and_followed_links_are_answered(ask, preview):
    own = {"Origin": f"http://127.0.0.1:{preview.port}", "Sec_Fetch_Site": "same-origin", "Sec_Fetch_Mode": "cors"}
    assert ask("/scripts/search.js", **own)[0] == 200
    link = {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate", "Sec_Fetch_Dest": "document"}
    assert ask("/", **link)[0] == 200


def test_it_can_only_be_looked_at(ask):
    assert ask("/", method="POST")[0] == 403
    assert ask("/", method="HEAD")[0] == 200


@pytest.mark.parametrize(
    "path",
    [
        "/../catalog.db",
        "/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "/data/..%2f..%2fcatalog.db",
        "/~preview/../pyproject.toml",
        "/\\..\\x",
        "/%00",
    ],
)
def test_no_path_leaves_the_site(path, ask):
    status, _, said = ask(path)
    assert status == 404
    assert "root:" not in said


def test_only_the_loopback_address_is_bound(preview):
    # Linux answers on all of 127.0.0.0/8, so another of those addresses shows whether all were bound (RFC 1122, 3.2.1.3).
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.2", preview.port), timeout=5)


def test_a_port_that_is_taken_is_told(preview, small_file):
    ended = subprocess.run(command("--catalog", small_file, "--port", preview.port), capture_output=True, text=True)
    assert ended.returncode == 1
    assert ended.stderr == f"Port {preview.port} cannot be used: address already in use. Name another with --port.\n"


def test_an_edit_is_told_to_the_page_in_view_and_shown(ask, preview, place, small_file):
    before, kept = contents(place.parent), contents(small_file.parent)
    page = ask(f"/{REVIEW}")[2]
    shown = page.split('data-shown="', 1)[1].split('"')[0]
    listening = http.client.HTTPConnection("127.0.0.1", preview.port, timeout=60)
    listening.request("GET", f"/~preview/events?page={REVIEW}&shown={shown}")
    answer = listening.getresponse()
    assert answer.headers["content-type"].startswith("text/event-stream")
    article = place / "articles" / "cairn.md"
    draft = article.with_name("cairn.md~")  # as editors write: a file beside it takes the name
    draft.write_text(TEXT + "\nHeard once more.\n")
    draft.rename(article)
    while (line := answer.readline()).strip() in (b"", b":"):
        assert line, "the preview ended"
    assert line == b"event: changed\n"
    assert "Heard once more." in ask(f"/{REVIEW}")[2]
    listening.close()
    article.write_text(TEXT)
    # Looking writes nothing, neither beside the batch nor beside the catalogue.
    assert (contents(place.parent), contents(small_file.parent)) == (before, kept)


@pytest.mark.parametrize("with_a_page_in_view", [False, True])
def test_it_ends_at_once_and_with_130(with_a_page_in_view, small_file):
    with served(small_file, as_of=SECOND_BEFORE) as running:
        if with_a_page_in_view:
            listening = http.client.HTTPConnection("127.0.0.1", running.port, timeout=60)
            listening.request("GET", "/~preview/events?page=index.html&shown=")
            listening.getresponse().readline()
        running.process.send_signal(signal.SIGINT)
        _, said = running.process.communicate(timeout=60)  # a page in view would otherwise be waited for without end
        assert running.process.returncode == 130
        assert said.strip() == "Interrupted; nothing was changed."
