"""The control station: its setup did not change, so what moved it is the band. And which of the transmitters that were set
aside can serve as one: near by, and heard by the same receivers at the same times.

Two uses. Before and after: each of our reports against the control's nearest at the same receiver, days of A against days
of B (Welch 1947, The generalization of "Student's" problem when several different population variances are involved,
Biometrika 34, 28-35). And a check on a comparison that stands: the control compared as if it had changed when ours did.

A control stands for what the band did to this station's signals, so it must have been heard where and when this station was,
from about the same place. Common practice: within some 200 km; beyond 300 km its band is another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from typing import Any, Final

import numpy as np
import pandas as pd

from reach.assign import schedule as schedules
from reach.base import grammar, keys, locator
from reach.compare import checks, estimate, places, variance
from reach.compare.comparison import Caution, Estimate, Method, Remark
from reach.compare.days import (
    FEWEST_DAYS_EACH,
    FEWEST_RECEIVERS,
    DayFit,
    DaysFound,
    day_levels,
    days,
    settled,
)
from reach.compare.design import TIE_MIN
from reach.compare.estimate import Limits
from reach.compare.evidence import NEEDED, Evidence, Labelled, gather, snr
from reach.compare.reports import Bools, Cleaned, Floats, Ints, Reports
from reach.place import path

FARTHEST_KM: Final = 300.0
FEWEST_IN_COMMON: Final = 5  # in common: with three or four a single odd one decides
FEWEST_REPORTS: Final = 20  # of the neighbour, beside one of ours
TOGETHER_MIN: Final = 10
MOST: Final = 6  # transmitters that are looked at, those with most rows
WITHIN_MIN: Final = 10.0
Place = tuple[float, float]  # longitude, latitude
DAYS_ALIKE: Final = 1.0  # days after which the band has forgotten all but 1/e of how it was


class Suits(StrEnum):
    """Whether a transmitter can serve as a control.

    GOOD       near, and heard alongside by the same receivers
    CHECK      near and heard at the same times, but by others: it shows whether the band moved with the setups, no more
    FAR        its band is another
    NO_PLACE   where it stood nobody says
    NO_HOME    nor where this station did
    FEW        too few of its reports lie within ten minutes of this station's on a band
    """

    GOOD = "good"
    CHECK = "check-only"
    FAR = "far"
    NO_PLACE = "no-place"
    NO_HOME = "no-home"
    FEW = "few-in-common"


@dataclass(frozen=True)
class Neighbour:
    """One of the others. distance_km : from the station, NaN where unknown; receivers : in common; reports : its reports
    beside one of ours at such a receiver"""

    call: str
    fit: Suits
    distance_km: float
    receivers: int
    reports: int

    def to_dict(self) -> dict[str, Any]:
        """Plain values, for a note."""
        return {**asdict(self), "fit": str(self.fit)}


def neighbours(spots: pd.DataFrame, others: Mapping[str, pd.DataFrame]) -> tuple[Neighbour, ...]:
    """Each of some other transmitters as a control, the best first.

    spots : this station's; others : callsign -> spots of theirs. Needs time_utc, rx_call, rx_locator, band, tx_locator of both
    Returns one Neighbour for each, those that fit first, then by receivers in common.
    """
    ours, home = _seen(spots), position(spots["tx_locator"])
    heard = [spots, *others.values()]
    found = []
    for call, theirs in others.items():
        there = position(theirs["tx_locator"])
        if there is None:  # it may have heard some of the others itself
            there = position(
                pd.concat([each.loc[each["rx_call"] == call, "rx_locator"].astype(object) for each in heard])
            )
        found.append(_one(call, theirs, ours, home, there))
    rank = {Suits.GOOD: 0, Suits.CHECK: 1}
    return tuple(sorted(found, key=lambda each: (rank.get(each.fit, 2), -each.receivers, -each.reports, each.call)))


def _one(call: str, theirs: pd.DataFrame, ours: pd.Series, home: Place | None, there: Place | None) -> Neighbour:
    seen = _seen(theirs)
    beside = seen.loc[seen.index.isin(ours.index)]
    receivers = beside.index.get_level_values("rx_call").nunique()
    away_km = float("nan")
    if home is not None and there is not None:
        away_km = float(path.inverse([home[0]], [home[1]], [there[0]], [there[1]])[0][0])
    reports = int(beside.sum())
    anywhere = seen.reset_index("rx_call", drop=True)
    at_once = int(anywhere.loc[anywhere.index.isin(ours.reset_index("rx_call", drop=True).index)].sum())
    if at_once < FEWEST_REPORTS:
        fit = Suits.FEW
    elif home is None:
        fit = Suits.NO_HOME
    elif there is None:
        fit = Suits.NO_PLACE
    elif away_km > FARTHEST_KM:
        fit = Suits.FAR
    else:
        fit = Suits.GOOD if receivers >= FEWEST_IN_COMMON and reports >= FEWEST_REPORTS else Suits.CHECK
    return Neighbour(call, fit, away_km, receivers, reports)


def _seen(spots: pd.DataFrame) -> pd.Series:
    """How many reports by rx_call, band and stretch of ten minutes."""
    minutes = spots["time_utc"].dt.tz_convert(None).to_numpy().astype("datetime64[m]").astype(np.int64)
    by = ["rx_call", "band", "stretch"]
    counted = keys.added(spots[["rx_call", "band"]].assign(stretch=minutes // TOGETHER_MIN), by)
    # Categories of two tables are not each other's, their texts are.
    return counted.astype({"rx_call": str, "band": str}).set_index(by)["reports"]


def position(locators: pd.Series) -> Place | None:
    """Longitude and latitude of the locator that most reports name; None where none is sound."""
    names = locators.dropna().astype(str).value_counts()
    name = next((str(each) for each in names.index if grammar.judge(str(each), four_characters=True).locator), None)
    if name is None:
        return None
    (lon,), (lat,) = locator.centre([locator.checked(name)])
    return float(lon), float(lat)


def with_control(reports: Reports, limit: Limits, controls: Sequence[Reports]) -> DaysFound | None:
    """Each report against every control station's nearest report at the same receiver.

    reports, limit : of the same rows
    controls : one or several, with receivers and channels (hence units) numbered as in `reports`; their setups did not change
    Returns DaysFound, or None with fewer than 3 days of either setup, or too few receivers that heard both stations.
    """
    found = [_nearest(reports, control) for control in controls]
    row = np.concatenate([at for at, _ in found])
    if not len(row):
        return None
    # What a receiver hears of the station against one control is another usual level than against the next.
    whose = np.repeat(np.arange(len(controls)), [len(at) for at, _ in found])
    against_db = np.concatenate(
        [control.level_db[near].mean(axis=1) for control, (_, near) in zip(controls, found, strict=True)]
    )
    chosen, limit = reports.take(row), limit.take(row)
    chosen = replace(chosen, unit=chosen.unit + whose * (int(reports.unit.max()) + 1))
    day, keep, _ = days(chosen.time_min, chosen.is_a)
    chosen, limit, day, against_db = chosen.take(keep), limit.take(keep), day[keep], against_db[keep]
    return settled(lambda beta: _fit(chosen, limit, day, against_db, beta))


def _fit(reports: Reports, limit: Limits, day: Ints, against_db: Floats, beta_db: float) -> DayFit | None:
    """Day levels of the difference to the control, days of A against days of B."""
    cut = estimate.above(reports, limit, beta_db, estimate.usual_power(reports))
    some = cut.some
    left = reports.take(some)
    receivers = len(np.unique(left.receiver))
    if receivers < FEWEST_RECEIVERS:
        return None
    day_no, day_of = np.unique(day[some], return_inverse=True)
    unit = np.unique(left.unit, return_inverse=True)[1]
    level = day_levels(cut.level_db[some] - against_db[some], unit, day_of, cut.share[some])
    is_a = np.bincount(day_of, left.is_a) > 0
    a, b = level[is_a], level[~is_a]
    if min(len(a), len(b)) < FEWEST_DAYS_EACH:
        return None
    parts = np.array([_mean_variance(a, day_no[is_a]), _mean_variance(b, day_no[~is_a])])
    df = parts.sum() ** 2 / (parts**2 / np.array([len(a) - 1, len(b) - 1])).sum()
    return DayFit(float(a.mean() - b.mean()), float(np.sqrt(parts.sum())), float(df), is_a, receivers, cut.share)


def _mean_variance(level_db: Floats, day: Ints) -> float:
    """Variance of the mean of day levels, where days near each other are alike: their correlation falls as
    exp(-days apart). Independent days would give level_db.var(ddof=1) / n, and too narrow an interval."""
    n = len(day)
    alike = np.exp(-np.abs(day[:, None] - day[None, :]) / DAYS_ALIKE)
    mean_of_one = alike.sum() / n**2
    seen_of_one = (n - alike.sum() / n) / (n - 1)
    return float(level_db.var(ddof=1) * mean_of_one / seen_of_one)


def _nearest(reports: Reports, control: Reports) -> tuple[Ints, Ints]:
    """Rows of reports with a control report of the same unit within ten minutes, and which that is, shape (m, 2): two where
    one before and one after are equally near, else one twice."""
    if not len(control) or not len(reports):
        return np.empty(0, dtype=np.int64), np.empty((0, 2), dtype=np.int64)
    span = max(reports.time_min.max(), control.time_min.max()) + 10 * WITHIN_MIN
    theirs = control.unit * span + control.time_min
    ours = reports.unit * span + reports.time_min
    order = np.argsort(theirs, kind="stable")
    at = np.searchsorted(theirs[order], ours)
    both = np.stack([order[np.maximum(at - 1, 0)], order[np.minimum(at, len(theirs) - 1)]], axis=1)
    apart = np.abs(theirs[both] - ours[:, None])
    nearest = apart.min(axis=1, keepdims=True)
    both = np.where(apart <= nearest + TIE_MIN, both, both[np.arange(len(both)), apart.argmin(axis=1)][:, None])
    close = (control.unit[both] == reports.unit[:, None]).all(axis=1) & (nearest[:, 0] <= WITHIN_MIN + TIE_MIN)
    return np.flatnonzero(close), both[close]


def placebo(evidence: Evidence, controls: Mapping[str, pd.DataFrame]) -> tuple[Estimate | None, tuple[Remark, ...]]:
    """The control station compared as if it had changed setups when ours did: its difference should be 0.

    controls : name -> spots, which need NEEDED; of several the one with most is looked at; may be empty
    Returns (its estimate, None where it says nothing; warnings). Nothing where both setups were on the air at once: no
    drift of the band can stand in for a difference then.
    """
    if not controls or evidence.design.simultaneous:
        return None, ()
    control = controls[max(sorted(controls), key=lambda name: len(controls[name]))]
    named = _label_like(control, evidence.spots, evidence.reports.is_a, evidence.design.period_min)
    if not named.is_a.any() or named.is_a.all():
        return None, (Remark(Caution.CONTROL_UNHEARD),)
    theirs = gather(named, evidence.a, evidence.b, np.zeros(len(named.is_a)), None)
    theirs = replace(
        theirs, design=evidence.design
    )  # the changes are ours; theirs would be as the labels happen to fall
    found = estimate.fit(theirs.reports, theirs.limit, theirs.design)
    spread = checks.enough(theirs, found)
    if isinstance(spread, checks.Refusal) or found is None:
        return None, (Remark(Caution.CONTROL_TOO_LITTLE),)
    mu = found.pooled.difference_db
    low, high = variance.interval(mu, spread.like, spread.like_df)
    moved = () if low <= 0 <= high else (Remark(Caution.CONTROL_DIFFERS, {"difference_db": mu}),)
    return Estimate(Method.CONTROL, mu, low, high), moved


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
        power_db=np.zeros(len(order)),
        level_db=level[order],
        round_db=np.zeros(len(order)),
    )


def _keys(spots: pd.DataFrame) -> pd.DataFrame:
    """What makes a unit, as text: receiver, square, band, mode."""
    mode = spots["mode"].astype(object) if "mode" in spots.columns else ""
    return pd.DataFrame(
        {
            "call": spots["rx_call"].astype(str).str.upper().to_numpy(),
            "square": spots["rx_locator"].astype(str).map(places.square_of).to_numpy(),
            "band": spots["band"].astype(str).to_numpy(),
            "mode": mode if isinstance(mode, str) else mode.to_numpy(),
        }
    )


def _label_like(control: pd.DataFrame, spots: pd.DataFrame, is_a: Bools, period_min: float) -> Labelled:
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
    return Labelled(rows[use], labels[before][use], "control", None, {}, np.flatnonzero(use))
