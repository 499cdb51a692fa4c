"""Totals, sentence by sentence of the contract."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import batch_of, results_of

from screen.stages.normalise import normalise
from screen.stages.sums import total

NST = (8, 18, 28, 44, 52, 66, 101, 105, 118, 128, 138, 153, 170, 180, 187, 195, 206, 209)
AROCLORS = ("1016", "1221", "1232", "1242", "1248", "1254", "1260")


def made(rows: list[tuple[Any, ...]], name: str, rule: str = "zero") -> dict[str, Any]:
    table = total(results_of(rows), nondetects=(rule,))
    return table[table["total"] == name].iloc[0].to_dict()


def figures(row: dict[str, Any]) -> tuple[float, float, float]:
    return row["low"], row["value"], row["high"]


def test_bounds_take_nondetects_as_zero_and_at_the_limit() -> None:
    assert figures(made([("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", "<0.5")], "dde")) == (4, 4, 4.5)


@pytest.mark.parametrize(("rule", "value"), [("zero", 4), ("half", 4.25), ("root2", 4 + 0.5 / 2**0.5), ("full", 4.5)])
def test_the_rules_for_nondetects(rule: str, value: float) -> None:
    row = made([("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", "<0.5")], "dde", rule)
    assert row["value"] == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("rule", "limit"), [("zero", 3), ("km", 3), ("half", 2.5), ("full", 5)])
def test_without_a_detected_member_there_is_a_limit_and_no_value(rule: str, limit: float) -> None:
    row = made([("S", "4,4'-DDE", "<3"), ("S", "2,4'-DDE", "<2")], "dde", rule)
    assert np.isnan(row["value"])
    assert (row["limit"], row["detected"]) == (limit, False)


def test_the_factor_multiplies_value_bounds_and_limit() -> None:
    assert figures(made([("S", "PCB-8", "1"), ("S", "PCB-18", "<3")], "pcb-nst18x2")) == (2, 2, 8)
    assert made([("S", "PCB-8", "<1"), ("S", "PCB-18", "<3")], "pcb-nst18x2")["limit"] == 6


def test_an_unknown_limit_leaves_high_empty() -> None:
    row = made([("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", "ND")], "dde")
    assert (row["value"], row["measured"], row["complete"]) == (4, 2, True)
    assert np.isnan(row["high"])


def test_a_trace_gives_its_bounds() -> None:
    assert figures(made([("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", "trace 1-3")], "dde")) == (5, 5, 7)


def test_only_traces_give_no_value() -> None:
    row = made([("S", "4,4'-DDE", "trace 1-3"), ("S", "2,4'-DDE", "<2")], "dde")
    assert np.isnan(row["value"])
    assert (row["detected"], row["limit"]) == (True, 3)


def test_an_estimated_maximum_is_in_the_value_and_not_in_low() -> None:
    assert figures(made([("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", "max 2")], "dde")) == (4, 6, 6)


def test_more_than_opens_the_upper_end() -> None:
    row = made([("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", ">2")], "dde")
    assert (row["low"], row["value"]) == (6, 6)
    assert np.isnan(row["high"])


def test_j_when_an_estimated_member_is_in_it() -> None:
    assert made([("S", "4,4'-DDE", "4 J"), ("S", "2,4'-DDE", "2")], "dde")["qualifier"] == "J"


def test_a_peak_counts_once_and_covers_every_member_it_names() -> None:
    row = made([("S", "PCB-129/138/163", "5"), ("S", "PCB-153", "2")], "pcb-ices7")
    assert (row["value"], row["measured"], row["peaks"]) == (7, 2, 2)
    assert row["counted_once"] == "PCB-129/138/163"
    assert "PCB-138" not in row["missing"].split(";")
    assert "includes unlisted coeluters: PCB-129/138/163" in row["note"]


def test_two_listed_members_in_one_peak_count_once() -> None:
    row = made([("S", "PCB-105/132/153", "6")], "pcb-nst18x2")
    assert (row["value"], row["measured"], row["peaks"]) == (12, 2, 1)


def test_members_are_brought_to_the_unit_of_the_total() -> None:
    row = made([("S", "2,3,7,8-TCDD", "2"), ("S", "PCB-126", "0.003")], "teq-2005-all")
    assert row["value"] == pytest.approx(2 + 3 * 0.1, rel=1e-12)
    assert row["unit"] == "ng/kg"


def test_the_highest_factor_counts_for_a_peak_of_several() -> None:
    row = made([("S", "PCB-77/126", "0.01")], "teq-2005-pcb")
    assert row["value"] == pytest.approx(10 * 0.1, rel=1e-12)


def test_silver_counts_half_in_sem() -> None:
    assert made([("S", "SEM Copper", "1"), ("S", "SEM Silver", "1")], "sem")["value"] == 1.5


def test_aroclors_are_complete_with_the_seven() -> None:
    row = made([("S", f"Aroclor {one}", "<33") for one in AROCLORS], "pcb-aroclors")
    assert row["complete"]
    assert row["members"] - row["measured"] == len(row["missing"].split(";"))


def test_rejected_and_unused_results_are_missing() -> None:
    row = made([("S", "4,4'-DDE", "4"), ("S", "2,4'-DDE", "2 R")], "dde")
    assert (row["value"], row["measured"], row["missing"], row["complete"]) == (4, 1, "2,4'-DDE", False)


def test_nst_is_complete_unless_the_plain_sum_is_larger() -> None:
    listed = [("S", f"PCB-{number}", "1") for number in NST]
    assert made(listed, "pcb-nst18x2")["complete"]
    more = [*listed, ("S", "PCB-99", "19")]
    assert (made(more, "pcb-nst18x2")["value"], made(more, "pcb-nst18x2")["complete"]) == (36, False)


def test_congeners_are_complete_from_one_hundred() -> None:
    assert not made([("S", f"PCB-{number}", "1") for number in range(1, 100)], "pcb-congeners")["complete"]
    assert made([("S", f"PCB-{number}", "1") for number in range(1, 101)], "pcb-congeners")["complete"]


def test_aroclors_congeners_and_homologs_stay_apart() -> None:
    rows = [("S", "PCB-153", "1"), ("S", "Aroclor 1254", "10"), ("S", "Total Trichlorobiphenyls", "100"),
            ("S", "Total Tetrachlorobiphenyls", "100")]  # fmt: skip
    table = total(results_of(rows)).set_index("total")["value"]
    assert (table["pcb-congeners"], table["pcb-aroclors"], table["pcb-homologs"]) == (1, 10, 200)


def test_a_homolog_sum_of_ten_is_not_added_to_its_one_congener() -> None:
    rows = [("S", "Total Decachlorobiphenyls", "3"), ("S", "PCB-209", "3"), ("S", "Total Trichlorobiphenyls", "1")]
    assert made(rows, "pcb-homologs")["value"] == 4
    assert made(rows, "pcb-congeners")["value"] == 3


def test_an_unknown_rule_is_refused() -> None:
    with pytest.raises(ValueError, match="no rule"):
        total(results_of([("S", "PCB-8", "1")]), nondetects=("third",))


def test_no_results_give_no_totals() -> None:
    assert total(results_of([])).empty


def lab(rows: list[tuple[Any, ...]], totals: list[tuple[Any, ...]]) -> pd.DataFrame:
    batch = normalise(batch_of(rows, lab_totals=totals))
    return total(batch.results, lab_totals=batch.lab_totals).set_index("total")


def test_a_laboratory_total_stands_beside_ours() -> None:
    row = lab([("S", "Pyrene", "105")], [("S", "Total PAHs, 16 (lab)", "100")]).loc["pah-16"]
    assert (row["value"], row["lab_total"]) == (105, 100)
    assert row["lab_difference_pct"] == pytest.approx(5)


def test_a_laboratory_total_without_parts_is_a_row_of_its_own() -> None:
    table = lab([("S", "Lead", "1")], [("S", "Total PCBs (lab)", "100")])
    assert table.index.tolist() == ["pcb-congeners-lab"]
    row = table.iloc[0]
    assert (row["value"], row["note"]) == (100, "summing rule unknown")


def test_a_laboratory_total_is_no_row_of_its_own_beside_parts() -> None:
    table = lab([("S", "Aroclor 1254", "90")], [("S", "Total PCBs (lab)", "100")])
    assert table.index.tolist() == ["pcb-aroclors"]
    assert table["lab_total"].tolist() == [100]
