"""Water content on two bases: ERDC technical note DOER-D2, September 2004, Fig. 15; numbers constructed from it."""

from __future__ import annotations

import pytest
from made import batch_of

from screen.settings import Settings
from screen.stages.normalise import normalise


def dry(water: tuple[str, str]) -> float:
    rows = [("S", "Anthracene", "100", "wet"), ("S", *water, None)]
    return float(normalise(batch_of(rows), Settings(water_content="use")).results["value"].iloc[0])


def test_150_per_cent_of_dry_mass_is_40_per_cent_solids() -> None:
    rows = [("S", "Water content (dry basis)", "150", None)]
    assert normalise(batch_of(rows), Settings(water_content="use")).samples["solids_pct"].tolist() == [40]


def test_40_per_cent_on_the_wet_base() -> None:
    assert dry(("Percent moisture", "40")) == pytest.approx(166.67, abs=0.005)


def test_40_per_cent_on_the_dry_base() -> None:
    assert dry(("Water content (dry basis)", "40")) == pytest.approx(140.0)
