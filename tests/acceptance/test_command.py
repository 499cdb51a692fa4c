"""The command as a script meets it: exit status, messages, the output folder, run.json, the ledger."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from harness import LONG, Outcome, filled_cells, run_siltmark, write_csv

Screen = Callable[..., Outcome]
GOOD = [("S1", "Lead", "60", "mg/kg", "dry"), ("S1", "Zinc", "50", "mg/kg", "dry")]
COLUMNS = {
    "results": (
        "result_id, sample, lab_sample, parent, station, core, river_km, depth_top_cm, depth_bottom_cm, "
        "collected, substance, cas, group, reported, qualifier, reported_unit, reported_basis, detected, "
        "kind, value, limit, limit_kind, low, high, unit, oc_value, oc_unit, method, used, why_not, file, "
        "sheet, row, column"
    ),
    "totals": (
        "sample, station, total, name, rule, value, low, high, limit, unit, detected, qualifier, members, "
        "measured, peaks, detects, complete, missing, counted_once, factor, lab_total, lab_difference_pct, "
        "note"
    ),
    "findings": (
        "sample, station, river_km, depth_top_cm, depth_bottom_cm, group, substance, total, set, basis, "
        "value, low, high, unit, detected, qualifier, lower_name, lower_level, upper_name, upper_level, "
        "lower_quotient, upper_quotient, finding, highest_exceeded, settled, evidence, note"
    ),
    "indices": (
        "sample, station, index, substance, value, low, high, unit, class, set_or_source, members, evidence, note"
    ),
    "stations": (
        "station, role, river_km, layer, substance, n, detects, mean, mean_low, mean_high, median, max, "
        "upper95, unit, method, note"
    ),
    "reach": (
        "place, layer, substance, n, detects, mean, mean_low, mean_high, median, max, upper95, unit, method, "
        "note, share_of_area_pct, area_mean, area_mean_low, area_mean_high"
    ),
    "samples": (
        "sample, lab_sample, parent, station, core, zone, role, water, river_km, latitude, longitude, "
        "collected, depth_top_cm, depth_bottom_cm, solids_pct, toc_pct, fines_pct, texture, colour, odour, "
        "inclusions, note"
    ),
    "quality": "check, sample, substance, value, criterion, outcome, note, file, sheet, row",
    "cores": (
        "core, station, substance, n, surface, peak, peak_top_cm, peak_bottom_cm, surface_to_peak, cut_cm, "
        "cut_mean, cut_mean_low, cut_mean_high, cut_covered_pct, left_value, unit, depth_rule, note"
    ),
    "ledger": "file, sheet, row, column, cells, text, became, reason, result_id",
}


def sheet(path: Path, rows: list[tuple[str, ...]] = GOOD) -> Path:
    return write_csv(path, [LONG, *rows])


# -- exit status ----------------------------------------------------------------------------------------------------


def test_screened_is_0(screen_csv: Screen) -> None:
    assert screen_csv(GOOD).status == 0


def test_refused_rows_are_still_0_and_stderr_says_so(screen_csv: Screen) -> None:
    out = screen_csv([*GOOD, ("S1", "Copper", "5", "furlongs", "dry")])
    assert out.status == 0
    assert "furlongs" in out.stderr


def test_an_unreadable_sheet_among_good_ones_is_1_and_the_rest_is_screened(
    tmp_path: Path, screen_files: Screen
) -> None:
    bad = tmp_path / "bad.xlsx"
    bad.write_bytes(b"PK\x03\x04 cut off")
    out = screen_files([sheet(tmp_path / "lab.csv"), bad], "--water", "fresh")
    assert out.status == 1
    assert len(out.rows("results")) == 2
    assert "bad.xlsx" in out.stderr


def test_no_finding_but_not_assessed_is_1(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Lead", "60", "mg/kg", "")])
    assert out.status == 1
    assert out.one("results")["why_not"] == "no-basis"


def test_nothing_read_is_1_and_no_folder(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Lead", "many", "mg/kg", "dry")])
    assert (out.status, out.out.exists()) == (1, False)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.csv", b""),
        ("prose.txt", b"Dear reader,\nthe sheet follows by post.\nRegards\n"),
        ("bytes.xlsx", bytes(range(256)) * 8),
        ("page.xlsx", b"<html><body><table><tr><td>Lead</td></tr></table></body></html>"),
        ("locked.xls", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600),
    ],
)
def test_a_file_that_is_no_sheet_is_1_with_one_plain_message(
    tmp_path: Path, screen_files: Screen, name: str, content: bytes
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    out = screen_files([path])
    assert (out.status, out.out.exists()) == (1, False)
    assert name in out.stderr
    assert "Traceback" not in out.stderr


def test_no_such_sheet_is_2(tmp_path: Path, screen_files: Screen) -> None:
    out = screen_files([tmp_path / "absent.csv"])
    assert out.status == 2
    assert "absent.csv" in out.stderr


def test_no_such_set_is_2(screen_csv: Screen) -> None:
    out = screen_csv(GOOD, "--guidelines", "consensus-2000-fersh")
    assert out.status == 2
    assert "consensus-2000-fresh" in out.stderr


def test_an_unknown_key_is_2_and_names_the_nearest(screen_csv: Screen) -> None:
    out = screen_csv(GOOD, settings='nondetect = "half"\n')
    assert out.status == 2
    assert "nondetects" in out.stderr


def test_an_unknown_key_in_a_table_is_2(screen_csv: Screen) -> None:
    out = screen_csv(GOOD, settings='[reading]\nzeroes = "refuse"\n')
    assert out.status == 2
    assert "zeros" in out.stderr


def test_a_sheet_of_nothing_but_laboratory_totals_is_screened(screen_csv: Screen) -> None:
    """A total without parts is what is compared (contract, section 2, totals), so a finding comes out."""
    out = screen_csv([("S1", "Total PCBs", "100", "ug/kg", "dry")])
    assert (out.status, out.one("findings")["finding"]) == (0, "between")
    assert (out.record["counts"]["results"], out.record["counts"]["lab_total"], out.record["conserved"]) == (0, 1, True)


@pytest.mark.parametrize(
    ("level", "result", "status"),
    [
        ("undetermined", "20", 0),
        ("undetermined", "<40", 3),
        ("undetermined", "40", 3),
        ("between", "<40", 0),
        ("between", "40", 3),
        ("above", "40", 0),
        ("above", "200", 3),
    ],
)
def test_fail_on(screen_csv: Screen, level: str, result: str, status: int) -> None:
    out = screen_csv([("S1", "Lead", result, "mg/kg", "dry")], "--fail-on", level)
    assert out.status == status
    assert out.out.exists()


def test_an_unreadable_sheet_counts_before_fail_on(tmp_path: Path, screen_files: Screen) -> None:
    bad = tmp_path / "bad.xlsx"
    bad.write_bytes(b"PK\x03\x04 cut off")
    good = sheet(tmp_path / "lab.csv", [("S1", "Lead", "600", "mg/kg", "dry")])
    assert screen_files([good, bad], "--water", "fresh", "--fail-on", "above").status == 1


# -- the folder -----------------------------------------------------------------------------------------------------


def test_a_folder_with_other_things_is_refused_and_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "mine"
    out.mkdir()
    (out / "notes.txt").write_text("keep me")
    path = sheet(tmp_path / "lab.csv")
    for extra in ([], ["--overwrite"]):
        result = run_siltmark("screen", path, "--out", out, "--tables-only", *extra)
        assert result.status == 2
    assert [p.name for p in out.iterdir()] == ["notes.txt"]


def test_an_earlier_run_is_replaced_only_when_told(tmp_path: Path) -> None:
    out = tmp_path / "run"
    path = sheet(tmp_path / "lab.csv")
    arguments = ("screen", path, "--out", out, "--tables-only", "--water", "fresh")
    assert run_siltmark(*arguments).status == 0
    assert run_siltmark(*arguments).status == 2
    assert run_siltmark(*arguments, "--overwrite").status == 0
    assert not [p.name for p in tmp_path.iterdir() if "partial" in p.name]


def test_everything_lands_in_the_folder(screen_csv: Screen) -> None:
    out = screen_csv(GOOD, full=True)
    names = {p.name for p in out.out.iterdir()}
    assert {"report.html", "workbook.xlsx", "run.json", "tables"} <= names
    assert (out.out / "tables" / "stations.geojson").exists()


def test_tables_only_writes_no_report(screen_csv: Screen) -> None:
    names = {p.name for p in screen_csv(GOOD).out.iterdir()}
    assert {"run.json", "tables"} <= names
    assert not {"report.html", "workbook.xlsx"} & names


@pytest.mark.parametrize("table", COLUMNS)
def test_columns_and_their_order(screen_csv: Screen, table: str) -> None:
    wanted = COLUMNS[table].split(", ")
    assert list(screen_csv(GOOD).table(table).columns)[: len(wanted)] == wanted


def test_tables_are_plain_csv(screen_csv: Screen) -> None:
    out = screen_csv(GOOD)
    for path in sorted((out.out / "tables").glob("*.csv")):
        content = path.read_bytes()
        assert not content.startswith(b"\xef\xbb\xbf"), path.name
        assert b"\r" not in content, path.name
        assert content.endswith(b"\n"), path.name


def test_numbers_read_back_to_the_same_double(screen_csv: Screen) -> None:
    rows = [("S1", "Lead", "0.1234567890123456", "mg/kg", "wet"), ("S1", "Percent solids", "33.3", "%", "")]
    value = screen_csv(rows).one("results", substance="Lead")["value"]
    assert float(value) == pytest.approx(0.1234567890123456 * 100 / 33.3, rel=1e-15)


@pytest.mark.parametrize("name", ["=1+1", "+S1", "@S1", "-S1", "=cmd|' /C calc'!A0"])
def test_a_name_that_a_spreadsheet_would_run_is_written_as_text(screen_csv: Screen, name: str) -> None:
    out = screen_csv([(name, "Lead", "60", "mg/kg", "dry")])
    assert out.one("results")["sample"] == "'" + name


def test_a_plain_negative_number_gets_no_mark(screen_csv: Screen) -> None:
    out = screen_csv([*GOOD, ("S1", "Copper", "-5", "mg/kg", "dry")])
    assert "-5" in [row["text"] for row in out.rows("ledger", became="rejected")]


def test_markup_in_a_name_is_escaped_in_the_report(screen_csv: Screen) -> None:
    name = "<script>alert(1)</script>"
    out = screen_csv([(name, "Lead", "600", "mg/kg", "dry")], full=True)
    page = (out.out / "report.html").read_text(encoding="utf-8")
    assert name not in page
    assert "&lt;script&gt;" in page


def test_the_report_asks_nothing_of_the_network(screen_csv: Screen) -> None:
    page = (screen_csv(GOOD, full=True).out / "report.html").read_text(encoding="utf-8")
    assert not re.search(r"""(?:src|href)\s*=\s*["']?(?:https?:)?//""", page)
    assert not re.search(r"""url\(\s*["']?(?:https?:)?//""", page)
    assert "@import" not in page


