"""Long lists of a JSON document in pieces, held against the whole document parsed at once."""

import json
import random

import orjson
import pytest

from catalog.reading import json_pieces
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import read_map


@pytest.fixture
def _small_pieces(monkeypatch):
    """Pieces so small that every kind of text is cut through."""
    monkeypatch.setattr(json_pieces, "_SCANNED", 7)
    monkeypatch.setattr(json_pieces, "_PIECE", 5)


def value(chance, depth=0):
    kind = chance.randrange(8)
    if kind < 2 and depth < 3:
        return [value(chance, depth + 1) for _ in range(chance.randrange(4))]
    if kind < 4 and depth < 3:
        names = ["a", "b", '"', "\\", "[", "x,y"]
        return {chance.choice(names): value(chance, depth + 1) for _ in range(chance.randrange(4))}
    return chance.choice([1, 2.5, None, True, "s", 'q"', "\\", "[{,", 'é\\"]'])


def at_once(body, steps):
    """The list at member names, None where there is none, and "invalid"."""
    try:
        here = orjson.loads(body)
    except orjson.JSONDecodeError:
        return "invalid"
    for step in steps:
        here = here.get(step) if isinstance(here, dict) else None
    return here if isinstance(here, list) else None


@pytest.mark.usefixtures("_small_pieces")
@pytest.mark.parametrize("seed", range(20))
def test_pieces_are_the_list_or_nothing(seed):
    chance = random.Random(seed)
    compared = 0
    for _ in range(300):
        text = json.dumps(value(chance), ensure_ascii=chance.random() < 0.5, indent=chance.choice([None, 1]))
        if chance.random() < 0.4:
            place = chance.randrange(len(text) + 1)
            text = text[:place] + chance.choice('[]{},:"\\ 1') + text[place + chance.randrange(2) :]
        for steps in ((), ("a",), ("a", "b")):
            pieces = json_pieces.elements(text.encode(), steps)
            if pieces is None:
                continue
            try:
                read = [item for piece in pieces for item in piece]
            except orjson.JSONDecodeError:
                read = "invalid"
            assert read == at_once(text.encode(), steps), (text, steps)
            compared += 1
    assert compared > 30


@pytest.mark.usefixtures("_small_pieces")
def test_a_document_that_breaks_off_names_its_line():
    plan = 'kind = "throughput"\nformat = "json"\nrows = "$.s[*]"\n[column.t_s]\nfrom = "$.t"\n[column.bytes]\nfrom = "$.b"\n'
    text = '{"s": [\n{"t": 0, "b": 1},\n{"t": 1, "b": 1},\n{"t": 2, "b": oops}]}'
    (problem,) = read_mapped_log("log", text.encode(), read_map("m", plan.encode()), instant=str)
    assert "(line 4)" in str(problem)
