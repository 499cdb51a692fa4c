"""The first page of five very different batches, word for word: each was read and makes sense of its batch.

The batches are invented (``invented.make_run``); levels are those of the sets named.
"""

from __future__ import annotations

import textwrap

import pytest
from invented import make_run

import screen
from screen.settings import Settings
from screen.stages.report.facts import Facts
from screen.stages.report.words import sentences
from screen.stages.report.words.steps import next_steps


def told(**batch: object) -> str:
    facts = Facts(make_run(**batch))  # type: ignore[arg-type]
    paragraphs = [
        sentences.screened(facts),
        *sentences.answer(facts),
        *sentences.aside(facts),
        *sentences.rests_on(facts),
        *next_steps(facts),
    ]
    lines = [f"{one.lead}. {one.text}" if one.lead else one.text for one in paragraphs]
    return "\n".join(textwrap.fill(line, 100) for line in lines)


BATCHES = {
    "all_below": (
        {"scale": 0.01, "nondetects": 0.0},
        """\
23 samples from 14 stations and 3 cores (to 100 cm) between river km 0.8 and 27.5, collected from 4
to 6 May 2026, were compared with ERL and ERM (long-1995-marine) and TEC and PEC
(consensus-2000-fresh). They hold 161 results, of which 160 could be used; 3 value cells were
refused.
ERL and ERM. Of 135 findings, none is above the ERM, none between ERL and ERM and 133 below; 1
cannot be judged because a sum lacks members, 1 is not assessed, and none of the others is
unsettled. No value is above the ERL; 2 findings are left open.
TEC and PEC. Of 207 findings, none is above the PEC, none between TEC and PEC and 205 below; 1
cannot be judged because a sum lacks members, 1 is not assessed, and none of the others is
unsettled. No value is above the TEC; 2 findings are left open.
1 of 161 results (under 1 %) was read and set aside as not usable.
15 findings rest on a level figure that was taken from memory or on which sources conflict: Zinc
(long-1995-marine). Check it against the document before relying on it.
Never analysed in this batch, though a set has a level: Dieldrin and Chlordane.
Missing members. Have the missing members measured. Acenaphthene and Fluorene, for Total PAHs
(pah-13) at W03-1.
Not assessed. Settle with the laboratory why there is no number. Cadmium at W05-1: no stated basis.
Missing samples. Ask the laboratory for the results of X99-1.""",
    ),
    "all_high": (
        {"scale": 500.0, "nondetects": 0.0},
        """\
23 samples from 14 stations and 3 cores (to 100 cm) between river km 0.8 and 27.5, collected from 4
to 6 May 2026, were compared with ERL and ERM (long-1995-marine) and TEC and PEC
(consensus-2000-fresh). They hold 161 results, of which 160 could be used; 3 value cells were
refused.
ERL and ERM. Of 135 findings, 134 are above the ERM, none between ERL and ERM and none below; none
is left undecided, 1 is not assessed, and 1 of the others is unsettled: it may differ if the missing
members were measured. Total PCBs are above the ERM at 9 of 9 stations, highest at W07, 30 to 60 cm
(780,000 ug/kg, 4,330 times the ERM). Phenanthrene is above the ERM at 9 of 9 stations, highest at
W07, 30 to 60 cm (4,060,000 ug/kg, 2,710 times the ERM). Benzo(a)pyrene is above the ERM at 9 of 9
stations, highest at W07, 30 to 60 cm (2,860,000 ug/kg, 1,790 times the ERM). Zinc is above the ERM
at 9 of 9 stations, highest at W07, 30 to 60 cm (385,000 mg/kg, 938 times the ERM; level from
memory). Also above the ERM: Total PAHs, Lead, Arsenic, Copper and Cadmium.
TEC and PEC. Of 207 findings, 206 are above the PEC, none between TEC and PEC and none below; none
is left undecided, 1 is not assessed, and 1 of the others is unsettled: it may differ if the missing
members were measured. Phenanthrene is above the PEC at 14 of 14 stations, highest at W07, 30 to 60
cm (4,060,000 ug/kg, 3,470 times the PEC). Benzo(a)pyrene is above the PEC at 14 of 14 stations,
highest at W07, 30 to 60 cm (2,860,000 ug/kg, 1,970 times the PEC). Total PAHs are above the PEC at
14 of 14 stations, highest at W07, 30 to 60 cm (26,400,000 ug/kg, 1,160 times the PEC). Total PCBs
are above the PEC at 14 of 14 stations, highest at W07, 30 to 60 cm (780,000 ug/kg, 1,150 times the
PEC). Also above the PEC: Lead, Arsenic, Zinc, Cadmium and Copper.
Depth. 3 cores hold more below the surface than at it: Total PCBs in core C3 (station W04) at 30 to
60 cm, 1,240 ug/kg against 310 at the surface; Total PCBs in core C6 (station W07) at 30 to 60 cm,
1,240 ug/kg against 310 at the surface; Total PCBs in core C9 (station W10) at 30 to 60 cm, 1,240
ug/kg against 310 at the surface.
1 of 161 results (under 1 %) was read and set aside as not usable.
15 findings rest on a level figure that was taken from memory or on which sources conflict: Zinc
(long-1995-marine). Check it against the document before relying on it.
2 findings are unsettled, such as Total PAHs at W03: anywhere from 1,930,000 to 2,680,000 ug/kg.
Never analysed in this batch, though a set has a level: Dieldrin and Chlordane.
Talk to the regulator. Take the findings above the upper level at W07, W08, W04, W06, W09, W05, W03,
W02 and 6 more to the regulator before anything is dug or moved there; have W07-3 split and analysed
again first, for Total PCBs (4,330 times the ERM).
Not assessed. Settle with the laboratory why there is no number. Cadmium at W05-1: no stated basis.
Missing samples. Ask the laboratory for the results of X99-1.""",
    ),
    "mostly_nondetects": (
        {"nondetects": 0.9},
        """\
23 samples from 14 stations and 3 cores (to 100 cm) between river km 0.8 and 27.5, collected from 4
to 6 May 2026, were compared with ERL and ERM (long-1995-marine) and TEC and PEC
(consensus-2000-fresh). They hold 161 results, of which 160 could be used; 3 value cells were
refused.
ERL and ERM. Of 135 findings, 4 are above the ERM, 8 between ERL and ERM and 28 below; 94 cannot be
judged because a limit is too high, 1 is not assessed, and none of the others is unsettled. Total
PCBs are above the ERM at 2 of 9 stations, highest at W07, 30 to 60 cm (1,560 ug/kg, 8.66 times the
ERM). Phenanthrene is above the ERM at 1 of 9 stations, highest at W07, 10 to 30 cm (3,580 ug/kg,
2.39 times the ERM). Benzo(a)pyrene is above the ERM at 1 of 9 stations, highest at W04, 30 to 60 cm
(2,660 ug/kg, 1.66 times the ERM).
TEC and PEC. Of 207 findings, 6 are above the PEC, 10 between TEC and PEC and 58 below; 132 cannot
be judged because a limit is too high, 1 is not assessed, and none of the others is unsettled.
Phenanthrene is above the PEC at 2 of 14 stations, highest at W07, 10 to 30 cm (3,580 ug/kg, 3.06
times the PEC). Total PCBs are above the PEC at 1 of 14 stations, highest at W07, 30 to 60 cm (1,560
ug/kg, 2.31 times the PEC). Benzo(a)pyrene is above the PEC at 2 of 14 stations, highest at W04, 30
to 60 cm (2,660 ug/kg, 1.84 times the PEC). Copper is above the PEC at 1 of 14 stations, highest at
W07, 30 to 60 cm (210 mg/kg, 1.41 times the PEC).
Depth. 3 cores hold more below the surface than at it: Total PCBs in core C3 (station W04) at 30 to
60 cm, 1,240 ug/kg against 310 at the surface; Total PCBs in core C6 (station W07) at 30 to 60 cm,
1,240 ug/kg against 310 at the surface; Total PCBs in core C9 (station W10) at 30 to 60 cm, 1,240
ug/kg against 310 at the surface.
1 of 161 results (under 1 %) was read and set aside as not usable.
15 findings rest on a level figure that was taken from memory or on which sources conflict: Zinc
(long-1995-marine). Check it against the document before relying on it.
Never analysed in this batch, though a set has a level: Dieldrin and Chlordane.
Talk to the regulator. Take the findings above the upper level at W07, W09, W04, W10 and W06 to the
regulator before anything is dug or moved there; have W07-3 split and analysed again first, for
Total PCBs (8.66 times the ERM).
Lower limits. Ask the laboratory for limits that answer. Total PCBs at 19 samples: 11.35 ug/kg or
less for each member, so that the sum keeps to the ERL, 22.7 (now up to 581); Total PAHs at 18
samples: 1,610 ug/kg or less for each member, the TEC (now up to 52,700); Phenanthrene at 18
samples: 204 ug/kg or less, the TEC (now up to 8,120); Lead at 15 samples: 35.8 mg/kg or less, the
TEC (now up to 232); and 5 more like these.
Missing members. Have the missing members measured. Acenaphthene and Fluorene, for Total PAHs
(pah-13) at W03-1.
Not assessed. Settle with the laboratory why there is no number. Cadmium at W05-1: no stated basis.
Missing samples. Ask the laboratory for the results of X99-1.""",
    ),
    "nothing_assessable": (
        {"assessed": False},
        """\
23 samples from 14 stations and 3 cores (to 100 cm) between river km 0.8 and 27.5, collected from 4
to 6 May 2026, were compared with ERL and ERM (long-1995-marine) and TEC and PEC
(consensus-2000-fresh). They hold 161 results, of which none could be used; 3 value cells were
refused.
ERL and ERM. None of 135 findings could be assessed: no result has a number on the basis of the set.
This says nothing about the sediment.
TEC and PEC. None of 207 findings could be assessed: no result has a number on the basis of the set.
This says nothing about the sediment.
161 of 161 results (100 %) were read and set aside as not usable.
Never analysed in this batch, though a set has a level: Dieldrin and Chlordane.
Not assessed. Settle with the laboratory why there is no number. Arsenic, Cadmium, Copper, Lead and
5 more at 23 samples: no stated basis.
Missing samples. Ask the laboratory for the results of X99-1.""",
    ),
    "one_sample": (
        {"stations": 1, "cores": False},
        """\
1 sample from 1 station, collected on 4 May 2026, was compared with ERL and ERM (long-1995-marine)
and TEC and PEC (consensus-2000-fresh). It holds 7 results, of which 7 could be used; 3 value cells
were refused.
ERL and ERM. Of 9 findings, none is above the ERM, 1 between ERL and ERM and 8 below; none is left
undecided, none is not assessed, and none of the others is unsettled. No value is above the ERM.
Total PCBs are above the ERL at 1 of 1 station, highest at W01 (37.7 ug/kg, 1.66 times the ERL).
TEC and PEC. Of 9 findings, none is above the PEC, none between TEC and PEC and 9 below; none is
left undecided, none is not assessed, and none of the others is unsettled. No value is above the
TEC.
None of 7 results was read and set aside as not usable.
1 finding rests on a level figure that was taken from memory or on which sources conflict: Zinc
(long-1995-marine). Check it against the document before relying on it.
Never analysed in this batch, though a set has a level: Dieldrin and Chlordane.
Missing samples. Ask the laboratory for the results of X99-1.""",
    ),
}


@pytest.mark.parametrize("name", BATCHES)
def test_the_first_page_word_for_word(name):
    batch, expected = BATCHES[name]
    assert told(**batch) == expected


def test_an_unsettled_sum_names_what_its_non_detects_may_add(tmp_path):
    """The contract's own example: Aroclors of 40 with six limits of 33 against 59.8 leave 19.8 of 198 ug/kg."""
    rows = ["Sample,Analyte,Result,Qualifier,Unit,Basis", "Q-1,Aroclor 1254,40,,ug/kg,dry"]
    rows += [f"Q-1,Aroclor {name},33,U,ug/kg,dry" for name in (1016, 1221, 1232, 1242, 1248, 1260)]
    (tmp_path / "lab.csv").write_text("\n".join(rows))
    run = screen.run([tmp_path / "lab.csv"], settings=Settings(guidelines=("consensus-2000-fresh",)))
    (said,) = (one.text for one in next_steps(Facts(run)) if one.lead == "Unsettled sums")
    assert said == (
        "Ask for limits of the members that settle the sum. Total PCBs (pcb-aroclors) at Q-1: what is not detected may "
        "add 19.8 ug/kg at most, for the TEC (now up to 198)."
    )
