"""What was probably meant: candidates at one transcription error's distance, weighed by what they would mend.

The search goes backwards: not "where is this receiver?" but "from which good locator would one known error have led
here?" Some seventy locators answer that. Land and the callsign's country rule most of them out, and what is left shares
the weight that its kind of error has; where one takes nearly all of it, that is what was meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.place import world
from reach.place.world import ANTARCTIC_DEG, NO, YES
from reach.suspects import transcription
from reach.suspects.claims import Claims
from reach.suspects.history import History

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

OTHER_LOCATOR: Final = "other-locator"  # why a locator is suggested: the receiver gives it itself

SURE: Final = 0.8  # confidence from which a place is given up for another that no known error leads to
CLEAR: Final = 0.95  # share of the weight that makes one candidate a suggestion
WORTH_NAMING: Final = 0.1  # share that makes a candidate worth naming where none is clear
MOST_NAMED: Final = 3
# The chance that no error we know of led here, spread over all the cells of a middling country.
_SOMETHING_ELSE: Final = 1e-4
_AT_ONCE: Final = 1000
# For so many suspects it is looked what they meant: tens of times more than a year of real spots has, and a few seconds.
MOST_SEARCHED: Final = 5000


@dataclass(frozen=True)
class Repair:
    """What one suspect probably meant.

    suggestion  a locator, "" where none is clear
    reason      why: a transcription.Kind, or OTHER_LOCATOR; "" without a suggestion
    competing   locators that are worth a look where none is clear
    """

    suggestion: str = ""
    reason: str = ""
    competing: tuple[str, ...] = ()


def heaviest(suspects: Ints, weight_km: Floats, reports: Ints) -> Ints:
    """Those of the suspects for which a repair is looked for: all of them, or the MOST_SEARCHED that weigh most.

    suspects : indexes of claims; weight_km, reports : of all claims
    Returns indexes of claims, rising.
    """
    order = np.lexsort((-reports[suspects], -weight_km[suspects]))
    return np.sort(suspects[order[:MOST_SEARCHED]])


def repairs(claims: Claims, history: History, confidence: Floats, suspects: Ints) -> list[Repair]:
    """What each suspect probably meant.

    confidence : that each claim is wrong, shape (claims,)
    suspects   : indexes of the claims to mend
    Returns one Repair each. Where the receiver has another place that is not in doubt, that place is it; otherwise the
    candidates at one error's distance that lie on land and in the callsign's country are weighed by how common the error
    is. None is suggested to a receiver that gave the transmitter's locator: nothing of its own is in there.
    """
    found = {int(n): _own_place(claims, history, confidence, n) for n in suspects}
    borrowed = _borrowed(claims)
    own = np.array([n for n, repair in found.items() if repair is None and not borrowed[n]], dtype=np.int64)
    for start in range(0, len(own), _AT_ONCE):
        some = own[start : start + _AT_ONCE]
        found.update(zip(some.tolist(), _by_error(claims, some), strict=True))
    return [found[int(n)] or Repair() for n in suspects]


def _own_place(claims: Claims, history: History, confidence: Floats, n: np.int64) -> Repair | None:
    """The receiver's other place, as a suggestion where it is sound, as a competitor where it is not."""
    rival = history.rival[n]
    if rival < 0:
        return None
    name = str(claims.rx_locator[rival])
    # A known error between the two explains the wrong one; without it the other place needs a heavier case.
    sure = bool(history.error[n]) or confidence[n] >= SURE
    if confidence[rival] <= 1 - CLEAR and sure:
        return Repair(name, history.error[n] or OTHER_LOCATOR)
    return Repair(competing=(name,)) if confidence[rival] < confidence[n] or history.error[n] or not sure else None


def _borrowed(claims: Claims) -> npt.NDArray[np.bool_]:
    """Whether a claim's locator is that of a transmitter that it heard; shape (claims,)."""
    theirs = {name: name.upper() for name in set(claims.cell_tx)}
    same = [claims.rx_locator[n].upper() == theirs[tx] for n, tx in zip(claims.cell_claim, claims.cell_tx, strict=True)]
    return np.bincount(claims.cell_claim, weights=same, minlength=len(claims)) > 0


def _by_error(claims: Claims, some: Ints) -> list[Repair]:
    """Weigh the candidates at one error's distance."""
    found = transcription.candidates(list(claims.rx_locator[some]))
    weight = np.exp(found.log_prior())
    row, column = np.nonzero(found.there)
    lon, lat = transcription.centres(found.values[row, column])
    characters = claims.characters[some][row]
    good = world.on_land(lon, lat, characters) | world.afloat(list(claims.rx_call[some]))[row]
    calls = claims.rx_call[some][row[good]]
    answer = np.full(len(row), NO, dtype=np.int8)
    answer[good] = world.agrees(list(calls), lon[good], lat[good], characters[good])
    # Anybody may be south of 60 S, but a callsign that names a country was hardly meant to be there.
    named = np.array([name != "" for name in world.administrations(list(claims.rx_call[some]))], dtype=bool)
    answer[(lat < ANTARCTIC_DEG) & (answer != YES) & named[row]] = NO
    at_home = np.zeros(len(some), dtype=bool)
    at_home[row[answer == YES]] = True
    fits = np.zeros(weight.shape, dtype=bool)
    # Where a candidate lies in the callsign's own country, those of which that is not known are no match for it.
    fits[row, column] = (answer == YES) | ((answer != NO) & ~at_home[row])
    return [_weigh(found, k, np.where(fits[k], weight[k], 0.0), str(claims.rx_locator[n])) for k, n in enumerate(some)]


def _weigh(found: transcription.Candidates, k: int, weight: Floats, like: str) -> Repair:
    """The clear winner among the candidates of one suspect, or those that compete."""
    by_name: dict[str, list[int]] = {}  # two errors may lead from one locator: their weights add
    for column in np.flatnonzero(weight):
        by_name.setdefault(transcription.text(found.values[k, column], like), []).append(int(column))
    total = weight.sum() + _SOMETHING_ELSE
    shares = {name: weight[columns].sum() / total for name, columns in by_name.items()}
    order = sorted(shares, key=lambda name: (-shares[name], name))
    if order and shares[order[0]] >= CLEAR:
        columns = by_name[order[0]]
        return Repair(order[0], transcription.CODES[found.kind[max(columns, key=lambda c: weight[c])]])
    return Repair(competing=tuple(name for name in order[:MOST_NAMED] if shares[name] >= WORTH_NAMING))
