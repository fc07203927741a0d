"""A part of a public copy is the whole copy less rows, whatever is asked, and holds all of what is asked."""

from __future__ import annotations

from collections import Counter
from dataclasses import astuple, replace

import pytest

from builder.bench.bench import load_bench
from catalog import schema
from catalog.visibility import Asked, cells_tested, links_tested, public_copy, public_part
from tests.catalog.visibility.test_hidden_device import TOKEN, plant

IN_PART = {"run", "station", "longrun", "digest", "source"}
LEFT_AT_HOME = {"thinned", "extra"}
NUMBER = {"run": "run_id", "station": "station_id", "longrun": "longrun_id"}
LINK = ("client-a", "5", 80, "down")

QUESTIONS = {
    "nothing": Asked(),
    "a device": Asked(devices=frozenset({"dome"})),
    "a device and nobody": Asked(devices=frozenset({"sill", "nobody"})),
    "two devices": Asked(devices=frozenset({"cairn", "porch"})),
    "a client": Asked(clients=frozenset({"client-a"})),
    "another client": Asked(clients=frozenset({"client-c"})),
    "a link": Asked(links=frozenset({LINK})),
    "a mix": Asked(mixes=frozenset({"mix-p"})),
    "under load": Asked(under_load=True),
}


def seen_at_instant(path, as_of):
    """What `links_tested` gives while a part is made, with what `cells_tested` says of each."""
    tested = {}

    def look(part):
        links = links_tested(part)
        assert len(set(links)) == len(links)
        tested.update(cells_tested(part, {(one.client, one.band, one.width_mhz, one.direction) for one in links}))
        assert set(tested) == set(links)
        assert set(cells_tested(part, {LINK})) == {
            one for one in links if (one.client, one.band, one.width_mhz, one.direction) == LINK
        }

    public_part(path, Asked(), as_of=as_of, then=look)
    return tested


@pytest.fixture
def mixed(bench, fill_public, fill_hidden):
    """Public and hidden things in several batches, with rows that both brought, mixes, long runs, and a withdrawn run."""
    b = fill_public(bench)
    bench.client(b, "client-b")
    bench.put("settings", b, settings_id="low", number=9, power="low")
    for device in ("dome", "sill"):
        for repeat in (1, 2, 3):
            bench.put("run", b, device_id=device, client_id="client-b", attenuation_db=70.0, repeat=repeat)
    bench.put("run", b, device_id="dome", attenuation_db=66.0, settings_id="low")
    lost = bench.put("run", b, device_id="sill", attenuation_db=71.0, source_row=77)
    bench.put("workload", b, workload_id="evening")
    bench.own_role(b, "evening", "pages-9", target_ms=1000.0)
    station = {"workload_id": "evening", "role_id": "pages-9"}
    for device, mix in (("dome", "mix-p"), ("sill", "mix-q")):
        number = bench.put("station", b, device_id=device, mix_id=mix, **station)
        bench.put("digest", owner="station", owner_id=number, figure="made", value=9.0)
        bench.put("longrun", b, device_id=device)
    fill_hidden(bench)
    later = bench.batch("later")
    bench.device(later, "porch")
    bench.put("firmware", later, device_id="porch", version="2.0", public=0)
    again = bench.put("run", later, device_id="porch", attenuation_db=61.0)
    bench.again(b, "run", again)
    for firmware in ("1.0", "2.0"):
        bench.put("run", later, device_id="porch", firmware=firmware, attenuation_db=64.0)
    bench.put("embargo", later, device_id="porch", subject="firmware", version="2.0", until_utc="2025-06-10T13:00:00Z")
    bench.put("withdrawal", later, what="run", id="public/runs/77", from_date="2025-06-01")
    assert lost
    return bench


def rows_of(db):
    """Table -> its rows as sets of (column, value); what numbers a run, station or long run says which one instead."""
    tables = {}
    names = {}
    for table, number in NUMBER.items():
        rows = list(db.query(f"SELECT * FROM {table}"))
        names |= {(table, row[number]): frozenset(_without(row, number)) for row in rows}
    for table in schema.TABLES:
        rows = []
        for row in db.query(f"SELECT * FROM {table}"):
            if table in NUMBER:
                del row[NUMBER[table]]
            elif "owner" in row:
                row["owner_id"] = names[row["owner"], row["owner_id"]]
            elif row.get("run_id") is not None:
                row["run_id"] = names["run", row["run_id"]]
            rows.append(frozenset(row.items()))
        assert len(set(rows)) == len(rows), table
        tables[table] = set(rows)
    return tables


def _without(row, column):
    return [(name, value) for name, value in row.items() if name != column]


def chosen(rows, **values):
    return {row for row in rows if all(dict(row)[name] == value for name, value in values.items())}


