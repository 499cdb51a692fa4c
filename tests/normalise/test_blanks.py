"""Blanks by the older habit of data review; the rule and the figures of the example are those of the methods handbook.

Handbook 7.1: up to 5 times the blank, 10 times for common laboratory contaminants (from memory of the functional
guidelines). Its worked example: blank 2, results 0.8, 8 and 12; "under the older habit 8 would become 8 U".
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from harness import Outcome

Screen = Callable[..., Outcome]
HEADER = ["Sample", "Sample Type", "Analyte", "Result", "Unit", "Basis"]
FIVE_TEN = '[reading]\nblanks = "five-ten"\n'
PHTHALATE = "Bis(2-ethylhexyl) phthalate"


def sheet(analyte: str, *results: str, blank: str = "2", unit: str = "ug/kg") -> list[tuple[str, ...]]:
    rows = [(f"S{number}", "N", analyte, result, unit, "dry") for number, result in enumerate(results)]
    return [*rows, ("MB-1", "MB", analyte, blank, unit, "dry")]


@pytest.mark.parametrize(
    ("analyte", "result", "kind"),
    [
        ("Pyrene", "0.8", "nondetect"),
        ("Pyrene", "8", "nondetect"),
        ("Pyrene", "10", "nondetect"),
        ("Pyrene", "12", "exact"),
        (PHTHALATE, "18", "nondetect"),
        (PHTHALATE, "21", "exact"),
    ],
)
def test_up_to_five_or_ten_times_the_blank(screen_csv: Screen, analyte: str, result: str, kind: str) -> None:
    out = screen_csv(sheet(analyte, result), header=HEADER, settings=FIVE_TEN)
    row = out.one("results", sample="S0")
    assert row["kind"] == kind
    if kind == "nondetect":
        assert (row["detected"], row["value"], row["limit"], row["low"]) == ("false", "", result, "0")
        assert row["reported"] == result


def test_without_the_setting_the_flags_of_the_laboratory_stand(screen_csv: Screen) -> None:
    assert screen_csv(sheet("Pyrene", "8"), header=HEADER).one("results", sample="S0")["kind"] == "exact"


def test_it_is_said_how_many_results_became_nondetects(screen_csv: Screen) -> None:
    out = screen_csv(sheet("Pyrene", "8", "9", "12"), header=HEADER, settings=FIVE_TEN)
    [warning] = [one for one in out.record["warnings"] if one["code"] == "blank-five-ten"]
    assert "2 results of samples S0, S1: up to 5 times the method blank" in warning["message"]


def test_a_blank_that_was_not_detected_changes_nothing(screen_csv: Screen) -> None:
    out = screen_csv(sheet("Pyrene", "8", blank="<2"), header=HEADER, settings=FIVE_TEN)
    assert out.one("results", sample="S0")["kind"] == "exact"


def test_blank_and_sample_share_the_basis(screen_csv: Screen) -> None:
    rows = [("S0", "N", "Pyrene", "8", "ug/kg", "dry"), ("MB-1", "MB", "Pyrene", "2", "ug/kg", "wet")]
    assert screen_csv(rows, header=HEADER, settings=FIVE_TEN).one("results", sample="S0")["kind"] == "exact"


def test_units_are_brought_together(screen_csv: Screen) -> None:
    rows = [("S0", "N", "Pyrene", "8", "ug/kg", "dry"), ("MB-1", "MB", "Pyrene", "0.002", "mg/kg", "dry")]
    assert screen_csv(rows, header=HEADER, settings=FIVE_TEN).one("results", sample="S0")["kind"] == "nondetect"


def test_a_wet_result_keeps_its_limit_on_dry_weight(screen_csv: Screen) -> None:
    """8 ug/kg wet at 50 % solids and a wet blank of 2: below 16 ug/kg dry."""
    rows = [
        ("S0", "N", "Pyrene", "8", "ug/kg", "wet"),
        ("S0", "N", "Percent solids", "50", "%", ""),
        ("MB-1", "MB", "Pyrene", "2", "ug/kg", "wet"),
    ]
    row = screen_csv(rows, header=HEADER, settings=FIVE_TEN).one("results", sample="S0", substance="Pyrene")
    assert (row["kind"], row["limit"]) == ("nondetect", "16")


def test_explain_tells_the_chain_of_such_a_result(screen_csv: Screen, siltmark: Callable[..., Outcome]) -> None:
    out = screen_csv(sheet("Pyrene", "8"), header=HEADER, settings=FIVE_TEN, full=True)
    assert siltmark("explain", out.out, "S0", "Pyrene", "--json").status == 0
