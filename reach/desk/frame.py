"""What all screens of the desk share: the studies, the processes that work, and how a page is made of a template."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from reach.base import text
from reach.desk.bench import Bench, Job
from reach.desk.glossary import WORDS
from reach.desk.guard import LARGEST_FILE, Keys
from reach.desk.shelf import Kept, Shelf

PATIENCE_S: Final = 2.5  # that a page waits for the worker before it says that it is at work
_CHUNK: Final = 1 << 20


class Desk:
    """What all screens share: the shelf, the processes that work, and how a page is made."""

    def __init__(
        self, shelf: Shelf, bench: Bench, clerk: Bench, keys: Keys, cookie: str, stop: Callable[[], None]
    ) -> None:
        self.shelf, self.bench, self.clerk = shelf, bench, clerk
        self.keys, self.cookie, self.stop = keys, cookie, stop
        self.templates = Environment(
            loader=PackageLoader("reach.desk", "templates"), autoescape=True, undefined=StrictUndefined,
            trim_blocks=True, lstrip_blocks=True,
        )  # fmt: skip
        self.templates.globals["glossary"] = WORDS
        self.templates.filters["address"] = partial(quote, safe="")

    def page(self, template: str, status: int = 200, **values: Any) -> HTMLResponse:
        """A screen from its template.

        again : its address, to ask for anew in a second while something is at work. It has no fragment, for with one a
            browser takes it for a place on the page that it shows already
        """
        values.setdefault("study", None)
        values.setdefault("again", "")
        values.setdefault("error", "")
        return HTMLResponse(self.templates.get_template(f"{template}.html.j2").render(values), status)

    def found(self, request: Request) -> Kept:
        """The study that a request is about."""
        study = self.shelf.find(request.path_params["study"])
        if study is None:
            raise HTTPException(404, "There is no study of this name; it may have been moved or renamed.")
        return study

    def ask(self, kind: str, study: Kept, **order: Any) -> Job:
        """Order something about a study as it is now."""
        asked = self.clerk if kind == "station" else self.bench
        return asked.ask(kind, study.name, path=str(study.path), stamp=study.stamp(), **order)

    async def done(self, job: Job, wait_s: float | None = None) -> Any:
        """What came of it. WorkError where nothing did; TimeoutError where it takes longer."""
        return await run_in_threadpool(job.outcome, wait_s)


def back(study: Kept, screen: str = "") -> Response:
    """On to a screen of a study, after a form.

    screen : what its address has behind that of the study, such as '/station'
    """
    return RedirectResponse(f"/s/{quote(study.name, safe='')}{screen}", 303)


@asynccontextmanager
async def arrived(study: Kept, sent: Request | UploadFile, called: str) -> AsyncIterator[Path]:
    """A file that a browser sends, as the body of a request or in a form, on the disc as it comes.

    called : its name there. Yields where it is, until the end of the block. HTTPException where it is empty or too large
    """
    with study.arriving() as path:
        with path.open("wb") as out:
            async for chunk in _chunks(sent):
                await run_in_threadpool(out.write, chunk)
        size = path.stat().st_size
        if size == 0:
            raise HTTPException(422, f"{text.one_line(called)}: is empty.")
        if size > LARGEST_FILE:
            raise HTTPException(413, f"{text.one_line(called)}: is more than {LARGEST_FILE >> 20:,} MB; divide it.")
        yield path


async def _chunks(sent: Request | UploadFile) -> AsyncIterator[bytes]:
    if isinstance(sent, Request):
        async for chunk in sent.stream():
            yield chunk
    else:
        while chunk := await sent.read(_CHUNK):
            yield chunk


def plain(sentence: str) -> str:
    """A sentence about a study without the name of what is no file to its reader."""
    return sentence.removeprefix("arguments: ")
