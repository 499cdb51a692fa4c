"""Guideline sets. In: the id of a built-in set, or the path of one's own. Out: a :class:`GuidelineSet`.

The format is a pair of files, the same for built-in and own sets; `guidelines/README.md` describes it.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd

from screen.likeness import nearest
from screen.reference.check import check_raw
from screen.reference.locate import data_root
from screen.reference.set_files import (
    FIGURE_COLUMNS,
    RawSet,
    SetError,
    builtin_ids,
    is_builtin,
    read_basis_word,
    read_pair,
    standing_basis,
)
from screen.reference.units import read_unit

__all__ = [
    "ROWS",
    "GuidelineSet",
    "SetError",
    "builtin_ids",
    "default_sets",
    "load_set",
    "mostly_unseen",
    "read_basis_word",
    "set_outside",
]

#: The columns of :attr:`GuidelineSet.rows`.
ROWS = ["substance", "cas", "level", "value", "unit", "basis", "evidence", "source", "note"]


@dataclass(frozen=True, slots=True)
class GuidelineSet:
    """One set of sediment quality guidelines.

    - ``levels``: names, mildest first; ``lower`` (None in a one-level set) and ``upper``: the pair that is compared.
    - ``basis``: of figures that state none of their own; see :func:`read_basis_word`.
    - ``at_level``: ``not-above`` or ``exceeds``; ``nondetects``: the set's rule for sums, None where it states none.
    - ``toc_range``: per cent of organic carbon within which carbon bases hold; ``toc_outside``: ``clamp``,
      ``not-assessed`` or the id of the set used instead. Both None without a ``[toc]`` table.
    - ``sums``: for each guideline sum, one tuple of total ids for each kind of measurement, in order of preference.
    - ``rows``: one row per substance and level that has a figure, with the columns ROWS; ``value`` float64 in ``unit``.
    - ``sha256``: over the bytes of the CSV and then the TOML; ``own``: not built in.
    - ``folder``: where one's own set lies, None for a built-in one.
    - ``meanings``: what each level means in its issuer's terms; ``second``: the other publication that the figures were
      checked against, "" for none.
    """

    id: str
    title: str
    citation: str
    water: tuple[str, ...]
    levels: tuple[str, ...]
    lower: str | None
    upper: str
    basis: str
    at_level: str
    nondetects: str | None
    caveats: tuple[str, ...]
    toc_range: tuple[float, float] | None
    toc_outside: str | None
    sums: dict[str, tuple[tuple[str, ...], ...]]
    rows: pd.DataFrame = field(compare=False, repr=False)
    sha256: str
    own: bool
    meanings: dict[str, str] = field(default_factory=dict)
    issuer: str = ""
    year: str = ""
    second: str = ""
    folder: Path | None = field(default=None, compare=False, repr=False)
    csv_bytes: bytes = field(default=b"", compare=False, repr=False)
    toml_bytes: bytes = field(default=b"", compare=False, repr=False)

    def save(self, folder: Path) -> None:
        """Write the pair of files, byte for byte, into ``folder`` (made if need be)."""
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{self.id}.csv").write_bytes(self.csv_bytes)
        (folder / f"{self.id}.toml").write_bytes(self.toml_bytes)


def load_set(name: str | Path, own_allowed: bool = True) -> GuidelineSet:
    """The set of that id, or, where ``own_allowed``, the one whose files (either of the pair) ``name`` is the path of.

    Raises SetError when there is none, or when one's own is not in order; the message names file, line and mend.
    """
    if str(name) in builtin_ids():
        return _builtin(str(name))
    path = Path(name)
    if not own_allowed or not any(path.with_suffix(suffix).is_file() for suffix in (".csv", ".toml")):
        near = nearest(str(name), builtin_ids())
        hint = f"Did you mean {near[0]}? " if near else ""
        raise SetError(f"There is no guideline set {str(name)!r}. {hint}`siltmark guidelines list` names them all.")
    raw = read_pair(path)
    if findings := check_raw(raw):
        more = f" ({len(findings) - 1} more: `siltmark guidelines check {path}`)" if len(findings) > 1 else ""
        raise SetError(findings[0].text + more, tuple(findings))
    return _made(raw, own=not is_builtin(path))


def set_outside(chosen: GuidelineSet) -> GuidelineSet | None:
    """The set that takes the place of ``chosen`` where carbon lies outside its range, None where no set does.

    It is a built-in one, or one's own whose files lie beside those of ``chosen``. Raises SetError when it is not in
    order.
    """
    name = chosen.toc_outside
    if name in (None, "clamp", "not-assessed"):
        return None
    beside = chosen.folder is not None and name not in builtin_ids()
    return load_set(chosen.folder / f"{name}.toml" if beside and chosen.folder else str(name))


def default_sets(water: str | None) -> tuple[str, ...]:
    """The sets compared for a station of that water where the user names none; the first leads the report.

    ``None`` or "" is a water that is stated nowhere. Land has none. The choice is data:
    `guidelines/defaults.toml`.
    """
    return _defaults().get(water or "not-stated", ())


def mostly_unseen(guideline_set: GuidelineSet) -> bool:
    """Whether most of a set's figures (more than half) were not seen in a source, or are in conflict."""
    evidence = guideline_set.rows["evidence"]
    return bool(len(evidence)) and int(evidence.isin(("seen", "own")).sum()) * 2 < len(evidence)


