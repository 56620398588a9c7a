"""Turn reception reports into an honest answer: how far, where to and when did a few watts reach?

The walk, tables in and tables out (reach.spots describes them):

    raw = reach.read("spots.csv")                       text, with source and line
    vetted = reach.vet(raw, station=station)            .spots, .problems, .counts
    spots = reach.place(vetted.spots)                   + distance_km, bearing_deg, ...
    counted = reach.tally(spots)                        counts that can be added: reach.merge
    summary = reach.summary(counted, reach.paths(spots))
    verdict = reach.compare(spots, a="vertical", b="wire")

or all of it, as the command line does: `reach.walk(study)` for the findings, `reach.run(study, out=...)` for a folder.
Each step is imported when it is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from reach.compare import compare
from reach.errors import ReachError

if TYPE_CHECKING:
    from reach.measure.summary import receivers as receivers
    from reach.measure.summary import summarise as summary  # noqa: F401
    from reach.measure.tally import merge as merge
    from reach.measure.tally import tally as tally
    from reach.place.place import paths as paths
    from reach.place.place import place as place
    from reach.read.table import read as read
    from reach.study import Station as Station
    from reach.study import Study as Study
    from reach.study import load as load_study  # noqa: F401
    from reach.vet.rules import vet as vet
    from reach.walk import run as run
    from reach.walk import walk as walk

# Public name -> where it lives. Steps that are folders too come without a function: the folder itself is called.
_HOME = {
    "read": "reach.read",
    "vet": "reach.vet",
    "place": "reach.place",
    "paths": "reach.place.place:paths",
    "tally": "reach.measure.tally:tally",
    "merge": "reach.measure.tally:merge",
    "summary": "reach.measure.summary:summarise",
    "receivers": "reach.measure.summary:receivers",
    "walk": "reach.walk:walk",
    "run": "reach.walk:run",
    "Study": "reach.study:Study",
    "Station": "reach.study:Station",
    "load_study": "reach.study:load",
}

__all__ = ["ReachError", "compare", *_HOME]


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("reach")
    if name not in _HOME:
        raise AttributeError(f"module 'reach' has no attribute {name!r}")
    module, _, attribute = _HOME[name].partition(":")
    found = import_module(module)
    return getattr(found, attribute) if attribute else found


def __dir__() -> list[str]:
    return sorted([*globals(), *_HOME])
