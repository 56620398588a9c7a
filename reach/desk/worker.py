"""The process that reads, checks, draws and writes, while the server shows pages.

It is this Python started afresh. Orders come as JSON lines on its standard input, and what came of each goes back the same way:
{"step": ...} while it is at work, then {"done": ...} or {"error": sentence}. To cancel, the server ends it; it leaves by the
same door as an error, so that nothing stays half done, and another one is started.
"""

from __future__ import annotations

import _thread
import contextlib
import json
import os
import queue
import signal
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import pandas as pd

    from reach.findings import Note
    from reach.study import Study
    from reach.vet.ledger import Problems
    from reach.walk import Walk

MOST_BYTES: Final = 8 << 30  # of memory
ROWS_A_PAGE: Final = 200
Step = Callable[[str], None]


def serve() -> None:
    """Take orders until the server is gone."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # whatever prints something does not disturb the answers
    _bound_memory()
    signal.signal(signal.SIGTERM, _leave)
    with contextlib.suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # a key pressed in the terminal is for the server
    orders: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(orders,), daemon=True).start()
    worker = Worker(lambda step: _say(answers, {"step": step}))
    try:
        while (line := orders.get()) is not None:
            _say(answers, _carried_out(worker, json.loads(line)))
    finally:
        signal.signal(signal.SIGTERM, signal.SIG_IGN)  # it ends now, and need not be told again


def _leave(number: int, frame: object) -> None:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # told twice, by the server and by its end, it leaves once
    raise SystemExit(128 + number)


def _listen(orders: queue.SimpleQueue[str | None]) -> None:
    for line in sys.stdin:
        orders.put(line)
    orders.put(None)
    _thread.interrupt_main(signal.SIGTERM)  # the server is gone, and nobody waits for what is being done


def _say(answers: Any, what: dict[str, Any]) -> None:
    try:
        answers.write(json.dumps(what, ensure_ascii=True, allow_nan=False) + "\n")
        answers.flush()
    except BrokenPipeError:
        raise SystemExit(0) from None


def _bound_memory() -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):  # no such bound on this system
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, resource.getrlimit(resource.RLIMIT_AS)[1]))


def _carried_out(worker: Worker, order: dict[str, Any]) -> dict[str, Any]:
    try:
        return {"done": getattr(worker, f"do_{order.pop('verb')}")(**order)}
    except Exception as error:
        from reach import cli
        from reach.base.ways import Medium

        return {"error": cli.told(error, ["desk"], Medium.SCREEN)[1]}


class Worker:
    """What can be ordered. The last walk is kept, for the next look at the same study begins where it stood."""

    def __init__(self, progress: Step) -> None:
        self.progress = progress
        self._kept: tuple[tuple[str, str], Any, Walk] | None = None

    def do_load(self) -> None:
        """Load what every walk needs, while the user looks for the file."""
        import reach.rows
        import reach.walk  # noqa: F401
        from reach.read import table  # noqa: F401
        from reach.vet import rules  # noqa: F401

    def do_begin(self, path: str, title: str) -> None:
        """Write a new study of this title."""
        from reach import study as studies
        from reach.tell import files, study_file

        files.write(path, study_file.text(studies.check({"title": title}), beside=Path(path).parent))

    def do_change(self, path: str, **changes: Any) -> None:
        """Change values of a study; comments, order and all else stay.

        changes : as for `study.changed`; `reading` is one file's, and takes the place of what was settled for it before
        """
        from reach import study as studies
        from reach.tell import study_file

        base = studies.load(path)
        reading = changes.pop("reading", None)
        if reading is not None:
            kept = [each.model_dump(exclude_none=True) for each in base.readings if each.file != reading["file"]]
            changes["readings"] = [*kept, reading] if len(reading) > 1 else kept
        study_file.rewrite(Path(path), studies.changed(base, **changes))

    def do_station(self, path: str, stamp: str) -> dict[str, Any]:
        """What the study says of the station, of how files are read, and of the period."""
        from reach import study as studies
        from reach.desk import period

        study = studies.load(path)
        told = {"direction": study.direction, "readings": _readings(study), "period": period.shown(study)}
        return {**study.station.model_dump(), **told}

    def do_period(self, path: str, form: dict[str, str]) -> dict[str, str]:
        """Keep the period that is studied; returns what is wrong, by field."""
        from reach.desk import period

        return period.keep(Path(path), form)

    def do_grow(self, path: str) -> None:
        """Put the exports into a collection."""
        from reach.desk import growing

        growing.grow(path, self.progress)

    def do_take_in(self, path: str, stamp: str) -> dict[str, str]:
        """Put the exports that wait into the collection; returns what is wrong, by name."""
        from reach.desk import growing

        return growing.take_in(path, self.progress)

    def do_take_out(self, path: str, name: str) -> None:
        """Take an export out of the collection."""
        from reach.desk import growing

        growing.take_out(path, name)

    def do_read_anew(self, path: str, name: str) -> None:
        """Have an export of the collection read again."""
        from reach.desk import growing

        growing.read_anew(path, name)

    def do_understood(self, path: str, stamp: str, name: str) -> list[dict[str, Any]]:
        """How one export of a collection is understood."""
        from reach.desk import growing
        from reach.rows import Rows

        return [_understood(each) for each in Rows(growing.alone(path, name)).inputs]

    def do_setups(self, path: str, bands: list[str], form: dict[str, Any] | None = None) -> dict[str, Any]:
        """The station and its setups in a form, the study's own where none is given, and what is shown beside its fields."""
        from reach import study as studies
        from reach.desk import setups, stale

        shown = stale.stamp(Path(path))
        own = setups.form_of(studies.load(path))
        form = own if form is None else {**dict.fromkeys(own, ""), **form}
        return {"form": form, "seen": setups.seen(form, bands=bands), "stamp": shown}

    def do_keep_setups(self, path: str, shown: str, form: dict[str, Any]) -> dict[str, str]:
        """Put the station and its setups into the study; returns what is wrong, by field. shown : the form's stamp"""
        from reach.desk import setups, stale

        stale.check(shown, Path(path))
        return setups.keep(Path(path), form)

    def do_schedule(self, path: str) -> dict[str, Any]:
        """The schedule as a form has it."""
        from reach.desk import air

        return air.table(Path(path))

    def do_keep_schedule(self, path: str, shown: str, rows: list[dict[str, str]]) -> dict[str, str]:
        """Make rows the schedule; returns what is wrong, by field."""
        from reach.desk import air

        return air.keep(Path(path), shown, rows)

    def do_take_schedule(self, path: str, shown: str, arrived: str, called: str, zone: str) -> None:
        """Make a file the schedule."""
        from reach.desk import air

        air.take(Path(path), shown, Path(arrived), called, zone)

    def do_settle_clock(self, path: str, shown: str, shift_min: float | None, confirmed: bool | None) -> None:
        """Shift the schedule's clock, or say that it is right."""
        from reach.desk import air

        air.settle(Path(path), shown, shift_min, confirmed)

    def do_compare(self, path: str, shown: str, setups: list[str]) -> None:
        """Have setups held against one another in the report."""
        from reach.desk import air

        air.compare(Path(path), shown, setups)

    def do_weeks(self, path: str) -> dict[str, Any]:
        """What the study says of control stations, of its level and of what was done."""
        from reach.desk import yardsticks

        return yardsticks.table(Path(path))

    def do_near(self, path: str, stamp: str, files: list[str]) -> list[dict[str, Any]]:
        """Who may serve as a control."""
        from reach.desk import yardsticks

        return yardsticks.near(self._walk(path, stamp), files)

    def do_keep_weeks(self, path: str, shown: str, form: dict[str, Any]) -> dict[str, str]:
        """Put them into the study; returns what is wrong, by field."""
        from reach.desk import yardsticks

        return yardsticks.keep(Path(path), shown, form)

    def do_take_out_control(self, path: str, name: str) -> None:
        """Take the export of a control station out of the study."""
        from reach.desk import yardsticks

        yardsticks.take_out(Path(path), name)

    def do_on_air(self, path: str, stamp: str) -> dict[str, Any]:
        """The reports by day, and whether the schedule's clock fits them."""
        from reach.desk import air

        return air.seen(self._walk(path, stamp))

    def do_plan(self, path: str, stamp: str, asked: dict[str, str]) -> dict[str, Any]:
        """A plan for another evening."""
        from reach import study as studies
        from reach.desk import air

        study = studies.load(path)
        return air.plan(self._walk(path, stamp) if study.files else None, study, asked)

    def do_look(self, path: str, stamp: str) -> dict[str, Any]:
        """How the files were understood, and where every row went."""
        from reach.base import bands
        from reach.base.words import DESK
        from reach.tell.sentences import notes

        walk = self._walk(path, stamp)
        told = walk.notes
        # That the counts come after the notes matters: these look for suspects, which says the most that takes time.
        return {
            "law": notes.law(walk.counts, DESK),
            "counts": walk.counts.numbers,
            "notes": [
                {"said": notes.note(each, DESK), "leads": _leads(each)}
                for each in sorted(told, key=lambda each: each.code not in notes.FIRST)
            ],
            "files": [_understood(each) for each in walk.inputs if each.understood is not None],
            "span": [day.isoformat() for day in walk.rows.span or ()],
            "rules": _rules(walk.wrong),
            "suspects": len(walk.suspects) if walk.can_place else None,
            "bands": bands.in_order(map(str, walk.vetted.spots["band"].unique())),
        }

    def do_rows(self, path: str, stamp: str, fate: str, start: int) -> dict[str, Any]:
        """A page of the rows of one fate: what each says, and why it went there."""
        walk = self._walk(path, stamp)
        table, lacking = _FATES[fate](walk), 0
        if fate == "set_aside" and not walk.understood:
            from reach.desk import growing

            table, lacking = growing.set_aside(walk)
        page = table.iloc[start : start + ROWS_A_PAGE].astype(object)
        cells = page.where(page.notna(), "").astype(str).to_numpy().tolist()
        return {"columns": list(table.columns), "rows": cells, "of": len(table), "start": start, "lacking": lacking}

    def do_doubtful(self, path: str, stamp: str, start: int) -> dict[str, Any]:
        """A page of the locators to decide on, and what was decided."""
        from reach.desk import cards

        return cards.shown(self._walk(path, stamp), start)

    def do_decide(self, path: str, **row: str) -> None:
        """Keep a decision on a locator."""
        from reach.desk import cards

        cards.decide(path, **row)

    def do_run(self, path: str, stamp: str) -> dict[str, Any]:
        """Write the report of a study: as `reach run study.toml` does it in the study's folder."""
        from reach.desk import outputs

        return outputs.report(path, stamp, lambda: self._walk(path, stamp), self.progress)

    def do_slides(self, path: str, stamp: str) -> None:
        """Write slides and handout: as `reach deck study.toml` does."""
        from reach.desk import outputs

        outputs.slides(path, stamp, lambda: self._walk(path, stamp), self.progress)

    def do_film(self, path: str, stamp: str) -> None:
        """Write the film: as `reach motion study.toml` does."""
        from reach.desk import outputs

        outputs.film(path, stamp, lambda: self._walk(path, stamp), self.progress)

    def _walk(self, path: str, stamp: str) -> Walk:
        """The walk over a study, kept as long as nothing changes that it reads."""
        if self._kept is None or self._kept[0] != (path, stamp):
            from reach.desk import outputs
            from reach.walk import Walk

            study = outputs.load(path)
            read, before, self._kept = _as_read(study), self._kept, None
            if before is not None and before[1] == read:
                walk = before[2].mended_by(study)
            else:
                walk = Walk(study, progress=self.progress)
            self._kept = ((path, stamp), read, walk)
        return self._kept[2]


