"""The band of each row: from the band column, from the frequency, or from both where they agree.

A frequency whose header names no unit is read in MHz, kHz or Hz, whichever puts it into an amateur band; no number does
so in two of them. A band is named by wavelength ("20m", "20 m", "20"), or by megahertz ("14 MHz", "14.043", "14").
A whole number without a unit is a wavelength where there is such a band, else megahertz.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands
from reach.base.vocabulary import Words, category, words
from reach.vet import cells
from reach.vet.ledger import NOTE, REJECTED, Finding, Ledger

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

_UNITS: Final = {"freq_hz": 1e-6, "freq_khz": 1e-3, "freq_mhz": 1.0}
_UNIT_NAMES: Final = {"freq_hz": "Hz", "freq_khz": "kHz", "freq_mhz": "MHz"}
_WAVE: Final = re.compile(r"(\d{1,4}(?:[.,]\d{1,2})?) ?(m|cm|meters?|metres?)(?: band)?", re.IGNORECASE | re.ASCII)
_WHOLE: Final = re.compile(r"\d{1,4}", re.ASCII)

NONE: Final = -1  # nothing was said
UNREADABLE: Final = -2  # something was said, and it is none
OUTSIDE: Final = -3  # a frequency that is in no band


@dataclass(frozen=True)
class Bands:
    """What the rows say of band and frequency.

    band      category, null where a row is rejected for it
    freq_mhz  float64, NaN where unknown
    """

    band: pd.Categorical
    freq_mhz: Floats


def judge(raw: pd.DataFrame, ledger: Ledger, *, region: int | None) -> Bands:
    """Band and frequency of each row of the raw table, and into the ledger what is wrong with them."""
    stated = _stated(words(raw, "band"), ledger)
    mhz, code = _frequencies(raw, region, ledger)
    band = _agree(raw, stated, code, ledger)
    return Bands(category(np.where(band < 0, len(bands.names()), band), [*bands.names(), None]), mhz)


# --------------------------------------------------------------------------------------------------- the band column


def _stated(column: Words, ledger: Ledger) -> Codes:
    codes = np.array([_band(text) for text in column.texts], dtype=np.int8)
    return codes[column.codes]


def _band(text: str) -> int:
    """A band by what a text calls it: position in bands.names(), NONE or UNREADABLE."""
    bare = " ".join(text.split())
    if not bare:
        return NONE
    if found := _WAVE.fullmatch(bare):
        number = found[1].replace(",", ".")
        return _named(f"{float(number):g}{'cm' if found[2].lower() == 'cm' else 'm'}")
    if _WHOLE.fullmatch(bare):
        wave = _named(f"{int(bare)}m")
        return wave if wave >= 0 else _by_megahertz(int(bare))
    mhz = cells.frequency_mhz(bare, "mhz")
    if mhz is None:
        return UNREADABLE
    name = bands.band_anywhere(mhz)
    return bands.names().index(name) if name else _by_megahertz(mhz)


def _named(name: str) -> int:
    return bands.names().index(name) if name in bands.names() else UNREADABLE


def _by_megahertz(mhz: float) -> int:
    """The band that people call by this number of megahertz, which is in none: its lower edge cut to 5, 7, 10, 14 and so on."""
    for at, name in enumerate(bands.names()):
        lower = min(b.lower_mhz for b in bands.allocations() if b.name == name)
        upper = max(b.upper_mhz for b in bands.allocations() if b.name == name)
        if max(np.floor(lower), 5) <= mhz <= upper:  # 1.8 and 3.5 lie in their bands, and nobody says 1 or 3 for them
            return at
    return UNREADABLE


# ---------------------------------------------------------------------------------------------- the frequency column


def _frequencies(raw: pd.DataFrame, region: int | None, ledger: Ledger) -> tuple[Floats, Codes]:
    """Frequency [MHz] and band of each row, NaN and NONE where it has none, from the columns that there are."""
    columns = [_frequency(words(raw, name), name, region, ledger) for name in ("freq", *_UNITS) if name in raw]
    if not columns:
        return np.full(len(raw), np.nan), np.full(len(raw), NONE, dtype=np.int8)
    mhz, code = columns[0]
    for more_mhz, more_code in columns[1:]:
        mhz, code = np.where(np.isnan(mhz), more_mhz, mhz), np.where(code == NONE, more_code, code)
    return mhz, code


def _frequency(column: Words, name: str, region: int | None, ledger: Ledger) -> tuple[Floats, Codes]:
    """The same from one column; frequencies beside the region's bands are noted."""
    mhz = _megahertz(column, name)
    code = bands.codes(mhz)
    abroad = bands.codes(mhz, region) != code
    if abroad.any():  # never without a region: nobody knows which edges count
        notes = [_abroad(mhz[k], int(code[k]), region) if abroad[k] else None for k in range(len(column))]
        ledger.add_words(column, notes)
    code[~column.blank & np.isnan(mhz)] = UNREADABLE
    code[~np.isnan(mhz) & (code < 0)] = OUTSIDE
    return mhz[column.codes], code[column.codes]


