"""One known batch, written as any laboratory might: layout, order, unit and notation must not change a result.

The batch is invented. What comes back is held against the figures that went in; the cells are counted a second time by
openpyxl or the csv module.
"""

from __future__ import annotations

import csv
import math
import os
import random
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sheets_by_hand import write_book

from screen.stages.normalise import normalise
from screen.stages.read.batch import read

SAMPLES = ("ME-1", "ME-2", "ME-3", "ME-4")
MOISTURE = {"ME-1": 50.0, "ME-2": 40.0, "ME-3": 60.0, "ME-4": 36.0}
GROUPS = {
    "Metals": ("Arsenic", "Cadmium", "Copper", "Lead", "Mercury", "Zinc"),
    "PAHs": ("Naphthalene", "Phenanthrene", "Fluoranthene", "Pyrene", "Benzo(a)pyrene"),
    "PCBs": ("PCB-28", "PCB-52", "PCB-90/101/113", "PCB-118"),
    "Pesticides": ("4,4'-DDD", "4,4'-DDE", "Dieldrin"),
}
SUBSTANCES = tuple(name for names in GROUPS.values() for name in names)
GROUP_OF = {name: group for group, names in GROUPS.items() for name in names}
SPELLINGS = {
    "Arsenic": ("Arsenic", "As", "Arsenic, total"),
    "Lead": ("Lead", "Pb", "LEAD", "Lead, Total Recoverable"),
    "Mercury": ("Mercury", "Hg"),
    "Benzo(a)pyrene": ("Benzo(a)pyrene", "Benzo[a]pyrene", "BENZO(A)PYRENE"),
    "PCB-28": ("PCB-28", "PCB 28", "PCB-028"),
    "PCB-118": ("PCB-118", "CB118", "BZ#118"),
    "PCB-90/101/113": ("PCB-90/101/113", "PCB 90+101+113", "PCB-113/101/90"),
    "4,4'-DDE": ("4,4'-DDE", "p,p'-DDE", "4,4\u2019-DDE"),
}
CAS = {"Arsenic": "7440-38-2", "Lead": "7439-92-1", "Pyrene": "129-00-0", "Dieldrin": "60-57-1", "Zinc": "7440-66-6"}
METAL_UNITS = {"mg/kg": 1.0, "ug/g": 1.0, "ppm": 1.0, "ug/kg": 0.001, "MG/KG": 1.0}
ORGANIC_UNITS = {"ug/kg": 1.0, "ng/g": 1.0, "ppb": 1.0, "\u00b5g/kg": 1.0, "\u03bcg/kg": 1.0, "mg/kg": 1000.0}
BASES = {"dry": ("dry", "dw", "dry weight", "(dry)"), "wet": ("wet", "ww", "as received", "wet wt")}
NOTATIONS = (
    *("before", "after", "words", "beside", "limit", "both", "blank", "prefix", "nd-less", "sign-last", "spaced"),
    "named",
)
Key = tuple[str, str]
Figure = tuple[float, str]  # the figure, and exact, estimated or nondetect


def known() -> dict[Key, Figure]:
    """Figures on dry weight in the standard unit, the same every time."""
    chance = random.Random(7)
    kinds = ("exact", "exact", "exact", "estimated", "nondetect")
    return {
        (one, name): (round(chance.uniform(1.0, 900.0), 1), chance.choice(kinds))
        for one in SAMPLES
        for name in SUBSTANCES
    }


BATCH = known()


