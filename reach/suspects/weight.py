"""How much a suspect matters: by how much the headline distances change when its spots are left out."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from reach.suspects.claims import Claims

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

SHARES: Final = (0.5, 0.9)  # median and 90th percentile: headlines beside the farthest


def weights_km(claims: Claims, suspect: Flags) -> Floats:
    """By how much the spots of each claim move a headline distance.

    suspect : bool, shape (claims,)
    Returns km, shape (claims,), 0 for claims that are no suspects: the largest of how far it lies beyond the farthest
    spot that is no suspect, and of the changes of the median and the 90th percentile without it, over all spots and
    over each band of its own.
    """
    weight = np.zeros(len(claims))
    if not suspect.any():
        return weight
    bands = np.unique(claims.cell_band[suspect[claims.cell_claim]])
    for inside in (np.ones(len(claims.cell_claim), dtype=bool), *(claims.cell_band == band for band in bands)):
        np.maximum(weight, _in(claims, suspect, np.flatnonzero(inside)), out=weight)
    return weight


def _in(claims: Claims, suspect: Flags, cells: Ints) -> Floats:
    """The same over some cells alone."""
    cells = cells[np.argsort(claims.cell_distance_km[cells], kind="stable")]
    km, n, claim = claims.cell_distance_km[cells], claims.cell_reports[cells], claims.cell_claim[cells]
    weight = np.zeros(len(claims))
    sound = ~suspect[claim]
    farthest = km[sound][-1] if sound.any() else 0.0
    mine = suspect[claim]
    np.maximum.at(weight, claim[mine], np.maximum(km[mine] - farthest, 0.0))
    reached = np.cumsum(n)
    own = np.bincount(claim, weights=n, minlength=len(claims))
    some = np.unique(claim[mine])
    some = some[own[some] < reached[-1]]
    for share in SHARES:
        now = km[np.searchsorted(reached, share * reached[-1])]
        # Without its own reports: a quantile below the claim does not miss them in the running sum, one beyond it does.
        aim = share * (reached[-1] - own[some])
        below = km[np.searchsorted(reached, aim)]
        beyond = km[np.minimum(np.searchsorted(reached, aim + own[some]), len(km) - 1)]
        then = np.where(below < claims.distance_km[some], below, beyond)
        weight[some] = np.maximum(weight[some], np.abs(then - now))
    return weight
