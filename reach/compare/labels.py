"""From a table of spots to the rows of A and B: which column tells the setups apart."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from reach.assign import schedule as schedules
from reach.assign.clock import ClockFit
from reach.assign.powers import Powers, Told
from reach.compare.comparison import LeftOut, Remark, Value
from reach.compare.reports import Bools, Cleaned, Floats, Ints, clean
from reach.errors import CompareError

NEEDED: Final = ("time_utc", "rx_call", "rx_locator", "snr_db", "band")


@dataclass(frozen=True)
class Labelled:
    """The rows of A and B.

    spots     those rows of the table, in their order
    is_a      shape (n,)
    told_by   what told the setups apart: setup | schedule | tx_call | freq_mhz
    slots     start [us since 1970] and is-A of the schedule's rows for A or B, or None
    left_out  why rows were left out: how many
    row       which rows of the table they are
    """

    spots: pd.DataFrame
    is_a: Bools
    told_by: str
    slots: tuple[Ints, Bools] | None
    left_out: dict[LeftOut, int]
    row: Ints


def label(
    spots: pd.DataFrame, a: str, b: str, schedule: pd.DataFrame | None = None, *, unheard: bool = False
) -> Labelled:
    """Find the reports of A and of B.

    spots : any table with the columns NEEDED, and `setup` where there is no schedule
    a, b : names of setups; or, with both on the air at once, two callsigns of `tx_call`, or two frequencies in MHz
    schedule : schedules.SCHEDULE; replaces `setup`
    unheard : both are known to be setups, whether or not a row is theirs
    Returns Labelled. CompareError where a column is missing, a and b are the same, or there is nothing called so.
    """
    if a == b:
        raise CompareError(f"a comparison needs two different setups, not {a!r} twice")
    needed(spots, "a comparison needs")
    table = spots if schedule is None else schedules.assign(spots, schedule)
    if unheard and "setup" in table.columns and not {a, b} & set(_names(table["setup"])):
        told_by, names = "schedule", table["setup"]
    else:
        told_by, names = _told_apart(table, a, b, schedule is not None)
    complete = table[list(NEEDED)].notna().all(axis=1).to_numpy()
    is_a, is_b = (names == a).to_numpy(bool), (names == b).to_numpy(bool)
    none = names.isna().to_numpy()
    unnamed = LeftOut.OUTSIDE_SCHEDULE if schedule is not None else LeftOut.NO_SETUP
    left_out = {
        unnamed: int(none.sum()),
        LeftOut.OTHER_SETUP: int((~none & ~is_a & ~is_b).sum()),
        LeftOut.INCOMPLETE: int(((is_a | is_b) & ~complete).sum()),
    }
    use = (is_a | is_b) & complete
    return Labelled(
        spots=table[use],
        is_a=is_a[use],
        told_by=told_by,
        slots=_slots(schedule, a, b),
        left_out={why: count for why, count in left_out.items() if count},
        row=np.flatnonzero(use),
    )


def power(labelled: Labelled, powers: Powers | None, power_difference_db: float | None) -> tuple[Floats, float | None]:
    """What to take off each labelled row [dB above the usual power of B], and the difference of A and B by it."""
    if powers is None or powers.told == Told.GIVEN:
        return labelled.is_a.astype(float) * (power_difference_db or 0.0), power_difference_db
    if powers.level_dbm is None:
        return np.zeros(len(labelled.is_a)), powers.difference_db
    level = powers.level_dbm[labelled.row]
    usual_of_b = level[~labelled.is_a] if not labelled.is_a.all() else level
    return level - (float(np.median(usual_of_b)) if len(usual_of_b) else 0.0), powers.difference_db


def told(powers: Powers | None, clock: ClockFit | None) -> tuple[Remark | None, Remark | None]:
    """What a Comparison says of powers and clock."""
    power = None
    if powers is not None:
        known: dict[str, Value] = {"at": powers.at, "line_db": powers.line_db, **powers.values}
        if powers.difference_db is not None:
            known["difference_db"] = powers.difference_db
        power = Remark(powers.told, known)
    return power, None if clock is None else Remark(clock.code, clock.values)


def needed(spots: pd.DataFrame, who: str) -> None:
    """CompareError, beginning with `who`, where a column of NEEDED is missing."""
    for name in NEEDED:
        if name not in spots.columns:
            raise CompareError(f"{who} the column {name!r}; there are {', '.join(map(str, spots.columns))}")


def names_of(spots: pd.DataFrame, a: str, b: str) -> pd.Series:
    """Under which name each row was sent: its setup, its callsign or its frequency, whichever tells A from B."""
    return _told_apart(spots, a, b, False)[1]


def _slots(schedule: pd.DataFrame | None, a: str, b: str) -> tuple[Ints, Bools] | None:
    if schedule is None:
        return None
    rows = schedule[schedule["setup"].isin([a, b])]
    return schedules.micros(rows["start"]), (rows["setup"] == a).to_numpy(bool)


def _told_apart(table: pd.DataFrame, a: str, b: str, scheduled: bool) -> tuple[str, pd.Series]:
    """Which column names the setups, and its names row by row."""
    if "setup" in table.columns:
        column = table["setup"]
        known = _names(column)
        if a in known and b in known:
            return "schedule" if scheduled else "setup", column
    elif scheduled is False and "tx_call" not in table.columns and "freq_mhz" not in table.columns:
        raise CompareError("a comparison needs the column 'setup', or a schedule with start, end and setup")
    if "tx_call" in table.columns and {a, b} <= set(_names(table["tx_call"])):
        return "tx_call", table["tx_call"]
    near = _by_frequency(table, a, b)
    if near is not None:
        return "freq_mhz", near
    return _one_unheard(table, a, b)


_NO_SETUP: Final = (
    "no spot has one: say what was on when in a schedule with start, end, setup, or in sessions of a study"
)


def _one_unheard(table: pd.DataFrame, a: str, b: str) -> tuple[str, pd.Series]:
    """One setup there and the other not: never reported, unless its name is nearly another's or nothing is known."""
    known = _names(table["setup"]) if "setup" in table.columns else []
    there = f"there are {', '.join(map(repr, known))}" if known else _NO_SETUP
    for absent in (name for name in (a, b) if name not in known):
        near = difflib.get_close_matches(absent, known, n=1)
        if near:
            raise CompareError(f"no setup is called {absent!r}; did you mean {near[0]!r}?")
        if not {a, b} & set(known):
            raise CompareError(f"no setup is called {absent!r}; {there}")
    return "setup", table["setup"]


