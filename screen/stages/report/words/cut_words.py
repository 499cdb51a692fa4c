"""What a dredge cut takes and what it lays bare, core by core, in sentences. In: ``Facts``. Out: sentences.

Told for the leading set only; all sets are in the table of cuts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from screen.stages.report.facts import Facts, records
from screen.stages.report.numbers import against, depths, given, listed, times

__all__ = ["cut_sentences"]

_MOST = 3
_Row = Mapping[str, Any]


def cut_sentences(facts: Facts) -> list[str]:
    """One sentence per core: the mean of the prism above the cut, and the layer that lies bare after it."""
    if facts.run.cuts is None or facts.run.cuts.empty or not facts.set_ids:
        return []
    lead = facts.set_ids[0]
    cores: dict[str, list[_Row]] = {}
    for row in records(facts.run.cuts):
        if row["set"] == lead:
            cores.setdefault(row["core"], []).append(row)
    return [_of_core(facts, core, rows, lead) for core, rows in cores.items()]


def _of_core(facts: Facts, core: str, rows: Sequence[_Row], lead: str) -> str:
    prism, bare = ([row for row in rows if row["part"] == part] for part in ("cut", "left"))
    said = []
    if prism:
        covered = prism[0]["covered_pct"]
        part = "" if covered >= 100 - 1e-9 else f", of which {given(covered)} % was sampled,"
        said.append(
            f"the mean of the {given(prism[0]['bottom_cm'])} cm taken away{part} is {_counts(facts, prism, lead)}"
        )
    if bare:
        layer = depths(bare[0]["top_cm"], bare[0]["bottom_cm"])
        said.append(f"the layer left bare, {layer} cm, is {_counts(facts, bare, lead)}")
    else:
        said.append("what the cut leaves bare was not sampled")
    return f"Cut in core {core}: {'. '.join([said[0], *(text[0].upper() + text[1:] for text in said[1:])])}."


def _counts(facts: Facts, rows: Sequence[_Row], lead: str) -> str:
    lower, upper = facts.names(lead)
    found = {name: sorted((row for row in rows if row["finding"] == name), key=_gravest_first) for name in _WORDS}
    said = []
    if found["above"]:
        shown = [_figure(row) for row in found["above"][:_MOST]]
        left = len(found["above"]) - len(shown)
        said.append(f"above the {upper or lower} for {listed(shown)}" + (f" and {left} more" if left else ""))
    if found["between"]:
        words = f"between {lower} and {upper}" if upper else f"above the {lower}"
        said.append(f"{words} for {len(found['between'])} (highest: {_figure(found['between'][0])})")
    said += [f"{words} for {len(found[name])}" for name, words in _WORDS.items() if words and found[name]]
    unsettled = sum(row["settled"] is False and row["finding"] != "undetermined" for row in rows)
    return "; ".join(said) + (f" ({unsettled} of these unsettled)" if unsettled else "")


#: The findings, gravest first, with the words of those that are only counted.
_WORDS = {
    "above": "",
    "between": "",
    "undetermined": "left open",
    "not-assessed": "not assessed",
    "below": "below",
}


def _level(row: _Row) -> tuple[str, float]:
    """The level that makes the finding: its name and figure."""
    side = "upper" if row["finding"] == "above" or math.isnan(row["lower_level"]) else "lower"
    return str(row[f"{side}_name"]), float(row[f"{side}_level"])


def _gravest_first(row: _Row) -> tuple[float, str]:
    quotient = row["value"] / _level(row)[1]
    return (math.inf if math.isnan(quotient) else -quotient, str(row["substance"]))


def _figure(row: _Row) -> str:
    name, level = _level(row)
    unit = row["unit"] if row["basis"] == "dry" else f"{row['unit']}, {row['basis']}"
    total = f" ({row['total']})" if row["total"] else ""
    value, quotient = against(row["value"], level), times(row["value"] / level)
    return f"{row['substance']}{total} at {value} {unit}, {quotient} times the {name}"
