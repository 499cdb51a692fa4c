"""findings.csv, sentence by sentence. Levels used here: TEC and PEC (MacDonald, Ingersoll and Berger 2000), ERL and ERM
(Long, MacDonald, Smith and Calder 1995), and small sets written by the tests themselves."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from harness import LONG, Outcome

Screen = Callable[..., Outcome]
NST = "8 18 28 44 52 66 101 105 118 128 138 153 170 180 187 195 206 209".split()
AROCLORS = ("1016", "1221", "1232", "1242", "1248", "1254", "1260")
FLAGGED = ["Sample", "Analyte", "Result", "Qualifier", "MDL", "RL", "Unit", "Basis"]
TOML = """title = "Test levels"
citation = "Written for this test"
water = ["fresh"]
levels = [{levels}]
{pair}
basis = "dry"
caveats = ["For tests only."]
{more}
"""


def close(text: str, expected: float) -> bool:
    return text != "" and math.isclose(float(text), expected, rel_tol=1e-12)


def dry(*pairs: tuple[str, str], unit: str = "ug/kg") -> list[tuple[str, str, str, str, str]]:
    return [("S1", analyte, result, unit, "dry") for analyte, result in pairs]


@pytest.fixture
def own_set(tmp_path: Path) -> Callable[..., Path]:
    """Write a guideline set and give the path of its TOML file."""

    def write(rows: Sequence[str], levels: Sequence[str] = ("LOW", "HIGH"), more: str = "", name: str = "own") -> Path:
        pair = f'upper = "{levels[-1]}"' if len(levels) == 1 else f'lower = "{levels[0]}"\nupper = "{levels[-1]}"'
        quoted = ", ".join(f'"{level}"' for level in levels)
        path = tmp_path / f"{name}.toml"
        path.write_text(TOML.format(levels=quoted, pair=pair, more=more), encoding="utf-8")
        header = ["substance", *levels, "unit"]
        lines = [rows[0], *rows[1:]] if rows[0].startswith("substance") else [",".join(header), *rows]
        path.with_suffix(".csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        return path

    return write


# -- the five findings ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("result", "finding", "exceeded"),
    [
        ("20", "below", ""),
        ("35.8", "below", ""),
        ("35.81", "between", "TEC"),
        ("128", "between", "TEC"),
        ("128.5", "above", "PEC"),
        ("<20", "below", ""),
        ("<40", "undetermined", ""),
        ("<400", "undetermined", ""),
        (">20", "undetermined", ""),
        (">40", "between", "TEC"),
        (">200", "above", "PEC"),
    ],
)
def test_lead_against_its_two_levels(screen_csv: Screen, result: str, finding: str, exceeded: str) -> None:
    """Lead: TEC 35.8, PEC 128 mg/kg dry (MacDonald, Ingersoll and Berger 2000)."""
    row = screen_csv(dry(("Lead", result), unit="mg/kg")).one("findings")
    assert (row["finding"], row["highest_exceeded"]) == (finding, exceeded)


def test_levels_and_quotients_are_shown(screen_csv: Screen) -> None:
    row = screen_csv(dry(("Lead", "64"), unit="mg/kg")).one("findings")
    assert (row["set"], row["basis"], row["unit"]) == ("consensus-2000-fresh", "dry", "mg/kg")
    assert (row["lower_name"], float(row["lower_level"])) == ("TEC", 35.8)
    assert (row["upper_name"], float(row["upper_level"])) == ("PEC", 128.0)
    assert close(row["lower_quotient"], 64 / 35.8)
    assert close(row["upper_quotient"], 0.5)


def test_a_nondetect_has_no_quotient(screen_csv: Screen) -> None:
    row = screen_csv(dry(("Lead", "<64"), unit="mg/kg")).one("findings")
    assert (row["value"], row["lower_quotient"], row["upper_quotient"], row["detected"]) == ("", "", "", "false")


def test_a_tie_after_the_step_to_dry_weight_is_a_tie(screen_csv: Screen) -> None:
    """35.88 ug/kg wet at 60 % solids is exactly the TEC of total PCBs, 59.8; in binary it is 59.800000000000004."""
    rows = [("S1", f"Aroclor {n}", "35.88" if n == "1254" else "<1", "ug/kg", "wet") for n in AROCLORS]
    rows += [("S1", "Percent solids", "60", "%", "")]
    row = screen_csv(rows).one("findings", substance="Total PCBs")
    assert row["finding"] == "below"
    assert "at the level" in row["note"]


@pytest.mark.parametrize("solids", ["15", "30", "35", "45", "55", "60", "65", "70", "85", "90"])
def test_a_tie_is_a_tie_at_any_solids(screen_csv: Screen, solids: str) -> None:
    """Zinc: TEC 121 mg/kg (MacDonald, Ingersoll and Berger 2000); the wet figure is 121 x solids / 100, exactly."""
    wet = f"{121 * int(solids) / 100:.2f}"
    rows = [("S1", "Zinc", wet, "mg/kg", "wet"), ("S1", "Percent solids", solids, "%", "")]
    row = screen_csv(rows).one("findings", substance="Zinc")
    assert (row["finding"], "at the level" in row["note"]) == ("below", True)


def test_nothing_is_rounded_before_comparing(screen_csv: Screen) -> None:
    """Zinc 121.04 prints as 121 in three figures and is above the TEC of 121."""
    row = screen_csv(dry(("Zinc", "121.04"), unit="mg/kg")).one("findings")
    assert row["finding"] == "between"
    assert "equal as printed" in row["note"]


def test_a_substance_without_upper_level(screen_csv: Screen) -> None:
    """Dibenz(a,h)anthracene has a TEC of 33 and no PEC (MacDonald, Ingersoll and Berger 2000)."""
    row = screen_csv(dry(("Dibenz(a,h)anthracene", "500"))).one("findings", substance="Dibenz(a,h)anthracene")
    assert (row["finding"], row["upper_level"], row["upper_quotient"]) == ("between", "", "")
    assert "no upper level" in row["note"]


@pytest.mark.parametrize(
    ("result", "finding", "note"),
    [("ND", "not-assessed", ""), ("<20", "below", ""), ("Trace", "undetermined", "")],
)
def test_results_without_a_number(screen_csv: Screen, result: str, finding: str, note: str) -> None:
    rows = [*dry(("Lead", result), unit="mg/kg"), *dry(("Zinc", "5"), unit="mg/kg")]
    assert screen_csv(rows).one("findings", substance="Lead")["finding"] == finding


def test_a_trace_below_the_level_is_below(screen_csv: Screen) -> None:
    rows = [("S1", "Lead", "Trace", "", "1", "5", "mg/kg", "dry")]
    assert screen_csv(rows, header=FLAGGED).one("findings")["finding"] == "below"


def test_a_trace_whose_upper_bound_passes_the_level_is_undetermined(screen_csv: Screen) -> None:
    rows = [("S1", "Lead", "Trace", "", "1", "50", "mg/kg", "dry")]
    assert screen_csv(rows, header=FLAGGED).one("findings")["finding"] == "undetermined"


@pytest.mark.parametrize(
    ("row", "word"),
    [
        (("S1", "Lead", "18", "mg/kg", ""), "basis"),
        (("S1", "Lead", "18", "mg/kg", "wet"), "moisture"),
        (("S1", "Lead", "18", "", "dry"), "unit"),
        (("S1", "Lead", "ND", "mg/kg", "dry"), "limit"),
        (("S1", "Lead", "many", "mg/kg", "dry"), ""),
        (("S1", "Lead", "-5", "mg/kg", "dry"), ""),
    ],
)
def test_not_assessed_says_why(screen_csv: Screen, row: tuple[str, ...], word: str) -> None:
    out = screen_csv([row, ("S1", "Zinc", "5", "mg/kg", "dry")])
    found = out.one("findings", substance="Lead")
    assert (found["finding"], found["settled"], found["value"]) == ("not-assessed", "", "")
    assert found["note"]
    assert word in found["note"].lower()


def test_a_substance_never_analysed_has_no_row(screen_csv: Screen) -> None:
    out = screen_csv(dry(("Lead", "5"), unit="mg/kg"))
    assert out.rows("findings", substance="Zinc") == []
    assert "Zinc" in str(out.record["not_analysed"])


# -- sums -----------------------------------------------------------------------------------------------------------


def test_a_partial_total_below_the_level_is_undetermined(screen_csv: Screen) -> None:
    row = screen_csv(dry(("PCB-28", "2"), ("PCB-52", "4"))).one("findings", substance="Total PCBs")
    assert (row["finding"], row["settled"]) == ("undetermined", "false")


def test_a_partial_total_above_the_upper_level_stands_and_is_settled(screen_csv: Screen) -> None:
    row = screen_csv(dry(("PCB-28", "700"), ("PCB-52", "4"))).one("findings", substance="Total PCBs")
    assert (row["finding"], row["settled"]) == ("above", "true")


def test_a_partial_total_between_the_levels_stands_unsettled(screen_csv: Screen) -> None:
    """An open upper bound may lie above the PEC of 676."""
    row = screen_csv(dry(("PCB-28", "80"), ("PCB-52", "4"))).one("findings", substance="Total PCBs")
    assert (row["finding"], row["settled"]) == ("between", "false")


def test_detected_aroclors_of_forty_with_six_limits_are_below_and_unsettled(screen_csv: Screen) -> None:
    """The contract's own example: 40 detected, six limits of 33, lower level 59.8."""
    pairs = [(f"Aroclor {n}", "40" if n == "1254" else "<33") for n in AROCLORS]
    row = screen_csv(dry(*pairs)).one("findings", substance="Total PCBs")
    assert (row["total"], row["finding"], row["settled"]) == ("pcb-aroclors", "below", "false")
    assert close(row["high"], 40 + 6 * 33)


