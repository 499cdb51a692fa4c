"""One known batch, written as any laboratory might: layout, order, unit and notation must not change a result."""

from __future__ import annotations

import math
import random
import tempfile
from pathlib import Path

from harness import run_siltmark, write_csv
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

SAMPLES = ("ME-1", "ME-2", "ME-3", "ME-4")
MOISTURE = {"ME-1": 50.0, "ME-2": 40.0, "ME-3": 60.0, "ME-4": 36.0}
METALS = ("Arsenic", "Cadmium", "Copper", "Lead", "Zinc")
PAHS = ("Naphthalene", "Phenanthrene", "Fluoranthene", "Pyrene", "Benzo(a)pyrene")
PCBS = ("PCB-28", "PCB-52", "PCB-90/101/113", "PCB-118")
DDTS = ("4,4'-DDD", "4,4'-DDE")
SUBSTANCES = (*METALS, *PAHS, *PCBS, *DDTS)
SPELLINGS = {
    "Arsenic": ("Arsenic", "As", "Arsenic, total"),
    "Lead": ("Lead", "Pb", "LEAD"),
    "Benzo(a)pyrene": ("Benzo(a)pyrene", "Benzo[a]pyrene", "BENZO(A)PYRENE"),
    "PCB-28": ("PCB-28", "PCB 28", "PCB-028"),
    "PCB-118": ("PCB-118", "CB118", "BZ#118"),
    "PCB-90/101/113": ("PCB-90/101/113", "PCB 90+101+113", "PCB-113/101/90"),
    "4,4'-DDE": ("4,4'-DDE", "p,p'-DDE", "4,4\u2019-DDE"),
}
#: unit text: factor to the standard unit
METAL_UNITS = {"mg/kg": 1.0, "ug/g": 1.0, "ppm": 1.0, "ug/kg": 0.001}
ORGANIC_UNITS = {"ug/kg": 1.0, "ng/g": 1.0, "ppb": 1.0, "\u00b5g/kg": 1.0, "mg/kg": 1000.0}
Key = tuple[str, str]
Figure = tuple[float, str]  # the figure and what it is: exact, estimated, nondetect


def known() -> dict[Key, Figure]:
    """The batch: figures on dry weight in the standard unit, the same every time."""
    chance = random.Random(7)
    batch: dict[Key, Figure] = {}
    for sample in SAMPLES:
        for substance in SUBSTANCES:
            kind = chance.choice(("exact", "exact", "exact", "estimated", "nondetect"))
            batch[sample, substance] = (round(chance.uniform(1.0, 900.0), 1), kind)
    return batch


BATCH = known()


def typed(figure: Figure, factor: float, share: float, notation: str) -> tuple[str, str]:
    """Value cell and flag cell for a figure in another unit and, with ``share`` of solids, on wet weight."""
    number = repr(float(f"{figure[0] * share / factor:.15g}"))
    kind = figure[1]
    if kind == "nondetect":
        if notation == "beside":
            return number, "U"
        return {"before": f"<{number}", "after": f"{number} U", "words": f"ND({number})"}[notation], ""
    if kind == "estimated":
        return (number, "J") if notation == "beside" else (f"{number} J", "")
    return number, ""


@st.composite
def sheets(draw: st.DrawFn) -> tuple[str, list[list[object]], str]:
    """Layout, rows of the sheet, and the basis of the organics."""
    layout = draw(st.sampled_from(("long", "analytes-down", "samples-down")))
    notation = draw(st.sampled_from(("beside", "before", "after", "words")))
    metal_unit = draw(st.sampled_from(sorted(METAL_UNITS)))
    organic_unit = draw(st.sampled_from(sorted(ORGANIC_UNITS)))
    basis = draw(st.sampled_from(("dry", "wet")))
    samples = draw(st.permutations(SAMPLES))
    substances = draw(st.permutations(SUBSTANCES))
    spell = {name: draw(st.sampled_from(SPELLINGS.get(name, (name,)))) for name in substances}
    titles = draw(st.sampled_from(([], [["Marl Estuary (invented)"], []])))

    def cell(sample: str, name: str) -> tuple[str, str]:
        if name in METALS:
            return typed(BATCH[sample, name], METAL_UNITS[metal_unit], 1.0, notation)
        share = 1 - MOISTURE[sample] / 100 if basis == "wet" else 1.0
        return typed(BATCH[sample, name], ORGANIC_UNITS[organic_unit], share, notation)

    def unit(name: str) -> str:
        return f"{metal_unit} dry" if name in METALS else f"{organic_unit} {basis}"

    rows: list[list[object]] = [list(row) for row in titles]
    if layout == "long":
        columns = draw(st.permutations(("Sample", "Analyte", "Result", "Qualifier", "Units")))
        rows.append(list(columns))
        pairs = draw(st.permutations([(s, n) for s in samples for n in (*substances, "moisture")]))
        for sample, name in pairs:
            if name == "moisture":
                fields = {"Analyte": "Percent moisture", "Result": MOISTURE[sample], "Qualifier": "", "Units": "%"}
            else:
                value, flag = cell(sample, name)
                fields = {"Analyte": spell[name], "Result": value, "Qualifier": flag, "Units": unit(name)}
            fields["Sample"] = sample
            rows.append([fields[column] for column in columns])
    elif layout == "analytes-down":
        flags = notation == "beside"
        heads: list[object] = ["Analyte", "Units"]
        for sample in samples:
            heads += [sample, "Q"] if flags else [sample]
        rows.append(heads)
        for name in substances:
            line: list[object] = [spell[name], unit(name)]
            for sample in samples:
                value, flag = cell(sample, name)
                line += [value, flag] if flags else [value]
            rows.append(line)
        line = ["Percent moisture", "%"]
        for sample in samples:
            line += [MOISTURE[sample], ""] if flags else [MOISTURE[sample]]
        rows.append(line)
    else:
        notation = "before" if notation == "beside" else notation
        rows.append(["Sample", "Percent moisture", *(spell[name] for name in substances)])
        rows.append(["Units", "%", *(unit(name) for name in substances)])
        rows += [[s, MOISTURE[s], *(cell(s, name)[0] for name in substances)] for s in samples]
    return layout, rows, basis


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(sheet=sheets())
def test_the_same_batch_comes_back(sheet: tuple[str, list[list[object]], str]) -> None:
    _, rows, _ = sheet
    with tempfile.TemporaryDirectory() as folder:
        path = write_csv(Path(folder) / "lab.csv", rows)
        out = run_siltmark(
            "screen", path, "--water", "fresh", "--tables-only", "--out", Path(folder) / "out", out=Path(folder) / "out"
        )
        assert out.status == 0, out.stderr
        found = {
            (row["sample"], row["substance"]): row for row in out.rows("results") if row["group"] != "conventional"
        }
        assert set(found) == set(BATCH)
        for key, (figure, kind) in BATCH.items():
            row = found[key]
            assert row["kind"] == ("nondetect" if kind == "nondetect" else "exact"), (key, row)
            assert math.isclose(float(row["limit" if kind == "nondetect" else "value"]), figure, rel_tol=1e-9), (
                key,
                row,
            )
            assert ("J" in row["qualifier"]) == (kind == "estimated"), (key, row)
