"""Pictures by their artists: how many, where they end, what is written; edge stations; nothing to draw."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as some
from matplotlib.collections import LineCollection, PathCollection
from matplotlib.colors import to_hex

from reach import study
from reach.draw import arcs, areas, basemap, captions, charts, doubts, gallery, layers, maps, style, versus
from reach.errors import DrawError
from reach.findings import Counts, Findings
from reach.measure import frame as opening
from reach.measure.reach import reach
from reach.measure.receivers import receivers
from reach.measure.tally import tally
from reach.place.geometry import place
from reach.spots import CORROBORATED, SUSPECT, TRUST, UNCONFIRMED
from reach.vet import ledger
from tests.factory import all_text

MILLIMETRE = 1e-3


@pytest.fixture(scope="module")
def evening(walks) -> Findings:
    return walks["evening"].findings


@pytest.fixture(scope="module")
def messy(walks) -> Findings:
    return walks["messy"].findings


def heard(home: str, where: list[str], trust: str = CORROBORATED) -> Findings:
    """A result of one report from each of these locators."""
    n = len(where)
    spots = pd.DataFrame(
        {
            "time_utc": pd.date_range("2026-05-16T18:00Z", periods=n, freq="2min").as_unit("us"),
            "rx_call": pd.Categorical([f"TESTER-{k}" for k in range(n)]),
            "rx_locator": pd.Categorical(where),
            "snr_db": np.full(n, -12, dtype=np.float32),
            "band": pd.Categorical(["20m"] * n),
            "setup": pd.Categorical([None] * n, categories=pd.Index([], dtype=object)),
            "tx_call": pd.Categorical(["EI4QTB/P"] * n),
            "tx_locator": pd.Categorical([home] * n),
            "power_w": np.full(n, 5, dtype=np.float32),
        }
    )
    placed = place(spots).assign(trust=pd.Categorical([trust] * n, categories=list(TRUST)))
    counted = tally(placed)
    return Findings(
        study=study.Study(station=study.Station(callsign="EI4QTB/P", locator=home, power_w=5)),
        inputs=(),
        counts=Counts(n, n, 0, 0),
        spots=placed,
        wrong=ledger.Problems(ledger.no_problems(0)),
        suspects=pd.DataFrame(),
        receivers=receivers(counted),
        tally=counted,
        reach=reach(counted),
    )


def judged(result: Findings, trust: list[str]) -> Findings:
    """The same reports, one a receiver, with how far each locator can be trusted."""
    spots = result.spots.assign(trust=pd.Categorical(trust, categories=list(TRUST)))
    counted = tally(spots)
    return replace(result, spots=spots, receivers=receivers(counted), tally=counted, reach=reach(counted))


@pytest.mark.parametrize("name", ["light", "dark"])
def test_every_picture_is_drawn_at_full_size(evening, drawn, name):
    found = gallery.pictures(evening, style=name)
    assert len({picture.name for picture in found}) == len(found) >= 11
    for picture in found:
        figure = drawn("evening", picture.name) if name == "light" else picture.build()
        assert style.size_px(figure) == pytest.approx((1920, 1080))
        text = all_text(figure)
        assert "Made-up demonstration data" in text
        assert "1\u202f580 reports" in text and "at the antenna" in text
        assert picture.alt_text.endswith(".")


def test_a_path_and_a_dot_a_receiver(messy):
    look = style.theme("light")
    sure, suspect = captions.receivers(messy)
    figure = maps.station(messy, look)
    axes = figure.axes[0]
    ends = [
        segments
        for lines in axes.findobj(LineCollection)
        if len(segments := lines.get_segments()) == len(sure) and all(len(s) == 2 for s in segments)
    ]
    assert len(ends) == 1
    reached = np.array(sorted(np.hypot(*segment[-1]) for segment in ends[0])) / 1000
    assert reached == pytest.approx(np.sort(sure["distance_km"]), abs=MILLIMETRE)
    marks = [text for text in axes.texts if text.get_text() == "?"]
    assert len(marks) == len(suspect) > 0


def test_the_title_is_the_finding_over_corroborated_rows(messy):
    rows = captions.counted(messy)
    median = np.median(np.repeat(rows["distance_km"], rows["reports"]))
    text = all_text(maps.station(messy, style.theme("light")))
    assert f"{median // 10 * 10:,.0f}".replace(",", "\u202f") in text
    assert "are not counted" in text


def test_paths_on_the_world_map_are_geodesics():
    """A great circle's middle lies where the geodesic's does, within 1 km on a path that is not antipodal."""
    from geographiclib.geodesic import Geodesic

    lon, lat = arcs.vertices(-9.6, 51.8, np.array([139.7]), np.array([35.7]))
    line = Geodesic.WGS84.InverseLine(51.8, -9.6, 35.7, 139.7)
    gaps = [
        min(Geodesic.WGS84.Inverse(y, x, *(line.Position(line.s13 * s)[k] for k in ("lat2", "lon2")))["s12"]
            for s in np.linspace(0, 1, 2001))
        for x, y in zip(lon[0, ::10], lat[0, ::10], strict=True)
    ]  # fmt: skip
    assert max(gaps) < 15_000  # the sphere that arcs are drawn on is within 15 km of the ellipsoid here


@pytest.mark.parametrize(
    ("home", "where"),
    [
        ("RP94xx", ["AP05aa", "RP84aa", "JN58td"]),  # beside the date line, receivers on both sides
        ("FI09tt", ["JN58td", "PM95uq", "FF03aa"]),  # Quito
        ("JR09aa", ["JN58td", "CM87wj", "PM95uq"]),  # 89 N
        ("RB32hd", ["GC16aa", "JN58td", "RE78ir"]),  # McMurdo
        ("IO51es", ["RD18ss", "JN58td"]),  # an almost antipodal receiver
        ("IO51es", ["JN58td"]),  # one spot
        ("IO51es", ["IO51es"]),  # in the station's own cell
    ],
)
def test_edge_stations(home, where):
    result = heard(home, where)
    for draw in (maps.station, maps.close, maps.world):
        figure = draw(result, style.theme("light"))
        axes = figure.axes[0]
        (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
        assert right > left and high > low and np.isfinite([left, right, low, high]).all()
        for lines in axes.findobj(LineCollection):
            for segment in lines.get_segments():
                assert np.isfinite(segment).all()
        style.png(figure)


@pytest.mark.parametrize("home", [(179.9, 64), (-78.5, 0.2), (10, 89), (166.7, -77.8), (0, 0)])
def test_land_covers_its_share_of_the_globe(home):
    """Land is 29 % of the globe (148.9 of 510.1 million square km; common knowledge): nothing floods, nothing is lost."""
    from matplotlib.path import Path as Outline

    shapes = basemap.shapes(basemap.world(home[0]), 40.0)
    rng = np.random.default_rng(3)
    lat = np.degrees(np.arcsin(rng.uniform(-1, 1, 4000)))
    lon = rng.uniform(-180, 180, 4000)
    xy = arcs.project(basemap.world(home[0]), lon, lat)
    flat = shapes.land.to_polygons()
    inside = np.zeros(4000, dtype=int)
    for polygon in flat:  # even-odd: holes are counted out
        inside += Outline(polygon).contains_points(xy)
    assert np.mean(inside % 2) == pytest.approx(0.29, abs=0.03)


def test_no_spot_at_all_is_a_picture_that_says_so():
    (only,) = gallery.pictures(heard("IO51es", []))
    assert "No report was accepted" in all_text(only.build())


@pytest.mark.parametrize("trust", [SUSPECT, UNCONFIRMED])
def test_without_corroborated_locators_pictures_claim_no_reach(trust):
    made = {one.name: one for one in gallery.pictures(heard("IO51es", ["JN58td", "FN31pr"], trust))}
    assert list(made) == ["map-claimed", "timeline"]
    figure = made["map-claimed"].build()
    text = all_text(figure)
    assert "No locator is corroborated, so no reach is claimed" in text.replace("\n", " ")
    assert not re.search("Farthest|Half of|came from beyond", text)
    assert sum(len(marks.get_offsets()) for marks in figure.axes[0].findobj(PathCollection)) == 2 + 3  # and the station
    assert text.count("\n?") == (2 if trust == SUSPECT else 0)
    assert "2 reports of 2 receivers" in made["timeline"].alt_text


def test_unconfirmed_receivers_are_hollow_and_counted_nowhere():
    result = heard("IO51es", ["JN58td", "JO62qm", "FN31pr"])
    result = judged(result, [CORROBORATED, CORROBORATED, UNCONFIRMED])
    text = all_text(maps.station(result, style.theme("light")))
    assert "Small and hollow: 1 locator that nothing confirms, not counted." in text
    assert "2 reports · 2 receivers" in text


def test_a_difference_has_a_sign_that_grey_print_keeps(evening):
    table = versus.differences(evening)
    figure = versus.receivers_map(evening, style.theme("light"))
    plus, minus = (
        sum(len(dots.get_offsets()) for dots in figure.axes[0].findobj(PathCollection) if _marked(dots, sign))
        for sign in "+_"
    )
    assert plus == (table["difference_db"] >= versus.SIGNED_FROM_DB).sum() > 0
    assert minus == (table["difference_db"] <= -versus.SIGNED_FROM_DB).sum() > 0


def test_a_mark_is_full_only_where_the_difference_is_beyond_chance(evening):
    """Whether it is stands in the comparison itself, as the receiver's own interval."""
    placed = [r for r in evening.comparison.by_receiver if r.placed]
    without = [r for r in placed if r.difference_db is None]
    chance = [r for r in placed if r not in without and (r.low_db is None or r.low_db <= 0 <= r.high_db)]
    look = style.theme("light")
    axes = versus.receivers_map(evening, look).axes[0]
    shapes = [dots for dots in axes.findobj(PathCollection) if any(_marked(dots, shape) for shape in "o^s")]
    marks = [
        (to_hex(face), dash)
        for dots in shapes
        if dots.get_zorder() == layers.Z_DOTS and len(dots.get_offsets())
        for face, (_, dash) in zip(dots.get_facecolors(), dots.get_linestyles(), strict=True)
    ]
    assert sum(face == to_hex(look.paper) for face, _ in marks) == len(chance) + len(without)
    assert sum(dash is not None for _, dash in marks) == len(without) > 0
    assert sum(face != to_hex(look.paper) for face, _ in marks) == len(placed) - len(chance) - len(without) > 0


