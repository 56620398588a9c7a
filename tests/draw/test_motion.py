"""A film's frames: what they show at a moment, and that nothing of one frame stays in the next."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_hex

from reach import spots as contract
from reach.base import locator
from reach.draw import arcs, motion, style
from reach.errors import DrawError
from reach.place import daylight, geometry, sun
from tests import factory
from tests.draw import audience

SMALL = (640, 360)
START = datetime(2026, 5, 9, tzinfo=UTC)


@pytest.fixture(scope="module")
def evening():
    return factory.result()


@pytest.fixture(scope="module")
def film(evening):
    return motion.Film(evening, motion.span(evening), size_px=SMALL)


def heard(*, hours: list[float], locators: list[str], home: str = "IO51es", trust: str = "corroborated"):
    """A result of one report an hour and locator, each of a receiver of its own."""
    count = len(locators)
    calls = [factory.callsign("G4", number) for number in range(count)]
    table = factory.spots(count, pd.DataFrame({"rx_call": calls, "rx_locator": locators}), np.random.default_rng(1))
    times = pd.DatetimeIndex([START + timedelta(hours=each) for each in hours]).as_unit("us")
    table = table[list(contract.SPOT)].assign(
        time_utc=times, rx_call=pd.Categorical(calls), rx_locator=pd.Categorical(locators),
        tx_locator=pd.Categorical([home] * count), snr_db=np.linspace(-30, 0, count).astype("float32"),
    )  # fmt: skip
    trust = pd.DataFrame({"rx_call": calls, "rx_locator": locators, "trust": trust})
    return factory.from_spots(daylight.daylight(geometry.place(table)), trust)


# --- what is shown --------------------------------------------------------------------------------------------------


def test_a_period_within_a_day_is_shown_from_full_hour_to_full_hour(evening):
    shown = motion.span(evening)
    assert (shown.start, shown.end) == (START.replace(hour=17), START.replace(hour=23))
    assert shown.fade == timedelta(minutes=10)


def test_an_evening_past_midnight_is_one_film():
    shown = motion.span(heard(hours=[22.5, 25.2], locators=["JN58td", "JN48qm"]))
    assert (shown.start, shown.end) == (START + timedelta(hours=22), START + timedelta(hours=26))


def test_a_day_asked_for_is_shown_whole_with_its_empty_hours_only(evening):
    assert motion.span(evening, date(2026, 5, 9)) == motion.span(evening)
    shown = motion.span(evening, date(2026, 5, 9), empty_hours=True)
    assert (shown.start, shown.end) == (START, START + timedelta(days=1))
    assert shown.fade == timedelta(minutes=30)


def test_of_several_days_the_one_with_most_reports():
    many = heard(hours=[1, 30, 31, 60], locators=["JN58td", "JN48qm", "IO91wm", "KP20le"])
    shown = motion.span(many)
    assert (shown.start, shown.end) == (START + timedelta(hours=30), START + timedelta(hours=32))


def test_a_day_without_reports_says_which_have_some(evening):
    with pytest.raises(DrawError, match="no report on 2026-05-10; there are some on 2026-05-09"):
        motion.span(evening, date(2026, 5, 10))


def test_nothing_accepted_is_no_film(evening):
    among = factory.receivers(5, np.random.default_rng(1))
    with pytest.raises(DrawError, match="nothing to film"):
        motion.span(factory.from_spots(evening.spots.iloc[:0], among))


@pytest.mark.parametrize("size", [(641, 360), (640, 361), (300, 200), (8000, 4000)])
def test_a_size_that_no_film_can_have(evening, size):
    with pytest.raises(DrawError, match="such as 1280x720"):
        motion.Film(evening, motion.span(evening), size_px=size)


# --- frames ---------------------------------------------------------------------------------------------------------


def test_a_frame_is_as_large_as_asked_and_depends_on_its_moment_alone(film):
    middle, late = film.moments(3)[1], film.moments(3)[2]
    first = film.frame(middle).copy()
    assert first.shape == (SMALL[1], SMALL[0], 4) and first.dtype == np.uint8
    other = film.frame(late).copy()
    assert (other != first).any()
    np.testing.assert_array_equal(film.frame(middle), first)


def test_moments_run_from_the_first_report_to_the_end(film, evening):
    moments = film.moments(5)
    first = motion._events(evening)["time_utc"].min()
    assert abs(moments[0] - first) < timedelta(seconds=1) and first.minute < 59
    assert abs(moments[-1] - film.shown.end) < timedelta(seconds=1)
    steps = [step.total_seconds() for step in np.diff(moments)]
    assert max(steps) - min(steps) < 0.01
    film.frame(moments[0] + timedelta(seconds=1))
    assert len(film._dots.get_offsets())  # the first thing one sees is a report


GAP = {"hours": [1.0, 1.5, 9.0, 20.5], "locators": ["JN58td", "JN48qm", "IO91wm", "KP20le"]}


def test_hours_without_anything_to_see_are_jumped_over_unless_asked_for():
    result = heard(**GAP)
    shown = motion.span(result, date(2026, 5, 9))
    film = motion.Film(result, shown, size_px=SMALL)
    stretches = film._events.stretches((shown.end - shown.start).total_seconds() / 60)
    fade = shown.fade.total_seconds() / 60
    assert np.array(stretches).ravel() == pytest.approx([0, 30 + fade, 480, 480 + fade, 1170, 1200])
    moments = film.moments(200)
    assert moments == sorted(moments)
    for moment in moments[::20]:
        film.frame(moment)
    for moment in moments:
        minutes = (moment - shown.start).total_seconds() / 60
        assert any(start - 0.01 <= minutes <= end + 0.01 for start, end in stretches)
    whole = motion.Film(
        result, motion.span(result, date(2026, 5, 9), empty_hours=True), size_px=SMALL, empty_hours=True
    )
    even = whole.moments(5)
    assert even == [START + k * timedelta(hours=6) for k in range(5)]


def test_a_film_ends_with_all_of_it_at_once():
    result = heard(**GAP)
    film = motion.Film(result, motion.span(result), size_px=SMALL)
    frames = [frame.copy() for frame in film.frames(24)]
    assert len(frames) == 24
    np.testing.assert_array_equal(frames[-1], frames[-2])
    assert (frames[-3] != frames[-1]).any()
    assert len(film._dots.get_offsets()) == 4 and len(film._paths.get_segments()) >= 4
    assert film._count.get_text() == "4 reports, 4 receivers in all"
    assert film._clock.get_text() == "01:00\N{EN DASH}21:00 UTC"
    assert film._finding.get_text().startswith("4 reports of 4 receivers, up to")
    assert set(film._dots.get_facecolor()[:, 3]) == {1.0}


def test_a_day_of_several_does_not_end_with_the_finding_of_all():
    result = heard(hours=[1.0, 30.0], locators=["JN58td", "JN48qm"])
    film = motion.Film(result, motion.span(result), size_px=SMALL)
    assert film._finding.get_text().startswith("All of it at once")


@pytest.mark.parametrize("look", ["light", "dark"])
def test_the_weakest_dot_stands_out_from_its_rim_by_day_and_night(look, evening):
    """Its colour is 3:1 from the paper of the rim, and the rim is a pixel and a half wide outside of it."""
    film = motion.Film(evening, motion.span(evening), size_px=(1280, 720), look=look)
    film.frame(START.replace(hour=20, minute=30))
    paper = style.theme(look).paper
    assert all(to_hex(edge) == paper for edge in film._dots.get_edgecolor())
    assert film._dots.get_linewidths()[0] / style.points(1) >= 3
    assert min(audience.contrast(face, paper) for face in film._dots.get_facecolor()[:, :3]) >= 3
    assert len(film._dots.get_offsets()) > 5


def test_visible_are_the_receivers_of_the_last_minutes(film, evening):
    when = START.replace(hour=20, minute=30)
    film.frame(when)
    sure = evening.receivers[(evening.receivers["trust"] == "corroborated").to_numpy()]
    of_sure = evening.spots.merge(sure[["rx_call", "rx_locator"]].astype(str), on=["rx_call", "rx_locator"])
    times = of_sure["time_utc"]
    now = of_sure[((times > when - film.shown.fade) & (times <= when)).to_numpy()]
    before = of_sure[(times <= when).to_numpy()]
    lit = now.drop_duplicates(["rx_call", "rx_locator"])
    assert 5 < len(lit) < len(sure)  # else this test shows nothing
    assert len(film._dots.get_offsets()) == len(lit)
    assert len(film._earlier.get_offsets()) == len(before.drop_duplicates(["rx_call", "rx_locator"])) - len(lit)
    assert film._count.get_text() == f"{len(now)} reports, {len(lit)} receivers in 10\u202fmin"
    where = arcs.project(film._axes.projection, lit["rx_lon_deg"], lit["rx_lat_deg"])
    drawn = np.asarray(film._dots.get_offsets())
    nearest = np.linalg.norm(drawn[:, None] - where[None], axis=-1).min(axis=0)
    assert nearest.max() < 1.0  # metres


def test_a_report_fades_and_then_is_a_small_dot():
    result = heard(hours=[1.0, 20.0], locators=["FN31pr", "JN58td"])
    film = motion.Film(result, motion.span(result, date(2026, 5, 9), empty_hours=True), size_px=SMALL)
    alphas = []
    for minutes in (0, 15, 29):
        film.frame(START + timedelta(hours=1, minutes=minutes))
        assert len(film._dots.get_offsets()) == 1
        alphas.append(float(film._dots.get_facecolor()[0, 3]))
    assert alphas[0] == 1.0 and alphas[0] > alphas[1] > alphas[2] > 0
    film.frame(START + timedelta(hours=1, minutes=31))
    assert (len(film._dots.get_offsets()), len(film._earlier.get_offsets())) == (0, 1)
    film.frame(START + timedelta(minutes=59))
    assert (len(film._dots.get_offsets()), len(film._earlier.get_offsets())) == (0, 0)


def test_paths_run_from_the_station_to_the_receiver():
    result = heard(hours=[1.0], locators=["FN31pr"])
    film = motion.Film(result, motion.span(result), size_px=SMALL)
    film.frame(START + timedelta(hours=1))
    (path,) = film._paths.get_segments()
    home, there = locator.centre(["IO51es", "FN31pr"])
    ends = arcs.project(film._axes.projection, home, there)
    np.testing.assert_allclose(path[[0, -1]], ends, atol=1.0)


@pytest.mark.parametrize("hour", [17, 20, 23])
def test_the_night_is_where_the_sun_is_down(film, hour):
    when = START.replace(hour=hour)
    darker = film._still[..., :3].astype(int).mean(-1) - film.frame(when)[..., :3].astype(int).mean(-1)
    lon, lat = (each.ravel() for each in np.meshgrid(np.arange(-165, 180, 15), np.arange(-80, 81, 10)))
    elevation = sun.elevation_deg(when, lon, lat)
    pixels = film._axes.transData.transform(arcs.project(film._axes.projection, lon, lat))
    column, row = pixels[:, 0].astype(int), (SMALL[1] - pixels[:, 1]).astype(int)
    day, night = elevation > 3, elevation < -21
    assert night.sum() > 60 and day.sum() > 100
    assert np.median(darker[row[night], column[night]]) > 50
    assert (darker[row[night], column[night]] > 20).mean() > 0.97
    assert (np.abs(darker[row[day], column[day]]) < 1).mean() > 0.9  # lines and dots lie here and there


def test_nothing_outside_the_map_gets_dark(evening):
    film = motion.Film(evening, motion.span(evening, date(2026, 5, 9), empty_hours=True), size_px=SMALL)
    frame, still = film.frame(START.replace(hour=4)), film._still  # before the first report: nothing but the night
    rim = film._axes.patch.get_transform().transform_path(film._axes.patch.get_path())
    y, x = np.mgrid[int(0.3 * SMALL[1]) : int(0.78 * SMALL[1]), : SMALL[0]]
    points = np.stack([x.ravel() + 0.5, SMALL[1] - y.ravel() - 0.5], -1)
    outside = ~rim.contains_points(points, radius=2.0) & ~rim.contains_points(points, radius=-2.0)
    assert outside.sum() > 5000
    changed = (frame != still).any(-1)[y.ravel(), x.ravel()]
    assert changed.sum() > 5000 and not changed[outside].any()


def test_colour_is_that_of_the_latest_report_of_a_receiver():
    result = heard(hours=[1.0, 1.2, 1.3, 2.0], locators=["JN58td", "JN48qm", "IO91wm", "KP20le"])
    again = result.spots.iloc[[0, 0]].assign(snr_db=np.array([5, -3], "float32"))
    again["time_utc"] += pd.to_timedelta([60, 240], unit="s")
    spots = pd.concat([result.spots, again], ignore_index=True).sort_values(
        "time_utc", kind="stable", ignore_index=True
    )
    known = result.receivers[["rx_call", "rx_locator", "trust"]]
    film = motion.Film(factory.from_spots(spots, known), motion.Span(START, START + timedelta(hours=4)), size_px=SMALL)
    now = film._events.at(START + timedelta(hours=1, minutes=5))
    assert (len(now.who), now.reports.sum()) == (1, 3)
    assert now.snr_db[0] == -3
    assert now.age[0] == pytest.approx(timedelta(minutes=1) / film.shown.fade)


def test_the_end_of_a_day_is_24_00(evening):
    film = motion.Film(evening, motion.span(evening, date(2026, 5, 9), empty_hours=True), size_px=SMALL)
    film.frame(film.shown.end)
    assert film._clock.get_text() == "24:00 UTC"
    assert film._cursor.get_xdata()[0] == 24 * 60
    film.frame(film.shown.start)
    assert film._clock.get_text() == "00:00 UTC"


def test_suspects_are_not_shown_and_that_is_said(film, evening):
    sure = set(evening.receivers["rx_call"][(evening.receivers["trust"] == "corroborated").to_numpy()].astype(str))
    hidden = int((~evening.spots["rx_call"].astype(str).isin(sure)).sum())
    assert hidden > 0
    said = " ".join(text.get_text() for text in film.figure.texts)
    assert f"{hidden} reports with doubtful or unconfirmed locators not shown" in said
    assert "Made-up demonstration data" in said


@pytest.mark.parametrize("size", [(640, 360), (480, 854), (1280, 720), (640, 640)])
def test_words_stay_inside_the_picture_and_off_each_other(size):
    result = factory.result(200, 30)
    study = factory.study(station={"callsign": "EI4QTB/P" * 9, "locator": "IO51es"})
    film = motion.Film(replace(result, study=study), motion.span(result), size_px=size)
    film.frame(film.shown.end)
    film._count.set_text("12 345 reports, 1 234 receivers in 30 min")
    shown = [text for text in film.figure.texts if text.get_text() and text not in (film._fading, film._finding)]
    boxes = [(text, text.get_window_extent()) for text in (*shown, film._fading)]
    assert film._finding.get_window_extent().x1 <= film._clock.get_window_extent().x0
    boxes += [(label, label.get_window_extent()) for axes in film.figure.axes[1:] for label in axes.get_xticklabels()]
    for k, (text, box) in enumerate(boxes):
        assert box.x0 >= 0 and box.x1 <= size[0] + 1 and box.y0 >= 0 and box.y1 <= size[1], text
        for other_text, other in boxes[:k]:
            across = min(box.x1, other.x1) - max(box.x0, other.x0)
            along = min(box.y1, other.y1) - max(box.y0, other.y0)
            assert across <= 0 or along <= 0.3 * min(box.height, other.height), (text, other_text)


@pytest.mark.parametrize(
    ("home", "locators"),
    [
        ("RP94xx", ["AP14aa", "RP04xx", "JN58td"]),  # 64 N, 179.9 E: both sides of the date line
        ("JR99aa", ["JN58td", "FN31pr"]),  # 89 N
        ("RB32id", ["JR99aa", "IO51es"]),  # 78 S
        ("FI09ss", ["OI90ff"]),  # Quito, and very nearly its antipode
        ("IO51es", ["IO51es"]),  # no distance at all
    ],
)
def test_stations_at_the_edges(home, locators):
    result = heard(hours=[k + 1.0 for k in range(len(locators))], locators=locators, home=home)
    film = motion.Film(result, motion.span(result), size_px=SMALL)
    far = np.ptp(film._axes.get_xlim()) / 2
    for moment in film.moments(4):
        assert film.frame(moment).shape == (SMALL[1], SMALL[0], 4)
        for path in film._paths.get_segments():
            assert np.isfinite(path).all()
            assert np.abs(np.diff(path[:, 0])).max() < far  # no line across the whole map


def test_bars_of_the_strip_hold_every_report(film, evening):
    _, counts = film._events.strip()
    assert counts.sum() == len(motion._events(evening))


def test_what_nothing_confirms_is_not_filmed():
    with pytest.raises(DrawError, match="No locator is corroborated, so no reach is claimed, and there is nothing"):
        motion.span(heard(hours=[18.0, 18.1], locators=["JN58td", "JO62qm"], trust="unconfirmed"))
