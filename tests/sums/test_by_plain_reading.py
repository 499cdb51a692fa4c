"""Every total against the contract read sentence by sentence and added up with plain loops and fractions."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache
from typing import Any

import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from made import results_of

from screen.reference.rules import sum_rules
from screen.reference.substances import describe
from screen.stages.sums import total

NAMES = (
    "PCB-8", "PCB-18", "PCB-28/31", "PCB-44", "PCB-52", "PCB-66", "PCB-90/101/113", "PCB-105", "PCB-118",
    "PCB-129/138/163", "PCB-153", "PCB-156/157", "PCB-180", "PCB-77", "PCB-126", "PCB-209", "Aroclor 1254",
    "Aroclor 1260", "Naphthalene", "2-Methylnaphthalene", "Phenanthrene", "Fluoranthene", "Pyrene", "Chrysene",
    "Benzo(b,k)fluoranthene", "Benzo(a)pyrene", "Benzo(g,h,i)perylene", "4,4'-DDT", "2,4'-DDT", "4,4'-DDE",
    "2,4'-DDD", "2,3,7,8-TCDD", "2,3,7,8-TCDF", "OCDD", "1,2,3,7,8-PeCDD", "gamma-BHC (Lindane)", "SEM Zinc",
    "SEM Silver",
)  # fmt: skip
RULES = {"zero": 0.0, "half": 0.5, "root2": math.sqrt(0.5), "full": 1.0}
NUMBER = st.integers(1, 10**6).map(lambda x: f"{x / 1000:.6g}")
KINDS = ("{}", "{}", "{} J", "<{}", "<{}", "ND", "trace 0-{}", ">{}", "max {}")
SHEET = st.lists(
    st.tuples(st.just("S"), st.sampled_from(NAMES), st.builds(str.format, st.sampled_from(KINDS), NUMBER)),
    min_size=1,
    max_size=len(NAMES),
    unique_by=lambda row: row[1],
)


def bounds(text: str) -> tuple[Fraction | None, Fraction, Fraction | None, bool]:
    """Value, low, high and detected of a result, by the contract's kinds."""
    figure = text.removesuffix(" J")
    if figure == "ND":
        return None, Fraction(0), None, False
    if figure[0] == "<":
        return None, Fraction(0), Fraction(figure[1:]), False
    if figure.startswith("trace"):
        return None, Fraction(0), Fraction(figure.split("-")[1]), True
    if figure[0] == ">":
        return Fraction(figure[1:]), Fraction(figure[1:]), None, True
    if figure.startswith("max"):
        return Fraction(figure[4:]), Fraction(0), Fraction(figure[4:]), True
    return Fraction(figure), Fraction(figure), Fraction(figure), True


PEAKS = {
    name: list(row["members"]) if row["kind"] == "peak" else [name]
    for name, row in zip(NAMES, describe(list(NAMES)).to_dict("records"), strict=True)
}


@cache
def rule_of(total_id: str) -> tuple[dict[str, Fraction], set[str], Fraction, float]:
    """Weights of the members, those that are needed, the factor and from how many members on it is complete."""
    facts = sum_rules().totals.loc[total_id]
    listed = sum_rules().members[sum_rules().members["total"] == total_id]
    weights = {
        str(one): Fraction(str(weight)) for one, weight in zip(listed["substance"], listed["weight"], strict=True)
    }
    needed = {str(name) for name in listed[listed["needed"].astype(bool)]["substance"]}
    return weights, needed, Fraction(str(facts["factor"])), float(facts["complete_at"])


def expected(rows: list[tuple[str, str, str]], total_id: str, rule: str) -> dict[str, Any] | None:
    weights, needed, factor, least = rule_of(total_id)
    covered: set[str] = set()
    inside = []
    for _, name, text in rows:
        mine = [one for one in PEAKS[name] if one in weights]
        if mine:
            covered |= set(mine)
            to_unit = 1000 if name.startswith("PCB") and total_id.startswith("teq") else 1  # ug/kg to ng/kg
            inside.append((max(weights[one] for one in mine) * to_unit, *bounds(text), text))
    if not inside:
        return None
    low = sum(weight * low for weight, _, low, *_ in inside) * factor
    high = (
        None if any(high is None for *_, high, _, _ in inside) else factor * sum(w * h for w, _, _, h, _, _ in inside)
    )
    parts = [
        float(weight * (value if value is not None else low))
        if value is not None or high is None
        else max(float(weight * low), RULES[rule] * float(weight * high))
        for weight, value, low, high, _, _ in inside
    ]
    made = math.fsum(parts) * float(factor)
    quantified = any(value is not None for _, value, *_ in inside)
    unknown = any(value is None and high is None for _, value, _, high, _, _ in inside)
    limit = None
    if not quantified and not unknown:
        limit = float(max(w * h for w, _, _, h, _, _ in inside) * factor) if rule == "zero" else made
    return {
        "value": made if quantified else None,
        "low": float(low),
        "high": None if high is None else float(high),
        "limit": limit,
        "detected": any(one for *_, one, _ in inside),
        "qualifier": "J" if any(text.endswith(" J") for *_, text in inside) else None,
        "members": len(weights),
        "measured": len(covered),
        "peaks": len(inside),
        "detects": sum(one for *_, one, _ in inside),
        "missing": [name for name in weights if name not in covered],
        "complete": len(covered) >= least if least == least else needed <= covered,
    }


@settings(max_examples=25, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(SHEET, st.sampled_from(sorted(RULES)))
def test_every_total(rows: list[tuple[str, str, str]], rule: str) -> None:
    table = total(results_of(rows), nondetects=(rule,))
    table = table.astype({name: object for name in table if isinstance(table[name].dtype, pd.CategoricalDtype)})
    found = table.set_index("total").to_dict("index")
    homologs = {"pcb-homologs"}  # single PCB-209 is the sum of its chlorine number; see test_totals.py
    for total_id in sum_rules().totals.index:
        wanted = expected(rows, str(total_id), rule)
        if total_id in homologs:
            continue
        if wanted is None:
            assert total_id not in found
            continue
        row = found[total_id]
        plain = expected(rows, "pcb-congeners", rule) if total_id == "pcb-nst18x2" else None
        if plain and plain["value"] is not None and (wanted["value"] is None or plain["value"] > wanted["value"]):
            wanted["complete"] = False
        for name in ("value", "low", "high", "limit"):
            text = f"{total_id} {name}: {row[name]} and not {wanted[name]}"
            assert (wanted[name] is None) == bool(pd.isna(row[name])), text
            assert wanted[name] is None or row[name] == pytest.approx(wanted[name], rel=1e-12, abs=0), text
        for name in ("detected", "members", "measured", "peaks", "detects", "complete"):
            assert row[name] == wanted[name], (total_id, name)
        assert (row["qualifier"] or None) == wanted["qualifier"] or pd.isna(row["qualifier"]), total_id
        assert [one for one in str(row["missing"] or "").split(";") if one and one != "nan"] == wanted["missing"]