def test_the_report_has_its_sections(screen_csv: Screen) -> None:
    page = (screen_csv(GOOD, full=True).out / "report.html").read_text(encoding="utf-8")
    wanted = "summary findings reach cores totals not-assessed quality method sources cautions record".split()
    assert [name for name in wanted if f'id="{name}"' not in page] == []


def test_the_report_passes_no_verdict(screen_csv: Screen) -> None:
    page = (screen_csv(GOOD, full=True).out / "report.html").read_text(encoding="utf-8")
    text = re.sub(r"<[^>]+>", " ", re.sub(r"(?s)<(style|script)\b.*?</\1>", " ", page)).lower()
    for phrase in ("no action needed", "is safe", "are safe", "is clean", "is toxic", "unregulated"):
        assert phrase not in text, phrase


def test_marks_of_the_matrix_carry_their_finding(screen_csv: Screen) -> None:
    page = (screen_csv(GOOD, full=True).out / "report.html").read_text(encoding="utf-8")
    marks = [tag for tag in re.findall(r"<[^>]*data-finding[^>]*>", page) if 'data-substance="Lead"' in tag]
    assert marks
    for word in ('data-sample="S1"', 'data-set="consensus-2000-fresh"', 'data-finding="between"'):
        assert word in marks[0]


def test_pcbs_at_fifty_mg_per_kg_bring_the_line_on_waste_rules(screen_csv: Screen) -> None:
    """40 CFR 761 speaks of 50 ppm; 50 mg/kg dry is 50 000 ug/kg."""
    out = screen_csv([("S1", "PCB-118", "50000", "ug/kg", "dry")], full=True)
    assert "761" in (out.out / "report.html").read_text(encoding="utf-8")


