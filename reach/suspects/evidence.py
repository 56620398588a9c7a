"""The evidence against a claimed place, one small function each: how many log-odds it adds, and the facts behind it.

Log-odds are natural logarithms: +2.3 multiplies the odds that a locator is wrong by ten. The weights were set by hand
and checked on simulated transcription errors; SUSPECTS.md has the table. `tell.sentences.suspects` says the facts.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from reach.base import call_areas
from reach.place import world
from reach.place.world import ANTARCTIC_DEG, NO, UNKNOWN, YES
from reach.suspects import history as past
from reach.suspects import transcription
from reach.suspects.claims import Claims
from reach.suspects.history import History
from reach.suspects.strength import Strength

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

# One locator in a hundred and fifty is wrong before anything is known of it.
PRIOR: Final = -5.0

# What the world says alone makes a suspect (PRIOR + 6.2 is three to one), and no two pieces of it are counted for the same
# fact: at sea there is no country near, so the country test stays silent; south of 60 S it does so by rule.
COUNTRY_DIFFERS: Final = 6.2
AT_SEA: Final = 8.0
FAR_SOUTH: Final = 6.2
_FIRST_NORTH: Final = round((90 + ANTARCTIC_DEG) / 10)  # the first field letter of latitude north of 60 S, as a number
BORROWED: Final = 3.0  # on top of a country that differs: somebody copied the line, so nothing of their own is in it
# A call-area digit is a hint: of those who hold one perhaps one in six lives elsewhere (assumed), of wrong places within a large
# country four in five lie outside the area. ln(0.8 / 0.17) = 1.5; with the prior that is far from a suspect.
OUTSIDE_AREA: Final = 1.5
AREA_MARGIN_KM: Final = 150.0  # outside the box by so much; nearer, nobody can tell
STRENGTH_FREE: Final = 1.5  # spreads within which a receiver may differ from others
STRENGTH_PER_SPREAD: Final = 0.5
STRENGTH_MOST: Final = 1.5  # an antenna explains as much as a wrong place does: with the prior far from a suspect

# One receiver, two places: the log-odds that one of them is wrong, by how its reports lie in time.
ONE_IS_WRONG: Final = {past.MIXED: 0.2, past.BRIEF: -2.0, past.VISIT: -2.5, past.MOVED: -4.0}
FAR_ERROR: Final = 7.0  # the two are one known error apart, in the first four characters
NEAR_ERROR: Final = 3.5  # in the last two: the next cell is as often a true neighbour
TOO_FAST: Final = 3.0
SHARE_POWER: Final = 1.2  # how strongly the rarer of two mixed places is blamed


class Kind(StrEnum):
    """Kinds of evidence, by code."""

    PRIOR = "prior"  # no facts
    COUNTRY = "country"  # facts: name of the callsign's administration, "" where it has none on the map
    AREA = "call-area"  # facts: name of the area that the digit stands for
    SEA = "sea"  # no facts
    FAR_SOUTH = "far-south"  # no facts
    BORROWED = "borrowed"  # no facts
    SEVERAL = "several-locators"  # facts: Elsewhere
    ERROR = "transcription-error"  # facts: the transcription.Kind between the two places
    SPEED = "speed"  # facts: Speed
    STRENGTH = "strength"  # facts: by how much its reports are stronger than others, negative where weaker [dB]


class Elsewhere(NamedTuple):
    """The other place of a receiver: locator, distance [km]; reports from here and from there; whether the receiver
    stayed at both, one after the other, and whether there came later; the last report from there [us since 1970 UTC]."""

    locator: str
    away_km: float
    here: int
    there: int
    moved: bool
    later: bool
    until_us: int


class Speed(NamedTuple):
    """What it would have taken to be at both places: minutes between the two reports, and km/h."""

    minutes: float
    kmh: float


Facts = str | float | Elsewhere | Speed | None


class Piece(NamedTuple):
    """One piece of evidence for or against one claim: its kind, the log-odds that its locator is wrong, the facts."""

    kind: Kind
    log_odds: float
    facts: Facts = None


@dataclass(frozen=True)
class Evidence:
    """One kind of evidence for all claims.

    kind      which
    log_odds  shape (claims,): for a wrong locator where positive
    facts     what it rests on for each of some claims, given by their numbers; asked for only where it has log-odds, or a rival
    """

    kind: Kind
    log_odds: Floats
    facts: Callable[[Ints], Iterable[Facts]] = lambda some: itertools.repeat(None, len(some))


@dataclass(frozen=True)
class Country(Evidence):
    """The country test. answer: YES, NO or UNKNOWN, shape (claims,)."""

    answer: npt.NDArray[np.int8] = field(kw_only=True)


def country(claims: Claims) -> Country:
    """The callsign's administration against the countries within 25 km."""
    answer = world.agrees(list(claims.rx_call), claims.lon_deg, claims.lat_deg, claims.characters)
    log_odds = np.where(answer == NO, COUNTRY_DIFFERS, 0.0)

    def facts(some: Ints) -> Iterable[str]:
        return map(str, world.administrations(list(claims.rx_call[some])))

    return Country(Kind.COUNTRY, log_odds, facts, answer=answer)


