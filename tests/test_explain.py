"""Chains of single findings, each expected step worked out by hand."""

from __future__ import annotations

import json

import pytest

OWN = """title = "Made for a test"
citation = "None"
water = ["fresh"]
levels = ["L", "U"]
lower = "L"
upper = "U"
basis = "{basis}"
caveats = ["Only for a test."]
{more}
"""


@pytest.fixture
def explained(screen_csv, siltmark, tmp_path):
    """``explained(rows, sample, substance, options)``: the chain of the only finding that fits."""

    def explain(rows, sample, substance, *options):
        out = screen_csv(rows, *options)
        told = siltmark("explain", out.out, sample, substance, "--json")
        assert told.status == 0, told.stderr
        return json.loads(told.stdout)

    return explain


@pytest.fixture
def own_set(tmp_path):
    def write(rows, basis="dry", more=""):
        (tmp_path / "own.toml").write_text(OWN.format(basis=basis, more=more), encoding="utf-8")
        (tmp_path / "own.csv").write_text("\n".join(["substance,L,U,unit", *rows]) + "\n", encoding="utf-8")
        return ("--guidelines", tmp_path / "own.csv")

    return write


def steps(chain):
    return [(one["step"], one["from"], one["by"], one["to"]) for one in chain["steps"]]


def test_a_dry_metal_is_read_and_compared(explained):
    chain = explained([("A", "Lead", "71.6", "mg/kg", "dry")], "A", "Lead")
    assert steps(chain) == [
        ("read", "71.6", None, 71.6),
        ("level", 35.8, 1.0, 35.8),
        ("quotient", 71.6, 35.8, 2.0),
        ("level", 128.0, 1.0, 128.0),
        ("quotient", 71.6, 128.0, 0.559375),
    ]


def test_a_wet_result_names_its_solids_and_their_cell(explained):
    rows = [("A", "Lead", "42", "mg/kg", "wet"), ("A", "Percent solids", "60", "%", "")]
    chain = explained(rows, "A", "Lead")
    assert steps(chain)[:2] == [("read", "42", None, 42.0), ("dry-weight", 42.0, 0.6, 70.0)]
    assert [(cell["row"], cell["text"]) for cell in chain["cells"]] == [(2, "42"), (3, "60")]


def test_a_unit_is_a_step(explained):
    chain = explained([("A", "Lead", "71600", "ug/kg", "dry")], "A", "Lead")
    assert steps(chain)[:2] == [("read", "71600", None, 71600.0), ("unit", 71600.0, 0.001, 71.6)]


def test_a_sum_lists_its_members_and_weights(explained, own_set):
    options = own_set(["Dioxin TEQ,1,100,ng/kg"], more='[sums]\n"Dioxin TEQ" = ["teq-2005"]')
    rows = [("A", "2,3,7,8-TCDD", "2", "ng/kg", "dry"), ("A", "2,3,7,8-TCDF", "30", "ng/kg", "dry")]
    chain = explained(rows, "A", "Dioxin TEQ", *options)
    (total,) = (one for one in chain["steps"] if one["step"] == "sum" and one["quantity"] == "value")
    # WHO 2005 factors: TCDD 1, TCDF 0.1 (van den Berg et al. 2006, Toxicol. Sci. 93:223-241).
    assert dict(zip(total["substances"], total["weights"], strict=True)) == {"2,3,7,8-TCDD": 1.0, "2,3,7,8-TCDF": 0.1}
    assert total["to"] == pytest.approx(5.0)


def test_a_total_of_the_laboratory_is_read_and_not_summed(explained):
    chain = explained([("A", "Total PCBs", "100", "ug/kg", "dry")], "A", "Total PCBs")
    assert [one[0] for one in steps(chain)] == ["read", "level", "quotient", "level", "quotient"]
    assert chain["steps"][0]["to"] == 100.0
    assert "the laboratory's own total" in chain["steps"][0]["source"]


def test_carbon_is_a_step_with_its_cell(explained, own_set):
    rows = [("A", "Pyrene", "500", "ug/kg", "dry"), ("A", "TOC", "2.5", "%", "")]
    chain = explained(rows, "A", "Pyrene", *own_set(["Pyrene,1,100,mg/kg"], basis="oc"))
    (carbon,) = (one for one in chain["steps"] if one["step"] == "carbon")
    assert (carbon["from"], carbon["to"], carbon["unit"]) == (500.0, pytest.approx(20.0), "mg/kg OC")
    assert [cell["row"] for cell in chain["cells"]] == [2, 3]


