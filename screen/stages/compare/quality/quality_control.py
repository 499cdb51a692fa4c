"""Checks that laboratories and field crews build in: blanks, recoveries and duplicates against published criteria.

In go quality-control rows, results and criteria; out come rows of QUALITY.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Floats, Texts, coded, texts_of
from screen.model import Batch
from screen.reference.locate import read_table
from screen.reference.substances import describe

__all__ = ["between", "criteria", "field_duplicates", "judged", "limits_of", "place", "quality_control"]

_RECOVERIES = {"matrix-spike": "spike", "control-sample": "control-sample", "surrogate": "surrogate"}
_BLANKS = ("method-blank", "field-blank")


def criteria() -> pd.DataFrame:
    """The criteria: check, group ("" for any other), measure, low, high (NaN: none), unit, source, evidence, note."""
    table = read_table("coefficients/quality_criteria.csv")
    for name in ("low", "high"):
        table[name] = pd.to_numeric(table[name].replace("", None)).astype(np.float64)
    return table


def between(low: float, high: float, unit: str) -> str:
    """A range in words; NaN is an open end."""
    if np.isnan(low):
        return f"at most {high:g} {unit}"
    if np.isnan(high):
        return f"at least {low:g} {unit}"
    return f"{'from ' if low < 0 else ''}{low:g} to {high:g} {unit}"


def limits_of(rules: pd.DataFrame, check: str, measure: str, groups: Texts) -> pd.DataFrame:
    """The criterion of each group: its own, else that of any other group."""
    own = rules[(rules["check"] == check) & (rules["measure"] == measure)].set_index("group")
    wanted = [group if group in own.index else "" for group in groups]
    found = own.reindex(wanted)
    texts = [between(*row) for row in zip(found["low"], found["high"], found["unit"], strict=True)]
    return pd.DataFrame({"low": found["low"].to_numpy(), "high": found["high"].to_numpy(), "criterion": texts})


def judged(rows: pd.DataFrame, check: str, value: Floats, limits: pd.DataFrame, note: str = "") -> pd.DataFrame:
    """``rows`` with check, value, criterion, outcome (``within`` or ``outside`` low and high) and note."""
    outside = (value < limits["low"].to_numpy()) | (value > limits["high"].to_numpy())
    return rows.assign(
        check=check,
        value=value,
        criterion=limits["criterion"].to_numpy(dtype=object),
        outcome=np.where(outside, "outside", "within"),
        note=note or None,
    )


def place(frame: pd.DataFrame) -> pd.DataFrame:
    """Sample, substance and place of rows, as plain texts."""
    texts = {name: texts_of(frame[name]) for name in ("sample", "substance", "file", "sheet")}
    return pd.DataFrame(texts | {"row": frame["row"].to_numpy(dtype=np.float64)})


def _groups(substances: pd.Series) -> Texts:
    codes, names = coded(substances)
    groups = describe(list(names))["group"].to_numpy(dtype=object)
    return np.append(groups, np.array([None], dtype=object))[codes]


def quality_control(qc: pd.DataFrame, results: pd.DataFrame, rules: pd.DataFrame) -> list[pd.DataFrame]:
    """Blanks, recoveries and laboratory duplicates."""
    if qc.empty:
        return []
    kind = texts_of(qc["qc_kind"])
    parts = []
    blanks = qc[np.isin(kind, _BLANKS)]
    if len(blanks):
        seen = blanks["detected"].to_numpy(dtype=bool)
        parts.append(
            place(blanks).assign(
                check="blank",
                value=blanks["read_value"].to_numpy(dtype=np.float64),
                criterion="not detected",
                outcome=np.where(seen, "detected", "within"),
                note=[f"{unit} as reported" for unit in texts_of(blanks["reported_unit"])],
            )
        )
    percent = np.isin(texts_of(qc["reported_unit"]), ("%", "percent", "% recovery", "%R"))
    for name, check in _RECOVERIES.items():
        rows = qc[(kind == name) & percent & qc["read_value"].notna().to_numpy()]
        if len(rows):
            limits = limits_of(rules, check, "recovery", _groups(rows["substance"]))
            parts.append(judged(place(rows), check, rows["read_value"].to_numpy(dtype=np.float64), limits))
    again = qc[(kind == "lab-duplicate") & qc["value"].notna().to_numpy()]
    if len(again):
        measure = "relative difference of a laboratory duplicate"
        whose = again["qc_of"].astype(object).where(again["qc_of"].notna(), again["sample"].astype(object))
        parts.append(
            _pairs(place(again).assign(parent=whose.to_numpy(), own=again["value"].to_numpy()), results, rules, measure)
        )
    return parts


def _pairs(rows: pd.DataFrame, results: pd.DataFrame, rules: pd.DataFrame, measure: str) -> pd.DataFrame:
    """Relative differences, RPD = 200 |a - b| / (a + b), of ``own`` and the figure of ``parent``."""
    good = results[results["used"] & results["value"].notna() & results["sample"].isin(set(rows["parent"]))]
    other = pd.DataFrame(
        {
            "parent": texts_of(good["sample"]),
            "substance": texts_of(good["substance"]),
            "other": good["value"].to_numpy(),
        }
    ).drop_duplicates(["parent", "substance"])
    both = rows.merge(other, on=["parent", "substance"], how="inner")
    both = both[(both["own"] + both["other"]) > 0].reset_index(drop=True)
    if both.empty:
        return both
    difference = 200.0 * (both["own"] - both["other"]).abs().to_numpy() / (both["own"] + both["other"]).to_numpy()
    limits = limits_of(rules, "duplicate", measure, _groups(both["substance"]))
    out = judged(both, "duplicate", difference, limits)
    return out.assign(note=[f"{measure}: {one}" for one in both["parent"]])


def field_duplicates(batch: Batch, rules: pd.DataFrame) -> pd.DataFrame:
    """Relative differences of field duplicates and their parents."""
    parents = batch.samples.loc[batch.samples["parent"].notna(), ["sample", "parent"]].astype(object)
    parents = parents[parents["parent"] != ""]
    if parents.empty:
        return pd.DataFrame()
    results = batch.results
    good = results[results["used"] & results["value"].notna() & results["sample"].isin(set(parents["sample"]))]
    good = good[~good["substance"].isin(("Percent solids", "Percent moisture"))]
    rows = place(good).assign(own=good["value"].to_numpy(dtype=np.float64)).merge(parents, on="sample")
    return _pairs(rows, results, rules, "relative difference of a field duplicate")
