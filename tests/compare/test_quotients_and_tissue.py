"""Mean quotients and the potential in tissue, block by block with every figure by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from made import dry_rows

from screen.reference.rules import sum_rules
from screen.stages.compare.findings.source import Source, source_of
from screen.stages.compare.indices.index_rows import IndexRows
from screen.stages.compare.indices.mean_quotients import mean_quotients
from screen.stages.compare.indices.tissue import tissue_potential
from screen.stages.sums import total

UNKNOWN = np.nan
#: Probable effect concentrations of MacDonald, Ingersoll and Berger 2000, table 3: arsenic 33, cadmium 4.98, chromium
#: 111, lead 128 mg/kg; total PCBs in ug/kg:
PCBS = 676.0


def source(rows: list[tuple[Any, ...]], keep: tuple[str, ...] = ()) -> Source:
    """Of samples S and T, with those totals alone."""
    results = dry_rows(rows)
    totals = total(results)
    totals = totals[totals["total"].isin(keep)]
    return source_of(results, totals, None, np.array(["S", "T"], dtype=object), sum_rules())


def pec(
    rows: list[tuple[Any, ...]], keep: tuple[str, ...] = (), on: tuple[bool, bool] = (True, True)
) -> IndexRows | None:
    found = mean_quotients(source(rows, keep), {"mean-pec-quotient": np.array(on)})
    return found[0] if found else None


METALS = [("S", "Arsenic", "33"), ("S", "Cadmium", "9.96"), ("S", "Chromium", "333")]


def test_every_figure_of_a_mean_of_metals() -> None:
    """Once, twice and three times the level: 2 on average."""
    block = pec([*METALS, ("T", "Arsenic", "33")])
    assert block is not None
    assert (block.index, block.unit, block.substance, block.source) == (
        "mean-pec-quotient", "1", "", "consensus-2000-fresh, PEC",
    )  # fmt: skip
    assert block.sample.tolist() == [0]
    for one in (block.value, block.low, block.high):
        assert one.tolist() == [pytest.approx(2.0)]
    assert list(block.members) == ["Arsenic;Cadmium;Chromium"]
    assert block.classify is not None
    assert block.classify.tolist() == [False]
    (note,) = block.note
    assert note.startswith("3 of ")
    assert note.endswith("; metals only: the classes do not apply as derived")


def test_a_nondetect_counts_half_and_is_left_out_above_the_level() -> None:
    block = pec([*METALS[:2], ("S", "Chromium", "<111"), ("S", "Lead", "<128.1")])
    assert block is not None
    assert block.value.tolist() == [pytest.approx((1 + 2 + 0.5) / 3)]
    assert block.low.tolist() == [pytest.approx(1.0)]
    assert block.high.tolist() == [pytest.approx(4 / 3)]
    assert list(block.members) == ["Arsenic;Cadmium;Chromium"]


def test_classes_are_averaged_each_by_itself() -> None:
    """Metals 2 on average, total PCBs a quarter of its level: (2 + 0.25) / 2."""
    rows = [*METALS, ("S", "PCB-8", "169")]
    block = pec(rows, ("pcb-congeners",))
    assert block is not None
    assert block.value.tolist() == [pytest.approx((2 + 169 / PCBS) / 2)]
    assert block.low.tolist() == [pytest.approx((2 + 169 / PCBS) / 2)]
    assert np.isnan(block.high).all()  # one congener is a partial total
    assert "metals only" not in block.note[0]
    assert block.classify is not None
    assert block.classify.tolist() == [True]
    assert list(block.members) == ["Arsenic;Cadmium;Chromium;Total PCBs"]


def test_only_for_the_samples_asked_for() -> None:
    rows = [*METALS, *(("T", name, text) for _, name, text in METALS)]
    block = pec(rows, on=(False, True))
    assert block is not None
    assert block.sample.tolist() == [1]
    assert pec(METALS, on=(False, True)) is None
    assert mean_quotients(source(METALS), {}) == []


FACTORS = pd.DataFrame(
    [("Total PCBs", "pcb-congeners;pcb-aroclors", "4", "2", "upper", "A 1998", "seen"),
     ("Fluoranthene", "", "0.5", "1", "median", "B 1996", "from_memory")],
    columns=["substance", "totals", "bsaf", "lipid_pct", "note", "source", "evidence"],
)  # fmt: skip


def tissue(rows: list[tuple[Any, ...]], carbon: tuple[float, float] = (2.0, 2.0)) -> list[IndexRows]:
    return tissue_potential(source(rows, ("pcb-congeners", "pcb-aroclors")), np.array(carbon), FACTORS)


def test_the_potential_of_a_total_and_of_a_single_substance() -> None:
    """10 x 4 x 2 / 2 = 40 and 8 x 0.5 x 1 / 2 = 2, whatever the share of carbon and lipid is written in."""
    first, second = tissue([("S", "Aroclor 1254", "10"), ("T", "Fluoranthene", "8")])
    assert (first.index, first.substance, first.unit) == ("tissue-potential", "Total PCBs", "ug/kg wet weight")
    assert (first.sample.tolist(), first.value.tolist(), first.low.tolist()) == ([0], [40.0], [40.0])
    assert np.isnan(first.high).all()  # one Aroclor is a partial total
    assert (list(first.members), first.source, first.evidence) == (["pcb-aroclors"], "A 1998", "seen")
    assert first.note == "BSAF 4 (upper), lipid 2 %: not advice on eating fish"
    assert (second.substance, second.unit, second.sample.tolist()) == ("Fluoranthene", "ug/kg wet weight", [1])
    for one in (second.value, second.low, second.high):
        assert one.tolist() == [2.0]
    assert (list(second.members), second.source, second.evidence) == (["Fluoranthene"], "B 1996", "from_memory")
    assert second.note == "BSAF 0.5 (median), lipid 1 %: not advice on eating fish"


def test_a_complete_total_goes_before_a_partial_one_and_has_an_upper_end() -> None:
    aroclors = [("S", f"Aroclor {one}", "1") for one in (1016, 1221, 1232, 1242, 1248, 1254, 1260)]
    (block,) = tissue([*aroclors, ("S", "PCB-8", "99")])
    assert (list(block.members), block.value.tolist(), block.high.tolist()) == (["pcb-aroclors"], [28.0], [28.0])


def test_nothing_is_divided_by_little_or_no_carbon_and_a_nondetect_has_none() -> None:
    rows = [("S", "Fluoranthene", "8"), ("T", "Fluoranthene", "8")]
    assert [one.sample.tolist() for one in tissue(rows, (0.2, 0.19))] == [[0]]
    assert tissue(rows, (UNKNOWN, 0.1)) == []
    assert tissue([("S", "Fluoranthene", "<8"), ("S", "Aroclor 1254", "<8")]) == []
