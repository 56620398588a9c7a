"""The band of each row: from the band column, from the frequency, or from both where they agree.

A frequency whose header names no unit is read in MHz, kHz or Hz, whichever puts it into an amateur band; no number does
so in two of them. A band is named by wavelength ("20m", "20 m", "20"), or by megahertz ("14 MHz", "14.097", "14").
A whole number without a unit is a wavelength where there is such a band, else megahertz.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands
from reach.base.vocabulary import Words, category, words
from reach.base.words import quoted
from reach.vet import numbers
from reach.vet.ledger import NOTE, REJECTED, Finding, Ledger

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

_UNITS: Final = {"freq_hz": 1e-6, "freq_khz": 1e-3, "freq_mhz": 1.0}
_WAVE: Final = re.compile(r"(\d{1,4}(?:[.,]\d{1,2})?) ?(m|cm|meters?|metres?)(?: band)?", re.IGNORECASE | re.ASCII)
_WHOLE: Final = re.compile(r"\d{1,4}", re.ASCII)

Explain = Callable[[str, str], str]

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


def judge(raw: pd.DataFrame, ledger: Ledger, *, region: int) -> Bands:
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
    mhz = numbers.frequency_mhz(bare, "mhz")
    if mhz is None:
        return UNREADABLE
    name = bands.band_anywhere(mhz)
    return bands.names().index(name) if name else _by_megahertz(mhz)


def _named(name: str) -> int:
    return bands.names().index(name) if name in bands.names() else UNREADABLE


def _by_megahertz(mhz: float) -> int:
    """The band that people call by this number of megahertz: its lower edge cut to 1.8, 3.5, 5, 7, 10, 14 and so on."""
    for at, name in enumerate(bands.names()):
        lower = min(b.lower_mhz for b in bands.allocations() if b.name == name)
        upper = max(b.upper_mhz for b in bands.allocations() if b.name == name)
        cut = np.floor(lower) if lower >= 5 else np.floor(lower * 10) / 10
        if 1 <= cut <= mhz <= upper:
            return at
    return UNREADABLE


# ---------------------------------------------------------------------------------------------- the frequency column


def _frequencies(raw: pd.DataFrame, region: int, ledger: Ledger) -> tuple[Floats, Codes]:
    """Frequency [MHz] and band of each row, NaN and NONE where it has none, from the columns that there are."""
    columns = [_frequency(words(raw, name), name, region, ledger) for name in ("freq", *_UNITS) if name in raw]
    if not columns:
        return np.full(len(raw), np.nan), np.full(len(raw), NONE, dtype=np.int8)
    mhz, code = columns[0]
    for more_mhz, more_code in columns[1:]:
        mhz, code = np.where(np.isnan(mhz), more_mhz, mhz), np.where(code == NONE, more_code, code)
    return mhz, code


def _frequency(column: Words, name: str, region: int, ledger: Ledger) -> tuple[Floats, Codes]:
    """The same from one column; frequencies beside the region's bands are noted."""
    mhz = _megahertz(column, name)
    code = bands.codes(mhz)
    abroad = (code >= 0) & (bands.codes(mhz, region) < 0)
    if abroad.any():
        notes = [_abroad(mhz[k], int(code[k]), region) if abroad[k] else None for k in range(len(column))]
        ledger.add_words(column, notes)
    code[~column.blank & np.isnan(mhz)] = UNREADABLE
    code[~np.isnan(mhz) & (code < 0)] = OUTSIDE
    return mhz[column.codes], code[column.codes]


def _megahertz(column: Words, name: str) -> Floats:
    """Each word in MHz, NaN where it is no frequency."""
    values = numbers.plain(column)
    values[values <= 0] = np.nan
    if name == "freq":
        values = _by_magnitude(values)
    else:
        values = np.round(values * _UNITS[name], 9)
    for at in np.flatnonzero(np.isnan(values) & ~column.blank):
        values[at] = _one(column.texts[at], name)
    return values


def _one(text: str, name: str) -> float:
    """A frequency that is no plain number: a decimal comma, or a unit behind it."""
    found = numbers.parse(text)
    if found is None or found[0] <= 0:
        return np.nan
    if name == "freq" and not found[1]:
        return float(_by_magnitude(np.array([found[0]]))[0])
    mhz = numbers.frequency_mhz(text, name.removeprefix("freq_"))
    return np.nan if mhz is None else mhz


def _by_magnitude(values: Floats) -> Floats:
    """In MHz: as MHz, kHz or Hz, whichever is in an amateur band; where none is, by size."""
    mhz = np.round(np.where(values < 1e3, values, np.where(values < 1e6, values / 1e3, values / 1e6)), 9)
    for scale in (1e-6, 1e-3, 1.0):
        scaled = np.round(values * scale, 9)
        mhz = np.where(bands.codes(scaled) >= 0, scaled, mhz)
    return np.asarray(mhz, dtype=np.float64)


