"""Power at the antenna: worked by hand, laws, and what is said where the study does not say enough."""

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
    assert found.sentence == "Of your 5.0 W, 3.7 W (35.7 dBm) reach the antenna."
    text = " ".join(found.sentences)
    assert "At 14.1 MHz 20 m of RG-58 class loses 1.09 dB when matched" in text
    assert "about 0.21 dB more from SWR 2.0, 1.30 dB in all" in text
    assert "reads as 2.0 on a meter there and as 1.7 at the radio: a lossy line flatters" in text


@pytest.mark.parametrize(("watt", "row"), list(zip([0.1, 0.2, 0.5, 1, 2, 5], values.numbers("dbm"), strict=True)))
def test_published_dbm(watt, row):
    assert power.dbm(watt) == pytest.approx(row, abs=0.005)


def test_resistance_and_reactance_stand_for_the_swr():
    """R = 50, X = 1 is SWR 1.02, which reads as 1.0 on a meter (common practice)."""
    found = power.budget(Setup(cable=RG58, resistance_ohm=50, reactance_ohm=1), 5.0, 14.1)
    assert found.swr_at_antenna == pytest.approx(1.0202, abs=0.0001)
    assert "SWR 1.02 at the antenna reads as 1.0 on a meter there" in " ".join(found.sentences)


def test_a_short_line_says_how_far_off_the_estimate_may_be():
    """The exact figures for 500 and 5 ohm are 0.056 and 0.656 dB (tests/radio/test_feedline.py)."""
    found = power.budget(Setup(cable=Cable(kind="RG-58 class", length_m=2), swr=10), 5.0, 7.1)
    least, most = found.total_loss_range_db
    assert least < 0.056 and most > 0.656
    assert "estimate" in found.sentences[-1] and f"between {least:.2f} and {most:.2f} dB" in found.sentences[-1]
    low_w, high_w = found.power_range_w
    assert low_w < found.power_at_antenna_w < high_w < 5.0
    long = power.budget(Setup(cable=RG58, swr=1.2), 5.0, 14.1)
    assert "estimate" not in " ".join(long.sentences)


@given(WATT, MHZ, st.floats(0, 300), SWR, st.sampled_from(["RG-58 class", "RG-213 class", "low-loss 10 mm class"]))
def test_power_never_rises_along_the_line(watt, mhz, metres, swr, kind):
    found = power.of_line(Line(metres, kind), swr, watt, mhz)
    least, most = found.power_range_w
    assert 0 <= least <= found.power_at_antenna_w * (1 + 1e-12)
    assert found.power_at_antenna_w <= most * (1 + 1e-12) <= watt * (1 + 1e-9)
    assert 1 <= found.swr_at_radio <= found.swr_at_antenna * (1 + 1e-12)
    assert found.at_most_w == pytest.approx(found.power_at_antenna_w, rel=1e-12)


@given(WATT, WATT, SWR, SWR)
def test_power_differences_are_antisymmetric(one, other, swr, other_swr):
    a, b = (
        power.of_line(Line(20, "RG-58 class"), swr, one, 14.1),
        power.of_line(Line(5, "rg213"), other_swr, other, 14.1),
    )
    assert power.power_difference_db(a, b) == pytest.approx(-power.power_difference_db(b, a), abs=1e-9)
    assert power.power_difference_db(a, b) == pytest.approx(a.power_at_antenna_dbm - b.power_at_antenna_dbm, abs=1e-9)
    assert power.power_difference_db(a, a) == 0


def test_what_is_missing_is_said_and_not_guessed():
    nothing = power.budget(Setup(), None, None)
    assert nothing.power_at_antenna_w is None and len(nothing.missing) == 4
    assert nothing.sentence.startswith("What reaches the antenna is not known; missing: the power at the radio")

    no_cable = power.budget(Setup(swr=1.5), 5.0, 14.1)
    assert no_cable.power_at_antenna_w is None and no_cable.missing == (power.NO_LINE,)
    assert no_cable.known == (5.0, "radio")
    assert "5.0 W reaches the antenna is not known; missing: the feedline" in no_cable.sentence
    assert "reads as 1.5 on a meter there." in no_cable.sentences[1]

    no_swr = power.budget(Setup(cable=RG58), 5.0, 14.1)
    assert no_swr.power_at_antenna_w is None and no_swr.missing == (power.NO_SWR,)
    assert no_swr.at_most_w == pytest.approx(5 * 10**-0.10898, abs=0.001)
    assert "3.9 W at most; missing: the SWR" in no_swr.sentence

    no_power = power.budget(Setup(cable=RG58, swr=1.5), None, 14.1)
    assert no_power.power_at_antenna_w is None and no_power.total_loss_db is not None
    assert no_power.known == (None, "radio") and no_power.at_most_w is None

    no_frequency = power.budget(Setup(cable=RG58, swr=1.5), 5.0, None)
    assert no_frequency.missing == ("the frequency",) and no_frequency.line == "20 m of RG-58 class"


def test_an_antenna_at_the_radio_needs_no_swr():
    """No metre of cable, no loss: whatever the SWR, what the radio sends is at the antenna."""
    found = power.budget(Setup(cable=Cable(kind="RG-58 class", length_m=0)), 5.0, 14.1)
    assert found.power_at_antenna_w == 5.0 and found.known == (5.0, "antenna")


def test_budgets_of_a_study():
    found = power.budgets(study(), {"20m": 14.0971, "40m": None})
    assert set(found) == {("vertical", "20m"), ("vertical", "40m"), ("wire", "20m"), ("wire", "40m")}
    assert found["vertical", "20m"].frequency_mhz == 14.0971
    assert found["vertical", "40m"].frequency_mhz == pytest.approx(7.1)  # the middle of 7.0 to 7.2 in Region 1
    assert found["vertical", "20m"].power_at_antenna_w < found["vertical", "40m"].power_at_antenna_w < 5
    assert found["wire", "20m"].power_at_antenna_w is None
    assert found["wire", "20m"].missing == (power.NO_LINE, power.NO_SWR)


