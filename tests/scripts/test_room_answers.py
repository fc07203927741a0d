"""What my room answers: the demo's own sentences, and that there is an answer to every level from every device."""

import json
import re
import subprocess
from pathlib import Path

import orjson
import pytest

from builder import wording
from builder.bench.bench import subject_named
from builder.pages.contents import compose
from builder.pages.my_room import room_groups
from builder.pairs.compare import compare
from builder.publishing.files.pair_data import pair_blocks, pair_data, pair_words
from builder.publishing.files.room_data import beside_rooms, room_data

HERE = Path(__file__).parent
LAPTOP = "wrenlet-u2~5~80~down~tcp~8~WPA3-Personal"
ITSELF = "wrenlet-u2~D-7"


@pytest.fixture(scope="module")
def answers(node, contents):
    """(group, state) of each question -> what the page's own modules make of the files that the build writes."""
    results = contents.results
    rooms = {}
    for group, beside in beside_rooms(results, compose(room_groups, contents)):
        (rooms[group.slug],) = room_data(results, group, beside).values()
    parts = {key: data for block in pair_blocks(results) for key, data in pair_data(results, block).items()}

    def ask(questions=None):
        given = {"rooms": rooms, "words": pair_words(), "parts": parts, "asked": questions}
        told = subprocess.run(
            [node, str(HERE / "every_room.mjs")],
            input=orjson.dumps(given, option=orjson.OPT_SERIALIZE_NUMPY),
            capture_output=True,
            check=True,
        )
        return json.loads(told.stdout)

    return ask


def test_every_level_from_every_device_has_an_answer(answers):
    every = answers()
    assert len(every) > 10_000
    for one in every:
        where = f"{one['state']} in {one['group']}: {one['text']}"
        # A number of Mbit/s, or the plain words that nothing gives more.
        assert re.search(r"\d Mbit/s|Nothing tested here gives more|nothing tested here gives more", one["text"]), where
        assert not re.search(r"undefined|NaN|null|\bInfinity", json.dumps(one)), where
        for device, text, interval, kind, words, _ in one["given"]:
            assert re.search(r"\d", text), (where, device)
            assert interval, (where, device)
            assert kind == "subject" or words or kind in ("untold", "less"), (where, device)
    beyond = [one for one in every if one["text"].startswith("Nothing was tested within 12 dB of there.")]
    assert 0 < len(beyond) < len(every) / 2


# The values are the demo's; the sentences were read aloud. Each is what two of the findings asked for: -67 and -60 dBm with
# a two-antenna laptop, read by the tested client or another, from a tested access point or another.
SENTENCES = {
    ("polmerre-rondel-4", ITSELF, "-44"): (
        "More than your Rondel 4: Cupola|, by 84 Mbit/s over 48–92 dB, likely 28–140. Tarn, Rondel 6, Lantern, Plinth and Skerry "
        "cannot be told apart from yours."
    ),
    ("polmerre-rondel-4", ITSELF, "-67"): (
        "More than your Rondel 4: Cupola|, by 84 Mbit/s over 48–92 dB, likely 28–140. Plinth, Tarn, Lantern, Ridge, Rondel 6 and "
        "Skerry cannot be told apart from yours. Nothing was tested at 93.3 dB: 1.4 dB nearer, at 91.9 dB, your Rondel 4 "
        "gave 189 Mbit/s and Cupola 208."
    ),
    ("polmerre-rondel-4", "other", "-67"): (
        "More than your Rondel 4: Cupola|, by 84 Mbit/s over 48–92 dB, likely 28–140. Ridge, Rondel 6, Tarn, Lantern, Plinth and "
        "Skerry cannot be told apart from yours. Of 87.3–99.3 dB only 87.3–91.9 dB were tested, and the answer is for "
        "that part."
    ),
    ("polmerre-rondel-4", "other", "-60"): (
        "More than your Rondel 4: Cupola|, by 84 Mbit/s over 48–92 dB, likely 28–140. Ridge, Rondel 6, Tarn, Lantern, Skerry and "
        "Plinth cannot be told apart from yours. Of 80.3–92.3 dB only 80.3–91.9 dB were tested, and the answer is for "
        "that part."
    ),
    ("polmerre-rondel-4", ITSELF, "-95"): (
        "Nothing was tested within 12 dB of there.| The nearest place is 29.4 dB nearer, at 91.9 dB; there your Rondel "
        "4 gave 189 Mbit/s and Cupola 208. Over all that was tested, more than your Rondel 4: Cupola, by 84 Mbit/s "
        "over 48–92 dB, likely 28–140. Plinth, Tarn, Lantern, Ridge, Rondel 6 and Skerry cannot be told apart from yours."
    ),
    ("tessarik-cupola", ITSELF, "-44"): (
        "Nothing tested here gives more than your Cupola|, as far as these tests can tell. Tarn and Rondel 6 cannot be "
        "told apart from yours."
    ),
    ("~20", "other", "-67"): (
        "Cupola gives most|: between 208 and 502 Mbit/s. Ridge, Rondel 6 and Tarn cannot be told apart from it. Of "
        "81–93 dB only 81–91.9 dB were tested, and the answer is for that part."
    ),
    ("", "other", "-95"): (
        "Nothing was tested within 12 dB of there.| Cupola gave most at the nearest tested place, 17.1 dB nearer, at "
        "91.9 dB: 208 Mbit/s, likely 128–288. Tarn, Ridge and Rondel 6 cannot be told apart from it."
    ),
}


