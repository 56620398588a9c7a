"""Receivers for map programs: the GeoParquet file against the open specification, byte by byte, and against the CSV."""

from __future__ import annotations

import json
import struct

import numpy as np
import pandas as pd
import pytest
from pyarrow import parquet

from reach.tell import folder, geodata
from reach.tell.sentences import direction


@pytest.fixture(scope="module")
def written(walks, tmp_path_factory):
    """The tables of a study with more spots than a spreadsheet is asked to open."""
    to = tmp_path_factory.mktemp("tables")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(folder, "MOST_AS_CSV", 10)
        folder.write_tables(next(iter(walks.values())).findings, to)
    return to


def test_the_file_says_what_geoparquet_asks_for(written):
    """OGC GeoParquet 1.0.0, "File metadata" and "Column metadata": the required keys; "crs": longitude before latitude."""
    file = parquet.read_table(written / "receivers.parquet")
    geo = json.loads(file.schema.metadata[b"geo"])
    assert geo["version"] == "1.0.0" and geo["primary_column"] == "geometry"
    column = geo["columns"]["geometry"]
    assert column["encoding"] == "WKB" and column["geometry_types"] == ["Point"]
    assert column["crs"]["id"] == {"authority": "OGC", "code": "CRS84"}


def test_points_are_those_of_the_csv(written):
    """A point in ISO WKB is 21 bytes: byte order, type 1, x, y (OGC 06-103r4, Simple Feature Access, 8.2)."""
    file = parquet.read_table(written / "receivers.parquet").to_pandas()
    csv = pd.read_csv(written / "receivers.csv", parse_dates=["first_utc", "last_utc"])
    order, kind, lon, lat = zip(*(struct.unpack("<BIdd", point) for point in file["geometry"]), strict=True)
    assert set(order) == {1} and set(kind) == {1}
    np.testing.assert_array_equal(lon, csv["rx_lon_deg"])
    np.testing.assert_array_equal(lat, csv["rx_lat_deg"])
    for name in ("rx_call", "distance_km", "reports", "median_snr_db", "first_utc", "last_utc"):
        assert file[name].tolist() == csv[name].tolist()
    assert set(csv) - set(file) == {"rx_lon_deg", "rx_lat_deg"}


def test_the_same_receivers_give_the_same_bytes(walks, written, tmp_path):
    geodata.write_geoparquet(next(iter(walks.values())).findings.receivers, tmp_path / "again.parquet")
    assert (tmp_path / "again.parquet").read_bytes() == (written / "receivers.parquet").read_bytes()


def test_few_spots_need_no_second_file(walks, tmp_path):
    folder.write_tables(next(iter(walks.values())).findings, tmp_path)
    assert (tmp_path / "receivers.geojson").exists() and not (tmp_path / "receivers.parquet").exists()


def test_transmitters_have_the_same_points_under_their_own_names(walks, written, tmp_path):
    table = direction.as_written(next(iter(walks.values())).findings.receivers, direction.HEARD)
    geodata.write_geoparquet(table, tmp_path / "transmitters.parquet")
    there = parquet.read_table(tmp_path / "transmitters.parquet")
    assert "tx_call" in there.column_names and "rx_call" not in there.column_names
    assert there["geometry"].equals(parquet.read_table(written / "receivers.parquet")["geometry"])
