"""Metals minus sulfide, ratios of PAHs and metals against background, block by block with every figure by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import dry_rows

from screen.columns import texts_of
from screen.reference.rules import sum_rules
from screen.settings import SettingsError
from screen.stages.compare.findings.source import Source, source_of
from screen.stages.compare.indices.background import (
    COLUMNS,
    METALS,
    REFERENCE_COLUMNS,
    Background,
    against_background,
    background_of,
    reference_figures,
)
from screen.stages.compare.indices.index_rows import IndexRows
from screen.stages.compare.indices.mixtures import pah_ratios, sem_minus_avs
from screen.stages.sums import total

NO_TOTALS = total(dry_rows([]))
UNKNOWN = np.nan


def source(rows: list[tuple[Any, ...]], names: str = "ST", totals: pd.DataFrame | None = None) -> Source:
    results = dry_rows(rows)
    of_names = np.array(list(names), dtype=object)
    return source_of(results, NO_TOTALS if totals is None else totals, None, of_names, sum_rules())


def sem(**more: Any) -> dict[str, Any]:
    given = dict.fromkeys(("value", "low", "high", "limit"), UNKNOWN) | {
        "sample": "S", "total": "sem", "rule": "zero", "unit": "umol/g", "detected": True, "complete": True,
        "qualifier": None, "note": None, "measured": 5, "members": 5, "value": 8.0, "low": 8.0, "high": 9.0,
    }  # fmt: skip
    return given | more


def minus_avs(totals: list[dict[str, Any]], avs: list[tuple[Any, ...]], carbon: tuple[float, ...]) -> list[IndexRows]:
    table = pd.DataFrame(totals).astype(dict.fromkeys(("sample", "total", "rule", "qualifier", "note"), "category"))
    rows = [(sample, "Acid volatile sulfide", text) for sample, text in avs]
    return sem_minus_avs(source(rows, totals=table), np.array(carbon))


def test_metals_minus_sulfide_and_per_carbon() -> None:
    first, second = minus_avs(
        [sem(), sem(sample="T", value=1.0, low=1.0, high=1.0)], [("S", "3"), ("T", "3")], (2.0, 0.19)
    )
    assert (first.index, first.unit, first.substance) == ("sem-minus-avs", "umol/g", "")
    assert first.sample.tolist() == [0, 1]
    assert [one.tolist() for one in (first.value, first.low, first.high)] == [[5.0, -2.0], [5.0, -2.0], [6.0, -2.0]]
    assert (list(first.members), list(first.note)) == (["5 of 5"] * 2, [""] * 2)
    assert first.classify is not None
    assert first.classify.tolist() == [True, True]
    assert first.source == second.source == "U.S. EPA 2005, EPA-600-R-02-011"
    assert (second.index, second.unit, second.substance) == ("sem-minus-avs-oc", "umol/g OC", "")
    assert second.sample.tolist() == [0]
    assert [one.tolist() for one in (second.value, second.low, second.high)] == [[250.0], [250.0], [300.0]]
    assert (list(second.members), list(second.note), second.classify) == (["5 of 5"], [""], None)


def test_the_least_carbon_is_enough_and_none_gives_no_second_index() -> None:
    assert [one.index for one in minus_avs([sem()], [("S", "3")], (0.2, UNKNOWN))] == [
        "sem-minus-avs",
        "sem-minus-avs-oc",
    ]
    assert [one.index for one in minus_avs([sem()], [("S", "3")], (UNKNOWN, 2.0))] == ["sem-minus-avs"]


def test_without_all_metals_it_is_a_lower_estimate() -> None:
    (block,) = minus_avs([sem(complete=False, measured=3)], [("S", "3")], (UNKNOWN, UNKNOWN))
    assert (block.value[0], block.low[0], np.isnan(block.high[0])) == (5.0, 5.0, True)
    assert (list(block.members), list(block.note)) == (["3 of 5"], ["not all metals measured: a lower estimate"])


def test_metals_and_sulfide_not_detected_count_as_nought_and_in_full_in_the_bounds() -> None:
    (block,) = minus_avs([sem(value=UNKNOWN, low=0.0, high=2.0)], [("S", "<3")], (UNKNOWN, UNKNOWN))
    assert (block.value[0], block.low[0], block.high[0]) == (0.0, -3.0, 2.0)


@pytest.mark.parametrize(("avs", "little"), [("0.09", True), ("0.1", False), ("<0.09", True), ("<0.1", False)])
def test_very_little_sulfide_says_so(avs: str, little: bool) -> None:
    words = "AVS below 0.1 umol/g: at or below 0 says nothing"
    (block,) = minus_avs([sem(value=0.0, low=0.0, high=0.0)], [("S", avs)], (UNKNOWN, UNKNOWN))
    assert list(block.note) == [words if little else ""]
    assert block.classify is not None
    assert block.classify.tolist() == [not little]
    (block,) = minus_avs([sem(complete=False)], [("S", avs)], (UNKNOWN, UNKNOWN))
    assert list(block.note) == ["not all metals measured: a lower estimate" + (f"; {words}" if little else "")]
    assert block.classify is not None
    assert block.classify.tolist() == [True]


def test_without_metals_or_sulfide_there_is_nothing() -> None:
    assert minus_avs([sem(total="dde")], [("S", "3")], (2.0, 2.0)) == []
    assert minus_avs([sem()], [("T", "3")], (2.0, 2.0)) == []


def test_of_several_rules_the_first_row_of_a_sample_counts() -> None:
    (block,) = minus_avs([sem(), sem(value=99.0, rule="half")], [("S", "3")], (UNKNOWN, UNKNOWN))
    assert block.value.tolist() == [5.0]


def test_ratios_of_pahs_that_are_both_detected() -> None:
    rows = [("S", "Anthracene", "1"), ("S", "Phenanthrene", "3"), ("T", "Anthracene", "1"), ("T", "Phenanthrene", "<3")]
    blocks = {one.index: one for one in pah_ratios(source(rows))}
    (block,) = [one for one in blocks.values() if one.members == "Anthracene;Phenanthrene"]
    assert block.sample.tolist() == [0]
    assert [one.tolist() for one in (block.value, block.low, block.high)] == [[0.25]] * 3
    assert (block.substance, block.unit, block.note) == ("", "1", "ratios shift with weathering; read them together")
    assert block.index.startswith("ratio-")
    assert block.source
    assert len(blocks) == 1


def background(own: bool = False, **figures: float) -> Background:
    """Figures by metal, normalisers by name; all others are not known."""
    names = [*METALS, "Aluminum", "Lithium", "Iron", "fines"]
    return Background(np.array([figures.get(name, UNKNOWN) for name in names]), "label", "seen", own)


def blocks_of(
    rows: list[tuple[Any, ...]], known: Background, fines: tuple[float, float] = (UNKNOWN, UNKNOWN)
) -> dict[tuple[str, Any], IndexRows]:
    reference = np.array([False, True])
    found = against_background(source(rows), reference, np.array(fines), known)
    return {(one.index, one.substance): one for one in found}


def test_contamination_and_igeo_of_a_metal() -> None:
    """30 of 10 is 3 times; log2 of 3 / 1.5 is 1."""
    found = blocks_of([("S", "Lead", "30"), ("T", "Lead", "7.5"), ("S", "Zinc", "9")], background(Lead=10.0))
    assert set(found) == {("contamination", "Lead"), ("igeo", "Lead")}
    factor, igeo = found["contamination", "Lead"], found["igeo", "Lead"]
    assert factor.sample.tolist() == igeo.sample.tolist() == [0, 1]
    for one in (factor.value, factor.low, factor.high):
        assert one.tolist() == [3.0, 0.75]
    for one in (igeo.value, igeo.low, igeo.high):
        assert one.tolist() == [pytest.approx(1.0), pytest.approx(-1.0)]
    for block in (factor, igeo):
        assert (block.unit, block.source, block.members, block.note, block.evidence) == (
            "1",
            "label",
            "Lead",
            "",
            "seen",
        )


def test_an_estimated_maximum_has_no_lower_igeo() -> None:
    found = blocks_of([("S", "Lead", "max 30")], background(Lead=10.0))
    assert found["contamination", "Lead"].low.tolist() == [0.0]
    assert np.isnan(found["igeo", "Lead"].low).all()


def test_reference_stations_are_not_held_against_themselves() -> None:
    rows = [("S", "Lead", "30"), ("T", "Lead", "30")]
    assert blocks_of(rows, background(own=True, Lead=10.0))["contamination", "Lead"].sample.tolist() == [0]


def test_a_nondetect_gives_no_single_index() -> None:
    assert blocks_of([("S", "Lead", "<30")], background(Lead=10.0, Aluminum=1.0)) == {}


@pytest.mark.parametrize(
    ("more", "by", "name", "note"),
    [
        ({"Aluminum": "4", "Lithium": "30", "Iron": "9"}, 2.0, "Aluminum", "by aluminum; both from one digestion"),
        ({"Lithium": "30", "Iron": "9"}, 3.0, "Lithium", "by lithium; both from one digestion"),
        ({"Iron": "9"}, 0.5, "Iron", "by iron; both from one digestion"),
        ({}, 1.5, "fine fraction", "by the fine fraction"),
        ({"Aluminum": "0"}, 1.5, "fine fraction", "by the fine fraction"),
    ],
)
def test_enrichment_by_the_first_normaliser_that_a_sample_has(
    more: dict[str, str], by: float, name: str, note: str
) -> None:
    known = background(Lead=10.0, Aluminum=2.0, Lithium=10.0, Iron=18.0, fines=20.0)
    rows = [("S", "Lead", "30"), *(("S", element, text) for element, text in more.items())]
    block = blocks_of(rows, known, (30.0, UNKNOWN))["enrichment", "Lead"]
    assert block.sample.tolist() == [0]
    assert block.value[0] == pytest.approx(3.0 / by)
    assert (block.low[0], block.high[0]) == (block.value[0], block.value[0])
    assert (list(block.members), list(block.note)) == ([name], [note])


def test_without_a_normaliser_there_is_no_enrichment() -> None:
    assert ("enrichment", "Lead") not in blocks_of([("S", "Lead", "30")], background(Lead=10.0, Iron=1.0))


LOAD = {"Arsenic": 1.0, "Cadmium": 1.0, "Chromium": 1.0}


def test_the_load_is_the_geometric_mean_of_three_or_more() -> None:
    rows = [
        ("S", "Arsenic", "1"),
        ("S", "Cadmium", "8"),
        ("S", "Chromium", "27"),
        ("T", "Arsenic", "5"),
        ("S", "Lead", "5"),
    ]
    block = blocks_of(rows, background(**LOAD))["pollution-load", ""]
    assert block.sample.tolist() == [0]
    assert [one.tolist() for one in (block.value, block.low, block.high)] == [[pytest.approx(6.0)]] * 3
    assert (list(block.members), list(block.note)) == (["Arsenic;Cadmium;Chromium"], ["3 metals"])


def test_in_the_load_a_nondetect_counts_half_its_limit() -> None:
    rows = [("S", "Arsenic", "<2"), ("S", "Cadmium", "8"), ("S", "Chromium", "27"), ("S", "Copper", "ND")]
    block = blocks_of(rows, background(**LOAD, Copper=1.0))["pollution-load", ""]
    assert (block.value[0], block.low[0]) == (pytest.approx(6.0), 0.0)
    assert block.high[0] == pytest.approx(6.0 * 2 ** (1 / 3))
    assert (list(block.members), list(block.note)) == (
        ["Arsenic;Cadmium;Chromium"],
        ["3 metals, 1 of them not detected at half the limit"],
    )


def test_two_metals_are_no_load() -> None:
    assert ("pollution-load", "") not in blocks_of([("S", "Arsenic", "1"), ("S", "Cadmium", "8")], background(**LOAD))


def test_what_reference_samples_hold_a_pair_as_one() -> None:
    rows = [("S", "Lead", "4"), ("T", "Lead", "<4"), ("U", "Lead", "10"), ("V", "Lead", "99"), ("T", "Iron", "7")]
    reference, fines = np.array([True, True, True, False]), np.array([50.0, UNKNOWN, 20.0, 1.0])
    found = reference_figures(source(rows, "STUV"), reference, fines, texts_of(pd.Series([None, "S", None, None])))
    assert found.shape == (3, REFERENCE_COLUMNS)
    lead, iron = METALS.index("Lead"), len(METALS) + 2
    assert found[0, [lead, iron, COLUMNS - 1]].tolist() == [3.0, 7.0, 50.0]
    assert found[0, [COLUMNS + lead, COLUMNS + iron, REFERENCE_COLUMNS - 1]].tolist() == [0.5, 1.0, 1.0]
    assert found[2, [lead, COLUMNS - 1, COLUMNS + lead]].tolist() == [10.0, 20.0, 1.0]
    assert np.isnan(found[1]).all()
    assert np.isnan(found[2, [iron, COLUMNS + iron]]).all()


def test_the_mean_of_the_reference_samples_where_one_detected_it() -> None:
    own = np.full((2, REFERENCE_COLUMNS), UNKNOWN)
    own[:, :3] = [[4.0, 1.0, UNKNOWN], [8.0, 1.0, 0.0]]
    own[:, COLUMNS : COLUMNS + 3] = [[1.0, 0.0, UNKNOWN], [0.0, 0.0, 1.0]]
    for chosen in (None, "reference"):
        found = background_of(own, chosen)
        assert found.figures[0] == 6.0
        assert np.isnan(found.figures[1:]).all()
        assert len(found.figures) == COLUMNS
        assert (found.label, found.evidence, found.own) == ("mean of the reference stations", "own", True)


def test_without_reference_samples_a_published_one_is_named() -> None:
    found = background_of(np.empty((0, REFERENCE_COLUMNS)))
    assert (found.own, len(found.figures)) == (False, COLUMNS)
    assert np.isnan(found.figures[-1])
    assert (found.figures[METALS.index("Lead")] > 0, ": " in found.label) == (True, True)
    assert found.evidence in ("seen", "from_memory", "conflict")


def test_a_background_that_is_not_held_is_told() -> None:
    with pytest.raises(SettingsError, match=r'^background = "reference": the field record gives no station the role'):
        background_of(np.empty((0, REFERENCE_COLUMNS)), "reference")
    with pytest.raises(SettingsError, match=r"^background = 'nowhere': "):
        background_of(np.empty((0, REFERENCE_COLUMNS)), "nowhere")
