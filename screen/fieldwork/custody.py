"""The chain-of-custody record and the laboratory's order. In: samples as packed, guideline sets, texts. Out: HTML.

One form for the whole shipment: samples, containers, what each is analysed for, the lines on which it changes hands;
then what the laboratory is asked for, with the source of each figure, and how the samples are handled.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass

from screen.fieldwork.ask_the_lab import CARBON_PCT, ask_the_lab
from screen.fieldwork.pages import filled
from screen.fieldwork.shipment import Packed
from screen.reference.locate import data_root
from screen.reference.sets import GuidelineSet

__all__ = ["custody_page"]

#: Analyses that have a column of their own; with more of them each sample lists its own.
_MOST_COLUMNS = 9
_ROWS_TO_SPARE = 3
_HANDS = 4


@dataclass(frozen=True, slots=True)
class _Row:
    packed: Packed
    containers: str
    count: int
    marks: tuple[bool, ...]


def custody_page(
    samples: Sequence[Packed], sets: Sequence[GuidelineSet], sheet: str, *, title: str = "", prepared_by: str = ""
) -> str:
    """The form of ``samples`` on paper of the size ``sheet`` (A4 or Letter), limits low enough for ``sets``."""
    columns = list(dict.fromkeys(text for one in samples for text, _ in one.analyses))
    if len(columns) > _MOST_COLUMNS:
        columns = []
    rows = [
        _Row(
            one,
            "; ".join(dict.fromkeys(one.containers)),
            len(one.containers),
            tuple(any(text == column for text, _ in one.analyses) for column in columns),
        )
        for one in samples
    ]
    ask = ask_the_lab(samples, sets)
    return filled(
        "custody.html",
        sheet,
        title=title,
        prepared_by=prepared_by,
        rows=rows,
        columns=columns,
        spare=_ROWS_TO_SPARE,
        hands=_HANDS,
        containers=sum(row.count for row in rows),
        ask=ask,
        sets=sets,
        carbon=f"{CARBON_PCT:g}",
        cautions=_handling(any(one.core for one in samples)),
    )


def _handling(cores: bool) -> list[dict[str, str]]:
    """The cautions for those who handle the samples."""
    with (data_root() / "vocabulary" / "cautions.toml").open("rb") as file:
        every = tomllib.load(file)["caution"]
    holds = {"always": True, "cores": cores}
    return [one for one in every if one["part"] == "handling" and holds.get(one["when"], False)]
