"""Worked examples of the methods handbook: where each is reproduced, and those that need the whole command.

Two kinds: printed ones (their source is named beside the check) and constructed ones (arithmetic by hand).
"""

from __future__ import annotations

import ast
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from harness import Outcome, write_csv
from made import compared, results_of, set_of
from scipy import stats

from screen.reference.locate import read_table
from screen.stages.compare.indices.logistic import probability
from screen.stages.compare.places.order_statistics import plotting_positions
from screen.stages.sums import total

Screen = Callable[..., Outcome]
HERE = Path(__file__).parent
#: Each worked example by its number, and the tests beside this file that reproduce it.
WHERE = {
    "W1": [
        "test_statistics_kaplan_meier.py test_mean_and_deviation_of_the_epa_example_15_1",
        "test_statistics_kaplan_meier.py test_mean_and_deviation_of_the_logarithms_of_the_epa_example_15_1",
        "test_kaplan_meier_sums.py test_epa_2009_example_15_1",
    ],
    "W2": [
        "test_tests_of_groups.py test_example_15_2_plotting_positions",
        "test_tests_of_groups.py test_example_15_2_mean_and_deviation_of_the_logarithms",
        "test_tests_of_groups.py test_example_15_2_mean_of_the_values",
        "test_worked_examples.py test_exceedance_probabilities_of_the_epa_example_15_2",
    ],
    "W3": [
        "test_tests_of_groups.py test_example_16_5",
    ],
    "W4": [
        "test_tests_of_groups.py test_example_16_4",
        "test_worked_examples.py test_rank_sum_of_the_epa_example_16_4",
    ],
    "W5": [
        "test_statistics_upper_limit.py test_student_limit_of_the_lead_data_of_beal_2010",
    ],
    "W6": [
        "test_sums.py test_detected_congeners_of_a_printed_table",
        "test_sums.py test_a_station_without_detects_is_a_nondetect_at_the_highest_limit",
        "test_sums.py test_five_of_the_seven_are_incomplete",
    ],
    "W7": [
        "test_sums.py test_sixteen_pahs_of_a_printed_table",
    ],
    "W8": [
        "test_partitioning.py test_ratios_of_pahs",
    ],
    "W9": [
        "test_partitioning.py test_extracted_metals_of_a_printed_table",
        "test_worked_examples.py test_a_printed_sum_of_metals_is_held_against_its_parts",
    ],
    "W10": [
        "test_quotients.py test_quotients_of_a_printed_table",
        "test_quotients.py test_mercury_at_the_level_does_not_exceed_it",
        "test_worked_examples.py test_mean_of_the_quotients_of_a_printed_table",
        "test_worked_examples.py test_a_sieved_fraction_is_warned_of",
    ],
    "W11": [
        "test_partitioning.py test_body_burden_of_a_printed_example",
    ],
    "W12": [
        "test_cores_by_hand.py test_linear_stretch_of_a_drive_recovered_short",
        "test_worked_examples.py test_recovery_and_depths_of_the_printed_drive",
    ],
    "W13": [
        "test_water_content.py test_150_per_cent_of_dry_mass_is_40_per_cent_solids",
        "test_water_content.py test_40_per_cent_on_the_wet_base",
        "test_water_content.py test_40_per_cent_on_the_dry_base",
    ],
    "W14": [
        "test_sums.py test_a_congener_sheet_with_coelutions",
        "test_worked_examples.py test_homologs_of_the_congener_sheet",
        "test_worked_examples.py test_a_group_told_by_its_flags_is_counted_once",
    ],
    "W15": [
        "test_partitioning.py test_total_pcbs_per_carbon",
        "test_partitioning.py test_to_a_stated_carbon",
        "test_partitioning.py test_to_five_per_cent_aluminium",
        "test_worked_examples.py test_total_pcbs_at_little_carbon_go_by_dry_weight",
    ],
    "W16": [
        "test_quotients.py test_mean_pec_quotient_is_a_mean_of_class_means",
    ],
    "W17": [
        "test_worked_examples.py test_logistic_model_by_hand",
    ],
    "W18": [
        "test_partitioning.py test_toxic_units_of_three_pahs",
        "test_partitioning.py test_toxic_units_are_widened_for_a_list_of_thirteen",
    ],
    "W19": [
        "test_partitioning.py test_sem_minus_avs",
        "test_partitioning.py test_extracted_metals_in_mass_become_moles",
    ],
    "W20": [
        "test_areas.py test_surface_weighted_average_of_three_stations",
    ],
    "W21": [
        "test_cores_by_hand.py test_a_prism_of_75_cm",
        "test_cores_by_hand.py test_a_prism_of_120_cm_with_a_non_detect",
    ],
    "W22": [
        "test_sums.py test_total_ddt",
        "test_sums.py test_total_ddt_without_detects_is_the_single_highest_limit",
        "test_worked_examples.py test_total_ddt_without_detects_under_the_sum_of_limits",
    ],
    "W23": [
        "test_kaplan_meier_sums.py test_masses_by_hand",
        "test_kaplan_meier_sums.py test_a_toxic_equivalent_by_hand",
        "test_worked_examples.py test_upper_bound_of_the_toxic_equivalent_by_hand",
    ],
    "W24": [
        "test_worked_examples.py test_relative_difference_of_a_pair",
        "test_worked_examples.py test_results_near_their_blank",
    ],
}


