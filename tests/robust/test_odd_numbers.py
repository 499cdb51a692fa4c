"""What looks like a number and is none, and units that only look alike: refused, never guessed."""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Callable

import pytest
from harness import Outcome

from tests.robust.packages import packed, sheet_xml, xlsx_parts

HEAD = ["Sample", "Analyte", "Result", "Unit"]
GOOD = ["QE-99", "Lead", "5.5", "mg/kg dry"]
#: IEEE 754 names, numbers beyond a double, other bases, other digits, invisible characters.
NO_NUMBERS = ["NaN", "nan", "inf", "-inf", "Infinity", "1e400", "-1e400", "1e-400", "<1e400", "<inf", "0x1F", "1_000",
              "١٢", "１２", "०", "Ⅻ", "①", "𝟙", "½", "²", "--5", "1.5.2", "٫5", "5\x07", "\u202e5", "5\u200b",
              "5\u00ad", "-0", "0b1"]  # fmt: skip
SAME_UNIT = ["mg/kg dry", "MG/KG DRY", "ｍｇ/kg dry", "㎎/㎏ dry", "mg\u00a0/\u00a0kg dry"]
MICRO = ["\u00b5g/kg dry", "\u03bcg/kg dry", "ug/kg dry", "㎍/kg dry"]
LOOK_ALIKE = ["м" + "g/kg dry", "mg/" + "к" + "g dry", "mɢ/kg dry", "mɡ/kg dry", "\u202emg/kg dry", "mg/kg\x07 dry"]


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_no_number_is_refused(screen_csv: Callable[..., Outcome], text: str) -> None:
    run = screen_csv([["QE-1", "Lead", text, "mg/kg dry"], GOOD], header=HEAD)
    assert [row["sample"] for row in run.rows("results")] == ["QE-99"]
    assert run.one("ledger", row="2", column="C")["became"] == "rejected"


@pytest.mark.parametrize("stored", ["1e999", "-1e999", "NaN", "INF", "-0", "0x10", "٣", "1e308"])
def test_no_number_stored_as_one_is_refused(screen_files: Callable[..., Outcome], tmp_path, stored: str) -> None:
    cell = f'<c r="PLACE"><v>{stored}</v></c>'
    path = tmp_path / "lab.xlsx"
    path.write_bytes(packed(xlsx_parts({"S": sheet_xml([HEAD, ["QE-1", "Lead", cell, "mg/kg dry"], GOOD])})))
    run = screen_files([path], "--water", "fresh")
    assert [row["sample"] for row in run.rows("results")] == ["QE-99"]
    assert run.one("ledger", row="2", column="C")["became"] == "rejected"


@pytest.mark.skipif(importlib.util.find_spec("pyarrow") is None, reason="pyarrow is not installed")
def test_no_numbers_of_a_parquet_file_are_refused(screen_files: Callable[..., Outcome], tmp_path) -> None:
    import pyarrow as pa
    from pyarrow import parquet

    figures = [5.5, float("inf"), float("-inf"), float("nan"), -0.0, 1e308]
    stream = io.BytesIO()
    names = [f"QE-{number}" for number in range(len(figures))]
    columns = {"Sample": names, "Analyte": ["Lead"] * 6, "Result": figures, "Unit": ["mg/kg dry"] * 6}
    parquet.write_table(pa.table(columns), stream)
    (tmp_path / "lab.parquet").write_bytes(stream.getvalue())
    run = screen_files([tmp_path / "lab.parquet"], "--water", "fresh")
    assert [row["sample"] for row in run.rows("results")] == ["QE-0"]
    assert run.record["counts"]["rejected"] == 4  # a missing number of Parquet is an empty cell


@pytest.mark.parametrize(("units", "figure"), [(SAME_UNIT, 5.0), (MICRO, 0.005)])
def test_spellings_of_one_unit_are_one(screen_csv: Callable[..., Outcome], units: list[str], figure: float) -> None:
    run = screen_csv([[f"QE-{i}", "Lead", "5", unit] for i, unit in enumerate(units)], header=HEAD)
    assert [float(row["value"]) for row in run.rows("results")] == [figure] * len(units)


@pytest.mark.parametrize("unit", LOOK_ALIKE)
def test_a_unit_that_only_looks_alike_is_refused(screen_csv: Callable[..., Outcome], unit: str) -> None:
    run = screen_csv([["QE-1", "Lead", "5", unit], GOOD], header=HEAD)
    assert run.one("ledger", row="2", column="C")["reason"].startswith("unit-unknown")
