"""Powers: the unit of a column, and every row of the table that says what a comparison does with them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reach import study as studies
from reach.assign import powers
from reach.assign.powers import Told
from reach.base.words import TERMINAL
from reach.radio import power as radio
from reach.read import columns
from reach.tell.sentences import power as sentences

FIVE_TO_ONE_DB = 10 * np.log10(5)


# -- the unit of a column that names none in its cells


@pytest.mark.parametrize(
    ("values", "header", "station_w", "unit"),
    [
        ((5, 100), "w", None, "w"),
        ((37,), "dbm", None, "dbm"),
        ((200,), "mw", None, "mw"),
        ((30, 37), "w", 5.0, "dbm"),  # dBm under the word watts
        ((20,), "w", 0.1, "w"),  # 20 dBm, but in nobody's odd step: watts
        ((30, 37), "w", None, "w"),
        ((-10, 20), None, None, "dbm"),
        ((0.5, 2.5), None, None, "w"),
        ((36.99,), None, 5.0, "dbm"),
        ((30,), None, 1.0, "dbm"),
        ((30,), None, 30.0, "w"),
        ((200,), None, 0.2, "mw"),
        ((37,), None, None, "dbm"),
        ((23, 30, 37), None, None, "dbm"),
        ((5,), None, None, "w"),
        ((5, 100), None, None, "w"),
        ((30,), None, None, None),  # 30 W, or 1 W
        ((10, 20), None, None, None),  # 3 dB apart, or 10
        ((38,), None, None, None),
        ((5, 37), None, None, None),  # 37 dBm is 5.01 W: both units in one column
    ],
)
def test_the_unit_of_a_column(values, header, station_w, unit):
    assert columns.power_unit(values, header, station_w)[0] == unit


# -- the powers of two setups


def _spots(n: int = 40, bands: tuple[str, ...] = ("20m",)) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "setup": pd.Categorical(np.where(np.arange(n) % 2 == 0, "A", "B")),
            "band": pd.Categorical(np.resize(bands, n)),
        }
    )


def _rows(of_a: float | list[float], of_b: float | list[float], n: int = 40) -> np.ndarray:
    own = np.empty(n)
    own[0::2], own[1::2] = np.resize(of_a, n // 2), np.resize(of_b, n // 2)
    return own


def _study(a: float | None = None, b: float | None = None, station: float | None = None) -> studies.Study:
    setups = {"A": {"power_w": a}, "B": {"power_w": b}}
    return studies.check({"station": {"power_w": station}, "setups": setups})


def _between(own, study, spots=None, budgets=None):
    spots = _spots() if spots is None else spots
    found = powers.between(spots, "A", "B", own_w=own, study=study, budgets=budgets)
    other = powers.between(spots, "B", "A", own_w=own, study=study, budgets=budgets)
    assert other.told == found.told
    if found.difference_db is not None:
        assert other.difference_db == pytest.approx(-found.difference_db, abs=1e-12)
    return found


def _said(found) -> str:
    values = {"at": found.at, "line_db": found.line_db, "difference_db": found.difference_db, **found.values}
    tell = sentences.in_doubt if found.refused else sentences.taken_off
    return tell(found.told, values, "A", "B", say=TERMINAL)


def test_rows_equal():
    found = _between(_rows(5, 5), _study())
    assert found.told == Told.ROWS_EQUAL and found.difference_db == 0 and not found.refused
    assert _said(found) == "The rows give both setups the same power (5 W)."


def test_rows_differ():
    found = _between(_rows(5, 1), _study())
    assert found.told == Told.ROWS and found.difference_db == pytest.approx(FIVE_TO_ONE_DB)
    assert np.ptp(found.level_dbm[0::2]) == 0 and found.level_dbm[1] == pytest.approx(30.0)
    assert _said(found) == (
        "A had 7.0 dB more power, 5 W with A and 1 W with B: it was taken off, and what is left is the antenna with its "
        "feedline."
    )


def test_rows_that_vary_within_a_setup_go_row_by_row():
    own = _rows([5, 2.5], 1)
    found = _between(own, _study())
    assert found.told == Told.BY_ROW
    assert found.level_dbm == pytest.approx(10 * np.log10(own) + 30)
    assert "each report was brought to the same power by its own row" in _said(found)


def test_the_study_names_both_and_the_rows_agree():
    """Announced powers are rounded: 5.01 and 1 W in the rows, 4.5 and 1.1 W by the meter."""
    found = _between(_rows(5.01, 1.0), _study(4.5, 1.1))
    assert found.told == Told.STUDY and found.difference_db == pytest.approx(10 * np.log10(4.5 / 1.1))
    assert "A had 6.1 dB more power, 4.5 W with A and 1.1 W with B" in _said(found)
    alone = _between(_rows(np.nan, np.nan), _study(5, 1))
    assert alone.told == Told.STUDY and alone.difference_db == pytest.approx(FIVE_TO_ONE_DB)
    same = _between(_rows(np.nan, np.nan), _study(station=5))
    assert _said(same) == "The study gives both setups the same power (5 W)."


@pytest.mark.parametrize(
    ("own", "study"),
    [
        (_rows(1, 1), _study(5, 1)),
        (_rows(5, 1), _study(station=5)),
        (_rows(5, 1), _study(1, 5)),
        (_rows([5] * 9 + [np.nan], [np.nan] * 9 + [1]), _study(station=5)),  # one row of B is enough to disagree
    ],
)  # fmt: skip
def test_study_and_rows_that_disagree_are_refused(own, study):
    found = _between(own, study)
    assert found.told == Told.DISAGREE and found.refused and found.level_dbm is None
    assert _said(found).startswith("you named ") and _said(found).endswith("Until then no difference is the antenna's.")


def test_a_wrong_unit_on_both_cannot_hurt_a_difference():
    found = _between(_rows(37, 30), _study(5, 1))  # dBm taken for watts: the difference is 0.9 dB and not 7
    assert found.told == Told.DISAGREE
    equal = _between(_rows(37, 37), _study(5, 5))
    assert equal.told == Told.STUDY and equal.difference_db == 0


@pytest.mark.parametrize(
    ("own", "study", "known"),
    [
        (_rows(5, np.nan), _study(), "A"),
        (_rows(np.nan, 5), _study(), "B"),
        (_rows(5, [5] * 9 + [np.nan]), _study(), "A"),  # a tenth of B is blank
        (_rows(np.nan, np.nan), _study(a=5), "A"),
        (_rows([5, np.nan], [5, np.nan]), _study(), ""),
    ],
)
def test_a_power_of_one_setup_only_is_refused(own, study, known):
    found = _between(own, study)
    assert found.told == Told.ONE_ONLY and found.refused and found.values["known"] == known
    assert "no difference is the antenna's" in _said(found)


def test_a_few_blank_rows_do_no_harm():
    own = _rows([5] * 19 + [np.nan], 1)
    found = _between(own, _study())
    assert found.told == Told.ROWS and found.difference_db == pytest.approx(FIVE_TO_ONE_DB)
    assert np.isfinite(found.level_dbm).all()


def test_the_study_fills_what_the_rows_leave_out():
    found = _between(_rows(5, np.nan), _study(b=1))
    assert found.told == Told.ROWS and found.difference_db == pytest.approx(FIVE_TO_ONE_DB)


def test_no_power_is_known():
    found = _between(_rows(np.nan, np.nan), _study())
    assert found.told == Told.NOTHING and found.level_dbm is None and found.difference_db is None
    assert _said(found) == "No power is known; the comparison holds if it was the same with both setups."


# -- and what cable and match lose


def _budgets(a_db: float | None, b_db: float | None, bands: tuple[str, ...] = ("20m",)) -> dict:
    def budget(loss: float | None, band: str) -> radio.Budget:
        more = {"20m": 0.0, "10m": 0.5}[band]
        return radio.Budget(14.1, None, matched_loss_db=None if loss is None else loss + more, extra_loss_db=0.0)

    return {(name, band): budget(loss, band) for name, loss in (("A", a_db), ("B", b_db)) for band in bands}


def test_at_the_antenna_where_losses_are_known():
    """5 W less 3 dB against 1 W less 1 dB: 7 dB at the radio, 5 dB at the antenna."""
    found = _between(_rows(5, 1), _study(), budgets=_budgets(3.0, 1.0))
    assert found.at == "antenna" and found.difference_db == pytest.approx(FIVE_TO_ONE_DB - 2)
    assert found.line_db == pytest.approx(-2.0)
    assert _said(found) == (
        "A had 5.0 dB more power at the antenna (2.5 W with A, 800 mW with B, after cable and match; 5 W and 1 W at "
        "the radio): it was taken off, and what is left is the antenna."
    ).replace("800 mW", TERMINAL.watt(10**-0.1))


def test_the_one_with_more_power_is_named_whichever_it_is():
    assert _said(_between(_rows(1, 5), _study())).startswith("B had 7.0 dB more power, 1 W with A and 5 W with B: ")


def test_losses_go_by_band():
    spots = _spots(bands=("20m", "20m", "10m", "10m"))
    found = _between(_rows(5, 1), _study(), spots=spots, budgets=_budgets(3.0, 1.0, ("20m", "10m")))
    on_10m = (spots["band"] == "10m").to_numpy()
    assert found.level_dbm[~on_10m] - found.level_dbm[on_10m] == pytest.approx(0.5)
    assert found.difference_db == pytest.approx(FIVE_TO_ONE_DB - 2)


def test_a_loss_of_one_setup_or_band_alone_is_no_use():
    """Taken off some reports only, it would be a difference that the rest has not."""
    assert _between(_rows(5, 1), _study(), budgets=_budgets(3.0, None)).at == "radio"
    spots = _spots(bands=("20m", "20m", "10m", "10m"))
    assert _between(_rows(5, 1), _study(), spots=spots, budgets=_budgets(3.0, 1.0)).at == "radio"


def test_losses_count_where_no_power_is_known():
    found = _between(_rows(np.nan, np.nan), _study(), budgets=_budgets(3.0, 1.0))
    assert found.told == Told.NOTHING and found.at == "antenna" and found.difference_db == pytest.approx(-2.0)
    assert "-2.0 dB that cables and matches make was taken off" in _said(found)


def test_a_setup_that_nobody_heard_is_no_error():
    spots = _spots()
    found = powers.between(spots, "A", "C", own_w=_rows(5, 1), study=_study(5, 1), budgets={})
    assert found.difference_db is None
