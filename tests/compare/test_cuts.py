"""A dredge cut against a set: the prism and the layer left bare, on cores made by hand."""

import dataclasses

import pandas as pd
from made import batch_of

from screen.settings import Settings
from screen.stages.compare.findings.assign import assign_sets
from screen.stages.compare.findings.findings import compare
from screen.stages.compare.places.cores import elevations, summarise_cores
from screen.stages.compare.places.cuts import compare_cuts
from screen.stages.normalise import normalise
from screen.stages.sums import total

#: Lead, TEC 35.8 and PEC 128 mg/kg (MacDonald, Ingersoll and Berger 2000).
SET = "consensus-2000-fresh"


def cut(intervals: list[tuple[float, float, str]], depth: str | None, substance: str = "Lead") -> pd.DataFrame:
    settings = Settings(guidelines=(SET,), cut=depth)
    rows = [(f"S-{at}", substance, text) for at, (_, _, text) in enumerate(intervals)]
    samples = {
        f"S-{at}": {"station": "K-1", "core": "K-1-C", "depth_top_cm": top, "depth_bottom_cm": bottom}
        for at, (top, bottom, _) in enumerate(intervals)
    }
    batch = normalise(batch_of(rows, samples=samples), settings)
    totals = total(batch.results)
    sets, assigned, _ = assign_sets(batch.samples, settings)
    findings = compare(batch.results, totals, sets, samples=batch.samples, assigned=assigned)
    cores = summarise_cores(batch, totals, settings)
    return compare_cuts(batch, totals, cores, findings, sets, assigned, settings)


def said(table: pd.DataFrame) -> list[tuple[str, str, float]]:
    return list(zip(table["part"], table["finding"], table["value"], strict=True))


def test_the_prism_and_what_it_leaves_are_compared() -> None:
    """The depth-weighted mean: (15 x 120 + 30 x 600 + 30 x 200) / 75 = 344."""
    layers = [(0, 15, "120"), (15, 45, "600"), (45, 90, "200"), (90, 120, "<5")]
    assert said(cut(layers, "75 cm")) == [("cut", "above", 344.0), ("left", "above", 200.0)]


def test_a_cut_on_a_boundary_leaves_the_layer_below_bare() -> None:
    assert said(cut([(0, 30, "40"), (30, 60, "20")], "30 cm")) == [("cut", "between", 40.0), ("left", "below", 20.0)]


def test_a_prism_without_any_detect_is_a_nondetect() -> None:
    table = cut([(0, 30, "<60"), (30, 60, "20")], "30 cm")
    assert table["finding"].tolist() == ["undetermined", "below"]
    assert pd.isna(table["value"].iloc[0])


def test_non_detects_leave_a_finding_unsettled() -> None:
    table = cut([(0, 10, "60"), (10, 30, "<40")], "30 cm")
    assert table["settled"].tolist()[:1] == [False]


def test_a_prism_covered_in_part_says_so() -> None:
    table = cut([(0, 10, "60"), (20, 40, "60")], "40 cm")
    assert table["covered_pct"].tolist() == [75.0]
    assert table["settled"].tolist() == [False]
    assert "only a part" in table["note"].iloc[0]


def test_without_a_cut_there_is_no_row() -> None:
    assert cut([(0, 10, "60")], None).empty


def test_elevation_is_the_bed_level_less_the_depth() -> None:
    batch = normalise(
        batch_of(
            [("S-1", "Lead", "5")],
            samples={"S-1": {"station": "K-1", "core": "K-1-C", "depth_top_cm": 20, "depth_bottom_cm": 30}},
        ),
        Settings(),
    )
    known = pd.DataFrame(
        {
            "core": ["K-1-C"],
            "recovery_pct": [80.0],
            "penetration_cm": [100.0],
            "recovered_cm": [80.0],
            "bed_level_cm": [-410.0],
            "datum": ["chart datum"],
        }
    )

    def read(cores: pd.DataFrame, compaction: str) -> tuple[float, float, float]:
        row = elevations(dataclasses.replace(batch, cores=cores), Settings(compaction=compaction)).iloc[0]
        return row["elevation_top_m"], row["elevation_bottom_m"], row["depth_top_linear_cm"]

    assert read(known, "none") == (-4.1 - 0.2, -4.1 - 0.3, 25.0)
    assert read(known, "linear") == (-4.1 - 0.25, -4.1 - 0.375, 25.0)
    assert pd.isna(read(known.assign(datum=None), "none")[0])