def _as_read(study: Study) -> Any:
    """Changes when anything changes of a study and its files but for the corrections."""
    from reach.tell import files

    bare = study.model_copy(update={"fixes": None})
    paths = [found for path in files.read_by(bare) for found in (path, path / "ledger.json") if found.exists()]
    return bare.model_dump(), [(str(path), path.stat().st_size, path.stat().st_mtime_ns) for path in paths]


def _leads(note: Note) -> str:
    """The screen where something can be done about a note; '' where there is none."""
    from reach.compare.control import Suits
    from reach.findings import NoteCode

    if note.code == NoteCode.OPPOSITE_SET_ASIDE:
        return "station"
    best = next(iter(note.values.get("controls", [])), None) if note.code == NoteCode.OTHERS_SET_ASIDE else None
    return "weeks" if best and best["fit"] in (Suits.GOOD, Suits.CHECK) else ""


def _readings(study: Study) -> dict[str, dict[str, Any]]:
    return {each.file: each.model_dump(exclude_none=True) for each in study.readings}


def _understood(file: Any) -> dict[str, Any]:
    from reach.base.words import DESK
    from reach.tell.sentences import understood as sentences

    each = file.understood
    return {
        "name": file.name,
        "rows": file.rows,
        "headline": sentences.headline(each, DESK),
        "columns": sentences.table(each),
        "assumed": sentences.assumed(each, DESK),
        "headers": [*(column.name for column in each.columns), *each.unused],
    }


