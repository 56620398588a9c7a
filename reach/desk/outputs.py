"""What the desk writes: report, slides with handout, film; where and as the command line writes them in the study's folder.

For the worker. What a user changed is left alone, and what was there before stays until the new one is whole.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reach.desk.shelf import ANSWER, MADE, OUTPUTS, SLIDES, STUDY, Kept
from reach.errors import OutputError

if TYPE_CHECKING:
    from reach.study import Study
    from reach.walk import Walk

Step = Callable[[str], None]
_FRAMES_A_STEP: Final = 12


def report(path: str, stamp: str, walk: Callable[[], Walk], progress: Step) -> dict[str, Any]:
    """Write the report, what it answers in words, and what changed since the run before.

    path : of the study; stamp : of what it reads; walk : called once the place is known to be free
    Returns its name. OutputError where its folder is to be left alone.
    """
    from reach.base.words import DESK
    from reach.desk import changes
    from reach.tell import files, folder, pictures
    from reach.tell.sentences import reach as sentences

    kept, study, name = _asked(path)
    out = kept.folder / OUTPUTS / name
    _untouched(out)
    folder.check(out, makes=folder.MAKES, inputs=[Path(path), *files.read_by(study)])
    before = changes.read(out)
    with pictures.Drawers() as drawers:
        findings = walk().findings.without_cells()
        folder.write(findings, out, drawers=drawers, progress=progress)
    after = changes.read(out)
    said = [
        {"topic": each.topic, "text": each.text, "evidence": each.evidence} for each in sentences.answer(findings, DESK)
    ]
    told = {
        "report": name,
        "manifest": kept.fingerprint(name),
        "stamp": stamp,
        "sentences": said,
        "changed": changes.said(before, after) if before and after else [],
    }
    files.write(kept.folder / ANSWER, json.dumps(told, ensure_ascii=False) + "\n", replace=True)
    return {"report": name}


def slides(path: str, stamp: str, walk: Callable[[], Walk], progress: Step) -> None:
    """Write slides, their PDF and the handout. OutputError where somebody changed those that are there."""
    from reach.tell import deck, files, folder

    kept, study, name = _asked(path)
    out = kept.folder / OUTPUTS / f"{name}{SLIDES}"
    _untouched(out)
    folder.check(out, makes=deck.MAKES, inputs=[Path(path), *files.read_by(study)])
    deck.write(walk().findings, out, progress=progress)
    _note(kept, "slides", stamp=stamp)


def film(path: str, stamp: str, walk: Callable[[], Walk], progress: Step) -> None:
    """Write the film. OutputError where another one has its name."""
    from reach.base import tongue
    from reach.cli import motion as as_asked
    from reach.draw import motion, scripts
    from reach.draw import style as styles
    from reach.tell import files
    from reach.tell import film as films

    kept, study, name = _asked(path)
    target = films.where(kept.folder / OUTPUTS / f"{name}.mp4")[0]
    if target.exists() and files.sha256(target) != kept.made().get("film", {}).get("sha256"):
        raise OutputError(_moved([target.name], OUTPUTS))
    findings = walk().findings
    progress("drawing the map")
    count = round(as_asked.SECONDS * as_asked.FPS)

    def tick(done: int) -> None:
        if done % _FRAMES_A_STEP == 0:
            progress(f"frame {done} of {count}")

    with styles.own_settings(), tongue.speaking(scripts.drawn_in(study.spoken)):
        reel = motion.Film(findings, motion.span(findings, None), size_px=as_asked.SIZE_PX, look=as_asked.STYLE)
        made = films.write(
            reel.frames, count, target, size_px=as_asked.SIZE_PX, fps=as_asked.FPS, tick=tick, replace=True
        )  # fmt: skip
    _note(kept, "film", stamp=stamp, sha256=files.sha256(made.path))


def load(path: str) -> Study:
    """A study, in the language that its outputs are to speak."""
    from reach import study as studies
    from reach.cli import options

    return options.in_language(studies.load(path), None)


def _asked(path: str) -> tuple[Kept, Study, str]:
    """The study's folder, the study, and what its report is called."""
    from reach.cli.run import folder_name

    study = load(path)
    return Kept(Path(path).parent), study, folder_name(study, (STUDY,))


def _untouched(out: Path) -> None:
    from reach.tell import folder

    changed = folder.edited(out)
    if changed:
        raise OutputError(_moved(changed, f"{OUTPUTS}/{out.name}"))


def _moved(names: list[str], where: str) -> str:
    from reach.base.words import DESK

    those = "them" if len(names) > 1 else "it"
    return (
        f"{DESK.listed(names)} in {where} was not made here, or was changed since, and may hold your work, so that nothing is "
        f"written: move {those} to another folder, and try again."
    )


def _note(kept: Kept, kind: str, **told: str) -> None:
    """Keep from what something was made."""
    from reach.tell import files

    files.write(kept.folder / MADE, json.dumps({**kept.made(), kind: told}) + "\n", replace=True)
