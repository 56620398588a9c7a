"""Raw tables to vet: a sound row, and changes to it."""

from datetime import UTC, datetime

import pandas as pd

from reach.base.words import TERMINAL
from reach.tell.sentences import problems
from reach.vet.rules import Vetted, vet

NOW = datetime(2026, 6, 1, tzinfo=UTC)
SOUND = {
    "time_utc": "2026-05-16 20:04",
    "rx_call": "DL2QTC",
    "rx_locator": "JN58td",
    "snr_db": "-12",
    "band": "20m",
}


def raw(*rows: dict[str, str | None], drop: tuple[str, ...] = ()) -> pd.DataFrame:
    """A raw table: SOUND, each row with its own changes; lines from 2 on unless a row says otherwise."""
    filled = [{**SOUND, "source": "may.csv", "line": k + 2} | row for k, row in enumerate(rows)]
    names = [*SOUND, "source", "line", *(name for row in filled for name in row)]
    table = pd.DataFrame(filled, columns=list(dict.fromkeys(names)))
    texts = [name for name in table.columns if name != "line"]
    return table.astype({**dict.fromkeys(texts, "category"), "line": "int64"}).drop(columns=list(drop))


def judged(*rows: dict[str, str | None], drop: tuple[str, ...] = (), **more: object) -> Vetted:
    """The verdict on such rows."""
    return vet(raw(*rows, drop=drop), **{"now": NOW, **more})


def said(vetted: Vetted) -> list[tuple[int, str, str]]:
    """(line, rule, severity) of each problem."""
    return [*vetted.problems[["line", "rule", "severity"]].itertuples(index=False, name=None)]


def words(vetted: Vetted) -> list[str]:
    """The sentence of each problem, as a terminal shows it."""
    return problems.explanations(vetted.problems, say=TERMINAL).tolist()
