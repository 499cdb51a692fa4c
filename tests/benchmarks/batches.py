"""Made-up batches for timing, seeded, every figure invented: a long CSV of any size, the same as a workbook, and what
one laboratory sends for 60 samples with the field record beside it.
"""

from __future__ import annotations

import itertools
import zipfile
from collections.abc import Iterator
from pathlib import Path
from string import ascii_uppercase
from xml.sax.saxutils import escape

import numpy as np
import pandas as pd
from openpyxl import Workbook

__all__ = [
    "LAB_SAMPLES",
    "lab_batch",
    "write_field_record",
    "write_lab_workbook",
    "write_long_csv",
    "write_tall_workbook",
]

METALS = "Arsenic Cadmium Chromium Copper Lead Mercury Nickel Silver Zinc Antimony".split()
PAHS = [
    "Naphthalene", "2-Methylnaphthalene", "Acenaphthylene", "Acenaphthene", "Fluorene", "Phenanthrene", "Anthracene",
    "Fluoranthene", "Pyrene", "Benz(a)anthracene", "Chrysene", "Benzo(b)fluoranthene", "Benzo(k)fluoranthene",
    "Benzo(a)pyrene", "Indeno(1,2,3-cd)pyrene", "Dibenz(a,h)anthracene", "Benzo(g,h,i)perylene", "Benzo(e)pyrene",
]  # fmt: skip
CONGENERS = (
    "8 18 28 31 44 49 52 66 70 74 77 81 87 95 99 101 105 110 114 118 123 126 128 138 146 149 151 153 156 157 158 167 "
    "169 170 174 177 180 183 184 187 189 194 195 199 201 203 206 209 5 15 17 22 33 37 42 47 48 56 60 63 64 82 84 85 "
    "92 97 132 136"
).split()
PESTICIDES = ["4,4'-DDD", "4,4'-DDE"]


#: Samples made at a time, so that a batch of any size fits into memory.
_AT_ONCE = 10_000


def write_long_csv(path: Path, rows: int, *, per_sample: int = 100, seed: int = 7) -> None:
    """Write ``rows`` results, ``per_sample`` for each sample: metals, PAHs, PCB congeners, pesticides; solids, carbon.

    About one result in five is a non-detect, one in ten carries a J; half of the samples are reported wet.
    """
    for number, frame in enumerate(_long_frames(rows, per_sample, seed)):
        frame.to_csv(path, index=False, header=number == 0, mode="w" if number == 0 else "a")


