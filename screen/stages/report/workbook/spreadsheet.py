"""An .xlsx package (ECMA-376, SpreadsheetML) written column by column. In: sheets of plain columns. Out: the file.

Doubles are written in full, text is always text, and the same sheets give the same bytes: every part of the package has
the same date, and no clock is read.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import numpy as np

from screen.letters import column_letter
from screen.stages.report.text import number_texts

__all__ = ["STYLES", "Book", "Column", "Figures", "Flags", "Formulas", "Sheet", "Words"]

_CHUNK = 20_000
_DATE = (1980, 1, 1, 0, 0, 0)
_FAST = 1  # of zlib: larger than the best, in a fraction of the time
#: A cell holds no more signs than this.
_MOST_SIGNS = 32_767
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_HEADER = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
#: Signs that XML cannot hold, and texts that look like their escape.
_UNFIT = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
#: The cell formats, by name: number format, font (0 plain, 1 bold, 2 title), border (1 below, 2 above), alignment.
STYLES = {
    "plain": ("General", 0, 0, ""),
    "head": ("General", 1, 1, '<alignment vertical="top" wrapText="1"/>'),
    "title": ("General", 2, 0, ""),
    "section": ("General", 1, 2, ""),
    "name": ("General", 0, 0, '<alignment vertical="top"/>'),
    "prose": ("General", 0, 0, '<alignment vertical="top" wrapText="1"/>'),
    "whole": ("#,##0", 0, 0, ""),
    "1": ("0.0", 0, 0, ""),
    "2": ("0.00", 0, 0, ""),
    "3": ("0.000", 0, 0, ""),
    "4": ("0.0000", 0, 0, ""),
    "5": ("0.00000", 0, 0, ""),
}
_STYLE_AT = {name: at for at, name in enumerate(STYLES)}


@dataclass(frozen=True, slots=True)
class Words:
    """A column of texts by code, -1 for an empty cell; ``styles`` names the format of each text, or one for all."""

    codes: np.ndarray[Any, Any]
    texts: Sequence[str]
    styles: Sequence[str] | str = "plain"


@dataclass(frozen=True, slots=True)
class Figures:
    """A column of doubles, NaN for an empty cell; ``styles`` names the format of each, or one for all."""

    values: np.ndarray[Any, Any]
    styles: Sequence[str] | str = "plain"


@dataclass(frozen=True, slots=True)
class Flags:
    """A column of flags: 1, 0, or -1 for an empty cell."""

    values: np.ndarray[Any, Any]


@dataclass(frozen=True, slots=True)
class Formulas:
    """A column of formulas without their ``=``, an empty text for an empty cell, each with the value that it has."""

    texts: Sequence[str]
    values: Sequence[float | str | bool]


Column = Words | Figures | Flags | Formulas


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet: columns of one length, widths, rows and columns that stay in sight, lines of text in each row."""

    name: str
    columns: Sequence[Column]
    widths: Sequence[float]
    held: tuple[int, int] = (0, 0)
    filtered: bool = False
    heads: tuple[str, ...] = ()
    lines: Sequence[int] = ()

    @property
    def rows(self) -> int:
        """How many rows it has below its heads."""
        first = self.columns[0]
        return len(first.codes if isinstance(first, Words) else first.values)


