"""Holding times, containers and the words for analyses. In: `guidelines/coefficients/holding_times.csv`. Out: look-ups.

Days count from sampling to extraction, from extraction to analysis, or from sampling to analysis where nothing is
extracted. They differ by programme: each row names its source and how well it was seen.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from screen.reference.locate import read_table
from screen.reference.substances import describe

__all__ = ["Analysis", "analyses", "analyses_asked", "analysis_of"]


@dataclass(frozen=True, slots=True)
class Analysis:
    """One kind of analysis: what it needs before the laboratory has it, and how long it keeps.

    ``to_extraction``, ``after_extraction`` and ``to_analysis`` in days, NaN where no such limit stands; ``evidence``
    is that of the days, ``frozen_evidence`` that of ``frozen``, ``container_evidence`` that of ``container``.
    """

    name: str
    words: tuple[str, ...]
    groups: tuple[str, ...]
    substances: tuple[str, ...]
    to_extraction: float
    after_extraction: float
    to_analysis: float
    cooled: str
    frozen: str
    container: str
    note: str
    source: str
    evidence: str
    frozen_evidence: str
    container_evidence: str

    @property
    def days(self) -> str:
        """The holding time in words; empty where none is on file."""
        parts = [
            (self.to_extraction, "to extraction"),
            (self.after_extraction, "from extraction to analysis"),
            (self.to_analysis, "to analysis"),
        ]
        return ", ".join(f"{days:g} days {words}" for days, words in parts if not math.isnan(days))


@cache
def analyses() -> tuple[Analysis, ...]:
    """All kinds of analysis, in the order of the table."""
    return tuple(
        Analysis(
            row["analysis"],
            _listed(row["words"]),
            _listed(row["groups"]),
            _listed(row["substances"]),
            float(row["to_extraction_days"] or "nan"),
            float(row["after_extraction_days"] or "nan"),
            float(row["to_analysis_days"] or "nan"),
            row["cooled"],
            row["frozen"],
            row["container"],
            row["note"],
            row["source"],
            row["evidence"],
            row["frozen_evidence"],
            row["container_evidence"],
        )
        for row in read_table("coefficients/holding_times.csv").to_dict("records")
    )


def analyses_asked(text: str) -> list[tuple[str, Analysis | None]]:
    """What a text such as ``metals; PAHs; lipids`` asks for: each part with its analysis, None where none is known."""
    known = _words()
    parts = [part.strip() for part in re.split(r"[;,\n]", text) if part.strip()]
    return [(part, known.get(_plain(part))) for part in parts]


def analysis_of(substances: Sequence[str]) -> list[Analysis | None]:
    """The analysis that each canonical substance belongs to: by its name, else by its group; None for none."""
    by_name = {name: one for one in analyses() for name in one.substances}
    by_group = {group: one for one in analyses() for group in one.groups}
    groups = describe(list(substances))["group"]
    return [by_name.get(name) or by_group.get(str(group)) for name, group in zip(substances, groups, strict=True)]


@cache
def _words() -> dict[str, Analysis]:
    return {_plain(word): one for one in analyses() for word in (*one.words, one.name)}


def _listed(text: str) -> tuple[str, ...]:
    return tuple(part for part in text.split(";") if part)


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text)).strip().casefold()
