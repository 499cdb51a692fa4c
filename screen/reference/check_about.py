"""Is the TOML file of a guideline set in order? In: the pair as read. Out: findings for that file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from screen.likeness import nearest
from screen.reference.rules import sum_rules
from screen.reference.set_files import Finding, RawSet, builtin_ids, read_basis_word
from screen.reference.units import read_unit

__all__ = ["WATERS", "check_about"]

WATERS = ("fresh", "estuarine", "marine", "land")
NONDETECTS = ("zero", "half", "root2", "full", "km")
AT_LEVEL = ("not-above", "exceeds")
OUTSIDE = ("clamp", "not-assessed")
_TEXTS = ("title", "citation", "lower", "upper", "basis", "at_level", "nondetects", "issuer", "year", "second")
_LISTS = ("water", "levels", "caveats")
_TABLES = ("toc", "sums", "meaning")
_REQUIRED = ("title", "citation", "water", "levels", "upper", "caveats")
_TOC = ("range_pct", "outside")


def check_about(raw: RawSet) -> list[Finding]:
    """What is wrong with the keys of the TOML file, by line."""
    return [*_keys(raw), *_words(raw), *_levels(raw), *_toc(raw), *_sums(raw)]


def _at(raw: RawSet, key: str, message: str, mend: str, section: str = "") -> Finding:
    return Finding(str(raw.about), raw.line_of(key, section), message, mend)


def _nearest(word: str, known: Iterable[str]) -> str:
    names = list(known)
    near = nearest(word, names)
    return f"Did you mean {near[0]!r}?" if near else f"Known are {', '.join(names)}."


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) and one.strip() for one in value)


def _keys(raw: RawSet) -> Iterator[Finding]:
    known = (*_TEXTS, *_LISTS, *_TABLES)
    for key in raw.data:
        if key not in known:
            yield _at(raw, key, f"The key {key!r} is not known.", _nearest(key, known))
    for key in _REQUIRED:
        if key not in raw.data:
            yield _at(raw, key, f"The key {key!r} is missing.", f"Add a line: {key} = ...")
    for key in _TEXTS:
        value = raw.data.get(key)
        if value is not None and not (isinstance(value, str) and value.strip()):
            yield _at(raw, key, f"{key!r} is not a text.", f'Write {key} = "...".')
    for key in _LISTS:
        value = raw.data.get(key)
        if value is not None and (not _texts(value) or not value):
            yield _at(raw, key, f"{key!r} is not a list of texts.", f'Write {key} = ["..."].')
    for key in _TABLES:
        value = raw.data.get(key)
        if value is not None and not isinstance(value, dict):
            yield _at(raw, key, f"{key!r} is not a table.", f"Write [{key}] on a line of its own, and its keys below.")


def _words(raw: RawSet) -> Iterator[Finding]:
    for key, known in (("at_level", AT_LEVEL), ("nondetects", NONDETECTS)):
        word = raw.data.get(key)
        if isinstance(word, str) and word.strip() and word not in known:
            yield _at(raw, key, f"{word!r} is not known for {key!r}.", _nearest(word, known))
    water = raw.data.get("water")
    for word in water if isinstance(water, list) and _texts(water) else ():
        if word not in WATERS:
            yield _at(raw, "water", f"The water {word!r} is not known.", _nearest(word, WATERS))
    basis = raw.data.get("basis")
    if isinstance(basis, str) and basis.strip():
        try:
            read_basis_word(basis)
        except ValueError as error:
            yield _at(raw, "basis", str(error), "Known are dry, oc, oc-1% (any per cent), al-5% and below-20um.")


def _levels(raw: RawSet) -> Iterator[Finding]:
    levels = raw.data.get("levels")
    if not isinstance(levels, list) or not levels or not _texts(levels):
        return
    if len(set(levels)) < len(levels):
        yield _at(raw, "levels", "A level stands twice in 'levels'.", "Give each level its own name.")
    pair = [raw.data[key] for key in ("lower", "upper") if isinstance(raw.data.get(key), str)]
    for key in ("lower", "upper"):
        level = raw.data.get(key)
        if isinstance(level, str) and level not in levels:
            yield _at(raw, key, f"{level!r} is not one of the levels.", _nearest(level, levels))
    if len(levels) > 1 and "lower" not in raw.data:
        mend = f'Add a line such as lower = "{levels[0]}". Only a one-level set leaves it out.'
        yield _at(raw, "lower", "The key 'lower' is missing.", mend)
    if len(pair) == 2 and all(level in levels for level in pair) and levels.index(pair[0]) >= levels.index(pair[1]):
        message = "'lower' must stand before 'upper' in the levels."
        yield _at(raw, "lower", message, "Levels are listed mildest first; a one-level set gives only upper.")
    meaning = raw.data.get("meaning")
    for level, text in meaning.items() if isinstance(meaning, dict) else ():
        if level not in levels:
            yield _at(raw, level, f"{level!r} is not one of the levels.", _nearest(level, levels), "meaning")
        elif not isinstance(text, str):
            yield _at(raw, level, f"The meaning of {level!r} is not a text.", "Write it in quotes.", "meaning")


def _toc(raw: RawSet) -> Iterator[Finding]:
    toc = raw.data.get("toc")
    if not isinstance(toc, dict):
        return
    for key in toc:
        if key not in _TOC:
            yield _at(raw, key, f"The key {key!r} of [toc] is not known.", _nearest(key, _TOC), "toc")
    for key in _TOC:
        if key not in toc:
            yield _at(raw, key, f"The key {key!r} of [toc] is missing.", f"Add a line: {key} = ...", "toc")
    span = toc.get("range_pct", [0, 100])
    numbers = isinstance(span, list) and all(isinstance(one, int | float) and not isinstance(one, bool) for one in span)
    if not numbers or len(span) != 2 or not 0 <= span[0] < span[1] <= 100:
        message = "'range_pct' is not two percentages of organic carbon, the lower first."
        yield _at(raw, "range_pct", message, "Write range_pct = [0.5, 3.5].", "toc")
    outside = toc.get("outside", "clamp")
    beside = raw.about.with_name(f"{outside}.toml").is_file()
    if outside not in OUTSIDE and (outside == raw.id or not (outside in builtin_ids() or beside)):
        mend = _nearest(str(outside), (*OUTSIDE, *builtin_ids()))
        yield _at(raw, "outside", f"{outside!r} is neither clamp, not-assessed nor another set.", mend, "toc")
    words = [raw.data.get("basis"), *_cells(raw, "basis")]
    by_unit = any(read_unit(text).basis == "oc" for text in set(_cells(raw, "unit")))
    if not by_unit and not any(isinstance(word, str) and word.startswith("oc") for word in words):
        yield _at(
            raw, "toc", "[toc] is given, and no figure is on a carbon basis.", "Take [toc] out, or state the basis."
        )


def _cells(raw: RawSet, column: str) -> list[str]:
    """The cells of ``column`` and of every level's own such column."""
    return [text for _, row in raw.records for key, text in row.items() if key.split(" ")[-1] == column]


def _sums(raw: RawSet) -> Iterator[Finding]:
    sums = raw.data.get("sums")
    known = list(sum_rules().totals.index)
    for name, totals in sums.items() if isinstance(sums, dict) else ():
        nested = isinstance(totals, list) and bool(totals) and all(isinstance(one, list) for one in totals)
        lists = totals if nested else [totals]
        if not all(_texts(one) and one for one in lists):
            mend = f'Write "{name}" = ["pah-13"], or one list for each kind of measurement.'
            yield _at(raw, name, f"{name!r} is not a list of totals.", mend, "sums")
            continue
        for total in dict.fromkeys(one for ids in lists for one in ids):
            if total not in known:
                yield _at(raw, name, f"The total {total!r} is not known.", _nearest(total, known), "sums")
