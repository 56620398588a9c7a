"""What pictures promise: the number in a title is the one of Reach, marks add up to the reports, setups keep their colour."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from matplotlib.collections import PathCollection, PolyCollection, QuadMesh
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.text import Text

from reach.base import words
from reach.draw import charts, gallery, maps, patterns, style, versus
from reach.findings import Findings
from reach.measure.claims import Kind
from reach.spots import CORROBORATED, SUSPECT
from reach.tell.sentences import comparison as sentences
from tests.conftest import STUDIES
from tests.draw.test_gallery import heard, judged

LOOK = style.theme("light")
# Of each picture: the number that its title says, from Reach or the comparison, or from the table that it shows.
TITLES: dict[str, Callable[[Findings], str]] = {
    "map-station": lambda f: f"beyond {words.PRINT.beyond(f.reach.headline.median_km.value)}",
    "map-close": lambda f: f"within {words.PRINT.within(f.reach.headline.p90_km.value)}",
    "map-world": lambda f: f"{f.reach.headline.countries} countries and {f.reach.headline.squares} squares",
    "map-reach": lambda f: f"in {sum(not each.is_few for each in f.reach.headline.sectors)} directions with enough",
    "map-squares": lambda f: f"{f.reach.headline.squares} squares",
    "map-busiest-hour": lambda f: f": {words.things(_busiest(f)['reports'].sum(), 'report')} from",
    "distance": lambda f: f"{_half(f)}, a tenth from beyond {words.PRINT.beyond(f.reach.headline.p90_km.value)}",
    "distance-log": lambda f: words.share(_spots(f)["distance_km"].ge(3200).mean()),
    "reach-curve": lambda f: f"{_half(f)}, one in ten from beyond {words.PRINT.beyond(f.reach.headline.p90_km.value)}",
    "bands-distance": lambda f: _by_band(f),
    "snr": lambda f: "median report was {2}, half lay between {1} and {3}".format(*map(words.PRINT.db, f.reach.headline.snr_db)),
    "snr-by-distance": lambda f: "weaker than within",
    "bearing": lambda f: f"from {sum(each.reports > 0 for each in f.reach.headline.sectors)} of 12 directions",
    "hours": lambda f: _hours_said(f),
    "hour-by-distance": lambda f: f"{words.things(len(_spots(f)), 'report')} by hour",
    "hour-by-bearing": lambda f: f"{words.things(len(_spots(f)), 'report')} by hour",
    "timeline": lambda f: f"{words.things(len(f.spots), 'report')} in time order",
    "suspects": lambda f: f"{words.things(len(f.suspects), 'locator is', 'locators are')} in doubt",
    "comparison": lambda f: sentences.short(f.comparison, say=words.PRINT),
    "comparison-receivers": lambda f: f"divided: {(_differences(f) > 0).sum()} for vertical, {(_differences(f) <= 0).sum()} for wire",
    "comparison-map": lambda f: f"divided: {(_differences(f) > 0).sum()} for vertical",
    "comparison-blocks": lambda f: words.things(sum(b.difference_db is not None for b in f.comparison.by_block), "stretch", "stretches"),
    "comparison-parts": lambda f: f"Over all {words.db_signed(f.comparison.difference_db)}",
}  # fmt: skip


def _spots(found: Findings) -> pd.DataFrame:
    return found.spots[(found.spots["trust"] == "corroborated").to_numpy()]


def _half(found: Findings) -> str:
    half = found.reach.headline.median_km
    interval = f"(95{words.THIN}% interval {words.PRINT.beyond_span(half.low, half.high)})"
    return f"beyond {words.PRINT.beyond(half.value)} {interval}"


def _by_band(found: Findings) -> str:
    """The farthest band and the next where it stands apart, else all of them."""
    km = {band: words.PRINT.beyond(one.median_km.value) for band, one in found.reach.corroborated.by_band.items()}
    claim = found.reach.claims[Kind.FARTHEST_BAND]
    if claim.apart:
        return f"on {claim.winner} came from beyond {km[claim.winner]}, on {claim.runner_up} from beyond {km[claim.runner_up]}"
    return words.listed([f"{each} on {band}" for band, each in km.items()])


def _hours_said(found: Findings) -> str:
    """The fullest hour where it stands apart, else how many there are."""
    counts = _spots(found)["time_utc"].dt.hour.value_counts()
    apart = found.reach.claims[Kind.FULLEST_HOUR].apart
    return f"between {counts.idxmax():02d}:00" if apart else f"in {len(counts)} hours"


def _busiest(found: Findings) -> pd.DataFrame:
    hour = _spots(found)["time_utc"].dt.floor("h")
    return _spots(found)[(hour == hour.value_counts().sort_index().idxmax()).to_numpy()].assign(reports=1)


def _differences(found: Findings) -> np.ndarray:
    return versus.differences(found)["difference_db"].dropna().to_numpy()


def title_of(figure: Figure) -> str:
    """The lines of type that are as large and as dark as the largest."""
    texts = [text for text in figure.texts if text.get_text()]
    largest = max(text.get_fontsize() for text in texts)
    return " ".join(text.get_text() for text in texts if text.get_fontsize() == largest)


@pytest.mark.parametrize("study", STUDIES)
def test_the_number_in_a_title_is_the_one_of_reach(walks, drawn, study):
    found = walks[study].findings
    for picture in gallery.pictures(found):  # KeyError: a new picture says here what its title promises
        assert TITLES[picture.name](found) in title_of(drawn(study, picture.name)), picture.name


# --- marks add up -----------------------------------------------------------------------------------------------------


def _bars(figure: Figure) -> float:
    """Of the first row of bars of each set of axes."""
    return sum(bar.get_height() for axes in figure.axes for bar in axes.containers[0])


def _lying(figure: Figure) -> float:
    return sum(abs(bar.get_width()) for bars in figure.axes[0].containers for bar in bars)


def _above_the_line(figure: Figure) -> float:
    return sum(bar.get_height() for bar in figure.axes[0].patches if bar.get_y() >= 0)


def _cells(figure: Figure) -> float:
    """Of the numbers in the cells, which are those of the shades."""
    axes = figure.axes[0]
    (mesh,) = axes.findobj(QuadMesh)
    said = sum(int(text.get_text().replace(words.THIN, "")) for text in axes.texts if text.get_text()[:1].isdigit())
    assert said == np.nansum(np.ma.filled(mesh.get_array(), np.nan))
    return said


def _petals(figure: Figure) -> float:
    return sum(bar.get_height() ** 2 for bar in figure.axes[0].patches)  # their area


SUMS = {
    "distance": _bars, "snr": _bars, "hours": _bars, "bands-distance": _bars, "timeline": _above_the_line,
    "distance-log": _lying, "hour-by-distance": _cells, "hour-by-bearing": _cells, "bearing": _petals,
}  # fmt: skip


@pytest.mark.parametrize("study", STUDIES)
@pytest.mark.parametrize("picture", SUMS)
def test_bars_and_cells_add_up_to_the_reports(walks, drawn, study, picture):
    found = walks[study].findings
    reports = len(found.spots) if picture == "timeline" else len(_spots(found))
    assert SUMS[picture](drawn(study, picture)) == reports


@pytest.mark.parametrize("study", STUDIES)
@pytest.mark.parametrize("picture", ["map-station", "map-close", "map-world"])
def test_a_map_has_a_dot_a_receiver_in_the_colour_of_its_strength(walks, drawn, study, picture):
    sure = walks[study].findings.sure
    (dots,) = (
        each for each in drawn(study, picture).axes[0].findobj(PathCollection) if len(each.get_offsets()) == len(sure)
    )
    shown = sorted(map(to_hex, dots.get_facecolors()))
    low, high = (
        5 * edge for edge in (np.floor(sure["median_snr_db"].min() / 5), np.ceil(sure["median_snr_db"].max() / 5))
    )
    assert shown == sorted(map(to_hex, style.ramp(LOOK.ramp)((sure["median_snr_db"].to_numpy() - low) / (high - low))))


@pytest.mark.parametrize("study", STUDIES)
def test_the_busiest_hour_shows_its_receivers(walks, drawn, study):
    heard_then = _busiest(walks[study].findings)[["rx_call", "rx_locator"]].drop_duplicates()
    sizes = {len(each.get_offsets()) for each in drawn(study, "map-busiest-hour").axes[0].findobj(PathCollection)}
    assert len(heard_then) in sizes


@pytest.mark.parametrize("study", STUDIES)
def test_each_square_is_shaded_once(walks, drawn, study):
    """None of the demo's squares lies on the map's seam, where one is drawn in two parts."""
    shaded = [len(each.get_paths()) for each in drawn(study, "map-squares").axes[0].findobj(PolyCollection)]
    assert walks[study].findings.reach.headline.squares in shaded


@pytest.mark.parametrize("study", STUDIES)
def test_the_curve_crosses_half_at_the_median(walks, drawn, study):
    """The curves of a study by setup: where half of that setup's reports lie farther, by its own figures."""
    found, order = walks[study].findings.reach.corroborated, walks[study].findings.setup_order
    curves = [line for line in drawn(study, "reach-curve").axes[0].lines if line.get_drawstyle() == "steps-post"]
    figures = [found.by_setup[name] for name in order] if len(order) > 1 else [found.overall]
    for line, each in zip(curves, figures, strict=True):
        km, share = line.get_data()
        assert share[km < each.median_km.value][-1] >= 50 >= share[km <= each.median_km.value][-1]
        assert share[0] == 100 and share[-1] == pytest.approx(0) and (np.diff(share) <= 0).all()


