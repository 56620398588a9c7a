"""Whose row it is: which setup and session was on the air at that time."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from reach.study import Study


def assign(raw: pd.DataFrame, study: Study) -> pd.DataFrame:
    """Name the setup and session of each row, as far as a study tells them.

    raw : as `read` returns it
    study : its sessions and its schedule are used; what a row says itself wins
    Returns a new raw table. StudyError where the schedule has a mistake.
    """
    from reach.assign import sessions

    return sessions.assign(raw, study)
