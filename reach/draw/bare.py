"""Maps without words around them, drawn into a place on a figure: for slides, which say the words themselves.

Each has its scale of colours in a corner and nothing else that needs reading.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from reach.draw import areas, basemap, findings, layers, maps, style, versus, words
from reach.result import Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

RIM_PX: Final = 46  # round the disc, for bearings
BAR_PX: Final = 240
BAR_X_PX: Final = 24  # so that the name of its first tick is not cut
_OUT: Final = 1.035  # names of bearings: farther out than on a large map, where a px is less of the disc
_STEP_DB: Final = 5


def heard(
    figure: Figure, look: style.Theme, result: Result, *, x: float, y: float, width: float, height: float
) -> Axes:
    """Who heard the station, round the station, coloured by median SNR; those not counted hollow.

    x, y, width, height : the place [px]; the disc is as high as it and lies at its right end
    Returns the map's axes.
    """
    sure, others = findings.receivers(result)
    axes, site = _disc(figure, look, result, result.receivers["distance_km"], sure["bearing_deg"], x, y, width, height)
    maps.heard(axes, look, site, sure, others)
    if not len(sure):  # nothing is coloured
        return axes
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
    axes, site = _disc(figure, look, result, table["distance_km"], table["bearing_deg"], x, y, width, height)
    colours, norm = style.diverging(look.diverging), versus.scale(table["difference_db"])
    versus.dots(axes, look, table, norm)
    layers.station(axes, look, site)
    most = float(norm.vmax or 1.0)
    bar = style.bar(figure, look, colours, norm, "Difference [dB]", x=x + BAR_X_PX, y=y + height - 92, length=BAR_PX,
                    ticks=[-most, 0.0, most])  # fmt: skip
    bar.set_xticklabels([f"{words.MINUS}{most:.0f}", "0", f"+{most:.0f}"])
    return axes


def _disc(figure: Figure, look: style.Theme, result: Result, distance_km: pd.Series, bearing_deg: Any, x: float,
          y: float, width: float, height: float) -> tuple[Any, layers.Site]:  # fmt: skip
    """The map round the station with land, rings and rim."""
    from matplotlib.text import Text

    site = areas.station_site(result)
    radius_km = maps.radius_km(distance_km)
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
