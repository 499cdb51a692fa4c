"""Certified harbour sediment SRM 1944, typed as laboratories report it, must come back as certified.

Source of the figures: National Institute of Standards and Technology, Certificate of Analysis, Standard Reference
Material 1944 (first issue 1999), all on dry mass; the table used here is from memory (the counts of 24 PAHs, 29
PCB congeners and 4 pesticides were seen in Wise and others 2004, Anal Bioanal Chem 378:1251). The sums are arithmetic.
Levels: MacDonald, Ingersoll and Berger 2000 (TEC, PEC); Long, MacDonald, Smith and Calder 1995 (ERL, ERM).
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from harness import Outcome, run_siltmark, write_csv
from openpyxl import Workbook

MOISTURE = 35.0
#: mg/kg dry, names as one laboratory writes them.
PAHS = {
    "Naphthalene": 1.65, "Phenanthrene": 5.27, "Anthracene": 1.77, "Fluoranthene": 8.92, "Pyrene": 9.70,
    "Benzo[c]phenanthrene": 0.76, "Benz[a]anthracene": 4.72, "Chrysene": 4.86, "Triphenylene": 1.04,
    "Benzo[b]fluoranthene": 3.87, "Benzo[j]fluoranthene": 2.09, "Benzo[k]fluoranthene": 2.30,
    "Benzo[a]fluoranthene": 0.78, "Benzo[e]pyrene": 3.28, "Benzo[a]pyrene": 4.30, "Perylene": 1.17,
    "Indeno[1,2,3-cd]pyrene": 2.78, "Benzo[ghi]perylene": 2.84, "Dibenz[a,j]anthracene": 0.500,
    "Dibenz[a,c]anthracene": 0.335, "Dibenz[a,h]anthracene": 0.424, "Pentaphene": 0.288, "Benzo[b]chrysene": 0.63,
    "Picene": 0.518,
}  # fmt: skip
#: ug/kg dry.
PCBS = {
    8: 22.3, 18: 51.0, 28: 80.8, 31: 78.7, 44: 60.2, 49: 53.0, 52: 79.4, 66: 71.9, 87: 29.9, 95: 65.0, 99: 37.5,
    101: 73.4, 105: 24.5, 110: 63.5, 118: 58.0, 128: 8.47, 138: 62.1, 149: 49.7, 151: 16.93, 153: 74.0, 156: 6.52,
    170: 22.6, 180: 44.3, 183: 12.19, 187: 25.1, 194: 11.2, 195: 3.75, 206: 9.21, 209: 6.81,
}  # fmt: skip
#: ug/kg dry, CAS number.
PESTICIDES = {
    "Hexachlorobenzene": ("118-74-1", 6.03), "cis-Chlordane": ("5103-71-9", 16.51),
    "trans-Nonachlor": ("39765-80-5", 8.20), "4,4'-DDT": ("50-29-3", 119.0), "4,4'-DDE": ("72-55-9", 86.0),
    "4,4'-DDD": ("72-54-8", 108.0), "2,4'-DDE": ("3424-82-6", 19.0), "2,4'-DDD": ("53-19-0", 38.0),
    "cis-Nonachlor": ("5103-73-1", 3.70), "trans-Chlordane": ("5103-74-2", 8.0),
}  # fmt: skip
#: mg/kg dry.
METALS = {
    "Arsenic": 18.9, "Cadmium": 8.8, "Chromium": 266.0, "Lead": 330.0, "Manganese": 505.0, "Nickel": 76.1,
    "Zinc": 656.0, "Copper": 380.0, "Mercury": 3.4, "Silver": 6.4, "Antimony": 4.6, "Selenium": 1.4, "Tin": 42.0,
    "Aluminum": 53300.0, "Iron": 35300.0,
}  # fmt: skip
#: ug/kg dry.
DIOXINS = {
    "2,3,7,8-TCDD": 0.133, "1,2,3,7,8-PeCDD": 0.019, "1,2,3,4,7,8-HxCDD": 0.026, "1,2,3,6,7,8-HxCDD": 0.056,
    "1,2,3,7,8,9-HxCDD": 0.053, "1,2,3,4,6,7,8-HpCDD": 0.80, "OCDD": 5.8, "2,3,7,8-TCDF": 0.039,
    "1,2,3,7,8-PeCDF": 0.045, "2,3,4,7,8-PeCDF": 0.045, "1,2,3,4,7,8-HxCDF": 0.22, "1,2,3,6,7,8-HxCDF": 0.09,
    "2,3,4,6,7,8-HxCDF": 0.054, "1,2,3,4,6,7,8-HpCDF": 1.0, "1,2,3,4,7,8,9-HpCDF": 0.040, "OCDF": 1.0,
}  # fmt: skip
CARBON = 4.4
#: What a laboratory may call them.
ODD = {
    "Benz[a]anthracene": "Benzo(a)anthracene", "Benzo[ghi]perylene": "Benzo(g,h,i)perylene",
    "Dibenz[a,h]anthracene": "Dibenzo(a,h)anthracene", "Benzo[b]fluoranthene": "BENZO(B)FLUORANTHENE",
    "Indeno[1,2,3-cd]pyrene": "Indeno(1,2,3-c,d)pyrene",
}  # fmt: skip


def wet(dry: float) -> float:
    """The figure that a laboratory prints for a wet sample: six significant figures."""
    return float(f"{dry * (1 - MOISTURE / 100):.6g}")


def metals_workbook(path: Path) -> Path:
    """Analytes down; metals in percent, g/kg, ug/kg and mg/kg, on dry weight; moisture and carbon in the same sheet."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Reference sediment, harbour"])
    sheet.append([])
    sheet.append(["Parameter", "Units", "SRM 1944"])
    for name, value in METALS.items():
        if name in ("Aluminum", "Iron"):
            sheet.append([f"{name}, total", "% dry wt", value / 10000])
        elif name == "Mercury":
            sheet.append(["Hg", "ug/kg dry", value * 1000])
        elif name == "Zinc":
            sheet.append(["Zn", "g/kg dry", value / 1000])
        else:
            sheet.append([name, "mg/kg dry", value])
    sheet.append(["% Moisture", "%", MOISTURE])
    sheet.append(["TOC", "mg/kg dry", CARBON * 10000])
    book.save(path)
    return path


