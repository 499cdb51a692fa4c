"""(d) The arithmetic of the laboratory's batch as a person would set it up in a spreadsheet: in goes the batch, out a
workbook of formulas, which LibreOffice works out (`soffice --headless --convert-to csv`).

One sheet of figures as the laboratory sent them, one of dry weights, one of findings: value and word for each sample
and substance of one set. Making the workbook is a person's work, and not timed; working it out is.
"""

from __future__ import annotations

import math
from pathlib import Path

import pandas as pd
from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from tests.benchmarks.by_hand.levels import LEVELS, NEEDED, SUMS

__all__ = ["command", "write_formulas"]


def write_formulas(path: Path, batch: pd.DataFrame) -> None:
    """Write ``batch`` (as ``batches.lab_batch`` gives it) with the formulas that turn it into findings."""
    names = batch["substance"].unique().tolist()
    samples = batch["sample"].unique().tolist()
    row_of = {name: 2 + place for place, name in enumerate(names)}
    letters = [get_column_letter(2 + place) for place in range(len(samples))]
    book = Workbook()
    book.remove(book.active)  # type: ignore[arg-type]
    found, lab, dry = (book.create_sheet(title) for title in ("findings", "lab", "dry"))
    for sheet in (lab, dry):
        sheet.append(["substance", *samples])
    for name, rows in batch.groupby("substance", sort=False):
        wet = (rows["basis"] == "wet").any()
        cells = [one if yes else f"<{one}" for one, yes in zip(rows["number"], rows["detected"], strict=True)]
        lab.append([name, *cells])
        solids = row_of["Percent solids"]
        over = [f"/(lab!{letter}${solids}/100)" if wet else "" for letter in letters]
        row = row_of[str(name)]
        dry.append(
            [
                name,
                *(
                    f'=IF(ISNUMBER(lab!{letter}{row}),lab!{letter}{row}{by},"<"&VALUE(MID(lab!{letter}{row},2,20)){by})'
                    for letter, by in zip(letters, over, strict=True)
                ),
            ]
        )
    found.append(["sample", "substance", "value", "finding"])
    for sample, letter in zip(samples, letters, strict=True):
        for name, levels in LEVELS.items():
            formulas = _formulas(name, letter, row_of, levels, len(found["A"]) + 1)
            if formulas is not None:
                found.append([sample, name, *formulas])
    book.save(path)


def _formulas(
    name: str, letter: str, row_of: dict[str, int], levels: tuple[float, float], row: int
) -> tuple[str, str] | None:
    sum_id = "pcb-congeners" if name == "Total PCBs" else name
    members = [f"dry!{letter}{row_of[one]}" for one in SUMS.get(sum_id, [name]) if one in row_of]
    if not members:
        return None
    complete = len(members) >= NEEDED.get(sum_id, 1)
    listed = ",".join(members)
    limits = ",".join(f'IF(LEFT({one})="<",VALUE(MID({one},2,20)),0)' for one in members)
    value = f'=IF(COUNT({listed})>0,SUM({listed}),"")'
    lower, upper = levels
    above = "FALSE" if math.isnan(upper) else f"C{row}>{upper}"
    open_end = f"MAX({limits})>{lower}" if complete else "TRUE"
    below = '"below"' if complete else '"undetermined"'
    finding = (
        f'=IF(ISNUMBER(C{row}),IF({above},"above",IF(C{row}>{lower},"between",{below})),'
        f'IF({open_end},"undetermined","below"))'
    )
    return value, finding


def command(workbook: Path, folder: Path) -> list[str]:
    """The command that works the first sheet out and leaves it in ``folder`` as CSV, in full precision."""
    profile = (folder / "profile").as_uri()
    as_stored = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,1"
    return [
        "soffice",
        f"-env:UserInstallation={profile}",
        "--headless",
        "--convert-to",
        as_stored,
        "--outdir",
        str(folder),
        str(workbook),
    ]
