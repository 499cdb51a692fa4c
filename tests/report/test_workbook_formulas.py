"""The live formulas of the workbook: a spreadsheet program works them out anew and gets our figures."""

from __future__ import annotations

import math
import re
import shutil
import subprocess
import zipfile

import openpyxl
import pandas as pd
import pytest
from harness import run_siltmark

from screen.stages.report.workbook.workbook import write_workbook

_SOFFICE = shutil.which("soffice") or shutil.which("libreoffice")


@pytest.fixture(scope="module")
def written(demo_run, tmp_path_factory):
    path = tmp_path_factory.mktemp("formulas") / "workbook.xlsx"
    write_workbook(demo_run, path)
    return path


def columns(path, sheet, *, data_only):
    rows = openpyxl.load_workbook(path, data_only=data_only)[sheet].iter_rows(values_only=True)
    heads = next(rows)
    return pd.DataFrame(rows, columns=heads, dtype=object)


def same(one, other):
    if isinstance(one, (int, float)) and not isinstance(one, bool):
        return isinstance(other, (int, float)) and math.isclose(one, other, rel_tol=1e-12)
    return one == other


def test_quotients_with_a_value_have_a_formula(written):
    frame, live = columns(written, "findings", data_only=True), columns(written, "findings", data_only=False)
    expected = frame["value"].notna() & frame["lower_level"].notna()
    assert live["check_lower_quotient"].str.startswith("=", na=False).tolist() == expected.tolist()


def test_stored_quotients_are_those_of_the_table(written):
    frame = columns(written, "findings", data_only=True).dropna(subset=["check_upper_quotient"])
    assert frame["check_upper_quotient"].tolist() == pytest.approx(frame["upper_quotient"].tolist(), rel=1e-15)


@pytest.mark.parametrize("sheet", ["findings", "totals"])
def test_all_agree(written, sheet):
    agrees = columns(written, sheet, data_only=True)["check_agrees"].dropna()
    assert len(agrees) > 200
    assert agrees.all()


def test_sums_are_those_of_the_table(written):
    frame = columns(written, "totals", data_only=True).dropna(subset=["check_value"])
    assert frame["check_value"].tolist() == pytest.approx(frame["value"].tolist(), rel=1e-12)
    high = frame.dropna(subset=["check_high"])
    assert high["check_high"].tolist() == pytest.approx(high["high"].tolist(), rel=1e-12)


def test_formulas_hold_cells_and_numbers_only(written):
    for sheet in ("findings", "totals"):
        frame = columns(written, sheet, data_only=False)
        for name in frame.columns:
            texts = frame[name][frame[name].astype(str).str.startswith("=")]
            assert name.startswith("check_") or texts.empty
            words = {word for text in texts for word in re.findall(r"[A-Za-z]{4,}|\"[^\"]*\"", text)}
            known = {
                "results",
                "SQRT",
                "MAX",
                "AND",
                "OR",
                '"above"',
                '"between"',
                '"not above"',
                '"below"',
                '"undetermined"',
            }
            assert words <= known | {"above", "between", "below", "undetermined"}


def sums(tmp_path, *options):
    """The totals of a small batch of PCBs through the whole job: one detect, none, all, two."""
    lines = ["Sample,Analyte,Result,Qualifier,RL,Unit,Basis"]
    for sample, texts in {
        "A": ("40", "U", "U"),
        "B": ("U", "U", "U"),
        "C": ("9", "7", "11"),
        "D": ("8", "12", "U"),
    }.items():
        for name, text in zip(("Aroclor 1242", "Aroclor 1254", "Aroclor 1260"), texts, strict=True):
            result, flag = ("33", "U") if text == "U" else (text, "")
            lines.append(f"{sample},{name},{result},{flag},33,ug/kg,dry")
    (tmp_path / "lab.csv").write_text("\n".join(lines), encoding="utf-8")
    out = tmp_path / "out"
    run = run_siltmark("screen", tmp_path / "lab.csv", "--water", "fresh", *options, "--out", out, out=out)
    assert run.status == 0, run.stderr[:2000]
    return out / "workbook.xlsx"