def _rules(wrong: Problems) -> list[dict[str, Any]]:
    """How often each rule spoke, the most frequent first."""
    from reach.base.words import DESK
    from reach.tell.sentences import problems as sentences

    return [
        {"name": sentences.name(rule, DESK), "severity": severity, "rows": rows}
        for (rule, severity), rows in wrong.counted.items()
    ]


def _accepted(walk: Walk) -> pd.DataFrame:
    return walk.vetted.spots


def _rejected(walk: Walk) -> pd.DataFrame:
    from reach.vet import ledger

    return _told(walk, walk.problems[ledger.is_rejected(walk.problems)])


def _duplicates(walk: Walk) -> pd.DataFrame:
    from reach.vet import ledger

    return _told(walk, walk.problems[ledger.is_duplicate(walk.problems)])


def _set_aside(walk: Walk) -> pd.DataFrame:
    """What is left of the rows: those of others, of the other direction, outside the period or the bands."""
    import pandas as pd

    from reach.vet import ledger

    refused = ledger.is_rejected(walk.problems) | ledger.is_duplicate(walk.problems)
    judged = [_accepted(walk), walk.problems[refused]]
    known = pd.MultiIndex.from_frame(pd.concat([each[["source", "line"]].astype(object) for each in judged]))
    raw = walk.raw
    return raw[~pd.MultiIndex.from_frame(raw[["source", "line"]].astype(object)).isin(known)]


def _told(walk: Walk, problems: pd.DataFrame) -> pd.DataFrame:
    from reach.base.words import DESK
    from reach.tell.sentences import direction
    from reach.tell.sentences import problems as sentences

    return sentences.written(problems, say=DESK, way=direction.ends(walk.study))


_FATES: Final = {"accepted": _accepted, "rejected": _rejected, "duplicates": _duplicates, "set_aside": _set_aside}