@dataclass(frozen=True)
class Style:
    """How one sheet writes its figures."""

    notation: str
    metal_unit: str
    organic_unit: str
    organic_basis: str
    words: Mapping[str, str]
    spell: Mapping[str, str]
    comma: bool
    estimate: str
    triplet: bool

    def unit(self, name: str) -> str:
        metal = name in GROUPS["Metals"]
        word = self.words["dry" if metal else self.organic_basis]
        return f"{self.metal_unit if metal else self.organic_unit} {word}"

    def number(self, value: float) -> str:
        text = repr(float(f"{value:.15g}"))
        return text.replace(".", ",") if self.comma else text

    def cell(self, sample: str, name: str) -> tuple[Any, str, Any]:
        """Value, flag and reporting limit."""
        figure, kind = BATCH[sample, name]
        metal = name in GROUPS["Metals"]
        factor = METAL_UNITS[self.metal_unit] if metal else ORGANIC_UNITS[self.organic_unit]
        share = 1.0 if metal or self.organic_basis == "dry" else 1 - MOISTURE[sample] / 100
        number = self.number(figure * share / factor)
        if kind == "nondetect":
            shapes = {"before": (f"<{number}", ""), "after": (f"{number} U", ""), "words": (f"ND({number})", ""),
                      "beside": (number, "U"), "limit": ("ND", ""), "both": (f"<{number}", "U"),
                      "blank": ("", "U"), "prefix": (f"U {number}", ""), "nd-less": (f"ND<{number}", ""),
                      "sign-last": (f"{number} <", ""), "spaced": (f"< {number} U", ""),
                      "named": ("<RL", "")}  # fmt: skip
            return *shapes[self.notation], number
        limit = self.number(figure * share / factor / 4) if self.triplet else ""
        if kind == "estimated":
            shown = (number, "J") if self.flagged else (self.estimate.format(number), "")
            return *shown, limit
        return number, "", limit

    @property
    def flagged(self) -> bool:
        return self.triplet or self.notation in ("beside", "both", "blank")

    @property
    def limited(self) -> bool:
        return self.triplet or self.notation in ("limit", "blank", "named")


@st.composite
def styles(draw: st.DrawFn) -> Style:
    return Style(
        draw(st.sampled_from(NOTATIONS)),
        draw(st.sampled_from(sorted(METAL_UNITS))),
        draw(st.sampled_from(sorted(ORGANIC_UNITS))),
        draw(st.sampled_from(("dry", "wet"))),
        {basis: draw(st.sampled_from(words)) for basis, words in BASES.items()},
        {name: draw(st.sampled_from(SPELLINGS.get(name, (name,)))) for name in SUBSTANCES},
        draw(st.booleans()),
        draw(st.sampled_from(("{} J", "{}J", "J {}", "J{}"))),
        draw(st.booleans()),
    )


Rows = list[list[Any]]


@st.composite
def long_table(draw: st.DrawFn, style: Style, samples: list[str], names: list[str]) -> Rows:
    head = ["Sample ID", "Analyte", "Result", "Units"]
    head += ["Qualifier"] * style.flagged + ["RL"] * style.limited + ["CAS No."] * draw(st.booleans())
    head = list(draw(st.permutations(head)))
    rows = []
    for sample in samples:
        for name in names:
            value, flag, limit = style.cell(sample, name)
            row = {"Sample ID": sample, "Analyte": style.spell[name], "Result": value, "Units": style.unit(name),
                   "Qualifier": flag, "RL": limit, "CAS No.": CAS.get(name, "")}  # fmt: skip
            rows.append([row[one] for one in head])
    if draw(st.booleans()):
        rows = list(draw(st.permutations(rows)))
    cut = len(rows) // 2
    match draw(st.sampled_from(("whole", "page break", "side by side"))):
        case "page break":
            return [head, *rows[:cut], [], ["Page 2 of 2"], head, *rows[cut:]]
        case "side by side":
            return beside_one_another([[head, *rows[:cut]], [head, *rows[cut:]]])
    return [head, *rows]


def beside_one_another(parts: list[Rows]) -> Rows:
    """The tables side by side, an empty column between them."""
    width, height = max(len(row) for part in parts for row in part), max(map(len, parts))
    return [
        [cell for part in parts for cell in (*_padded(part[row] if row < len(part) else [], width), "")]
        for row in range(height)
    ]


def _beside(style: Style) -> list[str]:
    return ["Result", *(["Q"] if style.flagged else []), *(["RL"] if style.limited else [])]


def _parts(style: Style, sample: str, name: str) -> list[Any]:
    value, flag, limit = style.cell(sample, name)
    return [value, *([flag] if style.flagged else []), *([limit] if style.limited else [])]


