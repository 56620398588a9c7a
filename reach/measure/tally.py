"""The tally: counts of spots that can be added.

However many spots there are, the tally stays small, exact and mergeable: tally(all) == merge(tally(part) for parts).
Everything but the comparison is worked out from it, so a file, a stream of blocks and a cluster all take the same way.
Where the spots were placed and judged, each cell carries the geometry of its path and the trust in its locator: both
follow from the cell's key, so they cost one look a path and no join ever after.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any, NamedTuple, cast

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys, threads
from reach.base.vocabulary import in_use
from reach.spots import CARRIED, CORROBORATED, TALLY, TALLY_KEY

Ints = npt.NDArray[np.int64]

TIMELINE_STEP_S = 600
_SECOND_US = 1_000_000
_STEP_US = TIMELINE_STEP_S * _SECOND_US
_HOUR_US = 3600 * _SECOND_US
_TEXT = [name for name in TALLY_KEY if TALLY[name][0] == "category"]
_ENDS = _TEXT[:4]


@dataclass(frozen=True)
class Tally:
    """Counts of spots, in a canonical order so that equal tallies are equal tables.

    cells     spots.TALLY: one row a distinct (transmitter, receiver, band, setup, hour, whole dB); and of spots.CARRIED
              what the spots had
    timeline  start_utc (ten-minute intervals), band, setup, reports
    """

    cells: pd.DataFrame
    timeline: pd.DataFrame

    @property
    def reports(self) -> int:
        """How many spots were counted."""
        return int(self.timeline["reports"].sum())  # which stays where the cells were let go

    @cached_property
    def pooled(self) -> Pooled:
        """The cells added up over days and over hours."""
        return pooled(self.cells)

    def without_cells(self) -> Tally:
        """What is pooled alone, which of a year is a tenth."""
        slim = replace(self, cells=self.cells.iloc[:0])
        slim.__dict__["pooled"] = self.pooled  # worked out here, as the cells stay behind
        return slim

    def equals(self, other: Tally) -> bool:
        """Whether both count the same."""
        return self.cells.equals(other.cells) and self.timeline.equals(other.timeline)


def tally(spots: pd.DataFrame) -> Tally:
    """Count spots.

    spots : spot table; needs tx_call, tx_locator, rx_call, rx_locator, band, setup, time_utc, snr_db. SNR is counted
        in whole dB, halves to even. Columns of spots.CARRIED are taken along where they are there.
    Returns Tally.
    """
    micros = _micros(spots["time_utc"])
    text = _all_ordered(spots, _TEXT)
    return Tally(
        # First, while there are no cells: what it needs in passing then lies where they will.
        timeline=_add_timeline(text, micros, np.ones(len(micros), dtype=np.int64)),
        cells=_add_cells(
            text,
            micros=micros,
            snr_db=spots["snr_db"].to_numpy(),
            add=_Ones(micros),
            carried=spots,
        ),
    )


def merge(tallies: Iterable[Tally]) -> Tally:
    """Add tallies up.

    tallies : any number; none gives an empty tally
    Returns the Tally of all their spots together, the same in whatever order they come.
    """
    parts = list(tallies) or [_empty()]
    cells = _stack([part.cells for part in parts])
    times = _stack([part.timeline for part in parts])
    return Tally(
        cells=_add_cells(
            _all_ordered(cells, _TEXT),
            micros=_micros(cells["hour_utc"]),
            snr_db=cells["snr_db"].to_numpy(),
            add=_Sums(cells["reports"].to_numpy(), _micros(cells["first_utc"]), _micros(cells["last_utc"])),
            carried=cells,
        ),
        timeline=_add_timeline(
            _all_ordered(times, ["band", "setup"]),
            _micros(times["start_utc"]),
            times["reports"].to_numpy(),
        ),
    )


@dataclass(frozen=True)
class Pooled:
    """The cells of a tally added up further, for whoever needs an hour of the day or a level but not both: of a year they are
    some hundred thousand rows where the cells are millions.

    by_hour   key as the cells, but `hour` of the day [UTC, 0..23] for hour_utc and without snr_db; all else as the cells
    by_level  key as the cells without hour_utc; reports, and what hangs on the path
    busiest_utc  the hour with most reports of corroborated receivers, the first of equals; NaT without any
    busiest   their reports in it, by path: rx_call, rx_locator, reports, and what hangs on the path
    """

    by_hour: pd.DataFrame
    by_level: pd.DataFrame
    busiest_utc: pd.Timestamp
    busiest: pd.DataFrame


def pooled(cells: pd.DataFrame) -> Pooled:
    """The cells of a tally added up over days and levels, and over hours."""
    path = [*_ENDS, "band", "setup"]
    carried = [name for name in CARRIED if name in cells]
    timed = cells[[*path, *carried, "reports", "first_utc", "last_utc"]].assign(
        hour=cells["hour_utc"].dt.hour.to_numpy().astype(np.int8)
    )
    by_hour = keys.added(timed, [*path, "hour"], carry=[*carried, "first_utc", "last_utc"])
    del timed
    start, rows = _busiest(cells)
    return Pooled(
        by_hour, keys.added(cells, [*path, "snr_db"], carry=carried), start, keys.added(rows, _ENDS, carry=carried)
    )


def _busiest(cells: pd.DataFrame) -> tuple[pd.Timestamp, pd.DataFrame]:
    sure = (cells["trust"] == CORROBORATED).to_numpy() if "trust" in cells else np.zeros(len(cells), dtype=bool)
    hour = _micros(cells["hour_utc"]) // _HOUR_US
    low, hours = keys.span(hour[sure])
    if not sure.any():
        return cast(pd.Timestamp, pd.NaT), cells.iloc[:0]
    start = low + int(np.bincount(hour[sure] - low, cells["reports"].to_numpy()[sure], hours).argmax())
    return pd.Timestamp(start * 3600, unit="s", tz="UTC"), cells[sure & (hour == start)]


def _empty() -> Tally:
    columns = {"time_utc": pd.Series(dtype="datetime64[us, UTC]"), "snr_db": pd.Series(dtype="float32")}
    return tally(pd.DataFrame({**{name: pd.Series(dtype=object).astype("category") for name in _TEXT}, **columns}))


class _Added(NamedTuple):
    """Rows of equal key added up: keys in rising order, how many reports, the first and the last [us since 1970]."""

    key: Ints
    reports: Ints
    first: Ints
    last: Ints


@dataclass(frozen=True)
class _Sums:
    """Rows that stand for several reports each."""

    reports: Ints
    first: Ints
    last: Ints

    def by(self, key: Ints, size: int) -> _Added:
        order = np.argsort(key)
        starts = keys.starts(key[order])
        reports = np.add.reduceat(self.reports[order], starts)
        first, last = np.minimum.reduceat(self.first[order], starts), np.maximum.reduceat(self.last[order], starts)
        return _Added(key[order][starts], reports, first, last)


@dataclass(frozen=True)
class _Ones:
    """Rows that are one report each, at a moment [us since 1970]. Their key tells the hour among other things.

    Key and moment are packed into one number, so that one plain sort, much cheaper than sorting an index, brings equal
    keys together with the earliest of each in front and the latest behind.
    """

    moment: Ints

    def by(self, key: Ints, size: int) -> _Added:
        unit = 1 if (self.moment % _SECOND_US).any() else _SECOND_US  # whole seconds leave more room for the key
        base, span = keys.span(self.moment // unit)
        since = keys.Made(len(key), lambda part: self.moment[part] // unit - base)
        try:
            packed, _ = keys.combine([(key, size), (since, span)])
        except OverflowError:  # both do not fit into one number: the dearer way
            return _Sums(np.ones_like(key), self.moment, self.moment).by(key, size)
        threads.sort(packed)
        keys_there = threads.filled(lambda part: packed[part] // span, len(packed), np.int64)
        starts = keys.starts(keys_there)
        reports = np.diff(starts, append=len(packed))

        def moments(at: Ints) -> Ints:
            since = threads.filled(lambda part: packed[at[part]] - keys_there[at[part]] * span, len(at), np.int64)
            return (since + base) * unit

        return _Added(keys_there[starts], reports, moments(starts), moments(starts + reports - 1))


def _add_cells(
    text: dict[str, pd.Series], *, micros: Ints, snr_db: npt.NDArray[Any], add: _Ones | _Sums, carried: pd.DataFrame
) -> pd.DataFrame:
    """Add rows of equal key up. Categories are in the order of their text, so the order of keys is canonical.

    micros : within the hour that counts; snr_db : counted in whole dB
    """
    # Of millions of rows each array here takes as much as a column of the spots, so each goes as soon as it has served.
    ends = [keys.made_of(text[name]) for name in _ENDS]
    end_sizes = [size for _, size in ends]
    end_values, end_row = keys.distinct(*keys.combine(ends))
    hour_0, hour = _steps(micros, _HOUR_US)
    snr_0, levels = keys.span(np.rint(keys.ends(snr_db)))
    level = keys.Made(len(snr_db), lambda part: np.rint(snr_db[part]).astype(np.int64) - snr_0)
    parts: list[keys.Part] = [
        (end_row, len(end_values)),
        keys.made_of(text["band"]),
        keys.made_of(text["setup"]),
        hour,
        (level, levels),
    ]
    sizes = [size for _, size in parts]
    key, size = keys.combine(parts)
    del parts
    key, reports, first, last = add.by(key, size)
    pieces = keys.split(key, sizes, np.min_scalar_type(-max(sizes)))
    del key
    end = pieces[0].astype(np.int64)
    end_parts = keys.split(end_values, end_sizes)
    known = _carried(carried, end_row, len(end_values))
    del end_row
    ends_there = {name: _used(part, text[name]) for name, part in zip(_ENDS, end_parts, strict=True)}
    columns: dict[str, Callable[[], Any]] = {
        "band": lambda: _used(pieces[1], text["band"]),
        "setup": lambda: _used(pieces[2], text["setup"]),
        "hour_utc": lambda: _moments((pieces[3].astype(np.int64) + hour_0) * 3600, "s"),
        "snr_db": lambda: pieces[4].astype(np.int16) + snr_0,
        "reports": lambda: reports,
        "first_utc": lambda: _moments(first, "us"),
        "last_utc": lambda: _moments(last, "us"),
        **{name: partial(values.take, end) for name, values in {**ends_there, **known}.items()},
    }
    made = threads.named(columns, len(reports))
    # The columns are new, and on millions of reports a second copy of them is what memory ends on.
    return pd.DataFrame({name: made[name] for name in (*TALLY, *known)}, copy=False)


def _carried(table: pd.DataFrame, end_row: Ints, ends: int) -> dict[str, Any]:
    """What the table knows of each path and its receiver: looked up once for each pair of ends, not for each row."""
    some_row = keys.first_rows(end_row, ends)
    found = {name: table[name].array.take(some_row) for name in CARRIED if name in table}
    # Categories in the order of their text, and none that is not in use: equal tallies are then equal tables.
    if "country" in found:
        found["country"] = _ordered(pd.Series(found["country"])).array.remove_unused_categories()
    return found


def _add_timeline(text: dict[str, pd.Series], micros: Ints, reports: Ints) -> pd.DataFrame:
    """Reports by ten minutes. micros : within the ten minutes that count"""
    step_0, step = _steps(micros, _STEP_US)
    parts = [step, keys.made_of(text["band"]), keys.made_of(text["setup"])]
    values, row = keys.distinct(*keys.combine(parts))
    when, band, setup = keys.split(values, [size for _, size in parts])
    return pd.DataFrame(
        {
            "start_utc": _moments((when + step_0) * TIMELINE_STEP_S, "s"),
            "band": _used(band, text["band"]),
            "setup": _used(setup, text["setup"]),
            "reports": np.bincount(row, weights=reports, minlength=len(values)).astype(np.int64),
        }
    )


def _steps(micros: Ints, step_us: int) -> tuple[int, keys.Part]:
    """The first of the steps in which moments lie, since 1970, and for each row in which it lies, the first being 0."""
    low, steps = keys.span(np.array(keys.ends(micros)) // step_us)
    return low, (keys.Made(len(micros), lambda part: micros[part] // step_us - low), steps)


def _micros(moments: pd.Series) -> Ints:
    return pd.DatetimeIndex(moments).as_unit("us").asi8


def _moments(since_1970: Ints, unit: str) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(since_1970.view(f"datetime64[{unit}]")).tz_localize("UTC")


def _stack(tables: list[pd.DataFrame]) -> pd.DataFrame:
    """Tables below each other; text columns as text, since their categories differ."""
    names = [*_TEXT, "country"]
    plain = [table.assign(**{name: table[name].astype(object) for name in names if name in table}) for table in tables]
    return pd.concat(plain, ignore_index=True)


def _all_ordered(table: pd.DataFrame, names: Sequence[str]) -> dict[str, pd.Series]:
    return threads.named({name: partial(_ordered, table[name]) for name in names}, len(table))


def _ordered(column: pd.Series) -> pd.Series:
    """The column with its categories in the order of their text."""
    values = pd.Categorical(column)
    names = values.categories.to_numpy(dtype=object).astype(str)
    order = np.argsort(names)
    rank = np.append(np.argsort(order), -1).astype(np.int32)  # of code -1, a null, too
    dtype = pd.CategoricalDtype(pd.Index(names[order], dtype=object))
    return pd.Series(pd.Categorical.from_codes(rank[values.codes], dtype=dtype))


def _used(part: Ints, like: pd.Series) -> pd.Categorical:
    return in_use(keys.category(part, like))


def hours_since_1970(hour_utc: pd.Series) -> Ints:
    """Hours of cells as whole numbers, shape (n,): those of a UTC day are 24 times its number and what follows."""
    return hour_utc.dt.tz_convert(None).to_numpy().astype("datetime64[h]").astype(np.int64)