def organics_csv(path: Path) -> Path:
    """One result per row, on wet weight: PAHs in ng/g, PCBs in pg/g and ug/kg, pesticides in mg/kg, dioxins in pg/g."""
    rows: list[tuple[object, ...]] = [("Client ID", "Compound", "CAS No.", "Conc.", "UOM", "Basis")]
    rows += [("SRM 1944", ODD.get(n, n), "", wet(v * 1000), "ng/g", "W") for n, v in PAHS.items()]
    for number, value in PCBS.items():
        name = f"PCB-{number:03d}" if number % 2 else f"PCB {number}"
        unit, by = ("pg/g", 1000.0) if number < 100 else ("ug/kg", 1.0)
        rows.append(("SRM 1944", name, "", wet(value * by), unit, "W"))
    rows += [("SRM 1944", name, cas, wet(v / 1000), "mg/kg", "W") for name, (cas, v) in PESTICIDES.items()]
    rows += [("SRM 1944", name, "", wet(v * 1000), "pg/g", "W") for name, v in DIOXINS.items()]
    return write_csv(path, rows)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    folder = tmp_path_factory.mktemp("srm")
    sheets = [metals_workbook(folder / "metals.xlsx"), organics_csv(folder / "organics.csv")]
    options = ["--guidelines", "consensus-2000-fresh", "--guidelines", "long-1995-marine", "--tables-only"]
    return run_siltmark("screen", *sheets, "--out", folder / "out", *options, out=folder / "out")


def near(text: str, expected: float) -> bool:
    """Equal to the six figures that were typed."""
    return text != "" and math.isclose(float(text), expected, rel_tol=5e-6)


def test_every_row_is_used(run: Outcome) -> None:
    # 24 + 29 + 10 + 15 + 16 substances, moisture and carbon
    assert run.status == 0, run.stderr
    assert len(run.rows("results", used="true")) == 96
    assert run.rows("ledger", became="rejected") == []


@pytest.mark.parametrize(
    ("written", "value"), [(n.replace("[", "(").replace("]", ")"), v * 1000) for n, v in PAHS.items()]
)
def test_certified_pahs_come_back(run: Outcome, written: str, value: float) -> None:
    """Under our own name for the substance the figure is the certificate's, in ug/kg dry."""
    rows = [row for row in run.rows("results", group="pah") if near(row["value"], value)]
    assert len(rows) == 1, written
    assert rows[0]["unit"] == "ug/kg"


