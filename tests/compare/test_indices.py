"""Indices: who gets them, their bounds, and classes without gaps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import batch_of

from screen.reference.locate import read_table
from screen.settings import Settings, SettingsError
from screen.stages.compare.indices.index_rows import class_of
from screen.stages.compare.indices.indices import indices
from screen.stages.normalise import normalise
from screen.stages.sums import total

METALS = ("Arsenic", "Cadmium", "Chromium", "Copper", "Lead", "Nickel", "Zinc")
CLASSES = read_table("coefficients/index_classes.csv")


def made(rows: list[tuple[Any, ...]], samples: dict[str, dict[str, Any]] | None = None, **chosen: Any) -> pd.DataFrame:
    batch = normalise(batch_of(rows, samples=samples))
    return indices(batch, total(batch.results), [], Settings(**chosen))


def class_name(index: str, value: float) -> str:
    place, classes = class_of(index, np.array([value]))
    return str(classes["class"].iloc[place[0]]) if place[0] >= 0 else ""


@pytest.mark.parametrize("index", sorted(set(CLASSES["index"])))
@given(st.floats(-20, 1e6))
def test_classes_leave_no_gap(index: str, value: float) -> None:
    assert class_name(index, value)


LIMITS = CLASSES[CLASSES["up_to"] != ""]


@pytest.mark.parametrize("row", LIMITS.index)
@pytest.mark.parametrize("slip", [-1e-12, 0.0, 1e-12])
def test_a_value_on_a_limit_has_the_class_that_the_data_say(row: int, slip: float) -> None:
    """On the limit itself there is a class too, whatever the last digits of the arithmetic do."""
    limit = LIMITS.loc[row]
    own = CLASSES[CLASSES["index"] == limit["index"]]
    place = list(own.index).index(row) + (limit["limit_belongs_to"] == "lower")
    assert class_name(limit["index"], float(limit["up_to"]) + slip) == own["class"].iloc[place]


@pytest.mark.parametrize("index", sorted(set(CLASSES["index"])))
def test_each_class_begins_where_the_one_before_ends(index: str) -> None:
    own = CLASSES[CLASSES["index"] == index]
    assert list(own["above"])[1:] == list(own["up_to"])[:-1]
    assert (own["above"].iloc[0], own["up_to"].iloc[-1]) == ("", "")


@pytest.mark.parametrize(
    ("index", "value", "start"),
    [
        ("sem-minus-avs", 0, "0 or less"),
        ("sem-minus-avs", 1.7, "1.7 to 120"),
        ("sem-minus-avs-oc", 130, "130 to 3000"),
        ("ratio-fla-pyr", 0.4, "petroleum combustion"),
        ("ratio-fla-pyr", 0.5, "petroleum combustion"),
        ("ratio-baa-chr", 0.35, "petroleum or combustion"),
        ("enrichment", 40, "very high"),
        ("contamination", 6, "very high"),
        ("igeo", 0, "class 0"),
    ],
)
def test_limits_as_printed(index: str, value: float, start: str) -> None:
    """<0.40, 0.40-0.50, >0.50 (Yunker et al. 2002); 20 to 40, >40 (Sutherland 2000); >= 6 (Hakanson 1980)."""
    assert class_name(index, value).startswith(start)


@pytest.mark.parametrize(
    ("value", "start"), [(0.0999, "below 0.1"), (0.1, "0.1 to"), (0.105, "0.1 to"), (1.0, "1 and")]
)
def test_a_limit_belongs_to_one_class(value: float, start: str) -> None:
    assert class_name("mean-pec-quotient", value).startswith(start)


def test_a_limit_of_the_erm_classes_belongs_to_the_class_below() -> None:
    assert class_name("mean-erm-quotient", 0.1).startswith("up to 0.1")


@pytest.mark.parametrize(
    ("water", "means"), [("fresh", {"mean-pec-quotient"}), ("marine", {"mean-erm-quotient", "mean-pel-quotient"})]
)
def test_mean_quotients_go_by_water(water: str, means: set[str]) -> None:
    table = made([("S", metal, "5") for metal in METALS], {"S": {"water": water}})
    assert {one for one in table["index"] if one.startswith("mean-")} == means


def test_a_mean_quotient_says_what_it_lacks() -> None:
    row = made([("S", metal, "5") for metal in METALS], water="fresh").set_index("index").loc["mean-pec-quotient"]
    assert "without PAHs, PCBs" in row["note"]
    assert pd.isna(row["class"])


def test_a_nondetect_counts_half_and_spans_its_limit() -> None:
    """By hand: three metals at their PEC and arsenic <33 of 33: (0.5 + 3)/4 between 3/4 and 1."""
    rows = [("S", "Arsenic", "<33"), ("S", "Copper", "149"), ("S", "Lead", "128"), ("S", "Zinc", "459")]
    row = made(rows, water="fresh").set_index("index").loc["mean-pec-quotient"]
    assert (row["low"], row["value"], row["high"]) == (0.75, 0.875, 1)


def test_a_limit_above_the_level_is_left_out() -> None:
    rows = [("S", "Arsenic", "<34"), ("S", "Copper", "149"), ("S", "Lead", "128"), ("S", "Zinc", "459")]
    assert made(rows, water="fresh").set_index("index").loc["mean-pec-quotient", "value"] == 1


def test_background_of_the_users_reference_stations() -> None:
    rows = [("R", "Lead", "10"), ("S", "Lead", "30")]
    table = made(rows, {"R": {"role": "reference"}, "S": {}}).set_index("index")
    assert table.loc["contamination", "value"] == 3
    assert "reference stations" in table.loc["contamination", "set_or_source"]


def test_the_background_takes_a_nondetect_at_half_its_limit_and_a_pair_as_one() -> None:
    """By hand: lead 10 and below 4 at two reference samples, mean 6; with a duplicate of 14 for the 10, mean 7."""
    rows = [("R", "Lead", "10"), ("T", "Lead", "<4"), ("S", "Lead", "42")]
    about = {"R": {"role": "reference"}, "T": {"role": "reference"}, "S": {}}
    assert made(rows, about).set_index("index").loc["contamination", "value"] == pytest.approx(42 / 6)
    pair = {**about, "D": {"role": "reference", "parent": "R"}}
    assert made([*rows, ("D", "Lead", "14")], pair).set_index("index").loc["contamination", "value"] == 42 / 7


def test_a_metal_that_no_reference_sample_detected_has_no_background() -> None:
    about = {"R": {"role": "reference"}, "S": {}}
    assert "contamination" not in made([("R", "Lead", "<4"), ("S", "Lead", "42")], about)["index"].tolist()


@pytest.mark.parametrize(
    ("background", "factor", "named"),
    [
        ("upper-crust-2003", 34 / 17, "Rudnick"),
        ("preindustrial-1980", 34 / 70, "Hakanson"),
        (None, 34 / 20, "Turekian"),
    ],
)
def test_a_published_background_may_be_chosen(background: str | None, factor: float, named: str) -> None:
    """Lead in mg/kg: upper crust 17 (Rudnick and Gao 2003), Hakanson 1980 70, average shale 20 (Turekian 1961)."""
    row = made([("S", "Lead", "34")], background=background).set_index("index").loc["contamination"]
    assert row["value"] == pytest.approx(factor)
    assert named in row["set_or_source"]


def test_a_chosen_background_goes_before_reference_stations_and_holds_for_them() -> None:
    rows = [("R", "Lead", "10"), ("S", "Lead", "34")]
    table = made(rows, {"R": {"role": "reference"}, "S": {}}, background="upper-crust-2003")
    assert list(table[table["index"] == "contamination"]["value"]) == pytest.approx([10 / 17, 2])


@pytest.mark.parametrize(("background", "said"), [("upper-crust", "upper-crust-2003"), ("reference", "role reference")])
def test_a_background_that_is_not_there_is_said(background: str, said: str) -> None:
    with pytest.raises(SettingsError, match=said):
        made([("S", "Lead", "34")], background=background)


def test_no_logistic_index_is_made() -> None:
    assert not made([("S", metal, "5") for metal in METALS])["index"].str.startswith("logistic").any()


@settings(max_examples=20, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(METALS), st.sampled_from(("{}", "<{}")), st.integers(1, 400)),
        min_size=3,
        max_size=7,
        unique_by=lambda row: row[0],
    )
)
def test_low_value_high(rows: list[tuple[str, str, int]]) -> None:
    table = made([("S", metal, kind.format(figure)) for metal, kind, figure in rows])
    slack = 1e-12 * table["value"].abs()
    assert not (table["low"] > table["value"] + slack).any()
    assert not (table["value"] > table["high"] + slack).any()