def _names(column: pd.Series) -> list[str]:
    """Names in a column; of a category column all it knows, heard or not."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        return [str(name) for name in column.cat.categories]
    return sorted(str(name) for name in column.dropna().unique())


def _by_frequency(table: pd.DataFrame, a: str, b: str) -> pd.Series | None:
    """The nearer of two frequencies for every spot; null farther off than they are apart."""
    try:
        of_a, of_b = float(a), float(b)
    except ValueError:
        return None
    if "freq_mhz" not in table.columns or of_a == of_b:
        return None
    off_a, off_b = (np.abs(table["freq_mhz"].to_numpy(float) - f) for f in (of_a, of_b))
    near = np.minimum(off_a, off_b) <= abs(of_a - of_b) / 2
    if not near.any():
        return None
    return pd.Series(np.where(off_a <= off_b, a, b), index=table.index).where(near)


def channels(spots: pd.DataFrame) -> tuple[Ints, Ints]:
    """Band and mode of each row as one code, and the mode alone: only reports of one of both are compared."""
    band = pd.factorize(spots["band"], sort=True)[0].astype(np.int64)
    mode = (
        pd.factorize(spots["mode"], sort=True)[0].astype(np.int64) if "mode" in spots.columns else np.zeros_like(band)
    )
    mode = mode - mode.min(initial=0)
    return band * (int(mode.max(initial=0)) + 1) + mode, mode


def snr(column: pd.Series) -> Floats:
    """As float64, whatever it came as."""
    return column.to_numpy(float)


def cleaned(spots: pd.DataFrame, is_a: Bools, receiver: Ints, *, power_db: Floats | float = 0.0) -> Cleaned:
    """Sorted reports of a table; arguments as `reports.clean` has them."""
    return clean(
        schedules.micros(spots["time_utc"]),
        receiver,
        channels(spots)[0],
        is_a,
        snr(spots["snr_db"]),
        power_db=power_db,
    )
