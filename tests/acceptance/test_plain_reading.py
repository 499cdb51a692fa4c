"""Batches at random: what the command writes against the same rules done one measurement at a time."""

from __future__ import annotations

import math
import os
import tempfile
from pathlib import Path

import plain_reading as plain
from harness import run_siltmark, write_csv
from hypothesis import HealthCheck, Phase, given, note, settings
from hypothesis import strategies as st

EXAMPLES = 300 if os.environ.get("SILTMARK_SLOW") else 25
SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]
SET = """title = "An invented set"
citation = "None: made for a test."
water = ["fresh"]
levels = ["LOW", "HIGH"]
lower = "LOW"
upper = "HIGH"
basis = "dry"
at_level = "{at_level}"
{nondetects}
caveats = ["For tests only."]
[toc]
range_pct = [0.5, 4.0]
outside = "{outside}"
[sums]
"Total PCBs" = [["pcb-ices7"], ["pcb-aroclors"]]
"Sum DDD" = ["ddd"]
"""
NUMBERS = st.one_of(
    st.sampled_from([35.0, 128.0, 30.0, 400.0, 57.2, 845.0, 60.0, 676.0, 4.88, 28.0, 0.16, 50.0]),
    st.integers(1, 99_999).map(lambda n: n / 100.0),
)


def cells(substance: str) -> st.SearchStrategy[plain.Measured]:
    units = list(plain.METAL_UNITS if substance in plain.METALS else plain.ORGANIC_UNITS)
    kinds = st.sampled_from(["exact", "exact", "exact", "nondetect", "nondetect", "more-than"])
    flags = st.sampled_from(["", "", "", "", "R", "NJ"])
    unit = st.sampled_from([one for one in units if one != "%"])
    return st.builds(
        plain.Measured, st.just(substance), kinds, NUMBERS, unit, st.sampled_from(["dry", "dry", "wet"]), flags
    )


@st.composite
def batches(draw: st.DrawFn) -> tuple[list[plain.Sample], plain.Rules]:
    rules = plain.Rules(
        nondetects=draw(st.sampled_from(["zero", "half", "root2", "full"])),
        at_level=draw(st.sampled_from(["not-above", "exceeds"])),
        outside=draw(st.sampled_from(["not-assessed", "clamp"])),
        duplicates=draw(st.sampled_from(["higher", "separate", "mean"])),
    )
    singles = [*plain.METALS, "Anthracene", "Fluoranthene", "Pyrene"]
    samples = []
    for at in range(draw(st.integers(1, 3))):
        names = draw(st.lists(st.sampled_from(singles), unique=True, min_size=1))
        for members in plain.TOTALS.values():
            how = draw(st.sampled_from(["none", "some", "all"]))
            if how == "all":
                names += members
            elif how == "some":
                names += draw(st.lists(st.sampled_from(members), unique=True, min_size=1))
        solids = draw(st.one_of(st.none(), st.integers(20, 95).map(float)))
        carbon = draw(st.one_of(st.none(), st.sampled_from([0.2, 0.5, 1.0, 2.5, 4.0, 7.5])))
        measured = tuple(draw(cells(name)) for name in names)
        samples.append(plain.Sample(f"NB-{at + 1}", solids, carbon, measured))
    if len(samples) > 1 and draw(st.booleans()):
        samples[-1] = plain.replace(samples[-1], parent="NB-1")
    return samples, rules


def rows_of(samples: list[plain.Sample]) -> list[list[object]]:
    rows: list[list[object]] = []
    for sample in samples:
        if sample.solids is not None:
            rows.append([sample.name, "Percent solids", sample.solids, "", "%", ""])
        if sample.carbon is not None:
            rows.append([sample.name, "Total organic carbon", sample.carbon, "", "%", "dry"])
        for one in sample.measured:
            sign = {"exact": "", "nondetect": "<", "more-than": ">"}[one.kind]
            rows.append([sample.name, one.substance, f"{sign}{one.number!r}", one.flag, one.unit, one.basis])
    return rows


def screened(folder: Path, samples: list[plain.Sample], rules: plain.Rules) -> dict[tuple[str, str, str], plain.Found]:
    header = ["Sample", "Analyte", "Result", "Qualifier", "Unit", "Basis"]
    sheet = write_csv(folder / "lab.csv", [header, *rows_of(samples)])
    record = write_csv(
        folder / "field.csv", [["sample", "station", "parent"], *([one.name, "NB", one.parent] for one in samples)]
    )
    stated = "" if rules.nondetects == "zero" else f'nondetects = "{rules.nondetects}"'
    text = SET.format(at_level=rules.at_level, outside=rules.outside, nondetects=stated)
    (folder / "own.toml").write_text(text, encoding="utf-8")
    levels: dict[str, list[object]] = {}
    for substance, _, basis, lower, upper in plain.COMPARED:
        unit = "mg/kg" if substance in plain.METALS or basis == "oc" else "ug/kg"
        levels[substance] = [substance, lower, upper, unit, basis]
    write_csv(folder / "own.csv", [["substance", "LOW", "HIGH", "unit", "basis"], *levels.values()])
    options: list[str | Path] = ["--field", record, "--guidelines", folder / "own.toml", "--tables-only"]
    options += ["--duplicates", rules.duplicates, "--out", folder / "out"]
    got = run_siltmark("screen", sheet, *options, out=folder / "out")
    assert got.status in (0, 1), got.stderr
    return {
        (row["sample"], row["substance"], row["total"]): (
            row["finding"],
            row["settled"],
            float(row["value"]) if row["value"] else None,
        )
        for row in got.rows("findings")
    }


# whole commands are slow to shrink, and the message names the one figure that differs
@settings(max_examples=EXAMPLES, phases=[Phase.explicit, Phase.reuse, Phase.generate], suppress_health_check=SLOW)
@given(batches())
def test_findings_are_those_of_the_rules_done_by_hand(batch: tuple[list[plain.Sample], plain.Rules]) -> None:
    samples, rules = batch
    note("\n".join(",".join(map(str, row)) for row in rows_of(samples)))
    expected = plain.findings(samples, rules)
    with tempfile.TemporaryDirectory() as folder:
        found = screened(Path(folder), samples, rules)
    for key in sorted(expected.keys() | found.keys()):
        assert key in found, f"{key} has no finding; expected {expected[key]}"
        assert key in expected, f"{key} should have no finding; found {found[key]}"
        assert found[key][:2] == expected[key][:2], f"{key}: {found[key]}, by hand {expected[key]}"
        if expected[key][2] is not None:
            value = found[key][2]
            assert value is not None and math.isclose(value, expected[key][2], rel_tol=1e-9), key
