"""The substance table and what is worked out for peaks."""

import pytest

from screen.model import GROUPS
from screen.reference.locate import data_root, read_table
from screen.reference.substances import KINDS, describe, peak_name, table
from screen.reference.units import factor, read_unit

TABLE = table()


def test_data_root_holds_the_table():
    assert (data_root() / "substances" / "substances.csv").is_file()


def test_read_table_guesses_nothing():
    frame = read_table("substances/substances.csv")
    assert all(isinstance(value, str) for value in frame.to_numpy().ravel())


def test_read_table_gives_each_caller_its_own_frame():
    frame = read_table("substances/substances.csv")
    frame.iloc[0, 0] = "changed"
    assert read_table("substances/substances.csv").iloc[0, 0] != "changed"


def test_names_are_unique():
    assert TABLE.index.is_unique


def test_groups_are_those_of_the_model_and_stand_in_their_order():
    assert list(dict.fromkeys(TABLE["group"])) == [group for group in GROUPS if group in set(TABLE["group"])]
    assert set(TABLE["group"]) == set(GROUPS)


def test_kinds_are_the_declared_ones():
    assert set(TABLE["kind"]) <= set(KINDS)


def test_every_figure_has_evidence():
    assert (TABLE["evidence"] != "").all()


@pytest.mark.parametrize(
    ("group", "unit"),
    [
        *[(group, "ug/kg") for group in ("pah", "pcb-aroclor", "pcb-homolog", "pesticide", "organotin")],
        ("metal", "mg/kg"),
        ("dioxin", "ng/kg"),
    ],
)
def test_standard_units_are_those_of_the_contract(group, unit):
    rows = TABLE[(TABLE["group"] == group) & (TABLE["kind"] != "ambiguous")]
    assert set(rows["unit"]) == {unit}


def test_every_unit_is_known_to_the_unit_reader():
    for unit in set(TABLE["unit"]) - {""}:
        assert factor(unit, unit) == 1.0
        assert read_unit(unit).unit in (unit, None), unit


def test_members_and_stand_ins_are_names_of_the_table():
    for name, row in TABLE.iterrows():
        assert set(row["members"]) <= set(TABLE.index), name
        assert row["stands_for"] in ("", *TABLE.index), name


def test_a_single_substance_is_its_own_member():
    assert TABLE.loc["Lead", "members"] == ("Lead",)


def test_a_taken_as_one_peak_stands_for_one_of_its_members():
    rows = TABLE[TABLE["kind"] == "taken-as-one"]
    assert len(rows) and all(row["stands_for"] in row["members"] for _, row in rows.iterrows())


def test_the_totals_that_laboratories_state_are_totals_of_ours():
    ours = set(read_table("sums/sums.csv")["total"])
    assert {total for text in TABLE["lab_total_of"] for total in text.split(";") if total} <= ours


def test_moisture_solids_and_grain_size_need_no_basis():
    for name in ("Percent solids", "Percent moisture", "Gravel", "Sand", "Silt", "Clay", "Fines"):
        assert not TABLE.loc[name, "needs_basis"], name


def test_carbon_is_dry_unless_it_says_wet():
    assert TABLE.loc["Total organic carbon", "default_basis"] == "dry"


@pytest.mark.parametrize("name", ["Pyrene", "PCB-118", "4,4'-DDE", "OCDD", "Diethyl phthalate", "1,2-Dichlorobenzene"])
def test_nonionic_organics_are_marked(name):
    assert TABLE.loc[name, "nonionic"]


@pytest.mark.parametrize("name", ["Phenol", "Pentachlorophenol", "Benzoic acid", "Lead", "Tributyltin", "2,4-D"])
def test_ionic_substances_metals_and_organotins_are_not_nonionic(name):
    assert not TABLE.loc[name, "nonionic"]


def test_describe_keeps_order_and_repeats():
    assert list(describe(["Zinc", "Lead", "Zinc"]).index) == ["Zinc", "Lead", "Zinc"]


def test_describe_has_the_columns_of_the_table():
    assert list(describe(["Zinc", "PCB-28/31"]).columns) == list(TABLE.columns)


def test_a_congener_peak_is_worked_out_from_its_name():
    row = describe(["PCB-129/138/163"]).iloc[0]
    assert row["members"] == ("PCB-129", "PCB-138", "PCB-163")
    assert (row["group"], row["kind"], row["cas"], row["unit"]) == ("pcb-congener", "peak", "", "ug/kg")
    assert row["order"] == TABLE.loc["PCB-129", "order"]


def test_an_aroclor_pair_is_worked_out_from_its_name():
    row = describe(["Aroclor 1016/1221"]).iloc[0]
    assert (row["group"], row["members"]) == ("pcb-aroclor", ("Aroclor 1016", "Aroclor 1221"))


def test_a_peak_across_groups_is_a_mixed_peak():
    row = describe(["PCB-85/4,4'-DDE"]).iloc[0]
    assert (row["kind"], row["members"]) == ("mixed-peak", ("PCB-85", "4,4'-DDE"))


@pytest.mark.parametrize("name", ["Unobtainium", "PCB-138/129", "PCB-28/28", "PCB-300/301", "PCB-", ""])
def test_what_is_no_canonical_name_has_no_group(name):
    assert describe([name])["group"].isna().all()


def test_peak_name_orders_and_joins():
    assert peak_name(["PCB-163", "PCB-129", "PCB-138", "PCB-129"]) == "PCB-129/138/163"
    assert peak_name(["4,4'-DDE", "PCB-85"]) == "PCB-85/4,4'-DDE"
