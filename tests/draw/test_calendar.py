"""Pictures of long periods by their artists: how many cells of each kind and where they stand, scales, names, claims; what an
audience sees of them; one day, gaps, a leap day, ten years, thirty years, one receiver, a station at a pole."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from reach.base import tongue
from reach.draw import calendar, charts, gallery, style
from reach.draw.plot import Plot
from reach.errors import DrawError
from reach.measure import calendar as measured
from reach.measure.calendar import is_few
from reach.measure.claims import Claim, Kind, Reason
from reach.place import geometry
from reach.tell import texts
from reach.tell.deck import model
from reach.tell.deck.calendar import slides
from reach.tell.page import calendar as on_page
from tests import factory
from tests.draw import audience
from tests.factory import all_text

LOOKS = ("light", "dark")
OUTLINED = 1e-9


def long(days: int, count: int = 3000, *, windows: pd.DataFrame | None = None, receivers: int = 60, **shape):
    """Findings over so many days, with their calendar."""
    found = factory.result(count, receivers, days=days, hours=24, **shape)
    return with_calendar(found, windows)


def with_calendar(found, windows: pd.DataFrame | None = None):
    return replace(found, calendar=measured.calendar(found.tally, windows))


def at(moments: list[str], receivers: int = 1):
    """Findings of one report at each of these moments."""
    found = factory.result(max(len(moments), receivers), receivers)
    spots = found.spots.head(len(moments))
    spots = spots.assign(time_utc=pd.DatetimeIndex(moments).tz_localize("UTC").as_unit("us"))
    trust = spots[["rx_call", "rx_locator"]].drop_duplicates().assign(trust="corroborated")
    return with_calendar(factory.from_spots(spots.drop(columns="trust"), trust))


@pytest.fixture(scope="module")
def year():
    return long(365, 9000)


def axes_of(figure: Figure | None = None, width: float = 14.0, height: float = 6.0):
    return (figure or style.sheet(style.LIGHT, int(width * 120), int(height * 120))).add_subplot()


# --- the calendar -----------------------------------------------------------------------------------------------------


def test_a_cell_for_each_day_in_its_week(year):
    full, hollow, empty = calendar.draw_calendar(axes_of(), year, style.LIGHT)
    days = year.calendar.days
    assert len(full.get_paths()) == (days["reports"] > 0).sum()
    assert len(hollow.get_paths()) == ((days["reports"] == 0) & (days["accepted"] > 0)).sum()
    assert len(empty.get_paths()) == (days["accepted"] == 0).sum()
    first = date(2026, 5, 9)  # a Saturday, so the sixth of its column
    corners = full.get_paths()[0].vertices
    assert corners[:, 0].min() == pytest.approx(0, abs=0.1)
    assert (corners[:, 1].min(), corners[:, 1].max()) == pytest.approx((5, 6), abs=0.1)
    for path, each in zip(full.get_paths(), days["day"][(days["reports"] > 0).to_numpy()], strict=True):
        assert int(path.vertices[:, 1].mean()) == each.weekday()
        assert int(path.vertices[:, 0].mean()) == (each.toordinal() - first.toordinal() + first.weekday()) // 7


def test_more_reports_are_darker_and_farther_days_too(year):
    days = year.calendar.days
    for draw, name, told in (
        (calendar.draw_calendar, "reports", (days["reports"] > 0).to_numpy()),
        (calendar.draw_calendar_distance, "median_km", ~is_few(days)),
    ):
        full = draw(axes_of(), year, style.LIGHT)[0]
        value = days[name][told].to_numpy()
        light = [audience.luminance(to_rgb(face)) for face in full.get_facecolor()]
        order = np.argsort(value, kind="stable")
        assert (np.diff(np.array(light)[order]) <= 1e-6).all(), name


def test_days_that_hardly_differ_have_hardly_different_colours():
    """Medians within 2 %, and counts as far apart as chance alone takes them, show no pattern."""
    found, rng = long(60).calendar, np.random.default_rng(5)
    level = rng.uniform(-1, 1, len(found.days))
    alike = found.days.assign(reports=rng.poisson(60, len(level)), median_km=1540 + 15 * level, receivers=20)
    cells = calendar.Cells.of(replace(found, days=alike))
    for shown, spread in ((calendar.distances_shown(cells), 0.05), (calendar.reports_shown(cells), 0.9)):
        assert shown.told.all() and shown.norm.vmax >= 2 * shown.norm.vmin
        assert np.ptp(np.quantile(shown.level, [0.1, 0.9])) < spread
        first, *_, last = shown.ticks()[1]
        assert not first.startswith("≤") and not last.startswith("≥"), "nothing lies beyond these ends"


def test_the_ends_of_a_scale_say_where_they_gather_what_is_beyond():
    shown = calendar.reports_shown(calendar.Cells.of(long(100, 4000).calendar))
    reports = shown.value[shown.told]
    first, *_, last = shown.ticks()[1]
    assert first.startswith("≤") == (reports < shown.norm.vmin).any()
    assert last.startswith("≥") == (reports > shown.norm.vmax).any()
    wild = replace(shown, value=np.where(shown.told, 1e6, 0.0))
    assert wild.ticks()[1][-1].startswith("≥") and not wild.ticks()[1][0].startswith("≤")


def test_a_median_of_a_handful_is_not_shaded():
    found = long(30, 200)
    full, hollow, _ = calendar.draw_calendar_distance(axes_of(), found, style.LIGHT)
    few = is_few(found.calendar.days)
    assert few.any()
    assert len(full.get_paths()) == (~few).sum()
    assert len(hollow.get_paths()) == (few & (found.calendar.days["accepted"] > 0).to_numpy()).sum()


def test_of_hours_too_only_what_is_there_is_explained():
    """Where every hour of the bands shown was heard nothing is hatched, and nobody is told what that would be."""
    found = long(40)
    table = found.calendar.hours
    some = np.arange(len(table)) % 2.0

    def told(share, in_use=measured.YES):
        of = replace(found, calendar=replace(found.calendar, hours=table.assign(share=share, in_use=in_use)))
        return [
            all_text(calendar.hours(of, style.LIGHT)),
            " ".join(on_page.section(of)["hours_legend"]),
            " ".join(line.text for part in slides(of, texts.speaker())[-1].texts for line in part),
        ]

    assert all("Hatched" in said for said in told(some)) and not any("Hatched" in said for said in told(1.0))
    off = told(some, measured.NO)
    assert all("Blank" in said and "Hatched" not in said for said in off)


def test_silence_is_hatched_and_off_is_blank():
    spots = factory.result(3000, 60, days=40, hours=24)
    gone = spots.spots["time_utc"].dt.date.between(date(2026, 5, 20), date(2026, 5, 24)).to_numpy()
    found = factory.from_spots(
        spots.spots[~gone].drop(columns="trust"), spots.spots[["rx_call", "rx_locator", "trust"]].drop_duplicates()
    )
    unknown = calendar.draw_calendar(axes_of(), with_calendar(found), style.LIGHT)[2]
    assert len(unknown.get_paths()) == 5
    assert unknown.get_hatch()
    start = pd.DatetimeIndex(
        [
            d
            for d in pd.date_range("2026-05-09", "2026-06-18", tz="UTC")
            if d.date() not in (date(2026, 5, 20), date(2026, 5, 21))
        ]
    )
    known = with_calendar(found, pd.DataFrame({"start": start, "end": start + pd.Timedelta(days=1)}))
    assert len(calendar.draw_calendar(axes_of(), known, style.LIGHT)[2].get_paths()) == 3
    figure = calendar.calendar(known, style.LIGHT)
    assert "Hatched: on the air, and no report. Blank: not on the air." in all_text(figure)
    assert "Heard on 36 of 39 days on the air" in all_text(figure)
    assert "whether the station was on the air is not known" in all_text(
        calendar.calendar(with_calendar(found), style.LIGHT)
    )


def test_only_kinds_of_cells_that_are_there_are_explained(year):
    """On the picture, the page and the slide alike."""
    full = factory.result(9000, 60, days=30, hours=24)
    for found, empty, few in (
        (with_calendar(full), False, False),
        (long(40, 80), True, True),
        (year, False, True),
    ):
        days = found.calendar.days
        assert ((days["accepted"] == 0).any(), (is_few(days) & (days["accepted"] > 0)).any()) == (empty, few)
        legend = on_page.section(found)["legend"]
        _, muted = slides(found, texts.speaker())[0].texts[0]
        for said in (" ".join(legend), muted.text, all_text(calendar.calendar(found, style.LIGHT))):
            assert ("Hatched" in said, "Hollow" in said) == (empty, few)


def test_years_stand_below_each_other():
    found = at(["2023-12-30T10:00", "2024-02-29T10:00", "2024-12-31T10:00", "2025-12-29T23:59:59"])
    full, _, _ = calendar.draw_calendar(axes_of(), found, style.LIGHT)
    rows = [int(path.vertices[:, 1].mean() // 8) for path in full.get_paths()]
    assert rows == [0, 1, 1, 2]
    leap = full.get_paths()[1].vertices
    assert int(leap[:, 1].mean() - 8) == date(2024, 2, 29).weekday()
    text = all_text(calendar.calendar(found, style.LIGHT))
    assert all(str(each) in text for each in (2023, 2024, 2025))
    assert "A block is a year" in text


def test_beyond_twelve_years_a_cell_is_a_month():
    found = at(["1998-05-05T10:00", "2012-02-01T10:00", "2026-05-05T10:00"])
    full, _, empty = calendar.draw_calendar(axes_of(), found, style.LIGHT)
    assert len(full.get_paths()) == 3
    assert len(empty.get_paths()) == 12 * 28 + 1 - 3
    assert "A row is a year, a cell a month." in all_text(calendar.calendar(found, style.LIGHT))


# --- hours ------------------------------------------------------------------------------------------------------------


def test_hours_are_shaded_by_their_share_of_days(year):
    rows = year.calendar.hours[(year.calendar.hours["band"] == "20m").to_numpy()]
    _, mesh, blank, hollow = calendar.draw_hours(axes_of(), year, style.LIGHT, band="20m")
    shown = np.ma.filled(mesh.get_array(), np.nan).reshape(24, -1)
    truth = rows["share"].to_numpy().reshape(-1, 24).T
    enough = rows["days_heard"].to_numpy().reshape(-1, 24).T >= measured.FEW_DAYS
    assert np.allclose(shown[enough & (truth > 0)], truth[enough & (truth > 0)])
    assert np.isnan(shown[~enough | ~(truth > 0)]).all()
    assert len(hollow.get_paths()) == ((truth > 0) & ~enough).sum()
    assert len(blank.get_paths()) == 0
    assert (mesh.norm.vmin, mesh.norm.vmax) == (0, 1)


def test_each_band_has_a_panel_and_six_at_most():
    for bands in (("20m",), ("40m", "20m"), ("160m", "80m", "40m", "30m", "20m", "15m", "12m", "10m")):
        found = long(150, 4000, bands=bands)
        text = all_text(calendar.hours(found, style.LIGHT))
        shown = [band for band in bands if f"\n{band}\n" in f"\n{text}\n"]
        assert len(shown) == min(len(bands), 6)
        assert ("Shown: the 6 bands with most reports." in text) == (len(bands) > 6)


# --- the farthest -----------------------------------------------------------------------------------------------------


def test_the_farthest_of_each_month_is_where_it_is(year):
    axes = axes_of()
    dots, tenths, line, *calls = calendar.draw_farthest(axes, year, style.LIGHT)
    steps = year.calendar.steps
    assert np.allclose(dots.get_offsets()[:, 1], steps["farthest_km"])
    told = ~is_few(steps)
    assert np.allclose(np.array(line.get_ydata())[told], steps["median_km"][told])
    assert np.isnan(np.array(line.get_ydata())[~told]).all()
    assert len(tenths.get_segments()) == len(steps)
    named = [each.get_text() for each in calls]
    changes = [call for k, call in enumerate(steps["farthest_call"]) if k == 0 or call != steps["farthest_call"][k - 1]]
    assert named in ([], changes)


def test_a_month_is_singled_out_through_the_gate_alone(year):
    def titled(claim: Claim) -> str:
        found = replace(year, calendar=replace(year.calendar, claims={Kind.FARTHEST_STEP: claim}))
        return all_text(calendar.farthest(found, style.LIGHT)).replace("\n", " ")

    apart = Claim(Kind.FARTHEST_STEP, date(2026, 7, 1), date(2026, 6, 1), Reason.APART, value=4321.0)
    assert "July\u00a02026, farther than in any other month" in titled(apart).replace("July 2026", "July\u00a02026")
    for reason in (Reason.ALIKE, Reason.FEW, Reason.ALONE):
        assert "farther than" not in titled(replace(apart, reason=reason))
        assert "The farthest of each month lay" in titled(replace(apart, reason=reason))


# --- the timeline -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "said", "most"), [(9, "hour", 241), (100, "day", 102), (365, "week", 54), (1200, "month", 42)]
)
def test_bars_of_the_timeline_are_as_long_as_the_period_asks(days, said, most):
    found = long(days, 2000, setups=())
    axes = axes_of()
    bars = charts.draw_timeline(axes, found, style.LIGHT)
    assert len(bars) <= most
    assert sum(bar.get_height() for bar in bars) == found.tally.reports
    assert f"reports per {said}" in "\n".join(each.get_text() for each in axes.texts)
    lefts = [bar.get_x() for bar in bars]
    assert all(
        one + bar.get_width() <= other + OUTLINED for one, bar, other in zip(lefts, bars, lefts[1:], strict=False)
    )


# --- all together -----------------------------------------------------------------------------------------------------


def test_only_long_periods_have_these_pictures(year):
    def names(found):
        return [each.name for each in gallery.pictures(found)]

    assert names(year)[-3:] == ["calendar", "hours-by-month", "farthest-by-month"]
    assert names(long(40))[-3:] == ["calendar", "hours-by-week", "farthest-by-week"]
    short = long(5)
    assert short.calendar is None
    assert not any("calendar" in name or "-by-month" in name for name in names(short))
    assert "ten minutes" in next(each.alt_text for each in gallery.pictures(short) if each.name == "timeline")
    assert "day, week, month" in next(each.alt_text for each in gallery.pictures(year) if each.name == "timeline")


def test_without_a_corroborated_locator_there_is_no_calendar(year):
    spots = year.spots.assign(
        trust=pd.Categorical(["unconfirmed"] * len(year.spots), year.spots["trust"].cat.categories)
    )
    found = with_calendar(factory.from_spots(spots.drop(columns="trust"), year.receivers.assign(trust="unconfirmed")))
    assert [each.name for each in gallery.pictures(found)][:2] == ["map-claimed", "timeline"]
    assert not any(each.name == "calendar" for each in gallery.pictures(found))


SHAPES = {
    "two weeks": lambda: long(12, 400),
    "four months": lambda: long(115, 2000),
    "a year": lambda: long(365, 9000),
    "two years": lambda: long(800, 9000),
    "ten years": lambda: long(3600, 9000),
    "thirty years": lambda: at(["1996-05-05T10:00", "2026-05-05T10:00"]),
    "two days far apart": lambda: at(["2026-01-31T23:59", "2026-12-01T00:00"]),
    "one receiver": lambda: long(60, 500, receivers=1),
}


@pytest.mark.parametrize(("shape", "look"), [*((shape, "light") for shape in SHAPES), ("a year", "dark")])
def test_what_an_audience_sees(shape, look):
    found = SHAPES[shape]()
    pictures = [each for each in gallery.pictures(found, style=look) if each.name == "calendar" or "-by-" in each.name]
    pictures = [each for each in pictures if each.name.split("-")[0] in ("calendar", "hours", "farthest")]
    assert len(pictures) == 3
    for each in pictures:
        seen = audience.look_at(each.build())
        assert seen.smallest_px >= 28, each.name
        assert not seen.faint, each.name
        assert (seen.cut, seen.overlaps) == ((), ()), each.name


@pytest.mark.parametrize("shape", SHAPES)
def test_what_an_audience_sees_on_slides(shape):
    found = SHAPES[shape]()
    for slide in slides(found, texts.speaker()):
        ((picture, box),) = slide.exhibits
        seen = audience.look_at(audience.on_a_slide(style.LIGHT, picture, box))
        assert (seen.overlaps, seen.cut, seen.faint) == ((), (), ()), slide.name
        assert seen.smallest_px * model.ENLARGED >= model.READABLE


def test_shades_stand_apart_from_paper():
    for name in LOOKS:
        look = style.theme(name)
        for stops in (look.counts, look.far):
            for stop in stops:
                assert audience.contrast(stop, look.paper) >= 3


def test_a_station_at_the_pole():
    found = factory.result(2000, 40, days=40, hours=24)
    bare = found.spots[[name for name in found.spots.columns if name in factory.contract.SPOT]]
    spots = geometry.place(bare.assign(tx_locator=pd.Categorical(["AR09"] * len(bare))))
    trust = spots[["rx_call", "rx_locator"]].drop_duplicates().assign(trust="corroborated")
    polar = with_calendar(factory.from_spots(spots, trust))
    for build in (calendar.calendar, calendar.hours, calendar.farthest):
        assert build(polar, style.LIGHT).axes


def test_months_are_named_in_the_readers_language(year):
    with tongue.speaking("de"):
        text = all_text(calendar.calendar(year, style.LIGHT))
    assert "Mai" in text
    assert "Okt" in text
    assert "An 365" in text or "gehört" in text


# --- axes of one's own ------------------------------------------------------------------------------------------------


def test_onto_axes_of_ones_own(year):
    plot = Plot(year)
    axes = Figure(figsize=(12, 9)).subplots(2, 2).ravel()
    assert plot.calendar(axes[0]) is axes[0]
    assert plot.calendar_distance(axes[1]) is axes[1]
    assert plot.hours_over_time(axes[2], band="20m") is axes[2]
    assert plot.farthest(axes[3]) is axes[3]
    assert "20m" in axes[2].get_title(loc="left")
    assert "anything" in plot.hours_over_time(Figure().subplots()).get_title(loc="left")
    with pytest.raises(DrawError, match="no report on '70cm'"):
        plot.hours_over_time(axes[2], band="70cm")
    with pytest.raises(DrawError, match="more than ten days"):
        Plot(long(3)).calendar(axes[0])
