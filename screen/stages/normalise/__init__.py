"""Results as read to results on dry weight, in standard units and per organic carbon: takes a Batch, gives another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from screen.model import Batch
from screen.settings import Settings
from screen.stages.normalise.blanks import five_ten
from screen.stages.normalise.carbon import carbon_of
from screen.stages.normalise.moisture import solids_of
from screen.stages.normalise.notices import Notice, problems_of
from screen.stages.normalise.weights import on_dry_weight, refusals, with_carbon

__all__ = ["normalise", "normalised"]


def normalise(batch: Batch, settings: Settings | None = None) -> Batch:
    """Bring every result of ``batch`` to dry weight and its standard unit; the batch given stays as it was.

    As ``normalised``, with what is told appended to ``problems``.
    """
    made, notices = normalised(batch, settings or Settings())
    return replace(made, problems=(*batch.problems, *problems_of(notices)))


def normalised(batch: Batch, settings: Settings, blanks: pd.DataFrame | None = None) -> tuple[Batch, list[Notice]]:
    """``batch`` on dry weight and in standard units, and what is told of its samples.

    Fills value, limit, low, high (dry weight, standard unit), unit, oc_value and oc_unit (mg per kg organic carbon) in
    results, laboratory totals and quality-control rows; sets ``used`` and ``why_not`` where a figure cannot be had;
    fills solids_pct, toc_pct and fines_pct of the samples with what was used. With ``blanks = "five-ten"`` results near
    their blank become nondetects first; ``blanks`` are the quality-control rows of the whole batch where ``batch`` is a
    part of it.
    """
    batch = replace(batch, results=batch.results.reset_index(drop=True))
    blank_notices: list[Notice] = []
    if settings.blanks == "five-ten":
        judged, blank_notices = five_ten(batch.results, batch.qc if blanks is None else blanks)
        batch = replace(batch, results=judged)
    solids = solids_of(batch.results, use_water_content=settings.water_content == "use")
    results = on_dry_weight(batch.results, solids)
    carbon, carbon_notices = carbon_of(results)
    results = with_carbon(results, carbon)

    lab_totals = with_carbon(on_dry_weight(batch.lab_totals, solids), carbon)
    whose = _water_of_qc(batch.qc)
    qc = with_carbon(on_dry_weight(batch.qc, solids, whose), carbon, whose)

    texts = batch.samples["sample"].astype(object)
    samples = batch.samples.assign(
        solids_pct=texts.map(solids.by_sample).astype(np.float64),
        toc_pct=texts.map(carbon).astype(np.float64),
        fines_pct=texts.map(_fines(results)).astype(np.float64),
    )
    made = replace(batch, results=results, lab_totals=lab_totals, qc=qc, samples=samples)
    return made, [*blank_notices, *solids.notices, *carbon_notices, *refusals(results)]


def _water_of_qc(qc: pd.DataFrame) -> pd.Series:
    """The sample whose water a quality-control row had: the one it belongs to, else its own."""
    own = qc["sample"].astype(object)
    return qc["qc_of"].astype(object).where(qc["qc_of"].notna(), own) if "qc_of" in qc else own


def _fines(results: pd.DataFrame) -> pd.Series:
    """Percent fines by sample: the figure reported as such, else silt plus clay where both are there."""
    good = results[results["substance"].isin(["Fines", "Silt", "Clay"]) & results["used"] & results["value"].notna()]
    table = pd.DataFrame(index=pd.Index(good["sample"].astype(object).unique(), name="sample"))
    for name in ("Fines", "Silt", "Clay"):
        own = good[good["substance"] == name].drop_duplicates("sample")
        table[name] = own.assign(sample=own["sample"].astype(object)).set_index("sample")["value"]
    return table["Fines"].fillna(table["Silt"] + table["Clay"]).dropna()
