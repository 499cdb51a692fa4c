"""Write the demo's files again: an invented survey of an invented estuary, the same bytes every time.

Takes nothing. Gives ``field_record.xlsx`` and, in ``lab_sheets/``, a wide workbook (metals, moisture, carbon, grain
size) and a long text file (PAHs, PCB congeners, DDTs) beside this script. No place, laboratory or figure is real.
Run: ``python demo_data/make_demo.py``.
"""

from __future__ import annotations

import csv
import io
import os
import random
import re
import zipfile
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

# openpyxl writes other bytes where the library lxml happens to be installed
os.environ["OPENPYXL_LXML"] = "False"

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

HERE = Path(__file__).parent
SEED = 20260512
FIRST_DAY = date(2026, 5, 12)
#: station: river km from the mouth, water, role, zone, area in m2, how far above background the surface is.
STATIONS: dict[str, tuple[float, str, str, str, int, float]] = {
    "OS-01": (0.8, "estuarine", "site", "Lower basin", 42000, 1.0),
    "OS-02": (2.1, "estuarine", "site", "Lower basin", 39000, 1.2),
    "OS-03": (3.4, "estuarine", "site", "Lower basin", 36000, 1.6),
    "OS-04": (4.9, "estuarine", "site", "Turning bend", 28000, 2.1),
    "OS-05": (6.2, "estuarine", "site", "Turning bend", 26500, 2.9),
    "OS-06": (7.5, "estuarine", "site", "Turning bend", 25000, 4.2),
    "OS-07": (8.8, "estuarine", "site", "Mill reach", 18000, 5.6),
    "OS-08": (10.4, "fresh", "site", "Mill reach", 17500, 1.9),
    "OS-09": (12.1, "fresh", "site", "Mill reach", 16000, 1.5),
    "OS-10": (13.7, "fresh", "site", "Upper reach", 14500, 1.3),
    "OS-11": (15.6, "fresh", "site", "Upper reach", 13000, 1.1),
    "OS-12": (17.9, "fresh", "site", "Upper reach", 12000, 0.9),
    "OS-R1": (22.6, "fresh", "reference", "Reference", 9000, 0.45),
    "OS-R2": (0.3, "estuarine", "reference", "Reference", 30000, 0.5),
}
#: core: station, penetration, recovered, water depth, bed level, gear, depth unit, cuts between the intervals.
CORES: dict[str, tuple[str, str, str, str, str, str, str, tuple[str, ...]]] = {
    "OS-03-C": (
        "OS-03",
        "1.20 m",
        "1.08 m",
        "4.6 m",
        "-4.1 m",
        "vibrocorer",
        "cm",
        ("0", "10", "20", "30", "45", "60"),
    ),
    "OS-06-C": (
        "OS-06",
        "1.45 m",
        "1.31 m",
        "3.8 m",
        "-3.3 m",
        "vibrocorer",
        "cm",
        ("0", "10", "20", "30", "45", "60", "90"),
    ),
    "OS-07-C": (
        "OS-07",
        "39 1/2 in",
        "35 3/4 in",
        "2.9 m",
        "-2.4 m",
        "push corer",
        "in",
        ("0", "4", "8", "12", "18", "24", "35 1/2"),
    ),
    "OS-10-C": (
        "OS-10",
        "3 1/4 ft",
        "2 7/8 ft",
        "1.7 m",
        "-0.9 m",
        "push corer",
        "in",
        ("0", "4", "8", "12", "18", "24"),
    ),
}
#: How a layer stands to the surface of its core: one hot layer at 20 to 30 cm (8 to 12 in).
LAYERS = (1.0, 1.35, 3.4, 1.2, 0.5, 0.25)
#: analyte: CAS number, unit as the sheet writes it, background, share that follows the contamination, limit, digits.
METALS: dict[str, tuple[str, str, float, float, float, int]] = {
    "Aluminum": ("7429-90-5", "% dry", 3.1, 0.0, 0.01, 3),
    "Iron": ("7439-89-6", "% dry", 2.4, 0.05, 0.01, 3),
    "Arsenic": ("7440-38-2", "mg/kg dry", 5.2, 0.25, 0.5, 3),
    "Cadmium, total": ("7440-43-9", "mg/kg dry", 0.22, 0.9, 0.1, 3),
    "Chromium, total": ("7440-47-3", "mg/kg dry", 31.0, 0.35, 0.5, 3),
    "Copper": ("7440-50-8", "mg/kg dry", 14.0, 0.8, 0.5, 3),
    "Lead": ("7439-92-1", "mg/kg dry", 16.0, 0.9, 0.5, 3),
    "Mercury (CVAA)": ("7439-97-6", "ug/kg dry", 55.0, 1.0, 10.0, 3),
    "Nickel": ("7440-02-0", "mg/kg dry", 15.0, 0.2, 0.5, 3),
    "Silver": ("7440-22-4", "mg/kg dry", 0.12, 0.9, 0.1, 2),
    "Zinc": ("7440-66-6", "mg/kg dry", 68.0, 0.7, 2.0, 3),
}
PAHS: dict[str, tuple[str, float]] = {
    "Naphthalene": ("91-20-3", 16.0),
    "2-Methylnaphthalene": ("91-57-6", 9.0),
    "Acenaphthylene": ("208-96-8", 7.0),
    "Acenaphthene": ("83-32-9", 6.0),
    "Fluorene": ("86-73-7", 9.0),
    "Phenanthrene": ("85-01-8", 60.0),
    "Anthracene": ("120-12-7", 19.0),
    "Fluoranthene": ("206-44-0", 120.0),
    "Pyrene": ("129-00-0", 110.0),
    "Benz[a]anthracene": ("56-55-3", 52.0),
    "Chrysene": ("218-01-9", 61.0),
    "Benzo[b]fluoranthene": ("205-99-2", 66.0),
    "Benzo[k]fluoranthene": ("207-08-9", 30.0),
    "Benzo[a]pyrene": ("50-32-8", 55.0),
    "Indeno[1,2,3-cd]pyrene": ("193-39-5", 38.0),
    "Dibenz[a,h]anthracene": ("53-70-3", 9.0),
    "Benzo[g,h,i]perylene": ("191-24-2", 36.0),
}
#: Peaks as the sheet names them; those of the seven indicator congeners are marked.
PCBS: dict[str, tuple[str, float, bool]] = {
    "PCB-8": ("34883-43-7", 0.15, False),
    "PCB-18/30": ("", 0.35, False),
    "PCB-20/28": ("", 0.9, True),
    "PCB-31": ("16606-02-3", 0.7, False),
    "PCB-44/47/65": ("", 0.75, False),
    "PCB-49/69": ("", 0.5, False),
    "PCB-52": ("35693-99-3", 0.95, True),
    "PCB-66": ("32598-10-0", 0.6, False),
    "PCB-90/101/113": ("", 1.1, True),
    "PCB-105": ("32598-14-4", 0.35, False),
    "PCB-110/115": ("", 1.2, False),
    "PCB-118": ("31508-00-6", 0.95, True),
    "PCB-128/166": ("", 0.25, False),
    "PCB-129/138/163": ("", 1.5, True),
    "PCB-147/149": ("", 1.0, False),
    "PCB-153/168": ("", 1.3, True),
    "PCB-170": ("35065-30-6", 0.4, False),
    "PCB-180/193": ("", 0.9, True),
    "PCB-187": ("52663-68-0", 0.5, False),
    "PCB-195": ("52663-78-2", 0.08, False),
    "PCB-206": ("40186-72-9", 0.12, False),
    "PCB-209": ("2051-24-3", 0.1, False),
}
DDTS: dict[str, tuple[str, float]] = {
    "2,4'-DDD": ("53-19-0", 0.25),
    "4,4'-DDD": ("72-54-8", 0.7),
    "2,4'-DDE": ("3424-82-6", 0.12),
    "4,4'-DDE": ("72-55-9", 0.6),
    "2,4'-DDT": ("789-02-6", 0.1),
    "4,4'-DDT": ("50-29-3", 0.3),
}
NOT_REPORTED = "OS-09-G2"
ONLY_THE_LAB = "OS-T1"
SEVEN_ONLY = "OS-04-G1"
RAISED_LIMITS = "OS-12-G1"
LATE = "OS-11"
INVENTED_SUBSTANCE = "Zelmarane"


