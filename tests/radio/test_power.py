"""Power at the antenna and the powers of spots: worked by hand, laws, and what is missing where a study says too little.

How it is said is tested in tests/tell/test_power_sentences.py.
"""

import json

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach import study as studies
from reach.errors import LineError
from reach.radio import power
from reach.radio.feedline import Line
from reach.radio.power import Missing, Stated
from reach.study import Cable, Setup
from tests.reference import values

RG58 = Cable(kind="RG-58 class", length_m=20)
WATT = st.floats(0.001, 1500)
MHZ = st.floats(1, 150)
SWR = st.floats(1, 50)


def study(**more):
    given = {
        "station": {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": 5.0},
        "setups": {
            "vertical": {"cable": {"kind": "RG-58 class", "length_m": 12}, "swr": 1.4},
            "wire": {"antenna": "end-fed half-wave"},
        },
    }
    return studies.check({**given, **more})


def test_by_hand():
    """20 m of RG-58 class at 14.1 MHz: (1.347 sqrt 14.1 + 0.02774 * 14.1) / 5 = 1.0898 dB; SWR 2, rho 1/3, adds
    10 log10[(A^2 - 1/9) / (A * 8/9)] - 1.0898 with A = 10^0.10898 = 1.2852: 0.2091 dB; 5 W less 1.2989 dB = 3.707 W."""
    found = power.budget(Setup(cable=RG58, swr=2), 5.0, 14.1)
    assert found.matched_loss_db == pytest.approx(1.0898, abs=0.0001)
    assert found.extra_loss_db == pytest.approx(0.2091, abs=0.0001)
    assert found.power_at_antenna_w == pytest.approx(3.707, abs=0.001)
    assert found.power_at_antenna_dbm == pytest.approx(36.9897 - 1.2989, abs=0.0005)
    assert found.missing == ()


@pytest.mark.parametrize(("watt", "row"), list(zip([0.1, 0.2, 0.5, 1, 2, 5], values.numbers("dbm"), strict=True)))
def test_published_dbm(watt, row):
    assert power.dbm(watt) == pytest.approx(row, abs=0.005)


def test_resistance_and_reactance_stand_for_the_swr():
    """R = 50, X = 1 is SWR 1.02, which reads as 1.0 on a meter (common practice)."""
    found = power.budget(Setup(cable=RG58, resistance_ohm=50, reactance_ohm=1), 5.0, 14.1)
    assert found.swr_at_antenna == pytest.approx(1.0202, abs=0.0001)


def test_a_short_line_tells_how_far_off_the_estimate_may_be():
    """The exact figures for 500 and 5 ohm are 0.056 and 0.656 dB (tests/radio/test_feedline.py)."""
    found = power.budget(Setup(cable=Cable(kind="RG-58 class", length_m=2), swr=10), 5.0, 7.1)
    least, most = found.total_loss_range_db
    assert least < 0.056 and most > 0.656


@given(WATT, MHZ, st.floats(0, 300), SWR, st.sampled_from(["RG-58 class", "RG-213 class", "low-loss 10 mm class"]))
def test_power_never_rises_along_the_line(watt, mhz, metres, swr, kind):
    found = power.of_line(Line(metres, kind), swr, watt, mhz)
    least_db, most_db = found.total_loss_range_db
    assert 0 <= least_db <= found.total_loss_db * (1 + 1e-12) <= most_db * (1 + 1e-9)
    assert 0 < found.power_at_antenna_w <= watt * (1 + 1e-12)
    assert 1 <= found.swr_at_radio <= found.swr_at_antenna * (1 + 1e-12)
    assert found.at_most_w == pytest.approx(found.power_at_antenna_w, rel=1e-12)


def test_what_is_missing_is_told_and_not_guessed():
    nothing = power.budget(Setup(), None, None)
    assert nothing.power_at_antenna_w is None
    assert nothing.missing == (Missing.POWER, Missing.LINE, Missing.SWR, Missing.FREQUENCY)

    no_cable = power.budget(Setup(swr=1.5), 5.0, 14.1)
    assert no_cable.power_at_antenna_w is None and no_cable.missing == (Missing.LINE,)
    assert no_cable.known == (5.0, "radio")

    no_swr = power.budget(Setup(cable=RG58), 5.0, 14.1)
    assert no_swr.power_at_antenna_w is None and no_swr.missing == (Missing.SWR,)
    assert no_swr.at_most_w == pytest.approx(5 * 10**-0.10898, abs=0.001)

    no_power = power.budget(Setup(cable=RG58, swr=1.5), None, 14.1)
    assert no_power.power_at_antenna_w is None and no_power.total_loss_db is not None
    assert no_power.known == (None, "radio") and no_power.at_most_w is None

    no_frequency = power.budget(Setup(cable=RG58, swr=1.5), 5.0, None)
    assert no_frequency.missing == (Missing.FREQUENCY,) and no_frequency.line == Line(20, "RG-58 class")


def test_an_antenna_at_the_radio_needs_no_swr():
    """No metre of cable, no loss: whatever the SWR, what the radio sends is at the antenna."""
    found = power.budget(Setup(cable=Cable(kind="RG-58 class", length_m=0)), 5.0, 14.1)
    assert found.power_at_antenna_w == 5.0 and found.known == (5.0, "antenna")


def test_budgets_of_a_study():
    found = power.budgets(study(), {"20m": 14.0437, "40m": None})
    assert set(found) == {("vertical", "20m"), ("vertical", "40m"), ("wire", "20m"), ("wire", "40m")}
    assert found["vertical", "20m"].frequency_mhz == 14.0437
    assert found["vertical", "40m"].frequency_mhz == pytest.approx(7.1)  # the middle of 7.0 to 7.2 in Region 1
    assert found["vertical", "20m"].power_at_antenna_w < found["vertical", "40m"].power_at_antenna_w < 5
    assert found["wire", "20m"].power_at_antenna_w is None
    assert found["wire", "20m"].missing == (Missing.LINE, Missing.SWR)


def test_a_match_measured_on_a_band_goes_before_the_one_for_all():
    bands = {"40m": {"swr": 3}, "20m": {"resistance_ohm": 50, "reactance_ohm": 0}, "10m": {}}
    setups = {"a": {"swr": 1.5, "bands": bands, "cable": {"kind": "RG-58 class", "length_m": 10}}}
    found = power.budgets(study(setups=setups), ["80m", "40m", "20m", "10m"])
    assert [found["a", band].swr_at_antenna for band in ("80m", "40m", "20m", "10m")] == [
        1.5,
        3,
        pytest.approx(1),
        None,
    ]
    assert power.budget(study(setups=setups).setups["a"], 5, 7.05).swr_at_antenna == 3


def test_bands_by_name_and_by_region():
    assert set(power.budgets(study(), ["20m"])) == {("vertical", "20m"), ("wire", "20m")}
    american = power.budgets(study(options={"itu_region": 2}), ["40m"])
    assert american["wire", "40m"].frequency_mhz == pytest.approx(7.15)


def test_without_setups_the_stations_power_stands_alone():
    found = power.budgets(study(setups={}), ["20m"])
    assert found["", "20m"].known == (5.0, "radio")


def test_a_setups_own_power_comes_first():
    setups = {"a": {"power_w": 2.5}, "b": {}}
    found = power.budgets(study(setups=setups), ["20m"])
    assert (found["a", "20m"].power_at_radio_w, found["b", "20m"].power_at_radio_w) == (2.5, 5.0)


def test_a_band_outside_the_table_is_missing_and_no_error():
    found = power.budgets(study(), ["70cm", "2200m", "99m"])
    assert found["vertical", "70cm"].missing == (Missing.LOSS,)
    assert found["vertical", "2200m"].power_at_antenna_w is None
    assert found["vertical", "99m"].missing == (Missing.FREQUENCY,)


def test_an_impossible_setup_is_named():
    setups = {
        "beam": {"cable": {"kind": "RG-5 8", "length_m": 12}},
        "odd": {"cable": {"kind": "wet string", "length_m": 1}},
    }
    with pytest.raises(LineError, match=r"setup 'odd' on 20m: no class of cable is called 'wet string'"):
        power.budgets(study(setups=setups), ["20m"])


def test_everything_fits_into_json():
    found = power.budgets(study(), ["20m", "70cm"])
    for each in found.values():
        back = json.loads(json.dumps(each.numbers(), allow_nan=False))
        assert set(back) == set(power.NUMBERS)
    perfect = power.of_line(Line(10, "rg58"), 1.0, 5.0, 14.1).numbers()
    assert perfect["return_loss_db"] is None and perfect["mismatch_loss_db"] == 0


# --- the powers behind spots ----------------------------------------------------------------------------------------------


def spots(*rows):
    """Spots of (setup or None, band, MHz, W)."""
    setup, band, mhz, watt = zip(*rows, strict=True) if rows else ((), (), (), ())
    return pd.DataFrame(
        {
            "setup": pd.Categorical(setup),
            "band": pd.Categorical(band),
            "freq_mhz": np.array(mhz, float),
            "power_w": np.array(watt, "float32"),
        }
    )


NAN = np.nan
LOSSLESS = {"cable": {"kind": "RG-58 class", "length_m": 0}}
BOTH = [("a", "20m", 14.1, NAN), ("b", "20m", 14.1, NAN)]


def test_two_powers_given_by_setup_are_both_told():
    """Page and pictures once told them apart: "5 W and 10 W" here, "power not given" there."""
    asked = study(station={}, setups={"a": {"power_w": 10}, "b": {"power_w": 5}})
    table = spots(*BOTH)
    found = power.stated(asked, table, power.budgets(asked, power.frequencies_mhz(table)))
    assert found == Stated("radio", (5.0, 10.0))


@pytest.mark.parametrize(
    ("setups", "rows", "want"),
    [
        ({"a": LOSSLESS, "b": LOSSLESS}, BOTH, Stated("antenna", (5.0,))),
        ({"a": LOSSLESS, "b": {**LOSSLESS, "power_w": 2}}, BOTH, Stated("antenna", (2.0, 5.0))),
        ({"a": LOSSLESS, "b": {"power_w": 2}}, BOTH, Stated("radio", (2.0, 5.0))),  # b is not known at the antenna
        ({"a": LOSSLESS, "b": {"power_w": 2}}, BOTH[:1], Stated("antenna", (5.0,))),  # and is not in use
        ({"a": LOSSLESS}, [BOTH[0], (None, "20m", 14.1, NAN)], Stated("radio", (5.0,))),  # whose line is not known
        ({}, BOTH, Stated("radio", (5.0,))),
        ({"a": LOSSLESS, "b": {"power_w": 2}}, [], Stated("radio", (2.0, 5.0))),
    ],
)
def test_powers_are_told_where_they_are_known_for_all_setups_in_use(setups, rows, want):
    asked, table = study(setups=setups), spots(*rows)
    assert power.stated(asked, table, power.budgets(asked, power.frequencies_mhz(table))) == want


def test_powers_of_the_spots_stand_in_for_a_study_that_says_nothing():
    asked = study(station={}, setups={"a": {"power_w": 1}, "b": {}, "c": {}})
    rows = [*BOTH, ("b", "40m", 7.1, 0.2), ("b", "40m", 7.1, 5), ("c", "20m", 14.1, NAN)]
    assert power.stated(asked, spots(*rows), {}) == Stated("radio", (0.2, 1.0, 5.0), ("c",))
    assert power.stated(study(station={}, setups={}), spots(*BOTH), {}) == Stated("unknown")


def test_frequencies_are_the_medians_of_the_bands():
    table = spots(("a", "20m", 14.0, 1), ("a", "20m", 14.1, 1), ("a", "20m", 14.3, 1), ("a", "40m", NAN, 1))
    assert power.frequencies_mhz(table) == {"20m": 14.1, "40m": None}


def test_power_for_figures_per_watt():
    """At the antenna, at the radio, from the rows where all agree, and none where they do not."""
    asked = study(station={}, setups={"a": {**LOSSLESS, "power_w": 4}, "b": {"power_w": 2}, "c": {}, "d": {}})
    rows = [*BOTH, ("c", "20m", 14.1, 3), ("c", "20m", 14.1, 3), ("d", "20m", 14.1, 3), ("d", "20m", 14.1, 2)]
    table = spots(*rows, (None, "20m", 14.1, NAN))
    found = power.powers(asked, table, power.budgets(asked, power.frequencies_mhz(table)))
    assert {name: tuple(each) for (name, _), each in found.items()} == {
        "a": (4, "antenna"), "b": (2, "radio"), "c": (3, "radio"), "d": (None, "radio"), "": (None, "radio"),
    }  # fmt: skip


def test_voltage_at_a_wire_end():
    """5 W into 2450 ohm is 111 V rms, into 4 kohm 141 V: sqrt(P R)."""
    assert power.end_voltage_v(5, 2450) == pytest.approx(110.68, abs=0.01)
    assert power.end_voltage_v(5, 4000) == pytest.approx(141.42, abs=0.01)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: power.budget(Setup(cable=RG58, swr=2), 0, 14.1), "a power of 0 W"),
        (lambda: power.budget(Setup(cable=RG58, swr=2), -5, 14.1), "a power of -5 W"),
        (lambda: power.budget(Setup(cable=RG58, swr=2), 5, 0), "a frequency of 0 MHz"),
        (lambda: power.budget(Setup(cable=RG58, swr=2), 5, 432), "432 MHz is outside the table"),
        (lambda: power.of_line(Line(20, "rg58"), 0.5, 5, 14.1), "0.5 cannot be: an SWR"),
        (lambda: power.of_line(Line(20, "rg58"), float("inf"), 5, 14.1), "inf cannot be: an SWR"),
    ],
)
def test_the_impossible_gets_one_sentence(call, names):
    with pytest.raises(LineError, match=names) as caught:
        call()
    assert "\n" not in str(caught.value)
