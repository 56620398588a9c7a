"""The screen of doubtful locators: a card for each, the heaviest first; the user takes what was probably meant, leaves it, or
says another. Decisions stand in the study's file of corrections, which the command line reads too."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from reach.base import text
from reach.desk.bench import WorkError
from reach.desk.frame import PATIENCE_S, Desk, back, plain
from reach.desk.shelf import Kept

_OTHER: Final = "other"
_LONGEST: Final = 200  # characters of a callsign or a locator as the files have them
_FIELDS: Final = ("callsign", "locator", "suggestion", "reason", "rows")


def routes(desk: Desk, one: str) -> list[Route]:
    """The addresses of this screen. one : what the address of a study begins with"""
    screen = _Doubtful(desk)
    return [
        Route(f"{one}/doubtful", screen.show, methods=["GET"]),
        Route(f"{one}/doubtful", screen.decide, methods=["POST"]),
    ]


class _Doubtful:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    async def show(self, request: Request) -> Response:
        start = request.query_params.get("start", "0")
        if not start.isdecimal() or len(start) > 9:
            raise HTTPException(404, "There is nothing here.")
        return await self._page(self.desk.found(request), int(start))

    async def _page(
        self, study: Kept, start: int, status: int = 200, wrong: Mapping[str, str] | None = None
    ) -> Response:
        """wrong : the decision that could not be kept, with `error`"""
        seen: dict[str, Any] | None = None
        again, understood = "", ""
        if study.files:
            try:
                seen = await self.desk.done(self.desk.ask("doubtful", study, start=start), PATIENCE_S)
            except TimeoutError:
                again = f"?start={start}"
            except WorkError as problem:
                understood = plain(str(problem))
        return self.desk.page(
            "doubtful", status, study=study, seen=seen, again=again, understood=understood, wrong=wrong or {}
        )  # fmt: skip

    async def decide(self, request: Request) -> Response:
        study, form = self.desk.found(request), await request.form()
        row = {name: text.one_line(str(form.get(name, ""))).strip() for name in _FIELDS}
        if (
            not any((row["locator"], row["callsign"]))
            or max(len(row[name]) for name in ("callsign", "locator")) > _LONGEST
        ):
            raise HTTPException(422, "Say which locator this is about.")
        chosen = str(form.get("choice", "")).strip()
        accept = text.one_line(str(form.get("other", ""))).strip() if chosen == _OTHER else chosen
        try:
            if chosen == _OTHER and not accept:
                raise WorkError("Write the locator that is right, such as IO51es.")
            job = self.desk.clerk.ask("decide", study.name, path=str(study.path), accept=accept, **row)
            await self.desk.done(job)
        except WorkError as error:
            return await self._page(study, 0, 422, {**row, "other": accept, "error": plain(str(error))})
        return back(study, "/doubtful#decided" if accept else "/doubtful#main")
