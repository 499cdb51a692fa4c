"""CSV text: the contract's rules, and the same bytes from both engines."""

from __future__ import annotations

import csv
import io
import math

import hypothesis.extra.numpy as hnp
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screen.stages.report import tables
from screen.stages.report.tables import CsvSink
from screen.stages.report.text import cell_text, guarded, merged, number_text, number_texts, prepare


def written(frame: pd.DataFrame, tmp_path, *, arrow: bool, chunk: int = 100_000) -> bytes:
    path = tmp_path / f"table-{arrow}.csv"
    with CsvSink(path, list(frame.columns), arrow=arrow, chunk=chunk) as sink:
        sink.append(frame)
    return path.read_bytes()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (100.0, "100"),
        (0.1, "0.1"),
        (-0.0, "0"),
        (1e-5, "1e-05"),
        (0.0001, "0.0001"),
        (12345678901.5, "12345678901.5"),
        (1e16, "1e+16"),
        (59.800000000000004, "59.800000000000004"),
        (math.nan, ""),
    ],
)
def test_number_has_one_text(value, text):
    assert number_text(value) == text


@given(hnp.arrays(np.float64, st.integers(0, 40), elements=st.floats(allow_nan=False)))
def test_numbers_read_back_and_agree_one_by_one(values):
    texts = number_texts(values)
    assert texts == [number_text(value) for value in values]
    assert [float(text) for text in texts] == values.tolist()


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-x", "@sum", "\tx", "-", "-1 000", "-inf"])
def test_text_that_could_run_is_guarded(text):
    assert guarded(text) == "'" + text


@pytest.mark.parametrize("text", ["-5", "+0.3", "-1.2e-3", "-.5", "a=b", "", "<5", "'=x"])
def test_plain_numbers_and_other_text_are_not_guarded(text):
    assert guarded(text) == text


def test_quotes_only_where_needed():
    assert [cell_text(t) for t in ("a b", "a,b", 'a"b', "a\nb", "a;b")] == ["a b", '"a,b"', '"a""b"', '"a\nb"', "a;b"]


def test_lone_surrogate_does_not_stop_the_file():
    assert cell_text("a\ud800b") == "a?b"


_texts = st.one_of(st.none(), st.text(max_size=6), st.sampled_from(["=1", "-5", "a,b", '"', "\r\n", "W01"]))


@st.composite
def any_frame(draw):
    rows = draw(st.integers(0, 60))

    def column(element):
        return draw(st.lists(element, min_size=rows, max_size=rows))

    texts = pd.Series(column(_texts), dtype=object)
    return pd.DataFrame(
        {
            "category": pd.Categorical(texts),
            "again": pd.Categorical(texts),
            "text": pd.Series(column(st.text(max_size=5)), dtype="str"),
            "object": texts,
            "number": pd.Series(column(st.floats()), dtype="float64"),
            "few": pd.Series(column(st.sampled_from([0.0, -0.0, 1.5, 1e-7, 1e15, math.nan])), dtype="float64"),
            "flag": pd.Series(column(st.booleans()), dtype="bool"),
            "maybe": pd.Series(column(st.sampled_from([True, False, None])), dtype="boolean"),
            "mixed": pd.Series(column(st.sampled_from([True, False, None])), dtype="object"),
            "whole": pd.Series(column(st.integers(-(2**60), 2**60)), dtype="int64"),
            "gap": pd.Series(column(st.sampled_from([1, 2, None])), dtype="Int64"),
        }
    )


@settings(max_examples=60, deadline=None)
@given(frame=any_frame(), chunk=st.integers(1, 70))
def test_both_engines_write_the_same_bytes(frame, chunk, tmp_path_factory):
    pytest.importorskip("pyarrow")
    folder = tmp_path_factory.mktemp("csv")
    plain = written(frame, folder, arrow=False, chunk=chunk)
    assert plain == written(frame, folder, arrow=True, chunk=chunk)
    rows = list(csv.reader(io.StringIO(plain.decode("utf-8"), newline="")))
    assert len(rows) == len(frame) + 1
    assert all(len(row) == len(frame.columns) for row in rows)


@given(any_frame())
@settings(max_examples=30, deadline=None)
def test_every_cell_reads_back_as_the_rules_say(frame):
    columns = [prepare(frame[name]) for name in frame.columns]
    text = tables._plain_blocks(merged(columns))(0, len(frame)).decode("utf-8") if len(frame) else ""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert [row[4] for row in rows] == [number_text(v) for v in frame["number"]]
    assert [row[8] for row in rows] == [{True: "true", False: "false", None: ""}[v] for v in frame["mixed"]]
    assert [row[0] for row in rows] == ["" if v is None else guarded(v) for v in frame["object"]]


def test_neighbours_that_go_together_are_joined_and_read_back(tmp_path):
    sample = np.repeat(np.arange(50), 200)
    frame = pd.DataFrame(
        {
            "sample": pd.Categorical.from_codes(sample, [f"S{i}" for i in range(50)]),
            "station": pd.Categorical.from_codes(sample // 5, [f"W{i}, bank" for i in range(10)]),
            "river_km": sample / 10,
            "value": np.sqrt(np.arange(10_000.0)),
        }
    )
    assert len(merged([prepare(frame[name]) for name in frame.columns])) == 2
    back = pd.read_csv(io.BytesIO(written(frame, tmp_path, arrow=False)))
    assert back["station"].tolist() == frame["station"].tolist()
    assert back["river_km"].tolist() == frame["river_km"].tolist()
    assert back["value"].tolist() == frame["value"].tolist()


def test_dates_are_written_as_iso_days(tmp_path):
    frame = pd.DataFrame({"day": pd.to_datetime(["2024-05-01", None])})
    assert written(frame, tmp_path, arrow=False) == b"day\n2024-05-01\n\n"


def test_a_file_grows_by_frames(tmp_path):
    path = tmp_path / "grown.csv"
    with CsvSink(path, ["a"]) as sink:
        sink.append(pd.DataFrame({"a": [1.0, 2.5], "b": [0, 0]}))
        sink.append(pd.DataFrame({"a": [math.nan]}))
    assert path.read_bytes() == b"a\n1\n2.5\n\n"