def test_the_map_of_the_comparison_opens_on_what_matters_and_has_all_small_beside_it(evening):
    """By the rule of the map round the station; names without room for a small map leave the large one whole."""
    look, table = style.theme("light"), versus.differences(evening)
    large, *others = versus.receivers_map(evening, look).axes
    shown_km = large.get_xlim()[1] / 1000
    assert shown_km == pytest.approx(opening.opens_km(table["distance_km"], table["reports"]), rel=0.01)
    assert shown_km < table["distance_km"].max()
    (small,) = (axes for axes in others if getattr(axes, "projection", None) is not None)
    dots = max(small.findobj(PathCollection), key=lambda each: len(each.get_offsets()))
    assert len(dots.get_offsets()) == len(table)
    filled = sum(to_hex(face) != to_hex(look.paper) for face in dots.get_facecolors())
    assert filled == table["sure"].sum() > 0
    wordy = replace(evening, comparison=replace(evening.comparison, a="inverted vee over the shed", b="b" * 30))
    large, *others = versus.receivers_map(wordy, look).axes
    assert large.get_xlim()[1] / 1000 > table["distance_km"].max()
    assert not any(hasattr(axes, "projection") for axes in others)


def test_a_distance_that_rests_on_too_little_is_hollow_among_the_directions(evening):
    look = style.theme("light")
    petals = charts.bearing(evening, look).axes[1].patches
    few = [sector.is_few for sector in evening.reach.headline.sectors]
    assert [to_hex(petal.get_facecolor()) == to_hex(look.paper) for petal in petals] == few
    assert any(few) and not all(few)


