"""The custody record: samples, containers, hand-over, order; and the two commands as a user meets them."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from screen.cli.main import main
from screen.fieldwork.custody import custody_page
from screen.fieldwork.shipment import Packed
from screen.reference.holding_times import analyses_asked
from screen.reference.locate import demo_root
from screen.reference.sets import load_set

FIELD = str(demo_root() / "field_record.xlsx")


def packed(sample: str, asked: str, core: str = "") -> Packed:
    jars = ("glass jar", "bag")
    return Packed(sample, "K-1", core, "0 to 10 cm", "2026-05-12", "", jars, "cooled", "K-0", "fresh",
                  tuple(analyses_asked(asked)))  # fmt: skip


def page(*samples: Packed) -> str:
    return custody_page(samples, [load_set("consensus-2000-fresh")], "A4", title="Survey <7>")


def test_every_sample_has_its_line() -> None:
    text = page(packed("K-1", "metals"), packed("K-2", "metals"))
    assert re.findall(r'<tr data-sample="([^"]+)">', text) == ["K-1", "K-2"]


def test_containers_are_counted() -> None:
    assert "4 containers listed" in page(packed("K-1", "metals"), packed("K-2", "metals"))


def test_an_analysis_without_a_holding_time_on_file_is_said() -> None:
    assert "No container or holding time on file" in page(packed("K-1", "lipids"))


def test_many_analyses_are_listed_in_one_column() -> None:
    many = "; ".join(f"thing {number}" for number in range(12))
    assert "<th>Analyses</th>" in page(packed("K-1", many))


def test_a_duplicate_stays_blind() -> None:
    assert "K-0" not in page(packed("K-1", "metals"))


def test_cautions_for_cores_only_with_cores() -> None:
    assert "Cap and tape cores" not in page(packed("K-1", "metals"))
    assert "Cap and tape cores" in page(packed("K-1", "metals", core="K-1-C"))


def test_nothing_is_called_safe() -> None:
    assert not re.search(r"\b(safe|clean|toxic)\b", re.sub(r"<style>.*?</style>", "", page(packed("K-1", "PCBs"))))


@pytest.mark.parametrize("command", ["labels", "custody"])
def test_a_page_is_written_and_needs_nothing_from_outside(command: str, tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    done = CliRunner().invoke(main, [command, FIELD, "--out", str(out), "--sheet", "Letter"])
    assert done.exit_code == 0, done.output
    assert not re.search(r"(?:src|href)=|url\(|@import", out.read_text(encoding="utf-8"))


@pytest.mark.parametrize("command", ["labels", "custody"])
def test_the_same_record_gives_the_same_bytes(command: str, tmp_path: Path) -> None:
    made = []
    for name in ("one.html", "two.html"):
        CliRunner().invoke(main, [command, FIELD, "--out", str(tmp_path / name)])
        made.append((tmp_path / name).read_bytes())
    assert made[0] == made[1]


def test_another_suffix_is_a_usage_error(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["labels", FIELD, "--out", str(tmp_path / "labels.docx")])
    assert done.exit_code == 2


def test_a_file_that_is_there_is_kept(tmp_path: Path) -> None:
    out = tmp_path / "labels.html"
    out.write_text("mine", encoding="utf-8")
    assert CliRunner().invoke(main, ["labels", FIELD, "--out", str(out)]).exit_code == 2
    assert out.read_text(encoding="utf-8") == "mine"


def test_a_record_without_samples_is_said(tmp_path: Path) -> None:
    field = tmp_path / "field.csv"
    field.write_text("station,river_km,water\nK-1,2.5 km,fresh\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["custody", str(field), "--out", str(tmp_path / "page.html")])
    assert done.exit_code == 1
    assert "lists no samples" in done.output


def test_without_a_browser_the_html_way_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("screen.printing.shutil.which", lambda name: None)
    done = CliRunner().invoke(main, ["labels", FIELD, "--out", str(tmp_path / "labels.pdf")])
    assert done.exit_code == 1
    assert ".html" in done.output
    assert not (tmp_path / "labels.pdf").exists()