@pytest.mark.parametrize("asked", QUESTIONS.values(), ids=QUESTIONS)
@pytest.mark.parametrize("instant", ["before", "at"])
def test_it_is_the_whole_copy_less_rows(mixed, asked, instant, request):
    as_of = request.getfixturevalue(instant)
    whole, part = rows_of(public_copy(mixed.path, as_of=as_of)), rows_of(public_part(mixed.path, asked, as_of=as_of))
    for table in schema.TABLES:
        if table in LEFT_AT_HOME:
            assert not part[table]
        elif table in IN_PART:
            assert part[table] <= whole[table], table
        elif table == "correction":  # of a run that is not asked for it does not say which
            assert {frozenset(_without(dict(r), "run_id")) for r in part[table]} == {
                frozenset(_without(dict(r), "run_id")) for r in whole[table]
            }
        else:
            assert part[table] == whole[table], table
    for device in asked.devices:
        for table in ("run", "station", "longrun"):
            assert chosen(part[table], device_id=device) == chosen(whole[table], device_id=device)
    for client in asked.clients:
        assert chosen(part["run"], client_id=client) == chosen(whole["run"], client_id=client)
    for link in asked.links:
        keys = dict(zip(("client_id", "band", "width_mhz", "direction"), link, strict=True))
        assert chosen(part["run"], **keys) == chosen(whole["run"], **keys)
    for mix in asked.mixes:
        assert chosen(part["station"], mix_id=mix) == chosen(whole["station"], mix_id=mix)
    if asked.under_load:
        assert (part["station"], part["longrun"]) == (whole["station"], whole["longrun"])


@pytest.mark.parametrize("instant", ["before", "at"])
def test_what_is_asked_after_a_look_is_as_if_it_had_been_asked_at_once(mixed, instant, request):
    as_of = request.getfixturevalue(instant)
    pairs = [
        (Asked(), Asked(clients=frozenset({"client-a"}))),
        (Asked(devices=frozenset({"sill"})), Asked(links=frozenset({LINK}))),
        (Asked(devices=frozenset({"porch"})), Asked(mixes=frozenset({"mix-p"}), under_load=True)),
        (Asked(clients=frozenset({"client-b"})), Asked(devices=frozenset({"dome", "cairn"}))),
        (Asked(clients=frozenset({"client-a"})), None),
    ]
    for first, more in pairs:
        looked = []

        def then(part, first=first, more=more, looked=looked):
            looked.extend(public_part(mixed.path, first, as_of=as_of).conn.iterdump())
            assert list(part.conn.iterdump()) == looked
            return more

        names = ("devices", "clients", "links", "mixes") if more is not None else ()
        at_once = replace(first, **{name: getattr(first, name) | getattr(more, name) for name in names})
        at_once = replace(at_once, under_load=more is not None and more.under_load)
        grown = public_part(mixed.path, first, as_of=as_of, then=then)
        assert list(grown.conn.iterdump()) == list(public_part(mixed.path, at_once, as_of=as_of).conn.iterdump())
        assert looked


def test_what_every_answer_needs_is_in_it(mixed, at):
    whole, part = rows_of(public_copy(mixed.path, as_of=at)), rows_of(public_part(mixed.path, Asked(), as_of=at))
    assert chosen(part["run"], device_id="sill") == chosen(whole["run"], device_id="sill")  # the reference device
    names = ("device_id", "unit_id", "firmware", "settings_id")
    tested = [{tuple(dict(row)[name] for name in names) for row in rows["run"]} for rows in (part, whole)]
    assert tested[0] == tested[1]
    assert len(tested[0]) > 4
    assert len(part["run"]) < len(whole["run"])


@pytest.mark.parametrize(
    "asked", [*QUESTIONS.values(), Asked(mixes=frozenset({f"mix-c{TOKEN}"}))], ids=[*QUESTIONS, "a hidden mix"]
)
def test_no_byte_of_what_is_hidden_is_in_any_part(bench, fill_public, fill_hidden, before, asked):
    fill_public(bench)
    plant(bench, fill_hidden)
    hidden = Asked(frozenset({f"cairn{TOKEN}"}), frozenset({f"client-c{TOKEN}"}), asked.links, asked.mixes, True)
    for question in (asked, hidden):
        for then in (None, lambda _: hidden):
            content = public_part(bench.path, question, as_of=before, then=then).conn.serialize()
            assert b"Tessarik" in content
            assert TOKEN.encode() not in content
    assert TOKEN not in repr(seen_at_instant(bench.path, before))


def test_what_was_tested_are_the_cells_of_visible_runs_with_a_value(mixed, before, at):
    again = mixed.batch("again")
    mixed.put("settings", again, settings_id="dim", number=12, power="low")  # equal to "low", which came first
    mixed.put("run", again, device_id="dome", attenuation_db=66.0, settings_id="dim", repeat=2)
    for repeat, level in enumerate((-50.4, -49.6, -51.0), start=1):
        mixed.put("run", again, device_id="sill", level_dbm=level, repeat=repeat)
    for instant in (before, at):
        tested = seen_at_instant(mixed.path, instant)
        bench = load_bench(public_copy(mixed.path, as_of=instant))
        cells = Counter(
            (c.device, c.client, c.driver, c.settings, *astuple(c.group)[1:])
            for c in (*bench.cells, *bench.cells_under)
            if c.mean is not None
        )
        assert tested == cells
        assert any(row.settings == "low" and number == 1 for row, number in tested.items())
