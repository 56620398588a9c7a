"""The screen of control stations and weeks: which stations serve beside one's own, whether the level is followed, what was done when."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reach.desk import stale
from reach.desk.bench import WorkError
from reach.desk.frame import PATIENCE_S, Desk, arrived, back, plain
from reach.desk.shelf import Kept

MOST_ROWS: Final = 1000
BLANK_ROWS: Final = 2
_FIELD: Final = re.compile(r"(date|done|swr)-(\d{1,4})")


def routes(desk: Desk, one: str) -> list[Route]:
    """The addresses of this screen. one : what the address of a study begins with"""
    screen = _Weeks(desk)
    return [
        Route(f"{one}/weeks", screen.show, methods=["GET"]),
        Route(f"{one}/weeks", screen.keep, methods=["POST"]),
        Route(f"{one}/weeks/take-out", screen.take_out, methods=["POST"]),
        Route(f"{one}/weeks/put-back", screen.put_back, methods=["POST"]),
        Route(f"{one}/weeks/files", screen.upload, methods=["POST"]),
        Route(f"{one}/weeks/files/{{name}}", screen.receive, methods=["PUT"]),
    ]


class _Weeks:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    async def show(self, request: Request) -> Response:
        return await self._page(self.desk.found(request), saved="saved" in request.query_params)

    async def keep(self, request: Request) -> Response:
        study = self.desk.found(request)
        fields = await request.form(max_fields=4 * MOST_ROWS)
        form = _form({name: str(value).strip() for name, value in fields.items()})
        job = self.desk.clerk.ask(
            "keep_weeks", study.name, path=str(study.path), shown=str(fields.get("stamp", "")), form=form
        )
        try:
            faults = await self.desk.done(job)
        except WorkError as error:
            said = plain(str(error))
            return await self._page(study, 409 if said == stale.SENTENCE else 422, form=form, error=said)
        if faults:
            return await self._page(study, 422, form=form, stamp=str(fields.get("stamp", "")), faults=faults)
        return back(study, "/weeks?saved")

    async def upload(self, request: Request) -> Response:
        study = self.desk.found(request)
        async with request.form(max_files=20, max_fields=5) as form:
            sent = [each for each in form.getlist("files") if isinstance(each, UploadFile) and each.filename]
            if not sent:
                return await self._page(study, 422, file_fault="Choose a file first.")
            for each in sent:
                async with arrived(study, each, str(each.filename)) as path:
                    await run_in_threadpool(study.put_control, path, str(each.filename))
        return back(study, "/weeks#stations")

    async def receive(self, request: Request) -> Response:
        """One file as the body of a request: it goes to the disc as it comes."""
        study, called = self.desk.found(request), request.path_params["name"]
        async with arrived(study, request, called) as path:
            await run_in_threadpool(study.put_control, path, called)
        return Response(status_code=204)

    async def take_out(self, request: Request) -> Response:
        study, name = self.desk.found(request), str((await request.form()).get("name", ""))
        job = self.desk.clerk.ask("take_out_control", study.name, path=str(study.path), name=name)
        try:
            await self.desk.done(job)
        except WorkError as error:
            return await self._page(study, 422, error=plain(str(error)))
        return back(study, "/weeks#own")

    async def put_back(self, request: Request) -> Response:
        study = self.desk.found(request)
        await run_in_threadpool(study.put_control_back, str((await request.form()).get("name", "")))
        return back(study, "/weeks#own")

    async def _page(
        self,
        study: Kept,
        status: int = 200,
        *,
        form: Mapping[str, Any] | None = None,
        stamp: str = "",
        error: str = "",
        faults: Mapping[str, str] | None = None,
        file_fault: str = "",
        saved: bool = False,
    ) -> Response:
        """form : as typed; the study's own where there is none"""
        told: dict[str, Any] = {**dict.fromkeys(("two", "season", "watch"), False), "stamp": ""}
        told |= {name: [] for name in ("control", "yardstick", "log", "files")}
        near: list[dict[str, Any]] = []
        again = ""
        try:
            told = await self.desk.done(self.desk.clerk.ask("weeks", study.name, path=str(study.path)))
            if study.files:
                job = self.desk.ask("near", study, files=told["files"])
                near = await self.desk.done(job, PATIENCE_S if form is None else None)
        except TimeoutError:
            again = "?"
        except WorkError as problem:
            error = error or plain(str(problem))
        shown = {**told, **(form or {})}
        known = [each["name"] for each in near]
        wanted = [name for name in dict.fromkeys([*shown["control"], *shown["yardstick"]]) if name not in known]
        return self.desk.page(
            "weeks", status, study=study, told=shown, near=near, wanted=wanted if not again else [], again=again, error=error,
            stamp=stamp or told["stamp"], faults=faults or {}, file_fault=file_fault, saved=saved,
            rows=[*shown["log"], *({"date": "", "done": "", "swr": ""} for _ in range(BLANK_ROWS))],
        )  # fmt: skip


def _form(fields: Mapping[str, str]) -> dict[str, Any]:
    """The form as the worker takes it."""
    rows: dict[int, dict[str, str]] = {}
    for name, value in fields.items():
        if match := _FIELD.fullmatch(name):
            rows.setdefault(int(match[2]), {"date": "", "done": "", "swr": ""})[match[1]] = value
    return {
        "control": [value for name, value in fields.items() if name.startswith("control-")],
        "yardstick": [value for name, value in fields.items() if name.startswith("yardstick-")],
        "season": "season" in fields,
        "watch": "watch" in fields,
        "log": [rows[k] for k in sorted(rows) if any(rows[k].values())],
    }
