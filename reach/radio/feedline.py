"""Feedlines: what a matched line loses, what a mismatch adds, and how sure that is.

The bundled table holds generic classes of 50 ohm coax (data/coax_attenuation.csv; provenance in data/SOURCES.md).
Cables of one class differ, by the `spread_percent` of the table where witnesses disagree, and age adds to it; a figure
of the user's own is better.
"""

from __future__ import annotations

import csv
import difflib
import io
import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from reach import data
from reach.errors import LineError
from reach.radio import mismatch
from reach.study import Cable

Floats = npt.NDArray[np.float64]

LIGHT_M_PER_US: Final = 299.792458  # by definition (SI); metres a microsecond, so divided by MHz it is a wavelength
# A figure of the user's own is scaled by the square root of frequency (skin effect). The classes of the table depart
# from that by up to 5 % over a factor of four between 1.8 and 30 MHz; beyond a factor of ten it is no longer a figure.
OWN_FIGURE_FACTOR: Final = 10.0


@dataclass(frozen=True)
class CableClass:
    """A class of coax: matched loss is k1 sqrt(f) + k2 f dB per 100 m, f in MHz, between lowest and highest.

    spread_percent  by how much published figures for the class differ from this one
    """

    name: str
    k1_db_per_100m: float
    k2_db_per_100m: float
    lowest_mhz: float
    highest_mhz: float
    spread_percent: float

    def loss_db_per_100m(self, frequency_mhz: npt.ArrayLike) -> Floats:
        """Matched loss, shape (...) [dB per 100 m]. LineError outside lowest_mhz..highest_mhz."""
        f = np.asarray(frequency_mhz, dtype=float)
        outside = ~((f >= self.lowest_mhz) & (f <= self.highest_mhz))
        if outside.any():
            raise LineError(
                f"{f[outside].flat[0]:g} MHz is outside the table: losses of {self.name} are known from "
                f"{self.lowest_mhz:g} to {self.highest_mhz:g} MHz; give your own figure in dB per 100 m at a frequency"
            )
        return np.asarray(self.k1_db_per_100m * np.sqrt(f) + self.k2_db_per_100m * f)


@cache
def classes() -> tuple[CableClass, ...]:
    """All classes of the bundled table, in its order."""
    rows = csv.DictReader(io.StringIO(data.read_text("coax_attenuation.csv")))
    numbers = ("k1_db_per_100m", "k2_db_per_100m", "lowest_mhz", "highest_mhz", "spread_percent")
    return tuple(CableClass(row["cable"], *(float(row[name]) for name in numbers)) for row in rows)


def find(kind: str) -> CableClass:
    """The class of that name; case, spaces, hyphens and the word class do not matter.

    LineError, with the nearest names, where there is none.
    """
    known = {_plain(each.name): each for each in classes()}
    if _plain(kind) in known:
        return known[_plain(kind)]
    near = difflib.get_close_matches(_plain(kind), known, n=1, cutoff=0.6)
    hint = f"did you mean {known[near[0]].name!r}? There are" if near else "there are"
    raise LineError(f"no class of cable is called {kind!r}; {hint} {', '.join(each.name for each in classes())}")