def test_an_all_nondetect_total_above_the_lower_level_is_undetermined(screen_csv: Screen) -> None:
    pairs = [(f"Aroclor {n}", "<70") for n in AROCLORS]
    row = screen_csv(dry(*pairs)).one("findings", substance="Total PCBs")
    assert (row["value"], row["finding"], row["settled"]) == ("", "undetermined", "false")


def test_an_all_nondetect_total_under_the_lower_level_is_below(screen_csv: Screen) -> None:
    """Seven limits of 5: the single limit, 5, is under 59.8, and so is their sum, 35."""
    pairs = [(f"Aroclor {n}", "<5") for n in AROCLORS]
    row = screen_csv(dry(*pairs)).one("findings", substance="Total PCBs")
    assert (row["finding"], row["settled"]) == ("below", "true")


def test_two_kinds_of_measurement_give_two_rows(screen_csv: Screen) -> None:
    pairs = [(f"Aroclor {n}", "<5") for n in AROCLORS] + [(f"PCB-{n}", "1") for n in NST]
    rows = screen_csv(dry(*pairs)).rows("findings", substance="Total PCBs")
    assert sorted(row["total"] for row in rows) == ["pcb-aroclors", "pcb-nst18x2"]


def test_one_isomer_is_never_compared_as_the_sum(screen_csv: Screen) -> None:
    """Sum DDE: TEC 3.16, PEC 31.3 (MacDonald, Ingersoll and Berger 2000); only 4,4'-DDE was measured, at 3."""
    out = screen_csv(dry(("4,4'-DDE", "3")))
    row = out.one("findings", substance="Sum DDE")
    assert (row["total"], row["finding"]) == ("dde", "undetermined")
    assert out.rows("findings", substance="4,4'-DDE") == []


