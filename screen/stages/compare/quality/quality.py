"""Checks of data quality: in go a batch, its totals and findings, out come outcomes by sample. They change no result.

Criteria are data: `guidelines/coefficients/quality_criteria.csv`, with the source of each.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Codes, coded, first_rows, recoded, spread, texts_of
from screen.model import Batch
from screen.reference.rules import sum_rules
from screen.reference.substances import describe
from screen.stages.compare.quality.holding_times import holding_times
from screen.stages.compare.quality.quality_control import (
    criteria,
    field_duplicates,
    judged,
    place,
    quality_control,
)
from screen.stages.compare.quality.rows import simple, stacked_checks
from screen.stages.compare.quality.units import (
    in_several_units,
    reported_units,
    unit_checks,
    unit_slips,
    values_by_unit,
)
from screen.stages.normalise.carbon import CARBON
from screen.stages.normalise.moisture import solids_of
from screen.stages.sums.peaks import unit_factor

if TYPE_CHECKING:
    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings

__all__ = ["quality", "quality_of_samples"]


def quality(
    batch: Batch,
    totals: pd.DataFrame,
    findings: pd.DataFrame,
    sets: Sequence[GuidelineSet],
    settings: Settings,
) -> pd.DataFrame:
    """All checks of a normalised batch that its data allow: columns QUALITY, by check as met.

    ``outcome`` is ``within``, ``outside``, ``detected``, ``above level``, ``partial`` or ``missing``.
    """
    several = in_several_units([reported_units(batch.results)])
    return stacked_checks(
        [
            quality_of_samples(batch, totals, findings, sets, settings),
            unit_slips(values_by_unit(batch.results, several)),
        ]
    )


def quality_of_samples(
    batch: Batch,
    totals: pd.DataFrame,
    findings: pd.DataFrame,
    sets: Sequence[GuidelineSet],
    settings: Settings,
) -> pd.DataFrame:
    """The checks of each sample by itself and beside its duplicates; ``batch`` may be a part of a batch."""
    rules = criteria()
    parts = [
        *quality_control(batch.qc, batch.results, rules),
        field_duplicates(batch, rules),
        holding_times(batch.results),
        _limits(findings, totals),
        _missing(findings, totals),
        *_solids(batch, rules, settings),
        *_carbon(batch, sets, rules),
        *_laboratory_totals(totals, batch.results, rules),
        *unit_checks(batch.results, rules),
    ]
    return stacked_checks(parts)


def _limits(findings: pd.DataFrame, totals: pd.DataFrame) -> pd.DataFrame:
    """Members not detected whose limit is above the lower level: the question cannot be answered (handbook 7.5)."""
    rows = findings[(findings["finding"] == "undetermined") & ~findings["detected"].to_numpy(dtype=bool)]
    level = rows["lower_level"].fillna(rows["upper_level"])
    name = rows["lower_name"].astype(object).where(rows["lower_level"].notna(), rows["upper_name"].astype(object))
    rows = rows.assign(level=level, level_name=name)
    scale = rows["high"].to_numpy(dtype=np.float64)
    alone = totals.drop_duplicates(["sample", "total"])[["sample", "total", "limit", "high"]].astype(
        {"sample": object, "total": object}
    )
    keys = rows[["sample", "total"]].astype(object).merge(alone, on=["sample", "total"], how="left")
    # of a total the single highest limit decides, on the basis of the finding
    limit = np.where(keys["limit"].notna(), keys["limit"] * scale / keys["high"], scale)
    rows = rows.assign(high=limit)
    rows = rows[rows["high"] > rows["level"]]
    texts = zip(rows["set"], rows["level_name"], rows["level"], rows["unit"], strict=True)
    return pd.DataFrame(
        {
            "check": "limit-above-level",
            "sample": texts_of(rows["sample"]),
            "substance": texts_of(rows["substance"]),
            "value": rows["high"].to_numpy(),
            "criterion": [f"{one} {label} {figure:g} {unit}" for one, label, figure, unit in texts],
            "outcome": "above level",
            "note": "not detected; the limit cannot show whether the level is met",
        }
    )


def _missing(findings: pd.DataFrame, totals: pd.DataFrame) -> pd.DataFrame:
    """Totals that were compared although members were not measured."""
    compared = _pair_codes(findings, findings)
    own = _pair_codes(totals, findings)
    partial = ~totals["complete"].to_numpy(dtype=bool) & (totals["measured"] > 0).to_numpy() & (own >= 0)
    used = np.flatnonzero(partial)
    used = used[np.isin(own[used], compared[compared >= 0])]
    rows = totals.iloc[used[np.sort(first_rows(pd.factorize(own[used])[0]))]]
    codes, texts = coded(rows["missing"])
    return pd.DataFrame(
        {
            "check": "missing-member",
            "sample": texts_of(rows["sample"]),
            "substance": texts_of(rows["total"]),
            "value": rows["measured"].to_numpy(dtype=np.float64),
            "criterion": [f"{count} members" for count in rows["members"]],
            "outcome": "partial",
            "note": spread(codes, [f"not measured: {_short(text)}" for text in texts]),
        }
    )


def _pair_codes(frame: pd.DataFrame, findings: pd.DataFrame) -> Codes:
    """A number for sample and total of each row, in the words of ``findings``; -1 where either is not among them."""
    samples, totals = (coded(findings[name])[1] for name in ("sample", "total"))
    sample, total = recoded(frame["sample"], samples), recoded(frame["total"], totals)
    return np.where((sample >= 0) & (total >= 0), sample * max(len(totals), 1) + total, -1)


def _short(names: str, most: int = 12) -> str:
    parts = names.split(";")
    more = f" and {len(parts) - most} more" if len(parts) > most else ""
    return ", ".join(parts[:most]) + more


def _solids(batch: Batch, rules: pd.DataFrame, settings: Settings) -> list[pd.DataFrame]:
    solids = solids_of(batch.results, use_water_content=settings.water_content == "use")
    figures = solids.figures[solids.figures["rank"] < 2].drop_duplicates(["sample", "rank"])
    both = (
        figures.pivot_table(index="sample", columns="rank", values="solids", sort=False)
        .reindex(columns=[0, 1])
        .dropna()
    )
    parts = []
    if len(both):
        value = (both[0] + 100.0 - both[1]).to_numpy()
        off = both.index.isin(solids.conflict)
        parts.append(
            simple(
                "solids",
                "Percent solids",
                list(both.index),
                value,
                "98 to 102 %",
                "within",
                "solids and moisture together",
            ).assign(outcome=np.where(off, "outside", "within"))
        )
    samples = batch.samples[batch.samples["solids_pct"].notna()]
    low = float(rules.loc[rules["measure"] == "percent solids", "low"].iloc[0])
    few = samples[samples["solids_pct"] < low]
    parts.append(
        simple(
            "solids",
            "Percent solids",
            texts_of(few["sample"]),
            few["solids_pct"].to_numpy(),
            f"at least {low:g} %",
            "outside",
            "much water: limits are high and figures less sure",
        )
    )
    why = texts_of(batch.results["why_not"])
    none = batch.results.loc[why == "no-moisture", "sample"].astype(object).unique()
    parts.append(
        simple(
            "solids", "Percent solids", none, np.nan, "known", "missing", "results on wet weight cannot be converted"
        )
    )
    return parts


def _carbon(batch: Batch, sets: Sequence[GuidelineSet], rules: pd.DataFrame) -> list[pd.DataFrame]:
    """Organic carbon: impossible figures, none where a set asks for it, and figures outside a set's range."""
    samples = batch.samples
    carbon = samples["toc_pct"].to_numpy(dtype=np.float64)
    names = texts_of(samples["sample"])
    most = float(rules.loc[rules["measure"] == "organic carbon", "high"].iloc[0])
    found = recoded(batch.results["sample"], names)
    with_results = np.bincount(found[found >= 0], minlength=len(names)) > 0
    parts = [
        simple(
            "carbon",
            CARBON,
            names[carbon > most],
            carbon[carbon > most],
            f"at most {most:g} %",
            "outside",
            "hardly possible",
        )
    ]
    asking = [one for one in sets if one.rows["basis"].str.startswith("oc").any()]
    if asking:
        none = np.isnan(carbon) & with_results
        note = "asked for by " + ", ".join(one.id for one in asking)
        parts.append(simple("carbon", CARBON, names[none], np.nan, "known", "missing", note))
    for one in asking:
        if one.toc_range is not None:
            low, high = one.toc_range
            out = (carbon < low) | (carbon > high)
            parts.append(
                simple(
                    "carbon", CARBON, names[out], carbon[out], f"{low:g} to {high:g} %", "outside", f"range of {one.id}"
                )
            )
    return parts


