"""Batch folders damaged in every way a disk, a spreadsheet or an attacker damages them, by seed."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import shutil
import socket
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path
from random import Random

import openpyxl
from openpyxl.utils.exceptions import IllegalCharacterError

from tests.catalog.whole_batch import TABLES, whole_batch

Files = dict[str, bytes]
Damage = Callable[[Random, Files, Path], None]

CELLS = [
    "",
    "0",
    "-0",
    "-1",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "1e-320",
    "1e308",
    "9" * 400,
    "1.024",
    "1,024",
    "1.024,5",
    "1_000",
    "0x10",
    "٣",
    "５０",
    "−54",
    "54",
    "87%",
    "50 dB",
    "112 MB/s",
    "1" * 30 + " Mbit/s",
    "5+6",
    "5+6+5",
    "5+",
    "DNF",
    "n/a",
    "crash",
    "None",
    "true",
    "[1]",
    "{}",
    "a:b",
    ":",
    "bench:",
    "bench:logs",
    "'",
    '"',
    '""',
    "=1+1",
    "2025-02-30",
    "0000-00-00 00:00",
    "0001-01-01 00:00",
    "9999-12-31 23:59",
    "2025-03-30 02:30",
    "2025-10-26 02:30",
    "03/04/2025 14:00",
    "2025-05-12T10:00:00+23:59",
    "24:00",
    "2025-05-12 25:61",
    "\x00",
    "a\x00b",
    "\u202e",
    "\ufeff",
    "\u2028",
    "\r",
    "a\nb",
    "\t",
    "x" * 40_000,
    "x" * 200_000,
    ";" * 50,
    "," * 600,
    "https://192.0.2.1/x",
    "NUL",
    "7.1",
]
PATHS = [
    "/etc/passwd",
    "../outside.csv",
    "logs/../../outside.csv",
    "..",
    ".",
    "logs",
    "/",
    "//",
    "C:\\x.csv",
    "logs\\a.csv",
    "~/x",
    "logs/plain.csv/",
    "logs/plain.csv/x",
    "link",
    "loop",
    "pipe",
    "socket",
    "device",
    "folder",
    "nowhere",
    "own",
    "a" * 5000,
    "x/" * 300,
    "\x00",
    "bench:../outside.csv",
    "../bench:logs/plain.csv",
    "nowhere:logs/plain.csv",
    "logs/plain.csv",
    "bench:pipe",
    "batch.toml",
    "runs.csv",
    "images/inside.png",
    "lines:batch.toml",
    "https://192.0.2.1/log.csv",
]
VALUES = [
    "1",
    "-1",
    "0",
    '""',
    '"x"',
    "[1]",
    "[]",
    "{}",
    "{a = 1}",
    "[[1]]",
    "2025-01-01",
    "07:00:00",
    "2025-01-01T00:00:00",
    "nan",
    "inf",
    "-inf",
    "1e400",
    "true",
    '"../x"',
    '"\\u0000"',
    '"\\uD7FF"',
    "9" * 30,
    "9" * 400,
    "9" * 5000,
    '"""a\nb"""',
    '"' + "x" * 100_000 + '"',
    "[" * 900,
    "[" * 400 + "]" * 400,
    "{a=" * 400 + "1" + "}" * 400,
    "0001-01-01",
    '"=cmd"',
    '"\\u202E"',
    '"2025-03-30 02:30"',
    '"Mars/Olympus"',
    "9223372036854775808",
    '" "',
    '"a/b"',
    '"CON"',
]


def _some(rng: Random, files: Files, *ends: str) -> str | None:
    names = [name for name in sorted(files) if name.endswith(ends)]
    return rng.choice(names) if names else None


def _bytes(rng: Random, files: Files, folder: Path) -> None:
    """Bits flipped, the file cut off, random bytes, pieces doubled, removed or put in; or nothing left at all."""
    name = _some(rng, files, "")
    assert name is not None
    content = bytearray(files[name])
    at, to = sorted((rng.randrange(len(content) + 1), rng.randrange(len(content) + 1)))
    match rng.randrange(8):
        case 0:
            for _ in range(rng.randrange(1, 20) if content else 0):
                content[rng.randrange(len(content))] = rng.randrange(256)
        case 1:
            del content[at:]
        case 2:
            content[:] = rng.randbytes(rng.choice([1, 10, 3000]))
        case 3:
            content[at:at] = rng.choice([*CELLS, *VALUES]).encode()
        case 4:
            content[at:at] = content[at : at + 300] * rng.randrange(1, 5)
        case 5:
            del content[at:to]
        case 6:
            content.clear()
        case 7:
            content[at:at] = rng.choice([b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\xed\xa0\x80", b"\r", b"\x1a", b'"'])
    files[name] = bytes(content)


def _rows(content: bytes) -> list[list[str]]:
    usual = csv.field_size_limit(10**7)
    try:
        return list(csv.reader(io.StringIO(content.decode("utf-8", "replace"), newline="")))
    except csv.Error:
        return []
    finally:
        csv.field_size_limit(usual)  # it is everybody's, and the reading of batches relies on it


def _packed(rows: list[list[str]], rng: Random) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=rng.choice(",,,,;\t"), lineterminator=rng.choice(["\n", "\n", "\r\n", "\r"]))
    with contextlib.suppress(csv.Error):
        writer.writerows(rows)
    return text.getvalue().encode("utf-8", "replace")


def _table(rng: Random, files: Files, folder: Path) -> None:
    """Cells, rows and headers that are wrong, doubled, mixed up, missing or far too many."""
    name = _some(rng, files, ".csv")
    if name is None or not (rows := _rows(files[name])):
        return
    for _ in range(rng.randrange(1, 4)):
        row = rng.choice(rows)
        at = rng.randrange(len(row)) if row else 0
        match rng.randrange(10):
            case 0 | 1 | 2 if row:
                row[at] = rng.choice(CELLS)
            case 3:
                rows.insert(rng.randrange(len(rows) + 1), list(row))
            case 4 if len(rows) > 1:
                rows.remove(row)
            case 5 if rows[0]:
                rows[0][rng.randrange(len(rows[0]))] = rng.choice([*rows[0], *CELLS, "Mbit/s", "MB/s", "dBm", "level"])
            case 6:
                wide = rng.choice([1, 400, 600, 20_000])
                for one in rows:
                    one.extend(rng.choice(["", "x"]) for _ in range(wide))
            case 7 if row:
                del row[at:]
            case 8:
                rng.shuffle(rows)
            case 9:
                rows.extend([list(row) for _ in range(rng.choice([3, 300]))])
    files[name] = _packed(rows, rng)


def _encoding(rng: Random, files: Files, folder: Path) -> None:
    """Text in another code page, or in two of them."""
    name = _some(rng, files, ".csv", ".toml", ".json", ".jsonl", ".md")
    if name is None:
        return
    text = files[name].decode("utf-8", "replace") + rng.choice(["", "Müller – 5 °C\n", "日本\n", "\U0001f4a9"])
    coded = text.encode(
        rng.choice(["utf-16", "utf-16-le", "utf-32", "latin-1", "cp1252", "utf-7", "utf-8-sig"]), "replace"
    )
    half = len(coded) // 2
    files[name] = rng.choice([coded, coded[: half + 1], coded[:half] + text.encode()[half:]])


def _toml(rng: Random, files: Files, folder: Path) -> None:
    """Keys doubled, left out, moved, of another kind, nested far too deeply."""
    name = rng.choice(["batch.toml", "batch.toml", "batch.toml", _some(rng, files, ".toml")])
    if name not in files:
        return
    lines = files[name].decode("utf-8", "replace").split("\n")
    for _ in range(rng.randrange(1, 4)):
        at = rng.randrange(len(lines))
        match rng.randrange(8):
            case 0:
                del lines[at : at + rng.choice([1, 1, 8])]
            case 1 | 2 | 3:
                lines[at] = lines[at].split("=")[0] + "= " + rng.choice(VALUES)
            case 4:
                lines.insert(at, rng.choice(lines or [""]))
            case 5:
                lines.insert(
                    at,
                    rng.choice(
                        [
                            "[a" + ".a" * 3000 + "]",
                            "a" + ".a" * 3000 + " = 1",
                            "[[device]]",
                            "[device]",
                            "[defaults]",
                            "defaults = 3",
                            "[[defaults.runs]]",
                            "[embargo]",
                            "[site]",
                            "[[image]]",
                            "[method]",
                            "format = 2",
                        ]
                    ),
                )
            case 6:
                lines[at] = lines[at].replace("[[", "[").replace("]]", "]")
            case 7:
                lines[at], lines[at - 1] = lines[at - 1], lines[at]
        lines = lines or [""]
    files[name] = "\n".join(lines).encode("utf-8", "replace")


def _paths(rng: Random, files: Files, folder: Path) -> None:
    """Cells and keys that point out of the folder, to links, pipes, sockets, devices and folders."""
    path = rng.choice(PATHS)
    for number, odd in enumerate(("link", "loop", "pipe", "folder", "device", "nowhere", "socket", "own")):
        if odd == path.removeprefix("bench:"):
            _odd_file(number, folder / odd, folder)
    if rng.random() < 0.3:
        text = files.get("batch.toml", b"").decode("utf-8", "replace")
        old = rng.choice(["images/inside.png", "articles/shale-2.md"])
        files["batch.toml"] = text.replace(old, path.replace("\\", "\\\\").replace("\x00", "\\u0000")).encode()
        return
    name = rng.choice(["runs.csv", "stations.csv", "longruns.csv", "parts.csv"])
    rows = _rows(files.get(name, b""))
    column = "photo" if name == "parts.csv" else "log"
    if not rows or column not in rows[0]:
        return
    place = rows[0].index(column)
    for row in rows[1:]:
        if len(row) > place:
            row[place] = path
    files[name] = _packed(rows, rng)


def _things_in_the_way(rng: Random, files: Files, folder: Path) -> None:
    """A link, pipe, socket, device or folder where a file was."""
    name = rng.choice([*sorted(files), "runs.xlsx", "prices.ods", "answers.toml", "extra.csv", "maps", "logs"])
    target = folder / name
    if target.is_dir():
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    files.pop(name, None)
    target.unlink(missing_ok=True)
    _odd_file(rng.randrange(8), target, folder)


def _odd_file(number: int, target: Path, folder: Path) -> None:
    """Something that is not a plain file of the batch."""
    if target.exists() or target.is_symlink():
        return
    outside = folder.parent / "outside.csv"
    outside.write_bytes(b"t_s,mbit_s\n0,400\n")
    match number:
        case 0:
            target.symlink_to(outside)
        case 1:
            target.symlink_to(target.name)
        case 2:
            os.mkfifo(target)
        case 3:
            target.mkdir()
        case 4:
            target.symlink_to("/dev/zero")
        case 5:
            target.symlink_to(folder / "nowhere")
        case 6:
            _socket(target)
        case 7:
            with contextlib.suppress(PermissionError):
                os.mknod(target, stat.S_IFCHR | 0o600, os.makedev(1, 5))  # /dev/zero under a name of its own


def _socket(target: Path) -> None:
    with tempfile.TemporaryDirectory() as short, socket.socket(socket.AF_UNIX) as made:  # such names are short
        made.bind(f"{short}/s")
        shutil.move(f"{short}/s", target)


def _swapped(rng: Random, files: Files, folder: Path) -> None:
    """The content of one file under the name of another."""
    names = [name for name in sorted(files) if name.endswith((".csv", ".json", ".jsonl", ".toml", ".png", ".md"))]
    one, other = rng.choice(names), rng.choice(names)
    files[one], files[other] = files[other], files[one]
    if rng.random() < 0.3:
        files[rng.choice(["Runs.CSV", "runs.tsv", "march.csv", "x\n.csv", "spots.xlsx", "runs.ods", "~$runs.xlsx"])] = (
            files[one]
        )


def _odd_names(rng: Random, files: Files, folder: Path) -> None:
    """File names that no text has, or that a script would trip over."""
    odd = rng.choice(
        [b"\xffruns.csv", b"\xe9t\xe9.csv", b"a'b;c.csv", b"-rf.csv", b"\x1b[31m.csv", b"r" * 240 + b".csv"]
    )
    name = _some(rng, files, ".csv")
    if name is not None:
        files[os.fsdecode(odd)] = files[name] + b"\n"


def _workbook(rng: Random, files: Files, folder: Path) -> None:
    """A table as a workbook or an OpenDocument sheet, whole or damaged."""
    stem = rng.choice(sorted(TABLES)).removesuffix(".csv")
    rows = _rows(files.pop(f"{stem}.csv", TABLES[f"{stem}.csv"].encode()))
    if rng.random() < 0.5:
        name, content = f"{stem}.xlsx", _xlsx(rows)
    else:
        name, content = f"{stem}.ods", ods(_ods_rows(rows, rng))
    if rng.random() < 0.6:
        damaged = {name: content}
        _bytes(rng, damaged, folder)
        content = damaged[name]
    if rng.random() < 0.3:
        content = _with_damaged_part(rng, content)
    files[name] = content


def _xlsx(rows: list[list[str]]) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row in rows[:2000]:
        with contextlib.suppress(IllegalCharacterError):
            sheet.append(
                [
                    float(cell) if cell.replace(".", "", 1).isdigit() and len(cell) < 15 else cell[:30_000]
                    for cell in row[:600]
                ]
            )
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


_HEAD = (
    '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
    '<table:table table:name="Sheet">'
)
_TAIL = "</table:table></office:spreadsheet></office:body></office:document-content>"


def ods(rows: str, *, before: str = "") -> bytes:
    """An .ods file around rows of content.xml."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", before + _HEAD + rows + _TAIL)
    return packed.getvalue()


