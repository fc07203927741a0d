"""A batch with a hidden device and an article about it, to look at before it is entered; and a desk without threads."""

from datetime import UTC, datetime
from pathlib import Path
from threading import Event

from builder import shipped
from builder.desk.answering import Answer, Answering
from builder.desk.desk import Desk
from builder.desk.first_copy import begun_copy
from tests.batches import LINK, article, batch_at, batch_toml, device, session, things
from tests.builder.publishing.publishing_bench import EMBARGO, SECOND_BEFORE, runs

REVIEW = "reviews/cairn-review/index.html"
CAIRN = "devices/tessarik-cairn/index.html"
TEXT = """In the hall it gives (= value tessarik-cairn, at 60, client wrenlet-u2 =) Mbit/s.

(= lines tessarik-cairn quillmast-sill, client wrenlet-u2, direction down : Which carries further? =)

A word about it: (= firmware tessarik-cairn =).
"""
WRONG = "Cairn is ahead: (= claim quillmast-sill leads tessarik-cairn, client wrenlet-u2 : Sill leads =).\n\nA dead [link](../../devices/none.html) here.\n"


def batch_with_article(folder: Path, *, text: str = TEXT, runs_csv: str | None = None) -> Path:
    """The folder of the batch, its text at articles/cairn.md."""
    told = article(
        "cairn-review",
        "articles/cairn.md",
        title="Cairn, heard & seen",
        published="2025-09-12T08:00:00Z",
        devices=["tessarik-cairn"],
    )
    hidden = device("tessarik-cairn", firmware=[{"version": "0.9.77"}], embargo=EMBARGO)
    common = {"client": "wrenlet-u2", "driver": "3.11", "session": "day-cairn", **LINK}
    toml = batch_toml("cairn", title="Cairn on the bench") + things(
        device=[hidden], article=[told], session=[session("day-cairn", "2025-08-20")], defaults={"runs": common}
    )
    table = runs(device="tessarik-cairn", firmware="0.9.77", height=2100.0) if runs_csv is None else runs_csv
    return batch_at(folder / "cairn", toml, {"articles/cairn.md": text, "runs.csv": table})


class Look:
    """A desk and its answers. Everything is done at once, by whoever asks."""

    def __init__(self, catalog: Path, *batches: Path, as_of: datetime = SECOND_BEFORE, templates: Path | None = None):
        settled = Event()
        first = begun_copy(catalog, batches, as_of=as_of.astimezone(UTC))
        self.desk = Desk(first, templates or shipped.templates_folder(), settled=settled.set)
        self.desk.begin()
        self.desk.go_on()
        assert settled.wait(60)
        self.answering = Answering(self.desk)

    def follow(self, *changed: Path) -> None:
        self.desk.maker.submit(self.desk.follow, changed).result()

    def answer(self, path: str) -> Answer:
        while (answer := self.desk.pages.submit(self.answering.answer, path).result()) is None:
            self.desk.loader.submit(self.desk.load).result()
        return answer

    def page(self, address: str) -> str:
        return self.answer(f"/{address}").content.decode()

    def status(self, path: str) -> int:
        return self.answer(path).status

    def file(self, address: str) -> bytes | None:
        return self.desk.pages.submit(self.desk.state.composer.file, address).result()

    def troubles(self) -> list[str]:
        """Everything that is told at the head of every page, a line each."""
        return [f"{one.title}: {line}" for one in self.desk.state.troubles for line, _ in one.lines]

    def every_page(self) -> dict[str, bytes | None]:
        return {address: self.file(address) for address in self.desk.state.composer.addresses}