def test_bands_by_name_and_by_region():
    assert set(power.budgets(study(), ["20m"])) == {("vertical", "20m"), ("wire", "20m")}
    american = power.budgets(study(options={"itu_region": 2}), ["40m"])
    assert american["wire", "40m"].frequency_mhz == pytest.approx(7.15)


def test_without_setups_the_stations_power_stands_alone():
    found = power.budgets(study(setups={}), ["20m"])
    assert found["", "20m"].known == (5.0, "radio")


def test_setups_that_only_the_spots_name():
    found = power.budgets(study(), ["20m"], also=["wire", "loop"])
    assert found["loop", "20m"].known == (5.0, "radio")
    assert set(found) == {("loop", "20m"), ("wire", "20m"), ("vertical", "20m")}


def test_a_tuner_is_spoken_of_where_one_is_needed():
    low, high = (power.of_line(Line(10, "rg58"), swr, 5, 7.1) for swr in (1.5, 5.0))
    assert power.TUNER not in " ".join(low.sentences)
    assert power.TUNER in " ".join(high.sentences)


def test_a_setups_own_power_comes_first():
    setups = {"a": {"power_w": 2.5}, "b": {}}
    found = power.budgets(study(setups=setups), ["20m"])
    assert (found["a", "20m"].power_at_radio_w, found["b", "20m"].power_at_radio_w) == (2.5, 5.0)


def test_a_band_outside_the_table_is_missing_and_no_error():
    found = power.budgets(study(), ["70cm", "2200m", "99m"])
    assert "the loss of 12 m of RG-58 class at 435 MHz" in found["vertical", "70cm"].missing[0]
    assert found["vertical", "2200m"].power_at_antenna_w is None
    assert found["vertical", "99m"].missing == ("the frequency",)


def test_an_impossible_setup_is_named():
    setups = {
        "beam": {"cable": {"kind": "RG-5 8", "length_m": 12}},
        "odd": {"cable": {"kind": "wet string", "length_m": 1}},
    }
    with pytest.raises(LineError, match=r"setup 'odd' on 20m: no class of cable is called 'wet string'"):
        power.budgets(study(setups=setups), ["20m"])


def test_difference_in_words():
    full = power.of_line(Line(0, "rg58"), 1.0, 5.0, 14.1)
    half = power.of_line(Line(0, "rg58"), 1.0, 2.5, 14.1)
    assert power.power_difference_db(full, half) == pytest.approx(3.0103, abs=0.0001)
    text = power.difference_sentence(full, half, name_a="vertical", name_b="wire")
    assert text == "vertical had 3.0 dB more power than wire (5.0 W against 2.5 W) at the antenna."
    same = power.difference_sentence(full, full, name_a="vertical", name_b="wire")
    assert same == "vertical and wire had the same power, 5.0 W, at the antenna."
    bare = power.budget(Setup(), 2.5, 14.1)
    assert power.power_difference_db(full, bare) is None
    assert power.power_difference_db(full, bare, at="radio") == pytest.approx(3.0103, abs=0.0001)
    assert "at the radio; what reached the antennas is not known (wire: the feedline" in power.difference_sentence(
        full, bare, name_a="vertical", name_b="wire"
    )
    unknown = power.budget(Setup(), None, 14.1)
    assert "is not known" in power.difference_sentence(full, unknown, name_a="vertical", name_b="wire")


def test_per_watt():
    """0.5 W instead of 1 W is 3.01 dB; a report of -18 dB with 5 W would have been -24.99 dB with 1 W."""
    assert power.snr_per_watt_db([-18.0, -18.0], [5.0, 0.5]) == pytest.approx([-24.9897, -14.9897], abs=0.0001)
    assert power.km_per_watt([5000.0, 1000.0], 5.0).tolist() == [1000.0, 200.0]
    assert np.isnan(power.snr_per_watt_db(-18, np.nan))
    with pytest.raises(LineError, match="a power of 0 W"):
        power.km_per_watt(1000, 0)


def test_power_behind_each_spot():
    table = pd.DataFrame(
        {
            "band": pd.Categorical(["20m", "20m", "20m", "40m"]),
            "setup": pd.Categorical(["vertical", "vertical", "wire", None]),
            "power_w": np.array([np.nan, 2.5, 5.0, 5.0], "float32"),
        }
    )
    found = power.budgets(study(), {"20m": 14.1, "40m": 7.1})
    left = power.at_antenna_w(table, found)
    share = found["vertical", "20m"].power_at_antenna_w / 5
    assert left[:2] == pytest.approx([5 * share, 2.5 * share], rel=1e-6)
    assert np.isnan(left[2:]).all()


def test_everything_fits_into_json():
    found = power.budgets(study(), ["20m", "70cm"])
    for each in found.values():
        back = json.loads(json.dumps(each.as_dict(), allow_nan=False))
        assert back["missing"] == list(each.missing) and back["sentences"]
    perfect = power.of_line(Line(10, "rg58"), 1.0, 5.0, 14.1).as_dict()
    assert perfect["return_loss_db"] is None and perfect["mismatch_loss_db"] == 0


@pytest.mark.parametrize(
    ("watt", "text"),
    [(5, "5.0 W"), (3.94, "3.9 W"), (0.45, "450 mW"), (0.0004, "0.4 mW"), (99.99, "100 W"), (400, "400 W")],
)
def test_watts_in_words(watt, text):
    assert power.watts(watt) == text


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
