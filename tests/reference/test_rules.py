"""Sum rules: the totals that the field's lists define. Sources stand in `guidelines/sums/sums.csv`."""

from __future__ import annotations

import pytest

from screen.reference.rules import sum_rules
from screen.reference.substances import describe
from screen.reference.units import factor

RULES = sum_rules()

IDS = (
    "pcb-congeners pcb-nst18x2 pcb-ices7 pcb-homologs pcb-aroclors pah-low7 pah-high6 pah-13 pah-16 pah-18 pah-34 "
    "pah-low6 pah-high9 benzofluoranthenes ddd dde ddt ddt-6 chlordane-5 hch-4 teq-2005 teq-1998-fish teq-1998-bird "
    "teq-2022 sem"
).split()


def members(total: str, needed: bool = False) -> list[str]:
    mine = RULES.members[RULES.members["total"] == total]
    return (mine[mine["needed"]] if needed else mine)["substance"].tolist()


def test_every_total_is_there() -> None:
    assert set(IDS) <= set(RULES.totals.index)
    for scheme in ("teq-2005", "teq-1998-fish", "teq-1998-bird", "teq-2022"):
        assert {f"{scheme}-pcb", f"{scheme}-all"} <= set(RULES.totals.index)


def test_ids_are_unique_and_each_has_members() -> None:
    assert RULES.totals.index.is_unique
    assert set(RULES.members["total"]) == set(RULES.totals.index)
    assert not RULES.members.duplicated(["total", "substance"]).any()


def test_every_member_is_in_the_substance_table() -> None:
    facts = describe(RULES.members["substance"].unique().tolist())
    assert facts.index[facts["unit"].isna()].tolist() == []


def test_every_member_can_be_brought_to_the_unit_of_its_total() -> None:
    units = describe(RULES.members["substance"].tolist())["unit"].tolist()
    wanted = RULES.totals["unit"].reindex(RULES.members["total"])
    bad = [pair for pair in zip(units, wanted, strict=True) if factor(*pair) is None]
    assert bad == []


@pytest.mark.parametrize("frame", [RULES.totals, RULES.members], ids=["totals", "members"])
def test_every_list_has_source_and_evidence(frame: object) -> None:
    for column in ("source", "evidence"):
        assert (frame[column] != "").all()  # type: ignore[index]
    assert set(frame["evidence"]) <= {"seen", "from_memory", "conflict"}  # type: ignore[index]


@pytest.mark.parametrize(
    ("total", "count"),
    [
        ("pcb-congeners", 209),
        ("pcb-nst18x2", 18),
        ("pcb-ices7", 7),
        ("pcb-homologs", 10),
        ("pah-low7", 7),
        ("pah-high6", 6),
        ("pah-13", 13),
        ("pah-16", 16),
        ("pah-18", 18),
        ("pah-34", 34),
        ("pah-low6", 6),
        ("ddt-6", 6),
        ("chlordane-5", 5),
        ("hch-4", 4),
    ],
)
def test_counts_are_what_the_names_say(total: str, count: int) -> None:
    assert len(members(total)) == count


def test_thirteen_pahs_are_the_low_seven_and_the_high_six() -> None:
    # Long et al. 1995 as listed in Table 4 of the 2017 Casco Bay sediment report.
    assert members("pah-13") == members("pah-low7") + members("pah-high6")


def test_washington_low_pahs_leave_out_2_methylnaphthalene() -> None:
    # WAC 173-204-320, order of the table.
    assert set(members("pah-low7")) - set(members("pah-low6")) == {"2-Methylnaphthalene"}


def test_high_pahs_of_nine_entries_count_the_benzofluoranthenes_as_one() -> None:
    benzofluoranthenes = set(members("benzofluoranthenes"))
    assert len(set(members("pah-high9")) - benzofluoranthenes) + 1 == 9


@pytest.mark.parametrize("total", ["benzofluoranthenes", "pah-high9", "pah-17"])
def test_benzo_j_fluoranthene_is_added_and_not_needed(total: str) -> None:
    # Common practice, no source: j is seldom reported by itself and leaves the column with b or k.
    assert "Benzo(j)fluoranthene" in members(total)
    assert "Benzo(j)fluoranthene" not in members(total, needed=True)


def test_eighteen_parents_are_the_sixteen_with_benzo_e_pyrene_and_perylene() -> None:
    assert set(members("pah-18")) - set(members("pah-16")) == {"Benzo(e)pyrene", "Perylene"}
    assert set(members("pah-18")) <= set(members("pah-34"))


def test_seven_aroclors_are_needed_and_two_more_added() -> None:
    extra = set(members("pcb-aroclors")) - set(members("pcb-aroclors", needed=True))
    assert extra == {"Aroclor 1262", "Aroclor 1268"}


def test_how_total_pcbs_are_complete() -> None:
    totals = RULES.totals
    assert totals.loc["pcb-congeners", "complete_at"] == 100
    assert totals.loc["pcb-nst18x2", "factor"] == 2
    assert totals.loc["pcb-nst18x2", "not_less_than"] == "pcb-congeners"
    assert len(members("pcb-nst18x2", needed=True)) == 18


def test_half_of_the_silver_counts() -> None:
    # U.S. EPA 2005, EPA-600-R-02-011.
    sem = RULES.members[RULES.members["total"] == "sem"].set_index("substance")["weight"]
    assert sem.pop("SEM Silver") == 0.5
    assert (sem == 1).all()


def test_shares_of_tin_are_those_of_the_cations() -> None:
    # Molar masses 118.71 (tin) and 290.06 g/mol (tributyltin cation): 2.44 the other way round.
    tin = RULES.members.set_index(["total", "substance"])["weight"]
    assert 1 / tin["tributyltin-tin", "Tributyltin"] == pytest.approx(290.06 / 118.71, rel=1e-4)


def test_names_are_the_guidelines_words() -> None:
    names = RULES.totals["name"]
    assert names[["pcb-congeners", "pcb-aroclors", "pah-low7", "pah-high9"]].tolist() == [
        "Total PCBs",
        "Total PCBs",
        "Low PAHs",
        "High PAHs",
    ]
    assert names[["pah-13", "ddd", "dde", "ddt", "ddt-6", "teq-2005"]].tolist() == [
        "Total PAHs",
        "Sum DDD",
        "Sum DDE",
        "Sum DDT",
        "Total DDTs",
        "Dioxin TEQ",
    ]
