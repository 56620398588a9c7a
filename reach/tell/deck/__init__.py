"""Slides to show and to change, the same as a PDF, and a page to hand out."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from reach.errors import OutputError
from reach.findings import Findings
from reach.tell import folder

SLIDES, SLIDES_PDF, HANDOUT = "deck.pptx", "deck.pdf", "handout.pdf"
Step = Callable[[str], None]


def write(
    findings: Findings,
    out: str | Path,
    *,
    club: str = "",
    paper: Literal["a4", "letter"] = "a4",
    style: str = "light",
    language: str = "en",
    progress: Step = lambda step: None,
) -> Path:
    """Write a folder with deck.pptx, deck.pdf, handout.pdf and the manifest: the same input gives the same bytes.

    findings : one walk's findings
    out : the folder to make, or to replace if `reach` wrote it and nobody changed it since
    club : whose evening it is; may be empty
    style : light or dark, of the slides; the handout is printed and always light
    progress : told the name of each step
    Returns the folder. OutputError where it cannot be written, or holds what `reach` did not write.
    """
    from reach.tell.deck import editable, handout, outline, pages

    out = Path(out)
    untouched(out)
    with folder.replacing(out) as partial:
        progress("composing slides")
        made = outline.deck(findings, club=club, look=style, language=language)
        drawn = made.pictures()
        progress("writing slides")
        (partial / SLIDES).write_bytes(editable.pptx(made, drawn))
        progress("writing their PDF")
        (partial / SLIDES_PDF).write_bytes(pages.pdf(made, drawn))
        progress("writing the handout")
        (partial / HANDOUT).write_bytes(handout.pdf(findings, made, club=club, paper=paper))
        folder.write_manifest(findings, partial)
    return out


def untouched(out: Path) -> None:
    """OutputError unless the place is free, or holds exactly what `reach` wrote: slides are made to be edited, and an
    edited deck is somebody's work."""
    folder.check(out)
    if not out.exists() or not any(out.iterdir()):
        return
    try:
        known = json.loads((out / folder.MANIFEST).read_text(encoding="utf-8"))["outputs"]
        assert isinstance(known, dict)
    except (OSError, ValueError, KeyError, TypeError, AssertionError):
        raise OutputError(
            f"{out}: its {folder.MANIFEST} is not ours, so it is left alone; choose another --out."
        ) from None
    for name, sha256 in folder.hashes(out).items():
        if name != folder.MANIFEST and known.get(name) != sha256:
            did = "was changed after `reach` wrote it" if name in known else "was not written by `reach`"
            raise OutputError(f"{out}: {name} {did}, so the folder is left alone; choose another --out.")
