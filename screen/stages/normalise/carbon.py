"""Organic carbon of each sample: in go the carbon results on dry weight, out comes one percentage per sample."""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.stages.normalise.notices import Notice, notice_of

__all__ = ["CARBON", "carbon_of"]

CARBON = "Total organic carbon"


def carbon_of(results: pd.DataFrame) -> tuple[pd.Series, tuple[Notice, ...]]:
    """Percent organic carbon on dry weight by sample (index sample, float64), and what a user should know of it.

    ``results`` holds the carbon rows with ``value`` already on dry weight in per cent. A sample without a detected
    figure above zero is left out: nothing is normalised by it. Replicates give their mean, with a notice.
    """
    good = results[
        (results["substance"] == CARBON)
        & results["used"]
        & results["detected"]
        & (results["kind"] == "exact")
        & (results["value"] > 0)
    ]
    groups = good.assign(sample=good["sample"].astype(object)).groupby("sample", sort=False)["value"]
    carbon = groups.mean().astype(np.float64)
    count = groups.size()
    repeated = good[good["sample"].isin(count.index[count > 1])]
    notices = notice_of(
        repeated, "carbon-replicates", "several organic carbon results; their mean is used", placed=False
    )
    notices += notice_of(
        good[good["reported_basis"] == "wet"],
        "carbon-wet",
        "organic carbon is stated on wet weight; it was converted to dry weight. That is rare: check it with the"
        " laboratory",
        placed=False,
    )
    return carbon, tuple(notices)
