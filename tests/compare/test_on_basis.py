"""Levels of a set as arrays, and the basis each row is compared on: factors, units, reasons and notes by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from made import set_of

from screen.reference.rules import sum_rules
from screen.stages.compare.findings.levels import Carbon, Levels, OnBasis, kinds_of, levels_of, on_basis

UNKNOWN = np.nan


def levels_with(*rows: tuple[str, dict[str, float]], **more: Any) -> Levels:
    return levels_of(set_of(rows, **more), sum_rules())


def test_figures_come_in_the_unit_of_the_substance() -> None:
    found = levels_with(("Lead", {"L": 5000, "U": 9000}), ("Pyrene", {"L": 7}), unit="ug/kg")
    assert list(found.substances) == ["Lead", "Pyrene"]
    assert (list(found.unit), list(found.group)) == (["mg/kg", "ug/kg"], ["metal", "pah"])
    assert found.figure[0].tolist() == [5.0, 9.0]
    assert found.figure[1, 0] == 7.0
    assert np.isnan(found.figure[1, 1])
    assert (found.names, found.lower, found.upper, found.sums) == (("L", "U"), 0, 1, {})


def test_a_level_that_is_missing_has_neither_basis_nor_evidence() -> None:
    found = levels_with(("Pyrene", {"U": 7}), unit="ug/kg", evidence="seen")
    assert (found.basis.tolist(), found.evidence.tolist()) == ([[-1, 0]], [[-1, 0]])


def test_an_empty_figure_is_no_level_and_the_others_stand() -> None:
    found = levels_with(("Lead", {"L": np.nan, "U": 7}))
    assert np.isnan(found.figure[0, 0])
    assert (found.figure[0, 1], found.basis.tolist()) == (7.0, [[-1, 0]])


def test_a_level_in_a_unit_that_cannot_be_converted_is_left_out() -> None:
    found = levels_of(set_of([("Lead", {"L": 1, "U": 2}), ("Zinc", {"L": 3})], unit="umol/g"), sum_rules())
    assert np.isnan(found.figure).all()
    assert (found.basis == -1).all()


def test_per_carbon_is_in_mg_whatever_the_unit_of_the_substance() -> None:
    found = levels_with(("Pyrene", {"L": 5000, "U": 9000}), unit="ug/kg OC", basis="oc")
    assert found.figure.tolist() == [[5.0, 9.0]]
    assert (found.bases, found.basis.tolist()) == (("dry", "oc"), [[1, 1]])


def test_a_level_without_a_basis_of_its_own_has_that_of_the_set() -> None:
    chosen = set_of([("Pyrene", {"L": 5, "U": 9})], unit="ug/kg", basis="")
    assert levels_of(chosen, sum_rules()).bases == ("dry",)


@pytest.mark.parametrize(
    ("mark", "code"),
    [("seen", 0), ("own", 1), ("from_memory", 2), ("conflict", 3), ("conflict: two tables", 3), ("seen in part", 0),
     ("something else", 1)],
)  # fmt: skip
def test_the_mark_of_evidence(mark: str, code: int) -> None:
    assert levels_with(("Lead", {"L": 1, "U": 2}), evidence=mark).evidence.tolist() == [[code, code]]


def test_a_sum_has_unit_and_group_of_its_first_total() -> None:
    chosen = set_of([("Sum DDE", {"L": 10, "U": 100})], unit="mg/kg", sums={"Sum DDE": (("dde",), ("ddt-6", "ddt"))})
    found = levels_of(chosen, sum_rules())
    assert (found.unit[0], found.group[0], found.figure[0, 0]) == ("ug/kg", "pesticide", 10000.0)
    assert found.sums == {0: (("dde",), ("ddt-6", "ddt"))}
    assert kinds_of(chosen, "Lead") == ()


def test_a_set_of_one_level_has_no_lower_column() -> None:
    found = levels_with(("Lead", {"U": 2}), levels=("U",))
    assert (found.lower, found.upper) == (-1, 0)


def basis_of(
    *rows: tuple[str, dict[str, float]],
    carbon: float = UNKNOWN,
    aluminium: float = UNKNOWN,
    place: int = 0,
    **more: Any,
) -> tuple[OnBasis, Levels]:
    """The first row of it is a sample of which nothing is known, the second the one asked about."""
    chosen = set_of(rows, **more)
    levels = levels_of(chosen, sum_rules())
    about = Carbon(np.array([UNKNOWN, carbon]), np.array([UNKNOWN, aluminium]))
    return on_basis(levels, chosen, about, np.array([0, 1]), np.array([place, place])), levels


def why(found: OnBasis) -> list[str]:
    return ["" if code < 0 else found.reasons[code] for code in found.why]


def note(found: OnBasis) -> list[str]:
    return ["" if code < 0 else found.notes[code] for code in found.note]


def unit(found: OnBasis) -> list[str]:
    return [str(found.units[code]) for code in found.unit]


PYRENE = ("Pyrene", {"L": 4.0, "U": 6.0})
LEAD = ("Lead", {"L": 4.0, "U": 6.0})


def test_dry_weight_changes_nothing() -> None:
    found, levels = basis_of(LEAD, PYRENE, carbon=2.0, aluminium=3.0, place=1)
    assert found.scale.tolist() == [1.0, 1.0]
    assert found.levels.tolist() == [[4000.0, 6000.0]] * 2
    assert (why(found), note(found), unit(found)) == (["", ""], ["", ""], ["ug/kg", "ug/kg"])
    assert ([levels.bases[code] for code in found.basis], found.outside.tolist()) == (["dry"] * 2, [False] * 2)


def test_per_carbon_a_figure_in_ug_becomes_mg_per_kg_carbon() -> None:
    found, levels = basis_of(PYRENE, carbon=2.0, unit="mg/kg", basis="oc")
    assert found.scale[1] == pytest.approx(0.001 * 100 / 2)
    assert found.levels[1].tolist() == [4.0, 6.0]
    assert (why(found), unit(found)) == (["no organic carbon is known", ""], ["mg/kg OC", "mg/kg OC"])
    assert levels.bases[found.basis[1]] == "oc"


def test_to_so_many_per_cent_carbon() -> None:
    found, _ = basis_of(PYRENE, carbon=4.0, unit="ug/kg", basis="oc-2.5%")
    assert found.scale[1] == pytest.approx(2.5 / 4)
    assert (why(found), unit(found)) == (["no organic carbon is known", ""], ["ug/kg", "ug/kg"])


def test_to_so_many_per_cent_aluminium() -> None:
    found, _ = basis_of(LEAD, carbon=9.0, aluminium=2.5, basis="al-5%")
    assert found.scale[1] == pytest.approx(2.0)
    assert (why(found), unit(found)) == (["no aluminium is known", ""], ["mg/kg", "mg/kg"])


def test_a_substance_on_dry_weight_needs_no_carbon_in_a_set_that_has_it_for_others() -> None:
    rows = [(LEAD, "dry"), (PYRENE, "oc")]
    chosen = set_of([one for one, _ in rows], unit="mg/kg")
    chosen.rows["basis"] = [basis for (_, figures), basis in rows for _ in figures]
    levels = levels_of(chosen, sum_rules())
    about = Carbon(np.array([UNKNOWN]), np.array([UNKNOWN]))
    found = on_basis(levels, chosen, about, np.array([0, 0]), np.array([0, 1]))
    assert why(found) == ["", "no organic carbon is known"]
    assert (found.scale[0], unit(found)) == (1.0, ["mg/kg", "mg/kg OC"])


@pytest.mark.parametrize(
    ("carbon", "reason"),
    [(0.49, "organic carbon is outside 0.5 to 3.5 %"), (0.5, ""), (3.5, ""),
     (3.51, "organic carbon is outside 0.5 to 3.5 %")],
)  # fmt: skip
@pytest.mark.parametrize("outside", ["not-assessed", "another-set", None])
def test_carbon_outside_the_range(carbon: float, reason: str, outside: str | None) -> None:
    found, _ = basis_of(PYRENE, carbon=carbon, unit="mg/kg", basis="oc", toc_range=(0.5, 3.5), toc_outside=outside)
    assert why(found)[1] == reason
    assert found.outside.tolist() == [False, bool(reason) and outside == "another-set"]


@pytest.mark.parametrize(
    ("carbon", "taken", "words"),
    [
        (0.25, 0.5, "organic carbon of 0.25 % counted as 0.5 %, the nearer end of the range"),
        (7.0, 3.5, "organic carbon of 7 % counted as 3.5 %, the nearer end of the range"),
        (2.0, 2.0, ""),
    ],
)
def test_carbon_taken_as_the_nearer_end(carbon: float, taken: float, words: str) -> None:
    found, _ = basis_of(PYRENE, carbon=carbon, unit="mg/kg", basis="oc", toc_range=(0.5, 3.5), toc_outside="clamp")
    assert found.scale[1] == pytest.approx(0.1 / taken)
    assert (why(found)[1], note(found)[1], found.outside[1]) == ("", words, False)


def test_levels_on_two_bases_come_to_dry_weight_by_the_carbon() -> None:
    found, levels = basis_of(PYRENE, carbon=2.0, unit="mg/kg", basis={"L": "dry", "U": "oc"})
    assert found.levels[1].tolist() == [4000.0, pytest.approx(6.0 * 1000 * 2 / 100)]
    assert (found.scale[1], unit(found)[1], levels.bases[found.basis[1]]) == (1.0, "ug/kg", "dry")
    assert note(found) == ["", "U converted to dry weight by the organic carbon of the sample"]
    assert why(found) == ["no organic carbon is known", ""]


def test_levels_on_two_carbon_bases_are_both_named() -> None:
    found, _ = basis_of(PYRENE, carbon=5.0, unit="mg/kg", basis={"L": "oc-1%", "U": "oc"})
    assert found.levels[1].tolist() == [pytest.approx(4000.0 * 5), pytest.approx(6.0 * 1000 * 5 / 100)]
    assert note(found)[1] == "L and U converted to dry weight by the organic carbon of the sample"


def test_a_level_by_aluminium_beside_one_on_dry_weight() -> None:
    found, _ = basis_of(LEAD, aluminium=2.5, basis={"L": "dry", "U": "al-5%"})
    assert found.levels[1].tolist() == [4.0, pytest.approx(3.0)]
    assert note(found)[1] == "U converted to dry weight by the aluminium of the sample"
    assert why(found) == ["no aluminium is known", ""]


def test_a_level_converted_by_carbon_that_was_clamped_tells_both() -> None:
    found, _ = basis_of(
        PYRENE, carbon=7.0, unit="mg/kg", basis={"L": "dry", "U": "oc"}, toc_range=(0.5, 3.5), toc_outside="clamp"
    )
    assert found.levels[1, 1] == pytest.approx(6.0 * 1000 * 3.5 / 100)
    assert note(found)[1] == (
        "U converted to dry weight by the organic carbon of the sample; "
        "organic carbon of 7 % counted as 3.5 %, the nearer end of the range"
    )


def test_a_level_of_a_fine_fraction_is_not_for_whole_sediment() -> None:
    found, _ = basis_of(LEAD, carbon=2.0, basis="below-63um")
    assert why(found) == ["the level is for a fine fraction, the result for whole sediment"] * 2
