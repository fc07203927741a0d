"""What a build would say of a batch and of all articles, found the long way: whole copies, all pages, all secrets.

Beside it articles of random bindings, of every kind and about everything in a catalogue, hidden or not.
"""

from __future__ import annotations

import random
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from builder import shipped
from builder.articles.bindings import KINDS
from builder.articles.bound_article import BoundArticle
from builder.pages.contents import Contents, Ways
from builder.pages.parts.looked_up import look_up
from builder.pages.parts.when_asked import ranked_when_asked
from builder.publishing.changing.touched import contents_of
from builder.publishing.checking.own_words import own_words
from builder.publishing.checking.secrets_sought import sought
from builder.publishing.making.articles_read import addresses_of, wrong_in
from builder.publishing.making.entry_check import CODE, REMARK
from catalog import queries
from catalog.connection import path_of
from catalog.entering import as_if_entered
from catalog.visibility import public_copy

Said = tuple[str, int, str, str, str]  # file, line, what was typed, the sentence, code


def read_whole(db, at: datetime) -> tuple[Contents, tuple[BoundArticle, ...]]:
    """Everything that may be seen of a catalogue, and all articles looked up in it."""
    with closing(public_copy(path_of(db) or db, as_of=at)) as copy:
        contents = contents_of(copy, as_of=at, ways=Ways(rankings=ranked_when_asked))
    return contents, look_up(*contents)


def said_of_whole(
    checked, db, before: tuple[BoundArticle, ...], *, now: datetime
) -> tuple[list[Said], list[Said], set[str]]:
    """The problems and warnings about articles that whole copies give, at the instants at which articles come into view.

    before  the articles of the catalogue now, looked up
    Also the articles of the catalogue that say another thing with the batch in it, or of which something else is wrong.
    """
    left = {row["article_id"]: row for row in checked.rows.get("article", ())}
    problems: list[Said] = []
    warnings: list[Said] = []
    with closing(as_if_entered(checked, db, now=now)) as whole:
        later = {row["published_utc"] for row in left.values()} | {e.until_utc for e in queries.embargoes(whole)}
        for at in [now, *(datetime.fromisoformat(text).astimezone(UTC) for text in sorted(later) if text > _utc(now))]:
            contents, bound = read_whole(whole, at)
            pages = addresses_of(contents) if left else set()
            secret = sought(queries.hidden_words(whole, _utc(at)), usual=own_words(shipped.templates_folder()))
            for one in bound:
                if (row := left.pop(one.article.article_id, None)) is not None:
                    home = contents.site.address or ""
                    wrong = wrong_in(one, secret, has_page=pages.__contains__, home=home)
                    problems += [_said(row["path"], *place, CODE) for place in wrong]
                    warnings += [_said(row["path"], w.line, w.typed, w.sentence, REMARK) for w in one.warnings]
            if at == now:
                warnings += _broken(bound, before)
                was, then = _read(before), _read(bound)
            if not left:
                break
    return problems, warnings, {article for article, said in was.items() if then.get(article) != said}


def _read(bound) -> dict[str, object]:
    return {
        one.article.article_id: ([b.quote.printed for b in one.bound], [(p.line, p.typed) for p in one.problems])
        for one in bound
    }


def _broken(bound, before) -> list[Said]:
    known = {(one.article.article_id, p.typed) for one in before for p in one.problems}
    there = {one.article.article_id for one in before}
    after = {(one.article.article_id, p.typed): p for one in bound for p in one.problems}
    return [
        _said(p.file, p.line, p.typed, f"With this batch in it stops every build: {p.sentence}", CODE)
        for (article, typed), p in after.items()
        if article in there and (article, typed) not in known
    ]


def _said(file: str, line: int, typed: str, sentence: str, code: str) -> Said:
    return file, line, typed, f"{typed} {sentence}" if typed.startswith("(=") else sentence, code


