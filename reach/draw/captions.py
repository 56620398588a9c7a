"""What every picture says of itself: the counted rows behind it, its circumstances, its cautions."""

from __future__ import annotations

import numpy as np
import pandas as pd

from reach.base import quantile, words
from reach.draw.style import Theme, Words
from reach.findings import Findings
from reach.tell.sentences import reach as sentences
from reach.tell.sentences.reach import MADE_UP as MADE_UP
from reach.tell.sentences.reach import NO_LISTENER as NO_LISTENER
from reach.tell.sentences.reach import NOTHING_CLAIMED as NOTHING_CLAIMED


def counted(findings: Findings) -> pd.DataFrame:
    """The counted rows that findings rest on: cells of the tally, of corroborated receivers only; may be empty."""
    return findings.counted


def everything(findings: Findings) -> pd.DataFrame:
    """All counted rows, doubtful ones too; for what no locator carries."""
    return findings.tally.cells


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
    return findings.sure, findings.unsure


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
    parts += [powers(findings), words.listed(list(setups(findings, rows)))]
    all_notes = [*notes, left_out, replaced(findings)]
    if findings.study.made_up:
        all_notes.append(MADE_UP)
    shown = " · ".join(part for part in parts if part)
    return Words(title, shown, tuple(n for n in all_notes if n), signature(findings))


def station(findings: Findings) -> tuple[str, str]:
    """Callsign and locator of the station: the study's, else those that most spots carry; "" where unknown."""
    return findings.station


def signature(findings: Findings) -> str:
    """Whose signal it was: 'EI4QTB/P in IO51es', or what of that is known."""
    return sentences.signature(findings)


def powers(findings: Findings) -> str:
    """With how many watts, and where they were known: '4.3 W at the antenna'."""
    return sentences.stated_power(findings, words.PRINT)


def replaced(findings: Findings) -> str:
    """How many rows carry a locator that the user replaced; empty where none does."""
    return sentences.replaced(findings, words.PRINT)


def distances(rows: pd.DataFrame, shares: tuple[float, ...] = (0.5, 0.9)) -> np.ndarray:
    """Quantiles of distance over reports [km]."""
    return quantile.weighted(rows["distance_km"], rows["reports"], shares)


def setup_names(findings: Findings) -> list[str]:
    """Every setup of a study in the order in which all pictures list and colour them: the two that are compared first, A
    before B, then the others in text order."""
    return list(findings.setup_order)


def setups(findings: Findings, rows: pd.DataFrame) -> dict[str, int]:
    """The setups that some rows hold, in the order of `setup_names`, each with its place in that order.

    Colour, hatch and dash go by the place, so that a setup looks the same on a picture that lacks another one.
    """
    here = {str(name) for name in rows["setup"].dropna().unique()}
    return {name: place for place, name in enumerate(setup_names(findings)) if name in here}


def setup_color(findings: Findings, look: Theme, name: str) -> str:
    """The colour that a setup has in every picture of a study."""
    return look.setups[setup_names(findings).index(name) % len(look.setups)]


def _left_out(findings: Findings) -> str:
    """What the counted rows leave out; empty where that is nothing."""
    others = receivers(findings)[1]
    if others.empty:
        return ""
    more = words.things(int(others["reports"].sum()), "report")
    return f"Receivers with corroborated locators only; {more} with other locators are not counted."
