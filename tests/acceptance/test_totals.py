"""totals.csv, sentence by sentence."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from harness import Outcome

Screen = Callable[..., Outcome]
FLAGGED = ["Sample", "Analyte", "Result", "Qualifier", "MDL", "RL", "Unit", "Basis"]
NST = "8 18 28 44 52 66 101 105 118 128 138 153 170 180 187 195 206 209".split()


def dry(*pairs: tuple[str, str], unit: str = "ug/kg") -> list[tuple[str, str, str, str, str]]:
    return [("S1", analyte, result, unit, "dry") for analyte, result in pairs]


def close(text: str, expected: float) -> bool:
    return text != "" and math.isclose(float(text), expected, rel_tol=1e-12)


def test_bounds_of_a_sum_with_nondetects(screen_csv: Screen) -> None:
    """By hand: 4.2 + 1.1 detected, one limit of 0.5: zero 5.3, low 5.3, high 5.8."""
    out = screen_csv(dry(("4,4'-DDE", "4.2"), ("2,4'-DDE", "<0.5"), ("4,4'-DDD", "1.1"), ("2,4'-DDD", "<0.25")))
    row = out.one("totals", total="dde")
    assert (row["rule"], row["detected"], row["complete"]) == ("zero", "true", "true")
    assert close(row["value"], 4.2)
    assert close(row["low"], 4.2)
    assert close(row["high"], 4.7)


@pytest.mark.parametrize(
    ("rule", "expected"), [("zero", 4.2), ("half", 4.45), ("full", 4.7), ("root2", 4.2 + 0.5 / math.sqrt(2))]
)
def test_the_rules_for_nondetects(screen_csv: Screen, rule: str, expected: float) -> None:
    out = screen_csv(dry(("4,4'-DDE", "4.2"), ("2,4'-DDE", "<0.5")), "--nondetects", rule)
    assert close(out.one("totals", total="dde")["value"], expected)
    assert out.one("totals", total="dde")["rule"] == rule


def test_ddt_of_six(screen_csv: Screen) -> None:
    """By hand: detected 4.2 + 1.1 + 3.0 + 2.0 = 10.3; with two limits of 0.5 in full 11.3; J travels to the sum."""
    rows = [
        ("S1", "2,4'-DDE", "0.5", "U", "", "", "ug/kg", "dry"),
        ("S1", "4,4'-DDE", "4.2", "", "", "", "ug/kg", "dry"),
        ("S1", "2,4'-DDD", "1.1", "J", "", "", "ug/kg", "dry"),
        ("S1", "4,4'-DDD", "3.0", "", "", "", "ug/kg", "dry"),
        ("S1", "2,4'-DDT", "0.5", "U", "", "", "ug/kg", "dry"),
        ("S1", "4,4'-DDT", "2.0", "", "", "", "ug/kg", "dry"),
    ]
    row = screen_csv(rows, header=FLAGGED).one("totals", total="ddt-6")
    assert close(row["value"], 10.3)
    assert close(row["high"], 11.3)
    assert (row["qualifier"], row["members"], row["measured"], row["peaks"], row["detects"]) == (
        "J",
        "6",
        "6",
        "6",
        "4",
    )


def test_a_total_without_a_detect_is_its_highest_limit(screen_csv: Screen) -> None:
    out = screen_csv(dry(("4,4'-DDE", "<0.7"), ("2,4'-DDE", "<0.5")))
    row = out.one("totals", total="dde")
    assert (row["value"], row["detected"]) == ("", "false")
    assert close(row["limit"], 0.7)
    assert close(row["high"], 1.2)


def test_a_total_without_a_detect_is_the_substituted_sum_under_half(screen_csv: Screen) -> None:
    out = screen_csv(dry(("4,4'-DDE", "<0.7"), ("2,4'-DDE", "<0.5")), "--nondetects", "half")
    row = out.one("totals", total="dde")
    assert row["value"] == ""
    assert close(row["limit"], 0.6)


def test_a_limit_is_multiplied_by_the_factor(screen_csv: Screen) -> None:
    out = screen_csv(dry(*((f"PCB-{n}", "<0.4") for n in NST)))
    row = out.one("totals", total="pcb-nst18x2")
    assert close(row["limit"], 0.8)
    assert close(row["high"], 2 * 18 * 0.4)


def test_twice_the_eighteen_congeners(screen_csv: Screen) -> None:
    row = screen_csv(dry(*((f"PCB-{n}", "1") for n in NST))).one("totals", total="pcb-nst18x2")
    assert (float(row["value"]), float(row["factor"]), row["complete"], row["missing"]) == (36.0, 2.0, "true", "")
    assert row["name"] == "Total PCBs"


def test_one_missing_congener_makes_it_a_part(screen_csv: Screen) -> None:
    row = screen_csv(dry(*((f"PCB-{n}", "1") for n in NST[:-1]))).one("totals", total="pcb-nst18x2")
    assert (row["complete"], row["measured"], row["missing"]) == ("false", "17", "PCB-209")


def test_the_eighteen_are_no_total_where_the_plain_sum_is_larger(screen_csv: Screen) -> None:
    """18 of 1 ug/kg doubled is 36; three further congeners of 20 make the plain sum 78."""
    rows = dry(*((f"PCB-{n}", "1") for n in NST), ("PCB-110", "20"), ("PCB-149", "20"), ("PCB-95", "20"))
    out = screen_csv(rows)
    assert out.one("totals", total="pcb-nst18x2")["complete"] == "false"
    assert float(out.one("totals", total="pcb-congeners")["value"]) == 78.0


def test_a_coeluting_peak_counts_once_and_whole(screen_csv: Screen) -> None:
    out = screen_csv(dry(("PCB-28/31", "5"), ("PCB-52", "2")))
    row = out.one("totals", total="pcb-congeners")
    assert (float(row["value"]), row["peaks"], row["counted_once"]) == (7.0, "2", "PCB-28/31")
    seven = out.one("totals", total="pcb-ices7")
    assert (float(seven["value"]), seven["measured"]) == (7.0, "2")


def test_two_listed_members_in_one_peak(screen_csv: Screen) -> None:
    """Lists that hold both members of a peak take it once; it covers both."""
    row = screen_csv(dry(("PCB-105/132/153", "5"), ("PCB-52", "2"))).one("totals", total="pcb-nst18x2")
    assert (float(row["value"]), row["measured"], row["peaks"]) == (14.0, "3", "2")


def test_the_congener_list_of_the_methods_handbook(screen_csv: Screen) -> None:
    """W14 of the worked examples (constructed): all 46.0; seven 24.8; eighteen 36.7, doubled 73.4."""
    peaks = (
        "8 0.5;18/30 1.2;20/28 3.0;44/47/65 2.1;49/69 1.4;52 2.8;61/70/74/76 4.0;66 1.9;90/101/113 3.5;105 1.1;"
        "110/115 3.9;118 2.9;"
        "128/166 0.8;129/138/163 5.0;153/168 4.4;170 1.6;180/193 3.2;187 1.8;195 0.3;206 0.4;209 0.2"
    )
    out = screen_csv(dry(*((f"PCB-{p.split()[0]}", p.split()[1]) for p in peaks.split(";")), unit="ng/g"))
    assert close(out.one("totals", total="pcb-congeners")["value"], 46.0)
    assert close(out.one("totals", total="pcb-ices7")["value"], 24.8)
    assert close(out.one("totals", total="pcb-nst18x2")["value"], 73.4)
    assert out.one("totals", total="pcb-nst18x2")["complete"] == "true"


def test_aroclors_and_congeners_are_never_added(screen_csv: Screen) -> None:
    out = screen_csv(dry(("Aroclor 1254", "40"), ("PCB-118", "3")))
    assert float(out.one("totals", total="pcb-aroclors")["value"]) == 40.0
    assert float(out.one("totals", total="pcb-congeners")["value"]) == 3.0


@pytest.mark.parametrize(("left_out", "complete"), [("", "true"), ("Aroclor 1221", "false")])
def test_seven_aroclors_make_the_total_complete(screen_csv: Screen, left_out: str, complete: str) -> None:
    names = [f"Aroclor {n}" for n in (1016, 1221, 1232, 1242, 1248, 1254, 1260)]
    out = screen_csv(dry(*((name, "40" if "1254" in name else "<33") for name in names if name != left_out)))
    assert out.one("totals", total="pcb-aroclors")["complete"] == complete


def test_members_are_brought_to_one_unit_first(screen_csv: Screen) -> None:
    rows = [("S1", "4,4'-DDE", "4.2", "ug/kg", "dry"), ("S1", "2,4'-DDE", "0.0008", "mg/kg", "dry")]
    assert close(screen_csv(rows).one("totals", total="dde")["value"], 5.0)


def test_the_order_of_rows_changes_no_digit(screen_csv: Screen) -> None:
    pairs = [(f"PCB-{n}", f"0.{i + 1}7") for i, n in enumerate(NST)]
    first = screen_csv(dry(*pairs)).one("totals", total="pcb-nst18x2")["value"]
    second = screen_csv(dry(*reversed(pairs))).one("totals", total="pcb-nst18x2")["value"]
    assert first == second


def test_the_laboratorys_total_stands_beside_ours_and_is_never_added(screen_csv: Screen) -> None:
    pairs = [
        ("Naphthalene", "10"), ("Acenaphthylene", "10"), ("Acenaphthene", "10"), ("Fluorene", "10"),
        ("Phenanthrene", "10"), ("Anthracene", "10"), ("Fluoranthene", "10"), ("Pyrene", "10"),
        ("Benz(a)anthracene", "10"), ("Chrysene", "10"), ("Benzo(b)fluoranthene", "10"), ("Benzo(k)fluoranthene", "10"),
        ("Benzo(a)pyrene", "10"), ("Indeno(1,2,3-cd)pyrene", "10"), ("Dibenz(a,h)anthracene", "10"),
        ("Benzo(g,h,i)perylene", "10"), ("Priority Pollutant PAH", "150"),
    ]  # fmt: skip
    out = screen_csv(dry(*pairs))
    row = out.one("totals", total="pah-16")
    assert float(row["value"]) == 160.0
    assert float(row["lab_total"]) == 150.0
    assert close(row["lab_difference_pct"], 100 * 10 / 150)
    assert [r["text"] for r in out.rows("ledger", became="lab-total")] == ["150"]


def test_a_total_of_the_laboratory_alone_is_compared_with_a_note(screen_csv: Screen) -> None:
    out = screen_csv([*dry(("Total PCBs", "700")), ("S1", "Lead", "5", "mg/kg", "dry")])
    rows = [row for row in out.rows("totals") if row["total"].endswith("-lab")]
    assert [(float(row["value"]), row["note"]) for row in rows] == [(700.0, "summing rule unknown")]
    found = out.one("findings", substance="Total PCBs")
    assert found["finding"] == "above"
    assert "summing rule unknown" in found["note"]


def test_the_equivalents_of_dioxins(screen_csv: Screen) -> None:
    """WHO 2005 (Van den Berg and others 2006): 2,3,7,8-TCDD 1, OCDD 0.0003. By hand 2 + 1000 x 0.0003 = 2.3."""
    rows = [("S1", "2,3,7,8-TCDD", "2", "ng/kg", "dry"), ("S1", "OCDD", "1", "ug/kg", "dry")]
    row = screen_csv(rows).one("totals", total="teq-2005")
    assert close(row["value"], 2.3)
    assert (row["members"], row["measured"], row["complete"], row["name"]) == ("17", "2", "false", "Dioxin TEQ")


def test_a_nondetect_without_limit_leaves_the_upper_bound_open(screen_csv: Screen) -> None:
    row = screen_csv(dry(("4,4'-DDE", "4.2"), ("2,4'-DDE", "ND"))).one("totals", total="dde")
    assert close(row["value"], 4.2)
    assert row["high"] == ""


def test_kaplan_meier_whose_conditions_are_not_met_falls_back_to_zero_and_says_so(screen_csv: Screen) -> None:
    row = screen_csv(dry(("4,4'-DDE", "4.2"), ("2,4'-DDE", "<0.5")), "--nondetects", "km").one("totals", total="dde")
    assert close(row["value"], 4.2)
    assert row["rule"] in ("km", "zero")
    assert row["note"] != ""


def test_a_result_set_aside_is_no_member(screen_csv: Screen) -> None:
    rows = [
        ("S1", "4,4'-DDE", "4.2", "R", "", "", "ug/kg", "dry"),
        ("S1", "2,4'-DDE", "1.0", "", "", "", "ug/kg", "dry"),
    ]
    row = screen_csv(rows, header=FLAGGED).one("totals", total="dde")
    assert (float(row["value"]), row["complete"], row["missing"]) == (1.0, "false", "4,4'-DDE")
