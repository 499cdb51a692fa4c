"""The field record, on small grids made by hand with invented names."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from grids_by_hand import grid

from screen.settings import Settings
from screen.stages.read.cells.files import Source
from screen.stages.read.cells.grid import Grid
from screen.stages.read.field import record as field_record
from screen.stages.read.field.record import FieldRecord


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch):
    """Reads grids as if they were the sheets of one workbook."""

    def run(*grids: Grid, settings: Settings | None = None) -> FieldRecord:
        source = Source(Path("record.xlsx"), "record.xlsx", "xlsx", 10, "0" * 64)
        monkeypatch.setattr(field_record, "find_sheets", lambda paths: ([source], []))
        monkeypatch.setattr(field_record, "read_grids", lambda source, settings: (list(grids), []))
        return field_record.read_field_record([Path("record.xlsx")], settings or Settings())

    return run


def codes(record: FieldRecord) -> list[str]:
    return [problem.code for problem in record.problems]


def stations(*rows: Sequence[object]) -> Grid:
    return grid([["Station", "River km", "Lat", "Long", "Water type", "Role"], *rows])


def test_tables_are_known_by_their_headers_in_any_order(read) -> None:
    record = read(
        grid(
            [["Some title"], [], ["Lat", "Remarks", "Station ID", "Long"], [45.1, "at the quay", "ST-1", -30.2]],
            sheet="a",
        ),
        grid([["Recovered (in)", "Core ID", "Station", "Penetration"], ["9", "C-1", "ST-1", "1 ft"]], sheet="b"),
        grid([["Bottom", "Top", "Sample ID", "Core", "Unit"], [10, 0, "S-1", "C-1", "cm"]], sheet="c"),
    )
    assert record.stations.loc[0, ["station", "latitude", "longitude", "remarks"]].tolist() == [
        "ST-1",
        45.1,
        -30.2,
        "at the quay",
    ]
    assert record.cores.loc[0, ["core", "penetration_cm", "recovered_cm", "recovery_pct"]].tolist() == [
        "C-1",
        30.48,
        22.86,
        75.0,
    ]
    assert record.samples.loc[0, ["sample", "core", "depth_top_cm", "depth_bottom_cm"]].tolist() == [
        "S-1",
        "C-1",
        0.0,
        10.0,
    ]
    assert codes(record) == []


def test_two_tables_may_stand_on_one_sheet(read) -> None:
    record = read(grid([["Station", "River km"], ["ST-1", 2], ["Sample", "Station"], ["S-1", "ST-1"]]))
    assert record.stations["station"].tolist() == ["ST-1"]
    assert record.samples["sample"].tolist() == ["S-1"]


def test_a_table_of_samples_may_carry_what_belongs_to_stations_and_cores(read) -> None:
    record = read(
        grid(
            [
                ["Sample", "Station", "Core", "Lat", "Lon", "Penetration (cm)", "Interval (cm)"],
                ["S-1", "ST-1", "C-1", 45.0, -30.0, 50, "0-10"],
                ["S-2", "ST-1", "C-1", 45.0, -30.0, 50, "10-20"],
            ]
        )
    )
    assert record.stations[["station", "latitude"]].to_numpy().tolist() == [["ST-1", 45.0]]
    assert record.cores[["core", "station", "penetration_cm"]].to_numpy().tolist() == [["C-1", "ST-1", 50.0]]
    assert record.samples["depth_bottom_cm"].tolist() == [10.0, 20.0]


@pytest.mark.parametrize(
    ("header", "cell", "km"),
    [
        ("River km", 12.4, 12.4),
        ("River mile", 10, 16.09344),  # statute mile, 1.609344 km (international agreement of 1959)
        ("RM", "RM 10", 16.09344),
        ("Distance from mouth (nautical miles)", 10, 18.52),  # 1852 m (hydrographic conference of 1929)
        ("Distance from mouth", "3 mi", 4.828032),
        ("river_km", "12,4", 12.4),
    ],
)
def test_a_river_position_is_in_km(read, header: str, cell: object, km: float) -> None:
    record = read(grid([["Station", header], ["ST-1", cell]]))
    assert record.stations["river_km"].tolist() == pytest.approx([km], rel=1e-15)


def test_a_distance_without_a_unit_is_refused(read) -> None:
    record = read(grid([["Station", "Distance"], ["ST-1", 12.4]]))
    assert np.isnan(record.stations.loc[0, "river_km"])
    assert record.problems[0].where == "record.xlsx, sheet one, cell B2"
    assert codes(record) == ["depth-unit-missing"]


def test_a_unit_row_under_the_header_counts(read) -> None:
    record = read(grid([["Sample", "Top", "Bottom"], ["", "in", "in"], ["S-1", 0, "4 1/2"]]))
    assert record.samples["depth_bottom_cm"].tolist() == [11.43]


def test_the_unit_in_the_cell_goes_before_the_header(read) -> None:
    record = read(grid([["Sample", "Interval (cm)"], ["S-1", "0-6 in"]]))
    assert record.samples["depth_bottom_cm"].tolist() == [15.24]


def test_a_date_in_place_of_a_depth_is_refused(read) -> None:
    record = read(grid([["Sample", "Interval (cm)"], ["S-1", "date:2026-03-09"]]))
    assert record.samples["depth_top_cm"].isna().all()
    assert codes(record) == ["depth-date"]


def test_a_date_in_place_of_an_id_refuses_the_row(read) -> None:
    record = read(grid([["Sample", "Station"], ["date:2026-04-07", "ST-1"], ["S-2", "ST-1"]]))
    assert record.samples["sample"].tolist() == ["S-2"]
    assert codes(record) == ["field-id-date"]


def test_a_row_without_id_is_named(read) -> None:
    record = read(grid([["Sample", "Station", "Top (cm)"], ["", "ST-1", 0], ["S-2", "ST-1", 0]]))
    assert [(one.code, one.row) for one in record.problems] == [("field-sample-missing", 2)]


@pytest.mark.parametrize(
    ("cells", "code"),
    [
        ((-30.4, 45.1), "coordinates-swapped"),
        ((-130.4, 45.1), "coordinates-swapped"),
        ((4510531, 5039356), "coordinates-range"),
        ((45.1, 30.4), "coordinates-far"),
        ((48.1, -30.4), "coordinates-far"),
        (("45° 6.3' N", -30.4), "coordinate-minutes"),
        (("45 06 18 N", -30.4), "coordinate-minutes"),
        ((45.1, ""), "coordinates-half"),
        ((45.1, "30.4 N"), "coordinate-letter"),
        (("north bank", -30.4), "coordinate-unreadable"),
    ],
)
def test_a_doubtful_position_is_named(read, cells: tuple[object, object], code: str) -> None:
    record = read(
        stations(["ST-1", 1, 45.0, -30.3], ["ST-2", 2, 45.1, -30.4], ["ST-3", 3, 45.2, -30.5], ["ST-4", 4, *cells])
    )
    assert code in codes(record)


def test_degrees_with_minutes_come_with_the_figure_to_write(read) -> None:
    record = read(stations(["ST-1", 1, "45° 6.3' N", "30° 15' 18\" W"]))
    assert "45.105000" in record.problems[0].mend
    assert "-30.255000" in record.problems[1].mend


def test_a_hemisphere_letter_gives_the_sign(read) -> None:
    record = read(stations(["ST-1", 1, "45.1 N", "30.4 W"]))
    assert record.stations.loc[0, ["latitude", "longitude"]].tolist() == [45.1, -30.4]


def test_coordinates_that_do_not_exist_are_taken_out(read) -> None:
    record = read(stations(["ST-1", 1, 4510531, 5039356]))
    assert record.stations[["latitude", "longitude"]].isna().all(axis=None)


def test_positions_within_a_degree_of_each_other_are_not_doubted(read) -> None:
    assert codes(read(stations(["ST-1", 1, 45.0, -30.3], ["ST-2", 2, 45.9, -30.4]))) == []


@pytest.mark.parametrize(("text", "water"), [("Freshwater", "fresh"), ("brackish", "estuarine"), ("Marine", "marine")])
def test_the_water_is_known_by_its_usual_words(read, text: str, water: str) -> None:
    assert read(stations(["ST-1", 1, "", "", text, "ref"])).stations[["water", "role"]].to_numpy().tolist() == [
        [water, "reference"]
    ]


def test_a_role_that_is_not_known_is_named_and_left_open(read) -> None:
    record = read(stations(["ST-1", 1, "", "", "fresh", "pretty"]))
    assert codes(record) == ["role-unknown"]
    assert record.stations["role"].isna().all()


@pytest.mark.parametrize("pair", [("S-1", "s-1"), ("S-1", "S1"), ("S-01", "S-1"), ("S 1", "S-1")])
def test_ids_that_look_alike_are_kept_apart_and_named(read, pair: tuple[str, str]) -> None:
    record = read(grid([["Sample", "Station"], [pair[0], "ST-1"], [pair[1], "ST-1"]]))
    assert record.samples["sample"].tolist() == list(pair)
    assert codes(record) == ["sample-ids-alike"]


def test_an_id_listed_twice_is_named_and_the_first_row_stands(read) -> None:
    record = read(grid([["Station", "River km", "Zone"], ["ST-1", 1, ""], ["ST-1", 2, "A"]]))
    assert record.stations[["river_km", "zone"]].to_numpy().tolist() == [[1.0, "A"]]
    assert codes(record) == ["station-twice", "field-conflict"]


def cores(*rows: Sequence[object]) -> list[Grid]:
    return [
        grid([["Core", "Station", "Penetration", "Recovered"], ["C-1", "ST-1", "100 cm", "90 cm"]], sheet="cores"),
        grid([["Sample", "Core", "Interval (cm)"], *rows], sheet="samples"),
    ]


@pytest.mark.parametrize(
    ("intervals", "code"),
    [
        (("10-0",), "depth-order"),
        (("0-10", "8-20"), "depth-overlap"),
        (("0-10", "15-20"), "depth-gap"),
        (("0-95",), "depth-below-core"),
        (("0-50", "10-20", "50-60"), "depth-overlap"),
    ],
)
def test_intervals_of_a_core_are_checked(read, intervals: tuple[str, ...], code: str) -> None:
    record = read(*cores(*[[f"S-{at}", "C-1", text] for at, text in enumerate(intervals)]))
    assert code in codes(record)


def test_intervals_that_touch_are_in_order(read) -> None:
    assert codes(read(*cores(["S-1", "C-1", "0-10"], ["S-2", "C-1", "10-20"]))) == []


def test_doubtful_recovery_is_named(read) -> None:
    head = ["Core", "Station", "Penetration (cm)", "Recovered (cm)"]
    record = read(grid([head, ["C-1", "ST-1", 100, 60], ["C-2", "ST-1", 100, 120]]))
    assert codes(record) == ["core-expanded", "core-recovery-low"]


def test_a_bed_level_without_datum_is_named(read) -> None:
    record = read(grid([["Core", "Station", "Bed level"], ["C-1", "ST-1", "-3.2 m"]]))
    assert record.cores["bed_level_cm"].tolist() == [-320.0]
    assert codes(record) == ["datum-missing"]


def test_every_cell_is_in_the_ledger(read) -> None:
    sheets = [*cores(["S-1", "C-1", "0-10"]), grid([["Notes"], ["written by hand", "on board"]], sheet="notes")]
    record = read(*sheets)
    assert record.cells == sum(sheet.cells for sheet in sheets)
    assert record.ledger["became"].unique().tolist() == ["context"]


def test_a_hidden_sheet_is_not_read_and_is_named(read) -> None:
    record = read(stations(["ST-1", 1]), grid([["Station", "Zone"], ["ST-9", "A"]], sheet="old", hidden=True))
    assert record.stations["station"].tolist() == ["ST-1"]
    assert codes(record) == ["sheet-hidden"]
    assert record.ledger["cells"].isna().sum() == 1


def test_a_file_without_any_table_is_a_fault_of_the_file(read) -> None:
    record = read(grid([["nothing"], ["of use"]]))
    assert [(one.code, one.severity) for one in record.problems] == [("field-table-missing", "file")]
    assert not record.given


def test_an_unknown_column_is_named(read) -> None:
    assert codes(read(grid([["Station", "River km", "Weather"], ["ST-1", 1, "fair"]]))) == ["field-column-unknown"]


def test_no_paths_give_an_empty_record() -> None:
    record = field_record.read_field_record([], Settings())
    assert not record.given
    assert record.cells == 0


def test_every_message_is_a_sentence_followed_by_its_mend(read) -> None:
    record = read(
        stations(["ST-1", "far", -30.4, 145.1, "salty?", "x"], ["ST-1", 2, "4° 5'", ""]),
        *cores(["S-1", "C-1", "9-Mar"], ["S-2", "C-9", "95-100"], ["s-2", "C-1", "0-10"]),
        grid([["Station", "Zone", "Weather"], ["", "A", "fair"]]),
    )
    assert len(record.problems) > 8
    assert all(problem.message.endswith(".") and problem.mend.endswith(".") for problem in record.problems)
