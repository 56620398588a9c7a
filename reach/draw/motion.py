"""A stretch of time as moving pictures: the night side wanders, reports light up and fade.

What never changes (land, words, the strip of reports below the map) is drawn once; a frame puts it back and draws
only what moves over it. Frames come one at a time, so that a film of any length needs the memory of one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import words
from reach.base.words import PRINT
from reach.draw import arcs, areas, basemap, captions, layers, style
from reach.errors import DrawError
from reach.findings import Findings
from reach.spots import CORROBORATED
from reach.tell.sentences import direction, pictures
from reach.tell.sentences import local_time as local_words
from reach.tell.sentences import reach as sentences

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    from reach.base.local_time import LocalTime

Frame = npt.NDArray[np.uint8]

SMALLEST_PX, LARGEST_PX = 320, 3840  # each side of a film
_DAY: Final = timedelta(days=1)
_STRIP_MIN: Final = (5, 10, 20, 30, 60, 120, 360, 720, 1440)  # what one bar of the strip may stand for
_BARS: Final = 150
_BAR_BELOW_PX: Final = 34  # style.bar keeps so much above itself for its label
_FAINTEST: Final = 0.14
_RIM_PX: Final = 3.0  # of paper round each dot: its colour is 3:1 from paper, whatever night or land lies around
_EMPTY_MIN: Final = 60  # without anything to see, from which on time is left out
_HELD: Final = 12  # of so many frames the last sums up
_MARGIN, _TITLE, _CLOCK, _TEXT, _SMALL = 40, 34, 46, 21, 19  # px of a picture 1280 x 720


@dataclass(frozen=True)
class Span:
    """What a film covers, both ends in UTC, and for how long a report stays visible."""

    start: datetime
    end: datetime

    @property
    def fade(self) -> timedelta:
        """A forty-eighth of the film, in whole minutes, ten at least: half an hour of a day."""
        return timedelta(minutes=max(10, round((self.end - self.start).total_seconds() / 60 / 48)))


def span(findings: Findings, day: date | None = None, *, empty_hours: bool = False) -> Span:
    """What to show: a day, or what the reports suggest.

    day : a UTC day
    empty_hours : whether a day is shown whole, its hours before the first report and after the last included
    Returns the day asked for; else, where all reports lie within 24 hours, these; else the UTC day with most reports:
    from full hour to full hour. DrawError where there is nothing to show, with the days that there are.
    """
    table = _events(findings)
    if table.empty:
        raise DrawError(pictures.nothing_to_film(findings))
    days = table["time_utc"].dt.date
    if day is None:
        shown = _full_hours(table["time_utc"])
        if shown.end - shown.start <= _DAY:
            return shown
        counts = days.value_counts()
        day = min(counts.index[(counts == counts.max()).to_numpy()])
    if day not in set(days):
        told = [f"{one:%Y-%m-%d}" for one in sorted(set(days))]
        listed = words.listed(told) if len(told) <= 5 else f"{told[0]} to {told[-1]}"
        raise DrawError(f"There is no report on {day:%Y-%m-%d}; there are some on {listed}.")
    start = datetime.combine(day, time(), UTC)
    return Span(start, start + _DAY) if empty_hours else _full_hours(table["time_utc"][(days == day).to_numpy()])


def _full_hours(times: pd.Series) -> Span:
    """From the full hour before the first report to the one after the last."""
    first, last = (moment.to_pydatetime() for moment in (times.min(), times.max()))
    hour = {"minute": 0, "second": 0, "microsecond": 0}
    return Span(first.replace(**hour), last.replace(**hour) + timedelta(hours=1))


class Film:
    """Frames of one stretch of time.

    findings : the walk's findings
    shown : what to show (`span`)
    size_px : width and height, even, 320 to 3840
    look : light or dark
    empty_hours : whether time passes as evenly where there is nothing to see
    DrawError where the size will not do.
    """

    def __init__(
        self,
        findings: Findings,
        shown: Span,
        *,
        size_px: tuple[int, int] = (1280, 720),
        look: str = "light",
        empty_hours: bool = False,
    ) -> None:
        self.shown, self.size_px, self._empty_hours = shown, checked(size_px), empty_hours
        self._fade_min = shown.fade.total_seconds() / 60
        self._look = style.theme(look)
        # An upright picture has its words larger against its width, or they could not be read on a telephone.
        self._scale = min(size_px[0] / (1280 if size_px[0] > size_px[1] else 900), size_px[1] / 720)
        self._way = direction.ends(findings)
        self._events = _Events(findings, shown)
        self.figure: Figure = style.sheet(self._look, *size_px)
        # Saved with its parts fixed in place: nothing is laid out anew from frame to frame.
        self._axes = self._map(findings)
        self._strip()
        self._words(findings)
        self._moving(findings.local_time)
        self.figure.canvas.draw()
        self._still = np.asarray(self._canvas().buffer_rgba()).copy()
        self._dark = _Dark(self._axes, self._night, self._still, self._look.night)

    def moments(self, count: int) -> list[datetime]:
        """That many moments (1 or more), even steps from the first report on; an hour or more with nothing to see is jumped
        over. With empty hours from the start to the end. A single one is the end."""
        if count < 2:
            return [self.shown.end]
        whole = (self.shown.end - self.shown.start).total_seconds() / 60
        stretches = [(0.0, whole)] if self._empty_hours else self._events.stretches(whole)
        begin, end = np.array(stretches).T
        walked = np.concatenate([[0], np.cumsum(end - begin)])
        at = np.linspace(0, walked[-1], count)
        which = np.clip(np.searchsorted(walked, at, side="left") - 1, 0, len(begin) - 1)
        minutes = begin[which] + at - walked[which]
        return [self.shown.start + timedelta(minutes=float(each)) for each in minutes]

    def frames(self, count: int) -> Iterator[Frame]:
        """That many frames, one after the other, the last ones `summary`; each is valid until the next is asked for."""
        held = min(max(count // _HELD, 1), count - 1)
        for moment in self.moments(count - held):
            yield self.frame(moment)
        for _ in range(held):
            yield self.summary()

    def frame(self, when: datetime) -> Frame:
        """The picture at a moment: RGBA, uint8, shape (height, width, 4), valid until the next is asked for."""
        frame: Frame = np.asarray(self._canvas().buffer_rgba())
        frame[:] = self._still
        self._dark.put(frame, when)
        self._move(when)
        self._draw(self._fading, self._cursor)
        return frame

    def summary(self) -> Frame:
        """All of it at once, as a `frame`: every receiver by its latest report, and how many there were; no night, as it is
        no moment."""
        frame: Frame = np.asarray(self._canvas().buffer_rgba())
        frame[:] = self._still
        now = self._events.all()
        self._show(now, layers.path_alpha(len(now.who)))
        self._clock.set_text(f"{self.shown.start:%H:%M}\N{EN DASH}{_clock(self.shown.end, self.shown)} UTC")
        self._say_local(self.shown.start, self.shown.end)
        self._count.set_text(pictures.filmed(int(now.reports.sum()), len(now.who), PRINT, self._way))
        self._draw(self._finding)
        return frame

    def _draw(self, *more: Any) -> None:
        """Everything that moves, and what else this frame shows, over the still picture."""
        for artist in (self._paths, self._earlier, self._dots, *self._station, self._frame, *self._told, *more):
            self.figure.draw_artist(artist)

    # --- what stands still --------------------------------------------------------------------------------------------

    def _canvas(self) -> Any:
        return self.figure.canvas

    def _px(self, px: float) -> float:
        return px * self._scale

    def _write(self, x: float, y: float, text: str, *, px: float, muted: bool = False, **more: Any) -> Text:
        color = self._look.muted if muted else self._look.ink
        return style.write(self.figure, x, y, text, px=self._px(px), color=color, **more)

    def _map(self, findings: Findings) -> Any:
        width, height = self.size_px
        site = areas.station_site(findings)
        top, foot = self._px(104), height - self._px(150)
        axes: Any = style.place(
            self.figure, self._px(_MARGIN), top, width - 2 * self._px(_MARGIN), foot - top,
            projection=basemap.world(site.lon_deg),
        )  # fmt: skip
        axes.set_global()
        axes.apply_aspect()  # the map is narrower than its place: what is worked out from its size must know
        axes.spines["geo"].set(edgecolor=self._look.ring, linewidth=style.points(self._px(1.2)))
        layers.land(axes, self._look)
        layers.graticule(axes, self._look)
        self._night = layers.Night(axes, self._look, self.shown.start)
        self._night.image.set_animated(True)
        before = list(axes.collections)
        layers.station(axes, self._look, site)
        self._station = [each for each in axes.collections if each not in before]
        for mark in self._station:
            mark.set_animated(True)
            mark.set_sizes(mark.get_sizes() * self._scale**2)
            mark.set_linewidths([self._px(each) for each in mark.get_linewidths()])
        self._frame = axes.spines["geo"]
        self._events.bend(axes.projection, site)
        return axes

    def _strip(self) -> None:
        """Reports in time order below the map, with the hours; a line will run through it."""
        width, height = self.size_px
        left = self._px(_MARGIN + 330)
        axes = style.place(
            self.figure, left, height - self._px(122), width - left - self._px(_MARGIN), self._px(52)
        )  # fmt: skip
        edges, counts = self._events.strip()
        axes.bar(edges[:-1], counts, width=np.diff(edges) * 0.86, align="edge", color=self._look.plain, linewidth=0)
        minutes = (self.shown.end - self.shown.start).total_seconds() / 60
        axes.set_xlim(0, minutes)
        axes.set_ylim(0, max(float(counts.max()), 1.0) * 1.1)
        axes.set_facecolor("none")
        axes.set_yticks([])
        for side, spine in axes.spines.items():
            spine.set_visible(side == "bottom")
            spine.set_color(self._look.ring)
        at, names = _hour_ticks(self.shown, width - left - self._px(_MARGIN), self._px(74))
        axes.set_xticks(at, names)
        axes.tick_params(length=style.points(self._px(5)), pad=2, colors=self._look.muted,
                         labelsize=style.points(self._px(_SMALL)), labelfontfamily=style.FAMILY)  # fmt: skip
        self._cursor = axes.axvline(0, color=self._look.ink, linewidth=style.points(self._px(4)), animated=True,
                                   clip_on=False)  # fmt: skip

    def _words(self, findings: Findings) -> None:
        width, height = self.size_px
        margin = self._px(_MARGIN)
        last = self.shown.end - timedelta(seconds=1)
        title = pictures.film(sentences.signature(findings), self.shown.start, last, PRINT, self._way)
        room = width - 2 * margin - self._px(360)
        title, px = _one_line(self.figure, title, self._px(_TITLE), room, style.BOLD)
        style.write(self.figure, margin, self._px(28), title, px=px, color=self._look.ink, weight=style.BOLD)
        whole = self._events.all().reports.sum() == findings.reach.headline.reports
        sum_up = sentences.headline(findings, PRINT) if whole else pictures.all_at_once(self._way)
        fading = pictures.fading(self._fade_min, self._way)
        self._fading, self._finding = (
            self._line(margin, self._px(70), text, room, animated=True) for text in (fading, sum_up)
        )
        norm, ticks = self._events.scale()
        bar = style.bar(
            self.figure, self._look, style.ramp(self._look.ramp), norm, "", x=margin,
            y=height - self._px(88) - _BAR_BELOW_PX, length=self._px(270), ticks=ticks, thickness=self._px(14),
        )  # fmt: skip
        bar.tick_params(length=style.points(self._px(5)), labelsize=style.points(self._px(_SMALL)))
        self._write(margin, height - self._px(120), words.text("SNR of the latest report [dB]"), px=_SMALL)
        left_out = pictures.film_leaves_out(findings, PRINT)
        notes = [captions.made_up(findings), left_out, captions.replaced(findings)]
        self._line(margin, height - self._px(34), " ".join(note for note in notes if note), width - 2 * margin)

    def _line(self, x: float, y: float, text: str, room_px: float, **more: Any) -> Text:
        text, px = _one_line(self.figure, text, self._px(_SMALL), room_px, style.REGULAR)
        return style.write(self.figure, x, y, text, px=px, color=self._look.muted, **more)

    def _moving(self, local: LocalTime | None) -> None:
        """The artists that every frame sets anew."""
        from matplotlib.collections import LineCollection

        axes, look = self._axes, self._look
        self._paths = LineCollection([], linewidths=style.points(self._px(1.7)), capstyle="round", animated=True,
                                     zorder=layers.Z_PATHS)  # fmt: skip
        axes.add_collection(self._paths, autolim=False)
        self._earlier = axes.scatter([], [], s=style.points(self._px(6)) ** 2, color=look.ink, alpha=0.5, linewidths=0,
                                     zorder=layers.Z_DOTS, animated=True)  # fmt: skip
        self._dots = axes.scatter(
            [], [], linewidths=style.points(self._px(_RIM_PX)), zorder=layers.Z_DOTS, animated=True
        )
        right = self.size_px[0] - self._px(_MARGIN)
        self._clock = self._write(right, self._px(18), "", px=_CLOCK, weight=style.BOLD, ha="right", animated=True)
        self._count = self._write(right, self._px(76), "", px=_TEXT, muted=True, ha="right", animated=True)
        self._local, y = local, self._px(106)
        self._told: tuple[Text, ...] = (self._clock, self._count)
        if self._local is not None:
            self._by_local_clocks = self._write(right, y, "", px=_TEXT, muted=True, ha="right", animated=True)
            self._told += (self._by_local_clocks,)

    # --- what moves ---------------------------------------------------------------------------------------------------

    def _move(self, when: datetime) -> None:
        now = self._events.at(when)
        self._show(now, 0.8)
        minutes = (when - self.shown.start).total_seconds() / 60
        self._cursor.set_xdata([minutes, minutes])
        self._clock.set_text(f"{_clock(when, self.shown)} UTC")
        self._say_local(when)
        self._count.set_text(pictures.visible(int(now.reports.sum()), len(now.who), self._fade_min, PRINT, self._way))

    def _say_local(self, *moments: datetime) -> None:
        """The same by local clocks, where these are asked for."""
        if self._local is not None:
            self._by_local_clocks.set_text(local_words.film(self._local, *moments))

    def _show(self, now: _Now, path_alpha: float) -> None:
        """Receivers, their lines and those heard earlier."""
        events, look = self._events, self._look
        colour = style.ramp(look.ramp)(events.scale()[0](now.snr_db))
        colour[:, 3] = np.clip(1 - now.age, _FAINTEST, 1.0)
        pieces, owner = events.pieces(now.who)
        self._paths.set_segments(pieces)
        self._paths.set_color(colour[owner] * [1, 1, 1, path_alpha])
        self._earlier.set_offsets(events.xy[now.earlier])
        self._dots.set_offsets(events.xy[now.who])
        self._dots.set_facecolor(colour)
        edge = np.tile(style.ramp((look.paper, look.paper))(0), (len(now.who), 1))
        edge[:, 3] = colour[:, 3]
        self._dots.set_edgecolor(edge)
        diameter = self._px(1) * (layers.diameter_px(now.reports, 0) * 0.8 + _RIM_PX)
        self._dots.set_sizes((diameter * style.points(1)) ** 2)


class _Dark:
    """The night laid over the still map. Drawing it as an artist takes most of a frame's time, blending pixels little.

    axes : the map, drawn; still : its picture, RGBA; color : of the night
    """

    def __init__(self, axes: Any, night: layers.Night, still: Frame, color: str) -> None:
        from matplotlib.colors import to_rgb
        from PIL import Image, ImageDraw

        box = axes.get_window_extent()
        height = still.shape[0]
        left, top, right, foot = (round(edge) for edge in (box.x0, height - box.y1, box.x1, height - box.y0))
        self._rows, self._columns = slice(top, foot), slice(left, right)
        self._size = (right - left, foot - top)
        self._map = Image.fromarray(np.ascontiguousarray(still[self._rows, self._columns, :3]))
        self._night, self._color = night, tuple(round(255 * part) for part in to_rgb(color))
        # The rim, four times too large and then made small, for a smooth edge.
        outline = axes.patch.get_transform().transform_path(axes.patch.get_path()).vertices
        fine = Image.new("L", (4 * self._size[0], 4 * self._size[1]))
        rim = [(4 * (x - left), 4 * (height - top - y)) for x, y in outline]
        ImageDraw.Draw(fine).polygon(rim, fill=255)
        self._rim = fine.resize(self._size, Image.Resampling.BOX)

    def put(self, frame: Frame, when: datetime) -> None:
        """Darken the map's part of a frame, in place."""
        from PIL import Image, ImageChops

        grid = np.asarray(self._night.move(when).get_array())[::-1, :, 3]  # its first row is the lowest
        dark = Image.fromarray((255 * grid).round().astype(np.uint8)).resize(self._size, Image.Resampling.BILINEAR)
        shaded = self._map.copy()
        shaded.paste(self._color, mask=ImageChops.multiply(dark, self._rim))
        frame[self._rows, self._columns, :3] = np.asarray(shaded)


