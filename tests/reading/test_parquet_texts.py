"""Parquet columns of few texts are read as places in a list: which columns they are, and that their cells stay."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pyarrow as pa
import pytest
from pyarrow import parquet

from eventlens.reading import read_table
from eventlens.reading.formats.parquet import _of_few_texts

NAMES = ["K11", "K12", None, "B3"]
COUNT = 4000


def _table(text: pa.DataType) -> pa.Table:
    return pa.table(
        {
            "tag": pa.array(NAMES * (COUNT // 4), text),
            "remark": pa.array([f"remark number {at}" for at in range(COUNT)], text),
            "blob": pa.array([b"\x00\xff"] * COUNT, pa.binary()),
            "nested": pa.array([{"tag": "K11"}] * COUNT, pa.struct({"tag": text})),
            "state": pa.array([0, 1] * (COUNT // 2), pa.int8()),
        }
    )


@pytest.mark.parametrize("text", [pa.string(), pa.large_string()])
def test_only_texts_of_few_kinds_are_read_as_places(tmp_path: Path, text: pa.DataType) -> None:
    path = tmp_path / "log.parquet"
    parquet.write_table(_table(text), path, row_group_size=COUNT // 4)
    with parquet.ParquetFile(path) as file:
        assert _of_few_texts(file) == ["tag"]
    found = read_table(path)
    assert found["tag"].to_list() == NAMES * (COUNT // 4)
    assert found["remark"].to_list()[-1] == f"remark number {COUNT - 1}"
    assert found["blob"].unique().to_list() == ["00ff"]
    assert found["nested.tag"].unique().to_list() == ["K11"]
    assert found["tag"].dtype == pl.String


def test_texts_that_were_written_one_by_one_are_read_so(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    parquet.write_table(_table(pa.string()), path, use_dictionary=False)
    with parquet.ParquetFile(path) as file:
        assert _of_few_texts(file) == []
    assert read_table(path)["tag"].to_list() == NAMES * (COUNT // 4)


def test_a_table_without_rows_has_no_texts(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    parquet.write_table(_table(pa.string()).slice(0, 0), path)
    with parquet.ParquetFile(path) as file:
        assert set(_of_few_texts(file)) <= {"tag", "remark"}
