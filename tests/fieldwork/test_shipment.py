"""What goes to the laboratory, from a field record with invented ids."""

from pathlib import Path

import pytest

from screen.fieldwork.shipment import Packed, depth_words, shipment
from screen.settings import Settings
from screen.stages.read.field.record import read_field_record

TEXT = """core,station,date,time,penetration,recovered
K-1-C,K-1,2026-05-12,10:20:00,1.2 m,1.0 m

sample,core,top,bottom,date,container,preservation,analyses
K-1-C1,K-1-C,0 in,4 1/2 in,,"glass jar, 250 ml; plastic bag",cooled to 4 C,metals; PAHs, lipids
K-1-C2,K-1-C,12 cm,30 cm,2026-05-13,,,
"""


@pytest.fixture
def packed(tmp_path: Path) -> list[Packed]:
    path = tmp_path / "field.csv"
    path.write_text(TEXT.replace("metals; PAHs, lipids", '"metals; PAHs, lipids"'), encoding="utf-8")
    return shipment(read_field_record([path], Settings()))


def test_a_sample_takes_date_time_and_station_of_its_core(packed: list[Packed]) -> None:
    first = packed[0]
    assert (first.station, first.date, first.time) == ("K-1", "2026-05-12", "10:20")


def test_the_date_of_the_sample_itself_goes_before_that_of_its_core(packed: list[Packed]) -> None:
    assert packed[1].date == "2026-05-13"


def test_analyses_are_known_by_their_words_and_others_are_kept(packed: list[Packed]) -> None:
    asked = [(text, kind.name if kind else None) for text, kind in packed[0].analyses]
    assert asked == [("metals", "Metals"), ("PAHs", "PAHs and other semivolatiles"), ("lipids", None)]


def test_each_container_is_one(packed: list[Packed]) -> None:
    assert packed[0].containers == ("glass jar, 250 ml", "plastic bag")


@pytest.mark.parametrize(
    ("top", "bottom", "words"),
    [
        (0.0, 10.0, "0 to 10 cm"),
        (0.0, 11.43, "0 to 4 1/2 in (0 to 11.43 cm)"),  # 4 1/2 in is 11.43 cm
        (8.89, 10.16, "3 1/2 to 4 in (8.89 to 10.16 cm)"),  # 3 1/2 in is 8.89 cm
        (0.0, 25.4, "0 to 25.4 cm"),
        (30.0, float("nan"), "from 30 cm"),
        (0.0, float("nan"), "surface"),
        (float("nan"), float("nan"), ""),
    ],
)
def test_depths_in_words(top: float, bottom: float, words: str) -> None:
    assert depth_words(top, bottom) == words
