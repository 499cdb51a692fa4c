"""Sample labels to print. In: samples as packed and a paper size. Out: an HTML page, one label per container.

The code on a label is a QR code (ISO/IEC 18004) that holds the sample's id and nothing else.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from screen.fieldwork.pages import SHEETS, filled
from screen.fieldwork.shipment import Packed

__all__ = ["Label", "labels_page", "make_labels", "symbol"]

#: A label's size on paper, mm; a sheet takes as many as fit within its margins.
_LABEL = (94.0, 52.0)
_MARGIN = 8.0
#: As much of the list of analyses as a label has room for.
_MOST_LETTERS = 170


@dataclass(frozen=True, slots=True)
class Label:
    """One label: the sample, which of its containers this is, and the code as inline SVG."""

    packed: Packed
    container: str
    number: int
    of: int
    code: Markup

    @property
    def analyses(self) -> str:
        """What is asked of the laboratory, as written; where that is too long for a label, how many more there are."""
        asked = [text for text, _ in self.packed.analyses]
        shown = list(asked)
        while len("; ".join(shown)) > _MOST_LETTERS and len(shown) > 1:
            shown.pop()
        left = len(asked) - len(shown)
        return "; ".join(shown) + (f" and {left} more, see the custody record" if left else "")

    @property
    def kept(self) -> str:
        """Container, preservation and which container of the sample this is."""
        count = f"container {self.number} of {self.of}" if self.of > 1 else ""
        return " · ".join(filter(None, (self.container, self.packed.preservation, count)))


def make_labels(samples: Sequence[Packed]) -> list[Label]:
    """One label for each container of each sample, one for a sample whose container is not said."""
    labels = []
    for one in samples:
        code = symbol(one.sample)
        kinds = one.containers or ("",)
        labels += [Label(one, kind, at, len(kinds), code) for at, kind in enumerate(kinds, start=1)]
    return labels


def symbol(text: str) -> Markup:
    """The QR code of ``text`` (UTF-8) as inline SVG with its quiet zone; a quarter of it may be lost (level Q)."""
    import segno

    out = io.BytesIO()
    made = segno.make(text, error="q", micro=False, boost_error=False)
    made.save(out, kind="svg", xmldecl=False, svgns=False, nl=False, omitsize=True, light="#fff", title=text)
    return Markup(out.getvalue().decode("utf-8"))


def labels_page(labels: Sequence[Label], sheet: str) -> str:
    """The page of ``labels`` on paper of the size ``sheet`` (A4 or Letter)."""
    width, height = SHEETS[sheet]
    across = int((width - 2 * _MARGIN) // _LABEL[0])
    down = int((height - 2 * _MARGIN) // _LABEL[1])
    each = across * down
    sheets = [labels[start : start + each] for start in range(0, len(labels), each)]
    return filled(
        "labels.html", sheet, sheets=sheets, paper=sheet, label=_LABEL, across=across,
        left=(width - across * _LABEL[0]) / 2, top=(height - down * _LABEL[1]) / 2,
    )  # fmt: skip
