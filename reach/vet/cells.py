"""What one cell says: who heard it, and numbers such as SNR, frequency and power.

The shape of a callsign is generous: it tells one from a listener's number or a nickname, and judges nobody's licence.
Numbers have decimal points or commas, any usual minus, a unit behind.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from reach.base.vocabulary import Words
from reach.vet.ledger import NOTE, REJECTED, Finding

Floats = npt.NDArray[np.float64]

LONGEST: Final = 32  # characters of an identifier
LOWEST_SNR_DB: Final = -60.0
HIGHEST_SNR_DB: Final = 60.0
HIGHEST_POWER_W: Final = 100_000.0

# Prefix (1 to 3 characters, a letter among them, no Q and no 0 or 1 in front: Radio Regulations, Appendix 42 allots
# none), a number, a suffix that ends in a letter. Before or after it, behind strokes: a visitor's prefix, /P, /MM, /4.
_BASE: Final = r"(?:[A-PR-Z][A-Z]?|[2-9][A-Z]{1,2}|[A-PR-Z][2-9])\d{1,4}[A-Z0-9]{0,5}[A-Z]"
_CALLSIGN: Final = re.compile(
    rf"(?:[A-Z0-9]{{1,4}}/)?{_BASE}(?:-[A-Z0-9]{{1,2}})?(?:/[A-Z0-9]{{1,5}}){{0,3}}", re.ASCII
)


def is_callsign(text: str) -> bool:
    """Whether a text has the shape of an amateur callsign, portable forms such as F/EI4QTB/P included.

    text : in any case, blanks around it do not matter. False for numbers of listeners such as NL9222.
    """
    return _CALLSIGN.fullmatch(text.strip().upper()) is not None


def callsign(text: str) -> tuple[str | None, Finding | None]:
    """The identifier in upper case, or None where it cannot be one; and what was found of it.

    text : what came; blanks around it do not matter
    """
    bare = " ".join(text.split()).upper()
    if not bare:
        return None, Finding("callsign-blank", REJECTED)
    if not any(character.isalnum() for character in bare):
        return None, Finding("callsign-unreadable", REJECTED, text, detail="nobody")
    if not bare.isprintable():
        return None, Finding("callsign-unreadable", REJECTED, text, detail="unprintable")
    if len(bare) > LONGEST:
        return None, Finding("callsign-too-long", REJECTED, text, str(len(bare)))
    return bare, None if is_callsign(bare) else _nearly(bare)


def _nearly(bare: str) -> Finding | None:
    """A note where the text is one obvious step from a callsign."""
    joined = bare.replace(" ", "")
    # Wide letters of East Asian keyboards and the zero with a stroke: what they mean is plain, who they are is not ours to say.
    plain = unicodedata.normalize("NFKC", joined).replace("Ø", "0")
    if not is_callsign(plain):
        return None
    rule = "callsign-blank-inside" if joined == plain else "callsign-not-ascii"
    return Finding(rule, NOTE, bare, suggestion=plain)


# ------------------------------------------------------------------------------------------------------------- numbers

_SIGNS: Final = str.maketrans(
    {"\u2212": "-", "\u2013": "-", "\u2010": "-", "\u2011": "-", "\uff0d": "-", "\uff0b": "+"}
)
_NUMBER: Final = re.compile(
    r"(?P<number>[-+]? ?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[-+]?\d{1,2})?) ?(?P<unit>[a-z]*)", re.IGNORECASE | re.ASCII
)
_PLAIN: Final = r"^[-+]?\d{1,15}(\.\d{1,15})?$"
_RST: Final = re.compile(r"[1-5][1-9]{1,2}")  # readability, strength and perhaps tone
_TO_W: Final = {"w": 1.0, "watt": 1.0, "watts": 1.0, "mw": 1e-3, "kw": 1e3}
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
    # A frequency column may have nearly as many words as rows, so Arrow reads them at once and only the rest go one by one.
    texts = pa.array(words.index, pa.large_string())
    are = np.asarray(pc.match_substring_regex(texts, _PLAIN))
    values = np.full(len(words), np.nan)
    if are.any():
        values[are] = pc.cast(pc.utf8_ltrim(texts.filter(pa.array(are)), characters="+"), pa.float64())
    return values


def snr_db(text: str) -> tuple[float, Finding | None]:
    """An SNR [dB]; NaN and the reason where it is none or is out of range."""
    if not text.strip():
        return np.nan, Finding("snr-blank", REJECTED)
    found = parse(text)
    if found is None or found[1] not in ("", "db"):
        return np.nan, Finding("snr-unreadable", REJECTED, text)
    value = found[0]
    if not LOWEST_SNR_DB <= value <= HIGHEST_SNR_DB:
        return np.nan, Finding("snr-range", REJECTED, text, detail="report" if _RST.fullmatch(text.strip()) else "")
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
    unit = found[1] or unit if found else unit
    if found is None or unit not in (*_TO_W, "dbm"):
        return np.nan, Finding("power-unreadable", NOTE, text)
    value = _dbm_as_w(found[0]) if unit == "dbm" else found[0] * _TO_W[unit]
    if not 0 < value <= HIGHEST_POWER_W:
        return np.nan, Finding("power-range", NOTE, text)
    return value, None


def _dbm_as_w(value: float) -> float:
    return float(10 ** (min(value, 200.0) / 10 - 3)) if value > -300 else 0.0
