"""Sets listed, shown and compared."""

from __future__ import annotations

import math

import pytest

from screen.reference.overview import (
    COMPARISON,
    compare_sets,
    list_sets,
    render_comparison,
    render_list,
    render_set,
    show_set,
)
from screen.reference.sets import SetError, builtin_ids


def dry(substance: str, name: str, level: str) -> float:
    found = compare_sets(substance).set_index(["set", "level"])
    return float(found.loc[(name, level), "dry_value"])


def test_every_set_is_listed_with_its_evidence() -> None:
    sets = list_sets().set_index("id")
    assert sets.index.tolist() == list(builtin_ids())
    assert (sets["figures"] == sets[["seen", "from_memory", "conflict"]].sum(axis=1)).all()
    assert sets.loc["washington-marine", ["figures", "seen", "from_memory"]].tolist() == [141, 64, 77]
    assert sets.loc["long-1995-marine", "default_for"] == "estuarine;marine"


def test_show_has_what_it_promises() -> None:
    shown = show_set("consensus-2000-fresh")
    assert {"id", "title", "citation", "water", "levels", "lower", "upper", "caveats", "rows"} <= shown.keys()
    assert (shown["lower"], shown["upper"], shown["levels"]) == ("TEC", "PEC", ["TEC", "PEC"])
    assert set(shown["rows"][0]) == set("substance cas level value unit basis evidence source note".split())


def test_a_one_level_set_has_no_lower() -> None:
    assert show_set("france-2014-fresh")["lower"] is None


def test_one_substance_on_one_basis() -> None:
    assert dry("Benzo(a)pyrene", "consensus-2000-fresh", "TEC") == 150
    assert dry("Benzo(a)pyrene", "ontario-1993-fresh", "SEL") == pytest.approx(14400)  # NOAA 2008 p. 8, at 1 % carbon
    assert dry("Benzo(a)pyrene", "washington-marine", "SQS") == pytest.approx(990)
    assert dry("Benzo(a)pyrene", "ospar-sediment", "BAC") == pytest.approx(30 / 2.5)


def test_units_are_brought_to_one() -> None:
    assert dry("Total PCBs", "france-2014-fresh", "S1") == pytest.approx(680)  # printed as 0.680 mg/kg
    assert set(compare_sets("Total PCBs")["dry_unit"]) == {"ug/kg"}


def test_the_carbon_is_said() -> None:
    at = compare_sets("Chrysene", carbon_pct=2).set_index(["set", "level"])["at"]
    assert at["ontario-1993-fresh", "SEL"] == "2 % carbon"
    assert at["ontario-1993-fresh", "LEL"] == ""


def test_a_level_of_a_fine_fraction_has_no_dry_value() -> None:
    assert math.isnan(dry("Lead", "germany-2009-marine", "R1"))


def test_a_level_as_tin_is_shown_as_the_cation() -> None:
    # 290.06 g/mol of the cation to 118.71 of tin: times 2.44.
    assert dry("Tributyltin", "netherlands-2015-marine", "maximum") == pytest.approx(115 * 290.06 / 118.71, rel=1e-4)


@pytest.mark.parametrize("name", ["lead", "Pb", "7439-92-1 lead"])
def test_other_names(name: str) -> None:
    if name == "7439-92-1 lead":
        with pytest.raises(SetError):
            compare_sets(name)
    else:
        assert set(compare_sets(name)["substance"]) == {"Lead"}


def test_an_unknown_substance_names_the_nearest() -> None:
    with pytest.raises(SetError, match="'Lead'"):
        compare_sets("leed")


def test_columns() -> None:
    assert list(compare_sets("Zinc").columns) == COMPARISON


def test_a_set_reads_in_eighty_columns_apart_from_its_table() -> None:
    text = render_set(show_set("washington-marine"))
    prose = text[: text.index("substance  ")]
    assert max(len(line) for line in prose.splitlines()) <= 80
    assert "Most of its figures were not seen" in text


def test_the_list_reads_in_eighty_columns() -> None:
    text = render_list(list_sets())
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "default for water estuarine, marine" in text


def test_the_comparison_names_the_published_figure() -> None:
    assert "99 mg/kg oc" in render_comparison(compare_sets("Benzo(a)pyrene"))


def test_a_comparison_of_sums_says_which_sum_each_set_means() -> None:
    lines = render_comparison(compare_sets("Total PAHs")).splitlines()
    assert lines[-1].endswith("pah-17")
    assert any(line.startswith("anzg-2018") and line.endswith("pah-18") for line in lines)
    assert "sum" not in render_comparison(compare_sets("Zinc")).split("\n---")[0]
