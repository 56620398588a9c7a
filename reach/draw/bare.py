"""Maps without words around them, drawn into a place on a figure: for slides, which say the words themselves.

Each has its scale of colours in a corner and nothing else that needs reading.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from reach.draw import arcs, areas, basemap, findings, layers, maps, style, versus, words
from reach.result import Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

RIM_PX: Final = 46  # round the disc, for bearings
BAR_PX: Final = 240
BAR_X_PX: Final = 24  # so that the name of its first tick is not cut
_OUT: Final = 1.035  # names of bearings: farther out than on a large map, where a px is less of the disc
_STEP_DB: Final = 5
_MOST_DB: Final = 10.0


def heard(
    figure: Figure, look: style.Theme, result: Result, *, x: float, y: float, width: float, height: float
) -> Axes:
    """Who heard the station, round the station, coloured by median SNR; suspects hollow with a query mark.

    x, y, width, height : the place [px]; the disc is as high as it and lies at its right end
    Returns the map's axes.
    """
    sure, suspect = findings.receivers(result)
    far_km = max([float(table["distance_km"].max()) for table in (sure, suspect) if len(table)] or [1000.0])
    axes, site = _disc(figure, look, result, far_km, sure["bearing_deg"], x, y, width, height)
    maps.heard(axes, look, site, sure, suspect)
    colours, norm = style.ramp(look.ramp), maps.snr_norm(sure)
    low, high = float(norm.vmin or 0.0), float(norm.vmax or 0.0)
    ticks = [float(tick) for tick in np.arange(low, high + 1, _STEP_DB if high - low <= 15 else 2 * _STEP_DB)]
    style.bar(figure, look, colours, norm, "Median SNR [dB]", x=x + BAR_X_PX, y=y + height - 92, length=BAR_PX,
              ticks=ticks)  # fmt: skip
    return axes


def compared(
    figure: Figure, look: style.Theme, result: Result, *, x: float, y: float, width: float, height: float
) -> Axes:
    """Receivers coloured by A minus B, their shape saying which they heard. Needs a comparison with a difference.

    x, y, width, height : as for `heard`
    Returns the map's axes.
    """
    found = result.comparison
    assert found is not None
    table = versus.differences(result)
    far_km = float(table["distance_km"].max()) if len(table) else 1000.0
    axes, site = _disc(figure, look, result, far_km, table["bearing_deg"], x, y, width, height)
    colours, norm = style.diverging(look.diverging), _differences(table["difference_db"])
    for whom, marker in versus.HEARD.items():
        part = table[(table["heard"] == whom).to_numpy()]
        xy = arcs.project(axes.projection, part["rx_lon_deg"], part["rx_lat_deg"])
        known = part["difference_db"].notna().to_numpy()
        face = colours(norm(part["difference_db"].fillna(0.0).to_numpy(float)))
        face[~known, 3] = 0.0
        size = style.points(layers.diameter_px(part["reports"], len(table)) + 5) ** 2  # type: ignore[arg-type]
        axes.scatter(xy[:, 0], xy[:, 1], s=size, marker=marker, facecolors=face, edgecolors=look.ink,
                     linewidths=style.points(1.6), zorder=layers.Z_DOTS)  # fmt: skip
    layers.station(axes, look, site)
    most = float(norm.vmax or 1.0)
    bar = style.bar(figure, look, colours, norm, "Difference [dB]", x=x + BAR_X_PX, y=y + height - 92, length=BAR_PX,
                    ticks=[-most, 0.0, most])  # fmt: skip
    bar.set_xticklabels([f"{words.MINUS}{most:.0f}", "0", f"+{most:.0f}"])
    return axes


def _disc(figure: Figure, look: style.Theme, result: Result, far_km: float, bearing_deg: Any, x: float, y: float,
          width: float, height: float) -> tuple[Any, layers.Site]:  # fmt: skip
    """The map round the station with land, rings and rim."""
    from matplotlib.text import Text

    site = areas.station_site(result)
    radius_km = min(far_km * 1.04 + 50, basemap.RIM_KM - 1)
    side = min(width, height) - 2 * RIM_PX
    axes: Any = style.place(
        figure, x + width - RIM_PX - side, y + (height - side) / 2, side, side,
        projection=basemap.round_the_station(site.lon_deg, site.lat_deg),
    )  # fmt: skip
    axes.set_xlim(-radius_km * 1000, radius_km * 1000)
    axes.set_ylim(-radius_km * 1000, radius_km * 1000)
    for name in layers.rim(axes, look, radius_km):
        if isinstance(name, Text) and name.get_text().endswith("°"):
            at_x, at_y = name.get_position()
            name.set_position((at_x * _OUT, at_y * _OUT))
    layers.land(axes, look)
    radii = np.arange(1, 7) * layers.ring_step_km(radius_km)
    named = radii < 0.9 * radius_km  # a label on the rim would be cut
    layers.rings(axes, look, site, list(radii[named]), label_bearing_deg=layers.clearest_bearing(bearing_deg))
    layers.rings(axes, look, site, list(radii[~named & (radii < radius_km)]))
    return axes, site


def _differences(values: pd.Series) -> Normalize:
    """A scale centred on 0 dB; a few wild receivers do not stretch it."""
    from matplotlib.colors import Normalize

    known = values.dropna().abs()
    most = float(np.ceil(np.clip(known.quantile(0.9), 2.0, _MOST_DB))) if len(known) else 2.0
    return Normalize(-most, most, clip=True)
