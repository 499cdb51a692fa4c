"""results.csv, sentence by sentence: one small sheet each, read and screened as a user would."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from harness import Outcome

Screen = Callable[..., Outcome]
LONG = ["Sample", "Analyte", "Result", "Unit", "Basis"]
FLAGGED = ["Sample", "Analyte", "Result", "Qualifier", "MDL", "RL", "Unit", "Basis"]


def close(text: str, expected: float) -> bool:
    return text != "" and math.isclose(float(text), expected, rel_tol=1e-12)


# -- names ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("Benzo[a]pyrene", "Benzo(a)pyrene"),
        ("Lead, total", "Lead"),
        ("PCB 118", "PCB-118"),
        ("BZ#118", "PCB-118"),
        ("PCB-008", "PCB-8"),
        ("Aroclor 1254", "Aroclor 1254"),
        ("PCB-1254", "Aroclor 1254"),
    ],
)
def test_a_name_of_the_trade_becomes_the_canonical_one(screen_csv: Screen, written: str, name: str) -> None:
    unit = "mg/kg" if "Lead" in written else "ug/kg"
    assert screen_csv([("S1", written, "5", unit, "dry")]).one("results")["substance"] == name


@pytest.mark.parametrize(
    "written",
    ["PCB-129/138/163", "PCB 163+138+129", "PCB-129,138,163", "(129+138+163)", "PCB-129 & 138 & 163"],
)
def test_a_coeluting_group_is_named_by_its_members_in_order(screen_csv: Screen, written: str) -> None:
    row = screen_csv([("S1", written, "5", "ug/kg", "dry"), ("S1", "PCB-118", "1", "ug/kg", "dry")]).rows("results")[0]
    assert (row["substance"], row["cas"]) == ("PCB-129/138/163", "")


def test_padding_is_dropped_from_the_members_of_a_group(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "PCB-061/070/074/076", "5", "ug/kg", "dry")]).one("results")
    assert row["substance"] == "PCB-61/70/74/76"


@pytest.mark.parametrize(
    ("analyte", "unit", "group"),
    [
        ("Zinc", "mg/kg", "metal"),
        ("Pyrene", "ug/kg", "pah"),
        ("PCB-52", "ug/kg", "pcb-congener"),
        ("Aroclor 1260", "ug/kg", "pcb-aroclor"),
        ("4,4'-DDE", "ug/kg", "pesticide"),
        ("2,3,7,8-TCDD", "ng/kg", "dioxin"),
        ("Tributyltin", "ug/kg", "organotin"),
        ("Total organic carbon", "%", "conventional"),
    ],
)
def test_each_substance_has_its_group(screen_csv: Screen, analyte: str, unit: str, group: str) -> None:
    rows = [("S1", analyte, "2.5", unit, "dry"), ("S1", "Lead", "5", "mg/kg", "dry")]
    assert screen_csv(rows).rows("results")[0]["group"] == group


# -- units and basis ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("analyte", "result", "unit", "value", "standard"),
    [
        ("Lead", "35", "mg/kg", 35.0, "mg/kg"),
        ("Lead", "35000", "ug/kg", 35.0, "mg/kg"),
        ("Lead", "0.035", "g/kg", 35.0, "mg/kg"),
        ("Aluminum", "5.33", "%", 53300.0, "mg/kg"),
        ("Lead", "35", "ppm", 35.0, "mg/kg"),
        ("Lead", "35", "\u00b5g/g", 35.0, "mg/kg"),
        ("Lead", "35", "\u03bcg/g", 35.0, "mg/kg"),
        ("Pyrene", "0.5", "mg/kg", 500.0, "ug/kg"),
        ("Pyrene", "500", "ng/g", 500.0, "ug/kg"),
        ("Pyrene", "500", "ppb", 500.0, "ug/kg"),
        ("Pyrene", "500000", "pg/g", 500.0, "ug/kg"),
        ("2,3,7,8-TCDD", "2.5", "pg/g", 2.5, "ng/kg"),
        ("2,3,7,8-TCDD", "0.133", "ug/kg", 133.0, "ng/kg"),
        ("Total organic carbon", "25000", "mg/kg", 2.5, "%"),
    ],
)
def test_a_value_comes_out_in_the_standard_unit(
    screen_csv: Screen, analyte: str, result: str, unit: str, value: float, standard: str
) -> None:
    rows = [("S1", analyte, result, unit, "dry"), ("S1", "Zinc", "5", "mg/kg", "dry")]
    row = screen_csv(rows).rows("results")[0]
    assert close(row["value"], value), row
    assert row["unit"] == standard


@pytest.mark.parametrize(
    ("unit", "expected"),
    [("ug/kg dw", "dry"), ("ug/kg wet", "wet"), ("NG/G_DRY", "dry"), ("ug/kg dry weight", "dry"), ("ug/kg ww", "wet")],
)
def test_the_unit_may_state_the_basis(screen_csv: Screen, unit: str, expected: str) -> None:
    rows = [("S1", "Pyrene", "50", unit), ("S1", "Percent moisture", "50", "%")]
    out = screen_csv(rows, header=["Sample", "Analyte", "Result", "Unit"])
    assert out.one("results", substance="Pyrene")["reported_basis"] == expected


def test_wet_weight_becomes_dry_weight_by_the_moisture(screen_csv: Screen) -> None:
    """100 ug/kg at 40 % moisture over wet mass is 166.67 ug/kg dry (EPA 160.3; worked by hand: 100 / 0.60)."""
    rows = [("S1", "Pyrene", "100", "ug/kg", "wet"), ("S1", "Percent moisture", "40", "%", "")]
    assert close(screen_csv(rows).one("results", substance="Pyrene")["value"], 100 / 0.6)


def test_wet_weight_becomes_dry_weight_by_the_solids(screen_csv: Screen) -> None:
    rows = [("S1", "Pyrene", "30", "ug/kg", "wet"), ("S1", "Percent solids", "60", "%", "")]
    assert close(screen_csv(rows).one("results", substance="Pyrene")["value"], 50.0)


def test_limits_are_brought_to_dry_weight_too(screen_csv: Screen) -> None:
    rows = [("S1", "Pyrene", "<30", "ug/kg", "wet"), ("S1", "Percent solids", "60", "%", "")]
    row = screen_csv(rows).one("results", substance="Pyrene")
    assert close(row["limit"], 50.0)
    assert close(row["high"], 50.0)


def test_a_result_without_basis_keeps_its_figure_and_has_no_value(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Pyrene", "100", "ug/kg", ""), ("S1", "Lead", "5", "mg/kg", "dry")])
    row = out.one("results", substance="Pyrene")
    assert (row["used"], row["why_not"], row["reported"]) == ("false", "no-basis", "100")
    assert (row["value"], row["limit"], row["low"], row["high"]) == ("", "", "", "")


def test_the_option_basis_settles_only_sheets_that_state_none(screen_csv: Screen) -> None:
    rows = [("S1", "Pyrene", "100", "ug/kg"), ("S1", "Percent solids", "50", "%")]
    out = screen_csv(rows, "--basis", "wet", header=["Sample", "Analyte", "Result", "Unit"])
    assert close(out.one("results", substance="Pyrene")["value"], 200.0)


def test_a_wet_result_without_moisture_is_kept_and_set_aside(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Pyrene", "100", "ug/kg", "wet"), ("S1", "Lead", "5", "mg/kg", "dry")])
    row = out.one("results", substance="Pyrene")
    assert (row["used"], row["why_not"], row["value"]) == ("false", "no-moisture", "")


def test_solids_and_moisture_that_do_not_add_up_stop_wet_results_only(screen_csv: Screen) -> None:
    out = screen_csv(
        [
            ("S1", "Pyrene", "100", "ug/kg", "wet"),
            ("S1", "Lead", "5", "mg/kg", "dry"),
            ("S1", "Percent solids", "60", "%", ""),
            ("S1", "Percent moisture", "45", "%", ""),
        ]
    )
    assert out.one("results", substance="Pyrene")["why_not"] == "moisture-conflict"
    assert out.one("results", substance="Lead")["used"] == "true"


def test_solids_and_moisture_within_two_per_cent_agree(screen_csv: Screen) -> None:
    out = screen_csv(
        [
            ("S1", "Pyrene", "100", "ug/kg", "wet"),
            ("S1", "Percent solids", "60", "%", ""),
            ("S1", "Percent moisture", "41", "%", ""),
        ]
    )
    assert out.one("results", substance="Pyrene")["why_not"] == ""


# -- carbon ---------------------------------------------------------------------------------------------------------


def test_the_value_per_organic_carbon(screen_csv: Screen) -> None:
    """180 ug/kg at 2.5 % organic carbon is 7.2 mg/kg OC, by hand: 0.18 / 0.025."""
    out = screen_csv([("S1", "Pyrene", "180", "ug/kg", "dry"), ("S1", "TOC", "2.5", "%", "dry")])
    row = out.one("results", substance="Pyrene")
    assert close(row["oc_value"], 7.2)


def test_metals_have_no_value_per_carbon(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Lead", "180", "mg/kg", "dry"), ("S1", "TOC", "2.5", "%", "dry")])
    assert out.one("results", substance="Lead")["oc_value"] == ""


def test_a_nondetect_has_no_value_per_carbon(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Pyrene", "<180", "ug/kg", "dry"), ("S1", "TOC", "2.5", "%", "dry")])
    assert out.one("results", substance="Pyrene")["oc_value"] == ""


def test_carbon_not_detected_gives_no_value_per_carbon(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Pyrene", "180", "ug/kg", "dry"), ("S1", "TOC", "<0.05", "%", "dry")])
    assert out.one("results", substance="Pyrene")["oc_value"] == ""


def test_a_result_per_carbon_without_carbon_is_set_aside(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Pyrene", "7.2", "mg/kg OC", ""), ("S1", "Lead", "5", "mg/kg", "dry")])
    assert out.one("results", substance="Pyrene")["why_not"] == "no-carbon"


def test_a_result_per_carbon_goes_back_to_dry_weight_by_this_samples_carbon(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Pyrene", "7.2", "mg/kg OC", ""), ("S1", "TOC", "2.5", "%", "dry")])
    assert close(out.one("results", substance="Pyrene")["value"], 180.0)


# -- kinds of value -------------------------------------------------------------------------------------------------


def test_an_exact_value_is_its_own_bounds(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Lead", "12.3", "mg/kg", "dry")]).one("results")
    assert (row["kind"], row["detected"], row["limit"]) == ("exact", "true", "")
    assert row["value"] == row["low"] == row["high"] == "12.3"


@pytest.mark.parametrize(
    "text",
    ["<0.5", "< 0.5", "0.5 U", "0.5U", "U0.5", "0.5 <", "ND<0.5", "ND(0.5)", "<0.5 U", "LT 0.5", "\u22640.5"],
)
def test_a_nondetect_in_the_cell(screen_csv: Screen, text: str) -> None:
    out = screen_csv([("S1", "Cadmium", text, "mg/kg", "dry"), ("S1", "Lead", "12.3", "mg/kg", "dry")])
    row = out.one("results", substance="Cadmium")
    assert (row["kind"], row["detected"], row["value"]) == ("nondetect", "false", "")
    assert (float(row["limit"]), float(row["low"]), float(row["high"])) == (0.5, 0.0, 0.5)


@pytest.mark.parametrize("text", ["ND", "U", "n.d.", "Not detected"])
def test_a_bare_nondetect_takes_the_reporting_limit(screen_csv: Screen, text: str) -> None:
    row = screen_csv([("S1", "Cadmium", text, "", "0.1", "0.5", "mg/kg", "dry")], header=FLAGGED).one("results")
    assert (row["kind"], float(row["limit"])) == ("nondetect", 0.5)


def test_the_setting_limits_takes_the_detection_limit(screen_csv: Screen) -> None:
    out = screen_csv(
        [("S1", "Cadmium", "ND", "", "0.1", "0.5", "mg/kg", "dry")],
        header=FLAGGED,
        settings='[reading]\nlimits = "detection"\n',
    )
    assert float(out.one("results")["limit"]) == 0.1


def test_a_bare_nondetect_takes_the_limit_that_its_text_names(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Cadmium", "<MDL", "", "0.1", "0.5", "mg/kg", "dry")], header=FLAGGED).one("results")
    assert float(row["limit"]) == 0.1


def test_a_nondetect_without_any_limit_has_no_bounds(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Cadmium", "ND", "mg/kg", "dry"), ("S1", "Lead", "5", "mg/kg", "dry")])
    row = out.one("results", substance="Cadmium")
    assert (row["kind"], row["detected"], row["limit"], row["high"]) == ("nondetect", "false", "", "")


def test_the_number_beside_u_is_the_limit(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Cadmium", "0.2", "U", "0.1", "0.5", "mg/kg", "dry")], header=FLAGGED).one("results")
    assert (row["detected"], float(row["limit"])) == ("false", 0.2)


def test_a_zero_with_u_is_a_nondetect_at_the_limit(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Cadmium", "0", "U", "0.1", "", "mg/kg", "dry")], header=FLAGGED).one("results")
    assert (row["kind"], float(row["limit"])) == ("nondetect", 0.1)


def test_a_trace_is_present_between_its_limits(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Cadmium", "Trace", "", "0.1", "0.5", "mg/kg", "dry")], header=FLAGGED).one("results")
    assert (row["kind"], row["detected"], row["value"]) == ("trace", "true", "")
    assert (float(row["low"]), float(row["high"])) == (0.1, 0.5)


@pytest.mark.parametrize("text", [">500", "500 >", "> 500"])
def test_more_than_is_a_lower_bound(screen_csv: Screen, text: str) -> None:
    row = screen_csv([("S1", "Lead", text, "mg/kg", "dry")]).one("results")
    assert (row["kind"], float(row["value"]), float(row["low"]), row["high"]) == ("more-than", 500, 500, "")


def test_e_means_over_range_for_an_organic(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Pyrene", "1800", "E", "", "", "ug/kg", "dry")], header=FLAGGED).one("results")
    assert (row["kind"], float(row["value"]), row["high"]) == ("more-than", 1800, "")


def test_e_means_estimated_for_a_metal(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Lead", "18", "E", "", "", "mg/kg", "dry")], header=FLAGGED).one("results")
    assert (row["kind"], float(row["value"])) == ("exact", 18)


def test_empc_is_an_estimated_maximum(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "2,3,7,8-TCDF", "1.5", "EMPC", "", "", "ng/kg", "dry")], header=FLAGGED).one("results")
    assert (row["kind"], row["detected"]) == ("estimated-maximum", "true")
    assert (float(row["value"]), float(row["low"]), float(row["high"])) == (1.5, 0.0, 1.5)


def test_conventionals_may_be_zero(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Gravel", "0", "%", ""), ("S1", "Lead", "5", "mg/kg", "dry")])
    row = out.one("results", substance="Gravel")
    assert (row["kind"], float(row["value"]), row["used"]) == ("exact", 0.0, "true")


def test_a_bare_zero_concentration_is_refused(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Cadmium", "0", "mg/kg", "dry"), ("S1", "Lead", "5", "mg/kg", "dry")])
    assert out.rows("results", substance="Cadmium") == []
    assert [row["text"] for row in out.rows("ledger", became="rejected")] == ["0"]


def test_a_bare_zero_may_be_taken_as_a_nondetect(screen_csv: Screen) -> None:
    out = screen_csv(
        [("S1", "Cadmium", "0", "", "0.1", "0.5", "mg/kg", "dry")],
        header=FLAGGED,
        settings='[reading]\nzeros = "nondetect"\n',
    )
    assert (out.one("results")["kind"], float(out.one("results")["limit"])) == ("nondetect", 0.5)


# -- set aside ------------------------------------------------------------------------------------------------------


def test_rejected_by_the_laboratory(screen_csv: Screen) -> None:
    rows = [("S1", "Lead", "18", "R", "", "", "mg/kg", "dry"), ("S1", "Zinc", "18", "", "", "", "mg/kg", "dry")]
    row = screen_csv(rows, header=FLAGGED).one("results", substance="Lead")
    assert (row["used"], row["why_not"]) == ("false", "rejected-by-lab")


@pytest.mark.parametrize("flag", ["N", "NJ"])
def test_a_tentative_identity(screen_csv: Screen, flag: str) -> None:
    rows = [("S1", "Pyrene", "18", flag, "", "", "ug/kg", "dry"), ("S1", "Zinc", "18", "", "", "", "mg/kg", "dry")]
    row = screen_csv(rows, header=FLAGGED).one("results", substance="Pyrene")
    assert (row["used"], row["why_not"]) == ("false", "tentative")


def test_a_congener_alone_beside_its_group(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "PCB-28/31", "5", "ug/kg", "dry"), ("S1", "PCB-28", "3", "ug/kg", "dry")])
    row = out.one("results", substance="PCB-28")
    assert (row["used"], row["why_not"]) == ("false", "in-a-group")
    assert out.one("results", substance="PCB-28/31")["used"] == "true"


def test_a_mixed_peak_across_groups(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "PCB-85 + 4,4'-DDE", "5", "ug/kg", "dry"), ("S1", "PCB-28", "3", "ug/kg", "dry")])
    rows = [row for row in out.rows("results") if row["why_not"] == "mixed-peak"]
    assert [row["used"] for row in rows] == ["false"]


def test_a_flag_without_a_legend_is_shown_and_changes_nothing(screen_csv: Screen) -> None:
    row = screen_csv([("S1", "Lead", "18", "X", "", "", "mg/kg", "dry")], header=FLAGGED).one("results")
    assert (row["qualifier"], row["used"], row["kind"], float(row["value"])) == ("X", "true", "exact", 18)


def test_one_number_repeated_by_a_coelution_is_one_result(screen_csv: Screen) -> None:
    rows = [
        ("S1", "PCB-129", "5.0", "C", "", "", "ug/kg", "dry"),
        ("S1", "PCB-138", "5.0", "C129", "", "", "ug/kg", "dry"),
        ("S1", "PCB-163", "5.0", "C129", "", "", "ug/kg", "dry"),
    ]
    out = screen_csv(rows, header=FLAGGED)
    assert out.one("results")["substance"] == "PCB-129/138/163"
    assert len(out.rows("ledger", became="duplicate")) == 2


def test_pointer_rows_without_a_value_belong_to_their_peak(screen_csv: Screen) -> None:
    rows = [
        ("S1", "PCB-129", "5.0", "C", "", "", "ug/kg", "dry"),
        ("S1", "PCB-138", "", "C129", "", "", "ug/kg", "dry"),
        ("S1", "PCB-163", "", "C129", "", "", "ug/kg", "dry"),
    ]
    out = screen_csv(rows, header=FLAGGED)
    assert (out.one("results")["substance"], float(out.one("results")["value"])) == ("PCB-129/138/163", 5.0)


def test_identical_rows_are_one_result(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Lead", "18", "mg/kg", "dry"), ("S1", "Lead", "18", "mg/kg", "dry")])
    assert len(out.rows("results")) == 1
    assert len(out.rows("ledger", became="duplicate")) == 1


def test_two_different_numbers_are_a_conflict(screen_csv: Screen) -> None:
    rows = [
        ("S1", "Lead", "18", "mg/kg", "dry"),
        ("S1", "Lead", "19", "mg/kg", "dry"),
        ("S1", "Zinc", "1", "mg/kg", "dry"),
    ]
    out = screen_csv(rows)
    assert out.rows("results", substance="Lead") == []
    assert sorted(row["text"] for row in out.rows("ledger", became="rejected")) == ["18", "19"]
    assert out.one("findings", substance="Lead")["finding"] == "not-assessed"


def test_the_setting_conflicts_takes_the_higher(screen_csv: Screen) -> None:
    rows = [("S1", "Lead", "18", "mg/kg", "dry"), ("S1", "Lead", "19", "mg/kg", "dry")]
    out = screen_csv(rows, settings='[reading]\nconflicts = "higher"\n')
    assert float(out.one("results")["value"]) == 19


def test_over_range_loses_to_its_dilution(screen_csv: Screen) -> None:
    header = [*FLAGGED, "Dilution"]
    rows = [
        ("S1", "Pyrene", "1800", "E", "", "10", "ug/kg", "dry", "1"),
        ("S1", "Pyrene", "1600", "D", "", "50", "ug/kg", "dry", "5"),
    ]
    out = screen_csv(rows, header=header)
    assert (float(out.one("results")["value"]), out.one("results")["kind"]) == (1600, "exact")
    assert [row["text"] for row in out.rows("ledger", became="superseded")] == ["1800"]


# -- where it came from ---------------------------------------------------------------------------------------------


def test_a_result_says_its_cell(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Zinc", "1", "mg/kg", "dry"), ("S1", "Lead", "1.80E+01", "mg/kg", "dry")])
    row = out.one("results", substance="Lead")
    assert (row["file"], row["row"], row["column"], row["reported"]) == ("lab.csv", "3", "C", "1.80E+01")


def test_blank_records_count_as_rows(screen_csv: Screen) -> None:
    out = screen_csv([("", "", "", "", ""), ("S1", "Lead", "18", "mg/kg", "dry")])
    assert out.one("results")["row"] == "3"


def test_the_order_is_that_of_the_sheet(screen_csv: Screen) -> None:
    rows = [
        ("Z9", "Zinc", "1", "mg/kg", "dry"),
        ("A1", "Lead", "2", "mg/kg", "dry"),
        ("M5", "Copper", "3", "mg/kg", "dry"),
    ]
    assert [row["sample"] for row in screen_csv(rows).rows("results")] == ["Z9", "A1", "M5"]


@pytest.mark.parametrize("name", ["0042", "15", "3E2", "4-07", "TRUE", "1.0", "NA-7", "SEP-2"])
def test_a_sample_name_stays_text(screen_csv: Screen, name: str) -> None:
    assert screen_csv([(name, "Lead", "2", "mg/kg", "dry")]).one("results")["sample"] == name


def test_names_that_differ_by_padding_are_warned_of_and_not_merged(screen_csv: Screen) -> None:
    out = screen_csv([("SD-1", "Lead", "2", "mg/kg", "dry"), ("SD-01", "Lead", "3", "mg/kg", "dry")])
    assert sorted({row["sample"] for row in out.rows("results")}) == ["SD-01", "SD-1"]
    assert "SD-01" in out.stderr
    assert "SD-1" in out.stderr


def test_without_a_field_record_the_station_is_the_sample(screen_csv: Screen) -> None:
    assert screen_csv([("S1", "Lead", "2", "mg/kg", "dry")]).one("results")["station"] == "S1"