class Book:
    """A workbook that is written sheet by sheet; use it as a context manager, or ``close`` it."""

    def __init__(self, path: Path, title: str) -> None:
        self._zip = zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=_FAST)
        self._title = title
        self._sheets: list[Sheet] = []
        self._strings: dict[str, int] = {}
        self._uses = 0

    def __enter__(self) -> Book:
        """The book itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Finish the file."""
        self.close()

    def add(self, sheet: Sheet) -> None:
        """Write one sheet."""
        self._sheets.append(sheet)
        with self._zip.open(_part(f"xl/worksheets/sheet{len(self._sheets)}.xml"), "w") as out:
            for text in self._sheet(sheet):
                out.write(text.encode("utf-8"))

    def _sheet(self, sheet: Sheet) -> Iterator[str]:
        above = 1 if sheet.heads else 0
        last = f"{column_letter(len(sheet.columns) - 1)}{max(1, sheet.rows + above)}"
        widths = "".join(
            f'<col min="{at}" max="{at}" width="{width:.1f}" customWidth="1"/>'
            for at, width in enumerate(sheet.widths, 1)
        )
        yield (
            f'{_HEADER}<worksheet xmlns="{_MAIN}"><sheetPr><pageSetUpPr fitToPage="1"/></sheetPr>'
            f'<dimension ref="A1:{last}"/>'
            f'<sheetViews><sheetView workbookViewId="0">{_pane(*sheet.held)}</sheetView></sheetViews>'
            f"<cols>{widths}</cols><sheetData>"
        )
        bodies = [self._bodies(column) for column in sheet.columns]
        names = [column_letter(at) for at in range(len(sheet.columns))]
        if sheet.heads:
            at = _STYLE_AT["head"]
            self._uses += len(names)
            yield (
                '<row r="1">'
                + "".join(
                    f'<c r="{name}1" s="{at}" t="s"><v>{self._string(head)}</v></c>'
                    for name, head in zip(names, sheet.heads, strict=True)
                )
                + "</row>"
            )
        for start in range(0, sheet.rows, _CHUNK):
            numbers = range(start + above + 1, min(start + _CHUNK, sheet.rows) + above + 1)
            cells = [
                [
                    f'<c r="{name}{row}"{one}' if one else ""
                    for row, one in zip(numbers, body(start, len(numbers)), strict=True)
                ]
                for name, body in zip(names, bodies, strict=True)
            ]
            high = [f' ht="{15 * lines}" customHeight="1"' for lines in sheet.lines] or [""] * len(numbers)
            yield "".join(
                f'<row r="{row}"{tall}>{"".join(parts)}</row>'
                for row, tall, parts in zip(numbers, high, zip(*cells, strict=True), strict=True)
            )
        filtered = f'<autoFilter ref="A1:{last}"/>' if sheet.filtered else ""
        yield (
            f"</sheetData>{filtered}"
            '<pageMargins left="0.5" right="0.5" top="0.6" bottom="0.6" header="0.3" footer="0.3"/>'
            '<pageSetup orientation="landscape" fitToHeight="0"/></worksheet>'
        )

    def _bodies(self, column: Column) -> Any:
        """What stands after the reference of each cell, by chunk; empty for an empty cell."""
        if isinstance(column, Words):
            styles = [column.styles] * len(column.texts) if isinstance(column.styles, str) else column.styles
            written = [
                f' s="{_STYLE_AT[style]}" t="s"><v>{self._string(text)}</v></c>'
                for style, text in zip(styles, column.texts, strict=True)
            ]
            texts = np.array([*written, ""], dtype=object)
            self._uses += int((column.codes >= 0).sum())
            return lambda start, size: texts.take(column.codes[start : start + size]).tolist()
        if isinstance(column, Flags):
            flags = np.array([' t="b"><v>0</v></c>', ' t="b"><v>1</v></c>', ""], dtype=object)
            return lambda start, size: flags.take(column.values[start : start + size]).tolist()
        if isinstance(column, Formulas):
            return lambda start, size: _formula_bodies(column, start, size)
        return lambda start, size: _figure_bodies(column, start, size)

    def _string(self, text: str) -> int:
        if len(text) > _MOST_SIGNS:
            text = text[: _MOST_SIGNS - 1] + "…"
        return self._strings.setdefault(text, len(self._strings))

    def close(self) -> None:
        """Write what holds the sheets together, and finish the file."""
        names = [escape(sheet.name, {'"': "&quot;"}) for sheet in self._sheets]
        kinds = "application/vnd.openxmlformats-officedocument.spreadsheetml"
        overrides = [
            ("xl/workbook.xml", f"{kinds}.sheet.main+xml"),
            ("xl/styles.xml", f"{kinds}.styles+xml"),
            ("xl/sharedStrings.xml", f"{kinds}.sharedStrings+xml"),
            ("docProps/core.xml", "application/vnd.openxmlformats-package.core-properties+xml"),
        ]
        overrides += [(f"xl/worksheets/sheet{at}.xml", f"{kinds}.worksheet+xml") for at in range(1, len(names) + 1)]
        targets = [("worksheet", f"worksheets/sheet{at}.xml") for at in range(1, len(names) + 1)]
        targets += [("styles", "styles.xml"), ("sharedStrings", "sharedStrings.xml")]
        links = "".join(
            f'<Relationship Id="rId{at}" Type="{_OFFICE}/{kind}" Target="{target}"/>'
            for at, (kind, target) in enumerate(targets, 1)
        )
        heads = "".join(
            f'<definedName name="_xlnm.Print_Titles" localSheetId="{at}">\'{name}\'!$1:$1</definedName>'
            for at, (name, sheet) in enumerate(zip(names, self._sheets, strict=True))
            if sheet.filtered
        )
        sheets = "".join(f'<sheet name="{name}" sheetId="{at}" r:id="rId{at}"/>' for at, name in enumerate(names, 1))
        parts = {
            "[Content_Types].xml": f'<Types xmlns="{_PACKAGE}/content-types"><Default Extension="rels" '
            'ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" '
            'ContentType="application/xml"/>'
            + "".join(f'<Override PartName="/{part}" ContentType="{kind}"/>' for part, kind in overrides)
            + "</Types>",
            "_rels/.rels": f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
            f'Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/><Relationship Id="rId2" '
            f'Type="{_PACKAGE}/relationships/metadata/core-properties" Target="docProps/core.xml"/></Relationships>',
            "docProps/core.xml": f'<cp:coreProperties xmlns:cp="{_PACKAGE}/metadata/core-properties" '
            'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:dcterms="http://purl.org/dc/terms/" '
            f'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"><dc:title>{_fit(self._title)}</dc:title>'
            '<dcterms:created xsi:type="dcterms:W3CDTF">1980-01-01T00:00:00Z</dcterms:created></cp:coreProperties>',
            "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{_PACKAGE}/relationships">{links}</Relationships>',
            "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}"><sheets>{sheets}</sheets>'
            f"{f'<definedNames>{heads}</definedNames>' if heads else ''}</workbook>",
            "xl/styles.xml": _styles(),
            "xl/sharedStrings.xml": f'<sst xmlns="{_MAIN}" count="{self._uses}" uniqueCount="{len(self._strings)}">'
            + "".join(f'<si><t xml:space="preserve">{_fit(text)}</t></si>' for text in self._strings)
            + "</sst>",
        }
        for name, text in parts.items():
            self._zip.writestr(_part(name), _HEADER + text, compresslevel=_FAST)
        self._zip.close()


