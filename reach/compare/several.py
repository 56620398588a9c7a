"""Three to eight setups at once: every two of them compared as two, and all of it brought together.

Each pair that alternated closely enough is an edge of a graph, with its own difference. One level a setup is fitted to all
edges at once, by least squares, each edge weighing as much as it is sure; only differences of levels are ever shown. Their
intervals hold all together: with five setups there are ten differences, and one in twenty of the single intervals would
miss. Setups without an edge to the others cannot be compared with them, and are named.
Sources: Rucker (2012), Network meta-analysis, electrical networks and graph theory, Research Synthesis Methods 3, 312-324,
for the fit; Kramer (1956), Extension of multiple range tests to group means with unequal numbers of replications,
Biometrics 12, 307-310, and Hayter (1984), Annals of Statistics 12, 61-75, for the studentized range.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from reach.assign.clock import ClockFit
from reach.assign.powers import Powers
from reach.compare import checks, estimate, evidence, variance
from reach.compare.checks import Refusal
from reach.compare.comparison import Remark, plain
from reach.compare.reports import Floats, Ints
from reach.compare.variance import Scores
from reach.errors import CompareError

if TYPE_CHECKING:
    from reach.compare.evidence import Evidence
    from reach.compare.variance import Spread

FEWEST, MOST = 3, 8
CONFIDENCE: Final = 0.95
MOST_DF: Final = 200
# Intervals that should hold together fell short in simulation (SEVERAL.md), so they are wider by this: the more so, the farther
# apart in time reports are paired, as a band is no straight line and the same far neighbour serves many.
CAUTIOUS: Final = (1.15, 1.3)
CAUTIOUS_MIN: Final = (14.0, 60.0)
OFF_DB: Final = 1.0  # by so much, and by twice its own error, an edge must miss the fit before it is told
OFF_ERRORS: Final = 2.0


class Standing(StrEnum):
    """What can be said of the order.

    ONE_BEST     nobody is above it, and it is above somebody
    SHARED_TOP   several have nobody above them, and they cannot be told apart
    NONE_SHOWN   no two can be told apart
    CANNOT_TELL  no two could be compared
    """

    ONE_BEST = "one best"
    SHARED_TOP = "several at the top"
    NONE_SHOWN = "no difference shown"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class Edge:
    """Two setups compared as two, or why they cannot be. A minus B [dB].

    low_db, high_db  the interval of this pair alone, by its own reports
    reason, next_step  why it cannot be told, None otherwise
    off_db           by how much it misses what all pairs together say
    """

    a: str
    b: str
    pairs: int
    receivers: int
    difference_db: float | None = None
    error_db: float | None = None
    low_db: float | None = None
    high_db: float | None = None
    power_difference_db: float | None = None
    reason: Remark | None = None
    next_step: Remark | None = None
    off_db: float | None = None


@dataclass(frozen=True)
class Difference:
    """Two setups told by all pairs together, the stronger in the estimate first. Upper minus lower [dB].

    low_db, high_db  95 % for all differences together; alone_low_db, alone_high_db for this one alone
    apart            whether the interval leaves 0 out
    """

    upper: str
    lower: str
    difference_db: float
    low_db: float
    high_db: float
    alone_low_db: float
    alone_high_db: float

    @property
    def apart(self) -> bool:
        return self.low_db > 0


@dataclass(frozen=True, repr=False)
class Several:
    """Several setups compared at once.

    setups       as asked
    standing     what can be said of the order
    order        those that can be compared, by their fitted level, the strongest first: an order of estimates, not a ranking
    top          those with nobody above them; nobody where nothing can be told
    tied         pairs outside the top of which neither is above the other
    differences  of every two in `order`
    edges        every two that were asked, in the order of `setups`
    unconnected  setups that cannot be compared with those in `order`
    misfit       pairs whose own difference does not add up with the others
    confidence   of all intervals together
    reports      by setup; receivers, pairs : behind the edges that count
    refusal, next_step  why nothing can be told at all; None otherwise
    direction    sent | heard
    """

    setups: tuple[str, ...]
    standing: Standing
    order: tuple[str, ...]
    top: tuple[str, ...]
    tied: tuple[tuple[str, str], ...]
    differences: tuple[Difference, ...]
    edges: tuple[Edge, ...]
    unconnected: tuple[str, ...]
    misfit: tuple[Edge, ...]
    reports: Mapping[str, int]
    receivers: int
    pairs: int
    refusal: Remark | None = None
    next_step: Remark | None = None
    confidence: float = CONFIDENCE
    direction: str = "sent"

    def __repr__(self) -> str:
        return f"<Several: {', '.join(self.setups)}: {self.standing.value}>"

    def between(self, one: str, other: str) -> Difference | None:
        """The difference of two, whichever stands above; None where they cannot be compared."""
        pair = {one, other}
        return next((each for each in self.differences if {each.upper, each.lower} == pair), None)

    @property
    def alike(self) -> tuple[tuple[str, ...], ...]:
        """Setups of which no two can be told apart, in groups that hold every pair of `tied`: fewer words for the same."""
        above = {frozenset((each.upper, each.lower)) for each in self.differences if each.apart}
        groups: list[tuple[str, ...]] = []
        for pair in self.tied:
            if not any(set(pair) <= set(group) for group in groups):
                inside = set(pair)
                for name in self.order:
                    if not any(frozenset((name, other)) in above for other in inside - {name}):
                        inside.add(name)
                groups.append(tuple(name for name in self.order if name in inside))
        return tuple(groups)

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON, under the field names, codes as their text; numbers to a millionth."""
        return {key: plain(value) for key, value in asdict(self).items()}


