"""Damage to files: a random source in, a name and bytes out; and what must hold when such a file is read."""

from __future__ import annotations

import csv
import io
import random
import signal
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from screen.model import Batch
from screen.settings import Settings
from screen.stages.read.batch import read
from screen.stages.read.cells.files import find_sheets, read_grids
from screen.stages.read.summary import render, summarise
from tests.robust.sheets import whole_files

__all__ = ["LONGEST_SECONDS", "TooLongError", "damaged", "read_damaged", "within"]

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


def damaged(chance: random.Random) -> tuple[str, bytes]:
    """One of the whole files with one to three sorts of damage."""
    name = chance.choice(sorted(whole_files()))
    content = whole_files()[name]
    packed = name.endswith((".xlsx", ".ods"))
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        sorts = [_flip, _bytes, _cut, _blank, _doubled, *([_member, _member, _member, _members] if packed else [])]
        content = chance.choice(sorts)(chance, content) or content
    return name, content


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


def read_damaged(path: Path) -> Batch:
    """Read ``path`` within the time; whatever it holds, the answer is a batch in which every cell is accounted for."""
    with within(LONGEST_SECONDS):
        batch = read([path], Settings())
        render(summarise(batch))
    ledger, results = batch.ledger, batch.results
    assert np.nansum(ledger["cells"]) == batch.cells, "cells lost"
    assert batch.cells == _second_count(path, batch.cells), "cells not read"
    entries = ledger.loc[ledger["became"] == "result", "result_id"].astype("int64")
    assert sorted(entries) == sorted(results["result_id"].astype("int64")), "results without an entry"
    numbers = results[["read_value", "read_limit", "read_low", "read_high"]].to_numpy(dtype=np.float64)
    assert not np.isinf(numbers).any(), "an infinite number"
    assert batch.cells or batch.problems, "nothing read and nothing said"
    assert all(one.message for one in batch.problems), "a message without words"
    return batch


def _second_count(path: Path, cells: int) -> int:
    """Filled cells of a text file as the csv module counts them; of other files ``cells`` itself."""
    sources, _ = find_sheets([path])
    if not sources or sources[0].kind != "text":
        return cells
    grids, _ = read_grids(sources[0], Settings())
    if not grids:
        return 0
    csv.field_size_limit(10_000_000)
    with path.open(encoding=grids[0].encoding, newline="") as stream:
        return sum(bool(one.strip()) for row in csv.reader(stream, delimiter=grids[0].delimiter) for one in row)