def test_squares_are_seen_from_the_back_row_and_no_name_covers_one():
    """On a map of half the world a square of 2 by 1 degrees is three pixels high."""
    look = style.theme("light")
    found = heard("IO51es", ["JO62qm", "FN31pr", "QF22ma", "PM95vr", "KG33xu", "GF05rj", "JO21wx", "JN18du"])
    axes = areas.squares(found, look).axes[0]
    drawn = next(each for each in axes.collections if each.get_zorder() == layers.Z_SQUARES)
    width_px = drawn.get_linewidths()[0] / style.points(1)
    assert min(path.get_extents().height for path in drawn.get_paths()) / 1000 / layers.km_per_px(axes) + width_px >= 9
    names = [text for text in axes.texts if len(text.get_text()) == 2]
    assert {name.get_text() for name in names} <= {"JO", "FN", "QF", "PM", "KG", "GF", "JN"}
    rooms = [name.get_window_extent() for name in names]
    for path in drawn.get_paths():
        square = axes.transData.transform_bbox(path.get_extents())
        assert not any(room.overlaps(square) for room in rooms)


def _marked(dots: PathCollection, sign: str) -> bool:
    """Whether a collection's marks are of that shape."""
    from matplotlib.markers import MarkerStyle

    shape = MarkerStyle(sign)
    wanted = shape.get_path().transformed(shape.get_transform()).vertices
    return all(np.array_equal(path.vertices, wanted) for path in dots.get_paths())


