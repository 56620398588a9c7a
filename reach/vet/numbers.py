"""Texts of numbers: SNR, frequency and power. Decimal points or commas, any usual minus, a unit behind."""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from reach.base.vocabulary import Words
from reach.base.words import quoted
from reach.vet.ledger import NOTE, REJECTED, Finding

Floats = npt.NDArray[np.float64]

LOWEST_SNR_DB: Final = -60.0
HIGHEST_SNR_DB: Final = 60.0
HIGHEST_POWER_W: Final = 100_000.0

_SIGNS: Final = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u2010": "-", "\u2011": "-", "\uff0d": "-", "\uff0b": "+"}
)
_NUMBER: Final = re.compile(
    r"(?P<number>[-+]? ?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[-+]?\d{1,2})?) ?(?P<unit>[a-z]*)", re.IGNORECASE | re.ASCII
)
_PLAIN: Final = r"^[-+]?\d{1,15}(\.\d{1,15})?$"
_RST: Final = re.compile(r"[1-5][1-9]{1,2}")  # readability, strength and perhaps tone
_MHZ: Final = {"hz": 1e-6, "khz": 1e-3, "mhz": 1.0, "ghz": 1e3}


def parse(text: str) -> tuple[float, str] | None:
    """A number and the unit behind it in lower case; None where the text is none.

    text : such as "-12", "+3", "-12,5", "−12 dB"
    """
    found = _NUMBER.fullmatch(" ".join(text.translate(_SIGNS).split()))
    if not found:
        return None
    return float(found["number"].replace(",", ".").replace(" ", "")), found["unit"].lower()


def plain(words: Words) -> Floats:
    """Words that are numbers without further ado, NaN for all others; shape (words,)."""
    texts = pa.array(words.index, pa.large_string())
    are = np.asarray(pc.match_substring_regex(texts, _PLAIN))
    values = np.full(len(words), np.nan)
    if are.any():
        values[are] = pc.cast(pc.utf8_ltrim(texts.filter(pa.array(are)), characters="+"), pa.float64())
    return values


def snr_db(text: str) -> tuple[float, Finding | None]:
    """An SNR [dB]; NaN and the reason where it is none or is out of range."""
    if not text.strip():
        return np.nan, Finding("snr-blank", REJECTED, "The SNR is blank.")
    found = parse(text)
    if found is None or found[1] not in ("", "db"):
        why = f"{quoted(text)} is no SNR; a number of dB such as -12 is wanted."
        return np.nan, Finding("snr-unreadable", REJECTED, why)
    value = found[0]
    if not LOWEST_SNR_DB <= value <= HIGHEST_SNR_DB:
        like = " (it looks like a readability and strength report)" if _RST.fullmatch(text.strip()) else ""
        span = f"{LOWEST_SNR_DB:.0f} to {HIGHEST_SNR_DB:.0f} dB"
        return np.nan, Finding("snr-range", REJECTED, f"{quoted(text)} is no SNR from {span}{like}.")
    return value, None


def frequency_mhz(text: str, unit: str) -> float | None:
    """A frequency [MHz] from a text in `unit` (hz, khz, mhz); a unit in the text itself goes before. None where it
    is none.
    """
    found = parse(text)
    if found is None or not (found[1] == "" or found[1] in _MHZ) or found[0] <= 0:
        return None
    return round(found[0] * _MHZ[found[1] or unit], 9)


def power_w(text: str, unit: str) -> tuple[float, Finding | None]:
    """A power [W] from a text in `unit` (w, mw, dbm); a unit in the text itself goes before. NaN where it is blank;
    NaN and a note where it is none.
    """
    if not text.strip():
        return np.nan, None
    found = parse(text)
    to_w = {"w": _as_w, "watt": _as_w, "watts": _as_w, "mw": _mw_as_w, "dbm": _dbm_as_w, "kw": _kw_as_w}
    if found is None or (found[1] or unit) not in to_w:
        why = f"{quoted(text)} is no power; a number of watts such as 5 is wanted. The power counts as unknown."
        return np.nan, Finding("power-unreadable", NOTE, why)
    value = to_w[found[1] or unit](min(found[0], 1e9))
    if not 0 < value <= HIGHEST_POWER_W:
        why = f"{quoted(text)} is no power above 0 and up to 100 kW. The power counts as unknown."
        return np.nan, Finding("power-range", NOTE, why)
    return value, None


def _as_w(value: float) -> float:
    return value


def _kw_as_w(value: float) -> float:
    return value * 1e3


def _mw_as_w(value: float) -> float:
    return value / 1e3


def _dbm_as_w(value: float) -> float:
    return float(10 ** (min(value, 200.0) / 10 - 3)) if value > -300 else 0.0
