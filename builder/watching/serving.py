"""A watch on this machine: its page, word to the pages in view when it changes, and the forms they send."""

from __future__ import annotations

import asyncio
import secrets
import socket
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from jinja2 import Environment
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from builder import shipped
from builder.desk.guarding import Guard
from builder.desk.hosting import host
from builder.desk.listening import News
from builder.pages.rendering import page_templates
from builder.publishing.files.assets import icon, style_sheet
from builder.watching import forms
from builder.watching.deciding import Answered, Decision, Given, still_open, what_is
from builder.watching.page import counted, digest_of, html_of, page_of
from builder.watching.page_parts import Answer, refused
from builder.watching.states import Place, State
from builder.watching.watch import Watch

Value = TypeVar("Value")

EVENTS, FILES = "~watch/events", "~watch"
SCRIPTS = ("listening.js", "morphing.js", "watch.js")
MOST_REMEMBERED = 50  # pages given out, and answers to clicks

ADDED = {
    # With "no-referrer" a browser would not say where a form comes from (Fetch, "append a request Origin header").
    "Referrer-Policy": "same-origin",
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src data:; img-src 'self' data:; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
}
_KINDS = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
OLD = "This page was of an earlier start of the watch, so nothing was done. Here is what is there now."


class WatchSite:
    """A watch as a page. Everything runs in one event loop."""

    def __init__(self, watch: Watch, *, port: int, templates: Path, now: Callable[[], datetime]) -> None:
        self.watch = watch
        self.news = News()
        self.run, self.token = secrets.token_hex(4), secrets.token_urlsafe(24)
        self.drafts: dict[Place, dict[str, str]] = {}
        self._now = now
        self._since: dict[str, datetime] = {}
        self._changed_at = now()
        self._decisions: list[Decision] = []
        self._version = 0
        self._given: OrderedDict[str, forms.Typed] = OrderedDict()
        self._answers: OrderedDict[str, Answer] = OrderedDict()
        self._written_before: OrderedDict[str, Answer] = OrderedDict()  # by the digest of the lines
        self._one_at_a_time = asyncio.Lock()
        self._templates: Environment = page_templates(templates)
        self._files = _files(templates)
        routes = [
            Route("/", self._page, methods=["GET"]),
            Route("/", self._click, methods=["POST"]),
            Route(f"/{EVENTS}", self._events),
            Route(f"/{FILES}/{{name}}", self._file),
        ]
        self.app = Guard(Starlette(routes=routes), port, what="watch", forms=True, added=ADDED)
        watch.changed = self.changed
        self.changed()

    @property
    def version(self) -> str:
        """What tells what the page shows now from what it showed before."""
        return f"{self.run}.{self._version}"

    def changed(self) -> None:
        """Note that the state is another one, and tell the pages in view."""
        state = self.watch.state
        self._changed_at = self._now()
        keys = [forms.sense_key(sense) for sense in forms.senses(state)]
        self._since = {key: at for key, at in self._since.items() if key in keys}
        for key in keys:
            self._since.setdefault(key, self._changed_at)
        editable = {row.place for row in state.rows if row.typed}
        if not state.trouble:
            self.drafts = {place: texts for place, texts in self.drafts.items() if place in editable}
        self._decisions = still_open(self._decisions, state)
        self._version += 1
        self.news.tell()

    async def _page(self, request: Request) -> Response:
        answer = self._answers.get(request.query_params.get("told", ""), Answer())
        return self._html(answer, shown=request.query_params.get("shown", ""))

    def _html(
        self, answer: Answer, *, shown: str = "", typed: forms.Typed | None = None, status: int = 200
    ) -> Response:
        """The page now. typed: what its fields hold beside what they would."""
        state = self.watch.state
        standing = forms.standing(state, self.drafts)
        _remember(self._given, self.version, standing)
        page = page_of(
            state,
            typed=forms.together(standing, typed or {}),
            since={key: self._at(at) for key, at in self._since.items()},
            shown=shown,
            run=self.run,
            token=self.token,
            version=self.version,
            as_of=self._at(self._changed_at),
            told=answer,
            decided=[(one.key, one.text) for one in self._decisions],
        )
        style = {name: f"/{FILES}/{name}" for name in self._files}
        html = html_of(
            self._templates,
            page,
            style={"site": style["site.css"], "watch": style["watch.css"], "icon": style["mark.svg"]},
            scripts=[style[name] for name in SCRIPTS],
            events=f"/{EVENTS}",
        )
        # A name that is no text in the system's encoding cannot be shown as it is.
        return Response(html.encode(errors="replace"), status, media_type="text/html")

    def _at(self, at: datetime) -> str:
        """A time of day; with the day where that is another one."""
        return f"{at:%H:%M}" if at.date() == self._now().date() else f"{at.day} {at:%b}, {at:%H:%M}"

    async def _events(self, request: Request) -> Response:
        async def now() -> str:
            return self.version

        shown = request.query_params.get("shown", "")
        return StreamingResponse(self.news.changes(shown, now), media_type="text/event-stream")

    async def _file(self, request: Request) -> Response:
        name = request.path_params["name"]
        if name not in self._files:
            return PlainTextResponse("There is nothing at this address.", 404)
        return Response(self._files[name], media_type=_KINDS[Path(name).suffix])

    async def _click(self, request: Request) -> Response:
        """A form of the page: done, then the page is shown by its own address, so that to load it again does nothing."""
        body = bytearray()
        async for piece in request.stream():
            body += piece
            if len(body) > forms.MOST_BYTES:
                return PlainTextResponse("This is more than the page can have sent.", 413)
        try:
            form = forms.fields(bytes(body))
        except ValueError:
            return PlainTextResponse("No form of this page looks like this.", 400)
        typed = forms.typed_in(form, self.watch.state.rows)
        if not secrets.compare_digest(form.get(forms.TOKEN, "").encode(), self.token.encode()):
            return self._html(refused(OLD), typed=typed, status=409)
        async with self._one_at_a_time:
            answer = await self._done(form, typed)
        key = secrets.token_hex(8)
        _remember(self._answers, key, answer)
        query = f"told={key}" + (f"&shown={answer.shown}" if answer.shown else "")
        return RedirectResponse(f"/?{query}#{answer.at}", status_code=303)

    async def _done(self, form: Mapping[str, str], typed: forms.Typed) -> Answer:
        """What a form asks for, after what was typed was taken along."""
        act = forms.act_of(form)
        news = forms.changes(typed, self._given.get(form.get(forms.GIVEN, ""), {}))
        fresh = any(self.drafts.get(place, {}) | texts != self.drafts.get(place, {}) for place, texts in news.items())
        if fresh:
            self.drafts = forms.together(self.drafts, news)
            if refusals := await self.watch.type_in(self.drafts):
                return refused(*refusals)
        state = self.watch.state
        match act.does, act.of:
            case "keep", ():
                return Answer(at="day")
            case "show", ():
                return Answer(at="writing", shown=digest_of(state.writing))
            case "write", ():
                return await self._written(form, state, typed_since=fresh)
            case "settle", (key, which):
                return await self._settled(form, state, key, which)
            case "back", (key,):
                return await self._taken_back(key)
            case "give", (log, place):
                return await self._handed_on(state, log, place)
            case "choose", (log,):
                return await self._handed_on(state, log, form.get(f"row~{log}", ""))
        return refused("This page has no such button, so nothing was done.")

    async def _written(self, form: Mapping[str, str], state: State, *, typed_since: bool) -> Answer:
        writing, shown = state.writing, form.get(forms.SHOWN, "")
        as_shown = bool(writing.added) and shown == digest_of(writing) and form.get(forms.KEY) == writing.key
        if not as_shown and shown in self._written_before:
            return self._written_before[shown]  # a double click
        if not writing.added:
            return refused("There is nothing to write any more, so nothing was written.", at="writing")
        if not as_shown:
            why = "what you typed since then is in it now" if typed_since else "more has come, or less is left"
            text = f"What would be written is not what was shown: {why}. Nothing was written; the lines are shown anew."
            return refused(text, at="writing", shown=digest_of(writing))
        if refusals := await self.watch.write(writing.key, self.drafts):
            return refused(*refusals)
        number = sum(len(lines) for lines in writing.added.values())
        files = " and ".join(file for file, lines in writing.added.items() if lines)
        answer = Answer(notices=(f"Written: {counted(number, 'line')} of {files}.",))
        _remember(self._written_before, shown, answer)
        return answer

    async def _settled(self, form: Mapping[str, str], state: State, key: str, which: str) -> Answer:
        sense = forms.sense_in(state, key)
        texts = {str(number): text for number, text in enumerate(sense.asks)} if sense else {}
        if sense is not None and sense.free:
            texts["free"] = form.get(f"answer~{key}", "").strip()
        if sense is None and any(one.key == key for one in self._decisions):
            return Answer(at="writing")  # a double click
        if sense is None or sense.place is None or which not in texts:
            return refused("This is not asked any more, so nothing was answered.")
        if not texts[which]:
            return refused("The answer was empty, so nothing was answered.")
        answered = Answered(sense, sense.place, texts[which], what_is(state, sense.place))
        return await self._decide(
            answered, self.watch.settle(sense.place, sense.code, texts[which], column=sense.column)
        )

    async def _handed_on(self, state: State, key: str, row: str) -> Answer:
        other = next((one for one in state.others if forms.log_key(one.log) == key), None)
        place = forms.place_in(state, row)
        if any(one.key == key and one.place == place for one in self._decisions):
            return Answer(at="writing")  # a double click
        if other is None:
            return refused("This log has a row by now, or is gone, so nothing was done.")
        if place is None or place not in (other.likely, *other.may_be):
            return refused(f"That row cannot be the one of {other.log} any more. Choose another.", at="others")
        given = Given(other.log, place, what_is(state, place))
        return await self._decide(given, self.watch.give(other.log, place))

    async def _decide(self, decision: Decision, doing: Awaitable[list[str]]) -> Answer:
        """What was clicked, remembered until it is written, so that it can be taken back."""
        if refusals := await doing:
            return refused(*refusals)
        kept = [one for one in self._decisions if one.key != decision.key]
        self._decisions = still_open([*kept, decision], self.watch.state)
        self.changed()
        return Answer(at="writing")

    async def _taken_back(self, key: str) -> Answer:
        decision = next((one for one in self._decisions if one.key == key), None)
        if decision is None:
            return refused("This is written already, or taken back, so nothing was done.", at="writing")
        if refusals := await decision.take_back(self.watch):
            return refused(*refusals)
        self._decisions = [one for one in self._decisions if one.key != key]
        self.changed()
        return Answer(at="wrong")


