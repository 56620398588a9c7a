"""Which locators are probably wrong: claims compared with the world and with each other, and what was meant."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from reach.suspects.find import Doubts


def suspects(spots: pd.DataFrame) -> Doubts:
    """Find the locators that are probably wrong.

    spots : placed spot table, as `place` returns it
    Returns Doubts: .spots with `trust` added (spots.TRUST: corroborated, unconfirmed, suspect), .suspects (one row a
    doubted receiver and locator, heaviest first), .problems. Nothing is changed: what was probably meant is a suggestion.
    """
    from reach.suspects import find

    return find.find(spots)
