"""Positions: every usual spelling of one place is that place, and what is none is a sentence."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import position
from reach.errors import LocatorError

ARCSECOND_DEG = 1 / 3600
PLACE = (-9.63, 51.77)  # 51 46 12 N, 9 37 48 W


@pytest.mark.parametrize(
    "text",
    [
        "51.77 -9.63", "51.77,-9.63", "51.77, -9.63", "51.77; -9.63", "51.77/-9.63", "+51.77 \u22129.63", "  51.77\t-9.63\n",
        "51,77 -9,63", "51,77; -9,63", "51,77, -9,63", "51,77,-9,63",
        "51.77 N 9.63 W", "51.77N, 9.63W", "N51.77 W9.63", "n 51.77 w 9.63", "W9.63 N51.77", "9.63 W 51.77 N", "51.77N9.63W",
        "51.77 north, 9.63 west", "51.77° N 9.63° W", "51.77º, -9.63º",
        "51° 46.2' N 9° 37.8' W", "51°46.2′N 9°37.8′W", "51 46.2 N 9 37.8 W", "51 46.2 -9 37.8", "N51 46,2 W009 37,8", "51 46.2, -9 37.8",
        "51° 46' 12\" N, 9° 37' 48\" W", "51°46′12″N 9°37′48″W", "51:46:12N 9:37:48W", "51 46 12 N 9 37 48 W", "51 46 12 -9 37 48",
        "51°46´12´´N 9°37´48´´W", "51\u00b046\u201912\u201d N 9\u00b037\u201948\u201d W",
        "geo:51.77,-9.63", "lat 51.77 lon -9.63", "Latitude: 51.77, Longitude: -9.63", "lon -9.63 lat 51.77", "Lat 51.77 N Lon 9.63 W",
        "51.77 deg N 9.63 deg W", "５１．７７ －９．６３",
    ],
)  # fmt: skip
def test_every_usual_spelling_is_the_same_place(text):
    assert position.read(text) == pytest.approx(PLACE, abs=ARCSECOND_DEG / 100)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "two angles"), ("51.77", "two angles"), ("51.77 -9.63 3", "two angles"), ("51,9", "two angles"), ("IO51es", "'IO' is not understood"),
        ("51.77 N 9.63", "each of the two has to have its letter"), ("51.77 N 9.63 N", "one of the two has to be"),
        ("51.77 N 9.63 O", "O is west in some languages"), ("51.77 N -9.63 W", "a sign and a letter"), ("91 0", "latitude runs"),
        ("0 180.5", "longitude from -180"), ("51 60 N 9 0 W", "below 60"), ("51.5 30 N 9 0 W", "only the last"), ("51 -46 N 9 0 W", "an angle is"),
        ("N W", "an angle is"), ("1 2 3 4 N 5 W", "an angle is"), ("51.77 -9.63 \x00", "not understood"), ("9" * 200, "200 characters"), ("?", "'?'"),
    ],
)  # fmt: skip
def test_what_is_none_is_a_sentence(text, why):
    with pytest.raises(LocatorError, match=None) as error:
        position.read(text)
    assert why in str(error.value) and position.EXAMPLES in str(error.value)


@given(st.floats(-90, 90), st.floats(-180, 180), st.sampled_from([", ", " ", "; "]), st.booleans(), st.integers(1, 3))
def test_any_place_comes_back(lat, lon, between, letters, parts):
    def written(value, names):
        sign = names[value < 0] if letters else ""
        seconds = round(abs(value) * 3600 * 1000) / 1000
        numbers = {
            1: [f"{seconds / 3600:.9f}"],
            2: [f"{int(seconds // 60) // 60}", f"{int(seconds // 60) % 60 + seconds % 60 / 60:.7f}"],
            3: [
                f"{int(seconds) // 3600}",
                f"{int(seconds) // 60 % 60}",
                f"{math.floor(seconds % 60 * 1000) / 1000:.3f}",
            ],
        }[parts]
        return ("-" if value < 0 and not letters else "") + " ".join(numbers) + sign

    found = position.read(written(lat, "NS") + between + written(lon, "EW"))
    assert found == pytest.approx((lon, lat), abs=ARCSECOND_DEG / 100)


@given(st.text(max_size=120))
def test_any_text_is_a_place_on_the_globe_or_a_sentence(text):
    try:
        lon, lat = position.read(text)
    except LocatorError as error:
        assert "\n" not in str(error)
    else:
        assert abs(lat) <= 90 and abs(lon) <= 180