@dataclass(frozen=True)
class Scored:
    """An edge for the fit.

    difference_db, error_db, df  of the pair alone
    time_min    of each contrast, since 1970, shape (m,); receiver : numbered alike over all edges, shape (m,)
    push        what each adds to the error of the difference; share : its weight, summing to 1; both shape (m,)
    width_min   contrasts of it so far apart in time count as unrelated
    within_min  how far apart in time reports were still paired
    """

    difference_db: float
    error_db: float
    df: float
    time_min: Floats
    receiver: Ints
    push: Floats
    share: Floats
    width_min: float
    within_min: float


def several(
    spots: pd.DataFrame,
    setups: Sequence[str],
    *,
    powers: Mapping[tuple[str, str], Powers | None] | None = None,
    clock: ClockFit | None = None,
    decoding_limit_db: float | None = None,
) -> Several:
    """Which of three to eight setups is best, as far as it can be told.

    spots : as `compare.compare` needs them; setups : names of `setup`, all different
    powers : what rows and study tell of each two, in the order of `setups`; where left out no power is taken off
    clock, decoding_limit_db : as there
    Returns Several. CompareError where the question itself is wrong. With two setups ask `compare.compare`.
    """
    names = tuple(setups)
    if not FEWEST <= len(names) <= MOST or len(set(names)) < len(names):
        raise CompareError(
            f"three to eight different setups can be compared at once, not {', '.join(map(repr, names))}"
        )
    doubt = checks.in_doubt(None, clock)
    everyone: dict[tuple[str, str], int] = {}  # receivers (callsign, square), numbered alike for all pairs
    edges, scored = [], {}
    for a, b in combinations(names, 2):
        edge, score = _edge(spots, a, b, (powers or {}).get((a, b)), decoding_limit_db, everyone, doubt)
        edges.append(edge)
        if score is not None:
            scored[a, b] = score
    # Reports are of whole pairs, so each setup is counted where it was told apart from any other.
    counts = {name: int((spots["setup"].astype(object) == name).sum()) for name in names}
    return _together(names, edges, scored, counts, doubt)