def _long_frames(rows: int, per_sample: int, seed: int) -> Iterator[pd.DataFrame]:
    samples = -(-rows // per_sample)
    for first in range(0, samples, _AT_ONCE):
        own = min(_AT_ONCE, samples - first)
        yield _long_frame(first, own, per_sample, seed + first).iloc[: rows - first * per_sample]


def _long_frame(first: int, samples: int, per_sample: int, seed: int) -> pd.DataFrame:
    """``samples`` samples numbered from ``first``."""
    substances = [*METALS, *PAHS, *(f"PCB-{number}" for number in CONGENERS), *PESTICIDES][: per_sample - 2]
    units = ["mg/kg" if name in METALS else "ug/kg" for name in substances] + ["%", "%"]
    substances += ["Percent solids", "Total organic carbon"]
    per_sample = len(substances)
    dice = np.random.default_rng(seed)
    n = samples * per_sample
    scale = np.exp(dice.normal(2.5, 1.3, n))
    text = np.round(scale, 3).astype(object)
    solids = np.arange(per_sample) == per_sample - 2
    carbon = np.arange(per_sample) == per_sample - 1
    conventional = np.tile(solids | carbon, samples)
    text[np.tile(solids, samples)] = np.round(dice.uniform(30, 75, samples), 1)
    text[np.tile(carbon, samples)] = np.round(dice.uniform(0.3, 6, samples), 2)
    draw = dice.random(n)
    flag = np.where(draw < 0.2, "U", np.where(draw < 0.3, "J", "")).astype(object)
    flag[conventional] = ""
    number = np.repeat(np.arange(first, first + samples), per_sample)
    return pd.DataFrame(
        {
            "Sample ID": [f"BX-{one:06d}" for one in number],
            "Station": [f"S{one % 2000:04d}" for one in number],
            "Collected": np.where(number % 3 == 0, "2026-05-12", "2026-05-13"),
            "Analyte": substances * samples,
            "Result": text,
            "Qual": flag,
            "MDL": np.round(scale / 3, 4),
            "RL": np.round(scale, 3),
            "Unit": units * samples,
            "Basis": np.where(conventional, "", np.where(number % 2 == 0, "dry", "wet")),
            "Method": "in-house",
            "Lab Sample ID": [f"L{one:07d}" for one in number],
        }
    )


def write_tall_workbook(path: Path, rows: int, *, seed: int = 7) -> None:
    """Write the first ``rows`` results of the long CSV as an .xlsx with shared texts, as spreadsheet programs do."""
    texts: dict[str, int] = {}
    body = [_xml_row(1, list(_long_frame(0, 1, 100, seed).columns), texts)]
    for frame in _long_frames(rows, 100, seed):
        for record in frame.itertuples(index=False, name=None):
            body.append(_xml_row(len(body) + 1, record, texts))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        for name, text in _PACKAGE.items():
            package.writestr(name, _DECLARED + text)
        shared = "".join(f"<si><t>{escape(text)}</t></si>" for text in texts)
        package.writestr("xl/sharedStrings.xml", f"{_DECLARED}<sst {_MAIN}>{shared}</sst>")
        sheet = "".join(body)
        package.writestr(
            "xl/worksheets/sheet1.xml", f"{_DECLARED}<worksheet {_MAIN}><sheetData>{sheet}</sheetData></worksheet>"
        )


def _xml_row(number: int, cells: list[object] | tuple[object, ...], texts: dict[str, int]) -> str:
    parts = []
    for letter, one in zip(ascii_uppercase, cells, strict=False):
        if isinstance(one, str) and one:
            parts.append(f'<c r="{letter}{number}" t="s"><v>{texts.setdefault(one, len(texts))}</v></c>')
        elif one != "":
            parts.append(f'<c r="{letter}{number}"><v>{one}</v></c>')
    return f'<row r="{number}">{"".join(parts)}</row>'


# the names that the standard (ISO/IEC 29500, transitional) gives to the parts of a workbook
_DECLARED = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
_FORMATS = "http://schemas.openxmlformats.org"
_MAIN = f'xmlns="{_FORMATS}/spreadsheetml/2006/main"'
_RELATED = f"{_FORMATS}/officeDocument/2006/relationships"
_TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def _relations(*pairs: tuple[str, str]) -> str:
    rows = "".join(
        f'<Relationship Id="r{number}" Type="{_RELATED}/{kind}" Target="{target}"/>'
        for number, (kind, target) in enumerate(pairs)
    )
    return f'<Relationships xmlns="{_FORMATS}/package/2006/relationships">{rows}</Relationships>'


_PACKAGE = {
    "[Content_Types].xml": f'<Types xmlns="{_FORMATS}/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    f'<Override PartName="/xl/workbook.xml" ContentType="{_TYPES}.sheet.main+xml"/>'
    f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_TYPES}.worksheet+xml"/>'
    f'<Override PartName="/xl/sharedStrings.xml" ContentType="{_TYPES}.sharedStrings+xml"/></Types>',
    "_rels/.rels": _relations(("officeDocument", "xl/workbook.xml")),
    "xl/_rels/workbook.xml.rels": _relations(
        ("worksheet", "worksheets/sheet1.xml"), ("sharedStrings", "sharedStrings.xml")
    ),
    "xl/workbook.xml": f'<workbook {_MAIN} xmlns:r="{_RELATED}"><sheets>'
    '<sheet name="results" sheetId="1" r:id="r0"/></sheets></workbook>',
}


#: Samples of the laboratory's batch: twenty stations, three depths each.
LAB_SAMPLES = [f"BX-{station:02d}-{part}" for station in range(1, 21) for part in "ABC"]
_MORE_METALS = ["Aluminum", "Iron", "Manganese", "Selenium", "Cobalt", "Vanadium", "Barium", "Beryllium"]
_MORE_PESTICIDES = [
    "4,4'-DDT", "2,4'-DDD", "2,4'-DDE", "2,4'-DDT", "cis-Chlordane", "trans-Chlordane", "cis-Nonachlor",
    "trans-Nonachlor", "Oxychlordane", "Dieldrin", "Endrin", "Heptachlor epoxide", "gamma-BHC (Lindane)", "Aldrin",
]  # fmt: skip
_FURTHER = [number for number in range(1, 210) if str(number) not in CONGENERS]


