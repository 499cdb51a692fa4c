"""The tables of a run as files. In: a finished ``Run`` or any frame. Out: CSV, or Parquet where the settings ask it.

Two engines, pyarrow where it is installed and plain Python where it is not, write the same bytes of CSV, in chunks,
both cores at work.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen import model
from screen.columns import coded
from screen.stages.report.text import Coded, Integers, Numbers, cell_text, merged, number_texts, prepare

try:
    import pyarrow as pa
    import pyarrow.compute as pc
except ImportError:  # the extra `fast` is not installed
    pa = None

if TYPE_CHECKING:
    from screen.model import Run

__all__ = ["CsvSink", "ParquetSink", "frames", "write_tables"]

_CHUNK = 12_500
_Column = Coded | Numbers | Integers
#: Gives the bytes of the rows from one number up to another.
_Block = Callable[[int, int], Any]


def frames(run: Run) -> dict[str, pd.DataFrame]:
    """The tables of the output in the contract's order, each with its contract columns first, then any further ones."""
    tables = {
        "results": (run.batch.results, [*model.RESULTS, *model.RESULTS_LATER]),
        "totals": (run.totals, model.TOTALS),
        "findings": (run.findings, model.FINDINGS),
        "indices": (run.indices, model.INDICES),
        "stations": (run.stations, model.STATIONS),
        "reach": (run.reach, model.REACH),
        "samples": (run.batch.samples, [*model.SAMPLES, *_met(run.batch.samples, model.SAMPLES_LATER)]),
        "quality": (run.quality, model.QUALITY),
        "cores": (run.cores, [*model.CORES, *_met(run.cores, model.CORES_LATER)]),
        "ledger": (run.batch.ledger, model.LEDGER),
    }
    if run.change is not None:
        tables["change"] = (run.change, model.CHANGE)
    further = {
        "ranking": (run.ranking, model.RANKING),
        "trends": (run.trends, model.TRENDS),
        "cuts": (run.cuts, model.CUTS),
        "comparisons": (run.comparisons, model.COMPARISONS),
    }
    tables |= {name: (frame, columns) for name, (frame, columns) in further.items() if frame is not None and len(frame)}
    return {name: frame.loc[:, columns] for name, (frame, columns) in tables.items()}


def _met(frame: pd.DataFrame, later: Sequence[str]) -> list[str]:
    """Those of the later columns that this run has."""
    return [name for name in later if name in frame.columns]