@st.composite
def analytes_down(draw: st.DrawFn, style: Style, samples: list[str], names: list[str]) -> Rows:
    label = draw(st.sampled_from(("Analyte", "Parameter", "Compound", "")))
    kind = draw(st.sampled_from(("names", "names over roles", "roles in names")))
    banded, numbered = draw(st.booleans()), draw(st.booleans())

    def table(some: list[str]) -> Rows:
        return _down(style, some, names, label or "Analyte" * (kind != "names"), kind, banded, numbered)

    halves = [samples[:2], samples[2:]]
    match draw(st.sampled_from(("whole", "side by side", "one under another"))):
        case "side by side":
            return beside_one_another([table(half) for half in halves])
        case "one under another":
            return [*table(halves[0]), [], *table(halves[1])]
    return table(samples)


def _down(
    style: Style, samples: list[str], names: list[str], label: str, kind: str, banded: bool, numbered: bool
) -> Rows:
    columns = _beside(style)
    front = [label, *(["CAS"] if numbered else []), "Units"]
    if len(columns) == 1:
        rows: Rows = [[*front, *samples]]
    elif kind == "roles in names":
        heads = [f"{one} {column}" if column != "Result" else one for one in samples for column in columns]
        rows = [[*front, *heads]]
    else:
        top = [part for sample in samples for part in (sample, *[""] * (len(columns) - 1))]
        rows = [["" for _ in front] + top, [*front, *columns * len(samples)]]
    for members in GROUPS.items() if banded else [("", tuple(names))]:
        mine = [name for name in names if name in members[1]]
        if members[0] and mine:
            rows.append([members[0]])
        for name in mine:
            cas = [CAS.get(name, "")] if numbered else []
            parts = (part for sample in samples for part in _parts(style, sample, name))
            rows.append([style.spell[name], *cas, style.unit(name), *parts])
    return rows


@st.composite
def samples_down(draw: st.DrawFn, style: Style, samples: list[str], names: list[str]) -> Rows:
    columns = _beside(style)
    in_header = draw(st.booleans())
    roles = len(columns) > 1 and draw(st.booleans())
    order = list(draw(st.permutations(range(len(columns))))) if roles else list(range(len(columns)))

    def head(name: str, column: str) -> str:
        own = f"{style.spell[name]} ({style.unit(name)})" if in_header else style.spell[name]
        return own if column == "Result" else f"{style.spell[name]} {column}"

    def each(of: Any) -> list[Any]:
        return [of(name, columns[one]) for name in names for one in order]

    if roles:
        spanned = [text for name in names for text in (head(name, "Result"), *[""] * (len(columns) - 1))]
        rows: Rows = [["Sample ID", *spanned], ["", *each(lambda _, column: column)]]
    else:
        rows = [["Sample ID", *each(head)]]
    if draw(st.booleans()):
        rows.append(["CAS", *each(lambda name, column: CAS.get(name, "") if column == "Result" else "")])
    if not in_header:
        rows.append(["Units", *each(lambda name, column: style.unit(name) if column != "Q" else "")])

    def line(sample: str) -> list[Any]:
        parts = {name: _parts(style, sample, name) for name in names}
        return [sample, *(parts[name][one] for name in names for one in order)]

    half = len(samples) // 2
    if draw(st.booleans()):  # the head again, as on a second page
        return [*rows, *map(line, samples[:half]), [], *rows, *map(line, samples[half:])]
    return [*rows, *map(line, samples)]


@st.composite
def blocks(draw: st.DrawFn, style: Style, samples: list[str], names: list[str]) -> Rows:
    head = ["Analyte", *_beside(style), "Units"]
    parts = []
    for sample in samples:
        label: Rows = [["Sample ID:", sample]] if draw(st.booleans()) else [[f"Sample ID: {sample}"]]
        parts.append(
            [*label, head, *([style.spell[name], *_parts(style, sample, name), style.unit(name)] for name in names)]
        )
    if draw(st.booleans()):
        return [row for part in parts for row in (*part, [])]
    return beside_one_another(parts)


def _padded(row: list[Any], width: int) -> list[Any]:
    return [*row, *[""] * (width - len(row))]


LAYOUTS = {"long": long_table, "analytes-down": analytes_down, "samples-down": samples_down, "blocks": blocks}