def test_sentences_of_a_set_of_choices(answers):
    asked = [[LAPTOP, {"device": d, "client": c, "level": level}] for d, c, level in SENTENCES]
    for choice, one in zip(SENTENCES, answers(asked), strict=True):
        assert one["text"] == SENTENCES[choice], choice


def test_every_difference_says_over_what_it_is_the_pairs_own_range(answers, contents):
    # The oracle is the comparison itself; the page works the range out of the two lines.
    (one,) = answers([[LAPTOP, {"device": "polmerre-rondel-4", "client": ITSELF, "level": "-44"}]])
    bench = contents.results.bench
    (group,) = [g for g in contents.results.groups if g.slug == LAPTOP]
    over = {device: words for device, _, _, kind, _, words in one["given"] if kind not in ("subject", "open")}
    assert len(over) > 5
    for device, words in over.items():
        a, b = (subject_named(bench, name) for name in sorted((device, "polmerre-rondel-4")))
        (figure,) = [f for f in compare(bench, a, b, match="attenuation") if f.group == group]
        assert words == f"over {'–'.join(wording.number(end, 0) for end in figure.range)} dB", device


def test_where_the_reader_sits_is_said(answers):
    said = [
        one["said"]
        for one in answers(
            [
                [LAPTOP, {"device": "polmerre-rondel-4", "client": ITSELF, "level": "-44"}],
                [LAPTOP, {"device": "polmerre-rondel-4", "client": "other", "level": "-44 dBm"}],
                [LAPTOP, {"device": "~23", "level": "-44"}],
                [LAPTOP, {"device": "", "level": "-44"}],
                [LAPTOP, {"know": "birchgate~B5"}],
                [LAPTOP, {"know": "loss", "loss": "91"}],
            ]
        )
    ]
    assert said == [
        "−44 dBm from your Rondel 4 means a loss of about 70.3 dB. About as much was lost at B5 (one brick wall, 70.7 "
        "dB) and S5 (two timber walls, one bookcase, 72.5 dB).",
        "−44 dBm from your Rondel 4 means a loss of 64.3–76.3 dB, since two adapters may read 6 dB apart.",
        "−44 dBm from an access point that sends 23 dBm means a loss of 61–73 dB, since two adapters may read 6 dB apart.",
        "−44 dBm from an access point that sends 20 to 30 dBm means a loss of 58–80 dB, since two adapters may read 6 dB "
        "apart.",
        "70.7 dB was measured at B5 of these tests: one brick wall.",
        "About as much was lost at B8 (wooden floor, two brick walls, 91.8 dB) and S8 (chimney breast, foil-backed "
        "outer wall, 91.9 dB).",
    ]


def test_the_windows_own_ranking_says_who_may_be_first_in_it(answers, contents):
    names = {"middle": "middle", "near": "near", "far": "far"}
    group = next(g for g in contents.results.groups if g.slug == LAPTOP)
    for window, one in zip(names, answers([[LAPTOP, {"know": window}] for window in names]), strict=True):
        ranked = contents.results.ranking(group, window).ranked
        kinds = {device: kind for device, _, _, kind, *_ in one["given"]}
        assert kinds[ranked[0].subject.device] == "subject"
        for entry in ranked[1:]:
            assert (kinds[entry.subject.device] == "untold") == (entry.best == 1), (window, entry.subject.device)
