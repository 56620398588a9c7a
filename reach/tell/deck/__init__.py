"""Slides to show and to change, the same as a PDF, and a page to hand out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

from reach.base import tongue
from reach.findings import Findings
from reach.tell import folder

SLIDES, SLIDES_PDF, HANDOUT = MAKES = ("deck.pptx", "deck.pdf", "handout.pdf")
Step = Callable[[str], None]


def write(
    findings: Findings,
    out: str | Path,
    *,
    club: str = "",
    paper: Literal["a4", "letter"] = "a4",
    style: str = "light",
    language: str = "",
    replace: bool = False,
    progress: Step = lambda step: None,
) -> Path:
    """Write a folder with deck.pptx, deck.pdf, handout.pdf and the manifest: the same input gives the same bytes.

    findings : one walk's findings
    out : the folder to make, or to replace if `reach` wrote it and nobody changed it since; what else is in it stays
    club : whose evening it is; may be empty
    style : light or dark, of the slides; the handout is printed and always light
    language : of the words, such as "de"; the study's where left out
    replace : whether slides that somebody changed may be written over
    progress : told the name of each step
    Returns the folder. OutputError where it cannot be written, or holds what `reach` did not write.
    """
    from reach.draw import scripts
    from reach.draw import style as styles
    from reach.tell.deck import editable, handout, outline, pages

    out, language = Path(out), scripts.drawn_in(language or findings.study.spoken)
    with (
        styles.own_settings(),
        tongue.speaking(language),
        folder.replacing(out, makes=MAKES, replace=replace) as partial,
    ):
        progress("composing slides")
        made = outline.deck(findings, club=club, look=style)
        drawn = made.pictures()
        progress("writing slides")
        (partial / SLIDES).write_bytes(editable.pptx(made, drawn))
        progress("writing their PDF")
        (partial / SLIDES_PDF).write_bytes(pages.pdf(made, drawn))
        progress("writing the handout")
        (partial / HANDOUT).write_bytes(handout.pdf(findings, made, club=club, paper=paper))
        folder.write_manifest(findings, partial)
    return out
