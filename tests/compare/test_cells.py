"""The parts of a comparison at their edges: where rings and sectors begin, and what more time would do, by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reach.compare import cells, checks
from reach.compare.comparison import Refused, Remark, Verdict
from reach.compare.design import Alternation


@pytest.mark.parametrize(
    ("km", "zone", "ring"),
    [
        (0.0, "0-1500", "0-500"),
        (1499.9, "0-1500", "1000-1500"),
        (1500.0, "1500-3000", "1500-2000"),
        (3000.0, "3000-20100", "3000-5000"),
        (np.nan, None, None),
    ],
)
def test_a_ring_holds_its_inner_edge_and_not_its_outer_one(km, zone, ring):
    where = cells.Geometry(np.array([km]), None, None, ())
    found = {part.by: part.name for part in cells._parts(where, pd.Series(["20m"])) if part.mask.any()}
    assert found == {"band": "20m"} | ({"zone": zone, "ring": ring} if zone else {})


@pytest.mark.parametrize(
    ("bearing_deg", "point", "start", "end"),
    [(345.0, "N", 345.0, 15.0), (0.0, "N", 345.0, 15.0), (14.9, "N", 345.0, 15.0), (15.0, "NNE", 15.0, 45.0), (180.0, "S", 165.0, 195.0),
     (344.9, "NNW", 315.0, 345.0), (np.nan, None, None, None)],
)  # fmt: skip
def test_sectors_are_thirty_degrees_about_north_and_so_on(bearing_deg, point, start, end):
    found = [(part.name, part.start, part.end) for part in cells._sectors(np.array([bearing_deg])) if part.mask.any()]
    assert found == ([(point, start, end)] if point else [])
    assert [part.name for part in cells._sectors(np.array([0.0]))] == list(cells.POINTS)


def _design(period_min: float, together: bool = False) -> Alternation:
    nothing = np.zeros(0)
    return Alternation(together, period_min, 20.0, 20.0, 2.0, 9, 9, nothing, nothing.astype(bool))


def _fitted(receivers: int, pairs: int, times: float, hours: float, reason: Remark | None = None) -> cells._Fitted:
    return cells._Fitted(None, None, receivers, pairs, times, reason or checks.lacking(receivers, pairs, times), hours)


def _more(one: cells._Fitted, told: Alternation, by: str = "band") -> float | None:
    return cells._more_hours(cells._Part(by, "20m", None, None, np.ones(1, bool)), one, told)


def test_a_part_that_lacks_pairs_or_stretches_needs_so_much_more_at_its_pace():
    """In six hours 10 pairs of 20 and 3 stretches of 4: six hours more for the pairs; two turns of the setups at least."""
    assert _more(_fitted(5, 10, 3.0, 6.0), _design(10.0)) == pytest.approx(6.0)
    assert _more(_fitted(5, 25, 3.0, 6.0), _design(10.0)) == pytest.approx(2.0)
    assert _more(_fitted(3, 19, 4.0, 0.95), _design(10.0)) == pytest.approx(20 / 60)
    assert _more(_fitted(3, 19, 4.0, 0.95), _design(10.0, together=True)) == pytest.approx(0.05)
    assert _more(_fitted(3, 19, 4.0, 0.95), _design(120.0)) == pytest.approx(
        3.0
    )  # of blocks that long no more is asked than of 90
    assert _more(_fitted(5, 5, 4.0, 1.0), _design(2.0)) == pytest.approx(3.0)


def test_a_band_with_hardly_a_pair_is_given_the_shortest_session_and_other_parts_nothing():
    """Three hours of ten-minute blocks; who has had them gets no other promise."""
    assert _more(_fitted(3, 4, 1.0, 2.9), _design(10.0)) == pytest.approx(3.0)
    assert _more(_fitted(3, 4, 1.0, 3.0), _design(10.0)) is None
    assert _more(_fitted(0, 0, 0.0, 1.0), _design(10.0)) == pytest.approx(3.0)
    assert _more(_fitted(3, 4, 1.0, 0.5), _design(2.0, together=True)) == pytest.approx(1.5)
    assert _more(_fitted(3, 4, 1.0, 2.9), _design(10.0), by="zone") is None
    assert _more(_fitted(3, 4, 1.0, 1.0), _design(np.inf)) == pytest.approx(7.5)


def test_time_does_not_help_where_one_or_two_receivers_heard_both_or_reports_lie_at_the_limit():
    assert (
        _more(_fitted(1, 10, 3.0, 6.0), _design(10.0)) is None
        and _more(_fitted(2, 10, 3.0, 6.0), _design(10.0)) is None
    )
    assert _more(_fitted(5, 30, 5.0, 6.0, Remark(Refused.AT_DECODING_LIMIT)), _design(10.0)) is None
    assert _more(_fitted(5, 30, 5.0, 6.0), _design(10.0)) is None


def test_a_part_that_cannot_be_told_keeps_its_counts_and_only_a_band_has_a_verdict():
    for by, verdict in (("band", Verdict.CANNOT_TELL), ("zone", None)):
        part = cells._Part(by, "x", 1.0, 2.0, np.ones(1, bool))
        told = cells._cell(part, _fitted(5, 10, 3.0, 6.0), None, 0, _design(10.0))
        assert (told.receivers, told.pairs, told.times, told.shown, told.verdict, told.differs) == (
            5,
            10,
            3.0,
            False,
            verdict,
            False,
        )
        assert cells._cell(part, _fitted(0, 0, 0.0, 6.0), None, 0, _design(10.0)).times is None
