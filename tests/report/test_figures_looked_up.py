"""Every figure of the memo and of the report is looked up in the tables of the run (the demo)."""

from __future__ import annotations

import math
import re

import pandas as pd
import pytest

from screen.stages.report.facts import Facts
from screen.stages.report.memo.memo import Grid, Items, Text, memo
from screen.stages.report.memo.memo_files import document, markdown
from screen.stages.report.numbers import depths, figure
from screen.stages.report.tables import frames
from screen.stages.report.text import number_texts

_NUMBER = r"[\d,]+(?:\.\d+)?"


@pytest.fixture(scope="module")
def tables(demo_run):
    return frames(demo_run)


@pytest.fixture(scope="module")
def findings(tables):
    text = tables["findings"].astype(dict.fromkeys(("sample", "station", "substance", "set", "finding"), object))
    return text.assign(unsettled=text["settled"].eq(False).fillna(False).astype(bool))


@pytest.fixture(scope="module")
def parts(demo_run):
    return memo(Facts(demo_run))


@pytest.fixture(scope="module")
def html(demo_run, tmp_path_factory):
    from screen.pipeline import report

    path = tmp_path_factory.mktemp("figures") / "report.html"
    report(demo_run, path)
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def known(demo_run, tables):
    """The full text of every number in the tables, and of every level of the sets in use."""
    columns = [frame[name] for frame in tables.values() for name in frame.columns]
    columns += [one.rows["value"] for one in demo_run.sets]
    numbers = [pd.to_numeric(one, errors="coerce") for one in columns if pd.api.types.is_numeric_dtype(one.dtype)]
    values = pd.concat([one.astype("float64") for one in numbers]).dropna().unique()
    return set(number_texts(values))


def plain(text):
    return float(text.replace(",", ""))


def to_digits(shown, value):
    """Whether ``shown`` is ``value`` rounded to the digits that it has, three at least."""
    digits = len(re.sub(r"^0*\.?0*|[,.]", "", shown))
    return math.isclose(plain(shown), value, rel_tol=0.51 * 10 ** (1 - max(digits, 1))) or shown == figure(value)


def sentences(parts):
    return [(one.lead, one.text) for one in parts if isinstance(one, Text)]


def test_counts_of_each_set(parts, findings):
    leads = {"ERL and ERM": "long-1995-marine", "TEC and PEC": "consensus-2000-fresh"}
    told = {lead: text for lead, text in sentences(parts) if lead in leads}
    assert set(told) == set(leads)
    for lead, text in told.items():
        of_set = findings[findings["set"] == leads[lead]]
        number = of_set["finding"].value_counts()
        lower, upper = lead.split(" and ")
        assert f"Of {len(of_set)} findings, {number['above']} are above the {upper}" in text
        assert f"{number['between']} between {lower} and {upper} and {number['below']} below" in text
        assert f"{number['undetermined']} cannot be judged" in text
        assert re.search(rf"\b{number['not-assessed']} (is|are) not assessed", text)
        hanging = (of_set["unsettled"] & (of_set["finding"] != "undetermined")).sum()
        assert f"{hanging or 'none'} of the others" in text


def test_each_driver(parts, findings):
    said = re.compile(
        rf"([^.;]+?) (?:is|are) above the (ER[LM]|[TP]EC) at (\d+) of (\d+) stations?, highest at ([^(]+?) "
        rf"\(({_NUMBER}) (\S+), ({_NUMBER}) times the \2"
    )
    sets = {"ERM": "long-1995-marine", "PEC": "consensus-2000-fresh"}
    met = [one.groups() for _, text in sentences(parts) for one in said.finditer(text.replace("; ", ". "))]
    assert len(met) >= 8
    for substance, level, some, all_, place, value, unit, quotient in met:
        rows = findings[(findings["set"] == sets[level]) & (findings["substance"] == substance.strip())]
        above = rows[rows["finding"] == "above"]
        assert int(some) == above["station"].nunique()
        assert int(all_) == rows[rows["finding"] != "not-assessed"]["station"].nunique()
        top = above.loc[above["upper_quotient"].idxmax()]
        assert place.split(",")[0] == top["station"]
        if "," in place:
            assert depths(top["depth_top_cm"], top["depth_bottom_cm"]) in place
        assert unit.rstrip(",") == str(top["unit"])
        assert to_digits(value, top["value"])
        assert to_digits(quotient, top["upper_quotient"])


