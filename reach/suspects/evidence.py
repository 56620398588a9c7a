"""The evidence against a claimed place, one small function each: how many log-odds it adds, and what it says.

Log-odds are natural logarithms: +2.3 multiplies the odds that a locator is wrong by ten. The weights were set by hand
and checked on simulated slips; SUSPECTS.md has the table.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.suspects import history as past
from reach.suspects import transcription
from reach.suspects.claims import Claims
from reach.suspects.history import History
from reach.suspects.strength import Strength
from reach.suspects.world import ANTARCTIC_DEG, NO, UNKNOWN, YES, World

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

# One locator in a hundred and fifty is wrong before anything is known of it.
PRIOR: Final = -5.0

COUNTRY_DIFFERS: Final = 6.2
AT_SEA: Final = 8.0
FAR_SOUTH: Final = 6.2
BORROWED: Final = 3.0
STRENGTH_FREE: Final = 1.5  # spreads within which a receiver may differ from others
STRENGTH_PER_SPREAD: Final = 0.5
STRENGTH_MOST: Final = 1.5

# One receiver, two places: the log-odds that one of them is wrong, by how its reports lie in time.
ONE_IS_WRONG: Final = {past.MIXED: 0.2, past.BRIEF: -2.0, past.VISIT: -2.5, past.MOVED: -4.0}
FAR_SLIP: Final = 7.0  # the two are one slip apart, in the first four characters
NEAR_SLIP: Final = 3.5  # in the last two: the next cell is as often a true neighbour
TOO_FAST: Final = 3.0
SHARE_POWER: Final = 1.2  # how strongly the rarer of two mixed places is blamed


@dataclass(frozen=True)
class Evidence:
    """One kind of evidence.

    name      short and stable
    log_odds  shape (claims,): for a wrong locator where positive
    says      the clause for one claim; asked for only where log_odds is positive
    """

    name: str
    log_odds: Floats
    says: Callable[[int], str]


@dataclass(frozen=True)
class Country(Evidence):
    """The country test. answer: YES, NO or UNKNOWN, shape (claims,)."""

    answer: npt.NDArray[np.int8]


def country(claims: Claims, world: World) -> Country:
    """The callsign's administration against the countries within 25 km."""
    answer = world.agrees(list(claims.rx_call), claims.lon_deg, claims.lat_deg, claims.characters)
    log_odds = np.where(answer == NO, COUNTRY_DIFFERS, 0.0)

    def says(n: int) -> str:
        name = str(world.administrations([claims.rx_call[n]])[0])
        return f"the callsign is one of {the(name)}" if name else "the callsign belongs elsewhere"

    return Country("country", log_odds, says, answer)


def sea(claims: Claims, world: World) -> Evidence:
    """No land or inhabited place within 10 km of the cell, and no callsign of a ship or aircraft."""
    land = world.on_land(claims.lon_deg, claims.lat_deg, claims.characters)
    wet = np.flatnonzero(~land)
    afloat = np.zeros(len(claims), dtype=bool)
    afloat[wet] = world.afloat(list(claims.rx_call[wet]))
    return Evidence("sea", np.where(land | afloat, 0.0, AT_SEA), lambda n: "there is no land within 10 km")


def far_south(claims: Claims, world: World, answer: npt.NDArray[np.int8]) -> Evidence:
    """South of 60 S, while one slip leads from there to the callsign's own country.

    No country can be asked there and nobody is out of place; but hardly anybody is there, and the field letters A to C
    are as easily typed as others. Callsigns of bases and those that say nothing of a country are let be.
    answer : of the country test, shape (claims,)
    """
    log_odds = np.zeros(len(claims))
    some = np.flatnonzero((claims.lat_deg < ANTARCTIC_DEG) & (answer == UNKNOWN))
    if len(some):
        found = transcription.candidates(list(claims.rx_locator[some]))
        row, column = np.nonzero(found.there)
        lon, lat = transcription.centres(found.values[row, column])
        north = lat > ANTARCTIC_DEG
        row, lon, lat = row[north], lon[north], lat[north]
        at_home = world.agrees(list(claims.rx_call[some][row]), lon, lat, claims.characters[some][row]) == YES
        log_odds[some[np.unique(row[at_home])]] = FAR_SOUTH
    return Evidence(
        "far south", log_odds, lambda n: "it lies in the Antarctic, one slip from the callsign's own country"
    )


def borrowed(claims: Claims, differs: Flags) -> Evidence:
    """The locator is the station's own to the last letter, and the callsign says another country.

    differs : shape (claims,), whether the country test says so
    """
    upper = np.array([name.upper() for name in claims.rx_locator], dtype=object)
    own = np.array([name.upper() for name in claims.cell_tx], dtype=object)
    same = np.zeros(len(claims), dtype=bool)
    same[claims.cell_claim[upper[claims.cell_claim] == own]] = True
    log_odds = np.where(same & differs, BORROWED, 0.0)
    return Evidence("borrowed", log_odds, lambda n: "it is the transmitter's own locator to the last letter")


