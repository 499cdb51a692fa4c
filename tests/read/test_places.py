"""Samples of the sheets joined with the field record; all names invented."""

import pandas as pd
import pytest

from screen.model import LEDGER, SAMPLES
from screen.settings import Settings
from screen.stages.read.field.places import join_places, placed
from screen.stages.read.field.record import FIELD_CORES, FIELD_SAMPLES, FIELD_STATIONS, FieldRecord

PLACE = {"file": "record.xlsx", "sheet": "samples", "row": 2}


def record(stations=(), cores=(), samples=()) -> FieldRecord:
    def frame(rows, columns):
        made = pd.DataFrame([PLACE | row for row in rows], columns=[*columns, *PLACE])
        texts = [name for name in columns if not name.endswith(("_cm", "_km", "_m2", "_pct", "tude"))]
        return made.astype({name: object if name in texts else float for name in columns})

    return FieldRecord(
        frame(stations, FIELD_STATIONS),
        frame(cores, [*FIELD_CORES, "recovery_pct"]),
        frame(samples, FIELD_SAMPLES),
        (),
        pd.DataFrame(columns=LEDGER),
        0,
        (),
    )


def sheet(*rows: dict) -> pd.DataFrame:
    return pd.DataFrame(list(rows))


def one(frame: pd.DataFrame, sample: str) -> pd.Series:
    return frame.set_index("sample").loc[sample]


def test_without_a_field_record_the_sheets_own_station_and_depth_are_used() -> None:
    samples, stations, _, problems = join_places(
        sheet({"sample": "S-1", "station": "ST-1", "depth_top_cm": 0.0, "depth_bottom_cm": 7.62}), record(), Settings()
    )
    assert one(samples, "S-1")[["station", "depth_bottom_cm"]].tolist() == ["ST-1", 7.62]
    assert stations["station"].tolist() == ["ST-1"]
    assert problems == ()
    assert not samples["without_field"].any()


def test_a_sample_of_unknown_place_is_its_own_station() -> None:
    samples, *_ = join_places(sheet({"sample": "S-1"}), record(), Settings())
    assert one(samples, "S-1")["station"] == "S-1"


def test_the_contracts_columns_come_first_and_texts_are_categoricals() -> None:
    samples, *_ = join_places(sheet({"sample": "S-1"}), record(), Settings())
    assert samples.columns.tolist() == [*SAMPLES, "without_results", "without_field"]
    assert isinstance(samples["station"].dtype, pd.CategoricalDtype)


def test_the_field_record_goes_before_the_sheet_and_the_difference_is_named() -> None:
    samples, _, _, problems = join_places(
        sheet({"sample": "S-1", "station": "ST-9", "depth_top_cm": 0.0, "depth_bottom_cm": 10.0}),
        record(samples=[{"sample": "S-1", "station": "ST-1", "depth_top_cm": 0.0, "depth_bottom_cm": 11.43}]),
        Settings(),
    )
    assert one(samples, "S-1")[["station", "depth_bottom_cm"]].tolist() == ["ST-1", 11.43]
    assert [problem.code for problem in problems] == ["field-disagrees", "field-disagrees"]


def test_what_only_the_sheet_says_stays() -> None:
    samples, *_ = join_places(
        sheet({"sample": "S-1", "depth_top_cm": 0.0, "depth_bottom_cm": 10.0}),
        record(samples=[{"sample": "S-1", "station": "ST-1"}]),
        Settings(),
    )
    assert one(samples, "S-1")["depth_bottom_cm"] == 10.0


def test_samples_of_one_side_only_are_rows_with_a_flag() -> None:
    samples, *_ = join_places(
        sheet({"sample": "S-1"}), record(samples=[{"sample": "S-2", "station": "ST-1"}]), Settings()
    )
    assert samples["sample"].tolist() == ["S-1", "S-2"]
    assert samples["without_field"].tolist() == [True, False]
    assert samples["without_results"].tolist() == [False, True]


def test_a_sample_has_the_station_of_its_core() -> None:
    samples, _, cores, _ = join_places(
        sheet({"sample": "S-1"}),
        record(cores=[{"core": "C-1", "station": "ST-1"}], samples=[{"sample": "S-1", "core": "C-1"}]),
        Settings(),
    )
    assert one(samples, "S-1")["station"] == "ST-1"
    assert cores["core"].tolist() == ["C-1"]