def test_carbon_out_of_range_is_taken_at_its_nearer_end(explained, own_set):
    rows = [("A", "Pyrene", "500", "ug/kg", "dry"), ("A", "TOC", "20", "%", "")]
    options = own_set(["Pyrene,1,100,ug/kg"], basis="oc-1%", more='[toc]\nrange_pct = [0.2, 10]\noutside = "clamp"')
    chain = explained(rows, "A", "Pyrene", *options)
    (carbon,) = (one for one in chain["steps"] if one["step"] == "carbon")
    assert carbon["to"] == pytest.approx(50.0)


def test_the_set_that_stands_in_is_explained_too(explained):
    rows = [("A", "Pyrene", "500", "ug/kg", "dry"), ("A", "TOC", "9", "%", "")]
    chain = explained(rows, "A", "Pyrene", "--guidelines", "washington-marine")
    assert chain["set"] == "washington-marine-dry"
    assert any(one["step"] == "level" and one["source"] for one in chain["steps"])


def test_a_duplicate_that_is_higher_gives_the_chain(screen_csv, siltmark):
    header = ["Sample", "Parent", "Analyte", "Result", "Unit", "Basis"]
    rows = [("A", "", "Lead", "100", "mg/kg", "dry"), ("A-FD", "A", "Lead", "150", "mg/kg", "dry")]
    out = screen_csv(rows, header=header)
    chain = json.loads(siltmark("explain", out.out, "A", "Lead", "--json").stdout)
    assert chain["steps"][0]["to"] == 150.0


def test_a_mean_of_duplicates_is_a_step(screen_csv, siltmark):
    header = ["Sample", "Parent", "Analyte", "Result", "Unit", "Basis"]
    rows = [("A", "", "Lead", "100", "mg/kg", "dry"), ("A-FD", "A", "Lead", "150", "mg/kg", "dry")]
    out = screen_csv(rows, "--duplicates", "mean", header=header)
    chain = json.loads(siltmark("explain", out.out, "A", "Lead", "--json").stdout)
    assert [one["to"] for one in chain["steps"] if one["step"] == "duplicates"] == [125.0]


def test_of_several_sets_the_leading_one_is_the_object(explained):
    options = ("--guidelines", "ontario-1993-fresh", "--guidelines", "consensus-2000-fresh")
    chain = explained([("A", "Lead", "71.6", "mg/kg", "dry")], "A", "Lead", *options)
    assert (chain["set"], [one["set"] for one in chain["others"]]) == ("ontario-1993-fresh", ["consensus-2000-fresh"])


def test_a_single_finding_has_no_others(explained):
    chain = explained([("A", "Lead", "71.6", "mg/kg", "dry")], "A", "Lead", "--guidelines", "consensus-2000-fresh")
    assert "others" not in chain


PCBS = [("A", "Aroclor 1254", "800", "ug/kg", "dry"), ("A", "PCB-118", "3", "ug/kg", "dry")]


def test_of_a_sum_measured_in_two_ways_the_gravest_is_the_object(explained):
    chain = explained(PCBS, "A", "Total PCBs", "--guidelines", "consensus-2000-fresh")
    assert (chain["finding"], chain["total"], len(chain["others"])) == ("above", "pcb-aroclors", 1)


def test_a_total_is_found_by_its_id(explained):
    chain = explained(PCBS, "A", "pcb-aroclors", "--guidelines", "consensus-2000-fresh")
    assert (chain["substance"], chain["total"], "others" in chain) == ("Total PCBs", "pcb-aroclors", False)


def test_text_output_reads_as_arithmetic(screen_csv, siltmark):
    rows = [("A", "Lead", "42", "mg/kg", "wet"), ("A", "Percent solids", "60", "%", "")]
    out = screen_csv(rows)
    text = siltmark("explain", out.out, "A", "Lead").stdout
    assert "42 ÷ 0.6 = 70 mg/kg" in text
    assert "TEC: 35.8 mg/kg" in text


def test_an_unknown_substance_gets_a_suggestion(screen_csv, siltmark):
    out = screen_csv([("A", "Lead", "42", "mg/kg", "dry")])
    told = siltmark("explain", out.out, "A", "Led")
    assert (told.status, "Did you mean Lead?" in told.stderr) == (1, True)


def test_a_folder_that_is_no_run_is_refused(siltmark, tmp_path):
    told = siltmark("explain", tmp_path, "A", "Lead")
    assert told.status == 1
    assert "not a folder that siltmark wrote" in told.stderr


@pytest.mark.parametrize("text", ["", "{", "[]", "{}"])
def test_a_damaged_record_is_refused_in_words(screen_csv, siltmark, text):
    out = screen_csv([("A", "Lead", "42", "mg/kg", "dry")])
    (out.out / "run.json").write_text(text, encoding="utf-8")
    told = siltmark("explain", out.out, "A", "Lead")
    assert (told.status, "cannot be read as the record of a run" in told.stderr) == (1, True)