def _utc(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class Author:
    """Writes articles about what a catalogue holds."""

    def __init__(self, db, seed: int) -> None:
        self._draw = random.Random(seed)

        def column(sql: str) -> list[str]:
            return [str(value) for (value,) in db.execute(sql).fetchall()]

        self._devices = column("SELECT device_id FROM device ORDER BY 1") or ["nobodys-box"]
        self._units = column("SELECT device_id || '/' || unit_id FROM unit ORDER BY 1")
        self._versions = column("SELECT device_id || '@' || version FROM firmware ORDER BY 1")
        self._settings = column("SELECT settings_id FROM settings ORDER BY 1")
        self._clients = column("SELECT client_id FROM client UNION SELECT series FROM client ORDER BY 1") or [
            "nobodys-card"
        ]
        self._tests = db.execute(
            """SELECT DISTINCT device_id, client_id, band, width_mhz, direction, coalesce(spot, 'S1'), session_id FROM run
               WHERE throughput_mbit_s IS NOT NULL ORDER BY 1, 2, 3, 4, 5, 6, 7"""
        ).fetchall()
        self._plays = db.execute(
            "SELECT DISTINCT device_id, workload_id, role_id, client_id, mix_id FROM station ORDER BY 1, 2, 3, 4, 5"
        ).fetchall()
        self._longruns = db.execute(
            "SELECT DISTINCT device_id, client_id, kind FROM longrun ORDER BY 1, 2, 3"
        ).fetchall()
        self._prices = db.execute("SELECT DISTINCT device_id, region, condition FROM price ORDER BY 1, 2, 3").fetchall()
        self._heat = db.execute(
            "SELECT DISTINCT device_id, face, load, minutes FROM heat ORDER BY 1, 2, 3, 4"
        ).fetchall()
        self._power = db.execute("SELECT DISTINCT device_id, state, side FROM power ORDER BY 1, 2, 3").fetchall()
        self._features = db.execute("SELECT DISTINCT device_id, feature FROM feature ORDER BY 1, 2").fetchall()

    def batch(self, folder: Path, name: str, *, articles: int, published: datetime) -> Path:
        """A batch of so many articles, the last of which is yet to come."""
        folder = folder / name
        folder.mkdir(parents=True)
        text = f'format = 1\nid = "{name}"\ntitle = "Reviews"\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n'
        for number in range(articles):
            day = published if number < articles - 1 else published.replace(year=published.year + 5)
            about = self._draw.sample(self._devices, min(2, len(self._devices)))
            text += (
                f'\n[[article]]\nid = "{name}-{number}"\ntitle = "What the {self._word()} does"\n'
                f'published = "{day.isoformat()}"\nfile = "{number}.md"\ndevices = {about!r}\n'.replace("'", '"')
            )
            (folder / f"{number}.md").write_text(self._article(), encoding="utf-8")
        (folder / "batch.toml").write_text(text, encoding="utf-8")
        return folder

    def _article(self) -> str:
        kinds = [*(kind for kind in KINDS if kind != "under"), "leads all", "value", "verdict", "rank"]
        lines = []
        for kind in self._draw.sample(kinds, len(kinds) * 2 // 3):
            lines += ["", self._binding(kind)] if kind in KINDS and KINDS[kind].block else [self._binding(kind)]
            if self._draw.random() < 0.2:
                lines += ["", self._links()]
            if self._draw.random() < 0.2:
                lines.append(f"It gives {self._draw.randrange(20, 900)} Mbit/s, and {self._word()} waits 1.5 s.")
            if self._draw.random() < 0.1:
                lines.append(f"``(= rank {self._device()}, window far =)`` and (= rank {self._device()} ")
            lines.append("")
        return "\n".join(lines)

    def _links(self) -> str:
        device, other = self._device(), self._device()
        at = self._draw.choice(
            [
                f"devices/{device}/index.html",
                f"pairs/{device}--{other}/index.html",
                "rankings/index.html",
                "no/such.html",
            ]
        )
        return (
            f"See [there](../../{at}) and ![inside](images/none.jpg)." if device < other else f"See [it](../../{at})."
        )

    def _word(self) -> str:
        """A name of something, as people write it."""
        return self._draw.choice(
            [self._device(), self._device().split("-", 1)[-1].replace("-", " ").title(), "S2", "office"]
        )

    def _device(self) -> str:
        return self._draw.choice(self._devices)

    def _subject(self, device: str) -> str:
        draw = self._draw.random()
        if draw < 0.1:
            return self._draw.choice([*self._units, *self._versions])
        if draw < 0.15 and self._settings:
            return f"{device}+{self._draw.choice(self._settings)}"
        return device if draw < 0.97 else "no-such-box"

    def _binding(self, kind: str) -> str:
        draw = self._draw
        test = draw.choice(self._tests) if self._tests else (self._device(), "x", "5", 80, "down", "S1", "none")
        device, client, band, width, direction, spot, _ = test
        alike = [one[0] for one in self._tests if one[1:5] == test[1:5] and one[0] != device] or [self._device()]
        a, b = self._subject(device), self._subject(draw.choice(alike))
        link = [f"client {client}", f"band {band}", f"width {width}", f"direction {direction}"]
        link = link if draw.random() < 0.8 else [one for one in link if draw.random() < 0.8]
        window = f"window {draw.choice(['near', 'middle', 'far'])}"
        place = draw.choice([f"at {draw.randrange(48, 86)}", window, f"spot {spot}"])
        play = draw.choice(self._plays) if self._plays else (self._device(), "none", "none", "none", "none")
        workload = [f"workload {play[1]}"] + ([f"mix {play[4]}"] if draw.random() < 0.6 else [])
        role = [*workload, f"role {play[2]}"] + ([f"client {play[3]}"] if draw.random() < 0.5 else [])

        def of(rows, names):
            row = draw.choice(rows) if rows else ("no-such-box", *names)
            return [
                row[0],
                *(f'{name} "{value}"' for name, value in zip(names, row[1:], strict=True) if value is not None),
            ]

        words = {
            "value": [a, place, *link],
            "difference": [f"{a} {b}", *link],
            "ratio": [f"{a} {b}", *link],
            "verdict": [f"{a} {b}", *link, *(["match spot", f"spot {spot}"] if draw.random() < 0.3 else [])],
            "rank": [a, window, *link],
            "reach": [a, f"rate {draw.randrange(20, 400)}", *link],
            "firmware": [a],
            "tested": [a, *link],
            "price": of(self._prices, ("region", "condition")),
            "heat": of(self._heat, ("face", "load", "minutes")),
            "power": of(self._power, ("state", "side")),
            "feature": of(self._features, ("name",)),
            "share": [play[0], *role],
            "waits": [play[0], *role, "at 95"],
            "stalls": [play[0], *role],
            "brokeoff": [play[0], *workload],
            "coped": [play[0], *workload],
            "lines": [" ".join(dict.fromkeys([a, b])), *link],
            "ranking": [window, *link],
            "mix": [play[0], *workload],
            "role": [play[1], f"role {play[2]}", f"mix {play[4]}"],
            "longrun": of(self._longruns, ("client", "kind")),
            "parts": [" ".join(dict.fromkeys([self._device(), self._device()]))],
            "ports": [a],
            "ceiling": [draw.choice(self._clients)],
            "claim": [f"{a} {draw.choice(['leads', 'alike', 'leads'])} {b}", *link],
            "leads all": [f"{a} leads all", window, *link],
        }[kind]
        if kind == "claim" and draw.random() < 0.3:
            words = draw.choice(
                [
                    [f"{play[0]} copes better {self._device()}", f"workload {play[1]}", f"role {play[2]}"],
                    [f"{device} cheaper {self._device()}", "years 3"],
                    [f"{device} hotter {self._device()}", "face cover"],
                ]
            )
        name = "claim" if kind == "leads all" else kind
        return f"(= {name} {words[0]}{''.join(f', {word}' for word in words[1:])} =)" + (
            "" if KINDS[name].block else "."
        )


def more_runs(db, folder: Path, name: str, *, seed: int, device: str | None = None, elsewhere: bool = False) -> Path:
    """A batch of a run like one of a catalogue.

    device     a run like each of its runs
    elsewhere  all over links that no device was tested on
    """
    draw, folder = random.Random(seed), folder / name
    folder.mkdir(parents=True)
    head = f'format = 1\nid = "{name}"\ntitle = "More runs"\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n'
    (folder / "batch.toml").write_text(head, encoding="utf-8")
    columns = (
        "device_id, unit_id, firmware, client_id, driver, session_id, band, width_mhz, direction, protocol, flows, security, "
        "spot, attenuation_db, level_dbm"
    )
    runs = db.execute(
        f"""SELECT max(at_utc), 0, avg(throughput_mbit_s), {columns} FROM run
            WHERE settings_id IS NULL AND of_runs IS NULL AND throughput_mbit_s IS NOT NULL GROUP BY {columns} ORDER BY {columns}"""
    ).fetchall()
    lines = [
        "when,repeat,throughput_mbit_s,device,unit,firmware,client,driver,session,band,width_mhz,direction,protocol,flows,"
        "security,spot,attenuation_db,level_dbm,outcome"
    ]
    for run in draw.sample(runs, 1) if device is None else [run for run in runs if run[3] == device]:
        row = list(run)
        row[1] = draw.randrange(100, 1000)  # no repeat has such a number
        if elsewhere:
            row[14] = "open" if row[14] != "open" else "none"
        lines.append(",".join("" if value is None else str(value) for value in (*row, "finished")))
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def hides(device: str, folder: Path, name: str, *, until: str, covers: str) -> Path:
    """A batch that puts a device of the catalogue under embargo."""
    folder = folder / name
    folder.mkdir(parents=True)
    text = f'format = 1\nid = "{name}"\ntitle = "Later"\ntimezone = "Europe/Berlin"\nlicence = "CC-BY-4.0"\n'
    text += f'\n[[device]]\nid = "{device}"\n  [device.embargo]\n  until = "{until}"\n  timezone = "Europe/Berlin"\n'
    (folder / "batch.toml").write_text(f'{text}  covers = "{covers}"\n', encoding="utf-8")
    return folder
