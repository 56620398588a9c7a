"""Locators in doubt, in words: what speaks against one, what was probably meant, how much hangs on it.

Said once, for the terminal, files, the page and pictures.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from reach.base import words
from reach.base.words import Typography
from reach.suspects.evidence import Elsewhere, Kind, Piece, Speed
from reach.suspects.find import NOTE_FROM, SUSPECTS
from reach.suspects.repair import OTHER_LOCATOR
from reach.suspects.transcription import Kind as Error

# suspects.find.SUSPECTS as it is shown and written: with sentences in place of codes.
_SAID: Final[dict[str, dict[str, tuple[str, str]]]] = {
    **{column: {column: about} for column, about in SUSPECTS.items()},
    "evidence": {
        "sentence": ("str", "what speaks against it, one sentence"),
        "evidence": ("str", "each piece of evidence with its log-odds, such as 'country +6.2; sea +8.0'"),
    },
    "suggestion_reason": {
        "suggestion_reason": ("str", "why: the error that leads there, or its other locator"),
    },
}
WRITTEN: Final[dict[str, tuple[str, str]]] = {
    name: about for columns in _SAID.values() for name, about in columns.items()
}

_ERRORS: Final = {
    Error.NEIGHBOUR: "a neighbouring key",
    Error.CHARACTER: "a wrong character",
    Error.EXCHANGED: "two characters exchanged",
    Error.MIRRORED: "north and south or east and west mixed up",
    Error.TURNED: "latitude and longitude exchanged",
    Error.PAIRS: "first and last pair exchanged",
}
_REASONS: Final[dict[str, str]] = {
    **{str(code): name for code, name in _ERRORS.items()},
    OTHER_LOCATOR: "its other locator",
    "": "",
}
_RIVALS: Final = 2  # locators that are named where none is clear and room is short


def written(suspects: pd.DataFrame, *, say: Typography) -> pd.DataFrame:
    """Suspects as a table for people.

    suspects : find.SUSPECTS, n rows; their notes do as well
    Returns WRITTEN, n rows in the same order.
    """
    rows = suspects.to_dict("records")
    told = {
        "sentence": [sentence(row, say=say) for row in rows],
        "evidence": [evidence(row["evidence"], say=say) for row in rows],
        "suggestion_reason": [reason(row["suggestion_reason"]) for row in rows],
    }
    said = {name: pd.array(texts, dtype="str") for name, texts in told.items()}
    return suspects.assign(**said)[list(WRITTEN)]


def sentence(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """What speaks against a locator, the strongest first, in one sentence.

    suspect : a row of find.SUSPECTS by column
    """
    moved = suspect["confidence"] < NOTE_FROM  # too sound to be doubted: it is listed because the receiver moved
    place, pieces = suspect["claimed_country"], suspect["evidence"]
    return against(suspect["rx_call"], suspect["rx_locator"], place, pieces, moved=moved, say=say)


def against(call: str, locator: str, country: str, pieces: tuple[Piece, ...], *, moved: bool, say: Typography) -> str:
    """The same from its parts.

    country : where the locator lies, "" at sea
    pieces  : the evidence
    moved   : whether to say that the receiver moved, and not what speaks against its place
    """
    name = f"{call} at {locator} ({_the(country) if country else 'at sea'})"
    if moved:
        return f"{name}: {_moved(pieces, say)}."
    told = sorted((piece for piece in pieces if piece.log_odds > 0), key=lambda piece: -piece.log_odds)
    return f"{name}: {'; '.join(_clause(piece, say) for piece in told)}."


def evidence(pieces: tuple[Piece, ...], *, say: Typography) -> str:
    """Each piece of evidence with its log-odds: 'prior -5.0; country +6.2'. Those that round to nothing are left out."""
    told = (piece for piece in pieces if round(piece.log_odds, 1))
    return "; ".join(f"{piece.kind.replace('-', ' ')} {say.signed(piece.log_odds)}" for piece in told)


# Source of the borders, in natural logarithms: R. E. Kass, A. E. Raftery (1995), Bayes Factors, JASA 90, section 3.2.
_STRENGTHS: Final = ((1.0, "hardly"), (3.0, "somewhat"), (5.0, "strongly"), (float("inf"), "very strongly"))
_KINDS: Final = {
    Kind.PRIOR: "most locators are right",
    Kind.COUNTRY: "the callsign's country",
    Kind.AREA: "the callsign's area",
    Kind.SEA: "whether there is land",
    Kind.FAR_SOUTH: "how few live that far south",
    Kind.BORROWED: "whose locator it may be",
    Kind.SEVERAL: "its other locators",
    Kind.ERROR: "a common slip between its places",
    Kind.SPEED: "the speed it would need",
    Kind.STRENGTH: "the strength of its reports",
}


def in_the_balance(pieces: tuple[Piece, ...]) -> str:
    """What speaks against a locator and what for it, and how strongly, without numbers; the strongest first."""
    told = sorted((piece for piece in pieces if round(piece.log_odds, 1)), key=lambda piece: -abs(piece.log_odds))
    sides = [
        ("against it", [each for each in told if each.log_odds > 0]),
        ("for it", [each for each in told if each.log_odds < 0]),
    ]
    return "; ".join(f"{side}: {', '.join(map(_weighed, some))}" for side, some in sides if some)


def _weighed(piece: Piece) -> str:
    strength = next(name for border, name in _STRENGTHS if abs(piece.log_odds) < border)
    return f"{_KINDS[piece.kind]} ({strength})"


def reason(code: str) -> str:
    """Why a locator is suggested; "" where none is."""
    return _REASONS[code]


def suggestion(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """How far away it claims to be, and what was probably meant, in one sentence."""
    claimed = f"Claims to be {say.km(suspect['distance_km'])} away"
    if suspect["suggestion"]:
        away = say.km(suspect["suggested_distance_km"])
        why = f" ({reason(suspect['suggestion_reason'])})" if suspect["suggestion_reason"] else ""
        return f"{claimed}; probably {suspect['suggestion']}, {away} away{why}."
    rivals = words.listed(suspect["competing"].split(), "or")
    return f"{claimed}; may be {rivals}." if rivals else f"{claimed}; no repair suggests itself."


def weight(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """How sure it is and how much hangs on it, in one sentence."""
    sure = f"More than 99{say.gap}%" if suspect["confidence"] > 0.99 else say.share(suspect["confidence"])
    reports = say.things(suspect["reports"], "report")
    if suspect["weight_km"] < 0.5:
        return f"{sure} sure; {reports}, which change no headline distance."
    return f"{sure} sure; {reports}, which would change a headline distance by {say.km(suspect['weight_km'])}."


def report(suspect: Mapping[Any, Any], *, say: Typography) -> list[str]:
    """All about one suspect, a line each, the first a title: who, what speaks against it, how sure, what was meant."""
    call, locator, rows = suspect["rx_call"], suspect["rx_locator"], say.things(suspect["reports"], "row")
    percent = f"{100 * min(suspect['confidence'], 0.99):.0f}%"  # never certain
    lines = [
        f"{call} in {locator}, {rows}, {say.count(suspect['distance_km'])}{say.gap}km",
        sentence(suspect, say=say),
        f"Confidence that it is wrong: {percent} ({evidence(suspect['evidence'], say=say)}).",
    ]
    if suspect["suggestion"]:
        away = f"{say.count(suspect['suggested_distance_km'])}{say.gap}km away"
        lines.append(f"Perhaps {suspect['suggestion']}, {away}: {reason(suspect['suggestion_reason'])}.")
    elif suspect["competing"]:
        lines.append(f"No suggestion is clear enough; perhaps: {suspect['competing']}.")
    return lines


# ------------------------------------------------------------------------------------------------------- short: pictures


def in_doubt(suspects: pd.DataFrame, *, say: Typography) -> str:
    """How many locators are in doubt, and how far the farthest of them claims to be: a title.

    suspects : find.SUSPECTS, one row at least
    """
    many = say.things(len(suspects), "locator is", "locators are")
    return f"{many} in doubt; the farthest claims {say.km(float(suspects['distance_km'].max()))}"


def claim(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """Who claims to be where."""
    return f"{suspect['rx_call']} claims {suspect['rx_locator']}, {say.km(suspect['distance_km'])} away"


def meant(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """Where the receiver probably is, or may be."""
    if suspect["suggestion"]:
        return f"probably {suspect['suggestion']}, {say.km(suspect['suggested_distance_km'])} away"
    names = suspect["competing"].split()
    if not names:
        return "where it really is, nobody can tell from these reports"
    more = " or elsewhere" if len(names) > _RIVALS else ""
    return f"may be {words.listed(names[:_RIVALS], 'or')}{more}; these reports cannot tell"


def odds(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """How many reports carry it, and how probably it is wrong."""
    percent = "more than 99" if suspect["confidence"] > 0.99 else f"{100 * suspect['confidence']:.0f}"
    return f"{say.things(suspect['reports'], 'report')}; wrong with a probability of {percent}{say.gap}%"


# ---------------------------------------------------------------------------------------------------- what each piece says


def _clause(piece: Piece, say: Typography) -> str:
    match piece.kind, piece.facts:
        case Kind.COUNTRY, str(name):
            return f"the callsign is one of {_the(name)}" if name else "the callsign belongs elsewhere"
        case Kind.AREA, str(name):
            return f"the callsign's digit stands for {name}"
        case Kind.SEA, _:
            return f"there is no land within 10{say.gap}km"
        case Kind.FAR_SOUTH, _:
            return "it lies in the Antarctic, one transcription error from the callsign's own country"
        case Kind.BORROWED, _:
            return "it is the station's own locator to the last letter"
        case Kind.SEVERAL, Elsewhere() as other:
            return _several(other, say)
        case Kind.ERROR, str(code):
            return f"one transcription error lies between the two ({_ERRORS[Error(code)]})"
        case Kind.SPEED, Speed(minutes, kmh):
            if minutes < 1:
                return "it was at both at the same time"
            took = f"within {minutes:.0f}{say.gap}min"
            return f"it was at both {took}, which takes {say.count(kmh)}{say.gap}km/h"
        case Kind.STRENGTH, float(excess_db):
            word = "stronger" if excess_db > 0 else "weaker"
            return f"its reports are {say.db(abs(excess_db))} {word} than others from as far in the same hours"
    raise ValueError(f"{piece!r} is no evidence that has words")


def _several(other: Elsewhere, say: Typography) -> str:
    where = f"{other.locator}, {_away(other, say)}"
    if other.moved:
        return f"its {'later' if other.later else 'earlier'} reports all come from {where}"
    come = "comes" if other.there == 1 else "come"
    return f"{say.count(other.there)} of its {say.count(other.here + other.there)} reports {come} from {where}"


def _moved(pieces: tuple[Piece, ...], say: Typography) -> str:
    other = next(piece.facts for piece in pieces if isinstance(piece.facts, Elsewhere))
    until = pd.Timestamp(other.until_us, unit="us")
    return (
        f"it was at {other.locator}, {_away(other, say)}, until {until:%Y-%m-%d %H:%M} UTC and only from here since; "
        "it seems to have moved"
    )


def _away(other: Elsewhere, say: Typography) -> str:
    return f"{say.count(other.away_km)}{say.gap}km away"


def _the(name: str) -> str:
    """A country's name as a sentence takes it."""
    plural = ("United ", "Netherlands", "Philippines", "Dominican Rep.", "Czech Rep.")
    return f"the {name}" if name.startswith(plural) or name.endswith(("Is.", "Maldives", "Bahamas")) else name
