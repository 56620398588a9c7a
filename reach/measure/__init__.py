"""Count and sum up: the tally (counts that can be added), and every headline with its interval read from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reach.measure.reach import Reach
    from reach.measure.tally import Tally
    from reach.radio.power import Power


def measure(tally: Tally, *, power: Mapping[tuple[str, str], Power] | None = None) -> Reach:
    """How far, where to and when.

    tally : of spots with their places and `trust`
    power : by (setup, band), setup "" for spots without one; figures per watt are NaN where it is left out
    Returns Reach: .headline rests on corroborated locators alone; .all, .corroborated with bands and setups; .to_dict()
    is what summary.json holds.
    """
    from reach.measure import reach

    return reach.reach(tally, power=power)
