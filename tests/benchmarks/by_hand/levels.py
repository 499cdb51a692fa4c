"""What the scripts beside this one look up: levels of one set, members and completeness of its sums.

In: the CSV files of `guidelines/`, by the standard library only. Out: plain dictionaries.
"""

from __future__ import annotations

import csv
from pathlib import Path

__all__ = ["LEVELS", "NEEDED", "SUMS"]

_GUIDELINES = Path(__file__).resolve().parents[3] / "guidelines"


def _rows(name: str) -> list[dict[str, str]]:
    with (_GUIDELINES / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


#: Lower and upper level (NaN: none) of each substance of the set, on dry weight.
LEVELS = {
    row["substance"]: (float(row["TEC"] or "nan"), float(row["PEC"] or "nan"))
    for row in _rows("sets/consensus-2000-fresh.csv")
}
_IDS = {
    "Total PAHs": "pah-13",
    "Sum DDD": "ddd",
    "Sum DDE": "dde",
    "Sum DDT": "ddt",
    "Total DDTs": "ddt-6",
    "Chlordane": "chlordane-5",
    "pcb-congeners": "pcb-congeners",
    "pcb-nst18x2": "pcb-nst18x2",
}
_MEMBERS = _rows("sums/members.csv")
#: Members of each sum by the guideline's name; Total PCBs has two lists, by their ids.
SUMS = {name: [row["substance"] for row in _MEMBERS if row["total"] == one] for name, one in _IDS.items()}
#: How many members a complete sum has.
NEEDED = {name: len(members) for name, members in SUMS.items()} | {"pcb-congeners": 100}
