"""Locators in doubt, in words: what speaks against one, what was probably meant, how much hangs on it.

Said once, for the terminal, files, the page and pictures.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from operator import attrgetter
from typing import Any, Final

import pandas as pd

from reach.base.tongue import Phrase
from reach.base.words import PRINT, Typography
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
    Error.NEIGHBOUR: Phrase("a neighbouring key"),
    Error.CHARACTER: Phrase("a wrong character"),
    Error.EXCHANGED: Phrase("two characters exchanged"),
    Error.MIRRORED: Phrase("north and south or east and west mixed up"),
    Error.TURNED: Phrase("latitude and longitude exchanged"),
    Error.PAIRS: Phrase("first and last pair exchanged"),
}
_REASONS: Final[dict[str, str]] = {
    **{str(code): name for code, name in _ERRORS.items()},
    OTHER_LOCATOR: Phrase("its other locator"),
    "": "",
}
_LOG_ODDS: Final = attrgetter("log_odds")
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
        "suggestion_reason": [reason(row["suggestion_reason"], say=say) for row in rows],
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
    language = say.tongue.language
    name = _in(country, say, language).format(call=call, locator=locator)
    if moved:
        return f"{name}: {_moved(pieces, say, language)}{say.stop}"
    told = sorted([piece for piece in pieces if piece.log_odds > 0], key=_LOG_ODDS, reverse=True)
    return f"{name}: {'; '.join([_clause(piece, say, language) for piece in told])}{say.stop}"


def evidence(pieces: tuple[Piece, ...], *, say: Typography) -> str:
    """Each piece of evidence with its log-odds: 'prior -5.0; country +6.2'. Those that round to nothing are left out."""
    told = (piece for piece in pieces if round(piece.log_odds, 1))
    return "; ".join(f"{piece.kind.replace('-', ' ')} {say.signed(piece.log_odds)}" for piece in told)


# Source of the borders, in natural logarithms: R. E. Kass, A. E. Raftery (1995), Bayes Factors, JASA 90, section 3.2.
_STRENGTHS: Final = (
    (1.0, Phrase("hardly")), (3.0, Phrase("somewhat")), (5.0, Phrase("strongly")), (float("inf"), Phrase("very strongly")),
)  # fmt: skip
_KINDS: Final = {
    Kind.PRIOR: Phrase("most locators are right"),
    Kind.COUNTRY: Phrase("the callsign's country"),
    Kind.AREA: Phrase("the callsign's area"),
    Kind.SEA: Phrase("whether there is land"),
    Kind.FAR_SOUTH: Phrase("how few live that far south"),
    Kind.BORROWED: Phrase("whose locator it may be"),
    Kind.SEVERAL: Phrase("its other locators"),
    Kind.ERROR: Phrase("a common slip between its places"),
    Kind.SPEED: Phrase("the speed it would need"),
    Kind.STRENGTH: Phrase("the strength of its reports"),
}


def in_the_balance(pieces: tuple[Piece, ...], *, say: Typography = PRINT) -> str:
    """What speaks against a locator and what for it, and how strongly, without numbers; the strongest first."""
    told = sorted((piece for piece in pieces if round(piece.log_odds, 1)), key=lambda piece: -abs(piece.log_odds))
    sides = [
        (Phrase("against it: {pieces}"), [each for each in told if each.log_odds > 0]),
        (Phrase("for it: {pieces}"), [each for each in told if each.log_odds < 0]),
    ]
    each = [say.text(side, pieces=", ".join(_weighed(piece, say) for piece in some)) for side, some in sides if some]
    return "; ".join(each)


def _weighed(piece: Piece, say: Typography) -> str:
    strength = next(name for border, name in _STRENGTHS if abs(piece.log_odds) < border)
    return say.text("{what} ({strength})", what=_KINDS[piece.kind], strength=strength)


def reason(code: str, *, say: Typography = PRINT) -> str:
    """Why a locator is suggested; "" where none is."""
    return say.text(_REASONS[code]) if code else ""


def suggestion(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """How far away it claims to be, and what was probably meant, in one sentence."""
    claimed = say.text("Claims to be {distance_km} away", distance_km=say.km(suspect["distance_km"]))
    if suspect["suggestion"]:
        away = say.km(suspect["suggested_distance_km"])
        why = f" ({reason(suspect['suggestion_reason'], say=say)})" if suspect["suggestion_reason"] else ""
        return say.text(
            "{claimed}; probably {suggestion}, {away} away{why}.",
            claimed=claimed,
            suggestion=suspect["suggestion"],
            away=away,
            why=why,
        )
    rivals = say.listed(suspect["competing"].split(), "or")
    return (
        say.text("{claimed}; may be {rivals}.", claimed=claimed, rivals=rivals)
        if rivals
        else say.text("{claimed}; no repair suggests itself.", claimed=claimed)
    )


def weight(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """How sure it is and how much hangs on it, in one sentence."""
    sure = say.text("More than 99{gap}%") if suspect["confidence"] > 0.99 else say.share(suspect["confidence"])
    reports = say.things(suspect["reports"], "report")
    if suspect["weight_km"] < 0.5:
        return say.text("{sure} sure; {reports}, which change no headline distance.", sure=sure, reports=reports)
    return say.text(
        "{sure} sure; {reports}, which would change a headline distance by {weight_km}.",
        sure=sure,
        reports=reports,
        weight_km=say.km(suspect["weight_km"]),
    )


def report(suspect: Mapping[Any, Any], *, say: Typography) -> list[str]:
    """All about one suspect, a line each, the first a title: who, what speaks against it, how sure, what was meant."""
    call, locator, rows = suspect["rx_call"], suspect["rx_locator"], say.things(suspect["reports"], "row")
    percent = f"{100 * min(suspect['confidence'], 0.99):.0f}%"  # never certain
    lines = [
        say.text(
            "{call} in {locator}, {rows}, {distance_km}{gap}km",
            call=call,
            locator=locator,
            rows=rows,
            distance_km=say.count(suspect["distance_km"]),
        ),
        sentence(suspect, say=say),
        say.text(
            "Confidence that it is wrong: {percent} ({evidence}).",
            percent=percent,
            evidence=evidence(suspect["evidence"], say=say),
        ),
    ]
    if suspect["suggestion"]:
        away = say.text(
            "{suggested_distance_km}{gap}km away", suggested_distance_km=say.count(suspect["suggested_distance_km"])
        )
        lines.append(
            say.text(
                "Perhaps {suggestion}, {away}: {reason}.",
                suggestion=suspect["suggestion"],
                away=away,
                reason=reason(suspect["suggestion_reason"], say=say),
            )
        )
    elif suspect["competing"]:
        lines.append(say.text("No suggestion is clear enough; perhaps: {competing}.", competing=suspect["competing"]))
    return lines


# ------------------------------------------------------------------------------------------------------- short: pictures


def in_doubt(suspects: pd.DataFrame, *, say: Typography) -> str:
    """How many locators are in doubt, and how far the farthest of them claims to be: a title.

    suspects : find.SUSPECTS, one row at least
    """
    return say.plural(
        len(suspects),
        "{n} locator is in doubt; the farthest claims {km}",
        "{n} locators are in doubt; the farthest claims {km}",
        km=say.km(float(suspects["distance_km"].max())),
    )


def claim(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """Who claims to be where."""
    return say.text(
        "{rx_call} claims {rx_locator}, {distance_km} away",
        rx_call=suspect["rx_call"],
        rx_locator=suspect["rx_locator"],
        distance_km=say.km(suspect["distance_km"]),
    )


def meant(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """Where the receiver probably is, or may be."""
    if suspect["suggestion"]:
        return say.text(
            "probably {suggestion}, {suggested_distance_km} away",
            suggestion=suspect["suggestion"],
            suggested_distance_km=say.km(suspect["suggested_distance_km"]),
        )
    names = suspect["competing"].split()
    if not names:
        return say.text("where it really is, nobody can tell from these reports")
    more = say.text(" or elsewhere") if len(names) > _RIVALS else ""
    return say.text(
        "may be {names}{more}; these reports cannot tell", names=say.listed(names[:_RIVALS], "or"), more=more
    )


def odds(suspect: Mapping[Any, Any], *, say: Typography) -> str:
    """How many reports carry it, and how probably it is wrong."""
    percent = say.text("more than 99") if suspect["confidence"] > 0.99 else f"{100 * suspect['confidence']:.0f}"
    return say.text(
        "{reports}; wrong with a probability of {percent}{gap}%",
        reports=say.things(suspect["reports"], "report"),
        percent=percent,
    )


# ---------------------------------------------------------------------------------------------------- what each piece says


def _clause(piece: Piece, say: Typography, language: str) -> str:
    facts = piece.facts
    if isinstance(facts, Elsewhere):
        return _several(facts, say, language)
    if isinstance(facts, Speed):
        minutes, kmh = facts
        if minutes < 1:
            return say.text("it was at both at the same time")
        return _flown(round(minutes), say, language).format(kmh=say.count(kmh))
    if isinstance(facts, float):
        return say.text(
            "its reports are {excess_db} stronger than others from as far in the same hours"
            if facts > 0
            else "its reports are {excess_db} weaker than others from as far in the same hours",
            excess_db=say.db(abs(facts)),
        )
    return _common(piece.kind, facts, say, language)


# What many sentences have in common is said once, with places left in it for what they have not. language : which `say` speaks
# just now.


@lru_cache(maxsize=4096)
def _in(country: str, say: Typography, language: str) -> str:
    """Who claims to be where, but for {call} and {locator}."""
    place = _the(country, say) if country else say.text("at sea")
    return say.text("{call} at {locator} ({place})", call="{call}", locator="{locator}", place=place)


@lru_cache(maxsize=4096)
def _flown(minutes: int, say: Typography, language: str) -> str:
    """That a receiver was at two places, but for the speed {kmh}."""
    took = say.text("within {minutes}{gap}min", minutes=say.number(minutes, 0))
    return say.text("it was at both {took}, which takes {kmh}{gap}km/h", took=took, kmh="{kmh}")


@lru_cache(maxsize=4096)
def _of_all(there: int, reports: int, say: Typography, language: str) -> str:
    """How many of a receiver's reports come from another place, but for {where} it is."""
    return say.plural(
        there,
        "{n} of its {all} reports comes from {where}",
        "{n} of its {all} reports come from {where}",
        all=say.count(reports),
        where="{where}",
    )