@pytest.mark.parametrize("picture", ["distance", "snr"])
def test_marks_of_medians_stand_at_the_medians_of_reach(walks, drawn, picture):
    found = walks["evening"].findings.reach.corroborated.by_setup
    truth = {name: one.median_km.value if picture == "distance" else one.snr_db[2] for name, one in found.items()}
    axes = drawn("evening", picture).axes[0]
    marks = {
        text.get_text().strip().split(":")[0]: text.get_position()[0]
        for text in axes.texts
        if "median" in text.get_text()
    }
    assert marks == pytest.approx(truth)
    assert sorted(line.get_xdata()[0] for line in axes.lines) == pytest.approx(sorted(truth.values()))


def test_a_wedge_reaches_as_far_as_nine_in_ten(walks, drawn):
    """The outermost point of each wedge, against the p90 of its sector; sectors with few reports have none."""
    found = walks["evening"].findings
    enough = [each.p90_km for each in found.reach.headline.sectors if not each.is_few]
    (wedges,) = (
        each for each in drawn("evening", "map-reach").axes[0].findobj(PolyCollection)
        if each.get_alpha() and to_hex(each.get_facecolor()[0]) == LOOK.plain
    )  # fmt: skip
    far = sorted(np.hypot(*path.vertices.T).max() / 1000 for path in wedges.get_paths())
    assert far == pytest.approx(sorted(enough), abs=0.01)


