"""Rows that report the same reception twice: one is kept, the others are listed.

The same reception: the same receiver (callsign and square, that is the first four characters of its locator), time,
band, transmitter and setup. Kept is the row with the highest SNR, among these the one with the longest locator, among
these the first; so the order of the rows decides between rows only that differ in nothing that is measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.vet.ledger import NOTE, Finding, Ledger

Ints = npt.NDArray[np.int64]

SAME: Final = "duplicate"
CONFLICT: Final = "duplicate-conflict"


def find(spots: pd.DataFrame, rows: Ints, ledger: Ledger) -> npt.NDArray[np.bool_]:
    """Which spots are duplicates of another; each is told to the ledger with the row that is kept instead.

    spots : spots.SPOT, in the order of the files
    rows  : shape (spots,), rising: the row of the raw table that each spot comes from
    Returns bool, shape (spots,).
    """
    dropped = np.zeros(len(spots), dtype=bool)
    key = _keys(spots)
    again = np.flatnonzero(_repeated(key))
    if not len(again):
        return dropped
    snr = spots["snr_db"].to_numpy()[again].astype(np.float64)
    length = _lengths(spots["rx_locator"])[again]
    order = again[np.lexsort((again, -length, -snr, key[again]))]
    first = np.flatnonzero(np.diff(key[order], prepend=-1))
    kept = np.repeat(order[first], np.diff(np.append(first, len(order))))
    extra = kept != order
    dropped[order[extra]] = True
    _tell(spots, rows, order[extra], kept[extra], ledger)
    return dropped


def _tell(spots: pd.DataFrame, rows: Ints, dropped: Ints, kept: Ints, ledger: Ledger) -> None:
    snr, line = spots["snr_db"].to_numpy(), spots["line"].to_numpy()
    source = spots["source"].astype("str").to_numpy() if len(spots["source"].cat.categories) > 1 else None
    at = np.argsort(dropped)
    findings = []
    for this, other in zip(dropped[at], kept[at], strict=True):
        where = f"Line {line[other]}" + (f" of {source[other]}" if source is not None else "")
        if snr[this] == snr[other]:
            findings.append(Finding(SAME, NOTE, f"{where} reports the same reception and is kept."))
        else:
            same = f"{where} reports the same reception with {snr[other]:g} dB and is kept"
            why = f"{same}; this row says {snr[this]:g} dB."
            findings.append(Finding(CONFLICT, NOTE, why))
    ledger.add_each(rows[dropped[at]], np.arange(len(at)), findings)


def _keys(spots: pd.DataFrame) -> Ints:
    """One whole number a spot, the same for the same reception, from 0."""
    receiver = _crossed([_codes(spots["rx_call"]), _squares(spots["rx_locator"])])
    micros = pd.DatetimeIndex(spots["time_utc"]).as_unit("us").asi8
    parts = [receiver, _dense(micros), *(_codes(spots[name]) for name in ("band", "tx_call", "setup"))]
    return _crossed(parts)[0]


def _codes(column: pd.Series) -> tuple[Ints, int]:
    return column.cat.codes.to_numpy().astype(np.int64) + 1, len(column.cat.categories) + 1


def _squares(locators: pd.Series) -> tuple[Ints, int]:
    squares, distinct = pd.factorize(locators.cat.categories.str[:4])
    return np.append(squares, len(distinct))[locators.cat.codes.to_numpy()].astype(np.int64), len(distinct) + 1


def _lengths(locators: pd.Series) -> Ints:
    return np.append(locators.cat.categories.str.len().to_numpy(), 0)[locators.cat.codes.to_numpy()].astype(np.int64)


def _dense(values: Ints) -> tuple[Ints, int]:
    """Numbers as positions among the distinct ones; as distances from the least where that is as good."""
    if not len(values):
        return values, 1
    least, span = int(values.min()), int(values.max()) - int(values.min()) + 1
    if span < 2**48:
        return values - least, span
    codes, distinct = pd.factorize(values)
    return codes.astype(np.int64), len(distinct)


def _crossed(parts: Sequence[tuple[Ints, int]]) -> tuple[Ints, int]:
    """Combinations of codes as one code; packed anew where the product of the sizes would not fit."""
    keys, size = parts[0]
    for more, more_size in parts[1:]:
        if size * more_size >= 2**62:
            codes, distinct = pd.factorize(keys)
            keys, size = codes.astype(np.int64), len(distinct)
        keys, size = keys * more_size + more, size * more_size
    return keys, size


def _repeated(keys: Ints) -> npt.NDArray[np.bool_]:
    """Whether a key stands in more than one place."""
    ordered = np.sort(keys)
    twice = ordered[1:][ordered[1:] == ordered[:-1]]
    return np.isin(keys, twice) if len(twice) else np.zeros(len(keys), dtype=bool)