@pytest.mark.parametrize(("number", "value"), PCBS.items())
def test_certified_congeners_come_back(run: Outcome, number: int, value: float) -> None:
    row = run.one("results", substance=f"PCB-{number}")
    assert near(row["value"], value)
    assert row["unit"] == "ug/kg"


@pytest.mark.parametrize(("cas", "value"), PESTICIDES.values())
def test_pesticides_come_back(run: Outcome, cas: str, value: float) -> None:
    assert near(run.one("results", cas=cas)["value"], value)


@pytest.mark.parametrize(("name", "value"), METALS.items())
def test_metals_come_back(run: Outcome, name: str, value: float) -> None:
    row = run.one("results", substance=name)
    assert near(row["value"], value)
    assert row["unit"] == "mg/kg"


@pytest.mark.parametrize(("name", "value"), DIOXINS.items())
def test_dioxins_come_back(run: Outcome, name: str, value: float) -> None:
    rows = [r for r in run.rows("results", group="dioxin") if near(r["value"], value * 1000) and r["unit"] == "ng/kg"]
    assert rows, name


def test_carbon_and_solids_that_were_used(run: Outcome) -> None:
    row = run.one("samples", sample="SRM 1944")
    assert near(row["toc_pct"], CARBON)
    assert near(row["solids_pct"], 100 - MOISTURE)


@pytest.mark.parametrize(
    ("total", "value", "measured", "members", "complete"),
    [
        # 80.8 + 79.4 + 73.4 + 58.0 + 62.1 + 74.0 + 44.3 = 472.0
        ("pcb-ices7", 472.0, "7", "7", "true"),
        # the eighteen: 777.84, doubled 1555.68; larger than the plain sum of all 29, so it is complete
        ("pcb-nst18x2", 1555.68, "18", "18", "true"),
        # all 29 certified congeners: 1201.98; far from the 100 that make a total
        ("pcb-congeners", 1201.98, "29", "209", "false"),
        # 8920 + 9700 + 4720 + 4860 + 4300 + 424 = 32 924
        ("pah-high6", 32924.0, "6", "6", "true"),
        # 1650 + 5270 + 1770 = 8690; four of seven are not on the certificate
        ("pah-low7", 8690.0, "3", "7", "false"),
        # 8690 + 32 924 = 41 614
        ("pah-13", 41614.0, "9", "13", "false"),
        # the 13 without 2-methylnaphthalene, and 3870 + 2300 + 2780 + 2840: 53 404
        ("pah-16", 53404.0, "13", "16", "false"),
        # 108 + 38; 86 + 19; 119 alone (2,4'-DDT is not on the certificate); 370 together
        ("ddd", 146.0, "2", "2", "true"),
        ("dde", 105.0, "2", "2", "true"),
        ("ddt", 119.0, "1", "2", "false"),
        ("ddt-6", 370.0, "5", "6", "false"),
        # factors: Van den Berg and others 2006 (WHO 2005); worked out member by member in test_equivalents_by_hand
        ("teq-2005", 241.09, "16", "17", "false"),
    ],
)
def test_sums(run: Outcome, total: str, value: float, measured: str, members: str, complete: str) -> None:
    rows = [row for row in run.rows("totals", total=total) if row["rule"] == "zero"]
    assert len(rows) == 1
    row = rows[0]
    assert near(row["value"], value)
    assert (row["measured"], row["members"], row["complete"]) == (measured, members, complete)


def test_equivalents_by_hand() -> None:
    """WHO 2005 factors in the order of the table: the sum of concentration times factor, in ng/kg."""
    factors = (1, 1, 0.1, 0.1, 0.1, 0.01, 0.0003, 0.1, 0.03, 0.3, 0.1, 0.1, 0.1, 0.01, 0.01, 0.0003)
    sum_of_parts = sum(f * v * 1000 for f, v in zip(factors, DIOXINS.values(), strict=True))
    assert math.isclose(sum_of_parts, 241.09, rel_tol=1e-12)


def test_the_one_missing_furan_is_named(run: Outcome) -> None:
    assert run.one("totals", total="teq-2005")["missing"] == "1,2,3,7,8,9-HxCDF"


def test_the_missing_pahs_are_named(run: Outcome) -> None:
    missing = set(run.one("totals", total="pah-13")["missing"].split(";"))
    assert missing == {"2-Methylnaphthalene", "Acenaphthene", "Acenaphthylene", "Fluorene"}