def _remember(kept: OrderedDict[str, Value], key: str, value: Value) -> None:
    kept[key] = value
    kept.move_to_end(key)
    while len(kept) > MOST_REMEMBERED:
        kept.popitem(last=False)


def _files(templates: Path) -> dict[str, bytes]:
    """What the page loads: the style of the site and its own, its mark, and scripts."""
    names = ("watch.css", *SCRIPTS)
    own = {name: (templates / "desk" / name).read_bytes() for name in names}
    panel = (templates / "desk" / "panel.css").read_bytes()
    own["watch.css"] = panel + own["watch.css"]
    return {"site.css": style_sheet(templates).content, "mark.svg": icon(templates).content} | own


def serve(watch: Watch, on: socket.socket, *, ready: Callable[[], None]) -> None:
    """Serve a watch until SIGINT or SIGTERM.

    ready   called when the page can be asked for
    Raises  KeyboardInterrupt once all is let go; what `Watch.begin` raises.
    """
    asyncio.run(_serve(watch, on, ready))
    raise KeyboardInterrupt


async def _serve(watch: Watch, on: socket.socket, ready: Callable[[], None]) -> None:
    try:
        await watch.begin()
        site = WatchSite(watch, port=on.getsockname()[1], templates=shipped.templates_folder(), now=datetime.now)

        async def follow() -> None:
            await watch.follow(site.news.stop)

        await host(site.app, on, follow=follow, stop=site.news.stop, ready=ready, end=lambda: None)
    finally:
        watch.close()
