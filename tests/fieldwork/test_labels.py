"""Labels: the code on each, read by another library, gives the sample's id back (ISO/IEC 18004)."""

import html
import re
import shutil
import subprocess

import numpy as np
import pytest

from screen.fieldwork.labels import labels_page, make_labels, symbol
from screen.fieldwork.shipment import Packed

IDS = ["OS-06-C1-FD", "0042", "Probe Ä/7 (½)", "x" * 60]


def one(sample: str = "K-1-C1", containers: tuple[str, ...] = ()) -> Packed:
    return Packed(sample, "K-1", "", "0 to 10 cm", "2026-05-12", "", containers, "cooled", "K-0", "fresh", ())


def raster(svg: str, scale: int = 6) -> np.ndarray:
    """The dark modules of the symbol's path: runs of unit height, moved to relative to the last point."""
    size = int(re.search(r'viewBox="0 0 (\d+) \d+"', svg)[1])  # type: ignore[index]
    path = next(d for d in re.findall(r'd="([^"]+)"', svg) if "h" in d and ".5" in d)
    image = np.full((size, size), 255, dtype=np.uint8)
    x = y = 0.0
    for command, first, second in re.findall(r"([Mmh])(-?[\d.]+)(?: ?(-?[\d.]+))?", path):
        if command == "h":
            image[int(y), int(x) : int(x + float(first))] = 0
            x += float(first)
        else:
            at = (0.0, 0.0) if command == "M" else (x, y)
            x, y = at[0] + float(first), at[1] + float(second)
    return np.kron(image, np.ones((scale, scale), dtype=np.uint8))


@pytest.mark.parametrize("sample", IDS)
def test_the_code_gives_the_id_back(sample: str) -> None:
    reader = pytest.importorskip("zxingcpp", reason="zxing-cpp, which reads the code, is not installed")
    pytest.importorskip("segno")
    assert [found.text for found in reader.read_barcodes(raster(symbol(sample)))] == [sample]


def test_a_label_for_each_container() -> None:
    made = make_labels([one(containers=("jar", "bag")), one("K-2")])
    assert [(label.packed.sample, label.container, label.number, label.of) for label in made] == [
        ("K-1-C1", "jar", 1, 2),
        ("K-1-C1", "bag", 2, 2),
        ("K-2", "", 1, 1),
    ]


def test_a_label_does_not_tell_the_laboratory_what_it_duplicates() -> None:
    assert "K-0" not in labels_page(make_labels([one()]), "A4")


@pytest.mark.parametrize(("sheet", "size"), [("A4", "210.0mm 297.0mm"), ("Letter", "215.9mm 279.4mm")])
def test_the_page_has_the_size_of_the_paper(sheet: str, size: str) -> None:
    assert f"size: {size}" in labels_page(make_labels([one()]), sheet)


def test_text_from_outside_is_escaped() -> None:
    page = labels_page(make_labels([one("<script>x</script>")]), "A4")
    assert "<script>" not in page
    assert html.escape("<script>x</script>") in page


@pytest.mark.browser
@pytest.mark.parametrize("sheet", ["A4", "Letter"])
def test_every_printed_label_is_read(sheet: str, tmp_path: object) -> None:
    from pathlib import Path

    from screen.printing import browser, print_pdf

    reader = pytest.importorskip("zxingcpp", reason="zxing-cpp, which reads the code, is not installed")
    image = pytest.importorskip("PIL.Image")
    if browser() is None or shutil.which("pdftoppm") is None:
        pytest.skip("needs a Chromium and pdftoppm")
    folder = Path(str(tmp_path))
    samples = [f"K-{number:02}-C{number}" for number in range(12)]
    (folder / "labels.pdf").write_bytes(print_pdf(labels_page(make_labels([one(name) for name in samples]), sheet)))
    subprocess.run(["pdftoppm", "-r", "150", "-png", folder / "labels.pdf", folder / "page"], check=True)
    pages = sorted(folder.glob("page*.png"))
    read = [found.text for page in pages for found in reader.read_barcodes(image.open(page))]
    assert sorted(read) == samples


def test_a_long_list_of_analyses_is_counted_not_cut() -> None:
    many = tuple((f"analysis number {number}", None) for number in range(20))
    label = make_labels([Packed("K-1", "K-1", "", "", "", "", (), "", "", "", many)])[0]
    shown, _, left = label.analyses.partition(" and ")
    assert len(shown.split("; ")) + int(left.split()[0]) == 20
    assert "custody record" in left
