"""How long to alternate for a wanted half-width: the law fitted to simulated sessions.

half-width [dB, 95 %] = k * hours^-a * receivers^-b, receivers being those with pairs. Fitted by tests/compare/effort_fit
over 1 to 24 h and 8 to 180 listeners, blocks in random order within pairs, a transmission every two minutes; two sessions
in three lie within a factor of 1.3 to 1.5. METHOD.md has the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np


@dataclass(frozen=True)
class Law:
    """One design's law.

    block_min  length of a block; 0 where both setups are on the air at once
    shortest_hours  a shorter session may be refused
    """

    block_min: float
    k: float
    a: float
    b: float
    shortest_hours: float


TOGETHER: Final = Law(0.0, 3.39, 0.45, 0.52, 1.5)
LAWS: Final = (
    Law(2.0, 3.60, 0.42, 0.32, 1.0),
    Law(5.0, 4.51, 0.51, 0.25, 1.5),
    Law(10.0, 6.11, 0.57, 0.19, 3.0),
    Law(20.0, 14.82, 0.72, 0.19, 5.0),
    Law(30.0, 27.48, 0.92, 0.13, 7.5),
)


def law(together: bool, block_min: float) -> Law:
    """The law for blocks of that length: between the fitted ones by the logarithm of the length, at the ends theirs."""
    if together:
        return TOGETHER
    lengths = np.log([one.block_min for one in LAWS])
    at = np.log(np.clip(block_min, LAWS[0].block_min, LAWS[-1].block_min))
    named = ("k", "a", "b", "shortest_hours")
    k, a, b, shortest = (float(np.interp(at, lengths, [getattr(one, name) for one in LAWS])) for name in named)
    return Law(block_min, k, a, b, shortest)


def half_width_db(together: bool, block_min: float, receivers: float, hours: float) -> float:
    """What a session of that length should give."""
    one = law(together, block_min)
    return one.k * hours**-one.a * receivers**-one.b


def hours(together: bool, block_min: float, receivers: float, half_width: float) -> float:
    """Hours for a wanted half-width [dB]; never less than the shortest session of the design."""
    one = law(together, block_min)
    return max(one.shortest_hours, float((one.k * receivers**-one.b / half_width) ** (1 / one.a)))


def more_hours(together: bool, block_min: float, had_hours: float, had_db: float, half_width: float) -> float:
    """Hours in all for a wanted half-width, when some hours gave a known one."""
    return had_hours * (had_db / half_width) ** (1 / law(together, block_min).a)
