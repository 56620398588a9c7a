"""From a table of spots to the reports of A and B: which column tells the setups apart, who is one receiver."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from reach.assign import schedule as schedules
from reach.compare.reports import Bools, Cleaned, Floats, Ints, Reports, clean
from reach.errors import CompareError

NEEDED: Final = ("time_utc", "rx_call", "rx_locator", "snr_db", "band")
SQUARE_CHARACTERS: Final = 4


@dataclass(frozen=True)
class Labelled:
    """The rows of A and B.

    spots     those rows of the table, in their order
    is_a      shape (n,)
    told_by   what told the setups apart: setup | schedule | tx_call | freq_mhz
    slots     start [us since 1970] and is-A of the schedule's rows for A or B, or None
    left_out  why rows were left out: how many
    """

    spots: pd.DataFrame
    is_a: Bools
    told_by: str
    slots: tuple[Ints, Bools] | None
    left_out: dict[str, int]


def label(spots: pd.DataFrame, a: str, b: str, schedule: pd.DataFrame | None = None) -> Labelled:
    """Find the reports of A and of B.

    spots : any table with the columns NEEDED, and `setup` where there is no schedule
    a, b : names of setups; or, with both on the air at once, two callsigns of `tx_call`, or two frequencies in MHz
    schedule : schedules.SCHEDULE; replaces `setup`
    Returns Labelled. CompareError where a column is missing, a and b are the same, or there is nothing called so.
    """
    if a == b:
        raise CompareError(f"a comparison needs two different setups, not {a!r} twice")
    needed(spots, "a comparison needs")
    table = spots if schedule is None else schedules.assign(spots, schedule)
    told_by, names = _told_apart(table, a, b, schedule is not None)
    complete = table[list(NEEDED)].notna().all(axis=1).to_numpy()
    is_a, is_b = (names == a).to_numpy(bool), (names == b).to_numpy(bool)
    none = names.isna().to_numpy()
    outside = "outside the schedule" if schedule is not None else "no setup known"
    left_out = {
        outside: int(none.sum()),
        "another setup": int((~none & ~is_a & ~is_b).sum()),
        "time, receiver, report or band missing": int(((is_a | is_b) & ~complete).sum()),
    }
    use = (is_a | is_b) & complete
    return Labelled(
        spots=table[use],
        is_a=is_a[use],
        told_by=told_by,
        slots=_slots(schedule, a, b),
        left_out={why: count for why, count in left_out.items() if count},
    )


def needed(spots: pd.DataFrame, who: str) -> None:
    """CompareError, beginning with `who`, where a column of NEEDED is missing."""
    for name in NEEDED:
        if name not in spots.columns:
            raise CompareError(f"{who} the column {name!r}; there are {', '.join(map(str, spots.columns))}")


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


def receivers(spots: pd.DataFrame) -> tuple[Ints, pd.DataFrame]:
    """Who is one receiver: a callsign in one locator square, so that two stations under one callsign stay two.

    Returns (code of each row, shape (n,); table rx_call, square, rx_locator (the first in text order), row = code).
    """
    call = spots["rx_call"].astype(str).str.upper() if _plain(spots["rx_call"]) else _upper(spots["rx_call"])
    locator = spots["rx_locator"].astype("category")
    square = locator.cat.codes.map(dict(enumerate(_square(str(name)) for name in locator.cat.categories)))
    both = pd.MultiIndex.from_arrays([call, square])
    code, listed = pd.factorize(both)
    first = locator.astype(object).groupby(code, sort=True).min()
    table = pd.DataFrame({"rx_call": listed.get_level_values(0), "square": listed.get_level_values(1)})
    return code.astype(np.int64), table.assign(rx_locator=first.to_numpy())


def _plain(column: pd.Series) -> bool:
    return not isinstance(column.dtype, pd.CategoricalDtype)


def _upper(column: pd.Series) -> pd.Series:
    names = {code: str(name).upper() for code, name in enumerate(column.cat.categories)}
    return column.cat.codes.map(names)


def _square(locator: str) -> str:
    return locator[:SQUARE_CHARACTERS].upper()


def channels(spots: pd.DataFrame) -> tuple[Ints, Ints]:
    """Band and mode of each row as one code, and the mode alone: only reports of one of both are compared."""
    band = pd.factorize(spots["band"])[0].astype(np.int64)
    mode = pd.factorize(spots["mode"])[0].astype(np.int64) if "mode" in spots.columns else np.zeros_like(band)
    mode = mode - mode.min(initial=0)
    return band * (int(mode.max(initial=0)) + 1) + mode, mode


def snr(column: pd.Series) -> Floats:
    """As float64, whatever it came as."""
    return column.to_numpy(float)


def cleaned(
    spots: pd.DataFrame, is_a: Bools, receiver: Ints, *, power_difference_db: float = 0.0, a_first: bool = True
) -> Cleaned:
    """Sorted reports of a table; arguments as `reports.clean` has them."""
    return clean(
        schedules.micros(spots["time_utc"]),
        receiver,
        channels(spots)[0],
        is_a,
        snr(spots["snr_db"]),
        power_difference_db=power_difference_db,
        a_first=a_first,
    )


def like(control: pd.DataFrame, spots: pd.DataFrame, cleaned: Cleaned) -> Reports | None:
    """A control station's reports, with receivers, channels and units numbered as ours are.

    control : needs NEEDED; spots : the rows that `cleaned` came from
    Returns Reports (is_a all False) of the receivers and channels that we have too, sorted; None where there are none.
    """
    rows = control[control[list(NEEDED)].notna().all(axis=1)]
    both = pd.concat([_keys(spots.iloc[cleaned.row]), _keys(rows)], ignore_index=True)
    key = both.groupby(list(both.columns), sort=False, dropna=False).ngroup().to_numpy()
    ours, theirs = key[: len(cleaned.row)], key[len(cleaned.row) :]
    unit = np.full(int(key.max()) + 1, -1, dtype=np.int64)
    unit[ours] = cleaned.reports.unit
    known = unit[theirs] >= 0
    if not known.any():
        return None
    rows, of_unit = rows[known], unit[theirs[known]]
    time_min = (schedules.micros(rows["time_utc"]) - cleaned.start_us) / 60e6
    level = snr(rows["snr_db"])
    order = np.lexsort((-level, time_min, of_unit))
    order = order[np.concatenate([[True], (np.diff(of_unit[order]) != 0) | (np.diff(time_min[order]) != 0)])]
    first = np.searchsorted(cleaned.reports.unit, of_unit[order])
    return Reports(
        time_min=time_min[order],
        receiver=cleaned.reports.receiver[first],
        channel=cleaned.reports.channel[first],
        unit=of_unit[order],
        is_a=np.zeros(len(order), dtype=bool),
        snr_db=level[order],
        level_db=level[order],
    )


def _keys(spots: pd.DataFrame) -> pd.DataFrame:
    """What makes a unit, as text: receiver, square, band, mode."""
    mode = spots["mode"].astype(object) if "mode" in spots.columns else ""
    return pd.DataFrame(
        {
            "call": spots["rx_call"].astype(str).str.upper().to_numpy(),
            "square": spots["rx_locator"].astype(str).str[:SQUARE_CHARACTERS].str.upper().to_numpy(),
            "band": spots["band"].astype(str).to_numpy(),
            "mode": mode if isinstance(mode, str) else mode.to_numpy(),
        }
    )


def label_like(control: pd.DataFrame, spots: pd.DataFrame, is_a: Bools, period_min: float) -> Labelled:
    """A control station's rows, each under the setup that was on the air here at that moment.

    spots, is_a : our reports; a control report counts where our nearest transmissions before and after it, at most one
        alternation away, were of one setup
    """
    rows = control[control[list(NEEDED)].notna().all(axis=1)]
    ours = schedules.micros(spots["time_utc"])
    order = np.argsort(ours, kind="stable")
    ours, labels = ours[order], is_a[order]
    theirs = schedules.micros(rows["time_utc"])
    before = np.searchsorted(ours, theirs, side="right") - 1
    after = np.searchsorted(ours, theirs, side="left")
    inside = (before >= 0) & (after < len(ours))
    before, after = np.maximum(before, 0), np.minimum(after, len(ours) - 1)
    near = np.minimum(theirs - ours[before], ours[after] - theirs) <= period_min * 60e6
    use = inside & near & (labels[before] == labels[after])
    return Labelled(rows[use], labels[before][use], "control", None, {})