def _part(name: str) -> zipfile.ZipInfo:
    part = zipfile.ZipInfo(name, _DATE)
    part.compress_type = zipfile.ZIP_DEFLATED
    part.create_system = 0
    part._compresslevel = _FAST  # type: ignore[attr-defined]  # `ZipFile.open` takes it from nowhere else
    return part


def _figure_bodies(column: Figures, start: int, size: int) -> list[str]:
    values = column.values[start : start + size]
    known = np.isfinite(values)
    texts = np.full(len(values), "", dtype=object)
    texts[known] = number_texts(values[known])
    if isinstance(column.styles, str):
        at = _STYLE_AT[column.styles]
        return [f' s="{at}"><v>{text}</v></c>' if text else "" for text in texts.tolist()]
    styles = [_STYLE_AT[name] for name in column.styles[start : start + size]]
    return [f' s="{at}"><v>{text}</v></c>' if text else "" for at, text in zip(styles, texts.tolist(), strict=True)]


def _formula_bodies(column: Formulas, start: int, size: int) -> list[str]:
    pairs = zip(column.texts[start : start + size], column.values[start : start + size], strict=True)
    return [_formula_body(text, value) if text else "" for text, value in pairs]


def _formula_body(text: str, value: float | str | bool) -> str:
    if isinstance(value, bool):
        kind, stored = ' t="b"', str(int(value))
    elif isinstance(value, str):
        kind, stored = ' t="str"', _fit(value)
    else:
        kind, stored = "", number_texts(np.array([value]))[0]
    return f"{kind}><f>{_fit(text)}</f><v>{stored}</v></c>"


def _fit(text: str) -> str:
    """``text`` for XML: signs that it cannot hold become the escapes that the format has for them."""
    return escape(_UNFIT.sub(lambda found: f"_x{ord(found[0]):04X}_", text.encode("utf-8", "replace").decode("utf-8")))


def _pane(rows: int, columns: int) -> str:
    if not rows and not columns:
        return ""
    across = f'xSplit="{columns}" ' if columns else ""
    down = f'ySplit="{rows}" ' if rows else ""
    where = "bottomRight" if rows and columns else "bottomLeft" if rows else "topRight"
    return f'<pane {across}{down}topLeftCell="{column_letter(columns)}{rows + 1}" activePane="{where}" state="frozen"/>'


def _styles() -> str:
    own = list(dict.fromkeys(shown for shown, *_ in STYLES.values() if shown != "General"))
    at = {"General": 0, **{shown: 164 + number for number, shown in enumerate(own)}}
    formats = "".join(f'<numFmt numFmtId="{at[shown]}" formatCode="{escape(shown)}"/>' for shown in own)
    cells = "".join(
        f'<xf numFmtId="{at[shown]}" fontId="{font}" fillId="0" borderId="{border}" xfId="0" applyNumberFormat="1" '
        f'applyFont="1" applyBorder="1" applyAlignment="1">{alignment}</xf>'
        for shown, font, border, alignment in STYLES.values()
    )
    font = '<name val="Calibri"/><family val="2"/>'
    edge = "<left/><right/>{}<diagonal/>"
    borders = "".join(
        f"<border>{edge.format(lines)}</border>"
        for lines in ("<top/><bottom/>", '<top/><bottom style="thin"/>', '<top style="thin"/><bottom/>')
    )
    return (
        f'<styleSheet xmlns="{_MAIN}"><numFmts count="{len(own)}">{formats}</numFmts>'
        f'<fonts count="3"><font><sz val="11"/>{font}</font><font><b/><sz val="11"/>{font}</font>'
        f'<font><b/><sz val="16"/>{font}</font></fonts>'
        '<fills count="2"><fill><patternFill patternType="none"/></fill>'
        '<fill><patternFill patternType="gray125"/></fill></fills>'
        f'<borders count="3">{borders}</borders>'
        '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
        f'<cellXfs count="{len(STYLES)}">{cells}</cellXfs>'
        '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
    )