def write_tables(
    run: Run,
    folder: Path,
    geojson: Mapping[str, object],
    blocks: Mapping[str, Iterable[pd.DataFrame]] | None = None,
) -> None:
    """Write every table of ``run``, as its settings ask, and ``stations.geojson`` (the dict given) into ``folder``.

    The folder must exist. ``blocks`` gives the rows of tables by their names, in order, where ``run`` itself does not
    hold them.
    """
    for name, frame in frames(run).items():
        with _sink(folder, name, frame, run.settings.tables) as sink:
            for block in (blocks or {}).get(name, [frame]):
                sink.append(block)
    text = json.dumps(geojson, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
    (folder / "stations.geojson").write_text(text, encoding="utf-8", newline="\n")


def _sink(folder: Path, name: str, frame: pd.DataFrame, form: str) -> CsvSink | ParquetSink:
    if form == "parquet":
        return ParquetSink(folder / f"{name}.parquet", frame)
    return CsvSink(folder / f"{name}.csv", list(frame.columns))


class ParquetSink:
    """A Parquet file that grows by frames; needs the extra ``fast``. Texts, doubles, whole numbers and flags keep their
    kind, and a missing value is null. Use it as a context manager.
    """

    def __init__(self, path: Path, frame: pd.DataFrame) -> None:
        """``frame`` tells the columns and their kinds; its rows do not matter."""
        from pyarrow import parquet

        self._schema = pa.schema([(name, _kind(frame[name].dtype)) for name in frame.columns])
        self._writer = parquet.ParquetWriter(path, self._schema)

    def append(self, frame: pd.DataFrame) -> None:
        """Write the rows of ``frame`` at the end, as row groups of a fixed size."""
        columns = [_arrow(frame[field.name], field.type) for field in self._schema]
        self._writer.write_table(pa.table(columns, schema=self._schema), row_group_size=_ROW_GROUP)

    def __enter__(self) -> Self:
        """The sink itself."""
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        """Finish the file, whatever happened."""
        self._writer.close()


_ROW_GROUP = 1 << 18


def _kind(kind: Any) -> Any:
    if pd.api.types.is_bool_dtype(kind):
        return pa.bool_()
    if pd.api.types.is_integer_dtype(kind):
        return pa.int64()
    return pa.float64() if pd.api.types.is_float_dtype(kind) else pa.string()


def _arrow(column: pd.Series[Any], kind: Any) -> Any:
    """A column as an Arrow array; texts are written in plain, so that the bytes do not depend on how they are coded."""
    if kind == pa.string():
        codes, texts = coded(column)
        return pa.array([str(text) for text in texts], kind).take(pa.array(codes, mask=codes < 0))
    missing = column.isna().to_numpy()
    filled = column.to_numpy(dtype={pa.float64(): np.float64, pa.int64(): np.int64}.get(kind, np.bool_), na_value=0)
    return pa.array(filled, kind, mask=missing)


class CsvSink:
    """A CSV file that grows by frames: the head once, then each frame given to ``append``, in order.

    Each frame must hold ``columns``; others in it are left out. Use it as a context manager: what was appended may be
    in the making until then. ``arrow`` false makes it work without pyarrow even where that is installed; the bytes are
    the same.
    """

    def __init__(self, path: Path, columns: Sequence[str], *, arrow: bool = True, chunk: int = _CHUNK) -> None:
        self._columns = list(columns)
        self._arrow = arrow and pa is not None
        self._chunk = chunk
        # plain Python gains nothing from a second thread
        self._pool = ThreadPoolExecutor(2) if self._arrow else None
        self._waiting: deque[Future[Any]] = deque()
        self._file = path.open("wb")
        self._file.write((",".join(map(cell_text, self._columns)) + "\n").encode("utf-8"))

    def append(self, frame: pd.DataFrame) -> None:
        """Write the rows of ``frame`` at the end: two chunks of text in the making, no more than three waiting."""
        columns = merged([prepare(frame[name]) for name in self._columns])
        block = _arrow_blocks(columns) if self._arrow else _plain_blocks(columns)
        for start in range(0, len(frame), self._chunk):
            span = (start, min(start + self._chunk, len(frame)))
            if self._pool is None or (len(frame) <= self._chunk and not self._waiting):
                self._file.write(block(*span))
            else:
                self._waiting.append(self._pool.submit(block, *span))
                self._write_waiting(3)

    def _write_waiting(self, most: int) -> None:
        """Write the chunks that were begun first until ``most`` are left."""
        while len(self._waiting) > most:
            self._file.write(self._waiting.popleft().result())

    def __enter__(self) -> Self:
        """The sink itself."""
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        """Write what is in the making, unless there was an error, and close the file."""
        try:
            if kind is None:
                self._write_waiting(0)
        finally:
            if self._pool is not None:
                self._pool.shutdown(cancel_futures=True)
            self._file.close()


def _plain_blocks(columns: list[_Column]) -> _Block:
    texts = [np.array([*c.texts, ""], dtype=object) if isinstance(c, Coded) else None for c in columns]

    def block(start: int, stop: int) -> bytes:
        numbers = _plain_numbers([c.values[start:stop] for c in columns if isinstance(c, Numbers)])
        cells: list[list[str]] = []
        for column, words in zip(columns, texts, strict=True):
            if isinstance(column, Numbers):
                cells.append(next(numbers))
            elif isinstance(column, Integers):
                cells.append(list(map(str, column.values[start:stop].tolist())))
            else:
                assert words is not None
                cells.append(words.take(column.codes[start:stop]).tolist())  # code -1 takes the last, which is empty
        return ("\n".join(map(",".join, zip(*cells, strict=True))) + "\n").encode("utf-8")

    return block


def _plain_numbers(columns: list[npt.NDArray[Any]]) -> Iterator[list[str]]:
    """The texts of all number columns of a chunk, each distinct number worked out once."""
    if not columns:
        return
    codes, unique = pd.factorize(np.concatenate(columns))
    texts = np.array([*number_texts(unique), ""], dtype=object)
    for part in np.split(codes, len(columns)):
        yield texts.take(part).tolist()


def _arrow_blocks(columns: list[_Column]) -> _Block:
    kind = pa.large_string()
    comma, end, nothing = (pa.scalar(text, kind) for text in (",", "\n", ""))
    texts: list[Any] = [pa.array(c.texts, kind) if isinstance(c, Coded) else None for c in columns]

    def block(start: int, stop: int) -> Any:
        numbers = _arrow_numbers([c.values[start:stop] for c in columns if isinstance(c, Numbers)])
        cells: list[Any] = []
        for column, words in zip(columns, texts, strict=True):
            if isinstance(column, Numbers):
                cells.append(next(numbers))
            elif isinstance(column, Integers):
                cells.append(pa.array(column.values[start:stop]).cast(kind))
            else:
                codes = column.codes[start:stop]
                cells.append(words.take(pa.array(codes, mask=codes < 0)))
        cells[-1] = pc.binary_join_element_wise(cells[-1], end, nothing, null_handling="replace")
        lines = pc.binary_join_element_wise(*cells, comma, null_handling="replace")
        return lines.buffers()[2].slice(0, pc.sum(pc.binary_length(lines)).as_py())

    return block


def _arrow_numbers(columns: list[npt.NDArray[Any]]) -> Iterator[Any]:
    """The same for Arrow, whose text of a double differs from ours for the very small and the large only."""
    if not columns:
        return
    values = np.concatenate(columns)
    coded = pa.array(values, mask=np.isnan(values)).dictionary_encode()
    unique = coded.dictionary.to_numpy(zero_copy_only=False)
    texts = coded.dictionary.cast(pa.large_string())
    size = np.abs(unique)
    other = (size < 1e-4) | (size >= 1e10)
    if other.any():
        exact = pa.array(number_texts(unique[other]), pa.large_string())
        texts = pc.replace_with_mask(texts, pa.array(other), exact)
    rows = len(columns[0])
    for at in range(len(columns)):
        yield texts.take(coded.indices.slice(at * rows, rows))