@st.composite
def reports(draw: st.DrawFn) -> tuple[str, dict[str, Rows]]:
    """The kind of file and its sheets."""
    kind = draw(st.sampled_from(("csv", "semicolon", "tab", "xlsx")))
    style = draw(styles())
    if kind in ("csv", "xlsx") and style.comma:
        style = replace(style, comma=False)
    samples = list(draw(st.permutations(SAMPLES)))
    names = list(draw(st.permutations(SUBSTANCES)))
    layout = LAYOUTS[draw(st.sampled_from(sorted(LAYOUTS)))]
    water: Rows = [["Sample ID", "Percent moisture"], *([one, style.number(MOISTURE[one])] for one in samples)]
    if kind == "xlsx" and draw(st.booleans()):
        sheets = {
            group: draw(layout(style, samples, [name for name in names if name in members]))
            for group, members in GROUPS.items()
        }
    else:
        sheets = {"Results": draw(layout(style, samples, names))}
    titles = draw(st.sampled_from(([], [["Marl Estuary (invented)"]], [["Report 7"], [], ["Table 1", "", "x"], []])))
    notes = draw(st.sampled_from(([], [[], ["U: not detected"], ["J: estimated"]], [[], ["Approved by:", "A. Name"]])))
    sheets = {name: [*titles, *rows, *notes] for name, rows in sheets.items()}
    return kind, {**sheets, "Moisture": water}


def store(folder: Path, kind: str, sheets: Mapping[str, Rows]) -> list[Path]:
    """The files of a report: one workbook, or one text file for each sheet."""
    if kind == "xlsx":
        typed = {name: [[_typed(cell) for cell in row] for row in rows] for name, rows in sheets.items()}
        return [write_book(folder / "lab.xlsx", typed)]
    delimiter = {"csv": ",", "semicolon": ";", "tab": "\t"}[kind]
    paths = []
    for name, rows in sheets.items():
        paths.append(folder / f"{name}.csv")
        with paths[-1].open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream, delimiter=delimiter).writerows(rows)
    return paths


def _typed(cell: Any) -> Any:
    """Numbers as numbers, blanks as empty cells."""
    try:
        return float(cell)
    except ValueError:
        return cell or None


def cells_of(paths: list[Path], kind: str) -> int:
    if kind == "xlsx":
        book = openpyxl.load_workbook(paths[0])
        cells = [cell for sheet in book.worksheets for row in sheet.iter_rows(values_only=True) for cell in row]
        return sum(1 for cell in cells if cell is not None and str(cell).strip())
    count = 0
    for path in paths:
        with path.open(encoding="utf-8", newline="") as stream:
            count += sum(
                1
                for row in csv.reader(stream, delimiter={"csv": ",", "semicolon": ";", "tab": "\t"}[kind])
                for cell in row
                if cell.strip()
            )
    return count


def check(report: tuple[str, dict[str, Rows]]) -> None:
    kind, sheets = report
    with tempfile.TemporaryDirectory() as folder:
        paths = store(Path(folder), kind, sheets)
        batch = normalise(read(paths))
        assert int(batch.ledger["cells"].sum()) == batch.cells == cells_of(paths, kind)
    rows = batch.results[batch.results["group"] != "conventional"].astype(object).to_dict("records")
    found = {(row["sample"], row["substance"]): row for row in rows}
    told = [one.text for one in batch.problems][:5]
    assert len(found) == len(rows)
    assert set(found) == set(BATCH), told
    for key, (figure, said) in BATCH.items():
        row = found[key]
        assert row["kind"] == ("nondetect" if said == "nondetect" else "exact"), (key, row, told)
        number = row["limit" if said == "nondetect" else "value"]
        assert math.isclose(number, figure, rel_tol=1e-9), (key, number, figure, told)
        assert ("J" in str(row["qualifier"])) == (said == "estimated"), (key, row)
        assert row["used"], (key, row["why_not"])


FEW = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
MANY = settings(FEW, max_examples=500)


@FEW
@given(report=reports())
def test_the_same_batch_comes_back(report: tuple[str, dict[str, Rows]]) -> None:
    check(report)


@pytest.mark.slow
@pytest.mark.skipif(
    not os.environ.get("SILTMARK_SLOW"), reason="SILTMARK_SLOW=1 runs the 500 examples, ten minutes long"
)
@MANY
@given(report=reports())
def test_the_same_batch_comes_back_500_times(report: tuple[str, dict[str, Rows]]) -> None:
    check(report)
