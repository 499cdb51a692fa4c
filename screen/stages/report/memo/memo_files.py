"""The memo as files. In: a finished ``Run``. Out: ``memo.md`` and ``memo.docx``, the same bytes for the same run.

The second needs python-docx (extra ``memo``).
"""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from screen.stages.report.facts import Facts
from screen.stages.report.memo.memo import Grid, Heading, Items, Part, Text, memo
from screen.templating import without_controls

if TYPE_CHECKING:
    from docx.document import Document
    from docx.table import _Cell

    from screen.model import Run

__all__ = ["write_memo"]

_DATE = (1980, 1, 1, 0, 0, 0)
_MOMENT = dt.datetime(1980, 1, 1, tzinfo=dt.UTC)
#: Widths in mm: of the text on A4, of a character in a table, and of a cell's two edges.
_TEXT_MM, _CHARACTER_MM, _CELL_EDGES_MM = 180.0, 1.75, 4.2
#: Signs that Markdown would take for its own.
_MARKUP = re.compile(r"([\\`*_\[\]<>|~])")
#: A line that begins like a heading, a list or a quotation.
_BEGINS = re.compile(r"^(\s*)([#+>-]|\d+\.)(\s)")
#: Signs that XML cannot hold.
_UNFIT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")


def write_memo(run: Run, folder: Path) -> None:
    """Write both files of ``run`` into ``folder``. Raises ImportError without python-docx."""
    parts = memo(Facts(run))
    (folder / "memo.md").write_text(markdown(parts), encoding="utf-8", newline="\n")
    (folder / "memo.docx").write_bytes(document(parts))


def markdown(parts: Sequence[Part]) -> str:
    """The parts as Markdown with tables; text from outside shows as text."""
    return "\n\n".join("\n".join(_lines(part)) for part in parts) + "\n"


def _plain(text: str) -> str:
    return _BEGINS.sub(r"\1\\\2\3", _MARKUP.sub(r"\\\1", " ".join(without_controls(text).split())))


def _lines(part: Part) -> list[str]:
    if isinstance(part, Heading):
        return [f"{'#' * part.rank} {_plain(part.text)}"]
    if isinstance(part, Text):
        return [f"**{_plain(part.lead)}.** {_plain(part.text)}" if part.lead else _plain(part.text)]
    if isinstance(part, Items):
        return [f"{f'{at}.' if part.numbered else '-'} {_plain(text)}" for at, text in enumerate(part.texts, 1)]
    rule = ["---:" if at in part.figures else "---" for at in range(len(part.heads))]
    rows = [part.heads, *part.rows]
    cells = [f"| {' | '.join(map(_plain, row))} |" for row in rows]
    return [f"{_plain(part.caption)}", "", cells[0], f"| {' | '.join(rule)} |", *cells[1:]]


def document(parts: Sequence[Part]) -> bytes:
    """The parts as a word processor's document (.docx)."""
    import docx
    from docx.shared import Mm, Pt

    made = docx.Document()
    section = made.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm((210 - _TEXT_MM) / 2)
    made.styles["Normal"].font.size = Pt(10.5)
    title = next((part.text for part in parts if isinstance(part, Heading) and part.rank == 1), "")
    about = made.core_properties
    about.title, about.author, about.comments = _fit(title)[:255], "", ""
    about.created = about.modified = about.last_printed = _MOMENT
    for part in parts:
        _add(made, part)
    out = io.BytesIO()
    made.save(out)
    return _dated(out)


def _fit(text: str) -> str:
    return _UNFIT.sub("\ufffd", text.encode("utf-8", "replace").decode("utf-8"))


def _add(made: Document, part: Part) -> None:
    if isinstance(part, Heading):
        made.add_heading(_fit(part.text), part.rank - 1)
    elif isinstance(part, Text):
        paragraph = made.add_paragraph()
        if part.lead:
            paragraph.add_run(f"{_fit(part.lead)}. ").bold = True
        paragraph.add_run(_fit(part.text))
    elif isinstance(part, Items):
        for text in part.texts:
            made.add_paragraph(_fit(text), style="List Number" if part.numbered else "List Bullet")
    else:
        _add_table(made, part)


def _add_table(made: Document, part: Grid) -> None:
    from docx.oxml import OxmlElement
    from docx.shared import Mm

    caption = made.add_paragraph()
    caption.add_run(_fit(part.caption)).bold = True
    caption.paragraph_format.keep_with_next = True
    table = made.add_table(rows=1 + len(part.rows), cols=len(part.heads), style="Table Grid")
    cells = table._cells  # one look-up of all cells: each call of `table.cell` would walk the whole table
    for at, text in enumerate(text for row in (part.heads, *part.rows) for text in row):
        _fill(cells[at], text, bold=at < len(part.heads), figure=at % len(part.heads) in part.figures)
    table.autofit = False
    widths = [Mm(width) for width in _widths([part.heads, *part.rows])]
    for column, width in zip(table.columns, widths, strict=True):
        column.width = width
    for at, cell in enumerate(cells):
        cell.width = widths[at % len(widths)]
    for row in table.rows:
        row._tr.get_or_add_trPr().append(OxmlElement("w:cantSplit"))
    table.rows[0]._tr.get_or_add_trPr().append(OxmlElement("w:tblHeader"))
    made.add_paragraph()


def _widths(rows: Sequence[Sequence[str]]) -> list[float]:
    """Widths of the columns in mm: room for the longest word of each, the rest by the length of its texts."""
    columns = list(zip(*rows, strict=True))
    words = [max(len(word) for text in column for word in (text.split() or [""])) for column in columns]
    texts = [max(len(text) for text in column) for column in columns]
    least = [_CHARACTER_MM * word + _CELL_EDGES_MM for word in words]
    wanted = [_CHARACTER_MM * (text - word) for text, word in zip(texts, words, strict=True)]
    share = max(_TEXT_MM - sum(least), 0.0) / (sum(wanted) or 1.0)
    filled = [room + share * more for room, more in zip(least, wanted, strict=True)]
    return [_TEXT_MM * one / sum(filled) for one in filled]


def _fill(cell: _Cell, text: str, *, bold: bool, figure: bool) -> None:
    from docx.enum.text import WD_ALIGN_PARAGRAPH
    from docx.shared import Pt

    paragraph = cell.paragraphs[0]
    run = paragraph.add_run(_fit(text))
    run.bold, run.font.size = bold or None, Pt(7.5)
    paragraph.paragraph_format.space_after = Pt(0)
    if figure:
        paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT


def _dated(package: io.BytesIO) -> bytes:
    """The same package with every part of one date, so that no clock is in it."""
    out = io.BytesIO()
    with zipfile.ZipFile(package) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in sorted(source.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            part = zipfile.ZipInfo(name, _DATE)
            part.compress_type, part.create_system = zipfile.ZIP_DEFLATED, 0
            target.writestr(part, source.read(name))
    return out.getvalue()