@pytest.mark.parametrize("rule", ["zero", "half", "root2", "full", "km"])
def test_every_sum_is_worked_out_anew_by_every_rule(tmp_path, rule):
    frame = columns(sums(tmp_path, "--nondetects", rule), "totals", data_only=True).set_index("sample")
    frame = frame[frame["total"] == "pcb-aroclors"]
    assert frame["check_agrees"].all()
    assert frame["check_high"].tolist() == pytest.approx(frame["high"].tolist(), rel=1e-12)
    assert frame["check_limit"].notna().tolist() == frame["limit"].notna().tolist()
    if rule == "zero":
        assert frame["check_limit"]["B"] == 33.0
        assert frame["check_value"].dropna().tolist() == [40.0, 27.0, 20.0]
    if rule == "km":
        assert frame["check_value"].isna().all() == (frame["rule"] == "km").all()


def test_the_cover_says_what_is_not_worked_out_anew(tmp_path):
    path = sums(tmp_path)
    said = " ".join(
        str(cell) for row in openpyxl.load_workbook(path)["cover"].iter_rows(values_only=True) for cell in row
    )
    assert "Not worked out anew: sums by Kaplan-Meier" in said
    assert "Every other sum that is compared has its formulas." in said


def test_a_run_of_too_many_sums_has_none_and_says_so(run, tmp_path, monkeypatch):
    from screen.stages.report.workbook import formulas

    monkeypatch.setattr(formulas, "MOST_SUMS", 3)
    write_workbook(run, tmp_path / "many.xlsx")
    assert columns(tmp_path / "many.xlsx", "totals", data_only=True)["check_value"].isna().all()
    cover = openpyxl.load_workbook(tmp_path / "many.xlsx")["cover"].iter_rows(values_only=True)
    assert "none of its sums has one" in " ".join(str(cell) for row in cover for cell in row)


def test_a_value_at_the_level_does_not_exceed_it_in_the_sheet_either(run, tmp_path):
    """35.88 over 0.6 gives 59.800000000000004, which is the level of 59.8 and not above it (contract, section 2)."""
    findings = run.findings.copy()
    findings["value"], findings["lower_level"], findings["upper_level"] = 35.88 / 0.6, 59.8, 676.0
    findings["finding"] = pd.Categorical(["below"] * len(findings))
    write_workbook(run.__class__(**{**_fields(run), "findings": findings}), tmp_path / "tie.xlsx")
    assert set(columns(tmp_path / "tie.xlsx", "findings", data_only=True)["check_finding"]) == {"not above"}


def _fields(run):
    return {name: getattr(run, name) for name in run.__slots__}


@pytest.mark.slow
@pytest.mark.skipif(not _SOFFICE, reason="no LibreOffice (soffice) on this machine")
def test_a_spreadsheet_program_gets_the_same(written, tmp_path):
    blank = tmp_path / "blank.xlsx"
    with zipfile.ZipFile(written) as source, zipfile.ZipFile(blank, "w", zipfile.ZIP_DEFLATED) as target:
        for part in source.infolist():
            text = source.read(part)
            if part.filename.startswith("xl/worksheets/"):
                text = re.sub(rb"</f><v>[^<]*</v>", b"</f>", text)  # no stored value: it has to be worked out
            target.writestr(part, text)
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    command = [_SOFFICE, profile, "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir"]
    subprocess.run([*command, str(tmp_path / "out"), str(blank)], check=True, capture_output=True, timeout=300)
    for sheet in ("findings", "totals"):
        ours, theirs = (columns(path, sheet, data_only=True) for path in (written, tmp_path / "out" / "blank.xlsx"))
        for name in [one for one in ours.columns if one.startswith("check_")]:
            pairs = [(a, b) for a, b in zip(ours[name], theirs[name], strict=True) if a is not None]
            assert len(pairs) > (0 if name == "check_limit" else 200)
            assert all(same(a, b) for a, b in pairs), (sheet, name)
