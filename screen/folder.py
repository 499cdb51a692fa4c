"""A written run read back from its folder, as far as a chain needs it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from screen.explain import Tables
from screen.output import RECORD

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["NotARunError", "read_folder", "read_table"]

_NUMBERS = (
    "value limit low high oc_value depth_top_cm depth_bottom_cm river_km read_value read_limit factor measured members "
    "peaks detects lab_total lab_difference_pct lower_level upper_level lower_quotient upper_quotient solids_pct "
    "toc_pct fines_pct latitude longitude row n mean mean_low mean_high median max upper95"
).split()
_FLAGS = ("detected", "used", "complete", "settled")


class NotARunError(ValueError):
    """The folder holds no run of this tool, or one that is not whole. The text says which file is missing."""


def read_table(folder: Path, name: str) -> pd.DataFrame:
    """One table of a run: text columns as text (empty is empty), numbers float64, flags bool or missing.

    Raises NotARunError when the table is not there.
    """
    import pandas as pd

    path = folder / "tables" / f"{name}.csv"
    if path.with_suffix(".parquet").is_file():
        return _read_parquet(path.with_suffix(".parquet"))
    if not path.is_file():
        raise NotARunError(f"{folder} has no tables/{name}.csv: it is not a whole run of siltmark.")
    frame = pd.read_csv(path, dtype=str, keep_default_na=False, na_filter=False)
    for column in frame.columns:
        if column in _NUMBERS:
            frame[column] = pd.to_numeric(frame[column].replace("", None))
        elif column in _FLAGS:
            frame[column] = frame[column].map({"true": True, "false": False})
        else:
            frame[column] = frame[column].str.replace(r"^'(?=[=+\-@\t])", "", regex=True)
    return frame


def _read_parquet(path: Path) -> pd.DataFrame:
    """A Parquet table in the form of ``read_table``."""
    import pandas as pd

    from screen.stages.report.text import number_text

    try:
        frame = pd.read_parquet(path)
    except ImportError as error:
        raise NotARunError(
            f'{path} is in Parquet, which needs pyarrow. Install it with: pip install "siltmark[fast]".'
        ) from error
    for column in frame.columns:
        if column in _NUMBERS:
            frame[column] = pd.to_numeric(frame[column])
        elif column in _FLAGS:
            frame[column] = frame[column].astype(object).map({True: True, False: False})
        elif pd.api.types.is_float_dtype(frame[column].dtype):
            frame[column] = [number_text(one) for one in frame[column].to_numpy(dtype=float, na_value=float("nan"))]
        else:
            frame[column] = frame[column].astype(object).where(frame[column].notna(), "").astype(str)
    return frame


def read_folder(folder: Path) -> Tables:
    """The tables of a run that ``siltmark screen`` wrote.

    Raises NotARunError when the folder is not a whole run.
    """
    import json

    from screen.reference.sets import load_set

    if not (folder / RECORD).is_file():
        raise NotARunError(f"{folder} holds no {RECORD}: it is not a folder that siltmark wrote.")
    sets = {path.stem: load_set(path) for path in sorted((folder / "sets").glob("*.toml"))}
    try:
        record = json.loads((folder / RECORD).read_text(encoding="utf-8"))
        leading = [str(one["id"]) for one in record["guideline_sets"]]
    except (ValueError, KeyError, TypeError) as error:
        raise NotARunError(
            f"{folder / RECORD} cannot be read as the record of a run; screen the sheets again."
        ) from error
    return Tables(
        results=read_table(folder, "results"),
        totals=read_table(folder, "totals"),
        findings=read_table(folder, "findings"),
        samples=read_table(folder, "samples"),
        sets=sets,
        leading=leading,
    )
