"""When a comparison is refused, and when it is only warned about: one sentence each, with what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reach.compare import effort
from reach.compare.design import FEWEST_RUNS, SLOWEST_MIN, Design
from reach.compare.estimate import Fit
from reach.compare.variance import Spread

FEWEST_RECEIVERS: Final = 3
FEWEST_PAIRS: Final = 20
FEWEST_TIMES: Final = 4.0
AT_FLOOR_SLOPE: Final = 0.6
AT_FLOOR_KEPT: Final = 0.25
NEAR_FLOOR_SLOPE: Final = 0.35
NEAR_FLOOR_KEPT: Final = 0.6
ALIKE: Final = (0.80, 1.25)
ALTERNATE: Final = (
    "Alternate the setups every 2 to 10 minutes for 3 hours or more; `reach plan` writes a schedule to follow."
)


@dataclass(frozen=True)
class Refusal:
    """Why it cannot be told and what to do next: one sentence each."""

    reason: str
    next_step: str


NOTHING: Final = Refusal("no report has a partner of the other setup close in time at the same receiver.", ALTERNATE)


def unheard(a: str, b: str, spots_a: int, spots_b: int) -> Refusal | None:
    """Both setups must have been heard."""
    if spots_a and spots_b:
        return None
    silent, other = (a, b) if not spots_a else (b, a)
    if not spots_a and not spots_b:
        return Refusal(f"nobody reported {a} or {b}.", ALTERNATE)
    return Refusal(f"only {other} was reported, {silent} never.", ALTERNATE)


def confounded(a: str, b: str, design: Design, naive_db: float) -> Refusal | None:
    """The setups must have changed places often and quickly enough, on one band at least."""
    if not design.confounded:
        return None
    nothing = f"the {abs(naive_db):.1f} dB between their mean reports say nothing about the antennas."
    if not design.runs_a or not design.runs_b:
        return Refusal(f"{a} and {b} were never on the air on the same band, so {nothing}", ALTERNATE)
    if min(design.runs_a, design.runs_b) < FEWEST_RUNS:
        why = (
            f"{a} was on the air in {_stretches(design.runs_a)} and {b} in {_stretches(design.runs_b)}, and at least "
            f"{FEWEST_RUNS} of each are needed; a band changes by several dB from hour to hour and day to day, so "
            f"{nothing}"
        )
        return Refusal(why, ALTERNATE)
    why = (
        f"{a} and {b} changed places every {_span(design.period_min)}, more than {SLOWEST_MIN:.0f} minutes apart; a "
        f"band changes by several dB in that time, so {nothing}"
    )
    return Refusal(why, ALTERNATE)


def _stretches(n: int) -> str:
    return f"{n} stretch" if n == 1 else f"{n} stretches"


def _span(minutes: float) -> str:
    return f"{minutes:.0f} minutes" if minutes < 120 else f"{minutes / 60:.0f} hours"


def too_little(design: Design, pairs: int, receivers: int, times: float, heard_both: int) -> Refusal | None:
    """There must be enough receivers, pairs and stretches of time."""
    lacks = [
        (receivers < FEWEST_RECEIVERS, f"pairs at {FEWEST_RECEIVERS} receivers are needed and there are {receivers}"),
        (pairs < FEWEST_PAIRS, f"{FEWEST_PAIRS} pairs are needed and there are {pairs}"),
        (
            times < FEWEST_TIMES,
            f"{FEWEST_TIMES:.0f} independent stretches of time are needed and there are {max(times, 0):.1f}",
        ),
    ]
    missing = [text for lack, text in lacks if lack]
    if not missing:
        return None
    hours = effort.hours(design.simultaneous, design.period_min, max(heard_both, FEWEST_RECEIVERS), 1.0)
    quicker = "" if design.simultaneous or design.period_min <= 10 else ", or less with blocks of 2 to 10 minutes"
    return Refusal(
        f"there is too little to go on: {'; '.join(missing)}.",
        f"Go on alternating: {effort.about(hours)} in all should tell 1 dB apart with this many receivers{quicker}.",
    )


def at_the_limit(found: Fit, kept: float, saturated: bool) -> Refusal | None:
    """Enough reports must lie above the level at which both setups are heard completely."""
    if found.slope <= AT_FLOOR_SLOPE and kept >= AT_FLOOR_KEPT:
        return None
    where = "the decoding limit or at saturation" if saturated else "the decoding limit"
    return Refusal(
        f"nearly all reports lie at {where}: {100 * kept:.0f} % are strong enough to have been heard with either "
        f"setup, and {min(max(found.slope, 0), 1):.2f} dB of every dB presumed comes back as result.",
        "Compare when the band is more open or with more power for both setups, so that most reports lie 6 dB or more "
        "above the weakest.",
    )


def carried(name: str, with_it: str, without: str) -> Refusal:
    """The claim must not hang on one receiver."""
    return Refusal(
        f"one receiver carries the result: with {name} it reads {with_it!r}, without it {without!r}.",
        "Go on alternating until more receivers have heard both setups; leave out a receiver next door.",
    )


def warnings(
    found: Fit, spread: Spread, kept: float, ratio: float | None, saturated: bool, names: tuple[str, str]
) -> tuple[str, ...]:
    """What weakens a result that stands. ratio : depth of fading, A over B; names : of A and B."""
    said = []
    if kept < NEAR_FLOOR_KEPT or found.slope > NEAR_FLOOR_SLOPE:
        where = "the decoding limit or saturation" if saturated else "the decoding limit"
        said.append(f"Near {where}: {100 * kept:.0f} % of the reports could be used; the interval allows for it.")
    if ratio is not None and not ALIKE[0] <= ratio <= ALIKE[1]:
        deeper = names[1] if ratio < 1 else names[0]
        said.append(
            f"The setups fade differently ({deeper} more deeply, ratio {ratio:.2f}): no single number of dB describes "
            "the difference, and this one may be off by half a dB or more."
        )
    if spread.receivers < 6:
        said.append(
            f"The weight lies on {spread.receivers:.1f} receivers: the interval speaks of these receivers only, not of "
            "others."
        )
    return tuple(said)
