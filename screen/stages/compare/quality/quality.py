"""Checks of data quality: in go a batch, its totals and findings, out come outcomes by sample. They change no result.

Criteria are data: `guidelines/coefficients/quality_criteria.csv`, with the source of each.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import Codes, Texts, coded, first_rows, recoded, spread, texts_of
from screen.model import QUALITY, Batch
from screen.reference.rules import sum_rules
from screen.reference.substances import describe
from screen.stages.compare.quality.holding_times import holding_times
from screen.stages.compare.quality.quality_control import (
    between,
    criteria,
    field_duplicates,
    judged,
    place,
    quality_control,
)
from screen.stages.normalise.carbon import CARBON
from screen.stages.normalise.moisture import solids_of
from screen.stages.sums.peaks import unit_factor

if TYPE_CHECKING:
    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings

__all__ = [
    "in_several_units",
    "quality",
    "quality_of_samples",
    "reported_units",
    "stacked_checks",
    "unit_slips",
    "values_by_unit",
]

_TEXTS = [name for name in QUALITY if name not in ("value", "row")]
_GRAIN = ("Gravel", "Sand", "Silt", "Clay")
#: Converted medians of two units of one substance this far apart look like a slip by 1000.
_SLIP = (300.0, 3000.0)


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
        *_units(batch.results, rules),
    ]
    return stacked_checks(parts)


def stacked_checks(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Rows of checks under one another: columns QUALITY."""
    filled: list[pd.DataFrame] = [_typed(part) for part in parts if len(part)]
    if not filled:
        return pd.DataFrame(columns=QUALITY)
    table = pd.concat(filled, ignore_index=True)
    return table.astype(dict.fromkeys(_TEXTS, "category"))


def _typed(part: pd.DataFrame) -> pd.DataFrame:
    """The columns of QUALITY, texts as objects, so that parts can be stacked."""
    whole = part.reindex(columns=QUALITY)
    return whole.assign(
        **{name: whole[name].astype(object) for name in _TEXTS},
        **{name: whole[name].astype(np.float64) for name in ("value", "row")},
    )


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


def _simple(
    check: str, substance: str, samples: Sequence[str] | Texts, value: object, criterion: str, outcome: str, note: str
) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "check": check,
            "sample": list(samples),
            "substance": substance,
            "value": value,
            "criterion": criterion,
            "outcome": outcome,
            "note": note,
        }
    )


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
            _simple(
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
        _simple(
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
        _simple(
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
        _simple(
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
        parts.append(_simple("carbon", CARBON, names[none], np.nan, "known", "missing", note))
    for one in asking:
        if one.toc_range is not None:
            low, high = one.toc_range
            out = (carbon < low) | (carbon > high)
            parts.append(
                _simple(
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


def _units(results: pd.DataFrame, rules: pd.DataFrame) -> list[pd.DataFrame]:
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
        off = whole[(whole["sum"] < 95) | (whole["sum"] > 105)]
        parts.append(
            _simple(
                "unit-suspect",
                "grain size",
                list(off.index),
                off["sum"].to_numpy(),
                "95 to 105 %",
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