def test_the_doubled_congeners_per_organic_carbon() -> None:
    """1555.68 ug/kg at 4.4 % carbon is 35.356 mg/kg OC (a figure of the expected sums; by hand here)."""
    assert math.isclose(1555.68 / 1000 / (CARBON / 100), 35.3564, rel_tol=1e-5)


@pytest.mark.parametrize(
    ("substance", "value", "fresh", "marine"),
    [
        # substance, ug/kg or mg/kg dry, against TEC/PEC, against ERL/ERM
        ("Arsenic", 18.9, "between", "between"),  # 9.79, 33; 8.2, 70
        ("Cadmium", 8.8, "above", "between"),  # 0.99, 4.98; 1.2, 9.6
        ("Chromium", 266.0, "above", "between"),  # 43.4, 111; 81, 370
        ("Copper", 380.0, "above", "above"),  # 31.6, 149; 34, 270
        ("Lead", 330.0, "above", "above"),  # 35.8, 128; 46.7, 218
        ("Mercury", 3.4, "above", "above"),  # 0.18, 1.06; 0.15, 0.71
        ("Nickel", 76.1, "above", "above"),  # 22.7, 48.6; 20.9, 51.6
        ("Zinc", 656.0, "above", "above"),  # 121, 459; 150, 410
        ("Silver", 6.4, None, "above"),  # none; 1.0, 3.7
        ("Naphthalene", 1650.0, "above", "between"),  # 176, 561; 160, 2100
        ("Phenanthrene", 5270.0, "above", "above"),  # 204, 1170; 240, 1500
        ("Anthracene", 1770.0, "above", "above"),  # 57.2, 845; 85.3, 1100
        ("Fluoranthene", 8920.0, "above", "above"),  # 423, 2230; 600, 5100
        ("Pyrene", 9700.0, "above", "above"),  # 195, 1520; 665, 2600
        ("Benz(a)anthracene", 4720.0, "above", "above"),  # 108, 1050; 261, 1600
        ("Chrysene", 4860.0, "above", "above"),  # 166, 1290; 384, 2800
        ("Benzo(a)pyrene", 4300.0, "above", "above"),  # 150, 1450; 430, 1600
        ("Dibenz(a,h)anthracene", 424.0, "between", "above"),  # 33, none; 63.4, 260
        ("Total PCBs", 1555.68, "above", "above"),  # 59.8, 676; 22.7, 180
        ("Sum DDD", 146.0, "above", None),  # 4.88, 28.0
        ("Sum DDE", 105.0, "above", None),  # 3.16, 31.3
        ("Sum DDT", 119.0, "above", None),  # 4.16, 62.9
        ("Total DDTs", 370.0, "between", "above"),  # 5.28, 572; 1.58, 46.1
        ("4,4'-DDE", 86.0, None, "above"),  # none; 2.2, 27
        ("High PAHs", 32924.0, None, "above"),  # none; 1700, 9600
        ("Low PAHs", 8690.0, None, "above"),  # none; 552, 3160
        ("Total PAHs", 41614.0, "above", "between"),  # 1610, 22 800; 4022, 44 792
    ],
)
def test_findings(run: Outcome, substance: str, value: float, fresh: str | None, marine: str | None) -> None:
    for set_id, expected in (("consensus-2000-fresh", fresh), ("long-1995-marine", marine)):
        rows = run.rows("findings", substance=substance, set=set_id)
        assert [row["finding"] for row in rows] == ([expected] if expected else []), (substance, set_id)
        for row in rows:
            assert near(row["value"], value)


def test_nine_of_thirteen_pahs_settle_the_pec_and_not_the_erm(run: Outcome) -> None:
    fresh = run.one("findings", substance="Total PAHs", set="consensus-2000-fresh")
    marine = run.one("findings", substance="Total PAHs", set="long-1995-marine")
    assert (fresh["finding"], fresh["settled"]) == ("above", "true")
    assert (marine["finding"], marine["settled"]) == ("between", "false")


def test_chlordane_of_four_members_is_a_part(run: Outcome) -> None:
    """16.51 + 8 + 8.20 + 3.70 = 36.41; oxychlordane is not on the certificate."""
    row = run.one("totals", total="chlordane-5")
    assert near(row["value"], 36.41)
    assert (row["complete"], row["missing"]) == ("false", "Oxychlordane")