@dataclass(frozen=True)
class Sample:
    """One sample: where it was taken, how deep, and how far above background it is."""

    name: str
    station: str
    core: str
    top: str
    bottom: str
    unit: str
    day: date
    level: float
    parent: str
    moisture: float
    toc: float


def significant(value: float, digits: int) -> float:
    """``value`` to so many significant figures, as a laboratory prints it."""
    return float(f"{value:.{digits}g}")


def make_samples(chance: random.Random) -> list[Sample]:
    """All samples of the field record, in the order of the stations."""
    samples: list[Sample] = []
    cores = {core[0]: name for name, core in CORES.items()}
    for number, (station, (_, _, _, _, _, level)) in enumerate(STATIONS.items()):
        day = FIRST_DAY + timedelta(days=number // 4)
        core = cores.get(station, "")
        if core:
            unit, cuts = CORES[core][6], CORES[core][7]
            intervals = [(f"{core}{i + 1}", cuts[i], cuts[i + 1], LAYERS[i]) for i in range(len(cuts) - 1)]
        else:
            unit = "cm"
            intervals = [(f"{station}-G1", "0", "10", 1.0)]
            if station in ("OS-02", "OS-05", "OS-09", "OS-11"):
                intervals.append((f"{station}-G2", "10", "25", 0.8))
        for name, top, bottom, layer in intervals:
            samples.append(
                Sample(name, station, core, top, bottom, unit, day, level * layer, "",
                       significant(chance.uniform(38, 66), 3), significant(chance.uniform(0.9, 3.8), 2))
            )  # fmt: skip
    for name, parent in (("OS-06-C1-FD", "OS-06-C1"), ("OS-11-G1-FD", "OS-11-G1")):
        twin = next(s for s in samples if s.name == parent)
        samples.append(
            Sample(name, twin.station, twin.core, twin.top, twin.bottom, twin.unit, twin.day, twin.level * 1.06, parent,
                   significant(twin.moisture + 0.8, 3), twin.toc)
        )  # fmt: skip
    return samples


def spread(chance: random.Random, level: float, background: float, share: float) -> float:
    """A concentration: background, plus the part that follows the contamination, with scatter."""
    return max(background * (1 - share + share * level) * chance.lognormvariate(0.0, 0.14), 0.0)


def bold(sheet: Worksheet, row: int) -> None:
    """Print a row in bold."""
    for cell in sheet[row]:
        cell.font = Font(bold=True)


def make_field_record(samples: list[Sample], chance: random.Random) -> Workbook:
    """The field record: stations, cores, samples."""
    book = Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = "stations"
    sheet.append(["Station", "River km", "Latitude", "Longitude", "Water", "Role", "Zone", "Area m2", "Remarks"])
    for name, (river, water, role, zone, area, _) in STATIONS.items():
        latitude = round(45.1 + 0.0061 * river + chance.uniform(-0.0008, 0.0008), 5)
        longitude = round(-30.4 + 0.0083 * river + chance.uniform(-0.0008, 0.0008), 5)
        remark = {"OS-07": "below the old outfall", "OS-R1": "above all known sources"}.get(name)
        sheet.append([name, river, latitude, longitude, water, role, zone, area, remark])
    bold(sheet, 1)
    sheet = book.create_sheet("cores")
    sheet.append(
        ["Core", "Station", "Date", "Time", "Tide", "Water depth", "Bed level", "Datum", "Penetration", "Recovered",
         "Gear", "Remarks"]
    )  # fmt: skip
    for name, (station, penetration, recovered, depth, level, gear, _, _) in CORES.items():
        day = next(s.day for s in samples if s.core == name)
        remark = "refusal on gravel" if name == "OS-10-C" else None
        row = [
            name,
            station,
            day,
            "10:20",
            "falling",
            depth,
            level,
            "local low water",
            penetration,
            recovered,
            gear,
            remark,
        ]
        sheet.append(row)
    bold(sheet, 1)
    sheet = book.create_sheet("samples")
    sheet.append(
        ["Sample", "Core", "Station", "Top", "Bottom", "Depth unit", "Date", "Texture", "Colour", "Odour", "Inclusions",
         "Container", "Preservation", "Parent", "Analyses"]
    )  # fmt: skip
    colours = ("10YR 3/1", "2.5Y 3/2", "5Y 2.5/1", "10YR 4/2", "N 2.5/")
    textures = ("sandy silt", "silt", "clayey silt", "silty sand", "silt with fine sand")
    for item in samples:
        hot = item.level > 8
        odour = "strong oily" if hot else chance.choice(("none", "none", "slight sulphide", "sulphide"))
        inclusions = (
            "sheen on water, wood chips" if hot else chance.choice((None, "shell hash", "rootlets", "twigs", None))
        )
        sheet.append(
            [item.name, item.core or None, item.station, item.top, item.bottom, item.unit, item.day,
             chance.choice(textures), chance.choice(colours), odour, inclusions, "glass jar, 500 ml; bag, 500 ml",
             "cooled to 4 C", item.parent or None,
             "metals; mercury; PAHs; PCB congeners; DDTs; carbon; grain size; solids"]
        )  # fmt: skip
    bold(sheet, 1)
    return book


def make_wide_workbook(samples: list[Sample], chance: random.Random) -> Workbook:
    """Sheet A: analytes down, samples across, a column of flags beside each; two sheets of samples and a legend."""
    book = Workbook()
    book.remove(book["Sheet"])
    reported = [s for s in samples if s.name != NOT_REPORTED]
    half = (len(reported) + 1) // 2
    for number, part in enumerate((reported[:half], reported[half:]), 1):
        sheet = book.create_sheet(f"Batch {number}")
        sheet.append(["Ostrel Estuary sediment survey (invented)"])
        sheet.append([f"Report A-{number}: metals, moisture, organic carbon and grain size"])
        sheet.append([])
        heading: list[object] = ["Parameter", "CAS No.", "Units", "RL"]
        collected: list[object] = ["Date collected", None, None, None]
        for item in part:
            heading += [item.name, "Q"]
            collected += [item.day, None]
        sheet.append(heading)
        sheet.append(collected)
        sheet.append(["Metals"])
        for analyte, (cas, unit, background, share, limit, digits) in METALS.items():
            row: list[object] = [analyte, cas, unit, limit]
            for item in part:
                value = significant(spread(chance, item.level, background, share), digits)
                if value < limit:
                    row += [limit, "U"]
                else:
                    row += [value, "J" if chance.random() < 0.05 else None]
            sheet.append(row)
        sheet.append(["Conventionals"])
        rows: list[list[object]] = [
            ["Percent moisture", None, "%", None],
            ["Total organic carbon", None, "% dry", 0.05],
            ["Gravel", None, "%", None],
            ["Sand", None, "%", None],
            ["Silt", None, "%", None],
            ["Clay", None, "%", None],
        ]
        for item in part:
            gravel = 0.0 if chance.random() < 0.7 else significant(chance.uniform(0.5, 4), 2)
            clay = significant(chance.uniform(8, 24), 3)
            silt = significant(chance.uniform(30, 55), 3)
            sand = round(100 - gravel - clay - silt, 2)
            for row, figure in zip(rows, (item.moisture, item.toc, gravel, sand, silt, clay), strict=True):
                row += [figure, None]
        for row in rows:
            sheet.append(row)
        sheet.append([])
        sheet.append(["U  not detected at the limit shown"])
        sheet.append(["J  estimated value"])
        bold(sheet, 1)
        bold(sheet, 4)
    return book


def make_long_rows(samples: list[Sample], chance: random.Random) -> list[list[object]]:
    """Sheet B: one result per row. PAHs and DDTs on dry weight, PCB congeners of the cores on wet weight."""
    header: list[object] = [
        "Sample ID", "Lab ID", "Sample Type", "Date Collected", "Method", "Analyte", "CAS No.", "Result", "Qualifier",
        "MDL", "RL", "Units", "Basis", "Dilution", "Extracted", "Analysed",
    ]  # fmt: skip
    rows: list[list[object]] = [header]

    def add(item: Sample, lab: str, kind: str, method: str, name: str, cas: str, value: float, mdl: float, basis: str,
            unit: str = "ug/kg", raised: bool = False) -> None:  # fmt: skip
        limit = significant(mdl * 3, 3)
        if value < mdl or raised:
            result, flag = limit, "UJ" if raised else "U"
        elif value < limit:
            result, flag = significant(value, 2), "J"
        else:
            result, flag = significant(value, 3), ""
        day = "" if kind == "MB" else item.day.isoformat()
        extracted = item.day + timedelta(days=18 if item.station == LATE else 9)
        analysed = extracted + timedelta(days=15)
        rows.append([item.name, lab, kind, day, method, name, cas, result, flag,
                     mdl, limit, unit, basis, 1, extracted.isoformat(), analysed.isoformat()])  # fmt: skip

    for number, item in enumerate(s for s in samples if s.name != NOT_REPORTED):
        lab = f"B{2001 + number}"
        kind = "FD" if item.parent else "N"
        solids = 1 - item.moisture / 100
        for name, (cas, background) in PAHS.items():
            add(item, lab, kind, "GC-MS SIM", name, cas, spread(chance, item.level, background, 0.95), 2.0, "dry")
        below = STATIONS[item.station][0] < 9.0
        pcb_level = item.level * (3.2 if below else 0.5)
        for name, (cas, background, indicator) in PCBS.items():
            if item.name == SEVEN_ONLY:
                if not indicator:
                    continue
                figure = background * 0.7
            else:
                figure = spread(chance, pcb_level, background, 1.0)
            if item.core:
                add(item, lab, kind, "GC-HRMS", name, cas, figure * solids, 0.02, "wet")
            else:
                add(item, lab, kind, "GC-HRMS", name, cas, figure, 0.05, "dry")
        for name, (cas, background) in DDTS.items():
            raised = item.name == RAISED_LIMITS
            figure = spread(chance, item.level, background, 1.0)
            add(item, lab, kind, "GC-ECD", name, cas, figure, 2.2 if raised else 0.1, "dry", raised=raised)
    first = samples[0]
    for name in ("Fluoranthene", "Pyrene", "Chrysene"):
        cas, background = PAHS[name]
        value = spread(chance, first.level, background, 0.95)
        add(first, "B2001D", "LR", "GC-MS SIM", name, cas, value, 2.0, "dry")
    blank = Sample("MB-1", "", "", "", "", "", first.day, 0, "", 0, 0)
    targets = {"Fluoranthene": "206-44-0", "Pyrene": "129-00-0", "PCB-118": "31508-00-6", "4,4'-DDE": "72-55-9"}
    for name, cas in targets.items():
        add(blank, "BMB1", "MB", "batch QC", name, cas, 0.0, 2.0, "dry")
    stray = Sample(ONLY_THE_LAB, "", "", "", "", "", first.day, 1.0, "", 0, 0)
    add(stray, "B2099", "N", "GC-HRMS", "PCB-118", "31508-00-6", 1.4, 0.02, "wet")
    add(stray, "B2099", "N", "GC-MS SIM", "Pyrene", "129-00-0", 88.0, 2.0, "dry")
    add(first, "B2001", "N", "GC-ECD", "Dieldrin", "60-57-1", 0.9, 0.1, "dry", unit="")
    add(first, "B2001", "N", "GC-MS SIM", INVENTED_SUBSTANCE, "", 12.0, 2.0, "dry")
    return rows


def write_workbook(book: Workbook, path: Path) -> None:
    """Write ``book`` with fixed times inside, so that the same content gives the same bytes."""
    buffer = io.BytesIO()
    book.save(buffer)
    with zipfile.ZipFile(buffer) as source, zipfile.ZipFile(path, "w") as target:
        for name in sorted(source.namelist()):
            content = source.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2026-06-01T00:00:00Z", content)
            entry = zipfile.ZipInfo(name, (2026, 6, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            target.writestr(entry, content)


def write_demo(folder: Path) -> None:
    """Write all files of the demo below ``folder``."""
    chance = random.Random(SEED)
    samples = make_samples(chance)
    (folder / "lab_sheets").mkdir(parents=True, exist_ok=True)
    write_workbook(make_field_record(samples, chance), folder / "field_record.xlsx")
    write_workbook(make_wide_workbook(samples, chance), folder / "lab_sheets" / "lab_a_metals.xlsx")
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(make_long_rows(samples, chance))
    (folder / "lab_sheets" / "lab_b_organics.csv").write_text(text.getvalue(), encoding="utf-8", newline="")


if __name__ == "__main__":
    write_demo(HERE)
