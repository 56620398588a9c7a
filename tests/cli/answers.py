"""The screen of a command that says first where every row went."""

from __future__ import annotations

import re

LAW = re.compile(
    r"[\d,]+ rows? read = [\d,]+ accepted \+ [\d,]+ rejected \+ [\d,]+ duplicates( \+ [\d,]+ set aside)?\."
)


def after_the_rows(output: str) -> str:
    """What follows the paragraph about the rows, which has to be there."""
    rows, _, answer = output.partition("\n\n")
    assert LAW.match(rows), output
    return answer
