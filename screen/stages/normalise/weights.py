"""Numbers as read to numbers on dry weight: in go rows as reported, out come the same rows in standard units."""

from __future__ import annotations

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, coded, spread
from screen.model import WHY_NOT
from screen.reference.substances import describe
from screen.reference.units import factor, scaled
from screen.stages.normalise.moisture import WATER_FIGURES, Solids, solids_on_rows
from screen.stages.normalise.notices import Notice, notice_of

__all__ = ["carbon_on_rows", "on_dry_weight", "refusals", "with_carbon"]

OC_UNIT = "mg/kg OC"
_NUMBERS = ("value", "limit", "low", "high")


def on_dry_weight(frame: pd.DataFrame, solids: Solids, samples: pd.Series | None = None) -> pd.DataFrame:
    """``frame`` with value, limit, low and high on dry weight in the standard unit, and ``why_not`` where that fails.

    ``frame`` has the columns RESULTS + RESULTS_INNER; it is not changed. ``samples`` says whose water each row had
    (the row's own sample unless given); ``solids_pct`` is the per cent of solids that a wet row was divided by. Rows
    reported per organic carbon get no figures yet: see ``with_carbon``.
    dry = wet x 100 / solids (EPA/USACE practice; intake handbook 4); limits convert by the same factor.
    """
    samples = frame["sample"] if samples is None else samples
    codes, names = coded(frame["substance"])
    facts = describe(list(names))
    wet, per_carbon, stated = _bases(frame)
    needs = facts["needs_basis"].to_numpy(dtype=bool) & ~np.isin(names, WATER_FIGURES)
    unless_stated = (facts["default_basis"] == "dry").to_numpy(dtype=bool)
    needs_basis, must_state = _at(needs, codes), _at(needs & ~unless_stated, codes)
    wet &= needs_basis
    per_carbon &= needs_basis

    share = np.full(len(frame), 100.0)
    if wet.any():
        share = np.where(wet, solids_on_rows(frame, solids, samples), 100.0)
    sample_codes, sample_texts = coded(samples)
    in_conflict = _at(np.isin(sample_texts, solids.conflict.to_numpy(dtype=object)), sample_codes) & wet
    reasons = [
        ("no-basis", must_state & ~stated),
        ("moisture-conflict", in_conflict),
        ("no-moisture", wet & ~in_conflict & np.isnan(share)),
        ("no-carbon", per_carbon),
    ]
    factor = frame["factor"].to_numpy(dtype=np.float64)
    out = _refused(frame, reasons)
    empty = np.logical_or.reduce([flags for _, flags in reasons])
    columns: dict[str, Floats | pd.Categorical] = {"unit": spread(codes, facts["unit"].to_numpy(dtype=object))}
    for name in _NUMBERS:
        read = frame[f"read_{name}"].to_numpy(dtype=np.float64)
        in_unit = scaled(read, factor)
        dry = np.where(wet, in_unit * 100.0 / share, in_unit)
        columns[name] = np.where(empty, np.nan, dry)
    columns["solids_pct"] = np.where(wet & ~empty, share, np.nan)
    return out.assign(**columns)


def _bases(frame: pd.DataFrame) -> tuple[Flags, Flags, Flags]:
    """Which rows are on wet weight, which per organic carbon, and which state any basis."""
    codes, texts = coded(frame["reported_basis"])
    return _at(texts == "wet", codes), _at(texts == "oc", codes), codes >= 0


def _at(flags: Flags, codes: Codes) -> Flags:
    """``flags[code]``, false for no code."""
    return np.append(np.asarray(flags, dtype=bool), False)[codes]


