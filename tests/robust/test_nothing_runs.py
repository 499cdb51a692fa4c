"""Text from outside that a program might take for an order: in no output is it more than text."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import openpyxl
import pytest
from harness import Outcome, run_siltmark

ORDERS = [
    "=1+1",
    "=cmd|' /C calc'!A0",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "+2+cmd|' /C calc'!A0",
    "-2+3+cmd|' /C calc'!A0",
    "\t=1+1",
    '=HYPERLINK("https://example.invalid","here")',
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "javascript:alert(1)",
    "{{7*7}}{% raw %}",
    "a\x1b[31mred\x1b]0;title\x07",
    "b\x9b31mred",
    "\u202egnp.exe",
    "../../etc/passwd",
    "&lt;b&gt; &amp;",
    "<w:t>",
    "]]>",
    "$(touch evil) `touch evil`",
]
HEAD = ["Sample", "Analyte", "Result", "Qualifier", "Unit", "Station", "Method", "Remarks"]


def rows() -> list[list[str]]:
    lead = [[order, "Lead", "500", order, "mg/kg dry", order, order, order] for order in ORDERS]
    odd = [["QE-1", order, "5", "", "mg/kg dry", "ST-1", "", ""] for order in ORDERS]
    units = [["QE-1", "Zinc", "5", "", order, "ST-1", "", ""] for order in ORDERS]
    values = [["QE-2", "Zinc", order, "", "mg/kg dry", "ST-1", "", ""] for order in ORDERS]
    return [*lead, *odd, *units, *values, ["QE-1", "Copper", "500", "", "mg/kg dry", "ST-1", "", ""]]


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    """One whole run over a batch and a field record full of orders."""
    folder = tmp_path_factory.mktemp("orders")
    for name, table in (
        ("lab.csv", [HEAD, *rows()]),
        (
            "field.csv",
            [["station", "latitude", "longitude", "zone", "remarks"]]
            + [[one, "51.5", f"0.{i + 1}", one, one] for i, one in enumerate(ORDERS)],
        ),
    ):
        with (folder / name).open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(table)
    out = folder / "out"
    asked = ["screen", folder / "lab.csv", "--field", folder / "field.csv", "--out", out, "--water", "fresh", "--memo"]
    found = run_siltmark(*asked, "--title", ORDERS[7], "--prepared-by", ORDERS[0], out=out)
    assert found.status in (0, 1), found.stderr
    assert len(found.results) >= len(ORDERS)
    return found


def is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_no_cell_of_a_csv_begins_like_a_formula(run: Outcome) -> None:
    for path in sorted((run.out / "tables").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.reader(stream):
                bad = [cell for cell in row if cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not is_number(cell)]
                assert not bad, f"{path.name}: {bad}"


def test_no_formula_of_the_workbook_is_from_outside(run: Outcome) -> None:
    book = openpyxl.load_workbook(run.out / "workbook.xlsx")
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                text = str(cell.value or "")
                if cell.data_type == "f":
                    assert not any(word in text for word in ("cmd", "HYPERLINK", "example", "1+1", "calc")), text
                else:
                    assert text[:1] not in ("=", "+", "@", "\t"), f"{sheet.title} {cell.coordinate}: {text}"
                assert cell.hyperlink is None or "example.invalid" not in str(cell.hyperlink.target)


def test_the_workbook_links_to_nothing_outside(run: Outcome) -> None:
    with zipfile.ZipFile(run.out / "workbook.xlsx") as package:
        assert not any("externalLink" in name or "vba" in name for name in package.namelist())
        assert not any(b'TargetMode="External"' in package.read(name) for name in package.namelist())


class _Tags(HTMLParser):
    """Collects what a browser would act on."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.scripts: list[str] = []
        self.handlers: list[str] = []
        self.images: list[str] = []
        self._inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._inside = tag == "script"
        self.handlers += [name for name, _ in attrs if name.startswith("on")]
        for name, value in attrs:
            if name in ("src", "href", "action", "xlink:href", "formaction", "data") and value:
                self.images.append(value)

    def handle_endtag(self, tag: str) -> None:
        self._inside = False

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.scripts.append(data)


