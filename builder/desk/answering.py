"""What a browser is given for an address, whatever state the preview is in. Runs in the thread that composes pages."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field

from builder import addresses
from builder.desk.batches import Trouble
from builder.desk.desk import Desk, State, in_words, trouble_of
from builder.desk.dressing import LISTENING, SCRIPT, STYLE, bare_page, dressed, panel_of, shown_as

MOST_REMEMBERED = 100
_OUR_FILES = {SCRIPT: "reload.js", LISTENING: "listening.js", STYLE: "panel.css"}


@dataclass(frozen=True, slots=True)
class Answer:
    """Status, the address whose suffix says what it is, and the bytes; of a redirection where it leads."""

    status: int
    address: str
    content: bytes = b""


@dataclass
class Answering:
    """Answers by address. A page that cannot be composed any more is shown as it was, with the reason."""

    desk: Desk
    _remembered: OrderedDict[str, bytes] = field(default_factory=OrderedDict)

    def answer(self, path: str) -> Answer | None:
        """What lies at a path of the address bar; a folder is its index page. None until downloads are there for it."""
        address = path.removeprefix("/")
        if address in _OUR_FILES:
            return Answer(200, address, (self.desk.templates / "desk" / _OUR_FILES[address]).read_bytes())
        if not address or address.endswith("/"):
            address += addresses.START
        if self.desk.state.composer.waits_for_downloads(address):
            return None
        if not address.endswith(".html"):
            return self._file(address)
        status, page, panel = self._page(address)
        self.desk.go_on()  # what this page could do without
        if page is None and f"{address}/{addresses.START}" in self.desk.state.composer.addresses:
            return Answer(307, f"/{address}/")
        if page is None:
            _, page, panel = self._page(addresses.NOT_FOUND)
            return Answer(404, addresses.NOT_FOUND, dressed(page or b"", addresses.NOT_FOUND, panel))
        return Answer(status, address, dressed(page, address, panel))

    def shown(self, address: str) -> str | None:
        """What tells what the page at an address shows now from what it showed before. None as `answer` has it."""
        if self.desk.state.composer.waits_for_downloads(address):
            return None
        _, page, panel = self._page(address)
        return shown_as(page or b"", panel)

    def _file(self, address: str) -> Answer:
        try:
            content = self.desk.state.composer.file(address)
        except Exception as failure:
            return Answer(500, "wrong.txt", in_words(failure).encode())
        if content is None and f"{address}/{addresses.START}" in self.desk.state.composer.addresses:
            return Answer(307, f"/{address}/")
        if content is None:
            return Answer(404, "wrong.txt", b"There is nothing at this address.")
        return Answer(200, address, content)

    def _page(self, address: str) -> tuple[int, bytes | None, str]:
        """Status, the page without our additions, and the panel; no page where there is none at that address."""
        state = self.desk.state
        troubles, remarks = list(state.troubles), tuple[str, ...]()
        status, page = 200, None
        try:
            page = state.composer.file(address)
            remarks = state.composer.warnings(address)
            troubles += self._of_review(state, address)
        except Exception as failure:
            lines = tuple((line, "") for line in in_words(failure).splitlines())
            if address in self._remembered:
                page = self._remembered[address]
                troubles.insert(0, Trouble("This page cannot be composed any more; shown is what it was", lines))
            else:
                troubles.insert(0, Trouble("This page cannot be composed", lines))
                status, page = 500, bare_page("This page cannot be composed", "")
            return status, page, panel_of(troubles)
        if page is not None:
            self._remember(address, page)
        return status, page, panel_of(troubles, remarks)

    def _of_review(self, state: State, address: str) -> list[Trouble]:
        """What is wrong in the article of a page, unless every page says so already."""
        contents = state.composer.contents
        return [
            trouble
            for article in contents.catalogue.articles
            if address == addresses.review(article.article_id) and article.batch_id not in state.batches.folders
            if (trouble := trouble_of(contents, article)) is not None
        ]

    def _remember(self, address: str, page: bytes) -> None:
        self._remembered[address] = page
        self._remembered.move_to_end(address)
        while len(self._remembered) > MOST_REMEMBERED:
            self._remembered.popitem(last=False)
