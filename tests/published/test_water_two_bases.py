"""Water on two bases: ERDC TN DOER-D2, September 2004, Fig. 15: wet-weight % = 100 w/(100 + w). Numbers constructed."""

import pytest
from made import batch_of

from screen.settings import Settings
from screen.stages.normalise import normalise


def dry(figure: str, substance: str, water: str) -> float:
    rows = [("S-1", "PCB-118", figure, "wet"), ("S-1", substance, water, None)]
    results = normalise(batch_of(rows), Settings(water_content="use")).results
    return float(results.loc[results["substance"] == "PCB-118", "value"].iloc[0])


def test_moisture_is_over_the_wet_mass() -> None:
    """100 ug/kg wet at 40 % moisture: 166.67 ug/kg dry."""
    assert dry("100", "Percent moisture", "40") == pytest.approx(100 / 0.6, rel=1e-12)


def test_water_content_is_over_the_dry_solids() -> None:
    """100 ug/kg wet at 40 % of the dry mass: solids 71.43 %, 140.00 ug/kg dry."""
    assert dry("100", "Water content (dry basis)", "40") == pytest.approx(140, rel=1e-12)


def test_a_water_content_of_150_per_cent_is_40_per_cent_solids() -> None:
    assert dry("40", "Water content (dry basis)", "150") == pytest.approx(100, rel=1e-12)
