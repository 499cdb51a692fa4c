"""A small invented batch whose samples span files and parts, and what a run of it writes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from screen.pipeline import Progress, screened, silent, write_run
from screen.settings import Answer, Settings

SUBSTANCES = {
    "Arsenic": "mg/kg", "Lead": "mg/kg", "Zinc": "mg/kg", "Aluminum": "mg/kg", "Fluoranthene": "ug/kg",
    "Pyrene": "ug/kg", "Naphthalene": "ug/kg", "PCB-118": "ug/kg", "PCB-153": "ug/kg", "4,4'-DDE": "ug/kg",
    "Total organic carbon": "%", "Percent solids": "%",
}  # fmt: skip


def made_rows(seed: int) -> pd.DataFrame:
    """Field samples, two field duplicates, a blank and a laboratory duplicate, with rivals and rows to be refused."""
    dice = np.random.default_rng(seed)
    owners = [(f"QE-{one}", f"S{one % 4}", "", "") for one in range(1, 13)]
    owners += [("QE-31", "S1", "field duplicate", "QE-1"), ("QE-32", "S3", "field duplicate", "QE-7")]
    owners += [("MB-1", "", "method blank", ""), ("QE-2", "S2", "lab duplicate", "")]
    rows = []
    for sample, station, kind, parent in owners:
        for name, unit in SUBSTANCES.items():
            value = float(np.round(np.exp(dice.normal(2.0, 1.5)), 3))
            if unit == "%":
                value = float(np.round(dice.uniform(2, 5) if "carbon" in name else dice.uniform(25, 60), 1))
            flag = "U" if dice.random() < 0.3 and unit != "%" else ""
            basis = "" if unit == "%" else "wet" if sample in ("QE-3", "QE-31") else "dry"
            rows.append((sample, station, kind, parent, name, str(value), flag, unit, basis, "2026-05-12"))
    rows.append(("QE-4", "S0", "", "", "Lead", "77.5", "", "mg/kg", "dry", "2026-05-12"))
    rows.append(("QE-5", "S1", "", "", "Unheard of", "1.5", "", "mg/kg", "dry", "2026-05-12"))
    rows.append(("QE-6", "S2", "", "", "Copper", "n/k", "", "mg/kg", "dry", "2026-05-12"))
    rows.append(("QE-8", "S0", "", "", "Chromium", "0.031", "", "%", "dry", "2026-05-12"))
    rows.append(("", "", "", "", "Cadmium", "0.5", "", "mg/kg", "dry", "2026-05-12"))
    heads = [
        "Sample ID",
        "Station",
        "Sample Type",
        "Parent Sample",
        "Analyte",
        "Result",
        "Qual",
        "Unit",
        "Basis",
        "Date",
    ]
    return pd.DataFrame(rows, columns=heads)


def split_batch(folder: Path, order: int) -> tuple[list[Path], Settings]:
    """Two sheets with rows shuffled by ``order``, so that samples span files, and a field record with a parent."""
    rows = made_rows(5).sample(frac=1, random_state=order)
    half = len(rows) // 2
    sheets = folder / "sheets"
    sheets.mkdir()
    rows.iloc[:half].to_csv(sheets / "a.csv", index=False)
    rows.iloc[half:].to_csv(sheets / "b.csv", index=False)
    field = folder / "field.csv"
    field.write_text(
        "Sample ID,Station,Top (cm),Bottom (cm),Parent Sample\n"
        "QE-9,S1,0,10,\nQE-10,S1,10,20,QE-9\nQE-11,S2,0,5,\nQE-99,S9,0,5,\n",
        encoding="utf-8",
    )
    answer = Answer(file="b.csv", sample="QE-12", substance="Zinc", skip=True, because="spoilt")
    settings = Settings(field=(field,), water="estuarine", tables_only=True, blanks="five-ten", answers=(answer,))
    return [sheets], settings


def written(
    paths: list[Path], settings: Settings, size: int, folder: Path, progress: Progress = silent
) -> dict[str, bytes]:
    """The bytes of each file that a run writes below ``folder``, but for the two lines of run.json about time."""
    done = screened(paths, settings, folder / f"work{size}", progress, size=size)
    out = folder / f"out{size}"
    out.mkdir()
    write_run(done, out)
    done.work.finish()
    return bytes_of(out)


def bytes_of(out: Path) -> dict[str, bytes]:
    """The bytes of each file of a folder of results, but for the two lines of run.json about time."""
    files = {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    times = (b'  "started"', b'  "seconds"')
    files["run.json"] = b"\n".join(line for line in files["run.json"].splitlines() if not line.startswith(times))
    return files
