"""The page of a watch answers this machine only, writes only what was shown, and refuses the forms of yesterday."""

import http.client
import re
import subprocess
import sys
from dataclasses import replace
from html import unescape
from urllib.parse import urlencode

import pytest

from builder.watching import forms
from builder.watching.jobs import REPEATED
from builder.watching.states import OtherLog, Writing
from tests.builder.watching.made_up import STATES, day, midday, place, served, writing_of, wrong


@pytest.fixture
def site():
    with served(midday()) as running:
        yield running


class Visitor:
    """A browser without scripts, as far as it matters: it fills in the form of a page and follows redirections."""

    def __init__(self, site):
        self.site = site
        self.look()

    def ask(self, method, path, body=None, **headers):
        connection = http.client.HTTPConnection("127.0.0.1", self.site.port, timeout=60)
        named = {"Host": f"127.0.0.1:{self.site.port}"} | {
            name.replace("_", "-"): text for name, text in headers.items()
        }
        connection.request(method, path, body=body, headers={k: v for k, v in named.items() if v is not None})
        answer = connection.getresponse()
        result = answer.status, dict(answer.headers), answer.read().decode()
        connection.close()
        return result

    def look(self, path="/"):
        status, self.headers, self.html = self.ask("GET", path)
        assert status == 200
        return self.html

    def fields(self):
        tags = re.findall(r"<input[^>]*>", self.html)
        named = [(re.search(r' name="([^"]*)"', tag), re.search(r' value="([^"]*)"', tag)) for tag in tags]
        return {unescape(name[1]): unescape(value[1]) if value else "" for name, value in named if name}

    def press(self, act, typed=None, **headers):
        """Press a button; returns the status, and looks at where it leads."""
        form = self.fields() | (typed or {}) | {"act": act}
        own = {"Origin": f"http://127.0.0.1:{self.site.port}", "Sec_Fetch_Site": "same-origin"} | headers
        kind = "application/x-www-form-urlencoded"
        status, answered, text = self.ask("POST", "/", urlencode(form), Content_Type=kind, **own)
        if status == 303:
            self.where = answered["location"]
            self.look(self.where.partition("#")[0])
        else:
            self.html = text
        return status


def level(number):
    return forms.field_name("level_dbm", place(number))


def buttons(html, does):
    return re.findall(rf'value="({does}[^"]*)"', html)


def test_the_page_reads_in_the_order_of_a_bench(site):
    html = Visitor(site).html
    order = ["Gave 310 Mbit/s", "They are kbit/s", "Run <strong>Bobbin, B4", "Say whether"]
    order += ["Ten more minutes", "Is <code>logs/measure_17.csv"]
    order += ["Show the lines", "So far the tests cannot tell", '"rowheader">1. Bobbin', '"rowheader">24. Plinth']
    assert [html.index(text) for text in order] == sorted(html.index(text) for text in order)


def test_the_picture_is_a_table_too(site):
    html = Visitor(site).html
    assert '805 Mbit/s<span class="interval">95 %: 742–862</span>' in html
    assert "<td>1 of 3</td>" in html


@pytest.mark.parametrize("name", STATES)
def test_every_state_is_a_page(name):
    state = STATES[name]()
    with served(state) as running:
        html = Visitor(running).html
    assert all(row.what in html for row in state.rows)
    assert all(one.text in unescape(html) for one in forms.senses(state))
    assert len(re.findall(r'id="row-[0-9a-f]+"', html)) == len(state.rows)
    keys = re.findall(r' id="([^"]+)"', html)
    assert len(keys) == len(set(keys))


def test_names_and_sentences_are_escaped():
    state = midday()
    rows = (replace(state.rows[0], what="<b>A&B</b>", log='x"><script>.csv'), *state.rows[1:])
    with served(replace(state, title="A<b", rows=rows, others=(OtherLog("<i>.csv", None, ()),))) as running:
        html = Visitor(running).html
    assert "<b>A&B" not in html
    assert "<script>.csv" not in html
    assert "<i>.csv" not in html