def _ods_rows(rows: list[list[str]], rng: Random) -> str:
    from xml.sax.saxutils import escape

    odd = rng.choice(["", "", ' table:number-columns-repeated="9999999"', ' table:number-rows-repeated="-1"'])
    text = []
    for row in rows[:2000]:
        cells = "".join(f"<table:table-cell><text:p>{escape(cell)}</text:p></table:table-cell>" for cell in row[:600])
        text.append(f"<table:table-row>{cells}<table:table-cell{odd}/></table:table-row>")
    return "".join(text)


def _with_damaged_part(rng: Random, content: bytes) -> bytes:
    """One part of an archive changed, and the archive packed again so that it opens."""
    packed = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as new:
            chosen = rng.choice(old.namelist())
            for name in old.namelist():
                part = {"part": old.read(name)}
                if name == chosen:
                    _bytes(rng, part, Path())
                new.writestr(name, part["part"])
    except (
        zipfile.BadZipFile,
        zlib.error,
        OSError,
        ValueError,
        NotImplementedError,
        RuntimeError,
        struct.error,
        EOFError,
    ):
        return content
    return packed.getvalue()


def _bomb(rng: Random, files: Files, folder: Path) -> None:
    """Small files that would unpack to far more than they are."""
    stem = rng.choice(["runs", "spots", "prices", "heat"])
    cell = "<table:table-cell{}><text:p>5</text:p></table:table-cell>"
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 9))
    doctype = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY l0 "ha">{laughs}]>'
    header = "".join(
        f"<table:table-cell><text:p>{name}</text:p></table:table-cell>" for name in ("spot", "band", "when")
    )
    files.pop(f"{stem}.csv", None)
    match rng.randrange(8):
        case 0:
            packed = io.BytesIO()
            with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr("content.xml", b"<a>" + bytes(50 * 2**20))
                archive.writestr("xl/workbook.xml", b"<a>")
            files[f"{stem}{rng.choice(['.ods', '.xlsx'])}"] = packed.getvalue()
        case 1:
            files[f"{stem}.ods"] = ods(
                "<table:table-row><table:table-cell><text:p>&l8;</text:p></table:table-cell></table:table-row>",
                before=doctype,
            )
        case 2:
            wide = cell.format(' table:number-columns-repeated="900000000"')
            files[f"{stem}.ods"] = ods(
                f'<table:table-row table:number-rows-repeated="900000000">{wide}</table:table-row>'
            )
        case 3:
            files[f"{stem}.ods"] = ods(
                f"<table:table-row>{header}</table:table-row>"
                f'<table:table-row table:number-rows-repeated="1048570">{cell.format("") * 3}'
                "</table:table-row>"
            )
        case 4:
            book = io.BytesIO(_xlsx([["spot", "band"], ["S1", "5"]]))
            packed = io.BytesIO()
            with zipfile.ZipFile(book) as old, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
                for name in old.namelist():
                    part = old.read(name)
                    if "sheet1" in name:
                        part = part.replace(b'r="A2"', b'r="XFD1048576"').replace(b'r="2"', b'r="1048576"')
                    archive.writestr(name, doctype.encode() + part if "shared" in name.lower() else part)
            files[f"{stem}.xlsx"] = packed.getvalue()
        case 5:
            packed = io.BytesIO()
            with zipfile.ZipFile(packed, "w") as archive:
                for number in range(12_000):
                    archive.writestr(f"xl/{number}.xml", b"")
            files[f"{stem}.xlsx"] = packed.getvalue()
        case 6:
            files["images/inside.png"] = _png(rng.choice([(60_000, 60_000), (2**31 - 1, 1), (0, 0)]))
        case 7:
            deep = rng.choice([900, 100_000])
            files[f"{stem}.ods"] = ods(
                "<table:table-row>" + "<table:table-cell>" * deep + "</table:table-cell>" * deep + "</table:table-row>"
            )


