"""What each record says: which substance, and which number in the unit that it states.

In: records. Out: ``Substances`` and ``Readings``, one entry per record, every distinct text resolved once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from screen.columns import coded, stacked
from screen.columns import spread as spread_codes
from screen.reference.names import NameBook, read_band, said_in_name
from screen.reference.substances import describe
from screen.reference.units import molar_factor
from screen.settings import Settings
from screen.stages.read.cells.coded import (
    categorical,
    empty,
    equals,
    first_cell,
    first_of,
    join,
    pair_codes,
    spread,
    take,
    used,
)
from screen.stages.read.cells.grid import TEXT, Column
from screen.stages.read.records.answers import Answers
from screen.stages.read.records.melt import Records
from screen.stages.read.tables.sheet_words import SheetWords
from screen.stages.read.words.detection import combine
from screen.stages.read.words.numbers import Decimal, decimal_evidence
from screen.stages.read.words.qualifiers import Legend, Marks, resolve_marks
from screen.stages.read.words.values import parse_values
from screen.stages.read.words.vocabulary import look_up

__all__ = ["Readings", "Substances", "column_of", "decimal_of", "read_numbers", "read_substances"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(slots=True)
class Substances:
    """The substance of each record: ``codes`` into ``names`` (-1: refused), and per record the code of ``told``.

    ``told`` is a frame with one row per distinct (name, CAS, band): role, code, message, notice, coelution, points_to,
    analyte, suggestion, stated_as (``Tributyltin (as Sn)`` of a mass of tin). ``facts`` is ``describe(names)``.
    ``said_unit`` and ``said_basis``: what the printed name says.
    """

    codes: Ints
    names: list[str]
    facts: pd.DataFrame
    told: pd.DataFrame
    told_codes: Ints
    said_unit: Column
    said_basis: Column

    def flag(self, flags: Sequence[bool] | npt.NDArray[np.bool_], missing: bool = False) -> Bools:
        """One flag per substance spread over the records; ``missing`` for a refused name."""
        return np.append(np.asarray(flags, dtype=bool), missing)[self.codes]

    def in_groups(self, *groups: str) -> Bools:
        """Records whose substance is of one of the groups."""
        return self.flag(self.facts["group"].isin(groups).to_numpy())

    @property
    def mass_ratio(self) -> Floats:
        """What the mass that each record's name states is multiplied by to be that of its substance."""
        ratios = [(molar_factor(str(name)) or np.nan) if name else 1.0 for name in self.told["stated_as"]]
        return np.array(ratios, dtype=np.float64)[self.told_codes]

    def has_role(self, role: str) -> Bools:
        """Records whose name plays the role (``surrogate``, ``lab-total`` ...)."""
        return (self.told["role"] == role).to_numpy(dtype=bool)[self.told_codes]

    def groups(self) -> pd.Categorical:
        """The group of each record, missing for a refused name."""
        listed = [text if isinstance(text, str) else None for text in self.facts["group"]]
        places, distinct = pd.factorize(np.array([*listed, None], dtype=object))
        return pd.Categorical.from_codes(
            np.asarray(places, dtype=np.int64)[self.codes], pd.Index(distinct, dtype=object)
        )


def read_substances(records: Records, book: NameBook, context: Column) -> Substances:
    """Each distinct analyte, CAS number and band resolved once. ``context``: words on the table, such as its sheet."""
    analyte, cas = records.get("analyte"), records.get("cas")
    bands = [
        spread(one, read_band)
        for one in (records.get("band"), records.get("analyte_class"), records.get("method"), context)
    ]
    band = bands[0]
    for other in bands[1:]:
        band = first_of(band, other)
    codes, first = pair_codes(analyte, cas, band)
    names = [str(analyte.texts[analyte.codes[row]]) for row in first]
    numbers = [str(cas.texts[cas.codes[row]]) for row in first]
    areas = [str(band.texts[band.codes[row]]) for row in first]
    told = book.resolve_many(names, numbers, areas).astype(object)
    told = told.where(told.notna(), "")
    told["analyte"], told["cas"] = names, numbers
    told = _in_full(told)
    found = np.array([text or None for text in told["substance"]], dtype=object)
    places, distinct = pd.factorize(found)
    listed = [str(one) for one in distinct]
    facts = describe(listed).reset_index(drop=True) if listed else describe([]).reset_index(drop=True)
    places = np.asarray(places, dtype=np.int64)
    said = {str(text): _said(str(text)) for text in analyte.texts}
    unit, basis = spread(analyte, lambda text: said[text][0]), spread(analyte, lambda text: said[text][1])
    return Substances(places[codes] if len(codes) else codes, listed, facts, told, codes, unit, basis)