def test_the_same_picture_is_the_same_bytes(evening):
    one, two = (next(p.build() for p in gallery.pictures(evening)) for _ in range(2))
    assert style.png(one) == style.png(two) and style.svg(one) == style.svg(two)


def test_an_unknown_style_is_said(evening):
    with pytest.raises(DrawError, match="sepia"):
        gallery.pictures(evening, style="sepia")


def test_cache_that_cannot_be_written_is_no_error(monkeypatch, tmp_path):
    (tmp_path / "file").write_text("x")
    monkeypatch.setenv("REACH_CACHE", str(tmp_path / "file" / "below"))
    assert len(basemap.shapes(basemap.round_the_station(3.21, 4.56), 60.0).land.vertices) > 100


def test_fifty_thousand_reports_draw_receivers_not_rows(evening):
    assert len(evening.tally.cells) > 3 * len(evening.sure)  # many hours, bands and levels of each
    counted = tally(evening.spots.loc[evening.spots.index.repeat(32)])
    many = replace(evening, tally=counted, receivers=receivers(counted), reach=reach(counted))
    assert many.reach.headline.reports == 32 * 1580 > 50_000
    figure = maps.station(many, style.theme("light"))
    straight = [len(s) for s in map(_straight, figure.axes[0].findobj(LineCollection)) if s]
    assert len(evening.sure) in straight and max(straight) <= len(evening.sure)


def _straight(lines: LineCollection) -> list[np.ndarray]:
    """The segments of a collection that have two ends and nothing between: paths and ticks of the rim."""
    return [segment for segment in lines.get_segments() if len(segment) == 2]


DEUTERANOPE = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
)


@pytest.mark.parametrize("name", ["light", "dark"])
def test_colours_survive_red_green_blindness_and_grey_print(name):
    """Machado, Oliveira, Fernandes (2009), severity 1.0, on linear RGB; lightness must rise or fall throughout."""
    look = style.theme(name)
    rgb = style.ramp(look.ramp)(np.linspace(0, 1, 9))[:, :3]
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ DEUTERANOPE.T, 0, 1)
    for light in (linear @ [0.2126, 0.7152, 0.0722], seen @ [0.2126, 0.7152, 0.0722]):
        steps = np.diff(light)
        assert (steps > 0).all() or (steps < 0).all()
    from matplotlib.colors import to_rgb

    a, b = (np.array(to_rgb(c)) for c in look.setups[:2])
    grey = [np.dot(c, [0.2126, 0.7152, 0.0722]) for c in (a, b)]
    assert abs(grey[0] - grey[1]) > 0.12


def test_diverging_scale_is_centred():
    middle = style.diverging(style.LIGHT.diverging)(0.5)
    from matplotlib.colors import to_rgb

    assert np.abs(np.array(middle[:3]) - to_rgb(style.LIGHT.diverging[2])).max() < 0.02


def test_layers_return_what_they_drew(evening):
    look = style.theme("light")
    figure = style.sheet(look)
    axes = style.place(figure, 100, 100, 800, 800, projection=basemap.round_the_station(-9.6, 51.8))
    axes.set_xlim(-5e6, 5e6)
    axes.set_ylim(-5e6, 5e6)
    lines, labels = layers.rings(axes, look, layers.Site(-9.6, 51.8), [1000, 2000], label_bearing_deg=45)
    assert len(labels) == 2 and len(lines.get_segments()) >= 2
    radius = np.hypot(*lines.get_segments()[0].T)
    assert radius == pytest.approx(1_000_000, abs=1)


def test_the_timeline_stacks_setups_that_share_ten_minutes(evening):
    """Slot by slot both setups fall into one bar: together they are as high as all reports, and both have their band."""
    cells = evening.tally.timeline
    both = pd.concat([cells.assign(setup="vertical"), cells.assign(setup="wire", reports=cells["reports"] * 2)])
    figure = charts.timeline(
        replace(evening, tally=replace(evening.tally, timeline=both.astype({"setup": "category"}))),
        style.theme("light"),
    )
    bars = figure.axes[0].patches
    tops = {}
    for bar in (bar for bar in bars if bar.get_height() > 0 and bar.get_y() >= 0):
        tops[bar.get_x()] = max(tops.get(bar.get_x(), 0), bar.get_y() + bar.get_height())
    total = 3 * cells.groupby("start_utc")["reports"].sum()
    assert sorted(tops.values()) == sorted(total)
    assert len([bar for bar in bars if bar.get_y() < 0]) == 2 * len(total)
    assert min(figure.axes[0].get_yticks()) == 0


