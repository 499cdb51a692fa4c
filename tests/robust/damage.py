"""Damage to files: a random source in, a name and bytes out; and what must hold when such a file is read."""

from __future__ import annotations

import io
import random
import re
import signal
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from screen.model import Batch
from screen.settings import Settings
from screen.stages.read.batch import read
from screen.stages.read.cells.files import find_sheets
from screen.stages.read.summary import render, summarise
from tests.robust.second import count_cells

__all__ = ["LONGEST_SECONDS", "Damaged", "TooLongError", "change_cells", "damaged", "read_damaged", "within"]

LONGEST_SECONDS = 10
#: What a slip of a disk, a transfer or a macro puts into the XML of a package.
# fmt: off
_TOKENS = [b"<", b">", b"&", b'"', b"'", b"/", b"0", b"-1", b"99999999999", b"A", b"ZZZZ9", b" ", b"\0", b"\xff",
           b"&#0;", b"&lt;", b"]]>", b"<!--", b"<v/>", b"<c/>", b"1e999", b'r="', b't="s"', b't="e"', b"<row>",
           b"</row>", b"xmlns"]
# fmt: on


class TooLongError(Exception):
    """A file or text took longer than it may."""


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """Raise TooLongError if the body takes longer than ``seconds`` (main thread only)."""

    def late(*_: object) -> None:
        raise TooLongError(f"longer than {seconds} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@dataclass(frozen=True, slots=True)
class Damaged:
    """A damaged file; ``sorts`` names what was done to it, in order."""

    name: str
    content: bytes
    sorts: tuple[str, ...]


def damaged(chance: random.Random, seeds: Mapping[str, bytes]) -> Damaged:
    """One of the ``seeds`` (name -> content) with one to three sorts of damage."""
    name = chance.choice(sorted(seeds))
    content, done = seeds[name], []
    packed = name.endswith((".xlsx", ".ods"))
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        inside = [_cells, _cells, _member, _members] if packed else [_fields, _fields] if _is_text(name) else []
        damage = chance.choice([_flip, _bytes, _cut, _blank, _doubled, *inside])
        if changed := damage(chance, content):
            content = changed
            done.append(damage.__name__.strip("_"))
    return Damaged(name, content, tuple(done))


def _is_text(name: str) -> bool:
    return name.endswith((".csv", ".tsv"))


def _flip(chance: random.Random, content: bytes) -> bytes:
    changed = bytearray(content)
    for _ in range(chance.choice((1, 2, 8, 64))):
        changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed)


def _bytes(chance: random.Random, content: bytes) -> bytes:
    changed = bytearray(content)
    for _ in range(chance.randint(1, 12)):
        changed[chance.randrange(len(changed))] = chance.choice((chance.randrange(256), 0, 255, 44, 34, 10))
    return bytes(changed)


def _cut(chance: random.Random, content: bytes) -> bytes:
    return content[: chance.randrange(1, len(content) + 1)]


def _blank(chance: random.Random, content: bytes) -> bytes:
    """A run of zero bytes, as a disk leaves them."""
    start = chance.randrange(len(content))
    length = min(chance.choice((16, 512, 4096)), len(content) - start)
    return content[:start] + bytes(length) + content[start + length :]


def _doubled(chance: random.Random, content: bytes) -> bytes:
    start, end = sorted(chance.randrange(len(content) + 1) for _ in range(2))
    return content[:end] + content[start:]


def _parts(content: bytes) -> list[tuple[str, bytes]]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            return [(one.filename, package.read(one)) for one in package.infolist()]
    except Exception:  # already damaged beyond reading
        return []


