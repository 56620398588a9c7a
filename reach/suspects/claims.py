"""What receivers claim: one row a distinct (callsign, locator), worked out once and taken back to the rows by code."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Texts = npt.NDArray[np.object_]


@dataclass(frozen=True)
class Claims:
    """Distinct claims, and the rows behind them.

    Shape (claims,): rx_call, rx_locator; lon_deg, lat_deg, country ("" at sea); characters (of the locator); reports; distance_km, the
    farthest where the station had several locators; call, a number for each distinct callsign.
    Shape (cells,), a cell being a distinct (claim, station's locator, band): cell_claim, cell_band (0 where there is
    none), cell_tx (text), cell_distance_km, cell_reports. Shape (rows,): cell_of_row.
    """

    rx_call: Texts
    rx_locator: Texts
    lon_deg: Floats
    lat_deg: Floats
    country: Texts
    characters: Ints
    reports: Ints
    distance_km: Floats
    call: Ints
    cell_claim: Ints
    cell_band: Ints
    cell_tx: Texts
    cell_distance_km: Floats
    cell_reports: Ints
    cell_of_row: Ints

    def __len__(self) -> int:
        return len(self.rx_call)

    def rows_of(self, chosen: npt.NDArray[np.bool_]) -> Ints:
        """The rows of some claims, in order. chosen : bool, shape (claims,)."""
        return np.flatnonzero(chosen[self.cell_claim][self.cell_of_row])

    @property
    def claim_of_row(self) -> Ints:
        """The claim of every row."""
        return self.cell_claim[self.cell_of_row]

    def claim_of(self, rows: Ints) -> Ints:
        """The claim of each of some rows."""
        return self.cell_claim[self.cell_of_row[rows]]


def claims(spots: pd.DataFrame) -> Claims:
    """The distinct claims of a placed spot table.

    spots : spots.SPOT with spots.PLACED; needs rx_call, rx_locator, tx_locator, band and the receiver's place
    Returns Claims, in the order of callsign, then locator.
    """
    # Two million rows hold some ten thousand distinct cells; all that is slow is done for these, and one array of cell numbers
    # leads back to the rows.
    parts = [keys.codes(spots[name]) for name in ("rx_call", "rx_locator", "tx_locator", "band")]
    sizes = [size for _, size in parts]
    values, cell_of_row = keys.distinct(*keys.combine(parts))
    call_code, locator_code, tx_code, band_code = keys.split(values, sizes)
    pairs, cell_claim = np.unique(call_code * sizes[1] + locator_code, return_inverse=True)
    # Any row of a cell will do to look up its place: the last one written stays.
    some_row = np.empty(len(values), dtype=np.int64)
    some_row[cell_of_row] = np.arange(len(cell_of_row))
    cell_reports = np.bincount(cell_of_row, minlength=len(values))
    cell_distance = spots["distance_km"].to_numpy()[some_row]
    claim_cell = np.empty(len(pairs), dtype=np.int64)
    claim_cell[cell_claim] = np.arange(len(values))
    claim_row = some_row[claim_cell]
    distance = np.full(len(pairs), -np.inf)
    np.maximum.at(distance, cell_claim, cell_distance)
    locators = _texts(spots["rx_locator"], pairs % sizes[1])
    return Claims(
        rx_call=_texts(spots["rx_call"], pairs // sizes[1]),
        rx_locator=locators,
        lon_deg=spots["rx_lon_deg"].to_numpy()[claim_row],
        lat_deg=spots["rx_lat_deg"].to_numpy()[claim_row],
        country=_texts(spots["country"], keys.codes(spots["country"])[0][claim_row]),
        characters=np.array([len(name) for name in locators], dtype=np.int64),
        reports=np.bincount(cell_claim, weights=cell_reports, minlength=len(pairs)).astype(np.int64),
        distance_km=distance,
        call=np.unique(pairs // sizes[1], return_inverse=True)[1],
        cell_claim=cell_claim,
        cell_band=band_code,
        cell_tx=_texts(spots["tx_locator"], tx_code),
        cell_distance_km=cell_distance,
        cell_reports=cell_reports,
        cell_of_row=cell_of_row,
    )


def _texts(column: pd.Series, codes: Ints) -> Texts:
    """The texts behind codes as `keys.codes` gives them; "" for null."""
    names = np.array(["", *column.cat.categories.astype(object)], dtype=object)
    return names[codes]
