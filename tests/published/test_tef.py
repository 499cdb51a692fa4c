"""Toxic equivalency factors against a second list.

Keyed from: van den Berg et al. 2006 (WHO 2005), van den Berg et al. 1998 (fish, birds) and DeVito et al. 2024 (WHO
2022), each as restated elsewhere. The table below is a second list by another hand: WHO 2005 read in the annex of a
German federal ordinance that quotes van den Berg et al. 2006; the 1998 columns from memory of van den Berg et al. 1998.
WHO 2022 has no second list here.
"""

from __future__ import annotations

import pytest
from made import results_of

from screen.reference.rules import sum_rules
from screen.stages.sums import total

SCHEMES = ("teq-2005", "teq-1998-fish", "teq-1998-bird")
SECOND = """\
2,3,7,8-TCDD;1;1;1
1,2,3,7,8-PeCDD;1;1;1
1,2,3,4,7,8-HxCDD;0.1;0.5;0.05
1,2,3,6,7,8-HxCDD;0.1;0.01;0.01
1,2,3,7,8,9-HxCDD;0.1;0.01;0.1
1,2,3,4,6,7,8-HpCDD;0.01;0.001;0.001
OCDD;0.0003;0.0001;0.0001
2,3,7,8-TCDF;0.1;0.05;1
1,2,3,7,8-PeCDF;0.03;0.05;0.1
2,3,4,7,8-PeCDF;0.3;0.5;1
1,2,3,4,7,8-HxCDF;0.1;0.1;0.1
1,2,3,6,7,8-HxCDF;0.1;0.1;0.1
1,2,3,7,8,9-HxCDF;0.1;0.1;0.1
2,3,4,6,7,8-HxCDF;0.1;0.1;0.1
1,2,3,4,6,7,8-HpCDF;0.01;0.01;0.01
1,2,3,4,7,8,9-HpCDF;0.01;0.01;0.01
OCDF;0.0003;0.0001;0.0001
PCB-77;0.0001;0.0001;0.05
PCB-81;0.0003;0.0005;0.1
PCB-126;0.1;0.005;0.1
PCB-169;0.03;5e-05;0.001
PCB-105;3e-05;5e-06;0.0001
PCB-114;3e-05;5e-06;0.0001
PCB-118;3e-05;5e-06;1e-05
PCB-123;3e-05;5e-06;1e-05
PCB-156;3e-05;5e-06;0.0001
PCB-157;3e-05;5e-06;0.0001
PCB-167;3e-05;5e-06;1e-05
PCB-189;3e-05;5e-06;1e-05
"""


def weights(total: str) -> dict[str, float]:
    members = sum_rules().members
    mine = members[members["total"] == total]
    return dict(zip(mine["substance"], mine["weight"], strict=True))


@pytest.mark.parametrize("column", [0, 1, 2])
def test_factors_are_those_of_the_second_list(column: int) -> None:
    lines = [line.split(";") for line in SECOND.splitlines()]
    assert weights(f"{SCHEMES[column]}-all") == {line[0]: float(line[column + 1]) for line in lines}


@pytest.mark.parametrize("scheme", [*SCHEMES, "teq-2022"])
def test_all_is_dioxins_and_pcbs(scheme: str) -> None:
    dioxins, pcbs = weights(scheme), weights(f"{scheme}-pcb")
    assert (len(dioxins), len(pcbs)) == (17, 12)
    assert weights(f"{scheme}-all") == dioxins | pcbs


def test_octachlorinated_dioxin_is_not_ten_times_too_high() -> None:
    # One public data file prints 0.003 for OCDD and OCDF; van den Berg et al. 2006 and 40 CFR 63 have 0.0003.
    assert weights("teq-2005")["OCDD"] == weights("teq-2005")["OCDF"] == 0.0003


def test_mono_ortho_pcbs_keep_their_factor_in_2022() -> None:
    # DeVito et al. 2024, abstract: the 2022 panel kept the 2005 value of the mono-ortho PCBs.
    mono = [f"PCB-{number}" for number in (105, 114, 118, 123, 156, 157, 167, 189)]
    old, new = weights("teq-2005-pcb"), weights("teq-2022-pcb")
    assert {name: new[name] for name in mono} == {name: old[name] for name in mono}


def test_limits_among_the_1998_factors_are_named() -> None:
    # van den Berg et al. 1998 prints "<" for these: upper bounds, counted in full.
    note = sum_rules().totals.loc["teq-1998-fish-all", "note"]
    for name in (
        "OCDD",
        "OCDF",
        "PCB-105",
        "PCB-114",
        "PCB-118",
        "PCB-123",
        "PCB-156",
        "PCB-157",
        "PCB-167",
        "PCB-189",
    ):
        assert name in note
    assert "1,2,3,4,6,7,8-HpCDD" in sum_rules().totals.loc["teq-1998-bird", "note"]


def test_a_total_names_the_limits_among_its_factors() -> None:
    """The members measured of which van den Berg et al. 1998 print a limit; without one the total says nothing."""
    rows = [("S", name, "1") for name in ("2,3,7,8-TCDD", "OCDD", "1,2,3,4,6,7,8-HpCDD")]
    notes = total(results_of(rows)).astype({"total": object, "note": object}).set_index("total")["note"]
    said = "an upper estimate, factors printed as limits (<) counted in full: "
    assert notes["teq-1998-fish"] == f"{said}OCDD"
    assert notes["teq-1998-bird"] == f"{said}1,2,3,4,6,7,8-HpCDD"
    assert said not in str(notes["teq-2005"])