def _refused(frame: pd.DataFrame, reasons: list[tuple[str, Flags]]) -> pd.DataFrame:
    """``frame`` with the first of ``reasons`` that holds as ``why_not``, unless reading already gave one."""
    known = pd.Index(WHY_NOT)
    why = frame["why_not"]
    if not isinstance(why.dtype, pd.CategoricalDtype):
        why = why.astype(object).astype("category")
    codes = why.cat.set_categories(known).cat.codes.to_numpy(dtype=np.int64).copy()
    for name, flags in reasons:
        codes[flags & (codes < 0)] = WHY_NOT.index(name)
    used = frame["used"].to_numpy(dtype=bool) & (codes < 0)
    return frame.assign(why_not=pd.Categorical.from_codes(codes, known), used=used)


def carbon_on_rows(samples: pd.Series, carbon: pd.Series) -> Floats:
    """Organic carbon as a fraction of dry mass for each row's sample, NaN where there is none."""
    codes, texts = coded(samples)
    by_text = carbon.reindex(pd.Index(texts, dtype=object)).to_numpy(dtype=np.float64) / 100.0
    return np.append(by_text, np.nan)[codes]


def with_carbon(frame: pd.DataFrame, carbon: pd.Series, samples: pd.Series | None = None) -> pd.DataFrame:
    """``frame`` (from ``on_dry_weight``) with oc_value and oc_unit, and rows reported per carbon brought back to dry.

    oc_value is mg per kg organic carbon, for detected nonionic organics with a value only: C_oc = C_dry / foc.
    """
    foc = carbon_on_rows(frame["sample"] if samples is None else samples, carbon)
    codes, names = coded(frame["substance"])
    facts = describe(list(names))
    _, per_carbon, _ = _bases(frame)
    back = per_carbon & (frame["why_not"] == "no-carbon").to_numpy() & ~np.isnan(foc)
    if back.any():
        read = {name: frame[f"read_{name}"].to_numpy(dtype=np.float64) for name in _NUMBERS}
        scale = frame["factor"].to_numpy(dtype=np.float64) * foc
        why = frame["why_not"].where(~back)
        frame = frame.assign(
            why_not=why,
            used=frame["used"].to_numpy(dtype=bool) | back,
            **{name: np.where(back, read[name] * scale, frame[name].to_numpy(dtype=np.float64)) for name in _NUMBERS},
        )
    to_mg = np.array([_milligrams(unit) for unit in facts["unit"]], dtype=np.float64)
    nonionic = _at(facts["nonionic"].to_numpy(dtype=bool), codes)
    wanted = nonionic & frame["detected"].to_numpy(dtype=bool)
    value = frame["value"].to_numpy(dtype=np.float64) * np.append(to_mg, np.nan)[codes] / foc
    oc_value = np.where(wanted, value, np.nan)
    oc_codes = np.where(np.isnan(oc_value), -1, 0).astype(np.int64)
    return frame.assign(oc_value=oc_value, oc_unit=spread(oc_codes, [OC_UNIT]))


def _milligrams(unit: object) -> float:
    found = factor(unit, "mg/kg") if isinstance(unit, str) else None
    return np.nan if found is None else found


_WORDS = {
    "no-basis": (
        "no basis is stated (wet or dry weight)",
        'Say what the laboratory used with --basis, or with basis = "..." in the settings.',
    ),
    "no-moisture": ("reported on wet weight, and no solids or moisture is known", "Add percent solids for the sample."),
    "moisture-conflict": (
        "reported on wet weight, and solids and moisture contradict each other",
        "Correct one of the two.",
    ),
    "no-carbon": (
        "reported per organic carbon, and no organic carbon is known",
        "Add total organic carbon for the sample.",
    ),
}


def refusals(results: pd.DataFrame) -> list[Notice]:
    """One notice for each reason for which results could not be brought to dry weight."""
    codes, reasons = coded(results["why_not"])
    notices = []
    for place, reason in enumerate(reasons):
        if reason in _WORDS:
            what, mend = _WORDS[reason]
            rows = results.iloc[np.flatnonzero(codes == place)]
            notices += notice_of(rows, reason, f"{what}. Not converted, not compared", mend, counted=True)
    return notices
