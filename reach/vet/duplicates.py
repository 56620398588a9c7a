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
import pyarrow as pa

from reach.base import threads
from reach.vet.ledger import DUPLICATE, NOTE, Ledger

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

SAME: Final = DUPLICATE
CONFLICT: Final = f"{DUPLICATE}-conflict"
SECOND_US: Final = 1_000_000
NAT: Final = np.iinfo(np.int64).min
MOST: Final = 2**62
SIEVE: Final = 2**22


def find(table: pd.DataFrame, among: Flags, ledger: Ledger) -> Flags:
    """Which rows repeat another; each is told to the ledger with the row that is kept instead.

    table : spots.SPOT, a row for each row of the raw table
    among : bool, shape (rows,): the rows that count
    Returns bool, shape (rows,).
    """
    dropped = np.zeros(len(table), dtype=bool)
    some = np.flatnonzero(among)
    # The key is exact, no hash: a collision would drop a sound row and nobody would know.
    key = np.full(len(table), -1, dtype=np.int64)
    key[some] = _keys(table.iloc[some]) if len(some) < len(table) else _keys(table)
    again = _repeated(key, among)
    if not len(again):
        return dropped
    snr = table["snr_db"].to_numpy()[again].astype(np.float64)
    # Within a key the best row comes first: highest SNR, longest locator, first in the file.
    order = again[np.lexsort((again, -_lengths(table["rx_locator"], again), -snr, key[again]))]
    first = np.flatnonzero(np.diff(key[order], prepend=-1))
    kept = np.repeat(order[first], np.diff(np.append(first, len(order))))
    extra = kept != order
    dropped[order[extra]] = True
    _tell(table, order[extra], kept[extra], ledger)
    return dropped


def maybe(table: pd.DataFrame) -> Flags:
    """Which rows may report what another does, whatever setups they turn out to have: every duplicate is among them.

    table : spots.SPOT
    Returns bool, shape (rows,).
    """
    found = np.zeros(len(table), dtype=bool)
    found[_repeated(_keys(table, setups=False), np.ones(len(table), dtype=bool))] = True
    return found


def _tell(table: pd.DataFrame, dropped: Ints, kept: Ints, ledger: Ledger) -> None:
    """Note of each dropped row which one is kept instead, and how the two differ."""
    # Hundreds of thousands of rows may be told, each with a line of its own: so by column, from the few distinct levels
    # and names, and never an object a row.
    at = np.argsort(dropped)
    dropped, kept = dropped[at], kept[at]
    files, snr = table["source"].cat, table["snr_db"].to_numpy()
    several = len(files.categories) > 1
    conflict = snr[dropped] != snr[kept]
    values, level = np.unique(snr[np.concatenate([dropped, kept])], return_inverse=True)
    levels = [*(f"{value:g}" for value in values), ""]
    this, other = np.split(np.where(np.tile(conflict, 2), level, len(values)), 2)
    said = {
        "rule": _texts([SAME, CONFLICT], conflict.astype(np.int8)),
        "severity": _texts([NOTE], np.zeros(len(dropped), dtype=np.int8)),
        "value": _texts(levels, this),
        "other": _texts(levels, other),
    }
    if several:
        said["kept_source"] = _texts([str(name) for name in files.categories], files.codes.to_numpy()[kept])
    ledger.add_columns(dropped, said, table["line"].to_numpy()[kept])


def _texts(names: Sequence[str], codes: npt.NDArray[np.integer]) -> pa.Array:
    return pa.array(names, pa.large_string()).take(pa.array(codes))


def _keys(table: pd.DataFrame, *, setups: bool = True) -> Ints:
    """One whole number a row, from 0, the same for the same reception. Rows with something missing get some number.

    setups : whether reports of different setups are different receptions
    """
    receiver = _crossed([_codes(table["rx_call"]), _squares(table["rx_locator"])])
    names = ("band", "tx_call", "setup") if setups else ("band", "tx_call")
    others = [_codes(table[name]) for name in names if _varies(table[name])]
    return _crossed([receiver, _moments(table["time_utc"]), *others])[0]


def _varies(column: pd.Series) -> bool:
    """Whether two rows may differ in it, one of them null perhaps."""
    return len(column.cat.categories) > 1 or (len(column.cat.categories) == 1 and bool(column.isna().any()))


def _codes(column: pd.Series) -> tuple[Ints, int]:
    return column.cat.codes.to_numpy().astype(np.int64) + 1, len(column.cat.categories) + 1


def _squares(locators: pd.Series) -> tuple[Ints, int]:
    squares, distinct = pd.factorize(locators.cat.categories.str[:4])
    return np.append(squares, len(distinct))[locators.cat.codes.to_numpy()].astype(np.int64), len(distinct) + 1


def _lengths(locators: pd.Series, rows: Ints) -> Ints:
    length = np.append(locators.cat.categories.str.len().to_numpy().astype(np.int64), 0)
    return length[locators.cat.codes.to_numpy()[rows]]


def _moments(times: pd.Series) -> tuple[Ints, int]:
    """Times as small whole numbers: steps from the earliest, in whole seconds if all times are."""
    micros = pd.DatetimeIndex(times).as_unit("us").asi8
    known = micros != NAT
    if not known.any():
        return np.zeros(len(micros), dtype=np.int64), 1
    if not known.all():
        micros = np.where(known, micros, micros[known][0])
    steps = micros // SECOND_US
    if not (steps * SECOND_US == micros).all():
        steps = micros
    least = int(steps.min())
    return steps - least, int(steps.max()) - least + 1


def _crossed(parts: Sequence[tuple[Ints, int]]) -> tuple[Ints, int]:
    """Combinations of codes as one code; packed anew where the product of the sizes would not fit."""
    keys, size = parts[0]
    for more, more_size in parts[1:]:
        if size * more_size >= MOST:
            keys, size = _packed(keys)
        if size * more_size >= MOST:
            more, more_size = _packed(more)
        keys, size = keys * more_size + more, size * more_size
    return keys, size


def _packed(keys: Ints) -> tuple[Ints, int]:
    codes, distinct = pd.factorize(keys)
    return codes.astype(np.int64), len(distinct)


def _repeated(keys: Ints, among: Flags) -> Ints:
    """The rows among those that count whose key stands in more than one of them, rising."""
    rows = np.flatnonzero(among)
    keys = keys[rows]
    ordered = keys.copy()
    threads.sort(ordered)
    twice = np.unique(ordered[1:][ordered[1:] == ordered[:-1]])
    if not len(twice):
        return twice
    # Hardly any row is a duplicate, and a search among all keys that stand twice would cost more than finding them.
    # A small table by the last bits of the key leaves few rows to be looked up one by one.
    sieve = np.zeros(SIEVE, dtype=bool)
    sieve[twice % SIEVE] = True
    maybe = sieve[keys % SIEVE]
    rows, keys = rows[maybe], keys[maybe]
    return rows[np.isin(keys, twice)]