def lab_batch(*, seed: int = 3) -> pd.DataFrame:
    """One laboratory's batch, long: sample, substance, number (the limit where not detected), detected, unit, basis.

    60 samples by 180 substances: metals on dry weight, organics wet, all 18 congeners of a national list among 121.
    """
    fixed = [*METALS, *_MORE_METALS, *PAHS, *PESTICIDES, *_MORE_PESTICIDES]
    numbers = [*map(int, CONGENERS), *_FURTHER][: 178 - len(fixed)]
    substances = [*fixed, *(f"PCB-{number}" for number in sorted(numbers)), "Percent solids", "Total organic carbon"]
    metals = {*METALS, *_MORE_METALS}
    dice = np.random.default_rng(seed)
    shape = (len(substances), len(LAB_SAMPLES))
    figures = np.exp(dice.normal(1.6, 1.4, shape))
    figures[-2], figures[-1] = dice.uniform(30, 75, shape[1]), dice.uniform(0.6, 4, shape[1])
    figures = np.maximum(np.round(figures, 3), 0.001)
    detected = dice.random(shape) > 0.25
    detected[-2:] = True
    pairs = list(itertools.product(range(shape[0]), range(shape[1])))
    units = [
        "mg/kg" if name in metals else "%" if place >= shape[0] - 2 else "ug/kg"
        for place, name in enumerate(substances)
    ]
    return pd.DataFrame(
        {
            "sample": [LAB_SAMPLES[column] for _, column in pairs],
            "substance": [substances[row] for row, _ in pairs],
            "number": figures.ravel(),
            "detected": detected.ravel(),
            "unit": [units[row] for row, _ in pairs],
            "basis": [{"mg/kg": "dry", "ug/kg": "wet", "%": ""}[units[row]] for row, _ in pairs],
        }
    )


def write_lab_workbook(path: Path) -> None:
    """Write ``lab_batch`` as laboratories lay it out: substances down, samples across, ``<`` before a limit."""
    batch = lab_batch()
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Analyte", "Unit", "Basis", *LAB_SAMPLES])
    for (substance, unit, basis), rows in batch.groupby(["substance", "unit", "basis"], sort=False):
        cells = [
            number if found else f"<{number}" for number, found in zip(rows["number"], rows["detected"], strict=True)
        ]
        sheet.append([substance, unit, basis, *cells])
    book.save(path)


def write_field_record(folder: Path) -> None:
    """Write the field record of the batch: ``stations.csv`` with places along a river, ``samples.csv`` with depths."""
    dice = np.random.default_rng(5)
    names = [f"BX-{number:02d}" for number in range(1, 21)]
    stations = pd.DataFrame({"station": names, "river_km": np.round(np.linspace(0.5, 24, 20), 1)})
    stations["latitude"] = np.round(45 + np.linspace(0, 0.1, 20) + dice.normal(0, 0.002, 20), 5)
    stations["longitude"] = np.round(-30 - np.linspace(0, 0.15, 20) + dice.normal(0, 0.002, 20), 5)
    stations["water"], stations["role"] = "fresh", ["site"] * 18 + ["reference"] * 2
    stations["zone"] = np.repeat(["Lower", "Middle", "Upper", "Head"], 5)
    stations.to_csv(folder / "stations.csv", index=False)
    depths = {"A": ("0", "10"), "B": ("10", "30"), "C": ("30", "60")}
    samples = pd.DataFrame({"sample": LAB_SAMPLES, "station": [one[:5] for one in LAB_SAMPLES]})
    samples["top"] = [f"{depths[one[-1]][0]} cm" for one in LAB_SAMPLES]
    samples["bottom"] = [f"{depths[one[-1]][1]} cm" for one in LAB_SAMPLES]
    samples["date"] = "2026-05-12"
    samples.to_csv(folder / "samples.csv", index=False)
