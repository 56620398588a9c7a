"""Powers: which power lay behind the reports of two setups, as rows and study tell it.

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
