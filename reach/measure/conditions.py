"""Reach against day and night: by solar time, by darkness of the path, the best hour to each direction, skip.

All of it describes reports that came in. Nobody knows from reports alone when the station was silent, and where nobody
listens nothing is reported; so every figure comes with the number of reports behind it.

The tables come from placed spots with the columns of `place.daylight.DAYLIGHT`; where there is a column `reports`, it says
how many spots a row stands for, and where there is a column `path`, a number from 0 for each receiver and distance: whoever
asks for several tables has `numbered` do that once.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys, quantile
from reach.measure import claims
from reach.measure.claims import FEW_RECEIVERS, FEW_REPORTS
from reach.measure.sectors import sector_of
from reach.measure.tally import hours_since_1970
from reach.place.daylight import STATES
from reach.spots import SECTOR_DEG

REACH: Final = {
    "reports": ("int64", "how many spots"),
    "receivers": ("int64", "distinct callsigns"),
    "median_km": ("float64", "half of the spots came from within this; NaN without spots"),
    "p90_km": ("float64", "nine in ten of them did"),
}
BY_SOLAR_HOUR: Final = {
    "band": ("category", ""),
    "solar_hour": ("int64", "0..23, local apparent solar time at the station; 12 begins at noon"),
    **REACH,
}
BY_DARKNESS: Final = {
    "band": ("category", ""),
    "darkness": ("category", "one of DARKNESS, in that order"),
    **REACH,
}
BY_ENDS: Final = {
    "band": ("category", ""),
    "tx_day_night": ("category", "day, twilight or night at the station"),
    "rx_day_night": ("category", "the same at the receiver"),
    "grey_line": ("int64", "how many of the spots had both ends within 6 degrees of the terminator"),
    **REACH,
}
BEST_HOURS: Final = {
    "band": ("category", ""),
    "sector_deg": ("int64", "centre of the 30-degree sector"),
    "best_hour_utc": ("int64", "0..23; 19 is 19:00 to 20:00 UTC"),
    "receivers_a_day": ("float64", "distinct receivers in that hour and sector, mean over the days heard then"),
    "reports": ("int64", "spots in that hour and sector"),
    "receivers": ("int64", "distinct callsigns in that hour and sector"),
    "days": ("int64", "days on which the station was heard anywhere on the band in that hour"),
    "hours_heard": ("int64", "hours of the day in which the station was heard anywhere on the band"),
    "next_hour_utc": ("int64", "the hour next to it in rank; -1 where the sector has spots in one hour only"),
    "next_receivers_a_day": ("float64", "receivers_a_day of that hour; 0 where there is none"),
    "reports_all_hours": ("int64", "spots in that sector at any hour"),
    "enough": ("bool", "at least FEW_REPORTS from FEW_RECEIVERS, and more than one hour to choose from"),
    "apart": ("bool", "enough, and the hour stands apart from every other by more than chance (measure.claims)"),
}
SKIP: Final = {
    "band": ("category", ""),
    "hour_utc": ("int64", "0..23"),
    "reports": ("int64", ""),
    "receivers": ("int64", "distinct callsigns"),
    "nearest_km": ("float64", "the nearest receiver"),
    "nearest_call": ("str", "its callsign"),
    "nearest_locator": ("str", "its locator"),
    "near_tenth_km": ("float64", "a tenth of the receivers were nearer: less moved by a single one"),
}

_PATH: Final = ["rx_call", "distance_km"]
DARKNESS: Final = ("daylight all along", "less than half dark", "half or more dark", "dark all along")


def by_solar_hour(spots: pd.DataFrame) -> pd.DataFrame:
    """Reach by local solar time at the station.

    spots : needs band, rx_call, distance_km, tx_solar_hour
    Returns BY_SOLAR_HOUR: 24 rows for each band with spots, hours without any included; bands in order of their text.
    """
    hour = np.floor(spots["tx_solar_hour"].to_numpy()).astype(np.int8)
    rows = _added(spots, ("band", "solar_hour", "path"), _PATH, solar_hour=hour)
    return _reach_by(rows, {"band": _bands(rows), "solar_hour": range(24)}, BY_SOLAR_HOUR, keep_empty=True)


def by_darkness(spots: pd.DataFrame) -> pd.DataFrame:
    """Reach by how much of the path is dark.

    spots : needs band, rx_call, distance_km, dark_share
    Returns BY_DARKNESS: four rows for each band with spots.
    """
    share = spots["dark_share"].to_numpy()
    code = (share > 0).astype(np.int8) + (share >= 0.5) + (share >= 1)
    darkness = pd.Categorical.from_codes(code, categories=pd.Index(DARKNESS))
    rows = _added(spots, ("band", "darkness", "path"), _PATH, darkness=darkness)
    return _reach_by(rows, {"band": _bands(rows), "darkness": DARKNESS}, BY_DARKNESS, keep_empty=True)


def by_ends(spots: pd.DataFrame) -> pd.DataFrame:
    """Reach by day, twilight or night at either end, and how many reports were on the grey line.

    spots : needs band, rx_call, distance_km, tx_day_night, rx_day_night, grey_line
    Returns BY_ENDS: one row for each combination that occurs.
    """
    rows = _added(spots, ("band", "tx_day_night", "rx_day_night", "grey_line", "path"), _PATH)
    table = _reach_by(
        rows, {"band": _bands(rows), "tx_day_night": STATES, "rx_day_night": STATES}, BY_ENDS, keep_empty=False
    )
    grey = rows[rows["grey_line"].to_numpy()].groupby(["band", "tx_day_night", "rx_day_night"])["reports"].sum()
    at = pd.MultiIndex.from_frame(table[["band", "tx_day_night", "rx_day_night"]].astype(object))
    found = grey.set_axis(pd.MultiIndex.from_tuples(list(grey.index), names=at.names)) if len(grey) else None
    count = np.zeros(len(table), np.int64) if found is None else found.reindex(at, fill_value=0).to_numpy(np.int64)
    return table.assign(grey_line=count)[list(BY_ENDS)]


def best_hours(spots: pd.DataFrame) -> pd.DataFrame:
    """The best hour to each direction, with what stands behind it.

    spots : needs band, rx_call, time_utc, bearing_deg
    Returns BEST_HOURS: one row for each band and 30-degree sector with spots. Best is the hour with most distinct
    receivers on a day, on average over the days on which the station was heard anywhere on the band in that hour, so
    that an hour is not best for having been tried more often; then the one with more reports, then the earlier.
    """
    day, hour = np.divmod(hours_since_1970(spots["time_utc"]), 24)
    visits = _added(
        spots,
        ("band", "sector", "hour", "day", "rx_call"),
        hour=hour,
        day=day,
        sector=sector_of(spots["bearing_deg"]),
    )
    days = keys.added(visits[["band", "hour", "day"]], ["band", "hour", "day"])
    heard = days.groupby(["band", "hour"]).size()
    hours_heard = heard.groupby("band").size()
    by_hour = ["band", "sector", "hour"]
    told = ((visits["sector"] >= 0) & visits["band"].notna()).to_numpy()
    visits = visits[[*by_hour, "rx_call", "reports"]][told]
    receivers = keys.added(visits[[*by_hour, "rx_call"]], [*by_hour, "rx_call"])
    # All three are in the order of the same keys.
    table = keys.added(visits[[*by_hour, "reports"]], by_hour)
    table["receivers"] = receivers.groupby(by_hour).size().to_numpy()
    table["visits"] = keys.added(visits[by_hour], by_hour)["reports"].to_numpy()
    table = table.astype({"band": object})
    pairs = zip(table["band"], table["hour"], strict=True)
    table["days"] = np.array([heard[band, hour] for band, hour in pairs], dtype=np.int64)
    table["hours_heard"] = np.array([hours_heard[band] for band in table["band"]], dtype=np.int64)
    table["receivers_a_day"] = table["visits"] / table["days"]
    table["reports_all_hours"] = table.groupby(["band", "sector"])["reports"].transform("sum")
    best = _best_of(table)
    days_by_hour = table.set_index(["band", "sector", "hour"])["days"]
    rows: Any = visits.groupby(["band", "sector"]).indices
    visit = visits["hour"].to_numpy(), visits["rx_call"].cat.codes.to_numpy()
    apart = np.array([_stands_apart(row, *visit, rows, days_by_hour) for row in best.to_dict("records")], dtype=bool)
    return _shaped(best.assign(apart=apart), BEST_HOURS)


def _stands_apart(
    best: Mapping[Any, Any],
    hour: npt.NDArray[np.int64],
    receiver: npt.NDArray[np.integer[Any]],
    rows: Mapping[Any, npt.NDArray[np.intp]],
    days: pd.Series,
) -> bool:
    """Whether the best hour of a band and sector has more receivers a day than every other hour by more than chance.

    hour, receiver : of each visit; rows : which of the visits each band and sector has
    """
    if not best["enough"]:
        return False
    band, sector = best["band"], best["sector_deg"] // SECTOR_DEG
    some = rows[band, sector]
    a_day = 1 / days.loc[(band, sector)].reindex(range(24)).to_numpy()[hour[some]]
    return claims.closest(best["best_hour_utc"], hour[some], receiver[some], a_day) < claims.LEVEL


def _best_of(table: pd.DataFrame) -> pd.DataFrame:
    """The best hour of each band and sector, with the columns of BEST_HOURS but `apart`. table : by band, sector and hour"""
    order = ["band", "sector", "receivers_a_day", "reports", "hour"]
    ranked = table.sort_values(order, ascending=[True, True, False, False, True])
    behind = ranked.groupby(["band", "sector"])[["hour", "receivers_a_day"]].shift(-1)
    ranked = ranked.assign(
        sector_deg=ranked["sector"] * SECTOR_DEG,
        best_hour_utc=ranked["hour"],
        next_hour_utc=behind["hour"].fillna(-1),
        next_receivers_a_day=behind["receivers_a_day"].fillna(0.0),
        enough=(ranked["reports"] >= FEW_REPORTS)
        & (ranked["receivers"] >= FEW_RECEIVERS)
        & (ranked["hours_heard"] > 1),
    )
    return ranked.drop_duplicates(["band", "sector"])


def skip(spots: pd.DataFrame) -> pd.DataFrame:
    """The nearest reports by band and hour: the skip distance as it was observed; shown with
    `Ends.skip_caution` of tell/sentences/direction.

    spots : needs band, rx_call, rx_locator, time_utc, distance_km; leave suspect receivers out, as one wrong locator
        may be the nearest
    Returns SKIP: one row for each band and UTC hour of the day with spots.
    """
    hour = hours_since_1970(spots["time_utc"]) % 24
    rows = _added(spots, ("band", "hour_utc", "path"), ["rx_locator", *_PATH], hour_utc=hour)
    found = []
    for (band, at), group in rows.groupby(["band", "hour_utc"]):
        places = group.drop_duplicates(["rx_call", "rx_locator"])
        nearest = places.sort_values(["distance_km", "rx_call"], kind="stable").iloc[0]
        found.append((band, at, group["reports"].sum(), places["rx_call"].nunique(), nearest["distance_km"],
                      str(nearest["rx_call"]), str(nearest["rx_locator"]), float(places["distance_km"].quantile(0.1))))  # fmt: skip
    return _shaped(pd.DataFrame(found, columns=list(SKIP)), SKIP)


def numbered(spots: pd.DataFrame) -> pd.DataFrame:
    """The spots with `path`: receivers of one callsign in different places are different paths, those at one distance too."""
    named = [name for name in ("tx_locator", "rx_call", "rx_locator") if name in spots]
    return spots.assign(path=keys.numbers(spots, named if len(named) == 3 else _PATH))


def _added(spots: pd.DataFrame, by: Sequence[str], carry: Sequence[str] = (), **more: Any) -> pd.DataFrame:
    """The spots added up by some columns, those of `more` among them: everything below is a sum, and millions of spots
    have a few ten thousand distinct rows. carry : columns that hang on those"""
    if "path" in by and "path" not in spots:
        spots = numbered(spots)
    narrow = spots[[name for name in (*by, *carry, "reports") if name in spots and name not in more]]
    rows = keys.added(narrow.assign(**more), by, carry=carry)
    counted = (rows["reports"] > 0).to_numpy()
    return rows if counted.all() else rows[counted]


def _bands(rows: pd.DataFrame) -> list[str]:
    return sorted(str(name) for name in rows["band"].dropna().unique())


def _reach_by(
    rows: pd.DataFrame, by: dict[str, Sequence[Any]], like: dict[str, tuple[str, str]], *, keep_empty: bool
) -> pd.DataFrame:
    """REACH for each combination of the values, in that order."""
    names = list(by)
    slim = rows[[*names, "rx_call", "distance_km", "reports"]]
    groups = dict(iter(slim.groupby(names)))
    found = [(*key, *_reach(groups.get(key))) for key in itertools.product(*by.values()) if keep_empty or key in groups]
    table = pd.DataFrame(found, columns=[*names, *REACH])
    for name, values in by.items():
        if like[name][0] == "category":
            table[name] = pd.Categorical(table[name], categories=list(values))
    return table.astype({name: dtype for name, (dtype, _) in like.items() if dtype != "category" and name in table})


def _reach(group: pd.DataFrame | None) -> tuple[int, int, float, float]:
    if group is None:
        return 0, 0, float("nan"), float("nan")
    median_km, p90_km = quantile.weighted(group["distance_km"], group["reports"], [0.5, 0.9])
    return int(group["reports"].sum()), int(group["rx_call"].nunique()), float(median_km), float(p90_km)


def _shaped(table: pd.DataFrame, like: dict[str, tuple[str, str]]) -> pd.DataFrame:
    """The columns and dtypes of a contract, with a fresh index."""
    return table[list(like)].astype({name: dtype for name, (dtype, _) in like.items()}).reset_index(drop=True)
