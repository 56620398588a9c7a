"""The level of a station from day to day. METHOD.md beside this file has the method, its figures and its limits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

    from reach.compare.season.found import Control, Said, Season
    from reach.compare.season.level import Heard, Level

SHARE_OF_DAYS: Final = 0.6  # of the station's days a control must have been heard together with it
MOST_CONTROLS: Final = 8
FAR_KM: Final = 300.0
WIDE_DB: Final = 3.0
NEAR_LIMIT: Final = 0.4
LOST_SHARE: Final = 0.75  # of the days one side of a step may lose against the other before that is said
# Without a control (METHOD.md): 99 % of a week against the three before lay within this though nothing changed, and only
# beyond that is more than a band usually does.
USUAL_WEEK_DB: Final = 4.0
STRONG_WEEK_DB: Final = 8.0
_WEEK: Final = 7
_MONTH: Final = 28
_FEWEST_OF_WEEK: Final = 4


def season(
    spots: pd.DataFrame,
    controls: Mapping[str, pd.DataFrame],
    *,
    log: Sequence[tuple[date, str, float | None]] = (),
    watch: bool = False,
    chosen: bool = False,
    station: str = "",
    direction: str = "sent",
    decoding_limit_db: float | None = None,
) -> Season:
    """Whether a station's level changed over weeks, when, by how much, and whether it was the station.

    spots : the station's, with time_utc, rx_call, rx_locator, snr_db, band; mode keeps modes apart, power_w is taken off,
        tx_locator places it
    controls : name -> spots of other stations whose antenna stayed as it was, near by
    log : what was done to the station: day, words, SWR read or None; each is sized without search
    watch : someone looks every day, so that more is asked of a claim
    chosen : whether the program chose the controls rather than the user
    Returns Season: a curve in any case, and changes only where controls, days and scatter allow it.
    """
    from reach.compare.season import judge
    from reach.compare.season.found import Season

    if direction == "heard":  # then a power is the far end's, the same for both
        spots, controls = _no_power(spots), {name: _no_power(each) for name, each in controls.items()}
    ours, paired = _paired(spots, controls, decoding_limit_db)
    levels, unused = _levels(ours, paired)
    remarks = [*unused, *_about(spots)]
    if not levels:
        return _without(ours, station, direction, tuple(remarks), watch, log)
    judged = judge.judge(levels, watch=watch)
    days, sd = judge.daily(judged.series, judged.claims)
    refused = _too_few(judged.series, len(days))
    stands = refused is None
    told = _controls(spots, controls, levels, paired, judged.left_out)
    used = [paired[name] for name in judged.levels]
    remarks += _weak(told, sd, float(judged.series.kept), stands)
    remarks += _lost(judged.series, judged.changes) if stands else []
    return Season(
        station=station,
        direction=direction,
        days=days,
        controls=told,
        changes=judged.changes if stands else (),
        log=judge.dated(judged.series, judged.changes, log),
        refused=refused,
        remarks=tuple([_chosen(told), *remarks] if chosen else remarks),
        sd_db=sd,
        attainable=judge.attainable(len(days), _since(judged.series, judged.changes), sd) if stands else None,
        receivers=len(set().union(*(set(each.receiver.tolist()) for each in used))),
        pairs=sum(len(each) for each in used),
        kept=float(judged.series.kept),
        watch=watch,
    )


def _no_power(spots: pd.DataFrame) -> pd.DataFrame:
    return spots.drop(columns="power_w", errors="ignore")


def _paired(
    spots: pd.DataFrame, controls: Mapping[str, pd.DataFrame], decoding_limit_db: float | None
) -> tuple[Heard, dict[str, Any]]:
    """What was heard of the station, and its pairs with each control."""
    from reach.compare.season import level

    ours, *theirs = level.heard([spots, *controls.values()], decoding_limit_db)
    return ours, {name: level.pairs(ours, each) for name, each in zip(controls, theirs, strict=True)}


def _levels(ours: Heard, paired: Mapping[str, Any]) -> tuple[dict[str, Level], list[Said]]:
    """The station's level against each control that can serve, and of the others why they cannot."""
    from reach.compare.season import level
    from reach.compare.season.found import Remark, Said

    own_days = len(set(ours.day.tolist()))
    heard_on = {name: len(set(each.day.tolist())) for name, each in paired.items()}
    serve = [name for name in paired if heard_on[name] >= SHARE_OF_DAYS * own_days]
    most_pairs = sorted((name for name in serve if len(paired[name])), key=lambda name: (-len(paired[name]), name))
    levels = {name: level.level(paired[name]) for name in most_pairs[:MOST_CONTROLS]}
    said = [
        Said(Remark.UNUSED, {"name": name, "days": heard_on[name], "of": own_days})
        for name in paired
        if name not in serve
    ]
    thin = [name for name, each in levels.items() if not len(each.days)]
    said += [Said(Remark.THIN, {"name": name, "days": heard_on[name]}) for name in thin]
    if len(most_pairs) > MOST_CONTROLS:
        said.append(Said(Remark.SURPLUS, {"names": most_pairs[MOST_CONTROLS:], "most": MOST_CONTROLS}))
    return {name: each for name, each in levels.items() if name not in thin}, said


