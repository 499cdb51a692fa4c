"""Run ``siltmark`` as a user does and read what it wrote: arguments in; status, messages and tables out."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd
from click.testing import CliRunner

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "demo_data"
LONG = ["Sample", "Analyte", "Result", "Unit", "Basis"]


@dataclass
class Outcome:
    """What one run of the command gave: status, messages and, where it was written, the output folder."""

    status: int
    stdout: str
    stderr: str
    out: Path
    _tables: dict[str, pd.DataFrame] = field(default_factory=dict)

    def table(self, name: str) -> pd.DataFrame:
        """A table of the output as text, missing as ''."""
        if name not in self._tables:
            path = self.out / "tables" / f"{name}.csv"
            assert path.exists(), f"no {path.name}; status {self.status}; stderr:\n{self.stderr}"
            text = path.read_bytes().decode("utf-8")
            self._tables[name] = pd.read_csv(io.StringIO(text, newline=""), dtype=str, keep_default_na=False)
        return self._tables[name]

    def __getattr__(self, name: str) -> pd.DataFrame:
        if name.startswith("_"):
            raise AttributeError(name)
        return self.table(name)

    @property
    def record(self) -> dict[str, Any]:
        """run.json."""
        return json.loads((self.out / "run.json").read_text(encoding="utf-8"))

    def one(self, table: str, **wanted: str) -> dict[str, str]:
        """The one row of ``table`` in which each named column has the wanted text."""
        rows = self.rows(table, **wanted)
        assert len(rows) == 1, (
            f"{len(rows)} rows of {table} with {wanted}; the table holds\n{self.table(table)}\n{self.stderr}"
        )
        return rows[0]

    def rows(self, table: str, **wanted: str) -> list[dict[str, str]]:
        """All such rows."""
        frame = self.table(table)
        for column, text in wanted.items():
            frame = frame[frame[column] == text]
        return [{str(k): str(v) for k, v in row.items()} for row in frame.to_dict("records")]


def run_siltmark(*arguments: str | Path, out: Path | None = None) -> Outcome:
    """Run ``siltmark`` with these arguments in this process; an exception that escapes it fails the test."""
    from screen.cli.main import main

    result = CliRunner().invoke(main, [str(a) for a in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Outcome(result.exit_code, result.stdout, result.stderr, out or Path("nowhere"))


def write_csv(path: Path, rows: Iterable[Sequence[object]]) -> Path:
    """Write rows as comma-separated UTF-8."""
    with path.open("w", encoding="utf-8", newline="") as handle:
        csv.writer(handle, lineterminator="\n").writerows(["" if c is None else c for c in row] for row in rows)
    return path


def filled_cells(path: Path) -> int:
    """Non-empty cells of a text file as the csv module counts them."""
    with path.open(encoding="utf-8-sig", newline="") as handle:
        return sum(1 for row in csv.reader(handle) for cell in row if cell.strip())