def test_labels_of_a_rose_stand_where_its_petals_are_short(evening):
    for axes in charts.bearing(evening, style.theme("light")).axes:
        values = np.array([bar.get_height() for bar in axes.patches])
        at = int(axes.get_rlabel_position()) // 30
        assert max(values[at], values[(at + 1) % 12]) <= np.median(values)


def test_a_receiver_has_one_dot_for_each_whole_decibel(evening):
    """However many hours and bands it was heard in: the picture of two million reports is no larger."""
    rows = evening.counted_by_level
    figure = charts.snr_by_distance(evening, style.theme("light"))
    (dots,) = figure.axes[0].findobj(PathCollection)
    assert len(dots.get_offsets()) == len(rows[["rx_call", "rx_locator", "snr_db"]].drop_duplicates()) < len(rows)


@pytest.mark.parametrize(
    ("days", "says"),
    [
        (1, "ten minutes a bar"),
        (9, "hour a bar"),
        (100, "a bar a day"),
        (365, "a bar a week"),
        (2500, "a bar a month"),
        (9000, "a bar a year"),
    ],
)
def test_a_long_period_has_longer_bars(evening, days, says):
    """Ten minutes of a whole year would be a fifth of a pixel."""
    start = pd.date_range("2024-01-01T01:00Z", periods=40, freq=f"{days * 1440 / 39:.0f}min").as_unit("us")
    made = pd.DataFrame({"start_utc": start.floor("10min"), "band": "20m", "setup": None, "reports": 1}).astype(
        {"setup": "category"}
    )
    made.loc[30, "reports"] = 7
    figure = charts.timeline(replace(evening, tally=replace(evening.tally, timeline=made)), style.theme("light"))
    bars = figure.axes[0].patches
    text = all_text(figure).replace("\n", " ")
    assert f"in time order, {says}" in text
    assert sum(bar.get_height() for bar in bars) == 46
    assert (made["start_utc"].max() - made["start_utc"].min()).days / bars[0].get_width() < 500


def test_a_doubted_locator_names_what_it_may_be(messy):
    """The suggestion where one is clear, the readings that compete where there are some, else that nobody can tell."""
    text = all_text(doubts.suspects(messy, style.theme("light")))
    table = messy.suspects.head(6)
    assert all(f"probably {name}," in text for name in table["suggestion"] if name)
    rivals = table[(table["suggestion"] == "") & (table["competing"] != "")]
    assert len(rivals) and all(f"may be {row['competing'].split()[0]}" in text for _, row in rivals.iterrows())
    open_ = ((table["suggestion"] == "") & (table["competing"] == "")).sum()
    assert text.count("nobody can tell") == open_ > 0


def test_a_third_setup_is_no_doubtful_locator(evening):
    """Pictures of a comparison show two setups; what a third one brought is not said to have a bad locator."""
    cells = evening.tally.cells
    third = cells.assign(setup=pd.Categorical(np.where(np.arange(len(cells)) % 5, cells["setup"].astype(str), "loop")))
    result = replace(evening, tally=replace(evening.tally, cells=third))
    assert captions.compared(result)["reports"].sum() < third["reports"].sum()
    text = all_text(versus.receivers_map(result, style.theme("light")))
    assert "not counted." not in text.replace("never counted", "")


# --- layout and speed ---------------------------------------------------------------------------------------------------

WORDS = "Where nobody listens nothing is reported: an empty direction is no proof that the signal did not get there.".split()


