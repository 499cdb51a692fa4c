"""The cautions that a run calls for. In: ``guidelines/vocabulary/cautions.toml`` and ``Facts``. Out: texts by part."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Any

from screen.reference.locate import data_root
from screen.stages.report.facts import Facts, records
from screen.stages.report.numbers import figure, listed

__all__ = ["Caution", "cautions"]

_TO_MG_KG = {"mg/kg": 1.0, "ug/kg": 1e-3, "ng/kg": 1e-6}
_ACCUMULATING = ("pcb-congener", "pcb-aroclor", "pcb-homolog", "dioxin")


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution, its evidence mark and its source."""

    part: str
    text: str
    evidence: str
    source: str


@cache
def _all() -> tuple[dict[str, Any], ...]:
    with (data_root() / "vocabulary" / "cautions.toml").open("rb") as file:
        return tuple(tomllib.load(file)["caution"])


def cautions(facts: Facts) -> dict[str, list[Caution]]:
    """The cautions of each part (``first``, ``waste``, ``handling``, ``limits``) that hold for this batch, in order."""
    out: dict[str, list[Caution]] = {"first": [], "waste": [], "handling": [], "limits": []}
    groups = {one.group for one in facts.findings}
    names = {one.substance for one in facts.findings}
    holds = {
        "always": True,
        "accumulates": bool(groups & set(_ACCUMULATING)) or any("DD" in n or n == "Mercury" for n in names),
        "background": "metal" in groups,
        "cores": any(not one.surface for one in facts.findings),
    }
    for entry in _all():
        text = entry["text"]
        if entry["when"] == "pcb-waste":
            met = _reached(facts, entry)
            if not met:
                continue
            text = f"{met} {text}"
        elif not holds[entry["when"]]:
            continue
        out[entry["part"]].append(Caution(entry["part"], text, entry["evidence"], entry["source"]))
    return out


def _reached(facts: Facts, entry: dict[str, Any]) -> str:
    """Which samples reach the figure of a waste rule, or cannot be said not to; empty for none."""
    reach, unit = float(entry["reaches"]), entry["unit"]
    certain: dict[str, float] = {}
    possible: dict[str, float] = {}
    for row in records(facts.run.totals):
        if row["name"] != entry["total"]:
            continue
        by = _TO_MG_KG.get(row["unit"], math.nan) / _TO_MG_KG[unit]
        value = row["value"] * by
        most = max((part * by for part in (row["high"], row["limit"]) if not math.isnan(part)), default=math.nan)
        if value >= reach:
            certain[row["sample"]] = max(value, certain.get(row["sample"], 0.0))
        elif most >= reach:
            possible[row["sample"]] = most
    out = []
    if certain:
        named = listed([f"{name} ({figure(value)} {unit})" for name, value in certain.items()])
        out.append(f"{entry['total']} reach {figure(reach)} {unit} dry weight in {named}.")
    possible = {name: value for name, value in possible.items() if name not in certain}
    if possible:
        out.append(
            f"{entry['total']} may reach {figure(reach)} {unit} dry weight in {listed(list(possible))}, "
            "where limits leave it open."
        )
    return " ".join(out)
