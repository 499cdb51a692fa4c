"""What holds of every finding, whatever the figures."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from made import batch_of, compared, set_of

from screen.model import FINDING_ORDER
from screen.reference.sets import GuidelineSet, load_set
from screen.stages.compare import compare
from screen.stages.normalise import normalise
from screen.stages.sums import total

CONSENSUS = load_set("consensus-2000-fresh")
KINDS = ("{}", "<{}", "trace 0-{}", ">{}", "max {}")
NUMBER = st.floats(1e-2, 1e3).map(lambda x: float(f"{x:.5g}"))


@settings(max_examples=30, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(NUMBER, NUMBER, st.sampled_from(KINDS), NUMBER, NUMBER, st.booleans())
def test_a_finding_never_gets_milder_when_a_value_rises(
    first: float, second: float, kind: str, lower: float, upper: float, exceeds: bool
) -> None:
    chosen = set_of(
        [("Lead", {"L": min(lower, upper), "U": max(lower, upper)})], at_level="exceeds" if exceeds else "not-above"
    )
    small, large = sorted((first, second))
    rows = [("A", "Lead", kind.format(small)), ("B", "Lead", kind.format(large))]
    found = compared(rows, chosen)["finding"].astype(object)
    assert FINDING_ORDER.index(found[0]) <= FINDING_ORDER.index(found[1])


BASES = ("dry", "oc", "oc-1%", "oc-2.5%", "al-5%")
NAMES = ("A", "B", "C")


@st.composite
def random_sets(draw: st.DrawFn) -> GuidelineSet:
    """Levels of pyrene: one to three of three names, each on a basis of its own, any pair of them compared."""
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, unique=True))
    upper = draw(st.sampled_from(NAMES))
    basis = {name: draw(st.sampled_from(BASES)) for name in NAMES}
    if draw(st.booleans()):
        basis = dict.fromkeys(NAMES, basis["A"])
    return set_of(
        [("Pyrene", {name: draw(NUMBER) for name in names})],
        levels=NAMES,
        basis=basis,
        lower=draw(st.sampled_from([name for name in NAMES if name != upper])),
        upper=upper,
        at_level=draw(st.sampled_from(("not-above", "exceeds"))),
        toc_range=(0.5, 4.0),
        toc_outside=draw(st.sampled_from(("clamp", "not-assessed"))),
    )


@pytest.mark.parametrize("duplicates", ["separate", "higher", "mean"])
@settings(max_examples=12, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(random_sets(), st.sampled_from(KINDS), NUMBER, NUMBER, st.builds(str.format, st.sampled_from(KINDS), NUMBER),
       st.sampled_from(("0.2", "1", "4", "9")), st.sampled_from(("20000", "80000")))  # fmt: skip
def test_no_finding_gets_milder_on_any_basis_beside_any_duplicate(
    duplicates: str, chosen: GuidelineSet, kind: str, first: float, second: float, beside: str, carbon: str, al: str
) -> None:
    """Levels on one basis or several, three of them or one, a pair of samples or each alone."""
    rows, samples = [], {}
    for name, figure in zip("AB", sorted((first, second)), strict=True):
        rows += [(name, "Pyrene", kind.format(figure), "dry", "mg/kg"), (f"{name}2", "Pyrene", beside, "dry", "mg/kg")]
        samples |= {name: {}, f"{name}2": {"parent": name}}
    rows += [(name, "Total organic carbon", carbon) for name in samples]
    rows += [(name, "Aluminum", al) for name in samples]
    found = compared(rows, chosen, samples=samples, duplicates=duplicates)
    of_sample = dict(zip(found["sample"].astype(str), found["finding"].astype(object), strict=True))
    assert FINDING_ORDER.index(of_sample["A"]) <= FINDING_ORDER.index(of_sample["B"])


SEVEN = tuple(f"Aroclor {number}" for number in (1016, 1221, 1232, 1242, 1248, 1254, 1260))


@pytest.mark.parametrize("rule", ["zero", "half", "root2", "full"])
@settings(max_examples=12, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(
    st.lists(st.tuples(st.sampled_from(KINDS), NUMBER), min_size=2, max_size=7),
    st.sampled_from(KINDS),
    NUMBER,
    NUMBER,
)
def test_a_finding_of_a_sum_never_gets_milder_when_a_member_rises(
    rule: str, members: list[tuple[str, float]], kind: str, first: float, second: float
) -> None:
    """Complete or not. The Kaplan-Meier sum is left out: it may fall where a value passes another member's limit."""
    small, large = sorted((first, second))
    others = [(name, own.format(number)) for name, (own, number) in zip(SEVEN[1:], members, strict=False)]
    rows = [
        (sample, name, text)
        for sample, figure in (("A", small), ("B", large))
        for name, text in [(SEVEN[0], kind.format(figure)), *others]
    ]
    found = compared(rows, CONSENSUS, nondetects=rule)["finding"].astype(object)
    assert FINDING_ORDER.index(found[0]) <= FINDING_ORDER.index(found[1])