def test_no_answer_is_kept_and_no_foreign_script_runs(site):
    visitor = Visitor(site)
    for path in ("/", "/~watch/watch.js", "/~watch/site.css"):
        status, headers, _ = visitor.ask("GET", path)
        assert status == 200
        assert headers["cache-control"] == "no-store"
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
    assert not re.findall(r"<script(?![^>]*src=)|style=|\son\w+=", visitor.html)
    assert visitor.ask("GET", "/~watch/../pyproject.toml")[0] == 404


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "bench.example"},
        {"Origin": "https://bench.example"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "null"},
        {"Origin": None},
        {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate", "Sec_Fetch_Dest": "document"},
        {"Sec_Fetch_Site": "same-site"},
        {"Sec_Fetch_Site": "none"},
    ],
)
def test_forms_of_other_pages_are_refused(headers, site):
    visitor = Visitor(site)
    visitor.press("show")
    assert visitor.press("write", {}, **headers) == 403
    assert site.watch.asked == []


def test_another_name_of_this_machine_is_another_origin(site):
    visitor = Visitor(site)
    host = f"localhost:{site.port}"
    assert visitor.press("show", Host=host) == 403  # the page of 127.0.0.1
    visitor.look()
    assert visitor.press("show", Host=host, Origin=f"http://{host}") == 303


def test_other_methods_and_bodies_are_refused(site):
    visitor = Visitor(site)
    own = {"Origin": f"http://127.0.0.1:{site.port}"}
    assert visitor.ask("PUT", "/", **own)[0] == 403
    assert visitor.ask("POST", "/~watch/events", **own)[0] == 405
    assert visitor.ask("POST", "/", b"x" * (forms.MOST_BYTES + 1), **own)[0] == 413
    assert visitor.ask("POST", "/", b"\xff=1", **own)[0] == 400
    assert visitor.ask("POST", "/", "&".join(f"a{n}=" for n in range(forms.MOST_FIELDS + 1)), **own)[0] == 400
    assert visitor.ask("HEAD", "/")[0] == 200


def test_lines_are_shown_and_then_written(site):
    visitor = Visitor(site)
    assert "hollendry-bobbin,wrenlet-u2" not in visitor.html
    assert buttons(visitor.html, "write") == []
    visitor.press("show", {level(8): " -51 "})
    assert visitor.where.endswith("#writing")
    assert "logs/08-b3-down-2.csv,2026-11-30T09:24,-51," in visitor.html
    assert '<span class="note">device,client,spot,direction,log,when,level_dbm,note</span>\nhollendry' in visitor.html
    assert "\n\n" not in re.search(r"<pre.*?</pre>", visitor.html, re.DOTALL)[0]
    assert "Write these 2 lines" in visitor.html
    visitor.press("write")
    assert "Written: 2 lines of desk/runs.csv." in visitor.html
    typed = {place(8): {"level_dbm": "-51"}}
    assert site.watch.asked == [("type_in", typed), ("write", "8-9", typed)]
    assert site.site.drafts == {}
    visitor.press("write")  # of a page without lines
    assert "There is nothing to write any more" in visitor.html
    assert len(site.watch.asked) == 2


def test_a_double_click_does_one_thing_and_says_what(site):
    first, second = Visitor(site), Visitor(site)
    first.press("show")
    second.look("/?" + first.where.partition("?")[2].partition("#")[0])
    for visitor in (first, second):
        visitor.press("write")
        assert "Written: 2 lines of desk/runs.csv." in visitor.html
    for visitor in (first, second):
        visitor.press(f"give|{forms.log_key('logs/measure_17.csv')}|{forms.place_text(place(10))}")
        assert "nothing was done" not in visitor.html
    assert [one[0] for one in site.watch.asked] == ["write", "give"]
    # Lines that are due again, since somebody took the file away, are written again.
    site.turn(midday())
    first.press("show")
    first.press("write")
    assert site.watch.asked[-1][0] == "write"