def test_a_peak_shared_with_another_substance_gives_no_value(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["PCB-101,10,100,ug/kg"])
    out = screen_csv(dry(("PCB-90/101/113", "60")), "--guidelines", path)
    row = out.one("findings")
    assert (row["substance"], row["value"], float(row["low"]), float(row["high"])) == ("PCB-101", "", 0.0, 60.0)
    assert (row["finding"], "shared peak" in row["note"]) == ("undetermined", True)


def test_a_shared_peak_under_the_lower_level_is_below(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["PCB-101,10,100,ug/kg"])
    row = screen_csv(dry(("PCB-90/101/113", "6")), "--guidelines", path).one("findings")
    assert (row["finding"], row["settled"]) == ("below", "true")


def test_benzofluoranthenes_in_one_peak(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["Benzo(k)fluoranthene,10,100,ug/kg"])
    row = screen_csv(dry(("Benzo(b+k)fluoranthene", "60")), "--guidelines", path).one("findings")
    assert (row["finding"], row["value"], float(row["high"])) == ("undetermined", "", 60.0)


def test_chrysene_with_triphenylene_keeps_its_value(screen_csv: Screen) -> None:
    """Chrysene: TEC 166, PEC 1290 ug/kg (MacDonald, Ingersoll and Berger 2000)."""
    row = screen_csv(dry(("Chrysene + Triphenylene", "200"))).one("findings", substance="Chrysene")
    assert (row["finding"], float(row["value"])) == ("between", 200.0)
    assert row["note"]


