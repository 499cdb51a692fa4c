"""Empty files to start from: a lab sheet, a field record, a guideline set, settings. In: a kind and a path. Out: files.

The bytes are the same on every day. Comments are kept where no reader can take them for data: as remarks on the header
cells of a workbook, on a sheet of notes, or behind a hash.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from screen.reference.locate import data_root, read_table
from screen.reference.template import template_set

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["TemplateError", "write_template"]


class TemplateError(ValueError):
    """A template that cannot be written there. The text says why and what to do."""


#: Columns of each table, with what a person should know of them.
LAB = {
    "Sample ID": "As on the label and in the field record, letter for letter. Format the column as text.",
    "Lab ID": "The laboratory's own number. May be left out.",
    "Analyte": "Name of the substance; for unresolved PCBs all members, as in PCB-28/31.",
    "CAS": "CAS number. It decides where a name can mean two substances.",
    "Result": "The figure. Not detected: <0.5, or 0.5 with U beside it, or ND with the limit in its column.",
    "Qualifier": "Flags of the laboratory.",
    "MDL": "Detection limit, in the unit and on the basis of the result.",
    "RL": "Reporting or quantitation limit, in the unit and on the basis of the result.",
    "Unit": "Unit of the result and its limits, such as mg/kg or ug/kg. Without it a row is refused.",
    "Basis": "The weight that the result refers to, one word in each row. Without it nothing is compared.",
    "Method": "Analytical method.",
    "Collected": "Date of sampling, as in 2026-05-12.",
}
FIELD: Mapping[str, Mapping[str, str]] = {
    "stations": {
        "station": "Id of the station. Format the column as text.",
        "river_km": "Kilometres from the mouth. For river miles rename the column to river_mile.",
        "latitude": "WGS 84 decimal degrees, south negative.",
        "longitude": "WGS 84 decimal degrees, west negative.",
        "water": "fresh, estuarine or marine. It decides which guideline sets are used.",
        "role": "site or reference. Beside a reference, a station without a role is of the site.",
        "zone": "Decision unit. Each zone has its own rows in reach.csv.",
        "area_m2": "Area that the station stands for, if known; else polygons are drawn from the coordinates.",
        "remarks": "Anything else.",
    },
    "cores": {
        "core": "Id of the core. Format the column as text.",
        "station": "Id of its station.",
        "date": "As in 2026-05-12.",
        "time": "Local time.",
        "tide": "Stage or level of the tide.",
        "water_depth": "With unit, as in 4.6 m or 15 ft.",
        "bed_level": "Level of the bed with unit, as in -4.1 m. Without a datum no elevation is given.",
        "datum": "What the level refers to.",
        "penetration": "How far the tube went in, with unit, as in 39 1/2 in.",
        "recovered": "Length of the core, with unit.",
        "gear": "Corer or grab.",
        "remarks": "Losses, refusal, anything else.",
    },
    "samples": {
        "sample": "Id as on the label. Format the column as text.",
        "core": "Id of its core; for a grab leave it empty and give the station.",
        "station": "Id of its station.",
        "top": "Top of the interval below the bed, with unit, as in 0 cm or 4 1/2 in.",
        "bottom": "Bottom of the interval below the bed, with unit.",
        "date": "As in 2026-05-12.",
        "texture": "clay, silt, sand, gravel, peat and mixtures such as clayey silt.",
        "colour": "In words or in Munsell notation, as in 5Y 2.5/1.",
        "odour": "none, earthy, sulphide, petroleum ...",
        "inclusions": "shell hash, rootlets, wood, debris, sheen ...",
        "container": "Kind and size.",
        "preservation": "As in cooled to 4 C.",
        "parent": "Of a field duplicate: the sample that it duplicates.",
        "analyses": "What is asked of the laboratory, parted by semicolons.",
    },
}
_NOTES = (
    "Field record. Fill in the tables you need; columns may be left out or moved.",
    "Each length needs its unit, in the cell or in the header, as in top (cm).",
    "Ids are text: 0042 is not 42. Write an id in one way everywhere.",
    "Sediment may be contaminated: gloves and eye protection, no food on deck, and the safety plan of the site holds.",
)
_TEXT_COLUMNS = ("Sample ID", "Lab ID", "Result", "CAS", "station", "core", "sample", "parent")
_MOMENT = (1980, 1, 1, 0, 0, 0)


def write_template(kind: str, out: Path) -> list[Path]:
    """Write an empty file of ``kind`` (lab, field, set, settings) to ``out`` and return what was written.

    Lab sheets and field records are .xlsx or .csv by the suffix, settings .toml; a set is a pair, whatever the suffix.
    Raises TemplateError where a file exists or the suffix does not fit, OSError where it cannot be written.
    """
    if kind == "set":
        try:
            return list(template_set(out))
        except FileExistsError as error:
            raise TemplateError(str(error)) from error
    suffixes = {"lab": (".xlsx", ".csv"), "field": (".xlsx", ".csv"), "settings": (".toml",)}[kind]
    suffix = out.suffix.lower()
    if suffix not in suffixes:
        raise TemplateError(f"{out.name}: a {kind} template ends in {' or '.join(suffixes)}.")
    if out.exists():
        raise TemplateError(f"{out} is there already. Give another name.")
    if kind == "settings":
        content = (data_root() / "templates" / "settings.toml").read_bytes()
    else:
        tables: Mapping[str, Mapping[str, str]] = {"results": LAB} if kind == "lab" else FIELD
        content = _csv(tables) if suffix == ".csv" else _xlsx(tables, _NOTES if kind == "field" else ())
    out.write_bytes(content)
    return [out]


def _csv(tables: Mapping[str, Mapping[str, str]]) -> bytes:
    """The headers of the tables, one below the other."""
    return "\n\n".join(",".join(columns) for columns in tables.values()).encode() + b"\n"


def _xlsx(tables: Mapping[str, Mapping[str, str]], notes: tuple[str, ...]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    for name, columns in tables.items():
        _sheet(book.create_sheet(name), columns)
        _suggest(book[name], columns)
    if notes:
        sheet = book.create_sheet("notes")
        for note in notes:
            sheet.append([note])
        sheet.column_dimensions["A"].width = 110
    return _timeless(book)


def _sheet(sheet: Worksheet, columns: Mapping[str, str]) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    for at, (name, remark) in enumerate(columns.items(), start=1):
        cell = sheet.cell(1, at, name)
        cell.font = Font(bold=True)
        cell.comment = Comment(remark, "template", height=90, width=260)
        column = sheet.column_dimensions[get_column_letter(at)]
        column.width = max(12, len(name) + 3)
        if name in _TEXT_COLUMNS:
            column.number_format = "@"
    sheet.freeze_panes = "A2"


def _suggest(sheet: Worksheet, columns: Mapping[str, str]) -> None:
    """Offer the trade's usual terms in the cells of their columns; any other text may be typed."""
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    terms = read_table("vocabulary/field_terms.csv")
    for name, part in terms[terms["table"] == sheet.title].groupby("field", sort=False):
        if str(name) in columns:
            letter = get_column_letter(list(columns).index(str(name)) + 1)
            words = ",".join(part["term"])  # so no term holds a comma
            rule = DataValidation("list", formula1=f'"{words}"', allow_blank=True, showErrorMessage=False)
            rule.add(f"{letter}2:{letter}1000")
            sheet.add_data_validation(rule)


def _timeless(book: Workbook) -> bytes:
    """The workbook's bytes without the time of writing."""
    raw, made = io.BytesIO(), io.BytesIO()
    book.save(raw)
    with zipfile.ZipFile(raw) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb">\d{4}-\d\d-\d\dT[\d:]+Z<", b">1980-01-01T00:00:00Z<", content)
            entry = zipfile.ZipInfo(name, _MOMENT)
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, content)
    return made.getvalue()
