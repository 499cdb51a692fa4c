"""The report as one self-contained page. In: a ``Run`` and the chains of flagged findings. Out: ``report.html``.

Templates get finished strings: no arithmetic, no rounding and no choice of words is left to them.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import Environment
from markupsafe import Markup, escape

from screen.stages.report.facts import Facts, Finding
from screen.stages.report.marks import LEGEND, SYMBOLS, WORDS, head, images
from screen.stages.report.numbers import listed
from screen.stages.report.page import along, appendix, indices, setwise, supporting, view
from screen.stages.report.page.chains import chain_views, wanted
from screen.stages.report.page.ranked import ranking
from screen.stages.report.parts import Table
from screen.stages.report.pictures import figures
from screen.stages.report.pictures.corefigures import PATTERNS, core_picture, has_elevations
from screen.stages.report.words import sentences
from screen.stages.report.words.cautions import cautions
from screen.stages.report.words.steps import next_steps
from screen.templating import strict_templates, without_controls

if TYPE_CHECKING:
    import pandas as pd

    from screen.model import Run

__all__ = ["render", "write_page"]

#: Profiles along the river and pictures of cores on the page, at most.
_MOST_PROFILES = 12
_MOST_CORES = 12
#: On a page of more marks, what is out of sight is laid out only when it comes near.
_MANY_MARKS = 3_000
#: Gives the chains of rows of findings.
Explain = Callable[["pd.DataFrame"], Sequence[Mapping[str, Any]]]
_TEMPLATES = Path(__file__).parent.parent / "templates"


def write_page(run: Run, path: Path, explain: Explain) -> None:
    """Write the report of ``run`` to ``path``; ``explain`` gives the chains of rows of its findings, in their order."""
    facts = Facts(run)
    rows = wanted(facts)
    text = _rendered(facts, explain(run.findings.iloc[rows]) if rows else [])
    path.write_text(text, encoding="utf-8", newline="\n")


def render(run: Run, chains: Sequence[Mapping[str, Any]] = ()) -> str:
    """The report as text, with ``chains`` as ``explain`` gives them; the same run gives the same text."""
    return _rendered(Facts(run), chains)


def _rendered(facts: Facts, chains: Sequence[Mapping[str, Any]]) -> str:
    return without_controls(_environment().get_template("page.html").render(_context(facts, chains)))


@cache
def _environment() -> Environment:
    environment = strict_templates(_TEMPLATES)
    environment.globals["inline"] = _inline
    environment.filters["breakable"] = _breakable
    environment.filters["labels"] = _labels
    return environment


def _inline(name: str) -> Markup:
    """A style sheet or script of ours, as it stands; nothing from outside is ever in it."""
    return Markup((_TEMPLATES / name).read_text(encoding="utf-8"))


def _shapes() -> Markup:
    """The marks as images of the style sheet, in the colours of each scheme: light, dark, print."""
    rules = "".join(re.findall(r"^(\.k-.*)$", _inline("style.css"), re.MULTILINE))
    colours: dict[str, str] = {}
    out = [Markup("").join(Markup(".g-{0}{{--shape:var(--mark-{0})}}").format(name) for name in WORDS)]
    for medium, block in re.findall(r"(?:@media ([^{]+)\{\s*)?:root \{(.*?)\}", _inline("tokens.css"), re.DOTALL):
        colours |= dict(re.findall(r"--([a-z]+): (#[0-9a-f]+);", block))
        drawn = rules
        for name, colour in colours.items():
            drawn = drawn.replace(f"var(--{name})", colour)
        root = Markup(":root{{{}}}").format(
            Markup("").join(Markup("--mark-{}:{};").format(*one) for one in images(drawn).items())
        )
        out.append(Markup("@media {}{{{}}}").format(Markup(medium.strip()), root) if medium else root)
    return Markup("\n").join(out)


def _breakable(name: str, syllables: bool = False) -> Markup:
    """A long name that may be broken behind a bracket, a stroke or a hyphen, and, if asked, between ``syllables``."""
    parts = re.sub(r"([)/-])(?=\w)", r"\1<wbr>", str(escape(name)))
    if not syllables:
        return Markup(parts)
    return Markup(re.sub(r"(?<![&\w])[A-Za-z]{8,}", lambda met: _syllables(met[0]), parts))


#: Consonants between two vowels, those that begin the second syllable apart.
_CONSONANTS = "[bcdfghjklmnpqrstvwxz]"
_SYLLABLE = re.compile(
    rf"(?<=[aeiouy]){_CONSONANTS}*?((?:[cpst]h|[bcdfgpt])[lr]|[cpst]h|{_CONSONANTS})(?=[aeiouy])", re.IGNORECASE
)


def _syllables(word: str) -> str:
    """``word`` with soft hyphens between syllables, none of fewer than three letters at either end."""
    places = [met.start(1) for met in _SYLLABLE.finditer(word) if 3 <= met.start(1) <= len(word) - 3]
    edges = [0, *places, len(word)]
    return "\N{SOFT HYPHEN}".join(word[start:stop] for start, stop in itertools.pairwise(edges))


def _css_text(words: str) -> Markup:
    """``words`` as a text of a style sheet, every sign but letters, digits and blanks by its number."""
    signs = (sign if sign.isascii() and (sign.isalnum() or sign == " ") else f"\\{ord(sign):x} " for sign in words)
    return Markup('"' + "".join(signs) + '"')


def _labels(table: Table) -> Markup:
    """What stands before each cell where a narrow page shows a row as a card: the head of its column."""
    rules = (
        Markup("#{} td:nth-child({})::before{{content:{}}}").format(
            table.identity, at, _css_text(", ".join(filter(None, (head.text, head.unit))))
        )
        for at, head in enumerate(table.heads[1:], 2)
    )
    return Markup("").join(rules)


def _context(facts: Facts, chains: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    settings = facts.run.settings
    ways = chain_views(chains, facts)
    river_said, cores_said = along.said(facts)
    about, off = indices.about(facts)
    totals, other_totals = supporting.totals(facts)
    profiles, profile_rule = _profiles(facts)
    cores, core_rule = _cores(facts)
    flagged = list(dict.fromkeys(one.substance for name in ("above", "between") for one in facts.exceeding(name)))
    flagged += list(
        dict.fromkeys(one.total for name in ("above", "between") for one in facts.exceeding(name) if one.total)
    )
    title = settings.title or "Sediment screening"
    context: dict[str, Any] = {
        "title": title,
        "running": _css_text(" · ".join(filter(None, (title, settings.memo_no and f"memo {settings.memo_no}")))),
        "titled": bool(settings.title),
        "sets_line": sentences.set_names(facts) if facts.set_ids else "",
        "memo_no": settings.memo_no or "",
        "prepared_by": settings.prepared_by or "",
        "checked_by": settings.checked_by or "",
        "date": settings.date or "",
        "assumptions": sentences.assumptions(facts),
        "screened": sentences.screened(facts),
        "tally": setwise.tally(facts),
        "many": len(facts.told_sets) < len(facts.set_ids),
        "disagreement": setwise.disagreement(facts),
        "answer": sentences.answer(facts),
        "aside": sentences.aside(facts),
        "missing": sentences.missing_samples(facts),
        "rests_on": sentences.rests_on(facts),
        "next_steps": next_steps(facts),
        "cautions": cautions(facts),
        "shown_rule": facts.shown[1],
        "strip_title": figures.strip_title(facts),
        "strip_wide": figures.strip_wide(facts),
        "strip_upright": figures.strip_upright(facts),
        "strip_rows": figures.strip_rows(facts),
        "legend": [(name, head(name), LEGEND[name]) for name in WORDS],
        "shapes": _shapes(),
        "symbols": SYMBOLS,
        "patterns": PATTERNS,
        "matrix": view.matrix(facts, ways),
        "exceedances": view.exceedances(facts, ways),
        "open_findings": view.open_findings(facts, ways),
        "chains": ways.all,
        "chains_left": f"{ways.left:,} more by the same command." if ways.left else "",
        "river_said": river_said,
        "cores_said": cores_said,
        "map": along.station_map(facts),
        "unplaced": along.unplaced(facts),
        "large": len(facts.drawn(facts.told)) > _MANY_MARKS,
        "ranking": ranking(facts),
        "comparisons": along.comparisons(facts),
        "trends": along.trends(facts),
        "cuts": along.cuts(facts),
        "profiles": profiles,
        "profile_rule": profile_rule,
        "reach": supporting.reach(facts, flagged),
        "change": supporting.change(facts),
        "cores": cores,
        "core_rule": core_rule,
        "indices": indices.by_sample(facts),
        "about_indices": about,
        "indices_off": off,
        "totals": totals,
        "other_totals": other_totals,
        "not_assessed": supporting.not_assessed(facts),
        "not_analysed": facts.listed("not_analysed"),
        "quality": appendix.quality(facts),
        "warnings": appendix.warnings(facts),
        "method": appendix.method(facts),
        "sources": appendix.sources(facts),
        "record": appendix.record(facts),
        "conserved": facts.record["conserved"] is True,
        "version": facts.record["tool_version"],
    }
    context["labelled"] = [item for value in context.values() for item in _tables(value)]
    return context


def _tables(value: object) -> list[Table]:
    """The tables in one value of the context that become cards on a narrow page; the matrix names its cells itself."""
    items = value if isinstance(value, list) else [value]
    tables = [item.levels if isinstance(item, appendix.Source) else item for item in items]
    return [item for item in tables if isinstance(item, Table) and not item.kind]


def _flagged_groups(facts: Facts, findings: Sequence[Finding]) -> list[list[Finding]]:
    """The findings by substance, total, unit and basis, gravest first: with an ``above``, else with a ``between``."""
    groups: dict[tuple[str, str, str, str], list[Finding]] = {}
    for one in findings:
        groups.setdefault((one.substance, one.total, one.unit, one.basis), []).append(one)
    for word in ("above", "between"):
        chosen = [group for group in groups.values() if any(one.finding == word for one in group)]
        if chosen:
            return sorted(chosen, key=lambda group: (-max(one.quotient for one in group), group[0].substance))
    return []


def _profiles(facts: Facts) -> tuple[list[figures.Picture], str]:
    known = [one for one in facts.drawn(facts.findings) if not math.isnan(one.river_km)]
    if len({one.station for one in known}) < 2:
        return [], "Profiles along the river need at least two stations whose river km is known."
    groups = _flagged_groups(facts, known)
    if not groups:
        return [], "No substance is above a level, so no profile is drawn; every figure is in the tables."
    pictures = [figures.profile(f"profile-{number}", group) for number, group in enumerate(groups[:_MOST_PROFILES], 1)]
    left = len(groups) - len(pictures)
    word = (
        "above an upper level" if any(one.finding == "above" for group in groups for one in group) else "between levels"
    )
    rule = f"Drawn for each substance {word} somewhere, the highest quotient first."
    return pictures, f"{rule} {left:,} more not drawn." if left else rule


def _cores(facts: Facts) -> tuple[list[figures.Picture], str]:
    by_core: dict[str, list[Finding]] = {}
    for one in facts.drawn(facts.findings):
        core = facts.core_of(one)
        if core and not (math.isnan(one.depth_top_cm) or math.isnan(one.depth_bottom_cm)):
            by_core.setdefault(core, []).append(one)
    cut = {str(row.get("core")): float(row.get("cut_cm", math.nan)) for row in facts.cut_rows}
    profiles = {core: found for core, found in by_core.items() if len({one.depth_top_cm for one in found}) > 1}
    groups = [(core, group) for core, found in profiles.items() for group in _flagged_groups(facts, found)]
    each = max(1, _MOST_CORES // max(1, len({core for core, _ in groups})))
    nth: dict[str, int] = {}
    chosen = []
    for core, group in groups:
        nth[core] = nth.get(core, 0) + 1
        if nth[core] <= each:
            chosen.append((core, group))
    if len(chosen) > _MOST_CORES:
        chosen.sort(key=lambda item: -max(one.quotient for one in item[1]))
    pictures = [
        core_picture(f"core-{at}", core, group, facts.samples, cut.get(core, math.nan))
        for at, (core, group) in enumerate(chosen[:_MOST_CORES], 1)
    ]
    if not pictures:
        if profiles:
            return [], "No core of two or more intervals holds a substance above a level, so none is drawn."
        one_each = " Each core of this batch has one interval: no profile down a core." if by_core else ""
        return [], one_each.strip() or "No sample of this batch is of a core whose depths are known."
    rule = "Drawn for the substances of each core with the highest quotients."
    bare = [core for core, group in chosen[:_MOST_CORES] if not has_elevations(group, facts.samples)]
    if bare:
        rule += f" By depth alone, for want of a bed level with a datum: {listed(list(dict.fromkeys(bare)))}."
    return pictures, f"{rule} {len(groups) - len(pictures):,} more not drawn." if len(groups) > len(pictures) else rule
