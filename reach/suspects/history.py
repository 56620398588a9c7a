"""One receiver, several locators: which of its places stand against each other, in which order, and how fast it moved.

A place is a cell of six characters, so JN58td and JN58td36 are one, and so is JN58 beside them. Receivers that sign as
portable, mobile or visiting may be anywhere and are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.place import path, world
from reach.suspects import transcription
from reach.suspects.claims import Claims

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

ALONE: Final = 0  # no other place
MIXED: Final = 1  # reports from here between reports from there
VISIT: Final = 2  # one stay here, in the middle of reports from there, or the reverse
MOVED: Final = 3  # all reports from here before all from there, or after; it stayed at both
BRIEF: Final = 4  # the same, but there are too few from one of the two to call it a stay, or it would have had to fly

_STAYS: Final = 3  # reports from a place in one go that make a stay
_SLACK_HOURS: Final = 5 / 60  # times are the beginning of a transmission or the moment of a report
AIRLINER_KMH: Final = 1000.0
_HOUR: Final = 3_600_000_000  # microseconds


@dataclass(frozen=True)
class History:
    """What the order of reports says, shape (claims,) each.

    rival        index of the claim that stands against this one, -1 where none does: the most trusted other place
    pattern      ALONE, MIXED, VISIT, MOVED, BRIEF
    error        code of the transcription error between the two locators, "" where there is none
    far          whether the two differ in their first four characters
    here, there  reports from this place and from the rival's
    away_km      distance between the two, NaN where there is no rival
    kmh          the greatest speed that two reports of this receiver would have taken, one of them from here, sizes of
                 cells and five minutes allowed for; 0 where it went nowhere faster than an airliner
    minutes      the time between those two reports
    first_us, last_us   of the place, microseconds since 1970; 0 for ALONE
    """

    rival: Ints
    pattern: Ints
    error: npt.NDArray[np.object_]
    far: npt.NDArray[np.bool_]
    here: Ints
    there: Ints
    away_km: Floats
    kmh: Floats
    minutes: Floats
    first_us: Ints
    last_us: Ints


@dataclass(frozen=True)
class _Places:
    """Places of receivers that have several, shape (places,) each, numbered by receiver."""

    of_claim: Ints  # shape (claims,), -1 for the claims of other receivers
    call: Ints
    claim: Ints  # the claim with the most reports
    reports: Ints
    first_us: Ints
    last_us: Ints
    stays: Ints  # in how many goes the reports came
    kmh: Floats
    minutes: Floats


def history(spots: pd.DataFrame, claims: Claims, doubt: Floats) -> History:
    """Set the places of each receiver against each other.

    spots  : the table the claims are of; needs time_utc
    doubt  : log-odds against each claim from the world alone, shape (claims,)
    Returns History.
    """
    places = _places(spots, claims)
    rival_place = _rivals(places, np.array(doubt)[places.claim])
    n = len(claims)
    mine = np.flatnonzero(places.of_claim >= 0)
    here = places.of_claim[mine]
    there = rival_place[here]
    rival = np.full(n, -1, dtype=np.int64)
    rival[mine] = places.claim[there]
    pattern = np.full(n, ALONE)
    pattern[mine] = _patterns(places, here, there)
    error, far, away = np.full(n, "", dtype=object), np.zeros(n, dtype=bool), np.full(n, np.nan)
    ours, theirs = claims.rx_locator[mine], claims.rx_locator[rival[mine]]
    error[mine] = transcription.relations(list(ours), list(theirs))
    far[mine] = transcription.are_far(ours, theirs)
    lon, lat = claims.lon_deg, claims.lat_deg
    away[mine] = path.inverse(lon[mine], lat[mine], lon[rival[mine]], lat[rival[mine]])[0]

    def back(values: Ints | Floats, at: Ints) -> npt.NDArray[np.float64]:
        out = np.zeros(n)
        out[mine] = values[at]
        return out

    return History(
        rival=rival,
        pattern=pattern,
        error=error,
        far=far,
        here=back(places.reports, here).astype(np.int64),
        there=back(places.reports, there).astype(np.int64),
        away_km=away,
        kmh=back(places.kmh, here),
        minutes=back(places.minutes, here),
        first_us=back(places.first_us, here).astype(np.int64),
        last_us=back(places.last_us, here).astype(np.int64),
    )


def _places(spots: pd.DataFrame, claims: Claims) -> _Places:
    """The places of receivers that have several."""
    of_claim, main = _merge(claims)
    rows = claims.rows_of(of_claim >= 0)
    place = of_claim[claims.claim_of(rows)]
    time = spots["time_utc"].take(rows).dt.as_unit("us").astype("int64").to_numpy()
    call = claims.call[main]
    order = np.lexsort((time, call[place]))
    place, time = place[order], time[order]
    starts = np.ones(len(place), dtype=bool)
    starts[1:] = place[1:] != place[:-1]
    count = len(main)
    first, last = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    first[place[::-1]], last[place] = time[::-1], time
    kmh, minutes = _speeds(claims, main, place, time)
    return _Places(
        of_claim=of_claim,
        call=call,
        claim=main,
        reports=np.bincount(place, minlength=count),
        first_us=first,
        last_us=last,
        stays=np.bincount(place[starts], minlength=count),
        kmh=kmh,
        minutes=minutes,
    )


def _merge(claims: Claims) -> tuple[Ints, Ints]:
    """Number the places of receivers that have several.

    A place is a cell of six characters; a square alone is the place inside it with the most reports, if there is one.
    Returns (place of each claim, -1 for the other receivers; for each place its claim with the most reports).
    """
    candidates = np.flatnonzero((np.bincount(claims.call)[claims.call] > 1) if len(claims) else [])
    # Who signs as portable may be anywhere: two places of theirs say nothing.
    keep = candidates[~world.roams(list(claims.rx_call[candidates]))]
    # Long locators first, so that a square finds the places inside it already there.
    keep = keep[np.lexsort((-claims.reports[keep], -claims.characters[keep], claims.call[keep]))]
    of_claim = np.full(len(claims), -1, dtype=np.int64)
    names = [name[:6].upper() for name in claims.rx_locator[keep]]
    main: list[int] = []
    merged: list[int] = []  # claims, and the number of each one's place
    number: list[int] = []
    ends = np.flatnonzero(np.diff(claims.call[keep], append=-1)) + 1
    start = 0
    for end in ends.tolist():
        members: dict[str, list[int]] = {}
        first_in: dict[str, str] = {}  # of the places in a square the one that was there first
        for claim, name in zip(keep[start:end].tolist(), names[start:end], strict=True):
            home = first_in.get(name, name) if len(name) == 4 else name
            first_in.setdefault(name[:4], home)
            members.setdefault(home, []).append(claim)
        start = end
        if len(members) > 1:
            for place in members.values():
                merged += place
                number += [len(main)] * len(place)
                main.append(place[0] if len(place) == 1 else max(place, key=lambda c: claims.reports[c]))
    of_claim[merged] = number
    return of_claim, np.array(main, dtype=np.int64)


def _speeds(claims: Claims, main: Ints, place: Ints, time: Ints) -> tuple[Floats, Floats]:
    """For each place the greatest impossible speed to or from it [km/h], and the time it was done in [min].

    place, time : of rows in the order of receiver, then time
    """
    kmh, minutes = np.zeros(len(main)), np.zeros(len(main))
    if not len(place):
        return kmh, minutes
    call = claims.call[main]
    # Only where the place changes from one report of a receiver to its next can it have flown; and few distinct pairs of
    # places hold all those hops, so the geodesics are worked out once a pair.
    hop = np.flatnonzero((place[1:] != place[:-1]) & (call[place[1:]] == call[place[:-1]]))
    a, b = main[place[hop]], main[place[hop + 1]]
    pairs, which = np.unique(np.stack([a, b]), axis=1, return_inverse=True)
    lon, lat = claims.lon_deg[pairs], claims.lat_deg[pairs]
    km, _ = path.inverse(lon[0], lat[0], lon[1], lat[1])
    slack_km = _radius_km(claims)[pairs].sum(axis=0)
    took = (time[hop + 1] - time[hop]) / _HOUR
    speed = np.maximum(km - slack_km, 0)[which.ravel()] / (took + _SLACK_HOURS)
    flown = np.flatnonzero(speed > AIRLINER_KMH)
    ends = np.stack([place[hop[flown]], place[hop[flown] + 1]], axis=1).ravel()
    speed, took = np.repeat(speed[flown], 2), np.repeat(took[flown], 2)
    np.maximum.at(kmh, ends, speed)
    fastest = speed == kmh[ends]
    minutes[ends[fastest]] = took[fastest] * 60
    return kmh, minutes


def _radius_km(claims: Claims) -> Floats:
    """About how far a station may be from the centre of its cell, by the length of its locator."""
    return np.where(claims.characters < 6, 125.0, 5.2)


def _rivals(places: _Places, doubt: Floats) -> Ints:
    """For each place the most trusted other place of its receiver: many reports, and nothing against it."""
    # Twice as many reports count as log 2, as a piece of evidence would: so one look at the map (6 and more) outweighs
    # four hundred reports, and a place at sea is no witness against a town, however often it was sent.
    trust = np.log(places.reports) - np.maximum(doubt, 0)
    order = np.lexsort((-trust, places.call))
    call = places.call[order]
    best = np.ones(len(order), dtype=bool)
    best[1:] = call[1:] != call[:-1]
    starts = np.flatnonzero(best)
    number = np.cumsum(best) - 1
    # Everybody's rival is the first of its receiver, and the first one's is the second.
    rival = np.empty(len(order), dtype=np.int64)
    rival[order] = order[starts[number]]
    rival[order[starts]] = order[starts + 1]
    return rival


def _patterns(places: _Places, here: Ints, there: Ints) -> Ints:
    """How the reports from two places lie in time."""
    pattern = np.full(len(here), MIXED)
    apart = (places.last_us[here] <= places.first_us[there]) | (places.last_us[there] <= places.first_us[here])
    slow = places.kmh[here] == 0
    fewer = np.minimum(places.reports[here], places.reports[there])
    stayed = fewer >= _STAYS
    # The visit is to the place with fewer reports; with as many from both, to the one in whose middle there are none of the other.
    inner = [(places.reports[end] == fewer) & (places.stays[end] == 1) for end in (here, there)]
    one_stay = (inner[0] | inner[1]) & stayed
    # The later line wins: a stay at the edge of the time is a move (or too brief to tell), one in its middle a visit.
    pattern[slow & one_stay] = VISIT
    pattern[apart] = np.where(stayed & slow, MOVED, BRIEF)[apart]
    return pattern