def test_a_core_of_no_known_station_is_a_station_of_its_own() -> None:
    samples, *_ = join_places(sheet({"sample": "S-1"}), record(samples=[{"sample": "S-1", "core": "C-1"}]), Settings())
    assert one(samples, "S-1")["station"] == "C-1"


def test_a_core_of_another_station_is_named() -> None:
    *_, problems = join_places(
        sheet({"sample": "S-1"}),
        record(
            cores=[{"core": "C-1", "station": "ST-2"}], samples=[{"sample": "S-1", "core": "C-1", "station": "ST-1"}]
        ),
        Settings(),
    )
    assert [problem.code for problem in problems] == ["core-station"]


def test_a_field_duplicate_has_the_place_of_its_parent() -> None:
    samples, *_ = join_places(
        sheet({"sample": "S-1"}, {"sample": "S-1-D"}),
        record(
            samples=[
                {"sample": "S-1", "station": "ST-1", "depth_top_cm": 0.0, "depth_bottom_cm": 10.0},
                {"sample": "S-1-D", "parent": "S-1"},
            ]
        ),
        Settings(),
    )
    assert one(samples, "S-1-D")[["station", "depth_bottom_cm", "parent"]].tolist() == ["ST-1", 10.0, "S-1"]


def test_a_station_lends_its_place_to_its_samples() -> None:
    place = {"river_km": 4.5, "latitude": 45.1, "longitude": -30.4, "water": "fresh", "role": "reference", "zone": "A"}
    samples, *_ = join_places(
        sheet({"sample": "S-1", "station": "ST-1"}), record(stations=[{"station": "ST-1"} | place]), Settings()
    )
    assert one(samples, "S-1")[list(place)].to_dict() == place


@pytest.mark.parametrize(("said", "expected"), [("fresh", "fresh"), (None, "marine")])
def test_the_water_of_the_settings_is_for_stations_that_state_none(said: str | None, expected: str) -> None:
    samples, stations, *_ = join_places(
        sheet({"sample": "S-1", "station": "ST-1"}),
        record(stations=[{"station": "ST-1", "water": said}]),
        Settings(water="marine"),
    )
    assert one(samples, "S-1")["water"] == expected
    assert stations["water"].tolist() == [expected]


def test_ids_written_differently_in_record_and_sheet_are_named() -> None:
    samples, _, _, problems = join_places(
        sheet({"sample": "S1"}), record(samples=[{"sample": "S-1", "station": "ST-1"}]), Settings()
    )
    assert len(samples) == 2
    assert [problem.code for problem in problems] == ["sample-ids-alike"]


def test_a_station_without_samples_is_kept() -> None:
    _, stations, *_ = join_places(
        sheet({"sample": "S-1", "station": "ST-1"}), record(stations=[{"station": "ST-7"}]), Settings()
    )
    assert stations["station"].tolist() == ["ST-7", "ST-1"]


def test_the_samples_given_are_not_changed() -> None:
    given = sheet({"sample": "S-1", "station": None})
    before = given.copy()
    join_places(given, record(samples=[{"sample": "S-1", "station": "ST-1"}]), Settings())
    pd.testing.assert_frame_equal(given, before)


def test_results_take_the_place_of_their_sample() -> None:
    columns = ["sample", "parent", "station", "core", "river_km", "depth_top_cm", "depth_bottom_cm", "collected"]
    results = pd.DataFrame([["S-1"], ["S-9"], ["S-1"]], columns=["sample"]).reindex(columns=columns)
    results["station"] = ["ST-9", "ST-8", None]
    samples = pd.DataFrame([["S-1", None, "ST-1", "C-1", 4.5, 0.0, 11.43, "2026-05-12"]], columns=columns)
    found = placed(results, samples)
    assert found["station"].tolist() == ["ST-1", "ST-8", "ST-1"]
    assert found["depth_bottom_cm"].iloc[[0, 2]].tolist() == [11.43, 11.43]
    assert found["depth_bottom_cm"].isna().tolist() == [False, True, False]
    assert found["collected"].iloc[0] == "2026-05-12"
    assert found["parent"].isna().all()


def test_a_sample_whose_place_the_field_record_does_not_know_is_named() -> None:
    *_, problems = join_places(
        sheet({"sample": "S-9"}, {"sample": "ST-1"}), record(stations=[{"station": "ST-1"}]), Settings()
    )
    told = [one for one in problems if one.code == "sample-not-in-field-record"]
    assert len(told) == 1
    assert "'S-9'" in told[0].message
    assert "ST-1" not in told[0].message
