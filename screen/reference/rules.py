"""Sum rules: which substances make a total, with what weight. In: `guidelines/sums/`. Out: :class:`SumRules`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import pandas as pd

from screen.reference.locate import read_table

__all__ = ["SumRules", "sum_rules"]


@dataclass(frozen=True, slots=True)
class SumRules:
    """The totals that can be made, and of what.

    - ``totals``: one row per total, index ``total`` (its id): ``name`` (the guideline's word), ``unit``, ``group``,
      ``factor`` (of the sum), ``measurement`` (kinds that are never added to one another), ``complete_at`` (members
      measured from which the total is complete; NaN: all needed members), ``not_less_than`` (another total: not
      complete while that one is larger; empty for none), ``at_least`` (members measured without which there is no such
      total), ``source``, ``evidence``, ``note``.
    - ``members``: ``total``, ``substance`` (canonical name), ``weight`` (1, a toxic equivalency factor, a half, ...),
      ``bound`` (whether the source prints the weight as a limit, "<": it is counted in full), ``needed`` (for
      ``complete``), ``evidence``, ``source``; in the source's order.
    """

    totals: pd.DataFrame
    members: pd.DataFrame


@cache
def sum_rules() -> SumRules:
    """All sum rules, read once. The frames are shared: copy before a change."""
    totals = read_table("sums/sums.csv").set_index("total")
    for column in ("factor", "complete_at", "at_least"):
        totals[column] = pd.to_numeric(totals[column].replace("", None))
    members = read_table("sums/members.csv")
    members["weight"] = members["weight"].map(float)
    members["bound"] = members["bound"] == "<"
    members["needed"] = members["needed"] == "true"
    return SumRules(
        totals.astype({"factor": float, "complete_at": float, "at_least": int}),
        members,
    )
