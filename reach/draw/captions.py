"""What every picture rests on and says of itself: its rows, its circumstances, its cautions; how setups look in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal

import pandas as pd

from reach.base.tongue import Phrase
from reach.base.words import PRINT
from reach.compare.comparison import Cell, Receiver
from reach.draw import scripts
from reach.draw.style import Theme, Words
from reach.findings import Findings
from reach.tell.sentences import pictures
from reach.tell.sentences import reach as sentences
from reach.tell.sentences.reach import NOTHING_CLAIMED as NOTHING_CLAIMED
from reach.tell.sentences.reach import made_up as made_up
from reach.tell.sentences.reach import no_far_end as no_far_end

if TYPE_CHECKING:
    from reach.measure.reach import Figures

# Which rows a picture shows: of corroborated receivers (findings), all (no locator needed), those of the two setups.
Rest = Literal["counted", "everything", "compared"]

DASHES: Final[tuple[Any, ...]] = ("-", (0, (5, 2)), (0, (1, 1)), "-.")  # of lines
HATCHES: Final = ("", "//", "xx", "..")  # of bars


def counted(findings: Findings) -> pd.DataFrame:
    """The counted rows that findings rest on: by hour of the day, of corroborated receivers only; may be empty."""
    return findings.counted


def everything(findings: Findings) -> pd.DataFrame:
    """All counted rows, doubtful ones too; for what no locator carries."""
    return findings.pooled.by_hour


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


def behind(findings: Findings, rest: Rest) -> pictures.Behind:
    """How many reports and receivers a picture rests on, from when to when, of which setups."""
    rows = {"counted": counted, "everything": everything, "compared": compared}[rest](findings)
    if rest == "compared":  # the one set of rows that no headline is about
        reports, calls = int(rows["reports"].sum()), int(rows["rx_call"].nunique())
    else:
        found = findings.reach.headline if rest == "counted" else findings.reach.all.overall
        reports, calls = found.reports, found.receivers
    first, last = (
        (rows["first_utc"].min().to_pydatetime(), rows["last_utc"].max().to_pydatetime()) if reports else (None, None)
    )
    return pictures.Behind(reports, calls, first, last, tuple(setups(findings, rows)))


def about(findings: Findings, title: str, *, notes: tuple[str, ...] = (), rest: Rest = "counted") -> Words:
    """The words round a picture: n, period, power, setups below the title; cautions and whose signal at the foot.

    rest : which rows the picture shows
    """
    all_notes = [
        *notes,
        sentences.doubtful(findings, PRINT) if rest == "counted" else "",
        replaced(findings),
        made_up(findings),
        pictures.WITHOUT_TYPEFACE if scripts.missing((*findings.setup_order, *findings.station, title)) else "",
    ]
    shown = pictures.circumstances(findings, behind(findings, rest), PRINT)
    return Words(_said(title), shown, tuple(_said(note) for note in all_notes if note), sentences.signature(findings))


def _said(text: str) -> str:
    """A text as it is, or what a kept phrase is in the reader's language."""
    return PRINT.text(text) if isinstance(text, Phrase) else text


def station(findings: Findings) -> tuple[str, str]:
    """Callsign and locator of the station: the study's, else those that most spots carry; "" where unknown."""
    return findings.station


def replaced(findings: Findings) -> str:
    """How many rows carry a locator that the user replaced; empty where none does."""
    return sentences.replaced(findings, PRINT)


def at_least_db(found: Cell | Receiver) -> float:
    """What a part or a receiver of a comparison differs from none by at least, with its sign: the nearer end of its
    interval, of the one for all parts together where it has that. 0 where the interval holds none or there is no interval."""
    low, high = found.low_db, found.high_db
    if isinstance(found, Cell) and found.sidak_low_db is not None and found.sidak_high_db is not None:
        low, high = found.sidak_low_db, found.sidak_high_db
    if low is None or high is None or low <= 0 <= high:
        return 0.0
    return float(min(low, high, key=abs))


# --- setups -----------------------------------------------------------------------------------------------------------


def setups(findings: Findings, rows: pd.DataFrame) -> dict[str, int]:
    """The setups that some rows hold, in `findings.setup_order`, each with its place in that order.

    Colour, hatch and dash go by the place, so that a setup looks the same on a picture that lacks another one.
    """
    here = {str(name) for name in rows["setup"].dropna().unique()}
    return {name: place for place, name in enumerate(findings.setup_order) if name in here}


def setup_color(findings: Findings, look: Theme, name: str) -> str:
    """The colour that a setup has in every picture of a study."""
    return look.setups[findings.setup_order.index(name) % len(look.setups)]


def by_setup(findings: Findings, rows: pd.DataFrame | None = None) -> dict[str, tuple[Figures, pd.DataFrame]]:
    """What a chart of the counted rows draws by setup: each setup's figures and rows; "" : all together, where no more
    than one setup is named.

    rows : those by hour where left out
    """
    rows, found = counted(findings) if rows is None else rows, findings.reach.corroborated
    names = setups(findings, rows)
    if len(names) < 2:
        return {"": (found.overall, rows)}
    return {name: (found.by_setup[name], rows[(rows["setup"] == name).to_numpy()]) for name in names}