@pytest.mark.parametrize("example", WHERE)
def test_each_example_has_its_tests(example: str) -> None:
    for place in WHERE[example]:
        file, name = place.split()
        tree = ast.parse((HERE / file).read_text(encoding="utf-8"))
        assert name in {one.name for one in tree.body if isinstance(one, ast.FunctionDef)}, place


def read(text: str) -> tuple[np.ndarray, np.ndarray]:
    parts = text.split()
    return np.array([float(one.strip("<")) for one in parts]), np.array([not one.startswith("<") for one in parts])


def test_exceedance_probabilities_of_the_epa_example_15_2() -> None:
    """U.S. EPA 2009, EPA 530/R-09-007, Example 15-2: 0.79 at the limit of 2 and 0.72 at 5; three results each.

    The non-detects of a limit are spread evenly below its non-exceedance probability: i/4 of 0.21 and of 0.28.
    """
    figure, detected = read(
        "<5 12.1 16.9 21.6 <2 <5 7.7 53.6 9.5 45.9 <5 5.3 12.6 106.3 34.5 6.3 11.9 10 <2 77.2 17.9 22.7 3.3 8.4 <2"
    )
    found = plotting_positions(figure, detected)
    for limit, exceeded in ((2, 0.79), (5, 0.72)):
        own = np.sort(found[~detected & (figure == limit)])
        assert own == pytest.approx((1 - exceeded) * np.arange(1, 4) / 4, abs=0.001)


def test_rank_sum_of_the_epa_example_16_4() -> None:
    """U.S. EPA 2009, EPA 530/R-09-007, Example 16-4: the rank sum of the compliance wells is 84.5, so W is 63.5."""
    compliance = [9.4, 10.1, 14.5, 16.1, 21.5, 17.6]
    background = [4.2, 5.8, 11.3, 7.0, 7.0, 8.2, 5.2, 6.4, 11.3, 11.5, 10.1, 9.7]
    ranks = stats.rankdata([*compliance, *background])[:6].sum()
    assert (ranks, ranks - 6 * 7 / 2) == (84.5, 63.5)


# Journal of Ecosystem and Ecography 3:133, Table 5: the parts add to the printed SEM at ARC 1a and not at GAB 1.
@pytest.mark.parametrize(
    ("parts", "printed", "outcome"),
    [((0.078, 0.122, 1.690, 0.004, 0.096), 1.989, "within"), ((0.214, 0.325, 2.404, 0.007, 0.045), 2.884, "outside")],
)
def test_a_printed_sum_of_metals_is_held_against_its_parts(
    screen_csv: Screen, parts: tuple[float, ...], printed: float, outcome: str
) -> None:
    names = ("SEM Nickel", "SEM Copper", "SEM Zinc", "SEM Cadmium", "SEM Lead", "Total SEM")
    rows = [("S1", name, str(one), "umol/g", "dry") for name, one in zip(names, (*parts, printed), strict=True)]
    out = screen_csv([*rows, ("S1", "Lead", "1", "mg/kg", "dry")])
    row = out.one("quality", check="part-above-total")
    assert row["outcome"] == outcome
    assert float(row["value"]) == pytest.approx(100 * (sum(parts) - printed) / printed, rel=1e-9)


# Table 2 of a survey of river sediment (open-access article PMC3353313): PEL and two stations, mg/kg.
@pytest.mark.parametrize(
    ("figures", "mean"),
    [((55.93, 12.3, 3.3, 198, 0.1, 92.6, 452.7), 1.5007), ((63.3, 4.5, 7.6, 34.4, 0.17, 54.7, 122.2), 0.9435)],
)
def test_mean_of_the_quotients_of_a_printed_table(figures: tuple[float, ...], mean: float) -> None:
    metals = ("Arsenic", "Cadmium", "Chromium", "Copper", "Mercury", "Lead", "Zinc")
    pel = dict(zip(metals, (17, 3.5, 90, 197, 0.49, 91, 315), strict=True))
    chosen = set_of([(metal, {"PEL": level}) for metal, level in pel.items()], levels=("PEL",))
    found = compared([("R", metal, str(one)) for metal, one in zip(metals, figures, strict=True)], chosen)
    assert found["upper_quotient"].mean() == pytest.approx(mean, abs=0.0005)


