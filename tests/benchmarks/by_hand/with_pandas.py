"""(b) The screening as a short pandas script: `with_pandas IN.csv FINDINGS.csv [RESULTS.csv LEDGER.csv]`.

For one layout, one set and one rule that the writer knows: dry weight, sums with non-detects as 0, two levels. With
the last two arguments (b+) it also writes the results and where each value stood.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd

from tests.benchmarks.by_hand.levels import LEVELS, NEEDED, SUMS


def read(path: str, *, as_text: bool) -> pd.DataFrame:
    """The file with dry value, limit, low and high of each row."""
    rows = pd.read_csv(path, dtype={"Result": str} if as_text else None)
    rows.columns = rows.columns.str.lower().str.replace(" ", "_")
    result = pd.to_numeric(rows["result"])
    solids = result[rows["analyte"] == "Percent solids"].set_axis(
        rows.loc[rows["analyte"] == "Percent solids", "sample_id"]
    )
    dry = np.where(rows["basis"] == "wet", result / (rows["sample_id"].map(solids) / 100.0), result)
    rows["detected"] = rows["qual"] != "U"
    rows["value"] = np.where(rows["detected"], dry, np.nan)
    rows["limit"] = np.where(rows["detected"], np.nan, dry)
    rows["low"] = np.where(rows["detected"], dry, 0.0)
    rows["high"] = dry
    return rows


def summed(rows: pd.DataFrame, name: str, factor: float = 1.0) -> pd.DataFrame:
    """One sum for each sample that has a part of it."""
    part = rows[rows["analyte"].isin(SUMS[name])]
    grouped = part.groupby("sample_id", sort=False)
    made = grouped.agg(
        station=("station", "first"),
        value=("low", "sum"),
        high=("high", "sum"),
        limit=("limit", "max"),
        detected=("detected", "any"),
        measured=("value", "size"),
    ).reset_index()
    made["low"] = made["value"] * factor
    made["value"] = (made["value"] * factor).where(made["detected"])
    made["high"] *= factor
    made["limit"] = (made["limit"] * factor).where(~made["detected"])
    return made.assign(substance=name, partial=made["measured"] < NEEDED[name])


def pcbs(rows: pd.DataFrame) -> pd.DataFrame:
    """Total PCBs: all congeners, unless twice the 18 is complete and not less than their plain sum."""
    every, eighteen = summed(rows, "pcb-congeners"), summed(rows, "pcb-nst18x2", 2.0)
    both = every[["sample_id", "value", "partial"]].merge(
        eighteen[["sample_id", "value", "partial"]], on="sample_id", suffixes=("", "_18")
    )
    larger = (both["value"] > both["value_18"] * (1 + 1e-12)) | (both["value_18"].isna() & both["value"].notna())
    take = both.loc[both["partial"] & ~both["partial_18"] & ~larger, "sample_id"]
    chosen = [every[~every["sample_id"].isin(take)], eighteen[eighteen["sample_id"].isin(take)]]
    return pd.concat(chosen).assign(substance="Total PCBs")


def findings_of(rows: pd.DataFrame) -> pd.DataFrame:
    """One row per sample and substance of the set, with its finding."""
    singles = rows[rows["analyte"].isin(LEVELS)].rename(columns={"analyte": "substance"}).assign(partial=False)
    sums = [summed(rows, name) for name in SUMS if not name.startswith("pcb-")]
    found = pd.concat([singles, *sums, pcbs(rows)])
    columns = ["sample_id", "station", "substance", "value", "low", "high", "limit", "detected", "partial"]
    found = found[columns].reset_index(drop=True)
    lower, upper = (found["substance"].map({name: pair[i] for name, pair in LEVELS.items()}) for i in (0, 1))
    value = found["value"]
    undetermined = (value.isna() & ((found["limit"] > lower) | found["partial"])) | (
        ~(value > lower) & found["partial"]
    )
    found["lower_level"], found["upper_level"] = lower, upper
    found["lower_quotient"], found["upper_quotient"] = value / lower, value / upper
    found["finding"] = np.select(
        [value > upper, value > lower, undetermined], ["above", "between", "undetermined"], "below"
    )
    order = ["sample_id", "substance"]
    return found.drop(columns=["limit", "partial"]).sort_values(order).rename(columns={"sample_id": "sample"})


def main() -> None:
    """Read, compare, write."""
    source, findings, *more = sys.argv[1:]
    rows = read(source, as_text=bool(more))
    findings_of(rows).to_csv(findings, index=False)
    if more:
        number = np.arange(1, len(rows) + 1)
        carbon = rows[rows["analyte"] == "Total organic carbon"].set_index("sample_id")["value"]
        organic = (rows["unit"] == "ug/kg") & rows["detected"]
        per_carbon = (rows["value"] / 1000.0 / (rows["sample_id"].map(carbon) / 100.0)).where(organic)
        results = rows.assign(result_id=number, oc_value=per_carbon, row=number + 1, column="E")
        results.rename(columns={"result": "reported"}).to_csv(more[0], index=False)
        ledger = pd.DataFrame({"row": number + 1, "column": "E", "cells": rows.iloc[:, :12].notna().sum(axis=1)})
        ledger.assign(text=rows["result"], became="result", result_id=number).to_csv(more[1], index=False)


if __name__ == "__main__":
    main()
