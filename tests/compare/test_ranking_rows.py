"""Whole rows of the ranking from findings made by hand: what is counted, which quotient stands, and in what order."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from screen.stages.compare.places.ranking import rank_stations

UNKNOWN = np.nan
STATIONS = pd.DataFrame(
    {"station": ["N", "M", "K"], "role": ["site", "reference", ""], "river_km": [3.0, 2.0, UNKNOWN]}
)


def finding(**more: Any) -> dict[str, Any]:
    return {
        "sample": "S1", "station": "N", "set": "first", "substance": "Lead", "total": None, "finding": "below",
        "settled": True, "high": 5.0, "upper_level": 100.0, "upper_name": "U", "lower_name": "L", "evidence": "seen",
        "upper_quotient": 0.05, "lower_quotient": 0.5, "depth_top_cm": 0.0, "depth_bottom_cm": 10.0,
    } | more  # fmt: skip


def total(**more: Any) -> dict[str, Any]:
    return {"sample": "S1", "total": "dde", "complete": False} | more


def ranked(
    findings: list[dict[str, Any]], totals: list[dict[str, Any]] | None = None, sets: tuple[str, ...] = ("first",)
) -> list[dict[str, Any]]:
    """Rows without what is empty or nought."""
    table = pd.DataFrame(findings)
    table["settled"] = pd.array(table["settled"], dtype="boolean")
    about = pd.DataFrame(totals or [], columns=["sample", "total", "complete"])
    found = rank_stations(table, about, STATIONS, sets)
    rows = found.astype(object).where(found.notna(), None).to_dict("records")
    return [{str(name): one for name, one in row.items() if one is not None and one != 0} for row in rows]


def counts(*findings: dict[str, Any], totals: list[dict[str, Any]] | None = None) -> dict[str, int]:
    (row,) = ranked(list(findings), totals)
    names = ("above", "between", "undetermined", "not_assessed", "below", "above_low", "above_high", "unsettled")
    return {name: row[name] for name in ("samples", "compared", *names) if name in row}


def test_every_column() -> None:
    assert ranked([finding()]) == [
        {"set": "first", "rank": 1, "station": "N", "role": "site", "river_km": 3.0, "samples": 1, "compared": 1,
         "below": 1, "highest_quotient": 0.05, "highest_level": "U", "highest_substance": "Lead",
         "highest_sample": "S1", "highest_bottom_cm": 10.0, "evidence": "seen"}
    ]  # fmt: skip


def test_over_the_lower_level_where_there_is_no_quotient_over_the_upper_one() -> None:
    (row,) = ranked([finding(upper_quotient=UNKNOWN, lower_quotient=9.0), finding(substance="Zinc", sample="S2")])
    assert (row["highest_quotient"], row["highest_level"], row["highest_substance"]) == (0.05, "U", "Zinc")
    (row,) = ranked([finding(upper_quotient=UNKNOWN, lower_quotient=9.0, total="dde")])
    assert (row["highest_quotient"], row["highest_level"], row["highest_total"]) == (9.0, "L", "dde")


def test_of_equal_quotients_the_first() -> None:
    (row,) = ranked([finding(substance="Zinc", depth_top_cm=20.0), finding()])
    assert (row["highest_substance"], row["highest_top_cm"]) == ("Zinc", 20.0)
    (row,) = ranked([finding(substance="Zinc"), finding(upper_quotient=0.06)])
    assert row["highest_substance"] == "Lead"


def test_without_any_value_it_says_so_and_tells_no_highest() -> None:
    (row,) = ranked([finding(upper_quotient=UNKNOWN, lower_quotient=UNKNOWN, finding="not-assessed", settled=None)])
    assert row["note"] == "no value to compare with a level"
    assert not [name for name in row if name.startswith("highest")]
    assert "evidence" not in row


@pytest.mark.parametrize(
    ("graver", "milder"),
    [("above", "between"), ("between", "undetermined"), ("undetermined", "not-assessed"), ("not-assessed", "below")],
)
def test_the_gravest_finding_stands_for_a_substance(graver: str, milder: str) -> None:
    settled = {"undetermined": False, "not-assessed": None}
    rows = [finding(finding=one, settled=settled.get(one, True), sample=f"S-{one}") for one in (milder, graver, milder)]
    found = counts(*rows)
    assert (found["samples"], found["compared"]) == (2, 1)
    assert found[graver.replace("-", "_")] == 1
    assert milder.replace("-", "_") not in found


def test_samples_and_substances_are_counted_once() -> None:
    rows = [finding(), finding(sample="S2"), finding(substance="Zinc"), finding(substance="Zinc", sample="S3")]
    assert counts(*rows) == {"samples": 3, "compared": 2, "below": 2}


@pytest.mark.parametrize(
    ("more", "found"),
    [
        ({"finding": "above"}, {"above": 1, "above_low": 1, "above_high": 1}),
        ({"finding": "above", "settled": False}, {"above": 1, "above_high": 1, "unsettled": 1}),
        ({"finding": "between", "settled": False, "high": 100.0}, {"between": 1, "unsettled": 1}),
        ({"finding": "between", "settled": False, "high": 100.1}, {"between": 1, "above_high": 1, "unsettled": 1}),
        ({"finding": "between", "settled": False, "high": 100.00000005}, {"between": 1, "unsettled": 1}),
        ({"finding": "undetermined", "settled": False, "high": UNKNOWN}, {"undetermined": 1, "above_high": 1}),
        ({"finding": "undetermined", "settled": False, "high": 50.0}, {"undetermined": 1}),
        ({"finding": "undetermined", "settled": False, "high": UNKNOWN, "upper_level": UNKNOWN}, {"undetermined": 1}),
        ({"finding": "not-assessed", "settled": None, "high": UNKNOWN}, {"not_assessed": 1, "above_high": 1}),
        ({"finding": "below", "settled": True, "high": 500.0}, {"below": 1}),
    ],
)
def test_what_may_be_above(more: dict[str, Any], found: dict[str, int]) -> None:
    assert counts(finding(**more)) == {"samples": 1, "compared": 1, **found}


@pytest.mark.parametrize(
    ("of", "open_"),
    [({}, True), ({"complete": True}, False), ({"total": "ddt"}, False), ({"sample": "S2"}, False)],
)
def test_a_sum_that_lacks_members_may_be_above(of: dict[str, Any], open_: bool) -> None:
    row = finding(total="dde", finding="between", settled=False)
    other = finding(sample="S2", total="ddt", substance="Zinc")
    found = counts(row, other, totals=[total(**of)])
    assert ("above_high" in found) == open_


def test_the_order_by_set_number_above_and_quotient_and_equal_ones_share_a_rank() -> None:
    above = {"finding": "above", "upper_quotient": 2.0}
    rows = [
        finding(set="other", station="K"),
        finding(station="K", **above),
        finding(station="M", **above),
        finding(station="N", **above),
        finding(station="N", substance="Zinc", finding="above", upper_quotient=1.5),
        finding(set="other", station="N", upper_quotient=0.9),
        finding(set="another", station="N"),
    ]
    found = ranked(rows, sets=("first", "not met", "other"))
    assert [(row["set"], row["rank"], row["station"]) for row in found] == [
        ("first", 1, "N"), ("first", 2, "M"), ("first", 2, "K"), ("other", 1, "N"), ("other", 2, "K"),
        ("another", 1, "N"),
    ]  # fmt: skip
    assert [(row.get("role"), row.get("river_km")) for row in found][:3] == [
        ("site", 3.0),
        ("reference", 2.0),
        (None, None),
    ]


def test_the_rank_after_two_equal_ones_counts_both() -> None:
    rows = [finding(station=one, upper_quotient=0.5 if one == "K" else 0.9) for one in "NMK"]
    assert [row["rank"] for row in ranked(rows)] == [1, 1, 3]
