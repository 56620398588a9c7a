"""Powers: in which unit a column gives them, and which power lay behind the reports of two setups.

A known difference in power is never an antenna's merit: it is found here, row by row where rows tell it, and taken off before
anything is said of an antenna. Codes and values only; `reach.tell.sentences.power` says them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import pandas as pd

    from reach.radio.power import Budget
    from reach.study import Study

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Value = str | int | float | bool

# Powers in dBm go by threes, as 10 lg 2 is nearly 3: 0 3 7 10 13 17 20 ... (common practice).
DBM_STEPS: Final = frozenset({0, 3, 7, *(tens + ones for tens in range(10, 60, 10) for ones in (0, 3, 7)), 60})
# Those of them that nobody sets a radio to in watts.
DBM_ONLY: Final = frozenset({7, 13, 17, 23, 27, 33, 37, 43, 47, 53, 57})
USUAL_W: Final = frozenset({1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 75, 80, 90, 100, 120, 150,
                            200, 250, 300, 400, 500, 600, 700, 750, 800, 1000, 1200, 1500, 2000})  # fmt: skip
SAME_DB: Final = 0.7  # two powers this near each other are one power, announced and rounded
MIXED_DB: Final = 0.1
AGREE_DB: Final = 1.6  # a difference of two announced powers, each rounded to whole steps of 3 dB
EQUAL_DB: Final = 0.05
VARIES_DB: Final = 0.5
VARIES_SHARE: Final = 0.01
BLANK: Final = 0.05


def dbm(power_w: Floats | float) -> Floats:
    """Power in dB over a milliwatt; NaN stays NaN."""
    return 10 * np.log10(np.asarray(power_w, dtype=float)) + 30


def watt(power_dbm: float) -> float:
    """A power in dBm in watts."""
    return float(10 ** (power_dbm / 10 - 3))


# --- in which unit ----------------------------------------------------------------------------------------------------


class UnitBy(StrEnum):
    """What tells the unit of a column of powers; behind each the values it comes with.

    CELLS     every cell names its own
    HEADER    the header does; unit
    STATION   as watts, or as dBm, the values are the station's own power; station_w
    BESIDE    another column gives the same powers in the other unit
    NEGATIVE  no power is below 0 W
    FRACTIONS watts have decimals
    STEPS     only dBm go in such steps; example
    USUAL     usual numbers of watts, and not dBm
    MIXED     asked: first and second are one power in two units
    OPEN      asked: example may be watts or dBm
    NOTHING   no cell is a number
    """

    CELLS = "cells"
    HEADER = "header"
    STATION = "station"
    BESIDE = "beside"
    NEGATIVE = "negative"
    FRACTIONS = "fractions"
    STEPS = "steps"
    USUAL = "usual"
    MIXED = "mixed"
    OPEN = "open"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Unit:
    """The unit of a column of powers.

    unit  w | mw | dbm, for the cells that name none; None where it must be asked for
    """

    unit: str | None
    by: UnitBy
    values: Mapping[str, Value] = field(default_factory=dict)


def unit(
    cells: Sequence[tuple[float, str]],
    *,
    header: str | None = None,
    station_w: float | None = None,
    beside: Sequence[float] | None = None,
) -> Unit:
    """In which unit a column gives powers. Values decide; a header that says watts is believed but for one case.

    cells : of each distinct cell the number and the unit behind it ("" where there is none)
    header : the unit that the header names: w, mw, dbm; None where it names none
    station_w : the station's power at the radio [W], where it is known
    beside : the numbers of another column of powers, aligned with `cells`
    Returns Unit: the first rule that tells.
    """
    bare = np.array([number for number, named in cells if not named and np.isfinite(number)], dtype=float)
    if not len(cells):
        return Unit(None, UnitBy.NOTHING)
    if not len(bare):
        return Unit("w", UnitBy.CELLS)
    if header in ("dbm", "mw"):
        return Unit(header, UnitBy.HEADER, {"unit": header})
    if header == "w":
        # The one mistake that many make: a column of dBm under the word watts, and the station's own power gives it away.
        own = station_w is not None and np.abs(bare - dbm(station_w)).min() <= SAME_DB
        if own and _all_steps(bare) and _has_dbm_only(bare):
            return Unit("dbm", UnitBy.STATION, {"station_w": float(station_w or 0)})
        return Unit("w", UnitBy.HEADER, {"unit": "w"})
    if beside is not None and (told := _beside(np.array([number for number, _ in cells]), np.asarray(beside, float))):
        return told
    return _by_values(bare, station_w)


def _beside(these: Floats, others: Floats) -> Unit | None:
    """The same powers in the other column: those that are the logarithm of the others are dBm."""
    both = np.isfinite(these) & np.isfinite(others)
    if not both.any():
        return None
    for here, there, found in ((these, others, "dbm"), (others, these, "w")):
        positive = both & (there > 0)
        if positive.any() and (np.abs(here[positive] - dbm(there[positive])) <= SAME_DB).all():
            return Unit(found, UnitBy.BESIDE)
    return None


def _by_values(bare: Floats, station_w: float | None) -> Unit:
    example = float(bare.max())
    if (bare < 0).any():
        return Unit("dbm", UnitBy.NEGATIVE)
    if (mixed := _mixed(bare)) is not None:
        return Unit(None, UnitBy.MIXED, {"first": mixed[0], "second": mixed[1], "watts": watt(mixed[1])})
    if station_w is not None:
        # Before fractions, because 36.99 is 5 W to the hundredth of a dB.
        near = {"w": dbm(np.maximum(bare, 1e-9)), "mw": dbm(np.maximum(bare, 1e-9)) - 30, "dbm": bare}
        hits = [name for name, level in near.items() if np.abs(level - dbm(station_w)).min() <= SAME_DB]
        if len(hits) == 1:
            return Unit(hits[0], UnitBy.STATION, {"station_w": station_w})
    if (bare != np.round(bare)).any():
        return Unit("w", UnitBy.FRACTIONS)
    if _all_steps(bare) and _has_dbm_only(bare):
        return Unit("dbm", UnitBy.STEPS, {"example": next(float(v) for v in bare if v in DBM_ONLY)})
    if not _all_steps(bare) and all(value in USUAL_W for value in bare):
        return Unit("w", UnitBy.USUAL)
    return Unit(None, UnitBy.OPEN, {"example": example, "watts": watt(example)})


def _all_steps(bare: Floats) -> bool:
    return all(value in DBM_STEPS for value in bare)


def _has_dbm_only(bare: Floats) -> bool:
    return any(value in DBM_ONLY for value in bare)


def _mixed(bare: Floats) -> tuple[float, float] | None:
    """Two values of one column that are the same power, one in watts and one in dBm: 5 and 37."""
    for level in bare:
        if level in DBM_ONLY:
            same = bare[(bare > 0) & (np.abs(dbm(np.maximum(bare, 1e-9)) - level) <= MIXED_DB)]
            if len(same) and same[0] != level:
                return float(same[0]), float(level)
    return None


# --- the powers of two setups -----------------------------------------------------------------------------------------


class Told(StrEnum):
    """How the powers of two setups are known; behind each the values it comes with (and those of `Powers`).

    With the first five come a_w and b_w, and radio_a_w and radio_b_w before cable and match.

    GIVEN      the user said the difference: no watts
    ROWS_EQUAL the rows give both the same
    ROWS       the rows (or rows and study) give two
    BY_ROW     the power varied within a setup: each report by its own row
    STUDY      the study names both
    DISAGREE   refused: study_db, rows_db, and what each says: study_a_w, study_b_w, rows_a_w, rows_b_w, as far as known
    ONE_ONLY   refused: known (the setup whose power is known, "" where rows of both are blank), blank (share of the other's rows)
    NOTHING    no power is known: taken to be the same
    """

    GIVEN = "given"
    ROWS_EQUAL = "rows-equal"
    ROWS = "rows"
    BY_ROW = "by-row"
    STUDY = "study"
    DISAGREE = "study-and-rows-disagree"
    ONE_ONLY = "one-setup-only"
    NOTHING = "nothing"


REFUSED: Final = frozenset({Told.DISAGREE, Told.ONE_ONLY})


@dataclass(frozen=True)
class Powers:
    """The powers behind two setups.

    told           how they are known
    difference_db  power of A minus power of B [dB], the medians; None where nothing is known of them
    at             radio | antenna: antenna where what cable and match lose is known for both on every band in use
    line_db        of difference_db, what cables and matches make; 0 at the radio
    level_dbm      power of each row of the table, NaN of other setups; None where nothing is to be taken off
    """

    told: Told
    difference_db: float | None = None
    at: str = "radio"
    line_db: float = 0.0
    level_dbm: Floats | None = field(default=None, repr=False, compare=False)
    values: Mapping[str, Value] = field(default_factory=dict)

    @property
    def refused(self) -> bool:
        """Whether no difference may be called an antenna's."""
        return self.told in REFUSED


@dataclass(frozen=True)
class _Side:
    """What is known of one setup's power at the radio.

    rows_dbm  of its rows: the median; None where more than BLANK of them are blank
    some_dbm  the median of those that say one, however few
    varies    within the setup; blank : share of its rows
    study_dbm as the study has it
    """

    mask: Bools
    rows_dbm: float | None
    some_dbm: float | None
    varies: bool
    blank: float
    study_dbm: float | None

    @classmethod
    def of(cls, mask: Bools, own_dbm: Floats, study_w: float | None) -> _Side:
        own = own_dbm[mask]
        said = own[np.isfinite(own)]
        blank = 1 - len(said) / len(own) if len(own) else 1.0
        some = float(np.median(said)) if len(said) else None
        varies = some is not None and float(np.mean(np.abs(said - some) > VARIES_DB)) > VARIES_SHARE
        study_dbm = None if study_w is None else float(dbm(study_w))
        return cls(mask, some if blank <= BLANK + 1e-9 else None, some, varies, blank, study_dbm)


def between(
    spots: pd.DataFrame,
    a: str,
    b: str,
    *,
    own_w: Floats,
    study: Study,
    budgets: Mapping[tuple[str, str], Budget] | None = None,
    names: pd.Series | None = None,
) -> Powers:
    """The powers of two setups, from rows and study.

    spots : needs band; names : which setup each row was sent with, those of `setup` where left out
    own_w : power at the radio that each row itself names [W], NaN where it names none; shape (len(spots),)
    study : its setups' and the station's power
    budgets : what cable and match lose by (setup, band), as far as known
    Returns Powers: between(a, b) and between(b, a) differ in sign only.
    """
    setup = (spots["setup"] if names is None else names).astype(object).to_numpy()
    own_dbm = dbm(np.where(np.asarray(own_w, float) > 0, own_w, np.nan))
    sides = [_Side.of(setup == name, own_dbm, study.power_w(name)) for name in (a, b)]
    told, values, level = _told(sides, (a, b), own_dbm)
    if told in REFUSED:
        return Powers(told, values=values)
    line = _line_db(spots, (a, b), sides, budgets or {})
    if line is None:
        line, at = np.zeros(len(spots)), "radio"
    else:
        at = "antenna"
    level = level - line
    middle = [float(np.median(level[side.mask])) if side.mask.any() else np.nan for side in sides]
    difference = middle[0] - middle[1]
    if told == Told.NOTHING and at == "radio":
        return Powers(told, values=values)
    lost = [float(np.median(line[side.mask])) if side.mask.any() else np.nan for side in sides]
    if not np.isfinite(difference):  # a setup that nobody heard: nothing will be compared
        return Powers(told, at=at, values=values)
    watts = {}
    if told != Told.NOTHING:
        watts = {"a_w": watt(middle[0]), "b_w": watt(middle[1])}
        watts |= {"radio_a_w": watt(middle[0] + lost[0]), "radio_b_w": watt(middle[1] + lost[1])}
    return Powers(told, difference, at, lost[1] - lost[0], level, {**values, **watts})


def _told(sides: Sequence[_Side], names: tuple[str, str], own_dbm: Floats) -> tuple[Told, dict[str, Value], Floats]:
    """How the powers at the radio are known, with values, and that of each row [dBm]."""
    level = np.full(len(own_dbm), np.nan)
    if (apart := _disagreement(sides)) is not None:
        return Told.DISAGREE, apart, level
    rows = all(side.rows_dbm is not None for side in sides)
    study = all(side.study_dbm is not None for side in sides)
    known = [side.rows_dbm if side.rows_dbm is not None else side.study_dbm for side in sides]
    if rows and any(side.varies for side in sides):
        for side in sides:
            own = own_dbm[side.mask]
            level[side.mask] = np.where(np.isfinite(own), own, float(side.rows_dbm or 0.0))
        return Told.BY_ROW, {}, level
    if study:
        # Announced powers are rounded to steps of 3 dB; the study's are as the operator measured them.
        known = [side.study_dbm for side in sides]
    for side, power in zip(sides, known, strict=True):
        level[side.mask] = 0.0 if power is None else power
    if study:
        return Told.STUDY, {}, level
    if None not in known:
        equal = abs((known[0] or 0.0) - (known[1] or 0.0)) < EQUAL_DB
        return (Told.ROWS_EQUAL if equal else Told.ROWS), {}, level
    if all(side.some_dbm is None and side.study_dbm is None for side in sides):
        return Told.NOTHING, {}, level
    silent = [k for k in (0, 1) if known[k] is None]
    of = names[1 - silent[0]] if len(silent) == 1 else ""
    return Told.ONE_ONLY, {"known": of, "blank": max(sides[k].blank for k in silent)}, level


def _disagreement(sides: Sequence[_Side]) -> dict[str, Value] | None:
    """Study and rows by each side where both speak: as a difference where they do of both setups, else setup by setup."""
    spoken = [(side.study_dbm, side.some_dbm) for side in sides]
    off = [study - rows for study, rows in spoken if study is not None and rows is not None]
    if len(off) == 2:
        # A wrong unit, or a meter that reads low, is the same on both and cannot hurt a difference.
        off = [off[0] - off[1]]
    if not any(abs(each) > AGREE_DB for each in off):
        return None
    named = {f"{what}_{k}_w": watt(level) for k, pair in zip("ab", spoken, strict=True)
             for what, level in zip(("study", "rows"), pair, strict=True) if level is not None}  # fmt: skip
    values: dict[str, Value] = dict(named)
    for what, at in (("study_db", 0), ("rows_db", 1)):
        first, second = spoken[0][at], spoken[1][at]
        if first is not None and second is not None:
            values[what] = first - second
    return values


def _line_db(
    spots: pd.DataFrame, names: tuple[str, str], sides: Sequence[_Side], budgets: Mapping[tuple[str, str], Budget]
) -> Floats | None:
    """What cable and match take from each row [dB]; None unless it is known for both setups on every band in use: taken off
    some reports only, it would be a difference that the rest has not."""
    lost = np.zeros(len(spots))
    band = spots["band"].astype(object).to_numpy()
    for name, side in zip(names, sides, strict=True):
        for its_band in set(band[side.mask]):
            found = budgets.get((name, str(its_band)))
            if found is None or found.total_loss_db is None:
                return None
            lost[side.mask & (band == its_band)] = found.total_loss_db
    return lost