def test_the_report_acts_on_nothing_from_outside(run: Outcome) -> None:
    text = (run.out / "report.html").read_text("utf-8")
    found = _Tags()
    found.feed(text)
    assert found.handlers == []
    assert not any("alert(1)" in script for script in found.scripts)
    assert not any(target.startswith(("http", "javascript:", "//", "file:")) for target in found.images)
    assert "49{" not in text, "a template in a cell was worked out"


@pytest.mark.parametrize("name", ["report.html", "memo.md", "run.json"])
def test_no_control_characters_in_texts(run: Outcome, name: str) -> None:
    text = (run.out / name).read_text("utf-8")
    assert not re.findall(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", text)


def test_the_memo_has_no_live_markup(run: Outcome) -> None:
    text = (run.out / "memo.md").read_text("utf-8")
    assert not re.search(r"(?<!\\)<(script|img)", text)


def test_the_memo_document_has_no_fields_links_or_macros(run: Outcome) -> None:
    with zipfile.ZipFile(run.out / "memo.docx") as package:
        for name in package.namelist():
            part = package.read(name)
            assert not name.endswith((".bin", ".vbs"))
            assert b"instrText" not in part, name
            assert b"DDEAUTO" not in part, name
            assert b"fldChar" not in part, name
            if name.endswith(".rels"):
                assert b"example.invalid" not in part


def test_the_map_file_is_plain_data(run: Outcome) -> None:
    shown = json.loads((run.out / "tables" / "stations.geojson").read_text("utf-8"))
    assert shown["type"] == "FeatureCollection"
    names = [str(one["properties"].get("station")) for one in shown["features"]]
    assert len(names) == len(set(names)) > 0


def unseen(text: str) -> list[str]:
    return [one for one in text if (not one.isprintable() and one not in "\n") or one in "\u202e\u2066\x1b"]


def test_the_terminal_gets_no_orders(run: Outcome) -> None:
    assert unseen(run.stdout + run.stderr) == []


NAMES = ["a\x1b[31mred.csv", "b\u202egnp.csv", "c\nd.csv", "=1+1.csv", "$(touch evil).csv"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "asked",
    [["read", "NAME"], ["screen", "NAME", "--out", "OUT", "--water", "fresh"], ["read", "gone-NAME"],
     ["screen", "NAME", "--out", "OUT", "--guidelines", "NAME"], ["guidelines", "check", "NAME"],
     ["guidelines", "show", "NAME"], ["guidelines", "compare", "NAME"], ["read", "NAME", "--settings", "NAME"],
     ["read", "NAME", "--unit", "NAME"], ["labels", "NAME", "--out", "OUT"], ["template", "lab", "--out", "gone/NAME"],
     ["NAME"], ["read", "--NAME"]],
    ids=lambda one: " ".join(one),
)  # fmt: skip
def test_a_name_gives_the_terminal_no_orders(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, asked: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(name).write_text("Sample,Analyte,Result,Unit\nQE-1,Lead,5,mg/kg dry\n")
    ended = run_siltmark(*(one.replace("NAME", name).replace("OUT", "out") for one in asked))
    assert unseen(ended.stdout + ended.stderr) == []
    assert not Path("evil").exists()


@pytest.mark.parametrize("order", ORDERS)
def test_a_chain_gives_the_terminal_no_orders(run: Outcome, order: str) -> None:
    for asked in (["explain", run.out, order, "Lead"], ["explain", run.out, "QE-1", order]):
        ended = run_siltmark(*asked)
        assert unseen(ended.stdout + ended.stderr) == []


def test_json_on_the_terminal_is_escaped(screen_csv: Callable[..., Outcome], tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([HEAD, *rows()])
    ended = run_siltmark("read", path, "--json")
    assert unseen(ended.stdout) == []
    assert isinstance(json.loads(io.StringIO(ended.stdout).read()), dict)