def _edge(
    spots: pd.DataFrame,
    a: str,
    b: str,
    powers: Powers | None,
    decoding_limit_db: float | None,
    everyone: dict[tuple[str, str], int],
    doubt: Refusal | None,
) -> tuple[Edge, Scored | None]:
    """Two of the setups compared as two, and the scores behind it where they could be."""
    labelled = evidence.label(spots, a, b, unheard=True)
    power_db, taken_db = evidence.power(labelled, powers, None if powers is None else powers.difference_db)
    refusal = doubt or checks.in_doubt(powers, None)
    refusal = refusal or checks.unheard(int(labelled.is_a.sum()), int((~labelled.is_a).sum()))
    edge = Edge(a, b, 0, 0, power_difference_db=taken_db)
    if refusal is not None:
        return replace(edge, reason=refusal.reason, next_step=refusal.next_step), None
    data = evidence.gather(labelled, a, b, power_db, decoding_limit_db)
    refusal = checks.confounded(data.design, evidence.naive_db(data.reports))
    if refusal is not None:
        return replace(edge, reason=refusal.reason, next_step=refusal.next_step), None
    found = estimate.fit(data.reports, data.limit, data.design)
    spread = checks.enough(data, found)
    if isinstance(spread, Refusal) or found is None:
        assert isinstance(spread, Refusal)
        return replace(edge, reason=spread.reason, next_step=spread.next_step), None
    score = _scored(data, found, spread, everyone)
    low, high = variance.interval(score.difference_db, score.error_db, score.df)
    told = replace(
        edge, pairs=len(found.pairs.row), receivers=len(np.unique(score.receiver)), difference_db=score.difference_db,
        error_db=score.error_db, low_db=low, high_db=high,
    )  # fmt: skip
    return told, score


def _scored(data: Evidence, found: estimate.Fit, spread: Spread, everyone: dict[tuple[str, str], int]) -> Scored:
    number = np.array(
        [everyone.setdefault(who, len(everyone)) for who in zip(data.who["rx_call"], data.who["square"], strict=True)],
        dtype=np.int64,
    )
    scores = variance.scores(data.reports, found, variance.width_min(data.reports, data.design))
    error_db, df = _error(spread)
    return Scored(
        found.pooled.difference_db, error_db, df,
        data.reports.time_min[found.pairs.row] + data.cleaned.start_us / 60e6,
        number[scores.receiver], scores.push, scores.share, scores.width_min,
        data.design.within_min,
    )  # fmt: skip


def _error(spread: Spread) -> tuple[float, float]:
    """The standard error that an interval is made of, and its degrees of freedom: few receivers speak for themselves alone."""
    if spread.receivers >= variance.ENOUGH_RECEIVERS:
        return spread.like, spread.like_df
    return spread.these, spread.these_df


def _together(
    names: tuple[str, ...],
    edges: list[Edge],
    scored: dict[tuple[str, str], Scored],
    counts: dict[str, int],
    doubt: Refusal | None,
) -> Several:
    """What all pairs say together."""
    group = connected(names, list(scored))
    used = {pair: edge for pair, edge in scored.items() if set(pair) <= set(group)}
    level_db, projection = fitted(group, used) if group else (np.zeros(0), np.zeros((0, 0)))
    order = tuple(group[k] for k in np.argsort(-level_db, kind="stable"))
    differences = tuple(_difference(one, other, group, used, projection) for one, other in combinations(order, 2))
    says, top, tied = standing(order, differences)
    place = {name: k for k, name in enumerate(group)}
    edges = [
        replace(edge, off_db=float(edge.difference_db - level_db[place[edge.a]] + level_db[place[edge.b]]))
        if edge.difference_db is not None and {edge.a, edge.b} <= set(group)
        else edge
        for edge in edges
    ]
    misfit = tuple(
        edge
        for edge in edges
        if edge.off_db is not None and abs(edge.off_db) > max(OFF_DB, OFF_ERRORS * (edge.error_db or 0.0))
    )
    receivers = np.unique(np.concatenate([edge.receiver for edge in used.values()])) if used else ()
    return Several(
        setups=names, standing=says, order=order, top=top, tied=tied, differences=differences, edges=tuple(edges),
        unconnected=tuple(name for name in names if name not in group), misfit=misfit, reports=counts,
        receivers=len(receivers), pairs=sum(len(edge.share) for edge in used.values()),
        refusal=None if doubt is None else doubt.reason, next_step=None if doubt is None else doubt.next_step,
    )  # fmt: skip