def test_table_by_substance(parts, findings):
    grids = [one for one in parts if isinstance(one, Grid) and one.caption.startswith("Findings by substance")]
    assert len(grids) == 2
    for grid in grids:
        set_id = re.search(r"\((\S+)\)$", grid.caption).group(1)
        of_set = findings[findings["set"] == set_id]
        assert len(grid.rows) == of_set["substance"].nunique()
        for substance, unit, lower, upper, *counts, highest in grid.rows:
            rows = of_set[of_set["substance"] == substance]
            assert unit == str(rows["unit"].iloc[0])
            for shown, column in ((lower, "lower_level"), (upper, "upper_level")):
                assert (plain(shown) if shown else None) == (
                    rows[column].dropna().iloc[0] if rows[column].notna().any() else None
                )
            kinds = ("above", "between", "undetermined", "below", "not-assessed")
            assert [int(one) for one in counts] == [int((rows["finding"] == kind).sum()) for kind in kinds]
            if highest:
                value, sample = re.fullmatch(rf"({_NUMBER}) \((.+)\)", highest).groups()
                top = rows.loc[rows["value"].idxmax()]
                assert to_digits(value, top["value"])
                assert sample in set(rows.loc[rows["value"] == top["value"], "sample"])


def test_tables_of_single_findings(parts, findings, tables):
    grids = [one for one in parts if isinstance(one, Grid) and one.heads[0] == "Sample"]
    assert grids
    single = findings.set_index(["sample", "substance", "set"]).sort_index()
    limits = pd.concat([tables["totals"]["limit"], tables["results"]["limit"]]).dropna().unique()
    for row in (row for grid in grids for row in grid.rows):
        sample, _, substance, value, _, set_id, lower, upper, quotient, _ = row
        found = single.loc[[(sample, substance, set_id)]]
        number = re.search(_NUMBER, value)
        if value.startswith("<"):
            assert any(to_digits(number[0], limit) for limit in limits)
        elif number:
            assert any(to_digits(number[0], one) for one in found["value"])
        for shown, column in ((lower, "lower_level"), (upper, "upper_level")):
            if shown:
                assert plain(shown.split(" ")[1]) in set(found[column])
        if quotient:
            assert any(to_digits(quotient, one) for one in found["upper_quotient"])


def test_every_limit_asked_for_is_a_level(parts, findings):
    steps = next(one for one in parts if isinstance(one, Items) and one.numbered).texts
    asked = re.findall(rf"([^:;.]+) at [^:]+: ({_NUMBER}) ug/kg or less", next(s for s in steps if "limits" in s))
    assert asked
    for substance, limit in asked:
        rows = findings[(findings["substance"] == substance.strip()) & (findings["finding"] == "undetermined")]
        assert plain(limit) in set(rows["lower_level"])


def test_full_figures_behind_the_rounded_ones_of_the_page(html, known):
    shown = re.findall(r'<data value="([^"]+)">([^<]+)</data>', html)
    assert len(shown) > 500
    for full, text in shown:
        assert full in known
        assert to_digits(text.removeprefix("&lt; "), float(full))


def test_quotients_of_the_matrix(html, findings):
    marks = re.findall(
        r'<td class="mark(?: plain)?" data-sample="([^"]*)" data-substance="([^"]*)" data-set="([^"]*)"[^>]*>'
        r"(?:(?!</td>).)*?(?:<b>([^<]+)</b>|<i>)",
        html.replace("&#39;", "'"),
    )
    assert len(marks) == len(findings)
    by_key = findings.set_index(["sample", "substance", "set"]).sort_index()
    for sample, substance, set_id, quotient in marks:
        row = by_key.loc[[(sample, substance, set_id)]]
        expected = row["lower_quotient"].fillna(row["upper_quotient"])
        if quotient:
            assert any(to_digits(quotient, one) for one in expected.dropna())
        else:
            assert expected.isna().any()


def test_scope_is_said(parts, html):
    text = markdown(parts)
    for place in (text, html):
        assert "do not answer upland placement, disposal, leaching" in place


def test_memo_has_methods_results_and_limits(parts):
    heads = re.findall(r"^## (.*)$", markdown(parts), re.M)
    assert heads[:4] == ["What was found", "Methods", "Results", "What this does not say"]


def test_document_says_the_same_and_has_the_same_bytes(parts):
    docx = pytest.importorskip("docx")
    import io

    made = document(parts)
    assert document(parts) == made
    read = docx.Document(io.BytesIO(made))
    words = [one.text for one in read.paragraphs]
    for one in parts:
        if isinstance(one, Text):
            assert (f"{one.lead}. {one.text}" if one.lead else one.text) in words
    grids = [one for one in parts if isinstance(one, Grid)]
    assert [[cell.text for cell in table.rows[1].cells] for table in read.tables] == [
        list(one.rows[0]) for one in grids
    ]


def test_text_from_outside_is_no_markup():
    said = markdown([Text("# no *head* <b>x</b> | [a](b) `c` _d_"), Grid("x", ("a|b",), (("c|d\ne",),))])
    assert said.startswith("\\# no \\*head\\* \\<b\\>x\\</b\\> \\| \\[a\\](b) \\`c\\` \\_d\\_")
    assert "| c\\|d e |" in said
