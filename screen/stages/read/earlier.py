"""An earlier run of the tool, to compare with. In: its folder. Out: its table of stations and who analysed what how."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from screen.settings import SettingsError

__all__ = ["EarlierRun", "read_earlier"]


@dataclass(frozen=True, slots=True)
class EarlierRun:
    """``stations``: station, layer, substance, mean, unit, method, note; texts, empty where missing.

    ``methods``: the distinct station, substance and analytical method of the used results.
    """

    stations: pd.DataFrame
    methods: pd.DataFrame


def read_earlier(folder: Path) -> EarlierRun:
    """The earlier run in ``folder``. Raises SettingsError where that is not a folder of this tool with its tables."""
    if not (folder / "run.json").is_file():
        raise SettingsError(f"earlier: {folder.name} is not a folder of an earlier run (it has no run.json).")
    stations = _table(folder, "stations", ["station", "layer", "substance", "mean", "unit", "method", "note"])
    stations["mean"] = pd.to_numeric(stations["mean"].replace({"": None, "nan": None}))
    results = _table(folder, "results", ["station", "substance", "method", "used"])
    used = results[results["used"].astype(str).str.casefold() == "true"]
    return EarlierRun(stations, used[["station", "substance", "method"]].drop_duplicates().reset_index(drop=True))


def _table(folder: Path, name: str, columns: list[str]) -> pd.DataFrame:
    """These columns of a table as text, empty where missing, without the mark that stops a text being a formula."""
    path = folder / "tables" / f"{name}.csv"
    try:
        if path.is_file():
            frame = pd.read_csv(path, dtype=str, usecols=columns, keep_default_na=False, encoding="utf-8")
        else:
            frame = pd.read_parquet(path.with_suffix(".parquet"), columns=columns).astype(object)
            frame = frame.where(frame.notna(), "").astype(str)
    except (OSError, ValueError, ImportError) as error:
        raise SettingsError(f"earlier: tables/{name} of {folder.name} cannot be read: {error}.") from error
    return frame.replace(to_replace=r"^'(?=[=+\-@\t])", value="", regex=True)