@dataclass(frozen=True)
class _Now:
    """What is visible at a moment, one entry a receiver heard from within the fade; `earlier`: heard from before."""

    who: npt.NDArray[np.intp]
    age: npt.NDArray[np.float64]  # of the latest report, 0 new, 1 gone
    snr_db: npt.NDArray[np.float64]
    reports: npt.NDArray[np.int64]
    earlier: npt.NDArray[np.intp]


class _Events:
    """The reports of a stretch in time order, and where their receivers are on the map."""

    def __init__(self, findings: Findings, shown: Span) -> None:
        table = _events(findings)
        inside = (table["time_utc"] > shown.start - shown.fade) & (table["time_utc"] <= shown.end)
        table = table[inside.to_numpy()].sort_values("time_utc", kind="stable")
        key = pd.MultiIndex.from_frame(table[["rx_call", "rx_locator"]].astype(str))
        self._who, places = pd.factorize(key, sort=True)
        first = np.unique(self._who, return_index=True)[1] if len(places) else np.empty(0, int)
        self._lon, self._lat = (table[name].to_numpy(float)[first] for name in ("rx_lon_deg", "rx_lat_deg"))
        self._snr_db = table["snr_db"].to_numpy(float)
        self._minute = (table["time_utc"] - shown.start).dt.total_seconds().to_numpy() / 60
        self._first_minute = self._minute[first]
        self._shown = shown
        self._fade_min = shown.fade.total_seconds() / 60
        self.xy: npt.NDArray[np.float64] = np.empty((0, 2))
        self._pieces: list[list[npt.NDArray[np.float64]]] = []

    def bend(self, projection: Any, site: layers.Site) -> None:
        """Work out the great circles on the map, once."""
        self.xy = arcs.project(projection, self._lon, self._lat)
        self._pieces = [[] for _ in self._lon]
        for piece, which in zip(*arcs.paths(projection, site.lon_deg, site.lat_deg, self._lon, self._lat), strict=True):
            self._pieces[which].append(piece)

    def at(self, when: datetime) -> _Now:
        """What is visible at a moment."""
        minute = (when - self._shown.start).total_seconds() / 60
        low, high = np.searchsorted(self._minute, [minute - self._fade_min, minute], side="right")
        latest_first = self._who[low:high][::-1]
        who, at, reports = np.unique(latest_first, return_index=True, return_counts=True)
        row = high - 1 - at
        before = np.setdiff1d(np.flatnonzero(self._first_minute <= minute), who)
        age = (minute - self._minute[row]) / self._fade_min
        order = np.argsort(-age, kind="stable")  # the newest lies on top
        return _Now(who[order], age[order], self._snr_db[row][order], reports[order], before)

    def all(self) -> _Now:
        """Everything at once: of every receiver all its reports of the film, and how strong the latest was."""
        rows = np.flatnonzero(self._minute >= 0)
        who, latest, reports = np.unique(self._who[rows][::-1], return_index=True, return_counts=True)
        row = rows[::-1][latest]
        order = np.argsort(self._minute[row], kind="stable")
        return _Now(
            who[order], np.zeros(len(who)), self._snr_db[row][order], reports[order], np.empty(0, np.intp)
        )  # fmt: skip

    def stretches(self, whole_min: float) -> list[tuple[float, float]]:
        """When there is something to see, in minutes from the start: from a report until it has faded. Shorter gaps are
        part of it, and so is what is left until the end.

        whole_min : how long all of it is
        """
        minute = np.clip(self._minute, 0.0, whole_min)
        if not len(minute):
            return [(0.0, whole_min)]
        gone = np.minimum(minute + self._fade_min, whole_min)
        after = np.append(minute[1:], whole_min)  # of each report: when the next one came, or the end
        cuts = np.flatnonzero(after - gone >= _EMPTY_MIN)
        starts = [minute[0], *(minute[k + 1] for k in cuts if k + 1 < len(minute))]
        ends = [*(gone[k] for k in cuts), *([] if len(minute) - 1 in cuts else [whole_min])]
        return [(float(a), float(b)) for a, b in zip(starts, ends, strict=True)]

    def pieces(self, who: npt.NDArray[np.intp]) -> tuple[list[npt.NDArray[np.float64]], npt.NDArray[np.intp]]:
        """The great circles of some receivers, and which of these each piece belongs to."""
        found = [(piece, k) for k, one in enumerate(who) for piece in self._pieces[one]]
        return [piece for piece, _ in found], np.array([k for _, k in found], np.intp)

    def strip(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int64]]:
        """Edges [minutes from the start] and reports of each bar below the map."""
        length = (self._shown.end - self._shown.start).total_seconds() / 60
        step = next((each for each in _STRIP_MIN if length / each <= _BARS), _STRIP_MIN[-1])
        edges = np.append(np.arange(0, length, step), length)
        return edges, np.histogram(self._minute, edges)[0]

    def scale(self) -> tuple[Any, list[float]]:
        """The scale of colours, over all reports of the film, and its ticks."""
        from matplotlib.colors import Normalize

        levels = self._snr_db if len(self._snr_db) else np.array([-30.0, 0.0])
        low = float(np.floor(np.quantile(levels, 0.02) / 5) * 5)
        high = max(float(np.ceil(np.quantile(levels, 0.98) / 5) * 5), low + 5)
        return Normalize(low, high, clip=True), [
            float(tick) for tick in np.arange(low, high + 1, 5 if high - low <= 20 else 10)
        ]


