"""Power at the antenna: what is left of the radio's watts at the far end of the feedline, and which powers spots had.

Antenna gain is not assumed, and e.r.p. is out of scope: a comparison of antennas is to measure the gain, not to assume
it. What a study does not say is listed as missing, and nothing is put in its place. Numbers and codes only:
`tell/sentences/power.py` says them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Final, Literal, NamedTuple

import pandas as pd

from reach.base import bands as bands_of
from reach.base import keys
from reach.errors import LineError
from reach.radio import feedline, mismatch
from reach.radio.feedline import Line
from reach.study import Setup, Study

Where = Literal["antenna", "radio"]

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
# Impedance at the end of a half-wave wire, by order of size (common practice): what a 49 : 1 transformer is made for,
# and a value at the upper end.
END_OHM: Final = (2450.0, 4000.0)


class Missing(Enum):
    """What would have to be known for the power at the antenna, and is not."""

    POWER = "power"
    LINE = "line"
    SWR = "swr"
    FREQUENCY = "frequency"
    LOSS = "loss"  # the line is known, its loss at this frequency is not: outside Line.range_mhz


class Power(NamedTuple):
    """The power of one setup on one band [W], and where it was known; None where it was not known at all."""

    power_w: float | None
    at: Where


class Stated(NamedTuple):
    """The powers that a report was made with.

    at       where they are known: at the antenna, else at the radio, else nowhere
    watts    distinct, rising; exact, so several may read alike
    silent   setups in use of which nothing is known though others are; "" are reports without a setup
    """

    at: Literal["antenna", "radio", "unknown"]
    watts: tuple[float, ...] = ()
    silent: tuple[str, ...] = ()


@dataclass(frozen=True)
class Budget:
    """Where the power of one setup goes at one frequency. None: the study does not say enough to know.

    frequency_mhz       None where the band has no known frequency
    power_at_radio_w    into the feedline
    line                the feedline, None where none was given
    matched_loss_db     of the feedline when matched
    spread_percent      by how much published losses for the class of cable differ; None for an own figure
    swr_at_antenna      as given or from R + jX
    swr_at_radio        what a meter at the radio shows of it
    extra_loss_db       what that SWR adds to the loss (an estimate)
    extra_swing_db      by how much the estimate may miss, either way
    power_at_antenna_w  what is left
    missing             what would have to be known; empty where everything is
    """

    frequency_mhz: float | None
    power_at_radio_w: float | None
    line: Line | None = None
    matched_loss_db: float | None = None
    spread_percent: float | None = None
    swr_at_antenna: float | None = None
    swr_at_radio: float | None = None
    extra_loss_db: float | None = None
    extra_swing_db: float | None = None
    power_at_antenna_w: float | None = None
    missing: tuple[Missing, ...] = ()

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

    def numbers(self) -> dict[str, float | None]:
        """NUMBERS as plain JSON values, rounded to what they are worth; None where not known."""
        found = {name: getattr(self, name) for name in NUMBERS}
        return {name: None if value is None else round(value, 4) for name, value in found.items()}


def budget(setup: Setup, power_w: float | None, frequency_mhz: float | None) -> Budget:
    """Where the power of a setup goes at a frequency.

    setup : its feedline and match, that of the band where it has one; power_w : at the radio, above 0, None where not known
    frequency_mhz : above 0, None where not known
    Returns Budget. LineError, one sentence, where a value cannot be or the frequency is outside what is known of the
    cable.
    """
    line = None if setup.cable is None else Line.of(setup.cable)
    band = None if frequency_mhz is None else bands_of.band_anywhere(frequency_mhz)
    return of_line(line, swr_of(setup, band), power_w, frequency_mhz)


def of_line(
    line: Line | None, swr_at_antenna: float | None, power_w: float | None, frequency_mhz: float | None
) -> Budget:
    """The same from a feedline and an SWR at the antenna; None where not known."""
    if power_w is not None and not (math.isfinite(power_w) and power_w > 0):
        raise LineError(f"a power of {power_w:g} W cannot be: it is a number above 0, such as 5")
    if frequency_mhz is not None:
        feedline.check_frequency_mhz(frequency_mhz)
    swr = None if swr_at_antenna is None else float(mismatch.check_swr(swr_at_antenna))
    missing = _missing({Missing.POWER: power_w, Missing.LINE: line, Missing.SWR: swr, Missing.FREQUENCY: frequency_mhz})
    if line is None or frequency_mhz is None:
        return Budget(frequency_mhz, power_w, line, swr_at_antenna=swr, missing=missing)
    matched = line.matched_loss_db(frequency_mhz)
    # Without a line, or on one without loss, an SWR costs nothing here; so it need not be known.
    extra = 0.0 if matched == 0 else None if swr is None else float(feedline.extra_loss_db(matched, swr))
    left = None if extra is None or power_w is None else power_w * 10 ** (-(matched + extra) / 10)
    return Budget(
        frequency_mhz,
        power_w,
        line,
        matched_loss_db=matched,
        spread_percent=None if line.kind is None else feedline.find(line.kind).spread_percent,
        swr_at_antenna=swr,
        swr_at_radio=None if swr is None else float(mismatch.swr_at_radio(swr, matched)),
        extra_loss_db=extra,
        extra_swing_db=None if swr is None else feedline.extra_loss_swing_db(line, frequency_mhz, swr),
        power_at_antenna_w=left,
        missing=missing,
    )


def _missing(parts: Mapping[Missing, object]) -> tuple[Missing, ...]:
    return tuple(what for what, given in parts.items() if given is None)


def budgets(study: Study, bands: Mapping[str, float | None] | Iterable[str]) -> dict[tuple[str, str], Budget]:
    """All setups of a study on all bands.

    bands : names of bands with the frequency used on each [MHz], None for the middle of the band; or names alone
    Returns Budget by (setup, band). Without any setup the key is ("", band), with the station's power alone.
    A band outside what is known of a cable is listed as missing, because a walk has the bands that it has; any other
    impossible value is a LineError that names the setup.
    """
    wanted = dict(bands) if isinstance(bands, Mapping) else dict.fromkeys(bands)
    setups = study.setups or {"": Setup()}
    found = {}
    for name, setup in setups.items():
        for band, typical_mhz in wanted.items():
            mhz = typical_mhz if typical_mhz is not None else bands_of.middle_mhz(band, study.options.itu_region or 1)
            try:
                found[name, band] = _on_band(setup, band, study.power_w(name), mhz)
            except LineError as error:
                raise LineError(f"setup {name!r} on {band}: {error}") from None
    return found


def _on_band(setup: Setup, band: str, power_w: float | None, frequency_mhz: float | None) -> Budget:
    line, swr = None if setup.cable is None else Line.of(setup.cable), swr_of(setup, band)
    if line is None or frequency_mhz is None or line.covers(frequency_mhz):
        return of_line(line, swr, power_w, frequency_mhz)
    return Budget(
        frequency_mhz,
        power_w,
        line,
        swr_at_antenna=swr,
        missing=_missing({Missing.POWER: power_w, Missing.LOSS: None, Missing.SWR: swr}),
    )


def swr_of(setup: Setup, band: str | None = None) -> float | None:
    """The SWR at the antenna of a setup on a band, as given or from R + jX; None where the study does not say."""
    match = setup.on(band)
    if match.swr is not None:
        return float(mismatch.check_swr(match.swr))
    if match.resistance_ohm is None or match.reactance_ohm is None:
        return None
    return float(mismatch.swr_of_impedance(match.resistance_ohm, match.reactance_ohm))


def dbm(power_w: float) -> float:
    """Power in dB over a milliwatt; 5 W is 36.99 dBm. Source: ITU-R V.574 (common practice)."""
    return 10 * math.log10(power_w * 1000)


def end_voltage_v(power_w: float, resistance_ohm: float) -> float:
    """RMS voltage of a power in a resistance [V].

    power_w, resistance_ohm : above 0
    Returns sqrt(P R): 5 W into 2450 ohm is 111 V. LineError where either is not above 0 or not finite.
    """
    for value, what in ((power_w, "a power in watts"), (resistance_ohm, "a resistance in ohms")):
        if not (math.isfinite(value) and value > 0):
            raise LineError(f"{value:g} cannot be {what}: it is a number above 0")
    return math.sqrt(power_w * resistance_ohm)


# --- the powers behind a table of spots ---------------------------------------------------------------------------------


def frequencies_mhz(spots: pd.DataFrame) -> dict[str, float | None]:
    """The bands of the spots, with the median of the frequencies reported on each; None where none was.

    spots : spot table; needs band, freq_mhz. For the losses of a line that is near enough.
    """
    medians = spots.groupby("band", observed=True)["freq_mhz"].median()
    return {str(band): None if pd.isna(mhz) else float(mhz) for band, mhz in medians.items()}


def powers(
    study: Study, spots: pd.DataFrame, budgets: Mapping[tuple[str, str], Budget]
) -> dict[tuple[str, str], Power]:
    """Power by (setup, band) for figures per watt: at the antenna where the study tells enough, else at the radio.

    spots : spot table; needs setup, band, power_w. Reports without a setup stand under setup "".
    Where the study says nothing of power, the spots' own power is taken if all of a setup and band agree: a figure per
    watt needs one power.
    """
    found, rows = {}, distinct(spots)
    for (name, band), own in rows.groupby([_setup_names(rows), "band"], observed=True)["power_w"]:
        budget = budgets.get((str(name), str(band)))
        watts, at = budget.known if budget is not None else (None, "radio")
        if watts is None and own.notna().all() and own.min() == own.max():
            watts = float(own.iloc[0])
        found[str(name), str(band)] = Power(watts, at)
    return found


def distinct(spots: pd.DataFrame) -> pd.DataFrame:
    """The distinct setups, bands and powers of the rows, in the order in which they first stand there: of millions a handful.

    spots : spot table; needs setup, band, power_w
    """
    named = ["setup", "band", "power_w"]
    held = spots[named].astype({"setup": "category", "band": "category"})
    return held.take(keys.first_of_each(held, named)).reset_index(drop=True)


def of_far_ends(spots: pd.DataFrame) -> pd.Series:
    """Power of those whom the station heard, from their own rows: by (rx_call, band, hour_utc) [W].

    spots : spot table of the direction `heard`, in which rx_call is who transmitted; needs power_w
    One that changed its power within an hour has the mean of its dBm there; rows without a power tell nothing.
    """
    known = spots[spots["power_w"].notna().to_numpy()]
    by = [
        known["rx_call"].astype(str).rename("rx_call"),
        known["band"].astype(str).rename("band"),
        known["time_utc"].dt.floor("h").astype("datetime64[s, UTC]").rename("hour_utc"),
    ]
    # Logarithms, for it is decibels that are taken off.
    mean = known["power_w"].astype(float).map(math.log10).groupby(by).mean()
    return mean.rpow(10.0)


def stated(study: Study, spots: pd.DataFrame, budgets: Mapping[tuple[str, str], Budget]) -> Stated:
    """The powers behind the spots, for everything that says with how many watts a report was made.

    spots : spot table; needs setup, band, power_w; may be empty: then all setups of the study stand for those in use
    At the antenna where the budgets know it for every setup and band in use. A few known ones would speak for the
    others, so else everything is told at the radio: by the study, and for setups it says nothing of by their own rows.
    """
    pairs = distinct(spots)
    pairs = pairs.assign(setup=_setup_names(pairs))
    in_use = set(zip(pairs["setup"].astype(str), pairs["band"].astype(str), strict=True)) or set(budgets)
    there = [budgets[key].power_at_antenna_w if key in budgets else None for key in in_use]
    left = {watts for watts in there if watts is not None}
    if left and None not in there:
        return Stated("antenna", tuple(sorted(left)))
    watts, silent = at_radio_w(study, spots)
    return Stated("radio", watts, silent) if watts else Stated("unknown")


def at_radio_w(study: Study, spots: pd.DataFrame) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """The distinct powers at the radio behind the spots, rising [W], and the setups of which none is known.

    spots : spot table; needs setup, band, power_w; may be empty: then all setups of the study stand for those in use
    Of each setup the study's power; where it says none, those of the setup's own rows, to a milliwatt: they are kept
    as float32, in which 0.2 W is 0.200000003.
    """
    rows = distinct(spots)
    rows = rows.assign(setup=_setup_names(rows))
    known: set[float] = set()
    silent = []
    for name in sorted(rows["setup"].astype(str).unique()) or sorted(study.setups) or [""]:
        told = study.power_w(name)
        own = rows["power_w"][(rows["setup"] == name).to_numpy()].dropna()
        its = {float(told)} if told is not None else {round(float(watts), 3) for watts in own}
        known |= its
        silent += [] if its else [name]
    return tuple(sorted(known)), tuple(silent)


def _setup_names(spots: pd.DataFrame) -> pd.Series:
    """The setup of each row, "" where it has none, as budgets are keyed; a category, so that millions of rows are quick."""
    setup = spots["setup"].astype("category")
    return (setup if "" in setup.cat.categories else setup.cat.add_categories("")).fillna("")
