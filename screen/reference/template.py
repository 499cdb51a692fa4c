"""An empty guideline set of one's own that is in order as it stands. In: a path. Out: the pair of files there."""

from __future__ import annotations

from pathlib import Path

__all__ = ["template_set"]

_ABOUT = """\
# A guideline set is this file and the table beside it, {name}.csv, under one name.
# Check the pair with:  siltmark guidelines check {name}.toml
# Use it with:          siltmark screen SHEET --out DIR --guidelines {name}.toml

title = "My guideline set"
citation = "Who set these levels: author, year, document, table and page."

# fresh, estuarine, marine; land for soil levels, which no station takes by default.
water = ["fresh"]

# The names of the level columns of the table, mildest first.
levels = ["lower level", "upper level"]

# The pair that is compared. A set of one level gives only upper.
lower = "lower level"
upper = "upper level"

# What its issuer says that it is not for. At least one line.
caveats = ["Write here what these levels are not meant for."]

# The basis of every figure that names none of its own in the table (column "basis", or "LEVEL basis"):
#   dry      per kg of dry sediment
#   oc       per kg of organic carbon (mg/kg)
#   oc-1%    dry weight at 1 % organic carbon, or any other per cent
#   al-5%    dry weight at 5 % aluminium, or any other per cent
basis = "dry"

# What a value equal to a level means: "not-above" or "exceeds".
at_level = "not-above"

# How sums count nondetects: zero, half, root2, full or km. Leave it out where the source states none.
# nondetects = "zero"

# Only for levels on a carbon basis: the per cent of organic carbon within which they hold, and what happens outside:
# "clamp" (the nearer end is used), "not-assessed", or the id of another set that is used instead.
# [toc]
# range_pct = [0.5, 3.5]
# outside = "not-assessed"

# What each level means, in its issuer's own terms. May be left out.
# [meaning]
# "lower level" = "..."
# "upper level" = "..."

# Which totals a sum in the table is compared by: the first complete one, else the first measured in part. One list,
# or one list for each kind of measurement that is compared separately.
[sums]
"Total PAHs" = ["pah-13", "pah-16"]
"Total PCBs" = [["pcb-congeners", "pcb-nst18x2", "pcb-homologs"], ["pcb-aroclors"]]
"""

_TABLE = """\
# One row per substance. The figures below are examples and stand for nothing: put your own in their place.
# Lines that begin with a hash are left out. An empty level cell means that there is no such level.
substance,cas,lower level,upper level,unit,source,note
Lead,7439-92-1,1000,2000,mg/kg,,example: replace it
Total PAHs,,100000,200000,ug/kg,,example: replace it
Total PCBs,,10000,20000,ug/kg,,example: replace it
"""


def template_set(path: Path) -> tuple[Path, Path]:
    """Write an empty set, with comments, as ``path`` and its partner; the two paths, table first.

    ``path`` may end in .csv or .toml or have no suffix. Raises FileExistsError rather than write over a file.
    """
    stem = path.with_suffix("") if path.suffix.lower() in (".csv", ".toml") else path
    table, about = stem.with_name(stem.name + ".csv"), stem.with_name(stem.name + ".toml")
    for file in (table, about):
        if file.exists():
            raise FileExistsError(f"{file} is there already. Give another name.")
    table.write_text(_TABLE, encoding="utf-8")
    about.write_text(_ABOUT.replace("{name}", stem.name), encoding="utf-8")
    return table, about