def test_a_comparison_is_drawn_as_it_was_found(walks, drawn):
    found = walks["evening"].comparison
    axes = drawn("evening", "comparison").axes[0]
    middles = [line.get_xdata()[0] for line in axes.lines if line.get_marker() in ("o", "D")]
    shown = [cell for cell in found.cells if cell.shown]
    assert middles == pytest.approx([found.difference_db, *(cell.difference_db for cell in shown)])
    dots = drawn("evening", "comparison-receivers").axes[0].findobj(PathCollection)
    assert sorted(float(dot.get_offsets()[0][1]) for dot in dots) == pytest.approx(
        sorted(one.difference_db for one in found.by_receiver if one.placed and one.difference_db is not None)
    )
    marks = [line for line in drawn("evening", "comparison-blocks").axes[0].lines if line.get_marker() in ("o", "s")]
    assert [line.get_ydata()[0] for line in marks] == pytest.approx(
        [block.difference_db for block in found.by_block if block.difference_db is not None]
    )


# --- one setup, one colour --------------------------------------------------------------------------------------------


def _by_label(texts: list[Text], names: tuple[str, ...]) -> dict[str, str]:
    return {
        name: to_hex(text.get_color())
        for name in names
        for text in texts
        if text.get_text().strip().startswith(f"{name}:")
    }


