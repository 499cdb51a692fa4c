"""Fill the tables of `coverage.md` and `methods.md` from the data in `guidelines/`: `python docs/fill_tables.py`.

A table stands between `<!-- begin NAME -->` and `<!-- end NAME -->`; what is there is replaced. A test fails where a
page differs from the data.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from screen.reference.index_about import about_indices, index_classes
from screen.reference.locate import read_table
from screen.reference.overview import list_sets
from screen.reference.rules import sum_rules
from screen.reference.sets import load_set

PAGES = ("coverage.md", "methods.md")
WORDS = {"seen": "seen", "from_memory": "from memory", "conflict": "in conflict"}


def table(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A Markdown table."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join("| " + " | ".join(str(cell).replace("|", "/") for cell in line) + " |" for line in lines)


def sets() -> str:
    """One row for each built-in set."""
    rows = []
    for listed in list_sets().to_dict("records"):
        name = str(listed["id"])
        one = load_set(name)
        evidence = ", ".join(f"{listed[mark]} {word}" for mark, word in WORDS.items() if listed[mark])
        pair = f"{one.lower} / {one.upper}" if one.lower else one.upper
        more = f" (of {', '.join(one.levels)})" if len(one.levels) > 2 else ""
        rows.append(
            [
                f"`{name}`",
                one.title,
                one.citation,
                ", ".join(one.water),
                f"{pair}{more}",
                one.rows["substance"].nunique(),
                evidence,
                one.second or "unchecked",
                str(listed["default_for"]).replace(";", ", ") or "no",
            ]
        )
    heads = ("Set", "Title", "Source", "Water", "Pair compared", "Substances", "Figures", "Second publication",
             "Default for")  # fmt: skip
    return table(heads, rows)


def sums() -> str:
    """One row for each total."""
    rules = sum_rules()
    rows = []
    for name, row in rules.totals.iterrows():
        members = rules.members[rules.members["total"] == name]
        complete = f"{row['complete_at']:.0f} measured" if row["complete_at"] == row["complete_at"] else "all needed"
        factor = "" if row["factor"] == 1 else f"{row['factor']:g} x "
        weighted = "weighted sum" if (members["weight"] != 1).any() else "sum"
        rows.append(
            [
                f"`{name}`",
                row["name"],
                f"{factor}{weighted} of {len(members)}, {row['unit']}",
                complete,
                row["source"],
                WORDS[row["evidence"]],
                row["note"],
            ]
        )
    return table(("Total", "Name", "How", "Complete with", "Source of the list", "Evidence", "Note"), rows)


def indices() -> str:
    """A section for each index."""
    parts = []
    for one in about_indices():
        lines = [f"### `{one.id}`: {one.name}", "", one.formula, ""]
        if one.off:
            lines += [f"**{one.off}**", ""]
        lines += [f"- Source: {one.source}", f"- Not detected: {one.nondetects}"]
        classes = index_classes(one.id)
        if classes:
            marks = {WORDS[row["evidence"]] for row in classes}
            lines.append(f"- Classes ({', '.join(sorted(marks))}): {'; '.join(row['class'] for row in classes)}.")
            lines.append(f"- Source of the classes: {'; '.join(dict.fromkeys(row['source'] for row in classes))}.")
        else:
            lines.append(f"- Classes: {one.classes or 'none.'}")
        lines += [f"- {text}" for text in one.caveats]
        parts.append("\n".join(lines))
    return "\n\n".join(parts)


def index_list() -> str:
    """One row for each index."""
    rows = [[f"`{one.id}`", one.name, one.source, "off" if one.off else "on"] for one in about_indices()]
    return table(("Index", "What it is", "Source", "Made"), rows)


def backgrounds() -> str:
    """One row for each published background of metals that is held."""
    held = read_table("coefficients/background_metals.csv")
    rows = []
    for name, own in held.groupby("background", sort=False):
        marks = own["evidence"].value_counts()
        evidence = ", ".join(f"{marks[mark]} {word}" for mark, word in WORDS.items() if mark in marks)
        rows.append([f"`{name}`", own["source"].iloc[0], len(own), evidence])
    return table(("Background", "Source", "Elements", "Figures"), rows)


BLOCKS: dict[str, Callable[[], str]] = {
    "sets": sets, "sums": sums, "indices": indices, "index-list": index_list, "backgrounds": backgrounds
}  # fmt: skip


def filled(text: str) -> str:
    """``text`` with every block replaced by what the data say."""
    for name, make in BLOCKS.items():
        begin, end = f"<!-- begin {name} -->", f"<!-- end {name} -->"
        before, found, rest = text.partition(begin)
        if found:
            text = f"{before}{begin}\n\n{make()}\n\n{end}{rest.partition(end)[2]}"
    return text


if __name__ == "__main__":
    for page in PAGES:
        path = Path(__file__).with_name(page)
        path.write_text(filled(path.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