def _in_full(told: pd.DataFrame) -> pd.DataFrame:
    """What is stated as the mass of another thing under the substance itself: tributyltin as tin is tributyltin."""
    distinct = [str(one) for one in told["substance"].unique() if one]
    facts = describe(distinct)
    stated = dict(zip(distinct, facts["stands_for"], strict=True))
    stated = {name: stated[name] for name, kind in zip(distinct, facts["kind"], strict=True) if kind == "expressed-as"}
    as_stated = told["substance"].where(told["substance"].isin(list(stated)), "")
    notices = [
        notice or (name and f"{name}: the mass was multiplied by {molar_factor(name):.4g} to that of {stated[name]}")
        for notice, name in zip(told["notice"], as_stated, strict=True)
    ]
    return told.assign(stated_as=as_stated, notice=notices, substance=told["substance"].replace(stated))


def _said(name: str) -> tuple[str, str]:
    """Unit and basis that a printed name says, with a sign for per cent at its end (``NAT WC%``)."""
    unit, basis = said_in_name(name)
    return unit or ("%" if name.rstrip().endswith("%") else ""), basis


@dataclass(slots=True)
class Readings:
    """Numbers of the records in the reported unit (the frame of ``combine``), and the flags as shown."""

    frame: pd.DataFrame
    flags: Column
    coelutes: Column
    percent: Bools
    hints: Column
    unexplained: Column


def read_numbers(
    records: Records,
    substances: Substances,
    words: Sequence[SheetWords],
    settings: Settings,
    decimals: Mapping[int, Decimal | None],
    limit_scales: Mapping[str, Floats],
) -> Readings:
    """Values, flags and limits of all records. ``words``: those of each table; ``decimals``: the mark of each file.

    ``limit_scales`` brings the limits of each field to the unit of the value (``measures.limit_scales``).
    """
    keys: dict[tuple[object, ...], int] = {}
    of_table = np.zeros(max(len(words), 1), dtype=np.int64)
    table_file = np.zeros(max(len(words), 1), dtype=np.int64)
    table_file[records.table] = records.file
    legends: list[tuple[Decimal | None, Legend]] = []
    for place, one in enumerate(words):
        mark = decimals.get(int(table_file[place]))
        key = (mark, tuple(sorted((flag, tuple(sorted(says))) for flag, says in one.legend.items())))
        if key not in keys:
            keys[key] = len(legends)
            legends.append((mark, one.legend))
        of_table[place] = keys[key]
    group_of = of_table[records.table]
    category = substances.groups()
    parts, order = [], []
    for place, (mark, legend) in enumerate(legends):
        rows = np.arange(len(records)) if len(legends) == 1 else np.flatnonzero(group_of == place)
        if len(rows):
            parts.append(_numbers_of(records, rows, mark, legend, category, settings, limit_scales))
            order.append(rows)
    if not parts:
        parts = [_numbers_of(records, np.arange(0), None, {}, category, settings, limit_scales)]
        order = [np.arange(0)]
    if len(parts) == 1:
        return parts[0]
    back = np.argsort(np.concatenate(order), kind="stable")
    frame = _under_one_another([part.frame for part in parts]).iloc[back].reset_index(drop=True)
    joined = {
        name: take(join([getattr(part, name) for part in parts]), back)
        for name in ("flags", "coelutes", "hints", "unexplained")
    }
    percent = np.concatenate([part.percent for part in parts])[back]
    return Readings(frame, joined["flags"], joined["coelutes"], percent, joined["hints"], joined["unexplained"])


def _under_one_another(frames: list[pd.DataFrame]) -> pd.DataFrame:
    columns: dict[str, object] = {}
    for name in frames[0].columns:
        parts = [frame[name] for frame in frames]
        if isinstance(parts[0].dtype, pd.CategoricalDtype):
            columns[name] = spread_codes(*stacked([coded(part) for part in parts]))
        else:
            columns[name] = np.concatenate([part.to_numpy() for part in parts])
    return pd.DataFrame(columns)


def decimal_of(records: Records, file: int, settings: Settings, answers: Answers, shown: str) -> Decimal | None:
    """The decimal mark of a file: as answered or set, else what its numbers prove; None where they prove none."""
    said = answers.for_file(shown, "decimal") or settings.decimal
    if said in ("point", "comma"):
        return said  # type: ignore[return-value]
    mine = records.file == file
    texts: list[str] = []
    for name in ("value", "value_text", "mdl", "rl", "limit", "limit_b", "moisture", "solids"):
        column = records.fields.get(name)
        if column is None:
            continue
        present = np.zeros(len(column.texts), dtype=bool)
        present[column.codes[mine]] = True
        texts.extend(column.texts[present & (column.kinds == TEXT)].tolist())
    return decimal_evidence(texts)


