"""Percent solids of each sample: in go the results as read, out come the solids (of wet mass) to convert by.

Solids and moisture are taken over the wet mass; a geotechnical water content is taken over the dry mass and serves only
where the settings say so (ERDC TN DOER-D2, 2004, Fig. 15: wet-base per cent = 100 w / (100 + w)).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from screen.columns import Floats, coded
from screen.stages.normalise.notices import Notice, notice_of

__all__ = ["MOISTURE", "SOLIDS", "WATER", "WATER_FIGURES", "Solids", "solids_of", "solids_on_rows"]

SOLIDS = "Percent solids"
MOISTURE = "Percent moisture"
WATER = "Water content (dry basis)"
WATER_FIGURES = (SOLIDS, MOISTURE, WATER)

#: Solids and moisture must add to 100 within this many points (intake handbook 4).
ADD_UP_WITHIN = 2.0
#: Solids figures of one sample that differ by more than this are warned of (intake handbook 4).
DIFFER_BY = 5.0
#: Below this many per cent solids a warning is due (intake handbook 4).
LOW_SOLIDS = 30.0


@dataclass(frozen=True, slots=True)
class Solids:
    """Percent solids by sample.

    - ``figures``: one row per usable figure: sample, method, lab_sample, solids (in (0, 100]), rank (0 solids,
      1 moisture, 2 water content), in the order read.
    - ``by_sample``: the figure of each sample (index sample, float64), without the samples in conflict.
    - ``conflict``: samples whose solids and moisture do not add up.
    """

    figures: pd.DataFrame
    by_sample: pd.Series
    conflict: pd.Index
    notices: tuple[Notice, ...]


def solids_of(results: pd.DataFrame, *, use_water_content: bool = False) -> Solids:
    """Work out the solids of each sample from its solids, moisture and (if allowed) water-content results.

    ``results`` has the columns RESULTS + RESULTS_INNER. Figures outside their range give a Problem and are not used.
    """
    chosen = results["substance"].isin(WATER_FIGURES) & results["used"] & (results["kind"] == "exact")
    few = results.loc[chosen, ["sample", "substance", "method", "lab_sample", "file", "sheet", "row", "column"]].astype(
        dict.fromkeys(("sample", "substance", "method", "lab_sample", "file", "sheet", "column"), object)
    )
    few["figure"] = results.loc[chosen, "read_value"] * results.loc[chosen, "factor"]
    few = few[np.isfinite(few["figure"])]
    notices: list[Notice] = []

    is_solids, is_moisture, is_water = (few["substance"] == name for name in WATER_FIGURES)
    over = is_moisture & (few["figure"] > 100)
    notices += notice_of(
        few[over],
        "moisture-above-100",
        "moisture above 100 % can only be water over dry mass, or an error; it is not used as it stands",
        'If it is water over dry mass, set water-content = "use" under [reading].',
        "refused",
    )
    as_water = (is_water | over) if use_water_content else (is_water & False)
    solids = np.select(
        [is_solids, is_moisture & ~over, as_water],
        [few["figure"], 100.0 - few["figure"], 10000.0 / (100.0 + few["figure"])],
        default=np.nan,
    )
    rank = np.select([is_solids, is_moisture & ~over], [0, 1], default=2)
    few = few.assign(solids=solids, rank=rank)
    impossible = few["solids"].notna() & ~((few["solids"] > 0) & (few["solids"] <= 100) & (few["figure"] >= 0))
    notices += notice_of(
        few[impossible],
        "solids-impossible",
        "solids must lie above 0 and up to 100 %, moisture from 0 to below 100 %; the figure is not used",
        "Correct the figure, or give percent solids.",
        "refused",
    )
    few = few[few["solids"].notna() & ~impossible]
    notices += notice_of(
        few[(few["solids"] == 100) & (few["rank"] < 2)],
        "solids-100",
        "no water at all (solids 100 %) is unusual for sediment",
    )

    best = few.sort_values("rank", kind="stable").drop_duplicates("sample")
    conflict, conflict_notices = _conflicts(few)
    spread = few[few["rank"] == few["sample"].map(best.set_index("sample")["rank"])].groupby("sample", observed=True)[
        "solids"
    ]
    wide = spread.max() - spread.min() > DIFFER_BY
    notices += conflict_notices
    notices += notice_of(
        few[few["sample"].isin(wide.index[wide])].drop_duplicates("sample"),
        "solids-differ",
        f"solids figures of one sample differ by more than {DIFFER_BY:g} points; each wet result takes that of its own"
        " method or laboratory sample, else the first one read",
    )
    used_water = best[(best["rank"] == 2)]
    notices += notice_of(
        used_water,
        "water-content-used",
        "solids taken from a water content over dry mass, as the settings say",
    )
    low = best[best["solids"] < LOW_SOLIDS]
    notices += notice_of(
        low,
        "solids-low",
        f"solids below {LOW_SOLIDS:g} %: limits are high and figures less sure at so much water",
    )
    by_sample = best.set_index("sample")["solids"].drop(conflict, errors="ignore")
    return Solids(few, by_sample, conflict, tuple(notices))


def _conflicts(few: pd.DataFrame) -> tuple[pd.Index, list[Notice]]:
    """Samples whose first solids and first moisture figure do not add to 100."""
    first = few[few["rank"] < 2].drop_duplicates(["sample", "rank"]).set_index("sample")
    solids = first.loc[first["rank"] == 0, "solids"]
    from_moisture = first.loc[first["rank"] == 1, "solids"]
    both = solids.index.intersection(from_moisture.index)
    off = (solids[both] - from_moisture[both]).abs()
    # 1e-9: 58.1 + 43.9 is 102, not a hair more
    conflict = both[(off > ADD_UP_WITHIN + 1e-9).to_numpy()]
    rows = few[(few["rank"] == 0) & few["sample"].isin(conflict)].drop_duplicates("sample")
    return conflict, notice_of(
        rows,
        "moisture-conflict",
        f"solids and moisture do not add to 100 within {ADD_UP_WITHIN:g}; results on wet weight cannot be converted,"
        " results on dry weight stand",
        "Ask the laboratory which figure is right and correct the other.",
    )


def solids_on_rows(frame: pd.DataFrame, solids: Solids, samples: pd.Series) -> Floats:
    """Percent solids for each row of ``frame``, NaN where none is known.

    ``samples`` says which sample's water each row had. Where that sample has several figures, the one of the row's own
    method is taken, else the one of its own laboratory sample, else that of the sample.
    """
    codes, texts = coded(samples)
    by_text = solids.by_sample.reindex(pd.Index(texts, dtype=object)).to_numpy(dtype=np.float64)
    out = np.append(by_text, np.nan)[codes]
    figures = solids.figures[~solids.figures["sample"].isin(solids.conflict)]
    counts = figures.groupby("sample", observed=True)["solids"].nunique()
    several = set(counts.index[counts > 1])
    if not several:
        return out
    rows = np.flatnonzero(np.append(np.array([text in several for text in texts], dtype=bool), False)[codes])
    own = pd.DataFrame(
        {
            "sample": np.append(texts, np.array([None], dtype=object))[codes[rows]],
            "method": frame["method"].astype(object).to_numpy()[rows],
            "lab_sample": frame["lab_sample"].astype(object).to_numpy()[rows],
        }
    )
    for key in ("lab_sample", "method"):
        table = figures[figures[key].notna()].sort_values("rank", kind="stable").drop_duplicates(["sample", key])
        found = own.merge(table[["sample", key, "solids"]], on=["sample", key], how="left")["solids"].to_numpy()
        out[rows] = np.where(np.isnan(found) | own[key].isna().to_numpy(), out[rows], found)
    return out
