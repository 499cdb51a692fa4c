"""What a figure is does not hang on the unit and basis that a sheet writes it in."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import batch_of, one_finding, set_of

from screen.reference.units import convert, factor
from screen.stages.normalise import normalise

MASSES = ("g/g", "%", "g/kg", "mg/kg", "ug/kg", "ng/kg", "pg/kg")
FIGURE = st.floats(1e-3, 1e6)
PER_CENT = st.floats(0.01, 50)


def value_of(rows: list[tuple[Any, ...]], substance: str) -> dict[str, Any]:
    results = normalise(batch_of(rows)).results
    return results[results["substance"] == substance].iloc[0].to_dict()


@given(st.sampled_from(MASSES), st.sampled_from(MASSES), FIGURE)
def test_units_there_and_back(first: str, second: str, value: float) -> None:
    assert convert(convert(value, first, second), second, first) == pytest.approx(value, rel=1e-15, abs=0)
    there, back = factor(first, second), factor(second, first)
    assert there is not None
    assert back is not None
    assert there * back == pytest.approx(1, rel=1e-15)


@settings(max_examples=12)
@given(st.sampled_from(("mg/kg", "ug/kg", "ng/kg", "%")), FIGURE, st.floats(5, 100))
def test_any_unit_and_basis_give_one_figure(unit: str, value: float, solids: float) -> None:
    """Pyrene in ug/kg dry, written in another unit on wet weight, comes back."""
    wet = convert(value, "ug/kg", unit) * solids / 100
    rows = [("S", "Pyrene", repr(wet), "wet", unit), ("S", "Percent solids", repr(solids), None)]
    assert value_of(rows, "Pyrene")["value"] == pytest.approx(value, rel=1e-12)


@settings(max_examples=12)
@given(FIGURE, PER_CENT)
def test_per_carbon_and_back(value: float, carbon: float) -> None:
    """A figure's oc_value, written as a result per carbon, gives the figure again."""
    toc = ("S", "Total organic carbon", repr(carbon))
    there = value_of([("S", "Pyrene", repr(value)), toc], "Pyrene")["oc_value"]
    assert there == pytest.approx(value / 1000 / (carbon / 100), rel=1e-12)
    back = value_of([("S", "Pyrene", repr(there), "oc", "mg/kg OC"), toc], "Pyrene")
    assert back["value"] == pytest.approx(value, rel=1e-12)
    assert back["oc_value"] == pytest.approx(there, rel=1e-12)


@settings(max_examples=12)
@given(FIGURE, PER_CENT, st.sampled_from((1.0, 2.5)))
def test_a_quotient_is_the_same_on_every_carbon_basis(value: float, carbon: float, stated: float) -> None:
    """A level per carbon and the same level at so much carbon give one quotient and one finding."""
    rows = [("S", "Pyrene", repr(value)), ("S", "Total organic carbon", repr(carbon))]
    per_carbon = one_finding(rows, set_of([("Pyrene", {"L": 10, "U": 100})], unit="mg/kg", basis="oc"))
    at = {"L": 10 * stated / 100, "U": 100 * stated / 100}
    at_carbon = one_finding(rows, set_of([("Pyrene", at)], unit="mg/kg", basis=f"oc-{stated:g}%"))
    assert at_carbon["upper_quotient"] == pytest.approx(per_carbon["upper_quotient"], rel=1e-12)
    assert at_carbon["finding"] == per_carbon["finding"]


@settings(max_examples=12)
@given(FIGURE, PER_CENT)
def test_levels_on_two_bases_give_the_finding_of_each(value: float, carbon: float) -> None:
    """Compared on dry weight, a level per carbon is exceeded just when the figure per carbon exceeds it."""
    rows = [("S", "Pyrene", repr(value)), ("S", "Total organic carbon", repr(carbon))]
    both = one_finding(rows, set_of([("Pyrene", {"L": 1e-9, "U": 10})], basis={"L": "dry", "U": "oc"}))
    alone = one_finding(rows, set_of([("Pyrene", {"U": 10})], levels=("U",), basis="oc"))
    assert (both["finding"] == "above") == (alone["finding"] == "above")
    assert both["upper_quotient"] == pytest.approx(alone["upper_quotient"], rel=1e-12)