@given(
    some.lists(
        some.sampled_from([*WORDS, "", "EI4QTB/P", "1\u202f580", "Ünïcøde", "incomprehensibilities" * 3]), max_size=40
    ),
    some.sampled_from([(style.NOTE, style.REGULAR), (style.TITLE, style.BOLD)]),
    some.integers(150, 1800),
)
def test_lines_fit_and_are_as_long_as_they_can_be(said, font, room):
    """Against the width that the drawing library itself says a text has, and a word more on no line."""
    px, weight = font
    figure = style.sheet(style.LIGHT)

    def width(words: str) -> float:
        artist = style.text(figure, 0, 0, words, px=px, color="k", weight=weight)
        extent = artist.get_window_extent(figure.canvas.get_renderer())
        artist.remove()
        return extent.width

    text = " ".join(said)
    lines = style.wrapped(text, px, room, weight)
    assert all(width(line) <= room or len(line) <= 2 for line in lines)
    cut = [line for line in lines if line.endswith("…")]
    if not cut:
        assert " ".join(lines) == text
    for line, following in zip(lines, lines[1:], strict=False):
        if line not in cut:
            assert width(f"{line} {following.split(' ')[0]}") > room or following in cut
    assert style.width_px(text, px, weight) == pytest.approx(width(text), abs=0.01)


def crowd(count: int) -> Findings:
    """So many receivers all over Europe, each heard once."""
    cells = [
        f"J{f}{a}{b}{c}{d}"
        for f in "NO"
        for a in range(10)
        for b in range(10)
        for c in "abcdefghijklmnop"
        for d in "am"
    ]
    return heard("IO51es", cells[:count])


def test_thousands_of_marks_are_one_image_in_an_svg_and_the_rest_stays_lines():
    few, many = (maps.station(crowd(count), style.LIGHT) for count in (400, 3000))
    one, other = style.svg(few).decode(), style.svg(many).decode()
    bars = one.count("<image")  # the scale of colours
    assert (
        other.count("<image") == bars + 3
    )  # paths, receivers, those of the small map; what is in the station's ring lies between
    assert len(other) < 4 * len(one)
    assert re.search(r'<g id="text_1">.{0,80}<text', other, re.DOTALL)  # text is text as before
    marks = [each for each in many.axes[0].collections if each.get_rasterized()]
    assert sorted(type(each).__name__ for each in marks) == ["LineCollection", "PathCollection"]
    assert not any(each.get_rasterized() for each in few.axes[0].collections)


@pytest.mark.filterwarnings("ignore:Glyph")
def test_an_svg_says_what_it_shows_and_its_text_can_be_read(evening):
    """An SVG is a picture to those who hear it read, its words are words, and it opens whatever a name holds."""
    from xml.etree import ElementTree

    (distance,) = (each for each in gallery.pictures(evening) if each.name == "distance")
    figure = distance.build()
    figure.text(0.5, 0.5, "esc\x1b[31m & <b>")
    root = ElementTree.fromstring(style.svg(figure, distance.alt_text).decode())
    name = "{http://www.w3.org/2000/svg}"
    assert root.get("role") == "img" and root.get("aria-label") == distance.alt_text
    assert root.findtext(f"{name}title") == distance.alt_text
    texts = ["".join(each.itertext()) for each in root.iter(f"{name}text")]
    assert any("Half of 1" in text for text in texts) and "esc[31m & <b>" in texts
    assert "@font-face" in (root.findtext(f"{name}style") or "")


def test_a_png_is_the_same_whether_marks_would_be_an_image_or_not(monkeypatch):
    findings = crowd(60)
    plain = style.png(maps.station(findings, style.LIGHT))
    monkeypatch.setattr(style, "MANY_MARKS", 10)
    assert style.png(maps.station(findings, style.LIGHT)) == plain


def test_a_png_has_the_pixels_of_the_canvas_and_no_alpha():
    from PIL import Image

    figure = maps.station(crowd(5), style.DARK)
    for scale in (1, 2):
        with Image.open(io.BytesIO(style.png(figure, scale))) as picture:
            assert picture.mode == "RGB" and picture.size == (1920 * scale, 1080 * scale)
            assert round(picture.info["dpi"][0]) == style.DPI * scale
    figure.canvas.draw()
    with Image.open(io.BytesIO(style.png(figure))) as picture:
        assert (np.asarray(picture) == np.asarray(figure.canvas.buffer_rgba())[..., :3]).all()


@pytest.mark.parametrize("home", [(179.9, 64), (-78.5, 0.2), (166.7, -77.8)])
def test_polygons_that_touch_are_united_as_if_all_were(home):
    """Uniting only those that touch gives the area that uniting everything gives, and no two parts that meet."""
    import shapely

    land = basemap._cut_open(basemap.world(home[0]), basemap._on_the_globe("110m")[0], 20_000.0)
    parts = basemap._united(land)
    assert shapely.area(parts).sum() == pytest.approx(shapely.area(shapely.union_all(land)), rel=1e-12)
    one, other = shapely.STRtree(parts).query(parts, predicate="intersects")
    assert (one == other).all()