@dataclass(frozen=True)
class Line:
    """A length of feedline: of a class, or with a loss of the user's own at one frequency.

    LineError where the length is below 0, the class is unknown, or the own figure is incomplete or impossible.
    """

    length_m: float
    kind: str | None = None
    loss_db_per_100m: float | None = None
    loss_at_mhz: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.length_m) and self.length_m >= 0):
            raise LineError(f"a feedline of {self.length_m:g} m cannot be: its length is a number of metres from 0 up")
        own = (self.loss_db_per_100m, self.loss_at_mhz)
        if self.kind is not None:
            if own != (None, None):
                raise LineError("a feedline has either a class of cable or your own loss figure, not both")
            find(self.kind)
        elif self.loss_db_per_100m is None or self.loss_at_mhz is None:
            raise LineError(
                "a feedline needs a class of cable, such as 'RG-58 class', or your own loss in dB per 100 m "
                "together with its frequency in MHz"
            )
        else:
            mismatch.check_loss_db(self.loss_db_per_100m)
            check_frequency_mhz(self.loss_at_mhz)

    @classmethod
    def of(cls, cable: Cable) -> Line:
        """The line that a study describes."""
        return cls(cable.length_m, cable.kind, cable.loss_db_per_100m, cable.loss_at_mhz)

    @property
    def range_mhz(self) -> tuple[float, float]:
        """Lowest and highest frequency for which a loss is known."""
        if self.kind is not None:
            found = find(self.kind)
            return found.lowest_mhz, found.highest_mhz
        assert self.loss_at_mhz is not None
        return self.loss_at_mhz / OWN_FIGURE_FACTOR, self.loss_at_mhz * OWN_FIGURE_FACTOR

    def covers(self, frequency_mhz: float) -> bool:
        """Whether a loss is known at this frequency."""
        lowest, highest = self.range_mhz
        return lowest <= frequency_mhz <= highest

    def matched_loss_db(self, frequency_mhz: float) -> float:
        """Loss of the whole length when matched [dB].

        An own figure is scaled by the square root of frequency. LineError where `covers` says no.
        """
        check_frequency_mhz(frequency_mhz)
        if self.kind is not None:
            return float(find(self.kind).loss_db_per_100m(frequency_mhz)) * self.length_m / 100
        assert self.loss_at_mhz is not None and self.loss_db_per_100m is not None
        if not self.covers(frequency_mhz):
            lowest, highest = self.range_mhz
            raise LineError(
                f"a loss given at {self.loss_at_mhz:g} MHz says nothing about {frequency_mhz:g} MHz: it is used from "
                f"{lowest:g} to {highest:g} MHz"
            )
        return self.loss_db_per_100m * math.sqrt(frequency_mhz / self.loss_at_mhz) * self.length_m / 100


def extra_loss_db(matched_loss_db: npt.ArrayLike, swr_at_antenna: npt.ArrayLike) -> Floats:
    """What the SWR at the antenna adds to the loss of a line: an estimate.

    matched_loss_db, swr_at_antenna : broadcast to shape (...); dB >= 0, ratio >= 1
    Returns dB, shape (...), >= 0; it grows with both. LineError where either is impossible.
    It is the mean over all places where the standing wave may lie; see `extra_loss_swing_db` for short lines. The power
    that returns to the radio is taken as sent forward again, as a tuner does, and a tuner's own loss is not counted.
    Source: total = 10 log10[(A^2 - r^2) / (A (1 - r^2))], A = 10^(ML/10), r = |G|; ARRL Antenna Book, chapter on
    transmission lines; Chipman (1968), Transmission Lines; less ML, and written so that small losses keep their digits.
    """
    loss_db = mismatch.check_loss_db(matched_loss_db)
    at_antenna = mismatch.reflected_share(swr_at_antenna)
    at_radio = at_antenna * 10 ** (-loss_db / 5)
    gained = 10 / np.log(10) * (np.log1p(-at_radio) - np.log1p(-at_antenna))
    return np.maximum(gained, 0.0)


def extra_loss_swing_db(line: Line, frequency_mhz: float, swr_at_antenna: float) -> float:
    """By how much the extra loss may miss its estimate, either way [dB].

    The loss sits where the current is large, and a short line holds only a part of the standing wave: a high impedance
    at its end loses less than the estimate, a low one more. Over a length l the mean of the squared current departs
    from (S + 1/S) / 2 by at most (S - 1/S) / 2 |sin x / x|, x = 2 pi l / wavelength; 1 / x bounds that, and the
    wavelength is taken as in free space, which errs to the safe side. All loss is counted as loss in the conductors.
    Returns dB >= 0. Source: integral of the squared current of a standing wave on a line of low loss.
    """
    swr = float(mismatch.check_swr(swr_at_antenna))
    x = 2 * math.pi * line.length_m * check_frequency_mhz(frequency_mhz) / LIGHT_M_PER_US
    share = min(1.0, 1 / x) if x > 0 else 1.0
    return line.matched_loss_db(frequency_mhz) * (swr - 1 / swr) / 2 * share


def check_frequency_mhz(frequency_mhz: float) -> float:
    """The frequency. LineError where it is not above 0 or not finite."""
    if not (math.isfinite(frequency_mhz) and frequency_mhz > 0):
        raise LineError(f"a frequency of {frequency_mhz:g} MHz cannot be: it is a number above 0, such as 14.1")
    return frequency_mhz


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower()).replace("class", "")
