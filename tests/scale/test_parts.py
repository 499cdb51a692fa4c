"""A batch gives the same bytes however many parts it is cut into (invented sheets)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from screen.pipeline import screened, write_run
from screen.settings import Answer, Settings

SUBSTANCES = {
    "Arsenic": "mg/kg", "Lead": "mg/kg", "Zinc": "mg/kg", "Aluminum": "mg/kg", "Fluoranthene": "ug/kg",
    "Pyrene": "ug/kg", "Naphthalene": "ug/kg", "PCB-118": "ug/kg", "PCB-153": "ug/kg", "4,4'-DDE": "ug/kg",
    "Total organic carbon": "%", "Percent solids": "%",
}  # fmt: skip


def _rows(seed: int) -> pd.DataFrame:
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


@pytest.fixture(params=[1, 2], ids=["one order", "another order"])
def batch(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[list[Path], Settings]:
    """Two sheets with shuffled rows, so that samples span files, and a field record with a parent of its own."""
    rows = _rows(5).sample(frac=1, random_state=request.param)
    half = len(rows) // 2
    folder = tmp_path / "sheets"
    folder.mkdir()
    rows.iloc[:half].to_csv(folder / "a.csv", index=False)
    rows.iloc[half:].to_csv(folder / "b.csv", index=False)
    field = tmp_path / "field.csv"
    field.write_text(
        "Sample ID,Station,Top (cm),Bottom (cm),Parent Sample\n"
        "QE-9,S1,0,10,\nQE-10,S1,10,20,QE-9\nQE-11,S2,0,5,\nQE-99,S9,0,5,\n",
        encoding="utf-8",
    )
    answer = Answer(file="b.csv", sample="QE-12", substance="Zinc", skip=True, because="spoilt")
    settings = Settings(field=(field,), water="estuarine", tables_only=True, blanks="five-ten", answers=(answer,))
    return [folder], settings


def _written(paths: list[Path], settings: Settings, size: int, folder: Path) -> dict[str, bytes]:
    done = screened(paths, settings, folder / f"work{size}", size=size)
    out = folder / f"out{size}"
    out.mkdir()
    write_run(done, out)
    files = {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    times = (b'  "started"', b'  "seconds"')
    files["run.json"] = b"\n".join(line for line in files["run.json"].splitlines() if not line.startswith(times))
    return files


@pytest.mark.parametrize("size", [1, 40, 150])
def test_parts_give_the_bytes_of_one_part(batch: tuple[list[Path], Settings], size: int, tmp_path: Path) -> None:
    whole = _written(*batch, 1 << 20, tmp_path)
    parts = _written(*batch, size, tmp_path)
    assert [name for name in whole if whole[name] != parts.get(name)] == []
    assert parts.keys() == whole.keys()


def test_a_run_in_parts_has_the_same_frames(batch: tuple[list[Path], Settings], tmp_path: Path) -> None:
    one = screened(*batch, tmp_path / "one").whole()
    many = screened(*batch, tmp_path / "many", size=30).whole()
    for name in ("results", "ledger", "lab_totals", "qc", "refused"):
        first, second = (getattr(run.batch, name).astype(object) for run in (one, many))
        pd.testing.assert_frame_equal(first, second, obj=name)
