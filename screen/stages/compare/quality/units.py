"""Checks of units: in go results, out come figures beyond what their unit can mean, and units that do not agree."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import pandas as pd

from screen.columns import coded, texts_of
from screen.reference.substances import describe
from screen.stages.compare.quality.quality_control import between, place
from screen.stages.compare.quality.rows import simple, stacked_checks

__all__ = ["in_several_units", "reported_units", "unit_checks", "unit_slips", "values_by_unit"]

_GRAIN = ("Gravel", "Sand", "Silt", "Clay")
#: Converted medians of two units of one substance this far apart look like a slip by 1000.
_SLIP = (300.0, 3000.0)


def unit_checks(results: pd.DataFrame, rules: pd.DataFrame) -> list[pd.DataFrame]:
    """Figures beyond what a unit can mean, grain sizes that do not add up, and units of one substance 1000 apart."""
    own = rules[(rules["check"] == "unit-suspect") & (rules["measure"] == "concentration")].set_index("group")
    codes, names = coded(results["substance"])
    facts = describe(list(names))
    low, high = np.full(len(names) + 1, np.nan), np.full(len(names) + 1, np.nan)
    units = np.append(facts["unit"].to_numpy(dtype=object), np.array([None], dtype=object))
    for i, (group, unit) in enumerate(zip(facts["group"], facts["unit"], strict=True)):
        rule = own.loc[group] if group in own.index else own.loc[""]
        if rule["unit"] == unit:
            low[i], high[i] = rule["low"], rule["high"]
    value = results["value"].to_numpy(dtype=np.float64)
    odd = np.flatnonzero((value < low[codes]) | (value > high[codes]))
    rows = results.iloc[odd]
    criterion = [between(low[i], high[i], str(units[i])) for i in codes[odd]]
    parts = [
        place(rows).assign(
            check="unit-suspect", value=value[odd], criterion=criterion, outcome="outside", note="is the unit right?"
        )
    ]
    grain = results[results["substance"].isin(_GRAIN) & results["used"] & results["value"].notna()]
    if len(grain):
        table = pd.DataFrame(
            {
                "sample": texts_of(grain["sample"]),
                "value": grain["value"].to_numpy(),
                "kind": texts_of(grain["substance"]),
            }
        )
        sums = table.drop_duplicates(["sample", "kind"]).groupby("sample", sort=False)["value"].agg(["sum", "size"])
        whole = sums[sums["size"] == len(_GRAIN)]
        rule = rules[(rules["check"] == "unit-suspect") & (rules["group"] == "grain size")].iloc[0]
        off = whole[(whole["sum"] < rule["low"]) | (whole["sum"] > rule["high"])]
        parts.append(
            simple(
                "unit-suspect",
                "grain size",
                list(off.index),
                off["sum"].to_numpy(),
                between(rule["low"], rule["high"], "%"),
                "outside",
                "sum of the classes",
            )
        )
    return parts


def reported_units(results: pd.DataFrame) -> pd.DataFrame:
    """The distinct substances and units of results: substance, unit."""
    codes, names = coded(results["substance"])
    unit_codes, units = coded(results["reported_unit"])
    keys = pd.unique((codes * len(units) + unit_codes)[(codes >= 0) & (unit_codes >= 0)])
    return pd.DataFrame({"substance": names[keys // len(units)], "unit": units[keys % len(units)]}, dtype=object)


def in_several_units(parts: Sequence[pd.DataFrame]) -> frozenset[str]:
    """Substances that a batch, whose parts ``reported_units`` tells of, reports in more than one unit."""
    pairs = pd.concat(parts, ignore_index=True).drop_duplicates()
    counts = pairs["substance"].value_counts()
    return frozenset(str(one) for one in counts.index[counts > 1])


def values_by_unit(results: pd.DataFrame, substances: Collection[str]) -> pd.DataFrame:
    """The values of these substances: substance, unit, value."""
    rows = np.flatnonzero(results["substance"].isin(substances).to_numpy() & results["value"].notna().to_numpy())
    return pd.DataFrame(
        {
            name: texts_of(results[column].iloc[rows])
            for name, column in (("substance", "substance"), ("unit", "reported_unit"))
        }
    ).assign(value=results["value"].to_numpy(dtype=np.float64)[rows])


def unit_slips(values: pd.DataFrame) -> pd.DataFrame:
    """Columns QUALITY: substances reported in two units whose converted medians differ about 1000 times.

    ``values`` are those of the whole batch, from ``values_by_unit``.
    """
    medians = values.groupby(["substance", "unit"])["value"].median().reset_index()
    spans = medians.groupby("substance")["value"].agg(["min", "max"])
    ratio = spans["max"] / spans["min"]
    odd = ratio[(ratio >= _SLIP[0]) & (ratio <= _SLIP[1])]
    rows = pd.DataFrame(
        {
            "check": "unit-suspect",
            "sample": None,
            "substance": list(odd.index),
            "value": odd.to_numpy(),
            "criterion": "units of one substance agree",
            "outcome": "outside",
            "note": "medians of two units differ about 1000 times: one of them may be a slip",
        }
    )
    return stacked_checks([rows])