def _numbers_of(
    records: Records,
    rows: Ints,
    mark: Decimal | None,
    legend: Legend,
    group: pd.Categorical,
    settings: Settings,
    scales: Mapping[str, Floats],
) -> Readings:
    whole = len(rows) == len(records)
    value = records.get("value") if whole else used(take(records.get("value"), rows))
    text = records.fields.get("value_text")
    if text is not None:
        text = text if whole else used(take(text, rows))
        value = first_cell(text, value)
    parsed = parse_values(value.texts, value.kinds, value.numbers, mark, legend)
    codes = value.codes

    def texts_of(name: str) -> pd.Categorical | None:
        column = records.fields.get(name)
        if column is None:
            return None
        column = column if whole else take(column, rows)
        return categorical(column if _distinct(column) else join([column, empty(0)]))

    flags = pd.Categorical.from_codes(parsed["flags"].cat.codes.to_numpy()[codes], parsed["flags"].cat.categories)
    sign = records.fields.get("sign")
    qualifier = texts_of("qualifier")
    if sign is not None:
        qualifier = _with_sign(sign if whole else take(sign, rows), records, rows, whole)
    marks: Marks = resolve_marks(flags, qualifier, texts_of("validator"), texts_of("detection"), legend)
    mdl, rl = _limits(records, rows, mark, scales)
    percent = parsed["percent"].to_numpy(dtype=bool)[codes]
    frame = combine(parsed, codes, marks, mdl, rl, group[rows] if not whole else group, settings.limits, settings.zeros)

    def shown(name: str) -> Column:
        return column_of(marks.codes, marks.table[name])

    hints = column_of(codes, parsed["hint"])
    return Readings(frame, shown("text"), shown("coelutes_with"), percent, hints, shown("unexplained"))


def _distinct(column: Column) -> bool:
    return len(set(column.texts.tolist())) == len(column.texts)


def _with_sign(sign: Column, records: Records, rows: Ints, whole: bool) -> pd.Categorical:
    """A column of signs (``<``, ``ND``) read together with the laboratory's flags."""
    flags = records.get("qualifier")
    flags = flags if whole else take(flags, rows)
    codes, first = pair_codes(sign, flags)
    texts = [f"{sign.texts[sign.codes[row]]} {flags.texts[flags.codes[row]]}".strip() for row in first]
    places, distinct = pd.factorize(np.array([text or None for text in texts], dtype=object))
    return pd.Categorical.from_codes(np.asarray(places)[codes], pd.Index(distinct, dtype=object))


def column_of(codes: npt.NDArray[np.integer], texts: pd.Series) -> Column:
    """A column from codes and the texts they point to, which may repeat; missing and empty texts are empty."""
    values = texts.astype(object).fillna("").to_numpy(dtype=object)
    places, distinct = pd.factorize(np.concatenate([np.array([""], dtype=object), values]))
    kinds = np.where(distinct == "", 0, TEXT).astype(np.uint8)
    return Column(
        places[1:].astype(np.int32)[codes], np.asarray(distinct, dtype=object), kinds, np.full(len(distinct), np.nan)
    )


def _limits(records: Records, rows: Ints, mark: Decimal | None, scales: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Detection and reporting limit of each record, in the unit of the value."""
    found = {"mdl": np.full(len(rows), np.nan), "rl": np.full(len(rows), np.nan)}

    def numbers(name: str) -> Floats | None:
        column = records.fields.get(name)
        if column is None:
            return None
        column = column if len(rows) == len(records) else used(take(column, rows))
        parsed = parse_values(column.texts, column.kinds, column.numbers, mark)
        good = equals(parsed["code"], "") & (parsed["number"].to_numpy() > 0)
        figures = np.where(good, parsed["number"].to_numpy(), np.nan)[column.codes]
        return figures * scales[name][rows] if name in scales else figures

    for name in ("mdl", "rl"):
        own = numbers(name)
        if own is not None:
            found[name] = own
    for name, kind in (("limit", "limit_kind"), ("limit_b", "limit_kind_b")):
        own = numbers(name)
        if own is None:
            continue
        said = take(records.get(kind), rows)
        kinds = np.array(
            [look_up("limit_kinds", "kind", str(text)) if text else "rl" for text in said.texts], dtype=object
        )
        each = kinds[said.codes]
        for target in ("mdl", "rl"):
            here = (each == target) & np.isnan(found[target])
            found[target] = np.where(here, own, found[target])
    return found["mdl"], found["rl"]
