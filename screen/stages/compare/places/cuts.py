"""A dredge cut against the guideline sets. In: cores, findings, sets. Out: of each core the prism and what it leaves.

The prism's figure is the core's mean over the cut, on the prism's own carbon; the layer left bare is the interval that
the cut reaches into or ends on, and its findings are those of its sample.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from screen.columns import coded, recoded, spread, texts_of
from screen.model import CUTS, RESULTS, TOTALS, Batch
from screen.reference.rules import sum_rules
from screen.reference.substances import describe
from screen.stages.compare.findings.findings import compare
from screen.stages.compare.places.cores import core_intervals
from screen.stages.sums.lab_totals import UNKNOWN_RULE

if TYPE_CHECKING:
    from screen.reference.sets import GuidelineSet
    from screen.settings import Settings

__all__ = ["compare_cuts"]

_CARBON = "Total organic carbon"
_TEXTS = (
    *("core", "station", "part", "substance", "total", "set", "basis", "unit"),
    *("lower_name", "upper_name", "finding", "evidence", "note"),
)


def compare_cuts(
    batch: Batch,
    totals: pd.DataFrame,
    cores: pd.DataFrame,
    findings: pd.DataFrame,
    sets: Sequence[GuidelineSet],
    assigned: pd.DataFrame,
    settings: Settings,
) -> pd.DataFrame:
    """Columns CUTS, in the order of ``cores``; none where no cut is set. ``part`` is ``cut`` or ``left``.

    A prism that the samples cover only in part is compared all the same, unsettled, and its note says so.
    ``covered_pct`` is of the prism; a layer left bare that was not sampled has no row.
    """
    if settings.cut is None or cores.empty:
        return pd.DataFrame(columns=CUTS)
    intervals = core_intervals(batch, settings).assign(sample=texts_of(batch.samples["sample"]))
    intervals = intervals.assign(parent=texts_of(batch.samples["parent"]))
    cut = float(cores["cut_cm"].iloc[0])
    inside = intervals[(intervals["core"] != "") & (intervals["top_cm"] < cut)]
    whole = _whole_totals(totals, inside)
    prisms = _prisms(cores, whole, sets, _sets_of(intervals, assigned), settings)
    bare = _bare(intervals, cut, cores, findings)
    order = {name: at for at, name in enumerate(dict.fromkeys(texts_of(cores["core"])))}
    parts = [one.reindex(columns=CUTS) for one in (prisms, bare) if len(one)]
    table = pd.concat(parts or [pd.DataFrame(columns=CUTS)], ignore_index=True)
    table = table.assign(_core=texts_of(table["core"]))
    table = table.sort_values("_core", key=lambda names: names.map(order), kind="stable", ignore_index=True)
    rows = np.arange(len(table))
    return table.reindex(columns=CUTS).assign(**{name: spread(rows, texts_of(table[name])) for name in _TEXTS})


def _sets_of(intervals: pd.DataFrame, assigned: pd.DataFrame) -> pd.DataFrame:
    """Which sets are compared for which core: those of its samples."""
    core_of = dict(zip(intervals["sample"], intervals["core"], strict=True))
    pairs = pd.DataFrame({"sample": [core_of.get(one, "") for one in texts_of(assigned["sample"])],
                          "set": texts_of(assigned["set"])})  # fmt: skip
    return pairs[pairs["sample"] != ""].drop_duplicates(ignore_index=True)


def _whole_totals(totals: pd.DataFrame, intervals: pd.DataFrame) -> dict[tuple[str, str], bool]:
    """Whether a total (core, id) is complete in every interval that has it."""
    core_of = dict(zip(intervals["sample"], intervals["core"], strict=True))
    core = np.array([core_of.get(one, "") for one in texts_of(totals["sample"])], dtype=object)
    table = pd.DataFrame(
        {"core": core, "total": texts_of(totals["total"]), "complete": totals["complete"].eq(True).fillna(False)}
    )
    found = table[core != ""].groupby(["core", "total"])["complete"].all()
    return {(str(one), str(total)): bool(flag) for (one, total), flag in found.items()}


def _prisms(
    cores: pd.DataFrame,
    whole: dict[tuple[str, str], bool],
    sets: Sequence[GuidelineSet],
    assigned: pd.DataFrame,
    settings: Settings,
) -> pd.DataFrame:
    inside = cores[cores["cut_mean_low"].notna() | cores["cut_mean_high"].notna()]
    if inside.empty:
        return pd.DataFrame(columns=CUTS)
    is_total = texts_of(inside["rule"]) != ""
    carbon = inside[texts_of(inside["substance"]) == _CARBON]
    toc = dict(zip(texts_of(carbon["core"]), carbon["cut_mean"], strict=True))
    names = list(dict.fromkeys(texts_of(inside["core"])))
    samples = pd.DataFrame(
        {
            "sample": names,
            "station": names,
            "river_km": np.nan,
            "depth_top_cm": 0.0,
            "depth_bottom_cm": np.nan,
            "parent": None,
            "toc_pct": [toc.get(one, np.nan) for one in names],
        }
    )
    found = compare(
        _as_results(inside[~is_total]),
        _as_totals(inside[is_total], whole),
        sets,
        samples=samples,
        assigned=assigned,
        nondetects=settings.nondetects,
    )
    covered = dict(zip(texts_of(inside["core"]), inside["cut_covered_pct"], strict=True))
    station = dict(zip(texts_of(inside["core"]), texts_of(inside["station"]), strict=True))
    core = texts_of(found["sample"])
    share = np.array([covered[one] for one in core], dtype=float)
    part = ["" if one >= 100 - 1e-9 else "the samples cover only a part of the cut" for one in share]
    return found.astype({"note": object}).assign(
        core=core,
        station=[station[one] for one in core],
        part="cut",
        top_cm=0.0,
        bottom_cm=float(inside["cut_cm"].iloc[0]),
        covered_pct=share,
        settled=found["settled"].where(found["settled"].isna() | (share >= 100 - 1e-9), False),
        note=["; ".join(filter(None, pair)) for pair in zip(part, texts_of(found["note"]), strict=True)],
    )


def _figures(rows: pd.DataFrame) -> dict[str, object]:
    """Value, bounds and limit of the prisms: none detected in the whole prism is a non-detect at its upper bound."""
    low, high = rows["cut_mean_low"].to_numpy(dtype=float), rows["cut_mean_high"].to_numpy(dtype=float)
    none = ~(low > 0)
    return {
        "value": np.where(none, np.nan, rows["cut_mean"].to_numpy(dtype=float)),
        "low": np.where(none, 0.0, low),
        "high": high,
        "limit": np.where(none, high, np.nan),
        "detected": ~none,
        "unit": texts_of(rows["unit"]),
    }


def _as_results(rows: pd.DataFrame) -> pd.DataFrame:
    codes, substances = coded(rows["substance"])
    group = describe([str(one) for one in substances])["group"].to_numpy(dtype=object)
    made = pd.DataFrame(_figures(rows)).reindex(columns=RESULTS)
    made = made.assign(
        sample=texts_of(rows["core"]),
        substance=substances[codes] if len(codes) else [],
        group=group[codes] if len(codes) else [],
        kind=np.where(made["detected"].astype(bool), np.where(made["value"].isna(), "trace", "exact"), "nondetect"),
        used=True,
    )
    texts = ["sample", "substance", "group", "kind", "unit", "why_not", "qualifier"]
    return made.astype({"detected": bool}).astype(dict.fromkeys(texts, "category"))


def _as_totals(rows: pd.DataFrame, whole: dict[tuple[str, str], bool]) -> pd.DataFrame:
    ids = texts_of(rows["substance"])
    known = sum_rules().totals["name"]
    made = pd.DataFrame(_figures(rows)).reindex(columns=TOTALS)
    made = made.assign(
        sample=texts_of(rows["core"]),
        total=ids,
        name=[known.get(one.removesuffix("-lab"), one) for one in ids],
        rule=texts_of(rows["rule"]),
        note=[UNKNOWN_RULE if one.endswith("-lab") else "" for one in ids],
        complete=[whole.get(pair, False) for pair in zip(texts_of(rows["core"]), ids, strict=True)],
    )
    texts = ["sample", "total", "name", "rule", "unit", "qualifier", "note", "members", "missing"]
    return made.astype({"detected": bool, "complete": bool}).astype(dict.fromkeys(texts, "category"))


def _bare(intervals: pd.DataFrame, cut: float, cores: pd.DataFrame, findings: pd.DataFrame) -> pd.DataFrame:
    """The findings of the samples that the cut leaves at the surface, field duplicates with their parents."""
    met = intervals[(intervals["core"] != "") & (intervals["top_cm"] <= cut) & (intervals["bottom_cm"] > cut)]
    met = met[met["parent"] == ""].drop_duplicates("core")
    station = dict(zip(texts_of(cores["core"]), texts_of(cores["station"]), strict=True))
    place = {str(row.sample): row for row in met.itertuples()}
    rows = findings[recoded(findings["sample"], list(place)) >= 0]
    told = [place[one] for one in texts_of(rows["sample"])]
    return rows.assign(
        core=[str(one.core) for one in told],
        station=[station.get(str(one.core), "") for one in told],
        part="left",
        top_cm=[float(one.top_cm) for one in told],  # type: ignore[arg-type]
        bottom_cm=[float(one.bottom_cm) for one in told],  # type: ignore[arg-type]
        covered_pct=np.nan,
    )