# -- sets -----------------------------------------------------------------------------------------------------------


def test_one_level_stands_for_the_lower_and_gives_above(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["Lead,50,mg/kg"], levels=("MAX",))
    out = screen_csv([("A", "Lead", "60", "mg/kg", "dry"), ("B", "Lead", "<60", "mg/kg", "dry")], "--guidelines", path)
    first, second = out.one("findings", sample="A"), out.one("findings", sample="B")
    assert (first["lower_name"], first["lower_level"], first["upper_name"]) == ("", "", "MAX")
    assert (first["finding"], second["finding"]) == ("above", "undetermined")


def test_highest_exceeded_names_a_level_between_the_pair(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["Lead,10,50,100,mg/kg"], levels=("L1", "L2", "L3"))
    row = screen_csv(dry(("Lead", "60"), unit="mg/kg"), "--guidelines", path).one("findings")
    assert (row["lower_name"], row["upper_name"], row["finding"]) == ("L1", "L3", "between")
    assert row["highest_exceeded"] == "L2"


def test_a_set_may_say_that_a_value_at_the_level_exceeds_it(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["Lead,50,100,mg/kg"], more='at_level = "exceeds"')
    assert screen_csv(dry(("Lead", "50"), unit="mg/kg"), "--guidelines", path).one("findings")["finding"] == "between"


def test_a_set_may_state_its_rule_for_nondetects(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["Sum DDE,1,10,ug/kg"], more='nondetects = "half"\n[sums]\n"Sum DDE" = ["dde"]')
    out = screen_csv(dry(("4,4'-DDE", "4"), ("2,4'-DDE", "<1")), "--guidelines", path)
    assert close(out.one("findings", substance="Sum DDE")["value"], 4.5)


def test_the_option_overrules_the_sets_rule(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["Sum DDE,1,10,ug/kg"], more='nondetects = "half"\n[sums]\n"Sum DDE" = ["dde"]')
    out = screen_csv(dry(("4,4'-DDE", "4"), ("2,4'-DDE", "<1")), "--guidelines", path, "--nondetects", "full")
    assert close(out.one("findings", substance="Sum DDE")["value"], 5.0)


