"""Results as a person made them: in goes a frame with what is known, out comes one with all columns of the stages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from screen.columns import Codes, Flags, Floats, Texts, coded, spread, texts_of
from screen.model import RESULTS
from screen.reference.names import name_book
from screen.reference.substances import describe
from screen.reference.units import factor, read_unit, scaled
from screen.stages.read.words.qualifiers import flag_effects, split_flags

__all__ = ["DEPTHS", "flags", "need", "numbers", "results_of", "texts"]

_FIGURES = ("value", "limit", "low", "high")
DEPTHS = ("river_km", "depth_top_cm", "depth_bottom_cm")


def results_of(given: pd.DataFrame) -> pd.DataFrame:
    """``given`` with all columns of RESULTS and ``estimated``, figures in standard units."""
    need(given, "results", ("sample", "substance"), ("value", "limit"))
    frame = given.reset_index(drop=True)
    count = len(frame)
    figures = {name: numbers(frame, name) for name in _FIGURES}
    _check_read_only(frame, figures)
    substance, names = coded(frame["substance"])
    facts = describe(list(names))
    _known_names(names, facts)
    standard: Texts = np.array([*facts["unit"], None], dtype=object)
    by, unit = _to_standard(frame, substance, names, standard)
    figures = {name: scaled(values, by) for name, values in figures.items()}
    used = flags(frame, "used", np.ones(count, dtype=bool))
    kind = _kinds(frame, figures)
    detected = flags(frame, "detected", kind != "nondetect")
    figures = _bounds(figures, kind, used)
    columns: dict[str, Any] = {
        **figures,
        "used": used,
        "detected": detected,
        "kind": pd.Categorical(kind),
        "unit": unit,
        "group": spread(substance, facts["group"].to_numpy(dtype=object)),
        "estimated": flags(frame, "estimated", _estimated(frame, kind)),
        "reported_basis": texts(frame, "reported_basis", np.full(count, "dry", dtype=object)),
        "station": texts(frame, "station", texts_of(frame["sample"])),
    }
    columns |= {name: numbers(frame, name) for name in DEPTHS}
    none = np.full(count, None, dtype=object)
    columns |= {name: pd.Categorical(none) for name in RESULTS if name not in frame and name not in columns}
    return frame.assign(**columns)


def need(frame: pd.DataFrame, what: str, all_of: Iterable[str], one_of: Sequence[str]) -> None:
    """Raise ValueError where ``frame`` (of ``what``) lacks a column that nothing can stand for."""
    missing = [name for name in all_of if name not in frame]
    if not any(name in frame for name in one_of):
        missing.append(" or ".join(one_of))
    if missing:
        raise ValueError(f"The frame of {what} has no column {', '.join(missing)}.")


def numbers(frame: pd.DataFrame, name: str) -> Floats:
    """A column of numbers, NaN where it is left out; raises ValueError for a text."""
    if name not in frame:
        return np.full(len(frame), np.nan)
    try:
        return np.asarray(pd.to_numeric(frame[name]), dtype=np.float64)
    except (ValueError, TypeError) as error:
        raise ValueError(f"The column {name} holds a text where a number is needed: {error}") from error


def flags(frame: pd.DataFrame, name: str, standing: Flags) -> Flags:
    """A column of true and false, as flags or as the texts of a table; ``standing`` where nothing is said."""
    if name not in frame:
        return standing
    said = frame[name].astype(object)
    words = said.map({True: True, False: False, "true": True, "false": False, "True": True, "False": False})
    if (words.isna() & said.notna()).any():
        raise ValueError(f"The column {name} must hold true or false only.")
    return np.where(words.isna(), standing, words.eq(True)).astype(bool)


def texts(frame: pd.DataFrame, name: str, standing: Texts) -> pd.Categorical:
    """A column of texts, ``standing`` where it is left out."""
    if name not in frame:
        return spread(*_factored(standing))
    codes, own = coded(frame[name])
    return spread(codes, own)


def _factored(texts: Texts) -> tuple[Codes, Texts]:
    codes, own = pd.factorize(texts)
    return codes.astype(np.int64), np.asarray(own, dtype=object)


def _check_read_only(frame: pd.DataFrame, figures: dict[str, Floats]) -> None:
    if "read_value" not in frame or frame.empty or not all(np.isnan(values).all() for values in figures.values()):
        return
    if frame[["read_value", "read_limit"]].notna().any(axis=None):
        raise ValueError("These results were read but not brought to dry weight: give the batch to normalise first.")


def _known_names(names: Texts, facts: pd.DataFrame) -> None:
    unknown = [str(name) for name in names[facts["group"].isna().to_numpy()]]
    if not unknown:
        return
    said = []
    for name in unknown[:5]:
        found = name_book().resolve(name).substance
        said.append(f"{name!r} (its name here is {found!r})" if found else f"{name!r}")
    raise ValueError(f"Not the name of a substance in the analyte table: {', '.join(said)}.")


def _to_standard(frame: pd.DataFrame, substance: Codes, names: Texts, standard: Texts) -> tuple[Floats, pd.Categorical]:
    """What brings each figure to the standard unit of its substance, and that unit."""
    if "unit" not in frame:
        return np.ones(len(frame)), spread(substance, standard[:-1])
    stated, units = coded(frame["unit"])
    pairs, keys = pd.factorize(substance * (len(units) + 1) + stated + 1)
    factors, own = np.ones(len(keys)), np.full(len(keys), None, dtype=object)
    for at, key in enumerate(keys):
        name, unit = key // (len(units) + 1), key % (len(units) + 1) - 1
        own[at] = standard[name] or (units[unit] if unit >= 0 else None)
        if unit >= 0 and name >= 0 and standard[name] and units[unit] != standard[name]:
            factors[at] = _factor(str(names[name]), str(units[unit]), str(standard[name]))
    return factors[pairs], spread(pairs.astype(np.int64), own)


def _factor(substance: str, unit: str, standard: str) -> float:
    stated = read_unit(unit)
    by = factor(stated.unit, standard) if stated.unit and stated.basis in ("", "dry") else None
    if by is None:
        raise ValueError(
            f"{substance} in {unit!r} cannot be brought to {standard} on dry weight. {stated.message}".strip()
        )
    return by


def _kinds(frame: pd.DataFrame, figures: dict[str, Floats]) -> Texts:
    """The kind stated; else exact where there is a value, and not detected where there is none or it says so."""
    detected = flags(frame, "detected", ~np.isnan(figures["value"]))
    standing = np.where(detected & ~np.isnan(figures["value"]), "exact", np.where(detected, "trace", "nondetect"))
    own = texts_of(frame["kind"]) if "kind" in frame else np.full(len(frame), "", dtype=object)
    return np.where(own != "", own, standing).astype(object)


def _bounds(figures: dict[str, Floats], kind: Texts, used: Flags) -> dict[str, Floats]:
    """Value, limit, low and high as the contract ties them together, where they were left out."""
    value, limit, low, high = (figures[name] for name in _FIGURES)
    nondetect = (kind == "nondetect") & used
    limit = np.where(nondetect & np.isnan(limit), high, limit)
    if (nondetect & np.isnan(limit) & ~np.isnan(value)).any():
        raise ValueError("A result that was not detected has a value and no limit: give its limit in the column limit.")
    value = np.where(nondetect, np.nan, value)
    least = {"exact": value, "more-than": value, "nondetect": np.zeros(len(value)), "trace": np.zeros(len(value))}
    least["estimated-maximum"] = np.where(np.isnan(value), np.nan, 0.0)
    most = {"exact": value, "estimated-maximum": value, "nondetect": limit}
    for name, own in least.items():
        low = np.where((kind == name) & used & np.isnan(low), own, low)
    low = np.where(nondetect & np.isnan(limit), np.nan, low)
    for name, own in most.items():
        high = np.where((kind == name) & used & np.isnan(high), own, high)
    return {"value": value, "limit": limit, "low": low, "high": high}


def _estimated(frame: pd.DataFrame, kind: Texts) -> Flags:
    """Which results a flag of ``qualifier`` makes estimates."""
    if "qualifier" not in frame:
        return np.asarray(kind == "estimated-maximum", dtype=bool)
    codes, texts = coded(frame["qualifier"])
    effects = [frozenset().union(*(flag_effects(flag) or () for flag in split_flags(str(one)))) for one in texts]
    flagged = np.array(["estimated" in one for one in effects] + [False], dtype=bool)
    return np.asarray(flagged[codes] | (kind == "estimated-maximum"), dtype=bool)