def test_a_sieved_fraction_is_warned_of(screen_csv: Screen) -> None:
    """The same table is of the fraction below 63 um, the levels are for whole sediment."""
    header = ("Sample", "Analyte", "Result", "Unit", "Basis", "Fraction")
    out = screen_csv([("R1", "Copper", "198", "mg/kg", "dry", "<63 um")], header=header)
    assert "sieved fraction" in out.stderr


@pytest.mark.parametrize(("raw", "stretched"), [(1060, 1010.5), (1500, 1473.7), (1990, 1989.5)])
def test_recovery_and_depths_of_the_printed_drive(
    tmp_path: Path, screen_csv: Screen, raw: float, stretched: float
) -> None:
    """T. Bishop, Rescaling for compression, 2018: a drive from 1000 to 2000 mm, base fixed; 950 mm recovered are 95 %.

    Counted from the recovered top at 1050 mm, a depth is stretched by 1000/950: 1050 to 1000 and 2000 to 2000.
    """
    cut = (raw - 1050) / 10
    cores = [("core", "station", "penetration (cm)", "recovered (cm)"), ("C", "ST", 100, 95)]
    record = [("sample", "core", "top (cm)", "bottom (cm)"), ("top", "C", 0, cut), ("base", "C", cut, 95)]
    rows = [(name, "Copper", text, "mg/kg", "dry") for name, text in (("top", "1"), ("base", "2"))]
    settings = '[cores]\ncompaction = "linear"\n'
    more = ("--field", write_csv(tmp_path / "cores.csv", cores), "--water", "fresh")
    row = screen_csv(rows, *more, record=record, settings=settings).one("cores")
    assert float(row["recovery_pct"]) == pytest.approx(95)
    assert 1000 + float(row["peak_top_cm"]) * 10 == pytest.approx(stretched, abs=0.05)
    assert 1000 + float(row["peak_bottom_cm"]) * 10 == pytest.approx(2000)


# Constructed, by hand: a congener sheet with coelutions, ng/g dry, all detected; chlorine numbers 2 to 10.
SHEET = (
    "8 0.5; 18/30 1.2; 20/28 3.0; 44/47/65 2.1; 49/69 1.4; 52 2.8; 61/70/74/76 4.0; 66 1.9; 90/101/113 3.5; 105 1.1;"
    " 110/115 3.9; 118 2.9; 128/166 0.8; 129/138/163 5.0; 153/168 4.4; 170 1.6; 180/193 3.2; 187 1.8; 195 0.3; 206 0.4;"
    " 209 0.2"
)
PEAKS = [(f"PCB-{part.split()[0]}", part.split()[1]) for part in SHEET.split(";")]
SUMS = (0.5, 4.2, 12.2, 11.4, 10.2, 6.6, 0.3, 0.4, 0.2)


def test_homologs_of_the_congener_sheet(screen_csv: Screen) -> None:
    """The nine sums add up to 46.0; they come out as shares of it."""
    out = screen_csv([("S1", name, text, "ng/g", "dry") for name, text in PEAKS])
    shares = {row["index"]: float(row["value"]) for row in out.rows("indices") if "homolog" in row["index"]}
    for chlorines, figure in enumerate(SUMS, 2):
        share = shares[f"ratio-homolog-{chlorines}"]
        assert share == pytest.approx(100 * figure / 46.0, rel=1e-9), chlorines
    assert sum(SUMS) == pytest.approx(46.0)


@pytest.mark.parametrize("repeated", ["5.0", ""])
def test_a_group_told_by_its_flags_is_counted_once(screen_csv: Screen, repeated: str) -> None:
    """The peak of 129, 138 and 163 as three rows flagged C and C129, its value told three times or once: still 46.0."""
    flagged = [("PCB-129", "5.0", "C"), ("PCB-138", repeated, "C129"), ("PCB-163", repeated, "C129")]
    plain = [(name, text, "") for name, text in PEAKS if name != "PCB-129/138/163"]
    header = ("Sample", "Analyte", "Result", "Qualifier", "Unit", "Basis")
    out = screen_csv([("S1", *one, "ng/g", "dry") for one in (*plain, *flagged)], header=header)
    row = out.one("totals", total="pcb-congeners")
    assert (float(row["value"]), row["peaks"]) == (pytest.approx(46.0), "21")


def test_total_pcbs_at_little_carbon_go_by_dry_weight(screen_csv: Screen) -> None:
    """180 ug/kg at 0.3 % would be 60 mg/kg of carbon, which says little: dry weight is compared, and it is said."""
    aroclors = ("1016", "1221", "1232", "1242", "1248", "1254", "1260")
    rows = [("S1", f"Aroclor {one}", "180" if one == "1254" else "<1", "ug/kg", "dry") for one in aroclors]
    rows.append(("S1", "Total organic carbon", "0.3", "%", "dry"))
    row = screen_csv(rows, "--guidelines", "washington-marine").one("findings", substance="Total PCBs")
    assert (row["set"], row["basis"], row["value"]) == ("washington-marine-dry", "dry", "180")
    assert "organic carbon outside 0.5 to 3.5 %" in row["note"]