def _difference(
    one: str, other: str, group: tuple[str, ...], used: dict[tuple[str, str], Scored], projection: Floats
) -> Difference:
    """Two fitted levels against each other, with the error of the weighted sum of edges that it is."""
    coefficient = projection[group.index(one)] - projection[group.index(other)]
    edges = list(used.values())
    error_db, df = _error(variance.spread(stacked(edges, coefficient)))
    df = min([df, *(edge.df for edge in edges)])
    value_db = float(coefficient @ [edge.difference_db for edge in edges])
    wider = cautious(max(edge.within_min for edge in edges))
    half_db = wider * all_together(len(group), round(min(df, MOST_DF), 1)) * error_db
    alone = variance.interval(value_db, wider / CAUTIOUS[0] * error_db, df)
    return Difference(one, other, value_db, value_db - half_db, value_db + half_db, *alone)


# --- from edges to levels ---------------------------------------------------------------------------------------------


def connected(setups: Sequence[str], edges: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The largest set of setups that edges join, in the order given; of equally large ones that with the first setup.

    Nothing where there is no edge.
    """
    group = {name: {name} for name in setups}
    for a, b in edges:
        joined = group[a] | group[b]
        for name in joined:
            group[name] = joined
    largest = max((group[name] for name in setups), key=len, default=set())
    return tuple(name for name in setups if name in largest) if len(largest) > 1 else ()


def fitted(setups: Sequence[str], edges: Mapping[tuple[str, str], Scored]) -> tuple[Floats, Floats]:
    """One level a setup from all edges.

    setups : S connected ones; edges : E of them, (a, b) -> A minus B
    Returns (level_db, shape (S,), summing to 0; projection, shape (S, E): level = projection @ differences). Adding a
    constant to the reports of one setup moves its level alone against all others.
    """
    place = {name: k for k, name in enumerate(setups)}
    x = np.zeros((len(edges), len(setups)))
    for row, (a, b) in enumerate(edges):
        x[row, place[a]], x[row, place[b]] = 1.0, -1.0
    weight = np.array([1 / edge.error_db**2 for edge in edges.values()])
    projection = np.linalg.pinv(x.T @ (weight[:, None] * x)) @ (x.T * weight)
    return projection @ np.array([edge.difference_db for edge in edges.values()]), projection


def stacked(edges: Sequence[Scored], coefficient: Floats) -> Scores:
    """The scores of a weighted sum of edges on one axis of time: so the fading that they share is counted once.

    coefficient : shape (E,)
    """
    share = np.abs(coefficient) / np.abs(coefficient).sum()
    return Scores(
        push=np.concatenate([c * edge.push for c, edge in zip(coefficient, edges, strict=True)]),
        share=np.concatenate([c * edge.share for c, edge in zip(share, edges, strict=True)]),
        receiver=np.concatenate([edge.receiver for edge in edges]),
        time_min=np.concatenate([edge.time_min for edge in edges]),
        width_min=max(edge.width_min for edge in edges),
    )


@cache
def all_together(setups: int, df: float, level: float = CONFIDENCE) -> float:
    """How many standard errors every difference of so many setups stays within, at once, with that probability."""
    from scipy.stats import studentized_range

    return float(studentized_range.ppf(level, setups, min(df, MOST_DF)) / np.sqrt(2))


def cautious(within_min: float) -> float:
    """What intervals of setups paired over so long at most are widened by."""
    return float(np.interp(within_min, CAUTIOUS_MIN, CAUTIOUS))


# --- what may be said -------------------------------------------------------------------------------------------------


def standing(
    order: Sequence[str], differences: Sequence[Difference]
) -> tuple[Standing, tuple[str, ...], tuple[tuple[str, str], ...]]:
    """(what can be said of the order, who has nobody above, pairs further down that cannot be told apart)."""
    above = {(each.upper, each.lower) for each in differences if each.apart}
    top = tuple(name for name in order if not any(lower == name for _, lower in above))
    if not order:
        return Standing.CANNOT_TELL, (), ()
    if not above:
        return Standing.NONE_SHOWN, tuple(order), ()
    tied = tuple(
        (one, other)
        for one, other in combinations(order, 2)
        if (one, other) not in above and (other, one) not in above and not {one, other} <= set(top)
    )
    return (Standing.ONE_BEST if len(top) == 1 else Standing.SHARED_TOP), top, tied
