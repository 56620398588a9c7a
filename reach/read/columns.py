"""What the columns of one file are: at once where header and values are plain, by scores where they are not.

Both ways end in the same place: which raw column (`table.RAW`) or part of a time stands where, what was assumed, and what
only the user can tell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from reach.base import bands, ways
from reach.errors import InputError
from reach.read import cells, dates, headers, roles
from reach.read.profile import Profile
from reach.read.roles import Assignment, Own
from reach.read.understood import (
    ASSUMED,
    CONFIRMED,
    PLAIN,
    ROLE_WORDS,
    TOLD,
    Assumption,
    Choice,
    Column,
    Question,
)

_RAW: Final = {
    "rx_call": "rx_call", "tx_call": "tx_call", "rx_locator": "rx_locator", "tx_locator": "tx_locator", "snr": "snr_db",
    "band": "band", "mode": "mode", "setup": "setup", "session": "session", "datetime": "datetime", "date": "date",
    "clock": "clock",
}  # fmt: skip
_ROLE: Final = {
    **{raw: role for role, raw in _RAW.items()}, "time_utc": "clock", "freq": "freq", "freq_hz": "freq",
    "freq_khz": "freq", "freq_mhz": "freq", "power_w": "power", "power_mw": "power", "power_dbm": "power",
}  # fmt: skip
_NEEDED: Final = ("rx_call", "rx_locator", "snr")
_FEW_ROWS: Final = 6  # on fewer, values say too little to stand against a header
_TOLD_BELOW, _ASSUMED_BELOW, _ASKED_BELOW, _SNR_ASKED_BELOW = 6.0, 3.0, 1.0, 4.5
_PLAIN_WORD: Final = 0.75
_LIKE_SNR: Final = 3.0  # what values alone must score
_LESS_LIKE_SNR: Final = 2.0  # by so much less than another column: header and values speak against each other
_SAID: Final = 0.5  # leaning of a header from which it says who received
_KHZ: Final = 0.003
_POWER_UNITS: Final = ("w", "mw", "dbm")
_LISTED_STEPS: Final = {7, 13, 17, 23, 27, 33, 37, 43, 47, 53, 57}  # dBm that hardly anybody has in watts
_USUAL_W: Final = {
    0.1, 0.2, 0.25, 0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 80, 100, 150, 200, 250, 300, 400,
    500, 750, 800, 1000, 1500,
}  # fmt: skip


@dataclass(frozen=True)
class Reading:
    """What the columns of a file are.

    place        raw column or part of a time (datetime, date, clock) -> position
    columns      the same as the user is told
    assumptions, questions  see read.understood
    scale        raw column -> factor for its numbers, where the file has a unit that no raw column has
    band_by_mhz  whether bare numbers of the band column are megahertz
    constants    raw column -> text of all its cells: this station's own end, where no column says it
    """

    place: dict[str, int]
    columns: tuple[Column, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    questions: tuple[Question, ...] = ()
    scale: dict[str, float] = field(default_factory=dict)
    band_by_mhz: bool = False
    constants: dict[str, str] = field(default_factory=dict)


def understand(
    profiles: Sequence[Profile],
    *,
    source: str,
    headed: bool = True,
    chosen: Mapping[str, int] | None = None,
    own: Own | None = None,
    power_w: float | None = None,
    heard: bool = False,
) -> Reading:
    """What the columns of a file are.

    profiles : of all its columns
    source   : name of the file, for questions
    headed   : whether it has a header
    chosen   : raw column -> position, as the user says
    own      : the station, where it is known; power_w : its power
    heard    : whether the user asks for what the station heard of others
    Returns Reading. Where it has questions its place is only a guess.
    """
    chosen, own = dict(chosen or {}), own or Own()
    if not profiles[0].raw:  # words are all there is
        names = [p.name for p in profiles]
        by_words = headers.match(names, chosen=chosen, name=source)
        headers.require(by_words, names, name=source)
        return _finish(by_words.place, profiles, None, chosen, source, power_w)
    thinned = [p.thinned for p in profiles]
    plain = _plain(thinned, chosen, source) if headed else None
    if plain is not None:
        return _finish(plain, thinned, None, chosen, source, power_w)
    fixed = {_role_of(raw, chosen): at for raw, at in chosen.items()}
    assignment = roles.assign(profiles, own, fixed)
    place = dict(assignment.place)
    if "datetime" in place and not {"date", "clock"} & fixed.keys():
        place = {role: at for role, at in place.items() if role not in ("date", "clock")}
    place, constants = _own_end(place, profiles, own, heard, fixed)
    known = {role: -1 for role in constants if role in _NEEDED}
    questions = _questions(profiles, assignment, {**place, **known}, fixed, own, source, headed)
    if questions and headed and profiles[0].rows and len(profiles[0].rows) < _FEW_ROWS:
        by_header = _by_header(profiles, chosen, source)
        if by_header is not None and _fits(by_header, profiles, chosen):
            return _finish(by_header, profiles, None, chosen, source, power_w)
    found = _finish(_raw_place(place, profiles, chosen), profiles, assignment, chosen, source, power_w)
    notes = () if headed else (Assumption("no-header"),)
    told = tuple(_told(column) for column in found.columns if column.sure in (TOLD, ASSUMED))
    if constants:
        notes = (
            *notes,
            Assumption("own-end", {"call": constants.get("rx_call", ""), "locator": constants["rx_locator"]}),
        )
    return replace(
        found,
        assumptions=(*notes, *told, *found.assumptions),
        questions=(*questions, *found.questions),
        constants=constants,
    )


def _own_end(
    place: dict[str, int], profiles: Sequence[Profile], own: Own, heard: bool, fixed: Mapping[str, int]
) -> tuple[dict[str, int], dict[str, str]]:
    """Places, and what this station's own end is where it received and no column says so: raw column -> its text.

    A list of what a station heard need not name the station in every row. That it is such a list the user has to say, or
    the column of receivers, which then holds this station only.
    """
    if not own.call or not own.locator:
        return place, {}
    received = place.get("rx_call")
    all_own = received is not None and all(own.is_call(text) for text in profiles[received].counts)
    if all_own and "rx_locator" not in place and "tx_locator" in place:
        return place, {"rx_locator": own.locator}
    if not heard or all_own or {"rx_call", "tx_call"} <= place.keys() or "rx_call" in fixed:
        return place, {}
    if received is not None and profiles[received].lean("rx") > _SAID:
        return place, {}
    turned = {"rx_call": "tx_call", "rx_locator": "tx_locator"}
    moved = {turned.get(role, role) if turned.get(role) not in place else role: at for role, at in place.items()}
    if {"rx_call", "rx_locator"} & moved.keys():
        return place, {}
    return moved, {"rx_call": own.call, "rx_locator": own.locator}


# ------------------------------------------------------------------------------------------------------- the plain way


def _by_header(profiles: Sequence[Profile], chosen: dict[str, int], source: str) -> dict[str, int] | None:
    """Places by the map of trade terms alone; None where it does not say all that every spot needs, or says it twice."""
    names = [p.name for p in profiles]
    try:
        found = headers.match(names, chosen=chosen, name=source)
        headers.require(found, names, name=source)
    except InputError:
        return None
    return found.place


def _plain(profiles: Sequence[Profile], chosen: dict[str, int], source: str) -> dict[str, int] | None:
    """Places by the header, where the values do not speak against it; None otherwise."""
    place = _by_header(profiles, chosen, source)
    if place is None:
        return None
    if not profiles or len(profiles[0].rows) < _FEW_ROWS:
        # So few may all be faulty, and then the header stands; but where each is of another kind it does not.
        if not _fits(place, profiles, chosen):
            return None
        mine, others = profiles[place["snr_db"]], [p for p in profiles if p.at not in place.values()]
        likelier = any(roles.snr_by_values(p) > roles.snr_by_values(mine) for p in others if p.filled)
        return None if likelier and "snr_db" not in chosen else place
    if not _timed(place, profiles):
        return None
    others = [p for p in profiles if p.at not in place.values() and p.filled]
    more_calls = any(p.share("call") > 0.6 for p in others)
    more_places = any(p.share("locator") > 0.6 for p in others)
    if (more_calls and "tx_call" not in place) or (more_places and "tx_locator" not in place):
        return None  # whose they are is to be told by what they hold
    framed = any(raw.startswith("freq") for raw in place)
    if "band" in place and not framed and "band" not in chosen and _other_band(profiles, place, source):
        return None
    freq = next((raw for raw in place if raw.startswith("freq")), None)
    if "band" in place and freq and not _agree(profiles[place["band"]], profiles[place[freq]]):
        return None
    if "snr_db" not in chosen and not _best_snr(profiles[place["snr_db"]], others):
        return None
    return place if all(raw in chosen or _sound(raw, profiles[at]) for raw, at in place.items()) else None


def _fits(place: Mapping[str, int], profiles: Sequence[Profile], chosen: Mapping[str, int]) -> bool:
    """Whether no column that has cells holds another kind than its header says."""

    def fits(raw: str, p: Profile) -> bool:
        # Who it was may be called anything, as long as it is not plainly something else.
        other = raw.endswith("_call") and max(map(p.share, ("locator", "number", "moment"))) < 0.6
        # The few locators there are may all be mistyped; where another column holds some, the headers are exchanged.
        garbled = raw.endswith("_locator") and not places and max(map(p.share, ("number", "moment"))) < 0.6
        return raw in chosen or not p.filled or other or garbled or _sound(raw, p)

    places = any(p.share("locator") > 0.3 for p in profiles)
    return all(fits(raw, profiles[at]) for raw, at in place.items())


def _timed(place: Mapping[str, int], profiles: Sequence[Profile]) -> bool:
    """Whether the columns for date and time hold whole moments, or days in one and clocks in the other."""
    parts = {raw: profiles[place[raw]] for raw in ("time_utc", "date") if raw in place}
    if any(max(p.share("moment"), p.share("epoch"), p.share("serial") * p.decimals) > 0.7 for p in parts.values()):
        return all(max(map(p.share, ("moment", "date", "clock", "epoch", "serial"))) > 0.5 for p in parts.values())
    if len(parts) < 2:
        return False
    clocks = map(parts["time_utc"].share, ("clock", "dotted", "digits", "fraction of a day"))
    return max(clocks) > 0.7 and max(map(parts["date"].share, ("date", "serial"))) > 0.7


def _agree(band: Profile, freq: Profile) -> bool:
    """Whether band and frequency say the same in most rows that have both."""
    unit = roles.frequency(freq)[1]
    pairs = [
        (_bands(text), bands.band_anywhere(cells.megahertz(value, unit)))
        for text, value in zip(band.rows, freq.values, strict=True)
        if text and value > 0
    ]
    return sum(1 for a, b in pairs if a == b) >= len(pairs) / 2


def _best_snr(mine: Profile, others: Sequence[Profile]) -> bool:
    """Whether the values look like SNR, and those of no column without a known header more so."""
    score = roles.snr_by_values(mine)
    return score >= _LIKE_SNR and all(roles.snr_by_values(p) < score for p in others)


def _sound(raw: str, p: Profile) -> bool:
    """Whether a column holds what its header says."""
    if not p.filled:
        return raw not in ("rx_call", "rx_locator", "snr_db", "time_utc")
    if raw in ("rx_locator", "tx_locator"):
        return p.share("locator") > 0.6
    if raw in ("rx_call", "tx_call"):
        return p.share("identifier") > 0.5
    if raw == "snr_db":
        x = p.numbers
        return len(x) > 0.7 * p.filled and float(((x >= -60) & (x <= 60)).mean()) > 0.8 and p.unit in ("", "db")
    if raw.startswith("freq"):
        units = ("mhz", "khz", "hz") if raw == "freq" else (raw[5:],)
        return any(p.share(f"in band {unit}") > 0.8 for unit in units)
    if raw in ("time_utc", "date"):
        return (
            p.share("number") < 0.9
            or max(map(p.share, ("epoch", "serial", "digits", "dotted", "fraction of a day"))) > 0.5
        )
    if raw.startswith("power"):
        return len(p.numbers) > 0.7 * p.filled and p.unit in ("", "w", "mw", "dbm", "kw")
    if raw == "band":
        return p.share("band") > 0.7 or float(np.mean([any(cells.bare_band(v)) for v in p.numbers] or [False])) > 0.7
    return True


# ----------------------------------------------------------------------------------------------------------- by scores


def _role_of(raw: str, chosen: Mapping[str, int]) -> str:
    if raw == "time_utc":
        return "clock" if "date" in chosen else "datetime"
    return _ROLE[raw]


def _raw_place(place: Mapping[str, int], profiles: Sequence[Profile], chosen: Mapping[str, int]) -> dict[str, int]:
    """Roles as raw columns; frequency and power with the unit that their values or the user have."""
    found: dict[str, int] = {}
    for role, at in place.items():
        if role in _RAW:
            found[_RAW[role]] = at
        elif role in ("freq", "power"):
            by_user = next((raw for raw, k in chosen.items() if k == at), None)
            found[by_user or ("freq" if role == "freq" else "power_w")] = at
    return found


def _told(column: Column) -> Assumption:
    values = {"column": column.name, "role": column.role, "holds": column.holds, "assumed": column.sure == ASSUMED}
    return Assumption("role", values)


def _finish(
    place: dict[str, int],
    profiles: Sequence[Profile],
    assignment: Assignment | None,
    chosen: Mapping[str, int],
    source: str,
    power_w: float | None,
) -> Reading:
    """Units of frequency and power, parts of the time, and what the user is told of each column."""
    assumptions: list[Assumption] = []
    questions: list[Question] = []
    scale: dict[str, float] = {}
    place = _time_parts(place, profiles)
    place = _frequency_unit(place, profiles, chosen, assumptions, scale)
    place = _power_unit(place, profiles, chosen, assumptions, questions, source, power_w)
    by_mhz = "band" in place and _band_by_mhz(profiles[place["band"]])
    columns = tuple(
        _column(raw, profiles[at], assignment, raw in chosen or (raw in ("datetime", "clock") and "time_utc" in chosen))
        for raw, at in sorted(place.items(), key=lambda item: item[1])
    )
    return Reading(place, columns, tuple(assumptions), tuple(questions), scale, by_mhz)


def _time_parts(place: dict[str, int], profiles: Sequence[Profile]) -> dict[str, int]:
    """`time_utc` and `date` of the map of trade terms as parts of a time: what each holds decides."""
    if "time_utc" not in place and "date" in place and "clock" not in place:
        return {("datetime" if raw == "date" else raw): at for raw, at in place.items()}
    if "time_utc" not in place:
        return place
    rest = {raw: at for raw, at in place.items() if raw not in ("time_utc", "date")}
    time = profiles[place["time_utc"]]
    whole = max(time.share("moment"), time.share("epoch")) > 0.5 and time.share("old day") < 0.5
    if "date" not in place or whole:
        return rest | {"datetime": place["time_utc"]}
    return rest | {"date": place["date"], "clock": place["time_utc"]}


def _frequency_unit(
    place: dict[str, int],
    profiles: Sequence[Profile],
    chosen: Mapping[str, int],
    assumptions: list[Assumption],
    scale: dict[str, float],
) -> dict[str, int]:
    """The frequency column by its unit: that of the values, of the user, or that of the header."""
    raw = next((name for name in place if name.startswith("freq")), None)
    if raw is None or (raw in chosen and raw != "freq") or not profiles[place[raw]].filled:
        return place
    p = profiles[place[raw]]
    score, unit = roles.frequency(p)
    if score <= roles.ABSENT:
        return place
    said = p.header_units & {"hz", "khz", "mhz", "ghz"}
    rest = {name: at for name, at in place.items() if name != raw}
    if p.unit:
        return rest | {"freq": p.at}  # each cell says its own
    if said and unit not in said:
        values = {"column": p.name, "header": sorted(said)[0], "read": unit}
        assumptions.append(Assumption("unit", values))
    elif not said:
        assumptions.append(Assumption("frequency-unit", {"column": _name(p), "read": unit}))
        # The rule for rows finds the unit of each number by itself, which also reads files that mix two.
        if raw == "freq" and unit != "ghz":
            return rest | {"freq": p.at}
    if unit == "ghz":
        scale["freq_mhz"] = 1000.0
        return rest | {"freq_mhz": p.at}
    return rest | {f"freq_{unit}": p.at}


def _power_unit(
    place: dict[str, int],
    profiles: Sequence[Profile],
    chosen: Mapping[str, int],
    assumptions: list[Assumption],
    questions: list[Question],
    source: str,
    power_w: float | None,
) -> dict[str, int]:
    """The power column by its unit, or the question which one it has."""
    raw = next((name for name in place if name.startswith("power")), None)
    if raw is None or not len(profiles[place[raw]].numbers):
        return place
    if raw in chosen and (raw != "power_w" or profiles[place[raw]].header_units):
        return place
    p = profiles[place[raw]]
    rest = {name: at for name, at in place.items() if name != raw}
    if p.unit in (*_POWER_UNITS, "kw"):
        return rest | {"power_w": p.at}  # each cell says its own
    header = next((unit for unit in _POWER_UNITS if unit in p.header_units), None)
    unit, why = power_unit(sorted(set(p.numbers.tolist())), header, power_w)
    if unit is None and raw in chosen:
        return place
    if unit is None:
        name, x = p.name or str(p.at + 1), float(p.numbers[0])
        options = tuple(Choice(_name(p), u, ways.asked("column", f"power_{u}", name)) for u in ("w", "dbm"))
        values = {"name": _name(p), "example": f"{x:g}", "as_w": f"{x:g}", "as_dbm": f"{10 ** (x / 10 - 3):.3g}"}
        questions.append(Question("power-unit", source, values, options))
        return place
    if why != "header":
        assumptions.append(Assumption("power-unit", {"column": _name(p), "read": unit, "why": why}))
    return rest | {f"power_{unit}": p.at}


def power_unit(values: Sequence[float], header: str | None, station_w: float | None) -> tuple[str | None, str]:
    """The unit of a column of powers that names none in its cells, and why; None where it cannot be told.

    values    : distinct numbers
    header    : w, mw, dbm or None
    station_w : the power that the station is said to have
    """
    steps = all(value in roles.USUAL_DBM for value in values)
    listed = any(value in _LISTED_STEPS for value in values)

    def is_station(watts: Sequence[float]) -> bool:
        return station_w is not None and any(w > 0 and abs(10 * np.log10(w / station_w)) <= 0.7 for w in watts)

    as_dbm = [10 ** (value / 10 - 3) for value in values if value < 100]
    as_mw = [value / 1000 for value in values]
    if header == "w" and not (steps and listed and is_station(as_dbm) and not is_station(values)):
        return "w", "header"
    if header in ("mw", "dbm"):
        return header, "header"
    if min(values) < 0:
        return "dbm", "negative"
    # Before fractions, because 36.99 is 5 W to the hundredth of a dB.
    own = [unit for unit, watts in (("w", values), ("dbm", as_dbm), ("mw", as_mw)) if is_station(watts)]
    if len(own) == 1:
        return own[0], "station"
    if any(value != round(value) for value in values):
        return "w", "fractions"
    if steps and listed:
        return "dbm", "steps"
    if not steps and all(value in _USUAL_W for value in values):
        return "w", "watts"
    return None, ""


def _band_by_mhz(p: Profile) -> bool:
    """Whether bare numbers of a band column are megahertz: not all are wavelengths, and all name a band by megahertz."""
    if p.share("band") > 0.2 or not len(p.numbers):
        return False
    named = [cells.bare_band(value) for value in set(p.numbers.tolist())]
    return all(mhz for _, mhz in named) and not all(wave for wave, _ in named)


def _name(p: Profile) -> str:
    return p.name.strip() or f"column {p.at + 1}"


def _column(raw: str, p: Profile, assignment: Assignment | None, by_user: bool) -> Column:
    role = _ROLE[raw]
    unit = raw.rsplit("_", 1)[1] if raw.startswith(("freq_", "power_")) else ""
    sure, margin = PLAIN, float("inf")
    if by_user:
        sure = CONFIRMED
    elif assignment is not None:
        margin = assignment.margin.get(role, float("inf"))
        if margin < _ASSUMED_BELOW:
            sure = ASSUMED
        elif margin < _TOLD_BELOW or _lean(role, p) < _PLAIN_WORD:
            sure = TOLD
    return Column(_name(p), p.at, role, p.example, sure, margin, holds(role, p), unit)


_KINDS: Final = {
    "datetime": ("time", "both", "date", "utc", "local"), "date": ("date", "both"), "clock": ("time", "utc", "local"),
    "rx_call": ("call", "rx"), "tx_call": ("call", "tx"), "rx_locator": ("locator",), "tx_locator": ("locator", "tx"),
}  # fmt: skip


def _lean(role: str, p: Profile) -> float:
    """How much the header says that the column has this role."""
    return p.lean(*_KINDS.get(role, (role,)))


def holds(role: str, p: Profile) -> str:
    """The values of a column in short, as a choice is told apart by."""
    if not p.filled:
        return "blank"
    if len(p.counts) == 1:
        return f"always {p.example}"
    if role not in ("datetime", "date", "clock", "rx_call", "tx_call", "rx_locator", "tx_locator") and len(p.numbers):
        kind = "numbers" if p.decimals else "whole numbers"
        return (
            f"{kind} from {p.numbers.min():g} to {p.numbers.max():+g}".replace("from +", "from ")
            if role == "snr"
            else (f"{kind} from {p.numbers.min():g} to {p.numbers.max():g}")
        )
    return f"such as {p.example}"


# ----------------------------------------------------------------------------------------------------------- questions


def _questions(
    profiles: Sequence[Profile],
    found: Assignment,
    place: Mapping[str, int],
    fixed: Mapping[str, int],
    own: Own,
    source: str,
    headed: bool,
) -> list[Question]:
    """What is needed and missing, and what two columns could be."""
    names = tuple(_name(p) for p in profiles if p.name.strip())
    questions = []
    timed = "datetime" in place or {"date", "clock"} <= place.keys()
    lacking = [role for role in _NEEDED if role not in place]
    if not timed:
        lacking.insert(0, "date" if "clock" in place else "clock" if "date" in place else "datetime")
    if not {"freq", "band"} & place.keys():
        lacking.append("band")
    for role in lacking:
        questions.append(_missing(role, profiles, found, place, own, source, names))
    if "band" in place and "freq" not in place and "band" not in fixed:
        questions += _other_band(profiles, place, source)
    asked = {question.values.get("role") for question in questions}
    for role in ("datetime", "date", "clock", *_NEEDED, "band", "freq"):
        if role in place and role not in fixed and role in found.margin and role not in asked:
            if role == "band" and "freq" in place or role == "freq" and "band" in place and found.margin[role] >= 0:
                continue  # either will do, and the other is there
            question = _close(role, profiles, found, source)
            if question:
                questions.append(question)
    return questions


def _is_rst(p: Profile) -> bool:
    """Whether a column holds readability, strength and tone, such as 599, where its header promises a report."""
    worded = p.lean("snr") > 0.5 or "rst" in p.name.casefold()
    return worded and len(p.numbers) > 0 and p.numbers.min() >= 111 and p.numbers.max() <= 599


def _wavelengths(p: Profile) -> bool:
    """Whether all cells are bare numbers that name bands by wavelength."""
    few = len(p.numbers) == p.filled > 0 and len(p.counts) <= 16
    return few and all(cells.bare_band(value)[0] for value in set(p.numbers.tolist()))


def _other_band(profiles: Sequence[Profile], place: Mapping[str, int], source: str) -> list[Question]:
    """The question which column is the band, where megahertz stand under its header and wavelengths elsewhere."""
    mine = profiles[place["band"]]
    if mine.share("band") > 0.5 or _wavelengths(mine):
        return []
    taken = (mine.at, place.get("snr"), place.get("snr_db"), place.get("clock"))
    others = [p for p in profiles if p.at not in taken and _wavelengths(p)]
    choices = tuple(_choice("band", p) for p in (mine, *others))
    return [Question("close", source, {"role": "band", "words": ROLE_WORDS["band"][0]}, choices)] if others else []


def _missing(
    role: str,
    profiles: Sequence[Profile],
    found: Assignment,
    place: Mapping[str, int],
    own: Own,
    source: str,
    names: tuple[str, ...],
) -> Question:
    words, option = ROLE_WORDS[role]
    if role == "snr":
        rst = next((p for p in profiles if _is_rst(p)), None)
        if rst is not None:
            return Question("rst", source, {"name": _name(rst), "example": rst.example})
    if role == "rx_call" and "tx_call" in place and own.call:
        name = _name(profiles[place["tx_call"]])
        options = (
            Choice(name, f"stations that {own.call} heard", ways.asked("heard")),
            Choice(name, f"stations that heard {own.call}", ways.asked("column", "callsign", name)),
        )
        return Question("who-received", source, {"role": role, "name": name}, options)
    called = [p for p in profiles if _lean(role, p) >= 1.0 and p.at not in place.values()]
    if role == "rx_locator" and called:
        return Question("no-locators", source, {}, (_choice(role, called[0]),))
    if role == "rx_locator" and "tx_locator" in place:
        p = profiles[place["tx_locator"]]
        if len(p.counts) == 1:
            return Question("own-places", source, {"name": _name(p), "example": p.example})
    k = roles.ROLES.index(role)
    able = [p for p in profiles if found.scores[p.at, k] > roles.ABSENT / 2 and p.at not in place.values()]
    able.sort(key=lambda p: -found.scores[p.at, k])
    values = {"role": role, "words": "the band or frequency" if role == "band" else words, "option": option}
    filled = next((p for p in called if p.example), None)
    if filled is not None and not able:
        return Question("called-so", source, {**values, "example": filled.example}, (_choice(role, filled),))
    return Question("missing", source, {**values, "headers": names}, tuple(_choice(role, p) for p in able[:3]))


def _choice(role: str, p: Profile) -> Choice:
    return Choice(_name(p), holds(role, p), ways.asked("column", ROLE_WORDS[role][1], p.name.strip() or str(p.at + 1)))


def _close(role: str, profiles: Sequence[Profile], found: Assignment, source: str) -> Question | None:
    """The question which of several columns has a role; None where one is clear enough or all say the same."""
    at, margin = found.place[role], found.margin[role]
    mine = profiles[at]
    rivals = [profiles[k] for k in found.rivals.get(role, ()) if not _same(role, mine, profiles[k])]
    rivals = [
        p
        for p in rivals
        if found.place.get("distance") != p.at and found.place.get("azimuth") != p.at or margin < _ASKED_BELOW
    ]
    close = margin < _ASKED_BELOW and (bool(rivals) or not found.rivals.get(role))
    if role == "snr" and not mine.lean("snr") and rivals and margin < _SNR_ASKED_BELOW:
        close = True
    if role == "snr" and not mine.lean("snr"):
        # Another column whose header says SNR, and could be one: header and values speak against each other.
        spoken = [p for p in profiles if p.at != at and p.lean("snr") >= _PLAIN_WORD and found.score("snr", p.at) > 0]
        close, rivals = close or bool(spoken), [*spoken, *(p for p in rivals if p not in spoken)]
    if role == "snr" and mine.lean("snr"):
        better = roles.snr_by_values(mine) + _LESS_LIKE_SNR
        placed = set(found.place.values()) - {at}
        likelier = [p for p in profiles if p.at != at and p.at not in placed and roles.snr_by_values(p) > better]
        close, rivals = close or bool(likelier), [*likelier, *(p for p in rivals if p not in likelier)]
    if not close:
        return None
    words = ROLE_WORDS[role][0]
    choices = tuple(_choice(role, p) for p in (mine, *rivals[:3]))
    return Question("close", source, {"role": role, "words": words}, choices)


def _same(role: str, a: Profile, b: Profile) -> bool:
    """Whether two columns say the same cell by cell, so that it does not matter which is read."""
    if role == "freq":
        x, y = (
            p.values * (1e-6, 1e-3, 1.0, 1e3)[("hz", "khz", "mhz", "ghz").index(roles.frequency(p)[1])] for p in (a, b)
        )
        return bool(np.nanmax(np.abs(x - y), initial=0.0) <= _KHZ) and bool((~np.isnan(x - y)).any())
    if role == "band":
        return [_bands(text) for text in a.rows] == [_bands(text) for text in b.rows]
    size = 4 if role.endswith("locator") else None
    pairs = [(x.upper()[:size], y.upper()[:size]) for x, y in zip(a.rows, b.rows, strict=True) if x and y]
    if role in ("datetime", "date", "clock"):
        minutes = [(_minute(x), _minute(y)) for x, y in pairs]
        if minutes and all(x == y and x is not None for x, y in minutes):
            return True
    return bool(pairs) and all(x == y for x, y in pairs)


def _minute(text: str) -> tuple[object, ...] | None:
    if found := dates.stamp(text):
        return (*found.date[:3], found.clock.micros // 60_000_000)
    if clock := dates.clock(text):
        return (clock.micros // 60_000_000,)
    day = dates.day(text)
    return tuple(day[:3]) if day else None


def _bands(text: str) -> str | None:
    name = cells.band(text)
    if name is None and (said := cells.number(text)):
        wave, mhz = cells.bare_band(said.value)
        return wave or mhz or bands.band_anywhere(said.value)
    return name