def checked(size_px: tuple[int, int]) -> tuple[int, int]:
    """The size itself. DrawError where a side is odd (a film cannot have that), too small or too large."""
    width, height = size_px
    for side in size_px:
        if side % 2 or not SMALLEST_PX <= side <= LARGEST_PX:
            raise DrawError(
                f"A film of {width}x{height} cannot be made; both sides must be even numbers from {SMALLEST_PX} to "
                f"{LARGEST_PX}, such as 1280x720."
            )
    return size_px


def _events(findings: Findings) -> pd.DataFrame:
    """The reports that findings rest on: time_utc, rx_call, rx_locator, snr_db, rx_lon_deg, rx_lat_deg."""
    table = findings.spots[["time_utc", "rx_call", "rx_locator", "snr_db", "rx_lon_deg", "rx_lat_deg"]]
    return table[(findings.spots["trust"] == CORROBORATED).to_numpy()]


def _same_day(shown: Span) -> bool:
    return shown.start.date() == (shown.end - timedelta(seconds=1)).date()


def _clock(when: datetime, shown: Span) -> str:
    """The time of day; 24:00 at the end of a day."""
    last = when == shown.end and when.time() == time() and _same_day(shown)
    return "24:00" if last else f"{when:%H:%M}"


def _hour_ticks(shown: Span, width_px: float, least_px: float) -> tuple[list[float], list[str]]:
    """Where the strip is named, in minutes from the start, and with which hours, no closer than `least_px`."""
    hours = (shown.end - shown.start).total_seconds() / 3600
    step = next((each for each in (1, 2, 3, 4, 6, 12) if width_px * each / hours >= least_px), 24)
    first = -shown.start.hour % step
    at = [float(hour) for hour in range(first, int(hours) + 1, step)]
    return [60 * hour for hour in at], [
        f"{(shown.start + timedelta(hours=hour)):%H}" if hour < hours or not _same_day(shown) else "24" for hour in at
    ]


def _one_line(figure: Figure, text: str, px: float, room_px: float, weight: int) -> tuple[str, float]:
    """The text and a size at which it fits on one line: smaller if need be, then cut with an ellipsis."""
    for size in (px, px * 0.85, px * 0.7):
        wide = style.width_px(text, size, weight) if text else 0.0
        if wide <= room_px:
            return text, size
    keep = int(len(text) * room_px / wide)
    while keep > 1 and style.width_px(text[:keep].rstrip() + "…", size, weight) > room_px:
        keep -= 1
    return text[:keep].rstrip() + "…", size
