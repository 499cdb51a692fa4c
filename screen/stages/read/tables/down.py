"""A wide table with substances down a column and samples across. In: where its substances begin. Out: the table."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from screen.letters import column_letter
from screen.stages.read.cells.grid import Grid
from screen.stages.read.tables.evidence import FIELD_NAMES, Evidence, like_result
from screen.stages.read.tables.layouts import Place, Table, ValueColumn
from screen.stages.read.words.fields import (
    ANALYTE_FIELDS,
    COMPANIONS,
    SAMPLE_FIELDS,
    name_header,
    not_a_sample,
    split_end,
    stems,
)
from screen.stages.read.words.meanings import reads_as_unit
from screen.stages.read.words.qualifiers import says_flags

__all__ = ["build_down", "looks_like_cas", "only_flags"]

Ints = npt.NDArray[np.int64]

_CAS = re.compile(r"^\s*\d{2,7}-\d{2}-\d\s*$")
_INTERVAL = re.compile(
    r"\d+(?:[.,]\d+)?\s*(?:-|–|to|/|bis|à)\s*\d+(?:[.,]\d+)?\s*(?:cm|mm|m|in|ft|inches|feet|\"|')?", re.IGNORECASE
)
_BUILT_LIKE_FLAG = re.compile(r"[<>]?\s?[A-Z]{1,3}[*+-]?")
_ROW_FIELDS = ANALYTE_FIELDS | {"unit", "basis", "mdl", "rl", "limit", "limit_unit", "dilution"}
_LABEL_FIELDS = SAMPLE_FIELDS | {"unit", "basis", "method", "dilution"}
_NAMING = {"analyte", "sample", "lab_sample", "station", "core"}
_MEASURED = {"moisture", "solids", "carbon", "water_content"}


def only_flags(grid: Grid, rows: npt.NDArray[np.int64], column: int) -> bool:
    """Whether the filled cells hold flags and nothing else: half of the distinct ones known, the rest built alike."""
    texts = {text for row in rows[:2000] if (text := grid.cell(int(row), column).strip())}
    known = [text for text in texts if len(text) < 24 and says_flags(text)]
    return bool(known) and len(known) * 2 >= len(texts) and all(_BUILT_LIKE_FLAG.fullmatch(t) for t in texts - {*known})


def looks_like_cas(text: str) -> bool:
    """Whether the text is built like a CAS registry number."""
    return _CAS.match(text) is not None


@dataclass(slots=True)
class _Part:
    """The part of a sheet in which one table is looked for.

    ``rows`` are its rows in the sheet, and ``seen``, ``field`` the evidence of them; places count from 0 in ``rows``.
    ``anchor`` is the column of the substances, ``left`` the first and ``stop`` the column after the last. ``first`` is
    the place of the first substance, ``body`` the places of its results, ``heads`` the places of other rows above the
    last of them, and ``labels`` the field that each head names.
    """

    grid: Grid
    table: Table
    rows: Ints
    seen: dict[str, npt.NDArray[Any]]
    field: npt.NDArray[np.object_]
    anchor: int
    left: int
    stop: int
    first: int
    body: Ints
    heads: list[int]
    labels: dict[int, str]

    def text(self, place: int, column: int) -> str:
        """The text of a cell."""
        return self.grid.cell(int(self.rows[place]), column)

    def text_ahead(self, place: int, column: int) -> str:
        """The text of a cell to the left that is merged over this one, where flags and no numbers stand under it."""
        row = int(self.rows[place])
        for top, left, bottom, right in self.grid.merged:
            if top <= row <= bottom and self.anchor < left < column <= right and not self.numbers(left):
                return self.grid.cell(top, left)
        return ""

    @property
    def above(self) -> list[int]:
        """The heads above the first substance."""
        return [place for place in self.heads if place < self.first]

    def filled(self, column: int) -> bool:
        """Whether the column holds anything beside the substances."""
        return bool(self.seen["filled"][self.body, column].any())

    def digits(self, column: int) -> bool:
        """Whether a cell of the column beside the substances holds a digit."""
        return any(any(map(str.isdigit, self.text(int(place), column))) for place in self.body[:2000])

    def numbers(self, column: int) -> bool:
        """Whether the column holds something like a number beside the substances."""
        return bool(self.seen["number"][self.body, column].any())


def build_down(
    grid: Grid, evidence: Evidence, top: int, begin: int, end: int, anchor: int, left: int, stop: int
) -> Table | None:
    """The table whose first substance stands at row ``begin`` of column ``anchor``.

    Its header is looked for from row ``top`` on, its body ends before row ``end``, its columns lie from ``left`` to
    before ``stop``.
    """
    rows = np.arange(top, end)
    seen = evidence.matrices(rows, range(len(grid.columns)))
    field = np.array(FIELD_NAMES, dtype=object)[seen["field"]]
    inside = slice(anchor + 1, stop)
    known = seen["substance"][:, anchor]
    meta = np.isin(field[:, anchor], [*(_LABEL_FIELDS | {"analyte", "other", "note", "page"})]) & ~known
    numbered, held = (seen[name][:, inside].any(axis=1) for name in ("number", "filled"))
    body = seen["filled"][:, anchor] & ~meta & (numbered | (known & held))
    body[: begin - top] = False
    places = np.flatnonzero(body)
    if not len(places):
        return None
    table = Table("analytes-down", left, stop - 1, (), rows[places], np.zeros(0, dtype=np.int64), [], anchor=anchor)
    heads = [place for place in range(int(places[-1]) + 1) if not body[place]]
    part = _Part(grid, table, rows, seen, field, anchor, left, stop, begin - top, places, heads, {})
    table.bands = _bands(part)
    part.labels = _labels(part)
    _row_fields(part)
    names = _names_row(part)
    _columns(part, names)
    if not table.values:
        return None
    _without_words_for_names(part)
    used = {value.column for value in table.values} | set(table.row_fields.values()) | set(table.dropped)
    used |= {column for value in table.values for column in value.beside.values()}
    table.left, table.right = min(anchor, *used), max(anchor, *used)
    table.why.insert(
        0,
        f"column {column_letter(anchor)} names {int((body & known).sum())} known substances of {len(places)} rows, "
        "with results beside them",
    )
    if names is not None:
        table.why.append(f"row {int(rows[names]) + 1} names the samples")
    return table


def _bands(part: _Part) -> Ints:
    filled = part.seen["filled"][:, part.left : part.stop]
    front = filled[:, : part.anchor - part.left + 1].any(axis=1)
    alone = (filled.sum(axis=1) == 1) & front & (part.field[:, part.anchor] == "")
    alone[part.body] = False
    alone[: max(part.first - 1, 0)] = False
    bands: Ints = np.maximum.accumulate(np.where(alone, part.rows, -1))[part.body]
    return bands


def _labels(part: _Part) -> dict[int, str]:
    """Header row -> the field that its label names. A row of several field names is a row of column headers."""
    field, anchor, table = part.field, part.anchor, part.table
    found: dict[int, str] = {}
    for place in part.heads:
        here = [(column, field[place, column]) for column in range(part.left, anchor + 1) if field[place, column]]
        if not here:
            continue
        beside = [field[place, column] for column in range(anchor + 1, field.shape[1]) if field[place, column]]
        if field[place, anchor] == "analyte" or (len(here) > 1 and {"cas", "unit"} & {name for _, name in here}):
            found[place] = "analyte"
        elif (
            here[-1][1] in _LABEL_FIELDS
            and len(beside) <= 2
            and part.seen["filled"][place, anchor + 1 : part.stop].any()
        ):
            found[place] = here[-1][1]
    for place, name in found.items():
        if name in _LABEL_FIELDS and name not in table.column_fields:
            table.column_fields[name] = int(part.rows[place])
            _keep_rest(part, name, place, anchor)
    table.headers = tuple(int(part.rows[place]) for place in found)
    return found


def _keep_rest(part: _Part, name: str, place: int, column: int) -> None:
    """What the header of a field says besides, mostly a unit."""
    if rest := name_header(part.text(place, column)).rest:
        part.table.rests[name] = Place(rest, int(part.rows[place]), column)


def _row_fields(part: _Part) -> None:
    """The columns that say something of each row: CAS number, unit, limits."""
    table, field = part.table, part.field
    columns = range(part.left, part.stop)
    table.row_fields["analyte"] = part.anchor
    for place in (place for place in part.heads if part.labels.get(place, "analyte") == "analyte"):
        if field[place, part.anchor] == "analyte":
            _keep_rest(part, "analyte", place, part.anchor)
        for column in (one for one in columns if one != part.anchor and field[place, one]):
            name = field[place, column]
            if name == "analyte":
                table.spare[column] = name
            alone = sum(1 for one in columns if field[place, one] == name) == 1
            if name in _ROW_FIELDS and name != "analyte" and alone and name not in table.row_fields:
                table.row_fields[name] = column
                _keep_rest(part, name, place, column)
    for column in (one for one in columns if one not in table.row_fields.values()):
        texts = [text for text in (part.text(int(place), column) for place in part.body[:200]) if text]
        if not texts:
            continue
        if "cas" not in table.row_fields and sum(map(looks_like_cas, texts)) * 2 > len(texts):
            table.row_fields["cas"] = column
        elif "unit" not in table.row_fields and sum(map(reads_as_unit, texts)) * 2 > len(texts):
            table.row_fields["unit"] = column


def _names_row(part: _Part) -> int | None:
    """The header row that names the samples: by its label, as the column headers, or right above the body."""
    table, labels, field = part.table, part.labels, part.field
    taken = set(table.row_fields.values())
    columns = [one for one in range(part.anchor + 1, part.stop) if one not in taken and part.numbers(one)]
    if not columns:
        return None
    depths = _depth_row(part, columns)
    if depths is not None and "depth" not in table.column_fields:
        _head(part, "depth", depths)
        table.why.append(f"row {int(part.rows[depths]) + 1} gives the depths")

    def named(place: int) -> int:
        texts = [(column, part.text(place, column) or part.text_ahead(place, column)) for column in columns]
        return sum(1 for column, text in texts if text and not field[place, column] and not reads_as_unit(text))

    whole = _whole_row(part, columns)
    for wanted in ("sample", "analyte", "lab_sample", "station", "core"):
        for place, name in labels.items():
            if wanted == "analyte" and whole is not None and 0 < named(place) < len(columns):
                continue
            if name == wanted and named(place):
                if wanted == "analyte":
                    table.column_fields["sample"] = int(part.rows[place])
                elif wanted != "sample":
                    table.column_fields.setdefault("sample", int(part.rows[place]))
                return place
    if whole is not None and labels.get(whole) != "analyte":
        _head(part, "sample", whole)
        return whole
    for place in reversed([one for one in part.above if one not in labels and one != depths]):
        over = _merged_over(part, place, columns)
        if not named(place) or not (named(place) * 2 >= len(columns) or over):
            continue
        if part.seen["filled"][place].sum() == 1 and len(columns) > 1 and not over:
            continue
        _head(part, "sample", place)
        return place
    return None


def _without_words_for_names(part: _Part) -> None:
    """A row of field names such as ``Sample ID, Analyte, Result`` names no samples above the results."""
    fields = part.table.column_fields
    for name in [one for one in ("sample", "lab_sample", "station", "core") if one in fields]:
        place = int(np.searchsorted(part.rows, fields[name]))
        if all(part.field[place, value.column] for value in part.table.values):
            del fields[name]


def _head(part: _Part, name: str, place: int) -> None:
    """Take a row as the header that gives ``name`` for each column."""
    part.table.column_fields[name] = int(part.rows[place])
    part.table.headers = (*part.table.headers, int(part.rows[place]))


def _whole_row(part: _Part, columns: list[int]) -> int | None:
    """The lowest header row that has a name of its own above every column of results, where there are several."""
    for place in reversed([one for one in part.above if part.labels.get(one, "analyte") in _NAMING]):
        texts = [part.text(place, column).strip() for column in columns]
        distinct = len(set(texts)) == len(texts) > 1 and all(texts)
        if distinct and not any(part.field[place, column] for column in columns):
            plain = [text for text in texts if reads_as_unit(text) or like_result(text) or _INTERVAL.fullmatch(text)]
            if not plain and not any(not_a_sample(text) for text in texts):
                return place
    return None


def _depth_row(part: _Part, columns: list[int]) -> int | None:
    """A header row without a label that holds nothing but intervals of depth."""
    for place in part.above:
        texts = [text for column in columns if (text := part.text(place, column).strip())]
        if place not in part.labels and len(texts) > 1 and all(_INTERVAL.fullmatch(text) for text in texts):
            return place
    return None


def _merged_over(part: _Part, place: int, columns: list[int]) -> bool:
    row, merged = int(part.rows[place]), part.grid.merged
    return any(top <= row <= bottom and left > part.anchor and right > left for top, left, bottom, right in merged)


def _columns(part: _Part, names: int | None) -> None:
    """The columns of results, those that stand beside one, and those that are no samples."""
    table = part.table
    columns = [one for one in range(part.anchor + 1, part.stop) if one not in table.row_fields.values()]
    said = [
        place
        for place in part.heads
        if part.labels.get(place) in ("analyte", "unit") or (place not in part.labels and _speaks(part, place, names))
    ]
    roles = {column: _role(part, said, column) for column in columns}
    ahead = _flags_ahead(part, names, roles)
    current: ValueColumn | None = None
    dropped = ""
    for column in columns:
        name = part.text(names, column) if names is not None else ""
        if names is not None and column in ahead.values():
            name = name or part.text_ahead(names, column)
        role, kind = roles[column]
        filled = part.filled(column)
        numbers = part.numbers(column)
        if column in ahead:
            continue
        if kind:
            dropped = table.dropped[column] = kind
            current = None
        elif role in COMPANIONS:
            if current is not None and role not in current.beside:
                current.beside[role] = column
            elif current is not None and role == "qualifier" and "qualifier_other" not in current.beside:
                current.beside["qualifier_other"] = column
            elif current is not None:
                table.spare[column] = role
            elif filled:
                table.dropped[column] = dropped or "unnamed-column"
        elif role not in ("", "value"):
            if filled:
                table.dropped[column] = "other-column"
        elif name and (beside := _end_of(name, current)):
            assert current is not None
            current.beside.setdefault(beside, column)
        elif (name or role == "value") and filled:
            if not numbers and not _all_results(part, column):
                if current is not None and "qualifier" not in current.beside and _only_flags(part, column):
                    current.beside["qualifier"] = column
                    continue
                table.dropped[column] = "text-column"
                continue
            named = column if name or current is None else current.named
            current, dropped = ValueColumn(column, named, name=name), ""
            table.values.append(current)
        elif filled and not part.digits(column) and current is not None and "qualifier" not in current.beside:
            current.beside["qualifier"] = column
            if "qualifier" not in " ".join(table.why):
                table.why.append(f"column {column_letter(column)} has no header and holds only flags: qualifiers")
        elif numbers and current is not None and _own_depth(part, column):
            current = ValueColumn(column, current.named, name=current.name)
            table.values.append(current)
        elif filled and not name and current is None and names is None and not dropped:
            current = ValueColumn(column, column)
            table.values.append(current)
        elif filled:
            table.dropped[column] = dropped or "unnamed-column"
    for value in table.values:
        if value.column in ahead.values():
            flags = next(one for one, owner in ahead.items() if owner == value.column)
            value.beside.setdefault("qualifier", flags)


def _role(part: _Part, said: list[int], column: int) -> tuple[str, str]:
    """What the header rows say of a column: its role (a field, mostly), and why it holds no results of a sample."""
    roles, kinds = [], []
    for place in said:
        text = part.text(place, column)
        if not text or (part.labels.get(place) == "unit" and reads_as_unit(text)):
            continue
        if part.field[place, column]:
            roles.append(str(part.field[place, column]))
        elif kind := not_a_sample(text):
            kinds.append(kind)
    role = next((one for one in roles if one in COMPANIONS), "value" if "value" in roles else next(iter(roles), ""))
    return role, kinds[0] if kinds else ""


def _flags_ahead(part: _Part, names: int | None, roles: dict[int, tuple[str, str]]) -> dict[int, int]:
    """Columns of flags that stand before their results, each with that column of results.

    So where they take turns, beginning with flags and ending with results: ``Q, S1, Q, S2``, or ``<`` under a name that
    is merged over both.
    """
    order: list[tuple[int, bool]] = []
    for column, (role, kind) in roles.items():
        if kind or role not in ("", "value", "qualifier", "sign"):
            continue
        if part.numbers(column):
            order.append((column, True))
        elif role in ("qualifier", "sign") or (part.filled(column) and _only_flags(part, column)):
            order.append((column, False))
    turns = [is_value for _, is_value in order]
    if len(turns) < 2 or turns != [False, True] * (len(turns) // 2):
        return {}
    pairs = zip(order[::2], order[1::2], strict=True)
    return {flags: value for (flags, _), (value, _) in pairs}


def _speaks(part: _Part, place: int, names: int | None) -> bool:
    """Whether a row says what stands in its columns; one odd word of a title, such as ``x``, does not."""
    columns = range(part.anchor + 1, part.stop)
    if place == names or len(columns) <= 2 or sum(1 for one in columns if part.field[place, one]) > 1:
        return True
    return any(not_a_sample(part.text(place, column)) for column in columns)


def _own_depth(part: _Part, column: int) -> bool:
    """Whether the row of depths tells this column apart, though the sample's name stands over several columns."""
    row = part.table.column_fields.get("depth")
    return row is not None and bool(part.grid.cell(row, column))


def _end_of(name: str, current: ValueColumn | None) -> str:
    """The role of a column such as ``QE-1 Q`` beside ``QE-1`` or ``QE-1 Result``, or an empty text."""
    if current is None:
        return ""
    for end in split_end(name):
        if end.role != "value" and stems(current.name) & stems(end.stem):
            return end.role
    return ""


def _all_results(part: _Part, column: int) -> bool:
    return all(like_result(part.text(int(place), column)) for place in part.body[:500])


def _only_flags(part: _Part, column: int) -> bool:
    return only_flags(part.grid, part.table.body, column)
