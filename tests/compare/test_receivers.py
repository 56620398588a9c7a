"""One receiver, one place: for chart, map, page and JSON alike; and no place where its locator is in doubt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from reach import study as studies
from reach.base import locator
from reach.compare import compare, evidence
from reach.draw import charts, style, versus
from reach.place import path
from reach.place.geometry import place
from reach.spots import TRUST
from reach.tell.page import versus as page
from tests import factory
from tests.compare.factory import alternating

HOME = "IO51es"
NEAR, FAR = "JN58aa", "JN58xx"  # corners of one square, a hundred kilometres apart
CENTIMETRE_KM = 1e-5


def _two_locators(of_near: int, of_far: int) -> pd.DataFrame:
    """Eight receivers; of the first the first `of_near` reports carry one locator of its square, the next `of_far` another."""
    spots = alternating(14, blocks=40, difference_db=3.0)
    nth = spots.groupby((spots["rx_call"] == spots["rx_call"].iloc[0]).to_numpy()).cumcount().to_numpy()
    first = (spots["rx_call"] == spots["rx_call"].iloc[0]).to_numpy()
    named = np.where(first, np.where(nth < of_near, NEAR, FAR), spots["rx_locator"].astype(object))
    spots = spots.assign(rx_locator=pd.Categorical(named), tx_locator=pd.Categorical([HOME] * len(spots)))
    return spots[~first | (nth < of_near + of_far)]


def _km(name: str) -> float:
    """Straight from the two locators, by the module that is held to closed forms elsewhere."""
    lon, lat = locator.centre([HOME, name])
    return float(path.inverse(lon[:1], lat[:1], lon[1:], lat[1:])[0][0])


def _first(found):
    return next(r for r in found.by_receiver if r.square == "JN58" and r.rx_locator in (NEAR, FAR))


@pytest.mark.parametrize(
    ("of_near", "of_far", "stands_at"), [(40, 25, NEAR), (25, 40, FAR), (30, 30, NEAR), (1, 2, FAR)]
)
def test_a_receiver_stands_where_most_of_its_reports_say(of_near, of_far, stands_at):
    """Equal counts: the first by text. Its place is that locator's, never a mean of both."""
    spots = _two_locators(of_near, of_far)
    one = _first(compare(spots, "a", "b"))
    assert one.rx_locator == stands_at and one.reports_a + one.reports_b == of_near + of_far
    assert one.distance_km == pytest.approx(_km(stands_at), abs=CENTIMETRE_KM)
    lon, lat = locator.centre([stands_at])
    assert (one.rx_lon_deg, one.rx_lat_deg) == pytest.approx((lon[0], lat[0]))
    placed = spots.assign(distance_km=[_km(str(name)) for name in spots["rx_locator"]], bearing_deg=77.0)
    known = _first(compare(placed, "a", "b"))
    assert known.rx_locator == stands_at and known.distance_km == pytest.approx(one.distance_km, abs=CENTIMETRE_KM)
    assert known.bearing_deg == 77.0
    shuffled = _first(compare(spots.iloc[::-1], "a", "b"))
    assert (shuffled.rx_locator, shuffled.distance_km) == (one.rx_locator, one.distance_km)