def test_logistic_model_by_hand() -> None:
    """p = 1 / (1 + exp(-(B0 + B1 log10 C))), California calibration from memory; national share 0.375 at pmax 0.50."""
    models = read_table("coefficients/logistic.csv").query("model == 'california'").set_index("substance")
    for name, figure, expected in (("Copper", 100, 0.3974), ("Mercury", 0.5, 0.2953), ("Total PCBs", 200, 0.2689)):
        b0, b1 = (float(models.loc[name, column]) for column in ("b0", "b1"))
        assert 1 / (1 + math.exp(-(b0 + b1 * math.log10(figure)))) == pytest.approx(expected, abs=1e-4)
        assert probability(np.array([float(figure)]), b0, b1)[0] == pytest.approx(expected, abs=1e-4)
    assert pytest.approx(0.375) == 0.11 + 0.33 * 0.50 + 0.4 * 0.50**2


def test_total_ddt_without_detects_under_the_sum_of_limits() -> None:
    """Six isomers below 0.5 ug/kg: 3.0 where the rule is the limit in full, 0.5 where it is the highest limit."""
    six = [f"{place}-{name}" for place in ("2,4'", "4,4'") for name in ("DDD", "DDE", "DDT")]
    table = total(results_of([("S", name, "<0.5") for name in six]), nondetects=("zero", "full"))
    limits = table[table["total"] == "ddt-6"].set_index("rule")["limit"]
    assert (limits["zero"], limits["full"]) == (0.5, pytest.approx(3.0))


def test_upper_bound_of_the_toxic_equivalent_by_hand() -> None:
    """Weighted values 5.0, 2.0, <1.0, 0.8, <0.5, 0.3, 0.1 ng/kg (WHO 2005): 9.7 with limits in full, 8.2 as zero."""
    texts = {
        "2,3,7,8-TCDD": "5", "1,2,3,7,8-PeCDD": "2", "2,3,7,8-TCDF": "<10", "1,2,3,4,7,8-HxCDD": "8",
        "1,2,3,6,7,8-HxCDD": "<5", "1,2,3,7,8,9-HxCDD": "3", "1,2,3,4,7,8-HxCDF": "1",
    }  # fmt: skip
    table = total(results_of([("S", name, text) for name, text in texts.items()]), nondetects=("full",))
    row = table[table["total"] == "teq-2005"].iloc[0]
    assert (row["value"], row["low"], row["high"]) == pytest.approx((9.7, 8.2, 9.7))


def test_relative_difference_of_a_pair(screen_csv: Screen) -> None:
    """12 and 20: 200 x 8 / 32 = 50 %."""
    rows = [("S1", "Lead", "12", "mg/kg", "dry"), ("S2", "Lead", "20", "mg/kg", "dry")]
    record = [("sample", "station", "parent"), ("S1", "A", ""), ("S2", "A", "S1")]
    out = screen_csv(rows, "--water", "fresh", record=record)
    assert float(out.one("quality", check="duplicate")["value"]) == pytest.approx(50)


@pytest.mark.parametrize(
    ("rule", "kinds"),
    [("as-flagged", ["exact", "exact", "exact"]), ("five-ten", ["nondetect", "nondetect", "exact"])],
)
def test_results_near_their_blank(screen_csv: Screen, rule: str, kinds: list[str]) -> None:
    """Blank 2: of 0.8, 8 and 12 the older habit of data review makes 0.8 and 8 non-detects (from memory).

    The rule of the United States Department of Defense, 9 February 2022 (0.8 becomes 1 U at the limit of detection, 8
    becomes 8 J+, 12 stays) cannot be asked for: [reading] blanks knows as-flagged and five-ten.
    """
    header = ("Sample", "Sample Type", "Analyte", "Result", "Unit", "Basis")
    figures = {"S1": "0.8", "S2": "8", "S3": "12"}
    rows = [(name, "Sample", "Lead", text, "mg/kg", "dry") for name, text in figures.items()]
    rows.append(("MB-1", "Method Blank", "Lead", "2", "mg/kg", "dry"))
    out = screen_csv(rows, header=header, settings=f'[reading]\nblanks = "{rule}"\n')
    assert [out.one("results", sample=name)["kind"] for name in figures] == kinds
    limits = [out.one("results", sample=name)["limit"] for name in figures]
    assert limits == [text if kind == "nondetect" else "" for text, kind in zip(figures.values(), kinds, strict=True)]