def test_what_was_not_shown_is_not_written(site):
    visitor = Visitor(site)
    visitor.press("show")
    # One more log has landed since.
    rows = tuple(replace(row, state="landed", at="10:30") if row.order == 10 else row for row in site.watch.state.rows)
    site.turn(replace(site.watch.state, rows=rows, writing=writing_of(rows, {})))
    assert visitor.press("write") == 303
    assert "Nothing was written; the lines are shown anew." in visitor.html
    assert "logs/10-b4-down-1.csv,2026-11-30T10:30" in visitor.html
    # Something was typed after the lines were shown.
    visitor.press("write", {level(9): "-60"})
    assert "what you typed since then is in it now" in visitor.html
    assert "2026-11-30T09:27,-60," in visitor.html
    assert [one[0] for one in site.watch.asked] == ["type_in"]
    visitor.press("write")
    assert [one[0] for one in site.watch.asked] == ["type_in", "write"]


def test_rows_that_are_in_question_are_said_to_be_left_out(site):
    visitor = Visitor(site)
    assert "left out" not in visitor.html
    state = site.watch.state
    site.turn(replace(state, writing=replace(state.writing, rows=state.writing.rows[:1])))
    assert "One row that has landed is left out" in visitor.look()
    site.turn(replace(state, writing=Writing()))
    assert "<p>Nothing.</p>" in visitor.look()
    assert "2 rows that have landed are left out" in visitor.html


def test_a_refusal_of_the_watch_is_said(site):
    visitor = Visitor(site)
    visitor.press("show")
    site.watch.refuses = ("desk/runs.csv cannot be written: read-only file system.",)
    visitor.press("write")
    assert "read-only file system" in visitor.html
    assert "Written" not in visitor.html


def test_a_page_of_an_earlier_start_does_nothing_and_keeps_what_is_typed(site):
    visitor = Visitor(site)
    visitor.press("show")
    assert visitor.press("write", {"token": "yesterday", level(8): "-51"}) == 409
    assert "of an earlier start of the watch" in visitor.html
    assert site.watch.asked == []
    assert visitor.fields()[level(8)] == "-51"  # and is sent with the next click
    visitor.press("show")
    assert site.watch.typed == {place(8): {"level_dbm": "-51"}}


def test_a_tab_left_alone_does_not_undo_what_another_typed(site):
    left, used = Visitor(site), Visitor(site)
    used.press("keep", {level(8): "-51"})
    left.press("keep", {level(9): "-60"})  # its field of row 8 is empty
    assert site.watch.typed == {place(8): {"level_dbm": "-51"}, place(9): {"level_dbm": "-60"}}
    used.look()
    used.press("keep", {level(8): ""})  # emptied on purpose
    assert site.watch.typed[place(8)] == {"level_dbm": ""}


def test_other_logs_are_given_a_row_by_one_click(site):
    visitor = Visitor(site)
    visitor.press(buttons(visitor.html, "give")[0])
    assert site.watch.asked == [("give", "logs/measure_17.csv", place(10))]
    key = forms.log_key("logs/measure_17.csv")
    visitor.press(f"choose|{key}", {f"row~{key}": forms.place_text(place(12))})
    assert site.watch.asked[-1] == ("give", "logs/measure_17.csv", place(12))
    before = len(site.watch.asked)
    for act, row in ((f"choose|{key}", place(3)), ("choose|0000", place(12)), ("give|x", None), ("settle|1|2|3", None)):
        visitor.press(act, {f"row~{key}": forms.place_text(row)} if row else {})
    visitor.press(f"give|{key}|12~runs~../../etc/passwd")
    assert len(site.watch.asked) == before