@lru_cache(maxsize=1 << 15)
def _away(km: int, say: Typography, language: str) -> str:
    return say.text("{away_km}{gap}km away", away_km=say.count(km))


@lru_cache(maxsize=4096)
def _common(kind: Kind, facts: str | None, say: Typography, language: str) -> str:
    match kind, facts:
        case Kind.COUNTRY, str(name):
            return (
                say.text("the callsign is one of {country}", country=_the(name, say))
                if name
                else say.text("the callsign belongs elsewhere")
            )
        case Kind.AREA, str(name):
            return say.text("the callsign's digit stands for {name}", name=name)
        case Kind.SEA, _:
            return say.text("there is no land within 10{gap}km")
        case Kind.FAR_SOUTH, _:
            return say.text("it lies in the Antarctic, one transcription error from the callsign's own country")
        case Kind.BORROWED, _:
            return say.text("it is the station's own locator to the last letter")
        case Kind.ERROR, str(code):
            return say.text("one transcription error lies between the two ({errors})", errors=_ERRORS[Error(code)])
    raise ValueError(f"{kind!r} with {facts!r} is no evidence that has words")


def _several(other: Elsewhere, say: Typography, language: str) -> str:
    locator, away_km, here, there, moved, later, _ = other
    where = f"{locator}, {_away(round(away_km), say, language)}"
    if moved:
        return say.text(
            "its later reports all come from {where}" if later else "its earlier reports all come from {where}",
            where=where,
        )
    return _of_all(there, here + there, say, language).format(where=where)


def _moved(pieces: tuple[Piece, ...], say: Typography, language: str) -> str:
    other = next(piece.facts for piece in pieces if isinstance(piece.facts, Elsewhere))
    until = pd.Timestamp(other.until_us, unit="us")
    return say.text(
        "it was at {locator}, {away}, until {until} UTC and only from here since; it seems to have moved",
        locator=other.locator,
        away=_away(round(other.away_km), say, language),
        until=f"{until:%Y-%m-%d %H:%M}",
    )


def _the(name: str, say: Typography) -> str:
    """A country's name as a sentence takes it."""
    if not say.tongue.is_source:
        return say.country(name)
    plural = ("United ", "Netherlands", "Philippines", "Dominican Rep.", "Czech Rep.")
    return f"the {name}" if name.startswith(plural) or name.endswith(("Is.", "Maldives", "Bahamas")) else name
