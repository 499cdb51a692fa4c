"""Frames kept in a folder and read back piece by piece. In: frames, arrays, plain data. Out: the same, by columns.

A column is an array of numbers in NumPy's own format, without objects; texts stand beside it as JSON. Nothing that is
read back can run. A folder appears whole, under its name, when all of it is written.
"""

from __future__ import annotations

import json
import shutil
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["UNFINISHED", "Kept", "Rows", "Shelf"]

#: The end of the name of a folder that is still being written.
UNFINISHED = ".new"
_Array = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class _Column:
    """One column, whose numbers stand in the file ``place``.

    ``kind`` is text (categorical), object (texts), Int64, boolean, or empty for plain numbers.
    """

    kind: str
    place: Path
    texts: list[str] | None = None

    def series(self, rows: Any) -> Any:
        import pandas as pd

        # mapped anew each time: what stays mapped counts as memory of the process
        values = np.array(np.load(self.place, mmap_mode="r", allow_pickle=False)[rows])
        if self.texts is None:
            if self.kind == "Int64":
                return pd.arrays.IntegerArray(values, values == _NO_NUMBER)
            if self.kind == "boolean":
                return pd.arrays.BooleanArray(values == 1, values < 0)
            return values
        used = np.zeros(len(self.texts) + 1, dtype=bool)
        used[values] = True
        used = used[:-1]
        moved = np.append(np.cumsum(used) - 1, -1)
        texts = np.array([self.texts[at] for at in np.flatnonzero(used)], dtype=object)
        if self.kind == "object":
            return np.append(texts, np.array([None], dtype=object))[moved[values]]
        return pd.Categorical.from_codes(moved[values], pd.Index(texts, dtype=object))


_NO_NUMBER = np.iinfo(np.int64).min


class Rows:
    """A frame, in memory or kept in a folder, of which rows are taken by their places."""

    def __init__(self, frame: pd.DataFrame | None, columns: Mapping[str, _Column] | None = None, size: int = 0) -> None:
        self._frame, self._columns = frame, columns or {}
        self._size = size if frame is None else len(frame)

    def __len__(self) -> int:
        """The number of rows."""
        return self._size

    def whole(self) -> pd.DataFrame:
        """All rows."""
        return self.at(slice(0, self._size))

    def at(self, rows: slice | npt.NDArray[np.integer], names: Sequence[str] | None = None) -> pd.DataFrame:
        """Some rows, of all columns or of those that are named."""
        if self._frame is None:
            import pandas as pd

            columns = {name: self._columns[name].series(rows) for name in names or self._columns}
            return pd.DataFrame(columns, copy=False)
        frame = self._frame if names is None else self._frame[list(names)]
        if isinstance(rows, slice) and rows == slice(0, self._size):
            return frame
        return frame.iloc[rows].reset_index(drop=True)


class _Arrays(Mapping[str, _Array]):
    """Arrays in files, each read when it is asked for."""

    def __init__(self, places: Mapping[str, Path]) -> None:
        self._places = places

    def __getitem__(self, name: str) -> _Array:
        values: _Array = np.load(self._places[name], allow_pickle=False)
        return values

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)


@dataclass(slots=True)
class Kept:
    """What one step of one part gave: frames, arrays, and plain data (what JSON can say)."""

    frames: dict[str, Rows] = field(default_factory=dict)
    arrays: Mapping[str, _Array] = field(default_factory=dict)
    about: dict[str, Any] = field(default_factory=dict)


class Shelf:
    """Where steps are kept: in ``folder``, or in memory without one. ``before`` is called before each is kept.

    Sent to another process it is a shelf of the same folder. Several processes may put the same step at the same time:
    the first counts, and the others gave the same.
    """

    def __init__(self, folder: Path | None, before: Callable[[], None] | None = None) -> None:
        self.folder = folder
        self._before = before
        self._memory: dict[str, Kept] = {}

    def __reduce__(self) -> tuple[type[Shelf], tuple[Path | None]]:
        """What another process makes of it."""
        return Shelf, (None if self.folder is None else self.folder.absolute(),)

    def has(self, name: str) -> bool:
        """Whether the step is there."""
        return name in self._memory if self.folder is None else (self.folder / name).is_dir()

    def put(
        self, name: str, frames: Mapping[str, pd.DataFrame], arrays: Mapping[str, _Array], about: Mapping[str, Any]
    ) -> None:
        """Keep a step, whole or not at all."""
        if self.folder is None:
            self._memory[name] = Kept({key: Rows(frame) for key, frame in frames.items()}, dict(arrays), dict(about))
            return
        if self._before is not None:
            self._before()
        work = self.folder / f"{name}.{uuid.uuid4().hex}{UNFINISHED}"
        work.mkdir(parents=True)
        heads: dict[str, Any] = {}
        for key, frame in frames.items():
            columns = []
            for at, label in enumerate(frame.columns):
                kind, values, texts = _coded(frame[label])
                np.save(work / f"{key}.{at}.npy", values, allow_pickle=False)
                columns.append([label, kind, texts])
            heads[key] = {"rows": len(frame), "columns": columns}
        for key, values in arrays.items():
            np.save(work / f"{key}.npy", values, allow_pickle=False)
        told = {"frames": heads, "arrays": list(arrays), "about": about}
        (work / "about.json").write_text(json.dumps(told), encoding="utf-8")
        try:
            work.rename(self.folder / name)
        except OSError:
            shutil.rmtree(work, ignore_errors=True)
            if not self.has(name):
                raise

    def get(self, name: str) -> Kept:
        """A step that is there; its columns are read when they are used."""
        if self.folder is None:
            return self._memory[name]
        place = self.folder / name
        told = json.loads((place / "about.json").read_text(encoding="utf-8"))
        frames = {}
        for key, head in told["frames"].items():
            columns = {
                label: _Column(kind, place / f"{key}.{at}.npy", texts)
                for at, (label, kind, texts) in enumerate(head["columns"])
            }
            frames[key] = Rows(None, columns, head["rows"])
        arrays = _Arrays({key: place / f"{key}.npy" for key in told["arrays"]})
        return Kept(frames, arrays, told["about"])

    def drop(self, name: str) -> None:
        """Let go of a step that is needed no more in this run; what stands in a folder stays there."""
        self._memory.pop(name, None)


def _coded(column: pd.Series) -> tuple[str, _Array, list[str] | None]:
    """Kind, numbers and texts of a column."""
    import pandas as pd

    kind = column.dtype
    if isinstance(kind, pd.CategoricalDtype):
        texts = [str(text) for text in kind.categories]
        return "text", column.cat.codes.to_numpy(), texts
    if isinstance(kind, pd.Int64Dtype):
        return "Int64", column.to_numpy(dtype=np.int64, na_value=_NO_NUMBER), None
    if isinstance(kind, pd.BooleanDtype):
        return "boolean", column.to_numpy(dtype=np.int8, na_value=-1), None
    if isinstance(kind, np.dtype) and kind.kind in "bif":
        return "", column.to_numpy(), None
    codes, distinct = pd.factorize(column.astype(object).to_numpy())
    return "object", codes, [str(text) for text in distinct]
