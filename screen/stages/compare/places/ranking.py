"""The stations in the order in which they ask to be looked at. In: findings, samples. Out: one row per set and station.

By the number of substances and sums above the upper level, then by the highest quotient. A substance counts once at a
station, by its gravest finding there at any depth; what is open stands in the same row: how many may be above, cannot
be judged, were not assessed. The order is one of the next look, not of harm.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, coded, recoded, spread, texts_of
from screen.model import RANKING
from screen.stages.compare.findings.findings import TIE
from screen.stages.compare.places.stations import station_order

__all__ = ["rank_stations"]

#: Which finding stands for a substance at a station: not assessed is graver than below here, since it is open.
_STANDING = ("below", "not-assessed", "undetermined", "between", "above")


def rank_stations(
    findings: pd.DataFrame, totals: pd.DataFrame, samples: pd.DataFrame, sets: Sequence[str]
) -> pd.DataFrame:
    """Columns RANKING, by ``sets`` (ids, the leading one first; others after them) and rank; equal stations share one.

    ``above_low`` counts the settled ones only, ``above_high`` whatever may be above with non-detects at their limits,
    missing members or a number. ``highest_quotient`` is over the upper level where a station has such a quotient, else
    over the lower one; ``highest_level`` names it.
    """
    if findings.empty:
        return pd.DataFrame(columns=RANKING)
    order = station_order(samples)
    met = [str(one) for one in findings["set"].dropna().unique()]
    ids = [*(one for one in sets if one in met), *sorted(set(met) - set(sets))]
    station, set_at = recoded(findings["station"], order["station"].to_numpy()), recoded(findings["set"], ids)
    place, keys = pd.factorize(set_at * len(order) + station, sort=True)
    quotient, level = _quotients(findings)
    best = _best(place, quotient, findings["upper_quotient"].notna().to_numpy(), len(keys))
    known = ~np.isnan(quotient[best])
    counts = _counts(findings, totals, place, len(keys))
    rows = findings.iloc[best]
    texts = {
        "highest_level": level[best],
        "highest_substance": texts_of(rows["substance"]),
        "highest_total": texts_of(rows["total"]),
        "highest_sample": texts_of(rows["sample"]),
        "evidence": texts_of(rows["evidence"]),
    }
    table = pd.DataFrame(
        {
            "set": spread(keys // len(order), ids),
            "station": spread(keys % len(order), order["station"].to_numpy(dtype=object)),
            "role": spread(keys % len(order), order["role"].to_numpy(dtype=object)),
            "river_km": order["river_km"].to_numpy(dtype=float)[keys % len(order)],
            **counts,
            "highest_quotient": quotient[best],
            "highest_top_cm": np.where(known, rows["depth_top_cm"].to_numpy(dtype=float), np.nan),
            "highest_bottom_cm": np.where(known, rows["depth_bottom_cm"].to_numpy(dtype=float), np.nan),
        }
        | {name: spread(np.where(known, np.arange(len(keys)), -1), column) for name, column in texts.items()}
    )
    table["note"] = spread(np.where(known, -1, 0), ["no value to compare with a level"])
    return _ranked(table, keys // len(order))


def _quotients(findings: pd.DataFrame) -> tuple[Floats, np.ndarray]:
    """Of each finding, value over the upper level, else over the lower one; NaN without a value. The level's name."""
    upper, lower = (findings[f"{one}_quotient"].to_numpy(dtype=float) for one in ("upper", "lower"))
    by_upper = ~np.isnan(upper)
    names = np.where(by_upper, texts_of(findings["upper_name"]), texts_of(findings["lower_name"]))
    return np.where(by_upper, upper, lower), names


def _best(place: Codes, quotient: Floats, by_upper: Flags, size: int) -> Codes:
    """The row of the highest quotient of each place, one over an upper level before others, of equal ones the first."""
    order = np.lexsort((np.arange(len(place)), -np.nan_to_num(quotient, nan=-1.0), ~by_upper, place))
    return order[np.searchsorted(place[order], np.arange(size))]


