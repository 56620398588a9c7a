"""When days begin where setups take turns by the day: held against every change of setup gone through by hand."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from reach.compare import days

DAY = 1440


def _odd(minutes, is_a, begin):
    """How many reports lie on a day with more of the other setup, where days begin so; a day with as many of both is A's."""
    of_day = {}
    for minute, a in zip(minutes, is_a, strict=True):
        of_day.setdefault((minute - begin) // DAY, []).append(a)
    return sum(each.count(False) if 2 * sum(each) >= len(each) else sum(each) for each in of_day.values())


@given(
    st.lists(
        st.tuples(st.integers(0, 6 * DAY // 30), st.booleans()), min_size=1, max_size=40, unique_by=lambda row: row[0]
    )
)
def test_days_begin_in_the_middle_of_the_change_that_leaves_fewest_on_the_wrong_day(rows):
    minutes, is_a = zip(*sorted((30 * at, a) for at, a in rows), strict=True)
    changes = [
        (later - earlier, (earlier + later) / 2 % DAY)
        for earlier, later, one, other in zip(minutes, minutes[1:], is_a, is_a[1:], strict=False)
        if one != other
    ]
    longest_first = [middle for _, middle in sorted(changes, key=lambda each: -each[0])] or [0.0]
    begin = min(longest_first, key=lambda middle: _odd(minutes, is_a, middle))  # of as few, the longest silence
    day, keep, found = days.days(np.array(minutes, float), np.array(is_a))
    number = [int((minute - begin) // DAY) for minute in minutes]
    assert found == begin
    assert day.tolist() == [each - min(number) for each in number]
    assert (~keep).sum() == _odd(minutes, is_a, begin)
