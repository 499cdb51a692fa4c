"""The marks of findings: a word, a shape and a tone, each enough alone. In: a finding. Out: words and SVG symbols.

Pictures use the symbols; in tables the same drawings are images of the style sheet, since a matrix of some thousand
marks as inline drawings takes twice as long to lay out and to paint.
"""

from __future__ import annotations

import re
from urllib.parse import quote

from markupsafe import Markup

__all__ = ["CAUSES", "GRAVITY", "LEGEND", "OPEN", "SYMBOLS", "WORDS", "head", "images", "use", "word"]

#: The words of the report, gravest first.
WORDS = {
    "above": "above",
    "between": "between levels",
    "undetermined": "limit too high",
    "below": "below",
    "not-assessed": "not assessed",
}
#: What stands behind that third word, and the same in few words behind it; "limit" is what it says.
CAUSES = {
    "limit": "",
    "trace": "a trace, not quantified",
    "peak": "the peak is shared",
    "members": "the sum lacks members",
    "more-than": "known only as more than a figure",
}
#: The third word where it stands for all of these.
OPEN = "limit too high or members missing"
#: Which of several findings stands for a place: the higher, the graver.
GRAVITY = {"not-assessed": 0, "below": 1, "undetermined": 2, "between": 3, "above": 4}
LEGEND = {
    "above": "The value is above the upper level.",
    "between": "The value is above the lower level and not above the upper one.",
    "undetermined": (
        "Cannot be judged: the laboratory's limit lies above the lower level, or, where that is said in brackets, "
        "the sum lacks members or no more is known than a lower bound."
    ),
    "below": "The value is not above the lower level.",
    "not-assessed": "No number on the guideline's basis; the reason is given.",
}
#: One drawing of each mark, 20 by 20, around 10, 10; ``notch`` is laid over it where a finding is unsettled.
SYMBOLS = Markup(
    '<symbol id="m-above" viewBox="0 0 20 20"><rect class="k-above" x="3" y="3" width="14" height="14"/></symbol>'
    '<symbol id="m-between" viewBox="0 0 20 20"><circle class="k-ring" cx="10" cy="10" r="6"/>'
    '<path class="k-between" d="M4 10a6 6 0 0 0 12 0z"/></symbol>'
    '<symbol id="m-undetermined" viewBox="0 0 20 20"><circle class="k-dotted" cx="10" cy="10" r="6.5"/>'
    '<circle class="k-dot" cx="10" cy="10" r="1.8"/></symbol>'
    '<symbol id="m-below" viewBox="0 0 20 20"><circle class="k-below" cx="10" cy="10" r="4.5"/></symbol>'
    '<symbol id="m-not-assessed" viewBox="0 0 20 20"><path class="k-dash" d="M5 10h10"/></symbol>'
    '<symbol id="m-notch" viewBox="0 0 20 20"><path class="k-notch" d="M13 1h6v6z"/></symbol>'
    '<symbol id="m-limit" viewBox="0 0 20 20"><path class="k-limit" d="M4 10h12M5 10l5 8 5-8"/></symbol>'
)


def images(rules: str) -> dict[str, Markup]:
    """Each mark as an image that a style sheet can hold; ``rules`` say how its classes are drawn, without variables."""
    drawings = re.findall(r'<symbol id="m-([a-z-]+)" viewBox="([^"]+)">(.*?)</symbol>', SYMBOLS)
    return {
        name: Markup("url('data:image/svg+xml,{}')").format(
            Markup(
                quote(
                    f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}"><style>{rules}</style>{drawing}</svg>',
                    safe=" =,.;{}",
                )
            )
        )
        for name, box, drawing in drawings
    }


def word(finding: str, *, unsettled: bool = False, cause: str = "") -> str:
    """The word of a finding, with "unsettled" where it hangs on how non-detects are counted.

    ``cause`` is one of CAUSES, for a finding that cannot be judged.
    """
    if finding == "undetermined":
        return f"{WORDS[finding]} ({CAUSES[cause]})" if CAUSES.get(cause) else WORDS[finding]
    return f"{WORDS[finding]}, unsettled" if unsettled else WORDS[finding]


def head(finding: str) -> str:
    """The word of a kind of finding at the head of a column or in a list of all kinds."""
    return OPEN if finding == "undetermined" else WORDS[finding]


def use(finding: str, *, unsettled: bool = False, x: float = 10, y: float = 10, size: float = 20) -> Markup:
    """The mark inside a drawing, its middle at ``x``, ``y``."""
    names = [finding, "notch"] if unsettled and finding != "undetermined" else [finding]
    left, top = x - size / 2, y - size / 2
    return Markup("").join(
        Markup('<use href="#m-{}" x="{}" y="{}" width="{}" height="{}"/>').format(
            name, f"{left:.4g}", f"{top:.4g}", f"{size:g}", f"{size:g}"
        )
        for name in names
    )
