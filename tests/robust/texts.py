"""Texts near to what laboratories write: a random source in, a text out; and the same as Hypothesis strategies."""

from __future__ import annotations

import random

from hypothesis import strategies as st

__all__ = ["PIECES", "near_texts", "random_text"]

#: Words, signs and digits that the readers of values, units, names, dates and lengths look for.
PIECES = tuple(
    "0 1 5 12 0.5 1,234 1.234 1,234.5 .5 00 007 1e5 1E-3 1e400 -0 0x1F NaN inf Infinity ١٢ １２ ½ ² ⁻ 10^3 ×10 "
    "< <= > >= ≤ ± ~ ND nd BDL U J B UJ R N NJ E C C20 D K T * # @ RL MDL DL trace Tr EMPC "
    "mg kg ug µg μg ng pg g ppm ppb ppt % mg/kg ug/kg ng/g umol/g /kg dry wet dw ww OC TOC as-received Sn TEQ "
    "Lead Pb PCB PCB-118 PCB-129/138/163 BZ# CB Aroclor 1254 Benzo(a)pyrene benzo[b+k] DDT 4,4'- p,p' alpha- α β total "
    "sum dissolved 7439-92-1 50-32-8 2051-24-3 2,3,7,8- TCDD Naphthalene-d8 C1- moisture solids Sand <63µm >2mm "
    "cm in ft m mm ' \" 1 1/2 5'-3\" to bis - – — / below bed surface "
    "2026-03-04 03/04/2026 4.3.26 4-Mar-26 March 4, 2026 12:30 T Z "
    "( ) [ ] { } , ; : . = + _ & | \\ ' ’ ″ \u00a0 \u2009 \u202e \u200b \ufeff \x00 \x07 \x1b[31m \t \n \r\n "
    "=1+1 @SUM +cmd|' -2+3 ../../etc <script> &amp; é ß İ ﬃ 𝟙 😀 \ud800".split(" ")
)


def random_text(chance: random.Random) -> str:
    """One text of up to eight pieces, now and then with a character changed, doubled or lost."""
    parts = [chance.choice(PIECES) for _ in range(chance.randint(1, 8))]
    text = chance.choice(("", " ", "", "-")).join(parts)
    for _ in range(chance.choice((0, 0, 1, 3))):
        place = chance.randrange(len(text) + 1)
        put = chance.choice(("", chr(chance.randrange(0x250)), chr(chance.randrange(0x20, 0x110000)), text[place:][:3]))
        text = text[:place] + put + text[place + chance.randint(0, 2) :]
    return text


near_texts = st.lists(st.sampled_from(PIECES) | st.text(max_size=3), max_size=8).flatmap(
    lambda parts: st.sampled_from(["", " ", "-"]).map(lambda joint: joint.join(parts))
)
