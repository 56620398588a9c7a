"""Turn reception reports into an honest answer: how far, where to and when did a few watts reach?

All of it at once, each stage worked out when it is first asked for:

    >>> import reach
    >>> w = reach.walk("sample_spots/evening.toml")
    >>> w.reach.headline.reports
    1580
    >>> w.comparison
    <Comparison of vertical and wire: no clear difference, 778 pairs>
    >>> ax = w.plot.map()                                     # or onto axes of your own: w.plot.map(ax)
    >>> ax.get_title(loc="left").startswith("Half of 1")
    True

`print(w)` says the answer in six lines; `w.spots`, `w.suspects`, `w.problems`, `w.receivers` are tables, `w.reach` and
`w.comparison` (`w.several` of more than two setups) small objects, `w.plot.map()` and the other pictures axes, and `w.write("folder")` writes page, pictures
and tables.

Or stage by stage, tables in and tables out (`reach.spots` describes them):

    >>> study = reach.load_study("sample_spots/evening.toml")
    >>> raw = reach.read("sample_spots/evening.csv")          # text, with source and line
    >>> raw = reach.assign(raw, study)                        # + setup and session, as the study tells
    >>> vetted = reach.vet(raw, station=study.station)        # .spots, .problems, .counts
    >>> placed = reach.place(vetted.spots)                    # + distance_km, bearing_deg, country, day and night
    >>> doubts = reach.suspects(placed)                       # .spots with trust, .suspects
    >>> int((doubts.spots["trust"] == "corroborated").sum())
    1580
    >>> counted = reach.tally(doubts.spots)                   # counts that can be added: reach.merge
    >>> found = reach.measure(counted)                        # how far, where to, when, with intervals
    >>> round(found.headline.median_km.value), found.headline.farthest.call
    (2083, 'VK7QSZ')
    >>> verdict = reach.compare(doubts.spots, "vertical", "wire")   # power_difference_db=...: taken off
    >>> verdict.pairs, round(verdict.low_db, 1), round(verdict.high_db, 1)
    (778, -0.7, 1.3)
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

# These modules hold little more than the functions below; numpy, pandas and the rest are imported by the first call, so
# that `reach --help` is instant. A folder and its function share a name: here the function has it, and
# `from reach.read import headers` still finds the folder.
from reach.assign import assign
from reach.compare import compare
from reach.errors import ReachError
from reach.measure import measure
from reach.place import place
from reach.read import read
from reach.suspects import suspects
from reach.vet import vet
from reach.walk import Walk, walk

if TYPE_CHECKING:
    import pandas as pd

    from reach.measure.tally import Tally
    from reach.study import Station as Station
    from reach.study import Study as Study
    from reach.study import load as load_study

__all__ = [
    "ReachError",
    "Station",
    "Study",
    "Walk",
    "assign",
    "compare",
    "load_study",
    "measure",
    "merge",
    "place",
    "read",
    "suspects",
    "tally",
    "vet",
    "walk",
]


def tally(spots: pd.DataFrame) -> Tally:
    """Count spots: the counts can be added, and everything but the comparison is read from them.

    spots : spot table; with the columns that `place` and `suspects` add, the counts carry them along
    Returns Tally: tally(all) equals merge(tally(part) for parts).
    """
    from reach.measure import tally as tallies

    return tallies.tally(spots)


def merge(tallies: Iterable[Tally]) -> Tally:
    """Add tallies up.

    tallies : any number, all of spots at the same stage
    Returns the Tally of all their spots together, the same in whatever order they come.
    """
    from reach.measure import tally as module

    return module.merge(tallies)


def __getattr__(name: str) -> Any:
    # A study is checked by a library that would slow down the start, so its names are looked up when asked for.
    if name == "__version__":
        from importlib.metadata import version

        return version("reach")
    found = {"Study": "Study", "Station": "Station", "load_study": "load"}
    if name not in found:
        raise AttributeError(f"module 'reach' has no attribute {name!r}")
    from reach import study

    return getattr(study, found[name])


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
