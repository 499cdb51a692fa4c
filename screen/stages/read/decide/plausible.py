"""Figures that a unit cannot mean: refused where nothing could be so, else warned of (intake handbook 4, range check).

In: records with substances, units and numbers. Out: verdicts and warnings; a figure is never changed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import Codes, Floats, Texts, by_code, coded
from screen.stages.read.decide.case import Case
from screen.stages.read.decide.grouped import Grouped
from screen.stages.read.decide.questions import reading_lines
from screen.stages.read.records.measures import Measures
from screen.stages.read.records.readings import Readings

__all__ = [
    "Figures",
    "Usual",
    "by_substance",
    "figures_above_zero",
    "look_at_ranges",
    "look_at_units",
    "usual_figures",
]

Bools = npt.NDArray[np.bool_]
#: Standard unit -> what makes up the whole mass. More than the whole cannot be.
_WHOLE = {"mg/kg": 1e6, "ug/kg": 1e9, "ng/kg": 1e12, "%": 100.0}
#: Group -> the most that is believable in its standard unit; above, the unit is doubted (handbook 4).
_MOST_ORGANIC_UG_KG = 1e8
_MOST_CARBON_PCT = 60.0
_ORGANIC = ("pah", "pcb-congener", "pcb-aroclor", "pcb-homolog", "pesticide", "dioxin", "organotin")
#: Water over dry mass may pass 100 %; a moisture above 100 is asked about (handbook 4).
_MAY_PASS = ("Percent moisture", "Water content (dry basis)", "Percent solids")
#: A slip of a factor of a thousand, give or take what one survey spans.
_SLIP = (300.0, 3000.0)
_FEWEST = 4


def look_at_ranges(case: Case, *, water_content: bool) -> None:
    """Refuse more than the whole, warn of what is hardly believable, and ask about moisture above 100 %.

    ``water_content`` is whether the settings take a water figure over dry mass.
    """
    value = _standard(case.measures, case.readings)
    facts = case.substances.facts
    units = [str(one) for one in facts["unit"]]
    names = case.substances.names
    whole = np.array(
        [np.inf if name in _MAY_PASS else _WHOLE.get(unit, np.inf) for name, unit in zip(names, units, strict=True)]
    )
    most = np.where(facts["group"].isin(_ORGANIC).to_numpy(), _MOST_ORGANIC_UG_KG, np.inf)
    most = np.where(np.array([unit == "ng/kg" for unit in units], dtype=bool), most * 1000, most)
    most = np.where(np.array([name == "Total organic carbon" for name in names], dtype=bool), _MOST_CARBON_PCT, most)
    wet = case.measures.basis == 3  # per organic carbon: no share of the sediment
    with np.errstate(invalid="ignore"):
        over = (value > np.append(whole, np.inf)[case.substances.codes] * (1 + 1e-9)) & ~wet
        odd = (value > np.append(most, np.inf)[case.substances.codes]) & ~wet
        soaked = (value > 100) & case.substances.flag(
            np.array([name == "Percent moisture" for name in names], dtype=bool)
        )
    now = case.verdicts.give(over, "rejected", "impossible-value: more than the whole mass")
    case.grouped.tell(
        now,
        "impossible-value",
        "the figure in its unit is more than the whole mass",
        "Correct the unit or the figure.",
        "refused",
    )
    case.grouped.tell(
        odd & case.verdicts.open,
        "unit-suspect",
        "the figure is higher than sediment can hold; it is used as it stands",
        "Check its unit.",
    )
    if not water_content:
        text = "a moisture above 100 % can only be water over dry mass, or an error; it is not used as it stands"
        case.grouped.ask(
            soaked & case.verdicts.open, "moisture-above-100", text, reading_lines('water-content = "use"')
        )


@dataclass(frozen=True, slots=True)
class Figures:
    """Results above zero in their standard unit: place among the results, value, and codes of substance and unit into
    ``names`` and ``units``."""

    row: npt.NDArray[np.int64]
    substance: Codes
    unit: Codes
    value: Floats
    names: Texts
    units: Texts


@dataclass(frozen=True, slots=True)
class Usual:
    """Of each substance of a batch with enough results: the median, and the unit that most of them are reported in."""

    median: dict[str, float]
    unit: dict[str, str]


def figures_above_zero(results: pd.DataFrame) -> Figures:
    """The results (RESULTS + RESULTS_INNER) with a value above zero, in the order of their substances."""
    value = results["read_value"].to_numpy(dtype=np.float64) * results["factor"].to_numpy(dtype=np.float64)
    substance, names = coded(results["substance"])
    unit, units = coded(results["reported_unit"])
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero((value > 0) & (substance >= 0))
    rows = rows[by_code(substance[rows])]
    return Figures(rows, substance[rows], unit[rows], value[rows], names, units)


def by_substance(figures: Figures) -> dict[str, tuple[Floats, Counter[str]]]:
    """The values of each substance, and how many were reported in each unit."""
    texts = np.append(figures.units, "")
    starts = np.flatnonzero(np.r_[True, figures.substance[1:] != figures.substance[:-1]])[: len(figures.substance)]
    found = {}
    for start, stop in zip(starts, np.r_[starts[1:], len(figures.substance)], strict=False):
        codes, counts = np.unique(figures.unit[start:stop], return_counts=True)
        units = Counter({str(texts[code]): int(count) for code, count in zip(codes, counts, strict=True)})
        found[str(figures.names[figures.substance[start]])] = (figures.value[start:stop], units)
    return found


def usual_figures(parts: Sequence[Mapping[str, tuple[Floats, Counter[str]]]]) -> Usual:
    """Medians and units of a batch whose parts ``by_substance`` gave; one of four results or fewer has none."""
    usual = Usual({}, {})
    if sum(len(values) for part in parts for values, _ in part.values()) <= _FEWEST:
        return usual
    for name in dict.fromkeys(name for part in parts for name in part):
        values = np.concatenate([part[name][0] for part in parts if name in part])
        units = sum((part[name][1] for part in parts if name in part), Counter[str]())
        if len(values) > _FEWEST:
            middle = (len(values) - 1) // 2
            usual.median[name] = float(np.partition(values, middle)[middle])
        usual.unit[name] = min(units, key=lambda unit: (-units[unit], unit))
    return usual


def look_at_units(
    figures: Figures, usual: Usual, metal: Bools, records: npt.NDArray[np.integer], grouped: Grouped
) -> None:
    """Warn of results about a thousand times above or below the median of the batch's others of that substance.

    ``metal`` marks the results of metals; ``records`` are the records of all results, which ``grouped`` tells of.
    """
    median = np.array([usual.median.get(str(name), np.nan) for name in figures.names])
    most = [usual.unit.get(str(name)) for name in figures.names]
    texts = [str(text) for text in figures.units]
    common = np.array([texts.index(unit) if unit in texts else -1 for unit in most], dtype=np.int64)
    ratio = figures.value / median[figures.substance] if len(figures.row) else figures.value
    with np.errstate(invalid="ignore", divide="ignore"):
        high = (ratio >= _SLIP[0]) & (ratio <= _SLIP[1])
        low = (1 / ratio >= _SLIP[0]) & (1 / ratio <= _SLIP[1])
    for far, word in ((high, "above"), (low, "below")):
        chosen = np.flatnonzero(far)
        chosen = chosen[metal[figures.row[chosen]] | (figures.unit[chosen] != common[figures.substance[chosen]])]
        mask = np.zeros(len(grouped.records), dtype=bool)
        mask[records[figures.row[chosen]]] = True
        grouped.tell(
            mask,
            "unit-suspect",
            f"the result is about a thousand times {word} the others of this substance in the batch; it is used as it "
            "stands",
            "Check its unit.",
        )


def _standard(measures: Measures, readings: Readings) -> npt.NDArray[np.float64]:
    return readings.frame["read_value"].to_numpy(dtype=np.float64) * measures.factor