def _counts(findings: pd.DataFrame, totals: pd.DataFrame, place: Codes, size: int) -> dict[str, Codes]:
    """Of each place: its samples, and its substances by the finding that stands for them."""
    substance = coded(findings["substance"])[0]
    pair, pairs = pd.factorize(place * (substance.max() + 1) + substance, sort=True)
    of_pair = pairs // (substance.max() + 1)
    finding = recoded(findings["finding"], _STANDING)
    standing = np.zeros(len(pairs), dtype=np.int64)
    np.maximum.at(standing, pair, finding)
    settled, above = (
        findings["settled"].eq(True).fillna(False).to_numpy(dtype=bool),
        finding == _STANDING.index("above"),
    )

    def number(flags: Flags) -> Codes:
        """Of each place, how many substances have a row that is flagged."""
        some = np.bincount(pair, flags, len(pairs)) > 0
        return np.bincount(of_pair, some, size).astype(np.int64)

    counts = {"samples": _samples(findings, place, size), "compared": np.bincount(of_pair, minlength=size)}
    counts |= {
        name.replace("-", "_"): np.bincount(of_pair, standing == at, size).astype(np.int64)
        for at, name in enumerate(_STANDING)
    }
    unsettled = findings["settled"].eq(False).fillna(False).to_numpy(dtype=bool)
    judged = finding != _STANDING.index("undetermined")
    return counts | {
        "above_low": number(above & settled),
        "above_high": number(above | _may_be_above(findings, totals)),
        "unsettled": number(unsettled & judged),
    }


def _may_be_above(findings: pd.DataFrame, totals: pd.DataFrame) -> Flags:
    """Findings that are open, or would differ with non-detects at their limit or all members, and may be above then."""
    high = findings["high"].to_numpy(dtype=float)
    level = findings["upper_level"].to_numpy(dtype=float)
    settled = findings["settled"].eq(True).fillna(False).to_numpy(dtype=bool)
    unbounded = np.isnan(high) | _partial(findings, totals)
    return np.asarray(~settled & ~np.isnan(level) & (unbounded | (high > level * (1 + TIE))), dtype=bool)


def _partial(findings: pd.DataFrame, totals: pd.DataFrame) -> Flags:
    """Findings of sums that lack members."""
    lacking = totals[~totals["complete"].eq(True).fillna(False).to_numpy(dtype=bool)]
    ids, names = coded(lacking["total"])
    codes, samples = coded(lacking["sample"])
    own, sample = recoded(findings["total"], names), recoded(findings["sample"], samples)
    met = np.isin(sample * len(names) + own, codes * len(names) + ids)
    return np.asarray((own >= 0) & (sample >= 0) & met, dtype=bool)


def _samples(findings: pd.DataFrame, place: Codes, size: int) -> Codes:
    sample = coded(findings["sample"])[0]
    width = int(sample.max(initial=0)) + 1
    return np.bincount(np.unique(place * width + sample) // width, minlength=size).astype(np.int64)


def _ranked(table: pd.DataFrame, set_at: Codes) -> pd.DataFrame:
    quotient = np.nan_to_num(table["highest_quotient"].to_numpy(dtype=float), nan=-1.0)
    keys = np.column_stack([set_at, -table["above"].to_numpy(), -quotient])
    order = np.lexsort((np.arange(len(table)), *keys.T[::-1]))
    keys, set_at = keys[order], set_at[order]
    place = np.arange(len(table)) - np.searchsorted(set_at, set_at) + 1
    new = np.append(True, (keys[1:] != keys[:-1]).any(axis=1))
    made = table.iloc[order].reset_index(drop=True)
    made["rank"] = np.maximum.accumulate(np.where(new, np.arange(len(table)), 0))
    made["rank"] = place[made["rank"]]
    return made[RANKING]
