"""An estuary programme's sediments, 1991 to 2011: its own sums, equivalents and ERL/ERM classes are the answers.

Source: Casco Bay Estuary Partnership, sediment data (public); read from the folder that SILTMARK_OPEN_DATA names.
Levels: Long, MacDonald, Smith and Calder 1995; factors: Van den Berg and others 2006 (WHO 2005).
"""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
import pytest
from harness import Outcome, filled_cells, run_siltmark

pytestmark = pytest.mark.open_data
FILES = ("casco_bay_pahs.csv", "casco_bay_metals.csv", "casco_bay_dioxins.csv", "casco_bay_butyltins.csv")
CLASSES = {"Below ERL": "below", "Between ERL and ERM": "between"}


def table(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, dtype=str, keep_default_na=False, encoding="utf-8")


@pytest.fixture(scope="module")
def sheets(open_data: Path) -> pd.DataFrame:
    frames = [
        table(open_data / name).assign(file=name, row=range(2, 2 + len(table(open_data / name)))) for name in FILES
    ]
    return pd.concat(frames, ignore_index=True)


@pytest.fixture(scope="module")
def run(open_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    out = tmp_path_factory.mktemp("estuary") / "out"
    options = ["--guidelines", "long-1995-marine", "--duplicates", "separate", "--tables-only"]
    return run_siltmark("screen", *(open_data / name for name in FILES), "--out", out, *options, out=out)


def test_every_row_is_accounted_for(run: Outcome, open_data: Path) -> None:
    cells = sum(filled_cells(open_data / name) for name in FILES)
    assert run.status == 0, run.stderr[:2000]
    assert run.record["counts"]["cells"] == cells
    assert run.ledger["cells"].replace("", "0").astype(int).sum() == cells
    assert run.record["conserved"] is True


def test_every_row_of_the_metals_and_pahs_is_a_result(run: Outcome, sheets: pd.DataFrame) -> None:
    for name in FILES[:2]:
        assert len(run.rows("results", file=name)) == (sheets["file"] == name).sum()
    assert [row["reason"] for row in run.rows("ledger", became="rejected") if row["file"] in FILES[:2]] == []


def test_the_678_and_96_nondetects_are_nondetects(run: Outcome, sheets: pd.DataFrame) -> None:
    for name, expected in ((FILES[0], 678), (FILES[1], 96)):
        assert len(run.rows("results", file=name, kind="nondetect")) == expected
        assert ((sheets["file"] == name) & (sheets["Det_Flag"] == "0")).sum() == expected


def test_32_nondetects_have_no_limit_at_all(run: Outcome) -> None:
    rows = [r for r in run.rows("results", kind="nondetect") if r["file"] in FILES[:2] and r["limit"] == ""]
    assert len(rows) == 32
    assert {row["high"] for row in rows} == {""}


def test_nondetects_without_limit_are_not_assessed(run: Outcome) -> None:
    """Of the 32, eleven are of a substance with an ERL: mercury 8, cadmium, acenaphthene and fluorene 1 each."""
    rows = [r for r in run.rows("results", kind="nondetect") if r["file"] in FILES[:2] and r["limit"] == ""]
    keys = {(row["sample"], row["substance"]) for row in rows}
    found = [row for row in run.rows("findings") if (row["sample"], row["substance"]) in keys]
    assert len(found) == 11
    assert {row["finding"] for row in found} == {"not-assessed"}


def test_values_are_the_programmes(run: Outcome, sheets: pd.DataFrame) -> None:
    results = run.results.assign(row=run.results["row"].astype(int))
    joined = results.merge(sheets, on=["file", "row"])
    assert len(joined) == len(results)
    assert (joined["sample"] == joined["Sample_ID"]).all()
    detected = joined[(joined["Det_Flag"] == "1") & (joined["unit"] != "")]
    # everything is reported in its standard unit but the dioxin-like PCBs, in ng/kg: ours are in ug/kg
    factor = detected["group"].map(lambda name: 0.001 if name == "pcb-congener" else 1.0)
    ratio = detected["value"].astype(float) / (detected["Result"].astype(float) * factor)
    assert (ratio - 1).abs().max() < 1e-9


def classes(run: Outcome, sheets: pd.DataFrame) -> pd.DataFrame:
    """The programme's class of each detected result with an ERL, beside ours."""
    results = run.results.assign(row=run.results["row"].astype(int))[["file", "row", "sample", "substance"]]
    wanted = sheets[(sheets["Det_Flag"] == "1") & (sheets["ERL"] != "NA") & sheets["file"].isin(FILES[:2])]
    joined = wanted.merge(results, on=["file", "row"])
    single = run.findings[run.findings["total"] == ""]
    return joined.merge(single, on=["sample", "substance"], how="left")


def test_every_class_of_the_programme_is_met(run: Outcome, sheets: pd.DataFrame) -> None:
    both = classes(run, sheets)
    assert len(both) == 2536 + 2043
    wrong = both[both["LVL"].map(CLASSES) != both["finding"]]
    assert wrong[["sample", "substance", "Result", "ERL", "ERM", "LVL", "finding"]].to_dict("records") == []


def test_the_13_results_on_the_erl_are_below_it_and_say_so(run: Outcome, sheets: pd.DataFrame) -> None:
    both = classes(run, sheets)
    ties = both[both["Result"].astype(float) == both["ERL"].astype(float)]
    assert len(ties) == 13
    assert set(ties["finding"]) == {"below"}
    assert ties["note"].str.contains("at the level").all()


def test_the_embedded_levels_are_ours(run: Outcome, sheets: pd.DataFrame) -> None:
    both = classes(run, sheets)
    assert (both["ERL"].astype(float) == both["lower_level"].astype(float)).all()
    assert (both["ERM"].astype(float) == both["upper_level"].astype(float)).all()


def reported(open_data: Path, parameter: str) -> dict[str, float]:
    """The programme's own sums of one kind, by sample, where it gives a number."""
    sums = table(open_data / "casco_bay_reported_sums_pah_dioxin_butyltin.csv")
    sums = sums[(sums["Parameter"] == parameter) & (sums["Result"] != "NA")]
    return {str(k): float(v) for k, v in zip(sums["Sample_ID"], sums["Result"], strict=True)}


def differing(run: Outcome, total: str, wanted: dict[str, float]) -> list[str]:
    """Samples whose total is not the reported one (to the digits of the report, 1e-6)."""
    ours = {row["sample"]: row["value"] for row in run.rows("totals", total=total)}
    return sorted(
        sample
        for sample, value in wanted.items()
        if not ours.get(sample) or not math.isclose(float(ours[sample]), value, rel_tol=1e-6)
    )


def test_the_sum_of_13_pahs_is_met_in_224_of_225(run: Outcome, open_data: Path) -> None:
    wanted = reported(open_data, "PAHs (total)")
    assert len(wanted) == 225
    assert differing(run, "pah-13", wanted) == ["CBEP2010-EB07"]


def test_the_equivalents_are_met_in_79_of_79(run: Outcome, open_data: Path) -> None:
    dioxins = table(open_data / "casco_bay_dioxins.csv")
    rows = dioxins[dioxins["Parameter"] == "TEQ CDD/CDF"]
    wanted = {str(k): float(v) for k, v in zip(rows["Sample_ID"], rows["Result"], strict=True)}
    assert len(wanted) == 79
    # the programme prints two or three decimals
    ours = {row["sample"]: row["value"] for row in run.rows("totals", total="teq-2005")}
    wrong = [k for k, v in wanted.items() if not ours.get(k) or abs(float(ours[k]) - v) > 0.0051]
    assert wrong == []


def test_homologue_totals_and_equivalents_are_no_members(run: Outcome) -> None:
    for row in run.rows("totals", total="teq-2005"):
        assert int(row["measured"]) == 17


def test_all_together_with_grain_size_and_reported_sums_lose_nothing(
    open_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    out = tmp_path_factory.mktemp("estuary_all") / "out"
    names = [*FILES, "casco_bay_physical.csv", "casco_bay_reported_sums_pah_dioxin_butyltin.csv"]
    paths = [open_data / name for name in names]
    run = run_siltmark("screen", *paths, "--out", out, "--water", "marine", "--tables-only", out=out)
    assert run.status == 0, run.stderr[:2000]
    assert run.record["counts"]["cells"] == sum(filled_cells(path) for path in paths)
    assert run.record["conserved"] is True