def strength(found: Strength) -> Evidence:
    """Reports that are out of keeping with others from that far; weak, and never alone."""
    out = np.nan_to_num(np.abs(found.spreads) - STRENGTH_FREE, nan=0.0)
    log_odds = np.clip(out * STRENGTH_PER_SPREAD, 0.0, STRENGTH_MOST)

    def says(n: int) -> str:
        word = "stronger" if found.excess_db[n] > 0 else "weaker"
        return f"its reports are {abs(found.excess_db[n]):.0f} dB {word} than others from as far in the same hours"

    return Evidence("strength", log_odds, says)


class Rivalry:
    """Evidence from the other place of a receiver with several.

    One of two places is wrong with a chance that depends on how the reports lie in time, on whether the two are one
    slip apart, and on whether the receiver would have had to fly. Blame is then shared: the rarer place of two mixed
    ones takes more of it, and so does the place that the world speaks against. Each function says how much its piece
    of knowledge adds to the log-odds of each place; their sum is exact.
    """

    def __init__(self, claims: Claims, history: History, doubt: Floats) -> None:
        """doubt : log-odds against each claim from the world alone, shape (claims,)."""
        self._claims, self._history = claims, history
        self.some = history.rival >= 0
        ratio = np.log((history.there + 1) / (history.here + 1))
        # After a slip nobody knows how long it lasted: before and after a change, numbers say nothing.
        ratio[(history.pattern != past.MIXED) & ((history.pattern != past.BRIEF) | (history.slip != ""))] = 0.0
        against = np.maximum(doubt, 0)
        self.blame = _logistic(SHARE_POWER * ratio + against - against[history.rival])
        self._order = np.array([ONE_IS_WRONG.get(p, 0.0) for p in range(5)])[history.pattern]
        self._slip = np.where(history.slip == "", 0.0, np.where(history.far, FAR_SLIP, NEAR_SLIP))
        self._fast = np.where(history.kmh > 0, TOO_FAST, 0.0)

    def several(self) -> Evidence:
        """The receiver reports from another place as well."""
        return Evidence("several locators", self._step(self._order) - PRIOR * self.some, self._says_several)

    def known_slip(self) -> Evidence:
        """One slip leads from one of the two places to the other."""
        log_odds = self._step(self._order + self._slip) - self._step(self._order)
        return Evidence("slip", log_odds, lambda n: f"one slip lies between the two ({self._history.slip[n]})")

    def speed(self) -> Evidence:
        """No airliner gets from one place to the other in the time between two reports."""
        before = self._order + self._slip
        log_odds = self._step(before + self._fast) - self._step(before)
        return Evidence("speed", log_odds, self._says_speed)

    def _step(self, one_is_wrong: Floats) -> Floats:
        """Log-odds that this very place is wrong; 0 where there is no rival."""
        chance = _logistic(one_is_wrong) * self.blame
        return np.where(self.some, _log_odds(chance), 0.0)

    def _says_several(self, n: int) -> str:
        past_, claims = self._history, self._claims
        rival = claims.rx_locator[past_.rival[n]]
        where = f"{rival}, {past_.away_km[n]:,.0f} km away"
        if past_.pattern[n] == past.MOVED:
            word = "later" if past_.first_us[past_.rival[n]] > past_.first_us[n] else "earlier"
            return f"its {word} reports all come from {where}"
        both = past_.here[n] + past_.there[n]
        come = "comes" if past_.there[n] == 1 else "come"
        return f"{past_.there[n]:,} of its {both:,} reports {come} from {where}"

    def _says_speed(self, n: int) -> str:
        minutes, kmh = self._history.minutes[n], self._history.kmh[n]
        when = f"within {minutes:.0f} min" if minutes >= 1 else "at the same time"
        return f"it was at both {when}" if minutes < 1 else f"it was at both {when}, which takes {kmh:,.0f} km/h"


def where(country: str | None) -> str:
    """Where a place lies, for a sentence."""
    return the(country) if country else "at sea"


def the(name: str) -> str:
    """A country's name as a sentence takes it."""
    plural = ("United ", "Netherlands", "Philippines", "Dominican Rep.", "Czech Rep.")
    return f"the {name}" if name.startswith(plural) or name.endswith(("Is.", "Maldives", "Bahamas")) else name


def _logistic(log_odds: Floats) -> Floats:
    return 1 / (1 + np.exp(-log_odds))


def _log_odds(chance: Floats) -> Floats:
    return np.log(chance / (1 - chance))