def test_the_workbook_has_the_tables_as_sheets(screen_csv: Screen) -> None:
    import openpyxl

    out = screen_csv([("=1+1", "Lead", "600", "mg/kg", "dry")], full=True)
    book = openpyxl.load_workbook(out.out / "workbook.xlsx")
    assert {"cover", "results", "totals", "findings", "ledger", "samples", "stations"} <= set(book.sheetnames)
    for page in book:
        heads = [cell.value for cell in page[1]]
        live = {heads[cell.column - 1] for row in page.iter_rows() for cell in row if cell.data_type == "f"}
        assert all(str(head).startswith("check_") for head in live), page.title


# -- run.json and the ledger ----------------------------------------------------------------------------------------
MIXED = [
    ("S1", "Lead", "60", "mg/kg", "dry"),
    ("S1", "Zelmarane", "60", "mg/kg", "dry"),
    ("S1", "Zinc", "50", "", "dry"),
    ("S1", "Copper", "12,3 or so", "mg/kg", "dry"),
    ("S1", "Nickel", "-", "mg/kg", "dry"),
    ("S1", "Cadmium", "-5", "mg/kg", "dry"),
    ("S1", "Silver", "-999", "mg/kg", "dry"),
    ("S2", "Lead", "", "mg/kg", "dry"),
]


