"""Totals that the laboratory made itself: in go our totals and the laboratory's, out they stand side by side.

They are never added. Where no part of a total was measured, the laboratory's figure is a row of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import coded, recoded, texts_of
from screen.reference.substances import describe
from screen.stages.sums.peaks import unit_factor

if TYPE_CHECKING:
    from screen.reference.rules import SumRules

__all__ = ["AT_LEAST", "LAB_SUFFIX", "UNKNOWN_RULE", "beside_lab_totals", "stand_for"]

LAB_SUFFIX = "-lab"
UNKNOWN_RULE = "summing rule unknown"
#: Note of a total that holds a figure above the measuring range; comparing goes by it.
AT_LEAST = "above the measuring range: at least this"


def stand_for(names: pd.Index) -> dict[str, tuple[str, ...]]:
    """For each laboratory total among ``names`` the ids of our totals that it may stand for, the likeliest first."""
    facts = describe(list(names))
    return {str(name): tuple(text.split(";")) for name, text in zip(names, facts["lab_total_of"], strict=True) if text}


def beside_lab_totals(totals: pd.DataFrame, lab_totals: pd.DataFrame | None, rules: SumRules) -> pd.DataFrame:
    """``totals`` with lab_total and lab_difference_pct filled, and a row for each laboratory total without parts.

    lab_difference_pct = 100 (ours - lab) / lab. The id of a row of its own is that of the likeliest total with
    ``-lab``; a further column ``stands_for`` holds all ids that it may stand for, joined by ``;``.
    """
    if lab_totals is None or lab_totals.empty:
        return totals
    lab_totals = lab_totals[lab_totals["used"]]
    meant = stand_for(pd.Index(coded(lab_totals["substance"])[1]))
    known = set(rules.totals.index)
    pairs = pd.DataFrame(
        [
            (name, one, place)
            for name, ids in meant.items()
            for place, one in enumerate(one for one in ids if one in known)
        ],
        columns=["substance", "total", "place"],
    )
    lab = _texts(lab_totals, ["sample", "station", "substance", "qualifier", "kind"]).merge(pairs, on="substance")
    if lab.empty:
        return totals
    units = describe(list(lab["substance"]))["unit"].to_numpy(dtype=object)
    wanted = rules.totals["unit"].reindex(lab["total"]).to_numpy(dtype=object)
    scale = np.array([unit_factor(unit, str(want)) for unit, want in zip(units, wanted, strict=True)])
    for name in ("value", "limit", "low", "high"):
        lab[name] = lab[name].to_numpy(dtype=np.float64) * scale
    lab["stands_for"] = lab["substance"].map({name: ";".join(ids) for name, ids in meant.items()})
    lab["specific"] = lab["substance"].map({name: len(ids) for name, ids in meant.items()})
    lab = lab.sort_values(["specific", "place"], kind="stable")

    ours = pd.DataFrame({"sample": texts_of(totals["sample"]), "total": texts_of(totals["total"])})
    totals = totals.assign(stands_for=None)
    figures = lab[lab["value"].notna()].drop_duplicates(["sample", "total"])[["sample", "total", "value"]]
    beside = ours.merge(figures, on=["sample", "total"], how="left")["value"].to_numpy(dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        difference = 100.0 * (totals["value"].to_numpy(dtype=np.float64) - beside) / beside
    difference[~np.isfinite(difference)] = np.nan
    totals = totals.assign(lab_total=beside, lab_difference_pct=difference)

    measured = set(zip(ours["sample"], ours["total"], strict=True))
    lab["measured"] = [key in measured for key in zip(lab["sample"], lab["total"], strict=True)]
    alone = ~lab.groupby(["sample", "substance"])["measured"].transform("any")
    own = lab[alone & (lab["place"] == 0)].drop_duplicates(["sample", "total"])
    return _stacked(totals, _own_rows(own, rules)) if len(own) else totals


def _texts(frame: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    numbers = frame[["value", "limit", "low", "high", "detected"]].reset_index(drop=True)
    return numbers.assign(**{name: frame[name].astype(object).to_numpy() for name in columns})


def _own_rows(own: pd.DataFrame, rules: SumRules) -> pd.DataFrame:
    facts = rules.totals.reindex(own["total"])
    members = rules.members.groupby("total", observed=True).size().reindex(own["total"]).to_numpy(dtype=np.int64)
    return pd.DataFrame(
        {
            "sample": own["sample"].to_numpy(),
            "station": own["station"].to_numpy(),
            "total": (own["total"] + LAB_SUFFIX).to_numpy(),
            "name": facts["name"].to_numpy(dtype=object),
            "rule": None,
            "value": own["value"].to_numpy(),
            "low": own["low"].to_numpy(),
            "high": own["high"].to_numpy(),
            "limit": own["limit"].to_numpy(),
            "unit": facts["unit"].to_numpy(dtype=object),
            "detected": own["detected"].to_numpy(dtype=bool),
            "qualifier": own["qualifier"].to_numpy(),
            "members": members,
            "measured": 0,
            "peaks": 0,
            "detects": 0,
            "complete": False,
            "missing": None,
            "counted_once": None,
            "factor": 1.0,
            "lab_total": own["value"].to_numpy(),
            "lab_difference_pct": np.nan,
            "note": np.where(own["kind"] == "more-than", f"{UNKNOWN_RULE}; {AT_LEAST}", UNKNOWN_RULE),
            "stands_for": own["stands_for"].to_numpy(),
        }
    )


def _stacked(totals: pd.DataFrame, more: pd.DataFrame) -> pd.DataFrame:
    """Both tables in the order of samples and totals, text columns coded."""
    texts = [name for name in totals if isinstance(totals[name].dtype, pd.CategoricalDtype) or name == "stands_for"]
    plain = totals.astype(dict.fromkeys(texts, object))
    both = pd.concat([plain, more.astype({name: totals[name].dtype for name in totals if name not in texts})])
    samples = np.array(sorted(set(both["sample"]), key=str), dtype=object)
    order = np.argsort(recoded(both["sample"], samples), kind="stable")
    both = both.iloc[order].reset_index(drop=True)
    return both.astype(dict.fromkeys(texts, "category"))
