"""From sheets to a run without a browser: what was understood, the command line's bytes, comparison, stopping."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import zipfile

import pytest
from harness import ROOT, run_siltmark, write_csv

HEAD = ["Sample", "Station", "Analyte", "Result", "Unit", "Basis"]


def tree(folder):
    """Every file of a folder with its bytes; of run.json all but when it was made and how long that took."""
    found = {one.relative_to(folder).as_posix(): one.read_bytes() for one in folder.rglob("*") if one.is_file()}
    record = json.loads(found.pop("run.json"))
    record.pop("started")
    record.pop("seconds")
    return found, record


def command(batch, out, settings):
    """``siltmark screen`` for the files of a batch, typed in its folder."""
    return subprocess.run(
        [sys.executable, "-m", "screen", "screen", *batch.arguments(), "--settings", settings, "--out", str(out)],
        cwd=batch.folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        encoding="utf-8",
    )


def said(done):
    """What a command said, but for its steps."""
    return [line for line in done.stderr.splitlines() if not line.startswith("…")]


@pytest.fixture
def plain_sheet(tmp_path):
    rows = [HEAD]
    rows += [[f"P-{n}", f"S{n}", "Lead", 50 * n, "mg/kg", "dry"] for n in (1, 2, 3)]
    rows += [[f"P-{n}", f"S{n}", "Zinc", 100 * n, "mg/kg", "dry"] for n in (1, 2, 3)]
    return write_csv(tmp_path / "plain.csv", rows)


def test_what_was_understood_is_what_the_command_says(site, messy, tmp_path):
    batch = site.add("A", **messy)
    text = site.understood("A")
    summary = json.loads(run_siltmark("read", *messy["sheets"], "--field", *messy["field"], "--json").stdout)
    kept = json.loads(next(batch.folder.glob(".understood-*.json")).read_text(encoding="utf-8"))
    for key in ("samples", "substances", "units", "basis", "missing", "counts", "warnings"):
        assert kept[key] == summary[key], key
    assert [one["text"] for one in kept["messages"]] != []
    for one in summary["warnings"]:
        assert one["message"] in [message["text"] for message in kept["messages"]]
    assert text.count('<fieldset class="question"') == len(summary["questions"]) > 3


def test_a_question_shows_the_very_cells_and_nothing_is_chosen(site, messy):
    site.add("A", **messy)
    text = site.understood("A")
    assert "checked" not in text
    assert '<td class="at"><mark>0</mark></td>' in text
    assert "Marrow Wharf" not in text.split('id="questions"')[0]


def test_an_answer_is_written_shown_and_closes_its_question(site, messy):
    batch = site.add("A", **messy)
    site.understood("A")
    kept = json.loads(next(batch.folder.glob(".understood-*.json")).read_text(encoding="utf-8"))
    from screen.page.questions import open_questions

    basis = next(one for one in open_questions(kept, {}) if one.key == "basis")
    form = {f"{basis.id}-choice": "is:wet", f"{basis.id}-because": "letter of 3 May", "by": "AB"}
    assert site.post("/b/A/answers", form).status_code == 303
    assert 'basis = "wet"\nbecause = "letter of 3 May"\nby = "AB"' in batch.settings.read_text(encoding="utf-8")
    text = site.understood("A")
    assert basis.id not in text
    assert "basis: wet weight (as received), because letter of 3 May (AB)" in text
    assert site.post("/b/A/take-back", {"table": "answers", "number": "0"}).status_code == 303
    assert basis.id in site.understood("A")


def test_a_typed_name_that_nobody_knows_is_refused_beside_its_question(site, messy):
    batch = site.add("A", **messy)
    site.understood("A")
    kept = json.loads(next(batch.folder.glob(".understood-*.json")).read_text(encoding="utf-8"))
    from screen.page.questions import open_questions

    name = next(one for one in open_questions(kept, {}) if one.names)
    answer = site.post("/b/A/answers", {f"{name.id}-choice": "typed", f"{name.id}-typed": "Unobtainable"})
    assert answer.status_code == 400
    assert f'id="wrong-{name.id}"' in answer.get_data(as_text=True)
    assert "answers" not in batch.settings.read_text(encoding="utf-8").split("\n", 2)[2]


def test_a_run_and_the_command_line_give_the_same_bytes(site, messy, tmp_path):
    batch = site.add("A", **messy)
    site.post(
        "/b/A/settings", {"text": 'field = ["field/field.csv"]\nwater = "estuarine"\ntitle = "Both"\nbasis = "wet"\n'}
    )
    site.post("/b/A/runs")
    page = site.finished("A")
    assert 'title="The report of run 1"' in page
    run = batch.run(1)
    done = command(batch, tmp_path / "out", "run-1.toml")
    assert done.returncode == 0, done.stderr
    assert tree(run.folder) == tree(tmp_path / "out")
    # the words of the command, but for where it wrote
    assert run.messages() == said(done)


def test_a_water_that_was_chosen_is_not_taken_for_the_field_record(site, plain_sheet):
    site.add("A", sheets=[plain_sheet])
    site.understood("A")
    site.post("/b/A/choices", {"water": "marine"})
    page = site.get("/b/A/choices").get_data(as_text=True)
    assert "Nothing says what the water is for 3 samples" in page
    assert "The field record says" not in page
    assert "By the water of each station: marine: long-1995-marine" in page


def test_a_run_keeps_the_settings_it_was_made_with(site, plain_sheet):
    batch = site.add("A", sheets=[plain_sheet])
    site.post("/b/A/choices", {"water": "fresh", "title": "First"})
    site.post("/b/A/runs")
    site.finished("A")
    site.post("/b/A/choices", {"water": "fresh", "title": "Second"})
    site.post("/b/A/runs")
    site.finished("A", 2)
    titles = [one.record()["settings"]["title"] for one in batch.runs()]
    assert titles == ["Second", "First"]
    assert b'title = "First"' in site.get("/b/A/runs/1/get/settings").data


def test_downloads_are_the_files_of_the_run(site, plain_sheet):
    batch = site.add("A", sheets=[plain_sheet])
    site.post("/b/A/choices", {"water": "fresh", "memo": "yes"})
    site.post("/b/A/runs")
    site.finished("A")
    folder = batch.run(1).folder
    files = {
        "report": "report.html",
        "workbook": "workbook.xlsx",
        "memo": "memo.docx",
        "memo-text": "memo.md",
        "record": "run.json",
    }
    for key, name in files.items():
        answer = site.get(f"/b/A/runs/1/get/{key}")
        assert answer.data == (folder / name).read_bytes()
        assert answer.headers["Content-Disposition"].startswith("attachment")
    with zipfile.ZipFile(io.BytesIO(site.get("/b/A/runs/1/get/tables").data)) as made:
        assert {name: made.read(name) for name in made.namelist()} == {
            one.name: one.read_bytes() for one in (folder / "tables").iterdir()
        }
    with zipfile.ZipFile(io.BytesIO(site.get("/b/A/runs/1/get/all").data)) as made:
        assert "report.html" in made.namelist()


def test_the_report_is_served_in_a_sandbox(site, plain_sheet):
    site.add("A", sheets=[plain_sheet])
    site.post("/b/A/choices", {"water": "fresh"})
    site.post("/b/A/runs")
    site.finished("A")
    answer = site.get("/b/A/runs/1/report")
    policy = answer.headers["Content-Security-Policy"]
    assert "sandbox allow-scripts" in policy
    assert "default-src 'none'" in policy
    assert "img-src data:;" in policy  # the marks of the tables; nothing from elsewhere
    assert "unsafe" not in policy
    assert answer.headers["X-Frame-Options"] == "SAMEORIGIN"


def test_two_runs_of_the_same_stations_are_compared(site, plain_sheet, tmp_path):
    site.add("Then", sheets=[plain_sheet])
    site.post("/b/Then/choices", {"water": "fresh"})
    site.post("/b/Then/runs")
    site.finished("Then")
    later = write_csv(tmp_path / "later.csv", [HEAD, ["Q-1", "S1", "Lead", 200, "mg/kg", "dry"]])
    now = site.add("Now", sheets=[later])
    site.post("/b/Now/choices", {"water": "fresh"})
    site.post("/b/Now/runs")
    assert "Then, run 1 (1 station in common)" in site.finished("Now")
    site.understood("Now")
    assert "Then, run 1 (1 station in common)" in site.get("/b/Now/choices").get_data(as_text=True)
    assert site.post("/b/Now/runs/1/compare", {"earlier": "Then/1"}).status_code == 303
    assert "compared with run-1" in site.finished("Now", 2)
    change = (now.run(2).folder / "tables" / "change.csv").read_text(encoding="utf-8").splitlines()
    row = dict(zip(change[0].split(","), next(line for line in change if ",Lead," in line).split(","), strict=True))
    assert (row["station"], float(row["earlier"]), float(row["now"]), float(row["ratio"])) == ("S1", 50, 200, 4)
    assert 'earlier = "../Then/run-1"' in now.run(2).settings.read_text(encoding="utf-8")


def test_a_run_of_nothing_says_why_in_the_words_of_the_command(site, tmp_path):
    path = write_csv(
        tmp_path / "lab.csv", [["Sample", "Analyte", "Result", "Unit", "Basis"], ["A", "Zelmarane", 1, "mg/kg", "dry"]]
    )
    batch = site.add("A", sheets=[path])
    site.post("/b/A/runs")
    page = site.finished("A")
    assert "Run 1 has no report" in page
    assert "no result could be read, so nothing was written." in page
    assert batch.run(1).messages() == said(command(batch, tmp_path / "out", "run-1.toml"))


def test_a_file_that_is_no_sheet_is_named(site, tmp_path):
    (tmp_path / "letter.pdf").write_bytes(b"%PDF-1.7 nothing")
    site.add("A", sheets=[tmp_path / "letter.pdf"])
    assert "letter.pdf: it is a document, not a sheet." in site.understood("A")


def test_a_name_that_is_taken_is_refused(site, plain_sheet):
    batch = site.add("A", sheets=[plain_sheet])
    answer = site.post("/b/A/sheets", {"field": [(io.BytesIO(b"other"), "PLAIN.csv")]})
    assert answer.status_code == 400
    assert "PLAIN.csv is there already" in answer.get_data(as_text=True)
    assert batch.files("sheets")[0].read_bytes() == plain_sheet.read_bytes()
    assert site.post("/new", {"name": "a"}).status_code == 400


def test_a_field_record_stands_in_the_settings_while_it_is_there(site, messy):
    batch = site.add("A", **messy)
    assert 'field = ["field/field.csv"]' in batch.settings.read_text(encoding="utf-8")
    assert site.post("/b/A/remove", {"kind": "field", "file": "field.csv"}).status_code == 303
    assert "field =" not in batch.settings.read_text(encoding="utf-8")


def test_a_set_of_ones_own_is_checked_by_line_and_can_be_chosen(site, tmp_path, plain_sheet):
    run_siltmark("template", "set", "--out", tmp_path / "mine.toml")
    batch = site.add("A", sheets=[plain_sheet])
    with (tmp_path / "mine.toml").open("rb") as one, (tmp_path / "mine.csv").open("rb") as other:
        sent = site.post("/b/A/own-set", {"set": [(one, "mine.toml"), (other, "mine.csv")]})
    assert sent.status_code == 303, sent.get_data(as_text=True)
    site.understood("A")
    assert 'value="sets/mine.toml"' in site.get("/b/A/choices").get_data(as_text=True)
    site.post("/b/A/choices", {"sets": "named", "guidelines": "sets/mine.toml"})
    site.post("/b/A/runs")
    assert "against mine" in site.finished("A")
    (batch.folder / "sets" / "mine.csv").write_text("substance,low,unit\nUnobtainable,1,mg/kg\n")
    answer = site.post("/b/A/own-set", {})
    assert answer.status_code == 400
    assert "mine.csv, line 2: " in answer.get_data(as_text=True)


def test_a_run_that_is_stopped_leaves_nothing(site, tmp_path):
    rows = [f"P-{n},S{n},Lead,{n % 300},mg/kg,dry" for n in range(60_000)]
    path = tmp_path / "large.csv"
    path.write_text("\n".join([",".join(HEAD), *rows]), encoding="utf-8")
    batch = site.add("A", sheets=[path])
    site.post("/b/A/runs")
    assert site.post("/b/A/runs/1/stop").status_code == 303
    page = site.finished("A")
    assert "nothing of it was kept" in page
    assert sorted(one.name for one in batch.folder.iterdir() if "run-1" in one.name) == ["run-1.log", "run-1.toml"]


def test_a_program_among_the_sheets_is_never_imported(site, tmp_path, plain_sheet):
    mark = tmp_path / "ran"
    for name in ("pandas.py", "json.py", "sitecustomize.py"):
        (tmp_path / name).write_text(f"open({str(mark)!r}, 'w')")
    site.add("A", sheets=[plain_sheet, *(tmp_path / name for name in ("pandas.py", "json.py", "sitecustomize.py"))])
    site.understood("A")
    assert not mark.exists()