@cache
def _defaults() -> dict[str, tuple[str, ...]]:
    text = (data_root() / "defaults.toml").read_text(encoding="utf-8")
    return {water: tuple(ids) for water, ids in tomllib.loads(text).items()}


@cache
def _builtin(name: str) -> GuidelineSet:
    return _made(read_pair(data_root() / "sets" / f"{name}.csv"), own=False)


def _made(raw: RawSet, own: bool) -> GuidelineSet:
    data = raw.data
    levels = tuple(data["levels"])
    toc = data.get("toc")
    return GuidelineSet(
        id=raw.id,
        title=data["title"],
        citation=data["citation"],
        water=tuple(data["water"]),
        levels=levels,
        lower=data.get("lower"),
        upper=data["upper"],
        basis=data.get("basis", "dry"),
        at_level=data.get("at_level", "not-above"),
        nondetects=data.get("nondetects"),
        caveats=tuple(data["caveats"]),
        toc_range=None if toc is None else (float(toc["range_pct"][0]), float(toc["range_pct"][1])),
        toc_outside=None if toc is None else toc["outside"],
        sums={name: _kinds(totals) for name, totals in data.get("sums", {}).items()},
        rows=_rows(raw, levels, own),
        sha256=hashlib.sha256(raw.csv_bytes + raw.toml_bytes).hexdigest(),
        own=own,
        meanings=dict(data.get("meaning", {})),
        issuer=data.get("issuer", ""),
        year=data.get("year", ""),
        second=data.get("second", ""),
        folder=raw.about.parent if own else None,
        csv_bytes=raw.csv_bytes,
        toml_bytes=raw.toml_bytes,
    )


def _kinds(totals: list[Any]) -> tuple[tuple[str, ...], ...]:
    return tuple(map(tuple, totals)) if isinstance(totals[0], list) else (tuple(totals),)


def _rows(raw: RawSet, levels: tuple[str, ...], own: bool) -> pd.DataFrame:
    found = []
    for _, cells in raw.records:
        for level in levels:
            if not cells.get(level):
                continue
            said = {column: cells.get(f"{level} {column}") or cells.get(column) or "" for column in FIGURE_COLUMNS}
            reading = read_unit(said["unit"])
            said["unit"] = reading.unit or said["unit"]
            said["basis"] = said["basis"] or standing_basis(raw.data, reading.basis)
            said["evidence"] = said["evidence"] or ("own" if own else "")
            figure = {"level": level, "value": float(cells[level]), **said}
            found.append({**{column: cells.get(column, "") for column in ("substance", "cas", "note")}, **figure})
    return pd.DataFrame(found, columns=ROWS).astype({"value": float})