def test_a_set_per_organic_carbon(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    """Phenanthrene 1000 ug/kg at 2 % organic carbon is 50 mg/kg OC, by hand."""
    path = own_set(["substance,LOW,HIGH,unit,basis", "Phenanthrene,40,100,mg/kg,oc"])
    rows = [*dry(("Phenanthrene", "1000")), ("S1", "TOC", "2", "%", "dry")]
    row = screen_csv(rows, "--guidelines", path).one("findings")
    assert close(row["value"], 50.0)
    assert (row["basis"], row["finding"]) == ("oc", "between")


def test_a_set_normalised_to_a_share_of_carbon(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    """3.0 ug/kg at 1.2 % carbon, brought to 2.5 %: 6.25 ug/kg (W15 of the worked examples)."""
    path = own_set(["substance,LOW,HIGH,unit,basis", "PCB-153,5,50,ug/kg,oc-2.5%"])
    rows = [*dry(("PCB-153", "3.0")), ("S1", "TOC", "1.2", "%", "dry")]
    row = screen_csv(rows, "--guidelines", path).one("findings")
    assert close(row["value"], 6.25)
    assert (row["basis"], row["finding"]) == ("oc-2.5%", "between")


def test_a_set_normalised_to_aluminium(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    """Lead 40 mg/kg at 3.2 % aluminium, brought to 5 %: 62.5 mg/kg (W15 of the worked examples)."""
    path = own_set(["substance,LOW,HIGH,unit,basis", "Lead,60,100,mg/kg,al-5%"])
    rows = [*dry(("Lead", "40"), unit="mg/kg"), ("S1", "Aluminum", "3.2", "%", "dry")]
    row = screen_csv(rows, "--guidelines", path).one("findings", substance="Lead")
    assert close(row["value"], 62.5)
    assert row["finding"] == "between"


def test_no_carbon_no_finding_per_carbon(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["substance,LOW,HIGH,unit,basis", "Phenanthrene,40,100,mg/kg,oc", "Lead,1,2,mg/kg,dry"])
    rows = [*dry(("Phenanthrene", "1000")), *dry(("Lead", "5"), unit="mg/kg")]
    row = screen_csv(rows, "--guidelines", path).one("findings", substance="Phenanthrene")
    assert (row["finding"], "carbon" in row["note"].lower()) == ("not-assessed", True)


@pytest.mark.parametrize(
    ("outside", "finding", "value"), [("not-assessed", "not-assessed", None), ("clamp", "above", 200.0)]
)
def test_carbon_out_of_range(
    screen_csv: Screen, own_set: Callable[..., Path], outside: str, finding: str, value: float | None
) -> None:
    """1000 ug/kg at 0.2 % carbon; clamped to the range's nearer end, 0.5 %: 200 mg/kg OC."""
    more = f'[toc]\nrange_pct = [0.5, 3.5]\noutside = "{outside}"'
    path = own_set(["substance,LOW,HIGH,unit,basis", "Phenanthrene,40,100,mg/kg,oc", "Lead,1,2,mg/kg,dry"], more=more)
    rows = [*dry(("Phenanthrene", "1000")), *dry(("Lead", "5"), unit="mg/kg"), ("S1", "TOC", "0.2", "%", "dry")]
    row = screen_csv(rows, "--guidelines", path).one("findings", substance="Phenanthrene")
    assert row["finding"] == finding
    assert row["value"] == "" if value is None else close(row["value"], value)


def test_levels_on_different_bases_are_all_compared_on_dry_weight(
    screen_csv: Screen, own_set: Callable[..., Path]
) -> None:
    """LOW 100 ug/kg dry; HIGH 20 mg/kg OC at 2 % carbon is 400 ug/kg dry, by hand."""
    path = own_set(["substance,LOW,HIGH,unit,HIGH unit,HIGH basis", "Phenanthrene,100,20,ug/kg,mg/kg,oc"])
    rows = [*dry(("Phenanthrene", "300")), ("S1", "TOC", "2", "%", "dry")]
    row = screen_csv(rows, "--guidelines", path).one("findings")
    assert (row["basis"], row["finding"]) == ("dry", "between")
    assert close(row["upper_level"], 400.0)
    assert "HIGH" in row["note"]


def test_evidence_is_the_weakest_of_the_levels_used(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["substance,LOW,HIGH,unit,evidence,HIGH evidence", "Lead,10,50,mg/kg,seen,from_memory"])
    row = screen_csv(dry(("Lead", "60"), unit="mg/kg"), "--guidelines", path).one("findings")
    assert row["evidence"] == "from_memory"


def test_evidence_of_ones_own_set_may_be_left_out(screen_csv: Screen, own_set: Callable[..., Path]) -> None:
    path = own_set(["Lead,10,50,mg/kg"])
    assert screen_csv(dry(("Lead", "60"), unit="mg/kg"), "--guidelines", path).one("findings")["evidence"] == "own"


@pytest.mark.parametrize(
    ("water", "sets"),
    [
        ("fresh", ["consensus-2000-fresh"]),
        ("marine", ["long-1995-marine"]),
        ("estuarine", ["consensus-2000-fresh", "long-1995-marine"]),
    ],
)
def test_default_sets_by_water(screen_csv: Screen, water: str, sets: list[str]) -> None:
    out = screen_csv(dry(("Lead", "60"), unit="mg/kg"), "--water", water)
    assert sorted(row["set"] for row in out.rows("findings")) == sets


def test_without_water_both_sets_and_a_warning(screen_files: Screen, tmp_path: Path) -> None:
    sheet = tmp_path / "lab.csv"
    sheet.write_text(",".join(LONG) + "\nS1,Lead,60,mg/kg,dry\n", encoding="utf-8")
    out = screen_files([sheet])
    assert {row["set"] for row in out.rows("findings")} == {"consensus-2000-fresh", "long-1995-marine"}
    assert "water" in out.stderr.lower()


# -- field duplicates -----------------------------------------------------------------------------------------------
RECORD = [
    ["Sample", "Station", "Top", "Bottom", "Depth unit", "Parent"],
    ["S1", "ST-1", "0", "10", "cm", ""],
    ["S1-FD", "ST-1", "0", "10", "cm", "S1"],
]
PAIR = [("S1", "Lead", "30", "mg/kg", "dry"), ("S1-FD", "Lead", "40", "mg/kg", "dry")]


def test_of_field_duplicates_the_higher_stands_on_the_parents_row(screen_csv: Screen) -> None:
    out = screen_csv(PAIR, "--water", "fresh", record=RECORD)
    row = out.one("findings", substance="Lead")
    assert (row["sample"], float(row["value"]), row["finding"]) == ("S1", 40.0, "between")
    assert "S1-FD" in row["note"]


def test_field_duplicates_may_be_averaged(screen_csv: Screen) -> None:
    out = screen_csv(PAIR, "--water", "fresh", "--duplicates", "mean", record=RECORD)
    assert float(out.one("findings", substance="Lead")["value"]) == 35.0


def test_a_mean_of_duplicates_takes_a_nondetect_at_half_its_limit(screen_csv: Screen) -> None:
    pair = [("S1", "Lead", "30", "mg/kg", "dry"), ("S1-FD", "Lead", "<40", "mg/kg", "dry")]
    out = screen_csv(pair, "--water", "fresh", "--duplicates", "mean", record=RECORD)
    assert float(out.one("findings", substance="Lead")["value"]) == 25.0


@pytest.mark.parametrize(("rejected", "measured"), [("A", "B"), ("B", "A")])
def test_a_sum_rejected_in_one_of_a_pair_is_no_row_beside_the_others(
    screen_csv: Screen, rejected: str, measured: str
) -> None:
    rows = [
        (sample, name, "5", flag, "", "", "ug/kg", "dry")
        for sample, flag in ((rejected, "R"), (measured, ""))
        for name in ("2,4'-DDD", "4,4'-DDD")
    ]
    got = screen_csv(rows, header=FLAGGED, record=[("sample", "parent"), ("A", ""), ("B", "A")])
    row = got.one("findings", substance="Sum DDD", set="consensus-2000-fresh")
    assert (row["sample"], row["total"], row["value"], row["finding"]) == ("A", "ddd", "10", "between")


def test_field_duplicates_may_stay_apart(screen_csv: Screen) -> None:
    out = screen_csv(PAIR, "--water", "fresh", "--duplicates", "separate", record=RECORD)
    assert [row["sample"] for row in out.rows("findings", substance="Lead")] == ["S1", "S1-FD"]


def test_a_detect_comes_before_a_nondetect(screen_csv: Screen) -> None:
    pair = [("S1", "Lead", "<90", "mg/kg", "dry"), ("S1-FD", "Lead", "40", "mg/kg", "dry")]
    row = screen_csv(pair, "--water", "fresh", record=RECORD).one("findings", substance="Lead")
    assert (row["sample"], float(row["value"])) == ("S1", 40.0)


def test_of_two_nondetects_the_lower_limit_stands(screen_csv: Screen) -> None:
    pair = [("S1", "Lead", "<90", "mg/kg", "dry"), ("S1-FD", "Lead", "<20", "mg/kg", "dry")]
    row = screen_csv(pair, "--water", "fresh", record=RECORD).one("findings", substance="Lead")
    assert (row["finding"], float(row["high"])) == ("below", 20.0)


def test_a_set_mostly_from_memory_says_so_where_its_findings_are_shown(screen_csv: Screen) -> None:
    """Contract, section 5: beside its counts, and under the table of where sets disagree."""
    options = [one for name in ("consensus-2000-fresh", "nysdec-2014-fresh") for one in ("--guidelines", name)]
    out = screen_csv(dry(("Lead", "35.9"), ("Zinc", "1000"), unit="mg/kg"), *options, full=True)
    page = (out.out / "report.html").read_text(encoding="utf-8")
    start = page.index('id="tally"')
    table = page[start : page.index("</table>", start)]
    assert table.count("most figures not seen in a source") == 1
    assert "Of nysdec-2014-fresh most figures not seen in a source." in page
