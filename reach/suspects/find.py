"""Suspects: rows that are well-formed and wrong, found by comparing claims with the world and with each other.

SUSPECTS.md beside this file has the method, the weights and how they were checked. Nothing is changed here: a suspect
stays in the table, and what was probably meant is a suggestion. All findings are codes and values; the sentences are in
`tell.sentences.suspects`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys, memory
from reach.place import path
from reach.place.world import ANTARCTIC_DEG, YES
from reach.spots import CORROBORATED, PROBLEMS, SUSPECT, TRUST, UNCONFIRMED
from reach.suspects import evidence, history, repair, strength, transcription, weight
from reach.suspects.claims import Claims, claims
from reach.suspects.evidence import PRIOR, Evidence, Kind, Piece
from reach.suspects.history import MOVED, History
from reach.suspects.repair import Repair
from reach.vet.ledger import NOTE, no_problems

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

# One row a distinct (rx_call, rx_locator) that is in doubt, heaviest first.
SUSPECTS: Final = {
    "rx_call": ("str", "who heard it"),
    "rx_locator": ("str", "where it claims to be"),
    "confidence": ("float64", "that the locator is wrong, 0 to 1"),
    "grade": ("str", "suspect or note"),
    "evidence": ("object", "what speaks for and against it: a tuple of evidence.Piece, the prior first; their log-odds add "
                 "up to the confidence"),
    "suggestion": ("str", "the locator that was probably meant, empty where none is clear"),
    "suggestion_reason": ("str", "why, by code: a transcription.Kind, or repair.OTHER_LOCATOR; empty where none is"),
    "competing": ("str", "locators that may have been meant, where none is clear; blanks between them"),
    "reports": ("int64", "how many spots carry it"),
    "distance_km": ("float64", "from the station, as claimed"),
    "suggested_distance_km": ("float64", "from the station, as suggested; NaN where nothing is"),
    "weight_km": ("float64", "by how much a headline distance (farthest, 90th percentile, median; of all or of one "
                  "band) changes without these spots"),
    "claimed_lon_deg": ("float64", "centre of the claimed cell"),
    "claimed_lat_deg": ("float64", ""),
    "claimed_country": ("str", "empty at sea"),
    "probable_lon_deg": ("float64", "centre of the suggested cell, NaN where nothing is suggested"),
    "probable_lat_deg": ("float64", ""),
}  # fmt: skip

SUSPECT_FROM: Final = 0.4  # two rivals of which one is wrong, nobody knows which, are both suspect
NOTE_FROM: Final = 0.1
RULE: Final = "locator-suspect"
NOTE_RULE: Final = "locator-doubtful"
MOVED_RULE: Final = "receiver-moved"
OUT_OF_KEEPING: Final = 2.5  # spreads from which on strength does not speak for a place
_LOOK_AT_STRENGTH_FROM: Final = PRIOR + 2.0
_AT_ONCE: Final = 10_000  # suspects whose evidence is put together at once
_MOST_KEPT: Final = 50_000  # numbers and pieces of evidence that are looked up to be kept once


@dataclass(frozen=True)
class Doubts:
    """What the comparison found.

    spots      the table that was searched, with spots.TRUSTED added: how far each row's locator can be trusted
    suspects   SUSPECTS of grade suspect, heaviest first
    notes      SUSPECTS of grade note: doubtful places, and receivers that moved
    problems   spots.PROBLEMS, one row for each spot concerned, in file order
    """

    spots: pd.DataFrame
    suspects: pd.DataFrame
    notes: pd.DataFrame
    problems: pd.DataFrame


def find(spots: pd.DataFrame) -> Doubts:
    """Find the locators that are probably wrong, and say of every row how far its locator can be trusted.

    spots : placed spot table (spots.SPOT + spots.PLACED); needs time_utc, rx_call, rx_locator, tx_locator, band, snr_db,
        source, line and the receiver's place
    Returns Doubts. The time it takes grows with the rows, the memory with the distinct claims.
    """
    if not len(spots):
        return _nothing(spots)
    told = claims(spots)
    case = _weigh(spots, told)
    table = _table(told, case)
    trust = _trust(spots, told, case).take(told.claim_of_row)
    del case  # of a million claims it is as much as the tables made from it
    problems = _problems(spots, told, table)
    return Doubts(
        spots=spots.assign(trust=trust),
        suspects=table[table["grade"] == SUSPECT].drop(columns="claim").reset_index(drop=True),
        notes=table[table["grade"] != SUSPECT].drop(columns="claim").reset_index(drop=True),
        problems=problems,
    )


@dataclass(frozen=True)
class _Case:
    """What is known of each claim, shape (claims,): pieces of evidence, what the callsign says of the place (YES, NO,
    UNKNOWN), the order of reports, the confidence that it is wrong."""

    pieces: list[Evidence]
    answer: npt.NDArray[np.int8]
    past: History
    confidence: Floats

    @property
    def suspect(self) -> npt.NDArray[np.bool_]:
        return self.confidence >= SUSPECT_FROM


def _weigh(spots: pd.DataFrame, told: Claims) -> _Case:
    """Collect the evidence and add it up."""
    country = evidence.country(told)
    pieces = [country, evidence.sea(told), evidence.far_south(told, country.answer)]
    pieces.append(evidence.borrowed(told, country.log_odds == evidence.COUNTRY_DIFFERS))
    area = evidence.call_area(told, country.answer)
    doubt = _sum([*pieces, area])
    past = history.history(spots, told, doubt)
    rivalry = evidence.Rivalry(told, past, doubt)
    pieces.append(evidence.once(area, past.rival))
    pieces += [rivalry.several(), rivalry.known_error(), rivalry.speed()]
    # Holding reports against those of others is the only costly piece, and it never makes a suspect by itself.
    asked = PRIOR + _sum(pieces) > _LOOK_AT_STRENGTH_FROM
    pieces.append(evidence.strength(strength.strength(spots, told, asked)))
    return _Case(pieces, country.answer, past, 1 / (1 + np.exp(-PRIOR - _sum(pieces))))


def _sum(pieces: Sequence[Evidence]) -> Floats:
    return np.sum([piece.log_odds for piece in pieces], axis=0)


# -------------------------------------------------------------------------------------------------------------- tables


def _table(told: Claims, case: _Case) -> pd.DataFrame:
    """SUSPECTS with the number of the claim: suspects, doubtful ones and receivers that moved; heaviest first."""
    moved = (case.past.pattern == MOVED) & (case.past.first_us > case.past.first_us[case.past.rival])
    some = np.flatnonzero((case.confidence >= NOTE_FROM) | moved)
    weights_km = weight.weights_km(told, case.suspect)
    order = (case.suspect, weights_km, told.distance_km, case.confidence)  # suspect before note
    some = some[np.lexsort([-by[some].astype(float) for by in reversed(order)])]
    wrong = repair.heaviest(np.flatnonzero(case.suspect), weights_km, told.reports)
    mended = dict(zip(wrong.tolist(), repair.repairs(told, case.past, case.confidence, wrong), strict=True))
    none = Repair()
    fixes = [mended.get(n, none) for n in some.tolist()]
    lon, lat, km = _suggested(told, some, fixes)
    # Side by side in memory as their rows are in the table, in whose order a million of them are said.
    by_row = np.argsort(keys.first_rows(told.claim_of_row, len(told))[some])
    with memory.uncollected():
        pieces = pd.Series(_pieces(case, some[by_row]), index=by_row, dtype=object).sort_index()
    table = pd.DataFrame(
        {
            "rx_call": told.rx_call[some],
            "rx_locator": told.rx_locator[some],
            "confidence": case.confidence[some],
            "grade": np.where(case.suspect[some], SUSPECT, NOTE),
            "evidence": pieces,
            "suggestion": [fix.suggestion for fix in fixes],
            "suggestion_reason": [fix.reason for fix in fixes],
            "competing": [" ".join(fix.competing) for fix in fixes],
            "reports": told.reports[some],
            "distance_km": told.distance_km[some],
            "suggested_distance_km": km,
            "weight_km": weights_km[some],
            "claimed_lon_deg": told.lon_deg[some],
            "claimed_lat_deg": told.lat_deg[some],
            "claimed_country": told.country[some],
            "probable_lon_deg": lon,
            "probable_lat_deg": lat,
        }
    )
    text = {name: "str" for name, (dtype, _) in SUSPECTS.items() if dtype == "str"}
    return table[list(SUSPECTS)].astype(text).assign(claim=some)


def _suggested(told: Claims, some: Ints, fixes: list[Repair]) -> tuple[Floats, Floats, Floats]:
    """Centre of the suggested cells, and their distance from the station; NaN where nothing is suggested."""
    lon, lat, km = (np.full(len(some), np.nan) for _ in range(3))
    with_one = np.flatnonzero([bool(fix.suggestion) for fix in fixes])
    if len(with_one):
        values = np.stack([transcription.numbers(fixes[k].suggestion) for k in with_one])
        lon[with_one], lat[with_one] = transcription.centres(values)
        station = dict(zip(told.cell_claim.tolist(), told.cell_tx, strict=True))
        home = np.stack([transcription.numbers(station[int(some[k])]) for k in with_one])
        km[with_one], _ = path.inverse(*transcription.centres(home), lon[with_one], lat[with_one])
    return lon, lat, km


def _pieces(case: _Case, some: Ints) -> list[tuple[Piece, ...]]:
    """The evidence on some claims, the prior first; the other place of a receiver is told even where it weighs nothing."""
    # Of a million suspects most have much of the evidence against them in common: what they share is kept once.
    kept: dict[Any, Any] = {}
    prior = Piece(Kind.PRIOR, PRIOR)
    told: list[tuple[Piece, ...]] = []
    for start in range(0, len(some), _AT_ONCE):
        block = some[start : start + _AT_ONCE]
        if len(kept) > _MOST_KEPT:  # what is in common comes again in each block
            kept.clear()
        found = [[prior] for _ in block]
        for kind, each in enumerate(case.pieces):
            log_odds = each.log_odds[block]
            named = (case.past.rival[block] >= 0) if each.kind is Kind.SEVERAL else False
            at = np.flatnonzero((log_odds != 0) | named)
            for n, odds, facts in zip(at.tolist(), log_odds[at].tolist(), each.facts(block[at]), strict=True):
                if isinstance(facts, tuple):
                    found[n].append(Piece(each.kind, kept.setdefault(odds, odds), facts))
                    continue
                if (kind, odds, facts) not in kept:
                    kept[kind, odds, facts] = Piece(each.kind, odds, facts)
                found[n].append(kept[kind, odds, facts])
        told += map(tuple, found)
    return told


def _trust(spots: pd.DataFrame, told: Claims, case: _Case) -> pd.Categorical[Any]:
    """How far each claim can be trusted: spots.TRUST, shape (claims,)."""
    sound = case.answer == YES
    # Where the callsign says nothing of a country, a second hour from the same place speaks for it: an error in a single
    # report does not repeat. So does a strength in keeping; a country that agrees needs neither.
    silent = ~sound & ~case.suspect & (told.lat_deg > ANTARCTIC_DEG)  # there only a base's callsign speaks for a place
    silent[silent] = told.reports[silent] > 1
    sound[silent] = _hours(spots, told, silent)[silent] >= 2
    out = np.abs(np.nan_to_num(strength.strength(spots, told, sound & silent).spreads)) > OUT_OF_KEEPING
    sound &= ~out
    trust = np.select(
        [case.suspect, sound], [TRUST.index(SUSPECT), TRUST.index(CORROBORATED)], TRUST.index(UNCONFIRMED)
    )
    return pd.Categorical.from_codes(trust, dtype=pd.CategoricalDtype(list(TRUST)))


def _hours(spots: pd.DataFrame, told: Claims, asked: npt.NDArray[np.bool_]) -> Ints:
    """In how many different hours each of some claims reported; 0 for the others."""
    rows = told.rows_of(asked)
    hour = spots["time_utc"].take(rows).dt.as_unit("us").astype("int64").to_numpy() // 3_600_000_000
    pairs = np.unique(told.claim_of(rows) + len(told) * hour)
    return np.bincount(pairs % len(told), minlength=len(told))


_SAID: Final = ["rx_call", "rx_locator", "confidence", "grade", "evidence", "suggestion", "claimed_country"]


def _problems(spots: pd.DataFrame, told: Claims, table: pd.DataFrame) -> pd.DataFrame:
    """One row for each spot of a suspect or doubtful claim, in the order of the spots."""
    at = np.full(len(told), -1)
    at[table["claim"].to_numpy()] = np.arange(len(table))
    rows = told.rows_of(at >= 0)
    said = table[_SAID].iloc[at[told.claim_of(rows)]].reset_index(drop=True)
    suspect = (said["grade"] == SUSPECT).to_numpy()
    doubtful = (said["confidence"] >= NOTE_FROM).to_numpy()
    return (
        no_problems(len(rows))
        .assign(
            source=spots["source"].take(rows).astype("str").to_numpy(),
            line=spots["line"].to_numpy()[rows],
            callsign=said["rx_call"],
            locator=said["rx_locator"],
            rule=np.array([RULE, NOTE_RULE, MOVED_RULE], dtype=object)[np.select([suspect, doubtful], [0, 1], 2)],
            severity=said["grade"],
            value=said["claimed_country"],
            evidence=said["evidence"],
            suggestion=said["suggestion"],
        )
        .astype({name: "str" for name, (dtype, _) in PROBLEMS.items() if dtype == "str"})
    )


def _nothing(spots: pd.DataFrame) -> Doubts:
    """The findings of no spots."""
    empty = pd.DataFrame({name: pd.Series(dtype=dtype) for name, (dtype, _) in SUSPECTS.items()})
    none = pd.Categorical([], categories=list(TRUST))
    return Doubts(spots.assign(trust=none), empty, empty.copy(), no_problems(0))