def test_questions_are_settled_by_one_click_or_a_typed_answer(site):
    asks = wrong(day()[8], "The note names no one.", grave=False, asks=("Ada",), column="note", free=True)
    site.turn(replace(site.watch.state, senses=(asks,)))
    visitor = Visitor(site)
    key = forms.sense_key(asks)
    visitor.press(f"settle|{key}|0")
    visitor.press(f"settle|{key}|free", {f"answer~{key}": "Grace "})
    answered = [("settle", place(9), "off-siblings", text, "note") for text in ("Ada", "Grace")]
    assert site.watch.asked == answered
    visitor.press(f"settle|{key}|free")
    assert "The answer was empty" in visitor.html
    visitor.press(f"settle|{key}|7")
    visitor.press(f"settle|{forms.sense_key(replace(asks, text='Who?'))}|0")
    assert "This is not asked any more" in visitor.html
    assert site.watch.asked == answered


def test_an_answer_about_a_noted_row_can_be_taken_back_until_it_is_written(site):
    asks = wrong(day()[2], "Another log lies there.", asks=("It was repeated at 09:29",), column="when")
    asks = replace(asks, code=REPEATED)
    writing = Writing("answers", {"desk/answers.toml": "[[answer]]\n"}, {"desk/answers.toml": ("[[answer]]\n",)})
    site.turn(replace(midday(), senses=(asks,), writing=writing))
    visitor = Visitor(site)
    visitor.press(f"settle|{forms.sense_key(asks)}|0")
    (back,) = buttons(visitor.html, "back")
    visitor.press(back)
    assert site.watch.asked[-1] == ("take_back", place(3), REPEATED, "when")
    assert buttons(visitor.html, "back") == []
    visitor.press(f"settle|{forms.sense_key(asks)}|0")
    site.turn(replace(midday(), writing=Writing()))  # as once it is written
    assert buttons(visitor.look(), "back") == []


def test_a_click_can_be_taken_back(site):
    visitor = Visitor(site)
    visitor.press(buttons(visitor.html, "give")[0])
    visitor.press(buttons(visitor.html, "settle")[0])
    assert "logs/measure_17.csv is of Bobbin, B4, download, repeat 1." in visitor.html
    assert "“They are Mbit/s”, to “The values look like kbit/s.”" in visitor.html
    given, answered = buttons(visitor.html, "back")
    visitor.press(answered)
    visitor.press(given)
    expected = [("take_back", place(9), "units-unsure", "throughput"), ("give", "logs/measure_17.csv", None)]
    assert site.watch.asked[-2:] == expected
    assert buttons(visitor.html, "back") == []
    visitor.press(given)
    assert "This is written already, or taken back" in visitor.html
    assert len(site.watch.asked) == 4


def test_what_was_said_last_stands_first(site):
    later = wrong(day()[1], "The role never sent.")
    site.turn(replace(midday(), senses=(later,)))
    html = Visitor(site).html
    assert (
        html.index("The role never sent.") < html.index("Gave 310 Mbit/s") < html.index("The values look like kbit/s.")
    )


def test_a_page_in_view_is_told(site):
    visitor = Visitor(site)
    shown = re.search(r'data-shown="([^"]+)"', visitor.html)[1]
    listening = http.client.HTTPConnection("127.0.0.1", site.port, timeout=60)
    listening.request("GET", f"/~watch/events?shown={shown}")
    answer = listening.getresponse()
    assert answer.headers["content-type"].startswith("text/event-stream")
    site.turn(replace(site.watch.state, writing=Writing()))
    assert answer.readline() == b"event: changed\n"
    site.end()
    answer.read()  # comes to its end
    listening.close()


def test_who_serves_loads_nothing_that_computes():
    program = (
        "import sys; from builder.watching import serving, watch; from tests.builder.watching.made_up import midday, served\n"
        "import http.client\n"
        "with served(midday()) as site:\n"
        "    asked = http.client.HTTPConnection('127.0.0.1', site.port); asked.request('GET', '/')\n"
        "    assert asked.getresponse().status == 200\n"
        "print(*sorted({'numpy', 'pandas', 'scipy', 'sqlite_utils', 'altair', 'fontTools'} & set(sys.modules)))"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert run.stdout == "\n"
