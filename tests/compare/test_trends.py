"""The table of trends along the river, on small batches made by hand."""

import math

import pandas as pd
import pytest
from made import batch_of

from screen.model import TRENDS
from screen.settings import Settings
from screen.stages.compare.places.trends import along_the_river
from screen.stages.normalise import normalise
from screen.stages.sums import total


def table(texts, substance="Lead", samples=None, **more) -> pd.DataFrame:
    """One sample per station, a km apart from the mouth on; ``more`` are further columns of all samples."""
    rows = [(f"S-{at:02d}", substance, text) for at, text in enumerate(texts)]
    about = {name: {"river_km": float(at)} | more for at, (name, _, _) in enumerate(rows)}
    for name, columns in (samples or {}).items():
        about[name] = about.get(name, {}) | columns
    batch = normalise(batch_of(rows, samples=about), Settings())
    return along_the_river(batch, total(batch.results).iloc[:0], Settings())


def one(*args, **more) -> dict:
    found = table(*args, **more)
    assert len(found) == 1
    return found.astype(object).to_dict("records")[0]


RISING = [str(at) for at in range(1, 10)]


def test_the_columns_are_declared() -> None:
    assert table(RISING).columns.tolist() == TRENDS


@pytest.mark.parametrize(("texts", "words"), [(RISING, "higher upstream"), (RISING[::-1], "higher downstream")])
def test_figures_in_one_order_are_told(texts: list[str], words: str) -> None:
    row = one(texts)
    assert (row["outcome"], abs(row["tau"]), abs(row["rho"]), row["n"]) == (words, 1.0, 1.0, 9)


def test_figures_in_no_order_are_not() -> None:
    assert one(["5", "1", "7", "2", "6", "3", "8", "4"])["outcome"] == "no trend shown"


def test_below_eight_stations_no_claim_is_made() -> None:
    row = one(RISING[:7])
    assert (row["outcome"], row["note"]) == ("too few", "no test: fewer than 8 stations with a river km")
    assert math.isnan(row["p"])


def test_below_four_stations_with_a_detected_value_neither() -> None:
    assert "fewer than 4 stations with a detected value" in one(["<1", "<1", "<1", "<1", "<1", "2", "3", "4"])["note"]


def test_non_detects_of_many_limits_count_by_their_bounds() -> None:
    row = one(["<1", "<2", "<1", "3", "4", "5", "6", "<9"])
    assert (row["detects"], row["rho"] == row["rho"]) == (4, False)
    assert row["statistic"] == 4 * 3 + 6 - 0  # the four values above three limits; six pairs of the four; <9 tells none
    assert row["note"].startswith("pairs that non-detects leave open are tied")


def test_a_limit_that_is_not_known_tells_nothing() -> None:
    assert one([*RISING, "ND"])["n"] == 9


def test_several_results_of_one_station_count_once() -> None:
    row = one(RISING, samples={"S-08": {"station": "S-07", "river_km": 7.0}})
    assert row["n"] == 8


def test_reference_stations_are_no_part() -> None:
    assert one(RISING, samples={"S-00": {"role": "reference"}})["n"] == 8


def test_only_the_surface_counts() -> None:
    deep = {"S-08": {"station": "S-07", "river_km": 7.0, "depth_top_cm": 30.0, "depth_bottom_cm": 40.0}}
    assert one([*RISING[:8], "0.1"], samples=deep)["tau"] == 1.0


def test_without_a_river_km_there_is_no_row() -> None:
    assert table(RISING, river_km=math.nan).empty


def test_p_is_adjusted_for_all_substances() -> None:
    rows = [(f"S-{at}", name, str(1 + at)) for at in range(8) for name in ("Lead", "Zinc", "Copper")]
    about = {f"S-{at}": {"river_km": float(at)} for at in range(8)}
    batch = normalise(batch_of(rows, samples=about), Settings())
    found = along_the_river(batch, total(batch.results).iloc[:0], Settings())
    assert (found["p_holm"] / found["p"]).round(9).tolist() == [3.0, 3.0, 3.0]
