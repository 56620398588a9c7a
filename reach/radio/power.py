"""Power at the antenna: what is left of the radio's watts at the far end of the feedline, and what that is good for.

Antenna gain is not assumed, and e.r.p. is out of scope: a comparison of antennas is to measure the gain, not to assume
it. What a study does not say is listed as missing, and nothing is put in its place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands as plan
from reach.errors import LineError
from reach.radio import feedline, mismatch
from reach.radio.feedline import Line
from reach.study import Setup, Study

Floats = npt.NDArray[np.float64]
Where = Literal["antenna", "radio"]

NO_POWER: Final = "the power at the radio"
NO_LINE: Final = "the feedline (class of cable and length)"
NO_SWR: Final = "the SWR or R and X at the antenna"
ESTIMATE: Final = "What the SWR adds is an estimate: it takes the mean over all places of the standing wave."
ONE_SWR: Final = "A setup has one SWR in the study, and it is used on every band; measure it on each."
CAN_DIFFER: Final = "Cables of one class differ, and age adds loss."
NUMBERS: Final = (
    "frequency_mhz",
    "power_at_radio_w",
    "power_at_radio_dbm",
    "matched_loss_db",
    "spread_percent",
    "swr_at_antenna",
    "swr_at_radio",
    "return_loss_db",
    "mismatch_loss_db",
    "extra_loss_db",
    "extra_swing_db",
    "total_loss_db",
    "power_at_antenna_w",
    "power_at_antenna_dbm",
    "at_most_w",
)
TUNER: Final = "The radio is taken to give its full power into that, by way of a tuner whose own loss is not counted."
TUNER_FROM_SWR: Final = 2.0  # where many radios without a tuner begin to lower their power (common practice)
SHOWN_SWING_DB: Final = 0.05  # a possible miss below this is not worth a sentence


class Power(NamedTuple):
    """The power of one setup on one band [W], and where it was known: at the antenna or at the radio."""

    power_w: float | None
    at: str


@dataclass(frozen=True)
class Budget:
    """Where the power of one setup goes at one frequency. None: the study does not say enough to know.

    frequency_mhz       None where the band has no known frequency
    power_at_radio_w    into the feedline
    line                the feedline in words, empty where none was given
    matched_loss_db     of the feedline when matched
    spread_percent      by how much published losses for the class of cable differ; None for an own figure
    swr_at_antenna      as given or from R + jX
    swr_at_radio        what a meter at the radio shows of it
    extra_loss_db       what that SWR adds to the loss (an estimate)
    extra_swing_db      by how much the estimate may miss, either way
    power_at_antenna_w  what is left
    missing             what would have to be known, as phrases; empty where everything is
    """

    frequency_mhz: float | None
    power_at_radio_w: float | None
    line: str = ""
    matched_loss_db: float | None = None
    spread_percent: float | None = None
    swr_at_antenna: float | None = None
    swr_at_radio: float | None = None
    extra_loss_db: float | None = None
    extra_swing_db: float | None = None
    power_at_antenna_w: float | None = None
    missing: tuple[str, ...] = ()

    @property
    def power_at_radio_dbm(self) -> float | None:
        """The same in dBm."""
        return None if self.power_at_radio_w is None else dbm(self.power_at_radio_w)

    @property
    def power_at_antenna_dbm(self) -> float | None:
        """The same in dBm."""
        return None if self.power_at_antenna_w is None else dbm(self.power_at_antenna_w)

    @property
    def total_loss_db(self) -> float | None:
        """Matched loss and what the SWR adds, together."""
        if self.matched_loss_db is None or self.extra_loss_db is None:
            return None
        return self.matched_loss_db + self.extra_loss_db

    @property
    def total_loss_range_db(self) -> tuple[float, float] | None:
        """Least and most total loss, the length of the line being what it is; see `feedline.extra_loss_swing_db`."""
        total, swing = self.total_loss_db, self.extra_swing_db
        if total is None or swing is None or self.matched_loss_db is None:
            return None
        least = self.matched_loss_db / (self.swr_at_antenna or 1.0)  # no place has less current than the wave's minimum
        return max(total - swing, min(least, total)), total + swing

    @property
    def power_range_w(self) -> tuple[float, float] | None:
        """Least and most power at the antenna for that range of losses."""
        losses = self.total_loss_range_db
        if losses is None or self.power_at_radio_w is None:
            return None
        least, most = losses
        return self.power_at_radio_w * 10 ** (-most / 10), self.power_at_radio_w * 10 ** (-least / 10)

    @property
    def at_most_w(self) -> float | None:
        """What reaches the antenna at most: the radio's power less the losses that are known, by the estimate."""
        if self.power_at_radio_w is None:
            return None
        known = (self.matched_loss_db or 0.0) + (self.extra_loss_db or 0.0)
        return self.power_at_radio_w * 10 ** (-known / 10)

    @property
    def known(self) -> tuple[float | None, Where]:
        """The power that figures per watt rest on, and where it is known: at the antenna, or else at the radio."""
        if self.power_at_antenna_w is not None:
            return self.power_at_antenna_w, "antenna"
        return self.power_at_radio_w, "radio"

    @property
    def return_loss_db(self) -> float | None:
        """Return loss at the antenna; None where the SWR is not known or nothing comes back."""
        if self.swr_at_antenna is None or self.swr_at_antenna == 1:
            return None
        return float(mismatch.return_loss_db(self.swr_at_antenna))

    @property
    def mismatch_loss_db(self) -> float | None:
        """Mismatch loss at the antenna, for information; it is no part of the losses here."""
        return None if self.swr_at_antenna is None else float(mismatch.mismatch_loss_db(self.swr_at_antenna))

    @property
    def sentence(self) -> str:
        """The finding, such as: Of your 5.0 W, 3.9 W (35.9 dBm) reach the antenna."""
        if self.power_at_radio_w is None:
            return f"What reaches the antenna is not known; missing: {', '.join(self.missing)}."
        given = watts(self.power_at_radio_w)
        if self.power_at_antenna_w is not None:
            level = f"{watts(self.power_at_antenna_w)} ({dbm(self.power_at_antenna_w):.1f} dBm)"
            return f"Of your {given}, {level} reach the antenna."
        bound = "" if self.matched_loss_db is None else f", {watts(self.at_most_w or 0.0)} at most"
        return f"How much of your {given} reaches the antenna is not known{bound}; missing: {', '.join(self.missing)}."

    @property
    def sentences(self) -> tuple[str, ...]:
        """The finding and what stands behind it."""
        return tuple(text for text in (self.sentence, self._loss(), self._swr(), self._estimate()) if text)

    def _loss(self) -> str:
        if self.matched_loss_db is None:
            return ""
        spread = f" (figures for the class differ by up to {self.spread_percent:g} %)" if self.spread_percent else ""
        matched = f"At {self.frequency_mhz:g} MHz {self.line} loses {self.matched_loss_db:.2f} dB when matched{spread}"
        total = self.total_loss_db
        if total is None or self.swr_at_antenna is None:
            return f"{matched}."
        added = f"about {self.extra_loss_db:.2f} dB more from SWR {swr_text(self.swr_at_antenna)}"
        return f"{matched}, {added}, {total:.2f} dB in all."

    def _swr(self) -> str:
        if self.swr_at_antenna is None:
            return ""
        swr = self.swr_at_antenna
        meter = f"SWR {swr_text(swr)} at the antenna reads as {swr:.1f} on a meter there"
        if self.swr_at_radio is None:
            return f"{meter}."
        flatters = ": a lossy line flatters" if round(self.swr_at_radio, 1) < round(self.swr_at_antenna, 1) else ""
        tuner = f" {TUNER}" if self.swr_at_radio >= TUNER_FROM_SWR else ""
        return f"{meter} and as {self.swr_at_radio:.1f} at the radio{flatters}.{tuner}"

    def _estimate(self) -> str:
        losses = self.total_loss_range_db
        if losses is None or (self.extra_swing_db or 0.0) < SHOWN_SWING_DB:
            return ""
        least, most = losses
        return f"{ESTIMATE} On a line of this length the whole loss may lie between {least:.2f} and {most:.2f} dB."

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain JSON values; numbers rounded to what they are worth, null where not known."""
        return {
            "line": self.line or None,
            **{name: _rounded(getattr(self, name)) for name in NUMBERS},
            "missing": list(self.missing),
            "sentences": list(self.sentences),
        }


def budget(setup: Setup, power_w: float | None, frequency_mhz: float | None) -> Budget:
    """Where the power of a setup goes at a frequency.

    setup : its feedline and match; power_w : at the radio, above 0, None where not known
    frequency_mhz : above 0, None where not known
    Returns Budget. LineError, one sentence, where a value cannot be or the frequency is outside what is known of the
    cable.
    """
    line = None if setup.cable is None else Line.of(setup.cable)
    return of_line(line, swr_of(setup), power_w, frequency_mhz)


def of_line(
    line: Line | None, swr_at_antenna: float | None, power_w: float | None, frequency_mhz: float | None
) -> Budget:
    """The same from a feedline and an SWR at the antenna; None where not known."""
    if power_w is not None and not (math.isfinite(power_w) and power_w > 0):
        raise LineError(f"a power of {power_w:g} W cannot be: it is a number above 0, such as 5")
    if frequency_mhz is not None:
        feedline.check_frequency_mhz(frequency_mhz)
    swr = None if swr_at_antenna is None else float(mismatch.check_swr(swr_at_antenna))
    missing = [
        *([NO_POWER] if power_w is None else []),
        *([NO_LINE] if line is None else []),
        *([NO_SWR] if swr is None else []),
        *(["the frequency"] if frequency_mhz is None else []),
    ]
    if line is None or frequency_mhz is None:
        return Budget(frequency_mhz, power_w, line.text if line else "", swr_at_antenna=swr, missing=tuple(missing))
    matched = line.matched_loss_db(frequency_mhz)
    # Without a line, or on one without loss, an SWR costs nothing here; so it need not be known.
    extra = 0.0 if matched == 0 else None if swr is None else float(feedline.extra_loss_db(matched, swr))
    left = None if extra is None or power_w is None else power_w * 10 ** (-(matched + extra) / 10)
    return Budget(
        frequency_mhz,
        power_w,
        line.text,
        matched_loss_db=matched,
        spread_percent=None if line.kind is None else feedline.find(line.kind).spread_percent,
        swr_at_antenna=swr,
        swr_at_radio=None if swr is None else float(mismatch.swr_at_radio(swr, matched)),
        extra_loss_db=extra,
        extra_swing_db=None if swr is None else feedline.extra_loss_swing_db(line, frequency_mhz, swr),
        power_at_antenna_w=left,
        missing=tuple(missing),
    )


def budgets(
    study: Study, bands: Mapping[str, float | None] | Iterable[str], *, also: Iterable[str] = ()
) -> dict[tuple[str, str], Budget]:
    """All setups of a study on all bands.

    bands : names of bands with the frequency used on each [MHz], None for the middle of the band; or names alone
    also : setups that spots name and the study does not; of them the station's power alone is known
    Returns Budget by (setup, band). Without any setup the key is ("", band), with the station's power alone.
    A band outside what is known of a cable is listed as missing, because a walk has the bands that it has; any other
    impossible value is a LineError that names the setup.
    """
    wanted = dict(bands) if isinstance(bands, Mapping) else dict.fromkeys(bands)
    setups = {**{name: Setup() for name in also}, **study.setups} or {"": Setup()}
    found = {}
    for name, setup in setups.items():
        for band, typical_mhz in wanted.items():
            mhz = typical_mhz if typical_mhz is not None else middle_mhz(band, region=study.options.itu_region)
            try:
                found[name, band] = _on_band(setup, study.power_w(name), mhz)
            except LineError as error:
                raise LineError(f"setup {name!r} on {band}: {error}") from None
    return found


def _on_band(setup: Setup, power_w: float | None, frequency_mhz: float | None) -> Budget:
    line = None if setup.cable is None else Line.of(setup.cable)
    if line is None or frequency_mhz is None or line.covers(frequency_mhz):
        return of_line(line, swr_of(setup), power_w, frequency_mhz)
    lowest, highest = line.range_mhz
    why = f"the loss of {line.text} at {frequency_mhz:g} MHz (known from {lowest:g} to {highest:g} MHz)"
    swr = swr_of(setup)
    missing = (*([NO_POWER] if power_w is None else []), why, *([NO_SWR] if swr is None else []))
    return Budget(frequency_mhz, power_w, line.text, swr_at_antenna=swr, missing=missing)


def middle_mhz(band: str, *, region: int = 1) -> float | None:
    """The middle of a band in an ITU region [MHz]; None where no such band is known. For losses that is near enough."""
    edges = plan.edges_mhz(band, region)
    return None if edges is None else sum(edges) / 2


def swr_of(setup: Setup) -> float | None:
    """The SWR at the antenna of a setup, as given or from R + jX; None where the study does not say."""
    if setup.swr is not None:
        return float(mismatch.check_swr(setup.swr))
    if setup.resistance_ohm is None or setup.reactance_ohm is None:
        return None
    return float(mismatch.swr_of_impedance(setup.resistance_ohm, setup.reactance_ohm))


def dbm(power_w: float) -> float:
    """Power in dB over a milliwatt; 5 W is 36.99 dBm. Source: ITU-R V.574 (common practice)."""
    return 10 * math.log10(power_w * 1000)


def power_difference_db(a: Budget, b: Budget, *, at: Where = "antenna") -> float | None:
    """By how many dB the power of `a` lies above that of `b`; None where either is not known there.

    at : compare the powers at the antenna, or at the radio
    A comparison of SNR takes this off to compare antennas as if fed alike: (snr_b - snr_a) + power_difference_db(a, b).
    power_difference_db(a, b) == -power_difference_db(b, a).
    """
    first, second = (each.power_at_antenna_w if at == "antenna" else each.power_at_radio_w for each in (a, b))
    return None if first is None or second is None else 10 * math.log10(first / second)


def difference_sentence(a: Budget, b: Budget, *, name_a: str, name_b: str) -> str:
    """How the powers of two setups compare, and whether that is known at the antenna, only at the radio, or not."""
    at_antenna = power_difference_db(a, b)
    at_radio = power_difference_db(a, b, at="radio")
    if at_antenna is not None:
        return f"{_against(a.power_at_antenna_w, b.power_at_antenna_w, at_antenna, name_a, name_b)} at the antenna."
    missing = "; ".join(f"{name}: {', '.join(x.missing)}" for name, x in ((name_a, a), (name_b, b)) if x.missing)
    if at_radio is not None:
        known = _against(a.power_at_radio_w, b.power_at_radio_w, at_radio, name_a, name_b)
        return f"{known} at the radio; what reached the antennas is not known ({missing})."
    return f"Whether {name_a} and {name_b} had the same power is not known ({missing})."


def _against(a_w: float | None, b_w: float | None, difference_db: float, name_a: str, name_b: str) -> str:
    assert a_w is not None and b_w is not None
    if abs(difference_db) < 0.05:
        return f"{name_a} and {name_b} had the same power, {watts(a_w)},"
    more, less = (name_a, name_b) if difference_db > 0 else (name_b, name_a)
    high, low = max(a_w, b_w), min(a_w, b_w)
    return f"{more} had {abs(difference_db):.1f} dB more power than {less} ({watts(high)} against {watts(low)})"


def snr_per_watt_db(snr_db: npt.ArrayLike, power_w: npt.ArrayLike) -> Floats:
    """SNR as if sent with 1 W, everything else the same.

    snr_db, power_w : broadcast to shape (...), dB and W; NaN where not known
    Returns dB, shape (...). LineError where a power is not above 0.
    """
    return np.asarray(np.asarray(snr_db, dtype=float) - 10 * np.log10(_known_power(power_w)))


def km_per_watt(distance_km: npt.ArrayLike, power_w: npt.ArrayLike) -> Floats:
    """Kilometres per watt: distance_km, power_w broadcast to shape (...). LineError where a power is not above 0."""
    return np.asarray(np.asarray(distance_km, dtype=float) / _known_power(power_w))


def at_antenna_w(spots: pd.DataFrame, budgets: Mapping[tuple[str, str], Budget]) -> Floats:
    """The power at the antenna behind each spot.

    spots : spot table; needs power_w, band, setup
    Returns W, shape (n,): the row's own power at the radio (the budget's where the row has none) less the losses of its
    setup on its band; NaN where either is not known.
    """
    band = spots["band"].astype(object).to_numpy()
    setup = spots["setup"].astype(object).where(spots["setup"].notna(), "").to_numpy()
    radio_w = spots["power_w"].to_numpy().astype(float)
    power_w = np.full(len(spots), np.nan)
    for (its_setup, its_band), found in budgets.items():
        if found.total_loss_db is not None:
            rows = (setup == its_setup) & (band == its_band)
            there = found.power_at_radio_w if found.power_at_radio_w is not None else np.nan
            given = np.where(np.isnan(radio_w[rows]), there, radio_w[rows])
            power_w[rows] = given * 10 ** (-found.total_loss_db / 10)
    return power_w


def watts(power_w: float) -> str:
    """A power in words: 3.9 W, 120 W, 450 mW."""
    if power_w >= 99.95:
        return f"{power_w:.0f} W"
    if power_w >= 0.9995:
        return f"{power_w:.1f} W"
    return f"{power_w * 1000:.0f} mW" if power_w >= 0.00095 else f"{power_w * 1000:.2g} mW"


def swr_text(swr: float) -> str:
    """An SWR with two digits after the point below 2, where they are worth something."""
    return f"{swr:.2f}" if swr < 1.995 else f"{swr:.1f}"


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _known_power(power_w: npt.ArrayLike) -> Floats:
    power = np.asarray(power_w, dtype=float)
    bad = (power <= 0) | np.isinf(power)
    if bad.any():
        raise LineError(f"a power of {power[bad].flat[0]:g} W cannot be: it is a number above 0, such as 5")
    return power


def frequencies_mhz(spots: pd.DataFrame) -> dict[str, float | None]:
    """The bands of the spots, with the median of the frequencies reported on each; None where none was."""
    medians = spots.groupby("band", observed=True)["freq_mhz"].median()
    return {str(band): None if pd.isna(mhz) else float(mhz) for band, mhz in medians.items()}


def powers(study: Study, spots: pd.DataFrame, budgets: dict[tuple[str, str], Any]) -> dict[tuple[str, str], Any]:
    """Power by (setup, band) for figures per watt: at the antenna where the study tells enough, else at the radio.

    Where the study says nothing of power, the spots' own power is taken if all of a setup and band agree.
    """
    found = {}
    setup = spots["setup"].astype(object).where(spots["setup"].notna(), "")
    for (name, band), own in spots.groupby([setup, "band"], observed=True)["power_w"]:
        budget = budgets.get((str(name), str(band)))
        watts, at = budget.known if budget is not None else (None, "radio")
        if watts is None and own.notna().all() and own.min() == own.max():
            watts = float(own.iloc[0])
        found[str(name), str(band)] = Power(watts, at)
    return found


def power_difference_between(spots: pd.DataFrame, a: str, b: str, budgets: dict[tuple[str, str], Any]) -> float | None:
    """Power of A minus power of B at the antenna, as the mean over the bands both were heard on; None if not known."""
    both = [band for band in spots["band"].cat.categories if (a, band) in budgets and (b, band) in budgets]
    known = [power_difference_db(budgets[a, band], budgets[b, band]) for band in both]
    sure = [value for value in known if value is not None]
    return sum(sure) / len(sure) if sure and len(sure) == len(known) else None
