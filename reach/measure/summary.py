"""The summary: how far, where to and when, read from a tally and a table of paths.

`summarise` gives the content of summary.json. Its keys, all numbers plain JSON (null where there is nothing to say):

period          first_utc, last_utc (ISO 8601)
power           the power that "per watt" is worked out with: entries setup ("" where spots carry none), band,
                power_w (null where it is not known), at ("antenna", or "radio" where losses are not known)
all             a block over all accepted spots
corroborated    the same over spots of corroborated receivers only: the one that headlines use
spots_between   how many spots stand behind the difference of the two

A block: overall (figures), by_band, by_setup ({name: figures}), by_band_and_setup ([{band, setup, figures}]).
Figures:
spots, receivers (distinct callsigns), places (distinct callsign and locator), squares (distinct first four
    characters), countries (distinct, of the receivers' cells)
median_km, p90_km       half, and nine in ten, of the spots came from within this distance
farthest                rx_call, rx_locator, country, distance_km, uncertainty_km, bearing_deg, bands, reports,
                        best_snr_db, first_utc, trust (spots.TRUST); null where there are no spots
km_per_watt             the most kilometres by watt of any path; null where a power is not known
median_snr_at_1_w_db    median SNR if every spot had been sent with 1 W; null where a power is not known
snr_db                  lowest, lower_quartile, median, upper_quartile, highest
by_hour                 24 counts, UTC hour of the day
by_sector               12 entries centre_deg, reports, receivers, median_km, p90_km; 30 degrees, the first on north
by_ring                 entries from_km, to_km, reports, receivers
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from reach.base import quantile
from reach.measure.tally import Tally
from reach.radio.power import Power
from reach.spots import CORROBORATED, RECEIVERS, RING_EDGES_KM, SECTOR_DEG, UNCONFIRMED

SECTORS = 360 // SECTOR_DEG


_PLACE = ["rx_call", "rx_locator"]


def summarise(
    tally: Tally,
    paths: pd.DataFrame,
    trust: pd.DataFrame | None = None,
    *,
    power: Mapping[tuple[str, str], Power] | None = None,
) -> dict[str, Any]:
    """How far, where to, when.

    tally : Tally; paths : spots.PATHS
    trust : rx_call, rx_locator, trust; a receiver that is not in it is unconfirmed
    power : by (setup, band), setup "" for spots without one
    Returns the documented content of summary.json (see the top of this module).
    """
    known = dict(power or {})
    rows = joined(tally, paths, trust)
    rows = rows.assign(power_w=_power_of(rows, known))
    sure = rows[(rows["trust"] == CORROBORATED).to_numpy()]
    return {
        "period": {"first_utc": _iso(rows["first_utc"].min()), "last_utc": _iso(rows["last_utc"].max())},
        "power": [
            {"setup": setup, "band": band, "power_w": _number(p.power_w), "at": p.at}
            for (setup, band), p in sorted(known.items())
        ],
        "all": _block(rows),
        "corroborated": _block(sure),
        "spots_between": int(rows["reports"].sum() - sure["reports"].sum()),
    }


def joined(tally: Tally, paths: pd.DataFrame, trust: pd.DataFrame | None = None) -> pd.DataFrame:
    """The tally's cells with the geometry of their path and the trust of their receiver, in the tally's order.

    Returns spots.TALLY + spots.PATHS + trust.
    """
    cells = tally.cells
    at = pd.MultiIndex.from_frame(paths[["tx_locator", "rx_locator"]].astype(object)).get_indexer(
        pd.MultiIndex.from_frame(cells[["tx_locator", "rx_locator"]].astype(object))
    )
    geometry = paths.drop(columns=["tx_locator", "rx_locator"]).take(at).set_axis(cells.index)
    return pd.concat([cells, geometry], axis=1).assign(trust=trust_of(cells, trust))


def trust_of(table: pd.DataFrame, trust: pd.DataFrame | None) -> Any:
    """How far the place of each row's receiver can be trusted (spots.TRUST), shape (rows,).

    table : has rx_call and rx_locator
    trust : rx_call, rx_locator, trust; a receiver that is not in it is unconfirmed
    """
    if trust is None:
        return pd.Categorical([UNCONFIRMED] * len(table))
    index = pd.MultiIndex.from_frame(trust[_PLACE].astype(object))
    at = index.get_indexer(pd.MultiIndex.from_frame(table[_PLACE].astype(object)))
    known = trust["trust"].astype(object).to_numpy()
    return pd.Categorical(np.append(known, UNCONFIRMED)[at])  # where there is none, at is -1: the last


def receivers(tally: Tally, paths: pd.DataFrame, trust: pd.DataFrame | None = None) -> pd.DataFrame:
    """One row a distinct receiver and locator, the one with most reports first.

    Returns spots.RECEIVERS. Where the station moved, geometry is that of the path with most reports.
    """
    rows = joined(tally, paths, trust)
    by_path = rows.groupby([*_PLACE, "tx_locator"], observed=True, sort=False)["reports"].transform("sum")
    busiest = rows.assign(_busy=by_path).sort_values("_busy", ascending=False, kind="stable")
    first = busiest.drop_duplicates(_PLACE).set_index(_PLACE)
    groups = rows.groupby(_PLACE, observed=True, sort=True)
    table = groups.agg(
        reports=("reports", "sum"),
        best_snr_db=("snr_db", "max"),
        first_utc=("first_utc", "min"),
        last_utc=("last_utc", "max"),
    )
    table["best_snr_db"] = table["best_snr_db"].astype(float)
    table["median_snr_db"] = _median_by_group(rows, groups.ngroup().to_numpy(), len(table))
    known = [name for name in RECEIVERS if name in first.columns and name not in table.columns]
    full = table.join(first[known]).reset_index()
    for name in _PLACE:
        full[name] = pd.Categorical(full[name])
    return full.sort_values(["reports", *_PLACE], ascending=[False, True, True], ignore_index=True)[list(RECEIVERS)]


def sector_of(bearing_deg: Any) -> np.ndarray:
    """The sector a bearing falls into, 0..11, the first centred on north; -1 where there is no bearing.

    bearing_deg : shape (n,) [deg]
    """
    bearing = np.asarray(bearing_deg, dtype=float)
    unknown = np.isnan(bearing)
    sector = np.floor(np.where(unknown, 0.0, bearing) / SECTOR_DEG + 0.5).astype(int) % SECTORS
    return np.where(unknown, -1, sector)


def ring_of(distance_km: Any) -> np.ndarray:
    """The distance ring, 0..9: RING_EDGES_KM[k] <= distance < RING_EDGES_KM[k + 1].

    distance_km : shape (n,), 0..20004
    """
    return np.searchsorted(RING_EDGES_KM, np.asarray(distance_km, dtype=float), side="right") - 1


def _median_by_group(rows: pd.DataFrame, group: np.ndarray, groups: int) -> np.ndarray:
    """Median SNR of each group of counted rows, by one sort."""
    order = np.lexsort((rows["snr_db"].to_numpy(), group))
    snr, count = rows["snr_db"].to_numpy().astype(float)[order], rows["reports"].to_numpy()[order]
    upto = np.cumsum(count)
    ends = np.searchsorted(group[order], np.arange(groups), side="right") - 1
    total = upto[ends]
    before = np.concatenate([[0], total[:-1]])
    position = before + (total - before - 1) / 2
    low = np.searchsorted(upto, np.floor(position), side="right")
    high = np.searchsorted(upto, np.ceil(position), side="right")
    return (snr[low] + snr[high]) / 2


def _block(rows: pd.DataFrame) -> dict[str, Any]:
    by_both = rows.groupby(["band", "setup"], observed=True, dropna=False, sort=True)
    return {
        "overall": _figures(rows),
        "by_band": {str(k): _figures(g) for k, g in rows.groupby("band", observed=True, sort=True)},
        "by_setup": {str(k): _figures(g) for k, g in rows.groupby("setup", observed=True, sort=True)},
        "by_band_and_setup": [
            {"band": str(band), "setup": str(setup) if isinstance(setup, str) else "", **_figures(group)}
            for (band, setup), group in by_both
        ],
    }


def _figures(rows: pd.DataFrame) -> dict[str, Any]:
    count = rows["reports"].to_numpy()
    median, p90 = quantile.weighted(rows["distance_km"], count, [0.5, 0.9])
    levels = quantile.weighted(rows["snr_db"], count, [0, 0.25, 0.5, 0.75, 1])
    names = ("lowest", "lower_quartile", "median", "upper_quartile", "highest")
    at_1_w = rows["snr_db"] - 10 * np.log10(rows["power_w"])
    sure_power = bool(len(rows) and rows["power_w"].notna().all())
    return {
        "spots": int(count.sum()),
        "receivers": int(rows["rx_call"].nunique()),
        "places": len(rows[_PLACE].drop_duplicates()),
        "squares": len({str(name)[:4] for name in rows["rx_locator"].unique()}),
        "countries": int(rows["country"].nunique()),
        "median_km": _number(median),
        "p90_km": _number(p90),
        "farthest": _farthest(rows),
        "km_per_watt": _number((rows["distance_km"] / rows["power_w"]).max()) if sure_power else None,
        "median_snr_at_1_w_db": _number(quantile.weighted(at_1_w, count, [0.5])[0]) if sure_power else None,
        "snr_db": {name: _number(level) for name, level in zip(names, levels, strict=True)},
        "by_hour": _counts(rows["hour_utc"].dt.hour, count, 24),
        "by_sector": _by_sector(rows),
        "by_ring": _by_ring(rows),
    }


def _farthest(rows: pd.DataFrame) -> dict[str, Any] | None:
    if not len(rows):
        return None
    top = rows.sort_values(["distance_km", *_PLACE], ascending=[False, True, True], kind="stable").iloc[0]
    same = rows[(rows["rx_call"] == top["rx_call"]) & (rows["rx_locator"] == top["rx_locator"])]
    return {
        "rx_call": str(top["rx_call"]),
        "rx_locator": str(top["rx_locator"]),
        "country": None if pd.isna(top["country"]) else str(top["country"]),
        "distance_km": _number(top["distance_km"]),
        "uncertainty_km": _number(top["distance_uncertainty_km"]),
        "bearing_deg": _number(top["bearing_deg"]),
        "bands": sorted({str(name) for name in same["band"]}),
        "reports": int(same["reports"].sum()),
        "best_snr_db": _number(same["snr_db"].max()),
        "first_utc": _iso(same["first_utc"].min()),
        "trust": str(top["trust"]),
    }


def _power_of(rows: pd.DataFrame, power: dict[tuple[str, str], Power]) -> np.ndarray:
    """The power behind each row [W], NaN where it is not known."""
    band = rows["band"].astype(object).to_numpy()
    setup = rows["setup"].astype(object).where(rows["setup"].notna(), "").to_numpy()
    watts = np.full(len(rows), np.nan)
    for (its_setup, its_band), known in power.items():
        if known.power_w is not None:
            watts[(setup == its_setup) & (band == its_band)] = known.power_w
    return watts


def _by_sector(rows: pd.DataFrame) -> list[dict[str, Any]]:
    sector = sector_of(rows["bearing_deg"])
    entries = []
    for k in range(SECTORS):
        part = rows[sector == k]
        median, p90 = quantile.weighted(part["distance_km"], part["reports"], [0.5, 0.9])
        entries.append(
            {
                "centre_deg": k * SECTOR_DEG,
                "reports": int(part["reports"].sum()),
                "receivers": int(part["rx_call"].nunique()),
                "median_km": _number(median),
                "p90_km": _number(p90),
            }
        )
    return entries


def _by_ring(rows: pd.DataFrame) -> list[dict[str, Any]]:
    ring = ring_of(rows["distance_km"])
    return [
        {
            "from_km": low,
            "to_km": high,
            "reports": int(rows["reports"].to_numpy()[ring == k].sum()),
            "receivers": int(rows["rx_call"][ring == k].nunique()),
        }
        for k, (low, high) in enumerate(itertools.pairwise(RING_EDGES_KM))
    ]


def _counts(which: pd.Series, count: np.ndarray, size: int) -> list[int]:
    return np.bincount(which.to_numpy(), weights=count, minlength=size).astype(int).tolist()


def _number(value: float | None) -> float | None:
    """A JSON number with no more digits than it is worth; null for NaN."""
    return None if value is None or np.isnan(value) else round(float(value), 3)


def _iso(moment: Any) -> str | None:
    return None if pd.isna(moment) else moment.strftime("%Y-%m-%dT%H:%M:%SZ")