@settings(max_examples=15, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(
    st.lists(
        st.tuples(
            st.sampled_from("AB"),
            st.sampled_from(("Lead", "Pyrene", "Chrysene", "4,4'-DDE", "Aroclor 1254", "PCB-90/101/113")),
            st.builds(str.format, st.sampled_from(KINDS), NUMBER),
            st.sampled_from(("dry", "wet", None)),
        ),
        min_size=1,
        unique_by=lambda row: row[:2],
    ),
    st.randoms(use_true_random=False),
)
def test_order_never_matters_and_bounds_hold(rows: list[tuple[Any, ...]], shuffle: random.Random) -> None:
    rows = [*rows, ("A", "Percent solids", "60", None)]
    other = rows.copy()
    shuffle.shuffle(other)
    first, second = (_sorted(compared(one, CONSENSUS)) for one in (rows, other))
    pd.testing.assert_frame_equal(first, second)
    assert not (first["low"] > first["value"]).any()
    assert not (first["value"] > first["high"]).any()
    assert (first["settled"].isna() == (first["finding"] == "not-assessed")).all()
    assert not first.loc[first["finding"] == "undetermined", "settled"].any()


def _sorted(found: pd.DataFrame) -> pd.DataFrame:
    plain = found.astype({name: object for name in found if isinstance(found[name].dtype, pd.CategoricalDtype)})
    plain["total"] = plain["total"].fillna("")
    return plain.sort_values(["sample", "substance", "total"]).reset_index(drop=True).fillna({"note": ""})


def _ties() -> tuple[list[tuple[Any, ...]], int]:
    """Every figure of TEC and PEC in ug/kg at every whole per cent of solids, as a laboratory would print it wet."""
    figures = CONSENSUS.rows[CONSENSUS.rows["unit"] == "ug/kg"]
    rows: list[tuple[Any, ...]] = []
    for row in figures.to_dict("records"):
        if row["substance"] in CONSENSUS.sums:
            continue
        for solids in range(1, 101):
            sample = f"{row['substance']} {row['level']} {solids}"
            wet = f"{row['value'] * solids / 100:.10g}"
            rows += [(sample, row["substance"], wet, "wet"), (sample, "Percent solids", str(solids), None)]
    return rows, len(rows) // 2


def test_a_tie_is_a_tie_at_every_solids() -> None:
    """35.88 wet at 60 % solids is 59.8; no tie of this kind may come out above its level."""
    rows, count = _ties()
    results = normalise(batch_of(rows)).results
    found = compare(results, total(results), [CONSENSUS])
    own = found["sample"].astype(str).str.rsplit(n=2).str
    level, substance = own[1], own[0]
    mine = found[(found["substance"].astype(str) == substance)]
    expected = np.where(level[mine.index] == mine["lower_name"].astype(object).fillna(""), "below", "between")
    assert len(mine) == count
    assert (mine["finding"].astype(object) == expected).all()
    assert mine["note"].astype(object).str.contains("at the level").all()


@pytest.mark.parametrize("solids", [60, 65, 70])
def test_a_tie_of_a_sum(solids: int) -> None:
    rows = [("S", f"Aroclor {one}", "0" if one != "1254" else f"{59.8 * solids / 100:.6g}", "wet")
            for one in ("1016", "1221", "1232", "1242", "1248", "1254", "1260")]  # fmt: skip
    rows.append(("S", "Percent solids", str(solids), None))
    found = compared(rows, CONSENSUS)
    assert found["finding"].tolist() == ["below"]
    assert "at the level" in found["note"].iloc[0]
