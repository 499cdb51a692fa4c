"""The words of the page for what can be chosen. In: nothing. Out: choices with what each means.

Each key is a setting of the command line; what a value does is said in full where it is chosen.
"""

from __future__ import annotations

__all__ = ["HEAD", "RARELY", "RULES", "STEPS", "WATERS"]

#: The way through, in order: the last part of the address, and the name.
STEPS = (
    ("sheets", "Sheets"),
    ("understood", "What was understood"),
    ("choices", "Levels and rules"),
    ("runs", "Report"),
)

WATERS = (
    ("fresh", "Fresh water"),
    ("estuarine", "Estuary: fresh and salt water mix"),
    ("marine", "Sea water"),
)

#: setting, question, and its values with what each does; the first is what holds where nothing is chosen.
RULES = (
    (
        "nondetects",
        "Non-detects in sums",
        "What a substance that was not detected adds to a sum such as Total PCBs.",
        (
            ("stated", "As the set's own source states; where it states nothing, zero"),
            ("zero", "Zero"),
            ("half", "Half its limit"),
            ("root2", "Its limit divided by the root of two"),
            ("full", "Its whole limit"),
            ("km", "The Kaplan-Meier estimate, where its conditions are met; else zero"),
        ),
    ),
    (
        "duplicates",
        "Field duplicates",
        "Which figure stands in the findings where a sample was taken twice. Means per place always average the pair.",
        (
            ("higher", "The higher of the two"),
            ("mean", "Their mean; a non-detect counts as half its limit"),
            ("separate", "Each on its own"),
        ),
    ),
)

#: table, setting, question, and its values; the first is what holds where nothing is chosen.
RARELY = (
    (
        "reading",
        "limits",
        "A bare ND that names no limit takes",
        (("reporting", "the reporting limit beside it"), ("detection", "the detection limit beside it")),
    ),
    (
        "reading",
        "blanks",
        "Results near those of a blank",
        (
            ("as-flagged", "stand as laboratory and validator flagged them"),
            (
                "five-ten",
                "up to 5 times the blank (10 times for common contaminants) become non-detects: an older habit",
            ),
        ),
    ),
    (
        "cores",
        "compaction",
        "Depths of a core that came up shorter than it went in",
        (("none", "as recorded"), ("linear", "stretched evenly, by penetration over recovered length")),
    ),
)

#: table ("" for none), setting, label, hint.
HEAD = (
    ("", "title", "Title", "such as the survey and the water; without one it reads Sediment screening"),
    ("", "prepared-by", "Prepared by", ""),
    ("output", "checked-by", "Checked by", ""),
    ("", "memo-no", "Memo number", ""),
    ("", "date", "Date", "printed as you write it; without one no date is printed"),
)
