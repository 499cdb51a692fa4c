"""What each index is: in goes `guidelines/coefficients/indices.toml`, out come formula, source, classes and caveats."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Any

from screen.reference.locate import data_root, read_table

__all__ = ["Background", "IndexAbout", "about_indices", "index_classes", "published_background"]


@dataclass(frozen=True, slots=True)
class IndexAbout:
    """One index, or one family of them (``ratio-homolog-...``).

    ``formula``, ``source`` and ``caveats`` are plain text; ``classes`` says which limits are used, or that none are.
    ``off`` is the reason why the index is not made, "" for one that is.
    """

    id: str
    name: str
    formula: str
    source: str
    nondetects: str
    classes: str
    caveats: tuple[str, ...]
    off: str

    def fits(self, index: str) -> bool:
        """Whether an index of that id is this one, or one of this family."""
        return index == self.id or (self.id.endswith("...") and index.startswith(self.id.removesuffix("...")))


@cache
def about_indices() -> tuple[IndexAbout, ...]:
    """All indices, in the order of the data."""
    return tuple(
        IndexAbout(
            str(name),
            str(one["name"]),
            str(one["formula"]),
            str(one["source"]),
            str(one["nondetects"]),
            str(one.get("classes", "")),
            tuple(str(text) for text in one["caveats"]),
            str(one.get("off", "")),
        )
        for name, one in _file()["index"].items()
    )


@dataclass(frozen=True, slots=True)
class Background:
    """A published background of metals: its id and source, and figures (mg/kg) and evidence marks by element."""

    id: str
    source: str
    figures: dict[str, float]
    evidence: dict[str, str]


def published_background(name: str | None = None) -> Background:
    """A published background of metals by its id; without one, that which `indices.toml` names.

    Raises ValueError for an id that is not held, naming those that are.
    """
    table = read_table("coefficients/background_metals.csv")
    chosen = name or str(_file()["background"])
    own = table[table["background"] == chosen]
    if own.empty:
        known = ", ".join(dict.fromkeys(table["background"]))
        raise ValueError(f"There is no background {chosen!r}. Known are {known}, and reference.")
    figures = dict(zip(own["substance"], own["value_mg_kg"].astype(float), strict=True))
    evidence = dict(zip(own["substance"], own["evidence"], strict=True))
    return Background(chosen, str(own["source"].iloc[0]), figures, evidence)


def index_classes(index: str) -> list[dict[str, str]]:
    """The classes of one index, ascending: columns of `index_classes.csv`, with the limits in words in ``class``."""
    table = read_table("coefficients/index_classes.csv")
    rows = [{str(k): str(v) for k, v in row.items()} for row in table[table["index"] == index].to_dict("records")]
    # the lower end of a class is the upper end of the one before, which says whose the limit is
    before = [row["limit_belongs_to"] for row in [*rows[:1], *rows]]
    return [{**row, "class": _with_limits(row, last)} for row, last in zip(rows, before, strict=False)]


def _with_limits(row: dict[str, str], before: str) -> str:
    """The name of a class and, where it does not say them, its limits."""
    above, up_to = row["above"], row["up_to"]
    name = row["class"]
    if re.search(r"\d", re.sub(r"^class \d", "", name)):
        return name
    least = f"{'above' if before == 'upper' else 'from'} {above}" if above else ""
    most = f"{'up to' if row['limit_belongs_to'] == 'upper' else 'below'} {up_to}" if up_to else ""
    return f"{' and '.join(part for part in (least, most) if part)}: {name}"


@cache
def _file() -> dict[str, Any]:
    return tomllib.loads((data_root() / "coefficients" / "indices.toml").read_text(encoding="utf-8"))
