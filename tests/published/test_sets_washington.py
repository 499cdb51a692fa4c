"""Washington marine figures against a second text.

Keyed from: WAC 173-204-320 (SQS). Second text: the open guideline data of British Columbia of 13 July 2023, credited
there to Washington Ecology 2013, Sediment Management Standards: in ug/g at 1 % organic carbon, each figure with a note
mark 1 run into it (0.0231 for 0.023). The CSLs here were read in that text alone.
"""

from __future__ import annotations

import pytest

from screen.reference.sets import load_set

PRINTED = [
    ("Low PAHs", "SQS", "3.71"),
    ("Low PAHs", "CSL", "7.81"),
    ("High PAHs", "SQS", "9.61"),
    ("High PAHs", "CSL", "531"),
    ("Total benzofluoranthenes", "SQS", "2.31"),
    ("Total benzofluoranthenes", "CSL", "4.51"),
    ("Indeno(1,2,3-cd)pyrene", "SQS", "0.341"),
    ("Indeno(1,2,3-cd)pyrene", "CSL", "0.881"),
    ("Benzo(g,h,i)perylene", "SQS", "0.311"),
    ("Benzo(g,h,i)perylene", "CSL", "0.781"),
    ("1,2-Dichlorobenzene", "SQS", "0.0231"),
    ("1,4-Dichlorobenzene", "SQS", "0.0311"),
    ("1,4-Dichlorobenzene", "CSL", "0.091"),
    ("1,2,4-Trichlorobenzene", "SQS", "0.00811"),
    ("1,2,4-Trichlorobenzene", "CSL", "0.0181"),
    ("Hexachlorobenzene", "SQS", "0.00381"),
    ("Hexachlorobenzene", "CSL", "0.0231"),
    ("Dimethyl phthalate", "SQS", "0.531"),
    ("Dimethyl phthalate", "CSL", "0.531"),
    ("Diethyl phthalate", "SQS", "0.611"),
    ("Diethyl phthalate", "CSL", "1.101"),
    ("Di-n-butyl phthalate", "SQS", "2.21"),
    ("Di-n-butyl phthalate", "CSL", "171"),
    ("Butyl benzyl phthalate", "SQS", "0.0491"),
    ("Butyl benzyl phthalate", "CSL", "0.641"),
    ("Bis(2-ethylhexyl) phthalate", "SQS", "0.471"),
    ("Bis(2-ethylhexyl) phthalate", "CSL", "0.781"),
    ("Di-n-octyl phthalate", "SQS", "0.581"),
    ("Di-n-octyl phthalate", "CSL", "451"),
    ("Dibenzofuran", "SQS", "0.151"),
    ("Dibenzofuran", "CSL", "0.581"),
    ("Hexachlorobutadiene", "SQS", "0.0391"),
    ("Hexachlorobutadiene", "CSL", "0.0621"),
    ("N-Nitrosodiphenylamine", "SQS", "0.111"),
    ("N-Nitrosodiphenylamine", "CSL", "0.111"),
]


@pytest.mark.parametrize(("substance", "level", "printed"), PRINTED)
def test_printed_at_one_per_cent_carbon(substance: str, level: str, printed: str) -> None:
    at_one_per_cent = float(printed.removesuffix("1"))
    rows = load_set("washington-marine").rows.set_index(["substance", "level"])
    row = rows.loc[(substance, level)]
    assert (row["unit"], row["basis"]) == ("mg/kg", "oc")
    assert row["value"] == pytest.approx(at_one_per_cent * 100, rel=1e-12)


def test_sqs_and_sco_are_the_same_figures() -> None:
    # A page of the Department of Ecology names the two together as the no-adverse-effects level.
    values = load_set("washington-marine").rows.pivot(index="substance", columns="level", values="value")
    assert values["SQS"].equals(values["SCO"])


def test_benzoic_acid_is_as_the_rule_has_it() -> None:
    # The rule text has 650; an open working copy and the lowest AET of NOAA 2008 have 65.
    rows = load_set("washington-marine").rows.set_index(["substance", "level"])
    assert rows.loc[("Benzoic acid", "SQS"), "value"] == 650.0


def test_a_figure_printed_as_greater_than_is_no_level() -> None:
    # From memory: the freshwater CSL of zinc is printed ">4200".
    rows = load_set("washington-fresh").rows
    assert rows.loc[rows["substance"] == "Zinc", "level"].tolist() == ["SCO"]
