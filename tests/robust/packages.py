"""Workbooks written part by part, so that they can hold what no spreadsheet program would write: rows in, bytes out."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from xml.sax.saxutils import escape, quoteattr

from screen.letters import column_letter

__all__ = ["ods_parts", "packed", "sheet_xml", "xlsx_parts"]

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def _cell(place: str, value: object) -> str:
    if isinstance(value, (int, float)):
        return f'<c r="{place}"><v>{value}</v></c>'
    text = str(value)
    if text.startswith("<"):  # a cell given as XML
        return text.replace("PLACE", place)
    return f'<c r="{place}" t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'


def sheet_xml(rows: Iterable[Sequence[object]]) -> str:
    """A sheet with these rows. A value that begins with ``<c `` is taken as the cell's own XML."""
    lines = []
    for number, row in enumerate(rows, 1):
        cells = "".join(
            _cell(f"{column_letter(column)}{number}", value)
            for column, value in enumerate(row)
            if value not in (None, "")
        )
        lines.append(f'<row r="{number}">{cells}</row>')
    return f'<worksheet xmlns="{_MAIN}"><sheetData>{"".join(lines)}</sheetData></worksheet>'


def xlsx_parts(sheets: Mapping[str, str], more: Mapping[str, bytes] | None = None) -> dict[str, bytes]:
    """The parts of a workbook; ``sheets`` maps names to XML, ``more`` are further parts or ones in place of ours."""
    names = list(sheets)
    types = "".join(
        f'<Override PartName="/xl/worksheets/sheet{i}.xml" ContentType="{_SHEET_TYPE}.worksheet+xml"/>'
        for i, _ in enumerate(names, 1)
    )
    listed = "".join(f'<sheet name={quoteattr(name)} sheetId="{i}" r:id="rId{i}"/>' for i, name in enumerate(names, 1))
    related = "".join(
        f'<Relationship Id="rId{i}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{i}.xml"/>'
        for i, _ in enumerate(names, 1)
    )
    parts = {
        "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types"><Default Extension="rels" ContentType='
        f'"application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" '
        f'ContentType="{_SHEET_TYPE}.sheet.main+xml"/>{types}</Types>',
        "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{listed}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">{related}</Relationships>',
    }
    parts |= {f"xl/worksheets/sheet{i}.xml": xml for i, xml in enumerate(sheets.values(), 1)}
    return {name: text.encode("utf-8", "surrogatepass") for name, text in parts.items()} | dict(more or {})


def ods_parts(rows: Iterable[Sequence[object]], name: str = "Results", doctype: str = "") -> dict[str, bytes]:
    """The parts of an open document with one sheet of texts; ``doctype`` stands in front of its content."""
    space = "urn:oasis:names:tc:opendocument:xmlns"
    lines = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{value}</text:p></table:table-cell>' for value in row
        )
        + "</table:table-row>"
        for row in rows
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?>{doctype}<office:document-content xmlns:office="{space}:office:1.0" '
        f'xmlns:table="{space}:table:1.0" xmlns:text="{space}:text:1.0" office:version="1.2"><office:body>'
        f"<office:spreadsheet><table:table table:name={quoteattr(name)}>{lines}</table:table></office:spreadsheet>"
        "</office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = f'<manifest:manifest xmlns:manifest="{space}:manifest:1.0"/>'
    return {"mimetype": kind.encode(), "content.xml": content.encode(), "META-INF/manifest.xml": manifest.encode()}


def packed(parts: Mapping[str, bytes]) -> bytes:
    """The parts as a zip package, the same bytes every time."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        for name, part in parts.items():
            package.writestr(zipfile.ZipInfo(name), part, zipfile.ZIP_DEFLATED)
    return stream.getvalue()