def call_area(claims: Claims, answer: npt.NDArray[np.int8]) -> Evidence:
    """The digit of the callsign stands for another part of the country than the one claimed.

    answer : of the country test, shape (claims,): abroad the country says all there is to say
    """
    at_home = np.flatnonzero(answer == YES)
    calls = list(claims.rx_call[at_home])
    out_km = call_areas.outside_km(calls, claims.lon_deg[at_home], claims.lat_deg[at_home])
    log_odds = np.zeros(len(claims))
    log_odds[at_home] = np.where(
        out_km > AREA_MARGIN_KM, OUTSIDE_AREA, 0.0
    )  # NaN, where the digit says nothing, is no more

    def facts(some: Ints) -> Iterable[str]:
        found = [call_areas.area(str(call)) for call in claims.rx_call[some]]
        return ["" if area is None else area.name for area in found]

    return Evidence(Kind.AREA, log_odds, facts)


def once(area: Evidence, rival: npt.NDArray[np.int64]) -> Evidence:
    """The same without the claims whose rival lies outside as well: that holder has moved, and the digit tells neither place.

    rival : the other claim of the receiver, -1 where there is none, shape (claims,)
    """
    both = (rival >= 0) & (area.log_odds[rival] > 0)
    return replace(area, log_odds=np.where(both, 0.0, area.log_odds))


def sea(claims: Claims) -> Evidence:
    """No land or inhabited place within 10 km of the cell, and no callsign of a ship or aircraft."""
    land = world.on_land(claims.lon_deg, claims.lat_deg, claims.characters)
    wet = np.flatnonzero(~land)
    afloat = np.zeros(len(claims), dtype=bool)
    afloat[wet] = world.afloat(list(claims.rx_call[wet]))
    return Evidence(Kind.SEA, np.where(land | afloat, 0.0, AT_SEA))


def far_south(claims: Claims, answer: npt.NDArray[np.int8]) -> Evidence:
    """South of 60 S, while one transcription error leads from there to the callsign's own country.

    No country can be asked there and nobody is out of place; but hardly anybody is there, and the field letters A to C
    are as easily typed as others. Callsigns of bases and those that say nothing of a country are let be.
    answer : of the country test, shape (claims,)
    """
    log_odds = np.zeros(len(claims))
    there = np.flatnonzero((claims.lat_deg < ANTARCTIC_DEG) & (answer == UNKNOWN))
    for start in range(0, len(there), transcription.AT_ONCE):
        some = there[start : start + transcription.AT_ONCE]
        found = transcription.candidates(list(claims.rx_locator[some]))
        # Of some twenty places north of there hardly one lies in a square that the country reaches into.
        home, squares = world.squares(list(claims.rx_call[some]))
        row, column = np.nonzero(found.there & (found.values[..., 1] >= _FIRST_NORTH))
        values = found.values[row, column]
        likely = squares[home[row], values[:, 0] * 10 + values[:, 2], values[:, 1] * 10 + values[:, 3]]
        likely |= claims.characters[some][row] < 6
        row = row[likely]
        lon, lat = transcription.centres(values[likely])
        at_home = world.agrees(list(claims.rx_call[some][row]), lon, lat, claims.characters[some][row]) == YES
        log_odds[some[np.unique(row[at_home])]] = FAR_SOUTH
    return Evidence(Kind.FAR_SOUTH, log_odds)