def _megahertz(column: Words, name: str) -> Floats:
    """Each word in MHz, NaN where it is no frequency."""
    values = cells.plain(column)
    values[values <= 0] = np.nan
    if name == "freq":
        values = _by_magnitude(values)
    else:
        values = np.round(values * _UNITS[name], 9)
    for at in np.flatnonzero(np.isnan(values)):
        values[at] = _one(column.texts[at], name)
    return values


def _one(text: str, name: str) -> float:
    """A frequency that is no plain number: a decimal comma, or a unit behind it."""
    found = cells.parse(text)
    if found is None or found[0] <= 0:
        return np.nan
    if name == "freq" and not found[1]:
        return float(_by_magnitude(np.array([found[0]]))[0])
    mhz = cells.frequency_mhz(text, name.removeprefix("freq_"))
    return np.nan if mhz is None else mhz


def _by_magnitude(values: Floats) -> Floats:
    """In MHz: as MHz, kHz or Hz, whichever is in an amateur band; where none is, the number itself, which nobody reads."""
    mhz = values
    with np.errstate(
        over="ignore"
    ):  # rounding a number of three hundred digits takes more than a float holds: infinite then
        for scale in (1e-6, 1e-3, 1.0):
            scaled = np.round(values * scale, 9)
            mhz = np.where(bands.codes(scaled) >= 0, scaled, mhz)
    return np.asarray(mhz, dtype=np.float64)


def _abroad(mhz: float, code: int, region: int | None) -> Finding:
    return Finding("frequency-other-region", NOTE, f"{mhz:g}", bands.names()[code], str(region))


# ------------------------------------------------------------------------------------------------------ both together


def _agree(raw: pd.DataFrame, stated: Codes, code: Codes, ledger: Ledger) -> Codes:
    """The band of each row. Where band and frequency contradict each other neither can be trusted: rejected."""
    if (code >= 0).all() and (stated == NONE).all():
        return code
    # One of the two may be missing or nonsense without harm, and this is a note; where both are, or they contradict each
    # other, the row has no band.
    silent = (stated == NONE) & (code == NONE)
    ledger.add(np.flatnonzero(silent), Finding("band-blank", REJECTED))
    _say(raw, ledger, (code == UNREADABLE) & (stated < 0), "frequency-unreadable", REJECTED)
    _say(raw, ledger, (code == UNREADABLE) & (stated >= 0), "frequency-unreadable", NOTE)
    _say(raw, ledger, (code == OUTSIDE) & (stated < 0), "frequency-outside-bands", REJECTED)
    _say(raw, ledger, (code == NONE) & (stated == UNREADABLE), "band-unreadable", REJECTED)
    _say(raw, ledger, (code >= 0) & (stated == UNREADABLE), "band-unreadable", NOTE)
    clash = (stated >= 0) & ((code == OUTSIDE) | ((code >= 0) & (code != stated)))
    _say(raw, ledger, clash, "band-frequency", REJECTED)
    return np.where(code >= 0, code, stated)


def _say(raw: pd.DataFrame, ledger: Ledger, flags: npt.NDArray[np.bool_], rule: str, severity: str) -> None:
    """Put each flagged row into the ledger with its two cells; the one that is wrong, or the band, first."""
    rows = np.flatnonzero(flags)
    if not len(rows):
        return
    frequency, unit = _cell(raw, rows, ["freq", *_UNITS])
    pairs = pd.DataFrame({"band": _cell(raw, rows, ["band"])[0], "frequency": frequency, "unit": unit})
    # Many rows share few pairs of cells: one finding a pair.
    which = pairs.groupby(list(pairs), sort=False).ngroup().to_numpy().astype(np.int64)
    findings = [
        Finding(rule, severity, *((mhz, band) if rule.startswith("frequency") else (band, mhz)), unit)
        for band, mhz, unit in pairs.drop_duplicates().itertuples(index=False)
    ]
    ledger.add_each(rows, which, findings)


def _cell(raw: pd.DataFrame, rows: npt.NDArray[np.intp], names: list[str]) -> tuple[list[str], list[str]]:
    """What stands in the first of these columns that says anything, and the unit of its header."""
    found, units = [""] * len(rows), [""] * len(rows)
    for name in (name for name in names if name in raw):
        for k, text in enumerate(raw[name].take(rows).astype("str").fillna("")):
            if not found[k] and text.strip():
                found[k], units[k] = str(text), _UNIT_NAMES.get(name, "")
    return found, units
