"""The demo, run as a user runs it: what it must show, and every step of every finding done again."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from harness import DEMO, Outcome, filled_cells, run_siltmark

FINDINGS = {"below", "between", "above", "undetermined", "not-assessed"}


def test_the_demo_is_screened(demo_run: Outcome) -> None:
    assert demo_run.status == 0, demo_run.stderr


def test_the_demo_has_every_kind_of_finding(demo_run: Outcome) -> None:
    assert {row["finding"] for row in demo_run.rows("findings")} == FINDINGS


def test_the_demos_files_are_what_its_script_writes(tmp_path: Path) -> None:
    script = tmp_path / "make_demo.py"
    script.write_bytes((DEMO / "make_demo.py").read_bytes())
    subprocess.run([sys.executable, str(script)], check=True)
    for name in ("lab_sheets/lab_b_organics.csv", "lab_sheets/lab_a_metals.xlsx", "field_record.xlsx"):
        assert (tmp_path / name).read_bytes() == (DEMO / name).read_bytes(), name


def test_every_cell_of_the_demo_is_accounted_for(demo_run: Outcome) -> None:
    cells = filled_cells(DEMO / "lab_sheets" / "lab_b_organics.csv")
    for name in ("lab_sheets/lab_a_metals.xlsx", "field_record.xlsx"):
        book = openpyxl.load_workbook(DEMO / name)
        cells += sum(1 for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None)
    assert sum(int(row["cells"] or 0) for row in demo_run.rows("ledger")) == cells
    assert demo_run.record["counts"]["cells"] == cells
    assert demo_run.record["conserved"] is True


def test_the_sample_that_no_sheet_reports_is_named(demo_run: Outcome) -> None:
    assert demo_run.record["without_results"] == ["OS-09-G2"]


def test_the_sample_unknown_to_the_field_record_is_named(demo_run: Outcome) -> None:
    assert demo_run.record["without_field"] == ["OS-T1"]
    row = demo_run.one("results", sample="OS-T1", substance="PCB-118")
    assert (row["why_not"], row["value"]) == ("no-moisture", "")


def test_no_run_date_is_printed(demo_run: Outcome) -> None:
    assert "date" not in {k for k, v in demo_run.record["settings"].items() if v}


def test_the_partial_congener_list_is_undetermined(demo_run: Outcome) -> None:
    rows = demo_run.rows("findings", sample="OS-04-G1", substance="Total PCBs")
    assert rows
    assert {row["finding"] for row in rows if row["set"] == "consensus-2000-fresh"} == {"undetermined"}


def test_the_raised_limits_are_undetermined(demo_run: Outcome) -> None:
    row = demo_run.one("findings", sample="OS-12-G1", substance="Total DDTs")
    assert (row["finding"], row["detected"]) == ("undetermined", "false")


def test_the_invented_substance_and_the_row_without_unit_are_refused(demo_run: Outcome) -> None:
    rows = [row for row in demo_run.rows("ledger", became="rejected") if row["file"].endswith("lab_b_organics.csv")]
    assert len(rows) == 2
    assert demo_run.one("findings", sample="OS-01-G1", substance="Dieldrin")["finding"] == "not-assessed"


def test_blanks_and_the_laboratory_duplicate_are_no_samples(demo_run: Outcome) -> None:
    assert "MB-1" not in {row["sample"] for row in demo_run.rows("samples")}
    assert len(demo_run.rows("ledger", became="qc")) >= 7
    rows = demo_run.rows("results", sample="OS-01-G1", substance="Pyrene")
    assert len(rows) == 1


def test_fresh_and_estuarine_stations_have_their_own_sets(demo_run: Outcome) -> None:
    fresh = {row["set"] for row in demo_run.rows("findings", sample="OS-08-G1")}
    mixed = {row["set"] for row in demo_run.rows("findings", sample="OS-02-G1")}
    assert fresh == {"consensus-2000-fresh"}
    assert mixed == {"long-1995-marine", "consensus-2000-fresh"}


def test_depths_in_inches_come_out_in_cm(demo_run: Outcome) -> None:
    row = demo_run.one("samples", sample="OS-07-C6")
    assert math.isclose(float(row["depth_top_cm"]), 24 * 2.54)
    assert math.isclose(float(row["depth_bottom_cm"]), 35.5 * 2.54)


def test_the_tables_stand_in_the_promised_order(demo_run: Outcome) -> None:
    rows = demo_run.rows("findings")
    keys = [
        (float(r["river_km"] or "inf"), r["station"] or "\uffff", float(r["depth_top_cm"] or "inf"), r["sample"])
        for r in rows
    ]
    assert keys == sorted(keys)


# -- explain --------------------------------------------------------------------------------------------------------


def figure(step: dict[str, Any]) -> float:
    """What a step gives when it is done again from what it says."""
    start, by, operation = step["from"], step["by"], step["operation"]
    if operation == "×":
        return start * by
    if operation == "÷":
        return start / by
    if operation == "mean":
        return math.fsum(start) / by
    weights = step.get("weights", [1.0] * len(start))
    parts = [weight * part for weight, part in zip(weights, start, strict=True)]
    return (max(parts) if operation.startswith("highest") else math.fsum(parts)) * by


def explained(folder: Path, row: dict[str, str]) -> list[dict[str, Any]]:
    result = run_siltmark("explain", folder, row["sample"], row["substance"], "--set", row["set"], "--json")
    assert result.status == 0, result.stderr
    found = json.loads(result.stdout)
    return [found, *found.get("others", [])]


def near(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)


@pytest.fixture(scope="session")
def chains(demo_run: Outcome) -> list[tuple[dict[str, str], dict[str, Any]]]:
    """Each finding of the demo with its chain; the stages are asked once, as ``explain`` does for one."""
    from screen.explain import chains as chains_of
    from screen.folder import read_folder

    tables = read_folder(demo_run.out)
    made = chains_of(tables, tables.findings)
    return list(zip(demo_run.rows("findings"), made, strict=True))


def test_every_step_of_every_finding_gives_what_it_says(chains: list[tuple[dict[str, str], dict[str, Any]]]) -> None:
    for _, chain in chains:
        for step in chain["steps"]:
            if step["step"] != "read" and step["to"] is not None:
                assert near(figure(step), step["to"]), (chain["sample"], chain["substance"], step)


def test_every_chain_ends_in_the_findings_figures(chains: list[tuple[dict[str, str], dict[str, Any]]]) -> None:
    for row, chain in chains:
        where = (row["sample"], row["substance"], row["set"], row["total"])
        assert (chain["sample"], chain["substance"], chain["set"], chain["total"]) == (
            row["sample"], row["substance"], row["set"], row["total"],
        )  # fmt: skip
        assert chain["finding"] == row["finding"], where
        for side in ("lower", "upper"):
            levels = [s for s in chain["steps"] if s["step"] == "level" and s["level"] == row[f"{side}_name"]]
            if row[f"{side}_level"]:
                assert near(levels[-1]["to"], float(row[f"{side}_level"])), where
            quotients = [s for s in chain["steps"] if s["step"] == "quotient" and s["level"] == row[f"{side}_name"]]
            if row[f"{side}_quotient"]:
                assert near(quotients[-1]["to"], float(row[f"{side}_quotient"])), where
        if row["value"]:
            figures = [s["to"] for s in chain["steps"] if isinstance(s["to"], float)]
            assert any(near(one, float(row["value"])) for one in figures), where


def test_each_chain_follows_on_from_step_to_step(chains: list[tuple[dict[str, str], dict[str, Any]]]) -> None:
    for _, chain in chains:
        last: dict[str, float] = {}
        for step in chain["steps"]:
            name = step.get("substance", "")
            if step["step"] in ("unit", "dry-weight", "carbon") and name in last and step["from"] is not None:
                assert near(step["from"], last[name]), (chain["sample"], step)
            if step["step"] in ("read", "unit", "dry-weight", "carbon") and isinstance(step["to"], float):
                last[name] = step["to"]


def test_each_chain_starts_in_cells_of_the_sheets(
    demo_run: Outcome, chains: list[tuple[dict[str, str], dict[str, Any]]]
) -> None:
    places = {(r["file"], r["sheet"], r["row"], r["column"]): r["reported"] for r in demo_run.rows("results")}
    for row, chain in chains:
        if row["value"]:
            assert chain["cells"], (row["sample"], row["substance"])
        for cell in chain["cells"]:
            key = (cell["file"], cell["sheet"], str(cell["row"]), cell["column"])
            assert places[key] == cell["text"]


def test_the_finding_follows_from_the_chains_figures(chains: list[tuple[dict[str, str], dict[str, Any]]]) -> None:
    """The order of the contract's table, done again from value, levels and bounds."""
    for row, _ in chains:
        if row["finding"] == "not-assessed" or not row["value"]:
            continue
        value = float(row["value"])
        lower = float(row["lower_level"]) if row["lower_level"] else None
        upper = float(row["upper_level"]) if row["upper_level"] else None
        if upper is not None and value > upper * (1 + 1e-9):
            assert row["finding"] == "above", row
        elif lower is not None and value > lower * (1 + 1e-9):
            assert row["finding"] == "between", row
        else:
            assert row["finding"] in ("below", "undetermined"), row


def test_explain_as_a_command_gives_the_same(demo_run: Outcome) -> None:
    for row in demo_run.rows("findings", sample="OS-07-C1")[::5]:
        found = [one for one in explained(demo_run.out, row) if one["total"] == row["total"]]
        assert [one["finding"] for one in found] == [row["finding"]]
        assert {"sample", "substance", "total", "set", "cells", "steps", "finding"} <= set(found[0])


def test_explain_of_a_sample_that_is_not_there(demo_run: Outcome) -> None:
    result = run_siltmark("explain", demo_run.out, "OS-99", "Lead")
    assert result.status == 1
    assert "OS-99" in result.stderr
