"""A bench day that nobody had, as states of a watch, and a watch that does with them what a click asks for."""

import asyncio
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import uvicorn

from builder import shipped
from builder.desk.guarding import socket_of
from builder.watching.serving import WatchSite
from builder.watching.states import DayRow, OtherLog, Sense, SoFar, State, Writing

SPOTS = ("B1", "B2", "B3", "B4", "B5", "B6")
TITLE = "Hollendry Bobbin beside Tessarik Plinth, 30 November 2026"
PICTURE = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 836 240" width="52.25rem" class="chart" role="img"'
    ' aria-label="Bobbin falls from 812 to 240 Mbit/s."><title>How does it fade behind walls?</title>'
    '<path d="M52 40L300 60L560 120L800 200" stroke="var(--series-1, #332288)" stroke-width="2.25" fill="none"/>'
    '<path d="M52 220H810" stroke="var(--line, #857B6B)"/></svg>'
)


def place(number):
    return "runs.csv", "runs", number + 1


def day(planned=24, *, noted=0, landed=0, held=0):
    """Rows of a day: first those that are noted, then those that landed, one or more held, and open ones."""
    rows = []
    for number in range(1, planned + 1):
        spot, device = SPOTS[(number - 1) // 3 % len(SPOTS)], "Bobbin" if number <= planned // 2 else "Plinth"
        state = "noted" if number <= noted else "landed" if number <= noted + landed else "open"
        if noted + landed < number <= noted + landed + held:
            state = "held"
        done = state in ("noted", "landed")
        rows.append(
            DayRow(
                place=place(number),
                order=number,
                what=f"{device}, {spot}, download, repeat {(number - 1) % 3 + 1}",
                state=state,
                log=f"logs/{number:02}-{spot.lower()}-down-{(number - 1) % 3 + 1}.csv",
                at=f"{9 + number // 20:02}:{number * 3 % 60:02}" if done else "",
                value=f"{812 - 7 * number} Mbit/s" if done else "",
                typed={} if state == "noted" else {"level_dbm": "", "note": ""},
            )
        )
    return tuple(rows)


def wrong(row, text="Gave 310 Mbit/s where its two siblings gave 586 and 592.", *, grave=True, **more):
    return Sense(
        code="off-siblings", text=text, remedy=f"Repeat {row.what}.", grave=grave, place=row.place, log=row.log, **more
    )


def with_senses(rows, number, *senses):
    return tuple(replace(row, senses=(*row.senses, *senses)) if row.order == number else row for row in rows)


def writing_of(rows, typed):
    landed = [row for row in rows if row.state == "landed"]
    if not landed:
        return Writing()
    lines = tuple(
        f"hollendry-bobbin,wrenlet-u2,{row.what.split(', ')[1]},down,{row.log},2026-11-30T{row.at},"
        f"{typed.get(row.place, {}).get('level_dbm', '')},{typed.get(row.place, {}).get('note', '')}"
        for row in landed
    )
    header = "device,client,spot,direction,log,when,level_dbm,note"
    return Writing(
        key="-".join(str(row.order) for row in landed),
        texts={"desk/runs.csv": "\n".join((header, *lines, ""))},
        added={"desk/runs.csv": tuple(f"{line}\n" for line in lines)},
        rows=tuple(row.place for row in landed),
    )


def empty_day():
    return State(TITLE, rows=day())


def midday():
    rows = day(noted=7, landed=2)
    off = wrong(rows[7])
    asks = Sense(
        code="units-unsure",
        text="The values look like kbit/s.",
        grave=False,
        place=rows[8].place,
        log=rows[8].log,
        asks=("They are Mbit/s", "They are kbit/s"),
        column="throughput",
    )
    rows = with_senses(with_senses(rows, 8, off), 9, asks)
    others = (OtherLog("logs/measure_17.csv", rows[9].place, tuple(row.place for row in rows[9:])),)
    so_far = SoFar(
        picture=PICTURE,
        line="Two spots are measured: 805 Mbit/s at B1, 781 at B2.",
        verdict="So far the tests cannot tell Bobbin and Plinth apart: a difference of 71 or more would have shown.",
        promise="The plan promised 41 Mbit/s; with this scatter it comes to 44.",
        cells=tuple(
            {"device": "Bobbin", "session": "2026-11-30", "spot": spot, "done": done, "planned": 3}
            | ({"value": "805", "interval": "95 %: 742–862"} if done else {"value": "", "interval": ""})
            for spot, done in (("B1", 3), ("B2", 1), ("B3", 0))
        ),
        pays_next="Ten more minutes bring most at B4: three downloads there take the half-width from 71 to 58 Mbit/s.",
    )
    return State(TITLE, rows=rows, others=others, writing=writing_of(rows, {}), so_far=so_far)


def many_wrong():
    rows = day(noted=7, landed=11)
    for number in range(3, 19):
        rows = with_senses(rows, number, wrong(rows[number - 1], f"The level is {number} dB off what B2 lets through."))
    for number in range(2, 14):
        rows = with_senses(
            rows, number, wrong(rows[number - 1], "The log begins an hour before it landed.", grave=False)
        )
    promise = "The plan promised 41 Mbit/s; with this scatter it comes to 66, which is 1.6 times as much."
    state = replace(midday(), rows=rows, writing=writing_of(rows, {}))
    return replace(state, so_far=replace(state.so_far, promise=promise, behind=True))


def all_done():
    return replace(midday(), rows=day(noted=24), others=(), writing=Writing())


def cannot_be_read():
    return replace(
        midday(), trouble=("batch.toml line 4: session.date is '30.11.', expected a date. Write 2026-11-30.",)
    )


def three_hundred():
    rows = day(300, noted=120, landed=3, held=1)
    return replace(midday(), rows=rows, others=(), writing=writing_of(rows, {}))


def odd():
    """Names without an end, a row whose log states no time, an answer that may be any text."""
    state, long = midday(), "x" * 180
    rows = list(state.rows)
    asks = Sense("odd", long, f"Repeat {long}.", grave=True, asks=(long, "no"), column="note", free=True)
    rows[7] = replace(rows[7], typed={"when": "", "level_dbm": "", "note": ""})
    rows[8] = replace(rows[8], what=long, log=f"logs/{long}.csv", senses=(replace(asks, place=rows[8].place),))
    others = (OtherLog(f"{long} b", rows[9].place, tuple(row.place for row in rows[8:])),)
    writing = Writing("odd", {f"{long}.csv": f"a\n{long}\n"}, {f"{long}.csv": (f"{long}\n",)}, (rows[8].place,))
    return replace(state, title=long, rows=tuple(rows), others=others, writing=writing, trouble=(f"{long} c",) * 9)


STATES = {
    "empty": empty_day,
    "midday": midday,
    "many-wrong": many_wrong,
    "done": all_done,
    "unread": cannot_be_read,
    "three-hundred": three_hundred,
    "odd": odd,
    "nothing": lambda: State(""),
}


@dataclass
class MadeUpWatch:
    """Stands for builder.watching.watch.Watch: what it was asked to do, and what a state looks like then."""

    state: State
    changed: object = None
    asked: list = field(default_factory=list)
    typed: dict = field(default_factory=dict)
    refuses: tuple = ()

    def turn(self, state):
        self.state = state
        self.changed()

    async def type_in(self, typed):
        self.asked.append(("type_in", typed))
        self.typed = dict(typed)
        self.turn(replace(self.state, writing=writing_of(self.state.rows, self.typed)))
        return []

    async def write(self, key, typed):
        self.asked.append(("write", key, typed))
        if self.refuses:
            return list(self.refuses)
        rows = tuple(replace(row, state="noted", typed={}) if row.state == "landed" else row for row in self.state.rows)
        self.turn(replace(self.state, rows=rows, writing=Writing()))
        return []

    async def settle(self, place, code, answer, *, column=""):
        self.asked.append(("settle", place, code, answer, column))
        return list(self.refuses)

    async def take_back(self, place, code, *, column=""):
        self.asked.append(("take_back", place, code, column))
        return list(self.refuses)

    async def give(self, log, place):
        self.asked.append(("give", log, place))
        return list(self.refuses)


class Served:
    """A watch's page in a thread of this process."""

    def __init__(self, state, *, now=datetime.now, port=0, templates: Path | None = None):
        self.watch = MadeUpWatch(state)
        self._socket = socket_of(port)
        self.port = self._socket.getsockname()[1]
        self._now, self._templates = now, templates or shipped.templates_folder()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()), daemon=True)

    async def _serve(self):
        self._loop = asyncio.get_running_loop()
        self.site = WatchSite(self.watch, port=self.port, templates=self._templates, now=self._now)
        config = uvicorn.Config(self.site.app, log_config=None, access_log=False, timeout_graceful_shutdown=2)
        self._server = uvicorn.Server(config)
        self._loop.call_soon(self._ready.set)
        await self._server.serve(sockets=[self._socket])

    def turn(self, state):
        """Another state, as a look would give it."""
        self._loop.call_soon_threadsafe(self.watch.turn, state)

    def address(self, path=""):
        return f"http://127.0.0.1:{self.port}/{path}"

    def start(self):
        self._thread.start()
        assert self._ready.wait(60)
        return self

    def end(self):
        def leave():
            self._server.should_exit = True
            self.site.news.stop.set()

        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(leave)
            self._thread.join(60)


@contextmanager
def served(state, **more):
    """The page of a state, served in a thread."""
    running = Served(state, **more).start()
    try:
        yield running
    finally:
        running.end()