def _laboratory_totals(totals: pd.DataFrame, results: pd.DataFrame, rules: pd.DataFrame) -> list[pd.DataFrame]:
    """Totals of the laboratory that its own parts do not make: a part above it, or a sum more than 5 % off."""
    beside = totals[totals["lab_total"].notna() & (totals["measured"] > 0)]
    if beside.empty:
        return []
    away = float(rules.loc[rules["check"] == "part-above-total", "high"].iloc[0])
    # a figure that may be one of several totals is held against the one that it fits best
    fit = pd.Series(np.abs(beside["lab_difference_pct"].to_numpy(dtype=np.float64)), index=beside.index).fillna(np.inf)
    keys = [texts_of(beside["sample"]), texts_of(beside["name"]), beside["lab_total"].to_numpy()]
    beside = beside.loc[fit.groupby(keys, sort=False).idxmin()]
    difference = beside["lab_difference_pct"].to_numpy(dtype=np.float64)
    limits = pd.DataFrame(
        {"low": -away, "high": away, "criterion": f"{-away:g} to {away:g} %"}, index=range(len(beside))
    )
    rows = pd.DataFrame({"sample": texts_of(beside["sample"]), "substance": texts_of(beside["total"])})
    # a total that is complete is fairly compared; of a partial one only a part above the total says something
    fair = beside["complete"].to_numpy(dtype=bool) | (difference > away)
    note = (
        "sum of the parts against the laboratory's total: its list, its rule for nondetects or a coelution may differ"
    )
    parts = [judged(rows, "part-above-total", difference, limits, note)[fair & ~np.isnan(difference)]]
    wanted = _scaled_members(set(rows["substance"]))
    used = results[results["used"] & results["value"].notna() & results["sample"].isin(set(rows["sample"]))]
    single = place(used).rename(columns={"substance": "part"}).assign(figure=used["value"].to_numpy(dtype=np.float64))
    lab = rows.rename(columns={"substance": "total"}).assign(lab=beside["lab_total"].to_numpy())
    both = lab.merge(wanted, on="total").merge(single, on=["sample", "part"])
    both = both[both["figure"] * both["scale"] > both["lab"] * (1 + 1e-9)]
    parts.append(
        both.assign(
            check="part-above-total",
            substance=both["part"],
            value=both["figure"],
            criterion=[f"laboratory's total {figure:g}" for figure in both["lab"]],
            outcome="outside",
            note=[f"one part is more than the laboratory's total beside {total}" for total in both["total"]],
        )
    )
    return parts


def _scaled_members(totals: set[str]) -> pd.DataFrame:
    """Members of ``totals``: total, part and what a figure of the part is multiplied by in that total."""
    rules = sum_rules()
    members = rules.members[rules.members["total"].isin(totals)]
    units = describe(list(members["substance"]))["unit"].to_numpy(dtype=object)
    about = rules.totals.loc[members["total"]]
    to = np.array([unit_factor(unit, str(one)) for unit, one in zip(units, about["unit"], strict=True)])
    scale = to * members["weight"].to_numpy(dtype=np.float64) * about["factor"].to_numpy(dtype=np.float64)
    return pd.DataFrame({"total": members["total"], "part": members["substance"]}).assign(scale=scale)