def _too_few(series: Level, days: int) -> Said | None:
    """Why days do not suffice for a verdict, and when to come back; None where they do."""
    from reach.compare.season import change
    from reach.compare.season.found import Refused, Said

    if days >= change.FEWEST_DAYS:
        return None
    # A day with a level comes every so many days: the rest will take as long.
    missing = change.FEWEST_DAYS - days
    span = series.days[-1] - series.days[0] + 1
    values = {"days": days, "needed": change.FEWEST_DAYS, "come_back": int(-(-missing * span // days))}
    return Said(Refused.TOO_FEW_DAYS, values)


def _since(series: Level, changes: Sequence[Any]) -> int:
    """Days with a level since the last step, or in all."""
    from reach.compare.season import judge
    from reach.compare.season.found import Kind

    last = max((each.day for each in changes if each.kind is Kind.STEP), default=None)
    return int((series.days >= judge.number(last)).sum()) if last else len(series.days)


def _about(spots: pd.DataFrame) -> list[Said]:
    """What is known before any level is: setups taken together, power that changed."""
    from reach.compare.season.found import Remark, Said

    said = []
    setups = sorted({str(name) for name in spots["setup"].dropna().unique()}) if "setup" in spots else []
    if len(setups) > 1:
        said.append(Said(Remark.SETUPS_MIXED, {"setups": setups}))
    power = spots["power_w"].dropna() if "power_w" in spots else None
    if power is not None and len(power) and power.max() > 1.1 * power.min():
        said.append(Said(Remark.POWER, {"low_w": float(power.min()), "high_w": float(power.max())}))
    return said


def _weak(told: Sequence[Control], sd: float, kept: float, verdict: bool) -> list[Said]:
    """What weakens a verdict."""
    from reach.compare.season.found import Remark, Said

    used = [each for each in told if each.changed is None]
    said = []
    if verdict and len(used) == 1:
        said.append(Said(Remark.ONE_CONTROL, {"name": used[0].name}))
    if verdict and sd > WIDE_DB:
        said.append(Said(Remark.WIDE, {"sd_db": sd}))
    far = [each for each in used if each.distance_km is not None and each.distance_km > FAR_KM]
    said += [Said(Remark.FAR, {"name": each.name, "distance_km": each.distance_km}) for each in far]
    if kept < NEAR_LIMIT:
        said.append(Said(Remark.NEAR_LIMIT, {"kept": kept}))
    return said


def _lost(series: Level, changes: Sequence[Any]) -> list[Said]:
    """Steps after which far fewer days have a level, or before which: those that are left are the stronger ones."""
    from reach.compare.season import judge
    from reach.compare.season.found import Kind, Remark, Said

    said = []
    for each in (one for one in changes if one.kind is Kind.STEP):
        at, first, last = judge.number(each.day), int(series.days[0]), int(series.days[-1])
        before, after = int((series.days < at).sum()), int((series.days >= at).sum())
        full, rest = before / (at - first), after / (last - at + 1)
        if min(full, rest) < LOST_SHARE * max(full, rest):
            weaker = rest < full
            days, of = (after, last - at + 1) if weaker else (before, at - first)
            said.append(Said(Remark.LOST_DAYS, {"days": days, "of": of, "weaker": weaker}))
    return said


def _chosen(told: Sequence[Control]) -> Said:
    from reach.compare.season.found import Remark, Said

    return Said(Remark.CHOSEN, {"names": [each.name for each in told]})


def _controls(
    spots: pd.DataFrame,
    controls: Mapping[str, pd.DataFrame],
    levels: Mapping[str, Level],
    paired: Mapping[str, Any],
    left_out: Mapping[str, Any],
) -> tuple[Control, ...]:
    from reach.compare import control
    from reach.compare.season.found import Control
    from reach.place import path

    home = control.position(spots["tx_locator"]) if "tx_locator" in spots else None
    found = []
    for name, each in levels.items():
        there = control.position(controls[name]["tx_locator"]) if "tx_locator" in controls[name] else None
        away_km = None
        if home is not None and there is not None:
            away_km = float(path.inverse([home[0]], [home[1]], [there[0]], [there[1]])[0][0])
        receivers = len(set(paired[name].receiver.tolist()))
        found.append(Control(name, away_km, len(each.days), len(paired[name]), receivers, left_out.get(name)))
    return tuple(found)


def _without(
    ours: Heard, station: str, direction: str, remarks: tuple[Said, ...], watch: bool, log: Sequence[Any]
) -> Season:
    """The curve and no verdict: the band and the antenna cannot be told apart."""
    import numpy as np

    from reach.compare.season import judge, level
    from reach.compare.season.found import Dated, Day, Refused, Said, Season

    found = level.alone(ours)
    if not len(found.days):
        return Season(station, direction, (), (), refused=Said(Refused.NO_LEVEL), remarks=remarks, watch=watch)
    half = 1.96 * float(found.level_db.std(ddof=1)) if len(found.days) > 1 else float("nan")
    days = tuple(
        Day(judge.day(at), float(y), float(y - half), float(y + half), int(n))
        for at, y, n in zip(found.days, found.level_db, found.receivers, strict=True)
    )
    last = found.days[-1]
    week = found.level_db[found.days > last - _WEEK]
    before = found.level_db[(found.days <= last - _WEEK) & (found.days > last - _MONTH)]
    enough = len(week) >= _FEWEST_OF_WEEK and len(before) >= 3 * _FEWEST_OF_WEEK
    week_db = float(week.mean() - before.mean()) if enough else None
    strong = week_db is not None and abs(week_db) >= STRONG_WEEK_DB
    said = Said(Refused.NO_CONTROL, {"week_db": week_db, "usual_db": USUAL_WEEK_DB, "strong": strong})
    entries = tuple(
        Dated(when, done, swr, None, None, None, int(np.searchsorted(found.days, judge.number(when))),
              int(len(found.days) - np.searchsorted(found.days, judge.number(when))))
        for when, done, swr in log
    )  # fmt: skip
    receivers = len(set(ours.receiver.tolist()))
    return Season(
        station, direction, days, (), log=entries, refused=said, remarks=remarks, receivers=receivers, watch=watch
    )
