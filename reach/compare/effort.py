"""How long to alternate for a wanted half-width: the law fitted to simulated sessions.

half-width [dB, 95 %] = k * hours^-a * receivers^-b, receivers being those heard with both setups. Fitted over 1.5 to
36 h and 5 to 170 receivers, continuous transmission; good to about 25 %. METHOD.md has the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np


@dataclass(frozen=True)
class Law:
    """One design's law.

    block_min  length of a block; 0 where both setups are on the air at once
    shortest_hours  a shorter session is refused or was never tried
    """

    block_min: float
    k: float
    a: float
    b: float
    shortest_hours: float


TOGETHER: Final = Law(0.0, 1.93, 0.32, 0.51, 1.5)
LAWS: Final = (
    Law(2.0, 3.57, 0.36, 0.43, 1.5),
    Law(10.0, 4.00, 0.39, 0.31, 2.0),
    Law(20.0, 5.73, 0.45, 0.27, 4.0),
    Law(30.0, 6.48, 0.43, 0.26, 6.0),
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


def about(hours: float) -> str:
    """'about 2.5 hours', 'about 40 hours'."""
    return f"about {hours:.1f} hours" if hours < 9.95 else f"about {hours:.0f} hours"