def borrowed(claims: Claims, differs: Flags) -> Evidence:
    """The locator is the station's own to the last letter, and the callsign says another country.

    differs : shape (claims,), whether the country test says so
    """
    upper = np.array([name.upper() for name in claims.rx_locator], dtype=object)
    own = np.array([name.upper() for name in claims.cell_tx], dtype=object)
    same = np.zeros(len(claims), dtype=bool)
    same[claims.cell_claim[upper[claims.cell_claim] == own]] = True
    log_odds = np.where(same & differs, BORROWED, 0.0)
    return Evidence(Kind.BORROWED, log_odds)


def strength(found: Strength) -> Evidence:
    """Reports that are out of keeping with others from that far; weak, and never alone."""
    out = np.nan_to_num(np.abs(found.spreads) - STRENGTH_FREE, nan=0.0)
    log_odds = np.clip(out * STRENGTH_PER_SPREAD, 0.0, STRENGTH_MOST)

    return Evidence(Kind.STRENGTH, log_odds, lambda some: found.excess_db[some].tolist())


class Rivalry:
    """Evidence from the other place of a receiver with several.

    One of two places is wrong with a chance that depends on how the reports lie in time, on whether the two are one
    transcription error apart, and on whether the receiver would have had to fly. Blame is then shared: the rarer place of two mixed
    ones takes more of it, and so does the place that the world speaks against. Each function says how much its piece
    of knowledge adds to the log-odds of each place; their sum is exact.
    """

    def __init__(self, claims: Claims, history: History, doubt: Floats) -> None:
        """doubt : log-odds against each claim from the world alone, shape (claims,)."""
        self._claims, self._history = claims, history
        self.some = history.rival >= 0
        ratio = np.log((history.there + 1) / (history.here + 1))
        # Where reports from two places are mixed, the rarer one is the odd one out. After an error nobody knows how long it
        # lasted, though: before and after a change, numbers say nothing.
        ratio[(history.pattern != past.MIXED) & ((history.pattern != past.BRIEF) | (history.error != ""))] = 0.0
        against = np.maximum(doubt, 0)
        self.blame = _logistic(SHARE_POWER * ratio + against - against[history.rival])
        self._order = np.array([ONE_IS_WRONG.get(p, 0.0) for p in range(5)])[history.pattern]
        self._error = np.where(history.error == "", 0.0, np.where(history.far, FAR_ERROR, NEAR_ERROR))
        self._fast = np.where(history.kmh > 0, TOO_FAST, 0.0)

    def several(self) -> Evidence:
        """The receiver reports from another place as well."""
        # The chance from the two places replaces the prior, so the prior is taken out again here.
        return Evidence(Kind.SEVERAL, self._step(self._order) - PRIOR * self.some, self._elsewhere)

    def known_error(self) -> Evidence:
        """One transcription error leads from one of the two places to the other."""
        log_odds = self._step(self._order + self._error) - self._step(self._order)
        return Evidence(Kind.ERROR, log_odds, lambda some: map(str, self._history.error[some]))

    def speed(self) -> Evidence:
        """No airliner gets from one place to the other in the time between two reports."""
        before = self._order + self._error
        log_odds = self._step(before + self._fast) - self._step(before)
        told = self._history
        return Evidence(
            Kind.SPEED, log_odds, lambda some: map(Speed, told.minutes[some].tolist(), told.kmh[some].tolist())
        )

    def _step(self, one_is_wrong: Floats) -> Floats:
        """Log-odds that this very place is wrong; 0 where there is no rival."""
        # Chances multiply: that one of the two is wrong, times this one's share of the blame. Log-odds do not, so each
        # piece is the difference between two such steps.
        chance = _logistic(one_is_wrong) * self.blame
        return np.where(self.some, _log_odds(chance), 0.0)

    def _elsewhere(self, some: Ints) -> Iterable[Elsewhere | None]:
        """The facts of the other places; None where there is none."""
        told, rival = self._history, self._history.rival[some]
        facts = zip(
            map(str, self._claims.rx_locator[rival]),
            told.away_km[some].tolist(),
            told.here[some].tolist(),
            told.there[some].tolist(),
            (told.pattern[some] == past.MOVED).tolist(),
            (told.first_us[rival] > told.first_us[some]).tolist(),
            told.last_us[rival].tolist(),
            strict=True,
        )
        return [Elsewhere._make(each) if there else None for each, there in zip(facts, rival >= 0, strict=True)]


def _logistic(log_odds: Floats) -> Floats:
    return 1 / (1 + np.exp(-log_odds))


def _log_odds(chance: Floats) -> Floats:
    return np.log(chance / (1 - chance))