def test_chart_map_and_page_read_the_same_distance():
    """A callsign with two locators in one square was 30 km farther away in the chart than on the map."""
    spots = _two_locators(40, 25)
    spots = spots.assign(
        snr_db=spots["snr_db"].astype("float32"), time_utc=spots["time_utc"].astype("datetime64[us, UTC]"),
        mode=None, freq_mhz=14.1, tx_call=pd.Categorical(["EI4QTB/P"] * len(spots)), power_w=np.float32(5.0),
        session=None, source="a.csv", line=np.arange(2, len(spots) + 2),
    )  # fmt: skip
    spots = spots.assign(**{name: pd.Categorical(spots[name]) for name in ("mode", "session", "source")})
    placed = place(spots.reset_index(drop=True))
    sure = placed[["rx_call", "rx_locator"]].drop_duplicates().assign(trust="corroborated")
    found = compare(placed, "a", "b")
    findings = factory.from_spots(placed, sure.astype({"trust": pd.CategoricalDtype(list(TRUST))}), comparison=found)
    findings = replace(findings, study=studies.check({"files": ["a.csv"], "station": {"locator": HOME}}))
    (on_map,) = versus.differences(findings).query("rx_call == @_first(@found).rx_call")["distance_km"]
    drawn = page.drawn(findings)
    assert drawn is not None
    (on_page,) = [row[2] for row in drawn["receivers"] if row[0] == _first(found).rx_call]
    figure = charts.comparison_receivers(findings, style.theme("light"))
    in_chart = np.concatenate([dots.get_offsets()[:, 0] for dots in figure.axes[0].collections])
    assert on_map == _first(found).distance_km == pytest.approx(_km(NEAR), abs=CENTIMETRE_KM)
    assert on_page == round(on_map, 2)
    assert np.sum(np.abs(in_chart - on_map) < CENTIMETRE_KM) == 1
    assert not np.any(np.abs(in_chart - (on_map + _km(FAR)) / 2) < CENTIMETRE_KM)


@pytest.mark.parametrize("trust", [name for name in TRUST if name != "corroborated"])
def test_a_doubted_receiver_counts_in_the_whole_and_in_no_part(trust):
    """The breakdown is that of the table without its reports; the difference and all counts are those with them."""
    spots = alternating(14, receivers=12, blocks=40, difference_db=3.0).assign(tx_locator=HOME)
    doubted = (spots["rx_call"] == spots["rx_call"].iloc[0]).to_numpy()
    sure = compare(spots.assign(trust="corroborated"), "a", "b")
    found = compare(spots.assign(trust=np.where(doubted, trust, "corroborated")), "a", "b")
    assert replace(found, cells=(), by_receiver=(), notes=()) == replace(sure, cells=(), by_receiver=(), notes=())
    assert sure == replace(
        compare(spots, "a", "b"), by_receiver=sure.by_receiver
    )  # without the column every place is believed
    in_zones = [sum(cell.receivers for cell in one.cells if cell.by == "zone") for one in (sure, found)]
    in_light = [sum(cell.pairs for cell in one.cells if cell.by == "day_night") for one in (sure, found)]
    assert in_zones[1] == in_zones[0] - 1 and in_light[1] <= in_light[0]
    (one,) = [r for r in found.by_receiver if r.trust == trust]
    assert one.rx_call == spots["rx_call"].iloc[0] and one.pairs > 0
    assert not one.placed and one.distance_km is not None  # known, and not believed
    assert sum(r.placed for r in found.by_receiver) == 11


def test_where_nothing_says_where_the_station_was_receivers_have_a_place_but_no_distance():
    found = compare(alternating(14), "a", "b")
    assert all(r.distance_km is None and r.bearing_deg is None and not r.placed for r in found.by_receiver)
    lon, lat = locator.centre([r.rx_locator for r in found.by_receiver])
    assert [r.rx_lon_deg for r in found.by_receiver] == pytest.approx(lon)
    assert [r.rx_lat_deg for r in found.by_receiver] == pytest.approx(lat)


def test_two_squares_are_two_receivers_and_a_moved_station_keeps_its_usual_one():
    spots = pd.DataFrame(
        {
            "rx_call": ["g4qra", "G4QRA", "G4QRA", "G4QRA"],
            "rx_locator": ["IO91wm", "IO91WM", "FN31pr", "IO91wm"],
            "tx_locator": ["JN58td", HOME, HOME, HOME],
        }
    )
    code, table = evidence.receivers(spots)
    assert code.tolist() == [1, 1, 0, 1] and table["square"].tolist() == ["FN31", "IO91"]
    assert table["rx_locator"].tolist() == ["FN31pr", "IO91wm"] and set(table["rx_call"]) == {"G4QRA"}
    # Of the second locator's two reports one was from each of the station's places: the first by text.
    assert table["distance_km"][1] == pytest.approx(_km("IO91wm"), abs=CENTIMETRE_KM)
