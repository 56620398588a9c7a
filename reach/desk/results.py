"""The screen of results: what the report answers in words, what changed, pictures, slides, handout, film, and every file; what is
being made, how far it is, and a way to end it."""

from __future__ import annotations

import asyncio
import contextlib
import os
import tempfile
import zipfile
from collections.abc import AsyncIterator, Iterable
from pathlib import Path
from typing import Any, Final

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response, StreamingResponse
from starlette.routing import Route

from reach.base import text
from reach.desk.bench import Job, WorkError
from reach.desk.frame import PATIENCE_S, Desk, back
from reach.desk.guard import SANDBOX
from reach.desk.shelf import Kept

# What can be made: a verb of the worker, and what it is called.
KINDS: Final = {"run": "the report", "slides": "slides and handout", "film": "the film"}
_EVENTS_EVERY_S: Final = 0.3
_PACKED: Final = (".png", ".mp4", ".webp", ".parquet", ".pptx", ".pdf")  # no smaller for being packed again
_CHUNK: Final = 1 << 20
# In which list a file of a report stands, by its ending; those that have none stand last.
_LISTS: Final = (
    ("Tables", (".csv", ".parquet", ".json")),
    ("For map programs", (".geojson",)),
    ("Pictures", (".png", ".svg")),
)


def routes(desk: Desk, one: str) -> list[Route]:
    """The addresses of this screen. one : what the address of a study begins with"""
    screen = _Results(desk)
    return [
        Route(f"{one}/results", screen.show, methods=["GET"]),
        Route(f"{one}/run", screen.make, methods=["POST"]),
        Route(f"{one}/jobs/{{number:int}}/events", screen.events),
        Route(f"{one}/jobs/{{number:int}}/cancel", screen.cancel, methods=["POST"]),
        Route(f"{one}/outputs/{{report}}/{{path:path}}", screen.output),
        Route(f"{one}/beside/{{path:path}}", screen.beside),
        Route(f"{one}/zip/{{report}}", screen.zipped),
    ]


class _Results:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    async def show(self, request: Request) -> Response:
        study = self.desk.found(request)
        jobs = [(kind, self.desk.bench.latest(kind, study.name)) for kind in KINDS]
        shown = await run_in_threadpool(_shown, study)
        return self.desk.page(
            "results", study=study, kinds=KINDS, reports=shown,
            running=[(kind, job) for kind, job in jobs if job and not job.ended.is_set()],
            ended=[(kind, job) for kind, job in jobs if job and job.ended.is_set()],
        )  # fmt: skip

    async def make(self, request: Request) -> Response:
        study = self.desk.found(request)
        kind = str((await request.form()).get("what", "run"))
        if kind not in KINDS:
            raise HTTPException(422, "This cannot be made.")
        self.desk.ask(kind, study)
        return back(study, "/results")

    def _job(self, request: Request) -> Job:
        job = self.desk.bench.find(request.path_params["number"])
        if job is None or job.about != self.desk.found(request).name:
            raise HTTPException(404, "This is not being done any more.")
        return job

    async def cancel(self, request: Request) -> Response:
        job = self._job(request)
        await run_in_threadpool(self.desk.bench.cancel, job)
        with contextlib.suppress(WorkError, TimeoutError):  # the screen says it
            await self.desk.done(job, PATIENCE_S)
        return back(self.desk.found(request), "/results")

    async def events(self, request: Request) -> Response:
        return StreamingResponse(_told(self._job(request)), media_type="text/event-stream")

    async def output(self, request: Request) -> Response:
        study, given = self.desk.found(request), request.path_params
        return _sent(request, await run_in_threadpool(study.result, given["report"], given["path"]))

    async def beside(self, request: Request) -> Response:
        study = self.desk.found(request)
        return _sent(request, await run_in_threadpool(study.one_beside, request.path_params["path"]))

    async def zipped(self, request: Request) -> Response:
        study, report = self.desk.found(request), request.path_params["report"]
        inside = await run_in_threadpool(_all_of, study, report)
        if not inside:
            raise HTTPException(404, "There is no such report.")
        made = await run_in_threadpool(_zip, inside)
        gone = BackgroundTask(made.unlink, missing_ok=True)
        return FileResponse(made, filename=f"{report}.zip", media_type="application/zip", background=gone)


def _sent(request: Request, path: Path | None) -> Response:
    """A file, shown where nothing here can be asked from."""
    if path is None:
        raise HTTPException(404, "This report has no such file.")
    headers = {"Content-Security-Policy": SANDBOX}
    if "download" in request.query_params:
        return FileResponse(path, filename=path.name, headers=headers)
    return FileResponse(path, headers=headers)


def _shown(study: Kept) -> list[dict[str, Any]]:
    """What the screen says of each report, the newest first."""
    now, made = study.stamp(), study.made()
    found = []
    for report in study.reports():
        said, inside, beside = study.said(report), study.results(report), study.beside(report)
        extras = {
            kind: {
                "names": [(name, name.rpartition("/")[2]) for name in beside if _kind(name) == kind],
                "old": kind in made and made[kind].get("stamp") != now,
            }
            for kind in ("slides", "film")
        }
        found.append(
            {
                "name": report,
                "answer": said.get("sentences", []),
                "changed": said.get("changed", []),
                "old": bool(said) and said["stamp"] != now,
                "pictures": [name for name in inside if name.endswith(".png")],
                "lists": _listed(inside),
                "extras": extras,
            }
        )
    return found


def _kind(name: str) -> str:
    return "slides" if "/" in name else "film"


def _listed(inside: Iterable[str]) -> list[tuple[str, list[str]]]:
    """The files of a report by what they are for."""
    lists: dict[str, list[str]] = {name: [] for name in (*(name for name, _ in _LISTS), "Everything else")}
    for each in inside:
        lists[next((name for name, endings in _LISTS if each.endswith(endings)), "Everything else")].append(each)
    return [(name, each) for name, each in lists.items() if each]


def _all_of(study: Kept, report: str) -> list[tuple[str, Path]]:
    """Every file of a report, of its slides and its film, with the name that it has in an archive."""
    own = [(f"{report}/{name}", study.result(report, name)) for name in study.results(report)]
    beside = [(name, study.one_beside(name)) for name in study.beside(report)]
    return [(name, path) for name, path in (*own, *beside) if path is not None]


def _zip(inside: Iterable[tuple[str, Path]]) -> Path:
    """Files as one archive, the same bytes for the same files."""
    handle, made = tempfile.mkstemp(prefix="reach-", suffix=".zip")
    with os.fdopen(handle, "wb") as out, zipfile.ZipFile(out, "w") as archive:
        for name, path in inside:
            entry = zipfile.ZipInfo(name)
            entry.external_attr = 0o644 << 16
            entry.compress_type = zipfile.ZIP_STORED if name.endswith(_PACKED) else zipfile.ZIP_DEFLATED
            with path.open("rb") as content, archive.open(entry, "w", force_zip64=True) as packed:
                while chunk := content.read(_CHUNK):
                    packed.write(chunk)
    return Path(made)


async def _told(job: Job) -> AsyncIterator[str]:
    """A job's progress as server-sent events (WHATWG HTML, 9.2): how many steps, how many there usually are, what is done."""
    shown = -1
    while not job.ended.is_set():
        if len(job.steps) != shown:
            shown = len(job.steps)
            step = text.one_line(job.steps[-1]) if job.steps else "starting"
            yield f"data: {shown} {job.usual} {step}\n\n"
        await asyncio.sleep(_EVENTS_EVERY_S)
    yield "event: end\ndata: end\n\n"
