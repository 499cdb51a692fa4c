"""What runs on the workers of a cluster. In: steps, sources, records. Out: what they gave, and what a worker is like.

Records travel between workers as packets: those of one file that belong to one part, as bytes beside the part's number.
"""

from __future__ import annotations

import functools
import hashlib
import pickle
import uuid
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.record import tool_version, versions
from screen.stages.read.gathering import Lot, Start, Unit, lot_of

__all__ = [
    "OtherInstallationError",
    "installation",
    "look_around",
    "no_packets",
    "packets_of",
    "run_step",
    "same",
    "unpacked",
    "without_records",
]

#: Libraries whose versions the figures may depend on, or what travels between the processes.
_LIBRARIES = ("pandas", "numpy", "openpyxl", "python-calamine", "pyarrow", "dask", "distributed")


class OtherInstallationError(RuntimeError):
    """A worker whose installation could give other figures; the text says in what it differs."""


@functools.cache
def installation() -> dict[str, str]:
    """Versions, a digest of the tool's own files (``files``) and of what the processor makes of ``figures``."""
    import screen
    from screen.reference.locate import data_root

    root = Path(screen.__file__).parent
    digest = hashlib.sha256()
    for top, pattern in ((root, "*.py"), (data_root(), "*")):
        for path in sorted(one for one in top.rglob(pattern) if one.is_file()):
            digest.update(path.relative_to(top).as_posix().encode() + b"\0" + path.read_bytes())
    x = np.linspace(0.01, 40.0, 4001)
    made = np.concatenate([np.exp(x), np.log(x), np.log10(x), x**0.37, np.sqrt(x), [x.sum(), x.mean(), np.dot(x, x)]])
    known = versions(_LIBRARIES)
    return {
        "siltmark": tool_version(),
        **{name: known.get(name, "none") for name in ("python", *_LIBRARIES)},
        "files": digest.hexdigest(),
        "figures": hashlib.sha256(made.tobytes()).hexdigest(),
    }


def look_around(sources: Sequence[tuple[Path, int, int | None]], folder: Path) -> dict[str, Any]:
    """What a worker is like: its installation, the first of the ``sources`` (path, bytes, time of writing) that it
    cannot see as they are, and whether it could leave a file in ``folder``."""
    unseen = next((str(path) for path, size, written in sources if not _seen(path, size, written)), "")
    try:
        (folder / uuid.uuid4().hex).touch(exist_ok=False)
        left = True
    except OSError:
        left = False
    return {"installation": installation(), "unseen": unseen, "left": left}


def _seen(path: Path, size: int, written: int | None) -> bool:
    try:
        with path.open("rb"):
            status = path.stat()
    except OSError:
        return False
    return status.st_size == size and written in (None, status.st_mtime_ns)


def same(given: Any) -> Any:
    """What was given: a step whose outcome all other steps share."""
    return given


def run_step(step: Callable[..., Any], expected: dict[str, str], part: int, known: Any, *own: Any) -> Any:
    """Do one step, unless the worker differs from the machine that asks for it. Raises OtherInstallationError."""
    here = installation()
    if here != expected:
        raise OtherInstallationError(differing(here, expected))
    return step(part, known, *own)


def differing(there: dict[str, str], here: dict[str, str]) -> str:
    """In words, in what one installation differs from this one."""
    names = [name for name in here if there.get(name) != here[name]]
    told = [f"{name} {there.get(name, 'none')} (here {here[name]})" for name in names if name not in _DIGESTS]
    return ", ".join(told) or ", ".join(_DIGESTS[name] for name in names)


_DIGESTS = {
    "files": "files of siltmark that differ from those here",
    "figures": "a processor or libraries that give other last digits",
}


def without_records(unit: Unit) -> Unit:
    """A file as read, for the machine that asks; its records stay on the worker."""
    return unit.without_records()


def packets_of(unit: Unit, start: Start, of_owner: npt.NDArray[np.int32], wanted: Sequence[int]) -> pd.DataFrame:
    """The records of a file as packets, one for each of the ``wanted`` parts that has some: part, packet.

    ``of_owner``: the part of each owner of the file.
    """
    part_of = of_owner[unit.owner]
    whole = lot_of([unit], [start])
    parts = np.intersect1d(part_of, np.asarray(wanted, dtype=np.int64))
    packets = [pickle.dumps(whole.at(np.flatnonzero(part_of == part)), protocol=5) for part in parts]
    return no_packets() if not packets else _packets(parts, packets)


def no_packets() -> pd.DataFrame:
    """The frame of ``packets_of`` without rows."""
    return _packets([], [])


def _packets(parts: Sequence[int] | npt.NDArray[np.integer], packets: Sequence[bytes]) -> pd.DataFrame:
    import pyarrow as pa

    binary = pd.ArrowDtype(pa.large_binary())
    return pd.DataFrame({"part": np.asarray(parts, dtype=np.int64), "packet": pd.Series(packets, dtype=binary)})


def unpacked(packets: pd.DataFrame) -> Lot:
    """The lot of one part from its packets, in the order read."""
    lots = [pickle.loads(packet) for packet in packets["packet"]]
    return Lot.together(sorted(lots, key=lambda lot: int(lot.places[0])))
