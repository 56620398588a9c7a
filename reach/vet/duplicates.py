"""Rows that report the same reception twice: one is kept, the others are listed.

The same reception: the same receiver (callsign and square, that is the first four characters of its locator), time,
band, transmitter and setup; where two setups are compared by their frequencies, also the nearer of these. Kept is the
row with the highest SNR, among these the one with the longest locator, among these the first; so the order of the rows
decides between rows only that differ in nothing that is measured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from reach.assign import frequencies
from reach.assign.frequencies import TwoMhz
from reach.base import keys, threads
from reach.vet.ledger import DUPLICATE, NOTE, Ledger

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

SAME: Final = DUPLICATE
CONFLICT: Final = f"{DUPLICATE}-conflict"
SECOND_US: Final = 1_000_000
NAT: Final = np.iinfo(np.int64).min
MOST: Final = 2**62
SPARE_BITS: Final = 2  # four to eight drawers a key
SHARED: Final = -1  # a drawer with several keys
MIXES: Final = (np.uint64(0x9E3779B97F4A7C15), np.uint64(0xC2B2AE3D27D4EB4F))  # odd numbers that mix the bits of a key


def find(table: pd.DataFrame, among: Flags, ledger: Ledger, *, by_mhz: TwoMhz | None = None) -> Flags:
    """Which rows repeat another; each is told to the ledger with the row that is kept instead.

    table : spots.SPOT, a row for each row of the raw table
    among : bool, shape (rows,): the rows that count
    by_mhz : the frequencies by which the setups of rows that name none are told apart
    Returns bool, shape (rows,).
    """
    dropped = np.zeros(len(table), dtype=bool)
    some = np.flatnonzero(among)
    # The key is exact, no hash: a collision would drop a sound row and nobody would know.
    key = _keys(table.iloc[some] if len(some) < len(table) else table, by_mhz=by_mhz)
    at = _repeated(key)
    if not len(at):
        return dropped
    again, key = some[at], key[at]
    snr = table["snr_db"].to_numpy()[again].astype(np.float64)
    # Within a key the best row comes first: highest SNR, longest locator, first in the file.
    order = np.lexsort((again, -_lengths(table["rx_locator"], again), -snr, key))
    again = again[order]
    first = keys.starts(key[order])
    kept = np.repeat(again[first], np.diff(np.append(first, len(again))))
    extra = kept != again
    dropped[again[extra]] = True
    _tell(table, again[extra], kept[extra], ledger)
    return dropped


def maybe(table: pd.DataFrame) -> Flags:
    """Which rows may report what another does, whatever setups they turn out to have: every duplicate is among them.

    table : spots.SPOT
    Returns bool, shape (rows,).
    """
    found = np.zeros(len(table), dtype=bool)
    found[_repeated(_keys(table, setups=False))] = True
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


def _keys(table: pd.DataFrame, *, setups: bool = True, by_mhz: TwoMhz | None = None) -> Ints:
    """One whole number a row, from 0, the same for the same reception. Rows with something missing get some number.

    setups : whether reports of different setups are different receptions
    by_mhz : the frequencies by which the setups of rows that name none are told apart
    """
    names = ("band", "tx_call", "setup") if setups else ("band", "tx_call")
    others = [keys.made_of(table[name]) for name in names if _varies(table[name])]
    if by_mhz is not None:
        others.append(_sides(table, by_mhz))
    receiver = [keys.made_of(table["rx_call"]), _squares(table["rx_locator"])]
    return _crossed([*receiver, _moments(table["time_utc"]), *others])


def _varies(column: pd.Series) -> bool:
    """Whether two rows may differ in it, one of them null perhaps."""
    return len(column.cat.categories) > 1 or (len(column.cat.categories) == 1 and bool(column.isna().any()))


def _sides(table: pd.DataFrame, by_mhz: TwoMhz) -> keys.Part:
    side = 1 + frequencies.nearer(table["freq_mhz"].to_numpy(), by_mhz).astype(np.int64)
    code = side * table["setup"].isna().to_numpy()
    return keys.Made(len(code), lambda part: code[part]), keys.room(code)


def _squares(locators: pd.Series) -> keys.Part:
    squares, distinct = pd.factorize(locators.cat.categories.str[:4])
    to, codes = np.append(squares, len(distinct)), locators.cat.codes.to_numpy()
    return keys.Made(len(codes), lambda part: to[codes[part]]), len(distinct) + 1


def _lengths(locators: pd.Series, rows: Ints) -> Ints:
    length = np.append(locators.cat.categories.str.len().to_numpy().astype(np.int64), 0)
    return length[locators.cat.codes.to_numpy()[rows]]


def _moments(times: pd.Series) -> keys.Part:
    """Times as small whole numbers: steps from the earliest, in whole seconds if all times are."""
    micros = pd.DatetimeIndex(times).as_unit("us").asi8
    known = micros != NAT
    if not known.any():
        return keys.Made(len(micros), lambda part: np.zeros_like(micros[part])), 1
    if not known.all():
        micros = np.where(known, micros, micros[known][0])
    odd = threads.filled(lambda part: micros[part] % SECOND_US != 0, len(micros), bool)
    step = 1 if odd.any() else SECOND_US
    least, most = int(micros.min()) // step, int(micros.max()) // step
    return keys.Made(len(micros), lambda part: micros[part] // step - least), most - least + 1


def _crossed(parts: Sequence[keys.Part]) -> Ints:
    """Combinations of codes as one code; packed anew where the product of the sizes would not fit."""
    some = [parts[0]]
    for part in parts[1:]:
        if not _fit([*some, part]):
            some = [_packed(keys.combine(some)[0])]
        if not _fit([*some, part]):
            part = _packed(keys.combine([part])[0])
        some.append(part)
    return keys.combine(some)[0]


def _fit(parts: Sequence[keys.Part]) -> bool:
    return math.prod(size for _, size in parts) < MOST


def _packed(combined: Ints) -> keys.Part:
    codes, distinct = pd.factorize(combined)
    return codes.astype(np.int64), len(distinct)


def _repeated(combined: Ints) -> Ints:
    """The rows whose key stands in more than one of them, rising."""
    rows = np.flatnonzero(_crowded(combined, MIXES[0]))
    rows = rows[_crowded(combined[rows], MIXES[1])]
    some = combined[rows]
    order = keys.order(some, keys.room(some))
    same = np.flatnonzero(np.diff(some[order]) == 0)
    twice = np.zeros(len(combined), dtype=bool)
    twice[rows[order[np.concatenate([same, same + 1])]]] = True
    return np.flatnonzero(twice)


def _crowded(combined: Ints, mix: np.uint64) -> Flags:
    """Which keys may stand twice: those that share a drawer with another. Hardly any row is a duplicate, and keys are dealt out
    to more drawers than there are, so that few are left to be sorted."""
    bits = len(combined).bit_length() + SPARE_BITS
    last = np.empty(1 << bits, dtype=np.int32)
    drawer = threads.filled(
        lambda part: (combined[part].view(np.uint64) * mix) >> np.uint64(64 - bits), len(combined), np.int64
    )
    rows = np.arange(len(combined), dtype=np.int32)
    # Whichever row is put in last: where there are several, all but one find another in their drawer.
    threads.blocks(lambda part: last.__setitem__(drawer[part], rows[part]), len(rows))
    other = threads.filled(lambda part: last[drawer[part]] != rows[part], len(rows), bool)
    last[drawer[other]] = SHARED
    return threads.filled(lambda part: last[drawer[part]] == SHARED, len(rows), bool)