def test_every_cell_is_accounted_for(screen_csv: Screen, tmp_path: Path) -> None:
    out = screen_csv(MIXED)
    cells = sum(int(row["cells"] or 0) for row in out.rows("ledger"))
    assert cells == filled_cells(tmp_path / "lab.csv") == out.record["counts"]["cells"]
    assert out.record["conserved"] is True


def test_counts_agree_with_the_tables(screen_csv: Screen) -> None:
    out = screen_csv(MIXED)
    counts = out.record["counts"]
    results = out.rows("results")
    assert counts["results"] == len(results) == len(out.rows("ledger", became="result"))
    assert counts["used"] == len([row for row in results if row["used"] == "true"])
    assert counts["rejected"] == len(out.rows("ledger", became="rejected"))
    assert counts["findings"] == len(out.rows("findings"))
    for name in ("below", "between", "above", "undetermined", "not-assessed"):
        assert counts[name.replace("-", "_")] == len(out.rows("findings", finding=name)), name
    assert counts["unsettled"] == len(out.rows("findings", settled="false"))


def test_each_result_has_one_entry_in_the_ledger(screen_csv: Screen) -> None:
    out = screen_csv(MIXED)
    assert sorted(row["result_id"] for row in out.rows("results")) == sorted(
        row["result_id"] for row in out.rows("ledger", became="result")
    )


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (("S1", "Zelmarane", "60", "mg/kg", "dry"), ["Zelmarane"]),
        (("S1", "Zinc", "50", "", "dry"), ["unit"]),
        (("S1", "Zinc", "50", "mg/L", "dry"), ["mg/L"]),
        (("S1", "Zinc", "about 50", "mg/kg", "dry"), ["about 50"]),
        (("S1", "Zinc", "-50", "mg/kg", "dry"), ["-50"]),
        (("S1", "Zinc", "-999", "mg/kg", "dry"), ["-999"]),
        (("S1", "Zinc", "nan", "mg/kg", "dry"), ["nan"]),
        (("S1", "Zinc", "1e400", "mg/kg", "dry"), ["1e400"]),
        (("S1", "Zinc", "8-11", "mg/kg", "dry"), ["8-11"]),
        (("S1", "Zinc", "~80", "mg/kg", "dry"), ["~80"]),
        (("S1", "Zinc", "2.1%", "mg/kg", "dry"), ["2.1%"]),
        (("S1", "Zinc", "1_000", "mg/kg", "dry"), ["1_000"]),
        (("S1", "Zinc", "#N/A", "mg/kg", "dry"), ["#N/A"]),
    ],
)
def test_a_bad_row_is_refused_with_its_place(screen_csv: Screen, row: tuple[str, ...], words: list[str]) -> None:
    out = screen_csv([("S1", "Lead", "60", "mg/kg", "dry"), row])
    assert out.status == 0
    entry = out.one("ledger", became="rejected")
    assert (entry["row"], entry["reason"] != "") == ("3", True)
    assert "lab.csv" in out.stderr
    for word in words:
        assert word in out.stderr
    assert out.rows("results", substance="Zinc") == []