def _png(size: tuple[int, int]) -> bytes:
    """A picture that claims to be of this size."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", *size, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(bytes(5000))) + chunk(b"IEND", b"")


def _logs(rng: Random, files: Files, folder: Path) -> None:
    """Logs with numbers that are none, nested without end, cut off, or huge."""
    odd = rng.choice(
        ["NaN", "Infinity", "-Infinity", "1e999", "9" * 5000, "null", "[]", '"x"', "-1", "1e300", "true", "{}"]
    )
    match rng.randrange(7):
        case 0:
            files["logs/bench.json"] = (
                f'{{"samples":[{{"begin":{odd},"rx_kbit":{odd}}},{{"begin":1e3,"rx_kbit":4}}]}}'.encode()
            )
        case 1:
            deep = rng.choice([500, 100_000])
            files["logs/bench.json"] = b'{"samples":' + b"[" * deep + b"]" * rng.choice([0, deep]) + b"}"
        case 2:
            files["logs/film.jsonl"] = b"\n".join([b'{"t":0,"took":5,"who":"film"}', b'{"t":1,"t":2}', odd.encode()])
        case 3:
            times = rng.choice(["0", odd.strip('"'), "-5", "9e18", "1e15"])
            files["logs/plain.csv"] = f"t_s,mbit_s\n{times},{odd}\n1,{odd}\n2,400\n".encode()
        case 4:
            text = rng.choice(
                ["$..*", "$..[?@.a==1]", "$[?match(@.a,'(a+)+$')]", "$[", "$" + ".a" * 5000, "$[*]" * 50, "$['a']"]
            )
            files["maps/bench.toml"] = files.get("maps/bench.toml", b"").replace(b"$.samples[*]", text.encode())
        case 5:
            files["logs/night.csv"] = f"t_s,seconds,bytes\n0,{odd},{odd}\n60,0,5\n120,60,{'9' * 40}\n".encode()
        case 6:
            moment = rng.choice(
                ["2025-05-12 14:00:00", "2025-03-30 02:30", "0001-01-01 00:00", "9999-12-31 23:59:59", odd]
            )
            files["logs/pages.csv"] = f"start,ms,outcome\n{moment},5,finished\n{moment},{odd},failed\n".encode()
    if rng.random() < 0.2:
        files["logs/bench.json"] = json.dumps(
            {"samples": [{"begin": n, "rx_kbit": n % 9} for n in range(3000)]}
        ).encode()


DAMAGES: tuple[Damage, ...] = (
    _bytes,
    _bytes,
    _table,
    _table,
    _table,
    _encoding,
    _toml,
    _toml,
    _paths,
    _things_in_the_way,
    _swapped,
    _odd_names,
    _workbook,
    _bomb,
    _logs,
    _logs,
)


def damaged_batch(seed: int, folder: Path, sources: list[Files] | None = None) -> str:
    """Write the damaged batch of *seed* to *folder*, which must not exist; returns the kinds of damage in words."""
    rng = Random(seed)
    files = dict(rng.choice(sources)) if sources and rng.random() < 0.4 else whole_batch()
    folder.mkdir(parents=True)
    chosen = rng.choices(DAMAGES, k=rng.choice([1, 1, 1, 2, 3]))
    for damage in chosen:
        damage(rng, files, folder)
    for name, content in files.items():
        target = folder / name
        with contextlib.suppress(OSError, ValueError):  # something already stands in the way
            target.parent.mkdir(parents=True, exist_ok=True)
            with target.open("xb") as file:
                file.write(content)
    return ", ".join(damage.__name__.strip("_") for damage in chosen)
