"""Figures that a unit cannot mean: refused where nothing could be so, else warned of (intake handbook 4, range check).

In: records with substances, units and numbers. Out: verdicts and warnings; a figure is never changed.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from screen.columns import by_code
from screen.stages.read.decide.grouped import Grouped
from screen.stages.read.decide.questions import reading_lines
from screen.stages.read.decide.verdicts import Verdicts
from screen.stages.read.records.measures import Measures
from screen.stages.read.records.readings import Readings, Substances

__all__ = ["look_at_ranges", "look_at_units"]

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


def look_at_ranges(
    substances: Substances, measures: Measures, readings: Readings, verdicts: Verdicts, grouped: Grouped, *, use: bool
) -> None:
    """Refuse more than the whole, warn of what is hardly believable, and ask about moisture above 100 %.

    ``use`` is the setting that takes a water figure over dry mass.
    """
    value = _standard(measures, readings)
    facts = substances.facts
    units = [str(one) for one in facts["unit"]]
    names = substances.names
    whole = np.array(
        [np.inf if name in _MAY_PASS else _WHOLE.get(unit, np.inf) for name, unit in zip(names, units, strict=True)]
    )
    most = np.where(facts["group"].isin(_ORGANIC).to_numpy(), _MOST_ORGANIC_UG_KG, np.inf)
    most = np.where(np.array([unit == "ng/kg" for unit in units], dtype=bool), most * 1000, most)
    most = np.where(np.array([name == "Total organic carbon" for name in names], dtype=bool), _MOST_CARBON_PCT, most)
    wet = measures.basis == 3  # per organic carbon: no share of the sediment
    with np.errstate(invalid="ignore"):
        over = (value > np.append(whole, np.inf)[substances.codes] * (1 + 1e-9)) & ~wet
        odd = (value > np.append(most, np.inf)[substances.codes]) & ~wet
        soaked = (value > 100) & substances.flag(np.array([name == "Percent moisture" for name in names], dtype=bool))
    now = verdicts.give(over, "rejected", "impossible-value: more than the whole mass")
    grouped.tell(
        now,
        "impossible-value",
        "the figure in its unit is more than the whole mass",
        "Correct the unit or the figure.",
        "refused",
    )
    grouped.tell(
        odd & verdicts.open,
        "unit-suspect",
        "the figure is higher than sediment can hold; it is used as it stands",
        "Check its unit.",
    )
    if not use:
        text = "a moisture above 100 % can only be water over dry mass, or an error; it is not used as it stands"
        grouped.ask(soaked & verdicts.open, "moisture-above-100", text, reading_lines('water-content = "use"'))


def look_at_units(
    substances: Substances, measures: Measures, readings: Readings, verdicts: Verdicts, grouped: Grouped
) -> None:
    """Warn of results about a thousand times above or below the median of the batch's others of that substance."""
    value = _standard(measures, readings)
    with np.errstate(invalid="ignore"):
        counted = verdicts.is_("result") & (value > 0) & (substances.codes >= 0)
    rows = np.flatnonzero(counted)
    if len(rows) <= _FEWEST:
        return
    codes = substances.codes[rows]
    order = by_code(codes)
    rows, codes = rows[order], codes[order]
    starts = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]])
    sizes = np.diff(np.r_[starts, len(rows)])
    groups = [slice(start, start + size) for start, size in zip(starts, sizes, strict=True)]
    median = np.full(len(substances.names), np.nan)
    for group in groups:
        middle = (group.stop - group.start - 1) // 2
        if group.stop - group.start > _FEWEST:
            median[codes[group.start]] = np.partition(value[rows[group]], middle)[middle]
    ratio = value[rows] / median[codes]
    with np.errstate(invalid="ignore", divide="ignore"):
        high = (ratio >= _SLIP[0]) & (ratio <= _SLIP[1])
        low = (1 / ratio >= _SLIP[0]) & (1 / ratio <= _SLIP[1])
    inorganic = substances.in_groups("metal")[rows]
    units = measures.unit.codes[rows]
    most_common = np.array([np.bincount(units[group]).argmax() for group in groups])
    other_unit = units != np.repeat(most_common, sizes)
    for far, word in ((high, "above"), (low, "below")):
        mask = np.zeros(len(value), dtype=bool)
        mask[rows[far & (inorganic | other_unit)]] = True
        grouped.tell(
            mask,
            "unit-suspect",
            f"the result is about a thousand times {word} the others of this substance in the batch; it is used as it "
            "stands",
            "Check its unit.",
        )


def _standard(measures: Measures, readings: Readings) -> npt.NDArray[np.float64]:
    return readings.frame["read_value"].to_numpy(dtype=np.float64) * measures.factor
