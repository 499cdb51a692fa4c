"""(a2) The plain round trip with as much to write: `same_tables IN.csv TABLES FOLDER`.

Reads a file with pandas and writes by `to_csv` tables of the shapes of those in TABLES (a finished run): as many rows
and columns, and like contents. The time to look at TABLES and to make the frames is told at the end and not counted.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

#: Rows that are looked at to tell what a column holds.
_LOOK = 20_000


def like(path: Path) -> pd.DataFrame:
    """A frame of the shape of the table at ``path``: each column repeats what stands in the table's first rows.

    Texts repeat up to 2,000 distinct ones; numbers are drawn anew, since a number column seldom repeats itself.
    """
    head = pd.read_csv(path, nrows=_LOOK, low_memory=False)
    with path.open("rb") as stream:
        rows = sum(chunk.count(b"\n") for chunk in iter(lambda: stream.read(1 << 22), b"")) - 1
    dice = np.random.default_rng(11)
    pick = dice.integers(0, max(len(head), 1), min(rows, 2_000) or 1)
    columns: dict[str, object] = {}
    for name, column in head.items():
        if column.isna().all():
            columns[str(name)] = np.full(rows, np.nan)
        elif column.dtype.kind == "f" and column.nunique() > 2_000:
            drawn = column.to_numpy()[dice.integers(0, len(column), rows)]
            columns[str(name)] = drawn * (1.0 if (column.round(3) == column).mean() > 0.9 else dice.random(rows))
        else:
            columns[str(name)] = pd.Series(np.resize(column.iloc[pick].to_numpy(), rows), dtype=column.dtype)
    return pd.DataFrame(columns)


def main() -> None:
    """Read, then write a table for each."""
    source, tables, folder = map(Path, sys.argv[1:])
    pd.read_csv(source)
    making = 0.0
    for path in sorted(tables.glob("*.csv")):
        began = time.perf_counter()
        frame = like(path)
        making += time.perf_counter() - began
        frame.to_csv(folder / path.name, index=False)
    print(f"not counted {making:.3f}")


if __name__ == "__main__":
    main()