@pytest.mark.parametrize("text", ["--", "-", "NA", "N/A", "NR", "NS", ""])
def test_not_analysed_is_never_a_nondetect(screen_csv: Screen, text: str) -> None:
    out = screen_csv([("S1", "Lead", "60", "mg/kg", "dry"), ("S1", "Zinc", text, "mg/kg", "dry")])
    assert out.rows("results", substance="Zinc") == []
    assert out.rows("findings", substance="Zinc") == []


def test_cas_against_name_is_refused(screen_csv: Screen) -> None:
    header = ["Sample", "Analyte", "CAS", "Result", "Unit", "Basis"]
    rows = [("S1", "Lead", "7439-92-1", "60", "mg/kg", "dry"), ("S1", "Zinc", "7440-50-8", "50", "mg/kg", "dry")]
    out = screen_csv(rows, header=header)
    assert [row["row"] for row in out.rows("ledger", became="rejected")] == ["3"]
    assert "7440-50-8" in out.stderr


def test_a_thousands_comma_without_proof_is_refused_and_asked(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Lead", "1,234", "mg/kg", "dry"), ("S1", "Zinc", "50", "mg/kg", "dry")])
    assert out.rows("results", substance="Lead") == []
    assert "decimal" in out.stderr


def test_a_point_elsewhere_proves_the_thousands_comma(screen_csv: Screen) -> None:
    out = screen_csv([("S1", "Lead", "1,234", "mg/kg", "dry"), ("S1", "Zinc", "50.5", "mg/kg", "dry")])
    assert float(out.one("results", substance="Lead")["value"]) == 1234.0


def test_a_decimal_comma_file(screen_files: Screen, tmp_path: Path) -> None:
    """Semicolons, decimal commas, cp1252 micro sign and a row without a unit, as in an office of the continent."""
    path = tmp_path / "lab.csv"
    lines = [
        "Sample;Analyte;CAS;Result;Unit;Basis",
        "S1;Lead;7439-92-1;128,5;mg/kg;dry",
        "S1;Pyrene;129-00-0;1.250,0;\u00b5g/kg;dry",
        "S1;Cadmium;7440-43-9;<0,5;mg/kg;dry",
        "S1;Zinc;7440-66-6;200,0;;dry",
    ]
    path.write_bytes("\r\n".join(lines).encode("cp1252"))
    out = screen_files([path], "--water", "fresh")
    assert float(out.one("results", substance="Lead")["value"]) == 128.5
    assert float(out.one("results", substance="Pyrene")["value"]) == 1250.0
    assert float(out.one("results", substance="Cadmium")["limit"]) == 0.5
    assert out.one("findings", substance="Zinc")["finding"] == "not-assessed"


def test_no_recognisable_header(screen_csv: Screen) -> None:
    out = screen_csv([("a", "b", "c", "d", "e")], header=["v", "w", "x", "y", "z"])
    assert (out.status, out.out.exists()) == (1, False)
    assert "lab.csv" in out.stderr


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    path = sheet(tmp_path / "lab.csv")
    folders = [tmp_path / "one", tmp_path / "two"]
    for folder in folders:
        assert run_siltmark("screen", path, "--out", folder, "--water", "fresh").status == 0
    for first in sorted(p for p in folders[0].rglob("*") if p.is_file()):
        second = folders[1] / first.relative_to(folders[0])
        if first.name == "run.json":
            pair = [json.loads(p.read_text()) for p in (first, second)]
            for record in pair:
                record.pop("started")
                record.pop("seconds")
            assert pair[0] == pair[1]
        else:
            assert first.read_bytes() == second.read_bytes(), first.name


def test_run_json_has_its_keys(screen_csv: Screen) -> None:
    record = screen_csv(GOOD).record
    wanted = (
        "schema_version tool_version started seconds inputs settings guideline_sets counts conserved without_results "
        "without_field not_analysed warnings"
    ).split()
    assert [key for key in wanted if key not in record] == []
    assert set(record["inputs"][0]) >= {"path", "sha256", "bytes"}
    assert set(record["guideline_sets"][0]) >= {"id", "sha256"}
    counts = (
        "cells results used qc duplicate superseded rejected lab_total ignored samples stations findings below between "
        "above undetermined not_assessed unsettled"
    ).split()
    assert [key for key in counts if key not in record["counts"]] == []


def test_no_path_of_the_machine_is_in_the_output(screen_csv: Screen, tmp_path: Path) -> None:
    out = screen_csv(GOOD, full=True)
    for path in [out.out / "run.json", out.out / "report.html", *sorted((out.out / "tables").glob("*.csv"))]:
        assert str(tmp_path) not in path.read_text(encoding="utf-8"), path.name


def test_file_is_the_path_below_the_folder_given(tmp_path: Path, screen_files: Screen) -> None:
    folder = tmp_path / "batch" / "inner"
    folder.mkdir(parents=True)
    sheet(folder / "lab.csv")
    out = screen_files([tmp_path / "batch"], "--water", "fresh")
    assert {row["file"] for row in out.rows("results")} == {"inner/lab.csv"}


# -- read, guidelines, template -------------------------------------------------------------------------------------


def test_read_json(tmp_path: Path) -> None:
    result = run_siltmark("read", sheet(tmp_path / "lab.csv"), "--json")
    assert result.status == 0
    found = json.loads(result.stdout)
    assert {"tables", "samples", "substances", "missing", "questions", "counts", "warnings"} <= set(found)
    assert {"file", "sheet", "range", "layout", "why", "fields"} <= set(found["tables"][0])


def test_read_prints_the_setting_that_answers_a_question(tmp_path: Path) -> None:
    path = sheet(tmp_path / "lab.csv", [("S1", "Lead", "1,234", "mg/kg", "dry")])
    found = json.loads(run_siltmark("read", path, "--json").stdout)
    assert {"code", "file", "sheet", "cell", "text", "answer"} <= set(found["questions"][0])
    assert any("decimal" in str(question["answer"]) for question in found["questions"])


def test_guidelines_list_has_the_sets() -> None:
    found = run_siltmark("guidelines", "list", "--json")
    assert found.status == 0
    for name in ("consensus-2000-fresh", "long-1995-marine", "macdonald-1996-marine", "ccme-fresh", "ccme-marine"):
        assert name in found.stdout
    json.loads(found.stdout)


def test_guidelines_show() -> None:
    found = json.loads(run_siltmark("guidelines", "show", "consensus-2000-fresh", "--json").stdout)
    wanted = ("id", "title", "citation", "water", "levels", "lower", "upper", "caveats", "rows")
    assert [key for key in wanted if key not in found] == []
    lead = [row for row in found["rows"] if row["substance"] == "Lead"]
    assert [(row["level"], row["value"], row["unit"], row["basis"]) for row in lead] == [
        ("TEC", 35.8, "mg/kg", "dry"),
        ("PEC", 128, "mg/kg", "dry"),
    ]


def test_guidelines_show_of_no_such_set() -> None:
    assert run_siltmark("guidelines", "show", "nothing-1900-fresh").status in (1, 2)


def test_guidelines_compare() -> None:
    found = run_siltmark("guidelines", "compare", "Lead", "--json")
    assert found.status == 0
    assert "consensus-2000-fresh" in found.stdout
    json.loads(found.stdout)


SET = 'title = "T"\ncitation = "C"\nwater = ["fresh"]\nlevels = ["A", "B"]\nlower = "A"\nupper = "B"\nbasis = "dry"\n'
SET += 'caveats = ["none known"]\n'


@pytest.mark.parametrize(
    ("toml", "table", "word"),
    [
        (SET, "substance,A,B,unit\nLead,1,2,mg/kg\n", None),
        (SET + 'colour = "red"\n', "substance,A,B,unit\nLead,1,2,mg/kg\n", "colour"),
        (SET.replace('citation = "C"\n', ""), "substance,A,B,unit\nLead,1,2,mg/kg\n", "citation"),
        (SET, "substance,A,unit\nLead,1,mg/kg\n", "B"),
        (SET, "substance,A,B,unit\nLead,3,2,mg/kg\n", "line 2"),
        (SET, "substance,A,B,unit\nZelmarane,1,2,mg/kg\n", "Zelmarane"),
        (SET, "substance,A,B,unit\nLead,1,2,stones\n", "stones"),
        (SET, "substance,A,B,unit,basis\nLead,1,2,mg/kg,damp\n", "damp"),
        (SET, "substance,A,B,unit\nLead,1,two,mg/kg\n", "two"),
        (SET, "substance,A,B,unit\nLead,1,2,mg/kg\nLead,1,2,mg/kg\n", "Lead"),
        (SET, "substance,cas,A,B,unit\nLead,7439-92-2,1,2,mg/kg\n", "7439-92-2"),
        (SET, "substance,cas,A,B,unit\nLead,7440-66-6,1,2,mg/kg\n", "7440-66-6"),
        (SET + '[sums]\n"Total PCBs" = ["pcb-all"]\n', "substance,A,B,unit\nTotal PCBs,1,2,ug/kg\n", "pcb-all"),
    ],
)
@pytest.mark.parametrize("suffix", [".toml", ".csv"])
def test_guidelines_check(tmp_path: Path, toml: str, table: str, word: str | None, suffix: str) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(toml, encoding="utf-8")
    path.with_suffix(".csv").write_text(table, encoding="utf-8")
    result = run_siltmark("guidelines", "check", path.with_suffix(suffix))
    assert result.status == (0 if word is None else 1), result.stdout + result.stderr
    if word is not None:
        assert word in result.stdout + result.stderr


@pytest.mark.parametrize("kind", ["lab", "field", "set", "settings"])
def test_a_template_is_written(tmp_path: Path, kind: str) -> None:
    suffix = {"lab": ".csv", "field": ".xlsx", "set": ".toml", "settings": ".toml"}[kind]
    path = tmp_path / f"new{suffix}"
    result = run_siltmark("template", kind, "--out", path)
    assert result.status == 0, result.stderr
    assert path.exists()


def test_the_template_of_the_settings_always_works(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    run_siltmark("template", "settings", "--out", path)
    out = tmp_path / "out"
    result = run_siltmark(
        "screen", sheet(tmp_path / "lab.csv"), "--out", out, "--tables-only", "--water", "fresh", "--settings", path
    )
    assert result.status == 0, result.stderr


def test_the_ledger_is_read_back_by_the_csv_module(screen_csv: Screen) -> None:
    out = screen_csv([('S "1", a', "Lead", "60", "mg/kg", "dry")])
    with (out.out / "tables" / "results.csv").open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    assert rows[0]["sample"] == 'S "1", a'
