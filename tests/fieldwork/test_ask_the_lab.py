"""What the laboratory is asked for: limits against published levels, holding times by analysis."""

import pytest

from screen.fieldwork.ask_the_lab import Ask, ask_the_lab, sets_for
from screen.fieldwork.shipment import Packed
from screen.reference.holding_times import analyses, analyses_asked, analysis_of
from screen.reference.sets import load_set


def packed(asked: str, water: str = "fresh") -> Packed:
    return Packed("K-1", "K-1", "", "", "", "", (), "", "", water, tuple(analyses_asked(asked)))


def asked(text: str, *sets: str) -> Ask:
    return ask_the_lab([packed(text)], [load_set(one) for one in sets])


def most(ask: Ask, substance: str, total: str = "") -> float:
    return next(one.most for one in ask.limits if (one.substance, one.total) == (substance, total))


def test_a_limit_is_the_lower_level() -> None:
    """MacDonald, Ingersoll and Berger 2000: TEC of cadmium 0.99 mg/kg."""
    assert most(asked("metals", "consensus-2000-fresh"), "Cadmium") == 0.99


def test_of_several_sets_the_lowest_counts() -> None:
    """Lead: TEC 35.8 (MacDonald and others 2000), ERL 46.7 mg/kg (Long and others 1995)."""
    assert most(asked("metals", "long-1995-marine", "consensus-2000-fresh"), "Lead") == 35.8


def test_the_limit_of_a_member_leaves_the_sum_at_the_level() -> None:
    """Total PCBs: ERL 22.7 ug/kg (Long and others 1995); twice the sum of 18 congeners."""
    limit = most(asked("PCB congeners", "long-1995-marine"), "Total PCBs", "pcb-nst18x2")
    assert 2 * 18 * limit == pytest.approx(22.7, rel=1e-12)


def test_a_level_per_carbon_is_brought_to_dry_weight_at_one_per_cent() -> None:
    """WAC 173-204-320: naphthalene 99 mg/kg OC, so 990 ug/kg dry at 1 % carbon."""
    ask = asked("PAHs", "washington-marine")
    one = next(limit for limit in ask.limits if limit.substance == "Naphthalene")
    assert one.most == pytest.approx(990.0, rel=1e-12)
    assert "carbon" in one.at


def test_only_what_is_asked_for_is_listed_and_the_rest_is_named() -> None:
    ask = asked("metals", "consensus-2000-fresh")
    assert {one.analysis for one in ask.limits} == {"Metals"}
    assert "PCBs" in ask.not_asked


def test_without_any_analyses_all_levels_are_listed() -> None:
    assert {"Metals", "PCBs", "Mercury"} <= {one.analysis for one in asked("", "consensus-2000-fresh").limits}


def test_what_no_sample_asks_for_beside_the_contaminants_is_said() -> None:
    said = asked("metals; grain size", "consensus-2000-fresh").supporting
    assert [("No sample" in text) for text in said] == [True, True, False]


def test_congeners_or_aroclors_is_asked_only_where_pcbs_are() -> None:
    assert asked("metals", "consensus-2000-fresh").pcbs == ()
    assert "congeners or Aroclors" in asked("PCBs", "consensus-2000-fresh").pcbs[0]


def test_the_sets_follow_the_water_of_the_stations() -> None:
    assert [one.id for one in sets_for([packed("", "marine")], ())] == ["long-1995-marine"]


def test_analyses_of_substances() -> None:
    names = ["Mercury", "Zinc", "PCB-129/138/163", "Chrysene", "Total organic carbon", "pH"]
    found = [one.name if one else None for one in analysis_of(names)]
    assert found == ["Mercury", "Metals", "PCBs", "PAHs and other semivolatiles", "Organic carbon", None]


def test_every_holding_time_has_its_evidence() -> None:
    assert all(one.evidence in ("seen", "from_memory", "conflict") for one in analyses())
    assert all(one.source for one in analyses() if one.days)


def test_no_word_means_two_analyses() -> None:
    words = [word for one in analyses() for word in one.words]
    assert len(words) == len(set(words))


def test_substances_of_the_table_are_canonical() -> None:
    from screen.reference.substances import table

    assert {name for one in analyses() for name in one.substances} <= set(table().index)
