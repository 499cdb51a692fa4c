"""A corrected report through the command: a conflict, its question, the pasted answer, and a clean run."""

from __future__ import annotations

import json
from pathlib import Path

from harness import run_siltmark, write_csv

HEAD = ["Sample ID", "Lab Sample ID", "Analyte", "Result", "Units"]


def test_the_pasted_answer_of_a_corrected_report_gives_a_clean_run(tmp_path: Path) -> None:
    for name, lead in (("first.csv", 50), ("second.csv", 150)):
        write_csv(
            tmp_path / name,
            [HEAD, ["AB-1", "L-1", "Lead", lead, "mg/kg dry"], ["AB-1", "L-1", "Zinc", 60, "mg/kg dry"]],
        )
    sheets = [tmp_path / "first.csv", tmp_path / "second.csv"]
    options = ["--guidelines", "consensus-2000-fresh"]

    before = run_siltmark("screen", *sheets, *options, "--out", tmp_path / "before", out=tmp_path / "before")
    assert [row["substance"] for row in before.rows("results")] == ["Zinc"]
    assert before.one("findings", substance="Lead")["finding"] == "not-assessed"
    assert {row["became"] for row in before.rows("ledger") if row["reason"].startswith("conflict")} == {"rejected"}

    asked = json.loads(run_siltmark("read", *sheets, "--json").stdout)["questions"]
    (answer,) = [one["answer"] for one in asked if one["code"] == "conflict"]
    settings = tmp_path / "settings.toml"
    settings.write_text(answer, encoding="utf-8")

    arguments = ["screen", *sheets, *options, "--settings", settings, "--out", tmp_path / "after"]
    after = run_siltmark(*arguments, out=tmp_path / "after")
    lead = after.one("results", substance="Lead")
    assert (lead["value"], lead["file"]) == ("150", "second.csv")
    assert after.one("findings", substance="Lead")["finding"] == "above"  # PEC 128 mg/kg (MacDonald et al. 2000)
    assert not [one for one in after.record["warnings"] if one["code"] in ("conflict", "answer-unused")]
    again = json.loads(run_siltmark("read", *sheets, "--settings", settings, "--json").stdout)
    assert not [one for one in again["questions"] if one["code"] == "conflict"]