def _abroad(mhz: float, code: int, region: int) -> Finding:
    name = bands.names()[code]
    edges = bands.edges_mhz(name, region)
    home = any(b.name == name and region in b.regions for b in bands.allocations())
    there = f" ({edges[0]:g} to {edges[1]:g} MHz there)" if edges and home else ""
    why = f"{mhz:g} MHz is outside the {name} band of ITU region {region}{there}; it counts as {name} all the same."
    return Finding("frequency-other-region", NOTE, why)


# ------------------------------------------------------------------------------------------------------ both together


def _agree(raw: pd.DataFrame, stated: Codes, code: Codes, ledger: Ledger) -> Codes:
    """The band of each row. Where band and frequency contradict each other neither can be trusted: rejected."""
    if (code >= 0).all() and (stated == NONE).all():
        return code
    silent = (stated == NONE) & (code == NONE)
    ledger.add(np.flatnonzero(silent), Finding("band-blank", REJECTED, "Neither band nor frequency is given."))
    _say(raw, ledger, (code == UNREADABLE) & (stated < 0), "frequency-unreadable", REJECTED, _no_frequency)
    _say(raw, ledger, (code == UNREADABLE) & (stated >= 0), "frequency-unreadable", NOTE, _no_frequency_but_band)
    _say(raw, ledger, (code == OUTSIDE) & (stated < 0), "frequency-outside-bands", REJECTED, _outside)
    _say(raw, ledger, (code == NONE) & (stated == UNREADABLE), "band-unreadable", REJECTED, _no_band)
    _say(raw, ledger, (code >= 0) & (stated == UNREADABLE), "band-unreadable", NOTE, _no_band_but_frequency)
    clash = (stated >= 0) & ((code == OUTSIDE) | ((code >= 0) & (code != stated)))
    _say(raw, ledger, clash, "band-frequency", REJECTED, _contradiction)
    return np.where(code >= 0, code, stated)


def _say(
    raw: pd.DataFrame, ledger: Ledger, flags: npt.NDArray[np.bool_], rule: str, severity: str, explain: Explain
) -> None:
    """Say of each flagged row what `explain` makes of its two cells."""
    rows = np.flatnonzero(flags)
    if not len(rows):
        return
    cells = pd.DataFrame({"band": _cell(raw, rows, ["band"]), "frequency": _cell(raw, rows, ["freq", *_UNITS])})
    which = cells.groupby(["band", "frequency"], sort=False).ngroup().to_numpy().astype(np.int64)
    pairs = cells.drop_duplicates()
    findings = [Finding(rule, severity, explain(*pair)) for pair in zip(pairs["band"], pairs["frequency"], strict=True)]
    ledger.add_each(rows, which, findings)


def _cell(raw: pd.DataFrame, rows: npt.NDArray[np.intp], names: list[str]) -> list[str]:
    """What stands in the first of these columns that says anything, in quotes, with the unit of the header."""
    found = [""] * len(rows)
    for name in (name for name in names if name in raw):
        unit = {"freq_hz": " Hz", "freq_khz": " kHz", "freq_mhz": " MHz"}.get(name, "")
        texts = raw[name].take(rows).astype("str").fillna("")
        found = [old or (f"{quoted(new)}{unit}" if new.strip() else "") for old, new in zip(found, texts, strict=True)]
    return found


def _no_frequency(band: str, frequency: str) -> str:
    return f"{frequency} is no frequency; a number such as 14.0971 is wanted."


def _no_frequency_but_band(band: str, frequency: str) -> str:
    return f"{frequency} is no frequency; the row is kept for its band {band}."


def _outside(band: str, frequency: str) -> str:
    found = re.match(r"'([\d.]+)' (k?)(M?)Hz", frequency)
    smaller = "" if found is None or not (found[2] or found[3]) else "kHz" if found[3] else "Hz"
    mhz = numbers.frequency_mhz(found[1], smaller.lower()) if found and smaller else None
    hint = f"; in {smaller} it would be on {bands.band_anywhere(mhz)}" if mhz and bands.band_anywhere(mhz) else ""
    return f"{frequency} is in no amateur band{hint}."


def _no_band(band: str, frequency: str) -> str:
    return f"{band} is no band; a wavelength such as 20m is wanted."


def _no_band_but_frequency(band: str, frequency: str) -> str:
    return f"{band} is no band; the row is kept for its frequency {frequency}."


def _contradiction(band: str, frequency: str) -> str:
    return f"The band {band} and the frequency {frequency} contradict each other."
