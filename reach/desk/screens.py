"""What the server answers: a screen for each thing a user does, as a page from a template; forms lead back to their screen.

Every form works without a script. Studies, files and results are found on the shelf, never by putting a name into a path.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote, urlencode

from starlette.applications import Starlette
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from reach.base import text, ways
from reach.base.words import DESK
from reach.desk import doubtful, on_air, results, station, weeks
from reach.desk.bench import Bench, Job, WorkError
from reach.desk.frame import PATIENCE_S, Desk, arrived, back, plain
from reach.desk.guard import Keys
from reach.desk.shelf import Kept, Shelf
from reach.errors import ReachError

ASSETS: Final = {".css": "text/css", ".js": "text/javascript"}
MOST_FILES: Final = 1000  # in one form
LARGE: Final = (10, 200_000)  # files, or rows: from here on a collection is worth it
_SHOWN: Final = 20  # files of a collection, the others behind a summary
FATES: Final = ("accepted", "rejected", "duplicates", "set_aside")


def application(
    shelf: Shelf, bench: Bench, clerk: Bench, keys: Keys, *, name: str, stop: Callable[[], None]
) -> Starlette:
    """The screens over a shelf of studies.

    bench : where spots are walked through; clerk : where study files are read and written, which a report does not keep waiting
    keys, name : the cookie that a browser gets at the door, and what it is called; stop : ends the server
    """
    desk = _Screens(shelf, bench, clerk, keys, name, stop)
    one = "/s/{study}"
    routes = [
        Route("/open", desk.open),
        Route("/favicon.ico", desk.alive),
        Route("/", desk.studies),
        Route("/studies", desk.begin, methods=["POST"]),
        Route("/alive", desk.alive, methods=["POST"]),
        Route("/quit", desk.quit, methods=["POST"]),
        Route("/assets/{name}", desk.asset),
        Route(one, desk.files, methods=["GET"]),
        Route(f"{one}/files", desk.upload, methods=["POST"]),
        Route(f"{one}/files/{{name}}", desk.receive, methods=["PUT"]),
        Route(f"{one}/take-out", desk.take_out, methods=["POST"]),
        Route(f"{one}/put-back", desk.put_back, methods=["POST"]),
        Route(f"{one}/grow", desk.grow, methods=["POST"]),
        Route(f"{one}/period", desk.period, methods=["POST"]),
        Route(f"{one}/reading", desk.reading, methods=["POST"]),
        Route(f"{one}/rows/{{fate}}", desk.rows),
        *station.routes(desk, one),
        *on_air.routes(desk, one),
        *weeks.routes(desk, one),
        *doubtful.routes(desk, one),
        *results.routes(desk, one),
    ]
    handlers: Any = {
        ClientDisconnect: desk.left,
        HTTPException: desk.refused,
        ReachError: desk.wrong,
        OSError: desk.broken,
        500: desk.bug,
    }
    return Starlette(routes=routes, exception_handlers=handlers)


class _Screens(Desk):
    """The door, the list, files."""

    # --- the door, the list, the end ------------------------------------------------------------------------------------

    async def open(self, request: Request) -> Response:
        """A page that goes on to the list at once. A redirect would not do: the browser comes from a file, and a strict cookie
        does not travel on a redirect from elsewhere."""
        answer = self.page("opening")
        answer.set_cookie(self.cookie, self.keys.cookie, httponly=True, samesite="strict", path="/")
        return answer

    async def studies(self, request: Request) -> Response:
        return self._list()

    def _list(self, status: int = 200, error: str = "", title: str = "") -> Response:
        kept = [(study, study.reports()) for study in self.shelf.studies()]
        return self.page("studies", status, kept=kept, folder=self.shelf.folder, error=error, title=title)

    async def begin(self, request: Request) -> Response:
        title = text.one_line(str((await request.form()).get("title", ""))).strip()
        if not title:
            return self._list(422, "Give the study a name, such as 'Two antennas in May'.")
        room = await run_in_threadpool(self.shelf.room, title)
        try:
            await self.done(self.clerk.ask("begin", room.name, path=str(room / "study.toml"), title=title))
        except WorkError as error:
            room.rmdir()
            return self._list(422, str(error), title)
        return RedirectResponse(f"/s/{quote(room.name, safe='')}", 303)

    async def alive(self, request: Request) -> Response:
        return Response(status_code=204)

    async def quit(self, request: Request) -> Response:
        answer = self.page("ended")
        answer.background = BackgroundTask(self.stop)
        return answer

    async def asset(self, request: Request) -> Response:
        found = next(
            (
                each
                for each in files("reach.desk").joinpath("assets").iterdir()
                if each.name == request.path_params["name"]
            ),
            None,
        )
        kind = None if found is None else ASSETS.get(Path(found.name).suffix)
        if found is None or kind is None:
            raise HTTPException(404, "There is nothing here.")
        return Response(found.read_bytes(), media_type=kind)

    # --- files ----------------------------------------------------------------------------------------------------------

    async def files(self, request: Request) -> Response:
        return await self._files(self.found(request), one=request.query_params.get("file", ""))

    async def _files(
        self,
        study: Kept,
        status: int = 200,
        error: str = "",
        wrong: str = "",
        one: str = "",
        period: Mapping[str, Mapping[str, str]] | None = None,
    ) -> Response:
        """wrong : the file at whose form the error is shown; one : the file of a collection that is looked at; period : as typed, with
        faults"""
        told: dict[str, Any] = {"period": {"from": "", "to": ""}, "readings": {}}
        seen, understood, job = None, "", self.bench.latest("grow", study.name)
        growing = job if job is not None and not job.ended.is_set() else None
        again = "?" if growing else ""
        not_taken: dict[str, str] = {}
        understood_one: list[dict[str, Any]] = []
        try:
            if not again:
                told = await self.done(self.ask("station", study))
            if not again and study.waiting:
                not_taken = await self.done(self._taking_in(study), PATIENCE_S)
            if not again and (study.collected if study.collection else study.files):
                if one and one in study.exports:
                    understood_one = await self.done(self.ask("understood", study, name=one), PATIENCE_S)
                seen = await self.done(self.ask("look", study), PATIENCE_S)
        except TimeoutError:
            again = f"?{urlencode({'file': one})}" if one else "?"
        except WorkError as problem:
            understood = plain(str(problem))
        fault = job.error if job is not None and not growing and study.collection is None else ""
        collected = _collected(study)
        return self.page(
            "files", status, study=study, seen=seen, again=again, understood=understood, error=error, wrong=wrong,
            readings=told["readings"], columns=ways.COLUMNS.items(), fates=FATES, names=[Path(entry).name for entry in study.files],
            growing=growing, grow_fault=plain(fault), collected=collected, rows_held=sum(each.rows for each in study.collected),
            waiting=study.waiting, not_taken=not_taken, one=one if understood_one else "", understood_one=understood_one,
            period=period or {"typed": told["period"], "faults": {}}, large=_is_large(study, seen), shown=_SHOWN,
        )  # fmt: skip

    def _taking_in(self, study: Kept) -> Job:
        """The job that takes in what waits: the one that is at it, for its own doing changes the study's stamp."""
        job = self.bench.latest("take_in", study.name)
        return job if job is not None and not job.ended.is_set() else self.ask("take_in", study)

    async def grow(self, request: Request) -> Response:
        study = self.found(request)
        if study.collection is None:
            self.bench.ask("grow", study.name, path=str(study.path))
        return back(study, "#files")

    async def period(self, request: Request) -> Response:
        study, form = self.found(request), await request.form()
        typed = {name: text.one_line(str(form.get(name, ""))).strip() for name in ("from", "to")}
        try:
            faults = await self.done(self.clerk.ask("period", study.name, path=str(study.path), form=typed))
        except WorkError as error:
            return await self._files(study, 422, plain(str(error)), period={"typed": typed, "faults": {}})
        if faults:
            return await self._files(study, 422, period={"typed": typed, "faults": faults})
        return back(study, "#period")

    async def upload(self, request: Request) -> Response:
        study = self.found(request)
        async with request.form(max_files=MOST_FILES, max_fields=10) as form:
            sent = [each for each in form.getlist("files") if isinstance(each, UploadFile) and each.filename]
            if not sent:
                return await self._files(study, 422, "Choose a file first.")
            for each in sent:
                async with arrived(study, each, str(each.filename)) as path:
                    await run_in_threadpool(study.put, path, str(each.filename))
        return back(study, "#files")

    async def receive(self, request: Request) -> Response:
        """One file as the body of a request: it goes to the disc as it comes."""
        study, called = self.found(request), request.path_params["name"]
        async with arrived(study, request, called) as path:
            await run_in_threadpool(study.put, path, called)
        return Response(status_code=204)

    async def take_out(self, request: Request) -> Response:
        study, entry = self.found(request), str((await request.form()).get("entry", ""))
        if study.collection is None:
            await run_in_threadpool(study.take_out, entry)
        elif entry in {*(each.file for each in study.collected), *study.waiting}:
            try:
                await self.done(self.bench.ask("take_out", study.name, path=str(study.path), name=entry))
            except WorkError as error:
                return await self._files(study, 422, plain(str(error)))
        return back(study, "#files")

    async def put_back(self, request: Request) -> Response:
        study = self.found(request)
        await run_in_threadpool(study.put_back, str((await request.form()).get("name", "")))
        return back(study, "#files")

    async def reading(self, request: Request) -> Response:
        """What the user settled of one file: its columns, the order of its dates, its zone."""
        study, form = self.found(request), await request.form()
        named = str(form.get("file", ""))
        told = {ours: str(form.get(f"column-{ours}", "")).strip() for ours in ways.COLUMNS}
        settled: dict[str, Any] = {"file": named}
        if columns := {ours: theirs for ours, theirs in told.items() if theirs}:
            settled["columns"] = columns
        if (order := str(form.get("order", ""))) in ("day", "month"):
            settled["day_first"] = order == "day"
        if zone := str(form.get("zone", "")).strip():
            settled["zone"] = zone
        try:
            await self.done(self.clerk.ask("change", study.name, path=str(study.path), reading=settled))
            if named in {each.file for each in study.collected}:
                await self.done(self.bench.ask("read_anew", study.name, path=str(study.path), name=named))
        except WorkError as error:
            return await self._files(study, 422, plain(str(error)), wrong=named)
        return back(study, "#understood")

    async def rows(self, request: Request) -> Response:
        study, fate = self.found(request), request.path_params["fate"]
        start = request.query_params.get("start", "0")
        if fate not in FATES or not start.isdecimal() or len(start) > 12:
            raise HTTPException(404, "There is nothing here.")
        job = self.ask("rows", study, fate=fate, start=int(start))
        try:
            table = await self.done(job, PATIENCE_S)
        except TimeoutError:
            return self.page("rows", study=study, fate=fate, table=None, again=f"?start={start}")
        return self.page("rows", study=study, fate=fate, table=table)

    # --- what went wrong ------------------------------------------------------------------------------------------------

    async def refused(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        return self._message(request, error.status_code, error.detail)

    async def left(self, request: Request, error: Exception) -> Response:
        """The browser broke off what it was sending; nobody is there to read this."""
        return Response(status_code=400)

    async def wrong(self, request: Request, error: Exception) -> Response:
        return self._message(request, 422, plain(str(error)))

    async def broken(self, request: Request, error: Exception) -> Response:
        why = getattr(error, "strerror", None) or error
        return self._message(request, 507, f"The folder of studies cannot be read or written ({why}).")

    async def bug(self, request: Request, error: Exception) -> Response:
        from reach.cli import bug

        return self._message(request, 500, bug.sentence(error, ["desk"]))

    def _message(self, request: Request, status: int, said: str) -> Response:
        if request.method == "PUT":  # a script asks, and shows it beside the file
            return Response(said, status, media_type="text/plain")
        return self.page("message", status, said=said)


def _collected(study: Kept) -> list[tuple[str, list[str]]]:
    """The files of a collection, the last first, with what became of their rows; an archive has a sentence for each file in it."""
    from reach.tell.sentences import collection as sentences

    found: dict[str, list[str]] = {}
    for entry in reversed(study.collected):
        found.setdefault(entry.file, []).insert(0, sentences.added(entry, DESK))
    return list(found.items())


def _is_large(study: Kept, seen: Mapping[str, Any] | None) -> bool:
    files, rows = LARGE
    return len(study.files) >= files or (seen is not None and seen["counts"]["read"] >= rows)
