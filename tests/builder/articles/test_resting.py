"""What an article rests on: the devices it names, and for some kinds of binding every device that was tested alike."""

import pytest

from builder.articles.bindings import KINDS
from builder.articles.resting import ANY_CLIENT, may_rest_on, resting_of
from catalog.records import Article

LINK = "client wrenlet-u2, band 5, width 80, direction down"
# A binding of each kind, and what it looks at beside the devices it names: every device ranked with that client, or every
# device with several clients at once. By what each kind says in the README.
BINDINGS = {
    "under": (f"under {LINK}", (), ()),
    "value": (f"value a-box, at 62, {LINK}", ("a-box",), ()),
    "difference": (f"difference a-box b-box, {LINK}", ("a-box", "b-box"), ()),
    "ratio": (f"ratio a-box b-box, {LINK}", ("a-box", "b-box"), ()),
    "verdict": (f"verdict a-box b-box, {LINK}", ("a-box", "b-box"), ()),
    "rank": (f"rank a-box, window far, {LINK}", ("a-box",), ("wrenlet-u2",)),
    "reach": (f"reach a-box, rate 200, {LINK}", ("a-box",), ()),
    "firmware": ("firmware a-box", ("a-box",), ()),
    "tested": ("tested a-box", ("a-box",), ()),
    "price": ("price a-box, region eu", ("a-box",), ()),
    "heat": ("heat a-box, face cover", ("a-box",), ()),
    "power": ("power a-box, state idle", ("a-box",), ()),
    "feature": ("feature a-box, name mlo", ("a-box",), ()),
    "share": ("share a-box, workload evening, role call", ("a-box",), ()),
    "waits": ("waits a-box, workload evening, role call, at 95", ("a-box",), ()),
    "stalls": ("stalls a-box, workload evening, role film", ("a-box",), ()),
    "brokeoff": ("brokeoff a-box, workload evening", ("a-box",), ()),
    "coped": ("coped a-box, workload evening", ("a-box",), ()),
    "claim": (f"claim a-box leads b-box, {LINK} : it gives more", ("a-box", "b-box"), ()),
    "lines": (f"lines a-box b-box, {LINK}", ("a-box", "b-box"), ()),
    "ranking": ("ranking window far", (), (ANY_CLIENT,)),
    "mix": ("mix a-box, workload evening", ("a-box",), ()),
    "role": ("role evening, role call", (), "load"),
    "longrun": ("longrun a-box", ("a-box",), ()),
    "parts": ("parts a-box b-box", ("a-box", "b-box"), ()),
    "ports": ("ports a-box", ("a-box",), ()),
    "ceiling": ("ceiling wrenlet-u2", (), ()),
    "leads all": (f"claim a-box leads all, window far, {LINK} : it leads", ("a-box",), ("wrenlet-u2",)),
}


def article(*bindings):
    text = "\n\n".join(f"(= {one} =)" for one in bindings)
    return Article(
        "walk",
        "batch.toml",
        1,
        article_id="walk",
        title="A walk",
        published_utc="2025-01-01T00:00:00Z",
        path="walk.md",
        text=text,
    )


def test_every_kind_is_here():
    assert set(BINDINGS) == {*KINDS, "leads all"}


@pytest.mark.parametrize("kind", BINDINGS)
def test_a_kind_rests_on_what_it_names_and_on_what_it_is_placed_among(kind):
    text, devices, beyond = BINDINGS[kind]
    one = article(text)
    resting = resting_of(one)
    load = beyond == "load"
    assert set(devices) <= resting.devices
    assert resting.ranked == (frozenset() if load else frozenset(beyond))
    assert resting.under_load == load
    for changed, bears in ((frozenset({"c-box"}), bool(beyond)), (frozenset(), False), (None, True)):
        assert resting.rests_on(changed) == bears
        assert may_rest_on(one, changed) or not bears  # the short way never leaves out what the long one would read
    for device in devices:
        assert resting.rests_on(frozenset({device}))
        assert may_rest_on(one, frozenset({device}))


def test_conditions_that_hold_from_here_on_name_the_client():
    assert resting_of(article(f"under {LINK}", "rank a-box, window far")).ranked == {"wrenlet-u2"}