def _packed(parts: list[tuple[str, bytes]]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        for name, part in parts:
            package.writestr(zipfile.ZipInfo(name), part)
    return stream.getvalue()


def _member(chance: random.Random, content: bytes) -> bytes:
    """One part with tokens put in, taken out or cut off."""
    parts = _parts(content)
    if not parts:
        return content
    place = chance.randrange(len(parts))
    name, part = parts[place]
    for _ in range(chance.randint(1, 5)):
        at = chance.randrange(len(part) + 1)
        part = part[:at] + chance.choice((b"", *_TOKENS)) + part[at + chance.choice((0, 1, 4)) :]
    parts[place] = (name, part[: chance.randrange(len(part) + 1)] if chance.random() < 0.15 else part)
    return _packed(parts)


_CELL = re.compile(rb"<c [^>]*?(?:/>|>.*?</c>)|<table:table-cell[^>]*?(?:/>|>.*?</table:table-cell>)", re.DOTALL)
_TEXT = re.compile(rb">([^<>]+)<")
_ATTRIBUTE = re.compile(rb' [a-z:-]+="([^"]*)"')
_PUT = [b"0", b"-1", b"1e400", b"nan", b"1", b"999999", b"<5", b"ND", b"=1+1", b"s", b"e", b"b", b"inlineStr", b"A1",
        b"XFD1048576", b"", b"QE-01", b"mg/kg", b"2026-03-04", b"1,5"]  # fmt: skip


def change_cells(chance: random.Random, part: bytes) -> bytes:
    """The XML of a sheet with a few of its cells lost, doubled, exchanged, or another text or attribute in them."""
    for _ in range(chance.randint(1, 4)):
        cells = [one.span() for one in _CELL.finditer(part)]
        if not cells:
            return part
        start, end = chance.choice(cells)
        other = slice(*chance.choice(cells))
        cell = part[start:end]
        sort = chance.randrange(6)
        if sort == 0:
            cell = b""
        elif sort == 1:
            cell += cell
        elif sort == 2:
            cell = part[other]
        else:
            place = chance.choice([_TEXT, _ATTRIBUTE, _ATTRIBUTE])
            found = [one.span(1) for one in place.finditer(cell)]
            if found:
                first, last = chance.choice(found)
                put = chance.choice(_PUT).replace(b"<", b"&lt;")
                cell = cell[:first] + put + cell[last:]
        part = part[:start] + cell + part[end:]
    return part


def _cells(chance: random.Random, content: bytes) -> bytes:
    """A package whose container is whole and whose cells are not what they were."""
    parts = _parts(content)
    sheets = [place for place, (name, _) in enumerate(parts) if "sheet" in name and name.endswith(".xml")]
    sheets += [place for place, (name, _) in enumerate(parts) if name == "content.xml"]
    if not sheets:
        return content
    place = chance.choice(sheets)
    parts[place] = (parts[place][0], change_cells(chance, parts[place][1]))
    return _packed(parts)


def _fields(chance: random.Random, content: bytes) -> bytes:
    """A text with a few of its lines lost, doubled or moved, and other words between its delimiters."""
    lines = content.split(b"\n")
    for _ in range(chance.randint(1, 6)):
        place = chance.randrange(len(lines))
        sort = chance.randrange(5)
        if sort == 0:
            lines[place] = b""
        elif sort == 1:
            lines.insert(chance.randrange(len(lines)), lines[place])
        else:
            fields = re.split(rb"([,;\t])", lines[place])
            fields[chance.randrange(len(fields))] = chance.choice([b'"', b"", b"\r", *_PUT])
            lines[place] = b"".join(fields)
    return b"\n".join(lines)


def _members(chance: random.Random, content: bytes) -> bytes:
    """Parts missing, twice, exchanged, renamed or empty."""
    parts = _parts(content)
    if len(parts) < 2:
        return content
    first, second = chance.sample(range(len(parts)), 2)
    sort = chance.randrange(5)
    if sort == 0:
        parts.pop(first)
    elif sort == 1:
        parts.append((parts[first][0], parts[second][1]))
    elif sort == 2:
        parts[first], parts[second] = (parts[first][0], parts[second][1]), (parts[second][0], parts[first][1])
    elif sort == 3:
        parts[first] = (parts[first][0].upper(), parts[first][1])
    else:
        parts[first] = (parts[first][0], b"")
    return _packed(parts)


def read_damaged(path: Path) -> tuple[Batch, bool]:
    """Read ``path`` within the time: a batch in which every cell is accounted for, and whether a second reader agrees.

    It need not agree where it cannot read the file, or where the file is refused whole or sheet by sheet.
    """
    with within(LONGEST_SECONDS):
        batch = read([path], Settings())
        render(summarise(batch))
    ledger, results = batch.ledger, batch.results
    assert np.nansum(ledger["cells"]) == batch.cells, "cells lost"
    entries = ledger.loc[ledger["became"] == "result", "result_id"].astype("int64")
    assert sorted(entries) == sorted(results["result_id"].astype("int64")), "results without an entry"
    numbers = results[["read_value", "read_limit", "read_low", "read_high"]].to_numpy(dtype=np.float64)
    assert not np.isinf(numbers).any(), "an infinite number"
    assert batch.cells or batch.problems, "nothing read and nothing said"
    assert all(one.message for one in batch.problems), "a message without words"
    if any(one.severity == "file" for one in batch.problems):
        return batch, False
    sources, _ = find_sheets([path])
    second = count_cells(path, sources[0].kind)
    assert second is None or batch.cells == second, f"{batch.cells} cells read, {second} by the second reader"
    return batch, second is not None
