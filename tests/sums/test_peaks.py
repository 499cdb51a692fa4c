"""Peaks by themselves: what each name measured stands for, and how it takes part in a total."""

from __future__ import annotations

import numpy as np
import pytest

from screen.stages.sums.peaks import belonging, look_up, unit_factor

NAMES = ["Lead", "PCB-129/138/163", "Chrysene/Triphenylene", "PCB-8", "Total Decachlorobiphenyls", "Pyrene"]


@pytest.fixture(scope="module")
def names():
    return look_up(np.array(NAMES, dtype=object))


def of(names, name: str, what: str) -> object:
    return getattr(names, what)[list(names.names).index(name)]


def test_names_come_in_the_order_of_the_substance_table_whatever_the_order_given(names) -> None:
    again = look_up(np.array(NAMES[::-1], dtype=object))
    assert list(again.names) == list(names.names)
    assert list(names.names) == [
        "Lead", "Pyrene", "Chrysene/Triphenylene", "PCB-8", "PCB-129/138/163", "Total Decachlorobiphenyls",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "members"),
    [
        ("Lead", ("Lead",)),
        ("PCB-129/138/163", ("PCB-129", "PCB-138", "PCB-163")),
        ("Chrysene/Triphenylene", ("Chrysene",)),
        ("PCB-8", ("PCB-8",)),
        ("Total Decachlorobiphenyls", ("PCB-209",)),
    ],
)
def test_what_a_name_stands_for(names, name: str, members: tuple[str, ...]) -> None:
    assert of(names, name, "members") == members


def test_only_a_peak_of_several_is_with_others(names) -> None:
    assert [one for one in NAMES if of(names, one, "with_others")] == ["PCB-129/138/163"]


def test_a_pair_taken_as_one_and_a_homolog_sum_of_one_congener_are_stand_ins(names) -> None:
    assert [one for one in NAMES if of(names, one, "stand_ins")] == [
        "Chrysene/Triphenylene",
        "Total Decachlorobiphenyls",
    ]


def test_which_is_a_homolog_sum(names) -> None:
    assert [one for one in NAMES if of(names, one, "homologs")] == ["Total Decachlorobiphenyls"]


def test_groups_and_units_go_with_their_names(names) -> None:
    assert (of(names, "Lead", "groups"), of(names, "Lead", "units")) == ("metal", "mg/kg")
    assert (of(names, "Pyrene", "groups"), of(names, "Pyrene", "units")) == ("pah", "ug/kg")


def test_units_that_can_and_cannot_be_converted() -> None:
    assert unit_factor("mg/kg", "ug/kg") == 1000.0
    assert unit_factor("ug/kg", "ng/kg") == 1000.0
    assert np.isnan(unit_factor("%", "umol/g"))
    assert np.isnan(unit_factor(None, "ug/kg"))


def test_weight_times_unit_factor_for_members_and_nan_for_others(names) -> None:
    part = belonging(names, {"PCB-138": 0.5, "PCB-8": 2.0}, "ng/kg", "pcb-congener")
    scale = dict(zip(names.names, part.scale, strict=True))
    assert (scale["PCB-129/138/163"], scale["PCB-8"]) == (500.0, 2000.0)
    assert np.isnan([scale["Lead"], scale["Pyrene"], scale["Total Decachlorobiphenyls"]]).all()


def test_a_peak_covers_the_listed_members_that_it_names_and_tells_the_others(names) -> None:
    part = belonging(names, {"PCB-8": 1.0, "PCB-138": 1.0, "PCB-163": 1.0}, "ug/kg", "pcb-congener")
    peak = list(names.names).index("PCB-129/138/163")
    assert part.covers[peak].tolist() == [False, True, True]
    assert part.unlisted[peak] == ("PCB-129",)
    assert [list(one) for i, one in enumerate(part.unlisted) if i != peak] == [[]] * 5


def test_several_weights_in_one_peak_are_mixed_and_the_highest_counts(names) -> None:
    peak = list(names.names).index("PCB-129/138/163")
    two = belonging(names, {"PCB-129": 0.1, "PCB-138": 0.3}, "ug/kg", "pcb-congener")
    assert (two.scale[peak], two.mixed.tolist()) == (0.3, [one == peak for one in range(6)])
    one = belonging(names, {"PCB-129": 0.3, "PCB-138": 0.3}, "ug/kg", "pcb-congener")
    assert not one.mixed.any()


def test_a_homolog_sum_counts_in_totals_of_its_own_group_only(names) -> None:
    own = list(names.names).index("Total Decachlorobiphenyls")
    inside = belonging(names, {"PCB-209": 1.0}, "ug/kg", "pcb-homolog")
    outside = belonging(names, {"PCB-209": 1.0}, "ug/kg", "pcb-congener")
    assert (inside.scale[own], inside.covers[own, 0]) == (1.0, True)
    assert np.isnan(outside.scale[own])
    assert (outside.covers[own, 0], outside.unlisted[own]) == (False, ())


@pytest.mark.parametrize(
    ("name", "members", "others"),
    [
        ("PCB-66/95", ("PCB-66", "PCB-95"), True),
        ("Total Trichlorobiphenyls", ("Total Trichlorobiphenyls",), False),
        ("Sum DDE", ("Sum DDE",), False),
    ],
)
def test_a_pair_a_homolog_sum_and_a_laboratory_total(name: str, members: tuple[str, ...], others: bool) -> None:
    alone = look_up(np.array([name], dtype=object))
    assert (alone.members, alone.with_others.tolist(), alone.stand_ins.tolist()) == ((members,), [others], [False])