def _labelled(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    return _by_label(figure.axes[0].texts, names)


def _lines(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    return {line.get_label(): to_hex(line.get_color()) for line in figure.axes[0].lines if line.get_label() in names}


def _stacked(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    return {
        bars.get_label(): to_hex(bars[0].get_facecolor())
        for bars in figure.axes[0].containers
        if bars.get_label() in names
    }


def _mirrored(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    """The bars to the left are those of the name on the left."""
    axes = figure.axes[0]
    sides = {text.get_ha(): text.get_text() for text in axes.texts if text.get_text() in names}
    return {
        sides["right" if bar.get_width() < 0 else "left"]: to_hex(bar.get_facecolor())
        for bar in axes.patches if bar.get_width()
    }  # fmt: skip


def _lying_bars(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    axes = figure.axes[0]
    rows = [tick.get_text().split(" · ")[1] for tick in axes.get_yticklabels()][::-1]
    return {
        rows[round(bar.get_y() + bar.get_height() / 2)]: to_hex(bar.get_facecolor()) for bar in axes.patches
    }  # fmt: skip


def _by_sign(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    """Where A minus B is above nothing A has its colour."""
    ink = to_hex(LOOK.ink)
    marks = [line for line in figure.axes[0].lines if line.get_marker() == "o"]
    return {
        names[0 if line.get_xdata()[0] > 0 else 1]: to_hex(line.get_color())
        for line in marks
        if line.get_color() != ink
    }


def _dots_by_sign(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    dots = figure.axes[0].findobj(PathCollection)
    faces = [to_hex(dot.get_facecolor()[0]) for dot in dots]
    colours = [
        to_hex(dot.get_edgecolor()[0]) if face == LOOK.paper else face for dot, face in zip(dots, faces, strict=True)
    ]
    above = [dot.get_offsets()[0][1] > 0 for dot in dots]
    return {names[0 if up else 1]: color for up, color in zip(above, colours, strict=True)}


def _key(figure: Figure, names: tuple[str, ...]) -> dict[str, str]:
    legend = figure.axes[0].get_legend()
    return {
        text.get_text().removeprefix("on "): to_hex(handle.get_color())
        for text, handle in zip(legend.get_texts(), legend.legend_handles, strict=True)
    }


COLOURS = {
    "distance": _labelled, "snr": _labelled, "reach-curve": _lines, "timeline": _stacked, "distance-log": _mirrored,
    "comparison": _by_sign, "comparison-receivers": _dots_by_sign, "comparison-blocks": _key,
}  # fmt: skip


@pytest.fixture(scope="module", params=[("vertical", "wire"), ("wire", "vertical")], ids="-".join)
def compared(request, walks) -> Findings:
    """The evening with its setups compared this way round: A first."""
    found = replace(walks["evening"].findings, comparison=walks["evening"].compare(*request.param))
    assert found.setup_order == request.param  # not the alphabet
    return found


@pytest.mark.parametrize("picture", COLOURS)
def test_a_setup_has_its_colour_in_every_picture(compared, picture):
    """A's colour was by the alphabet on some charts and by A and B on others."""
    (figure,) = (each.build() for each in gallery.pictures(compared) if each.name == picture)
    order = compared.setup_order
    assert COLOURS[picture](figure, order) == {name: LOOK.setups[k] for k, name in enumerate(order)}


def test_every_picture_that_tells_setups_apart_is_among_them(walks, drawn):
    """A picture with A's and B's colour on bars or lines names its setups; the two maps use the pair for other things."""
    found = set()
    for picture in gallery.pictures(walks["evening"].findings):
        axes = drawn("evening", picture.name).axes[0]
        colours = {to_hex(each.get_facecolor()) for each in axes.patches} | {
            to_hex(each.get_color()) for each in axes.lines
        }
        found |= {picture.name} if set(LOOK.setups[:2]) <= colours else set()
    assert found and found <= set(COLOURS)


# --- faults that were there -------------------------------------------------------------------------------------------


def test_a_share_of_directions_is_of_all_reports():
    """A report from the station's own cell has no direction, but it is a report: the picture counted the others only."""
    found = heard("IO51es", ["IO51es"] * 3 + ["JN58td"])
    assert max(sector.share.value for sector in found.reach.headline.sectors) == 0.25
    assert title_of(charts.bearing(found, LOOK)) == "Reports came from 1 of 12 directions"


def test_without_a_direction_there_is_no_picture_of_directions():
    names = {each.name for each in gallery.pictures(heard("IO51es", ["IO51es"] * 2))}
    assert {"map-station", "hours", "distance"} <= names
    assert not names & {"map-reach", "bearing", "hour-by-bearing"}


def test_a_map_of_directions_is_drawn_where_one_can_be_told():
    """Two reports from each of four directions are too few, and the map held nothing but rings and a key."""
    names = {each.name for each in gallery.pictures(heard("IO51es", ["JN58td", "IM99tl", "FN31pr", "GG66rt"] * 2))}
    assert "bearing" in names
    assert "map-reach" not in names


def test_names_of_rings_do_not_run_into_each_other():
    """Of a station in Fiji heard everywhere but in the west the names lay side by side there."""
    around = [
        "BL11bh",
        "CN87uo",
        "CM87ss",
        "FF46qn",
        "BH52fl",
        "RE78jr",
        "RF73jd",
        "QF56od",
        "PM95uq",
        "JO62qm",
        "IM99tl",
    ]
    figure = charts.bearing(heard("RH91fv", [each for each in around for _ in range(12)]), LOOK)
    figure.canvas.draw()
    for axes in figure.axes[1:]:
        boxes = [label.get_window_extent() for label in axes.get_yticklabels()]
        assert len(boxes) > 1
        assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))


def test_no_step_of_distance_lies_behind_the_farthest():
    """The median of 7,000 to 8,000 km was drawn at 7,500, beyond the end of the axis, where the farthest was at 7,240."""
    axes = charts.snr_by_distance(heard("IO51es", ["JN58td"] * 6 + ["EL29gs"] * 6), LOOK).axes[0]
    middles = axes.lines[0].get_xdata()
    assert max(middles) <= axes.get_xlim()[1]


def test_a_station_at_the_pole_is_seen_whole_on_the_world():
    figure = maps.world(heard("RA00aa", ["RE54gd", "QE37pc", "JF96fb"] * 4), LOOK)
    mark = max(figure.axes[0].collections, key=lambda each: each.get_zorder())
    assert not mark.get_clip_on()


@pytest.mark.parametrize("draw", [charts.draw_snr, charts.draw_snr_by_distance])
def test_what_rounds_to_nothing_has_no_sign(walks, draw):
    """-0.3 dB was "-0" on axes and scales, and "0" elsewhere."""
    figure = style.sheet(LOOK)
    axes = style.place(figure, 100, 100, 800, 600)
    draw(axes, walks["evening"].findings, LOOK)
    axis = axes.xaxis if draw is charts.draw_snr else axes.yaxis
    assert [axis.get_major_formatter()(value, 0) for value in (-0.3, -12.0, 3.0)] == ["0", f"{words.MINUS}12", "3"]


def test_a_scale_of_colours_has_no_signed_nothing():
    from matplotlib.colors import Normalize

    figure = style.sheet(LOOK)
    axes = style.bar(
        figure, LOOK, style.ramp(LOOK.ramp), Normalize(-5, 5), "SNR", x=0, y=0, length=200, ticks=[-5, -0.3, 5]
    )
    assert [label.get_text() for label in axes.get_xticklabels()] == [f"{words.MINUS}5", "0", "5"]


def test_circumstances_count_what_the_picture_shows(walks, drawn):
    """Corroborated receivers, or all, or those of the two setups; said in the subtitle and to those who cannot see it."""
    found = walks["messy"].findings
    alt = {each.name: each.alt_text for each in gallery.pictures(found)}
    for name, spots in (("distance", _spots(found)), ("timeline", found.spots)):
        reports, calls = words.things(len(spots), "report"), words.things(spots["rx_call"].nunique(), "receiver")
        assert f"{reports} of {calls}." in alt[name]
        assert any(text.get_text().startswith(f"{reports} · {calls} · ") for text in drawn("messy", name).texts)
    left = words.things(len(found.spots) - len(_spots(found)), "report")
    assert any(
        f"{left} with other locators are not counted" in text.get_text() for text in drawn("messy", "distance").texts
    )
    assert not any("are not counted" in text.get_text() for text in drawn("messy", "timeline").texts)


def test_suspects_change_no_chart():
    """Reports of a locator in doubt, from farther away than all others, change no title, no bar and no curve."""
    where = ["JN58td", "JO62qm", "FN31pr"] * 4
    sure = heard("IO51es", where)
    both = judged(heard("IO51es", [*where, *["RE78ir"] * 12]), [CORROBORATED] * 12 + [SUSPECT] * 12)
    assert both.reach.between == 12 and both.reach.all.overall.farthest.distance_km > 18_000
    for draw in (charts.distance, charts.snr, charts.hours, patterns.distance_log, patterns.reach_curve):
        one, other = draw(sure, LOOK), draw(both, LOOK)
        assert title_of(one) == title_of(other)
        assert shapes(one) == shapes(other) and len(shapes(one)), draw.__name__


def shapes(figure: Figure) -> list[Any]:
    """Bars and lines of the first axes in the axes' own numbers."""
    axes = figure.axes[0]
    bars = [bar.get_patch_transform().transform_path(bar.get_path()).vertices.tolist() for bar in axes.patches]
    return [*bars, *(line.get_xydata().tolist() for line in axes.lines)]
