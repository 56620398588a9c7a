"""What every picture says of itself: the counted rows behind it, its circumstances, its cautions."""

from __future__ import annotations

import numpy as np
import pandas as pd

from reach.base import quantile, words
from reach.draw.style import Theme, Words
from reach.findings import Findings
from reach.measure import summary
from reach.spots import CORROBORATED

NO_LISTENER = (
    "Where nobody listens nothing is reported: an empty direction is no proof that the signal did not get there."
)
MADE_UP = "Made-up demonstration data: the station, the listeners and every report are invented."


NOTHING_CLAIMED = "No locator is corroborated, so no reach is claimed"


def counted(findings: Findings) -> pd.DataFrame:
    """The counted rows that findings rest on: summary.joined, of corroborated receivers only; may be empty."""
    rows = everything(findings)
    return rows[(rows["trust"] == CORROBORATED).to_numpy()]


def everything(findings: Findings) -> pd.DataFrame:
    """All counted rows, doubtful ones too, as summary.joined; for what no locator carries."""
    return summary.joined(findings.tally, findings.paths, findings.receivers)


def compared(findings: Findings) -> pd.DataFrame:
    """All counted rows of the two setups of the comparison: a pair needs no locator. Needs a comparison.

    All counted rows where the setups are told apart by something else than their names.
    """
    rows, found = everything(findings), findings.comparison
    assert found is not None
    named = rows["setup"].isin([found.a, found.b]).to_numpy()
    return rows[named] if named.any() else rows


def receivers(findings: Findings) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Receivers that findings rest on (corroborated), and all others: shown, never counted."""
    sure = (findings.receivers["trust"] == CORROBORATED).to_numpy()
    return findings.receivers[sure], findings.receivers[~sure]


def about(findings: Findings, title: str, *, notes: tuple[str, ...] = (), rows: pd.DataFrame | None = None) -> Words:
    """The words round a picture: n, period, power, setups below the title; cautions and whose signal at the foot.

    rows : those that the picture shows; the counted ones where left out
    """
    left_out = _left_out(findings) if rows is None else ""
    rows = counted(findings) if rows is None else rows
    reports = int(rows["reports"].sum())
    parts = [words.things(reports, "report"), words.things(int(rows["rx_call"].nunique()), "receiver")]
    if reports:
        parts.append(words.period(rows["first_utc"].min().to_pydatetime(), rows["last_utc"].max().to_pydatetime()))
    parts += [_power(findings), words.listed(list(setups(findings, rows)))]
    all_notes = [*notes, left_out, replaced(findings)]
    if findings.study.made_up:
        all_notes.append(MADE_UP)
    shown = " · ".join(part for part in parts if part)
    return Words(title, shown, tuple(n for n in all_notes if n), signature(findings))


def station(findings: Findings) -> tuple[str, str]:
    """Callsign and locator of the station: the study's, else those that most spots carry; "" where unknown."""
    asked = findings.study.station
    return asked.callsign or _most(findings.spots["tx_call"]), asked.locator or _most(findings.spots["tx_locator"])


def signature(findings: Findings) -> str:
    """Whose signal it was: 'EI4QTB/P in IO51es', or what of that is known."""
    return " in ".join(part for part in station(findings) if part)


def replaced(findings: Findings) -> str:
    """How many rows carry a locator that the user replaced; empty where none does."""
    count = findings.fixed_rows
    return f"{words.things(count, 'row carries', 'rows carry')} a locator that the operator replaced." if count else ""


def distances(rows: pd.DataFrame, shares: tuple[float, ...] = (0.5, 0.9)) -> np.ndarray:
    """Quantiles of distance over reports [km]."""
    return quantile.weighted(rows["distance_km"], rows["reports"], shares)


def setup_names(findings: Findings) -> list[str]:
    """Every setup of a study in the order in which all pictures list and colour them: the two that are compared first, A
    before B, then the others in text order."""
    asked = findings.comparison or findings.study.compare
    first = [asked.a, asked.b] if asked is not None else []
    tables = (findings.spots, findings.tally.cells, findings.tally.timeline)
    known = {str(name) for table in tables for name in table["setup"].dropna().unique()}
    return [*first, *sorted(known - set(first))]


def setups(findings: Findings, rows: pd.DataFrame) -> dict[str, int]:
    """The setups that some rows hold, in the order of `setup_names`, each with its place in that order.

    Colour, hatch and dash go by the place, so that a setup looks the same on a picture that lacks another one.
    """
    here = {str(name) for name in rows["setup"].dropna().unique()}
    return {name: place for place, name in enumerate(setup_names(findings)) if name in here}


def setup_color(findings: Findings, look: Theme, name: str) -> str:
    """The colour that a setup has in every picture of a study."""
    return look.setups[setup_names(findings).index(name) % len(look.setups)]


def _power(findings: Findings) -> str:
    known = sorted(
        {round(b.power_at_antenna_w, 1) for b in findings.budgets.values() if b.power_at_antenna_w is not None}
    )
    if known:
        span = words.watt(known[0]) if len(known) == 1 else f"{known[0]:g} to {words.watt(known[-1])}"
        return f"{span} at the antenna"
    radio = findings.study.station.power_w
    own = findings.spots["power_w"].dropna().unique()
    watts = radio if radio is not None else float(own[0]) if len(own) == 1 else None
    return f"{words.watt(watts)} at the radio" if watts is not None else "power not given"


def _left_out(findings: Findings) -> str:
    """What the counted rows leave out; empty where that is nothing."""
    others = receivers(findings)[1]
    if others.empty:
        return ""
    more = words.things(int(others["reports"].sum()), "report")
    return f"Receivers with corroborated locators only; {more} with other locators are not counted."


def _most(column: pd.Series) -> str:
    found = column.dropna()
    return str(found.mode().iloc[0]) if len(found) else ""
