"""SWR, return loss and mismatch loss against published values, scikit-rf and laws."""

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from reach.errors import LineError
from reach.radio import mismatch
from tests.reference import values

SWR = st.floats(1, 100)
LOSS_DB = st.floats(0, 20)
OHM = st.floats(0.1, 10_000)
REACTANCE = st.floats(-10_000, 10_000)


@pytest.mark.parametrize("swr", [1.1, 1.2, 1.5, 2, 3, 5, 10])
def test_published_table(swr):
    return_loss, mismatch_loss, reflected = values.numbers(f"swr-{swr:g}")
    assert mismatch.return_loss_db(swr) == pytest.approx(return_loss, abs=0.0005)
    assert mismatch.mismatch_loss_db(swr) == pytest.approx(mismatch_loss, abs=0.00005)
    assert mismatch.reflected_share(swr) * 100 == pytest.approx(reflected, abs=0.005)


def test_scikit_rf_gives_the_same_swr_and_return_loss():
    rng = np.random.default_rng(6)
    resistance, reactance = rng.uniform(1, 1000, 200), rng.uniform(-800, 800, 200)
    z = (resistance + 1j * reactance).reshape(-1, 1, 1)
    s = skrf.network.z2s(z, 50.0)
    network = skrf.Network(frequency=skrf.Frequency.from_f(np.arange(1, 201), unit="mhz"), s=s, z0=50)
    swr = mismatch.swr_of_impedance(resistance, reactance)
    assert swr == pytest.approx(network.s_vswr[:, 0, 0], rel=1e-9)
    assert mismatch.return_loss_db(swr) == pytest.approx(-network.s_db[:, 0, 0], abs=1e-9)


def test_a_good_match_reads_as_one():
    """R = 50, X = 1 is SWR 1.02, and a meter shows 1.0 (common practice)."""
    swr = float(mismatch.swr_of_impedance(50, 1))
    assert swr == pytest.approx(1.0202, abs=0.00005)
    assert f"{swr:.1f}" == "1.0"


@pytest.mark.parametrize(("resistance", "swr"), [(50, 1), (100, 2), (25, 2), (2450, 49)])
def test_pure_resistance_is_a_ratio(resistance, swr):
    assert mismatch.swr_of_impedance(resistance, 0) == pytest.approx(swr, rel=1e-12)


def test_swr_of_watts():
    """A ninth of the power comes back at SWR 2."""
    assert mismatch.swr_of_watts(9.0, 1.0) == pytest.approx(2.0, rel=1e-12)
    assert mismatch.swr_of_watts(5.0, 0.0) == 1.0


def test_published_swr_at_the_radio():
    (expected,) = values.numbers("line-swr-in")
    assert mismatch.swr_at_radio(3, 1.0) == pytest.approx(expected, abs=0.001)


@given(OHM, REACTANCE)
def test_swr_is_at_least_one_and_has_no_sign(resistance, reactance):
    swr = mismatch.swr_of_impedance(resistance, reactance)
    assert swr >= 1
    assert swr == mismatch.swr_of_impedance(resistance, -reactance)


@given(SWR, LOSS_DB)
def test_a_lossy_line_flatters(swr, loss_db):
    shown = mismatch.swr_at_radio(swr, loss_db)
    assert 1 <= shown <= swr * (1 + 1e-12)
    assert mismatch.swr_at_antenna(shown, loss_db) == pytest.approx(swr, rel=1e-6)


@given(SWR)
def test_what_does_not_come_back_goes_on(swr):
    gone_on = 10 ** (-mismatch.mismatch_loss_db(swr) / 10)
    assert gone_on + mismatch.reflected_share(swr) == pytest.approx(1, abs=1e-12)


def test_nothing_comes_back_at_swr_one():
    assert mismatch.return_loss_db(1) == np.inf
    assert mismatch.mismatch_loss_db(1) == 0


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: mismatch.reflection(0.9), "0.9"),
        (lambda: mismatch.reflection(float("nan")), "nan"),
        (lambda: mismatch.reflection([1.5, float("inf")]), "inf"),
        (lambda: mismatch.swr_of_impedance(0, 10), "0 cannot be: a resistance"),
        (lambda: mismatch.swr_of_impedance(50, float("nan")), "a reactance"),
        (lambda: mismatch.swr_of_watts(0, 0), "forward power"),
        (lambda: mismatch.swr_of_watts(5, -1), "reflected power"),
        (lambda: mismatch.swr_of_watts(5, 5), "5 W reflected of 5 W forward"),
        (lambda: mismatch.swr_at_radio(2, -1), "a loss is"),
        (lambda: mismatch.swr_at_antenna(6, 3), "SWR 6 at the radio cannot be"),
    ],
)
def test_the_impossible_gets_one_sentence(call, names):
    with pytest.raises(LineError, match=names) as caught:
        call()
    assert "\n" not in str(caught.value)


def test_most_that_a_lossy_line_can_show():
    """Behind 3 dB an open end shows |G| = 10^(-0.3) = 0.501, SWR 3.01."""
    with pytest.raises(LineError, match=r"more than 3\.01"):
        mismatch.swr_at_antenna(6, 3)
    assert mismatch.swr_at_antenna(3.0, 3) > 100
